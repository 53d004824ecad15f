//! Inspects a reel, and prints each finding with its lines.
//!
//! `cargo run --example inspect_reel -- netlists/reel7.netlist`

#![allow(clippy::print_stdout)]

use std::path::Path;

use backshell::verify::{Options, Outcome, check_file};

/// A line a finding, and how the reel came out.
pub fn inspect(path: &Path) -> (Vec<String>, Outcome) {
    let mut found = Vec::new();
    let outcome = check_file(path, &Options::default(), |batch| {
        found.extend(batch.problems.iter().map(|problem| problem.message.clone()));
        for report in &batch.reports {
            for finding in &report.findings {
                let lines: Vec<u64> = finding.labels.iter().map(|label| label.source.position(label.span.start).line).collect();
                let unit = report.unit.as_deref().unwrap_or("-");
                found.push(format!("{unit} {}: {} (lines {lines:?})", finding.code, finding.message));
            }
        }
    });
    (found, outcome)
}

fn main() {
    let path = std::env::args().nth(1).unwrap_or_else(|| "netlists/reel7.netlist".to_owned());
    let (found, outcome) = inspect(Path::new(&path));
    println!("{}\n{} of {} units conform", found.join("\n"), outcome.conforms, outcome.units());
}
