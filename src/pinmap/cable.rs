//! A cable: which connector sits at each end, and what joins what.

use std::collections::hash_map::Entry;
use std::collections::{BTreeMap, HashMap};
use std::sync::Arc;

use crate::finding::Problem;
use crate::netlist::ComponentKind;
use crate::text::{Source, Span};
use crate::units::Quantity;
use serde::Deserialize;

use super::Role;
use super::connector::{Connector, Function, Provenance, name_fits};
use super::entries::Reader;
use super::link_rates::LinkRates;
use super::raw::{self, RawCable, place};
use super::rows::LongLists;

/// Finds a connector by its name.
pub type FindConnector<'a> = dyn FnMut(&str) -> Result<Arc<Connector>, Vec<Problem>> + 'a;

/// A cable assembly as a standard, or its buyer, wants it.
#[derive(Clone, Debug)]
pub struct Cable {
    /// The catalogue name.
    pub name: String,
    /// Where the file gives it.
    pub name_at: Span,
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
    /// Parts that a plug of this cable must not hold.
    pub excluded: Vec<Excluded>,
    /// The limits of figures that a standard gives for this cable.
    pub limits: Vec<Limit>,
    /// The links that it carries, each with its pairs and its ladder of rates.
    pub link_rates: Vec<LinkRates>,
    /// For each end that has differential pairs, their wired contacts.
    pub paired: Vec<Vec<u32>>,
    /// The wires of the map: two contacts at two ends, screens left out; of a row with more contacts, its neighbours.
    pub wires: Vec<[u32; 2]>,
    /// For each contact, its role.
    roles: Vec<Role>,
    /// For each contact, the other one of its pair at the same end.
    partners: Vec<Option<u32>>,
    /// For each contact, the rows of the map that it is in, as a stretch of `links_of`.
    links_at: Vec<u32>,
    links_of: Vec<u32>,
    /// For each contact, the rule that it must be left alone, as an index into `unconnected`.
    rule_at: Vec<u32>,
    /// For each end, the number of its first contact.
    first_of: Vec<u32>,
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
#[derive(Clone, Debug)]
#[non_exhaustive]
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
#[derive(Clone, Debug)]
#[non_exhaustive]
pub struct MapPoint {
    /// The end, as an index into [`Cable::ends`].
    pub end: usize,
    /// The contact, as an index into the connector's pins.
    pub pin: usize,
    /// END`.`PIN.
    pub text: String,
}

/// Points that must be one net: a wire from end to end, or contacts tied inside one plug.
#[derive(Clone, Debug)]
#[non_exhaustive]
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
#[derive(Clone, Debug)]
#[non_exhaustive]
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
#[non_exhaustive]
pub enum Pairing {
    /// Each its own listed partner.
    Own,
    /// Each any contact of the group at every other end.
    Any,
}

/// A contact that must touch nothing.
#[derive(Clone, Debug)]
#[non_exhaustive]
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

/// A part that is found where this cable has none.
#[derive(Clone, Debug)]
#[non_exhaustive]
pub struct Excluded {
    /// Resistor, capacitor or diode.
    pub kind: ComponentKind,
    /// Its two contacts.
    pub points: [u32; 2],
    /// True where it belongs into the same cable at one place and not at another, as a terminator at the end of a bus.
    pub place_decides: bool,
    /// What it does where it doesn't belong.
    pub why: String,
    /// Where the row comes from.
    pub provenance: Provenance,
    /// The entry in the file.
    pub span: Span,
}

/// A part inside a plug; or in series in a path, where its contacts are at two ends.
#[derive(Clone, Debug)]
#[non_exhaustive]
pub struct Part {
    /// Resistor, capacitor or diode.
    pub kind: ComponentKind,
    /// Its two contacts, a diode's anode first.
    pub points: [u32; 2],
    /// Its value; a diode has none, and a part that may be missing may have any.
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

/// A limit of a figure.
#[derive(Clone, Debug)]
#[non_exhaustive]
pub struct Limit {
    /// Which figure.
    pub of: Limited,
    /// The signals that it is for; empty for all.
    pub signals: Vec<String>,
    /// The limit in ohm: the most for a conductor or for the unbalance of a pair, the least for insulation.
    pub ohm: f64,
    /// True where the limit is for each metre of cable.
    pub per_metre: bool,
    /// For the unbalance of a pair, the share in percent that is allowed where it is more than `ohm`: the difference over
    /// the sum (the form of IEC 61156 and IEEE 802.3).
    pub percent: f64,
    /// What it is for.
    pub why: String,
    /// Where the row comes from.
    pub provenance: Provenance,
    /// The entry in the file.
    pub span: Span,
}

/// Which figure a limit is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "lowercase")]
#[non_exhaustive]
pub enum Limited {
    /// The resistance of a conductor from end to end, with all that lies in parallel, and the contacts.
    Conductor,
    /// The difference between the two conductors of a pair.
    Unbalance,
    /// The insulation between two conductors.
    Isolation,
}

/// Whether the contacts of a part are at two ends.
pub(super) fn in_series(points: &[MapPoint], part: &Part) -> bool {
    let [a, b] = part.points.map(|point| points[point as usize].end);
    a != b
}

impl Cable {
    /// Reads and checks a cable file; `connector` finds a connector by its name.
    ///
    /// # Errors
    /// Every problem of the file, each at its span, and those of its connectors.
    pub fn read(source: &Arc<Source>, connector: &mut FindConnector<'_>) -> Result<Cable, Vec<Problem>> {
        // what is wrong with a file is said by the one way to read it that every file can go
        if let Some(lists) = LongLists::of(source.text())
            && let Some(written) = raw::read_short(&lists)
            && let Ok(cable) = Self::checked(source, written, &lists, connector)
            && lists.are_read()
        {
            return Ok(cable);
        }
        Self::checked(source, raw::read(source)?, &LongLists::none(), connector)
    }

