//! The lot that is being tested, as the page shows it.

use serde::Serialize;

use crate::lot::Decision;
use crate::lot::bench::{Outcome, Running};

use super::board::{kind, short};

/// The lot that is being tested.
#[derive(Clone, Debug, Serialize)]
pub(super) struct RunningLot {
    lot: Option<String>,
    supplier: Option<String>,
    size: u64,
    /// How many units the plan asks for.
    sample: u64,
    tested: u64,
    conforms: u64,
    fails: u64,
    inconclusive: u64,
    dangerous: u64,
    unjudged: u64,
    plan: String,
    /// The decision so far in large words.
    words: &'static str,
    /// The shape that stands beside the words.
    kind: &'static str,
    reason: String,
    /// Whether the sample is complete, or the decision can't change any more.
    settled: bool,
}

impl RunningLot {
    pub fn of(running: &Running) -> Self {
        let key = running.lot.clone().unwrap_or_default();
        let kind = match running.decision {
            Some(Decision::Accept) => kind(Outcome::Conforms),
            Some(Decision::Reject) if running.hazards > 0 => kind(Outcome::DoNotConnect),
            Some(Decision::Reject) => kind(Outcome::Fails),
            Some(Decision::NotEnoughUnits) => "waiting",
            Some(Decision::Hold) | None => kind(Outcome::CantTell),
        };
        RunningLot {
            lot: key.lot.as_deref().map(short),
            supplier: key.supplier.as_deref().map(short),
            size: running.size,
            sample: running.sample,
            tested: running.tally.units(),
            conforms: running.tally.conforms,
            fails: running.tally.fails,
            inconclusive: running.tally.inconclusive,
            dangerous: running.hazards,
            unjudged: running.unjudged,
            plan: short(&running.plan.words()),
            words: running.words(),
            kind,
            reason: short(&running.reason),
            settled: matches!(running.decision, Some(Decision::Accept | Decision::Reject)),
        }
    }
}
