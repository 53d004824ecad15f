//! `--format junit`: JUnit XML, as build servers show it: a suite for each file, a case for each unit.
//!
//! The format has no published standard; its elements and attributes are those that every reader of it knows (from memory),
//! without times, hosts and paths of the machine. A suite begins with its counts, so its cases are kept until
//! it ends: a file with more units than [`CASES`] becomes several suites. A unit that can't be decided is a failure of the
//! type `inconclusive`, and not `skipped`, which build servers count as passed. What can't be used is an error.

use std::fmt::Write as _;
use std::io::{self, Write};

use quick_xml::Writer as Xml;
use quick_xml::events::{BytesDecl, BytesEnd, BytesStart, BytesText, Event};

use crate::finding::{Finding, Label, Problem, Verdict};
use crate::text::visible;
use crate::verify::{Batch, Outcome, UnitReport};

use super::Writer;
use super::sarif::without_verdict;

/// So many cases are in one suite.
const CASES: usize = 1000;

/// Writes the report as JUnit XML.
pub struct Junit<W: Write> {
    out: Xml<W>,
    suite: Suite,
}

/// A suite that isn't closed yet.
#[derive(Default)]
struct Suite {
    /// The file; none before the first.
    name: Option<String>,
    /// How many suites of this file were closed before.
    before: usize,
    cases: Vec<Case>,
    problems: usize,
}

/// One case.
pub(super) struct Case {
    pub(super) name: String,
    pub(super) class: String,
    pub(super) result: CaseResult,
    /// What is worth knowing though it passed.
    pub(super) notes: String,
}

/// How it came out; with the type, a line and the text.
pub(super) enum CaseResult {
    Passed,
    Failure { kind: String, message: String, text: String },
    Error { kind: &'static str, message: String, text: String },
}

impl<W: Write> Junit<W> {
    /// A report that goes to `out`.
    ///
    /// # Errors
    /// Where the output can't be written.
    pub fn new(out: W) -> io::Result<Self> {
        let mut out = Xml::new(out);
        out.write_event(Event::Decl(BytesDecl::new("1.0", Some("UTF-8"), None)))?;
        line(&mut out)?;
        out.write_event(Event::Start(BytesStart::new("testsuites").with_attributes([("name", "backshell")])))?;
        line(&mut out)?;
        Ok(Junit { out, suite: Suite::default() })
    }

    /// Puts a case into the suite of that name.
    pub(super) fn case(&mut self, suite: &str, case: Case) -> io::Result<()> {
        if self.suite.name.as_deref() != Some(suite) {
            self.close()?;
            self.suite = Suite { name: Some(suite.to_owned()), ..Suite::default() };
        } else if self.suite.cases.len() >= CASES {
            self.close()?;
            self.suite.before += 1;
        }
        self.suite.cases.push(case);
        Ok(())
    }

    fn close(&mut self) -> io::Result<()> {
        let Some(name) = &self.suite.name else { return Ok(()) };
        let name = visible(name);
        let name = if self.suite.before > 0 { format!("{name} ({})", self.suite.before + 1) } else { name.into_owned() };
        let cases = std::mem::take(&mut self.suite.cases);
        let count = |test: fn(&CaseResult) -> bool| cases.iter().filter(|case| test(&case.result)).count().to_string();
        let suite = BytesStart::new("testsuite").with_attributes([
            ("name", &*name),
            ("tests", &*cases.len().to_string()),
            ("failures", &*count(|result| matches!(result, CaseResult::Failure { .. }))),
            ("errors", &*count(|result| matches!(result, CaseResult::Error { .. }))),
            ("skipped", "0"),
        ]);
        self.out.write_event(Event::Start(suite))?;
        line(&mut self.out)?;
        for case in &cases {
            write_case(&mut self.out, case)?;
        }
        self.out.write_event(Event::End(BytesEnd::new("testsuite")))?;
        line(&mut self.out)
    }

    fn problem(&mut self, file: &str, problem: &Problem) -> io::Result<()> {
        let message = visible(&problem.message).into_owned();
        let mut text = message.clone();
        places(&mut text, &problem.labels);
        if let Some(help) = &problem.help {
            let _ = write!(text, "\n  help: {}", visible(help));
        }
        self.error(file, message, text)
    }

