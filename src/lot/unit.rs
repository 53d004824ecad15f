//! One tested unit, as a lot sees it.

use std::path::Path;

use crate::finding::{Code, Severity, Verdict};
#[cfg(feature = "signal")]
use crate::signal::rates::Carries;
#[cfg(feature = "signal")]
use crate::verify::LinkGrade;
use crate::verify::{LotFacts, UnitReport};

#[cfg(feature = "signal")]
use super::counts::by_grade;

/// What a unit reached against the grade that it is sold for, from the analysis of its signals.
#[derive(Clone, Copy, Debug, PartialEq, serde::Serialize, serde::Deserialize)]
#[non_exhaustive]
pub struct GradeReached {
    /// Grades above the rated one; below zero where it isn't reached.
    pub steps_above_rated: i32,
    /// What the worst lane has to spare at the rated grade, as a part of what that asks for; below zero where something is missed.
    pub margin: f64,
}

#[cfg(feature = "signal")]
impl GradeReached {
    /// So many grades above the rated one, with so much to spare at it.
    #[must_use]
    pub fn new(steps_above_rated: i32, margin: f64) -> Self {
        Self { steps_above_rated, margin }
    }

    /// What the links of a unit reached: the worst of them. None where nothing was rated, where a lane wasn't measured, or where
    /// the rated rate couldn't be judged.
    #[must_use]
    pub fn of(links: &[LinkGrade]) -> Option<Self> {
        let all = links.iter().map(|link| {
            let rated = link.grade.rated.as_ref().filter(|_| link.missing.is_empty())?;
            if matches!(rated.carries, Carries::NotJudged(_)) {
                return None;
            }
            let result = link.grade.rates.iter().find(|result| result.name == rated.name)?;
            let margin = result.lanes.iter().filter_map(|lane| lane.headroom).min_by(f64::total_cmp)?;
            Some(GradeReached { steps_above_rated: i32::try_from(rated.steps).ok()?, margin })
        });
        let all: Option<Vec<GradeReached>> = all.collect();
        all?.into_iter().min_by(by_grade)
    }
}

/// What keeps a unit from being accepted.
#[derive(Clone, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub struct Fault {
    /// The code of the finding.
    pub code: Code,
    /// Its points, sorted as text.
    pub points: Vec<String>,
    /// True where it leaves the unit undecided and doesn't fail it.
    pub undecided: bool,
}

impl Fault {
    /// A fault of this code at these points, which fails its unit.
    #[must_use]
    pub fn new(code: Code, points: Vec<String>) -> Self {
        Self { code, points, undecided: false }
    }

    /// True where it leaves the unit undecided and doesn't fail it.
    #[must_use]
    pub fn with_undecided(self, undecided: bool) -> Self {
        Self { undecided, ..self }
    }
}

/// One tested unit.
#[derive(Clone, Debug)]
#[non_exhaustive]
pub struct TestedUnit {
    /// Its name; that of its file where the netlist has none.
    pub name: String,
    /// Whether the netlist says it, and it isn't that of the file.
    pub named: bool,
    /// Which test of it this is, from 1.
    pub attempt: u8,
    /// The cable that it was checked against.
    pub cable: String,
    /// The verdict.
    pub verdict: Verdict,
    /// True where connecting it can destroy equipment or hurt someone.
    pub hazard: bool,
    /// What fails it, or leaves it undecided.
    pub faults: Vec<Fault>,
    /// What the evidence can't speak of.
    pub not_shown: Vec<&'static str>,
    /// Its header lines and figures.
    pub facts: LotFacts,
    /// What it reached against the grade that it is sold for, where its signals were analysed.
    pub grade: Option<GradeReached>,
}

impl TestedUnit {
    /// The first test of a unit, by its name, the cable that it was checked against, and its verdict.
    #[must_use]
    pub fn new(name: impl Into<String>, cable: impl Into<String>, verdict: Verdict) -> Self {
        Self {
            name: name.into(),
            cable: cable.into(),
            verdict,
            named: true,
            attempt: 1,
            hazard: false,
            faults: Vec::new(),
            not_shown: Vec::new(),
            facts: LotFacts::default(),
            grade: None,
        }
    }

    /// Whether the netlist says its name, and it isn't that of the file.
    #[must_use]
    pub fn with_named(self, named: bool) -> Self {
        Self { named, ..self }
    }

    /// Which test of it this is, from 1.
    #[must_use]
    pub fn with_attempt(self, attempt: u8) -> Self {
        Self { attempt, ..self }
    }

    /// True where connecting it can destroy equipment or hurt someone.
    #[must_use]
    pub fn with_hazard(self, hazard: bool) -> Self {
        Self { hazard, ..self }
    }

    /// One more fault that fails it, or leaves it undecided.
    #[must_use]
    pub fn with_fault(mut self, fault: Fault) -> Self {
        self.faults.push(fault);
        self
    }

    /// One more thing that the evidence can't speak of.
    #[must_use]
    pub fn with_not_shown(mut self, not_shown: &'static str) -> Self {
        self.not_shown.push(not_shown);
        self
    }

    /// Its header lines and figures.
    #[must_use]
    pub fn with_facts(self, facts: LotFacts) -> Self {
        Self { facts, ..self }
    }

    /// A unit from its report, which should have been made with [`Options::lot`](crate::verify::Options::lot); none for a
    /// drawing, which is no unit of a lot.
    #[must_use]
    pub fn of(file: &Path, report: &UnitReport) -> Option<Self> {
        if report.is_drawing {
            return None;
        }
        let file_name = || file.file_name().map_or_else(|| "-".to_owned(), |name| name.to_string_lossy().into_owned());
        let faults = report.findings.iter().filter(|finding| finding.severity == Severity::Fail || finding.undecided);
        let faults = faults.map(|finding| {
            let mut points = finding.points.clone();
            points.sort_unstable();
            points.dedup();
            Fault { code: finding.code, points, undecided: finding.severity != Severity::Fail }
        });
        Some(TestedUnit {
            name: report.unit.clone().unwrap_or_else(file_name),
            named: report.unit.is_some(),
            attempt: report.attempt.max(1),
            cable: report.cable.name.clone(),
            verdict: report.verdict,
            hazard: report.findings.iter().any(|finding| finding.hazard),
            faults: faults.collect(),
            not_shown: report.not_shown.words().collect(),
            facts: report.lot.as_deref().cloned().unwrap_or_default(),
            #[cfg(feature = "signal")]
            grade: GradeReached::of(&report.links),
            #[cfg(not(feature = "signal"))]
            grade: None,
        })
    }

    /// The highest of its resistances, in ohm.
    #[must_use]
    pub fn highest_ohm(&self) -> Option<f64> {
        self.facts.readings.iter().map(|reading| reading.ohm).max_by(f64::total_cmp)
    }

    /// The codes of its faults, in their order.
    #[must_use]
    pub fn codes(&self) -> String {
        self.faults.iter().map(|fault| fault.code.text()).collect::<Vec<_>>().join("; ")
    }

    /// The points of its faults, in the same order.
    #[must_use]
    pub fn points(&self) -> String {
        self.faults.iter().map(|fault| fault.points.join(" ")).collect::<Vec<_>>().join("; ")
    }

    /// The same with what its signals reached.
    #[must_use]
    pub fn with_grade(mut self, grade: Option<GradeReached>) -> Self {
        self.grade = grade;
        self
    }
}
