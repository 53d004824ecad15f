//! Which conductor runs where: one track for each net that the map wants, and one for each net that it doesn't know.
//!
//! A track belongs to one measured net, its owner: the one that holds most of the contacts that the map gives the track. Contacts
//! of the owner that the map gives to others are drawn as wrong legs of the track; contacts that the map gives to the track and
//! the owner doesn't reach, as missing ones. A net that owns several tracks bridges them.

use std::collections::{BTreeMap, HashMap};

use crate::pinmap::{Cable, Role};
use crate::verify::Wiring;

use super::model::{Contact, State};

/// How a stretch of a conductor is drawn.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Line {
    /// There, and wanted.
    Sound,
    /// Wanted, and not there.
    Missing,
    /// There, and not wanted.
    Wrong,
}

/// A conductor between the contact fields.
#[derive(Debug)]
pub struct Track {
    /// What it carries.
    pub signal: String,
    /// The role of its first contact.
    pub role: Role,
    /// From which contacts it is reached.
    pub legs: Vec<Leg>,
    /// The stretch between the two sides; none where it stays on one side.
    pub middle: Option<Line>,
    /// True for the overall screen: a conductor that joins the shells.
    pub is_screen: bool,
    /// The findings that concern it, as indices into [`Picture::notes`](super::Picture::notes).
    pub notes: Vec<usize>,
    /// How many of its contacts are left out of the picture.
    pub more: usize,
}

/// From a contact to a track.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Leg {
    /// The contact, as an index into [`Picture::contacts`](super::Picture::contacts).
    pub contact: usize,
    /// How it is drawn.
    pub line: Line,
}

/// Tracks that are kept together.
#[derive(Debug)]
pub struct Group {
    /// True for a pair.
    pub is_pair: bool,
    /// True where the pair has a screen of its own: the connector lands its drain, or the netlist names it.
    pub screened: bool,
    /// The tracks, as indices into [`Picture::tracks`](super::Picture::tracks).
    pub tracks: Vec<usize>,
}

/// Tracks that are one net.
#[derive(Debug)]
pub struct Bridge {
    /// The tracks, in their order from the top.
    pub tracks: Vec<usize>,
}

pub(super) struct Routed {
    pub tracks: Vec<Track>,
    pub groups: Vec<Group>,
    pub bridges: Vec<Bridge>,
    pub states: Vec<State>,
}

/// A track before it is drawn.
#[derive(Default)]
struct Plan {
    /// The contacts that the map gives it, by their numbers in the map.
    wanted: Vec<u32>,
    /// The measured net that it belongs to.
    owner: Option<u32>,
}

struct Router<'a> {
    cable: &'a Cable,
    wiring: &'a Wiring,
    /// The shown contact of a point of the map.
    index: &'a [Option<usize>],
    /// The measured nets of two contacts or more.
    joined: BTreeMap<u32, Vec<u32>>,
    plans: Vec<Plan>,
    /// The track of a wanted net.
    track_of: HashMap<u32, usize>,
    /// The tracks that a measured net owns.
    owned: BTreeMap<u32, Vec<usize>>,
}

pub(super) fn route(cable: &Cable, wiring: &Wiring, contacts: &[Contact], index: &[Option<usize>]) -> Routed {
    let members = |nets: &crate::graph::Nets| -> BTreeMap<u32, Vec<u32>> {
        let several = nets.members().into_iter().filter(|net| net.len() > 1);
        several.map(|net| (net[0], net)).collect()
    };
    let mut router = Router {
        cable,
        wiring,
        index,
        joined: members(&wiring.measured),
        plans: Vec::new(),
        track_of: HashMap::new(),
        owned: BTreeMap::new(),
    };
    for (net, wanted) in members(&wiring.wanted) {
        router.track_of.insert(net, router.plans.len());
        router.plans.push(Plan { wanted, owner: None });
    }
    router.owners();
    router.more_tracks();
    router.finish(contacts)
}

