//! Switching between normal and tightened inspection, by how the lots before came out.
//!
//! The rules of MIL-STD-105E (1989), 4.7, which ISO 2859-1 shares: from normal to tightened when two of at most five lots in a
//! row weren't accepted at their original inspection; back after five accepted in a row; a stop when five lots weren't accepted
//! while inspection was tightened. Lots that are handed in again don't count. Reduced inspection is never begun here: it needs
//! steady production and the consent of whoever is responsible, which no history shows.

use std::sync::Arc;

use crate::finding::Problem;
use crate::text::{Source, Span};

use super::Inspection;

/// How a lot came out.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub struct LotResult {
    /// Whether it was accepted.
    pub accepted: bool,
    /// Whether it was handed in for the first time.
    pub original: bool,
}

impl LotResult {
    /// A lot that was handed in for the first time.
    #[must_use]
    pub fn new(accepted: bool) -> Self {
        Self { accepted, original: true }
    }

    /// Whether it was handed in for the first time.
    #[must_use]
    pub fn with_original(self, original: bool) -> Self {
        Self { original, ..self }
    }
}

/// The lots before this one, oldest first.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
#[non_exhaustive]
pub struct History {
    /// The results.
    pub lots: Vec<LotResult>,
}

/// Where a history leads.
#[derive(Clone, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub struct Standing {
    /// How the next lot is inspected.
    pub inspection: Inspection,
    /// Whether acceptance by sampling stops until the maker has improved.
    pub stopped: bool,
    /// The last switch, in words.
    pub why: String,
    /// Whether ten lots in a row were accepted under normal inspection, so that reduced inspection can be asked for.
    pub may_reduce: bool,
}

impl History {
    /// These lots, oldest first.
    #[must_use]
    pub fn new(lots: Vec<LotResult>) -> Self {
        Self { lots }
    }

    /// How the next lot is inspected.
    #[must_use]
    pub fn standing(&self) -> Standing {
        let mut state = Standing {
            inspection: Inspection::Normal,
            stopped: false,
            why: "no lot before this one calls for anything else".to_owned(),
            may_reduce: false,
        };
        // the results since the last switch, the newest last; and those refused while tightened
        let (mut recent, mut refused): (Vec<bool>, usize) = (Vec::new(), 0);
        let original = self.lots.iter().enumerate().filter(|(_, lot)| lot.original);
        for (nth, lot) in original.map(|(at, lot)| (at + 1, lot)) {
            recent.push(lot.accepted);
            let last = |n: usize| recent.iter().rev().take(n);
            match state.inspection {
                Inspection::Tightened => {
                    refused += usize::from(!lot.accepted);
                    if refused >= 5 {
                        state.stopped = true;
                        state.why = format!("five lots weren't accepted under tightened inspection, the last is lot {nth}");
                        return state;
                    }
                    if last(5).filter(|accepted| **accepted).count() == 5 {
                        state.inspection = Inspection::Normal;
                        state.why = format!("five lots in a row were accepted under tightened inspection, the last is lot {nth}");
                        recent.clear();
                    }
                }
                Inspection::Normal | Inspection::Reduced => {
                    if !lot.accepted && last(5).filter(|accepted| !**accepted).count() >= 2 {
                        state.inspection = Inspection::Tightened;
                        state.why = format!("two of five lots in a row weren't accepted, the last is lot {nth}");
                        recent.clear();
                        refused = 0;
                    }
                }
            }
        }
        let accepted = recent.iter().rev().take(10).filter(|accepted| **accepted).count();
        state.may_reduce = state.inspection == Inspection::Normal && accepted == 10;
        state
    }
}

/// Reads a history: a line for each lot, oldest first, that begins with `accepted` or `not-accepted`; `again` follows for a lot
/// that was handed in again. What stands after that is a note, and so is all after `#`.
///
/// # Errors
/// Every line that begins otherwise.
pub fn read_history(source: &Arc<Source>) -> Result<History, Vec<Problem>> {
    let (mut history, mut problems, mut at) = (History::default(), Vec::new(), 0);
    for line in source.text().split_inclusive('\n') {
        let start = at;
        at += line.len();
        let mut words = line.split('#').next().unwrap_or("").split_whitespace();
        let Some(first) = words.next() else { continue };
        let accepted = match first {
            "accepted" => true,
            "not-accepted" => false,
            _ => {
                let from = start + line.find(first).unwrap_or(0);
                let label = "expected `accepted` or `not-accepted`";
                let problem =
                    Problem::new("a line of the history can't be read").at(source, Span::new(from, from + first.len()), label);
                problems.push(problem.help("one lot a line, oldest first; `again` follows for a lot that was handed in again"));
                continue;
            }
        };
        history.lots.push(LotResult { accepted, original: words.next() != Some("again") });
    }
    if problems.is_empty() { Ok(history) } else { Err(problems) }
}
