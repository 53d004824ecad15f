//! Nets that deviate and hang together, and what is known of an arrangement of their contacts.

use std::collections::{BTreeMap, HashMap};

use crate::graph::Nets;

use super::Fault;

/// A place: contacts of one end that belong to one wanted net and to one measured net. They move as one.
pub(super) struct Place {
    pub contacts: Vec<u32>,
    pub end: usize,
    /// The wanted net that it belongs to, and the measured net that it lies in, as indices.
    pub wanted: usize,
    pub measured: usize,
}

/// Nets that deviate and hang together.
pub(super) struct Group {
    pub places: Vec<Place>,
    /// The lowest contact of each wanted net.
    pub wanted: Vec<u32>,
    /// How many measured nets there are.
    pub measured: usize,
    /// The places in each measured net.
    in_measured: Vec<Vec<usize>>,
}

/// Which place's conductor end sits on each place. At the start every place holds its own.
#[derive(Clone, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub(super) struct Arrangement {
    pub from: Vec<u32>,
}

/// How many places of each wanted net lie in each measured net, under an arrangement.
///
/// A table where it is small enough, as it nearly always is; else a map.
pub(super) struct Cells {
    table: Vec<u32>,
    width: usize,
    map: HashMap<(usize, usize), u32>,
    used: usize,
}

/// The largest table, in entries.
const TABLE: usize = 1 << 18;

impl Group {
    pub fn new(points: &[u32], wanted: &Nets, measured: &Nets, end_of: &[usize]) -> Self {
        let end = |point: u32| end_of.get(point as usize).copied().unwrap_or(0);
        let mut by_place: BTreeMap<(u32, u32, usize), Vec<u32>> = BTreeMap::new();
        for point in points {
            by_place.entry((wanted.of(*point), measured.of(*point), end(*point))).or_default().push(*point);
        }
        let mut group = Group { places: Vec::new(), wanted: Vec::new(), measured: 0, in_measured: Vec::new() };
        let mut wanted_at: HashMap<u32, usize> = HashMap::new();
        let mut measured_at: HashMap<u32, usize> = HashMap::new();
        for ((of_wanted, of_measured, end), contacts) in by_place {
            let next = group.wanted.len();
            let w = *wanted_at.entry(of_wanted).or_insert(next);
            if w == next {
                group.wanted.push(of_wanted);
            }
            let next = group.measured;
            let m = *measured_at.entry(of_measured).or_insert(next);
            if m == next {
                group.measured += 1;
                group.in_measured.push(Vec::new());
            }
            group.in_measured[m].push(group.places.len());
            group.places.push(Place { contacts, end, wanted: w, measured: m });
        }
        group
    }

    pub fn start(&self) -> Arrangement {
        Arrangement { from: (0..u32::try_from(self.places.len()).unwrap_or(u32::MAX)).collect() }
    }

    /// The wanted net whose conductor sits on a place.
    pub fn holds(&self, arrangement: &Arrangement, place: usize) -> usize {
        self.places[arrangement.from[place] as usize].wanted
    }

    pub fn cells(&self, arrangement: &Arrangement) -> Cells {
        let entries = self.wanted.len().saturating_mul(self.measured);
        let table = if entries <= TABLE { vec![0; entries] } else { Vec::new() };
        let mut cells = Cells { table, width: self.measured, map: HashMap::new(), used: 0 };
        for (at, place) in self.places.iter().enumerate() {
            cells.add((self.holds(arrangement, at), place.measured));
        }
        cells
    }

    /// Gives the exchanges that can help, some of them twice: those by which at least one of the two conductors comes to
    /// a measured net that it is in already.
    pub fn each_useful_exchange(&self, arrangement: &Arrangement, mut give: impl FnMut((usize, usize))) {
        let mut now_on: Vec<Vec<usize>> = vec![Vec::new(); self.wanted.len()];
        for at in 0..self.places.len() {
            now_on[self.holds(arrangement, at)].push(at);
        }
        for (at, place) in self.places.iter().enumerate() {
            let own = self.holds(arrangement, at);
            for mate in &self.in_measured[place.measured] {
                let wanted = self.holds(arrangement, *mate);
                if *mate == at || wanted == own {
                    continue;
                }
                for other in &now_on[wanted] {
                    if self.places[*other].end == place.end && self.places[*other].measured != place.measured {
                        give((at.min(*other), at.max(*other)));
                    }
                }
            }
        }
    }

