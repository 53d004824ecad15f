//! One unit on the table: its facts, its cable, its nets, and the words for them.

use std::borrow::Cow;
use std::cell::{Cell, OnceCell, RefCell};
use std::collections::HashSet;
use std::ops::Deref;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use crate::finding::{Code, Finding, Label, Severity};
use crate::graph::{NetTable, Nets, Paths};
use crate::netlist::{Bound, ComponentKind, Fact, FactKind, Netlist, Scope, Unit};
use crate::pinmap::{Cable, EndNames, Limit, Limited, Link, Provenance, Role};

use super::expected::{self, Stated, Wire};
use super::given::Given;
use super::joined::{self, Join};
use super::link::{self, LinkGrade};
use super::physical::{self, Masked};
use super::places;
use super::signal_files::SignalFiles;
use super::trouble::Trouble;
use super::whole_end::WholeEnd;

/// What is added to the message of a finding that rests on nothing but memory.
const FROM_MEMORY: &str = "; the row of the map behind this is from memory, with no published source";

/// What there is to look at: the facts, and what was made of them.
#[derive(Debug)]
pub struct Evidence<'a> {
    /// The netlist that the unit is in.
    pub netlist: &'a Netlist,
    /// The unit.
    pub unit: &'a Unit,
    /// Its header lines.
    pub given: Given<'a>,
    /// The cable that it must conform to.
    pub cable: &'a Cable,
    /// How the netlist names the ends.
    pub ends: &'a EndNames,
    /// Its points and joins.
    pub bound: &'a Bound,
    /// The nets that it must have.
    pub wanted: &'a Nets,
    /// The nets that it has.
    pub measured: &'a Nets,
    /// What is wrong with its conductors.
    pub troubles: Vec<Trouble>,
    /// What moved in circles, before that was put together into troubles: the conductor of each place sits on the next.
    pub circles: &'a [Vec<Vec<u32>>],
    /// The cause that takes in a whole end, where there is one; the rest is seen as that cause reads it.
    pub whole_end: Option<WholeEnd>,
    /// Causes for a whole end that leave nothing to explain either, where there is one plain fault.
    pub rivals: &'a [(Code, String)],
    /// The cable that was asked for; another than `cable` where the unit is read by another map.
    pub named: &'a Cable,
    /// What is kept from unit to unit.
    pub(super) kept: &'a Kept,
    /// What its S-parameters tell, read when it is first asked for.
    pub(super) signals: &'a Signals,
}

/// What the S-parameters of a unit tell; nothing is read before it is asked for.
#[derive(Debug, Default)]
pub(super) struct Signals {
    /// The folder that paths are taken from.
    pub folder: PathBuf,
    files: OnceCell<SignalFiles>,
    grades: OnceCell<Vec<LinkGrade>>,
}

impl Signals {
    pub fn in_folder(folder: &Path) -> Self {
        Signals { folder: folder.to_owned(), ..Signals::default() }
    }

    /// The grades, where they were worked out.
    pub fn into_grades(self) -> Vec<LinkGrade> {
        self.grades.into_inner().unwrap_or_default()
    }
}

/// Everything that a check may look at: the [`Evidence`], with the words for it. A check adds findings and changes nothing.
#[derive(Debug)]
pub struct Case<'a> {
    evidence: Evidence<'a>,
    /// For each contact of the netlist, the one of the map that stands for it, where they are not the same.
    stands_for: Option<Vec<u32>>,
    paths: OnceCell<Paths>,
    joins: OnceCell<Vec<Join>>,
    figures_told: Cell<bool>,
    wire: OnceCell<Option<Wire>>,
    capacitors: OnceCell<Vec<(u32, [u32; 2])>>,
    /// The contacts of each wanted net.
    members: OnceCell<NetTable>,
}

impl<'a> Deref for Case<'a> {
    type Target = Evidence<'a>;

    fn deref(&self) -> &Evidence<'a> {
        &self.evidence
    }
}

/// What is kept from unit to unit: a reel repeats itself.
#[derive(Debug, Default)]
pub(super) struct Kept {
    hidden: RefCell<Option<Hidden>>,
    wire: Cell<Option<(Stated, Option<Wire>)>>,
}

