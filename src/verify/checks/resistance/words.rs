//! Findings about joins in words, and the middle of their figures.

use crate::finding::{Code, Finding};

use crate::verify::case::Case;
use crate::verify::case::joined::Join;

pub(super) fn select<'j>(joins: &'j [Join], which: &[usize]) -> Vec<&'j Join> {
    which.iter().map(|at| &joins[*at]).collect()
}

pub(super) fn median(mut values: Vec<f64>) -> f64 {
    if values.is_empty() {
        return 0.0;
    }
    let (half, even) = (values.len() / 2, values.len().is_multiple_of(2));
    let (below, upper, _) = values.select_nth_unstable_by(half, f64::total_cmp);
    let lower = if even { below.iter().copied().fold(f64::NEG_INFINITY, f64::max) } else { *upper };
    (lower + *upper) / 2.0
}

/// A finding about joins, with labels on the first few of their lines.
pub(super) fn about(case: &Case<'_>, code: Code, joins: &[&Join], message: String) -> Finding {
    let points: Vec<u32> = joins.iter().flat_map(|join| join.points).collect();
    let mut finding = case.finding(code, &points, message);
    finding.labels = joins.iter().take(4).map(|join| case.at(join.line, join.reading.quantity.short())).collect();
    if let (Some(last), Some(more)) = (finding.labels.last_mut(), joins.len().checked_sub(4).filter(|more| *more > 0)) {
        last.text = format!("{}; {more} more lines", last.text);
    }
    finding
}

/// From the least to the greatest reading.
pub(super) fn span_of(joins: &[&Join]) -> String {
    let by_value = |one: &&&Join, other: &&&Join| one.ohm().total_cmp(&other.ohm());
    let figure = |join: Option<&&Join>| join.map(|join| join.reading.quantity.short()).unwrap_or_default();
    let (least, most) = (figure(joins.iter().min_by(by_value)), figure(joins.iter().max_by(by_value)));
    if least == most { least } else { format!("{least} to {most}") }
}

pub(super) fn words(case: &Case<'_>, join: &Join) -> String {
    let [a, b] = join.points;
    format!("{} to {} ({})", case.point(a), case.point(b), case.link_signal(join.points))
}
