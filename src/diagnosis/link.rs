//! The figures of a pair, from the analysis of its S-parameters and from what its link and its wire should have.

use std::f64::consts::PI;

use crate::signal::{Curve, PairAnalysis};

use super::figures::{Place, SignalFigures};

/// What a pair is held against.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
#[non_exhaustive]
pub struct Link {
    /// The frequency that decides, half the symbol rate, in Hz; none where no link is known.
    pub nyquist_hz: Option<f64>,
    /// The differential impedance that the pair should have, in ohm.
    pub differential_ohm: f64,
    /// What the rated link can bear at that frequency in dB, where that is known.
    pub allowed_loss_db: Option<f64>,
    /// The stated length in metres.
    pub metres: Option<f64>,
    /// The metal area of the stated wire in mm².
    pub area_mm2: Option<f64>,
    /// What both conductors of the stated wire have in series at direct current, in ohm.
    pub loop_ohm: Option<f64>,
}

/// The velocity that a cable is taken to have where nobody says, as a share of that of light (common practice, no source).
const VELOCITY: f64 = 0.70;
/// The velocity of light in m/s (exact by definition).
const LIGHT: f64 = 299_792_458.0;
/// From where on a sweep has to start, in Hz, for its loss at direct current to be worth anything: above, reflections of a short
/// cable are taken for resistance (common practice, no source).
const LOW_HZ: f64 = 10e6;
/// The permeability of vacuum in H/m.
const MU0: f64 = 4e-7 * PI;
/// How many times the resistance of one round wire alone a stranded one beside another has at high frequency (common
/// practice, no source).
const STRANDS: f64 = 1.3;
/// The loss tangent that an insulation is taken to have (common practice, no source: foamed and solid polyethylene lie about it).
const TANGENT: f64 = 0.002;

impl Link {
    /// A pair of this differential impedance in ohm, of which nothing else is known.
    #[must_use]
    pub fn new(differential_ohm: f64) -> Self {
        Self { differential_ohm, ..Self::default() }
    }

    /// The frequency that decides, half the symbol rate, in Hz; none where no link is known.
    #[must_use]
    pub fn with_nyquist_hz(self, nyquist_hz: f64) -> Self {
        Self { nyquist_hz: Some(nyquist_hz), ..self }
    }

    /// What the rated link can bear at that frequency in dB, where that is known.
    #[must_use]
    pub fn with_allowed_loss_db(self, allowed_loss_db: f64) -> Self {
        Self { allowed_loss_db: Some(allowed_loss_db), ..self }
    }

    /// The stated length in metres.
    #[must_use]
    pub fn with_metres(self, metres: f64) -> Self {
        Self { metres: Some(metres), ..self }
    }

    /// The metal area of the stated wire in mm².
    #[must_use]
    pub fn with_area_mm2(self, area_mm2: f64) -> Self {
        Self { area_mm2: Some(area_mm2), ..self }
    }

    /// What both conductors of the stated wire have in series at direct current, in ohm.
    #[must_use]
    pub fn with_loop_ohm(self, loop_ohm: f64) -> Self {
        Self { loop_ohm: Some(loop_ohm), ..self }
    }

    /// What the stated wire loses at a frequency in Hz, in dB: skin effect in thin-skin form, and dielectric. None without
    /// length and size.
    #[must_use]
    pub fn expected_loss_db(&self, hertz: f64) -> Option<f64> {
        let (metres, area) = self.metres.zip(self.area_mm2)?;
        let resistivity = crate::units::COPPER_OHM_MM2_PER_METRE * 1e-6;
        let diameter = 2.0 * (area * 1e-6 / PI).sqrt();
        let skin = (resistivity / (PI * hertz * MU0)).sqrt();
        let ohm_per_metre = STRANDS * resistivity / (PI * diameter * skin);
        let neper = ohm_per_metre / self.differential_ohm + PI * hertz * TANGENT / (VELOCITY * LIGHT);
        let db = 20.0 / std::f64::consts::LN_10 * neper * metres;
        db.is_finite().then_some(db)
    }
}

impl SignalFigures {
    /// The figures of a pair, named as given, whose near end is the first of `ends`.
    #[must_use]
    pub fn of(pair: &str, ends: [&str; 2], analysis: &PairAnalysis, link: &Link) -> Self {
        let band = link.nyquist_hz.or(analysis.insertion_loss.x.last().copied()).unwrap_or(0.0);
        let fitted = |hertz: f64| analysis.unskewed_fit.as_ref().filter(|fit| hertz <= fit.band_hz[1]).map(|fit| fit.at(hertz));
        let lowest = |curve: &Curve| curve.between(0.0, band).y.iter().copied().reduce(f64::min);
        let return_loss = [lowest(&analysis.return_loss_near), lowest(&analysis.return_loss_far)];
        let converts = analysis.conversion_to_common.between(0.0, band).y.iter().copied().reduce(f64::max);
        let starts = analysis.insertion_loss.x.first().copied().unwrap_or(f64::INFINITY);
        let series = |ohm: f64| 20.0 * (1.0 + ohm / (2.0 * link.differential_ohm)).log10();
        let along = analysis.impedance.as_ref();
        let metres = analysis.delay.step_s.map(|seconds| seconds * VELOCITY * LIGHT);
        let length = along.and_then(|along| along.length_m).or(metres);
        SignalFigures {
            pair: pair.to_owned(),
            ends: ends.map(str::to_owned),
            loss_db: link.nyquist_hz.and_then(|hertz| fitted(hertz).or_else(|| analysis.insertion_loss.at(hertz))),
            expected_loss_db: link.nyquist_hz.and_then(|hertz| link.expected_loss_db(hertz)),
            allowed_loss_db: link.allowed_loss_db,
            offset_db: link.loop_ohm.filter(|_| starts <= LOW_HZ).map(|stated| series(analysis.dc.loop_ohm) - series(stated)),
            ripple_db: analysis.four_term_fit.as_ref().map(|fit| fit.residual_largest_db),
            return_loss_db: return_loss.into_iter().flatten().reduce(f64::min),
            mean_ohm: along.map(|along| (along.near.line_ohm + along.far.line_ohm) / 2.0),
            rated_ohm: Some(link.differential_ohm),
            worst: along.and_then(|along| along.worst).zip(length).map(|(worst, length)| Place {
                metres: worst.share_from_near * length,
                of_metres: length,
                ohm: worst.ohm,
                off: worst.deviation_ohm / (worst.ohm - worst.deviation_ohm).max(1.0),
            }),
            skew_ps: analysis.delay.skew_phase_s.map(|seconds| seconds.abs() * 1e12),
            symbol_ps: link.nyquist_hz.map(|hertz| 0.5e12 / hertz),
            conversion_db: converts.map(|db| -db),
            metres,
            headroom: None,
            next_db: None,
            allowed_next_db: None,
        }
    }
}