/// The conductors that others hide.
#[derive(Debug)]
struct Hidden {
    /// Where the cable lies: those of one checker stay in their places.
    cable: usize,
    nets: Nets,
    wire: Option<[f64; 2]>,
    masked: Arc<[Masked]>,
}

impl<'a> Case<'a> {
    pub(super) fn new(evidence: Evidence<'a>) -> Self {
        let stands_for = evidence.whole_end.as_ref().map(|whole| {
            let meant = &whole.hypothesis.meant;
            let mut stands_for = meant.clone();
            for (point, meant) in (0..).zip(meant) {
                stands_for[*meant as usize] = point;
            }
            stands_for
        });
        Case {
            evidence,
            stands_for,
            paths: OnceCell::new(),
            joins: OnceCell::new(),
            figures_told: Cell::new(false),
            wire: OnceCell::new(),
            capacitors: OnceCell::new(),
            members: OnceCell::new(),
        }
    }

    /// The capacitors that the netlist states: the fact, and the two contacts.
    pub(super) fn capacitors(&self) -> &[(u32, [u32; 2])] {
        self.capacitors.get_or_init(|| {
            let facts = (self.unit.facts.start..).zip(self.facts());
            let capacitors =
                facts.filter(|(_, fact)| matches!(fact.kind, FactKind::Component { kind: ComponentKind::Capacitor, .. }));
            capacitors.filter_map(|(line, fact)| Some((line, <[u32; 2]>::try_from(&*self.numbers(fact)).ok()?))).collect()
        })
    }

