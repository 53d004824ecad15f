//! Resistances of joins: against what the wire and the contacts should have, the cable's limits, the other conductor of
//! the pair, and the siblings in the unit.
//!
//! What all conductors share is one finding (another wire, or another length, than the header says); what is left is a
//! finding a conductor.

use std::collections::BTreeMap;

use crate::finding::{Code, Finding, Label, Severity, Sink};
use crate::graph::Network;
use crate::pinmap::{Limited, Role};
use crate::units::{self, Bound, Decision, awg_of_ratio, copper_clad_ratio};

use super::case::Case;
use super::expected::{self, Wire, ohm};
use super::joined::Join;
use super::physical::{self, Conductor, ConductorKind};

/// Above this a join is none, in ohm (common practice, no source).
const NO_JOIN: f64 = 10e3;

/// Above this a join is doubtful where nothing says what its wire is, in ohm: the default of IPC/WHMA-A-620 (from memory).
const DOUBTFUL: f64 = 2.0;

/// The same for a go/no-go threshold (`<10 ohm`), as testers use it (common practice, no source).
const DOUBTFUL_THRESHOLD: f64 = 10.0;

/// The most that a screen may have, in ohm per metre (common practice, no source: see [`physical`]).
const SCREEN_MOST: f64 = 0.030;

/// The unbalance of a pair where the cable has no limit of its own: 3 % of the sum or 0.200 ohm, whichever is greater (IEEE
/// 802.3 for channels, from memory; for other cables common practice, no source).
const UNBALANCE: (f64, f64) = (3.0, 0.200);

/// A conductor stands apart from its siblings beyond this modified z (Iglewicz and Hoaglin, from memory).
const APART: f64 = 3.5;

/// Fewer siblings than this say nothing of one of them (common practice, no source).
const SIBLINGS: usize = 5;

/// The share of the conductors that makes a cause common to all: three of four, and at least three.
const COMMON: (usize, usize, usize) = (3, 4, 3);

/// Reports `resistance.*` and `conductor.*`.
pub(super) fn check(case: &Case<'_>, sink: &mut Sink) {
    let joins = case.joins();
    if joins.is_empty() {
        return;
    }
    let wire = case.wire();
    let spread = Spread::of(case, wire, joins);
    if !spread.within {
        against_limits(case, wire, joins, sink);
    }
    if !spread.balanced {
        unbalance(case, joins, sink);
    }
    if !spread.alike {
        outliers(case, joins, sink);
    }
}

/// Each figure against what its wire can have, and the limits of the cable.
fn against_limits(case: &Case<'_>, wire: Option<Wire>, joins: &[Join], sink: &mut Sink) {
    for join in joins.iter().filter(|join| join.reading.at_most(NO_JOIN) == Decision::Fails) {
        join.told.set(true);
        sink.report(high(case, join, "that is no join", "common practice, no source"));
    }
    if let Some(wire) = wire {
        common(case, wire, joins, sink);
    }
    limits(case, wire, joins, sink);
    if let Some(wire) = wire.filter(|_| !has_branches(case)) {
        in_parallel(case, wire, joins, sink);
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
            balanced: apart < UNBALANCE.1 - 1.5 * uncertainty && !limited(Limited::Unbalance),
            alike: apart < surest,
        }
    }
}

/// Whether a cable has branches: its length is then that of the longest way through it. No conductor has more than that, but
/// a branch may be as short as it likes.
fn has_branches(case: &Case<'_>) -> bool {
    case.cable.ends.len() > 2
}

// ------------------------------------------------------------------------------------ what all conductors share

/// Whether these are enough of those for a common cause.
fn are_common(some: usize, all: usize) -> bool {
    some >= COMMON.2 && some * COMMON.1 >= all * COMMON.0
}

/// All conductors above, or all below, what the stated wire can have: the wire or the length is another one.
fn common(case: &Case<'_>, wire: Wire, joins: &[Join], sink: &mut Sink) {
    let singles: Vec<usize> = (0..joins.len())
        .filter(|at| {
            joins[*at].single
                && joins[*at].wire.is_none()
                && !joins[*at].told.get()
                && joins[*at].reading.quantity.bound == Bound::Exact
        })
        .collect();
    let above: Vec<usize> =
        singles.iter().copied().filter(|at| joins[*at].reading.at_most(wire.most) != Decision::Conforms).collect();
    let median = median(above.iter().map(|at| joins[*at].ohm()).collect());
    let alike = |at: &&usize| (joins[**at].ohm() - median).abs() <= 0.15 * median + joins[**at].reading.uncertainty;
    let sure = above.iter().any(|at| joins[*at].reading.at_most(wire.most) == Decision::Fails);
    if sure && are_common(above.iter().filter(alike).count(), singles.len()) {
        sink.report(another_wire(case, wire, &select(joins, &above), median));
        // whatever is above the others even so has a fault of its own
        let most = median + (wire.most - wire.nominal);
        for at in above {
            joins[at].told.set(joins[at].reading.at_most(most) != Decision::Fails);
        }
    }
    let below: Vec<usize> =
        singles.iter().copied().filter(|at| joins[*at].reading.at_least(wire.least) == Decision::Fails).collect();
    if !has_branches(case) && are_common(below.len(), singles.len()) {
        sink.report(low(case, wire, &select(joins, &below)));
        for at in below {
            joins[at].told.set(true);
        }
    }
}

