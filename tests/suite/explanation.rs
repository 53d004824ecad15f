//! The explanation against brute force on small cables, its exactness, and its speed on nonsense.

use std::collections::{BTreeMap, BTreeSet};

use backshell::cause::{Explanation, Fault, explain, explain_by};
use backshell::graph::Nets;

use crate::campaign::Random;

/// Three conductors and one contact without a wire, at each of two ends: contacts 0 to 3 and 4 to 7.
const CONTACTS: usize = 4;
const WIRES: usize = 3;

fn permutations(n: usize) -> Vec<Vec<usize>> {
    if n == 0 {
        return vec![Vec::new()];
    }
    permutations(n - 1)
        .into_iter()
        .flat_map(|shorter| {
            (0..n).map(move |at| {
                let mut longer = shorter.clone();
                longer.insert(at, n - 1);
                longer
            })
        })
        .collect()
}

fn exchanges(permutation: &[usize]) -> u32 {
    let mut seen = vec![false; permutation.len()];
    let mut count = 0;
    for start in 0..permutation.len() {
        let mut at = start;
        let mut length = 0;
        while !std::mem::replace(&mut seen[at], true) {
            at = permutation[at];
            length += 1;
        }
        count += u32::try_from(length).unwrap().saturating_sub(1);
    }
    count
}

fn nets(joins: &[(usize, usize)]) -> Nets {
    Nets::new(2 * CONTACTS, joins.iter().map(|(a, b)| (u32::try_from(*a).unwrap(), u32::try_from(*b).unwrap())))
}

fn wanted() -> Nets {
    nets(&(0..WIRES).map(|wire| (wire, CONTACTS + wire)).collect::<Vec<_>>())
}

fn ends() -> Vec<usize> {
    (0..2 * CONTACTS).map(|contact| contact / CONTACTS).collect()
}

/// Every wiring that exchanges and opens can make, with the least number of faults that makes it.
fn wirings() -> BTreeMap<Vec<u32>, u32> {
    let mut all: BTreeMap<Vec<u32>, u32> = BTreeMap::new();
    for a in permutations(CONTACTS) {
        for b in permutations(CONTACTS) {
            for open in 0..1_u32 << WIRES {
                let joins: Vec<(usize, usize)> =
                    (0..WIRES).filter(|wire| open >> wire & 1 == 0).map(|wire| (a[wire], CONTACTS + b[wire])).collect();
                let faults = exchanges(&a) + exchanges(&b) + open.count_ones();
                let key = nets(&joins).labels().to_vec();
                let least = all.entry(key).or_insert(faults);
                *least = faults.min(*least);
            }
        }
    }
    all
}

fn count(labels: &[u32]) -> u32 {
    u32::try_from(labels.iter().collect::<BTreeSet<_>>().len()).unwrap()
}

/// The least number of faults for measured nets: any wiring that bridges can turn into them.
fn brute_force(measured: &Nets, wirings: &BTreeMap<Vec<u32>, u32>) -> u32 {
    let refines = |finer: &[u32]| finer.iter().zip(0..).all(|(net, point)| measured.same(*net, point));
    wirings
        .iter()
        .filter(|(wiring, _)| refines(wiring))
        .map(|(wiring, faults)| faults + count(wiring) - count(measured.labels()))
        .min()
        .unwrap()
}

