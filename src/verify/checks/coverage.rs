//! What a netlist can show of its cable, what it can't, and what is left to probe.

use std::collections::{BTreeSet, HashSet};

use crate::finding::{Code, Finding, Label, Severity, Sink};
use crate::graph::Nets;
use crate::netlist::{Fact, FactKind, Netlist, Origin, Scope, Unit};
use crate::pinmap::{Cable, Part, Role};
use crate::units::Bound;

use crate::verify::case::Case;
use crate::verify::case::expected::{self, ohm};
use crate::verify::case::physical::{self, Conductor, ConductorKind, Masked};

use super::components::{example, same_place};

/// From this on, in ohm, a figure says that two points are not joined (common practice, no source).
const APART: f64 = 10e3;

/// How much of something is shown.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[expect(clippy::exhaustive_structs, reason = "a plain pair of figures")]
pub struct Share {
    /// So many are shown.
    pub shown: u64,
    /// Of so many.
    pub of: u64,
}

impl Share {
    /// In percent, 0 to 100; all of nothing is 100.
    #[must_use]
    #[allow(clippy::cast_precision_loss)]
    pub fn percent(self) -> f64 {
        if self.of == 0 { 100.0 } else { self.shown as f64 / self.of as f64 * 100.0 }
    }

    /// Whether everything is shown.
    #[must_use]
    pub fn whole(self) -> bool {
        self.shown >= self.of
    }
}

/// Whether the loss of a conductor would show.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub enum Sight {
    /// As an open.
    Seen,
    /// Not by continuity: a parallel path hides it.
    Hidden(Masked),
    /// Its contacts were not probed, or nothing states that they are joined.
    NotProbed,
}

/// A conductor in words, and whether its loss would show.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub struct ConductorRow {
    /// Its contacts as the netlist writes them.
    pub points: [String; 2],
    /// Its signal.
    pub signal: String,
    /// Wire, screen or tie.
    pub kind: ConductorKind,
    /// Whether its loss would show.
    pub sight: Sight,
}

/// What a unit's facts show.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub struct Coverage {
    /// The joins that prove every net whole: one fewer than its contacts, for each net.
    pub joins: Share,
    /// The pairs of nets that are shown to be apart.
    pub apart: Share,
    /// The parts that a plug must have, or that must lie in series, of which a line says what was measured.
    pub parts: Share,
    /// Every conductor of the map.
    pub rows: Vec<ConductorRow>,
    /// The expanded uncertainty of the resistances, in ohm.
    pub uncertainty: f64,
    /// What is left to probe.
    pub plan: Plan,
}

/// The probe pairs that are left: the fewest that prove the map.
#[derive(Clone, Debug, Default, PartialEq)]
#[non_exhaustive]
pub struct Plan {
    /// Pairs that must be joined, with their signal.
    pub joined: Vec<([String; 2], String)>,
    /// Pairs that must be apart: those that are dangerous first, then neighbours; at most [`PLAN_MOST`].
    pub apart: Vec<[String; 2]>,
    /// The lines that would state the parts that nobody measured.
    pub parts: Vec<String>,
}

/// No more pairs than this are listed: nobody probes more by hand.
pub const PLAN_MOST: usize = 20_000;

/// Reports `coverage.blind`.
pub(in crate::verify) fn check(case: &Case<'_>, sink: &mut Sink) {
    match case.given.scope() {
        Scope::All => {}
        Scope::Listed => sink.report_if(unprobed(case)),
        Scope::Stated => sink.report_if(unstated(case)),
    }
    let masked = case.masked();
    // a drawing is no test: what one will be able to see is a question for later
    if !masked.is_empty() && case.given.origin() == Origin::Measured {
        sink.report(hidden(case, &masked));
    }
}

/// The label on the `scope` line.
fn scope_label(case: &Case<'_>, text: &str) -> Label {
    case.given
        .get(|settings| settings.scope)
        .map_or_else(|| Label::new(&case.netlist.source, case.unit.line, "this unit"), |said| said.label(text))
}

/// A few contacts by name, and how many more.
fn some(case: &Case<'_>, points: &[u32]) -> String {
    if points.len() > 12 { format!("{} and {} more", case.list(&points[..12]), points.len() - 12) } else { case.list(points) }
}

fn undecided(mut finding: Finding, label: Label) -> Finding {
    finding.leave_undecided();
    finding.labels.push(label);
    finding
}

