//! A cable: which connector sits at each end, and what joins what.

use std::collections::{BTreeMap, HashMap};
use std::sync::Arc;

use serde::Deserialize;
use toml::Spanned;

use crate::finding::Problem;
use crate::netlist::{ComponentKind, FactKind};
use crate::text::{Source, Span};
use crate::units::{Quantity, Tolerance};

use super::Role;
use super::connector::{Connector, Function, Provenance, provenance};
use super::raw::{self, RawCable, RawEnd, RawGroup, RawLink, RawPart, RawUnconnected, place};

/// Finds a connector by its name.
pub type FindConnector<'a> = dyn FnMut(&str) -> Result<Arc<Connector>, Vec<Problem>> + 'a;

/// A cable assembly as a standard, or its buyer, wants it.
#[derive(Debug)]
pub struct Cable {
    /// The catalogue name.
    pub name: String,
    /// What it is, in words.
    pub title: String,
    /// The published standard.
    pub standard: String,
    /// Its ends.
    pub ends: Vec<End>,
    /// Every contact of every end; facts about points refer to this list by number.
    pub points: Vec<MapPoint>,
    /// What must be joined.
    pub links: Vec<Link>,
    /// Groups of links that may be joined to each other in a plug.
    pub groups: Vec<Group>,
    /// Contacts that must be left alone.
    pub unconnected: Vec<Unconnected>,
    /// Parts inside the plugs.
    pub parts: Vec<Part>,
    /// For each end that has differential pairs, their wired contacts.
    pub paired: Vec<Vec<u32>>,
    /// True where a shell is bonded.
    pub has_shell: bool,
    /// The known miswirings of this kind.
    pub notes: Vec<String>,
    /// The sources that `checked` lists refer to.
    pub sources: BTreeMap<String, String>,
    /// The file.
    pub file: Arc<Source>,
}

/// One end of a cable.
#[derive(Debug)]
pub struct End {
    /// The name in the points of this map.
    pub name: String,
    /// The connector.
    pub connector: Arc<Connector>,
    /// What this side is called: source, sink, mini …
    pub side: Option<String>,
    /// True where the connector's second set of names holds.
    pub far_side: bool,
}

/// A contact of one end.
#[derive(Debug)]
pub struct MapPoint {
    /// The end, as an index into [`Cable::ends`].
    pub end: usize,
    /// The contact, as an index into the connector's pins.
    pub pin: usize,
    /// END`.`PIN.
    pub text: String,
}

/// Points that must be one net: a wire from end to end, or contacts tied inside one plug.
#[derive(Debug)]
pub struct Link {
    /// The signal that it carries.
    pub signal: String,
    /// Its points, two or more, as numbers of [`Cable::points`].
    pub points: Vec<u32>,
    /// The group within which it may be joined to others, as an index into [`Cable::groups`].
    pub group: Option<usize>,
    /// True where it may be missing altogether.
    pub optional: bool,
    /// True where it is needed only in a cable whose type names an overall screen.
    pub when_screened: bool,
    /// Where the row comes from.
    pub provenance: Provenance,
    /// The entry in the file.
    pub span: Span,
}

/// Links that a plug may common.
#[derive(Debug)]
pub struct Group {
    /// Its name.
    pub name: String,
    /// Who must meet whom where they are not commoned.
    pub pairing: Pairing,
    /// Why commoning them does no harm.
    pub why: String,
    /// Where the rule comes from.
    pub provenance: Provenance,
    /// The entry in the file.
    pub span: Span,
}

/// Who must meet whom within a group that is not commoned.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Pairing {
    /// Each its own listed partner.
    Own,
    /// Each any contact of the group at every other end.
    Any,
}

/// A contact that must touch nothing.
#[derive(Debug)]
pub struct Unconnected {
    /// The contact.
    pub point: u32,
    /// Why.
    pub why: String,
    /// True for a shield's contact that may be bonded at one end, but not at both.
    pub one_end_shield: bool,
    /// Where the rule comes from.
    pub provenance: Provenance,
    /// The entry in the file.
    pub span: Span,
}

/// A part inside a plug.
#[derive(Debug)]
pub struct Part {
    /// Resistor, capacitor or diode.
    pub kind: ComponentKind,
    /// Its two contacts, a diode's anode first.
    pub points: [u32; 2],
    /// Its value; a diode has none.
    pub value: Option<Quantity>,
    /// True where it may be missing.
    pub optional: bool,
    /// What it is for.
    pub why: String,
    /// Where the row comes from.
    pub provenance: Provenance,
    /// The entry in the file.
    pub span: Span,
}

