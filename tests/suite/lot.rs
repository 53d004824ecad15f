//! Lots: what is merged, decided, found in common, and printed.

use std::collections::BTreeMap;
use std::path::Path;
use std::process::Command;

use backshell::finding::{Code, Verdict};
use backshell::lot::plan::{Inspection, Level};
use backshell::lot::{
    Asked, Decision, DriftKind, FULL_ATTEMPTS, FULL_PATTERNS, Fault, GradeReached, Group, LEVEL, PatternKind, PlanUsed, SortBy,
    Summary, Tally, TestedUnit, counted, decide, outliers, patterns, ranking, read_part, write_part,
};
use backshell::netlist::Action;
use backshell::report::{LotOptions, lot_report};
use backshell::text::Source;
use backshell::verify::{LotFacts, Options, Price, Reading, WiredEnd, check_text};
use proptest::prelude::*;

use crate::scratch::Scratch;

/// A small generator, so that the same lots come out everywhere (SplitMix64, public domain).
struct Random(u64);

impl Random {
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    fn below(&mut self, n: u64) -> u64 {
        self.next() % n
    }
}

/// A unit of a straight cable with so many conductors; each fault is a code and a conductor.
fn unit(name: &str, conductors: usize, faults: &[(Code, u64)]) -> TestedUnit {
    let facts = LotFacts::default().with_conductors(conductors).with_pairs(conductors / 2);
    let facts = ["A", "B"].map(|end| WiredEnd::new(end, conductors)).into_iter().fold(facts, LotFacts::with_end);
    let points = |at: u64| vec![format!("A.{at}"), format!("B.{at}")];
    let verdict = if faults.is_empty() { Verdict::Conforms } else { Verdict::Fails };
    let unit = TestedUnit::new(name, "dome-test", verdict).with_not_shown("crimp").with_not_shown("lock").with_facts(facts);
    faults.iter().fold(unit, |unit, (code, at)| unit.with_fault(Fault::new(*code, points(*at))))
}

fn one_group(units: impl IntoIterator<Item = TestedUnit>) -> Group {
    let summary = Summary::of(units);
    assert_eq!(summary.groups.len(), 1);
    summary.groups.into_values().next().unwrap()
}

// ------------------------------------------------------------------ merging

prop_compose! {
    fn any_unit()(
        serial in 0_u64..3000,
        prefix in 0_usize..3,
        attempt in 1_u8..4,
        verdict in 0_usize..3,
        faults in prop::collection::vec((0_usize..6, 0_u64..8), 0..3),
        ohms in prop::collection::vec(0_u32..5000, 0..4),
        supplier in 0_usize..2,
        length in 0_usize..3,
        grade in prop::option::of((-2_i32..3, -9_i32..9)),
    ) -> TestedUnit {
        let codes = [Code::Open, Code::Short, Code::PairReversed, Code::ResistanceHigh, Code::NumberingMirrored, Code::Swapped];
        let faults: Vec<(Code, u64)> = faults.into_iter().map(|(code, at)| (codes[code], at)).collect();
        let mut unit = unit(&format!("{}{serial}", ["R7-", "C3-", ""][prefix]), 8, &faults);
        unit.attempt = attempt;
        unit.verdict = [Verdict::Conforms, Verdict::Fails, Verdict::Inconclusive][verdict];
        unit.facts.supplier = Some(["Quillon Looms", "Marl & Finch"][supplier].to_owned());
        unit.facts.length = [Some(2.0), Some(10.0), None][length];
        unit.facts.price = Some(Price::new(f64::from(serial as u32) / 7.0, "EUR"));
        for (at, ohm) in ohms.into_iter().enumerate() {
            let points = format!("A.{at} B.{at}");
            unit.facts.readings.push(Reading::new(points, f64::from(ohm) * 1e-3 / 3.0, 0.01).with_most(1.0));
        }
        unit.grade = grade.map(|(steps_above_rated, margin)| GradeReached::new(steps_above_rated, f64::from(margin) / 3.0));
        unit
    }
}

/// A unit that couldn't be judged was drawn all the same: it isn't drawn once more.
#[test]
fn units_without_a_verdict_are_of_the_sample() {
    let plan = PlanUsed::of(Asked::Iso { level: Level::II, aql: 4.0, inspection: Inspection::Normal }, 150).unwrap();
    let (n, accept, _) = plan.numbers(150);
    assert_eq!((n, accept), (20, 2));
    let tally = Tally { conforms: 3, ..Tally::default() };
    let found = decide(plan, 150, tally, 0, 1);
    assert_eq!(found.decision, Decision::NotEnoughUnits);
    assert!(found.reason.contains("3 of 20 units were tested: 16 more"), "{}", found.reason);
}

