//! One finding, and the sink that collects the findings of a unit.

use serde::Serialize;

use super::{Code, Grade, Label};

/// How much a finding weighs.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, schemars::JsonSchema)]
#[serde(rename_all = "lowercase")]
#[non_exhaustive]
pub enum Severity {
    /// The unit does not conform.
    Fail,
    /// It conforms on what was measured, but something could be hidden or is close to its limit.
    Caution,
    /// Worth knowing.
    Note,
}

impl Severity {
    /// The word for it.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Severity::Fail => "fail",
            Severity::Caution => "caution",
            Severity::Note => "note",
        }
    }
}

/// The verdict on one unit.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, schemars::JsonSchema)]
#[serde(rename_all = "lowercase")]
#[expect(
    clippy::exhaustive_enums,
    reason = "a caller must treat all three; one that passed over a fourth could let a wrong cable through"
)]
pub enum Verdict {
    /// Nothing that was measured speaks against it, and nothing that the verdict needs is missing.
    Conforms,
    /// Something doesn't conform.
    Fails,
    /// Something that the verdict needs was not measured, or lies too near its limit.
    Inconclusive,
}

impl Verdict {
    /// The verdict that findings lead to.
    #[must_use]
    pub fn of<'f>(findings: impl IntoIterator<Item = &'f Finding>) -> Self {
        findings.into_iter().fold(Verdict::Conforms, |so_far, finding| match (so_far, finding.severity) {
            (Verdict::Fails, _) | (_, Severity::Fail) => Verdict::Fails,
            _ if finding.undecided => Verdict::Inconclusive,
            _ => so_far,
        })
    }

    /// The word for it.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Verdict::Conforms => "conforms",
            Verdict::Fails => "fails",
            Verdict::Inconclusive => "inconclusive",
        }
    }
}

/// One fault of one unit.
#[derive(Clone, Debug)]
#[non_exhaustive]
pub struct Finding {
    /// What kind of fault.
    pub code: Code,
    /// How much it weighs.
    pub severity: Severity,
    /// True where plugging the cable in can destroy equipment or hurt someone.
    pub hazard: bool,
    /// True where the verdict can't be given because of it.
    pub undecided: bool,
    /// What is wrong, in a sentence.
    pub message: String,
    /// Every point that the fault touches, in natural order.
    pub points: Vec<String>,
    /// The signals of those points, in the order of the connector.
    pub signals: Vec<String>,
    /// The places that show it, the netlist's first.
    pub labels: Vec<Label>,
    /// Why it matters.
    pub why: String,
    /// How to repair it.
    pub remedy: String,
    /// The published source behind the requirement, or how it was recalled.
    pub source: String,
    /// For a question about a drawing: the two ways in which it can be read.
    pub readings: Option<[String; 2]>,
}

impl Finding {
    /// True where plugging the cable in can destroy equipment or hurt someone.
    #[must_use]
    pub fn with_hazard(self, hazard: bool) -> Self {
        Self { hazard, ..self }
    }

    /// One more place that shows it.
    #[must_use]
    pub fn with_label(mut self, label: Label) -> Self {
        self.labels.push(label);
        self
    }

    /// Why it matters.
    #[must_use]
    pub fn with_why(self, why: impl Into<String>) -> Self {
        Self { why: why.into(), ..self }
    }

    /// How to repair it.
    #[must_use]
    pub fn with_remedy(self, remedy: impl Into<String>) -> Self {
        Self { remedy: remedy.into(), ..self }
    }

    /// The published source behind the requirement, or how it was recalled.
    #[must_use]
    pub fn with_source(self, source: impl Into<String>) -> Self {
        Self { source: source.into(), ..self }
    }

    /// For a question about a drawing: the two ways in which it can be read.
    #[must_use]
    pub fn with_readings(self, readings: [String; 2]) -> Self {
        Self { readings: Some(readings), ..self }
    }

    /// Makes it a caution that leaves the unit undecided.
    pub fn leave_undecided(&mut self) {
        self.severity = Severity::Caution;
        self.undecided = true;
    }
}

/// Collects the findings of one unit.
#[derive(Debug, Default)]
pub struct Sink {
    findings: Vec<Finding>,
}

impl Sink {
    /// Takes a finding.
    pub fn report(&mut self, finding: Finding) {
        self.findings.push(finding);
    }

    /// Takes a finding, where there is one.
    pub fn report_if(&mut self, finding: Option<Finding>) {
        self.findings.extend(finding);
    }

    /// The findings, hazards first, then by grade and so by weight, then in the order of the lines that show them.
    #[must_use]
    pub fn into_findings(mut self) -> Vec<Finding> {
        let place = |finding: &Finding| finding.labels.first().map_or(u32::MAX, |label| label.span.start);
        self.findings.sort_by_key(|finding| (!finding.hazard, Grade::of(finding), place(finding)));
        self.findings
    }

    /// Whether a finding so far is dangerous.
    #[must_use]
    pub fn has_hazard(&self) -> bool {
        self.findings.iter().any(|finding| finding.hazard)
    }

    /// The verdict that the findings so far lead to.
    #[must_use]
    pub fn verdict(&self) -> Verdict {
        Verdict::of(&self.findings)
    }
}
