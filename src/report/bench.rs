//! What happens at the bench, for a screen that is read from a distance.

use std::io::{self, Write};

use crate::finding::{Problem, Severity, Verdict};
use crate::lot::Tally;
use crate::lot::bench::{Count, Event, LotKey, Outcome, Running, Taken, TakenFile, TestedUnit};
use crate::text::{count, visible};
use crate::verify::UnitReport;

use super::block::block_letters_within;
use super::terminal::{WIDTH, problem_text_within};

/// So many units of a file get a line.
const UNITS: usize = 20;

/// So many findings of a unit get a line.
const FINDINGS: usize = 8;

/// Writes events as they come. Every event is one piece of text that ends a line; whoever shows it flushes after each.
pub struct BenchScreen<W: Write> {
    out: W,
    width: Option<usize>,
    colour: bool,
}

impl<W: Write> BenchScreen<W> {
    /// A screen that goes to `out`.
    pub fn new(out: W) -> Self {
        BenchScreen { out, width: None, colour: false }
    }

    /// The same on a screen of so many columns.
    #[must_use]
    pub fn width(mut self, columns: Option<usize>) -> Self {
        self.width = columns;
        self
    }

    /// The same with problems in colour, or without.
    #[must_use]
    pub fn colour(mut self, colour: bool) -> Self {
        self.colour = colour;
        self
    }

    /// Says what is watched, and where it goes on.
    ///
    /// # Errors
    /// Where the output can't be written.
    pub fn start(&mut self, folder: &str, files: usize, latest: Option<&Taken>) -> io::Result<()> {
        writeln!(self.out, "watching {}; Ctrl-C ends it, at any time", visible(folder))?;
        if let Some(latest) = latest {
            let outcome = match latest.outcome {
                Outcome::Renamed => "renamed",
                outcome => outcome.call(),
            };
            writeln!(self.out, "{files} taken before; the last was {}: {outcome}", visible(&latest.name))?;
        }
        self.out.flush()
    }

    /// Shows an event.
    ///
    /// # Errors
    /// Where the output can't be written.
    pub fn event(&mut self, event: &Event) -> io::Result<()> {
        match event {
            Event::Taken(file) => self.taken(file)?,
            Event::Renamed { from, to } => {
                writeln!(self.out, "{} was renamed to {}; not tested again", visible(from), visible(to))?;
            }
            Event::WrittenAgain { name } => {
                writeln!(self.out, "{} was written again with the same content; not counted again", visible(name))?
            }
            Event::LeftAlone { name } => writeln!(self.out, "{} left alone: by its name it is no netlist", visible(name))?,
            Event::Unreadable { problem, .. } | Event::FolderLost(problem) => {
                self.problem(problem)?;
            }
            Event::FolderBack => writeln!(self.out, "the folder can be read again")?,
        }
        self.out.flush()
    }

    fn problem(&mut self, problem: &Problem) -> io::Result<()> {
        write!(self.out, "{}", problem_text_within(problem, self.colour, self.width.unwrap_or(WIDTH)))
    }

    /// Says how the lot stands that is being tested, where there is something to say before the first file.
    ///
    /// # Errors
    /// Where the output can't be written.
    pub fn running(&mut self, running: &Running) -> io::Result<()> {
        writeln!(self.out, "{}", so_far(running))?;
        self.out.flush()
    }

