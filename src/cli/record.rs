//! `backshell record`.

use std::io::{self, Write};
use std::path::{Path, PathBuf};

use clap::{Args, Subcommand};

use crate::lot::record::Record;
use crate::report::RecordAnswer;
use crate::text::{Digest, visible};

use super::check::Format;
use super::examples;
use super::settings::settings;

#[derive(Debug, Args)]
pub(super) struct Arguments {
    #[command(subcommand)]
    question: Question,
}

#[derive(Debug, Subcommand)]
enum Question {
    /// Every test of a unit
    #[command(after_help = examples::RECORD_UNIT, mut_arg("name", |name| name.help("The unit, as the netlists name it")))]
    Unit(About),
    /// How a lot stands: its units, their verdicts, what is wrong with them
    #[command(after_help = examples::RECORD_LOT, mut_arg("name", |name| name.help("The lot, as the netlists name it")))]
    Lot(About),
    /// What a supplier delivered, lot after lot
    #[command(after_help = examples::RECORD_SUPPLIER, mut_arg("name", |name| name.help("The supplier, as the netlists name it")))]
    Supplier(About),
    /// Whether rows were changed, removed, moved or put in
    #[command(after_help = examples::RECORD_VERIFY)]
    Verify(Verify),
}

#[derive(Debug, Args)]
struct About {
    /// The record
    #[arg(value_name = "FILE")]
    record: PathBuf,
    /// What is asked about, as the netlists name it
    #[arg(value_name = "NAME")]
    name: String,
    /// How to answer
    #[arg(long, value_enum, default_value_t = Format::Human)]
    format: Format,
}

#[derive(Debug, Args)]
struct Verify {
    /// The record
    #[arg(value_name = "FILE")]
    record: PathBuf,
    /// A head that was noted elsewhere: is that row still there?
    #[arg(long, value_name = "DIGEST", value_parser = digest)]
    head: Option<Digest>,
    /// How to answer
    #[arg(long, value_enum, default_value_t = Format::Human)]
    format: Format,
}

fn digest(written: &str) -> Result<Digest, String> {
    Digest::parse(written.trim()).ok_or_else(|| "expected 64 hexadecimal digits, as `record verify` prints them".to_owned())
}

pub(super) fn run(arguments: &Arguments, out: &mut impl Write) -> io::Result<u8> {
    match &arguments.question {
        Question::Unit(about) => asked(
            &about.record,
            |record| record.history(&about.name),
            |history| {
                if history.rows.is_empty() { nothing("unit", about) } else { write(history, about.format, out) }
            },
        ),
        Question::Lot(about) => asked(
            &about.record,
            |record| record.lot(&about.name),
            |lot| {
                if lot.units.is_empty() && lot.drawings == 0 { nothing("lot", about) } else { write(lot, about.format, out) }
            },
        ),
        Question::Supplier(about) => asked(
            &about.record,
            |record| record.trend(&about.name),
            |trend| {
                if trend.lots.is_empty() { nothing("supplier", about) } else { write(trend, about.format, out) }
            },
        ),
        Question::Verify(verify) => asked(
            &verify.record,
            |record| record.audit(verify.head),
            |audit| {
                write(audit, verify.format, out)?;
                Ok(u8::from(audit.flaws > 0 || audit.noted_head_found == Some(false)))
            },
        ),
    }
}

/// Opens the record, asks it, and answers; gives the exit status.
fn asked<T>(
    path: &Path,
    ask: impl FnOnce(&mut Record) -> Result<T, crate::finding::Problem>,
    answer: impl FnOnce(&T) -> io::Result<u8>,
) -> io::Result<u8> {
    match Record::open(path).and_then(|mut record| ask(&mut record)) {
        Ok(found) => answer(&found),
        Err(problem) => super::unusable(&[problem]),
    }
}

fn write(found: &impl RecordAnswer, format: Format, out: &mut impl Write) -> io::Result<u8> {
    let text = match format {
        Format::Human => found.text_within(settings().columns()),
        Format::Json => found.json(),
    };
    out.write_all(text.as_bytes()).map(|()| 0)
}

fn nothing(what: &str, about: &About) -> io::Result<u8> {
    let record = about.record.display().to_string();
    super::complain(&format!("{} has no {what} `{}`; case and blanks count", visible(&record), visible(&about.name)));
    Ok(2)
}
