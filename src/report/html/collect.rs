//! What a page keeps of the verdicts, as they come: bounded, however many units there are.

use std::collections::BTreeMap;
use std::path::Path;

use maud::Markup;

use crate::finding::{Problem, Severity, Verdict};
use crate::lot::{Decision, Summary, TestedUnit};
use crate::verify::{Batch, UnitReport};

use super::super::lot::LotReport;
use super::heat::Heat;
use super::views::{FindingView, UnitView};
use super::{HtmlFace, HtmlSaid, faces, lot, name, sentence, shell, unit};

/// So many units are kept to be shown in full.
const FULL: usize = 24;

/// So many sound units are shown in full, where there are no more than these.
pub(super) const FEW: u64 = 3;

/// Bytes of the table of units that aren't accepted, and of the list of those that conform.
const ROW_BYTES: usize = 900_000;
const NAME_BYTES: usize = 400_000;

/// So many input files, header lines and problems are listed.
const LISTED: usize = 400;

/// Collects verdicts for a page.
#[derive(Default)]
pub struct HtmlReport {
    /// The units as a lot.
    summary: Summary,
    pub(super) heat: Heat,
    /// The most urgent units, with what they are sorted by.
    pub(super) full: Vec<(Urgency, UnitView)>,
    /// Tests that don't conform, in the order of the input.
    pub(super) rows: Vec<UnitRow>,
    row_bytes: usize,
    pub(super) rows_left_out: u64,
    /// Tests that do.
    pub(super) conforming: Vec<String>,
    name_bytes: usize,
    pub(super) names_left_out: u64,
    /// The first finding of each code.
    pub(super) examples: BTreeMap<&'static str, (String, FindingView)>,
    /// What was found that neither fails a unit nor leaves it undecided, by code: the units, and the first with what it says.
    pub(super) remarks: BTreeMap<&'static str, (u64, String, String)>,
    /// The cables that units were held against, with their standards.
    pub(super) requirements: BTreeMap<String, String>,
    /// A cable of which no row was ever checked against anything, as a map that was made of a sample.
    unreviewed: Option<String>,
    pub(super) files: Vec<(String, Option<String>)>,
    pub(super) files_left_out: u64,
    /// Header lines, with the number of units that they hold for.
    pub(super) header: BTreeMap<String, u64>,
    pub(super) header_left_out: bool,
    pub(super) problems: Vec<String>,
    pub(super) problems_left_out: u64,
    pub(super) conforms: u64,
    pub(super) fails: u64,
    pub(super) inconclusive: u64,
    drawings_not_sound: u64,
    pub(super) dangerous: Vec<String>,
    pub(super) dangerous_count: u64,
}

/// Danger first, then failures, then what isn't decided; then the order of the input.
pub(super) type Urgency = (u8, u64);

/// A unit in a row.
pub(super) struct UnitRow {
    pub name: String,
    pub verdict: Verdict,
    pub hazard: bool,
    pub codes: String,
    pub findings: usize,
}

impl HtmlReport {
    /// A page without units.
    #[must_use]
    pub fn new() -> Self {
        HtmlReport::default()
    }

    /// The units so far as a lot, for its report.
    #[must_use]
    pub fn summary(&self) -> &Summary {
        &self.summary
    }

    /// How many drawings don't conform, or can't be decided.
    #[must_use]
    pub fn drawings_not_sound(&self) -> u64 {
        self.drawings_not_sound
    }

    /// Takes one part of a file, checked with [`Options`](crate::verify::Options) `lot` and `about`; with `wiring` for the
    /// pictures, and with `measured` for curves and eyes.
    pub fn batch(&mut self, file: &Path, batch: &Batch) {
        self.summary.unjudged += batch.unjudged as u64;
        self.summary.problems += batch.problems.len() as u64;
        self.file(file, batch);
        for problem in &batch.problems {
            self.problem(problem);
        }
        for report in &batch.reports {
            self.unit(file, report);
        }
    }

