//! The search, one independent group of deviating nets at a time.

use std::cmp::Reverse;
use std::collections::{BinaryHeap, HashSet};

use crate::graph::Nets;

use super::group::{Arrangement, Group};
use super::{Explanation, Fault};

/// What each fault costs: the less it costs, the less it surprises.
///
/// The weights only rank explanations of one unit; common practice, no source. Breaking, bridging and exchanging two
/// contacts weigh the same, so that the explanation with the fewest faults wins.
#[derive(Clone, Copy, Debug)]
#[non_exhaustive]
pub struct Cost;

impl Cost {
    /// Each break of a wanted net.
    pub const OPEN: u32 = 10;
    /// Each bridge between two wanted nets.
    pub const JOIN: u32 = 10;
    /// Each exchange of two contacts; a circle of n contacts takes n − 1.
    pub const EXCHANGE: u32 = 10;
}

/// How much a search may look at before it gives the best answer that it has, as not proven: arrangements times places.
const EFFORT: usize = 400_000;

/// How much it may look at in search of others that cost the same, and how many of them are kept.
const EFFORT_ALIKE: usize = 20_000;
const ALIKE: usize = 16;

/// How many groups of nets may be told over again in search of the least surprising set: a harness with thousands of faults
/// keeps the first answer for the rest, which costs the same.
const EFFORT_TOLD: usize = 1_000_000;

/// Explains measured nets by the least surprising set of faults.
///
/// `end_of` gives each point's end: contacts only change places within one end. The two partitions must have the same
/// points.
///
/// The model: at each end, conductors may sit on each other's places, at [`Cost::EXCHANGE`] for each exchange. Whatever
/// they sit on, the rest follows: where c is the number of overlaps between the wanted nets (as they sit now) and the
/// measured ones, c less the number of wanted nets are breaks, and c less the number of measured nets are bridges. So the
/// search is one over arrangements, by A* (P. Hart, N. Nilsson, B. Raphael, 1968): an exchange takes away at most two
/// overlaps, and there are never fewer of them than nets, which bounds what is left. A descent that takes the best
/// exchange as long as one helps gives the first answer, and the answer where the search runs out of effort.
#[must_use]
pub fn explain(wanted: &Nets, measured: &Nets, end_of: &[usize]) -> Explanation {
    explain_by(wanted, measured, end_of, |_| 0)
}

/// Like [`explain`]; among explanations that cost the same, prefers the one whose faults surprise least.
///
/// `surprise` tells that of a whole set of faults, in the terms of [`Cost`]: what it knows to be one fault counts once,
/// and one fault may take in two of those given. It is asked only where there is more than one fault.
#[must_use]
pub fn explain_by(wanted: &Nets, measured: &Nets, end_of: &[usize], surprise: impl Fn(&[Fault]) -> u32) -> Explanation {
    let n = end_of.len();
    let mut explanation = Explanation { faults: Vec::new(), cost: 0, proven: true };
    let mut explained: Vec<(Group, Found)> = Vec::new();
    let links = (0..n).flat_map(|point| {
        let point = u32::try_from(point).unwrap_or(u32::MAX);
        [(point, wanted.of(point)), (point, measured.of(point))]
    });
    let groups = Nets::new(n, links);
    for points in groups.members() {
        if points.iter().all(|point| wanted.of(*point) == measured.of(*point)) {
            continue;
        }
        let group = Group::new(&points, wanted, measured, end_of);
        let found = Search { group: &group }.best();
        explanation.cost += found.cost;
        explanation.proven &= found.proven;
        explained.push((group, found));
    }
    if explanation.cost > Cost::OPEN {
        least_surprising(&mut explained, surprise);
    }
    for (group, found) in &explained {
        group.faults(&found.arrangement, &mut explanation.faults);
    }
    explanation
}

/// Takes, group by group, the arrangement of the same cost that makes the whole set of faults the least surprising.
fn least_surprising(explained: &mut [(Group, Found)], surprise: impl Fn(&[Fault]) -> u32) {
    let told = |explained: &[(Group, Found)]| {
        let mut faults = Vec::new();
        explained.iter().for_each(|(group, found)| group.faults(&found.arrangement, &mut faults));
        surprise(&faults)
    };
    // one fault takes in two groups at most
    let possible = u32::try_from(explained.len().div_ceil(2)).unwrap_or(u32::MAX).saturating_mul(Cost::OPEN);
    let mut least = told(explained);
    let mut effort = EFFORT_TOLD / explained.len().max(1);
    for at in 0..explained.len() {
        if least <= possible {
            return;
        }
        let (group, found) = &explained[at];
        for other in (Search { group }).as_cheap(found) {
            if effort == 0 {
                return;
            }
            effort -= 1;
            let before = std::mem::replace(&mut explained[at].1.arrangement, other);
            let this = told(explained);
            if this < least {
                least = this;
            } else {
                explained[at].1.arrangement = before;
            }
        }
    }
}

struct Search<'g> {
    group: &'g Group,
}

struct Found {
    arrangement: Arrangement,
    cost: u32,
    rank: Rank,
    proven: bool,
}

/// Among equal costs: few ends, then few contacts, then the later end, so that one end is named throughout.
type Rank = (usize, usize, usize);

