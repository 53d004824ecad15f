//! The lot that is being tested at the bench: the decision so far is that of `backshell lot`, and never an early "accept".

use std::ops::ControlFlow;
use std::path::Path;
use std::time::{Duration, UNIX_EPOCH};

use backshell::finding::Problem;
use backshell::lot::bench::{Bench, Event, LotPlan, Memory, Running, Seen, Settings};
use backshell::lot::plan::{History, Inspection, Level, LotResult};
use backshell::lot::{Asked, Decision, PlanUsed, Summary, TestedUnit};
use backshell::report::{LotOptions, lot_report};
use backshell::verify::{Options, check_file};

use crate::campaign::{Random, Size};
use crate::scratch::{Scratch, run, seen_in, text};

fn iso(size: u64, aql: f64) -> LotPlan {
    LotPlan::new(size, Asked::Iso { level: Level::II, aql, inspection: Inspection::Normal })
}

fn all(size: u64) -> LotPlan {
    LotPlan::new(size, Asked::All)
}

/// A bench that takes whatever is there at its second look.
struct Under<M> {
    bench: Bench<M>,
    now: Duration,
}

impl<M: Memory> Under<M> {
    fn new(folder: &Path, memory: Result<M, Problem>, plan: LotPlan, lot: Option<&str>) -> Self {
        let options = Options::default().with_lot(true);
        let mut settings = Settings::default().with_options(options).with_plan(plan);
        settings.lot = lot.map(str::to_owned);
        Under { bench: Bench::new(folder.to_path_buf(), settings, memory.unwrap()).unwrap(), now: Duration::ZERO }
    }

    /// The lot as it stands once everything is taken; that of the last event is the same.
    fn now(&mut self) -> Running {
        let mut last = None;
        for _ in 0..3 {
            self.now += Duration::from_secs(1);
            let time = UNIX_EPOCH + Duration::from_secs(1_931_245_200) + self.now;
            let each = |event| {
                if let Event::Taken(file) = event {
                    last = file.running;
                }
                ControlFlow::Continue(())
            };
            self.bench.look(self.now, || time, each).unwrap();
        }
        assert!(self.bench.is_idle());
        let running = self.bench.running().unwrap();
        if let Some(last) = last {
            assert_eq!(last, running);
        }
        running
    }
}

fn seen(folder: &Path, plan: LotPlan) -> Under<Seen> {
    Under::new(folder, seen_in(folder), plan, None)
}

const SOUND: &str = "A.1 B.1\nA.2 B.2\nA.3 B.3\n";
const REVERSED: &str = "A.1 B.1\nA.2 B.3\nA.3 B.2\n";
const HALF: &str = "scope stated\nA.1 B.1\n";

fn lead(unit: &str, facts: &str) -> String {
    let (scope, facts) = facts.strip_prefix("scope stated\n").map_or(("", facts), |rest| ("scope stated\n", rest));
    format!("cable xlr3\nlot M1\nsupplier \"Quillon Looms\"\n{scope}unit {unit}\n{facts}")
}

fn counts(running: &Running) -> (u64, u64, u64) {
    (running.tally.conforms, running.tally.fails, running.tally.inconclusive)
}

/// 13 of a lot of 25 at AQL 1.0, none of which may fail (MIL-STD-105E, level II, code letter E under the arrow of C).
#[test]
fn accepted_only_once_the_sample_is_complete() {
    let scratch = Scratch::new("lot-accepted");
    let mut bench = seen(&scratch.0, iso(25, 1.0));
    let before = bench.now();
    assert_eq!((before.decision, before.sample, before.lot), (Some(Decision::NotEnoughUnits), 13, None));
    for nth in 1..=13 {
        scratch.file(&format!("{nth:02}.netlist"), lead(&format!("M-{nth:02}"), SOUND));
        let running = bench.now();
        let expected = if nth < 13 { Decision::NotEnoughUnits } else { Decision::Accept };
        assert_eq!((running.decision, counts(&running)), (Some(expected), (nth, 0, 0)));
        assert_eq!(running.words() == "ACCEPT", nth == 13);
    }
    assert_eq!(bench.now().lot.and_then(|key| key.lot).as_deref(), Some("M1"));
    // one that fails after that still counts
    scratch.file("14.netlist", lead("M-14", REVERSED));
    assert_eq!(bench.now().decision, Some(Decision::Reject));
}

/// 20 of a lot of 150 at AQL 4.0: two may fail, three reject.
#[test]
fn a_certain_reject_is_said_at_once() {
    let scratch = Scratch::new("lot-rejected");
    let mut bench = seen(&scratch.0, iso(150, 4.0));
    for nth in 1..=3 {
        scratch.file(&format!("{nth}.netlist"), lead(&format!("M-{nth}"), REVERSED));
        let running = bench.now();
        assert_eq!(running.sample, 20);
        assert_eq!(running.decision == Some(Decision::Reject), nth == 3, "{running:?}");
    }
    let dangerous = Scratch::new("lot-dangerous");
    let mut bench = Under::new(&dangerous.0, seen_in(&dangerous.0), iso(150, 4.0), Some("K9"));
    std::fs::copy("netlists/faults/power.short.netlist", dangerous.path("k.netlist")).unwrap();
    let running = bench.now();
    assert_eq!((running.decision, running.hazards, running.tally.units()), (Some(Decision::Reject), 1, 1));
    // and a restart doesn't forget it
    drop(bench);
    let again = Under::new(&dangerous.0, seen_in(&dangerous.0), iso(150, 4.0), Some("K9")).bench.running().unwrap();
    assert_eq!(again, running);
}

