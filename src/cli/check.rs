//! `backshell check`.

use std::io::{self, Write};
use std::path::PathBuf;

use clap::{Args, ValueEnum};

use crate::report::{FindingsCsv, JsonReport, Junit, Questions, Sarif, Terminal, Writer, schema};
use crate::text::Source;
use crate::verify::{Batch, Outcome, check_file};

use super::input::Input;

#[derive(Debug, Args)]
pub(super) struct Arguments {
    /// Netlists, from-to tables (.csv, .tsv) or print-outs to check; `-` reads the standard input
    #[arg(value_name = "NETLIST", required_unless_present = "print_schema")]
    netlists: Vec<PathBuf>,
    #[command(flatten)]
    input: Input,
    /// How to report
    #[arg(long, value_enum, default_value_t = CheckFormat::Human)]
    format: CheckFormat,
    /// Draw every finding, however many there are
    #[arg(long)]
    draw_all: bool,
    /// Write the query sheet for the supplier of a drawing instead: each open point with its rows and the two readings
    #[arg(long, conflicts_with = "format")]
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
        _ if arguments.questions => all(arguments, Questions::new(out)),
        CheckFormat::Human => all(arguments, Terminal::new(out, super::colour()).draw_all(arguments.draw_all)),
        CheckFormat::Json => all(arguments, JsonReport::new(out)?),
        CheckFormat::Sarif => all(arguments, Sarif::new(out)?.below(std::env::current_dir().ok())),
        CheckFormat::Junit => all(arguments, Junit::new(out)?),
        CheckFormat::Csv => all(arguments, FindingsCsv::new(out)?),
    }
}

fn all(arguments: &Arguments, mut writer: impl Writer) -> io::Result<u8> {
    let mut total = Outcome::default();
    let options = match arguments.input.options(&arguments.netlists) {
        Ok(options) => options,
        Err(problems) => {
            total.problems = problems.len();
            let batch = Batch { source: Source::new("", ""), reports: Vec::new(), problems, unjudged: 0 };
            writer.batch("", &batch)?;
            writer.finish(&total)?;
            return Ok(total.status());
        }
    };
    let mut written = Ok(());
    for path in &arguments.netlists {
        let file = path.display().to_string();
        let outcome = check_file(path, &options, |batch| {
            if written.is_ok() {
                written = writer.batch(&file, &batch);
            }
        });
        total.add(outcome);
    }
    written?;
    writer.finish(&total)?;
    Ok(total.status())
}
