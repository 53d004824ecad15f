//! The report for people, drawn by miette: findings with the lines that show them.

use std::collections::{BTreeMap, HashMap, HashSet};
use std::fmt;
use std::io::{self, Write};
use std::sync::Arc;

use miette::{Diagnostic, GraphicalReportHandler, GraphicalTheme, LabeledSpan, SourceCode};

use crate::finding::{Code, Finding, Grade, Label, Problem, Severity};
use crate::text::{Source, count, visible};
use crate::verify::{Batch, NotShown, Outcome, UnitReport};

use super::Writer;

/// Width of the drawn findings, in columns.
pub(super) const WIDTH: usize = 100;

/// So many units are named at the end.
const NAMED: usize = 20;

/// So many findings are drawn; of a reel with more faults than that, nobody reads the drawings, and each finding is a line.
const DRAWN: usize = 1000;

/// So many paragraphs are kept.
const PARAGRAPHS: usize = 512;

/// Writes the report for people.
pub struct Terminal<W: Write> {
    out: W,
    handler: GraphicalReportHandler,
    not_shown: BTreeMap<NotShown, usize>,
    /// The units that must not be connected.
    dangerous: Vec<String>,
    /// How many findings may still be drawn.
    left: usize,
    /// Paragraphs by their first words and their text: most findings of a reel say the same.
    paragraphs: HashMap<String, String>,
    /// The cautions that were drawn: most units of a reel have the same.
    cautions: HashSet<(Code, String)>,
    width: usize,
    quiet: bool,
}

impl<W: Write> Terminal<W> {
    /// A report that goes to `out`, with or without colour.
    pub fn new(out: W, colour: bool) -> Self {
        Terminal {
            out,
            handler: handler(colour),
            not_shown: BTreeMap::new(),
            left: DRAWN,
            paragraphs: HashMap::new(),
            cautions: HashSet::new(),
            dangerous: Vec::new(),
            width: WIDTH,
            quiet: false,
        }
    }

    /// Texts in lines of so many columns. Lines of the input keep their length.
    #[must_use]
    pub fn width(mut self, columns: usize) -> Self {
        self.width = columns;
        self.handler = self.handler.with_width(columns);
        self
    }

    /// Nothing but the summary, the units that must not be connected, and problems of the input.
    #[must_use]
    pub fn quiet(mut self, quiet: bool) -> Self {
        self.quiet = quiet;
        self
    }

    /// Draws every finding, however many there are.
    #[must_use]
    pub fn draw_all(mut self, all: bool) -> Self {
        if all {
            self.left = usize::MAX;
        }
        self
    }

    fn unit(&mut self, report: &UnitReport) -> io::Result<()> {
        let name = report.unit.as_deref().map_or_else(|| "(one unit)".into(), visible);
        let name = if report.attempt > 1 { format!("{name} (attempt {})", report.attempt).into() } else { name };
        let count = match report.findings.len() {
            0 => String::new(),
            1 => ", 1 finding".to_owned(),
            n => format!(", {n} findings"),
        };
        let hazard = if report.findings.iter().any(|finding| finding.hazard) { "  DO NOT CONNECT" } else { "" };
        if !hazard.is_empty() {
            self.dangerous.push(name.to_string());
        }
        if self.quiet {
            return Ok(());
        }
        writeln!(self.out, "{name}  {}{count}{hazard}", report.verdict.word())?;
        let mut last = None;
        for finding in &report.findings {
            let grade = Grade::of(finding);
            if report.is_drawing && last != Some(grade) {
                writeln!(self.out, "{}{}\n", if last.is_some() { "" } else { "\n" }, grade.words())?;
            }
            last = Some(grade);
            if self.is_worth_drawing(finding) {
                self.finding(finding)?;
            } else {
                self.in_one_line(finding)?;
            }
        }
        // one step and the test say no more than the finding did
        if report.rework.len() > 2 && self.left > 0 {
            writeln!(self.out, "rework, in this order")?;
            for (nth, step) in (1..).zip(&report.rework) {
                self.paragraph(&format!("  {nth:>2}. "), step)?;
            }
            writeln!(self.out)?;
        }
        *self.not_shown.entry(report.not_shown).or_default() += 1;
        Ok(())
    }

