//! Retests: which result stands.
//!
//! A unit that wasn't accepted may be tested once more, after an action that is on record; both results are kept. Two results
//! out of three are never a pass: with a third attempt, the worst counts (common practice, no source).

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use crate::finding::Verdict;
use crate::netlist::Action;

use super::counts::Tally;
use super::group::Group;

/// One test of a unit, as a lot keeps it.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct Attempt {
    /// The verdict.
    verdict: Kept,
    /// The action before it, where one is on record.
    action: Option<Action>,
    /// The codes of what failed it or left it undecided.
    codes: String,
}

/// A verdict as it is kept.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
enum Kept {
    Conforms,
    Inconclusive,
    Fails,
}

impl Attempt {
    pub(super) fn new(verdict: Verdict, action: Option<Action>, codes: &[String]) -> Self {
        let verdict = match verdict {
            Verdict::Conforms => Kept::Conforms,
            Verdict::Inconclusive => Kept::Inconclusive,
            Verdict::Fails => Kept::Fails,
        };
        Attempt { verdict, action, codes: codes.join(", ") }
    }

    /// The verdict.
    #[must_use]
    pub fn verdict(&self) -> Verdict {
        match self.verdict {
            Kept::Conforms => Verdict::Conforms,
            Kept::Inconclusive => Verdict::Inconclusive,
            Kept::Fails => Verdict::Fails,
        }
    }
}

/// How a unit stands that wasn't simply accepted at its first test.
#[derive(Clone, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub struct Standing {
    /// The unit.
    pub unit: String,
    /// What counts for the lot.
    pub verdict: Verdict,
    /// Every result that is kept, in the order of the attempts: `1 fails (open)`.
    pub results: Vec<String>,
    /// Why this verdict counts, where there was more than one test.
    pub why: Option<&'static str>,
}

/// The units of a lot, retests settled.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
#[non_exhaustive]
pub struct Counted {
    /// What counts.
    pub tally: Tally,
    /// The units that aren't accepted, and those that were tested again; empty where too many were to be kept.
    pub standings: Vec<Standing>,
    /// True where so many units weren't accepted that retests couldn't be matched with first tests: the first results stand.
    pub unmatched: bool,
}

/// Why a unit is held of which only a retest came in.
const NO_FIRST: &str =
    "Its first test isn't in the input, and a retest alone doesn't pass: what the first one showed isn't known";

/// Why a retest is held where the names of units weren't kept.
const UNKNOWN_FIRST: &str = "Whether its first test is in the input, and what it showed, isn't known: there are too many units to keep \
                             their names";

fn worst(one: Verdict, other: Verdict) -> Verdict {
    match (one, other) {
        (Verdict::Fails, _) | (_, Verdict::Fails) => Verdict::Fails,
        (Verdict::Inconclusive, _) | (_, Verdict::Inconclusive) => Verdict::Inconclusive,
        _ => Verdict::Conforms,
    }
}

/// What stands of some attempts; the first one conforms or isn't there where it isn't among them.
pub(super) fn settle(attempts: &[(u8, &Attempt)]) -> (Verdict, Option<&'static str>) {
    let all = attempts.iter().fold(Verdict::Conforms, |so_far, (_, attempt)| worst(so_far, attempt.verdict()));
    match attempts {
        [_] => (all, None),
        [(1, first), (2, again)] => {
            let (before, after) = (first.verdict(), again.verdict());
            match (again.action, after) {
                (None, _) => (all, Some("No action is on record before the retest: the worse result stands")),
                (Some(Action::SetUpCorrected), _) => {
                    (after, Some("The set-up was at fault at the first test, which is void: the retest stands"))
                }
                (Some(Action::Remated | Action::Cleaned), Verdict::Conforms) => (
                    Verdict::Inconclusive,
                    Some("It conforms only after its contacts were touched: an intermittent contact is likely, so it is held"),
                ),
                (Some(Action::Repaired), Verdict::Conforms) => {
                    (before, Some("Repaired: the unit itself conforms now, for the lot its first result counts"))
                }
                (Some(_), _) => (all, Some("The retest doesn't conform either: the worse result stands")),
            }
        }
        _ => (all, Some("More than one retest: two out of three is no pass, the worst result stands")),
    }
}

/// Counts the units of a group, retests settled; `matched` says whether all tests that count were kept.
#[must_use]
pub fn counted(group: &Group, matched: bool) -> Counted {
    let mut tally = group.first;
    if !matched {
        // a later test that wasn't accepted may belong to a unit whose first test was
        let worse = group.later.fails + group.later.inconclusive;
        let moved = worse.min(tally.conforms);
        tally.conforms -= moved;
        tally.fails += group.later.fails.min(moved);
        tally.inconclusive += moved - group.later.fails.min(moved);
        return Counted { tally, standings: Vec::new(), unmatched: true };
    }
    let mut units: BTreeMap<&str, Vec<(u8, &Attempt)>> = BTreeMap::new();
    for ((name, nth), attempt) in &group.attempts {
        units.entry(name).or_default().push((*nth, attempt));
    }
    let mut standings = Vec::new();
    for (name, attempts) in units {
        let has_first = attempts.iter().any(|(nth, _)| *nth == 1)
            || group.names.is_empty()
            || group.names.contains_key(&(name.to_owned(), 1));
        if !has_first {
            let all = attempts.iter().fold(Verdict::Inconclusive, |so_far, (_, attempt)| worst(so_far, attempt.verdict()));
            *tally.of(all) += 1;
            let results = attempts.iter().map(|(nth, attempt)| in_words(*nth, attempt)).collect();
            standings.push(Standing { unit: name.to_owned(), verdict: all, results, why: Some(NO_FIRST) });
            continue;
        }
        let (mut verdict, mut why) = settle(&attempts);
        if group.names.is_empty() && attempts.iter().all(|(nth, _)| *nth > 1) {
            (verdict, why) = (worst(verdict, Verdict::Inconclusive), Some(UNKNOWN_FIRST));
        }
        let before = attempts.first().filter(|(nth, _)| *nth == 1).map_or(Verdict::Conforms, |(_, first)| first.verdict());
        // a first test that conforms isn't kept among the attempts
        *tally.of(before) = tally.of(before).saturating_sub(1);
        *tally.of(verdict) += 1;
        let only_a_pass = attempts.len() == 1 && verdict == Verdict::Conforms;
        if !only_a_pass {
            let results = attempts.iter().map(|(nth, attempt)| in_words(*nth, attempt)).collect();
            standings.push(Standing { unit: name.to_owned(), verdict, results, why });
        }
    }
    standings.sort_by(|a, b| super::group::natural(&a.unit).cmp(&super::group::natural(&b.unit)));
    Counted { tally, standings, unmatched: false }
}

fn in_words(nth: u8, attempt: &Attempt) -> String {
    let codes = if attempt.codes.is_empty() { String::new() } else { format!(" ({})", attempt.codes) };
    let action = attempt.action.map(|action| format!(", after: {}", action.word())).unwrap_or_default();
    format!("{nth} {}{codes}{action}", attempt.verdict().word())
}
