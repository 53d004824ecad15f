//! Which conductor runs where: one track for each net that the map wants, and one for each net that it doesn't know.
//!
//! A track belongs to one measured net, its owner: the one that holds most of the contacts that the map gives the track. Contacts
//! of the owner that the map gives to others are drawn as wrong legs of the track; contacts that the map gives to the track and
//! the owner doesn't reach, as missing ones. A net that owns several tracks bridges them.

use std::collections::{BTreeMap, HashMap};

use crate::pinmap::{Cable, Role};
use crate::verify::Wiring;

use super::model::{Contact, State};
use super::order;

/// How a stretch of a conductor is drawn.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
#[non_exhaustive]
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
#[non_exhaustive]
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
#[non_exhaustive]
pub struct Leg {
    /// The contact, as an index into [`Picture::contacts`](super::Picture::contacts).
    pub contact: usize,
    /// How it is drawn.
    pub line: Line,
}

/// Tracks that are kept together.
#[derive(Debug)]
#[non_exhaustive]
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
#[non_exhaustive]
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
    /// Of those nets, whether they reach the left and the right side.
    sides: HashMap<u32, [bool; 2]>,
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
    let joined = members(&wiring.measured);
    let is_left = |point: &u32| cable.points[*point as usize].end == 0;
    let sides = joined.iter().map(|(net, points)| (*net, [points.iter().any(is_left), !points.iter().all(is_left)]));
    let mut router = Router {
        cable,
        wiring,
        index,
        sides: sides.collect(),
        joined,
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
        let owner = self.sides.get(&plan.owner?)?;
        let across = matches!((self.sides[&net], owner), ([true, false], [false, true]) | ([false, true], [true, false]));
        let all_here = points.iter().all(|point| plan.wanted.binary_search(point).is_ok());
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
        let groups = order::group(self.cable, self.wiring, contacts, &tracks);
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
            signal: if legs.is_empty() { String::new() } else { self.signal(points) },
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
