//! Accept or reject: what a plan says of the units that were tested.
//!
//! A unit that can't be decided counts as not accepted; where the decision hangs on such units, the lot is held until they are.
//! Faults that make a unit dangerous to connect are critical: with one of them no plan accepts a lot (common practice, no source).

use crate::text::{count, visible};

use super::counts::Tally;
use super::plan::{self, Inspection, Level, Single, Standing, Zero};

/// What may be said of a lot.
#[derive(Clone, Copy, Debug, PartialEq, Eq, serde::Serialize, schemars::JsonSchema)]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum Decision {
    /// The lot is accepted.
    Accept,
    /// It is rejected.
    Reject,
    /// Not enough units were tested yet.
    NotEnoughUnits,
    /// It is held: the decision hangs on units that are inconclusive.
    Hold,
}

impl Decision {
    /// The decision in large words.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Decision::Accept => "ACCEPT",
            Decision::Reject => "REJECT",
            Decision::NotEnoughUnits => "NOT ENOUGH UNITS YET",
            Decision::Hold => "HOLD",
        }
    }
}

/// By which plan a lot is to be decided.
#[derive(Clone, Copy, Debug, PartialEq)]
#[non_exhaustive]
pub enum Asked {
    /// Every unit is tested, and none may fail.
    All,
    /// Single sampling by ISO 2859-1; the AQL in percent.
    Iso {
        /// The level.
        level: Level,
        /// The AQL in percent.
        aql: f64,
        /// How strict.
        inspection: Inspection,
    },
    /// No failure allowed: at most `quality` bad at this confidence, both between 0 and 1.
    Zero {
        /// The confidence.
        confidence: f64,
        /// The share.
        quality: f64,
    },
}

/// The plan by which a lot was decided.
#[derive(Clone, Copy, Debug, PartialEq)]
#[non_exhaustive]
pub enum PlanUsed {
    /// Every unit.
    All,
    /// ISO 2859-1.
    Iso(Single),
    /// Zero acceptance.
    Zero(Zero),
}

impl PlanUsed {
    /// The plan for a lot of this size; none where there is no such plan (an AQL that the table doesn't have, a lot of one unit).
    #[must_use]
    pub fn of(asked: Asked, lot: u64) -> Option<Self> {
        match asked {
            Asked::All => Some(PlanUsed::All),
            Asked::Iso { level, aql, inspection } => plan::single(lot, level, aql, inspection).map(PlanUsed::Iso),
            Asked::Zero { confidence, quality } => plan::zero_acceptance_of_lot(lot, confidence, quality).map(PlanUsed::Zero),
        }
    }

    /// Units to test, the most that may fail, and from how many on the lot is rejected.
    #[must_use]
    pub fn numbers(&self, lot: u64) -> (u64, u64, u64) {
        match self {
            PlanUsed::All => (lot, 0, 1),
            PlanUsed::Iso(single) => (single.n, single.accept, single.reject),
            PlanUsed::Zero(zero) => (zero.n, zero.accept, zero.accept + 1),
        }
    }

    /// The plan in words.
    #[must_use]
    pub fn words(&self) -> String {
        match self {
            PlanUsed::All => "every unit, none may fail".to_owned(),
            PlanUsed::Iso(single) if single.every_unit => {
                format!("{single} (the sample isn't smaller than the lot: every unit is tested)")
            }
            PlanUsed::Iso(single) => single.to_string(),
            PlanUsed::Zero(zero) => zero.to_string(),
        }
    }
}

/// A decision with its reason.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub struct Decided {
    /// The decision.
    pub decision: Decision,
    /// The plan.
    pub plan: PlanUsed,
    /// Why, in a sentence or two.
    pub reason: String,
}

