//! The rework list: it can be done step by step, it is as short as can be, and it makes the unit right.

use std::collections::{BTreeMap, BTreeSet, VecDeque};
use std::path::Path;

use backshell::finding::Verdict;
use backshell::graph::{Move, moves};
use backshell::pinmap::{Catalogue, cable_names, sound_netlist};
use backshell::verify::{Options, check_text};
use proptest::prelude::*;

/// Does the moves, and fails where one can't be done.
fn done(sits: &[(u32, u32)], list: &[Move]) -> BTreeMap<u32, u32> {
    let mut at: BTreeMap<u32, u32> = sits.iter().copied().collect();
    let mut held = None;
    for step in list {
        let (thing, to) = match *step {
            Move::Lift { from } => {
                assert!(held.is_none(), "two held aside");
                held = at.remove(&from);
                assert!(held.is_some(), "nothing in {from}");
                continue;
            }
            Move::Shift { from, to } => (at.remove(&from).expect("something there"), to),
            Move::Seat { to } => (held.take().expect("something held"), to),
        };
        assert!(at.insert(to, thing).is_none(), "{to} isn't empty");
    }
    assert!(held.is_none());
    at
}

/// The fewest steps, by trying everything: a state is who sits where, and what is held.
fn fewest(sits: &[(u32, u32)], places: u32) -> usize {
    let start: (BTreeMap<u32, u32>, Option<u32>) = (sits.iter().copied().collect(), None);
    let mut seen = BTreeSet::from([start.clone()]);
    let mut queue = VecDeque::from([(start, 0)]);
    while let Some(((at, held), steps)) = queue.pop_front() {
        if held.is_none() && at.iter().all(|(place, home)| place == home) {
            return steps;
        }
        let mut next = Vec::new();
        for from in at.keys() {
            let mut without = at.clone();
            let thing = without.remove(from);
            if held.is_none() {
                next.push((without.clone(), thing));
            }
            for to in (0..places).filter(|to| !at.contains_key(to)) {
                let mut moved = without.clone();
                moved.extend(thing.map(|thing| (to, thing)));
                next.push((moved, held));
            }
        }
        for to in (0..places).filter(|to| !at.contains_key(to)) {
            if let Some(thing) = held {
                let mut seated = at.clone();
                seated.insert(to, thing);
                next.push((seated, None));
            }
        }
        queue.extend(next.into_iter().filter(|state| seen.insert(state.clone())).map(|state| (state, steps + 1)));
    }
    unreachable!("everything can be sorted by hand");
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 300, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn moves_can_be_done_and_are_the_fewest(order in Just((0..5_u32).collect::<Vec<_>>()).prop_shuffle(), homes in Just((0..5_u32).collect::<Vec<_>>()).prop_shuffle(), n in 0..=5_usize) {
        let sits: Vec<(u32, u32)> = order.into_iter().zip(homes).take(n).collect();
        let list = moves(sits.clone());
        let at = done(&sits, &list);
        prop_assert!(at.iter().all(|(place, home)| place == home));
        prop_assert_eq!(list.len(), fewest(&sits, 5));
    }

    #[test]
    fn any_list_is_answered(sits in proptest::collection::vec((0..9_u32, 0..9_u32), 0..12)) {
        let places: BTreeSet<u32> = sits.iter().flat_map(|(place, home)| [*place, *home]).collect();
        prop_assert!(moves(sits).len() <= 2 * places.len());
    }
}

/// The next number of a plain congruential generator (Knuth's MMIX constants).
fn random(state: &mut u64, below: usize) -> usize {
    *state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
    usize::try_from(*state >> 33).unwrap() % below
}

