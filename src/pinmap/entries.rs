//! The entries of a cable file, checked one by one.

use std::collections::{BTreeMap, HashMap, HashSet};
use std::sync::Arc;

use toml::Spanned;

use crate::finding::{Label, Problem};
use crate::netlist::{ComponentKind, FactKind};
use crate::text::{Source, Span, visible};
use crate::units::{Quantity, Tolerance};

use super::cable::{End, Excluded, FindConnector, Group, Limit, Link, MapPoint, Pairing, Part, Unconnected, in_series};
use super::catalogue::{connector_names, taken};
use super::connector::{Connector, Provenance, provenance};
use super::raw::{RawConnector, RawEnd, RawExcluded, RawGroup, RawLimit, RawLink, RawPart, RawUnconnected, place};
use super::rows::LongLists;

/// Turns the entries of a cable file into what the rest of the crate sees, and collects the problems.
pub(super) struct Reader<'s> {
    source: &'s Arc<Source>,
    sources: &'s BTreeMap<String, String>,
    /// The ends with their connectors, and the number of the first contact of each.
    ends: Vec<(String, Arc<Connector>, u32)>,
    pub(super) problems: Vec<Problem>,
}

impl<'s> Reader<'s> {
    pub(super) fn new(source: &'s Arc<Source>, sources: &'s BTreeMap<String, String>) -> Self {
        Reader { source, sources, ends: Vec::new(), problems: Vec::new() }
    }

    pub(super) fn problem(&mut self, message: impl Into<String>, span: Span, label: impl Into<String>) {
        self.problems.push(Problem::new(message).at(self.source, span, label));
    }

    pub(super) fn provenance(&mut self, checked: &[Spanned<String>], from_memory: bool) -> Provenance {
        provenance(self.source, checked, from_memory, self.sources, &mut self.problems)
    }

    /// The connectors that are written in the cable's own file.
    pub(super) fn connectors(&mut self, written: Vec<RawConnector>, lists: &LongLists<'_>) -> HashMap<String, Arc<Connector>> {
        let mut own = HashMap::new();
        for mut raw in written {
            let (name, at) = (raw.name.get_ref().clone(), place(&raw.name));
            if connector_names().any(|known| known == name) {
                self.problems.push(taken("connector", &name, self.source, at));
            }
            raw.sources.extend(self.sources.iter().map(|(key, text)| (key.clone(), text.clone())));
            match Connector::checked(self.source, raw, lists) {
                Ok(connector) if own.contains_key(&connector.name) => {
                    self.problem(format!("connector {} twice", visible(&connector.name)), at, "again here");
                }
                Ok(connector) => {
                    own.insert(name, Arc::new(connector));
                }
                Err(problems) => self.problems.extend(problems),
            }
        }
        own
    }