/// A retest alone doesn't pass: what the first test showed isn't known. The other units count as they came.
#[test]
fn a_retest_without_its_first_test() {
    let again = |verdict| {
        let mut again = unit("R7-0007", 8, &[]);
        (again.attempt, again.verdict) = (2, verdict);
        again
    };
    let others: Vec<TestedUnit> = (0..3).map(|nth| unit(&format!("R7-000{nth}"), 8, &[])).collect();
    let count = |units: &[TestedUnit]| counted(&one_group(units.to_vec()), true);
    for action in [None, Some(Action::Repaired), Some(Action::Remated), Some(Action::SetUpCorrected)] {
        let mut alone = again(Verdict::Conforms);
        alone.facts.action = action;
        let found = count(&[&others[..], &[alone]].concat());
        assert_eq!((found.tally.conforms, found.tally.inconclusive, found.tally.fails), (3, 1, 0), "{action:?}");
        assert!(found.standings[0].why.is_some_and(|why| why.contains("first test isn't in the input")));
    }
    let found = count(&[&others[..], &[again(Verdict::Fails)]].concat());
    assert_eq!((found.tally.conforms, found.tally.inconclusive, found.tally.fails), (3, 0, 1));
    // where names weren't kept nobody knows: held, and still one of the units that were counted
    let mut nameless = one_group([&others[..], &[again(Verdict::Conforms)]].concat());
    nameless.names.clear();
    let found = counted(&nameless, true);
    assert_eq!((found.tally.conforms, found.tally.inconclusive), (2, 1));
    // with its first test, which conformed, it is one unit
    let found = count(&[&others[..], &[unit("R7-0007", 8, &[]), again(Verdict::Conforms)]].concat());
    assert_eq!((found.tally.conforms, found.tally.units()), (4, 4));
}

/// A file in a folder is read whatever the case of its ending.
#[test]
fn endings_in_capitals_are_read() {
    let scratch = Scratch::new("capitals");
    scratch.file("a.netlist", "cable xlr3\nunit M-1\nA.1 B.1\nA.2 B.2\nA.3 B.3\n");
    scratch.file("b.NETLIST", "cable xlr3\nunit M-2\nA.1 B.1\nA.2 B.3\nA.3 B.2\n");
    scratch.file("readme.txt", "the dome's microphones");
    let out = Command::new(env!("CARGO_BIN_EXE_backshell")).arg("lot").arg(&scratch.0).output().unwrap();
    assert_eq!(out.status.code(), Some(1));
    assert!(String::from_utf8_lossy(&out.stdout).contains("R E J E C T"));
    let said = String::from_utf8_lossy(&out.stderr);
    assert!(said.contains("readme.txt") && said.contains("not read"), "{said}");
}

/// Thirty-two units in two files are still thirty-two: a lot whose units count twice isn't decided by them, and one that was
/// merged with itself neither.
#[test]
fn a_unit_in_two_of_the_inputs() {
    let options = LotOptions::new(Asked::All).with_size(40);
    let sound: Vec<TestedUnit> = (0..20).map(|nth| unit(&format!("R7-{nth:04}"), 8, &[])).collect();
    let report = |units: &[TestedUnit]| lot_report(&Summary::of(units.to_vec()), &options, &[]);
    assert_eq!(report(&sound).decision, Decision::NotEnoughUnits);
    let twice = [&sound[..], &sound[..]].concat();
    let found = report(&twice);
    assert_eq!((found.decision, found.groups[0].counted_twice.len()), (Decision::Hold, 20));
    assert!(found.groups[0].reason.contains("R7-0000 and 19 more"), "{}", found.groups[0].reason);
    let mut part = Summary::of(sound.clone());
    part.merge(Summary::of(sound.clone()));
    assert_eq!(lot_report(&part, &options, &[]).decision, Decision::Hold);

    // a second attempt, another lot, and units without a name are other tests
    let again = sound.iter().map(|one| one.clone().with_attempt(2));
    let other = sound.iter().map(|one| {
        let mut other = one.clone();
        other.facts.lot = Some("R8".to_owned());
        other
    });
    let nameless = (0..3).map(|_| unit("leads.netlist", 8, &[]).with_named(false));
    let all: Vec<TestedUnit> = sound.iter().cloned().chain(again).chain(other).chain(nameless).collect();
    assert!(report(&all).groups.iter().all(|group| group.counted_twice.is_empty()));

    // a dangerous unit rejects, whatever else is doubtful
    let danger = unit("R7-0099", 8, &[(Code::PowerEndToEnd, 1)]).with_hazard(true);
    let found = report(&[&twice[..], &[danger]].concat());
    assert_eq!(found.decision, Decision::Reject);
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 48, ..ProptestConfig::default() })]

    /// However a lot is split and in whatever order the parts come, written and read again or not: the same bytes.
    #[test]
    fn any_split_gives_the_same_bytes(units in prop::collection::vec(any_unit(), 0..700), shards in 1_usize..7, seed in any::<u64>()) {
        let whole = write_part(&Summary::of(units.clone()));
        let mut random = Random(seed);
        let mut parts = vec![Vec::new(); shards];
        for unit in units {
            parts[random.below(shards as u64) as usize].push(unit);
        }
        let mut parts: Vec<Summary> = parts.into_iter().map(|mut part| {
            // within a part, too, any order
            for at in (1..part.len()).rev() {
                part.swap(at, random.below(at as u64 + 1) as usize);
            }
            let part = Summary::of(part);
            if random.below(2) == 0 { part } else { read_part(&Source::new("part.json", write_part(&part))).unwrap() }
        }).collect();
        // any tree of merges
        while parts.len() > 1 {
            let one = parts.swap_remove(random.below(parts.len() as u64) as usize);
            let at = random.below(parts.len() as u64) as usize;
            parts[at].merge(one);
        }
        let merged = write_part(&parts.pop().unwrap_or_default());
        prop_assert_eq!(merged, whole);
    }
}

