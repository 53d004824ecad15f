//! A conductor beside others that should be its equals: the other one of its pair, and its siblings in the unit.

use std::collections::BTreeMap;

use crate::finding::{Code, Severity, Sink};
use crate::pinmap::{Limit, Limited};
use crate::units::{self, Bound, Decision};

use super::words::{about, median, words};
use crate::verify::case::Case;
use crate::verify::case::expected::{Reading, ohm};
use crate::verify::case::joined::Join;

/// The unbalance of a pair where the cable has no limit of its own: 3 % of the sum or 0.200 ohm, whichever is greater (IEEE
/// 802.3 for channels, from memory; for other cables common practice, no source).
pub(super) const UNBALANCE: (f64, f64) = (3.0, 0.200);

/// A conductor stands apart from its siblings beyond this modified z (Iglewicz and Hoaglin, from memory).
const APART: f64 = 3.5;

/// Fewer siblings than this say nothing of one of them (common practice, no source).
const SIBLINGS: usize = 5;

/// Gives the joins of each pair that are to be compared, as they come: the earlier one, and the later one.
pub(super) fn each_pair(case: &Case<'_>, joins: &[Join], mut give: impl FnMut(usize, usize)) {
    if case.cable.paired.is_empty() {
        return;
    }
    let mut by_contact: Vec<Option<usize>> = vec![None; case.cable.points.len()];
    for (at, join) in joins.iter().enumerate() {
        let fit = join.single && !join.told.get() && join.reading.quantity.bound == Bound::Exact;
        let [a, b] = join.points;
        let (Some(near), Some(far), true) = (case.cable.pair_partner(a), case.cable.pair_partner(b), fit) else { continue };
        by_contact[a as usize] = Some(at);
        by_contact[b as usize] = Some(at);
        if let (Some(other), true) = (by_contact[near as usize], by_contact[near as usize] == by_contact[far as usize]) {
            give(other, at);
        }
    }
}

/// By how much the conductors of a pair may differ: in percent of their sum, and at least so many ohm.
pub(super) fn allowed(limit: Option<&Limit>) -> (f64, f64) {
    limit.map_or(UNBALANCE, |limit| (limit.percent, limit.ohm))
}

/// By how much two figures differ, by how much they may, and how uncertain that is, in ohm; and what follows.
pub(super) fn difference(one: Reading, two: Reading, (percent, floor): (f64, f64)) -> ([f64; 3], Decision) {
    let (difference, sum) = ((one.ohm() - two.ohm()).abs(), one.ohm() + two.ohm());
    let most = (sum * percent / 100.0).max(floor);
    let uncertainty = one.uncertainty.hypot(two.uncertainty);
    ([difference, most, uncertainty], units::at_most(difference, most, uncertainty))
}

/// Pairs whose conductors differ.
pub(super) fn unbalance(case: &Case<'_>, joins: &[Join], sink: &mut Sink) {
    each_pair(case, joins, |other, at| {
        let (one, two) = (&joins[other], &joins[at]);
        let limit = case.limit(Limited::Unbalance, one.points);
        let ([difference, most, uncertainty], decision) = difference(one.reading, two.reading, allowed(limit));
        if decision == Decision::Conforms {
            return;
        }
        let message = format!(
            "the conductors of pair {} differ by {} ({:.1} % of their sum): {} is allowed{}",
            case.pair(two.points[0]),
            ohm(difference),
            difference / (one.ohm() + two.ohm()) * 100.0,
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
    });
}

/// The joins to be compared with each other: those of signals, by the two ends that they join.
pub(super) fn branches(case: &Case<'_>, joins: &[Join]) -> Vec<Vec<usize>> {
    let mut branches: BTreeMap<[usize; 2], Vec<usize>> = BTreeMap::new();
    for (at, join) in joins.iter().enumerate().filter(|(_, join)| join.signal && join.reading.quantity.bound == Bound::Exact) {
        let [a, b] = join.points.map(|point| case.cable.points[point as usize].end);
        branches.entry([a.min(b), a.max(b)]).or_default().push(at);
    }
    branches.into_values().collect()
}

/// The middle of the figures of siblings, and how far they lie from it.
#[derive(Clone, Copy)]
pub(super) struct Middle {
    ohm: f64,
    scale: f64,
}

impl Middle {
    /// That of some figures; none where there are too few, or none of them can stand apart.
    pub fn of(figures: impl Iterator<Item = Reading> + Clone) -> Option<Self> {
        let (mut least, mut most, mut uncertainty, mut count) = (f64::INFINITY, 0.0_f64, f64::INFINITY, 0);
        for reading in figures.clone() {
            (least, most) = (least.min(reading.ohm()), most.max(reading.ohm()));
            uncertainty = uncertainty.min(reading.uncertainty);
            count += 1;
        }
        // none can stand apart by more than they all lie apart
        if count < SIBLINGS || most - least <= uncertainty * (APART / 2.0).max(1.0) {
            return None;
        }
        let ohm = median(figures.clone().map(Reading::ohm).collect());
        let scale = median(figures.map(|reading| (reading.ohm() - ohm).abs()).collect()) * 1.482_602;
        ((most - ohm).max(ohm - least) > APART * scale).then_some(Middle { ohm, scale })
    }

    /// Whether a figure stands apart from the others.
    pub fn is_apart(self, reading: Reading) -> bool {
        let off = (reading.ohm() - self.ohm).abs();
        off / self.scale.max(reading.uncertainty / 2.0) > APART && off > reading.uncertainty
    }
}

/// Conductors that stand apart from their siblings: those between the same two ends.
pub(super) fn outliers(case: &Case<'_>, joins: &[Join], sink: &mut Sink) {
    for siblings in branches(case, joins) {
        let siblings: Vec<&Join> = siblings.into_iter().map(|at| &joins[at]).collect();
        outliers_among(case, &siblings, sink);
    }
}

fn outliers_among(case: &Case<'_>, siblings: &[&Join], sink: &mut Sink) {
    let Some(middle) = Middle::of(siblings.iter().map(|join| join.reading)) else { return };
    for join in siblings.iter().filter(|join| !join.told.get() && middle.is_apart(join.reading)) {
        let off = join.ohm() - middle.ohm;
        let message = format!(
            "{} reads {}, {} {} its siblings' {}",
            words(case, join),
            ohm(join.ohm()),
            ohm(off.abs()),
            if off > 0.0 { "above" } else { "below" },
            ohm(middle.ohm),
        );
        let mut finding = about(case, Code::ResistanceOutlier, &[*join], message);
        finding.severity = Severity::Caution;
        "within the limit today; a joint that is about to fail looks like this first".clone_into(&mut finding.why);
        "measure again with four wires after mating anew; flex both plugs while reading, and remake the joint that reacts"
            .clone_into(&mut finding.remedy);
        "common practice, no source; the cut at a modified z of 3.5 is that of Iglewicz and Hoaglin (from memory)"
            .clone_into(&mut finding.source);
        sink.report(finding);
    }
}
