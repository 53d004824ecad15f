//! Files of settings, of causes (after a line `----`: what was seen, a statement a line) and of link rates.

use std::cell::OnceCell;

use backshell::diagnosis::{Model, Statement, gather, infer, observed_list};
use backshell::report::diagnosis_text;
use backshell::signal::rates;
use backshell::verify::check_text;

use super::{everything, halves, show, source, text};

pub fn settings(bytes: &[u8]) {
    let Some(text) = text(bytes) else { return };
    if let Err(problems) = backshell::cli::Settings::read(&source("config.toml", text), "src".as_ref()) {
        show(&problems);
    }
}

pub fn ladder(bytes: &[u8]) {
    let Some(text) = text(bytes) else { return };
    match rates::read(&source("ladder.toml", text)) {
        Ok(ladder) => ladder.rates.iter().for_each(|rate| assert!(ladder.rate(&rate.name).is_some())),
        Err(problem) => show(&[problem]),
    }
}

pub fn causes(bytes: &[u8]) {
    let Some(text) = text(bytes) else { return };
    let (causes, said) = halves(text, "");
    let model = match Model::read(&source("causes.toml", causes)) {
        Ok(model) => model,
        Err(problems) => return show(&problems),
    };
    assert!(!observed_list(&model, 60).is_empty());
    let said: Vec<Statement> = said.lines().filter_map(Statement::parse).collect();
    let sample = OnceCell::new();
    check_text("lead", "cable xlr3\nA.1 B.1 0.1 ohm\nA.2 B.2\nA.3 B.3\nA.shell B.shell\n", &everything(), |batch| {
        sample.set(batch).unwrap();
    });
    let report = &sample.get().unwrap().reports[0];
    match gather(&model, report, &[], &said) {
        Ok(evidence) => {
            let diagnosis = infer(&model, &evidence.observations, evidence.applies, true);
            let whole: f64 = diagnosis.ranked.iter().map(|one| one.probability).sum();
            assert!((whole - 1.0).abs() < 1e-6, "the shares of all causes are {whole}");
            assert!(!diagnosis_text(&model, report, &evidence, &diagnosis).is_empty());
        }
        Err(problems) => show(&problems),
    }
}
