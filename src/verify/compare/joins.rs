//! What changed in the nets, in words.

use std::collections::BTreeSet;

use crate::finding::Label;
use crate::graph::{Change, Step};

use super::model::{Difference, Kind, StepText, Weight};
use super::side::Pair;

/// Above so many steps, the ways through the nets aren't worth the price of looking for each.
const WAYS: usize = 200;

/// Of a net that something came off or was joined to, so many contacts are named.
const NAMED: usize = 100;

/// The changes of the nets as differences.
pub(super) fn differences(pair: &Pair<'_>, changes: &[Change]) -> Vec<Difference> {
    let steps: usize = changes.iter().map(|change| change.steps.len()).sum();
    changes.iter().map(|change| difference(pair, change, steps <= WAYS)).collect()
}

fn difference(pair: &Pair<'_>, change: &Change, ways: bool) -> Difference {
    let kind = match &change.steps[..] {
        [step] if step.to.is_empty() => Kind::Missing,
        [step] if step.from.is_empty() => Kind::Added,
        [_] => Kind::Moved,
        _ => Kind::Exchanged,
    };
    let message = match (kind, &change.steps[..]) {
        (Kind::Missing, [step]) => join(pair, step, &step.from),
        (Kind::Added, [step]) => join(pair, step, &step.to),
        (_, steps) => {
            const TOLD: usize = 6;
            let told = steps.iter().take(TOLD).enumerate().map(|(nth, step)| {
                let moves = if nth == 0 { " moves" } else { "" };
                format!("{}{moves} from {} to {}", who(pair, step), pair.list(&step.from), pair.list(&step.to))
            });
            let more = if steps.len() > TOLD { format!(", and {} more", steps.len() - TOLD) } else { String::new() };
            told.collect::<Vec<_>>().join(", ") + &more
        }
    };
    let mut points = BTreeSet::new();
    let mut texts = |some: &[u32]| {
        points.extend(some.iter().copied());
        pair.texts(some)
    };
    let steps = change.steps.iter().map(|step| StepText {
        contacts: texts(&step.piece),
        from: texts(&step.from[..step.from.len().min(NAMED)]),
        to: texts(&step.to[..step.to.len().min(NAMED)]),
    });
    let steps = steps.collect();
    let labels = [0, 1].into_iter().flat_map(|side| labels(pair, change, side, ways)).collect();
    let points = pair.texts(&points.into_iter().collect::<Vec<u32>>());
    Difference { kind, weight: Weight::Differs, message, steps, points, labels }
}

/// The contacts of a step, with their signal.
fn who(pair: &Pair<'_>, step: &Step) -> String {
    format!("{}{}", pair.list(&step.piece), pair.signal(&step.piece))
}

/// A join that only one of the two has.
fn join(pair: &Pair<'_>, step: &Step, with: &[u32]) -> String {
    let mut ends = [&*step.piece, with];
    ends.sort_by_key(|points| (points.len(), points.first()));
    let (who, rest) = (format!("{}{}", pair.list(ends[0]), pair.signal(ends[0])), pair.list(ends[1]));
    match (pair.drawings(), step.to.is_empty()) {
        (2, true) => format!("{who} is no longer wired to {rest}"),
        (2, false) => format!("{who} is newly wired to {rest}"),
        (_, true) => format!("{who} to {rest} is missing in {}", pair.names()[1]),
        (_, false) => format!("{who} to {rest} is only in {}", pair.names()[1]),
    }
}

/// The lines of one netlist that show a change: where the contacts are joined, or else where they are.
fn labels(pair: &Pair<'_>, change: &Change, side: usize, ways: bool) -> Vec<Label> {
    let mut found = Vec::new();
    for step in change.steps.iter().filter(|_| ways) {
        let with = if side == 0 { &step.from } else { &step.to };
        found.extend(pair.joined(side, &step.piece, with));
    }
    if found.is_empty() { pair.shown(side, &change.about()) } else { found }
}
