//! The search, one independent group of deviating nets at a time.

use std::collections::BTreeMap;

use crate::graph::Nets;

use super::exchange::{arrange, circles};
use super::{Explanation, Fault};

/// What each fault costs: the less it costs, the less it surprises.
///
/// The weights only rank explanations of one unit; common practice, no source. Breaking, bridging and exchanging two
/// contacts weigh the same, so that the explanation with the fewest faults wins.
#[derive(Clone, Copy, Debug)]
pub struct Cost;

impl Cost {
    /// Each break of a wanted net.
    pub const OPEN: u32 = 10;
    /// Each bridge between two wanted nets.
    pub const JOIN: u32 = 10;
    /// Each exchange of two contacts; a circle of n contacts takes n − 1.
    pub const EXCHANGE: u32 = 10;
}

/// Up to this many overlaps of wanted and measured nets, every explanation is tried.
const EXHAUSTIVE: usize = 14;

/// Explains measured nets by the least surprising set of faults.
///
/// `end_of` gives each point's end: contacts only change places within one end. The two partitions must have the same
/// points.
///
/// The model: within a group of nets that deviate, every overlap of a wanted with a measured net is either *genuine*
/// (the conductor is there) or made of *displaced* contacts, each of which took the place of another displaced contact
/// of the same end. Genuine overlaps of one wanted net with several measured ones are breaks; those of several wanted
/// nets with one measured net are bridges. All choices are tried where there are at most 2^14 of them; above that, the
/// best of a descent from two starting points is taken and marked as not proven.
#[must_use]
pub fn explain(wanted: &Nets, measured: &Nets, end_of: &[usize]) -> Explanation {
    let n = end_of.len();
    let mut explanation = Explanation { faults: Vec::new(), cost: 0, proven: true };
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
        let (choice, proven) = group.best();
        explanation.cost += choice.cost;
        explanation.proven &= proven;
        group.faults(&choice, &mut explanation.faults);
    }
    explanation
}

/// An overlap of one wanted with one measured net.
struct Overlap {
    wanted: usize,
    measured: usize,
    points: Vec<u32>,
}

/// Nets that deviate and hang together.
struct Group<'a> {
    overlaps: Vec<Overlap>,
    /// The lowest point of each wanted net, and how many points it has.
    wanted: Vec<(u32, usize)>,
    /// How many points each measured net has.
    measured: Vec<usize>,
    end_of: &'a [usize],
}

/// A choice of what is genuine, and where the displaced contacts went.
struct Choice {
    genuine: Vec<bool>,
    circles: Vec<Vec<Vec<u32>>>,
    cost: u32,
    /// Among equal costs: few ends, then few contacts, then the later end, so that one end is named throughout.
    rank: (usize, usize, usize),
}

impl<'a> Group<'a> {
    fn new(points: &[u32], wanted: &Nets, measured: &Nets, end_of: &'a [usize]) -> Self {
        let mut by_pair: BTreeMap<(u32, u32), Vec<u32>> = BTreeMap::new();
        for point in points {
            by_pair.entry((wanted.of(*point), measured.of(*point))).or_default().push(*point);
        }
        let mut group = Group { overlaps: Vec::new(), wanted: Vec::new(), measured: Vec::new(), end_of };
        let mut wanted_at = BTreeMap::new();
        let mut measured_at = BTreeMap::new();
        for ((of_wanted, of_measured), points) in by_pair {
            let w = *wanted_at.entry(of_wanted).or_insert_with(|| {
                group.wanted.push((of_wanted, 0));
                group.wanted.len() - 1
            });
            let m = *measured_at.entry(of_measured).or_insert_with(|| {
                group.measured.push(0);
                group.measured.len() - 1
            });
            group.wanted[w].1 += points.len();
            group.measured[m] += points.len();
            group.overlaps.push(Overlap { wanted: w, measured: m, points });
        }
        group
    }