/// A table that is full is dropped in every part alike, whoever noticed it.
#[test]
fn full_tables_merge_alike() {
    let many: Vec<TestedUnit> = (0..20_100_u64).map(|n| unit(&format!("R7-{n}"), 9, &[(Code::Open, n)])).collect();
    let whole = write_part(&Summary::of(many.clone()));
    let (left, right) = many.split_at(20_050);
    for (first, second) in [(left, right), (right, left)] {
        let mut merged = Summary::of(first.to_vec());
        merged.merge(Summary::of(second.to_vec()));
        assert!(merged.is_full(FULL_PATTERNS) && !merged.is_full(FULL_ATTEMPTS));
        assert_eq!(write_part(&merged), whole);
    }
    // the counts by code are still there
    assert_eq!(Summary::of(many).groups.values().next().unwrap().codes["open"].units, 20_100);
}

/// What is kept doesn't grow with the number of units.
#[test]
fn a_long_reel_stays_small() {
    let part = |units: u64| {
        let mut summary = Summary::default();
        let mut random = Random(7);
        for n in 0..units {
            let fault = [(Code::Open, random.below(16))];
            let mut unit = unit(&format!("R7-{n:07}"), 16, if random.below(4) == 0 { &fault } else { &[] });
            for at in 0..16 {
                let ohm = 0.4 + random.below(1_000_000) as f64 * 1e-7;
                unit.facts.readings.push(Reading::new(format!("A.{at} B.{at}"), ohm, 0.01).with_most(1.0));
            }
            summary.add(unit);
        }
        write_part(&summary).len()
    };
    let (short, long) = (part(20_000), part(60_000));
    assert!(long < 6 * 1024 * 1024, "{long}");
    // all that grew is the list of units that failed, until it is full
    assert!(long - short < 15_000 * 120, "{short} {long}");
}

#[test]
fn parts_that_cannot_be_read() {
    for (text, says) in [
        ("", "no part of a lot"),
        ("{}", "no part of a lot"),
        ("{\"schema\":\"backshell.lot-part/9\",\"summary\":null}", "no part of a lot"),
    ] {
        let problem = read_part(&Source::new("p.json", text)).unwrap_err();
        assert!(problem.message.contains(says), "{}", problem.message);
    }
    let other = write_part(&Summary::of([unit("1", 3, &[(Code::Open, 1)])])).replace("lot-part/1", "lot-part/2");
    assert!(read_part(&Source::new("p.json", other)).unwrap_err().message.contains("lot-part/2"));
    let code = write_part(&Summary::of([unit("1", 3, &[(Code::Open, 1)])])).replace("\"open\"", "\"opne\"");
    assert!(read_part(&Source::new("p.json", code)).unwrap_err().message.contains("opne"));
}

// ------------------------------------------------------------------ decisions

fn iso(lot: u64, aql: f64, inspection: Inspection) -> PlanUsed {
    PlanUsed::of(Asked::Iso { level: Level::II, aql, inspection }, lot).unwrap()
}