    fn taken(&mut self, file: &TakenFile) -> io::Result<()> {
        writeln!(self.out, "\n{}", block_letters_within(file.outcome.call(), self.width))?;
        writeln!(self.out, "{}: {}", visible(&file.name), words(file))?;
        let reports = file.batches.iter().flat_map(|batch| &batch.reports);
        let mut units: Vec<(&TestedUnit, &UnitReport)> = file.units.iter().zip(reports).collect();
        // the worst first: it must not be among those that are left out
        units.sort_by_key(|(unit, _)| {
            std::cmp::Reverse((unit.hazard, unit.verdict == Verdict::Fails, unit.verdict != Verdict::Conforms))
        });
        for (unit, report) in units.into_iter().take(UNITS) {
            self.unit(unit, report)?;
        }
        if file.units.len() > UNITS {
            writeln!(self.out, "  and {}", count(file.units.len() - UNITS, "more unit", "more units"))?;
        }
        for problem in file.batches.iter().flat_map(|batch| &batch.problems).take(UNITS) {
            self.problem(problem)?;
        }
        if file.unjudged > 0 {
            let units = if file.unjudged == 1 { "1 unit has".to_owned() } else { format!("{} units have", file.unjudged) };
            writeln!(self.out, "{units} no verdict")?;
        }
        if !file.same_as.is_empty() {
            let names: Vec<String> = file.same_as.iter().take(UNITS).map(|name| visible(name).into_owned()).collect();
            writeln!(self.out, "the same content as {}; counted as a test of its own", names.join(", "))?;
        }
        for (lot, count) in &file.lots {
            writeln!(self.out, "{}", standing(lot, count))?;
        }
        if let Some(running) = &file.running {
            writeln!(self.out, "{}", so_far(running))?;
        }
        if let Some((first, head)) = &file.rows {
            let rows = if *first == head.number { format!("row {first}") } else { format!("rows {first} to {}", head.number) };
            writeln!(self.out, "recorded: {rows}; head {}", head.digest)?;
        }
        Ok(())
    }

    fn unit(&mut self, unit: &TestedUnit, report: &UnitReport) -> io::Result<()> {
        let hazard = if unit.hazard { "  DO NOT CONNECT" } else { "" };
        write!(self.out, "  {}  {}{hazard}", visible(&unit.unit), unit.verdict.word())?;
        if let Some(before) = &unit.before {
            let (time, verdict) = (visible(&before.time), visible(&before.verdict));
            write!(self.out, "  (attempt {}; attempt {} at {time}: {verdict})", unit.attempt, before.attempt)?;
        }
        writeln!(self.out)?;
        let telling = |severity: Severity, undecided: bool| severity == Severity::Fail || undecided;
        let mut findings = report.findings.iter().filter(|finding| telling(finding.severity, finding.undecided));
        for finding in findings.by_ref().take(FINDINGS) {
            writeln!(self.out, "    {}  {}", finding.code, visible(&finding.message))?;
        }
        match findings.count() {
            0 => Ok(()),
            more => writeln!(self.out, "    and {}", count(more, "more finding", "more findings")),
        }
    }
}

fn words(file: &TakenFile) -> String {
    match (file.units.len(), file.outcome) {
        (0, _) => "no verdict".to_owned(),
        (1, _) => "1 unit".to_owned(),
        (n, _) => format!("{n} units"),
    }
}

fn standing(lot: &LotKey, count: &Count) -> String {
    let lot_words = lot.lot.as_deref().map_or_else(|| "without a lot".to_owned(), |lot| format!("lot {}", visible(lot)));
    let supplier = lot.supplier.as_deref().map_or_else(String::new, |supplier| format!(" of {}", visible(supplier)));
    let units = crate::text::count(count.units, "unit", "units");
    format!(
        "{lot_words}{supplier}: {units}; by the last test of each {} conform, {} fail, {} inconclusive",
        count.conforms, count.fails, count.inconclusive
    )
}

/// The lot that is being tested: `of 500 units, 13 of the 80 that the plan asks for: NOT ENOUGH UNITS YET: …`.
fn so_far(running: &Running) -> String {
    let Tally { conforms, fails, inconclusive } = running.tally;
    format!(
        "decision so far: {}: {}\n  a lot of {}, {} tested of the {} that the plan asks for: by all tests of each {conforms} conform, {fails} fail, {inconclusive} inconclusive",
        running.words(),
        visible(&running.reason),
        running.size,
        running.tally.units(),
        running.sample,
    )
}