/// Decides a lot of `lot` units, of which those of the tally were tested, `hazards` of them are dangerous to connect, and
/// `unjudged` more have no verdict since their input can't be used.
///
/// Failures decide first: a lot that has more of them than the plan allows is rejected however few units were tested. Then what
/// is undecided, then whether enough were tested.
#[must_use]
pub fn decide(plan: PlanUsed, lot: u64, tally: Tally, hazards: u64, unjudged: u64) -> Decided {
    let (n, accept, reject) = plan.numbers(lot);
    let Tally { fails, inconclusive, .. } = tally;
    let tested = tally.units();
    let open = inconclusive + unjudged;
    let (decision, reason) = if hazards > 0 {
        (Decision::Reject, format!("{} dangerous to connect: no plan accepts that", units(hazards, "is", "are")))
    } else if fails >= reject {
        (Decision::Reject, format!("{}, the plan rejects from {reject} on", units(fails, "fails", "fail")))
    } else if fails + open > accept {
        if open == 0 {
            return between(plan, fails, accept, reject, tested, n);
        }
        let beyond = if fails > accept { "more than the plan accepts" } else { "with these more than the plan accepts" };
        let (open, fails) = (units(open, "is", "are"), units(fails, "fails", "fail"));
        (Decision::Hold, format!("{open} undecided, {fails}: {beyond} ({accept}); settle the undecided ones first"))
    } else if tested + unjudged < n {
        let left = n - tested - unjudged;
        (
            Decision::NotEnoughUnits,
            format!("{tested} of {} tested: {left} more, drawn at random", count(n, "unit was", "units were")),
        )
    } else {
        let allowed = if accept == 0 { "as the plan wants it".to_owned() } else { format!("the plan accepts up to {accept}") };
        let undecided = if open > 0 {
            format!(", {} undecided and counted as not accepted", units(open, "is", "are"))
        } else {
            String::new()
        };
        (Decision::Accept, format!("{}{undecided}: {allowed}", units(fails, "fails", "fail")))
    };
    Decided { decision, plan, reason }
}

/// Decides a lot of `lot` units by the plan that was asked for, with what the lots before it lead to. Where there is no such plan (a
/// lot of one unit), every unit is tested.
#[must_use]
pub fn decide_lot(asked: Asked, history: Option<&Standing>, lot: u64, tally: Tally, hazards: u64, unjudged: u64) -> Decided {
    let plan = PlanUsed::of(asked, lot).unwrap_or(PlanUsed::All);
    let mut decided = decide(plan, lot, tally, hazards, unjudged);
    if let Some(standing) = history.filter(|standing| standing.stopped && decided.decision == Decision::Accept) {
        decided.decision = Decision::Hold;
        decided.reason = format!("acceptance by sampling has stopped: {}", standing.why);
    }
    decided
}

impl Decided {
    /// The same where some units came in more than once, as two of the inputs have them: how many were tested isn't known then, nor how
    /// many fail, so that only a hazard decides.
    #[must_use]
    pub fn doubting<'u>(mut self, mut twice: impl Iterator<Item = &'u str>, hazards: u64) -> Self {
        if let (Some(first), 0) = (twice.next(), hazards) {
            let more = twice.count();
            let (others, are, they) = match more {
                0 => (String::new(), "is", "it counts"),
                _ => (format!(" and {more} more"), "are", "they count"),
            };
            self.decision = Decision::Hold;
            self.reason = format!(
                "{}{others} {are} in the input more than once, and {they} as often; leave each unit in one of the files",
                visible(first)
            );
        }
        self
    }
}

fn between(plan: PlanUsed, fails: u64, accept: u64, reject: u64, tested: u64, n: u64) -> Decided {
    let (decision, reason) = if tested < n {
        (
            Decision::NotEnoughUnits,
            format!("{tested} of {} tested: {} more, drawn at random", count(n, "unit was", "units were"), n - tested),
        )
    } else {
        let reason = format!(
            "{}, between {accept} and {reject}: the lot is accepted, and inspection goes back to normal",
            units(fails, "fails", "fail")
        );
        (Decision::Accept, reason)
    };
    Decided { decision, plan, reason }
}

fn units(n: u64, one: &str, many: &str) -> String {
    match n {
        0 => format!("none {one}"),
        1 => format!("1 unit {one}"),
        n => format!("{n} units {many}"),
    }
}