#[test]
fn decisions() {
    let tally = |conforms, fails, inconclusive| Tally { conforms, fails, inconclusive };
    // 32 of 200, one may fail
    let plan = iso(200, 1.5, Inspection::Normal);
    assert_eq!(plan.numbers(200), (32, 1, 2));
    for (counts, hazards, unjudged, decision) in [
        (tally(32, 0, 0), 0, 0, Decision::Accept),
        (tally(31, 1, 0), 0, 0, Decision::Accept),
        (tally(30, 2, 0), 0, 0, Decision::Reject),
        // two failures reject however few were tested
        (tally(0, 2, 0), 0, 0, Decision::Reject),
        (tally(20, 1, 0), 0, 0, Decision::NotEnoughUnits),
        // what is undecided counts as not accepted
        (tally(31, 0, 1), 0, 0, Decision::Accept),
        (tally(30, 1, 1), 0, 0, Decision::Hold),
        (tally(30, 0, 2), 0, 0, Decision::Hold),
        (tally(10, 0, 2), 0, 0, Decision::Hold),
        (tally(30, 0, 1), 0, 1, Decision::Hold),
        (tally(31, 0, 0), 0, 1, Decision::Accept),
        // one dangerous unit is enough
        (tally(31, 1, 0), 1, 0, Decision::Reject),
        (tally(0, 0, 0), 0, 0, Decision::NotEnoughUnits),
    ] {
        let decided = decide(plan, 200, counts, hazards, unjudged);
        assert_eq!(decided.decision, decision, "{counts:?}: {}", decided.reason);
    }
    // every unit
    for (counts, decision) in [
        (tally(8, 0, 0), Decision::Accept),
        (tally(7, 1, 0), Decision::Reject),
        (tally(7, 0, 1), Decision::Hold),
        (tally(7, 0, 0), Decision::NotEnoughUnits),
    ] {
        assert_eq!(decide(PlanUsed::All, 8, counts, 0, 0).decision, decision);
    }
    // a sample that isn't smaller than the lot is the lot
    assert_eq!(iso(10, 0.65, Inspection::Normal).numbers(10), (10, 0, 1));
    // reduced inspection, letter K at 0.65 %: accepted between 1 and 3, but back to normal
    let plan = iso(2000, 0.65, Inspection::Reduced);
    assert_eq!(plan.numbers(2000), (50, 1, 3));
    let decided = decide(plan, 2000, tally(48, 2, 0), 0, 0);
    assert!(decided.decision == Decision::Accept && decided.reason.contains("back to normal"), "{}", decided.reason);
    assert_eq!(decide(plan, 2000, tally(40, 2, 0), 0, 0).decision, Decision::NotEnoughUnits);
    assert_eq!(decide(plan, 2000, tally(47, 3, 0), 0, 0).decision, Decision::Reject);
    assert_eq!(decide(plan, 2000, tally(47, 2, 1), 0, 0).decision, Decision::Hold);
    let zero = PlanUsed::of(Asked::Zero { confidence: 0.95, quality: 0.05 }, 1_000_000).unwrap();
    assert_eq!(decide(zero, 1_000_000, tally(58, 1, 0), 0, 0).decision, Decision::Reject);
}

// ------------------------------------------------------------------ retests, through the language

fn read(text: &str) -> (Summary, Vec<String>) {
    let (mut summary, mut problems) = (Summary::default(), Vec::new());
    check_text("lot.netlist", text, &Options::default().with_lot(true), |batch| {
        batch
            .reports
            .iter()
            .filter_map(|report| TestedUnit::of(Path::new("lot.netlist"), report))
            .for_each(|unit| summary.add(unit));
        problems.extend(batch.problems.into_iter().map(|problem| problem.message));
    });
    (summary, problems)
}

const GOOD: &str = "A.1 B.1\nA.2 B.2\nA.3 B.3\n";
const BAD: &str = "A.1 B.1\nA.2 B.2\n";

#[test]
fn which_result_stands() {
    for (tests, verdict, says) in [
        (format!("unit 1\n{BAD}"), Verdict::Fails, None),
        (format!("unit 1\n{BAD}unit 1 attempt 2\n{GOOD}"), Verdict::Fails, Some("No action is on record")),
        (format!("unit 1\n{BAD}unit 1 attempt 2\naction re-mated\n{GOOD}"), Verdict::Inconclusive, Some("intermittent")),
        (format!("unit 1\n{BAD}unit 1 attempt 2\naction cleaned\n{GOOD}"), Verdict::Inconclusive, Some("intermittent")),
        (format!("unit 1\n{BAD}unit 1 attempt 2\naction set-up-corrected\n{GOOD}"), Verdict::Conforms, Some("void")),
        (format!("unit 1\n{BAD}unit 1 attempt 2\naction set-up-corrected\n{BAD}"), Verdict::Fails, Some("void")),
        (format!("unit 1\n{BAD}unit 1 attempt 2\naction repaired\n{GOOD}"), Verdict::Fails, Some("for the lot its first result")),
        (format!("unit 1\n{BAD}unit 1 attempt 2\naction re-mated\n{BAD}"), Verdict::Fails, Some("doesn't conform either")),
        // two out of three are no pass
        (
            format!(
                "unit 1\n{BAD}unit 1 attempt 2\naction set-up-corrected\n{GOOD}unit 1 attempt 3\naction set-up-corrected\n{GOOD}"
            ),
            Verdict::Fails,
            Some("two out of three"),
        ),
        // a unit that conformed and then doesn't
        (format!("unit 1\n{GOOD}unit 1 attempt 2\naction re-mated\n{BAD}"), Verdict::Fails, None),
    ] {
        let (summary, problems) = read(&format!("cable xlr3\n{tests}unit 2\n{GOOD}"));
        assert!(problems.is_empty(), "{problems:?}");
        let found = counted(summary.groups.values().next().unwrap(), true);
        assert_eq!(found.tally.units(), 2, "{tests}");
        assert_eq!(found.standings[0].verdict, verdict, "{tests}");
        assert_eq!(*found.tally.clone().of(verdict), 1 + u64::from(verdict == Verdict::Conforms), "{tests}");
        let why = found.standings[0].why.unwrap_or_default();
        assert!(says.is_none_or(|says| why.contains(says)), "{tests}: {why}");
        // both results are kept
        assert!(
            !tests.contains("attempt 2") || tests.starts_with(&format!("unit 1\n{GOOD}")) || found.standings[0].results.len() > 1
        );
        // where retests can't be matched, no failure goes away
        let unmatched = counted(summary.groups.values().next().unwrap(), false);
        assert!(unmatched.unmatched && unmatched.tally.conforms <= found.tally.conforms);
    }
}

