//! The pairs of a from-to table: two rows of one unit with the same word in the column `pair`.

use std::collections::HashMap;

use crate::finding::Problem;
use crate::text::Span;

use super::build::{Builder, UnitId};
use super::model::FactKind;
use super::row::Contact;

/// The pairs so far.
#[derive(Default)]
pub(super) struct Twists<'s> {
    all: Vec<Twist<'s>>,
    known: HashMap<(UnitId, &'s str), usize>,
}

struct Twist<'s> {
    unit: UnitId,
    /// The cells that name it, row by row.
    cells: Vec<Span>,
    /// Both points of each conductor.
    conductors: Vec<[Contact<'s>; 2]>,
    screens: Vec<Contact<'s>>,
}

impl<'s> Twists<'s> {
    /// A row of a pair.
    pub fn add(&mut self, unit: UnitId, cell: Span, name: &'s str, conductor: [Contact<'s>; 2], screen: Option<Contact<'s>>) {
        let number = *self.known.entry((unit, name)).or_insert(self.all.len());
        if number == self.all.len() {
            self.all.push(Twist { unit, cells: Vec::new(), conductors: Vec::new(), screens: Vec::new() });
        }
        let twist = &mut self.all[number];
        twist.cells.push(cell);
        twist.conductors.push(conductor);
        twist.screens.extend(screen);
    }

    /// States every pair, by the points of its conductors at one end.
    pub fn finish(self, to: &mut Builder<'s>) {
        for twist in self.all {
            let &[one, other] = &twist.conductors[..] else {
                let labels = twist.cells.iter().take(4);
                let message = format!("a pair of {} rows", twist.conductors.len());
                let problem = labels.fold(Problem::new(message), |problem, cell| problem.at(to.source, *cell, "this pair"));
                to.spoil(
                    Some(twist.unit),
                    problem.help("a pair has two conductors: give the same word to two rows of a unit, and no more"),
                );
                continue;
            };
            let [first, second] = at_one_end(one, other);
            let mut points = vec![first.point, second.point];
            if let [screen, rest @ ..] = &twist.screens[..] {
                if let Some(second) = rest.iter().find(|other| (other.end, other.pin) != (screen.end, screen.pin)) {
                    let problem = Problem::new("two screens for one pair")
                        .at(to.source, second.point.span, "another here")
                        .at(to.source, screen.point.span, "one here")
                        .help("the drain of a pair's screen is named once, or the same in both rows");
                    to.spoil(Some(twist.unit), problem);
                    continue;
                }
                points.push(screen.point);
            }
            to.fact(twist.unit, twist.cells[0], &points, |points| FactKind::Pair { points });
        }
    }
}

/// Of two conductors, their points at the same end, where they have one in common.
fn at_one_end<'s>(one: [Contact<'s>; 2], other: [Contact<'s>; 2]) -> [Contact<'s>; 2] {
    let pairs = [(0, 0), (0, 1), (1, 0), (1, 1)];
    let (at, beside) = pairs.into_iter().find(|(at, beside)| one[*at].end == other[*beside].end).unwrap_or((0, 0));
    [one[at], other[beside]]
}
