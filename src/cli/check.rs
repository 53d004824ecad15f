//! `backshell check`.

use std::io::{self, Write};
use std::path::PathBuf;

use clap::{Args, ValueEnum};

use crate::finding::Problem;
use crate::report::{FindingsCsv, JsonReport, Junit, Questions, Sarif, Terminal, Writer, schema};
use crate::verify::{Batch, Options, Outcome, check_file};

use super::input::Input;
use super::keep::{Keep, Keeper};
use super::settings::settings;

#[derive(Debug, Args)]
pub(super) struct Arguments {
    /// Netlists, from-to tables (.csv, .tsv) or print-outs to check; `-` reads the standard input
    #[arg(value_name = "NETLIST", required_unless_present = "print_schema")]
    netlists: Vec<PathBuf>,
    #[command(flatten)]
    input: Input,
    #[command(flatten)]
    keep: Keep,
    /// Only the summary, what must not be connected, and problems of the input
    #[arg(long, conflicts_with = "format")]
    quiet: bool,
    /// How to report
    #[arg(long, value_enum, default_value_t = CheckFormat::Human)]
    format: CheckFormat,
    /// Draw every finding, however many there are
    #[arg(long)]
    draw_all: bool,
    /// Write the query sheet for the supplier of a drawing instead: each open point with its rows and the two readings
    #[arg(long, conflicts_with_all = ["format", "quiet"])]
    questions: bool,
    /// Print the JSON Schema of `--format json` and stop
    #[arg(long)]
    print_schema: bool,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
enum CheckFormat {
    /// Findings drawn at their lines, for people
    Human,
    /// One JSON object, for programs
    Json,
    /// A SARIF 2.1.0 log, for code hosts and editors
    Sarif,
    /// JUnit XML, for build servers: a case for each unit
    Junit,
    /// A row for each finding, and for each unit without one
    Csv,
}

/// How the commands report that have no more than two forms.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(super) enum Format {
    /// Drawn and in words, for people
    Human,
    /// One JSON object, for programs
    Json,
}

pub(super) fn run(arguments: &Arguments, out: &mut impl Write) -> io::Result<u8> {
    if arguments.print_schema {
        writeln!(out, "{}", schema())?;
        return Ok(0);
    }
    match arguments.format {
        _ if arguments.questions => all(arguments, Questions::new(out).colour(settings().colour()).width(settings().columns())),
        CheckFormat::Human => all(arguments, terminal(arguments, out)),
        CheckFormat::Json => all(arguments, JsonReport::new(out)?),
        CheckFormat::Sarif => all(arguments, Sarif::new(out)?.below(std::env::current_dir().ok())),
        CheckFormat::Junit => all(arguments, Junit::new(out)?),
        CheckFormat::Csv => all(arguments, FindingsCsv::new(out)?),
    }
}

/// The report for people.
fn terminal<W: Write>(arguments: &Arguments, out: W) -> Terminal<W> {
    let terminal = Terminal::new(out, settings().colour()).draw_all(arguments.draw_all).quiet(arguments.quiet);
    match settings().width() {
        Some(columns) => terminal.width(columns),
        None => terminal,
    }
}

fn all<W: Writer>(arguments: &Arguments, mut writer: W) -> io::Result<u8> {
    let mut total = Outcome::default();
    let opened = arguments.input.options(&arguments.netlists).and_then(|options| {
        let keeper = arguments.keep.open(&options).map_err(|problem| vec![problem])?;
        Ok((Options { about: keeper.is_some(), ..options }, keeper))
    });
    let (options, keeper) = match opened {
        Ok(opened) => opened,
        Err(problems) => {
            unusable(problems, &mut writer, &mut total)?;
            writer.finish(&total)?;
            return Ok(total.status());
        }
    };
    let mut run = Run { writer, keeper, total, written: Ok(()), unrecorded: None };
    for path in &arguments.netlists {
        let file = path.display().to_string();
        check_file(path, &options, |batch| run.batch(&file, &batch));
        if run.unrecorded.is_some() {
            break;
        }
    }
    run.finish()
}

/// A check under way.
struct Run<W> {
    writer: W,
    keeper: Option<Keeper>,
    total: Outcome,
    written: io::Result<()>,
    /// Why the record takes no more; what isn't recorded isn't reported either.
    unrecorded: Option<Problem>,
}

impl<W: Writer> Run<W> {
    /// One batch: into the record, and only then into the report. Where nobody reads the report any more, the record still
    /// takes all.
    fn batch(&mut self, file: &str, batch: &Batch) {
        if self.unrecorded.is_some() || (self.keeper.is_none() && self.written.is_err()) {
            return;
        }
        if let Some(Err(problem)) = self.keeper.as_mut().map(|keeper| keeper.batch(file, batch)) {
            self.unrecorded = Some(problem);
            return;
        }
        self.total.add(Outcome::of(batch));
        if self.written.is_ok() {
            self.written = self.writer.batch(file, batch);
        }
    }

    fn finish(mut self) -> io::Result<u8> {
        if let Some(problem) = self.unrecorded {
            unusable(vec![problem], &mut self.writer, &mut self.total)?;
        }
        if let Some(keeper) = &self.keeper {
            keeper.finish()?;
        }
        self.written?;
        self.writer.finish(&self.total)?;
        Ok(self.total.status())
    }
}

/// Problems that concern no file of the input.
fn unusable(problems: Vec<Problem>, writer: &mut impl Writer, total: &mut Outcome) -> io::Result<()> {
    let batch = Batch::of_problems(problems);
    total.add(Outcome::of(&batch));
    writer.batch("", &batch)
}
