//! Densities of amplitudes on a grid, and the eye as a picture of them.

use serde::Serialize;

use super::statistical::gaussian_step;
use super::{Disturbance, Phase, Pulse};

/// Ends of a density below this don't count.
const NEGLIGIBLE: f64 = 1e-24;

/// A density of amplitudes: weights at multiples of a step.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Density {
    /// The multiple of the step that the first weight stands at.
    pub first: isize,
    /// The weights, which add up to one.
    pub weights: Vec<f64>,
}

/// What is left out where cursors are taken to the grid.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) struct Residue {
    /// Variance of the cursors that were too small for the grid.
    pub variance: f64,
    /// The most that it can come to.
    pub most: f64,
}

/// Somewhere to work in, kept from one density to the next.
#[derive(Default)]
pub(super) struct Workshop {
    shifts: Vec<usize>,
    spare: Vec<f64>,
}

impl Workshop {
    /// The density of a sum of independent bits, each half its cursor up or down.
    ///
    /// Each cursor is a density of two points at multiples of the step. What rounding takes from one it gives to the next, so
    /// that the worst sum stays; cursors of less than half a step are left to the residue.
    pub fn bits(&mut self, cursors: impl Iterator<Item = f64>, step: f64) -> (Density, Residue) {
        self.shifts.clear();
        let (mut variance, mut most, mut carried) = (0.0, 0.0, 0.0);
        let steps = 0.5 / step;
        for cursor in cursors {
            let exact = cursor.abs() * steps;
            if exact < 0.5 {
                variance += exact * exact;
                most += exact;
                continue;
            }
            let shift = (exact + carried).round();
            carried += exact - shift;
            if shift > 0.0 {
                self.shifts.push(shift as usize);
            }
        }
        // the short ones first, so that the density stays narrow for long
        self.shifts.sort_unstable();
        let mut density = Density { first: 0, weights: vec![1.0] };
        for at in 0..self.shifts.len() {
            density.split(self.shifts[at], &mut self.spare);
        }
        (density, Residue { variance: variance * step * step, most: most * step })
    }
}

impl Density {
    /// Half of it moved up by so many steps, half of it down.
    fn split(&mut self, shift: usize, spare: &mut Vec<f64>) {
        let (length, gap) = (self.weights.len(), 2 * shift);
        spare.clear();
        if gap >= length {
            spare.extend(self.weights.iter().map(|weight| 0.5 * weight));
            spare.resize(gap, 0.0);
            spare.extend(self.weights.iter().map(|weight| 0.5 * weight));
        } else {
            spare.extend(self.weights[..gap].iter().map(|weight| 0.5 * weight));
            spare.extend(self.weights[gap..].iter().zip(&self.weights).map(|(low, high)| 0.5 * (low + high)));
            spare.extend(self.weights[length - gap..].iter().map(|weight| 0.5 * weight));
        }
        std::mem::swap(&mut self.weights, spare);
        self.first -= shift as isize;
        self.trim();
    }

    /// Without its ends that don't count.
    fn trim(&mut self) {
        let counts = |weight: &f64| *weight > NEGLIGIBLE;
        let from = self.weights.iter().position(counts).unwrap_or(0);
        let to = self.weights.iter().rposition(counts).map_or(1, |last| last + 1);
        if to < self.weights.len() {
            self.weights.truncate(to);
        }
        if from > 0 {
            self.weights.drain(..from);
            self.first += from as isize;
        }
    }
}

/// The eye as a picture: how often the signal is at a time and a height.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[non_exhaustive]
pub struct EyeDensity {
    /// How many columns there are: times, two unit intervals from left to right with the sampling instant in the middle.
    pub columns: usize,
    /// How many rows there are: heights from `low` up.
    pub rows: usize,
    /// The height at the lower edge of the first row, as a part of the launched difference; 0 is halfway from 0 to 1.
    pub low: f64,
    /// The height at the upper edge of the last row.
    pub high: f64,
    /// The share of the time that the signal spends in each cell, row by row; each column adds up to one.
    pub cells: Vec<f32>,
}

impl EyeDensity {
    /// The picture of a pulse, with a feedback's tap taken off, blurred by jitter and noise.
    ///
    /// Its columns are two for each phase of the pulse. None without rows or with more than 4096, or where the cursors of a phase add up to more than
    /// ten times what was launched.
    #[must_use]
    pub fn new(pulse: &Pulse, tap: f64, disturbance: &Disturbance, rows: usize) -> Option<Self> {
        let phases = pulse.phases();
        let reach = (0..phases).map(|number| sum(pulse.phase(number as isize), tap)).fold(0.0, f64::max) / 2.0;
        if !(1..=4096).contains(&rows) || reach.is_nan() || reach >= 5.0 {
            return None;
        }
        let high = (reach + 6.0 * disturbance.noise.abs()).max(0.05);
        let step = (2.0 * high / rows as f64 / 4.0).max(1e-5);
        let mut workshop = Workshop::default();
        let mut sharp = Vec::with_capacity(phases);
        for number in 0..phases {
            let (density, residue) = workshop.bits(fed_back(pulse.phase(number as isize), tap), step);
            let sigma = (disturbance.noise.powi(2) + residue.variance.max(0.0)).sqrt();
            sharp.push(column(&density, step, sigma, high, rows));
        }
        let weights = disturbance.phases(phases, 0.0);
        let columns = 2 * phases;
        let mut cells = vec![0.0_f32; columns * rows];
        for at in 0..columns {
            for (away, weight) in &weights {
                let from = (at as isize + away - phases as isize / 2).rem_euclid(phases as isize) as usize;
                for (row, share) in sharp[from].iter().enumerate() {
                    cells[row * columns + at] += (weight * share) as f32;
                }
            }
        }
        Some(EyeDensity { columns, rows, low: -high, high, cells })
    }
}

/// The cursors of a phase with the tap taken off the one after the main one.
pub(super) fn fed_back(phase: Phase<'_>, tap: f64) -> impl Iterator<Item = f64> + '_ {
    let after = if phase.cursors.is_empty() { 0 } else { (phase.main + 1) % phase.cursors.len() };
    phase.cursors.iter().enumerate().map(move |(at, cursor)| if at == after { cursor - tap } else { *cursor })
}

fn sum(phase: Phase<'_>, tap: f64) -> f64 {
    fed_back(phase, tap).map(f64::abs).sum()
}

/// A density blurred by noise, as shares of so many rows between `-high` and `high`.
fn column(density: &Density, step: f64, sigma: f64, high: f64, rows: usize) -> Vec<f64> {
    let height = 2.0 * high / rows as f64;
    let mut shares = vec![0.0; rows];
    let last = rows as f64 - 1.0;
    let row = |value: f64| ((value + high) / height).floor().clamp(0.0, last) as usize;
    for (at, weight) in (density.first..).zip(&density.weights).filter(|(_, weight)| **weight > 0.0) {
        let value = at as f64 * step;
        let (from, to) = (row(value - 6.0 * sigma), row(value + 6.0 * sigma));
        let mut below = 0.0;
        for (number, share) in shares.iter_mut().enumerate().take(to + 1).skip(from) {
            let edge = (number as f64 + 1.0) * height - high;
            let under = if number == to { 1.0 } else { gaussian_step(edge - value, sigma) };
            *share += weight * (under - below);
            below = under;
        }
    }
    shares
}