impl Router<'_> {
    fn is_joined(&self, net: u32) -> bool {
        self.joined.contains_key(&net)
    }

    fn own(&mut self, track: usize, net: u32) {
        self.plans[track].owner = Some(net);
        if self.is_joined(net) {
            self.owned.entry(net).or_default().push(track);
        }
    }

    /// Gives each track its owner: first by the majority of its contacts, then, of those nets that own nothing yet, the one
    /// that is joined to something and has the lowest contact.
    fn owners(&mut self) {
        for track in 0..self.plans.len() {
            let mut counts: BTreeMap<u32, usize> = BTreeMap::new();
            for point in &self.plans[track].wanted {
                *counts.entry(self.wiring.measured.of(*point)).or_default() += 1;
            }
            let most = counts.iter().max_by_key(|(net, count)| (**count, u32::MAX - **net)).map(|(net, count)| (*net, *count));
            if let Some((net, _)) = most.filter(|(_, count)| *count > 1) {
                self.own(track, net);
            }
        }
        for track in 0..self.plans.len() {
            if self.plans[track].owner.is_some() {
                continue;
            }
            let nets = self.plans[track].wanted.iter().map(|point| self.wiring.measured.of(*point));
            let free = nets.filter(|net| !self.owned.contains_key(net));
            if let Some(net) = free.min_by_key(|net| (!self.is_joined(*net), *net)) {
                self.own(track, net);
            }
        }
    }

    /// A track for each net that owns none; a piece of a broken conductor that lies wholly across from the rest needs none.
    fn more_tracks(&mut self) {
        let nets: Vec<u32> = self.joined.keys().copied().filter(|net| !self.owned.contains_key(net)).collect();
        for net in nets {
            if self.far_piece(net).is_none() {
                let track = self.plans.len();
                self.plans.push(Plan::default());
                self.own(track, net);
            }
        }
    }

    /// The track of which a net is a piece: all of it wanted there, on the other side than its owner.
    fn far_piece(&self, net: u32) -> Option<usize> {
        let points = &self.joined[&net];
        let track = self.track_of.get(&self.wiring.wanted.of(points[0])).copied()?;
        let plan = &self.plans[track];
        let side = self.is_left(points[0]);
        let all_here = points.iter().all(|point| self.is_left(*point) == side && plan.wanted.binary_search(point).is_ok());
        let owner = self.joined.get(&plan.owner?).map_or(&plan.wanted[..0], Vec::as_slice);
        let across = !owner.is_empty() && owner.iter().all(|point| self.is_left(*point) != side);
        (all_here && across).then_some(track)
    }

    fn is_left(&self, point: u32) -> bool {
        self.cable.points[point as usize].end == 0
    }

    fn finish(self, contacts: &[Contact]) -> Routed {
        let mut states = vec![State::Free; contacts.len()];
        let mut tracks: Vec<Track> = Vec::with_capacity(self.plans.len());
        let mut kept = vec![None; self.plans.len()];
        for (at, plan) in self.plans.iter().enumerate() {
            let track = self.track(at, plan, &mut states);
            if !track.legs.is_empty() {
                kept[at] = Some(tracks.len());
                tracks.push(track);
            }
        }
        for (contact, state) in contacts.iter().zip(&mut states) {
            if *state == State::Free && !self.wiring.probed[contact.point as usize] {
                *state = State::NotProbed;
            }
        }
        let groups = group(self.cable, self.wiring, contacts, &tracks);
        let mut place = vec![0; tracks.len()];
        for (nth, track) in groups.iter().flat_map(|group| &group.tracks).enumerate() {
            place[*track] = nth;
        }
        let bridges = self
            .owned
            .values()
            .filter_map(|owned| {
                let mut tracks: Vec<usize> = owned.iter().filter_map(|track| kept[*track]).collect();
                tracks.sort_by_key(|track| place[*track]);
                (tracks.len() > 1).then_some(Bridge { tracks })
            })
            .collect();
        Routed { tracks, groups, bridges, states }
    }

    fn track(&self, at: usize, plan: &Plan, states: &mut [State]) -> Track {
        let measured = &self.wiring.measured;
        let mut legs: Vec<Leg> = Vec::new();
        let mut more = 0;
        // which sides the owner reaches, left first: with contacts of its own, and with those of others
        let (mut own, mut reached, mut wanted) = ([false; 2], [false; 2], [false; 2]);
        let side = |point: u32| usize::from(!self.is_left(point));
        let mut leg = |point: u32, line: Line, state: State| match self.index[point as usize] {
            Some(contact) => {
                legs.push(Leg { contact, line });
                states[contact] = if states[contact] == State::Wrong { State::Wrong } else { state };
            }
            None => more += 1,
        };
        for point in &plan.wanted {
            wanted[side(*point)] = true;
            let net = measured.of(*point);
            if Some(net) == plan.owner && self.is_joined(net) {
                own[side(*point)] = true;
                leg(*point, Line::Sound, State::Sound);
            } else if self.is_joined(net) && !self.owned.contains_key(&net) {
                leg(*point, Line::Sound, State::Sound);
            } else if self.is_joined(net) {
                leg(*point, Line::Missing, State::Wrong);
            } else {
                leg(*point, Line::Missing, State::Missing);
            }
        }
        let owner = plan.owner.filter(|net| self.is_joined(*net));
        let first_owned = owner.and_then(|net| self.owned.get(&net)).and_then(|tracks| tracks.first());
        if let Some(net) = owner {
            for point in &self.joined[&net] {
                let home = self.track_of.get(&self.wiring.wanted.of(*point));
                let at_home = home.is_some_and(|home| self.plans[*home].owner == Some(net));
                if !at_home && first_owned == Some(&at) {
                    reached[side(*point)] = true;
                    leg(*point, Line::Wrong, State::Wrong);
                }
            }
        }
        let middle = if own == [true; 2] {
            Some(Line::Sound)
        } else if (0..2).all(|side| own[side] || reached[side]) {
            Some(Line::Wrong)
        } else if wanted == [true; 2] {
            Some(Line::Missing)
        } else {
            None
        };
        legs.sort_by_key(|leg| (leg.contact, leg.line));
        let points = if plan.wanted.is_empty() { owner.map_or(&[][..], |net| &self.joined[&net]) } else { &plan.wanted };
        let shells = [true, false]
            .map(|left| points.iter().any(|point| self.is_left(*point) == left && self.cable.role(*point) == Role::Shell));
        Track {
            signal: self.signal(points),
            role: points.first().map_or(Role::Unused, |point| self.cable.role(*point)),
            legs,
            middle,
            is_screen: shells == [true; 2] && !plan.wanted.is_empty(),
            notes: Vec::new(),
            more,
        }
    }

    /// What a net carries: the signals of its contacts, each once, the first two in words.
    fn signal(&self, points: &[u32]) -> String {
        let mut signals: Vec<&str> = Vec::new();
        for point in points {
            let signal = self.cable.function(*point).name.as_str();
            if !signals.contains(&signal) && signals.len() < 4 {
                signals.push(signal);
            }
        }
        // a conductor of two contacts that each side calls otherwise goes by the name that the map gives it
        if signals.len() > 1
            && points.len() == 2
            && let Some(link) = self.cable.links.iter().find(|link| link.points == points)
        {
            return link.signal.clone();
        }
        match signals[..] {
            [] => String::new(),
            [one] => one.to_owned(),
            [one, two] => format!("{one} + {two}"),
            [one, two, ..] => format!("{one} + {two} + …"),
        }
    }
}

