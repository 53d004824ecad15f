//! What the page keeps of a unit that it shows in full.

use std::path::Path;

use crate::finding::{Finding, Label, Severity, Verdict};
#[cfg(feature = "signal")]
use crate::signal::rates::Grade;
use crate::text::{Source, Span};
use crate::verify::{Reading, UnitReport};

use super::super::picture::{Picture, scene, styled};
#[cfg(feature = "signal")]
use super::plots;
use super::{name, sentence};

/// So many findings of a unit are shown in full.
const FINDINGS: usize = 40;

/// So many more are a line each.
const LINES: usize = 200;

/// So many places of a finding are shown.
const PLACES: usize = 8;

/// So many figures of a unit are listed.
const FIGURES: usize = 120;

/// A unit.
pub(super) struct UnitView {
    pub name: String,
    pub attempt: u8,
    pub file: String,
    pub cable: String,
    pub standard: String,
    pub verdict: Verdict,
    pub hazard: bool,
    pub is_drawing: bool,
    pub findings: Vec<FindingView>,
    /// Code and message of those after [`FINDINGS`].
    pub lines: Vec<(&'static str, String)>,
    /// How many findings come after these.
    pub more: usize,
    pub not_shown: Vec<&'static str>,
    pub rework: Vec<String>,
    /// The wiring as SVG; none where it can't be drawn.
    pub picture: Option<String>,
    /// Loss, impedance along the cable and eyes as SVG.
    #[cfg(feature = "signal")]
    pub plots: Vec<String>,
    #[cfg(feature = "signal")]
    pub grades: Vec<LinkView>,
    pub figures: Vec<Reading>,
    pub more_figures: usize,
    pub length: Option<f64>,
    pub has_parts: bool,
    pub digest: Option<String>,
}

/// A link with its rates.
#[cfg(feature = "signal")]
pub(super) struct LinkView {
    pub grade: Grade,
    pub missing: Vec<String>,
}

/// A finding.
pub(super) struct FindingView {
    pub code: &'static str,
    pub severity: Severity,
    pub hazard: bool,
    pub undecided: bool,
    pub message: String,
    pub why: String,
    pub remedy: String,
    pub source: String,
    pub places: Vec<Place>,
    pub more_places: usize,
}

/// A place in a netlist or a map, with its line.
pub(super) struct Place {
    pub file: String,
    pub line: u64,
    pub column: u64,
    /// The line before what is marked, the mark, and the rest.
    pub text: [String; 3],
    /// What is to be seen there.
    pub says: String,
}

impl UnitView {
    pub(super) fn of(file: &Path, report: &UnitReport) -> Self {
        let shown = |finding: &Finding| FindingView::of(finding);
        let rest = report.findings.iter().skip(FINDINGS);
        let facts = report.lot.as_deref();
        let readings = facts.map_or(&[][..], |facts| &facts.readings);
        let about = report.about.as_deref();
        UnitView {
            name: name(&unit_name(file, report)),
            attempt: report.attempt.max(1),
            file: name(&file.display().to_string()),
            cable: name(&format!("{}: {}", report.cable.name, report.cable.title)),
            standard: sentence(&report.cable.standard),
            verdict: report.verdict,
            hazard: report.findings.iter().any(|finding| finding.hazard),
            is_drawing: report.is_drawing,
            findings: report.findings.iter().take(FINDINGS).map(shown).collect(),
            lines: rest.clone().take(LINES).map(|finding| (finding.code.text(), sentence(&finding.message))).collect(),
            more: report.findings.len().saturating_sub(FINDINGS + LINES),
            not_shown: report.not_shown.words().collect(),
            rework: report.rework.iter().take(LINES).map(|step| sentence(step)).collect(),
            picture: Picture::of(report).map(|picture| inline(&styled(&scene(&picture), ""))),
            #[cfg(feature = "signal")]
            plots: plots::of(report),
            #[cfg(feature = "signal")]
            grades: report
                .links
                .iter()
                .map(|link| LinkView { grade: link.grade.clone(), missing: link.missing.clone() })
                .collect(),
            figures: readings.iter().take(FIGURES).cloned().collect(),
            more_figures: readings.len().saturating_sub(FIGURES),
            length: facts.and_then(|facts| facts.length),
            has_parts: !report.cable.parts.is_empty(),
            digest: about.map(|about| about.digest.to_string()),
        }
    }

    /// How many bytes its pictures take.
    pub(super) fn drawn_bytes(&self) -> usize {
        let wiring = self.picture.as_ref().map_or(0, String::len);
        #[cfg(feature = "signal")]
        let wiring = wiring + self.plots.iter().map(String::len).sum::<usize>();
        wiring
    }

    /// The name with the attempt, where it isn't the first.
    pub(super) fn full_name(&self) -> String {
        if self.attempt > 1 { format!("{} (attempt {})", self.name, self.attempt) } else { self.name.clone() }
    }
}

/// A unit's name; where the netlist has none, that of its file.
pub(super) fn unit_name(file: &Path, report: &UnitReport) -> String {
    let of_file = || file.file_name().map_or_else(|| "-".to_owned(), |name| name.to_string_lossy().into_owned());
    report.unit.clone().unwrap_or_else(of_file)
}

impl FindingView {
    pub(super) fn of(finding: &Finding) -> Self {
        FindingView {
            code: finding.code.text(),
            severity: finding.severity,
            hazard: finding.hazard,
            undecided: finding.undecided,
            message: sentence(&finding.message),
            why: sentence(&finding.why),
            remedy: sentence(&finding.remedy),
            source: sentence(&finding.source),
            places: finding.labels.iter().take(PLACES).map(Place::of).collect(),
            more_places: finding.labels.len().saturating_sub(PLACES),
        }
    }

    /// How much it weighs, in words.
    pub(super) fn weight(&self) -> &'static str {
        match (self.hazard, self.severity, self.undecided) {
            (true, ..) => "hazard",
            (_, Severity::Fail, _) => "fails",
            (_, _, true) => "leaves it undecided",
            (_, Severity::Caution, _) => "caution",
            (_, Severity::Note, _) => "note",
        }
    }
}

impl Place {
    fn of(label: &Label) -> Self {
        let at = label.source.position(label.span.start);
        Place {
            file: name(label.source.name()),
            line: at.line,
            column: at.column,
            text: line_of(&label.source, label.span),
            says: sentence(&label.text),
        }
    }
}

/// The line that a place begins in: what is before it, the place as far as it is on this line, and what is after it.
fn line_of(source: &Source, span: Span) -> [String; 3] {
    let text = source.text();
    let from = floor(text, span.start as usize);
    let start = text[..from].rfind('\n').map_or(0, |at| at + 1);
    let end = text[from..].find('\n').map_or(text.len(), |at| from + at);
    let to = floor(text, (span.end() as usize).clamp(from, end));
    let part = |part: &str| name(part.trim_end_matches('\r'));
    [part(&text[start..from]), part(&text[from..to]), part(&text[to..end])]
}

/// The nearest boundary between characters at or before a byte.
fn floor(text: &str, byte: usize) -> usize {
    let mut byte = byte.min(text.len());
    while !text.is_char_boundary(byte) {
        byte -= 1;
    }
    byte
}

/// An SVG document as a part of a page: without its declaration and its own styles, which would hold for the whole page.
pub(super) fn inline(document: &str) -> String {
    let body = document.find("<svg").and_then(|at| document.get(at..)).unwrap_or_default();
    match (body.find("<style>"), body.find("</style>")) {
        (Some(from), Some(to)) if from < to => [&body[..from], &body[to + "</style>".len()..]].concat(),
        _ => body.to_owned(),
    }
}