    fn file(&mut self, file: &Path, batch: &Batch) {
        let shown = name(&file.display().to_string());
        let digest = batch.digest.map(|digest| digest.to_string());
        let full = self.files.len() >= LISTED;
        match self.files.iter_mut().rev().find(|(known, _)| *known == shown) {
            Some((_, known)) => *known = digest.or(known.take()),
            None if full => self.files_left_out += 1,
            None => self.files.push((shown, digest)),
        }
    }

    /// A problem of the input, or of what was asked.
    pub fn problem(&mut self, problem: &Problem) {
        if self.problems.len() >= LISTED {
            self.problems_left_out += 1;
            return;
        }
        let place = problem.labels.first().map(|label| {
            let at = label.source.position(label.span.start);
            format!("{}, line {}: ", label.source.name(), at.line)
        });
        let help = problem.help.as_ref().map(|help| format!(" ({help})"));
        let text = [place.unwrap_or_default(), problem.message.clone(), help.unwrap_or_default()].concat();
        self.problems.push(sentence(&text));
    }

    fn unit(&mut self, file: &Path, report: &UnitReport) {
        let hazard = report.findings.iter().any(|finding| finding.hazard);
        match report.verdict {
            Verdict::Conforms => self.conforms += 1,
            Verdict::Fails => self.fails += 1,
            Verdict::Inconclusive => self.inconclusive += 1,
        }
        for line in report.about.iter().flat_map(|about| &about.header) {
            let line = name(line);
            if self.header.len() >= LISTED && !self.header.contains_key(&line) {
                self.header_left_out = true;
                continue;
            }
            *self.header.entry(line).or_default() += 1;
        }
        if report.cable.links.iter().all(|row| row.provenance.is_from_memory_alone()) {
            self.unreviewed.get_or_insert_with(|| name(&report.cable.name));
        }
        if self.requirements.len() < LISTED && !self.requirements.contains_key(&report.cable.name) {
            self.requirements.insert(report.cable.name.clone(), sentence(&report.cable.standard));
        }
        let nth = self.conforms + self.fails + self.inconclusive;
        let urgency = match report.verdict {
            _ if hazard => 0,
            Verdict::Fails => 1,
            Verdict::Inconclusive => 2,
            Verdict::Conforms => 3,
        };
        let own = super::views::unit_name(file, report);
        let mut shown = name(&own);
        if report.attempt > 1 {
            shown = format!("{shown} (attempt {})", report.attempt);
        }
        if hazard {
            self.dangerous_count += 1;
            if self.dangerous.len() < LISTED {
                self.dangerous.push(shown.clone());
            }
        }
        for finding in report.findings.iter().filter(|finding| finding.severity == Severity::Fail || finding.undecided) {
            self.examples.entry(finding.code.text()).or_insert_with(|| (shown.clone(), FindingView::of(finding)));
        }
        let mut last = "";
        for finding in report.findings.iter().filter(|finding| finding.severity != Severity::Fail && !finding.undecided) {
            let code = finding.code.text();
            let first = || (0, shown.clone(), sentence(&finding.message));
            self.remarks.entry(code).or_insert_with(first).0 += u64::from(code != last);
            last = code;
        }
        self.row(shown, hazard, report);
        self.keep((urgency, nth), file, report);
        match TestedUnit::of(file, report) {
            Some(unit) => {
                self.heat.add(unit.faults.iter().flat_map(|fault| fault.points.iter().map(String::as_str)));
                self.summary.add(unit);
            }
            None => {
                self.summary.drawings += 1;
                self.drawings_not_sound += u64::from(report.verdict != Verdict::Conforms);
            }
        }
    }

    fn row(&mut self, shown: String, hazard: bool, report: &UnitReport) {
        if report.verdict == Verdict::Conforms {
            self.name_bytes += shown.len() + 12;
            if self.name_bytes > NAME_BYTES {
                self.names_left_out += 1
            } else {
                self.conforming.push(shown)
            }
            return;
        }
        let mut codes: Vec<&str> = report.findings.iter().map(|finding| finding.code.text()).collect();
        codes.dedup();
        let more = codes.len().saturating_sub(6);
        let mut codes = codes.into_iter().take(6).collect::<Vec<_>>().join(", ");
        if more > 0 {
            codes = format!("{codes} and {more} more");
        }
        self.row_bytes += shown.len() + codes.len() + 110;
        if self.row_bytes > ROW_BYTES {
            self.rows_left_out += 1;
        } else {
            self.rows.push(UnitRow { name: shown, verdict: report.verdict, hazard, codes, findings: report.findings.len() });
        }
    }

