//! Loss over frequency against its limit.

use super::axis::{Axis, four_digits, hertz_words};
use super::chart::{Chart, PLOT};
use super::curve::{Curve, drawable, lost_words};
use super::ink::{CURVES, LIMIT};
use super::picture::{Bounds, Kind, Scene, Step};

/// On which side of a limit a figure is right.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[expect(clippy::exhaustive_enums, reason = "a limit has two sides")]
pub enum Side {
    /// At most the limit, as with insertion loss.
    AtMost,
    /// At least the limit, as with return loss and crosstalk.
    AtLeast,
}

/// A limit line.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub struct Limit {
    /// Its name, and Hz against dB; straight between its points, nothing outside them.
    pub curve: Curve,
    /// On which side a figure is right.
    pub side: Side,
}

impl Limit {
    /// A limit along this curve, Hz against dB.
    #[must_use]
    pub fn new(curve: Curve, side: Side) -> Self {
        Self { curve, side }
    }

    /// Its corners, by rising frequency.
    fn corners(&self) -> Vec<[f64; 2]> {
        let mut corners: Vec<[f64; 2]> = drawable([self.curve.points.as_slice()]).collect();
        corners.sort_by(|a, b| a[0].total_cmp(&b[0]));
        corners
    }

    /// The limit at a frequency, the stricter one at a step; none outside it.
    fn at(&self, corners: &[[f64; 2]], hertz: f64) -> Option<f64> {
        let first = corners.partition_point(|corner| corner[0] < hertz).saturating_sub(1);
        let stretches = corners.get(first..)?.windows(2).take_while(|two| two[0][0] <= hertz);
        let values = stretches.filter(|two| two[1][0] >= hertz).flat_map(|two| {
            let width = two[1][0] - two[0][0];
            if width > 0.0 {
                vec![two[0][1] + (two[1][1] - two[0][1]) * (hertz - two[0][0]) / width]
            } else {
                vec![two[0][1], two[1][1]]
            }
        });
        match self.side {
            Side::AtMost => values.reduce(f64::min),
            Side::AtLeast => values.reduce(f64::max),
        }
    }
}

/// A loss, or many, in dB over frequency in Hz, with a limit or without.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub struct LossPicture {
    /// What is shown.
    pub title: String,
    /// The name of what is lost, for the upright axis: `Insertion loss`.
    pub what: String,
    /// Hz against dB, positive where something is lost. The first four differ in their line.
    pub curves: Vec<Curve>,
    /// The limit.
    pub limit: Option<Limit>,
}

/// Where a curve comes nearest to its limit, or is furthest beyond it.
struct Worst {
    curve: usize,
    point: [f64; 2],
    room: f64,
}

impl LossPicture {
    /// Curves of what is lost, Hz against dB, without a limit.
    #[must_use]
    pub fn new(title: impl Into<String>, what: impl Into<String>, curves: Vec<Curve>) -> Self {
        Self { title: title.into(), what: what.into(), curves, limit: None }
    }

    /// The limit.
    #[must_use]
    pub fn with_limit(self, limit: Limit) -> Self {
        Self { limit: Some(limit), ..self }
    }

    /// Lays the picture out.
    #[must_use]
    pub fn scene(&self) -> Scene {
        let limit = self.limit.as_ref().map(|limit| limit.curve.points.as_slice());
        let all: Vec<[f64; 2]> = drawable(self.curves.iter().map(|curve| curve.points.as_slice()).chain(limit)).collect();
        let x = Axis::hertz(all.iter().map(|point| point[0])).down_to_zero();
        let y = Axis::around(&format!("{}, dB", self.what), all.iter().map(|point| point[1]), 0.08).down_to_zero();
        let mut chart = Chart::new(&self.title, x, y);
        let corners = self.limit.as_ref().map(Limit::corners).unwrap_or_default();
        if let Some(limit) = &self.limit {
            forbid(&mut chart, &corners, limit.side);
        }
        chart.axes(true);
        let mut lost = Vec::new();
        for (nth, curve) in self.curves.iter().enumerate() {
            let dot = ["dot1", "dot2", "dot3", "dot4"][nth % 4];
            lost.extend(lost_words(&curve.name, chart.curve(&curve.points, CURVES[nth % 4], dot)));
        }
        chart.curve(&corners, LIMIT, "mark");
        let worst = self.limit.as_ref().and_then(|limit| self.worst(limit, &corners));
        if let Some(worst) = &worst {
            chart.marks(&[worst.point]);
        }
        for (nth, curve) in self.curves.iter().enumerate() {
            chart.key_line(CURVES[nth % 4].class, &curve.name);
        }
        if let Some(limit) = &self.limit {
            let side = if limit.side == Side::AtMost { "at most" } else { "at least" };
            chart.key_line(LIMIT.class, &format!("limit, {side}: {}", limit.curve.name));
            let gone = limit.curve.points.len() - corners.len();
            lost.extend(lost_words("the limit", gone));
            match &worst {
                Some(worst) => chart.key_mark(1, &self.worst_words(worst), worst.room < 0.0),
                None => chart.note("No point of a curve lies within the frequencies of the limit."),
            }
        }
        for words in lost {
            chart.note(&words);
        }
        chart.finish()
    }

