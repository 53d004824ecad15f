//! A conductor beside others that should be its equals: the other one of its pair, and its siblings in the unit.

use std::collections::BTreeMap;

use crate::finding::{Code, Severity, Sink};
use crate::pinmap::Limited;
use crate::units::{self, Bound, Decision};

use super::super::case::Case;
use super::super::expected::ohm;
use super::super::joined::Join;
use super::words::{about, extremes, median, words};

/// The unbalance of a pair where the cable has no limit of its own: 3 % of the sum or 0.200 ohm, whichever is greater (IEEE
/// 802.3 for channels, from memory; for other cables common practice, no source).
pub(super) const UNBALANCE: (f64, f64) = (3.0, 0.200);

/// A conductor stands apart from its siblings beyond this modified z (Iglewicz and Hoaglin, from memory).
const APART: f64 = 3.5;

/// Fewer siblings than this say nothing of one of them (common practice, no source).
const SIBLINGS: usize = 5;

/// Pairs whose conductors differ.
pub(super) fn unbalance(case: &Case<'_>, joins: &[Join], sink: &mut Sink) {
    if case.cable.paired.is_empty() {
        return;
    }
    let mut by_contact: Vec<Option<usize>> = vec![None; case.cable.points.len()];
    for at in 0..joins.len() {
        let fit = joins[at].single && !joins[at].told.get() && joins[at].reading.quantity.bound == Bound::Exact;
        let [a, b] = joins[at].points;
        let (Some(near), Some(far), true) = (case.cable.pair_partner(a), case.cable.pair_partner(b), fit) else { continue };
        by_contact[a as usize] = Some(at);
        by_contact[b as usize] = Some(at);
        let (Some(other), true) = (by_contact[near as usize], by_contact[near as usize] == by_contact[far as usize]) else {
            continue;
        };
        let (one, two) = (&joins[other], &joins[at]);
        let limit = case.limit(Limited::Unbalance, one.points);
        let (percent, floor) = limit.map_or(UNBALANCE, |limit| (limit.percent, limit.ohm));
        let (difference, sum) = ((one.ohm() - two.ohm()).abs(), one.ohm() + two.ohm());
        let most = (sum * percent / 100.0).max(floor);
        let uncertainty = one.reading.uncertainty.hypot(two.reading.uncertainty);
        let decision = units::at_most(difference, most, uncertainty);
        if decision == Decision::Conforms {
            continue;
        }
        let message = format!(
            "the conductors of pair {} differ by {} ({:.1} % of their sum): {} is allowed{}",
            case.pair(a),
            ohm(difference),
            difference / sum * 100.0,
            ohm(most),
            if decision == Decision::Fails { String::new() } else { format!(", and {} is uncertain", ohm(uncertainty)) },
        );
        let mut finding = about(case, Code::ResistanceUnbalance, &[one, two], message);
        if decision == Decision::Inconclusive {
            finding.leave_undecided();
        }
        "part of the signal turns into common mode, and a supply over the pair magnetises its transformers"
            .clone_into(&mut finding.why);
        "measure both again with four wires; remake the termination of the higher one, then test the whole cable again"
            .clone_into(&mut finding.remedy);
        finding.source = limit.map_or_else(
            || "IEEE 802.3: 3 % or 0.200 ohm (from memory); for other cables common practice, no source".to_owned(),
            |limit| case.source_of(std::iter::once(&limit.provenance)),
        );
        case.weigh(&mut finding, &limit.map(|limit| &limit.provenance).into_iter().collect::<Vec<_>>());
        sink.report(finding);
        joins[at].told.set(true);
        joins[other].told.set(true);
    }
}

/// Conductors that stand apart from their siblings: those between the same two ends.
pub(super) fn outliers(case: &Case<'_>, joins: &[Join], sink: &mut Sink) {
    let mut branches: BTreeMap<[usize; 2], Vec<&Join>> = BTreeMap::new();
    for join in joins.iter().filter(|join| join.signal && join.reading.quantity.bound == Bound::Exact) {
        let [a, b] = join.points.map(|point| case.cable.points[point as usize].end);
        branches.entry([a.min(b), a.max(b)]).or_default().push(join);
    }
    branches.into_values().for_each(|siblings| outliers_among(case, siblings, sink));
}

fn outliers_among(case: &Case<'_>, siblings: Vec<&Join>, sink: &mut Sink) {
    let (least, most) = extremes(&siblings);
    let uncertainty = siblings.iter().map(|join| join.reading.uncertainty).fold(f64::INFINITY, f64::min);
    // none can stand apart by more than they all lie apart
    if siblings.len() < SIBLINGS || most - least <= uncertainty * (APART / 2.0).max(1.0) {
        return;
    }
    let middle = median(siblings.iter().map(|join| join.ohm()).collect());
    let scale = median(siblings.iter().map(|join| (join.ohm() - middle).abs()).collect()) * 1.482_602;
    if (most - middle).max(middle - least) <= APART * scale {
        return;
    }
    for join in siblings.into_iter().filter(|join| !join.told.get()) {
        let off = join.ohm() - middle;
        let z = off.abs() / scale.max(join.reading.uncertainty / 2.0);
        if z <= APART || off.abs() <= join.reading.uncertainty {
            continue;
        }
        let message = format!(
            "{} reads {}, {} {} its siblings' {}",
            words(case, join),
            ohm(join.ohm()),
            ohm(off.abs()),
            if off > 0.0 { "above" } else { "below" },
            ohm(middle),
        );
        let mut finding = about(case, Code::ResistanceOutlier, &[join], message);
        finding.severity = Severity::Caution;
        "within the limit today; a joint that is about to fail looks like this first".clone_into(&mut finding.why);
        "measure again with four wires after mating anew; flex both plugs while reading, and remake the joint that reacts"
            .clone_into(&mut finding.remedy);
        "common practice, no source; the cut at a modified z of 3.5 is that of Iglewicz and Hoaglin (from memory)"
            .clone_into(&mut finding.source);
        sink.report(finding);
    }
}
