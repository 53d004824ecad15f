//! Curves: what of them can be drawn, and how many points of them are enough.

/// A named curve; each point is an abscissa and an ordinate. Points needn't be in any order, and may hold any figure.
#[derive(Clone, Debug, Default, PartialEq)]
#[non_exhaustive]
pub struct Curve {
    /// What it is, for the key.
    pub name: String,
    /// Its points in the order in which the line goes.
    pub points: Vec<[f64; 2]>,
}

impl Curve {
    /// A curve.
    #[must_use]
    pub fn new(name: impl Into<String>, points: Vec<[f64; 2]>) -> Self {
        Curve { name: name.into(), points }
    }
}

/// The largest size of a figure that is drawn.
const LARGEST: f64 = 1e30;
/// From so many points on, a stretch is thinned.
const MANY: usize = 2_000;
/// Into so many columns, of each of which the extremes stay.
const COLUMNS: f64 = 720.0;

/// Whether a point can be drawn.
pub(super) fn is_drawable(point: &[f64; 2]) -> bool {
    point.iter().all(|value| value.is_finite() && value.abs() <= LARGEST)
}

/// The drawable points of many curves.
pub(super) fn drawable<'a>(curves: impl IntoIterator<Item = &'a [[f64; 2]]>) -> impl Iterator<Item = [f64; 2]> {
    curves.into_iter().flatten().copied().filter(is_drawable)
}

/// The stretches between points that can't be drawn, thinned, and how many can't.
pub(super) fn stretches(points: &[[f64; 2]]) -> (Vec<Vec<[f64; 2]>>, usize) {
    let lost = points.iter().filter(|point| !is_drawable(point)).count();
    let parts = points.split(|point| !is_drawable(point)).filter(|part| !part.is_empty());
    (parts.map(thinned).collect(), lost)
}

/// The corners of an outline that can be drawn, thinned, and how many can't.
pub(super) fn outline(corners: &[[f64; 2]]) -> (Vec<[f64; 2]>, usize) {
    let known: Vec<[f64; 2]> = drawable([corners]).collect();
    (thinned(&known), corners.len() - known.len())
}

/// The first, lowest, highest and last point of each column: the line looks the same with them alone.
fn thinned(points: &[[f64; 2]]) -> Vec<[f64; 2]> {
    if points.len() < MANY {
        return points.to_vec();
    }
    let low = points.iter().map(|point| point[0]).fold(f64::INFINITY, f64::min);
    let high = points.iter().map(|point| point[0]).fold(f64::NEG_INFINITY, f64::max);
    let column = |point: &[f64; 2]| if high > low { ((point[0] - low) / (high - low) * COLUMNS).floor() } else { 0.0 };
    let mut kept = Vec::new();
    for run in points.chunk_by(|a, b| column(a) == column(b)) {
        let by = |a: &&[f64; 2], b: &&[f64; 2]| a[1].total_cmp(&b[1]);
        let extremes = [run.first(), run.iter().min_by(by), run.iter().max_by(by), run.last()];
        // those of one column, in the order in which the line meets them
        let chosen: Vec<&[f64; 2]> = extremes.into_iter().flatten().collect();
        let mut last = None;
        for point in run.iter().filter(|point| chosen.iter().any(|other| std::ptr::eq(*other, *point))) {
            if last != Some(point) {
                kept.push(*point);
            }
            last = Some(point);
        }
    }
    kept
}

/// What the picture says of points that it leaves out; none where there are none.
pub(super) fn lost_words(name: &str, lost: usize) -> Option<String> {
    match lost {
        0 => None,
        1 => Some(format!("Left out: 1 point of {name}, which isn't a finite figure below 1e30.")),
        _ => Some(format!("Left out: {lost} points of {name}, which aren't finite figures below 1e30.")),
    }
}