    pub(super) fn ends(
        &mut self,
        written: Vec<Spanned<RawEnd>>,
        own: &HashMap<String, Arc<Connector>>,
        connector: &mut FindConnector<'_>,
    ) -> Vec<End> {
        let mut ends: Vec<End> = Vec::new();
        let mut broken: HashSet<String> = HashSet::new();
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
            if broken.contains(raw.connector.get_ref()) {
                continue; // its problems were told at the first end that has it
            }
            let inside = own.get(raw.connector.get_ref()).map(|found| Ok(Arc::clone(found)));
            let found = match inside.unwrap_or_else(|| connector(raw.connector.get_ref())) {
                Ok(found) => found,
                Err(mut problems) => {
                    broken.insert(raw.connector.get_ref().clone());
                    // what has no place of its own shows where the connector is named
                    if let [only] = problems.as_mut_slice()
                        && only.labels.is_empty()
                    {
                        only.labels.push(Label::new(self.source, place(&raw.connector), "named here"));
                        self.problems.append(&mut problems);
                        continue;
                    }
                    self.problem(
                        format!("the connector {} can't be used", visible(raw.connector.get_ref())),
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

    pub(super) fn points(&mut self, ends: &[End]) -> Vec<MapPoint> {
        let mut points = Vec::with_capacity(ends.iter().map(|end| end.connector.pins.len()).sum());
        for (end, of) in ends.iter().enumerate() {
            let first = u32::try_from(points.len()).unwrap_or(u32::MAX);
            self.ends.push((of.name.clone(), Arc::clone(&of.connector), first));
            for (pin, contact) in of.connector.pins.iter().enumerate() {
                let text = [of.name.as_str(), ".", &contact.pin].concat();
                points.push(MapPoint { end, pin, text });
            }
        }
        points
    }

    fn point(&mut self, text: &Spanned<String>) -> Option<u32> {
        let found = text.get_ref().split_once('.').and_then(|(end, pin)| {
            let (_, connector, first) = self.ends.iter().find(|(name, ..)| name == end)?;
            first.checked_add(u32::try_from(connector.find(pin)?).ok()?)
        });
        if found.is_none() {
            let problem = self.no_such_contact(text);
            self.problems.push(problem);
        }
        found
    }

    /// Says what is wrong with a contact that no end has, and which one is near.
    fn no_such_contact(&self, text: &Spanned<String>) -> Problem {
        let written = text.get_ref();
        let problem = Problem::new(format!("no such contact: {}", visible(written)));
        let Some((end, pin)) = written.split_once('.') else {
            return problem.at(self.source, place(text), "a contact is written END.PIN, as in A.1");
        };
        let Some((_, connector, _)) = self.ends.iter().find(|(name, ..)| name == end) else {
            let names: Vec<String> = self.ends.iter().map(|(name, ..)| format!("`{name}`")).collect();
            let label = format!("no end `{}`: the ends are {}", visible(end), names.join(", "));
            return problem.at(self.source, place(text), label);
        };
        let problem = problem.at(self.source, place(text), format!("{} has no contact {}", connector.name, visible(pin)));
        match connector.near(pin) {
            Some(near) => problem.help(format!("did you mean {end}.{near}? Contacts are text: case and leading zeros count")),
            None => problem,
        }
    }

    pub(super) fn groups(&mut self, written: Vec<Spanned<RawGroup>>) -> Vec<Group> {
        let mut groups = Vec::with_capacity(written.len());
        for entry in written {
            let span = place(&entry);
            let raw = entry.into_inner();
            let provenance = self.provenance(&raw.checked, raw.from_memory);
            groups.push(Group { name: raw.name, pairing: raw.pairing, why: raw.why, provenance, span });
        }
        groups
    }

    pub(super) fn links(
        &mut self,
        written: impl Iterator<Item = Spanned<RawLink>>,
        about: usize,
        groups: &[Group],
        points: &[MapPoint],
    ) -> Vec<Link> {
        let mut links = Vec::with_capacity(about);
        for entry in written {
            let span = place(&entry);
            let raw = entry.into_inner();
            let provenance = self.provenance(&raw.checked, raw.from_memory);
            let mut numbers: Vec<u32> = raw.points.iter().filter_map(|point| self.point(point)).collect();
            let known = numbers.len();
            numbers.sort_unstable();
            numbers.dedup();
            if numbers.len() != known || raw.points.len() < 2 {
                self.problem("a conductor joins two points or more, each once", span, "this conductor");
            }
            let group = raw.common.and_then(|name| {
                let found = groups.iter().position(|group| group.name == *name.get_ref());
                if found.is_none() {
                    self.problem(format!("no group `{}` under common", visible(name.get_ref())), place(&name), "named here");
                }
                found
            });
            if numbers.len() < 2 {
                continue; // an unknown point was told above
            }
            let any = group.is_some_and(|at| groups[at].pairing == Pairing::Any);
            let two_ends = |numbers: &[u32]| match *numbers {
                [a, b] => points[a as usize].end != points[b as usize].end,
                _ => false,
            };
            if any && !two_ends(&numbers) {
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

    pub(super) fn unconnected(&mut self, written: Vec<Spanned<RawUnconnected>>) -> Vec<Unconnected> {
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

    pub(super) fn parts(&mut self, written: Vec<Spanned<RawPart>>) -> Vec<Part> {
        let mut parts = Vec::with_capacity(written.len());
        for entry in written {
            let span = place(&entry);
            let raw = entry.into_inner();
            let provenance = self.provenance(&raw.checked, raw.from_memory);
            let Some((kind, points)) = self.kind_and_points(&raw.kind, &raw.points, span) else { continue };
            let value = self.value(kind, &raw, span);
            let why = raw.why.unwrap_or_default();
            parts.push(Part { kind, points, value, optional: raw.optional, why, provenance, span });
        }
        parts
    }

    pub(super) fn excluded(&mut self, written: Vec<Spanned<RawExcluded>>) -> Vec<Excluded> {
        let mut excluded = Vec::with_capacity(written.len());
        for entry in written {
            let span = place(&entry);
            let raw = entry.into_inner();
            let provenance = self.provenance(&raw.checked, raw.from_memory);
            let Some((kind, points)) = self.kind_and_points(&raw.kind, &raw.points, span) else { continue };
            excluded.push(Excluded { kind, points, place_decides: raw.place_decides, why: raw.why, provenance, span });
        }
        excluded
    }

    /// What a part is, and its two contacts.
    fn kind_and_points(
        &mut self,
        kind: &Spanned<String>,
        points: &[Spanned<String>],
        span: Span,
    ) -> Option<(ComponentKind, [u32; 2])> {
        let numbers: Vec<u32> = points.iter().filter_map(|point| self.point(point)).collect();
        let kind = match kind.get_ref().as_str() {
            "resistor" => ComponentKind::Resistor,
            "capacitor" => ComponentKind::Capacitor,
            "diode" => ComponentKind::Diode,
            _ => {
                self.problem("unknown kind of part", place(kind), "expected resistor, capacitor or diode");
                return None;
            }
        };
        let [a, b] = numbers[..] else {
            self.problem("a part has two contacts", span, "this part");
            return None;
        };
        Some((kind, [a, b]))
    }

    /// The value and tolerance of a part.
    fn value(&mut self, kind: ComponentKind, raw: &RawPart, span: Span) -> Option<Quantity> {
        if kind == ComponentKind::Diode {
            return None;
        }
        let Some(value) = &raw.value else {
            if !raw.optional {
                self.problem("a part needs its value", span, "no `value`");
            }
            return None;
        };
        let tolerance = raw.tolerance.as_ref().map_or("", |text| text.get_ref().as_str());
        let plus_minus = if tolerance.is_empty() { "" } else { "+/-" };
        let figure = quantity(kind.word(), &format!("{} {plus_minus} {tolerance}", value.get_ref()));
        if figure.is_none() {
            self.problem("this value can't be read", place(value), "expected a number with its unit, as in \"56 kohm\"");
        }
        figure.map(|quantity| Quantity {
            tolerance: quantity.tolerance.or(Some(Tolerance::Percent(DEFAULT_TOLERANCE_PERCENT))),
            ..quantity
        })
    }

    pub(super) fn limits(&mut self, written: Vec<Spanned<RawLimit>>, links: &[Link]) -> Vec<Limit> {
        if written.is_empty() {
            return Vec::new();
        }
        let carried: HashSet<&str> = links.iter().map(|link| link.signal.as_str()).collect();
        let mut limits = Vec::with_capacity(written.len());
        for entry in written {
            let span = place(&entry);
            let raw = entry.into_inner();
            let provenance = self.provenance(&raw.checked, raw.from_memory);
            for name in raw.signals.iter().filter(|name| !carried.contains(name.get_ref().as_str())) {
                self.problem(format!("no conductor carries the signal {}", visible(name.get_ref())), place(name), "named here");
            }
            let ohm = quantity(ComponentKind::Resistor.word(), raw.value.get_ref()).map(|quantity| quantity.value);
            if ohm.is_none() {
                self.problem("this limit can't be read", place(&raw.value), "expected a resistance, as in \"0.2 ohm\"");
            }
            let percent = raw.share.as_ref().map(|share| percent(share.get_ref()));
            if let (Some(None), Some(share)) = (percent, &raw.share) {
                self.problem("this share can't be read", place(share), "expected a percentage, as in \"3 %\"");
            }
            limits.push(Limit {
                of: raw.of,
                signals: raw.signals.into_iter().map(Spanned::into_inner).collect(),
                ohm: ohm.unwrap_or_default(),
                per_metre: raw.per_metre,
                percent: percent.flatten().unwrap_or_default(),
                why: raw.why,
                provenance,
                span,
            });
        }
        limits
    }

    /// Every contact has a place: in a conductor, in a path with a part in series, or on the list of those to be left alone,
    /// and not in both.
    pub(super) fn completeness(
        &mut self,
        name: Span,
        points: &[MapPoint],
        (links, parts): (&[Link], &[Part]),
        unconnected: &[Unconnected],
    ) {
        let mut wired = vec![false; points.len()];
        let in_series = parts.iter().filter(|part| in_series(points, part)).flat_map(|part| &part.points);
        for point in links.iter().flat_map(|link| &link.points).chain(in_series) {
            wired[*point as usize] = true;
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
            let more = missing.len().saturating_sub(MISSING);
            let more = if more > 0 { format!(" and {more} more") } else { String::new() };
            let list = missing.iter().take(MISSING).copied().collect::<Vec<_>>().join(", ");
            self.problem(
                format!("not said what becomes of {list}{more}"),
                name,
                "each contact is in a conductor, or under `unconnected`",
            );
        }
    }
}

/// A figure in text, read by the netlist language itself as that of a part.
pub(super) fn quantity(kind: &str, text: &str) -> Option<Quantity> {
    let read = crate::netlist::parse(&Source::new("value", format!("{kind} A.1 A.2 {text}")));
    match read.facts.first().map(|fact| fact.kind) {
        Some(FactKind::Component { figure: Some(figure), .. }) => read.figure(figure).map(|found| found.quantity),
        _ => None,
    }
}

/// How many contacts are named of those that a map says nothing of.
const MISSING: usize = 24;

/// A share in percent, 0 to 100.
fn percent(text: &str) -> Option<f64> {
    let percent: f64 = text.strip_suffix('%')?.trim().parse().ok()?;
    (0.0..=100.0).contains(&percent).then_some(percent)
}

/// The tolerance of a part whose file states none, in percent: common practice for film resistors, no source.
const DEFAULT_TOLERANCE_PERCENT: f64 = 5.0;
