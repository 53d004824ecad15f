//! `backshell lot`.

use std::io::{self, Write};
use std::path::{Path, PathBuf};

use clap::{Args, ValueEnum};

use crate::finding::Problem;
use crate::lot::{Decision, SortBy, Summary, TestedUnit, read_part, write_part};
use crate::report::{
    Junit, LotOptions, LotReport, LotWriter, Sarif, UnitsCsv, lot_report, lot_schema, lot_summary_text, lot_text, lot_text_within,
};
use crate::text::visible;
use crate::verify::{Batch, Options, Outcome, check_file};

use super::folders::{netlists_in, say_left_out};
use super::input::Input;
use super::keep::{Keep, Keeper};
use super::sampling::{Sampling, named};
use super::settings::settings;

#[derive(Debug, Args)]
pub(super) struct Arguments {
    /// Netlists, tables or print-outs of the units that were tested, and folders of them with all that lies in these; `-` reads the standard input
    #[arg(value_name = "NETLIST", required_unless_present_any = ["merge", "print_schema"])]
    netlists: Vec<PathBuf>,
    #[command(flatten)]
    input: Input,
    #[command(flatten)]
    keep: Keep,
    #[command(flatten)]
    sampling: Sampling,
    /// Only the summary, what must not be connected, and problems of the input
    #[arg(long, conflicts_with = "format")]
    quiet: bool,
    /// How to report
    #[arg(long, value_enum, default_value_t = LotFormat::Human)]
    format: LotFormat,
    /// By what the ranking of several types, suppliers or lengths is sorted
    #[arg(long, value_enum, default_value_t = Sort::Worst)]
    sort_by: Sort,
    /// Write the units as Parquet too; only where the program was built with the cargo feature `parquet`
    #[arg(long, value_name = "FILE")]
    parquet: Option<PathBuf>,
    /// Write the partial result too, to be merged with others
    #[arg(long, value_name = "FILE")]
    part_out: Option<PathBuf>,
    /// Merge partial results of other benches into this one
    #[arg(long, value_name = "PART.json", num_args = 1..)]
    merge: Vec<PathBuf>,
    /// Print the JSON Schema of `--format json` and stop
    #[arg(long)]
    print_schema: bool,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
enum LotFormat {
    /// The decision first, for people
    Human,
    /// One JSON object, for programs
    Json,
    /// A SARIF 2.1.0 log: the findings, then the decision
    Sarif,
    /// JUnit XML: a case for each test of a unit, then one for the decision
    Junit,
    /// A row for each test of a unit
    Csv,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
enum Sort {
    /// What the worst sample did
    Worst,
    /// The cost of a metre
    Cost,
    /// How alike the samples are
    Consistency,
    /// The words
    Name,
}

pub(super) fn run(arguments: &Arguments, out: &mut impl Write) -> io::Result<u8> {
    if arguments.print_schema {
        writeln!(out, "{}", lot_schema())?;
        return Ok(0);
    }
    let history = match arguments.sampling.history() {
        Ok(history) => history,
        Err(problems) => return super::unusable(&problems),
    };
    let (files, left_out) = match netlists_in(&arguments.netlists, arguments.input.reads_all()) {
        Ok(found) => found,
        Err(problems) => return super::unusable(&problems),
    };
    let options = match arguments.input.options(&files) {
        Ok(options) => Options { lot: true, ..options },
        Err(problems) => return super::unusable(&problems),
    };
    let lists_units = match arguments.format {
        LotFormat::Human | LotFormat::Json => None,
        LotFormat::Sarif => Some("sarif"),
        LotFormat::Junit => Some("junit"),
        LotFormat::Csv => Some("csv"),
    };
    if let Some(name) = lists_units.filter(|_| !arguments.merge.is_empty()) {
        let problem =
            Problem::new(format!("`--format {name}` lists units, and a part that is merged doesn't have them any more"));
        let help = format!("write `--format {name}` on each bench, or use `--format json` for the merged lot");
        return super::unusable(&[problem.help(help)]);
    }
    say_left_out(&left_out);
    let (options, keeper) = match arguments.keep.open(&options) {
        Ok(keeper) => (Options { about: keeper.is_some(), ..options }, keeper),
        Err(problem) => return super::unusable(&[problem]),
    };
    let table = match arguments.parquet.as_deref().map(Table::new).transpose() {
        Ok(table) => table,
        Err(problem) => return super::unusable(&[problem]),
    };
    let units = Units::new(arguments.format, out)?;
    let mut read = Read { summary: Summary::default(), problems: Vec::new(), units, table, keeper, unrecorded: None };
    let outcome = read.files(&files, &options)?;
    let Read { mut summary, mut problems, units, table, keeper, unrecorded } = read;
    if let Some(keeper) = &keeper {
        keeper.finish()?;
    }
    if let Some(problem) = unrecorded {
        return super::unusable(&[problem]); // a decision on units that aren't in the record would have nothing behind it
    }
    if let Some(table) = table {
        table.finish()?;
    }
    let of_files = problems.len();
    merge(&arguments.merge, &mut summary, &mut problems);
    if let Some(path) = &arguments.part_out
        && let Err(error) = std::fs::write(path, write_part(&summary))
    {
        problems.push(Problem::new(format!("{}: can't be written: {error}", visible(&path.display().to_string()))));
    }
    problems.extend(arguments.sampling.fits(&summary));
    let options = LotOptions {
        size: arguments.sampling.size,
        asked: arguments.sampling.asked(history.as_ref()),
        history,
        sort_by: match arguments.sort_by {
            Sort::Worst => SortBy::Worst,
            Sort::Cost => SortBy::Cost,
            Sort::Consistency => SortBy::Consistency,
            Sort::Name => SortBy::Name,
        },
    };
    let report = lot_report(&summary, &options, &problems);
    // a part may bring units that couldn't be used at its bench
    let usable = problems.is_empty() && summary.unjudged == 0 && summary.problems == 0 && !report.groups.is_empty();
    let status = if usable { u8::from(report.decision != Decision::Accept) } else { 2 };
    if !matches!(units, Units::Written(..)) && arguments.format != LotFormat::Json {
        for problem in &problems {
            write!(io::stderr().lock(), "{}", settings().problem_text(problem))?;
        }
    }
    match units {
        Units::Kept(out) if arguments.format == LotFormat::Json => {
            writeln!(out, "{}", serde_json::to_string_pretty(&report)?)?;
        }
        Units::Kept(out) if arguments.quiet => write!(out, "{}", lot_summary_text(&report))?,
        Units::Kept(out) => {
            let text = settings().width().map_or_else(|| lot_text(&report), |columns| lot_text_within(&report, columns));
            write!(out, "{text}")?;
        }
        Units::Rows(_) => {}
        Units::Written(writer) => close(writer, outcome, problems.split_off(of_files), &report, status)?,
    }
    Ok(status)
}

/// What came up after the files were read, then the decision.
fn close(
    mut writer: Box<dyn LotWriter + '_>,
    mut outcome: Outcome,
    problems: Vec<Problem>,
    report: &LotReport,
    status: u8,
) -> io::Result<()> {
    if !problems.is_empty() {
        outcome.problems += problems.len();
        writer.batch("", &Batch::of_problems(problems))?;
    }
    writer.lot(report, status)?;
    writer.finish(&outcome)
}

fn merge(parts: &[PathBuf], summary: &mut Summary, problems: &mut Vec<Problem>) {
    for path in parts {
        match named(path).and_then(|source| read_part(&source)) {
            Ok(part) => summary.merge(part),
            Err(problem) => problems.push(problem),
        }
    }
}

/// What becomes of the units as they come.
enum Units<'o> {
    /// Only the decision is written, at the end.
    Kept(&'o mut dyn Write),
    /// A row each.
    Rows(UnitsCsv<&'o mut dyn Write>),
    /// Their findings, then the decision.
    Written(Box<dyn LotWriter + 'o>),
}

impl<'o> Units<'o> {
    fn new(format: LotFormat, out: &'o mut dyn Write) -> io::Result<Self> {
        Ok(match format {
            LotFormat::Human | LotFormat::Json => Units::Kept(out),
            LotFormat::Csv => Units::Rows(UnitsCsv::new(out)?),
            LotFormat::Sarif => Units::Written(Box::new(Sarif::new(out)?.below(std::env::current_dir().ok()))),
            LotFormat::Junit => Units::Written(Box::new(Junit::new(out)?)),
        })
    }
}

/// What is read from the files.
struct Read<'o> {
    summary: Summary,
    problems: Vec<Problem>,
    units: Units<'o>,
    table: Option<Table>,
    keeper: Option<Keeper>,
    /// Why the record takes no more; what isn't recorded isn't counted either.
    unrecorded: Option<Problem>,
}

impl Read<'_> {
    fn files(&mut self, files: &[PathBuf], options: &Options) -> io::Result<Outcome> {
        let progress = super::progress::Progress::new(files.len());
        let mut written = Ok(());
        let mut total = Outcome::default();
        for path in files {
            let name = path.display().to_string();
            check_file(path, options, |mut batch| {
                if self.unrecorded.is_some() {
                    return;
                }
                if let Some(Err(problem)) = self.keeper.as_mut().map(|keeper| keeper.batch(&name, &batch)) {
                    self.unrecorded = Some(problem);
                    return;
                }
                self.summary.unjudged += batch.unjudged as u64;
                self.summary.problems += batch.problems.len() as u64;
                progress.units(batch.reports.len());
                for report in &batch.reports {
                    let Some(unit) = TestedUnit::of(path, report) else {
                        self.summary.drawings += 1;
                        continue;
                    };
                    if let (Units::Rows(csv), Ok(())) = (&mut self.units, &written) {
                        written = csv.unit(&name, &unit);
                    }
                    if let (Some(table), Ok(())) = (&mut self.table, &written) {
                        written = table.unit(&name, &unit);
                    }
                    self.summary.add(unit);
                }
                // a drawing is no unit of a lot
                batch.reports.retain(|report| !report.is_drawing);
                total.add(Outcome::of(&batch));
                if let (Units::Written(writer), Ok(())) = (&mut self.units, &written) {
                    written = writer.batch(&name, &batch);
                }
                self.problems.extend(batch.problems);
            });
            progress.file();
            if self.unrecorded.is_some() {
                break;
            }
        }
        progress.done();
        written.map(|()| total)
    }
}

/// The units as Parquet.
#[cfg(feature = "parquet")]
struct Table(crate::report::UnitsParquet);

/// A program that was built without Parquet has no such table.
#[cfg(not(feature = "parquet"))]
enum Table {}

#[cfg(feature = "parquet")]
impl Table {
    fn new(path: &Path) -> Result<Self, Problem> {
        let shown = path.display().to_string();
        let opened = crate::report::UnitsParquet::new(path);
        opened.map(Table).map_err(|error| Problem::new(format!("{}: can't be written: {error}", visible(&shown))))
    }

    fn unit(&mut self, file: &str, unit: &TestedUnit) -> io::Result<()> {
        self.0.unit(file, unit)
    }

    fn finish(self) -> io::Result<()> {
        self.0.finish()
    }
}

#[cfg(not(feature = "parquet"))]
impl Table {
    fn new(_: &Path) -> Result<Self, Problem> {
        Err(Problem::new("this program was built without Parquet")
            .help("build it with `cargo build --release --features parquet`, or use `--format csv`"))
    }

    fn unit(&mut self, _: &str, _: &TestedUnit) -> io::Result<()> {
        match *self {}
    }

    fn finish(self) -> io::Result<()> {
        match self {}
    }
}