    /// The cheapest choice, and whether every choice was looked at.
    fn best(&self) -> (Choice, bool) {
        let n = self.overlaps.len();
        let all = self.evaluate(&vec![true; n]).unwrap_or_else(|| self.everything_genuine());
        if n <= EXHAUSTIVE {
            let mut best = all;
            for mask in 0..(1_u32 << n) {
                let genuine: Vec<bool> = (0..n).map(|bit| mask >> bit & 1 == 1).collect();
                if let Some(choice) = self.evaluate(&genuine)
                    && (choice.cost, choice.rank) < (best.cost, best.rank)
                {
                    best = choice;
                }
            }
            return (best, true);
        }
        // Descent: every conductor held by its first end is the natural start of a large permutation.
        let held: Vec<bool> = self.overlaps.iter().map(|overlap| self.holds_first_end(overlap)).collect();
        let mut best = all;
        if let Some(choice) = self.evaluate(&held)
            && choice.cost < best.cost
        {
            best = choice;
        }
        self.descend(&mut best);
        (best, false)
    }

    fn holds_first_end(&self, overlap: &Overlap) -> bool {
        let first = overlap.points.iter().map(|point| self.end_of[*point as usize]).min();
        let lowest = self
            .overlaps
            .iter()
            .filter(|other| other.wanted == overlap.wanted)
            .flat_map(|other| other.points.iter().map(|point| self.end_of[*point as usize]))
            .min();
        first == lowest
    }

    /// Turns single overlaps and pairs of them as long as that makes the choice cheaper, within a fixed effort.
    fn descend(&self, best: &mut Choice) {
        let mut effort = 4_000_usize;
        let n = self.overlaps.len();
        let mut improved = true;
        while improved {
            improved = false;
            for a in 0..n {
                for b in a..n {
                    let (one, two) = (&self.overlaps[a], &self.overlaps[b]);
                    if a != b && one.wanted != two.wanted && one.measured != two.measured {
                        continue;
                    }
                    if effort == 0 {
                        return;
                    }
                    effort -= 1;
                    let mut genuine = best.genuine.clone();
                    genuine[a] = !genuine[a];
                    if a != b {
                        genuine[b] = !genuine[b];
                    }
                    if let Some(choice) = self.evaluate(&genuine)
                        && choice.cost < best.cost
                    {
                        *best = choice;
                        improved = true;
                    }
                }
            }
        }
    }

    fn everything_genuine(&self) -> Choice {
        Choice { genuine: vec![true; self.overlaps.len()], circles: Vec::new(), cost: u32::MAX, rank: (0, 0, 0) }
    }

    /// What a choice costs; none where it explains nothing.
    fn evaluate(&self, genuine: &[bool]) -> Option<Choice> {
        let mut in_wanted = vec![0_u32; self.wanted.len()];
        let mut in_measured = vec![0_u32; self.measured.len()];
        for (overlap, genuine) in self.overlaps.iter().zip(genuine) {
            in_wanted[overlap.wanted] += u32::from(*genuine);
            in_measured[overlap.measured] += u32::from(*genuine);
        }
        // a net without a genuine part can only be a place that nothing belongs on: a single contact
        if in_wanted.iter().zip(&self.wanted).any(|(count, (_, size))| *count == 0 && *size != 1)
            || in_measured.iter().zip(&self.measured).any(|(count, size)| *count == 0 && *size != 1)
        {
            return None;
        }
        let breaks: u32 = in_wanted.iter().map(|count| count.saturating_sub(1)).sum();
        let bridges: u32 = in_measured.iter().map(|count| count.saturating_sub(1)).sum();
        let mut cost = breaks * Cost::OPEN + bridges * Cost::JOIN;
        // the contacts of one overlap at one end moved together
        let mut displaced: BTreeMap<usize, Vec<(Vec<u32>, usize)>> = BTreeMap::new();
        for (at, overlap) in self.overlaps.iter().enumerate().filter(|(at, _)| !genuine[*at]) {
            for point in &overlap.points {
                let places = displaced.entry(self.end_of[*point as usize]).or_default();
                match places.last_mut() {
                    Some((contacts, last)) if *last == at => contacts.push(*point),
                    _ => places.push((vec![*point], at)),
                }
            }
        }
        let mut found = Vec::new();
        let mut rank = (displaced.len(), 0, 0);
        for (end, places) in &displaced {
            let takes: Vec<Vec<usize>> = places
                .iter()
                .map(|(_, at)| {
                    let net = self.overlaps[*at].measured;
                    let fits = |other: &(Vec<u32>, usize)| {
                        let owner = self.overlaps[other.1].wanted;
                        if in_measured[net] == 0 { in_wanted[owner] == 0 } else { self.is_genuine(owner, net, genuine) }
                    };
                    (0..places.len()).filter(|j| places[*j].1 != *at && fits(&places[*j])).collect()
                })
                .collect();
            for circle in circles(&arrange(&takes)?) {
                // what belongs on `place[i]` is found on `i`: the circle runs the other way round
                let mut circle: Vec<Vec<u32>> = circle.iter().rev().map(|i| places[*i].0.clone()).collect();
                let lowest = (0..circle.len()).min_by_key(|at| circle[*at][0]).unwrap_or(0);
                circle.rotate_left(lowest);
                cost += u32::try_from(circle.len().saturating_sub(1)).unwrap_or(u32::MAX) * Cost::EXCHANGE;
                found.push(circle);
            }
            rank.1 += places.iter().map(|(contacts, _)| contacts.len()).sum::<usize>();
            rank.2 += 100 - end.min(&99);
        }
        Some(Choice { genuine: genuine.to_vec(), circles: found, cost, rank })
    }

