//! What a netlist can show: shares, plans that are filled in bit by bit, and conductors that others hide.

use std::collections::BTreeSet;
use std::path::Path;

use backshell::finding::{Code, Verdict};
use backshell::graph::Nets;
use backshell::pinmap::{Catalogue, cable_names};
use backshell::report::probe_plan;
use backshell::verify::{ConductorKind, Coverage, Options, Share, Sight, UnitReport, check_text, conductors};

use crate::injection::{BUILDS, Model, check, codes};

fn coverage(text: &str) -> (UnitReport, Coverage) {
    let mut found = None;
    let outcome = check_text("test.netlist", text, &Options::default().with_coverage(true), |mut batch| {
        assert!(batch.problems.is_empty(), "{:?}", batch.problems);
        found = batch.reports.pop();
    });
    assert!(outcome.units() > 0, "{text}");
    let mut report = found.unwrap();
    let coverage = *report.coverage.take().unwrap();
    (report, coverage)
}

/// Groups of contacts by a plain flood over pairs: the test's own way to nets.
fn flood(n: usize, pairs: &[[u32; 2]]) -> Vec<BTreeSet<u32>> {
    let mut left: BTreeSet<u32> = (0..u32::try_from(n).unwrap()).collect();
    let mut groups = Vec::new();
    while let Some(first) = left.pop_first() {
        let mut group = BTreeSet::from([first]);
        let mut edge = vec![first];
        while let Some(at) = edge.pop() {
            for pair in pairs.iter().filter(|pair| pair.contains(&at)) {
                let other = if pair[0] == at { pair[1] } else { pair[0] };
                if group.insert(other) {
                    left.remove(&other);
                    edge.push(other);
                }
            }
        }
        groups.push(group);
    }
    groups
}

/// The physical conductors of every sound cable give its nets, and those that are called hidden are exactly those that can be
/// taken away without a change of the nets.
#[test]
fn hidden_conductors_are_those_whose_loss_changes_no_net() {
    let (mut hidden, mut seen) = (0, 0);
    for name in cable_names() {
        let cable = Catalogue::new().cable(name, Path::new("")).unwrap();
        for build in BUILDS {
            let text = Model::sound(&cable, build).netlist();
            let (_, coverage) = coverage(&text);
            let joined = Model::sound(&cable, build)
                .wires
                .iter()
                .flat_map(|wire| {
                    wire.contacts
                        .windows(2)
                        .map(|pair| (u32::try_from(pair[0]).unwrap(), u32::try_from(pair[1]).unwrap()))
                        .collect::<Vec<_>>()
                })
                .collect::<Vec<_>>();
            let nets = Nets::new(cable.points.len(), joined);
            let all = conductors(&cable, &nets);
            let pairs: Vec<[u32; 2]> = all.iter().map(|conductor| conductor.points).collect();
            let whole = flood(cable.points.len(), &pairs);
            let of_nets: Vec<BTreeSet<u32>> = nets.members().into_iter().map(|net| net.into_iter().collect()).collect();
            assert_eq!(whole, of_nets, "{name} {build:?}");
            for (at, conductor) in all.iter().enumerate().filter(|(_, conductor)| conductor.link.is_some()) {
                let mut without = pairs.clone();
                without.remove(at);
                let lost = flood(cable.points.len(), &without) != whole;
                let points = conductor.points.map(|point| cable.text(point).to_owned());
                let row = coverage.rows.iter().find(|row| row.points == points && (row.sight == Sight::Seen) == lost);
                assert!(row.is_some(), "{name} {build:?}: {points:?} lost {lost}");
                *(if lost { &mut seen } else { &mut hidden }) += 1;
            }
        }
    }
    assert!(hidden > 50 && seen > 1000, "{hidden} hidden, {seen} seen");
}

/// A plan that is filled in line by line: the share grows, nothing but the last line makes a pass, and any line left out
/// leaves the unit undecided.
#[test]
fn a_plan_is_filled_in_bit_by_bit() {
    for name in cable_names() {
        let mut empty = None;
        let options = Options::default().with_cable(name).with_coverage(true);
        check_text("plan", "scope stated\nunit plan\n", &options, |mut batch| empty = batch.reports.pop());
        let plan = probe_plan(&empty.unwrap(), Some(name));
        let lines: Vec<&str> = plan.lines().filter_map(|line| line.strip_prefix("# ")).collect();
        let facts: Vec<&str> = lines
            .into_iter()
            .filter(|line| line.starts_with("A.") || line.starts_with("B.") || line.starts_with("apart ") && line.contains('.'))
            .collect();
        let header = format!("cable {name}\nscope stated\n");
        let verdict = |facts: &[&str]| {
            let (report, coverage) = coverage(&format!("{header}{}\n", facts.join("\n")));
            (report, coverage)
        };
        let sum = |share: Share| share.shown;
        let mut last = 0;
        let step = (facts.len() / 5).max(1);
        for upto in (1..=facts.len()).step_by(step).chain([facts.len()]) {
            let (report, coverage) = verdict(&facts[..upto]);
            let now = sum(coverage.joins) + sum(coverage.apart);
            assert!(now >= last && now == upto as u64, "{name}: {now} of {upto}");
            last = now;
            let whole = coverage.joins.whole() && coverage.apart.whole();
            assert_eq!(whole, upto == facts.len(), "{name}");
            assert_ne!(report.verdict, Verdict::Fails, "{name}: {:?}", report.findings);
            assert!(whole || report.verdict == Verdict::Inconclusive, "{name} at {upto}");
            // parts in the plugs are another question
            let parts = codes(&report.findings).contains(&"component.missing");
            assert!(!whole || parts || report.verdict == Verdict::Conforms, "{name}: {:?}", report.findings);
        }
        for left_out in (0..facts.len()).step_by((facts.len() / 20).max(1)) {
            let mut some = facts.clone();
            some.remove(left_out);
            assert_eq!(verdict(&some).0.verdict, Verdict::Inconclusive, "{name} without {}", facts[left_out]);
        }
    }
}

