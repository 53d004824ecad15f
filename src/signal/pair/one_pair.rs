//! The analysis of one pair.

use super::analysis::{Impedance, NyquistLoss, PairAnalysis};
use super::dc::DcPoint;
use super::delay::{Delay, DelaySettings};
use super::fit::{Form, LossFit};
use super::mixed::{Pair, Term};
use super::profile::{End, View, ViewSettings};
use super::quality::{Quality, hertz};
use super::settings::{LIGHT, Settings};
use super::step::Steps;
use super::sweep::Grid;
use crate::signal::{Curve, Spectrum};

/// Analyses one pair; None where its figures leave the range of numbers.
pub(in crate::signal) fn analyse(pair: &Pair, grid: &Grid, steps: &mut Steps, settings: &Settings) -> Option<PairAnalysis> {
    let differential_quality = Quality::of(&pair.differential()?)?;
    let common_quality = Quality::of(&pair.common()?)?;
    let dc = DcPoint::of(pair, settings.loop_ohm)?;
    let highest = pair.frequencies().last().copied()?;
    let delay_settings = DelaySettings {
        rise_s: Settings::rise(settings.transmission_rise_s, 60e-12, highest),
        band_hz: settings.skew_band_hz,
        group_hz: settings.nyquist_hz.first().copied().unwrap_or(highest / 2.0),
    };
    let delay = Delay::of(pair, grid, &dc, steps, delay_settings)?;

    let insertion_loss = pair.loss(Term::Sdd21, "insertion loss, dB");
    let loss_without_conversion = both_modes(pair);
    let fit = |form| LossFit::of(&insertion_loss, form, settings.fit_band_hz);
    let (two_term_fit, three_term_fit, four_term_fit) = (fit(Form::TwoTerm), fit(Form::ThreeTerm), fit(Form::FourTerm));
    let unskewed_fit = LossFit::of(&loss_without_conversion, Form::TwoTerm, settings.fit_band_hz);
    let root_loss_db = unskewed_fit.as_ref().map(|fit| fit.root_db_per_sqrt_ghz);
    let expected_s = settings.length_m.zip(settings.velocity_factor).map(|(length, factor)| length / (factor * LIGHT));
    let one_way = delay.step_s.or(expected_s);
    let impedance = one_way.and_then(|seconds| along(pair, grid, &dc, seconds, root_loss_db, steps, settings));

    let mut cautions = order_cautions(pair);
    cautions.extend(dc.cautions(settings.loop_ohm));
    cautions.extend(differential_quality.causality_cautions("The differential mode"));
    cautions.extend(common_quality.causality_cautions("The common mode"));
    cautions.extend(delay.cautions(grid, expected_s));
    cautions.extend(velocity_cautions(&delay, settings));
    if delay.band_hz[0] < settings.skew_band_hz[0] || delay.band_hz[1] > settings.skew_band_hz[1] {
        cautions.push(format!(
            "The sweep hardly reaches the band for skew; skew and phase delay were taken from {} to {}.",
            hertz(delay.band_hz[0]),
            hertz(delay.band_hz[1])
        ));
    }
    cautions.extend(two_term_fit.iter().flat_map(LossFit::cautions));
    if impedance.is_none() {
        cautions.push(
            "There is no view along the cable: the delay isn't known, or the cable is too short for the edge, or the record for \
             its echo."
                .to_owned(),
        );
    }
    Some(PairAnalysis {
        nyquist_losses: four_term_fit.iter().flat_map(|fit| at_nyquist(fit, &settings.nyquist_hz)).collect(),
        differential_quality,
        common_quality,
        insertion_loss,
        return_loss_near: pair.loss(Term::Sdd11, "return loss of the near end, dB"),
        return_loss_far: pair.loss(Term::Sdd22, "return loss of the far end, dB"),
        conversion_to_common: pair.curve(Term::Scd21, "conversion to common mode, dB"),
        conversion_from_common: pair.curve(Term::Sdc21, "conversion from common mode, dB"),
        common_insertion_loss: pair.loss(Term::Scc21, "insertion loss of the common mode, dB"),
        loss_without_conversion,
        dc,
        two_term_fit,
        three_term_fit,
        four_term_fit,
        unskewed_fit,
        delay,
        impedance,
        cautions,
    })
}

/// Sdd21 of a pair from 0 Hz up, which leads to pulses and eyes: its own row at 0 Hz, the loop resistance in ohm where one is
/// given, else what [`DcPoint::of`] makes of the first rows. None where the sweep has no two rows above 0 Hz.
#[must_use]
pub fn through(pair: &Pair, loop_ohm: Option<f64>) -> Option<Spectrum> {
    let grid = Grid::of(pair.frequencies())?;
    let dc = DcPoint::of(pair, loop_ohm)?;
    grid.spectrum(pair.frequencies(), &pair.term(Term::Sdd21), dc.sdd21)
}