fn unprobed(case: &Case<'_>) -> Option<Finding> {
    let untested: Vec<u32> = case.contacts().filter(|point| !case.probed(*point)).collect();
    if untested.is_empty() {
        return None;
    }
    let (few, all) = (some(case, &untested), case.cable.points.len());
    let message = format!("{} of {all} contacts were not probed: {few}", untested.len());
    let mut finding = case.finding(Code::CoverageBlind, &untested, message);
    finding.why = "an open, a short or a supply wired through at these contacts would not show".to_owned();
    finding.remedy = "probe these contacts too, each against all others, and add what they touch".to_owned();
    Some(undecided(finding, scope_label(case, "only the points that are named were probed")))
}

fn unstated(case: &Case<'_>) -> Option<Finding> {
    let shown = Shown::of(case);
    let (joins, apart) = (shown.joins(), shown.apart());
    if joins.whole() && apart.whole() {
        return None;
    }
    let message = format!(
        "{} of {} joins are stated, and of {} of {} pairs of nets that they are apart",
        joins.shown, joins.of, apart.shown, apart.of
    );
    let contacts: Vec<u32> = case.contacts().filter(|point| shown.says_nothing(*point)).collect();
    let mut finding = case.finding(Code::CoverageBlind, &contacts, message);
    finding.why = "an open, a short or a supply wired through would not show where nothing is stated".to_owned();
    finding.remedy = "`backshell coverage --plan` lists the pairs that are left to probe".to_owned();
    Some(undecided(finding, scope_label(case, "only what the lines state was probed")))
}

/// The caution for conductors that others hide.
fn hidden(case: &Case<'_>, masked: &[Masked]) -> Finding {
    let points: BTreeSet<u32> = masked.iter().flat_map(|masked| masked.conductor.points).collect();
    let points: Vec<u32> = points.into_iter().collect();
    let names: Vec<String> = masked.iter().take(6).map(|masked| conductor(case, masked.conductor)).collect();
    let more = masked.len().checked_sub(6).filter(|more| *more > 0).map(|more| format!(" and {more} more")).unwrap_or_default();
    let message = format!(
        "the loss of {} would not show, since others lie in parallel: {}{more}",
        if masked.len() == 1 { "one conductor".to_owned() } else { format!("one of {} conductors", masked.len()) },
        names.join(", ")
    );
    let mut finding = case.finding(Code::CoverageBlind, &points, message);
    finding.severity = Severity::Caution;
    finding.labels = case.lines_of(&points, 2);
    "continuity reads the same with and without it; the others carry its current, with more drop and noise"
        .clone_into(&mut finding.why);
    finding.remedy = match masked
        .iter()
        .filter_map(|masked| masked.step().map(|step| (masked, step)))
        .min_by(|a, b| a.1.0.total_cmp(&b.1.0))
    {
        Some((least, (step, percent))) => {
            let uncertainty = expected::uncertainty(case, step);
            let enough = if step > 2.0 * uncertainty { "enough" } else { "too coarse" };
            format!(
                "measure them with four wires: without {} its contacts read {} more ({percent:.0} %), and the uncertainty of {} is \
                 {enough} for that; or measure before they are commoned, or with one end lifted",
                conductor(case, least.conductor),
                ohm(step),
                ohm(uncertainty),
            )
        }
        None => {
            "measure them with four wires (`length` and `gauge` in the netlist give the figures to expect), or before they are \
                 commoned, or with one end lifted"
                .to_owned()
        }
    };
    "common practice, no source: a go/no-go test shows the loss of a bridge of the network only".clone_into(&mut finding.source);
    finding
}

fn conductor(case: &Case<'_>, conductor: Conductor) -> String {
    let [a, b] = conductor.points;
    format!("{} to {} ({})", case.point(a), case.point(b), signal(case, conductor))
}

fn signal<'a>(case: &Case<'a>, conductor: Conductor) -> &'a str {
    conductor
        .link
        .map_or_else(|| case.cable.function(conductor.points[0]).name.as_str(), |link| case.cable.links[link].signal.as_str())
}

/// Two points of one fact that says that they are not joined; an insulation figure says so where it is high enough.
pub(in crate::verify) fn says_apart(netlist: &Netlist, fact: &Fact) -> bool {
    match fact.kind {
        FactKind::Apart { .. } => true,
        FactKind::Isolation { figure, .. } => {
            netlist.figure(figure).is_some_and(|figure| figure.quantity.value >= APART && figure.quantity.bound != Bound::Below)
        }
        _ => false,
    }
}

