//! What is to be seen of a unit, without saying where.

use std::collections::{HashMap, HashSet};

use crate::finding::Verdict;
use crate::netlist::ComponentKind;
use crate::pinmap::{Cable, Role};
use crate::verify::{UnitReport, Wiring};

use super::fit;
use super::mark::Mark;
use super::routes::{self, Bridge, Group, Track};

/// How many contacts a picture shows at most; those of a finding come first.
pub(super) const MOST_CONTACTS: usize = 260;

/// The most cells of a title.
pub(super) const MOST_TITLE: usize = 48;
/// The most cells of a contact's number.
const MOST_NUMBER: usize = 8;

/// A unit as a picture shows it.
#[derive(Debug)]
#[non_exhaustive]
pub struct Picture {
    /// The unit's name, or what stands for it.
    pub title: String,
    /// The cable's name and what it is.
    pub cable: String,
    /// The verdict; none for a picture of the map alone.
    pub verdict: Option<Verdict>,
    /// The contact field of each end, the first on the left, all others on the right.
    pub faces: Vec<Face>,
    /// The contacts shown, in the order of the map.
    pub contacts: Vec<Contact>,
    /// The conductors, those of a group one after the other.
    pub tracks: Vec<Track>,
    /// The tracks in their order from the top: pairs with their screens, and single conductors.
    pub groups: Vec<Group>,
    /// Tracks that are one net, though each is a conductor of its own in the map.
    pub bridges: Vec<Bridge>,
    /// Parts in the plugs.
    pub parts: Vec<Part>,
    /// The findings.
    pub notes: Vec<Note>,
    /// What was left out, where not everything fits.
    pub left_out: Option<String>,
}

/// The contact field of one end.
#[derive(Debug)]
#[non_exhaustive]
pub struct Face {
    /// The end as the netlist names it.
    pub end: String,
    /// The end and its side.
    pub name: String,
    /// The connector.
    pub connector: String,
    /// True where the map says how the contacts lie; else they stand in the order of their list.
    pub laid_out: bool,
    /// How many rows and columns the field has.
    pub rows: usize,
    /// Its contacts, as indices into [`Picture::contacts`], by column and then by row.
    pub contacts: Vec<usize>,
}

/// A contact.
#[derive(Debug)]
#[non_exhaustive]
pub struct Contact {
    /// Its number in the map.
    pub point: u32,
    /// The end.
    pub end: usize,
    /// Its number or letter on the connector.
    pub pin: String,
    /// Its signal on this side.
    pub signal: String,
    /// Its role.
    pub role: Role,
    /// Its row, from the top of the mating face; the shell has none.
    pub row: Option<usize>,
    /// Its place in the row in half columns, rows being centred over each other.
    pub column: usize,
    /// How it is joined.
    pub state: State,
    /// True where a finding names it.
    pub marked: bool,
}

impl Contact {
    /// Its number as it is written on it.
    pub(super) fn number(&self) -> String {
        fit(&self.pin, MOST_NUMBER)
    }
}

/// How a contact is joined.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub enum State {
    /// As the map wants.
    Sound,
    /// It touches nothing, and that is right.
    Free,
    /// It touches nothing, but should.
    Missing,
    /// It touches what it should not.
    Wrong,
    /// No line of the netlist speaks of it.
    NotProbed,
}

/// A part in a plug.
#[derive(Debug)]
#[non_exhaustive]
pub struct Part {
    /// Its two contacts, as indices into [`Picture::contacts`].
    pub contacts: [usize; 2],
    /// What it is, and its value.
    pub words: String,
    /// Resistor, capacitor or diode.
    pub kind: ComponentKind,
    /// True where it should be there but was not found.
    pub missing: bool,
    /// The findings that concern it, as indices into [`Picture::notes`].
    pub notes: Vec<usize>,
}

/// A finding, as the picture quotes it.
#[derive(Debug)]
#[non_exhaustive]
pub struct Note {
    /// How it is marked.
    pub mark: Mark,
    /// The word for it: its code.
    pub word: String,
    /// What is wrong, in a sentence.
    pub message: String,
}