/// Applies the faults to the wanted nets.
fn replay(wanted: &Nets, explanation: &Explanation) -> BTreeSet<BTreeSet<u32>> {
    let mut moved: BTreeMap<u32, BTreeSet<u32>> = BTreeMap::new();
    let mut gone: BTreeSet<u32> = BTreeSet::new();
    for fault in &explanation.faults {
        let Fault::Exchange { places } = fault else { continue };
        for (at, place) in places.iter().enumerate() {
            // what belongs on a place is found on the next
            moved.insert(place[0], places[(at + 1) % places.len()].iter().copied().collect());
            gone.extend(place.iter().skip(1));
        }
    }
    let now = |contact: u32| -> BTreeSet<u32> {
        if gone.contains(&contact) { BTreeSet::new() } else { moved.get(&contact).cloned().unwrap_or_else(|| [contact].into()) }
    };
    let mut nets: BTreeMap<u32, BTreeSet<u32>> = BTreeMap::new();
    for net in wanted.members() {
        nets.insert(net[0], net.iter().flat_map(|contact| now(*contact)).collect());
    }
    let mut pieces: Vec<BTreeSet<u32>> = Vec::new();
    for fault in &explanation.faults {
        if let Fault::Open { net, pieces: broken } = fault {
            let whole = nets.remove(net).unwrap();
            let parts: Vec<BTreeSet<u32>> = broken.iter().map(|piece| piece.iter().copied().collect()).collect();
            assert_eq!(parts.iter().flatten().copied().collect::<BTreeSet<_>>(), whole, "the pieces make up the net");
            pieces.extend(parts);
        }
    }
    let mut all: Vec<BTreeSet<u32>> = nets.into_values().chain(pieces).collect();
    for fault in &explanation.faults {
        if let Fault::Join { contacts, .. } = fault {
            let joined: BTreeSet<u32> = contacts.iter().copied().collect();
            let (into, rest): (Vec<_>, Vec<_>) = all.into_iter().partition(|net| !net.is_disjoint(&joined));
            assert_eq!(into.iter().flatten().copied().collect::<BTreeSet<_>>(), joined, "a bridge takes in whole nets");
            all = rest;
            all.push(joined);
        }
    }
    all.into_iter().filter(|net| !net.is_empty()).collect()
}

fn as_sets(nets: &Nets) -> BTreeSet<BTreeSet<u32>> {
    nets.members().into_iter().map(|net| net.into_iter().collect()).collect()
}

#[test]
fn never_costlier_than_brute_force() {
    let wirings = wirings();
    let wanted = wanted();
    let mut random = Random::new(0);
    let mut by_cost: BTreeMap<u32, u32> = BTreeMap::new();
    for _ in 0..4_000 {
        let joins: Vec<(usize, usize)> =
            (0..random.below(8)).map(|_| (random.below(2 * CONTACTS), random.below(2 * CONTACTS))).collect();
        let measured = nets(&joins);
        let found = explain(&wanted, &measured, &ends());
        let least = brute_force(&measured, &wirings) * 10;
        assert!(found.cost <= least, "{joins:?}: {found:?}, brute force {least}");
        assert!(found.proven);
        assert_eq!(replay(&wanted, &found), as_sets(&measured), "{joins:?}: {found:?}");
        // a preference among those that cost the same changes neither the cost nor the exactness
        let breaks = |faults: &[Fault]| faults.iter().filter(|fault| matches!(fault, Fault::Open { .. })).count();
        let preferred = explain_by(&wanted, &measured, &ends(), |faults| u32::try_from(breaks(faults)).unwrap() * 10);
        assert_eq!(preferred.cost, found.cost, "{joins:?}: {preferred:?}");
        assert!(breaks(&preferred.faults) <= breaks(&found.faults), "{joins:?}: {preferred:?}, {found:?}");
        assert_eq!(replay(&wanted, &preferred), as_sets(&measured), "{joins:?}: {preferred:?}");
        *by_cost.entry(found.cost).or_default() += 1;
    }
    assert!(by_cost.len() > 4, "{by_cost:?}");
}

/// A hundred contacts at each end, wired at random: the faults found reproduce what was measured, and the answer comes
/// while a person waits. The bound is generous; the benchmark has the figure.
#[test]
fn nonsense_is_answered() {
    let n = 100_u32;
    let wanted = Nets::new(200, (0..n).map(|wire| (wire, n + wire)));
    let ends: Vec<usize> = (0..200).map(|contact| contact / 100).collect();
    let mut random = Random::new(7);
    for round in 0..4 {
        let mut joins: Vec<(u32, u32)> = Vec::new();
        for _ in 0..n {
            let (a, b) = (u32::try_from(random.below(200)).unwrap(), u32::try_from(random.below(200)).unwrap());
            joins.push(if round % 2 == 0 { (a % n, n + b % n) } else { (a, b) });
        }
        let measured = Nets::new(200, joins);
        let start = std::time::Instant::now();
        let found = explain(&wanted, &measured, &ends);
        println!("{} faults, proven {}, {:?}", found.cost / 10, found.proven, start.elapsed());
        assert_eq!(replay(&wanted, &found), as_sets(&measured));
        assert!(found.cost < 2_000);
    }
}