/// The loss of both modes together over frequency, in dB.
fn both_modes(pair: &Pair) -> Curve {
    let powers = pair.term(Term::Sdd21).into_iter().zip(pair.term(Term::Scd21));
    let loss = powers.map(|(through, converted)| -10.0 * (through.norm_sqr() + converted.norm_sqr()).max(1e-20).log10());
    Curve::new("frequency, Hz", "loss of both modes, dB", pair.frequencies().to_vec(), loss.collect())
}

/// The fitted loss at the Nyquist frequencies within the band of the fit; beyond it a fit says nothing.
fn at_nyquist(fit: &LossFit, nyquist_hz: &[f64]) -> Vec<NyquistLoss> {
    let within = nyquist_hz.iter().filter(|hertz| **hertz >= fit.band_hz[0] && **hertz <= fit.band_hz[1]);
    within.map(|hertz| NyquistLoss { hertz: *hertz, loss_db: fit.at(*hertz) }).collect()
}

/// Impedance along the cable from both ends.
fn along(
    pair: &Pair,
    grid: &Grid,
    dc: &DcPoint,
    delay_s: f64,
    root_loss_db: Option<f64>,
    steps: &mut Steps,
    settings: &Settings,
) -> Option<Impedance> {
    if delay_s <= 0.0 {
        return None;
    }
    let rise_s = Settings::rise(settings.reflection_rise_s, 100e-12, pair.frequencies().last().copied()?);
    let velocity_factor = settings.length_m.map(|length| length / (delay_s * LIGHT)).or(settings.velocity_factor);
    let length_m = settings.length_m.or(settings.velocity_factor.map(|factor| factor * LIGHT * delay_s));
    let mut view = |end: End, term: Term, at_zero: f64| -> Option<View> {
        let spectrum = grid.spectrum(pair.frequencies(), &pair.term(term), at_zero)?;
        let step = steps.response(&spectrum, rise_s, "reflection");
        let reference_ohm = pair.differential_ohm();
        View::of(&step, ViewSettings { end, reference_ohm, delay_s, rise_s, root_loss_db, length_m })
    };
    let near = view(End::Near, Term::Sdd11, dc.sdd11)?;
    let far = view(End::Far, Term::Sdd22, dc.sdd22)?;
    let size = |place: &crate::signal::Discontinuity| place.deviation_ohm.abs();
    let worst = [near.worst, far.worst].into_iter().flatten().max_by(|a, b| size(a).total_cmp(&size(b)));
    Some(Impedance {
        rise_s,
        velocity_factor,
        length_m,
        resolution_m: velocity_factor.map(|factor| factor * LIGHT * rise_s / 2.0),
        resolution_share: rise_s / (2.0 * delay_s),
        near_over_metres: length_m.map(|length| near.over_metres(delay_s, length)),
        far_over_metres: length_m.map(|length| far.over_metres(delay_s, length)),
        near,
        far,
        worst,
    })
}

/// Whether the ports look as if they stood in another order.
fn order_cautions(pair: &Pair) -> Vec<String> {
    let lowest = pair.frequencies().iter().position(|hertz| *hertz > 0.0).unwrap_or(0);
    let size = |term| pair.term(term).get(lowest).map_or(0.0, |value| value.norm());
    let (through, back) = (size(Term::Sdd21), size(Term::Sdd11));
    if through < 0.1 && back > 0.5 {
        return vec![format!(
            "At the lowest frequency hardly anything comes through (|Sdd21| {through:.3}) and most comes back (|Sdd11| {back:.3}). \
             Either the far end is open, or the ports of the file stand in another order than near P, near N, far P, far N."
        )];
    }
    Vec::new()
}

/// Whether length, delay and velocity factor fit together.
fn velocity_cautions(delay: &Delay, settings: &Settings) -> Vec<String> {
    let Some(measured) = settings.length_m.zip(delay.step_s).map(|(length, seconds)| length / (seconds * LIGHT)) else {
        return Vec::new();
    };
    if !(0.3..=1.0).contains(&measured) {
        return vec![format!(
            "Length and delay make a velocity of {measured:.3} of that of light; cables lie between 0.5 and 0.9 (common practice, no \
             source). Check the length."
        )];
    }
    match settings.velocity_factor {
        Some(given) if (measured / given - 1.0).abs() > 0.03 => vec![format!(
            "Length and delay make a velocity factor of {measured:.3}, {given:.3} was given: the length is off by {:.1} %, or the \
             cable is another one. Places are taken from the length.",
            (measured / given - 1.0) * 100.0
        )],
        _ => Vec::new(),
    }
}