    /// Whether a finding is drawn: not after too many, and not the same caution twice.
    fn is_worth_drawing(&mut self, finding: &Finding) -> bool {
        let again = finding.severity != Severity::Fail && !self.cautions.insert((finding.code, finding.message.clone()));
        if again || self.left == 0 {
            return false;
        }
        self.left -= 1;
        true
    }

    /// A finding with its place, and its message in full.
    fn in_one_line(&mut self, finding: &Finding) -> io::Result<()> {
        write!(self.out, "  {}  ", finding.code)?;
        if let Some(label) = finding.labels.first() {
            let at = label.source.position(label.span.start);
            write!(self.out, "{}:{}:{}  ", visible(label.source.name()), at.line, at.column)?;
        }
        writeln!(self.out, "{}", visible(&finding.message))
    }

    /// A finding: the netlist's lines, the map's lines, then why it matters and what to do.
    fn finding(&mut self, finding: &Finding) -> io::Result<()> {
        for drawn in Drawn::finding(finding) {
            self.out.write_all(draw(&self.handler, &drawn).as_bytes())?;
        }
        for (word, text) in [("why", &finding.why), ("repair", &finding.remedy), ("source", &finding.source)] {
            if !text.is_empty() {
                self.paragraph(&format!("  {word:7} "), text)?;
            }
        }
        writeln!(self.out)
    }

    /// A text in lines of the width, each under the first.
    fn paragraph(&mut self, first: &str, text: &str) -> io::Result<()> {
        let key = [first, text].concat();
        if self.paragraphs.len() > PARAGRAPHS {
            self.paragraphs.clear();
        }
        let paragraph = self.paragraphs.entry(key).or_insert_with(|| {
            let under = " ".repeat(first.len());
            let options = textwrap::Options::new(self.width).initial_indent(first).subsequent_indent(&under);
            textwrap::fill(&visible(text), options)
        });
        writeln!(self.out, "{paragraph}")
    }
}

pub(super) fn handler(colour: bool) -> GraphicalReportHandler {
    let theme = if colour { GraphicalTheme::unicode() } else { GraphicalTheme::unicode_nocolor() };
    GraphicalReportHandler::new_themed(theme).with_links(false).with_context_lines(0).with_width(WIDTH)
}

pub(super) fn draw(handler: &GraphicalReportHandler, drawn: &Drawn) -> String {
    let mut text = String::new();
    if handler.render_report(&mut text, drawn).is_err() {
        text = format!("  {}\n", drawn.message);
    }
    // miette pads lines to the width of its frame; trailing blanks help nobody
    let mut clean = String::with_capacity(text.len());
    for line in text.lines().filter(|line| !line.is_empty()) {
        clean.push_str(line.trim_end());
        clean.push('\n');
    }
    clean
}

impl<W: Write> Writer for Terminal<W> {
    fn batch(&mut self, _file: &str, batch: &Batch) -> io::Result<()> {
        for report in &batch.reports {
            self.unit(report)?;
        }
        for problem in &batch.problems {
            for drawn in Drawn::problem(problem) {
                self.out.write_all(draw(&self.handler, &drawn).as_bytes())?;
            }
            writeln!(self.out)?;
        }
        Ok(())
    }

    fn finish(&mut self, outcome: &Outcome) -> io::Result<()> {
        writeln!(
            self.out,
            "{}: {}, {}, {} inconclusive",
            count(outcome.units(), "unit", "units"),
            count(outcome.conforms, "conforms", "conform"),
            count(outcome.fails, "fails", "fail"),
            outcome.inconclusive,
        )?;
        if let Some(first) = self.dangerous.chunks(NAMED).next() {
            let more = self.dangerous.len() - first.len();
            let more = if more > 0 { format!(" and {more} more") } else { String::new() };
            writeln!(self.out, "DO NOT CONNECT: {}{more}", first.join(", "))?;
        }
        if outcome.unjudged > 0 || outcome.problems > 0 {
            writeln!(
                self.out,
                "{}; {} without a verdict",
                count(outcome.problems, "problem in the input", "problems in the input"),
                count(outcome.unjudged, "unit", "units"),
            )?;
        }
        let one = self.not_shown.len() == 1;
        if self.left == 0 {
            writeln!(
                self.out,
                "After {DRAWN} findings each is one line; --draw-all draws them all, and --format json has everything."
            )?;
        }
        for (not_shown, units) in &self.not_shown {
            let words: Vec<&'static str> = not_shown.words().collect();
            let which = if one { String::new() } else { format!(" ({})", count(*units, "unit", "units")) };
            let text = format!("Not shown by this evidence{which}: {}", words.join(", "));
            writeln!(self.out, "{}", textwrap::fill(&text, textwrap::Options::new(self.width).subsequent_indent("  ")))?;
        }
        self.out.flush()
    }
}

