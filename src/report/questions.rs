//! The query sheet for a supplier: a drawing's open points, numbered, each with its rows and the two ways to read it.

use std::io::{self, Write};
use std::sync::Arc;

use crate::finding::{Finding, Grade, Problem};
use crate::pinmap::Cable;
use crate::text::{Source, visible};
use crate::verify::{Batch, Outcome, UnitReport};

use super::page::Page;
use super::terminal::WIDTH;
use super::{Writer, problem_text_within};

/// No more rows than this are quoted for one question.
const ROWS: usize = 4;

/// Writes the query sheet of every drawing.
pub struct Questions<W: Write> {
    out: W,
    colour: bool,
    width: usize,
    asked: usize,
    drawings: usize,
}

impl<W: Write> Questions<W> {
    /// A sheet that goes to `out`.
    pub fn new(out: W) -> Self {
        Questions { out, colour: false, width: WIDTH, asked: 0, drawings: 0 }
    }

    /// The same with problems in colour, or without.
    #[must_use]
    pub fn colour(mut self, colour: bool) -> Self {
        self.colour = colour;
        self
    }

    /// The same with lines of so many columns; rows of the drawing keep their length.
    #[must_use]
    pub fn width(mut self, columns: usize) -> Self {
        self.width = columns;
        self
    }

    /// A text in lines of the width, each under the first.
    fn paragraph(&mut self, first: &str, text: &str) -> io::Result<()> {
        let mut page = Page::new(self.width);
        page.paragraph(first, text);
        self.out.write_all(page.into_text().as_bytes())
    }

    fn unit(&mut self, file: &str, report: &UnitReport) -> io::Result<()> {
        let name = report.unit.as_deref().map(|name| format!(", {}", visible(name))).unwrap_or_default();
        self.paragraph("", &format!("Questions about {file}{name}, to be built as {}", report.cable.name))?;
        let mut number = 0;
        for grade in Grade::ALL {
            let of_grade: Vec<&Finding> = report.findings.iter().filter(|finding| Grade::of(finding) == grade).collect();
            if of_grade.is_empty() {
                continue;
            }
            writeln!(self.out, "\n{}", grade.words())?;
            for finding in of_grade {
                number += 1;
                self.question(number, report, finding)?;
            }
        }
        if number == 0 {
            self.paragraph("  none: ", "the drawing says everything that the map asks for")?;
        }
        self.asked += number;
        self.drawings += 1;
        writeln!(self.out)
    }

    fn question(&mut self, number: usize, report: &UnitReport, finding: &Finding) -> io::Result<()> {
        writeln!(self.out)?;
        self.paragraph(&format!("{number:>3}. "), &finding.message)?;
        let source = finding.labels.first().map(|label| &label.source);
        let rows = finding.labels.iter().filter(|label| source.is_some_and(|source| Arc::ptr_eq(source, &label.source)));
        let mut last = 0;
        for label in rows.take(ROWS) {
            let at = label.source.position(label.span.start);
            if at.line != last {
                writeln!(self.out, "     row {:<4} {}", at.line, visible(whole_line(&label.source, label.span.start)))?;
                last = at.line;
            }
        }
        let [one, two] = finding.readings.clone().unwrap_or_else(|| ["as drawn".to_owned(), required(&report.cable, finding)]);
        self.paragraph("     [ ] ", &one)?;
        self.paragraph("     [ ] ", &two)?;
        writeln!(self.out, "     [ ] other: ______________________________")
    }

    fn problem(&mut self, problem: &Problem) -> io::Result<()> {
        writeln!(self.out, "{}", problem_text_within(problem, self.colour, self.width))
    }
}

/// The line of the file that a place lies in.
fn whole_line(source: &Source, at: u32) -> &str {
    let (text, at) = (source.text(), at as usize);
    let start = text.get(..at).and_then(|before| before.rfind('\n')).map_or(0, |newline| newline + 1);
    text.get(start..).and_then(|rest| rest.lines().next()).unwrap_or_default().trim_end()
}

/// What the map has for the signals of a finding.
fn required(cable: &Cable, finding: &Finding) -> String {
    if finding.code.text().starts_with("component.") {
        let parts: Vec<String> = cable
            .parts
            .iter()
            .map(|part| {
                let value = part.value.map(|value| format!(" of {}", value.short())).unwrap_or_default();
                format!("{}{value} at {} {}", part.kind.word(), cable.text(part.points[0]), cable.text(part.points[1]))
            })
            .collect();
        return format!("as {} has it: {}", cable.name, parts.join(", "));
    }
    let links = cable.links.iter().filter(|link| finding.signals.contains(&link.signal)).take(ROWS);
    let rows: Vec<String> = links
        .map(|link| {
            let points: Vec<&str> = link.points.iter().map(|point| cable.text(*point)).collect();
            format!("{} ({})", points.join(" "), link.signal)
        })
        .collect();
    if rows.is_empty() { format!("as {} has it", cable.name) } else { format!("as {} has it: {}", cable.name, rows.join(", ")) }
}

impl<W: Write> Writer for Questions<W> {
    fn batch(&mut self, file: &str, batch: &Batch) -> io::Result<()> {
        for report in batch.reports.iter().filter(|report| report.is_drawing) {
            self.unit(file, report)?;
        }
        batch.problems.iter().try_for_each(|problem| self.problem(problem))
    }

    fn finish(&mut self, outcome: &Outcome) -> io::Result<()> {
        if self.drawings == 0 && outcome.problems == 0 {
            self.paragraph("", "No questions. Only netlists with `source drawing` are asked about.")?;
        }
        self.out.flush()
    }
}