/// For a netlist that states its facts pair by pair: what must be taken as joined for want of a line about it.
///
/// A contact that no line joins to anything, calls open, or sets apart from others of its conductor is taken to be as the
/// map wants it, so that only what was probed can be a fault; [`check`] keeps the unit undecided for it.
pub(in crate::verify) fn benefit_of_doubt(
    cable: &Cable,
    netlist: &Netlist,
    unit: &Unit,
    bound: &crate::netlist::Bound,
) -> Vec<(u32, u32)> {
    let mut apart: HashSet<(u32, u32)> = HashSet::new();
    for fact in netlist.facts_of(unit).iter().filter(|fact| says_apart(netlist, fact)) {
        if let [a, b] = *bound.numbers(fact) {
            apart.insert((a.min(b), a.max(b)));
        }
    }
    let silent = |point: u32| bound.joined_at(point).is_none() && bound.open_at(point).is_none();
    let mut joins = Vec::new();
    for link in cable.links.iter().filter(|link| !link.optional && !link.when_screened) {
        for pair in link.points.windows(2) {
            let (a, b) = (pair[0], pair[1]);
            if (silent(a) || silent(b))
                && bound.open_at(a).is_none()
                && bound.open_at(b).is_none()
                && !apart.contains(&(a.min(b), a.max(b)))
            {
                joins.push((a, b));
            }
        }
    }
    joins
}

/// What the lines show, contact by contact.
struct Shown<'c, 'a> {
    case: &'c Case<'a>,
    /// What is joined by a line that says so.
    stated: Nets,
    /// The wanted nets, each by its lowest contact, of which a line says that it touches no other.
    open: HashSet<u32>,
    /// Pairs of wanted nets that a line sets apart.
    pairs: HashSet<(u32, u32)>,
    /// How many wanted nets there are.
    nets: u64,
    /// With only listed points probed, the wanted nets of which a contact was.
    named: Option<HashSet<u32>>,
}

impl<'c, 'a> Shown<'c, 'a> {
    fn of(case: &'c Case<'a>) -> Self {
        let n = case.cable.points.len();
        let stated = Nets::new(n, case.bound.joins.iter().map(|join| (join.a, join.b)));
        let of = |point: &u32| case.wanted.of(*point);
        let mut open = HashSet::new();
        let mut pairs = HashSet::new();
        for fact in case.facts() {
            match (fact.kind, &*case.numbers(fact)) {
                (FactKind::Open { .. }, points) => open.extend(points.iter().map(of)),
                (FactKind::Apart { .. } | FactKind::Isolation { .. }, [a, b]) if says_apart(case.netlist, fact) => {
                    let (a, b) = (of(a), of(b));
                    pairs.insert((a.min(b), a.max(b)));
                }
                _ => {}
            }
        }
        // nets that a line joins are known too: not as they should be, but known
        for join in &case.bound.joins {
            let (a, b) = (of(&join.a), of(&join.b));
            pairs.insert((a.min(b), a.max(b)));
        }
        pairs.retain(|(a, b)| a != b && !open.contains(a) && !open.contains(b));
        let named = (case.given.scope() == Scope::Listed)
            .then(|| case.contacts().filter(|point| case.probed(*point)).map(|point| of(&point)).collect());
        let nets = case.contacts().filter(|point| case.wanted.of(*point) == *point).count() as u64;
        Shown { case, stated, open, pairs, nets, named }
    }

    /// Whether a join of the map between two contacts is shown, or spoken against.
    fn joined(&self, a: u32, b: u32) -> bool {
        match self.case.given.scope() {
            Scope::All => true,
            Scope::Listed => self.case.probed(a) && self.case.probed(b),
            Scope::Stated => self.stated.same(a, b) || self.open.contains(&self.case.wanted.of(a)),
        }
    }

    fn says_nothing(&self, point: u32) -> bool {
        self.case.named_at(point).is_none()
    }

    fn joins(&self) -> Share {
        let of = self.case.cable.points.len() as u64 - self.nets;
        let shown = self.case.contacts().filter(|point| {
            let hub = self.case.wanted.of(*point);
            hub != *point && self.joined(hub, *point)
        });
        Share { shown: shown.count() as u64, of }
    }

