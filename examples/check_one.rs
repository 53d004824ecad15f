//! Checks one netlist and prints each finding with its lines.
//!
//! `cargo run --example check_one -- netlists/reel7.netlist`

#![allow(clippy::print_stdout)]

use std::path::PathBuf;

use backshell::verify::{Options, check_file};

fn main() {
    let path = std::env::args().nth(1).map_or_else(|| PathBuf::from("netlists/reel7.netlist"), PathBuf::from);
    let outcome = check_file(&path, &Options::default(), |batch| {
        for report in &batch.reports {
            for finding in &report.findings {
                let lines: Vec<u64> = finding.labels.iter().map(|label| label.source.position(label.span.start).line).collect();
                println!("{} {}: {} (lines {lines:?})", report.unit.as_deref().unwrap_or("-"), finding.code, finding.message);
            }
        }
    });
    println!("{} of {} units conform", outcome.conforms, outcome.units());
}
