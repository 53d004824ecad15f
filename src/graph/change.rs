//! What changed from one set of nets to another.

use std::cmp::Reverse;
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use super::Nets;

/// A piece, points that hang together before and after, and what it was and is joined to.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
#[non_exhaustive]
pub struct Step {
    /// The points.
    pub piece: Arc<[u32]>,
    /// What they were joined to and no longer are; empty where they were only added.
    pub from: Arc<[u32]>,
    /// What they are joined to now and were not; empty where they only came off.
    pub to: Arc<[u32]>,
}

/// One change: a piece that came off, was added or moved; or several pieces that took each other's places in a circle.
#[derive(Clone, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub struct Change {
    /// One step; of a circle all, in the order of their points.
    pub steps: Vec<Step>,
}

/// The changes from one set of nets to another.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
#[non_exhaustive]
pub struct Changes {
    /// The changes, in the order of their points.
    pub list: Vec<Change>,
    /// How many nets of two points or more are the same.
    pub same: usize,
}

impl Change {
    /// The points that the change is about: its smallest sets. One contact that comes off a ground of twenty is about
    /// that contact.
    #[must_use]
    pub fn about(&self) -> Vec<u32> {
        let sets = self.steps.iter().flat_map(|step| [&step.piece, &step.from, &step.to]);
        let sets: Vec<&Arc<[u32]>> = sets.filter(|set| !set.is_empty()).collect();
        let least = sets.iter().map(|set| set.len()).min().unwrap_or(0);
        let points = sets.into_iter().filter(|set| set.len() == least).flat_map(|set| set.iter().copied());
        points.collect::<BTreeSet<u32>>().into_iter().collect()
    }
}

/// What leads from `before` to `after`, among the points that are `known` in both.
///
/// The nets are cut into pieces. Of the pieces of a net one stays, and the net is known by it; every other one came off,
/// was added, or moved where it did both. So that few pieces change, one that has no rival in a net stays before others
/// do; among equals the larger one, then the one with the higher points. Exchanging `before` and `after` gives the same
/// changes with `from` and `to` exchanged. The cost is linear in the points, but for sorting.
///
/// ```
/// use backshell::graph::{Nets, Step, changes};
/// let found = changes(&Nets::new(3, [(0, 1)]), &Nets::new(3, [(0, 2)]), |_| true);
/// let Step { piece, from, to, .. } = &found.list[0].steps[0];
/// assert_eq!([piece, from, to], [&[0].into(), &[1].into(), &[2].into()]);
/// ```
#[must_use]
pub fn changes(before: &Nets, after: &Nets, known: impl Fn(u32) -> bool) -> Changes {
    if before == after {
        // the most frequent case by far, told without a table of pieces
        let mut points = vec![0_u32; before.labels().len()];
        (0_u32..).zip(before.labels()).filter(|(point, _)| known(*point)).for_each(|(_, net)| points[*net as usize] += 1);
        return Changes { list: Vec::new(), same: points.into_iter().filter(|points| *points > 1).count() };
    }
    let mut by_nets: BTreeMap<[u32; 2], Vec<u32>> = BTreeMap::new();
    for point in (0_u32..).take(before.labels().len()).filter(|point| known(*point)) {
        by_nets.entry([before.of(point), after.of(point)]).or_default().push(point);
    }
    let mut list: Vec<Piece> = by_nets.into_iter().map(|(nets, points)| Piece { points: points.into(), nets }).collect();
    list.sort_by_key(|piece| Reverse((piece.points.len(), piece.points.last().copied())));
    let mut of_net = [before, after].map(|nets| vec![Vec::new(); nets.labels().len()]);
    for (at, piece) in list.iter().enumerate() {
        for (of_net, net) in of_net.iter_mut().zip(piece.nets) {
            of_net[net as usize].push(at);
        }
    }
    Pieces { list, of_net }.changes()
}

/// Points that are one net before and after.
struct Piece {
    points: Arc<[u32]>,
    /// That net, before and after.
    nets: [u32; 2],
}

/// The pieces in the order of preference, and those of each net, before and after.
struct Pieces {
    list: Vec<Piece>,
    of_net: [Vec<Vec<usize>>; 2],
}

impl Pieces {
    /// The pieces of the net, before (0) or after (1), that a piece lies in.
    fn beside(&self, side: usize, at: usize) -> &[usize] {
        &self.of_net[side][self.list[at].nets[side] as usize]
    }

