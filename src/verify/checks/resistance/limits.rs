//! Each join against the limit of its signal, and against what its wire can have.

use crate::finding::{Code, Finding, Label, Sink};
use crate::graph::Network;
use crate::pinmap::{Limit, Limited, Role};
use crate::units::{Bound, Decision};

use super::common::low;
use super::words::{about, select, span_of, words};
use super::{DOUBTFUL, has_branches};
use crate::verify::case::Case;
use crate::verify::case::expected::{self, Wire, ohm};
use crate::verify::case::joined::Join;
use crate::verify::case::physical::{self, Conductor, ConductorKind};

/// The same for a go/no-go threshold (`<10 ohm`), as testers use it (common practice, no source).
const DOUBTFUL_THRESHOLD: f64 = 10.0;

/// The most that a screen may have, in ohm per metre (common practice, no source: see [`physical`]).
const SCREEN_MOST: f64 = 0.030;

/// The most that a join may have, in ohm, where something says that.
pub(in crate::verify) struct Most<'a> {
    /// The cable's own limit.
    limit: Option<&'a Limit>,
    /// What it comes to in this length.
    pub own: Option<f64>,
    /// What the wire has, from one end to another.
    pub by_wire: Option<f64>,
}

impl<'a> Most<'a> {
    pub fn of(case: &Case<'a>, wire: Option<Wire>, metres: Option<f64>, join: &Join) -> Self {
        let limit = case.limit(Limited::Conductor, join.points);
        let own = limit.and_then(|limit| if limit.per_metre { metres.map(|metres| limit.ohm * metres) } else { Some(limit.ohm) });
        let by_wire = join.wire.or(wire).filter(|_| join.across).map(|wire| {
            // a screen has no gauge: it may have what a wire may have, or what the thinnest braid has
            let is_screen = join.points.iter().all(|point| case.cable.role(*point) == Role::Shell);
            let braid = SCREEN_MOST * metres.unwrap_or_default() + Wire::contacts_most();
            if is_screen { wire.most.max(braid) } else { wire.most }
        });
        Most { limit, own, by_wire }
    }

    /// The lower of both, in ohm; none where neither is known.
    pub fn ohm(&self) -> Option<f64> {
        match (self.own, self.by_wire) {
            (Some(own), Some(wire)) => Some(own.min(wire)),
            (most, None) | (None, most) => most,
        }
    }
}

/// The most that a join may have, in ohm: the lower of the cable's own limit and what its wire can have; none where neither is
/// known.
pub(in crate::verify) fn most(case: &Case<'_>, join: &Join) -> Option<f64> {
    Most::of(case, case.wire(), expected::length(case).map(|(metres, _)| metres), join).ohm()
}

/// Each join against the limit of its signal, and against the wire.
pub(in crate::verify) fn limits(case: &Case<'_>, wire: Option<Wire>, joins: &[Join], sink: &mut Sink) {
    let metres = expected::length(case).map(|(metres, _)| metres);
    let (mut near, mut limit_near): (Vec<usize>, f64) = (Vec::new(), 0.0);
    let mut unknown: Vec<usize> = Vec::new();
    for (at, join) in joins.iter().enumerate().filter(|(_, join)| !join.told.get()) {
        let Most { limit, own, by_wire } = Most::of(case, wire, metres, join);
        let most = match (own, by_wire) {
            (Some(own), Some(wire)) => own.min(wire),
            (Some(most), None) | (None, Some(most)) => most,
            (None, None) => {
                // a figure that is only a lower bound says nothing of how much more there is
                let is_doubtful = match join.reading.quantity.bound {
                    Bound::Exact => join.ohm() + join.reading.uncertainty > DOUBTFUL,
                    Bound::Below => join.ohm() > DOUBTFUL_THRESHOLD,
                    Bound::Above => true,
                };
                if is_doubtful {
                    unknown.push(at);
                }
                continue;
            }
        };
        match join.reading.at_most(most) {
            // a threshold that was set without the wire in mind says no more than that the parts are joined
            Decision::Inconclusive if join.reading.quantity.bound == Bound::Below && join.ohm() <= DOUBTFUL_THRESHOLD => {}
            Decision::Conforms => {}
            Decision::Inconclusive => {
                limit_near = most;
                near.push(at);
            }
            Decision::Fails => {
                join.told.set(true);
                let by_limit = limit.filter(|_| own == Some(most));
                let (what, source) = match by_limit {
                    Some(limit) => (
                        format!("the limit is {} ({})", ohm(most), limit.why),
                        case.source_of(std::iter::once(&limit.provenance)),
                    ),
                    None => (
                        format!("{} has {} at most, with its contacts", expected::in_words(case, join.gauge), ohm(most)),
                        "ASTM B258 for the wire; the allowances are common practice, no source".to_owned(),
                    ),
                };
                let mut finding = high(case, join, &what, &source);
                match by_limit {
                    Some(limit) => {
                        finding.labels.push(Label::new(&case.cable.file, limit.span, "the limit"));
                        case.weigh(&mut finding, &[&limit.provenance]);
                    }
                    None => finding.labels.extend(expected::labels(case)),
                }
                sink.report(finding);
            }
        }
        let exact = join.signal && !has_branches(case) && !join.told.get() && join.reading.quantity.bound == Bound::Exact;
        if let Some(wire) = join.wire.or(wire).filter(|wire| exact && join.reading.at_least(wire.least) == Decision::Fails) {
            join.told.set(true);
            sink.report(low(case, wire, &[join]));
        }
    }
    let near_words = format!("so near the limit of {} that the uncertainty covers both sides", ohm(limit_near));
    for (which, what, remedy) in [
        (&near, near_words.as_str(), "measure again with four wires and a smaller uncertainty"),
        (
            &unknown,
            "and nothing says whether that is right: the netlist gives no length and gauge, the cable no limit",
            "say `length` and `gauge`, or measure again with four wires",
        ),
    ] {
        if which.is_empty() {
            continue;
        }
        let some = select(joins, which);
        let message = match some[..] {
            [join] => format!("{} reads {}, {what}", words(case, join), join.reading.quantity.short()),
            _ => format!("{} joins read {}, {what}", some.len(), span_of(&some)),
        };
        let mut finding = about(case, Code::ResistanceHigh, &some, message);
        finding.leave_undecided();
        high_words(&mut finding);
        "nothing is proven: a sound conductor may read so, and one with a bad joint too".clone_into(&mut finding.why);
        remedy.clone_into(&mut finding.remedy);
        "JCGM 106:2012 (guard band); the allowances are common practice, no source".clone_into(&mut finding.source);
        sink.report(finding);
        for at in which {
            joins[*at].told.set(true);
        }
    }
}

