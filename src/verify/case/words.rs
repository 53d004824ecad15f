//! The words for what is on the table: contacts, signals, conductors, places and sources, and findings made of them.

use std::collections::HashSet;

use crate::finding::{Code, Finding, Label, Severity};
use crate::graph::Paths;
use crate::netlist::Scope;
use crate::pinmap::{Limit, Limited, Link, Provenance, Role};

use super::{Case, places};

/// What is added to the message of a finding that rests on nothing but memory.
const FROM_MEMORY: &str = "; the row of the map behind this is from memory, with no published source";

impl<'a> Case<'a> {
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