    fn error(&mut self, file: &str, message: String, text: String) -> io::Result<()> {
        let suite = if file.is_empty() { "command line" } else { file };
        let is_same = self.suite.name.as_deref() == Some(suite);
        let nth = if is_same { self.suite.problems + 1 } else { 1 };
        let result = CaseResult::Error { kind: "input", message, text };
        let name = format!("problem {nth}");
        self.case(suite, Case { name, class: "input".to_owned(), result, notes: String::new() })?;
        self.suite.problems = nth;
        Ok(())
    }
}

impl<W: Write> Writer for Junit<W> {
    fn batch(&mut self, file: &str, batch: &Batch) -> io::Result<()> {
        for report in &batch.reports {
            self.case(file, of_unit(report))?;
        }
        batch.problems.iter().try_for_each(|problem| self.problem(file, problem))
    }

    fn finish(&mut self, outcome: &Outcome) -> io::Result<()> {
        if let Some(text) = without_verdict(outcome) {
            self.error("all files", text.clone(), text)?;
        }
        self.close()?;
        self.out.write_event(Event::End(BytesEnd::new("testsuites")))?;
        line(&mut self.out)?;
        self.out.get_mut().flush()
    }
}

fn line<W: Write>(out: &mut Xml<W>) -> io::Result<()> {
    out.get_mut().write_all(b"\n")
}

fn of_unit(report: &UnitReport) -> Case {
    let name = report.unit.as_deref().map_or_else(|| "(one unit)".into(), visible);
    let name = if report.attempt > 1 { format!("{name} (attempt {})", report.attempt) } else { name.into_owned() };
    let text: Vec<String> = report.findings.iter().map(finding_text).collect();
    let text = text.join("\n");
    let (result, notes) = match report.verdict {
        Verdict::Conforms => (CaseResult::Passed, text),
        verdict => {
            let told = |finding: &&Finding| verdict == Verdict::Fails || finding.undecided;
            let first = report.findings.iter().find(told).or(report.findings.first());
            let message = first.map_or_else(String::new, |finding| visible(&finding.message).into_owned());
            let message = match (verdict, report.findings.len()) {
                (Verdict::Inconclusive, _) => format!("inconclusive, so not accepted: {message}"),
                (_, 0 | 1) => message,
                (_, n) => format!("{message} ({n} findings)"),
            };
            let code = first.map_or("fails", |finding| finding.code.text());
            let kind = if verdict == Verdict::Inconclusive { verdict.word() } else { code };
            (CaseResult::Failure { kind: kind.to_owned(), message, text }, String::new())
        }
    };
    Case { name, class: visible(&report.cable.name).into_owned(), result, notes }
}

/// A finding in lines.
fn finding_text(finding: &Finding) -> String {
    let mut out = format!("{} ({}): {}", finding.code, finding.severity.word(), visible(&finding.message));
    places(&mut out, &finding.labels);
    for (word, text) in [("why", &finding.why), ("repair", &finding.remedy), ("source", &finding.source)] {
        if !text.is_empty() {
            let _ = write!(out, "\n  {word}: {}", visible(text));
        }
    }
    out
}

fn places(out: &mut String, labels: &[Label]) {
    for label in labels {
        let at = label.source.position(label.span.start);
        let _ = write!(out, "\n  {}:{}:{}: {}", visible(label.source.name()), at.line, at.column, visible(&label.text));
    }
}

fn write_case<W: Write>(out: &mut Xml<W>, case: &Case) -> io::Result<()> {
    let start = BytesStart::new("testcase").with_attributes([("name", &*case.name), ("classname", &*case.class)]);
    let (element, kind, message, text) = match &case.result {
        CaseResult::Passed if case.notes.is_empty() => {
            out.write_event(Event::Empty(start))?;
            return line(out);
        }
        CaseResult::Passed => ("system-out", None, "", &case.notes),
        CaseResult::Failure { kind, message, text } => ("failure", Some(&**kind), &**message, text),
        CaseResult::Error { kind, message, text } => ("error", Some(*kind), &**message, text),
    };
    out.write_event(Event::Start(start))?;
    let mut inner = BytesStart::new(element);
    if let Some(kind) = kind {
        inner.extend_attributes([("type", kind), ("message", message)]);
    }
    out.write_event(Event::Start(inner))?;
    out.write_event(Event::Text(BytesText::new(text)))?;
    out.write_event(Event::End(BytesEnd::new(element)))?;
    out.write_event(Event::End(BytesEnd::new("testcase")))?;
    line(out)
}
