//! Causes that take in a whole end: one finding, with its counter-check, and only what it doesn't explain beside it.

use std::cell::LazyCell;
use std::collections::{BTreeMap, BTreeSet, HashMap};

use backshell::finding::Verdict;
use backshell::pinmap::cable_names;

use crate::injection::faults::{Kind, singles};
use crate::injection::whole_ends::{is_sound, whole_ends};
use crate::injection::{BUILDS, Build, Model, cable, check, check_all, codes, weighs};

/// Every such cause at every end of every cable. Where it gives the nets of a sound cable, that conforms; where it gives
/// those of one plain fault, that fault is named, and the cause as a rival; else the cause is, and every other that gives
/// the same nets as a rival.
#[test]
fn every_cause_on_every_cable() {
    let mut tally: BTreeMap<&str, BTreeMap<&str, usize>> = BTreeMap::new();
    for name in cable_names() {
        let cable = cable(name);
        let sounds = BUILDS.map(|build| (build, Model::sound(&cable, build)));
        let sound_nets: BTreeSet<Vec<usize>> = sounds.iter().map(|(_, sound)| sound.labels()).collect();
        // what one plain fault is named
        let plain = LazyCell::new(|| {
            let mut plain: HashMap<Vec<usize>, BTreeSet<&str>> = HashMap::new();
            for (build, sound) in &sounds {
                for single in Kind::ALL.into_iter().flat_map(|kind| singles(sound, *build, kind)) {
                    plain.entry(single.of(sound).labels()).or_default().extend(single.named.iter().map(|named| named.code));
                }
            }
            plain
        });
        let mut causes: HashMap<Vec<usize>, BTreeSet<&str>> = HashMap::new();
        let mut all: Vec<(&str, Option<usize>, Model, Vec<usize>)> = Vec::new();
        for (code, end, model) in sounds.iter().flat_map(|(_, sound)| whole_ends(sound)) {
            let nets = model.labels();
            if !all.iter().any(|(other, .., known)| *other == code && *known == nets) {
                causes.entry(nets.clone()).or_default().insert(code);
                all.push((code, end, model, nets));
            }
        }
        let models: Vec<Model> = all.iter().map(|(_, _, model, _)| model.clone()).collect();
        let reports = check_all(&models);
        for ((code, end, model, nets), report) in all.iter().zip(&reports) {
            let failing: Vec<_> = report.findings.iter().filter(|finding| weighs(finding)).collect();
            let found: Vec<&str> = failing.iter().map(|finding| finding.code.text()).collect();
            let why = failing.iter().map(|finding| finding.why.as_str()).collect::<String>();
            let messages: Vec<&str> = failing.iter().map(|finding| finding.message.as_str()).collect();
            let rivals = |found: &str| causes[nets].iter().filter(|other| **other != found).all(|other| why.contains(other));
            let as_what = if sound_nets.contains(nets) || is_sound(&cable, nets) {
                if report.verdict == Verdict::Conforms { Some("sound") } else { None }
            } else {
                match found[..] {
                    [only] if only == *code && rivals(only) => Some("named"),
                    [only] if causes[nets].contains(only) && rivals(only) && !plain.contains_key(nets) => Some("as a rival"),
                    [only] if plain.get(nets).is_some_and(|plain| plain.contains(only)) && rivals(only) => {
                        Some("as a rival of one plain fault")
                    }
                    _ => None,
                }
            };
            let Some(as_what) = as_what else {
                panic!("{name}: {code}, end {end:?}: {messages:?}\n{}{:?}, {:?}", model.lines(), causes[nets], plain.get(nets))
            };
            *tally.entry(code).or_default().entry(as_what).or_default() += 1;
        }
    }
    println!("{tally:#?}");
    let named = |code: &str| tally[code]["named"];
    assert!(named("numbering.mirrored") > 100 && named("numbering.shifted") > 200, "{tally:#?}");
    assert!(named("wiring.straight") > 20 && named("wiring.variant") > 10, "{tally:#?}");
    assert_eq!(tally.len(), 7, "{tally:#?}");
}

#[test]
fn what_a_cause_does_not_explain_stays() {
    let mut model = Model::sound(&cable("displayport"), Build::Plain);
    let (.., mirrored) =
        whole_ends(&model).into_iter().find(|(code, end, _)| (*code, *end) == ("numbering.mirrored", Some(1))).unwrap();
    model = mirrored;
    let at = |text: &str| model.cable.point(text).unwrap() as usize;
    let (one, other) = (at("A.13"), at("A.18"));
    model.exchange(&[(one, other)]);
    let report = check(&model.netlist());
    let mut found = codes(&report.findings);
    found.sort_unstable();
    assert_eq!(found, ["numbering.mirrored", "swapped"]);
    let swapped = report.findings.iter().find(|finding| finding.code.text() == "swapped").unwrap();
    // the points are those of the netlist, not of the map: 13 and 18 of end B were read as 8 and 3
    assert_eq!(swapped.points, ["A.13", "A.18", "B.8", "B.3"]);
}
