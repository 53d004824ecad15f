//! Why a cable that rings out fails its signal, as text and as data.

use std::fmt::Write as _;

use schemars::JsonSchema;
use serde::Serialize;

use super::json::schema_of;
use super::page::Page;
use crate::diagnosis::{
    Claim, Diagnosis, Evidence, Leaning, Model, Next, Ranked, claim, next, observation, times, where_at, worth_listing,
};
use crate::finding::{Code, Finding, Severity, Verdict};
use crate::text::visible;
use crate::verify::UnitReport;

/// The diagnoses of an input: the fields of `diagnose --format json`.
#[derive(Debug, Serialize, JsonSchema)]
#[non_exhaustive]
pub struct DiagnosisReport {
    /// Which form this is: `backshell.diagnose/1`.
    pub schema: &'static str,
    /// The units that could be read.
    pub units: Vec<DiagnosisEntry>,
}

impl DiagnosisReport {
    /// A report on these units.
    #[must_use]
    pub fn new(units: Vec<DiagnosisEntry>) -> Self {
        Self { schema: "backshell.diagnose/1", units }
    }
}

/// The diagnosis of one unit.
#[derive(Debug, Serialize, JsonSchema)]
#[non_exhaustive]
pub struct DiagnosisEntry {
    /// The unit's name; null where the file holds one unnamed unit.
    pub unit: Option<String>,
    /// The cable that it was read against.
    pub cable: String,
    /// The file that it is in.
    pub file: String,
    /// The verdict of its checks: where it fails, that is to be repaired first.
    pub verdict: Verdict,
    /// True where the cable must not be connected to anything.
    pub do_not_connect: bool,
    /// What was observed.
    pub observed: Vec<ObservationEntry>,
    /// `nothing-observed`, `points-to`, `cannot-separate` or `none-fits`.
    pub claim: &'static str,
    /// The causes that the claim is about.
    pub claimed: Vec<String>,
    /// The claim in words.
    pub says: String,
    /// Every cause that makes sense for the cable, the most probable first; the last is what the model doesn't know.
    pub causes: Vec<CauseEntry>,
    /// What isn't known, in bits.
    pub open_bits: f64,
    /// The measurements that are left, the one that tells most in its time first.
    pub next: Vec<NextEntry>,
    /// The one that tells most in its time between causes that can't be separated.
    pub between: Option<NextEntry>,
    /// What was left out, and why.
    pub notes: Vec<String>,
}

/// Something that was observed.
#[derive(Debug, Serialize, JsonSchema)]
#[non_exhaustive]
pub struct ObservationEntry {
    /// The sign.
    pub sign: String,
    /// How well each of its states fits, 0 to 1.
    pub fits: Vec<(String, f64)>,
    /// In words.
    pub says: String,
    /// Whether a person said it.
    pub said: bool,
}

/// A cause as it stands.
#[derive(Debug, Serialize, JsonSchema)]
#[non_exhaustive]
pub struct CauseEntry {
    /// Its name; `something-else` for what the model doesn't know.
    pub cause: String,
    /// In words.
    pub says: String,
    /// Its share before anything was observed.
    pub prior: f64,
    /// Its share after it.
    pub probability: f64,
    /// Where it sits, or how to find that out; empty where it has no place.
    pub place: String,
    /// What speaks for it.
    pub speaks_for: Vec<LeaningEntry>,
    /// What speaks against it.
    pub against: Vec<LeaningEntry>,
    /// The signs that would say something of it, and weren't seen.
    pub not_measured: Vec<String>,
    /// What to do about it.
    pub remedy: String,
}

/// How much an observation speaks for or against a cause.
#[derive(Debug, Serialize, JsonSchema)]
#[non_exhaustive]
pub struct LeaningEntry {
    /// The sign.
    pub sign: String,
    /// How many times as likely the observation is with this cause as with the others together.
    pub factor: f64,
}

/// A measurement that is left.
#[derive(Debug, Serialize, JsonSchema)]
#[non_exhaustive]
pub struct NextEntry {
    /// Its name.
    pub measurement: String,
    /// What to do.
    pub says: String,
    /// What it takes.
    pub needs: String,
    /// How long it takes.
    pub minutes: f64,
    /// What it is expected to tell.
    pub bits: f64,
    /// That in a minute.
    pub bits_per_minute: f64,
    /// What to mind before it.
    pub caution: Option<String>,
}

/// The JSON Schema of `diagnose --format json`, as text.
#[must_use]
pub fn diagnosis_schema() -> String {
    schema_of::<DiagnosisReport>()
}

/// Width of a diagnosis, in columns.
const WIDTH: usize = 110;

/// What the model doesn't know.
const ELSE: (&str, &str) = ("something-else", "something else: nothing of what this model knows, or two faults at once");

