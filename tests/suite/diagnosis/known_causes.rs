//! Cables with a known cause each: how often it comes first, and whether probabilities are what they say. By default a sample
//! of 160; with `BACKSHELL_CAMPAIGN=middle` 1,000, with `full` 2,000.

use std::collections::BTreeMap;
use std::fmt::Write;

use backshell::diagnosis::{Claim, Diagnosis, Evidence, Link, Model, SignalFigures, Statement, gather, infer};
use backshell::signal::{Settings, analyse};
use backshell::verify::UnitReport;

use super::{checked, model};
use crate::cable_model::{ALLOWED_NEXT, Bench, CAUSES, NYQUIST, bench};
use crate::campaign::{Random, Size, in_parallel};

/// What the S-parameters of a bench show, and its crosstalk.
fn figures(bench: &Bench, report: &UnitReport) -> Vec<SignalFigures> {
    let measured = report.measured.as_deref().unwrap();
    let wire = measured.wire.unwrap();
    let mut link = Link::new(100.0)
        .with_nyquist_hz(NYQUIST)
        .with_allowed_loss_db(bench.allowed_loss)
        .with_loop_ohm(2.0 * (wire.nominal + wire.contacts));
    (link.metres, link.area_mm2) = (measured.metres, measured.area_mm2);
    let mut settings = Settings::default()
        .with_skew_band_hz([0.2 * NYQUIST, NYQUIST])
        .with_fit_band_hz([50e6, 1.5 * NYQUIST])
        .with_nyquist_hz(vec![NYQUIST]);
    settings.length_m = measured.metres;
    let mut all = Vec::new();
    for (at, network) in bench.networks.iter().enumerate() {
        let pair = format!("L{at}");
        let mut figures = match network {
            Some(network) => SignalFigures::of(&pair, ["A", "B"], &analyse(network, &settings).unwrap().pairs[0], &link),
            None => SignalFigures::new(pair, ["A", "B"].map(str::to_owned)),
        };
        (figures.next_db, figures.allowed_next_db) = (Some(bench.next[at]), Some(ALLOWED_NEXT));
        all.push(figures);
    }
    all
}

/// What a bench finds out with the measurements of these names.
fn evidence(
    model: &Model,
    bench: &Bench,
    report: &UnitReport,
    figures: &[SignalFigures],
    with: impl Fn(&str) -> bool,
) -> Evidence {
    let said: Vec<Statement> = bench.said.iter().filter(|(name, _)| with(name)).map(|(_, said)| said.clone()).collect();
    let kept = figures.iter().map(|whole| {
        let none = SignalFigures::new(whole.pair.clone(), whole.ends.clone());
        let mut kept = if with("s-parameters") { whole.clone() } else { none };
        let next = with("crosstalk").then_some(whole.next_db).flatten();
        (kept.next_db, kept.allowed_next_db) = (next, whole.allowed_next_db);
        kept
    });
    gather(model, report, &kept.collect::<Vec<_>>(), &said).unwrap()
}

fn diagnosed(model: &Model, evidence: &Evidence) -> Diagnosis {
    infer(model, &evidence.observations, evidence.applies, true)
}

/// The place of a cause in the ranking, from 0.
fn place(model: &Model, diagnosis: &Diagnosis, truth: &str) -> usize {
    let known = diagnosis.ranked.iter().filter_map(|one| one.cause);
    known.map(|cause| model.causes[cause].name.as_str()).position(|name| name == truth).unwrap()
}

/// The measurements that a bench has, each left out half of the time.
fn some_of(number: usize) -> Vec<&'static str> {
    let mut random = Random::new(1_000_000 + number);
    let all = ["swap", "elsewhere", "move", "tape", "weigh", "bond", "four-wire", "shell", "s-parameters", "crosstalk"];
    all.into_iter().filter(|_| random.below(2) == 0).collect()
}

/// Frequencies of a measurement: 62.5 MHz to 8 GHz.
const ROWS: usize = 128;