/// Joins with other conductors in parallel: more than all of them have, less than one alone.
pub(in crate::verify) fn in_parallel(case: &Case<'_>, wire: Wire, joins: &[Join], sink: &mut Sink) {
    let exact = |join: &Join| !join.told.get() && !join.alone && join.reading.quantity.bound == Bound::Exact;
    if !joins.iter().any(|join| exact(join) && join.across) {
        return;
    }
    // without the screens, whose resistance nobody knows: what is left has more, never less (Rayleigh)
    let most = |conductor: &Conductor| if conductor.kind == ConductorKind::Tie { 0.0 } else { wire.most - Wire::contacts_most() };
    let conductors = physical::conductors(case.cable, case.wanted);
    let known = conductors.iter().filter(|conductor| conductor.kind != ConductorKind::Screen);
    let edges = known.map(|conductor| (conductor.points[0], conductor.points[1], most(conductor)));
    let n = u32::try_from(case.cable.points.len()).unwrap_or(u32::MAX);
    let Ok(network) = Network::new(n, edges) else { return };
    // the ties that a figure proves, and no others: the net alone doesn't tell at which end conductors are commoned
    let ties = joins.iter().filter(|join| !join.across && join.ohm() <= Wire::contacts_most());
    let wires = conductors.iter().filter(|conductor| conductor.kind == ConductorKind::Wire);
    let wires = wires.map(|conductor| (conductor.points[0], conductor.points[1], most(conductor)));
    let Ok(proven) = Network::new(n, wires.chain(ties.map(|join| (join.points[0], join.points[1], 0.0)))) else { return };
    for join in joins.iter().filter(|join| exact(join) && join.across) {
        let Some(wires) = network.effective(join.points[0], join.points[1]) else { continue };
        // the meter's own two contacts lie in series with whatever is in parallel behind them
        let all = wires + Wire::contacts_most();
        let alone = join.reading.at_least(wire.least) != Decision::Fails;
        let by_ties = proven.effective(join.points[0], join.points[1]).map(|ohm| ohm + Wire::contacts_most());
        let too_much = by_ties.is_some_and(|most| join.reading.at_most(most) == Decision::Fails);
        if join.reading.at_most(all) != Decision::Fails || (alone && !too_much) {
            continue;
        }
        join.told.set(true);
        let message = format!(
            "{} reads {}: with all conductors in parallel it is {} at most, and one alone has {} or more",
            words(case, join),
            ohm(join.ohm()),
            ohm(all),
            ohm(wire.least)
        );
        let mut finding = about(case, Code::ResistanceHigh, &[join], message);
        finding.leave_undecided();
        "a conductor in parallel may be missing: continuity can't show that, and the others carry its current"
            .clone_into(&mut finding.why);
        "measure each before they are commoned, or with one end lifted; look for a joint that is bad"
            .clone_into(&mut finding.remedy);
        "nodal analysis of the conductors that the map requires; the allowances are common practice, no source"
            .clone_into(&mut finding.source);
        sink.report(finding);
    }
}

pub(in crate::verify) fn high(case: &Case<'_>, join: &Join, what: &str, source: &str) -> Finding {
    let message = format!("{} reads {}: {what}", words(case, join), join.reading.quantity.short());
    let mut finding = about(case, Code::ResistanceHigh, &[join], message);
    high_words(&mut finding);
    source.clone_into(&mut finding.source);
    finding
}

fn high_words(finding: &mut Finding) {
    "a bad joint warms up, drifts when it is moved, and fails under load or at speed".clone_into(&mut finding.why);
    "measure again with four wires; look at the terminations at both ends, remake the bad one, then test the whole cable again"
        .clone_into(&mut finding.remedy);
}
