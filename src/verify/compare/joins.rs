//! What changed in the nets, in words.

use crate::finding::Label;
use crate::graph::{Change, Step};

use super::model::{Difference, Kind, StepText, Weight};
use super::side::Pair;

/// A change of nets as a difference.
pub(super) fn difference(pair: &Pair<'_>, change: &Change) -> Difference {
    let kind = match &change.steps[..] {
        [step] if step.to.is_empty() => Kind::Missing,
        [step] if step.from.is_empty() => Kind::Added,
        [_] => Kind::Moved,
        _ => Kind::Exchanged,
    };
    let message = match (kind, &change.steps[..]) {
        (Kind::Missing, [step]) => lost(pair, step, 1),
        (Kind::Added, [step]) => lost(pair, step, 0),
        (_, [step]) => format!("{} moves from {} to {}", who(pair, step), pair.list(&step.from), pair.list(&step.to)),
        (_, steps) => {
            const TOLD: usize = 6;
            let mut told: Vec<String> = steps
                .iter()
                .take(TOLD)
                .map(|step| format!("{} from {} to {}", who(pair, step), pair.list(&step.from), pair.list(&step.to)))
                .collect();
            if steps.len() > TOLD {
                told.push(format!("and {} more", steps.len() - TOLD));
            }
            format!("exchanged: {}", told.join(", "))
        }
    };
    let steps = change.steps.iter().map(|step| StepText {
        contacts: pair.texts(&step.piece),
        from: pair.texts(&step.from),
        to: pair.texts(&step.to),
    });
    let labels = [0, 1].into_iter().flat_map(|side| labels(pair, change, side)).collect();
    let points = pair.texts(&change.named());
    Difference { kind, weight: Weight::Differs, message, steps: steps.collect(), points, labels }
}

/// The contacts of a step, with their signal.
fn who(pair: &Pair<'_>, step: &Step) -> String {
    format!("{}{}", pair.list(&step.piece), pair.signal(&step.piece))
}

/// A join that one of the two doesn't have.
fn lost(pair: &Pair<'_>, step: &Step, side: usize) -> String {
    let mut ends = [&step.piece, if side == 1 { &step.from } else { &step.to }];
    ends.sort_by_key(|points| (points.len(), points.first()));
    let [one, rest] = ends.map(|points| pair.list(points));
    let who = format!("{one}{}", pair.signal(ends[0]));
    match (pair.drawings(), side) {
        (2, 1) => format!("{who} is no longer wired to {rest}"),
        (2, _) => format!("{who} is newly wired to {rest}"),
        _ => format!("{who} to {rest} is missing in {}", pair.names()[side]),
    }
}

/// The lines of one netlist that show a change: where the contacts are joined, or else where they are.
fn labels(pair: &Pair<'_>, change: &Change, side: usize) -> Vec<Label> {
    let mut found = Vec::new();
    for step in &change.steps {
        let with = if side == 0 { &step.from } else { &step.to };
        found.extend(pair.joined(side, &step.piece, with));
    }
    if found.is_empty() { pair.shown(side, &change.about()) } else { found }
}