    /// The Touchstone files that the unit names.
    pub(super) fn signal_files(&self) -> &'a SignalFiles {
        let signals = self.evidence.signals;
        let read = || SignalFiles::of(self.netlist, self.unit, &signals.folder, Some((self.bound, self.measured)));
        signals.files.get_or_init(read)
    }

    /// The contacts at which S-parameters were measured; empty, without looking at any file, where the unit names none.
    pub(super) fn measured_contacts(&self) -> Vec<u32> {
        if !self.facts().iter().any(|fact| matches!(fact.kind, FactKind::SParameters { .. })) {
            return Vec::new();
        }
        let files = self.signal_files().files.iter();
        let facts = files.filter_map(|file| self.netlist.facts.get(file.fact as usize));
        facts.flat_map(|fact| self.numbers(fact).into_owned()).collect()
    }

    /// The links of which lanes were measured, with the rates that these carry.
    pub(super) fn link_grades(&self) -> &'a [LinkGrade] {
        self.evidence.signals.grades.get_or_init(|| link::grades(self))
    }

    /// The joins that carry a figure. Whoever asks may say something of the figures, so that this unit is no pattern for others;
    /// see [`Rule`](super::resistance::Rule).
    pub(super) fn joins(&self) -> &[Join] {
        self.figures_told.set(true);
        self.joins_by_rule()
    }

    /// The same, for those who say nothing of a figure where the [`Rule`](super::resistance::Rule) of the unit holds.
    pub(super) fn joins_by_rule(&self) -> &[Join] {
        self.joins.get_or_init(|| joined::joins(self))
    }

    /// Whether anyone may have said something of a figure that the [`Rule`](super::resistance::Rule) knows nothing of.
    pub(super) fn has_told_figures(&self) -> bool {
        self.figures_told.get()
    }

    /// The wire that the header names, where it gives length and gauge.
    pub(super) fn wire(&self) -> Option<Wire> {
        *self.wire.get_or_init(|| {
            let stated = Stated::of(self);
            match self.kept.wire.get() {
                Some((known, wire)) if known == stated => wire,
                _ => {
                    let wire = Wire::of(&stated);
                    self.kept.wire.set(Some((stated, wire)));
                    wire
                }
            }
        })
    }

    /// The conductors whose loss continuity can't show in this unit.
    #[must_use]
    pub fn masked(&self) -> Arc<[Masked]> {
        let wire = self.wire().zip(expected::length(self).map(|(metres, _)| metres));
        let key = wire.map(|(wire, metres)| [wire.nominal, metres]);
        let mut kept = self.kept.hidden.borrow_mut();
        if let Some(kept) = kept.as_ref()
            && kept.cable == std::ptr::from_ref(self.cable).addr()
            && kept.wire == key
            && kept.nets == *self.wanted
        {
            return Arc::clone(&kept.masked);
        }
        let masked: Arc<[Masked]> = physical::masked(self.cable, &physical::conductors(self.cable, self.wanted), wire).into();
        *kept = Some(Hidden {
            cable: std::ptr::from_ref(self.cable).addr(),
            nets: self.wanted.clone(),
            wire: key,
            masked: Arc::clone(&masked),
        });
        masked
    }

    /// The contact of the netlist that a contact of the map is read from.
    fn read_from(&self, point: u32) -> u32 {
        let meant = self.whole_end.as_ref().and_then(|whole| whole.hypothesis.meant.get(point as usize));
        meant.copied().unwrap_or(point)
    }

    /// The contacts that a fact names, as the map names them.
    #[must_use]
    pub fn numbers(&self, fact: &Fact) -> Cow<'a, [u32]> {
        let numbers = self.bound.numbers(fact);
        match &self.stands_for {
            None => Cow::Borrowed(numbers),
            Some(table) => Cow::Owned(numbers.iter().map(|number| table[*number as usize]).collect()),
        }
    }

    /// The first fact of any kind that names a contact.
    #[must_use]
    pub fn named_at(&self, point: u32) -> Option<u32> {
        self.bound.named_at(self.read_from(point))
    }

    /// Whether a contact was probed against others: a line joins it, or says that it touches nothing.
    #[must_use]
    pub fn probed(&self, point: u32) -> bool {
        self.bound.probed(self.read_from(point))
    }

    /// Labels on the first few lines that join contacts, given as the netlist names them.
    #[must_use]
    pub fn lines_of(&self, contacts: &[u32], most: usize) -> Vec<Label> {
        let mut facts: Vec<u32> = contacts.iter().filter_map(|contact| self.bound.joined_at(*contact)).collect();
        facts.sort_unstable();
        facts.dedup();
        let more = facts.len().saturating_sub(most);
        facts.truncate(most);
        let last = facts.last().copied();
        facts
            .iter()
            .map(|fact| {
                let text = if Some(*fact) == last && more > 0 {
                    format!("one of them; {more} more lines")
                } else {
                    "one of them".to_owned()
                };
                self.at(*fact, text)
            })
            .collect()
    }

    /// The facts of the unit.
    #[must_use]
    pub fn facts(&self) -> &'a [Fact] {
        self.netlist.facts_of(self.unit)
    }

    /// Every contact of the cable.
    pub fn contacts(&self) -> impl Iterator<Item = u32> + use<> {
        0..u32::try_from(self.cable.points.len()).unwrap_or(u32::MAX)
    }

    /// Whether the unit has `pair` lines.
    #[must_use]
    pub fn unit_has_pairs(&self) -> bool {
        self.facts().iter().any(|fact| matches!(fact.kind, FactKind::Pair { .. }))
    }

    /// The contacts of a wanted net.
    #[must_use]
    pub fn net(&self, net: u32) -> Vec<u32> {
        self.contacts_of(net).to_vec()
    }

    fn contacts_of(&self, net: u32) -> &[u32] {
        self.members.get_or_init(|| self.wanted.table()).of(net)
    }

    /// A contact as the netlist writes it.
    #[must_use]
    pub fn point(&self, point: u32) -> &str {
        self.ends.text(self.read_from(point))
    }

    /// Contacts as the netlist writes them.
    #[must_use]
    pub fn list(&self, points: &[u32]) -> String {
        points.iter().map(|point| self.point(*point)).collect::<Vec<_>>().join(" ")
    }

    /// The signal of a contact.
    #[must_use]
    pub fn signal(&self, point: u32) -> &str {
        &self.cable.function(point).name
    }

    /// A wanted net in words: `A.1 to B.12 (ML0+)`.
    #[must_use]
    pub fn conductor(&self, net: u32) -> String {
        let points = self.net(net);
        let signal = self.link_of(net).map_or_else(|| self.signal(net), |link| link.signal.as_str());
        match points[..] {
            [a] => format!("{} ({signal})", self.point(a)),
            [a, b] => format!("{} to {} ({signal})", self.point(a), self.point(b)),
            _ => format!("the {signal} net ({} contacts)", points.len()),
        }
    }

    /// The first conductor of the map that lies in a wanted net.
    #[must_use]
    pub fn link_of(&self, net: u32) -> Option<&'a Link> {
        let rows = self.contacts_of(net).iter().flat_map(|point| self.cable.links_at(*point).map(move |at| (at, *point)));
        let here = rows.filter(|(at, point)| {
            let points = &self.cable.links[*at].points;
            points[0] == *point && self.wanted.same(points[0], points[1])
        });
        here.map(|(at, _)| at).min().map(|at| &self.cable.links[at])
    }

    /// The signal of the conductor that joins two contacts, or else that of the first.
    #[must_use]
    pub fn link_signal(&self, [a, b]: [u32; 2]) -> &'a str {
        let link = self.cable.link_between(a, b);
        link.map_or_else(|| self.cable.function(a).name.as_str(), |link| link.signal.as_str())
    }

    /// The cable's own limit of a figure between two contacts.
    #[must_use]
    pub fn limit(&self, of: Limited, points: [u32; 2]) -> Option<&'a Limit> {
        let cable = self.cable;
        if cable.limits.is_empty() { None } else { cable.limit(of, self.link_signal(points)) }
    }

    /// The roles of the contacts of a wanted net.
    pub fn roles(&self, net: u32) -> impl Iterator<Item = Role> {
        self.contacts_of(net).iter().map(|point| self.cable.role(*point))
    }

    /// Whether a wanted net has a contact of that role.
    #[must_use]
    pub fn has_role(&self, net: u32, role: Role) -> bool {
        self.roles(net).any(|of| of == role)
    }

    /// Whether a contact is one that must be left alone.
    #[must_use]
    pub fn is_alone(&self, net: u32) -> bool {
        // where not every point was probed, the partner of a contact may only be missing from the netlist
        let waits = || self.given.scope() != Scope::All && self.cable.links_at(net).any(|at| !self.cable.links[at].optional);
        self.contacts_of(net).len() == 1 && !waits()
    }

    /// The pair that a contact belongs to.
    #[must_use]
    pub fn pair(&self, point: u32) -> &str {
        self.cable.function(point).pair.as_deref().unwrap_or_default()
    }

    /// The joins that lead from some contacts to others.
    #[must_use]
    pub fn between(&self, from: &[u32], to: &[u32]) -> Vec<u32> {
        let joins = || self.bound.joins.iter().map(|join| (join.a, join.b, join.fact));
        let read = |points: &[u32]| -> Vec<u32> { points.iter().map(|point| self.read_from(*point)).collect() };
        self.paths.get_or_init(|| Paths::new(self.cable.points.len(), joins())).between(&read(from), &read(to))
    }

    // ---------------------------------------------------------------------------------------- labels

    /// A label on a fact.
    #[must_use]
    pub fn at(&self, fact: u32, text: impl Into<String>) -> Label {
        places::at(self.netlist, self.unit, fact, text)
    }

    /// Labels on the lines that show where contacts are: one a line, with those of its contacts that matter.
    ///
    /// Contacts that no line names are shown at the unit itself: with all points probed, they are open.
    #[must_use]
    pub fn shown(&self, points: &[u32], say: impl Fn(&[u32], bool) -> String) -> Vec<Label> {
        places::shown(
            (self.netlist, self.unit, self.bound),
            points,
            |point| self.read_from(point),
            |points| self.list(points),
            say,
        )
    }

    /// A label on the map's entry for a conductor.
    #[must_use]
    pub fn required(&self, link: &Link) -> Label {
        Label::new(&self.cable.file, link.span, "required here")
    }

    /// The labels on the map's entries for wanted nets: required, or to be left alone.
    #[must_use]
    pub fn map_labels(&self, nets: &[u32]) -> Vec<Label> {
        nets.iter()
            .filter_map(|net| match self.link_of(*net) {
                Some(link) => Some(self.required(link)),
                None => {
                    self.cable.unconnected(*net).map(|rule| Label::new(&self.cable.file, rule.span, "to be left unconnected"))
                }
            })
            .collect()
    }

    /// The source behind the map's entries for wanted nets: the standard, and how the rows were checked.
    #[must_use]
    pub fn sources(&self, nets: &[u32]) -> String {
        let rows = nets.iter().filter_map(|net| {
            self.link_of(*net).map(|link| &link.provenance).or_else(|| self.cable.unconnected(*net).map(|rule| &rule.provenance))
        });
        self.source_of(rows)
    }

    /// The standard, and how rows of the map were checked against published sources.
    pub fn source_of<'p>(&self, rows: impl Iterator<Item = &'p Provenance>) -> String {
        let mut keys: Vec<&str> = Vec::new();
        let mut from_memory = false;
        for row in rows {
            from_memory |= row.from_memory;
            keys.extend(row.checked.iter().map(String::as_str));
        }
        keys.sort_unstable();
        keys.dedup();
        let memory = if from_memory { "in part from memory" } else { "" };
        let checked = match (keys.is_empty(), from_memory) {
            (true, true) => "this row is from memory".to_owned(),
            (true, false) => return self.cable.standard.clone(),
            (false, _) => format!("checked against {}{}{memory}", keys.join(" "), if from_memory { ", " } else { "" }),
        };
        // a map of one's own is found by its path
        let file = self.cable.file.name();
        let map = if file.starts_with("catalogue/") { self.cable.name.as_str() } else { file };
        format!("{} ({checked}; see `backshell maps {map}`)", self.cable.standard)
    }

    /// Where the map's entries for contacts come from: the conductors that end on them, and the rules that leave them alone.
    #[must_use]
    pub fn rows_at(&self, contacts: &[u32]) -> Vec<&'a Provenance> {
        let cable = self.cable;
        let mut concerned = vec![false; cable.points.len()];
        contacts.iter().for_each(|contact| concerned[*contact as usize] = true);
        let links = cable.links.iter().filter(|link| link.points.iter().any(|point| concerned[*point as usize]));
        let rules = cable.unconnected.iter().filter(|rule| concerned[rule.point as usize]);
        links.map(|link| &link.provenance).chain(rules.map(|rule| &rule.provenance)).collect()
    }

    /// Where the connectors' entries for contacts come from.
    #[must_use]
    pub fn pins_at(&self, contacts: &[u32]) -> Vec<&'a Provenance> {
        let cable = self.cable;
        let places = contacts.iter().map(|contact| &cable.points[*contact as usize]);
        places.map(|place| &cable.ends[place.end].connector.pins[place.pin].provenance).collect()
    }

    /// A finding that rests on rows of the map that are all from memory is a caution, and leaves the unit undecided, until a
    /// published source is found. What can destroy equipment or hurt someone stays as it is.
    pub fn weigh(&self, finding: &mut Finding, rows: &[&Provenance]) {
        if rows.is_empty() || finding.hazard || finding.severity != Severity::Fail {
            return;
        }
        if rows.iter().any(|row| !row.is_from_memory_alone()) {
            return;
        }
        finding.leave_undecided();
        finding.message.push_str(FROM_MEMORY);
        let (points, signals) = (finding.points.join(" "), finding.signals.join(", "));
        finding.remedy = format!(
            "look up first what this says of {points} ({signals}): {}. If it holds, {}",
            self.cable.standard, finding.remedy
        );
    }

    // ---------------------------------------------------------------------------------------- findings

    /// A finding about contacts, with the static facts of its code filled in.
    #[must_use]
    pub fn finding(&self, code: Code, points: &[u32], message: impl Into<String>) -> Finding {
        let mut points = points.to_vec();
        points.sort_unstable();
        points.dedup();
        let mut known = HashSet::new();
        let signals = points.iter().map(|point| self.signal(*point)).filter(|signal| known.insert(*signal));
        let signals: Vec<String> = signals.map(str::to_owned).collect();
        Finding {
            code,
            severity: Severity::Fail,
            hazard: false,
            undecided: false,
            message: message.into(),
            points: points.iter().map(|point| self.point(*point).to_owned()).collect(),
            signals,
            labels: Vec::new(),
            why: String::new(),
            remedy: String::new(),
            source: self.cable.standard.clone(),
            readings: None,
        }
    }
}