/// A problem of the input as text, for the error stream.
#[must_use]
pub fn problem_text(problem: &Problem, colour: bool) -> String {
    problem_text_within(problem, colour, WIDTH)
}

/// A problem of the input as text with lines of so many columns.
#[must_use]
pub fn problem_text_within(problem: &Problem, colour: bool, width: usize) -> String {
    let handler = handler(colour).with_width(width);
    Drawn::problem(problem).iter().map(|drawn| draw(&handler, drawn)).collect()
}

/// A finding or a problem in the terms of miette, with labels in one source.
#[derive(Debug)]
pub(super) struct Drawn {
    code: Option<&'static str>,
    message: String,
    help: Option<String>,
    severity: miette::Severity,
    source: Option<Arc<Source>>,
    labels: Vec<LabeledSpan>,
}

impl Drawn {
    /// A finding with its labels in the netlist, then a note for each other file that its labels lie in.
    fn finding(finding: &Finding) -> Vec<Self> {
        let severity = match finding.severity {
            Severity::Fail => miette::Severity::Error,
            Severity::Caution => miette::Severity::Warning,
            Severity::Note => miette::Severity::Advice,
        };
        Self::by_source(Some(finding.code.text()), &finding.message, severity, &finding.labels)
    }

    fn problem(problem: &Problem) -> Vec<Self> {
        let mut drawn = Self::by_source(None, &problem.message, miette::Severity::Error, &problem.labels);
        if let Some(last) = drawn.last_mut() {
            last.help.clone_from(&problem.help);
        }
        drawn
    }

    /// Labels go by source: the first one's with the message, each other's as a note of its own.
    pub(super) fn by_source(
        code: Option<&'static str>,
        message: &str,
        severity: miette::Severity,
        labels: &[Label],
    ) -> Vec<Self> {
        let mut by_source: Vec<(&Arc<Source>, Vec<&Label>)> = Vec::new();
        for label in labels {
            match by_source.iter_mut().find(|(source, _)| Arc::ptr_eq(source, &label.source)) {
                Some((_, list)) => list.push(label),
                None => by_source.push((&label.source, vec![label])),
            }
        }
        let mut drawn = vec![Drawn {
            code,
            message: visible(message).into_owned(),
            help: None,
            severity,
            source: by_source.first().map(|(source, _)| Arc::clone(source)),
            labels: by_source.first().map(|(_, labels)| spans(labels)).unwrap_or_default(),
        }];
        drawn.extend(by_source.iter().skip(1).map(|(source, labels)| Drawn {
            code: None,
            message: format!("in {}", visible(source.name())),
            help: None,
            severity: miette::Severity::Advice,
            source: Some(Arc::clone(source)),
            labels: spans(labels),
        }));
        drawn
    }
}

fn spans(labels: &[&Label]) -> Vec<LabeledSpan> {
    labels
        .iter()
        .map(|label| {
            let text = visible(&label.text).into_owned();
            LabeledSpan::new(Some(text), label.span.start as usize, label.source.shown_len(label.span))
        })
        .collect()
}

impl fmt::Display for Drawn {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.message)
    }
}

impl std::error::Error for Drawn {}

impl Diagnostic for Drawn {
    fn code<'a>(&'a self) -> Option<Box<dyn fmt::Display + 'a>> {
        self.code.map(|code| Box::new(code) as Box<dyn fmt::Display>)
    }
    fn severity(&self) -> Option<miette::Severity> {
        Some(self.severity)
    }
    fn help<'a>(&'a self) -> Option<Box<dyn fmt::Display + 'a>> {
        self.help.as_ref().map(|help| Box::new(help) as Box<dyn fmt::Display>)
    }
    fn source_code(&self) -> Option<&dyn SourceCode> {
        self.source.as_deref().map(|source| source as &dyn SourceCode)
    }
    fn labels(&self) -> Option<Box<dyn Iterator<Item = LabeledSpan> + '_>> {
        if self.labels.is_empty() { None } else { Some(Box::new(self.labels.iter().cloned())) }
    }
}