/// A pair: by its end and the name that the map gives it, or by its number among those that the netlist names.
#[derive(Clone, PartialEq, Eq, Hash)]
enum Pair {
    Mapped(usize, String),
    Twisted(usize),
}

/// The contacts that a track really joins.
fn there<'a>(track: &'a Track, contacts: &'a [Contact]) -> impl Iterator<Item = u32> + 'a {
    track.legs.iter().filter(|leg| leg.line != Line::Missing).map(|leg| contacts[leg.contact].point)
}

/// Tracks in their order from the top: by the contacts of the first end, pairs together, the overall screen last.
///
/// Pairs are those that the netlist calls twisted together; those of the map where it calls none.
fn group(cable: &Cable, wiring: &Wiring, contacts: &[Contact], tracks: &[Track]) -> Vec<Group> {
    let mut rank = vec![0_usize; contacts.len()];
    let mut order: Vec<usize> = (0..contacts.len()).collect();
    order.sort_by_key(|at| (contacts[*at].end, contacts[*at].column, contacts[*at].row));
    for (nth, at) in order.into_iter().enumerate() {
        rank[at] = nth;
    }
    let connector = |contact: &Contact| &cable.ends[contact.end].connector;
    let pin = |contact: &Contact| &connector(contact).pins[cable.points[contact.point as usize].pin];
    let first =
        |track: &Track| track.legs.iter().find(|leg| leg.line != Line::Wrong).or(track.legs.first()).map(|leg| leg.contact);
    let mut groups: Vec<Group> = Vec::new();
    let mut by_pair: HashMap<Pair, usize> = HashMap::new();
    let mut twisted: HashMap<u32, usize> = HashMap::new();
    let mut screens: HashMap<u32, Vec<usize>> = HashMap::new();
    for (nth, (points, screen)) in wiring.twisted.iter().enumerate() {
        twisted.extend(points.map(|point| (point, nth)));
        if let Some(point) = screen {
            screens.entry(*point).or_default().push(nth);
        }
    }
    for (at, track) in tracks.iter().enumerate() {
        let contact = first(track).map(|contact| &contacts[contact]);
        let lies_in = |contact: &Contact| match twisted.is_empty() {
            true => Some(Pair::Mapped(contact.end, cable.function(contact.point).pair.clone()?)),
            false => there(track, contacts).find_map(|point| twisted.get(&point)).map(|nth| Pair::Twisted(*nth)),
        };
        if let Some(key) = contact.and_then(lies_in).filter(|_| !track.is_screen) {
            let group = *by_pair.entry(key.clone()).or_insert_with(|| {
                let screened = match &key {
                    Pair::Mapped(end, name) => cable.ends[*end].connector.pins.iter().any(|pin| pin.drains.contains(name)),
                    Pair::Twisted(nth) => wiring.twisted[*nth].1.is_some(),
                };
                groups.push(Group { is_pair: true, screened, tracks: Vec::new() });
                groups.len() - 1
            });
            groups[group].tracks.push(at);
        } else {
            groups.push(Group { is_pair: false, screened: false, tracks: vec![at] });
        }
    }
    // the drain of one pair's screen lies with that pair
    for (at, track) in tracks.iter().enumerate() {
        let Some(contact) = first(track).map(|contact| &contacts[contact]).filter(|_| !track.is_screen) else { continue };
        let pair = match (twisted.is_empty(), pin(contact).drains.as_slice()) {
            (true, [pair]) => Pair::Mapped(contact.end, pair.clone()),
            (true, _) => continue,
            (false, _) => match there(track, contacts).find_map(|point| screens.get(&point)).map(Vec::as_slice) {
                Some([nth]) => Pair::Twisted(*nth),
                _ => continue,
            },
        };
        if let Some(group) = by_pair.get(&pair) {
            groups.iter_mut().filter(|group| group.tracks == [at]).for_each(|group| group.tracks.clear());
            groups[*group].tracks.push(at);
        }
    }
    groups.retain(|group| !group.tracks.is_empty());
    let middle = |track: usize| {
        let legs = || tracks[track].legs.iter().filter(|leg| leg.line != Line::Wrong || tracks[track].legs.len() == 2);
        let left: Vec<usize> = legs().filter(|leg| contacts[leg.contact].end == 0).map(|leg| rank[leg.contact]).collect();
        let all: Vec<usize> = if left.is_empty() { legs().map(|leg| rank[leg.contact]).collect() } else { left };
        all.iter().sum::<usize>() * 16 / all.len().max(1)
    };
    for group in &mut groups {
        group.tracks.sort_by_key(|track| middle(*track));
    }
    groups.sort_by_key(|group| {
        let places: Vec<usize> = group.tracks.iter().map(|track| middle(*track)).collect();
        let screen = group.tracks.iter().any(|track| tracks[*track].is_screen);
        (screen, places.iter().sum::<usize>() / places.len().max(1))
    });
    groups
}