#[test]
fn what_is_undecided_holds_the_lot() {
    let scratch = Scratch::new("lot-held");
    let mut bench = seen(&scratch.0, all(3));
    scratch.file("1.netlist", lead("M-1", SOUND));
    scratch.file("2.netlist", lead("M-2", HALF));
    let running = bench.now();
    assert_eq!((running.decision, counts(&running)), (Some(Decision::Hold), (1, 0, 1)));
    // a unit that can't be read, until its file is put right
    let other = Scratch::new("lot-unread");
    let mut bench = seen(&other.0, all(2));
    other.file("1.netlist", lead("M-1", SOUND));
    let bad = other.file("2.netlist", lead("M-2", "A.1 B\n"));
    let running = bench.now();
    assert_eq!((running.decision, running.unjudged), (Some(Decision::Hold), 1));
    // another name doesn't make it readable
    let renamed = other.path("3.netlist");
    std::fs::rename(bad, &renamed).unwrap();
    assert_eq!(bench.now().unjudged, 1);
    std::fs::write(renamed, lead("M-2", SOUND)).unwrap();
    let running = bench.now();
    assert_eq!((running.decision, running.unjudged), (Some(Decision::Accept), 0));
    // where acceptance has stopped, no sample accepts
    let stopped = Scratch::new("lot-stopped");
    let history = History::new(vec![LotResult::new(false); 7]).standing();
    assert!(history.stopped);
    let mut bench = seen(&stopped.0, all(1).with_history(history));
    stopped.file("1.netlist", lead("M-1", SOUND));
    assert_eq!(bench.now().decision, Some(Decision::Hold));
}

#[test]
fn no_decision_where_it_is_not_plain_which_units_are_the_lot() {
    let none = |files: &[&str], plan: LotPlan, lot: Option<&str>, words: &str| {
        let scratch = Scratch::new("lot-unclear");
        let mut bench = Under::new(&scratch.0, seen_in(&scratch.0), plan, lot);
        for (nth, content) in files.iter().enumerate() {
            scratch.file(&format!("{nth}.netlist"), content);
        }
        let running = bench.now();
        assert_eq!((running.decision, running.words()), (None, "NO DECISION"), "{running:?}");
        assert!(running.reason.contains(words), "{}", running.reason);
    };
    let (one, two) = (lead("M-1", SOUND), lead("M-2", SOUND));
    let without = one.replace("lot M1\n", "");
    let (longer, shorter) = (two.replace("lot", "length 2 m\nlot"), one.replace("lot", "length 2.0 m\nlot"));
    none(&[&without], all(1), None, "say no lot");
    none(&[&one, &two.replace("M1", "M2")], all(2), None, "units of 2 lots");
    none(&[&one, &two.replace("Looms", "Doors")], all(2), Some("M1"), "units of 2 lots");
    none(&[&one, &longer], all(2), None, "of 2 kinds");
    none(&[&one, &two], all(1), None, "of which 2 were tested");
    // the named lot is decided, whatever else is tested; and 2 m is 2.0 m
    let scratch = Scratch::new("lot-named");
    let mut bench = Under::new(&scratch.0, seen_in(&scratch.0), all(2), Some("M1"));
    for (name, content) in [("1.netlist", &shorter), ("2.netlist", &longer), ("3.netlist", &one.replace("M1", "M2"))] {
        scratch.file(name, content);
    }
    assert_eq!(bench.now().decision, Some(Decision::Accept));
}