    fn keep(&mut self, urgency: Urgency, file: &Path, report: &UnitReport) {
        // a sound unit of many is a name
        let worth = urgency.0 < 3 || urgency.1 <= FEW;
        if !worth || (self.full.len() >= FULL && self.full.last().is_some_and(|(last, _)| *last < urgency)) {
            return;
        }
        let at = self.full.partition_point(|(known, _)| *known < urgency);
        self.full.insert(at, (urgency, UnitView::of(file, report)));
        self.full.truncate(FULL);
    }

    /// How many tests there are.
    pub(super) fn tests(&self) -> u64 {
        self.conforms + self.fails + self.inconclusive
    }

    /// Whether nothing keeps a certificate back.
    fn is_sound(&self, lot: &LotReport) -> bool {
        lot.decision == Decision::Accept
            && lot.groups.iter().all(|group| group.conforms == group.tested && group.dangerous == 0)
            && lot.unjudged == 0
            && lot.errors.is_empty()
            && self.problems.is_empty()
            && self.problems_left_out == 0
    }

    /// The page, with the report on these units as a lot.
    ///
    /// # Errors
    /// In words: a certificate is asked for and not every unit conforms, or a non-conformance report and every unit does.
    pub fn page(&self, lot_report: &LotReport, said: &HtmlSaid, face: HtmlFace) -> Result<String, String> {
        let page: Markup = match face {
            HtmlFace::Certificate => {
                self.may_be_certified(lot_report)?;
                faces::certificate(self, lot_report, said)
            }
            HtmlFace::NonConformance if self.fails + self.inconclusive == 0 => {
                return Err(match self.tests() {
                    0 => "no unit has a verdict: there is nothing that a non-conformance report could be about".to_owned(),
                    _ => "every unit conforms: there is nothing that a non-conformance report could be about".to_owned(),
                });
            }
            HtmlFace::NonConformance => faces::non_conformance(self, lot_report, said),
            HtmlFace::Report => match &self.full[..] {
                [(_, only)] if self.tests() == 1 && lot_report.groups.iter().all(|group| group.size <= 1) => {
                    unit::page(self, only, lot_report, said)
                }
                _ => lot::page(self, lot_report, said),
            },
        };
        Ok(shell::finish(page))
    }

    fn may_be_certified(&self, lot: &LotReport) -> Result<(), String> {
        if self.tests() == 0 || lot.groups.is_empty() {
            return Err("no certificate: no unit was tested".to_owned());
        }
        if lot.drawings > 0 {
            return Err("no certificate: a drawing is among the input, and nothing was measured of it".to_owned());
        }
        if let Some(cable) = &self.unreviewed {
            return Err(format!(
                "no certificate: every row of the map `{cable}` is from memory, so nothing stands behind it; review the map, and say in it \
                 what each row was checked against"
            ));
        }
        if self.is_sound(lot) {
            return Ok(());
        }
        let settled: u64 = lot.groups.iter().map(|group| group.tested - group.conforms).sum();
        Err(if settled > 0 {
            format!(
                "no certificate: {settled} of {} {}",
                super::count(self.tested(lot), "unit", "units"),
                if settled == 1 { "doesn't conform, or isn't decided" } else { "don't conform, or aren't decided" }
            )
        } else if lot.unjudged > 0 || !self.problems.is_empty() || !lot.errors.is_empty() {
            "no certificate: some of the input can't be used, so nobody knows what it would have shown".to_owned()
        } else {
            let why = lot.groups.iter().find(|group| group.decision != Decision::Accept);
            let why = why.map_or_else(String::new, |group| format!(": {}", group.reason));
            format!("no certificate: the lot isn't accepted ({}){why}", lot.decision.words().to_lowercase())
        })
    }

    /// How many units were tested, retests aside.
    pub(super) fn tested(&self, lot: &LotReport) -> u64 {
        lot.groups.iter().map(|group| group.tested).sum()
    }
}
