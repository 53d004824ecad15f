//! Whether a measurement can be what a passive, reciprocal, causal cable gives.
//!
//! The initial frequency-domain metrics of IEEE 370-2020, in percent, with their grades; and the largest excess itself, since
//! the metrics forgive much: a sweep whose largest singular value is 1.085 may still score 99.7 %.

use num_complex::Complex64;
use schemars::JsonSchema;
use serde::Serialize;

use super::curve::decibels;
use crate::signal::Network;
use crate::signal::network::singular::largest_singular_value;

/// What a metric is worth, after IEEE 370-2020.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
#[expect(clippy::exhaustive_enums, reason = "IEEE 370-2020 has these four grades")]
pub enum Grade {
    /// Not to be used: passivity and reciprocity up to 80 %, causality up to 20 %.
    Poor,
    /// Passivity and reciprocity up to 99 %, causality up to 50 %.
    Inconclusive,
    /// Passivity and reciprocity up to 99.9 %, causality up to 80 %.
    Acceptable,
    /// Better than that.
    Good,
}

impl Grade {
    fn of(percent: f64, steps: [f64; 3]) -> Self {
        match steps.iter().filter(|step| percent > **step).count() {
            0 => Grade::Poor,
            1 => Grade::Inconclusive,
            2 => Grade::Acceptable,
            _ => Grade::Good,
        }
    }
}

/// How far a network is passive, reciprocal and causal.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[non_exhaustive]
pub struct Quality {
    /// Passivity metric in percent.
    pub passivity_percent: f64,
    /// What the passivity metric is worth.
    pub passivity: Grade,
    /// The largest singular value at any frequency; above 1 more comes out than goes in.
    pub largest_singular_value: f64,
    /// Where it is, in Hz.
    pub largest_singular_value_hz: f64,
    /// How many frequencies have a singular value above 1.000001.
    pub rows_not_passive: usize,
    /// Reciprocity metric in percent.
    pub reciprocity_percent: f64,
    /// What the reciprocity metric is worth.
    pub reciprocity: Grade,
    /// The largest difference of a term and its mirror at any frequency, as a magnitude.
    pub largest_reciprocity_error: f64,
    /// Where it is, in Hz.
    pub largest_reciprocity_error_hz: f64,
    /// Causality metric in percent: that of the term that scores lowest.
    pub causality_percent: f64,
    /// What the causality metric is worth.
    pub causality: Grade,
    /// The term that scores lowest in causality: the port that answers and the one that is driven, from 1.
    pub least_causal_term: [usize; 2],
    /// The greatest magnitude of that term at any frequency, in dB: noise far down turns either way and says nothing.
    pub least_causal_term_db: f64,
}

/// A term that stays below this, in dB, isn't held against the causality of a measurement (common practice, no source).
const NOISE_DB: f64 = -60.0;

impl Quality {
    /// The quality of a network; None without frequencies.
    #[must_use]
    pub fn of(network: &Network) -> Option<Self> {
        let frequencies = network.frequencies();
        let singular: Vec<f64> =
            (0..frequencies.len()).map(|row| largest_singular_value(network.ports(), network.matrix(row))).collect();
        let unequal: Vec<(f64, f64)> = (0..frequencies.len()).map(|row| reciprocity_error(network, row)).collect();
        let most = (0..frequencies.len()).max_by(|a, b| singular[*a].total_cmp(&singular[*b]))?;
        let odd = (0..frequencies.len()).max_by(|a, b| unequal[*a].1.total_cmp(&unequal[*b].1))?;
        let passivity_percent = metric(singular.iter().copied(), 1.00001);
        let reciprocity_percent = metric(unequal.iter().map(|(mean, _)| *mean), 1e-6);
        let (causality_percent, to, from) = least_causal(network);
        Some(Quality {
            passivity_percent,
            passivity: Grade::of(passivity_percent, [80.0, 99.0, 99.9]),
            largest_singular_value: singular[most],
            largest_singular_value_hz: frequencies[most],
            rows_not_passive: singular.iter().filter(|value| **value > 1.000_001).count(),
            reciprocity_percent,
            reciprocity: Grade::of(reciprocity_percent, [80.0, 99.0, 99.9]),
            largest_reciprocity_error: unequal[odd].1,
            largest_reciprocity_error_hz: frequencies[odd],
            causality_percent,
            causality: Grade::of(causality_percent, [20.0, 50.0, 80.0]),
            least_causal_term: [to + 1, from + 1],
            least_causal_term_db: decibels(network.sweep(to, from).map(Complex64::norm).fold(0.0, f64::max)),
        })
    }