    /// Looks at every point of every curve, and at the curves where the limit bends.
    fn worst(&self, limit: &Limit, corners: &[[f64; 2]]) -> Option<Worst> {
        let mut worst: Option<Worst> = None;
        for (nth, curve) in self.curves.iter().enumerate() {
            let points = drawable([curve.points.as_slice()]);
            let own: Vec<[f64; 2]> = drawable([curve.points.as_slice()]).collect();
            let rises = own.windows(2).all(|two| two[0][0] <= two[1][0]);
            let bends = corners.iter().filter(|_| rises).filter_map(|corner| {
                let next = own.partition_point(|point| point[0] < corner[0]);
                let (before, after) = (own.get(next.checked_sub(1)?)?, own.get(next)?);
                let width = after[0] - before[0];
                let share = if width > 0.0 { (corner[0] - before[0]) / width } else { 0.0 };
                Some([corner[0], before[1] + (after[1] - before[1]) * share])
            });
            for point in points.chain(bends) {
                let Some(allowed) = limit.at(corners, point[0]) else { continue };
                let room = if limit.side == Side::AtMost { allowed - point[1] } else { point[1] - allowed };
                if worst.as_ref().is_none_or(|worst| room < worst.room) {
                    worst = Some(Worst { curve: nth, point, room });
                }
            }
        }
        worst
    }

    fn worst_words(&self, worst: &Worst) -> String {
        let Worst { curve, point, room } = worst;
        let (hertz, loss, by) = (hertz_words(point[0]), four_digits(point[1]), four_digits(room.abs()));
        let judged = if *room < 0.0 { format!("{by} dB beyond the limit") } else { format!("{by} dB of room to the limit") };
        let which = if self.curves.len() > 1 { self.curves.get(*curve).map(|curve| curve.name.as_str()) } else { None };
        let of = which.map_or_else(String::new, |name| format!(", {name}"));
        format!("worst point: {loss} dB at {hertz}, {judged}{of}")
    }
}

/// Tints the side of the limit where no figure may lie.
fn forbid(chart: &mut Chart, corners: &[[f64; 2]], side: Side) {
    let (Some(first), Some(last)) = (corners.first(), corners.last()) else { return };
    if corners.len() < 2 {
        return;
    }
    let edge = if side == Side::AtMost { PLOT.y0 } else { PLOT.y1 };
    let mut steps = vec![Step::Move(chart.place(first[0], 0.0).0, edge)];
    for corner in corners {
        let (x, y) = chart.place(corner[0], corner[1]);
        steps.push(Step::Line(x, y));
    }
    steps.push(Step::Line(chart.place(last[0], 0.0).0, edge));
    steps.push(Step::Close);
    chart.scene.path(Kind::Frame, "forbidden", steps);
    // paths keep a pixel around them; the frame of the plot holds this one
    if let Some(shape) = chart.scene.shapes.last_mut() {
        let Bounds { x0, y0, x1, y1 } = shape.bounds;
        shape.bounds = Bounds { x0: x0.max(PLOT.x0), y0: y0.max(PLOT.y0), x1: x1.min(PLOT.x1), y1: y1.min(PLOT.y1) };
    }
}
