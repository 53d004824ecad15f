//! Everything that a measurement of a pair, or of two, tells.

use schemars::JsonSchema;
use serde::Serialize;

use super::crosstalk::{Crosstalk, two_pairs};
use super::curve::Curve;
use super::dc::DcPoint;
use super::delay::Delay;
use super::fit::LossFit;
use super::mixed::Pair;
use super::one_pair;
use super::profile::{Discontinuity, View};
use super::quality::Quality;
use super::settings::Settings;
use super::step::Steps;
use super::sweep::Grid;
use crate::signal::network::order::PortOrder;
use crate::signal::{Network, gaussian_edge};

/// Everything that a measurement tells: an engineering estimate, no certification.
#[derive(Clone, Debug, Serialize, JsonSchema)]
#[non_exhaustive]
pub struct Analysis {
    /// How many frequencies the file has.
    pub rows: usize,
    /// The lowest of them in Hz.
    pub lowest_hz: f64,
    /// The highest of them in Hz.
    pub highest_hz: f64,
    /// The step of frequency that responses over time are made with, in Hz; one over it is the record in seconds.
    pub step_hz: f64,
    /// Whether values between the rows had to be interpolated for it.
    pub resampled: bool,
    /// The differential reference in ohm that all differential figures are seen from.
    pub differential_ohm: f64,
    /// The common-mode reference in ohm.
    pub common_ohm: f64,
    /// The quality of the measurement as a whole, as the ports of the file have it.
    pub quality: Quality,
    /// The pair; or the two pairs, where the file has eight ports.
    pub pairs: Vec<PairAnalysis>,
    /// What the two pairs put onto each other.
    pub crosstalk: Option<Crosstalk>,
    /// How much later the first pair arrives than the second, by step, in seconds.
    pub pair_skew_s: Option<f64>,
    /// What to be wary of in the measurement as a whole, in words.
    pub cautions: Vec<String>,
}

/// What is to be told of one pair.
#[derive(Clone, Debug, Serialize, JsonSchema)]
#[non_exhaustive]
pub struct PairAnalysis {
    /// The quality of its differential terms.
    pub differential_quality: Quality,
    /// The quality of its common-mode terms.
    pub common_quality: Quality,
    /// Insertion loss −20 lg |Sdd21| over frequency, in dB.
    pub insertion_loss: Curve,
    /// Return loss −20 lg |Sdd11| of the near end over frequency, in dB.
    pub return_loss_near: Curve,
    /// Return loss −20 lg |Sdd22| of the far end over frequency, in dB.
    pub return_loss_far: Curve,
    /// Conversion to common mode 20 lg |Scd21| over frequency, in dB: below zero, the lower the better.
    pub conversion_to_common: Curve,
    /// Conversion from common mode 20 lg |Sdc21| over frequency, in dB.
    pub conversion_from_common: Curve,
    /// Insertion loss of the common mode, −20 lg |Scc21|, over frequency, in dB.
    pub common_insertion_loss: Curve,
    /// The loss of both modes together, −10 lg (|Sdd21|² + |Scd21|²), over frequency, in dB: free of what skew only converts.
    pub loss_without_conversion: Curve,
    /// The pair at 0 Hz.
    pub dc: DcPoint,
    /// Insertion loss as b √f + c f.
    pub two_term_fit: Option<LossFit>,
    /// Insertion loss as a + b √f + c f.
    pub three_term_fit: Option<LossFit>,
    /// Insertion loss as a + b √f + c f + d f√f (USB 3.1 revision 1.0).
    pub four_term_fit: Option<LossFit>,
    /// `loss_without_conversion` as b √f + c f: copper and dielectric of a pair with skew.
    pub unskewed_fit: Option<LossFit>,
    /// The four-term fit at each Nyquist frequency asked for that lies within its band.
    pub nyquist_losses: Vec<NyquistLoss>,
    /// Delay and skew.
    pub delay: Delay,
    /// Impedance along the cable; none where the delay isn't known or no edge fits into it.
    pub impedance: Option<Impedance>,
    /// What to be wary of, in words.
    pub cautions: Vec<String>,
}

/// The fitted loss at a Nyquist frequency.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, JsonSchema)]
#[non_exhaustive]
pub struct NyquistLoss {
    /// The frequency in Hz.
    pub hertz: f64,
    /// The fitted loss there in dB.
    pub loss_db: f64,
}

/// Impedance along the cable, from both ends.
#[derive(Clone, Debug, Serialize, JsonSchema)]
#[non_exhaustive]
pub struct Impedance {
    /// The rise of the edge, 10 to 90 %, in seconds.
    pub rise_s: f64,
    /// The velocity as a share of that of light; none where neither length nor velocity factor were given.
    pub velocity_factor: Option<f64>,
    /// The length in metres: the one given, else what velocity factor and delay make.
    pub length_m: Option<f64>,
    /// What lies closer together can't be told apart, in metres: velocity times half the rise.
    pub resolution_m: Option<f64>,
    /// The same as a share of the length.
    pub resolution_share: f64,
    /// As the near end sees it.
    pub near: View,
    /// As the far end sees it.
    pub far: View,
    /// The near end's view over metres from the near end; none where the length isn't known.
    pub near_over_metres: Option<Curve>,
    /// The far end's view over metres from the far end; none where the length isn't known.
    pub far_over_metres: Option<Curve>,
    /// The worst place of the two views, as the end sees it that sees it larger.
    pub worst: Option<Discontinuity>,
}

