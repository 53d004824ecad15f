//! Resistances of joins: against what the wire and the contacts should have, the cable's limits, the other conductor of
//! the pair, and the siblings in the unit.
//!
//! What all conductors share is one finding (another wire, or another length, than the header says); what is left is a
//! finding a conductor.

mod common;
mod limits;
mod rule;
mod siblings;
mod words;

pub(in crate::verify) use limits::most;
pub(in crate::verify) use rule::Rule;

use crate::finding::Sink;
use crate::pinmap::Limited;
use crate::units::{Bound, Decision};

use crate::verify::case::Case;
use crate::verify::case::expected::Wire;
use crate::verify::case::joined::Join;

/// Above this a join is none, in ohm (common practice, no source).
const NO_JOIN: f64 = 10e3;

/// Above this a join is doubtful where nothing says what its wire is, in ohm: the default of IPC/WHMA-A-620 (from memory).
pub(in crate::verify) const DOUBTFUL: f64 = 2.0;

/// Reports `resistance.*` and `conductor.*`.
pub(in crate::verify) fn check(case: &Case<'_>, sink: &mut Sink) {
    let joins = case.joins_by_rule();
    if joins.is_empty() {
        return;
    }
    let wire = case.wire();
    let spread = Spread::of(case, wire, joins);
    if !spread.within {
        against_limits(case, wire, joins, sink);
    }
    if !spread.balanced {
        siblings::unbalance(case, joins, sink);
    }
    if !spread.alike {
        siblings::outliers(case, joins, sink);
    }
}

/// Each figure against what its wire can have, and the limits of the cable.
fn against_limits(case: &Case<'_>, wire: Option<Wire>, joins: &[Join], sink: &mut Sink) {
    for join in joins.iter().filter(|join| join.reading.at_most(NO_JOIN) == Decision::Fails) {
        join.told.set(true);
        sink.report(limits::high(case, join, "that is no join", "common practice, no source"));
    }
    if let Some(wire) = wire {
        common::common(case, wire, joins, sink);
    }
    limits::limits(case, wire, joins, sink);
    if let Some(wire) = wire.filter(|_| !has_branches(case)) {
        limits::in_parallel(case, wire, joins, sink);
    }
}

/// How far the figures of a unit lie from each other and from what their wire may have: where that settles a check, the check
/// is left out. Most units of a reel are sound, and cost one look at each figure.
struct Spread {
    /// Every figure is within what its wire has, with the whole uncertainty, and no path lies in parallel.
    within: bool,
    /// No two wires differ by enough to unbalance a pair.
    balanced: bool,
    /// No wire differs from another by more than the uncertainty.
    alike: bool,
}

impl Spread {
    fn of(case: &Case<'_>, wire: Option<Wire>, joins: &[Join]) -> Self {
        let (mut least, mut most, mut above) = (f64::INFINITY, 0.0_f64, 0.0_f64);
        let (mut surest, mut uncertainty, mut plain) = (f64::INFINITY, 0.0_f64, true);
        for join in joins {
            plain &= join.reading.quantity.bound == Bound::Exact && join.across && join.alone && join.wire.is_none();
            surest = surest.min(join.reading.uncertainty);
            uncertainty = uncertainty.max(join.reading.uncertainty);
            above = above.max(join.ohm() + join.reading.uncertainty);
            if join.single {
                least = least.min(join.ohm());
                most = most.max(join.ohm());
            }
        }
        let limited = |of: Limited| case.cable.limits.iter().any(|limit| limit.of == of);
        let apart = (most - least).max(0.0);
        let sound = |wire: Wire| above < wire.most && above < NO_JOIN && least > wire.least;
        Spread {
            within: plain && wire.is_some_and(sound) && !limited(Limited::Conductor),
            // 1.5 is more than the root of two, which two figures of the same uncertainty have between them
            balanced: apart < siblings::UNBALANCE.1 - 1.5 * uncertainty && !limited(Limited::Unbalance),
            alike: apart < surest,
        }
    }
}

/// Whether a cable has branches: its length is then that of the longest way through it. No conductor has more than that, but
/// a branch may be as short as it likes.
fn has_branches(case: &Case<'_>) -> bool {
    case.cable.ends.len() > 2
}