impl Cable {
    /// Reads and checks a cable file; `connector` finds a connector by its name.
    ///
    /// # Errors
    /// Every problem of the file, each at its span, and those of its connectors.
    pub fn read(source: &Arc<Source>, connector: &mut FindConnector<'_>) -> Result<Cable, Vec<Problem>> {
        let written: RawCable = raw::read(source).map_err(|problem| vec![problem])?;
        let mut reader = Reader { source, sources: &written.sources, problems: Vec::new(), numbers: HashMap::new() };
        let ends = reader.ends(written.ends, connector);
        let points = reader.points(&ends);
        let groups = reader.groups(written.common);
        let links = reader.links(written.conductors, &groups, &points);
        let unconnected = reader.unconnected(written.unconnected);
        let parts = reader.parts(written.components);
        if ends.len() >= 2 {
            reader.completeness(place(&written.name), &points, &links, &unconnected);
        }
        if !reader.problems.is_empty() {
            return Err(reader.problems);
        }
        let mut cable = Cable {
            name: written.name.into_inner(),
            title: written.title,
            standard: written.standard,
            ends,
            points,
            links,
            groups,
            unconnected,
            parts,
            paired: Vec::new(),
            has_shell: false,
            notes: written.notes,
            sources: written.sources,
            file: Arc::clone(source),
        };
        cable.has_shell = cable.links.iter().any(|link| cable.role(link.points[0]) == Role::Shell);
        cable.paired = cable.paired_contacts();
        Ok(cable)
    }

    fn paired_contacts(&self) -> Vec<Vec<u32>> {
        let mut by_end: Vec<Vec<u32>> = vec![Vec::new(); self.ends.len()];
        let wired = |point: u32| self.links.iter().any(|link| link.points.contains(&point));
        for (number, point) in (0..).zip(&self.points) {
            if self.role(number).is_pair() && wired(number) {
                by_end[point.end].push(number);
            }
        }
        by_end.retain(|points| !points.is_empty());
        by_end
    }

    /// What a contact does in this cable.
    #[must_use]
    pub fn function(&self, point: u32) -> &Function {
        let place = &self.points[point as usize];
        let end = &self.ends[place.end];
        end.connector.pins[place.pin].function(end.far_side)
    }

    /// The role of a contact in this cable.
    #[must_use]
    pub fn role(&self, point: u32) -> Role {
        self.function(point).role
    }

    /// The contact as text.
    #[must_use]
    pub fn text(&self, point: u32) -> &str {
        &self.points[point as usize].text
    }

    /// The number of a contact by its text.
    #[must_use]
    pub fn point(&self, text: &str) -> Option<u32> {
        self.points.iter().position(|point| point.text == text).and_then(|at| u32::try_from(at).ok())
    }

    /// The rule that a contact must be left alone, where there is one.
    #[must_use]
    pub fn unconnected(&self, point: u32) -> Option<&Unconnected> {
        self.unconnected.iter().find(|rule| rule.point == point)
    }

    /// The other contact of the pair that a contact belongs to, at the same end.
    #[must_use]
    pub fn pair_partner(&self, point: u32) -> Option<u32> {
        let pair = self.function(point).pair.as_ref()?;
        let end = self.points[point as usize].end;
        let at = self.points.iter().enumerate().position(|(at, other)| {
            let at = u32::try_from(at).unwrap_or(u32::MAX);
            other.end == end && at != point && self.function(at).pair.as_ref() == Some(pair)
        })?;
        u32::try_from(at).ok()
    }
}

struct Reader<'s> {
    source: &'s Arc<Source>,
    sources: &'s BTreeMap<String, String>,
    problems: Vec<Problem>,
    numbers: HashMap<String, u32>,
}

