//! Diagnoses: what follows from what was observed, and what must never be claimed.

mod causes_file;
mod command;
mod decision_table;
mod known_causes;
mod rules;

use std::path::PathBuf;

use backshell::diagnosis::{Diagnosis, Model, Observation};
use backshell::report::problem_text;
use backshell::verify::{Options, UnitReport, check_text};

fn model() -> Model {
    Model::embedded().unwrap_or_else(|problems| panic!("{}", problem_text(&problems[0], false)))
}

/// The only unit of a netlist, checked with all that a diagnosis wants to know.
fn checked(text: &str) -> UnitReport {
    let maps = vec![PathBuf::from("tests/suite/cable_model")];
    let mut options = Options::default().with_coverage(true).with_wiring(true).with_measured(true);
    options.maps = maps;
    let mut reports = Vec::new();
    check_text("bench.netlist", text, &options, |batch| {
        assert!(batch.problems.is_empty(), "{:?}\n{text}", batch.problems);
        reports.extend(batch.reports);
    });
    assert_eq!(reports.len(), 1);
    reports.remove(0)
}

/// Observations: of each sign, the states that fit.
fn observed(model: &Model, list: &[(&str, &[&str])]) -> Vec<Observation> {
    let observation = |(sign, fit): &(&str, &[&str])| {
        let sign = model.sign(sign).unwrap();
        let states = &model.signs[sign].states;
        assert!(fit.iter().all(|fit| states.iter().any(|state| state.name == *fit)), "{fit:?}");
        let weights = states.iter().map(|state| if fit.contains(&state.name.as_str()) { 1.0 } else { 0.0 }).collect();
        Observation::new(sign, weights)
    };
    list.iter().map(observation).collect()
}

/// The share of a cause.
fn share(model: &Model, diagnosis: &Diagnosis, cause: &str) -> f64 {
    let cause = model.cause(cause).unwrap();
    diagnosis.ranked.iter().find(|one| one.cause == Some(cause)).unwrap().probability
}