    fn apart(&self) -> Share {
        let pairs = |n: u64| n * n.saturating_sub(1) / 2;
        let of = pairs(self.nets);
        let shown = match (&self.named, self.case.given.scope()) {
            (_, Scope::All) => of,
            (Some(named), _) => pairs(named.len() as u64),
            (None, _) => of - pairs(self.nets - self.open.len() as u64) + self.pairs.len() as u64,
        };
        Share { shown, of }
    }

    fn are_apart(&self, a: u32, b: u32) -> bool {
        match (&self.named, self.case.given.scope()) {
            (_, Scope::All) => true,
            (Some(named), _) => named.contains(&a) && named.contains(&b),
            (None, _) => self.open.contains(&a) || self.open.contains(&b) || self.pairs.contains(&(a.min(b), a.max(b))),
        }
    }

    /// The parts that must be there, and those of them of which no line speaks.
    fn parts(&self) -> (Share, Vec<String>) {
        let case = self.case;
        let stated = |part: &Part| {
            case.facts().iter().any(|fact| match (fact.kind, &*case.numbers(fact)) {
                (FactKind::Component { kind, .. }, [a, b]) => kind == part.kind && same_place(case, part.points, [*a, *b]),
                _ => false,
            })
        };
        let required: Vec<&Part> = case.cable.parts.iter().filter(|part| !part.optional).collect();
        let left: Vec<String> = required.iter().filter(|part| !stated(part)).map(|part| example(case, part)).collect();
        let of = required.len() as u64;
        (Share { shown: of - left.len() as u64, of }, left)
    }

    fn plan(&self) -> Plan {
        let case = self.case;
        let text = |a: u32, b: u32| [case.point(a).to_owned(), case.point(b).to_owned()];
        let mut plan = Plan::default();
        for point in case.contacts() {
            let hub = case.wanted.of(point);
            if hub != point && !self.joined(hub, point) {
                plan.joined.push((text(hub, point), case.link_signal([hub, point]).to_owned()));
            }
        }
        let hubs: Vec<u32> = case.contacts().filter(|point| case.wanted.of(*point) == *point).collect();
        let dangerous = |net: u32| case.has_role(net, Role::Supply) || case.has_role(net, Role::Earth);
        let danger: HashSet<u32> = hubs.iter().copied().filter(|hub| dangerous(*hub)).collect();
        let mut left: Vec<(bool, usize, u32, u32)> = Vec::new();
        for (nth, a) in hubs.iter().enumerate() {
            if left.len() > PLAN_MOST {
                break;
            }
            for b in &hubs[nth + 1..] {
                if !self.are_apart(*a, *b) {
                    let harmless = !danger.contains(a) && !danger.contains(b);
                    left.push((harmless, self.steps_between(*a, *b), *a, *b));
                }
            }
        }
        left.sort_unstable();
        left.truncate(PLAN_MOST);
        plan.apart = left.into_iter().map(|(_, _, a, b)| text(a, b)).collect();
        plan
    }

    /// How many contacts lie between two in one connector; far, where they are in two.
    fn steps_between(&self, a: u32, b: u32) -> usize {
        let (a, b) = (&self.case.cable.points[a as usize], &self.case.cable.points[b as usize]);
        if a.end == b.end { a.pin.abs_diff(b.pin) } else { usize::MAX }
    }
}

impl Coverage {
    /// What a unit's facts show.
    #[must_use]
    pub fn of(case: &Case<'_>) -> Self {
        let shown = Shown::of(case);
        let masked = case.masked();
        let rows = physical::conductors(case.cable, case.wanted).into_iter().filter(|conductor| conductor.link.is_some());
        let rows = rows.map(|conductor| {
            let [a, b] = conductor.points;
            let hidden = masked.iter().find(|masked| masked.conductor == conductor);
            let sight = match hidden {
                _ if !shown.joined(a, b) => Sight::NotProbed,
                Some(masked) => Sight::Hidden(masked.clone()),
                None => Sight::Seen,
            };
            let points = [case.point(a).to_owned(), case.point(b).to_owned()];
            ConductorRow { points, signal: signal(case, conductor).to_owned(), kind: conductor.kind, sight }
        });
        let (parts, left) = shown.parts();
        Coverage {
            joins: shown.joins(),
            apart: shown.apart(),
            parts,
            rows: rows.collect(),
            uncertainty: expected::uncertainty(case, 0.0),
            plan: Plan { parts: left, ..shown.plan() },
        }
    }
}