/// Whatever is tested in whatever order: what counts and what follows is what `lot` makes of the same netlists, and it's the same
/// after a restart, with a record and without.
#[test]
fn it_is_the_decision_of_the_lot_command() {
    let runs = Size::asked_for().of(6, 20, 100);
    let actions = ["", "action repaired\n", "action re-mated\n", "action cleaned\n", "action set-up-corrected\n"];
    let mut met = std::collections::BTreeSet::new();
    for nth in 0..runs {
        let scratch = Scratch::new("lot-alike");
        let mut random = Random::new(nth);
        let plan = [all(8), iso(25, 1.0), iso(150, 4.0), iso(280, 2.5)][nth % 4].clone();
        let size = plan.size;
        let (asked, sample) = (plan.asked, PlanUsed::of(plan.asked, size).unwrap().numbers(size).0);
        let folder = scratch.folder("in");
        #[cfg(feature = "record")]
        let record = || {
            let record = backshell::lot::record::Record::open_or_new(&scratch.path("r.db"));
            record.and_then(|record| backshell::lot::record::BenchRecord::new(record, &folder, "{}".to_owned()))
        };
        #[cfg(feature = "record")]
        let mut recorded = Under::new(&folder, record(), plan.clone(), None);
        let mut bench = seen(&folder, plan.clone());
        let mut summary = Summary::default();
        let mut attempts = std::collections::BTreeMap::new();
        for step in 0..14 {
            let unit = random.below(usize::try_from(size.min(7)).unwrap());
            let attempt = attempts.entry(unit).and_modify(|attempt| *attempt += 1).or_insert(1_u32);
            let facts = [SOUND, SOUND, SOUND, SOUND, SOUND, REVERSED, HALF][random.below(7)];
            let action = if *attempt > 1 { actions[random.below(actions.len())] } else { "" };
            let content =
                lead(&format!("M-{unit} attempt {attempt}"), facts).replace("cable xlr3\n", &format!("cable xlr3\n{action}"));
            let path = folder.join(format!("{step:02}.netlist"));
            std::fs::write(&path, content).unwrap();
            check_file(&path, &Options::default().with_lot(true), |batch| {
                batch.reports.iter().filter_map(|report| TestedUnit::of(&path, report)).for_each(|unit| summary.add(unit));
            });
            let options = LotOptions::new(asked).with_size(size);
            let report = lot_report(&summary, &options, &[]);
            let group = &report.groups[0];
            let running = bench.now();
            assert_eq!(counts(&running), (group.conforms, group.fails, group.inconclusive), "run {nth}, step {step}");
            assert_eq!((running.decision, &running.reason), (Some(group.decision), &group.reason), "run {nth}, step {step}");
            assert!(running.decision != Some(Decision::Accept) || running.tally.units() >= sample);
            met.insert(running.words());
            #[cfg(feature = "record")]
            assert_eq!(recorded.now(), running, "run {nth}, step {step}");
        }
    }
    assert!(met.len() >= 3, "{met:?}");
}

#[test]
fn a_restart_goes_on_with_the_lot() {
    let scratch = Scratch::new("lot-restart");
    for nth in 1..=3 {
        scratch.file(&format!("{nth}.netlist"), lead(&format!("M-{nth}"), if nth == 2 { REVERSED } else { SOUND }));
    }
    let first = seen(&scratch.0, all(9)).now();
    let settings = Settings::default().with_lot("M1").with_supplier("Quillon Looms").with_plan(all(9));
    let bench = Bench::new(scratch.0.clone(), settings, seen_in(&scratch.0).unwrap()).unwrap();
    assert_eq!(bench.running().unwrap(), first);
    drop(bench);
    // the next unit brings the earlier ones back, without their being named
    let mut bench = seen(&scratch.0, all(9));
    scratch.file("4.netlist", lead("M-4", SOUND));
    assert_eq!(counts(&bench.now()), (3, 1, 0));
    // so does a file of a version that didn't keep danger, action and kind
    drop(bench);
    let state = scratch.path(".backshell-seen");
    let old: String = std::fs::read_to_string(&state)
        .unwrap()
        .lines()
        .map(|line| {
            let mut line: serde_json::Value = serde_json::from_str(line).unwrap();
            for unit in line["units"].as_array_mut().unwrap() {
                unit.as_object_mut().unwrap().retain(|key, _| !["hazard", "action", "sort"].contains(&key.as_str()));
            }
            format!("{line}\n")
        })
        .collect();
    std::fs::write(&state, old).unwrap();
    let mut bench = seen(&scratch.0, all(9));
    scratch.file("5.netlist", lead("M-5", SOUND));
    assert_eq!(counts(&bench.now()), (4, 1, 0));
}

#[test]
fn what_the_terminal_says() {
    let scratch = Scratch::new("lot-said");
    let folder = scratch.folder("in");
    std::fs::write(folder.join("1.netlist"), lead("M-1", SOUND)).unwrap();
    let watch = |more: &[&str]| {
        let mut words = vec!["watch", folder.to_str().unwrap(), "--once", "--quiet", "0"];
        words.extend(more);
        run(&words)
    };
    let said = text(&watch(&["--size", "25"]).stdout);
    let line = "decision so far: NOT ENOUGH UNITS YET: 1 of 13 units were tested: 12 more, drawn at random\n  \
                a lot of 25, 1 tested of the 13 that the plan asks for: by all tests of each 1 conform, 0 fail, 0 inconclusive\n";
    assert!(said.contains(line), "{said}");
    assert!(!text(&watch(&[]).stdout).contains("decision"), "nothing is decided without a size");
    for plan in [["--plan", "zero"], ["--inspection", "tightened"], ["--history", "lots.txt"]] {
        let output = watch(&plan);
        assert_eq!(output.status.code(), Some(2), "{plan:?}");
        assert!(text(&output.stderr).contains("--size N"), "{}", text(&output.stderr));
    }
}