    fn checked(
        source: &Arc<Source>,
        mut written: RawCable,
        lists: &LongLists<'_>,
        connector: &mut FindConnector<'_>,
    ) -> Result<Cable, Vec<Problem>> {
        let sources = std::mem::take(&mut written.sources);
        let name_at = place(&written.name);
        let mut reader = Reader::new(source, &sources);
        name_fits("cable", source, &written.name, &mut reader.problems);
        let own = reader.connectors(written.connector, lists);
        let expected = written.ends.len();
        let ends = reader.ends(written.ends, &own, connector);
        if ends.len() < expected {
            return Err(reader.problems); // without a connector, none of its contacts is known
        }
        let points = reader.points(&ends);
        let groups = reader.groups(written.common);
        let links = reader.links(lists.all(written.conductors), lists.about(), &groups, &points);
        let unconnected = reader.unconnected(written.unconnected);
        let parts = reader.parts(written.components);
        let excluded = reader.excluded(written.excluded);
        let limits = reader.limits(written.limits, &links);
        let link_rates = reader.link_rates(written.link_rates);
        if ends.len() >= 2 {
            reader.completeness(place(&written.name), &points, (&links, &parts), &unconnected);
        }
        if !reader.problems.is_empty() {
            return Err(reader.problems);
        }
        let mut cable = Cable {
            name: written.name.into_inner(),
            name_at,
            title: written.title,
            standard: written.standard,
            ends,
            points,
            links,
            groups,
            unconnected,
            parts,
            excluded,
            limits,
            link_rates: Vec::new(),
            paired: Vec::new(),
            wires: Vec::new(),
            roles: Vec::new(),
            partners: Vec::new(),
            links_at: Vec::new(),
            links_of: Vec::new(),
            rule_at: Vec::new(),
            first_of: Vec::new(),
            has_shell: false,
            notes: written.notes,
            sources: sources.clone(),
            file: Arc::clone(source),
        };
        cable.index();
        cable.roles = (0_u32..).take(cable.points.len()).map(|point| cable.function(point).role).collect();
        cable.has_shell = cable.links.iter().any(|link| cable.role(link.points[0]) == Role::Shell);
        cable.paired = cable.paired_contacts();
        cable.partners = cable.pair_partners();
        cable.wires = cable.all_wires();
        cable.link_rates = reader.lanes(&cable, link_rates);
        if reader.problems.is_empty() { Ok(cable) } else { Err(reader.problems) }
    }

    fn paired_contacts(&self) -> Vec<Vec<u32>> {
        let mut by_end: Vec<Vec<u32>> = vec![Vec::new(); self.ends.len()];
        let wired = |point: u32| self.links_at(point).next().is_some();
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
        self.roles[point as usize]
    }

    /// The contact as text.
    #[must_use]
    pub fn text(&self, point: u32) -> &str {
        &self.points[point as usize].text
    }

    /// The number of a contact by its text.
    #[must_use]
    pub fn point(&self, text: &str) -> Option<u32> {
        let (end, pin) = text.split_once('.')?;
        let end = self.ends.iter().position(|known| known.name == end)?;
        self.contact(end, self.ends[end].connector.find(pin)?)
    }