#[test]
fn attempts_in_the_language() {
    let (_, problems) = read(&format!("cable xlr3\nunit 1\n{GOOD}unit 1\n{GOOD}"));
    assert!(problems[0].contains("a unit named twice: 1"), "{problems:?}");
    let (_, problems) = read(&format!("cable xlr3\nunit 1\n{GOOD}unit \"1\" attempt 2\n{GOOD}unit 1 attempt 2 # again\n{GOOD}"));
    assert!(problems[0].contains("a unit named twice: 1"), "{problems:?}");
    for (line, says) in [
        ("unit 1 attempt", "expected"),
        ("unit 1 attempt two", "which attempt is this?"),
        ("unit 1 attempt 10", "which attempt is this?"),
        ("unit 1 attempt 0", "which attempt is this?"),
        ("unit 1 attempt 2 3", "something at the end of the line"),
        ("unit 1\naction kicked", "this word isn't one of those allowed here"),
    ] {
        let (summary, problems) = read(&format!("cable xlr3\n{line}\n{GOOD}"));
        assert!(!problems.is_empty() && summary.groups.is_empty(), "{line}: {problems:?}");
        assert!(says == "expected" || problems[0].contains(says), "{line}: {problems:?}");
    }
    let text = "unit \"C 3\" attempt 2\naction set-up-corrected\nA.1 B.1\n";
    let printed = backshell::netlist::print(&backshell::netlist::parse(&Source::new("x", text)));
    assert_eq!(printed, text);
    // a long file is read in parts: a unit and its retest may lie far apart
    let mut long = "cable xlr3\n".to_owned();
    for nth in 0..20_000 {
        long += &format!("unit L{nth}\n{GOOD}");
    }
    long += &format!("unit L5 attempt 2\naction re-mated\n{GOOD}");
    let (summary, problems) = read(&long);
    assert!(problems.is_empty(), "{problems:?}");
    assert_eq!(summary.tally().units(), 20_000);
}

#[test]
fn what_a_record_keeps() {
    let (summary, _) = read(
        "cable xlr3\nlength 10 m\ngauge 22 AWG\ntype QL-22\nsupplier \"Quillon Looms\"\nlot C3\nrated none\nprice 21.50 EUR\n\
         unit 1\nA.1 B.1 0.55 ohm\nA.2 B.2 <1 ohm\nA.3 B.3 0.56 ohm +/- 0.002 ohm\nunit d\nsource drawing\nA.1 B.1\n",
    );
    let (key, group) = summary.groups.iter().next().unwrap();
    assert_eq!(key.words(), "xlr3, QL-22, Quillon Looms, lot C3, rated none, 10 m");
    assert_eq!(group.prices["EUR"], (21.5, 21.5));
    assert_eq!(group.readings.keys().collect::<Vec<_>>(), ["A.1 B.1", "A.3 B.3"]);
    assert!(group.readings["A.1 B.1"].most.unwrap() > 0.6 && group.readings["A.3 B.3"].uncertainty == 0.002);
    assert_eq!(group.contacts.values().collect::<Vec<_>>(), [&3, &3]);
    assert_eq!(group.first.units(), 1, "a drawing is no unit of a lot");
}

// ------------------------------------------------------------------ patterns

fn kinds(group: &Group) -> Vec<PatternKind> {
    patterns(group).into_iter().map(|pattern| pattern.kind).collect()
}

/// Among lots whose faults fall anywhere, a pattern is found at most as often as is said.
#[test]
fn scattered_faults_raise_no_alarm() {
    let mut random = Random(20_310_314);
    let lots = 3000;
    let mut alarms: BTreeMap<String, u32> = BTreeMap::new();
    let mut alarmed = 0_u32;
    for nth in 0..lots {
        let (units, conductors) = (5 + random.below(60), 3 + random.below(22));
        let share = 5 + random.below(60);
        let lot = (0..units).map(|at| {
            let mut faults = Vec::new();
            for code in [Code::Open, Code::Short, Code::ResistanceHigh] {
                if random.below(100) < share / 3 {
                    faults.push((code, random.below(conductors)));
                }
            }
            unit(&format!("S{at:03}"), conductors as usize, &faults)
        });
        let group = one_group(lot.collect::<Vec<_>>());
        let found: Vec<PatternKind> =
            kinds(&group).into_iter().filter(|kind| !matches!(kind, PatternKind::Scattered | PatternKind::TooFew)).collect();
        alarmed += u32::from(!found.is_empty());
        for kind in found {
            *alarms.entry(format!("{kind:?}")).or_default() += 1;
        }
        assert!(nth < 3 || alarmed < nth / 2, "{alarms:?}");
    }
    println!("{alarmed} alarms in {lots} lots: {alarms:?}");
    assert!(f64::from(alarmed) <= LEVEL * f64::from(lots), "{alarmed} alarms in {lots} lots: {alarms:?}");
}