/// A scattering parameter of a cable is at most 1; one above this is something else, or in another unit.
const MOST: f64 = 1000.0;

/// Analyses a network of four ports (1 and 2 at P and N of the near end, 3 and 4 of the far end), or of eight (see
/// [`two_pairs`]).
///
/// # Errors
/// In words: settings that can't be meant, another number of ports, fewer than three frequencies above 0 Hz, terms far
/// above 1, or a network that the reference doesn't suit.
pub fn analyse(network: &Network, settings: &Settings) -> Result<Analysis, String> {
    settings.check()?;
    let too_few = || "A pair needs at least three frequencies above 0 Hz.".to_owned();
    let frequencies = network.frequencies();
    let (lowest_hz, highest_hz) = frequencies.first().copied().zip(frequencies.last().copied()).ok_or_else(too_few)?;
    if frequencies.iter().filter(|hertz| **hertz > 0.0).count() < 3 {
        return Err(too_few());
    }
    let largest = (0..frequencies.len()).flat_map(|row| network.matrix(row)).map(|value| value.norm()).fold(0.0, f64::max);
    if largest > MOST {
        return Err(format!("A term has a magnitude of {largest:.3e}: these aren't scattering parameters of a cable."));
    }
    let grid = Grid::of(frequencies).ok_or_else(too_few)?;
    let unsuited = || "The network can't be seen from the differential reference: it gives more than it gets.".to_owned();
    let (measured, crosstalk) = match network.ports() {
        4 => (vec![Pair::new(network, settings.differential_ohm).ok_or_else(unsuited)?], None),
        8 => {
            let (pairs, crosstalk) = two_pairs(network, settings.differential_ohm).ok_or_else(unsuited)?;
            (pairs.to_vec(), Some(crosstalk))
        }
        ports => return Err(format!("A balanced pair has four ports, two pairs have eight; this network has {ports}.")),
    };
    let quality = Quality::of(network).ok_or_else(too_few)?;
    let mut steps = Steps::new(settings.window);
    let analysed = measured.iter().map(|pair| one_pair::analyse(pair, &grid, &mut steps, settings));
    let pairs = analysed.collect::<Option<Vec<_>>>().ok_or_else(unsuited)?;
    // causality is judged on the modes of each pair: single terms of the whole may be mere noise
    let mut cautions = quality.energy_cautions("The measurement");
    if let Ok(order @ PortOrder::OddEven) = PortOrder::guess(network) {
        cautions.push(format!(
            "The figures show {}, but they were read with the near end before the far end. Put the ports in order first; every \
             figure here is wrong otherwise.",
            order.shown(network.ports())
        ));
    }
    cautions.extend(grid_cautions(&grid, frequencies, settings));
    let arrivals: Vec<Option<f64>> = pairs.iter().map(|pair| pair.delay.step_s).collect();
    let pair_skew_s = if let [Some(first), Some(second)] = arrivals[..] { Some(first - second) } else { None };
    let (differential_ohm, common_ohm) =
        measured.first().map(|pair| (pair.differential_ohm(), pair.common_ohm())).ok_or_else(unsuited)?;
    Ok(Analysis {
        rows: frequencies.len(),
        lowest_hz,
        highest_hz,
        step_hz: grid.step_hz,
        resampled: grid.resampled,
        differential_ohm,
        common_ohm,
        quality,
        pairs,
        crosstalk,
        pair_skew_s,
        cautions,
    })
}

/// What to be wary of in how the sweep was made.
fn grid_cautions(grid: &Grid, frequencies: &[f64], settings: &Settings) -> Vec<String> {
    let mut cautions = Vec::new();
    if grid.resampled {
        cautions.push(format!(
            "The frequencies don't lie on even steps from 0 Hz. For responses over time, magnitude and phase were interpolated onto \
             steps of {:.4} MHz; figures over frequency are those of the file.",
            grid.step_hz / 1e6
        ));
    }
    let first = frequencies.iter().copied().find(|hertz| *hertz > 0.0).unwrap_or(0.0);
    if first > 4.0 * grid.step_hz {
        cautions.push(format!(
            "The lowest frequency is {:.3} MHz, {:.0} steps above 0 Hz; what lies below it is guessed, and with it the slow part of \
             every response over time.",
            first / 1e6,
            first / grid.step_hz
        ));
    }
    let highest = frequencies.last().copied().unwrap_or(0.0);
    let edges = [("reflection", settings.reflection_rise_s, 100e-12), ("transmission", settings.transmission_rise_s, 60e-12)];
    for (what, given, usual) in edges {
        let rise = Settings::rise(given, usual, highest);
        let left = gaussian_edge(highest, rise);
        if left > 0.1 {
            cautions.push(format!(
                "The edge of {:.1} ps for {what} still has {:.0} % of its strength where the sweep ends, so steps ring. It takes an \
                 edge of {:.1} ps, or a sweep to {:.1} GHz.",
                rise * 1e12,
                left * 100.0,
                1e12 / highest,
                1e-9 / rise,
            ));
        } else if given.is_none() && rise > usual {
            cautions.push(format!(
                "The sweep ends at {:.3} GHz, so the edge for {what} was taken as {:.1} ps and not {:.0} ps.",
                highest / 1e9,
                rise * 1e12,
                usual * 1e12
            ));
        }
    }
    cautions
}