    /// What to be wary of where energy is made or has a direction, in words; `what` names what was measured, at the start of a
    /// sentence.
    #[must_use]
    pub fn energy_cautions(&self, what: &str) -> Vec<String> {
        let mut cautions = Vec::new();
        // a file of six decimals rounds a singular value of 1 by about 1e-6
        if self.largest_singular_value > 1.0001 || self.passivity < Grade::Good {
            cautions.push(format!(
                "{what} isn't passive: at {} more comes out than goes in (largest singular value {:.4}, {} of the frequencies above 1; \
                 passivity {:.1} %). A cable can't do that. Calibrate again, and don't trust losses near this frequency.",
                hertz(self.largest_singular_value_hz),
                self.largest_singular_value,
                self.rows_not_passive,
                self.passivity_percent,
            ));
        }
        if self.largest_reciprocity_error > 0.01 || self.reciprocity < Grade::Good {
            cautions.push(format!(
                "{what} isn't reciprocal: the two directions differ by {:.4} at {} (reciprocity {:.1} %). A cable has no direction; \
                 look for a loose connector, a cable that moved between two sweeps, or exchanged ports.",
                self.largest_reciprocity_error,
                hertz(self.largest_reciprocity_error_hz),
                self.reciprocity_percent,
            ));
        }
        cautions
    }

    /// What to be wary of where an answer comes too early, in words; `what` as in [`Quality::energy_cautions`].
    #[must_use]
    pub fn causality_cautions(&self, what: &str) -> Vec<String> {
        let mut cautions = Vec::new();
        if self.causality < Grade::Good && self.least_causal_term_db > NOISE_DB {
            let [to, from] = self.least_causal_term;
            cautions.push(format!(
                "{what} seems to answer before it is asked: the term S{to}{from} turns the wrong way (causality {:.1} %). Too few \
                 frequencies for the length, noise, or a delay that was taken away give this; times and impedances along the \
                 cable aren't to be trusted.",
                self.causality_percent,
            ));
        }
        cautions
    }
}

/// 100 % less what the rows lie above a limit, a tenth of excess taking a whole row; at least 0.
fn metric(rows: impl ExactSizeIterator<Item = f64>, limit: f64) -> f64 {
    let count = rows.len() as f64;
    let excess: f64 = rows.filter(|value| *value > limit).map(|value| (value - limit) / 0.1).sum();
    100.0 * (count - excess).max(0.0) / count
}

/// The mean difference of a term and its mirror at one frequency over all ordered pairs of ports, and the largest.
fn reciprocity_error(network: &Network, row: usize) -> (f64, f64) {
    let (matrix, ports) = (network.matrix(row), network.ports());
    let pairs = (0..ports).flat_map(|to| (0..to).map(move |from| (to, from)));
    let differences = pairs.map(|(to, from)| (matrix[to * ports + from] - matrix[from * ports + to]).norm());
    let (sum, largest) =
        differences.fold((0.0, 0.0), |(sum, largest), difference| (sum + difference, f64::max(largest, difference)));
    let count = ports * (ports - 1) / 2;
    (if count == 0 { 0.0 } else { sum / count as f64 }, largest)
}

/// The causality metric of the term that scores lowest, with the port that answers and the one that is driven.
///
/// The chords of the path of a term over frequency must turn clockwise; the metric is the share that does, by size.
fn least_causal(network: &Network) -> (f64, usize, usize) {
    let mut least = (100.0, 0, 0);
    for to in 0..network.ports() {
        for from in 0..network.ports() {
            let percent = clockwise(&network.sweep(to, from).collect::<Vec<_>>());
            if percent < least.0 {
                least = (percent, to, from);
            }
        }
    }
    least
}

fn clockwise(path: &[Complex64]) -> f64 {
    let turns = path.windows(3).map(|three| {
        let (first, second) = (three[1] - three[0], three[2] - three[1]);
        second.re * first.im - second.im * first.re
    });
    let (mut right, mut all) = (0.0, 0.0);
    for turn in turns {
        right += turn.max(0.0);
        all += turn.abs();
    }
    // a path that never turns says nothing against it
    if all > 0.0 { 100.0 * right / all } else { 100.0 }
}

/// A frequency in words, in the unit that suits it.
pub(in crate::signal) fn hertz(value: f64) -> String {
    match value {
        value if value >= 1e9 => format!("{:.3} GHz", value / 1e9),
        value if value >= 1e6 => format!("{:.3} MHz", value / 1e6),
        value if value >= 1e3 => format!("{:.3} kHz", value / 1e3),
        value => format!("{value:.0} Hz"),
    }
}
