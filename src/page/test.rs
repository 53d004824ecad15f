//! The test of one unit, as the page shows it.

use std::time::Instant;

use serde::Serialize;

use crate::finding::{Finding, Severity, Verdict};
use crate::lot::bench::{Outcome, TakenFile, TestedUnit};
use crate::report::picture::{Picture, scene, svg};
use crate::verify::UnitReport;

use super::board::{kind, short};

/// So many findings of a unit are shown.
const FINDINGS: usize = 8;

/// So many steps of a rework list are shown.
const STEPS: usize = 40;

/// A larger picture isn't kept, in bytes.
const PICTURE: usize = 4 << 20;

/// The test of one unit.
#[derive(Clone, Debug, Serialize)]
pub(super) struct Test {
    pub number: u64,
    unit: String,
    cable: String,
    file: String,
    call: &'static str,
    kind: &'static str,
    verdict: &'static str,
    attempt: i64,
    /// The attempt before, in words.
    before: Option<String>,
    findings: Vec<Found>,
    more_findings: usize,
    rework: Vec<String>,
    more_rework: usize,
    /// Where its picture is.
    picture: Option<String>,
    #[serde(skip)]
    pub at: Instant,
}

#[derive(Clone, Debug, Serialize)]
struct Found {
    code: &'static str,
    message: String,
    remedy: String,
    hazard: bool,
    /// Whether it is why the verdict isn't "conforms".
    telling: bool,
}

/// The worst units of a file, the worst first; so many of them with a picture. Their numbers follow `number`; the worst has the
/// highest.
pub(super) fn tests(file: &TakenFile, number: u64, most: usize, pictures: usize) -> Vec<(Test, Option<String>)> {
    let reports = file.batches.iter().flat_map(|batch| &batch.reports);
    let mut units: Vec<(&TestedUnit, &UnitReport)> = file.units.iter().zip(reports).collect();
    units.sort_by_key(|(unit, _)| {
        std::cmp::Reverse((unit.hazard, unit.verdict == Verdict::Fails, unit.verdict != Verdict::Conforms))
    });
    units.truncate(most);
    let numbers = (number + 1..=number + units.len() as u64).rev();
    let one = |(nth, (number, (unit, report)))| {
        let picture = if nth < pictures { picture(report) } else { None };
        (test(&file.name, number, unit, report, picture.is_some()), picture)
    };
    numbers.zip(units).enumerate().map(one).collect()
}

fn picture(report: &UnitReport) -> Option<String> {
    Picture::of(report).map(|picture| svg(&scene(&picture))).filter(|svg| svg.len() <= PICTURE)
}

fn test(file: &str, number: u64, unit: &TestedUnit, report: &UnitReport, has_picture: bool) -> Test {
    let outcome = match unit.verdict {
        _ if unit.hazard => Outcome::DoNotConnect,
        Verdict::Conforms => Outcome::Conforms,
        Verdict::Fails => Outcome::Fails,
        Verdict::Inconclusive => Outcome::CantTell,
    };
    // what decides the verdict first: it must not be among what is left out
    let telling = |finding: &&Finding| finding.severity == Severity::Fail || finding.undecided;
    let (decisive, others): (Vec<&Finding>, Vec<&Finding>) = report.findings.iter().partition(telling);
    let found = decisive.into_iter().chain(others).take(FINDINGS).map(|finding| Found {
        code: finding.code.text(),
        message: short(&finding.message),
        remedy: short(&finding.remedy),
        hazard: finding.hazard,
        telling: telling(&finding),
    });
    let before = unit.before.as_ref();
    Test {
        number,
        unit: short(&unit.unit),
        cable: short(&report.cable.name),
        file: short(file),
        call: outcome.call(),
        kind: kind(outcome),
        verdict: unit.verdict.word(),
        attempt: unit.attempt,
        before: before.map(|before| short(&format!("attempt {} at {}: {}", before.attempt, before.time, before.verdict))),
        findings: found.collect(),
        more_findings: report.findings.len().saturating_sub(FINDINGS),
        rework: report.rework.iter().take(STEPS).map(|step| short(step)).collect(),
        more_rework: report.rework.len().saturating_sub(STEPS),
        picture: has_picture.then(|| format!("/picture/{number}")),
        at: Instant::now(),
    }
}
