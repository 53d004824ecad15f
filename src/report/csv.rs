//! `--format csv`: a row for each finding, for each unit without one, and for each problem of the input.

use std::io::{self, Write};

use crate::finding::{Finding, Label, Problem};
use crate::verify::{Batch, Outcome, UnitReport};

use super::Writer;
use super::cells::row;
use super::sarif::without_verdict;

/// The columns. `row` says what the row is: `finding`, `unit` (one without findings) or `problem`; what doesn't apply to it is
/// empty. `points` and `signals` are parted by spaces, `line` and `column` are those of the first label, from 1.
const COLUMNS: [&str; 19] = [
    "row",
    "file",
    "unit",
    "attempt",
    "cable",
    "verdict",
    "code",
    "severity",
    "hazard",
    "undecided",
    "message",
    "points",
    "signals",
    "place",
    "line",
    "column",
    "why",
    "remedy",
    "source",
];

/// Writes the report as a table.
pub struct FindingsCsv<W: Write> {
    out: W,
}

impl<W: Write> FindingsCsv<W> {
    /// A table that goes to `out`, with its first row.
    ///
    /// # Errors
    /// Where the output can't be written.
    pub fn new(mut out: W) -> io::Result<Self> {
        row(&mut out, COLUMNS)?;
        Ok(FindingsCsv { out })
    }

    fn unit(&mut self, file: &str, report: &UnitReport) -> io::Result<()> {
        if report.findings.is_empty() {
            return self.row("unit", &Cells::of(file, report));
        }
        for finding in &report.findings {
            self.row("finding", &Cells::of(file, report).with(finding))?;
        }
        Ok(())
    }

    fn row(&mut self, kind: &str, cells: &Cells<'_>) -> io::Result<()> {
        let [place, line, column] = cells.place.map(place_of).unwrap_or_default();
        let Cells { file, unit, attempt, cable, verdict, code, severity, hazard, undecided, message, points, signals, .. } =
            cells;
        let Cells { why, remedy, source, .. } = cells;
        let texts: [&str; 19] = [
            kind, file, unit, attempt, cable, verdict, code, severity, hazard, undecided, message, points, signals, &place,
            &line, &column, why, remedy, source,
        ];
        row(&mut self.out, texts)
    }

    fn problem(&mut self, file: &str, problem: &Problem) -> io::Result<()> {
        let place = problem.labels.first();
        let remedy = problem.help.as_deref().unwrap_or_default();
        self.row("problem", &Cells { file, message: &problem.message, place, remedy, ..Cells::default() })
    }
}

impl<W: Write> Writer for FindingsCsv<W> {
    fn batch(&mut self, file: &str, batch: &Batch) -> io::Result<()> {
        for report in &batch.reports {
            self.unit(file, report)?;
        }
        batch.problems.iter().try_for_each(|problem| self.problem(file, problem))
    }

    fn finish(&mut self, outcome: &Outcome) -> io::Result<()> {
        if let Some(message) = without_verdict(outcome) {
            self.row("problem", &Cells { message: &message, ..Cells::default() })?;
        }
        self.out.flush()
    }
}

/// What a row may have.
#[derive(Default)]
struct Cells<'a> {
    file: &'a str,
    unit: &'a str,
    attempt: String,
    cable: &'a str,
    verdict: &'a str,
    code: &'a str,
    severity: &'a str,
    hazard: &'a str,
    undecided: &'a str,
    message: &'a str,
    points: String,
    signals: String,
    place: Option<&'a Label>,
    why: &'a str,
    remedy: &'a str,
    source: &'a str,
}

impl<'a> Cells<'a> {
    fn of(file: &'a str, report: &'a UnitReport) -> Self {
        Cells {
            file,
            unit: report.unit.as_deref().unwrap_or_default(),
            attempt: report.attempt.to_string(),
            cable: &report.cable.name,
            verdict: report.verdict.word(),
            ..Cells::default()
        }
    }

    fn with(self, finding: &'a Finding) -> Self {
        let mut points = finding.points.clone();
        points.sort_unstable();
        Cells {
            code: finding.code.text(),
            severity: finding.severity.word(),
            hazard: yes(finding.hazard),
            undecided: yes(finding.undecided),
            message: &finding.message,
            points: points.join(" "),
            signals: finding.signals.join(" "),
            place: finding.labels.first(),
            why: &finding.why,
            remedy: &finding.remedy,
            source: &finding.source,
            ..self
        }
    }
}

fn yes(is_so: bool) -> &'static str {
    if is_so { "yes" } else { "no" }
}

fn place_of(label: &Label) -> [String; 3] {
    let at = label.source.position(label.span.start);
    [label.source.name().to_owned(), at.line.to_string(), at.column.to_string()]
}