/// A unit's diagnosis as data.
#[must_use]
pub fn diagnosis_entry(
    file: &str,
    model: &Model,
    report: &UnitReport,
    evidence: &Evidence,
    diagnosis: &Diagnosis,
) -> DiagnosisEntry {
    let name = |cause: &usize| model.causes[*cause].name.clone();
    let (word, claimed) = match &diagnosis.claim {
        Claim::NothingObserved => ("nothing-observed", Vec::new()),
        Claim::NoneFits => ("none-fits", Vec::new()),
        Claim::PointsTo(cause) => ("points-to", vec![name(cause)]),
        Claim::CannotSeparate(causes) => ("cannot-separate", causes.iter().map(name).collect()),
    };
    let entry = |next: &Next| {
        let measurement = &model.measurements[next.measurement];
        NextEntry {
            measurement: measurement.name.clone(),
            says: measurement.words.clone(),
            needs: measurement.needs.clone(),
            minutes: measurement.minutes,
            bits: next.bits,
            bits_per_minute: next.bits_per_minute,
            caution: measurement.caution.clone(),
        }
    };
    let observed = evidence.observations.iter().map(|one| {
        let sign = &model.signs[one.sign];
        let fits = sign.states.iter().zip(&one.weights).map(|(state, weight)| (state.name.clone(), *weight));
        ObservationEntry {
            sign: sign.name.clone(),
            fits: fits.collect(),
            says: observation(model, one),
            said: one.words.is_empty(),
        }
    });
    DiagnosisEntry {
        unit: report.unit.clone(),
        cable: report.cable.name.clone(),
        file: file.to_owned(),
        verdict: report.verdict,
        do_not_connect: is_hazard(report),
        observed: observed.collect(),
        claim: word,
        claimed,
        says: claim(model, diagnosis),
        causes: diagnosis.ranked.iter().map(|one| cause_entry(model, evidence, one)).collect(),
        open_bits: diagnosis.bits,
        next: diagnosis.next.iter().map(entry).collect(),
        between: diagnosis.between.as_ref().map(entry),
        notes: evidence.notes.clone(),
    }
}

fn cause_entry(model: &Model, evidence: &Evidence, one: &Ranked) -> CauseEntry {
    let sign = |leaning: &Leaning| {
        evidence.observations.get(leaning.observation).map_or_else(String::new, |one| model.signs[one.sign].name.clone())
    };
    let leanings = |list: &[Leaning]| list.iter().map(|one| LeaningEntry { sign: sign(one), factor: one.factor }).collect();
    let cause = one.cause.map(|cause| &model.causes[cause]);
    CauseEntry {
        cause: cause.map_or_else(|| ELSE.0.to_owned(), |cause| cause.name.clone()),
        says: cause.map_or_else(|| ELSE.1.to_owned(), |cause| cause.words.clone()),
        prior: one.prior,
        probability: one.probability,
        place: cause.map_or_else(String::new, |cause| where_at(model, cause, evidence)),
        speaks_for: leanings(&one.speaks_for),
        against: leanings(&one.against),
        not_measured: one.unseen.iter().map(|sign| model.signs[*sign].name.clone()).collect(),
        remedy: cause.map_or_else(String::new, |cause| cause.remedy.clone()),
    }
}

fn is_hazard(report: &UnitReport) -> bool {
    report.findings.iter().any(|finding| finding.hazard)
}

/// A unit's diagnosis as text.
#[must_use]
pub fn diagnosis_text(model: &Model, report: &UnitReport, evidence: &Evidence, diagnosis: &Diagnosis) -> String {
    diagnosis_text_within(model, report, evidence, diagnosis, WIDTH)
}

/// The same with lines of so many columns.
#[must_use]
pub fn diagnosis_text_within(
    model: &Model,
    report: &UnitReport,
    evidence: &Evidence,
    diagnosis: &Diagnosis,
    width: usize,
) -> String {
    let mut out = Page::new(width);
    let name = report.unit.as_deref().map_or_else(|| "(one unit)".into(), visible);
    let _ = writeln!(out, "{name} against {}", report.cable.name);
    first_of_all(&mut out, model, report, diagnosis);
    if !evidence.observations.is_empty() {
        let _ = writeln!(out, "\n  Observed");
        for one in &evidence.observations {
            paragraph(&mut out, "    - ", &observation(model, one));
        }
    }
    out.push_str("\n");
    paragraph(&mut out, "  ", &claim(model, diagnosis));
    let listed = worth_listing(model, diagnosis);
    let _ = writeln!(out, "\n       now  prior  cause");
    for at in &listed {
        row(&mut out, model, evidence, &diagnosis.ranked[*at]);
    }
    rest(&mut out, diagnosis, &listed);
    next_text(&mut out, model, diagnosis);
    if !evidence.notes.is_empty() {
        let _ = writeln!(out, "\n  Notes");
        for note in &evidence.notes {
            paragraph(&mut out, "    - ", note);
        }
    }
    paragraph(
        &mut out,
        "\n  ",
        "Priors and likelihoods are judgements (--print-causes shows them), not frequencies: an engineering estimate, no \
         certification.",
    );
    out.into_text()
}

