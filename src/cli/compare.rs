//! `backshell compare`.

use std::io::{self, Write};
use std::path::PathBuf;

use clap::Args;

use crate::report::{CompareJson, CompareTerminal, CompareWriter, compare_schema};
use crate::verify::{CompareOptions, Options, compare_files};

use super::check::Format;
use super::input::Input;
use super::settings::settings;

#[derive(Debug, Args)]
pub(super) struct Arguments {
    /// The two netlists, such as a drawing and a sample; one of them may be `-`, the standard input
    #[arg(value_name = "NETLIST", num_args = 2, required_unless_present = "print_schema")]
    netlists: Vec<PathBuf>,
    #[command(flatten)]
    input: Input,
    /// List the contacts where all three agree, and the figures that are the same, too
    #[arg(long)]
    all: bool,
    /// Only the summary, what must not be connected, and problems of the input
    #[arg(long, conflicts_with = "format")]
    quiet: bool,
    /// How to report
    #[arg(long, value_enum, default_value_t = Format::Human)]
    format: Format,
    /// Print the JSON Schema of `--format json` and stop
    #[arg(long)]
    print_schema: bool,
}

pub(super) fn run(arguments: &Arguments, out: &mut impl Write) -> io::Result<u8> {
    if arguments.print_schema {
        writeln!(out, "{}", compare_schema())?;
        return Ok(0);
    }
    match arguments.format {
        Format::Human => both(arguments, terminal(arguments, out)),
        Format::Json => both(arguments, CompareJson::new(out)?),
    }
}

/// The report for people.
fn terminal<W: Write>(arguments: &Arguments, out: W) -> CompareTerminal<W> {
    let terminal = CompareTerminal::new(out, settings().colour(), arguments.all).quiet(arguments.quiet);
    match settings().width() {
        Some(columns) => terminal.width(columns),
        None => terminal,
    }
}

fn both(arguments: &Arguments, mut writer: impl CompareWriter) -> io::Result<u8> {
    let [first, second] = arguments.netlists.as_slice() else { return Ok(2) };
    let Options { cable, maps, forms, .. } = match arguments.input.options(&arguments.netlists) {
        Ok(options) => options,
        Err(problems) => return super::unusable(&problems),
    };
    let options = CompareOptions { cable, maps, forms, every_contact: arguments.all };
    let mut written = Ok(());
    let comparison = compare_files(first, second, &options, |pair| {
        if written.is_ok() {
            written = writer.pair(&pair);
        }
    });
    written?;
    writer.finish(&comparison)?;
    Ok(comparison.status())
}