    fn is_genuine(&self, wanted: usize, measured: usize, genuine: &[bool]) -> bool {
        self.overlaps
            .iter()
            .zip(genuine)
            .any(|(overlap, genuine)| *genuine && overlap.wanted == wanted && overlap.measured == measured)
    }

    /// The faults of a choice.
    fn faults(&self, choice: &Choice, to: &mut Vec<Fault>) {
        for circle in &choice.circles {
            to.push(Fault::Exchange { places: circle.clone() });
        }
        // after the exchanges are undone, a displaced contact stands for the one whose place it took
        let mut stands_for: BTreeMap<u32, u32> = BTreeMap::new();
        for circle in &choice.circles {
            for (at, place) in circle.iter().enumerate() {
                stands_for.extend(circle[(at + 1) % circle.len()].iter().map(|contact| (*contact, place[0])));
            }
        }
        for (w, (net, _)) in self.wanted.iter().enumerate() {
            let genuine_in: Vec<usize> = self.genuine_of(choice, |overlap| overlap.wanted == w, |overlap| overlap.measured);
            if genuine_in.len() < 2 {
                continue;
            }
            let pieces = genuine_in
                .iter()
                .map(|m| {
                    let mut piece: Vec<u32> = self
                        .overlaps
                        .iter()
                        .filter(|overlap| overlap.measured == *m)
                        .flat_map(|overlap| overlap.points.iter().copied())
                        .filter(|point| self.owner(stands_for.get(point).copied().unwrap_or(*point)) == Some(w))
                        .collect();
                    piece.sort_unstable();
                    piece
                })
                .collect();
            to.push(Fault::Open { net: *net, pieces });
        }
        for m in 0..self.measured.len() {
            let joined: Vec<usize> = self.genuine_of(choice, |overlap| overlap.measured == m, |overlap| overlap.wanted);
            if joined.len() < 2 {
                continue;
            }
            let mut contacts: Vec<u32> = self
                .overlaps
                .iter()
                .filter(|overlap| overlap.measured == m)
                .flat_map(|overlap| overlap.points.iter().copied())
                .collect();
            contacts.sort_unstable();
            to.push(Fault::Join { nets: joined.iter().map(|w| self.wanted[*w].0).collect(), contacts });
        }
    }

    fn genuine_of(&self, choice: &Choice, of: impl Fn(&Overlap) -> bool, give: impl Fn(&Overlap) -> usize) -> Vec<usize> {
        self.overlaps
            .iter()
            .zip(&choice.genuine)
            .filter(|(overlap, genuine)| **genuine && of(overlap))
            .map(|(overlap, _)| give(overlap))
            .collect()
    }

    /// The wanted net that a contact belongs to.
    fn owner(&self, contact: u32) -> Option<usize> {
        self.overlaps.iter().find(|overlap| overlap.points.contains(&contact)).map(|overlap| overlap.wanted)
    }
}