/// What is to be known before anything else: danger, a unit that fails its check, and what to mind before the next step.
fn first_of_all(out: &mut Page, model: &Model, report: &UnitReport, diagnosis: &Diagnosis) {
    if is_hazard(report) {
        paragraph(
            out,
            "  ! ",
            "DO NOT CONNECT this cable: it can destroy equipment or hurt someone. Only what needs no equipment is proposed.",
        );
    }
    let caution = diagnosis.next.first().and_then(|next| model.measurements[next.measurement].caution.as_deref());
    if let Some(caution) = caution {
        paragraph(out, "  ! ", &format!("Before the next measurement: {caution}."));
    }
    // that its lanes miss the rated rate is what is being looked into
    let asked = |finding: &&Finding| matches!(finding.code, Code::LinkRate | Code::LinkUnread);
    let failing = report.findings.iter().filter(|finding| finding.severity == Severity::Fail && !asked(finding));
    let failing: Vec<&Finding> = failing.collect();
    if !failing.is_empty() {
        paragraph(out, "  ! ", "It fails its check. Repair that first, test the whole cable again, and only then look further:");
        for finding in failing.into_iter().take(5) {
            paragraph(out, "      ", &format!("{}: {}", finding.code, finding.message));
        }
    }
}

fn row(out: &mut Page, model: &Model, evidence: &Evidence, one: &Ranked) {
    let percent = |share: f64| format!("{:3.0} %", share * 100.0);
    let words = one.cause.map_or(ELSE.1, |cause| model.causes[cause].words.as_str());
    let _ = writeln!(out, "     {}  {}  {words}", percent(one.probability), percent(one.prior));
    let Some(cause) = one.cause.map(|cause| &model.causes[cause]) else { return };
    let says = |leaning: &Leaning| {
        let observed = evidence.observations.get(leaning.observation)?;
        let sign = &model.signs[observed.sign];
        let most = observed.weights.iter().copied().fold(0.0, f64::max);
        let state = observed.weights.iter().position(|weight| *weight >= most).and_then(|at| sign.states.get(at))?;
        Some(format!("{}: {}", state.words, times(leaning.factor)))
    };
    for (word, list) in [("for", &one.speaks_for), ("against", &one.against)] {
        for text in list.iter().take(3).filter_map(says) {
            paragraph(out, &format!("                    {word:8} "), &text);
        }
    }
    let unseen: Vec<&str> = one.unseen.iter().take(3).map(|sign| model.signs[*sign].asks.as_str()).collect();
    if !unseen.is_empty() {
        paragraph(out, "                    missing  ", &unseen.join(" "));
    }
    let place = where_at(model, cause, evidence);
    if !place.is_empty() {
        paragraph(out, "                    where    ", &place);
    }
    paragraph(out, "                    then     ", &cause.remedy);
}

fn rest(out: &mut Page, diagnosis: &Diagnosis, listed: &[usize]) {
    let others = (0..diagnosis.ranked.len()).filter(|at| !listed.contains(at)).map(|at| &diagnosis.ranked[at]);
    let (known, share) =
        others.clone().filter(|one| one.cause.is_some()).fold((0, 0.0), |(n, sum), one| (n + 1, sum + one.probability));
    let unknown = others.filter(|one| one.cause.is_none()).map(|one| one.probability).sum::<f64>();
    let kept = unknown * 100.0;
    let text = format!("{known} other causes together; {kept:.0} % is kept for what this model doesn't know");
    out.paragraph(&format!("     {:3.0} %         ", share * 100.0), &text);
}

fn next_text(out: &mut Page, model: &Model, diagnosis: &Diagnosis) {
    let Some(first) = diagnosis.next.first() else {
        paragraph(out, "\n  ", "Next: nothing that this model knows is left to measure.");
        return;
    };
    paragraph(out, "\n  Next: ", &next(&model.measurements[first.measurement], *first, diagnosis.bits));
    for other in diagnosis.next.iter().skip(1).take(3) {
        paragraph(out, "  or:   ", &next(&model.measurements[other.measurement], *other, diagnosis.bits));
    }
}

/// A paragraph behind a first indent; later lines stand below its text.
fn paragraph(out: &mut Page, first: &str, text: &str) {
    if first.starts_with('\n') {
        out.push_str("\n");
    }
    out.paragraph(first.trim_start_matches('\n'), text);
}