fn select<'j>(joins: &'j [Join], which: &[usize]) -> Vec<&'j Join> {
    which.iter().map(|at| &joins[*at]).collect()
}

fn median(mut values: Vec<f64>) -> f64 {
    if values.is_empty() {
        return 0.0;
    }
    let (half, even) = (values.len() / 2, values.len().is_multiple_of(2));
    let (below, upper, _) = values.select_nth_unstable_by(half, f64::total_cmp);
    let lower = if even { below.iter().copied().fold(f64::NEG_INFINITY, f64::max) } else { *upper };
    (lower + *upper) / 2.0
}

/// How near a ratio is to the thinner copper sizes and to clad aluminium, as a share.
fn another_wire(case: &Case<'_>, wire: Wire, joins: &[&Join], median: f64) -> Finding {
    let ratio = (median - Wire::contacts()).max(0.0) / wire.nominal;
    let clad = [0.15, 0.10].map(|share| copper_clad_ratio(share).unwrap_or(1.5));
    let gauge = case.given.get(|settings| settings.gauge).map(|said| said.value);
    let awg = gauge.and_then(|gauge| awg_of_ratio(&gauge, ratio));
    let nearest = awg.map(f64::round).unwrap_or_default();
    // how far off each explanation is, in parts of the reading
    let off_clad = if ratio < clad[0] { clad[0] / ratio } else { (ratio / clad[1]).max(1.0) };
    let off_copper = awg.map_or(1.0, |awg| 92_f64.powf((awg - nearest).abs() * 2.0 / 39.0));
    let close = |off: f64| off < 1.10;
    let aluminium = close(off_clad) && off_clad <= off_copper;
    let stated = gauge.map(|gauge| gauge.short()).unwrap_or_default();
    let fits_clad = format!("copper-clad aluminium of {stated} ({:.2} to {:.2} times copper)", clad[0], clad[1]);
    let fits_copper = format!("copper of {nearest} AWG");
    let fits = match (aluminium, close(off_clad), awg.is_some()) {
        (true, _, true) => format!("{fits_clad}, and {fits_copper} nearly as well"),
        (true, _, false) => fits_clad,
        (false, true, true) => format!("{fits_copper}, and {fits_clad} nearly as well"),
        (false, _, true) => fits_copper,
        (false, _, false) => "no copper wire of a usual size".to_owned(),
    };
    let code = if aluminium { Code::ConductorAluminium } else { Code::ConductorThin };
    let message = format!(
        "{} conductors read {ratio:.2} times what copper has in {} ({} in the middle, {} expected): that fits {fits}",
        joins.len(),
        expected::in_words(case, None),
        ohm(median),
        ohm(wire.nominal + Wire::contacts()),
    );
    let mut finding = about(case, code, joins, message);
    finding.labels.extend(expected::labels(case));
    let why = "more voltage drop and heat on supplies than the order allows for, and a shorter reach on pairs";
    finding.why = if aluminium { format!("{why}; joints of aluminium creep, oxidise and fail early") } else { why.to_owned() };
    "resistance alone can't tell metal from size: measure the bare wire, and weigh a stripped length (copper 8.9 g/cm3, clad \
     aluminium 3.3 to 3.6); first make sure of the length, and that the meter's own leads were taken off. Then reject or \
     regrade: this can't be repaired"
        .clone_into(&mut finding.remedy);
    "ASTM B258 (wire sizes), ASTM B566 (clad aluminium, 10 and 15 % copper); the allowances are common practice, no source"
        .clone_into(&mut finding.source);
    finding
}

