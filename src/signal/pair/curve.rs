//! A series of points that a picture can draw and a file can hold.

use schemars::JsonSchema;
use serde::Serialize;

/// Points of one quantity over another, `x` rising.
#[derive(Clone, Debug, Default, PartialEq, Serialize, JsonSchema)]
#[non_exhaustive]
pub struct Curve {
    /// What runs along, with its unit: "frequency, Hz".
    pub x_axis: &'static str,
    /// What is shown, with its unit: "insertion loss, dB".
    pub y_axis: &'static str,
    /// The places along, rising.
    pub x: Vec<f64>,
    /// The value at each place.
    pub y: Vec<f64>,
}

impl Curve {
    /// A curve from its axes and its points; what lies past the shorter of the two lists is left out.
    #[must_use]
    pub fn new(x_axis: &'static str, y_axis: &'static str, mut x: Vec<f64>, mut y: Vec<f64>) -> Self {
        let points = x.len().min(y.len());
        x.truncate(points);
        y.truncate(points);
        Curve { x_axis, y_axis, x, y }
    }

    /// Each point.
    pub fn points(&self) -> impl DoubleEndedIterator<Item = (f64, f64)> + ExactSizeIterator + '_ {
        self.x.iter().copied().zip(self.y.iter().copied())
    }

    /// The value at a place, on the straight line between the points around it; None outside the curve.
    #[must_use]
    pub fn at(&self, x: f64) -> Option<f64> {
        let after = self.x.partition_point(|place| *place < x);
        let (right, above) = (*self.x.get(after)?, *self.y.get(after)?);
        if right <= x {
            return Some(above);
        }
        let (left, below) = (*self.x.get(after.checked_sub(1)?)?, *self.y.get(after - 1)?);
        Some(below + (above - below) * (x - left) / (right - left))
    }

    /// The first place at or after `from` where the curve passes `level` upwards, on the straight line between two points.
    #[must_use]
    pub fn rises_through(&self, level: f64, from: f64) -> Option<f64> {
        let first = self.x.partition_point(|place| *place < from);
        let places = self.x.get(first..)?.windows(2).zip(self.y.get(first..)?.windows(2));
        places
            .filter(|(_, y)| y[0] < level && y[1] >= level)
            .map(|(x, y)| x[0] + (level - y[0]) / (y[1] - y[0]) * (x[1] - x[0]))
            .next()
    }

    /// The part from one place to another, both included.
    #[must_use]
    pub fn between(&self, from: f64, to: f64) -> Self {
        let first = self.x.partition_point(|place| *place < from);
        let last = self.x.partition_point(|place| *place <= to).max(first);
        Curve { x: self.x[first..last].to_vec(), y: self.y[first..last].to_vec(), ..*self }
    }

    /// Every so many points, so that they stand about `spacing` apart where they stood evenly; the last one is kept.
    #[must_use]
    pub fn thinned(&self, spacing: f64) -> Self {
        let own = self.x.windows(2).next().map_or(spacing, |two| two[1] - two[0]);
        let stride = ((spacing / own) as usize).max(1);
        let keep = |values: &[f64]| -> Vec<f64> {
            let last = values.len().saturating_sub(1);
            values.iter().enumerate().filter(|(at, _)| at % stride == 0 || *at == last).map(|(_, value)| *value).collect()
        };
        Curve { x: keep(&self.x), y: keep(&self.y), ..*self }
    }
}

/// 20 lg of a magnitude, in dB; nothing at all stands as −200 dB.
#[must_use]
pub fn decibels(magnitude: f64) -> f64 {
    20.0 * magnitude.abs().max(1e-10).log10()
}
