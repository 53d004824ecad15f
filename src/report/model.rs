//! The report as data: the fields of `--format json`, in their order.

use schemars::JsonSchema;
use serde::Serialize;

use crate::finding::{Finding, Label, Problem, Severity, Verdict};
use crate::text::visible;
use crate::verify::{Outcome, UnitReport};

/// A whole report.
#[derive(Debug, Serialize, JsonSchema)]
#[non_exhaustive]
pub struct Report {
    /// Which form this is: `backshell.check/1`.
    pub schema: String,
    /// The units that have a verdict, in the order of the input.
    pub units: Vec<UnitEntry>,
    /// What could not be used.
    pub errors: Vec<ErrorReport>,
    /// The count.
    pub summary: Summary,
}

/// The verdict on one unit.
#[derive(Debug, Serialize, JsonSchema)]
#[non_exhaustive]
pub struct UnitEntry {
    /// The unit's name; null where the file holds one unnamed unit.
    pub unit: Option<String>,
    /// Which test of this unit it is; left out where it is the first.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub attempt: Option<u8>,
    /// The cable that it was checked against.
    pub cable: String,
    /// The file that it is in.
    pub file: String,
    /// The verdict.
    pub verdict: Verdict,
    /// What was found, hazards first.
    pub findings: Vec<FindingReport>,
    /// What the supplied facts cannot speak of.
    pub not_shown: Vec<String>,
    /// For a unit that fails, what to do to it, step by step; a full test closes the list.
    pub rework: Vec<String>,
}

/// One finding.
#[derive(Debug, Serialize, JsonSchema)]
#[non_exhaustive]
pub struct FindingReport {
    /// The code; `backshell explain CODE` has its page.
    pub code: String,
    /// How much it weighs.
    pub severity: Severity,
    /// What is wrong.
    pub message: String,
    /// Every point that the fault touches, sorted as text.
    pub points: Vec<String>,
    /// The signals of those points.
    pub signals: Vec<String>,
    /// The places that show it.
    pub labels: Vec<LabelReport>,
    /// True where plugging the cable in can destroy equipment or hurt someone.
    pub hazard: bool,
    /// True where the verdict can't be given because of it.
    pub undecided: bool,
    /// Why it matters.
    pub why: String,
    /// How to repair it.
    pub remedy: String,
    /// The published source behind the requirement, or how it was recalled.
    pub source: String,
}

/// A place in a file.
#[derive(Debug, Serialize, JsonSchema)]
#[non_exhaustive]
pub struct LabelReport {
    /// The file: the netlist, or a pin map.
    pub file: String,
    /// Line, from 1.
    pub line: u64,
    /// Column in characters, from 1.
    pub column: u64,
    /// Bytes from the start of the file.
    pub offset: u64,
    /// Length in bytes.
    pub length: u32,
    /// What is to be seen there.
    pub text: String,
}

/// An input that can't be used.
#[derive(Debug, Serialize, JsonSchema)]
#[non_exhaustive]
pub struct ErrorReport {
    /// What is wrong.
    pub message: String,
    /// The way out, where there is one.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub help: Option<String>,
    /// Where it shows.
    pub labels: Vec<LabelReport>,
}

/// How many units came out how.
#[derive(Clone, Copy, Debug, Serialize, JsonSchema)]
#[non_exhaustive]
pub struct Summary {
    /// Units with a verdict.
    pub units: usize,
    /// Those that conform.
    pub conforms: usize,
    /// Those that fail.
    pub fails: usize,
    /// Those that can't be decided.
    pub inconclusive: usize,
    /// Units without a verdict, since their input can't be used.
    pub unjudged: usize,
}

impl Summary {
    /// The count of an outcome.
    #[must_use]
    pub fn of(outcome: &Outcome) -> Self {
        Summary {
            units: outcome.units(),
            conforms: outcome.conforms,
            fails: outcome.fails,
            inconclusive: outcome.inconclusive,
            unjudged: outcome.unjudged,
        }
    }
}

/// A unit's verdict as data.
#[must_use]
pub fn unit(file: &str, report: &UnitReport) -> UnitEntry {
    UnitEntry {
        unit: report.unit.clone(),
        attempt: Some(report.attempt).filter(|attempt| *attempt > 1),
        cable: report.cable.name.clone(),
        file: file.to_owned(),
        verdict: report.verdict,
        findings: report.findings.iter().map(finding).collect(),
        not_shown: report.not_shown.words().map(str::to_owned).collect(),
        rework: report.rework.clone(),
    }
}

fn finding(finding: &Finding) -> FindingReport {
    let mut points = finding.points.clone();
    points.sort_unstable();
    FindingReport {
        code: finding.code.text().to_owned(),
        severity: finding.severity,
        message: finding.message.clone(),
        points,
        signals: finding.signals.clone(),
        labels: finding.labels.iter().map(label).collect(),
        hazard: finding.hazard,
        undecided: finding.undecided,
        why: finding.why.clone(),
        remedy: finding.remedy.clone(),
        source: finding.source.clone(),
    }
}

pub(super) fn label(label: &Label) -> LabelReport {
    let at = label.source.position(label.span.start);
    LabelReport {
        file: label.source.name().to_owned(),
        line: at.line,
        column: at.column,
        offset: at.offset,
        length: label.span.len,
        text: label.text.clone(),
    }
}

/// A problem of the input as data.
#[must_use]
pub fn error(problem: &Problem) -> ErrorReport {
    ErrorReport {
        message: visible(&problem.message).into_owned(),
        help: problem.help.clone(),
        labels: problem.labels.iter().map(label).collect(),
    }
}