    fn changes(&self) -> Changes {
        let stays = self.staying();
        // what each net is known by: the piece that stays, or else the one that comes first
        let known_by = [0, 1].map(|side: usize| -> Vec<usize> {
            let base = |of: &Vec<usize>| of.iter().copied().find(|at| stays[*at]).or(of.first().copied());
            self.of_net[side].iter().map(|of| base(of).unwrap_or_default()).collect()
        });
        let step = |at: usize, [from, to]: [Option<usize>; 2]| {
            let points = |at: Option<usize>| at.map_or_else(|| Arc::from([]), |at| Arc::clone(&self.list[at].points));
            Step { piece: points(Some(at)), from: points(from), to: points(to) }
        };
        let mut found = Changes::default();
        let mut moves: Vec<(usize, [usize; 2])> = Vec::new();
        for (at, piece) in self.list.iter().enumerate() {
            let bases = [0, 1].map(|side| known_by[side][piece.nets[side] as usize]);
            let [from, to] = bases.map(|base| (base != at).then_some(base));
            match (from, to) {
                (None, None) => {
                    let whole = [0, 1].iter().all(|side| self.beside(*side, at).len() == 1);
                    found.same += usize::from(whole && piece.points.len() > 1);
                }
                (Some(_), Some(_)) => moves.push((at, bases)),
                _ => found.list.push(Change { steps: vec![step(at, [from, to])] }),
            }
        }
        for circle in circles(&moves) {
            let mut steps: Vec<Step> = circle.into_iter().map(|(at, ends)| step(at, ends.map(Some))).collect();
            steps.sort_unstable();
            found.list.push(Change { steps });
        }
        found.list.sort_by_cached_key(|change| (change.about(), change.steps[0].piece.clone()));
        found
    }

    /// Which pieces stay: at most one of each net, before and after.
    fn staying(&self) -> Vec<bool> {
        let mut left = [0, 1].map(|side| self.of_net[side].iter().map(Vec::len).collect::<Vec<usize>>());
        let has_rivals =
            |left: &[Vec<usize>; 2], at: usize| [0, 1].iter().all(|side| left[*side][self.list[at].nets[*side] as usize] > 1);
        // (has rivals in both of its nets, place in the order of preference)
        let mut queue: BTreeSet<(bool, usize)> = (0..self.list.len()).map(|at| (has_rivals(&left, at), at)).collect();
        let mut live = vec![true; self.list.len()];
        let mut stays = vec![false; self.list.len()];
        while let Some((_, chosen)) = queue.pop_first() {
            if !std::mem::replace(&mut live[chosen], false) {
                continue;
            }
            stays[chosen] = true;
            for side in 0..2 {
                for loser in self.beside(side, chosen).iter().copied() {
                    if !std::mem::replace(&mut live[loser], false) {
                        continue;
                    }
                    // it may leave a single piece in its other net, which then has no rival
                    let net = self.list[loser].nets[1 - side] as usize;
                    left[1 - side][net] -= 1;
                    if left[1 - side][net] == 1 {
                        queue.extend(self.of_net[1 - side][net].iter().filter(|at| live[**at]).map(|at| (false, *at)));
                    }
                }
            }
        }
        stays
    }
}

/// A piece with the pieces by which the nets that it left and joined are known.
type Moved = (usize, [usize; 2]);

/// The moves, those that close a plain circle together, every other one by itself.
fn circles(moves: &[Moved]) -> Vec<Vec<Moved>> {
    let mut leaving: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
    let mut coming: BTreeMap<usize, usize> = BTreeMap::new();
    for (nth, (_, [from, to])) in moves.iter().enumerate() {
        leaving.entry(*from).or_default().push(nth);
        *coming.entry(*to).or_default() += 1;
    }
    // the move that goes on from where one arrives, where both are alone there
    let next = |nth: usize| {
        let to = moves[nth].1[1];
        match leaving.get(&to).map(Vec::as_slice) {
            Some([next]) if coming.get(&to) == Some(&1) => Some(*next),
            _ => None,
        }
    };
    let mut walked = vec![false; moves.len()];
    let mut found = Vec::new();
    for start in 0..moves.len() {
        let mut way = Vec::new();
        let mut at = Some(start);
        while let Some(nth) = at.filter(|nth| !walked[*nth]) {
            walked[nth] = true;
            way.push(nth);
            at = next(nth);
        }
        if !way.is_empty() && at == Some(start) {
            found.push(way.iter().map(|nth| moves[*nth]).collect());
        } else {
            found.extend(way.iter().map(|nth| vec![moves[*nth]]));
        }
    }
    found
}
