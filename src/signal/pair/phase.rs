//! The phase of a response, unrolled over frequency.

use std::f64::consts::{PI, TAU};

use num_complex::Complex64;

/// A phase in radians over frequency in Hz, without the jumps of whole turns; rows at 0 Hz are left out.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub struct Phase {
    /// The frequencies in Hz, rising, all above 0.
    pub frequencies: Vec<f64>,
    /// The phase at each of them in radians.
    pub radians: Vec<f64>,
}

impl Phase {
    /// The phase of a response. The turns that lie below the first row are found by carrying the slope of the first rows down
    /// to 0 Hz, where a phase is a whole number of half turns. None with fewer than two rows above 0 Hz.
    ///
    /// Between two rows the phase is taken to turn by less than half a turn; a longer delay than half of one over the step of
    /// frequency can't be told from a shorter one.
    #[must_use]
    pub fn of(frequencies: &[f64], response: &[Complex64]) -> Option<Self> {
        let mut phase = Phase::from_first(frequencies, response)?;
        let turns = (phase.at_zero() / TAU).round();
        phase.radians.iter_mut().for_each(|radians| *radians -= turns * TAU);
        Some(phase)
    }

    /// The phase with its first row between minus and plus half a turn: for a ratio of two like responses.
    #[must_use]
    pub fn from_first(frequencies: &[f64], response: &[Complex64]) -> Option<Self> {
        let mut last: Option<f64> = None;
        let rows = frequencies.iter().zip(response).filter(|(hertz, _)| **hertz > 0.0).map(|(hertz, value)| {
            let raw = value.arg();
            let radians = last.map_or(raw, |last: f64| raw - TAU * ((raw - last) / TAU).round());
            last = Some(radians);
            (*hertz, radians)
        });
        let (frequencies, radians): (Vec<f64>, Vec<f64>) = rows.unzip();
        (frequencies.len() > 1).then_some(Phase { frequencies, radians })
    }

    /// Where the line through the first four rows meets 0 Hz, in radians.
    #[must_use]
    pub fn at_zero(&self) -> f64 {
        let rows = self.radians.len().min(4);
        let mean = |values: &[f64]| values.iter().sum::<f64>() / rows as f64;
        let (x, y) = (&self.frequencies[..rows], &self.radians[..rows]);
        let (middle, height) = (mean(x), mean(y));
        let (over, under) = x
            .iter()
            .zip(y)
            .fold((0.0, 0.0), |(over, under), (x, y)| (over + (x - middle) * (y - height), under + (x - middle) * (x - middle)));
        let slope = if under > 0.0 { over / under } else { 0.0 };
        height - slope * middle
    }

    /// Whether the response begins with half a turn at 0 Hz: it comes out upside down.
    #[must_use]
    pub fn inverted(&self) -> bool {
        (self.at_zero() / PI).round().rem_euclid(2.0) == 1.0
    }

    /// Phase delay at each frequency, −φ/ω, in seconds; of an inverted response without its half turn.
    #[must_use]
    pub fn delay(&self) -> Vec<f64> {
        let start = if self.inverted() { PI * (self.at_zero() / PI).round() } else { 0.0 };
        self.frequencies.iter().zip(&self.radians).map(|(hertz, radians)| (start - radians) / (TAU * hertz)).collect()
    }

    /// Group delay at each frequency, −dφ/dω by the difference of the rows on either side, in seconds.
    #[must_use]
    pub fn group_delay(&self) -> Vec<f64> {
        let last = self.radians.len() - 1;
        let slope = |at: usize| {
            let (before, after) = (at.saturating_sub(1), (at + 1).min(last));
            (self.radians[before] - self.radians[after]) / (TAU * (self.frequencies[after] - self.frequencies[before]))
        };
        (0..=last).map(slope).collect()
    }
}

/// The middle value, of an even number the mean of the two in the middle; None without values.
pub(in crate::signal) fn median(values: &mut [f64]) -> Option<f64> {
    values.sort_by(f64::total_cmp);
    let half = values.len() / 2;
    let upper = *values.get(half)?;
    Some(if values.len() % 2 == 1 { upper } else { (values[half - 1] + upper) / 2.0 })
}
