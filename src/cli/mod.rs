//! The command line: thin, one file per command.

mod check;
mod compare;
mod completions;
mod coverage;
mod diagnose;
mod draw;
mod examples;
mod explain;
mod folders;
mod input;
mod keep;
mod lot;
mod man;
mod maps;
mod progress;
#[cfg(feature = "record")]
mod record;
mod report;
mod sampling;
mod settings;
#[cfg(feature = "signal")]
mod signal;
mod usage;
#[cfg(feature = "signal")]
mod video;
mod watch;
mod welcome;

use std::io::{self, Write};
use std::process::ExitCode;

use clap::{CommandFactory, Parser, Subcommand};

use crate::finding::Problem;

pub use settings::Settings;
use settings::settings;

/// Checks custom-made cable assemblies against the pin maps of their connectors.
#[derive(Debug, Parser)]
#[command(name = "backshell", version, about, long_about = None, max_term_width = 100)]
#[command(
    after_help = examples::BACKSHELL
)]
struct Arguments {
    #[command(flatten)]
    shared: settings::Shared,
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    /// The verdict on every unit of a netlist, with findings at their lines
    #[command(after_help = examples::CHECK, override_usage = usage::CHECK)]
    Check(check::Arguments),
    /// What a netlist can show of its cable, and which probes are left
    #[command(after_help = examples::COVERAGE, override_usage = usage::COVERAGE)]
    Coverage(coverage::Arguments),
    /// Two netlists net by net, and both against the map of their cable
    #[command(after_help = examples::COMPARE, override_usage = usage::COMPARE)]
    Compare(compare::Arguments),
    /// Completions of commands and options for a shell
    #[command(after_help = examples::COMPLETIONS)]
    Completions(completions::Arguments),
    /// The settings that are in force, as a file of settings
    #[command(after_help = examples::CONFIG)]
    Config,
    /// Why a cable that rings out fails its signal: ranked causes, and what to measure next
    #[command(after_help = examples::DIAGNOSE, override_usage = usage::DIAGNOSE)]
    Diagnose(diagnose::Arguments),
    /// The wiring of a unit as a picture, its faults marked
    #[command(after_help = examples::DRAW)]
    Draw(draw::Arguments),
    /// The page of a finding: what it means, how it comes about, how to confirm and repair it
    #[command(after_help = examples::EXPLAIN)]
    Explain(explain::Arguments),
    /// The decision on a lot: by plan, with what its faults have in common and how its types rank
    #[command(after_help = examples::LOT, override_usage = usage::LOT)]
    Lot(lot::Arguments),
    /// The manual: a page for each command, for `man`
    #[command(after_help = examples::MAN)]
    Man(man::Arguments),
    /// The catalogue of cables, or one pin map with its sources
    #[command(after_help = examples::MAPS)]
    Maps(maps::Arguments),
    /// What a record of verdicts says of a unit, a lot or a supplier, and whether it was tampered with
    #[cfg(feature = "record")]
    #[command(after_help = examples::RECORD)]
    Record(record::Arguments),
    /// One HTML file for a unit or a lot: report, certificate of conformity or non-conformance report
    #[command(after_help = examples::REPORT)]
    Report(report::Arguments),
    /// Loss, skew, impedance along the cable, eye and highest rate, from Touchstone files of its pairs
    #[cfg(feature = "signal")]
    #[command(after_help = examples::SIGNAL, override_usage = usage::SIGNAL)]
    Signal(signal::Arguments),
    /// What a picture format needs of a link, and the lowest rate that carries it
    #[cfg(feature = "signal")]
    #[command(after_help = examples::VIDEO, override_usage = usage::VIDEO)]
    Video(video::Arguments),
    /// Takes each netlist that a tester writes into a folder, checks it, and shows the verdict from afar
    #[command(after_help = examples::WATCH)]
    Watch(watch::Arguments),
}

/// Runs the command line of this process.
#[must_use]
pub fn run() -> ExitCode {
    if std::env::args_os().len() <= 1 {
        let _ = io::stderr().lock().write_all(welcome::TEXT.as_bytes());
        return ExitCode::from(welcome::STATUS);
    }
    let arguments = Arguments::parse();
    if let Err(problems) = arguments.shared.put_in_force() {
        let _ = unusable(&problems);
        return ExitCode::from(2);
    }
    let out = io::stdout();
    let mut out = io::BufWriter::with_capacity(64 * 1024, out.lock());
    let done = match arguments.command {
        Command::Check(arguments) => check::run(&arguments, &mut out),
        Command::Coverage(arguments) => coverage::run(&arguments, &mut out),
        Command::Compare(arguments) => compare::run(&arguments, &mut out),
        Command::Completions(arguments) => completions::run(&arguments, Arguments::command(), &mut out),
        Command::Config => settings::show(&mut out),
        Command::Diagnose(arguments) => diagnose::run(&arguments, &mut out),
        Command::Draw(arguments) => draw::run(&arguments, &mut out),
        Command::Explain(arguments) => explain::run(&arguments, &mut out),
        Command::Lot(arguments) => lot::run(&arguments, &mut out),
        Command::Man(arguments) => man::run(&arguments, Arguments::command(), &mut out),
        Command::Maps(arguments) => maps::run(&arguments, &mut out),
        #[cfg(feature = "record")]
        Command::Record(arguments) => record::run(&arguments, &mut out),
        Command::Report(arguments) => report::run(&arguments, &mut out),
        #[cfg(feature = "signal")]
        Command::Signal(arguments) => signal::run(&arguments, &mut out),
        #[cfg(feature = "signal")]
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
        write!(io::stderr().lock(), "{}", settings().problem_text(problem))?;
    }
    Ok(2)
}