/// Contacts of end B exchanged at random, the list of each unit done by its words, and the result tested again.
#[test]
fn a_unit_is_right_after_its_list() {
    let mut state = 7;
    let (mut units, mut steps) = (0, 0);
    for name in cable_names() {
        let cable = Catalogue::new().cable(name, Path::new("")).unwrap();
        let sound = sound_netlist(&cable, true);
        let lines: Vec<Vec<String>> = sound
            .lines()
            .map(|line| line.split('#').next().unwrap_or_default().split_whitespace().map(str::to_owned).collect())
            .collect();
        let single: Vec<String> = lines
            .iter()
            .filter(|words| {
                words.len() == 2 && words[0].starts_with("A.") && words[1].starts_with("B.") && !words[1].ends_with("shell")
            })
            .map(|words| words[1].clone())
            .filter(|point| lines.iter().filter(|words| words.contains(point)).count() == 1)
            .collect();
        if single.len() < 2 {
            continue;
        }
        for exchanges in [1, 1, 2, 3] {
            let mut sits: BTreeMap<String, String> = single.iter().map(|point| (point.clone(), point.clone())).collect();
            for _ in 0..exchanges {
                let (a, b) = (single[random(&mut state, single.len())].clone(), single[random(&mut state, single.len())].clone());
                let (in_a, in_b) = (sits[&a].clone(), sits[&b].clone());
                sits.extend([(a, in_b), (b, in_a)]);
            }
            // `sits` says where the conductor in a place belongs; the netlist names the place that each belongs to
            let write = |sits: &BTreeMap<String, String>| -> String {
                let place: BTreeMap<&String, &String> = sits.iter().map(|(place, home)| (home, place)).collect();
                lines
                    .iter()
                    .map(|words| {
                        words
                            .iter()
                            .map(|word| place.get(word).map_or(word.as_str(), |place| place.as_str()))
                            .collect::<Vec<_>>()
                            .join(" ")
                            + "\n"
                    })
                    .collect()
            };
            let check = |text: &str| {
                let mut found = None;
                check_text("unit", text, &Options::default(), |mut batch| found = batch.reports.pop());
                found.unwrap()
            };
            let report = check(&write(&sits));
            if report.verdict != Verdict::Fails {
                assert!(report.rework.is_empty());
                continue;
            }
            assert!(report.rework.last().unwrap().starts_with("test the whole cable again"));
            // a place at end A may be named as well as one at end B: both move the same wire
            let mut near: BTreeMap<String, String> = BTreeMap::new();
            let mut held: Option<String> = None;
            for step in &report.rework {
                let points: Vec<String> = step
                    .split([' ', ','])
                    .filter(|word| word.starts_with("A.") || word.starts_with("B."))
                    .map(str::to_owned)
                    .collect();
                let table = if points.first().is_some_and(|point| point.starts_with("A.")) { &mut near } else { &mut sits };
                let default = |point: &String| point.clone();
                if step.starts_with("take the conductor out of") {
                    held = Some(table.remove(&points[0]).unwrap_or_else(|| default(&points[0])));
                } else if step.starts_with("move the conductor") {
                    let thing = table.remove(&points[0]).unwrap_or_else(|| default(&points[0]));
                    table.insert(points[1].clone(), thing);
                } else if step.starts_with("put the one") {
                    table.insert(points[0].clone(), held.take().unwrap());
                } else {
                    continue;
                }
                steps += 1;
            }
            let mut text = write(&sits);
            // the moves at end A, done to the text
            let moved: Vec<(String, String)> = near.into_iter().collect();
            for (nth, (_, from)) in moved.iter().enumerate() {
                text = text
                    .lines()
                    .map(|line| {
                        line.split(' ')
                            .map(|word| if word == from { format!("<{nth}>") } else { word.to_owned() })
                            .collect::<Vec<_>>()
                            .join(" ")
                            + "\n"
                    })
                    .collect();
            }
            for (nth, (to, _)) in moved.iter().enumerate() {
                text = text.replace(&format!("<{nth}>"), to);
            }
            let after = check(&text);
            assert_ne!(after.verdict, Verdict::Fails, "{name}: {:?}\n{text}", report.rework);
            units += 1;
        }
    }
    assert!(units > 100 && steps > 400, "{units} units, {steps} steps");
}
