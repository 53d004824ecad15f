//! The conductors of a sound unit as a network: wires, screens and ties in a plug, and which of them hide each other.
//!
//! A continuity test shows the loss of a conductor only where it is the one way between its two sides, a bridge of the
//! network. For every other conductor the change of resistance that its loss makes is worked out.

use std::collections::{BTreeMap, HashMap};

use petgraph::unionfind::UnionFind;

use crate::graph::{Nets, Network};
use crate::pinmap::{Cable, Link, Pairing, Role};

use super::expected::Wire;

/// The resistance of a braid or foil with its drain, in ohm per metre (common practice, no source: it lies between 5 and 30
/// milliohm for cables of this size).
const SCREEN_OHM_PER_METRE: f64 = 0.015;

/// What a conductor is made of.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub enum ConductorKind {
    /// A wire from end to end.
    Wire,
    /// A braid or foil from shell to shell.
    Screen,
    /// A tie inside one plug.
    Tie,
}

/// A physical conductor between two contacts.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub struct Conductor {
    /// The row of the map; none for what a plug may common.
    pub link: Option<usize>,
    /// Its two contacts.
    pub points: [u32; 2],
    /// What it is made of.
    pub kind: ConductorKind,
}

/// A conductor whose loss continuity can't show.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub struct Masked {
    /// The conductor.
    pub conductor: Conductor,
    /// The resistance between its contacts in ohm, with it and without it, where length and gauge are known.
    pub change: Option<[f64; 2]>,
}

impl Masked {
    /// The change of resistance that its loss makes, in ohm and in percent.
    #[must_use]
    pub fn step(&self) -> Option<(f64, f64)> {
        let [with, without] = self.change?;
        (with > 0.0).then(|| (without - with, (without - with) / with * 100.0))
    }
}

/// The conductors of a unit that has these nets.
///
/// A row of the map with several contacts at one end is one wire from end to end and a tie to each further contact. Rows
/// that share a net are commoned: they are taken to be tied at every end where they meet, since a net doesn't tell at which.
#[must_use]
pub fn conductors(cable: &Cable, nets: &Nets) -> Vec<Conductor> {
    let mut all = Conductors { cable, nets, found: Vec::with_capacity(cable.links.len()), met: HashMap::new() };
    let mut free: BTreeMap<(usize, u32), Vec<u32>> = BTreeMap::new();
    for (at, link) in cable.links.iter().enumerate() {
        if let Some(group) = link.group.filter(|group| cable.groups[*group].pairing == Pairing::Any)
            && cable.role(link.points[0]) != Role::Shell
        {
            for point in &link.points {
                free.entry((group, nets.of(*point))).or_default().push(*point);
            }
        } else {
            all.row(at, link);
        }
    }
    for ((group, _), contacts) in free {
        all.free(group, &contacts);
    }
    all.found
}

struct Conductors<'a> {
    cable: &'a Cable,
    nets: &'a Nets,
    found: Vec<Conductor>,
    /// The first contact of each group, net and end.
    met: HashMap<(usize, u32, usize), u32>,
}

impl Conductors<'_> {
    fn end(&self, point: u32) -> usize {
        self.cable.points[point as usize].end
    }

    /// What a row of the map joins: its contacts, as far as each net holds them.
    fn row(&mut self, at: usize, link: &Link) {
        let kind = if self.cable.role(link.points[0]) == Role::Shell { ConductorKind::Screen } else { ConductorKind::Wire };
        let mut hubs: Vec<u32> = Vec::new();
        for point in &link.points {
            let same_net = |hub: &&u32| self.nets.same(**hub, *point);
            match hubs.iter().filter(same_net).find(|hub| self.end(**hub) == self.end(*point)) {
                Some(hub) => self.found.push(Conductor { link: Some(at), points: [*hub, *point], kind: ConductorKind::Tie }),
                None => {
                    if let Some(hub) = hubs.iter().rfind(same_net) {
                        self.found.push(Conductor { link: Some(at), points: [*hub, *point], kind });
                    }
                    hubs.push(*point);
                }
            }
        }
        if let Some(group) = link.group {
            for hub in hubs {
                self.meet(group, hub);
            }
        }
    }

    /// Contacts of one net whose partners are free: wire for wire in their order, and the rest tied in the plug.
    fn free(&mut self, group: usize, contacts: &[u32]) {
        let mut by_end: BTreeMap<usize, Vec<u32>> = BTreeMap::new();
        for contact in contacts {
            by_end.entry(self.end(*contact)).or_default().push(*contact);
        }
        let ends: Vec<&Vec<u32>> = by_end.values().collect();
        for pair in ends.windows(2) {
            for (a, b) in pair[0].iter().zip(pair[1]) {
                self.found.push(Conductor { link: self.row_of(*a), points: [*a, *b], kind: ConductorKind::Wire });
            }
        }
        for contact in contacts {
            self.meet(group, *contact);
        }
    }

    fn row_of(&self, contact: u32) -> Option<usize> {
        self.cable.links_at(contact).next()
    }

    /// Ties a contact to the first of its group, net and end.
    fn meet(&mut self, group: usize, contact: u32) {
        let first = *self.met.entry((group, self.nets.of(contact), self.end(contact))).or_insert(contact);
        if first != contact {
            self.found.push(Conductor { link: None, points: [first, contact], kind: ConductorKind::Tie });
        }
    }
}

/// The conductors that others hide, with the change of resistance that the loss of each makes.
///
/// Ties that a plug may have, but need not, are not among them. `wire` is that of the header, `metres` its length.
pub(in crate::verify) fn masked(cable: &Cable, conductors: &[Conductor], wire: Option<(Wire, f64)>) -> Vec<Masked> {
    let ohm = |conductor: &Conductor| match (conductor.kind, wire) {
        (ConductorKind::Tie, _) => 0.0,
        (ConductorKind::Wire, Some((wire, _))) => wire.nominal,
        (ConductorKind::Screen, Some((_, metres))) => SCREEN_OHM_PER_METRE * metres,
        (_, None) => 1.0,
    };
    if !has_circle(conductors, cable.points.len()) {
        return Vec::new();
    }
    let n = u32::try_from(cable.points.len()).unwrap_or(u32::MAX);
    let edges = conductors.iter().map(|conductor| (conductor.points[0], conductor.points[1], ohm(conductor)));
    let Ok(network) = Network::new(n, edges) else { return Vec::new() };
    let seen = network.bridges();
    let hidden = (0..conductors.len()).filter(|at| conductors[*at].link.is_some() && seen.binary_search(at).is_err());
    hidden
        .map(|at| {
            let conductor = conductors[at];
            let [a, b] = conductor.points;
            let change = wire.filter(|_| conductor.kind != ConductorKind::Tie);
            // the two contacts that are probed lie in series with whatever is in parallel behind them
            let change = change.and_then(|_| Some([network.effective(a, b)?, network.without(at, a, b)?]));
            let change = change.map(|change| change.map(|ohm| ohm + Wire::contacts()));
            Masked { conductor, change }
        })
        .collect()
}

/// Whether the conductors hold a circle, so that some of them may hide others.
fn has_circle(conductors: &[Conductor], points: usize) -> bool {
    let mut sets = UnionFind::<u32>::new(points);
    conductors.iter().any(|conductor| !sets.union(conductor.points[0], conductor.points[1]))
}