/// The faults of a unit, by its number.
type MakeFaults<'a> = &'a mut dyn FnMut(u64, &mut Random) -> Vec<(Code, u64)>;

#[test]
fn what_is_systematic_is_found() {
    let mut random = Random(7);
    let mut lot = |n: u64, fault: MakeFaults<'_>| {
        let units: Vec<TestedUnit> = (0..n).map(|at| unit(&format!("R{at:03}"), 16, &fault(at, &mut random))).collect();
        patterns(&one_group(units))
    };
    // every unit, the same contact: the fixture before the lot
    let found = lot(4, &mut |_, _| vec![(Code::Open, 7)]);
    assert_eq!(found[0].kind, PatternKind::EveryUnit);
    assert!(found[0].suspect.contains("second adapter") && found[0].suspect.contains("end for end"));
    assert!(found[0].found.contains("open at A.7 B.7 in all of 4 units"), "{}", found[0].found);
    // half of the units, the same contact, among others that are scattered
    let found = lot(40, &mut |at, random| if at % 2 == 0 { vec![(Code::Open, 7)] } else { vec![(Code::Open, random.below(16))] });
    assert_eq!(found[0].kind, PatternKind::Repeated, "{found:?}");
    assert!(found[0].p.is_some_and(|(p, corrected)| p < corrected && corrected <= LEVEL));
    // whatever the fault, one contact
    let codes = [Code::Open, Code::ResistanceHigh, Code::Short, Code::Unexpected, Code::Miswired, Code::Swapped];
    let found = lot(36, &mut |at, random| vec![(codes[at as usize / 3 % 6], if at % 3 == 0 { 5 } else { random.below(16) })]);
    assert!(found.iter().any(|pattern| pattern.kind == PatternKind::Contact && pattern.found.starts_with("A.5 ")), "{found:?}");
    // from a serial number on
    let found = lot(60, &mut |at, random| if at >= 42 && at % 4 != 0 { vec![(Code::Open, random.below(16))] } else { vec![] });
    let drift = found.iter().find(|pattern| matches!(pattern.kind, PatternKind::Drift(_))).unwrap();
    assert!(drift.found.contains("from serial R43 on") || drift.found.contains("from serial R42 on"), "{}", drift.found);
    // two stretches in the middle of the reel: twelve bad units of two hundred in five runs
    let bad = |at: u64| (60..66).contains(&at) || (130..136).contains(&at);
    let found = lot(200, &mut |at, random| if bad(at) { vec![(Code::Open, random.below(16))] } else { vec![] });
    let stretches = found.iter().find(|pattern| pattern.kind == PatternKind::Drift(DriftKind::Stretches));
    assert!(
        stretches.is_some_and(|found| found.found.contains("12 of 200 units") && found.found.contains("(5 runs)")),
        "{found:?}"
    );
    // another numbering of a whole end needs no test
    let mut mirrored = unit("1", 16, &[(Code::NumberingMirrored, 1)]);
    mirrored.faults[0].points = (1..=16).map(|pin| format!("B.{pin}")).collect();
    assert_eq!(kinds(&one_group([mirrored, unit("2", 16, &[])])), [PatternKind::WholeEnd]);
    assert_eq!(kinds(&one_group([unit("1", 16, &[(Code::Open, 3)])])), [PatternKind::TooFew]);
    assert_eq!(kinds(&one_group([unit("1", 16, &[])])), []);
}

#[test]
fn outliers_against_siblings() {
    let lot = |last: f64| {
        let ohms = [0.451, 0.447, 0.459, 0.445, 0.456, 0.452, 0.444, last];
        one_group(ohms.into_iter().enumerate().map(|(at, ohm)| {
            let mut unit = unit(&format!("R{at}"), 1, &[]);
            unit.facts.readings.push(Reading::new("A.1 B.1", ohm, 0.01));
            unit
        }))
    };
    let (found, more) = outliers(&lot(0.52));
    assert_eq!((found.len(), more), (1, 0));
    assert_eq!((found[0].unit.as_str(), found[0].ohm), ("R7", 0.52));
    // within what the meter scatters by itself
    assert!(outliers(&lot(0.462)).0.is_empty());
    assert_eq!(outliers(&lot(0.30)).0[0].z.signum(), -1.0);
}

// ------------------------------------------------------------------ ranking