#[test]
fn what_is_stated_is_judged_and_nothing_else() {
    let outcome = |lines: &str| {
        let report = check(&format!("cable xlr3\nscope stated\n{lines}\n"));
        (report.verdict, codes(&report.findings).iter().map(|code| (*code).to_owned()).collect::<Vec<_>>())
    };
    let owned = |codes: &[&str]| codes.iter().map(|code| (*code).to_owned()).collect::<Vec<_>>();
    assert_eq!(outcome("A.1 B.1"), (Verdict::Inconclusive, owned(&["coverage.blind"])));
    // an open that is said in two ways
    assert_eq!(outcome("apart A.2 B.2").1, ["open", "coverage.blind"]);
    assert_eq!(outcome("open A.2").1, ["open", "coverage.blind"]);
    assert_eq!(outcome("isolation A.2 B.2 >500 Mohm").1, ["open", "coverage.blind"]);
    // exchanged conductors, with the third never looked at
    assert_eq!(outcome("A.2 B.3\nA.3 B.2").1, ["pair.reversed", "coverage.blind"]);
    // a supply wired through is found by the one probe that matters
    let report = check("cable displayport\nscope stated\nA.20 B.20\n");
    assert_eq!(report.verdict, Verdict::Fails);
    assert_eq!(codes(&report.findings)[0], "power.end-to-end");
    assert!(report.findings[0].hazard);
}

#[test]
fn apart_and_joined_is_a_contradiction() {
    for line in ["apart A.1 B.3", "isolation A.1 B.3 >500 Mohm", "isolation A.1 B.3 50 kohm", "isolation A.1 B.3 9 kohm"] {
        let text = format!("cable xlr3\nA.1 B.1\nB.1 B.3\nA.2 B.2\n{line}\n");
        let mut problems = Vec::new();
        let outcome = check_text("x", &text, &Options::default(), |batch| problems.extend(batch.problems));
        assert_eq!(outcome.status(), 2, "{line}");
        assert!(problems[0].message.contains("apart"), "{problems:?}");
        assert!(problems[0].labels.len() >= 2);
    }
}

/// Three grounds of 28 AWG, 2 m, beside the others: 1/(1/R + ... ) by hand. With the wire's 212.921 ohm/km (ASTM B258 with
/// IEC 60028, computed with numpy) each wire has 425.8 mohm; two in parallel half of it; and the 20 mohm of the two contacts
/// that are probed lie in series with that.
#[test]
fn the_change_that_a_loss_makes() {
    let text = "cable displayport\nlength 2 m\ngauge 28 AWG\ntemperature 20 C\nA.1 B.12\nA.2 B.11 A.5 B.8\nA.8 B.5\nA.11 B.2\nA.16 B.16\nA.shell B.shell\n\
                A.3 B.10\nA.4 B.9\nA.6 B.7\nA.7 B.6\nA.9 B.4\nA.10 B.3\nA.12 B.1\nA.13 B.13\nA.14 B.14\nA.15 B.15\nA.17 B.17\nA.18 B.18\nA.19 B.19\n";
    let (_, coverage) = coverage(text);
    let hidden: Vec<_> = coverage
        .rows
        .iter()
        .filter_map(|row| if let Sight::Hidden(masked) = &row.sight { Some((row.kind, masked)) } else { None })
        .collect();
    assert_eq!(hidden.len(), 2);
    for (kind, masked) in hidden {
        assert_eq!(kind, ConductorKind::Wire);
        let [with, without] = masked.change.unwrap();
        assert!(
            (without - (0.212_921 * 2.0 + 0.020)).abs() < 1e-4 && (with - (0.212_921 + 0.020)).abs() < 1e-4,
            "{with} {without}"
        );
    }
}

/// A ground that is missing among five which are commoned at both ends: continuity is whole, the figure is not.
#[test]
fn a_lost_parallel_conductor_leaves_the_unit_undecided() {
    let whole = std::fs::read_to_string("netlists/faults/coverage.commoned.netlist").unwrap();
    let report = check(&whole);
    assert_eq!((report.verdict, report.findings.len()), (Verdict::Conforms, 1));
    assert_eq!((report.findings[0].code, report.findings[0].undecided), (Code::CoverageBlind, false));
    let lost = whole.replace("0.031 ohm", "0.26 ohm");
    let report = check(&lost);
    assert_eq!(report.verdict, Verdict::Inconclusive);
    assert!(codes(&report.findings).contains(&"resistance.high"), "{:?}", report.findings);
}