    /// The number of a contact by its end and its place among the pins of the connector there.
    #[must_use]
    pub fn contact(&self, end: usize, pin: usize) -> Option<u32> {
        let within = pin < self.ends.get(end)?.connector.pins.len();
        within.then(|| self.first_of.get(end).and_then(|first| first.checked_add(u32::try_from(pin).ok()?))).flatten()
    }

    /// The rows of the map that a contact is in, as indices into [`Cable::links`], in their order.
    pub fn links_at(&self, point: u32) -> impl Iterator<Item = usize> + '_ {
        let bound = |at: usize| self.links_at.get(at).map_or(0, |bound| *bound as usize);
        let stretch = bound(point as usize)..bound(point as usize + 1);
        self.links_of.get(stretch).unwrap_or_default().iter().map(|link| *link as usize)
    }

    /// The first row of the map that holds both of two contacts.
    #[must_use]
    pub fn link_between(&self, a: u32, b: u32) -> Option<&Link> {
        self.links_at(a).map(|at| &self.links[at]).find(|link| link.points.contains(&b))
    }

    /// The rule that a contact must be left alone, where there is one.
    #[must_use]
    pub fn unconnected(&self, point: u32) -> Option<&Unconnected> {
        self.rule_at.get(point as usize).and_then(|at| self.unconnected.get(*at as usize))
    }

    /// The same cable with other points in its rows.
    #[must_use]
    pub fn rewired(&self, rewire: impl FnOnce(&mut [Link])) -> Cable {
        let mut other = self.clone();
        rewire(&mut other.links);
        other.index();
        other
    }

    /// Makes the tables by which rows are found from their contacts.
    fn index(&mut self) {
        let number = |at: usize| u32::try_from(at).unwrap_or(u32::MAX);
        let n = self.points.len();
        let mut bounds = vec![0_u32; n + 1];
        for point in self.links.iter().flat_map(|link| &link.points) {
            bounds[*point as usize + 1] += 1;
        }
        for at in 0..n {
            bounds[at + 1] += bounds[at];
        }
        let mut next = bounds.clone();
        let mut rows = vec![0; bounds[n] as usize];
        for (at, link) in self.links.iter().enumerate() {
            for point in &link.points {
                let place = &mut next[*point as usize];
                rows[*place as usize] = number(at);
                *place += 1;
            }
        }
        (self.links_at, self.links_of) = (bounds, rows);
        self.rule_at = vec![u32::MAX; n];
        for (at, rule) in self.unconnected.iter().enumerate() {
            self.rule_at[rule.point as usize] = number(at);
        }
        self.first_of.clear();
        let mut first = 0;
        for end in &self.ends {
            self.first_of.push(number(first));
            first += end.connector.pins.len();
        }
    }

    /// Whether a part lies in the path from one end to another, where direct current doesn't show it.
    #[must_use]
    pub fn is_in_series(&self, part: &Part) -> bool {
        in_series(&self.points, part)
    }

    /// The limit of a figure for a signal: one that names it, or else one for all.
    #[must_use]
    pub fn limit(&self, of: Limited, signal: &str) -> Option<&Limit> {
        let all = || self.limits.iter().filter(|limit| limit.of == of);
        all()
            .find(|limit| limit.signals.iter().any(|name| name == signal))
            .or_else(|| all().find(|limit| limit.signals.is_empty()))
    }

    /// The other contact of the pair that a contact belongs to, at the same end.
    #[must_use]
    pub fn pair_partner(&self, point: u32) -> Option<u32> {
        self.partners.get(point as usize).copied().flatten()
    }

    fn all_wires(&self) -> Vec<[u32; 2]> {
        let end = |point: u32| self.points[point as usize].end;
        let neighbours = self.links.iter().flat_map(|link| link.points.windows(2).map(|pair| [pair[0], pair[1]]));
        neighbours.filter(|[a, b]| end(*a) != end(*b) && self.role(*a) != Role::Shell).collect()
    }

    fn pair_partners(&self) -> Vec<Option<u32>> {
        let mut partners = vec![None; self.points.len()];
        let mut waiting: HashMap<(usize, &str), u32> = HashMap::new();
        for (number, point) in (0..).zip(&self.points) {
            let Some(pair) = &self.function(number).pair else { continue };
            match waiting.entry((point.end, pair)) {
                Entry::Vacant(place) => {
                    place.insert(number);
                }
                Entry::Occupied(place) => {
                    partners[number as usize] = Some(*place.get());
                    partners[*place.get() as usize] = Some(number);
                }
            }
        }
        partners
    }
}
