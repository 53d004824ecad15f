//! Causes that take in a whole end: one finding, with its counter-check, and only what it doesn't explain beside it.

use std::collections::{BTreeMap, BTreeSet, HashMap};

use backshell::finding::{Severity, Verdict};
use backshell::pinmap::cable_names;

use crate::injection::faults::{Kind, singles};
use crate::injection::whole_ends::whole_ends;
use crate::injection::{BUILDS, Build, Model, cable, check, check_all, codes};

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
        let mut plain: HashMap<Vec<usize>, BTreeSet<&str>> = HashMap::new();
        let mut causes: HashMap<Vec<usize>, BTreeSet<&str>> = HashMap::new();
        let mut all = Vec::new();
        for (build, sound) in &sounds {
            for single in Kind::ALL.into_iter().flat_map(|kind| singles(sound, *build, kind)) {
                plain.entry(single.of(sound).labels()).or_default().extend(single.named.iter().map(|named| named.code));
            }
            for (code, end, model) in whole_ends(sound) {
                causes.entry(model.labels()).or_default().insert(code);
                if !all.iter().any(|(other, _, known): &(&str, _, Model)| *other == code && known.labels() == model.labels()) {
                    all.push((code, end, model));
                }
            }
        }
        let reports = check_all(&all.iter().map(|(.., model)| model.clone()).collect::<Vec<_>>());
        for ((code, end, model), report) in all.iter().zip(&reports) {
            let nets = model.labels();
            let failing: Vec<_> = report.findings.iter().filter(|finding| finding.severity == Severity::Fail).collect();
            let found: Vec<&str> = failing.iter().map(|finding| finding.code.text()).collect();
            let why = failing.iter().map(|finding| finding.why.as_str()).collect::<String>();
            let messages: Vec<&str> = failing.iter().map(|finding| finding.message.as_str()).collect();
            let rivals = |found: &str| causes[&nets].iter().filter(|other| **other != found).all(|other| why.contains(other));
            let as_what = if sound_nets.contains(&nets) {
                if report.verdict == Verdict::Conforms { "sound" } else { "WRONG sound" }
            } else if let Some(plain) = plain.get(&nets) {
                match found[..] {
                    [] if plain.is_empty() && report.verdict == Verdict::Conforms => "sound",
                    [only] if plain.contains(only) && rivals(only) => "one plain fault",
                    [only] if plain.contains(only) => "WRONG one plain fault, no rival",
                    _ => "WRONG plain",
                }
            } else {
                match found[..] {
                    [only] if only == *code && rivals(only) => "named",
                    [only] if causes[&nets].contains(only) && rivals(only) => "rival",
                    [only] if causes[&nets].contains(only) => "WRONG no rival",
                    _ => "WRONG named otherwise",
                }
            };
            if as_what.starts_with("WRONG") {
                println!(
                    "{name} {code} {end:?}: {as_what}: {found:?} {messages:?} {:?} plain {:?} {}",
                    causes[&nets],
                    plain.get(&nets),
                    model.lines().replace('\n', "; ")
                );
            }
            *tally.entry(code).or_default().entry(as_what).or_default() += 1;
        }
    }
    println!("{tally:#?}");
    panic!();
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
