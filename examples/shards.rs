//! A lot in shards: every netlist becomes a part on its own, in any order and on any machine, and the parts merge to one answer.
//!
//! `cargo run --example shards -- netlists/lots/suppliers/*.netlist`
//!
//! The map step is a function from a file to text, and the reduce step one from two texts to a text, so that any engine that
//! runs such steps over many machines can do the same. Reducing may pair parts in any order: the bytes at the end are equal.

#![allow(clippy::print_stdout, clippy::print_stderr)]

use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::thread;

use backshell::finding::Problem;
use backshell::lot::plan::{Inspection, Level};
use backshell::lot::{Asked, PlanUsed, Summary, TestedUnit, counted, decide, read_part, write_part};
use backshell::text::Source;
use backshell::verify::{Options, check_file};

/// One shard: a file in, a part out.
fn map(file: &Path) -> String {
    let mut summary = Summary::default();
    check_file(file, &Options::default().with_lot(true), |batch| {
        summary.unjudged += batch.unjudged as u64;
        summary.problems += batch.problems.len() as u64;
        for unit in batch.reports.iter().filter_map(|report| TestedUnit::of(file, report)) {
            summary.add(unit);
        }
    });
    write_part(&summary)
}

/// Two parts in, one part out.
fn reduce(one: &str, other: &str) -> Result<String, Problem> {
    let mut summary = read_part(&Source::new("one", one))?;
    summary.merge(read_part(&Source::new("other", other))?);
    Ok(write_part(&summary))
}

fn main() -> ExitCode {
    let files: Vec<PathBuf> = std::env::args().skip(1).map(PathBuf::from).collect();
    // a thread stands for a machine
    let shards: Vec<_> = files.into_iter().map(|file| thread::spawn(move || map(&file))).collect();
    let parts = shards.into_iter().filter_map(|shard| shard.join().ok());
    let merged = parts.map(Ok).reduce(|one, other| reduce(&one?, &other?));
    let summary = match merged.map(|part| part.and_then(|part| read_part(&Source::new("merged", part)))) {
        Some(Ok(summary)) => summary,
        Some(Err(problem)) => {
            eprintln!("{}", problem.message);
            return ExitCode::from(2);
        }
        None => {
            eprintln!("name some netlists");
            return ExitCode::from(2);
        }
    };
    for (key, group) in &summary.groups {
        let tally = counted(group, true).tally;
        let lot = tally.units();
        let asked = Asked::Iso { level: Level::II, aql: 1.0, inspection: Inspection::Normal };
        let plan = PlanUsed::of(asked, lot).unwrap_or(PlanUsed::All);
        let decided = decide(plan, lot, tally, group.hazards, summary.unjudged);
        println!("{}: {} ({})", key.words(), decided.decision.words(), decided.reason);
    }
    ExitCode::SUCCESS
}
