//! The lot that is being tested: what counts of it so far, and the decision so far.
//!
//! Units count as [`counted`](super::super::counted) counts them: a retest without an action on record leaves the worse result, and
//! two out of three is no pass. A unit that was dangerous at any of its tests rejects the lot. A sample that isn't complete is
//! never accepted ([`decide_lot`]); what rejects it for certain is said at once.
//!
//! There is no decision where it isn't plain which units are the lot: they say no lot, are of several lots, of several cables,
//! types, rates or lengths, or are more than the lot has. After a restart, a file of which a part couldn't be read counts by the
//! part that could; `backshell lot` over the folder reads all of them again, and makes the decision that goes on paper.

use std::collections::{BTreeMap, BTreeSet};

use super::super::decision::{Asked, Decided, Decision, PlanUsed, decide_lot};
use super::super::plan::Standing;
use super::super::record::Entry;
use super::super::retest::{Attempt, settle};
use super::{LotKey, Tally};
use crate::finding::Verdict;
use crate::netlist::Action;

/// How large the lot is, and by which plan it is to be decided.
#[derive(Clone, Debug)]
#[non_exhaustive]
pub struct LotPlan {
    /// How many units the lot has, from 1.
    pub size: u64,
    /// The plan.
    pub asked: Asked,
    /// How the lots before came out, where that was said.
    pub history: Option<Standing>,
}

impl LotPlan {
    /// A lot of so many units, decided by this plan, with no lots before it.
    #[must_use]
    pub fn new(size: u64, asked: Asked) -> Self {
        Self { size, asked, history: None }
    }

    /// How the lots before came out, where that was said.
    #[must_use]
    pub fn with_history(self, history: Standing) -> Self {
        Self { history: Some(history), ..self }
    }
}

/// One test of a unit, as far as the decision on its lot asks for it.
#[derive(Clone, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub struct Test {
    /// The verdict.
    pub verdict: Verdict,
    /// Whether it must not be connected.
    pub hazard: bool,
    /// What was done to it before, where that is on record.
    pub action: Option<Action>,
    /// Its cable, type, rate and length, as they were written; none where that isn't known any more.
    pub sort: Option<String>,
}

/// The tests of each unit of a lot, in their order.
pub type Tests = BTreeMap<String, Vec<Test>>;

impl Test {
    /// A test from what is kept of it.
    #[must_use]
    pub fn of(entry: &Entry) -> Self {
        Self::said(entry.verdict, entry.hazard, &entry.cable, entry.kind.as_deref(), &entry.header)
    }

    /// The same from the columns of a record: `header` is a JSON array of header lines.
    pub(in super::super) fn said(verdict: Verdict, hazard: bool, cable: &str, kind: Option<&str>, header: &str) -> Self {
        let lines: Vec<String> = serde_json::from_str(header).unwrap_or_default();
        let value = |word: &str| {
            let mut words = lines.iter().map(|line| line.split_whitespace()).find(|words| words.clone().next() == Some(word))?;
            words.next();
            Some(words.collect::<Vec<_>>().join(" "))
        };
        let action = value("action").and_then(|said| Action::ALL.into_iter().find(|action| action.word() == said));
        let more = [kind.map(str::to_owned), value("rated"), value("length").map(|length| plain_number(&length))];
        let sort = std::iter::once(cable.to_owned()).chain(more.into_iter().map(Option::unwrap_or_default));
        Test { verdict, hazard, action, sort: Some(sort.collect::<Vec<_>>().join("\n")) }
    }
}

/// A length with its number in one form, so that `2 m` is `2.0 m`.
fn plain_number(length: &str) -> String {
    match length.split_once(' ').and_then(|(number, unit)| Some((number.parse::<f64>().ok()?, unit))) {
        Some((number, unit)) => format!("{number} {unit}"),
        None => length.to_owned(),
    }
}

/// The lot that is being tested.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub struct Running {
    /// Which one it is; none before its first unit, and where there are several.
    pub lot: Option<LotKey>,
    /// How many units it has.
    pub size: u64,
    /// How many of them the plan asks for.
    pub sample: u64,
    /// The plan.
    pub plan: PlanUsed,
    /// What counts, retests settled.
    pub tally: Tally,
    /// Units that were dangerous to connect.
    pub hazards: u64,
    /// Units without a verdict, since their input can't be used.
    pub unjudged: u64,
    /// The decision so far; none where it isn't plain which units are the lot.
    pub decision: Option<Decision>,
    /// Why, in a sentence.
    pub reason: String,
}

