//! `backshell draw`.

use std::io::{self, Write};
use std::path::{Path, PathBuf};

use clap::{Args, ValueEnum};

use crate::finding::Verdict;
use crate::report::picture::{Picture, scene, svg, terminal};
use crate::text::visible;
use crate::verify::{Options, Outcome, UnitReport, check_file};

use super::input::Input;
use super::settings::settings;

#[derive(Debug, Args)]
pub(super) struct Arguments {
    /// The netlist; `-` reads the standard input
    #[arg(value_name = "NETLIST")]
    netlist: PathBuf,
    #[command(flatten)]
    input: Input,
    /// Which unit; without it, the first that fails
    #[arg(long, value_name = "NAME")]
    unit: Option<String>,
    #[command(flatten)]
    form: Form,
}

/// How to draw, and where to.
#[derive(Debug, Args)]
pub(super) struct Form {
    /// How to draw [default: terminal]
    #[arg(long, value_enum)]
    format: Option<Format>,
    /// Write to this file instead of the standard output
    #[arg(short, long, value_name = "FILE")]
    output: Option<PathBuf>,
}

/// The form of a picture.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
enum Format {
    /// Characters, for a terminal
    Terminal,
    /// A scalable picture, for a browser or a printer
    Svg,
}

impl Form {
    /// Whether the command line says anything about it.
    pub(super) fn is_given(&self) -> bool {
        self.format.is_some() || self.output.is_some()
    }

    /// Whether it says which form.
    pub(super) fn has_format(&self) -> bool {
        self.format.is_some()
    }

    /// The file that the output goes to.
    pub(super) fn output(&self) -> Option<&Path> {
        self.output.as_deref()
    }

    /// Draws a picture; colour only on a terminal.
    pub(super) fn draw(&self, picture: &Picture, out: &mut impl Write) -> io::Result<()> {
        let text = match self.format.unwrap_or(Format::Terminal) {
            Format::Terminal => terminal(picture, self.output.is_none() && settings().colour()),
            Format::Svg => svg(&scene(picture)),
        };
        match &self.output {
            Some(path) => std::fs::write(path, text),
            None => out.write_all(text.as_bytes()),
        }
    }
}

pub(super) fn run(arguments: &Arguments, out: &mut impl Write) -> io::Result<u8> {
    let options = match arguments.input.options(std::slice::from_ref(&arguments.netlist)) {
        Ok(options) => Options { wiring: true, ..options },
        Err(problems) => return super::unusable(&problems),
    };
    let mut chosen: Option<UnitReport> = None;
    let outcome = check_file(&arguments.netlist, &options, |batch| {
        for problem in &batch.problems {
            let _ = write!(io::stderr().lock(), "{}", settings().problem_text(problem));
        }
        for report in batch.reports {
            let better = match &arguments.unit {
                Some(name) => report.unit.as_deref() == Some(name),
                None => chosen.as_ref().is_none_or(|known| urgency(&report) < urgency(known)),
            };
            if better {
                chosen = Some(report);
            }
        }
    });
    let Some(report) = chosen else {
        if let Some(name) = arguments.unit.as_ref().filter(|_| outcome.units() + outcome.unjudged > 0) {
            super::complain(&format!("no unit {} with a verdict in this netlist", visible(name)));
        } else {
            super::complain("nothing to draw: no unit of this netlist has a verdict");
        }
        return Ok(2);
    };
    if arguments.unit.is_none() && outcome.units() > 1 {
        super::complain(&which(&report, &outcome));
    }
    let Some(picture) = Picture::of(&report) else {
        super::complain("this drawing can't be drawn as it stands; `backshell check` shows where:");
        for finding in &report.findings {
            super::complain(&visible(&finding.message));
        }
        return Ok(1);
    };
    arguments.form.draw(&picture, out)?;
    Ok(if outcome.problems > 0 { 2 } else { u8::from(report.verdict != Verdict::Conforms) })
}

/// Units that fail before those that can't be decided, and these before those that conform.
fn urgency(report: &UnitReport) -> u8 {
    match report.verdict {
        Verdict::Fails => 0,
        Verdict::Inconclusive => 1,
        Verdict::Conforms => 2,
    }
}

/// Says which of several units is drawn.
fn which(report: &UnitReport, outcome: &Outcome) -> String {
    let why = match report.verdict {
        Verdict::Fails => "the first that fails",
        Verdict::Inconclusive => "none fails, and this is the first that can't be decided",
        Verdict::Conforms => "all conform, and this is the first",
    };
    let name = report.unit.as_deref().map_or_else(|| "the unnamed unit".into(), visible);
    format!("{} units; drawn is {name}: {why}. `--unit NAME` draws another", outcome.units())
}
