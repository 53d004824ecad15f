//! Looks for the cause behind a link that fails though its cable rings out: the most probable ones, and the next measurement.
//!
//! `cargo run --example diagnose_link -- netlists/reel7.netlist R7-0001 swap=cured`

#![allow(clippy::print_stdout)]

use std::path::Path;

use backshell::diagnosis::{Model, Statement, figures, gather, infer};
use backshell::finding::Problem;
use backshell::verify::{Options, check_file};

/// The three first causes with their probabilities, then what to measure next.
///
/// # Errors
/// What can't be used of the input, or of what was said.
pub fn diagnose(path: &Path, unit: &str, said: &[Statement]) -> Result<Vec<String>, Vec<Problem>> {
    let model = Model::embedded()?;
    let options = Options::default().with_coverage(true).with_wiring(true).with_measured(true);
    let (mut lines, mut problems) = (Vec::new(), Vec::new());
    check_file(path, &options, |batch| {
        problems.extend(batch.problems);
        for report in batch.reports.iter().filter(|report| report.unit.as_deref() == Some(unit)) {
            let (figures, _) = figures(report);
            match gather(&model, report, &figures, said) {
                Ok(evidence) => {
                    let safe = !report.findings.iter().any(|finding| finding.hazard);
                    let diagnosis = infer(&model, &evidence.observations, evidence.applies, safe);
                    for one in diagnosis.ranked.iter().take(3) {
                        let name = one.cause.map_or("something else", |cause| model.causes[cause].name.as_str());
                        lines.push(format!("{:3.0} %  {name}", one.probability * 100.0));
                    }
                    let next = diagnosis.next.first().map(|next| &model.measurements[next.measurement].words);
                    lines.extend(next.map(|says| format!("next: {says}")));
                }
                Err(why) => problems.extend(why),
            }
        }
    });
    if problems.is_empty() { Ok(lines) } else { Err(problems) }
}

fn main() {
    let words: Vec<String> = std::env::args().skip(1).collect();
    let path = words.first().map_or("netlists/reel7.netlist", String::as_str);
    let unit = words.get(1).map_or("R7-0001", String::as_str);
    let said: Vec<Statement> = words.iter().skip(2).filter_map(|word| Statement::parse(word)).collect();
    match diagnose(Path::new(path), unit, &said) {
        Ok(lines) => println!("{}", lines.join("\n")),
        Err(problems) => problems.iter().for_each(|problem| println!("{}", problem.message)),
    }
}