#[test]
fn the_true_cause_comes_first_and_probabilities_are_calibrated() {
    let model = model();
    let cases = Size::asked_for().of(160, 1_000, 2_000);
    let numbers: Vec<usize> = (0..cases).collect();
    // of each cable: with every measurement, and with some of them
    let results = in_parallel(&numbers, |_, number| {
        let bench = bench(*number, ROWS);
        let report = checked(&bench.netlist(|_| true));
        let figures = figures(&bench, &report);
        let whole = evidence(&model, &bench, &report, &figures, |_| true);
        let some = some_of(*number);
        let with = |name: &str| some.contains(&name);
        let part = evidence(&model, &bench, &checked(&bench.netlist(with)), &figures, with);
        [whole, part].map(|evidence| {
            let diagnosis = diagnosed(&model, &evidence);
            let first = diagnosis.ranked[0].cause.unwrap();
            let place = place(&model, &diagnosis, bench.truth);
            let claims = match &diagnosis.claim {
                Claim::PointsTo(cause) => Some(*cause == first && place == 0),
                _ => None,
            };
            (place, model.causes[first].name.clone(), diagnosis.ranked, claims)
        })
    });
    let mut out = format!("{cases} cables, seed {:#x}\n", Random::SEED);
    let share = |count: usize, of: usize| count as f64 / of as f64;
    let counted = |kind: usize, most: usize| results.iter().filter(|result| result[kind].0 < most).count();
    for (kind, name) in ["with every measurement", "with half of them"].iter().enumerate() {
        let claims: Vec<bool> = results.iter().filter_map(|result| result[kind].3).collect();
        let right = claims.iter().filter(|right| **right).count();
        let _ = writeln!(
            out,
            "{name}: first {:.1} %, among three {:.1} %; {} claims that it points to one cause, {right} right",
            100.0 * share(counted(kind, 1), cases),
            100.0 * share(counted(kind, 3), cases),
            claims.len(),
        );
        let _ = writeln!(out, "  cause            first  three   taken for");
        for truth in CAUSES {
            let own: Vec<_> =
                results.iter().zip(&numbers).filter(|(_, number)| CAUSES[**number % CAUSES.len()] == truth).collect();
            let mut wrong: BTreeMap<&str, usize> = BTreeMap::new();
            own.iter()
                .filter(|(result, _)| result[kind].0 > 0)
                .for_each(|(result, _)| *wrong.entry(&result[kind].1).or_default() += 1);
            let within = |most: usize| 100.0 * share(own.iter().filter(|(result, _)| result[kind].0 < most).count(), own.len());
            let _ = writeln!(out, "  {truth:15} {:5.1}  {:5.1}   {wrong:?}", within(1), within(3));
        }
    }
    // each cable counts by the prior of its cause, so that the mix is the one that the model expects
    let priors: f64 = CAUSES.iter().map(|name| model.causes[model.cause(name).unwrap()].prior).sum();
    let mut tables = Vec::new();
    for kind in 0..2 {
        let mut bins = [(0.0, 0.0, 0.0); 10];
        for (result, number) in results.iter().zip(&numbers) {
            let truth = model.cause(CAUSES[number % CAUSES.len()]).unwrap();
            let weight = model.causes[truth].prior / priors;
            for one in result[kind].2.iter().filter(|one| one.cause.is_some()) {
                let bin = &mut bins[((one.probability * 10.0) as usize).min(9)];
                bin.0 += weight;
                bin.1 += weight * one.probability;
                bin.2 += if one.cause == Some(truth) { weight } else { 0.0 };
            }
        }
        let _ = writeln!(out, "calibration, {}: given, right (share of causes)", ["every measurement", "half of them"][kind]);
        for (at, (weight, given, right)) in bins.iter().enumerate().filter(|(_, bin)| bin.0 > 0.0) {
            let _ = writeln!(
                out,
                "  {:2}0 to {:3} %: {:5.1} % {:5.1} %  ({weight:.0})",
                at,
                at * 10 + 10,
                100.0 * given / weight,
                100.0 * right / weight
            );
        }
        tables.push(bins);
    }
    std::fs::create_dir_all("target/tmp").unwrap();
    std::fs::write("target/tmp/diagnosis.txt", &out).unwrap();
    println!("{out}");
    // whatever is given as likely is right at least nearly as often: the model may doubt too much, and must not claim too much
    for bins in &tables {
        let (weight, given, right) =
            bins[6..].iter().fold((0.0, 0.0, 0.0), |sum, bin| (sum.0 + bin.0, sum.1 + bin.1, sum.2 + bin.2));
        assert!(right / weight > given / weight - 0.10, "{out}");
    }
    for (kind, least) in [(0, 0.97), (1, 0.93)] {
        let claims: Vec<bool> = results.iter().filter_map(|result| result[kind].3).collect();
        let right = claims.iter().filter(|right| **right).count();
        assert!(right as f64 >= least * claims.len() as f64, "{out}");
    }
    assert!(counted(0, 1) * 100 >= cases * 90, "{out}");
    assert!(counted(0, 3) * 100 >= cases * 99, "{out}");
}