impl Running {
    /// The decision so far in large words.
    #[must_use]
    pub fn words(&self) -> &'static str {
        self.decision.map_or("NO DECISION", Decision::words)
    }
}

/// The decision so far on the lot of this name and supplier among those that were tested; where nothing is named, on the only one.
pub(super) fn running(
    plan: &LotPlan,
    named: (Option<&str>, Option<&str>),
    lots: &BTreeMap<LotKey, Tests>,
    unjudged: u64,
) -> Running {
    let is_named = |wanted: Option<&str>, said: &Option<String>| wanted.is_none_or(|wanted| said.as_deref() == Some(wanted));
    let ours: Vec<(&LotKey, &Tests)> =
        lots.iter().filter(|(key, _)| is_named(named.0, &key.lot) && is_named(named.1, &key.supplier)).collect();
    let only = if let [(key, tests)] = ours[..] { Some((key, tests)) } else { None };
    let (tally, hazards) = only.map_or_else(Default::default, |(_, tests)| counted(tests));
    let decided = decide_lot(plan.asked, plan.history.as_ref(), plan.size, tally, hazards, unjudged);
    let Decided { decision, plan: used, reason } = decided;
    let (decision, reason) = match unclear(plan, only, ours.len(), tally.units() + unjudged) {
        Some(why) => (None, why),
        None => (Some(decision), reason),
    };
    let (sample, ..) = used.numbers(plan.size);
    Running {
        lot: only.map(|(key, _)| key.clone()),
        size: plan.size,
        sample,
        plan: used,
        tally,
        hazards,
        unjudged,
        decision,
        reason,
    }
}

/// Why it isn't plain which units are the lot.
fn unclear(plan: &LotPlan, only: Option<(&LotKey, &Tests)>, lots: usize, tested: u64) -> Option<String> {
    if lots > 1 {
        return Some(format!(
            "units of {lots} lots were tested: name the one that has {} units with `--lot`, and whose it is with `--supplier`",
            plan.size
        ));
    }
    let (key, tests) = only?;
    if key.lot.is_none() {
        return Some("these units say no lot: name it with `--lot`, so that no unit of another one counts".to_owned());
    }
    let sorts: BTreeSet<&String> = tests.values().flatten().filter_map(|test| test.sort.as_ref()).collect();
    if sorts.len() > 1 {
        let kinds = sorts.len();
        return Some(format!(
            "a lot is of one cable, type, rate and length, and these units are of {kinds} kinds: decide them one by one"
        ));
    }
    (tested > plan.size).then(|| {
        format!("a lot of {} units, of which {tested} were tested: say with `--size` how many the whole lot has", plan.size)
    })
}

/// What counts of each unit, and how many were dangerous.
fn counted(tests: &Tests) -> (Tally, u64) {
    let (mut tally, mut hazards) = (Tally::default(), 0);
    for tests in tests.values().filter(|tests| !tests.is_empty()) {
        let attempts: Vec<Attempt> = tests.iter().map(|test| Attempt::new(test.verdict, test.action, &[])).collect();
        // as in a lot: a first test that conforms needs no retest, and voids none
        let counts = |(nth, attempt): &(u8, &Attempt)| *nth > 1 || attempt.verdict() != Verdict::Conforms;
        let numbers = (1..=u8::MAX).chain(std::iter::repeat(u8::MAX));
        let numbered: Vec<(u8, &Attempt)> = numbers.zip(&attempts).filter(counts).collect();
        let settled = match settle(&numbered).0 {
            // what was done to a unit before the first test that is known was done after one that isn't
            Verdict::Conforms if tests.first().is_some_and(|first| first.action.is_some()) => Verdict::Inconclusive,
            settled => settled,
        };
        *tally.of(settled) += 1;
        hazards += u64::from(tests.iter().any(|test| test.hazard));
    }
    (tally, hazards)
}