impl Picture {
    /// The picture of a unit; none where the report was made without its wiring.
    #[must_use]
    pub fn of(report: &UnitReport) -> Option<Picture> {
        let wiring = report.wiring.as_ref()?;
        let cable = &report.cable;
        let numbers: HashMap<&str, u32> = (0..).zip(&wiring.points).map(|(number, text)| (text.as_str(), number)).collect();
        let touched: Vec<Vec<u32>> = report
            .findings
            .iter()
            .map(|finding| finding.points.iter().filter_map(|point| numbers.get(point.as_str()).copied()).collect())
            .collect();
        let shown = chosen(cable, &touched);
        let (faces, mut contacts) = faces(cable, wiring, &shown);
        let mut index = vec![None; cable.points.len()];
        for (at, contact) in contacts.iter().enumerate() {
            index[contact.point as usize] = Some(at);
        }
        let routed = routes::route(cable, wiring, &contacts, &index);
        let mut tracks = routed.tracks;
        for point in touched.iter().flatten() {
            if let Some(at) = index[*point as usize] {
                contacts[at].marked = true;
            }
        }
        for (contact, state) in contacts.iter_mut().zip(routed.states) {
            contact.state = state;
        }
        let notes: Vec<Note> = report
            .findings
            .iter()
            .map(|finding| Note {
                mark: Mark::of(finding),
                word: finding.code.text().to_owned(),
                message: finding.message.clone(),
            })
            .collect();
        let mut parts = parts(cable, wiring, &index);
        for (nth, points) in touched.iter().enumerate() {
            let has = |contact: usize| points.contains(&contacts[contact].point);
            let mut found = false;
            if report.findings[nth].code.text().starts_with("component.") {
                for part in parts.iter_mut().filter(|part| part.contacts.iter().all(|contact| has(*contact))) {
                    part.notes.push(nth);
                    found = true;
                }
            }
            if !found {
                for track in tracks.iter_mut().filter(|track| track.legs.iter().any(|leg| has(leg.contact))) {
                    track.notes.push(nth);
                }
            }
        }
        let title = report.unit.clone().unwrap_or_else(|| cable.name.clone());
        Some(Picture {
            title,
            cable: format!("{}: {}", cable.name, cable.title),
            verdict: Some(report.verdict),
            faces,
            contacts,
            tracks,
            groups: routed.groups,
            bridges: routed.bridges,
            parts,
            notes,
            left_out: left_out(cable, &shown),
        })
    }

    /// The picture of a map: what a sound cable looks like, without a verdict.
    ///
    /// `report` is that on a sound sample.
    #[must_use]
    pub fn of_map(report: &UnitReport) -> Option<Picture> {
        let mut picture = Picture::of(report)?;
        picture.title = format!("{}, as it should be", report.cable.name);
        picture.verdict = None;
        picture.notes.clear();
        picture.tracks.iter_mut().for_each(|track| track.notes.clear());
        picture.parts.iter_mut().for_each(|part| part.notes.clear());
        Some(picture)
    }

    /// Whether a finding says not to connect the cable.
    #[must_use]
    pub fn is_hazard(&self) -> bool {
        self.notes.iter().any(|note| note.mark == Mark::Danger)
    }

    /// Whether a contact is at the end on the left.
    #[must_use]
    pub fn is_left(&self, contact: usize) -> bool {
        self.contacts[contact].end == 0
    }
}

/// For each contact, whether the picture shows it.
fn chosen(cable: &Cable, touched: &[Vec<u32>]) -> Vec<bool> {
    let all = cable.points.len();
    let mut shown = vec![all <= MOST_CONTACTS; all];
    let mut count = 0;
    // those of a finding with all the conductors that the map gives them, then from the first on
    let mut links: HashMap<u32, Vec<usize>> = HashMap::new();
    for (at, link) in cable.links.iter().enumerate() {
        for point in &link.points {
            links.entry(*point).or_default().push(at);
        }
    }
    let first = touched.iter().flatten().copied();
    let rest = cable.links.iter().flat_map(|link| link.points.iter().copied());
    for point in first.chain(rest) {
        if count >= MOST_CONTACTS {
            break;
        }
        let of_links = links.get(&point).into_iter().flatten().flat_map(|at| cable.links[*at].points.iter().copied());
        for point in std::iter::once(point).chain(of_links).take(16) {
            count += usize::from(!std::mem::replace(&mut shown[point as usize], true));
        }
    }
    shown
}

