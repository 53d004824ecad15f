//! Every single fault of every catalogue cable, and of a harness with three ends and a splice: found, with its right code and
//! points, as the only finding that keeps the cable from conforming. One that breaks nothing but rows from memory is a caution,
//! and leaves the unit undecided.
//!
//! A fault that leaves the nets of the sound cable unchanged can't be seen by continuity; there the verdict must be that
//! of the sound cable. That happens where contacts are tied in both plugs, and where a group may be commoned.

use backshell::finding::{Severity, Verdict};
use backshell::pinmap::cable_names;
use backshell::verify::UnitReport;

use crate::injection::faults::{Kind, Single, singles};
use crate::injection::{BUILDS, Build, Model, assert_conforms, cable, check, check_all, codes, points, weighs};

/// How many faults were looked at, and how many of them can't be seen.
#[derive(Default, Debug)]
struct Tally {
    seen: usize,
    unseen: usize,
    /// Of those seen, how many rest on nothing but memory.
    from_memory: usize,
}

/// The fault is found with its code and points, or can't be seen at all.
fn expect(sound: &Model, single: &Single, report: &UnitReport, tally: &mut Tally) {
    let faulty = single.of(sound);
    let netlist = faulty.netlist();
    let messages: Vec<&str> = report.findings.iter().map(|finding| finding.message.as_str()).collect();
    let Some(named) = single.named.as_ref().filter(|_| faulty.labels() != sound.labels()) else {
        tally.unseen += 1;
        assert_eq!(report.verdict, Verdict::Conforms, "{netlist}\n{messages:?}");
        return;
    };
    tally.seen += 1;
    let code = named.code;
    let failing: Vec<_> = report.findings.iter().filter(|finding| weighs(finding)).collect();
    let memory = sound.is_from_memory(named.points.iter().copied());
    tally.from_memory += usize::from(memory);
    let (verdict, severity) = if memory { (Verdict::Inconclusive, Severity::Caution) } else { (Verdict::Fails, Severity::Fail) };
    assert_eq!(report.verdict, verdict, "{code} expected\n{netlist}{messages:?}");
    assert!(failing.iter().all(|finding| finding.severity == severity), "{code} expected\n{netlist}{messages:?}");
    assert!(failing.iter().all(|finding| finding.message.contains("from memory") == memory), "{messages:?}");
    assert_eq!(failing.len(), 1, "{code} expected\n{netlist}{messages:?}");
    assert_eq!(failing[0].code.text(), code, "{netlist}{messages:?}");
    assert_eq!(points(failing[0]), sound.texts(named.points.iter().copied()), "{code}\n{netlist}{messages:?}");
    if let Some(hazard) = single.hazard {
        assert_eq!(failing[0].hazard, hazard, "hazard of {code}\n{netlist}{messages:?}");
    }
    for label in &failing[0].labels {
        assert!(label.span.end() as usize <= label.source.text().len(), "a label outside of its source");
    }
    assert!(!failing[0].labels.is_empty(), "{code} without a place\n{netlist}");
}

/// Runs over every cable, built in every way that makes it another.
fn every_cable(mut run: impl FnMut(&Model, Build)) {
    for name in cable_names().chain(["dome-harness"]) {
        let cable = cable(name);
        for build in BUILDS {
            if build == Build::Commoned && cable.groups.is_empty() {
                continue;
            }
            run(&Model::sound(&cable, build), build);
        }
    }
}

/// Every fault of a kind is found; of those that can be seen there are at least so many.
fn every(kind: Kind, least: usize) {
    let mut tally = Tally::default();
    every_cable(|model, build| {
        let singles = singles(model, build, kind);
        let reports = check_all(&singles.iter().map(|single| single.of(model)).collect::<Vec<_>>());
        singles.iter().zip(&reports).for_each(|(single, report)| expect(model, single, report, &mut tally));
    });
    println!("{kind:?} {tally:?}");
    assert!(tally.seen - tally.from_memory >= least, "{tally:?}");
}

#[test]
fn the_sound_cable_conforms() {
    every_cable(|model, _| assert_conforms(&model.netlist()));
}

#[test]
fn open() {
    every(Kind::Open, 800);
}

#[test]
fn lifted_contact() {
    every(Kind::Lifted, 1_800);
}

#[test]
fn pair_open() {
    every(Kind::PairOpen, 200);
}

#[test]
fn short() {
    every(Kind::Short, 6_000);
}

#[test]
fn exchanged() {
    every(Kind::Exchanged, 12_000);
}

#[test]
fn tied_contacts_exchanged() {
    every(Kind::Tied, 30);
}

#[test]
fn pairs_transposed() {
    every(Kind::Transposed, 600);
}

#[test]
fn forbidden_contacts() {
    every(Kind::Forbidden, 2_000);
}

#[test]
fn on_a_forbidden_contact() {
    every(Kind::Misplaced, 1_000);
}

#[test]
fn three_in_a_circle() {
    every(Kind::Circle, 190);
}

/// A pair twisted with another pair's conductors, from `pair` lines; and the right pairs said line by line.
#[test]
fn pairs_split() {
    let mut seen = 0;
    every_cable(|model, build| {
        if build != Build::Plain {
            return;
        }
        let pairs = model.pairs();
        let at = |wire: usize| model.text(model.at_end(wire, 0)[0]);
        let line = |a: usize, b: usize| format!("pair {} {}\n", at(a), at(b));
        let right: String = pairs.iter().map(|(plus, minus)| line(*plus, *minus)).collect();
        assert_conforms(&(model.netlist() + &right));
        for (nth, one) in pairs.iter().enumerate() {
            for other in &pairs[nth + 1..] {
                let netlist = model.netlist() + &line(one.0, other.0) + &line(other.1, one.1);
                let report = check(&netlist);
                assert_eq!(codes(&report.findings), ["pair.split"], "{netlist}");
                let touched = [one.0, one.1, other.0, other.1].map(|wire| model.at_end(wire, 0)[0]);
                assert_eq!(points(&report.findings[0]), model.texts(touched), "{netlist}");
                seen += 1;
            }
        }
    });
    assert!(seen > 50, "{seen}");
}