#[test]
fn the_worst_sample_ranks_a_group() {
    let mut units = Vec::new();
    let mut say = |supplier: &str, metres: f64, price: f64, grades: &[(i32, f64)]| {
        for (nth, (steps_above_rated, margin)) in grades.iter().enumerate() {
            let mut unit = unit(&format!("{supplier}{metres}-{nth}"), 4, &[]);
            unit.facts.supplier = Some(supplier.to_owned());
            unit.facts.length = Some(metres);
            unit.facts.rated = Some("HBR3".to_owned());
            unit.facts.price = Some(Price::new(price, "EUR"));
            unit.grade = Some(GradeReached::new(*steps_above_rated, *margin));
            units.push(unit);
        }
    };
    say("steady", 2.0, 18.0, &[(0, 0.4), (0, 0.6), (0, 0.5)]);
    // two brilliant samples don't make up for one that misses its grade
    say("brilliant", 2.0, 18.0, &[(2, 3.0), (2, 3.1), (-1, 0.1)]);
    say("one", 2.0, 18.0, &[(0, 0.4)]);
    say("twin", 2.0, 18.0, &[(0, 0.4), (0, 0.9), (0, 0.5)]);
    let rows = ranking(&Summary::of(units), SortBy::Worst);
    let order: Vec<(usize, &str)> = rows.iter().map(|row| (row.place, row.key.supplier.as_deref().unwrap())).collect();
    assert_eq!(order, [(1, "steady"), (1, "twin"), (3, "one"), (4, "brilliant")]);
    let notes = |nth: usize| rows[nth].notes.join("; ");
    assert!(notes(0).contains("shared") && notes(1).contains("shared"));
    assert!(notes(2).contains("1 sample: too few"));
    assert!(notes(3).contains("differ by 3 grades; the worst counts"));
    assert_eq!(rows[0].cost_per_metre, Some((9.0, "EUR".to_owned())));
    assert_eq!(rows[3].worst.unwrap().steps_above_rated, -1);
}

// ------------------------------------------------------------------ the command

fn lot(arguments: &[&str]) -> (Option<i32>, String, String) {
    let output = Command::new(env!("CARGO_BIN_EXE_backshell")).arg("lot").args(arguments).output().unwrap();
    let text = |bytes: &[u8]| String::from_utf8_lossy(bytes).into_owned();
    (output.status.code(), text(&output.stdout), text(&output.stderr))
}

#[test]
fn demo_lots_for_people() {
    for (name, arguments, status) in [
        ("cue", &["netlists/lots/cue-microphones.netlist", "--size", "200", "--aql", "1.5"][..], 1),
        ("cue-zero", &["netlists/lots/cue-microphones.netlist", "--size", "200", "--plan", "zero", "--quality", "10"], 1),
        ("same-contact", &["netlists/lots/floor-same-contact.netlist"], 1),
        ("along-the-reel", &["netlists/lots/floor-along-the-reel.netlist"], 1),
        ("suppliers", &["netlists/lots/suppliers", "--sort-by", "worst"], 1),
        ("reel7", &["netlists/reel7.netlist", "--size", "60", "--level", "S-3", "--aql", "4.0"], 1),
    ] {
        let (code, out, err) = lot(arguments);
        assert_eq!((code, err.as_str()), (Some(status), ""), "{name}");
        insta::assert_snapshot!(format!("lot__{name}"), out);
    }
}

/// One unit, one file: the words follow the figure.
#[test]
fn one_is_not_many() {
    let scratch = crate::scratch::Scratch::new("one");
    let folder = scratch.folder("in");
    std::fs::copy("netlists/faults/two-faults.netlist", folder.join("a.netlist")).unwrap();
    std::fs::write(folder.join("notes.md"), "none").unwrap();
    let (_, out, err) = lot(&[folder.to_str().unwrap()]);
    assert!(err.contains("not read") && err.contains("notes.md"), "{err}");
    assert!(out.contains("1 unit tested") && !out.contains("1 units"), "{out}");
    let (_, out, _) = lot(&[folder.to_str().unwrap(), "--size", "2"]);
    assert!(out.contains("1 unit of the lot: the bounds above speak of it,") && !out.contains("1 units"), "{out}");
    #[cfg(feature = "record")]
    {
        let record = scratch.path("r.sqlite");
        let (_, _, err) = lot(&["netlists/faults/two-faults.netlist", "--record", record.to_str().unwrap()]);
        assert!(err.contains("recorded: 1 verdict in "), "{err}");
    }
}

/// The heading names the order, and no note says more than the rows do.
#[test]
fn a_ranking_says_its_order() {
    let alike = "nothing that was measured tells them apart";
    for (order, heading, tie) in [
        ("worst", "Ranking, by the worst sample of each", "neither the worst sample nor the cost tells them apart"),
        ("cost", "Ranking, by the cost of a metre", "place 1 is shared: the cost of a metre doesn't tell them apart"),
        ("consistency", "Ranking, by how alike the samples of each are", ""),
        ("name", "Ranking, by name", ""),
    ] {
        let (_, out, _) = lot(&["netlists/lots/suppliers", "--sort-by", order]);
        assert!(out.contains(&format!("\n{heading}\n")), "{order}: {out}");
        assert!(out.contains(tie) && !out.contains(alike), "{order}: {out}");
        let (_, out, _) = lot(&["netlists/lots/suppliers", "--sort-by", order, "--format", "json"]);
        assert_eq!(serde_json::from_str::<serde_json::Value>(&out).unwrap()["ranked_by"], order);
    }
}