    /// By how much the number of cells changes if two places exchange what they hold.
    pub fn change(&self, arrangement: &Arrangement, cells: &Cells, (a, b): (usize, usize)) -> i32 {
        let (wa, wb) = (self.holds(arrangement, a), self.holds(arrangement, b));
        let (ma, mb) = (self.places[a].measured, self.places[b].measured);
        if wa == wb || ma == mb {
            return 0;
        }
        let leaves = |cell| i32::from(cells.count(cell) == 1);
        let comes = |cell| i32::from(cells.count(cell) == 0);
        comes((wb, ma)) + comes((wa, mb)) - leaves((wa, ma)) - leaves((wb, mb))
    }

    /// The circles in which conductors moved: what belongs on each place is found on the next.
    pub fn circles(&self, arrangement: &Arrangement) -> Vec<Vec<usize>> {
        let mut next = vec![0; self.places.len()];
        for (at, from) in arrangement.from.iter().enumerate() {
            next[*from as usize] = at;
        }
        let mut seen = vec![false; next.len()];
        let mut circles = Vec::new();
        for start in 0..next.len() {
            let mut circle = Vec::new();
            let mut at = start;
            while !std::mem::replace(&mut seen[at], true) {
                circle.push(at);
                at = next[at];
            }
            if circle.len() > 1 {
                circles.push(circle);
            }
        }
        circles
    }

    /// The faults that an arrangement stands for.
    pub fn faults(&self, arrangement: &Arrangement, to: &mut Vec<Fault>) {
        for circle in self.circles(arrangement) {
            to.push(Fault::Exchange { places: circle.iter().map(|at| self.places[*at].contacts.clone()).collect() });
        }
        let mut by_wanted: BTreeMap<usize, BTreeMap<usize, Vec<u32>>> = BTreeMap::new();
        let mut by_measured: BTreeMap<usize, (Vec<usize>, Vec<u32>)> = BTreeMap::new();
        for (at, place) in self.places.iter().enumerate() {
            let holds = self.holds(arrangement, at);
            by_wanted.entry(holds).or_default().entry(place.measured).or_default().extend(&place.contacts);
            let (nets, contacts) = by_measured.entry(place.measured).or_default();
            if !nets.contains(&holds) {
                nets.push(holds);
            }
            contacts.extend(&place.contacts);
        }
        for (net, pieces) in by_wanted {
            if pieces.len() > 1 {
                let mut pieces: Vec<Vec<u32>> = pieces.into_values().collect();
                pieces.iter_mut().for_each(|piece| piece.sort_unstable());
                pieces.sort_unstable();
                to.push(Fault::Open { net: self.wanted[net], pieces });
            }
        }
        for (nets, mut contacts) in by_measured.into_values() {
            if nets.len() > 1 {
                contacts.sort_unstable();
                let mut nets: Vec<u32> = nets.iter().map(|net| self.wanted[*net]).collect();
                nets.sort_unstable();
                to.push(Fault::Join { nets, contacts });
            }
        }
    }
}

impl Arrangement {
    pub fn exchanged(&self, (a, b): (usize, usize)) -> Self {
        let mut next = self.clone();
        next.from.swap(a, b);
        next
    }
}

impl Cells {
    /// How many overlaps there are.
    pub fn len(&self) -> usize {
        self.used
    }

    fn count(&self, cell: (usize, usize)) -> u32 {
        if self.table.is_empty() { self.map.get(&cell).copied().unwrap_or(0) } else { self.table[cell.0 * self.width + cell.1] }
    }

    fn entry(&mut self, cell: (usize, usize)) -> &mut u32 {
        if self.table.is_empty() { self.map.entry(cell).or_default() } else { &mut self.table[cell.0 * self.width + cell.1] }
    }

    fn add(&mut self, cell: (usize, usize)) {
        let count = self.entry(cell);
        *count += 1;
        self.used += usize::from(*count == 1);
    }

    fn remove(&mut self, cell: (usize, usize)) {
        let count = self.entry(cell);
        *count = count.saturating_sub(1);
        self.used -= usize::from(*count == 0);
    }

    /// Follows an exchange of two places.
    pub fn exchange(&mut self, group: &Group, before: &Arrangement, (a, b): (usize, usize)) {
        let (wa, wb) = (group.holds(before, a), group.holds(before, b));
        let (ma, mb) = (group.places[a].measured, group.places[b].measured);
        self.remove((wa, ma));
        self.remove((wb, mb));
        self.add((wb, ma));
        self.add((wa, mb));
    }
}