impl Search<'_> {
    /// What breaks and bridges cost with so many overlaps.
    fn rest(&self, cells: usize) -> u32 {
        let of = |nets: usize| u32::try_from(cells.saturating_sub(nets)).unwrap_or(u32::MAX);
        of(self.group.wanted.len()) * Cost::OPEN + of(self.group.measured) * Cost::JOIN
    }

    /// The least that can come after an arrangement with so many overlaps, exchanges and all.
    fn bound(&self, cells: usize) -> u32 {
        let least = self.group.wanted.len().max(self.group.measured);
        let (mut cells, mut exchanges, mut best) = (cells, 0, self.rest(cells));
        while cells > least {
            cells = cells.saturating_sub(2).max(least);
            exchanges += Cost::EXCHANGE;
            best = best.min(exchanges + self.rest(cells));
        }
        best
    }

    fn exchanges(&self, arrangement: &Arrangement) -> u32 {
        let moved: usize = self.group.circles(arrangement).iter().map(|circle| circle.len() - 1).sum();
        u32::try_from(moved).unwrap_or(u32::MAX) * Cost::EXCHANGE
    }

    fn rank(&self, arrangement: &Arrangement) -> Rank {
        let mut ends: Vec<usize> = Vec::new();
        let mut contacts = 0;
        for (at, from) in arrangement.from.iter().enumerate() {
            if *from as usize != at {
                let place = &self.group.places[at];
                contacts += place.contacts.len();
                if !ends.contains(&place.end) {
                    ends.push(place.end);
                }
            }
        }
        (ends.len(), contacts, ends.iter().map(|end| 100_usize.saturating_sub(*end)).sum())
    }

    fn found(&self, arrangement: Arrangement, cells: usize) -> Found {
        let cost = self.exchanges(&arrangement) + self.rest(cells);
        let rank = self.rank(&arrangement);
        Found { arrangement, cost, rank, proven: false }
    }

    /// Takes the exchange that removes most overlaps, as long as there is one that removes any.
    fn descend(&self) -> Found {
        let mut arrangement = self.group.start();
        let mut cells = self.group.cells(&arrangement);
        loop {
            // among equals the last place: the later end is preferred
            let mut best: Option<(i32, Reverse<(usize, usize)>)> = None;
            self.group.each_useful_exchange(&arrangement, |pair| {
                let this = (self.group.change(&arrangement, &cells, pair), Reverse(pair));
                best = Some(best.map_or(this, |best| best.min(this)));
            });
            match best {
                Some((change, Reverse(pair))) if change < 0 => {
                    cells.exchange(self.group, &arrangement, pair);
                    arrangement = arrangement.exchanged(pair);
                }
                _ => break,
            }
        }
        let count = cells.len();
        self.found(arrangement, count)
    }

    fn best(&self) -> Found {
        let start = self.group.start();
        let cells = self.group.cells(&start).len();
        let mut best = self.descend();
        let as_it_is = self.found(start.clone(), cells);
        if (as_it_is.cost, as_it_is.rank) < (best.cost, best.rank) {
            best = as_it_is;
        }
        let lowest = self.bound(cells);
        if best.cost == lowest && best.rank.1 <= 2 {
            best.proven = true;
            return best;
        }
        let mut seen: HashSet<Vec<u32>> = HashSet::new();
        let mut open = BinaryHeap::new();
        open.push(Reverse((lowest, self.rank(&start), start)));
        let mut effort = EFFORT / self.group.places.len().max(1);
        while let Some(Reverse((least, _, arrangement))) = open.pop() {
            if least > best.cost || (least == best.cost && best.rank.1 <= 2) {
                break;
            }
            let mut cells = self.group.cells(&arrangement);
            let mut exchanges = Vec::new();
            self.group.each_useful_exchange(&arrangement, |pair| exchanges.push(pair));
            exchanges.sort_unstable();
            exchanges.dedup();
            for pair in exchanges {
                if self.group.change(&arrangement, &cells, pair) > 0 {
                    continue;
                }
                let next = arrangement.exchanged(pair);
                if !seen.insert(next.from.clone()) {
                    continue;
                }
                if effort == 0 {
                    return best;
                }
                effort -= 1;
                cells.exchange(self.group, &arrangement, pair);
                let count = cells.len();
                cells.exchange(self.group, &next, pair);
                let found = self.found(next, count);
                let least = self.exchanges(&found.arrangement) + self.bound(count);
                let (rank, arrangement) = (found.rank, found.arrangement.clone());
                if (found.cost, found.rank) < (best.cost, best.rank) {
                    best = found;
                }
                if least <= best.cost {
                    open.push(Reverse((least, rank, arrangement)));
                }
            }
        }
        best.proven = true;
        best
    }
    /// Other arrangements that cost as much as the cheapest one, the best first; none where it isn't proven.
    fn as_cheap(&self, cheapest: &Found) -> Vec<Arrangement> {
        let mut alike: Vec<(Rank, Arrangement)> = Vec::new();
        let mut queue = vec![self.group.start()];
        let mut seen: HashSet<Vec<u32>> = queue.iter().map(|start| start.from.clone()).collect();
        let mut effort = if cheapest.proven { EFFORT_ALIKE / self.group.places.len().max(1) } else { 0 };
        while let Some(arrangement) = queue.pop() {
            let mut cells = self.group.cells(&arrangement);
            let count = cells.len();
            if arrangement != cheapest.arrangement && self.exchanges(&arrangement) + self.rest(count) == cheapest.cost {
                alike.push((self.rank(&arrangement), arrangement.clone()));
            }
            let mut exchanges = Vec::new();
            self.group.each_useful_exchange(&arrangement, |pair| exchanges.push(pair));
            for pair in exchanges {
                let next = arrangement.exchanged(pair);
                if effort == 0 || seen.contains(&next.from) {
                    continue;
                }
                effort -= 1;
                seen.insert(next.from.clone());
                cells.exchange(self.group, &arrangement, pair);
                let least = self.exchanges(&next) + self.bound(cells.len());
                cells.exchange(self.group, &next, pair);
                if least <= cheapest.cost {
                    queue.push(next);
                }
            }
        }
        alike.sort();
        alike.truncate(ALIKE);
        alike.into_iter().map(|(_, arrangement)| arrangement).collect()
    }
}
