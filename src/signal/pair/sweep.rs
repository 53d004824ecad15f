//! From the rows of a sweep, wherever they lie, to a spectrum of even steps from 0 Hz.

use std::f64::consts::{PI, TAU};

use num_complex::Complex64;

use super::phase::{Phase, median};
use crate::signal::Spectrum;

/// The even steps that a sweep is put on, found once for all its terms.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub struct Grid {
    /// The step in Hz; one over it is the record in seconds.
    pub step_hz: f64,
    /// How many frequencies, with the one at 0 Hz.
    pub rows: usize,
    /// Whether the rows of the sweep don't lie on the steps, so that values between them are interpolated.
    pub resampled: bool,
}

/// More steps than this for each row aren't made of a sweep: it doesn't hold what would fill them.
const STEPS_A_ROW: usize = 4;

impl Grid {
    /// The steps for a sweep over some frequencies in Hz. None with fewer than two above 0 Hz.
    ///
    /// Where the rows lie on whole steps from 0 Hz up, without a gap, they are kept as they are. Else the step is the middle
    /// one of the gaps between rows, or the smallest where that leaves fewer rows than the sweep has.
    #[must_use]
    pub fn of(frequencies: &[f64]) -> Option<Self> {
        let above: Vec<f64> = frequencies.iter().copied().filter(|hertz| *hertz > 0.0).collect();
        let (first, last) = (*above.first()?, *above.last()?);
        let even = last / above.len() as f64;
        if above.len() > 1 && above.iter().zip(1..).all(|(hertz, at)| (hertz - even * f64::from(at)).abs() < 1e-4 * even) {
            return Some(Grid { step_hz: even, rows: above.len() + 1, resampled: false });
        }
        let mut gaps: Vec<f64> = above.windows(2).map(|two| two[1] - two[0]).collect();
        let middle = median(&mut gaps)?;
        let smallest = gaps.first().copied()?.min(first);
        let step_hz = if last / middle < above.len() as f64 / 2.0 { smallest } else { middle };
        let most = STEPS_A_ROW * above.len();
        let step_hz = step_hz.max(last / most as f64);
        // the last step stays within the sweep, but for rounding
        let rows = (last / step_hz + 1e-9) as usize + 1;
        (rows > 2).then_some(Grid { step_hz, rows, resampled: true })
    }

    /// A term of the sweep on the steps, with its value at 0 Hz.
    ///
    /// Between rows the magnitude and the unrolled phase are interpolated along straight lines, which keeps the delay of a
    /// long cable; below the first row they go to the value at 0 Hz. None where a value isn't finite.
    #[must_use]
    pub fn spectrum(&self, frequencies: &[f64], values: &[Complex64], at_zero: f64) -> Option<Spectrum> {
        let mut on_steps = Vec::with_capacity(self.rows);
        on_steps.push(Complex64::from(at_zero));
        if !self.resampled {
            on_steps.extend(frequencies.iter().zip(values).filter(|(hertz, _)| **hertz > 0.0).map(|(_, value)| *value));
            return Spectrum::new(self.step_hz, on_steps);
        }
        let phase = Phase::of(frequencies, values)?;
        let skipped = frequencies.len() - phase.frequencies.len();
        let sizes: Vec<f64> = values.iter().skip(skipped).map(|value| value.norm()).collect();
        // at 0 Hz the phase is a whole number of half turns: the even or odd one, by the sign, nearest to where the rows point
        let half = if at_zero < 0.0 { PI } else { 0.0 };
        let start = half + TAU * ((phase.at_zero() - half) / TAU).round();
        let mut after = 0;
        for at in 1..self.rows {
            let hertz = at as f64 * self.step_hz;
            while after + 1 < phase.frequencies.len() && phase.frequencies[after] < hertz {
                after += 1;
            }
            let (left, size, angle) = match after.checked_sub(1) {
                Some(before) => (phase.frequencies[before], sizes[before], phase.radians[before]),
                None => (0.0, at_zero.abs(), start),
            };
            let share = ((hertz - left) / (phase.frequencies[after] - left)).min(1.0);
            let (size, angle) = (size + share * (sizes[after] - size), angle + share * (phase.radians[after] - angle));
            on_steps.push(Complex64::from_polar(size.max(0.0), angle));
        }
        Spectrum::new(self.step_hz, on_steps)
    }

    /// How long a record the steps give, in seconds.
    #[must_use]
    pub fn record_s(&self) -> f64 {
        1.0 / self.step_hz
    }
}