impl Reader<'_> {
    fn problem(&mut self, message: impl Into<String>, span: Span, label: impl Into<String>) {
        self.problems.push(Problem::new(message).at(self.source, span, label));
    }

    fn provenance(&mut self, checked: &[Spanned<String>], from_memory: bool) -> Provenance {
        provenance(self.source, checked, from_memory, self.sources, &mut self.problems)
    }

    fn ends(&mut self, written: Vec<Spanned<RawEnd>>, connector: &mut FindConnector<'_>) -> Vec<End> {
        let mut ends: Vec<End> = Vec::new();
        for entry in written {
            let span = place(&entry);
            let raw = entry.into_inner();
            let name = raw.end.get_ref().clone();
            let letters = name.bytes().all(|b| b.is_ascii_alphanumeric() || matches!(b, b'_' | b'-'));
            if !name.starts_with(|c: char| c.is_ascii_alphabetic()) || !letters {
                self.problem("an end that no netlist can name", place(&raw.end), "a letter, then letters, digits, `_` or `-`");
            }
            if ends.iter().any(|end| end.name == name) {
                self.problem(format!("end {name} twice"), place(&raw.end), "again here");
            }
            let found = match connector(raw.connector.get_ref()) {
                Ok(found) => found,
                Err(problems) => {
                    self.problem(
                        format!("the connector {} can't be used", raw.connector.get_ref()),
                        place(&raw.connector),
                        "named here",
                    );
                    self.problems.extend(problems);
                    continue;
                }
            };
            let side = raw.side.map(Spanned::into_inner);
            let port = raw.port.map(Spanned::into_inner).or_else(|| side.clone());
            let far_side = found.sides.get(1).is_some_and(|far| port.as_ref() == Some(far));
            if !found.sides.is_empty() && !port.as_ref().is_some_and(|port| found.sides.contains(port)) {
                self.problem(
                    "the names of this connector depend on the port",
                    span,
                    format!("say which: port = \"{}\"", found.sides.join("\" or \"")),
                );
            }
            ends.push(End { name, connector: found, side, far_side });
        }
        if ends.len() < 2 && self.problems.is_empty() {
            self.problem("a cable has two ends or more", Span::default(), "in this file");
        }
        ends
    }

    fn points(&mut self, ends: &[End]) -> Vec<MapPoint> {
        let mut points = Vec::new();
        for (end, of) in ends.iter().enumerate() {
            for (pin, contact) in of.connector.pins.iter().enumerate() {
                let text = format!("{}.{}", of.name, contact.pin);
                self.numbers.insert(text.clone(), u32::try_from(points.len()).unwrap_or(u32::MAX));
                points.push(MapPoint { end, pin, text });
            }
        }
        points
    }

    fn point(&mut self, text: &Spanned<String>) -> Option<u32> {
        let found = self.numbers.get(text.get_ref()).copied();
        if found.is_none() {
            self.problem(format!("no such contact: {}", text.get_ref()), place(text), "neither end has it");
        }
        found
    }

    fn groups(&mut self, written: Vec<Spanned<RawGroup>>) -> Vec<Group> {
        let mut groups = Vec::with_capacity(written.len());
        for entry in written {
            let span = place(&entry);
            let raw = entry.into_inner();
            let provenance = self.provenance(&raw.checked, raw.from_memory);
            groups.push(Group { name: raw.name, pairing: raw.pairing, why: raw.why, provenance, span });
        }
        groups
    }

    fn links(&mut self, written: Vec<Spanned<RawLink>>, groups: &[Group], points: &[MapPoint]) -> Vec<Link> {
        let mut links = Vec::with_capacity(written.len());
        for entry in written {
            let span = place(&entry);
            let raw = entry.into_inner();
            let provenance = self.provenance(&raw.checked, raw.from_memory);
            let mut numbers: Vec<u32> = raw.points.iter().filter_map(|point| self.point(point)).collect();
            let written = numbers.len();
            numbers.sort_unstable();
            numbers.dedup();
            if numbers.len() < 2 || numbers.len() != written {
                self.problem("a conductor joins two points or more, each once", span, "this conductor");
                continue;
            }
            let group = raw.common.and_then(|name| {
                let found = groups.iter().position(|group| group.name == *name.get_ref());
                if found.is_none() {
                    self.problem(format!("no group `{}` under common", name.get_ref()), place(&name), "named here");
                }
                found
            });
            let any = group.is_some_and(|at| groups[at].pairing == Pairing::Any);
            let ends: Vec<usize> = numbers.iter().map(|number| points[*number as usize].end).collect();
            if any && (ends.len() != 2 || ends[0] == ends[1]) {
                self.problem("in a group with pairing \"any\" a conductor joins two ends", span, "this conductor");
            }
            let when_screened = match raw.when.as_ref().map(|when| when.get_ref().as_str()) {
                None => false,
                Some("screened") => true,
                Some(_) => {
                    self.problem("`when` can only be \"screened\"", span, "this conductor");
                    false
                }
            };
            links.push(Link {
                signal: raw.signal,
                points: numbers,
                group,
                optional: raw.optional,
                when_screened,
                provenance,
                span,
            });
        }
        links
    }

    fn unconnected(&mut self, written: Vec<Spanned<RawUnconnected>>) -> Vec<Unconnected> {
        let mut rules = Vec::with_capacity(written.len());
        for entry in written {
            let span = place(&entry);
            let raw = entry.into_inner();
            let provenance = self.provenance(&raw.checked, raw.from_memory);
            if let Some(point) = self.point(&raw.point) {
                let one_end_shield = raw.one_end_shield;
                rules.push(Unconnected { point, why: raw.why, one_end_shield, provenance, span });
            }
        }
        rules
    }

    fn parts(&mut self, written: Vec<Spanned<RawPart>>) -> Vec<Part> {
        let mut parts = Vec::with_capacity(written.len());
        for entry in written {
            let span = place(&entry);
            let raw = entry.into_inner();
            let provenance = self.provenance(&raw.checked, raw.from_memory);
            let numbers: Vec<u32> = raw.points.iter().filter_map(|point| self.point(point)).collect();
            let kind = match raw.kind.get_ref().as_str() {
                "resistor" => ComponentKind::Resistor,
                "capacitor" => ComponentKind::Capacitor,
                "diode" => ComponentKind::Diode,
                _ => {
                    self.problem("unknown kind of part", place(&raw.kind), "expected resistor, capacitor or diode");
                    continue;
                }
            };
            let [a, b] = numbers[..] else {
                self.problem("a part has two contacts", span, "this part");
                continue;
            };
            let value = self.value(kind, &raw, span);
            let why = raw.why.unwrap_or_default();
            parts.push(Part { kind, points: [a, b], value, optional: raw.optional, why, provenance, span });
        }
        parts
    }

    /// The value and tolerance of a part, read by the netlist language itself.
    fn value(&mut self, kind: ComponentKind, raw: &RawPart, span: Span) -> Option<Quantity> {
        if kind == ComponentKind::Diode {
            return None;
        }
        let Some(value) = &raw.value else {
            self.problem("a part needs its value", span, "no `value`");
            return None;
        };
        let tolerance = raw.tolerance.as_ref().map_or("", |text| text.get_ref().as_str());
        let plus_minus = if tolerance.is_empty() { "" } else { "+/-" };
        let line = format!("{} A.1 A.2 {} {plus_minus} {tolerance}", kind.word(), value.get_ref());
        let read = crate::netlist::parse(&Source::new("value", line));
        let figure = match read.facts.first().map(|fact| fact.kind) {
            Some(FactKind::Component { figure: Some(figure), .. }) => read.figure(figure).map(|found| found.quantity),
            _ => None,
        };
        if figure.is_none() {
            self.problem("this value can't be read", place(value), "expected a number with its unit, as in \"56 kohm\"");
        }
        figure.map(|quantity| Quantity {
            tolerance: quantity.tolerance.or(Some(Tolerance::Percent(DEFAULT_TOLERANCE_PERCENT))),
            ..quantity
        })
    }

    /// Every contact has a place: in a conductor, or on the list of those to be left alone, and not in both.
    fn completeness(&mut self, name: Span, points: &[MapPoint], links: &[Link], unconnected: &[Unconnected]) {
        let mut wired = vec![false; points.len()];
        for link in links {
            for point in &link.points {
                wired[*point as usize] = true;
            }
        }
        let mut alone = vec![false; points.len()];
        for rule in unconnected {
            let at = rule.point as usize;
            if wired[at] || std::mem::replace(&mut alone[at], true) {
                self.problem(format!("{} is wired, or named twice", points[at].text), rule.span, "said to be left alone");
            }
        }
        let missing: Vec<&str> = points
            .iter()
            .enumerate()
            .filter(|(at, _)| !wired[*at] && !alone[*at])
            .map(|(_, point)| point.text.as_str())
            .collect();
        if !missing.is_empty() {
            self.problem(
                format!("not said what becomes of {}", missing.join(", ")),
                name,
                "each contact is in a conductor, or under `unconnected`",
            );
        }
    }
}

/// The tolerance of a part whose file states none, in percent: common practice for film resistors, no source.
const DEFAULT_TOLERANCE_PERCENT: f64 = 5.0;
