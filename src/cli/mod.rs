//! The command line: thin, one file per command.

mod check;
mod compare;
mod coverage;
mod diagnose;
mod draw;
mod explain;
mod folders;
mod input;
mod keep;
mod lot;
mod maps;
mod progress;
#[cfg(feature = "record")]
mod record;
mod report;
mod sampling;
mod signal;
mod video;
mod watch;

use std::io::{self, IsTerminal, Write};
use std::process::ExitCode;

use clap::{Parser, Subcommand};

use crate::finding::Problem;
use crate::report::problem_text;

/// Checks custom-made cable assemblies against the pin maps of their connectors.
#[derive(Debug, Parser)]
#[command(name = "backshell", version, about, long_about = None, max_term_width = 100)]
#[command(
    after_help = "Exit status: 0 every unit conforms; 1 a unit fails or can't be decided; 2 the input or the command line can't be used."
)]
struct Arguments {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    /// The verdict on every unit of a netlist, with findings at their lines
    Check(check::Arguments),
    /// What a netlist can show of its cable, and which probes are left
    Coverage(coverage::Arguments),
    /// Two netlists net by net, and both against the map of their cable
    Compare(compare::Arguments),
    /// Why a cable that rings out fails its signal: ranked causes, and what to measure next
    Diagnose(diagnose::Arguments),
    /// The wiring of a unit as a picture, its faults marked
    Draw(draw::Arguments),
    /// The page of a finding: what it means, how it comes about, how to confirm and repair it
    Explain(explain::Arguments),
    /// The decision on a lot: by plan, with what its faults have in common and how its types rank
    Lot(lot::Arguments),
    /// The catalogue of cables, or one pin map with its sources
    Maps(maps::Arguments),
    /// What a record of verdicts says of a unit, a lot or a supplier, and whether it was tampered with
    #[cfg(feature = "record")]
    Record(record::Arguments),
    /// One HTML file for a unit or a lot: report, certificate of conformity or non-conformance report
    Report(report::Arguments),
    /// Loss, skew, impedance along the cable, eye and highest rate, from Touchstone files of its pairs
    Signal(signal::Arguments),
    /// What a picture format needs of a link, and the lowest rate that carries it
    Video(video::Arguments),
    /// Takes each netlist that a tester writes into a folder, checks it, and shows the verdict from afar
    Watch(watch::Arguments),
}

/// Runs the command line of this process.
#[must_use]
pub fn run() -> ExitCode {
    let arguments = Arguments::parse();
    let out = io::stdout();
    let mut out = io::BufWriter::with_capacity(64 * 1024, out.lock());
    let done = match arguments.command {
        Command::Check(arguments) => check::run(&arguments, &mut out),
        Command::Coverage(arguments) => coverage::run(&arguments, &mut out),
        Command::Compare(arguments) => compare::run(&arguments, &mut out),
        Command::Diagnose(arguments) => diagnose::run(&arguments, &mut out),
        Command::Draw(arguments) => draw::run(&arguments, &mut out),
        Command::Explain(arguments) => explain::run(&arguments, &mut out),
        Command::Lot(arguments) => lot::run(&arguments, &mut out),
        Command::Maps(arguments) => maps::run(&arguments, &mut out),
        #[cfg(feature = "record")]
        Command::Record(arguments) => record::run(&arguments, &mut out),
        Command::Report(arguments) => report::run(&arguments, &mut out),
        Command::Signal(arguments) => signal::run(&arguments, &mut out),
        Command::Video(arguments) => video::run(&arguments, &mut out),
        Command::Watch(arguments) => watch::run(&arguments, &mut out),
    };
    match done.and_then(|status| out.flush().map(|()| status)) {
        Ok(status) => ExitCode::from(status),
        // whoever read the output has seen enough: `head` isn't an error
        Err(error) if error.kind() == io::ErrorKind::BrokenPipe => ExitCode::SUCCESS,
        Err(error) => {
            complain(&format!("the output can't be written: {error}"));
            ExitCode::from(2)
        }
    }
}

/// A line on the error stream.
fn complain(message: &str) {
    let _ = writeln!(io::stderr().lock(), "backshell: {message}");
}

/// Says what is wrong with the command line or a file that it names; gives the exit status.
fn unusable(problems: &[Problem]) -> io::Result<u8> {
    for problem in problems {
        write!(io::stderr().lock(), "{}", problem_text(problem, false))?;
    }
    Ok(2)
}

/// Colour only on a terminal, and never where `NO_COLOR` is set (no-color.org).
fn colour() -> bool {
    io::stdout().is_terminal() && std::env::var_os("NO_COLOR").is_none_or(|value| value.is_empty())
}