fn left_out(cable: &Cable, shown: &[bool]) -> Option<String> {
    let hidden = shown.iter().filter(|shown| !**shown).count();
    if hidden == 0 {
        return None;
    }
    let links = cable.links.iter().filter(|link| link.points.iter().any(|point| !shown[*point as usize])).count();
    Some(format!(
        "Left out: {hidden} of {} contacts and {links} of {} conductors, in whole or in part; contacts of a finding come first",
        shown.len(),
        cable.links.len()
    ))
}

fn faces(cable: &Cable, wiring: &Wiring, shown: &[bool]) -> (Vec<Face>, Vec<Contact>) {
    let mut contacts: Vec<Contact> = Vec::new();
    let mut faces: Vec<Face> = Vec::with_capacity(cable.ends.len());
    let mut places: Vec<HashMap<usize, (usize, usize)>> = Vec::with_capacity(cable.ends.len());
    for (end, name) in cable.ends.iter().zip(&wiring.ends) {
        let rows = &end.connector.rows;
        let widest = rows.iter().map(Vec::len).max().unwrap_or(0);
        let place = |(row, pins): (usize, &Vec<Option<usize>>)| {
            let shift = widest - pins.len();
            let found = pins.iter().enumerate().filter_map(move |(column, pin)| pin.map(|pin| (pin, (row, 2 * column + shift))));
            found.collect::<Vec<_>>()
        };
        places.push(rows.iter().enumerate().flat_map(place).collect());
        let side = end.side.as_ref().filter(|side| *side != name).map(|side| format!("  {side}")).unwrap_or_default();
        faces.push(Face {
            end: name.clone(),
            name: format!("{name}{side}"),
            connector: end.connector.title.clone(),
            laid_out: !rows.is_empty(),
            rows: rows.len().max(1),
            contacts: Vec::new(),
        });
    }
    for (point, place) in (0_u32..).zip(&cable.points) {
        if !shown[point as usize] {
            continue;
        }
        let pin = &cable.ends[place.end].connector.pins[place.pin];
        let function = cable.function(point);
        let laid = places[place.end].get(&place.pin).copied();
        let apart = laid.is_none() && (function.role == Role::Shell || faces[place.end].laid_out);
        let (row, column) = match laid {
            Some((row, column)) => (Some(row), column),
            None if apart => (None, usize::MAX),
            None => (Some(0), 2 * place.pin),
        };
        faces[place.end].contacts.push(contacts.len());
        contacts.push(Contact {
            point,
            end: place.end,
            pin: pin.pin.clone(),
            signal: function.name.clone(),
            role: function.role,
            row,
            column,
            state: State::Free,
            marked: false,
        });
    }
    for face in &mut faces {
        face.contacts.sort_by_key(|at| (contacts[*at].column, contacts[*at].row));
    }
    (faces, contacts)
}

fn sorted([a, b]: [u32; 2]) -> [u32; 2] {
    [a.min(b), a.max(b)]
}

/// The parts that the netlist names, and those of the map that it doesn't.
fn parts(cable: &Cable, wiring: &Wiring, index: &[Option<usize>]) -> Vec<Part> {
    let words = |kind: ComponentKind, points: [u32; 2], value: &str| match kind {
        ComponentKind::Diode => format!("diode, anode at {}", wiring.points[points[0] as usize]),
        _ => format!("{} {value}", kind.word()).trim_end().to_owned(),
    };
    let there: HashSet<[u32; 2]> = wiring.parts.iter().map(|part| sorted(part.points)).collect();
    let found = wiring.parts.iter().map(|part| (part.kind, part.points, words(part.kind, part.points, &part.value), false));
    let required = cable.parts.iter().filter(|part| !part.optional);
    let missing = required.filter(|part| !there.contains(&sorted(part.points))).map(|part| {
        let value = part.value.map(|value| value.short()).unwrap_or_default();
        (part.kind, part.points, words(part.kind, part.points, &value), true)
    });
    found
        .chain(missing)
        .filter_map(|(kind, [a, b], words, missing)| {
            let contacts = [index.get(a as usize).copied()??, index.get(b as usize).copied()??];
            Some(Part { contacts, words, kind, missing, notes: Vec::new() })
        })
        .collect()
}
