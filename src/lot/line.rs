//! A straight line over lengths: what the ends add, and what each metre adds.

use std::collections::BTreeMap;

use statrs::distribution::{ContinuousCDF, StudentsT};

use super::counts::GroupKey;
use super::spread::Spread;
use super::summary::Summary;

/// A least-squares line with its 95 % confidence limits.
#[derive(Clone, Copy, Debug, PartialEq)]
#[non_exhaustive]
pub struct Fit {
    /// How many points it goes through.
    pub points: usize,
    /// The value at length zero: the ends.
    pub intercept: f64,
    /// The value per metre: the cable.
    pub slope: f64,
    /// Half the width of the 95 % confidence interval of both, intercept first; none with fewer than three points.
    pub half_widths: Option<(f64, f64)>,
}

impl Fit {
    /// What stands against trusting the line, in words.
    #[must_use]
    pub fn caution(&self) -> Option<&'static str> {
        match self.points {
            0..3 => Some("two points always lie on a line: it says nothing of its own error"),
            3 => Some("three points are too few: one degree of freedom is left, and the interval is wide for that"),
            _ => None,
        }
    }
}

/// The line through (length, value) by least squares; none with fewer than two lengths.
///
/// ```
/// let fit = backshell::lot::fit(&[(1.0, 0.25), (2.0, 0.45), (4.0, 0.85), (8.0, 1.65)]).unwrap();
/// assert!((fit.intercept - 0.05).abs() < 1e-12 && (fit.slope - 0.2).abs() < 1e-12);
/// ```
#[must_use]
pub fn fit(points: &[(f64, f64)]) -> Option<Fit> {
    let n = points.len() as f64;
    let mean = |of: fn(&(f64, f64)) -> f64| points.iter().map(of).sum::<f64>() / n;
    let (x, y) = (mean(|point| point.0), mean(|point| point.1));
    let squares: f64 = points.iter().map(|point| (point.0 - x).powi(2)).sum();
    if points.len() < 2 || squares <= 0.0 {
        return None;
    }
    let slope = points.iter().map(|point| (point.0 - x) * (point.1 - y)).sum::<f64>() / squares;
    let intercept = y - slope * x;
    let half_widths = StudentsT::new(0.0, 1.0, n - 2.0).ok().filter(|_| points.len() > 2).map(|student| {
        let residual: f64 = points.iter().map(|point| (point.1 - intercept - slope * point.0).powi(2)).sum();
        let (deviation, t) = ((residual / (n - 2.0)).sqrt(), student.inverse_cdf(0.975));
        (t * deviation * (1.0 / n + x * x / squares).sqrt(), t * deviation / squares.sqrt())
    });
    Some(Fit { points: points.len(), intercept, slope, half_widths })
}

/// What is laid over lengths.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
#[non_exhaustive]
pub enum Along {
    /// The resistance of a conductor, in ohm.
    Resistance,
    /// The loss of a lane in dB, at this frequency in kHz.
    Loss {
        /// Half the symbol rate of the rated rate.
        kilohertz: u64,
    },
    /// How long a signal is on its way, in seconds.
    Delay,
}

/// A figure of one type over its lengths.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub struct Line {
    /// The type: its group without the length.
    pub of: GroupKey,
    /// Which figure.
    pub along: Along,
    /// The line in the unit of the figure, and that per metre, through the median of each length.
    pub fit: Fit,
}

/// The lines of all types that come in two lengths or more.
#[must_use]
pub fn lines(summary: &Summary) -> Vec<Line> {
    let mut types: BTreeMap<(GroupKey, Along), Vec<(f64, f64)>> = BTreeMap::new();
    for (key, group) in &summary.groups {
        let Some(length) = key.length() else { continue };
        // the lot often goes with the length
        let of = GroupKey { metres: None, lot: None, ..key.clone() };
        let mut take = |along: Along, spread: &Spread| {
            if let Some(median) = spread.median() {
                types.entry((of.clone(), along)).or_default().push((length, median));
            }
        };
        let mut resistances = Spread::default();
        group.readings.values().for_each(|reading| resistances.merge(&reading.spread));
        take(Along::Resistance, &resistances);
        group.losses.iter().for_each(|(kilohertz, spread)| take(Along::Loss { kilohertz: *kilohertz }, spread));
        take(Along::Delay, &group.delays);
    }
    types.into_iter().filter_map(|((of, along), points)| Some(Line { of, along, fit: fit(&points)? })).collect()
}