fn low(case: &Case<'_>, wire: Wire, joins: &[&Join]) -> Finding {
    let message = format!(
        "{}: {} has {} or more",
        match joins {
            [join] => format!("{} reads {}, less than copper can have", words(case, join), ohm(join.ohm())),
            _ => format!("{} conductors read less than copper can have, {}", joins.len(), span_of(joins)),
        },
        expected::in_words(case, None),
        ohm(wire.least),
    );
    let mut finding = about(case, Code::ResistanceLow, joins, message);
    finding.labels.extend(expected::labels(case));
    undecided(&mut finding);
    "something in the record is wrong: the length, the gauge, the zero of the meter, or a path in parallel that nobody knows \
     of; limits that follow from it are wrong too"
        .clone_into(&mut finding.why);
    "measure a known resistor with the same leads, tape the length, correct the record, and measure again"
        .clone_into(&mut finding.remedy);
    "ASTM B258 for the wire; the allowances are common practice, no source".clone_into(&mut finding.source);
    finding
}

// ------------------------------------------------------------------------------------ one conductor

/// Each join against the limit of its signal, and against the wire.
fn limits(case: &Case<'_>, wire: Option<Wire>, joins: &[Join], sink: &mut Sink) {
    let metres = expected::length(case).map(|(metres, _)| metres);
    let (mut near, mut limit_near): (Vec<usize>, f64) = (Vec::new(), 0.0);
    let mut unknown: Vec<usize> = Vec::new();
    for (at, join) in joins.iter().enumerate().filter(|(_, join)| !join.told.get()) {
        let limit = case.limit(Limited::Conductor, join.points);
        let own = limit.and_then(|limit| if limit.per_metre { metres.map(|metres| limit.ohm * metres) } else { Some(limit.ohm) });
        let by_wire = join.wire.or(wire).filter(|_| join.across).map(|wire| {
            // a screen has no gauge: it may have what a wire may have, or what the thinnest braid has
            let is_screen = join.points.iter().all(|point| case.cable.role(*point) == Role::Shell);
            let braid = SCREEN_MOST * metres.unwrap_or_default() + Wire::contacts_most();
            if is_screen { wire.most.max(braid) } else { wire.most }
        });
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
        undecided(&mut finding);
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
fn in_parallel(case: &Case<'_>, wire: Wire, joins: &[Join], sink: &mut Sink) {
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
        undecided(&mut finding);
        "a conductor in parallel may be missing: continuity can't show that, and the others carry its current"
            .clone_into(&mut finding.why);
        "measure each before they are commoned, or with one end lifted; look for a joint that is bad"
            .clone_into(&mut finding.remedy);
        "nodal analysis of the conductors that the map requires; the allowances are common practice, no source"
            .clone_into(&mut finding.source);
        sink.report(finding);
    }
}

fn high(case: &Case<'_>, join: &Join, what: &str, source: &str) -> Finding {
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

/// Pairs whose conductors differ.
fn unbalance(case: &Case<'_>, joins: &[Join], sink: &mut Sink) {
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
            undecided(&mut finding);
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
fn outliers(case: &Case<'_>, joins: &[Join], sink: &mut Sink) {
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

// ------------------------------------------------------------------------------------ words

/// A finding about joins, with labels on the first few of their lines.
fn about(case: &Case<'_>, code: Code, joins: &[&Join], message: String) -> Finding {
    let points: Vec<u32> = joins.iter().flat_map(|join| join.points).collect();
    let mut finding = case.finding(code, &points, message);
    finding.labels = joins.iter().take(4).map(|join| case.at(join.line, join.reading.quantity.short())).collect();
    if let (Some(last), Some(more)) = (finding.labels.last_mut(), joins.len().checked_sub(4).filter(|more| *more > 0)) {
        last.text = format!("{}; {more} more lines", last.text);
    }
    finding
}

/// The least and the greatest reading, in ohm.
fn extremes(joins: &[&Join]) -> (f64, f64) {
    joins.iter().fold((f64::INFINITY, 0.0), |(least, most), join| (least.min(join.ohm()), most.max(join.ohm())))
}

/// From the least to the greatest reading.
fn span_of(joins: &[&Join]) -> String {
    let by_value = |one: &&&Join, other: &&&Join| one.ohm().total_cmp(&other.ohm());
    let figure = |join: Option<&&Join>| join.map(|join| join.reading.quantity.short()).unwrap_or_default();
    let (least, most) = (figure(joins.iter().min_by(by_value)), figure(joins.iter().max_by(by_value)));
    if least == most { least } else { format!("{least} to {most}") }
}

fn words(case: &Case<'_>, join: &Join) -> String {
    let [a, b] = join.points;
    format!("{} to {} ({})", case.point(a), case.point(b), case.link_signal(join.points))
}

/// A finding that leaves the unit undecided.
fn undecided(finding: &mut Finding) {
    finding.severity = Severity::Caution;
    finding.undecided = true;
}