#[test]
fn demo_lots_for_programs() {
    let (code, out, _) = lot(&["netlists/lots/cue-microphones.netlist", "--size", "200", "--aql", "1.5", "--format", "json"]);
    assert_eq!(code, Some(1));
    let value: serde_json::Value = serde_json::from_str(&out).unwrap();
    assert_eq!(value["schema"], "backshell.lot/1");
    assert_eq!(value["decision"], "hold");
    insta::assert_snapshot!("lot__cue_json", out);
    let (code, out, _) = lot(&["netlists/lots/suppliers", "--format", "csv"]);
    assert_eq!(code, Some(1));
    insta::assert_snapshot!("lot__suppliers_csv", out);
    let mut rows = csv::Reader::from_reader(out.as_bytes());
    assert_eq!(rows.records().map(|row| row.unwrap().len()).collect::<Vec<_>>(), vec![18; 25]);
    let (code, schema, _) = lot(&["--print-schema"]);
    assert!(code == Some(0) && serde_json::from_str::<serde_json::Value>(&schema).is_ok());
}

/// Benches write parts, and merged they are what one run over everything is.
#[test]
fn benches_merge_to_one_run() {
    let folder = std::env::temp_dir().join(format!("backshell-lot-{}", std::process::id()));
    std::fs::create_dir_all(&folder).unwrap();
    let path = |name: &str| folder.join(name).display().to_string();
    let all = ["netlists/lots/cue-microphones.netlist", "netlists/lots/floor-same-contact.netlist", "netlists/lots/suppliers"];
    lot(&[&all[..], &["--part-out", &path("whole.json")]].concat());
    for (nth, one) in all.iter().enumerate() {
        lot(&[one, "--part-out", &path(&format!("{nth}.json"))]);
    }
    let (_, one_run, _) = lot(&all);
    for order in [[0, 1, 2], [2, 0, 1]] {
        let parts = order.map(|nth| path(&format!("{nth}.json")));
        let (_, merged, err) = lot(&["--merge", &parts[0], &parts[1], &parts[2], "--part-out", &path("merged.json")]);
        assert_eq!((merged.as_str(), err.as_str()), (one_run.as_str(), ""));
        assert_eq!(std::fs::read(path("merged.json")).unwrap(), std::fs::read(path("whole.json")).unwrap());
    }
    std::fs::remove_dir_all(&folder).ok();
}

#[test]
fn what_the_command_refuses() {
    let cue = "netlists/lots/cue-microphones.netlist";
    let folder = std::env::temp_dir().join(format!("backshell-lot-no-{}", std::process::id()));
    std::fs::create_dir_all(&folder).unwrap();
    let empty = folder.display().to_string();
    let history = folder.join("history.txt");
    std::fs::write(&history, "accepted\nrefused\n").unwrap();
    for (arguments, says) in [
        (&[cue, "--aql", "3"][..], "0.65, 1.0, 1.5, 2.5 and 4.0"),
        (&[cue, "--level", "IV"], "the levels are"),
        (&[cue, "--size", "20"], "a lot of 20 units, of which 32 were tested"),
        (&["netlists/lots/suppliers", "--size", "400"], "these units are of 9 kinds"),
        (&[cue, "--merge", "no-such.json"], "can't be opened"),
        (&[cue, "--merge", cue], "is no part of a lot"),
        (&[cue, "--format", "csv", "--merge", "x.json"], "lists units"),
        (&["no-such.netlist"], "can't be opened"),
        #[cfg(not(feature = "parquet"))]
        (&[cue, "--parquet", "x.parquet"], "built without Parquet"),
        (&[&empty], "no netlist in this folder"),
        (&[cue, "--size", "200", "--history", history.to_str().unwrap()], "a line of the history can't be read"),
        (&[cue, "--history", history.to_str().unwrap()], "--size N"),
        (&[cue, "--plan", "iso-2859"], "--size N"),
        (&[cue, "--plan", "zero"], "--size N"),
        (&[cue, "--aql", "1.0"], "--size N"),
        (&[cue, "--level", "II"], "--size N"),
        (&[cue, "--plan", "zero", "--confidence", "100"], "50 to 99.99"),
        (&[cue, "--plan", "zero", "--confidence", "49.9"], "50 to 99.99"),
        (&[cue, "--plan", "zero", "--confidence", "NaN"], "50 to 99.99"),
        (&[cue, "--plan", "zero", "--quality", "50.1"], "above 0 and up to 50"),
        (&[cue, "--plan", "zero", "--quality", "0"], "above 0 and up to 50"),
    ] {
        let (code, _, err) = lot(arguments);
        assert_eq!(code, Some(2), "{arguments:?}");
        assert!(err.contains(says), "{arguments:?}: {err}");
    }
    assert_eq!(lot(&[cue, "--plan", "all"]), lot(&[cue]), "without a size, every unit is what is done anyway");
    std::fs::write(&history, "accepted C1\nnot-accepted C2\nnot-accepted C3\n").unwrap();
    let (_, out, _) = lot(&[cue, "--size", "200", "--aql", "4.0", "--history", history.to_str().unwrap()]);
    assert!(out.contains("tightened inspection, letter G: test 32"), "{out}");
    std::fs::remove_dir_all(&folder).ok();
}
