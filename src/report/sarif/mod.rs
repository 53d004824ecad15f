//! `--format sarif`: one run of a SARIF log (OASIS, Static Analysis Results Interchange Format, version 2.1.0).
//!
//! Results go out as the verdicts come; the rules that they name, the files and the problems of the input follow at the end of
//! the run, as the order of a JSON object's members has no meaning. Characters that a terminal or a reader of XML would act
//! on are spelled in every text as [`visible`] spells them.
//!
//! The crate serde-sarif has structs for the whole standard, and holds a whole log in memory. A log that is written as it comes
//! could use no more of them than the small ones, which are in `objects`.

mod objects;
mod place;

use std::collections::{HashMap, HashSet};
use std::hash::Hasher;
use std::io::{self, Write};
use std::path::PathBuf;

use serde::Serialize;
use siphasher::sip128::{Hasher128, SipHasher24};

use crate::finding::{Finding, Problem, Verdict};
use crate::lot::Decision;
use crate::text::visible;
use crate::verify::{Batch, Outcome, UnitReport};

use objects::{
    Artifact, ArtifactLocation, Driver, FindingProperties, Fingerprints, Invocation, Location, Message, Notification, Properties,
    SarifResult, Tool,
};
pub(super) use objects::{Kind, Level, Rule};
use place::{CATALOGUE, Places, ROOT};

use super::Writer;
use super::model::Summary;

/// The schema of the log.
const SCHEMA: &str = "https://docs.oasis-open.org/sarif/sarif/v2.1.0/errata01/os/schemas/sarif-schema-2.1.0.json";

/// Writes the report as a SARIF log.
pub struct Sarif<W: Write> {
    out: W,
    places: Places,
    any: bool,
    rules: Vec<Rule>,
    files: Vec<ArtifactLocation>,
    known: HashSet<ArtifactLocation>,
    notifications: Vec<Notification>,
    lot: Option<(Decision, u8)>,
}

/// What the run says of all units.
#[derive(Serialize)]
struct RunProperties {
    #[serde(flatten)]
    summary: Summary,
    #[serde(skip_serializing_if = "Option::is_none")]
    lot: Option<Decision>,
}

impl<W: Write> Sarif<W> {
    /// A report that goes to `out`.
    ///
    /// # Errors
    /// Where the output can't be written.
    pub fn new(mut out: W) -> io::Result<Self> {
        write!(
            out,
            "{{\n\"$schema\": \"{SCHEMA}\",\n\"version\": \"2.1.0\",\n\"runs\": [{{\n\"columnKind\": \"unicodeCodePoints\",\n\"results\": ["
        )?;
        Ok(Sarif {
            out,
            places: Places::default(),
            any: false,
            rules: Vec::new(),
            files: Vec::new(),
            known: HashSet::new(),
            notifications: Vec::new(),
            lot: None,
        })
    }

    /// The same with files below this folder written from there, also where they were given as absolute paths.
    #[must_use]
    pub fn below(mut self, folder: Option<PathBuf>) -> Self {
        self.places.folder = folder;
        self
    }

    /// The decision on a lot, and the exit status that goes with it.
    pub(super) fn decided(&mut self, decision: Decision, status: u8) {
        self.lot = Some((decision, status));
    }

    /// A result that is no finding, with what there is to say of it; its place is the first file that was read.
    pub(super) fn other(&mut self, rule: Rule, kind: Kind, text: &str, properties: impl Serialize) -> io::Result<()> {
        let first = self.files.first().cloned();
        let physical = |artifact_location| objects::PhysicalLocation { artifact_location, region: None };
        let place = first.map(|file| Location { id: None, physical_location: physical(file), message: None });
        let result = SarifResult {
            rule_id: rule.id(),
            rule_index: self.rule(rule),
            kind,
            level: if kind == Kind::Fail { Level::Error } else { Level::None },
            message: Message::plain(&visible(text)),
            locations: place.into_iter().collect(),
            related_locations: Vec::new(),
            partial_fingerprints: None,
            properties,
        };
        self.result(&result)
    }

    fn result<P: Serialize>(&mut self, result: &SarifResult<P>) -> io::Result<()> {
        self.out.write_all(if self.any { b",\n" } else { b"\n" })?;
        self.any = true;
        Ok(serde_json::to_writer(&mut self.out, result)?)
    }

    /// The number of a rule, in the order in which they occur.
    fn rule(&mut self, rule: Rule) -> usize {
        self.rules.iter().position(|known| *known == rule).unwrap_or_else(|| {
            self.rules.push(rule);
            self.rules.len() - 1
        })
    }

    fn file(&mut self, name: &str) {
        if let Some(file) = self.places.file(name)
            && self.known.insert(file.clone())
        {
            self.files.push(file);
        }
    }

    fn unit(&mut self, file: &str, report: &UnitReport) -> io::Result<()> {
        let mut twins = HashMap::new();
        for finding in &report.findings {
            let fingerprint = fingerprint(report, finding);
            // two findings of one code at the same points are told apart by their order
            let nth: &mut u32 = twins.entry(fingerprint.clone()).or_default();
            *nth += 1;
            self.finding(file, report, finding, format!("{fingerprint}:{nth}"))?;
        }
        if report.verdict == Verdict::Inconclusive { self.inconclusive(file, report) } else { Ok(()) }
    }

    /// The first label is the place of a finding, the others are related to it.
    fn finding(&mut self, file: &str, report: &UnitReport, finding: &Finding, fingerprint: String) -> io::Result<()> {
        let rule = Rule::Code(finding.code);
        let mut labels = finding.labels.iter();
        let place = labels.next().and_then(|label| self.places.label(label, None)).or_else(|| self.places.whole(file));
        let related = (1..).zip(labels).filter_map(|(id, label)| self.places.label(label, Some(id))).collect();
        let mut points: Vec<String> = texts(&finding.points);
        points.sort_unstable();
        let result = SarifResult {
            rule_id: rule.id(),
            rule_index: self.rule(rule),
            kind: Kind::Fail,
            level: Level::of(finding.severity),
            message: Message::plain(&visible(&format!("{}{}", prefix(report), finding.message))),
            locations: place.into_iter().collect(),
            related_locations: related,
            partial_fingerprints: Some(Fingerprints { finding: fingerprint }),
            properties: properties(
                report,
                Some(FindingProperties {
                    points,
                    signals: texts(&finding.signals),
                    hazard: finding.hazard,
                    undecided: finding.undecided,
                    why: visible(&finding.why).into_owned(),
                    remedy: visible(&finding.remedy).into_owned(),
                    source: visible(&finding.source).into_owned(),
                }),
            ),
        };
        self.result(&result)
    }

    /// A unit that can't be decided has a result of its own, so that it never looks like one that conforms.
    fn inconclusive(&mut self, file: &str, report: &UnitReport) -> io::Result<()> {
        let mut open = report.findings.iter().filter(|finding| finding.undecided);
        let first = open.clone().find_map(|finding| finding.labels.first());
        let place = first.and_then(|label| self.places.label(label, None)).or_else(|| self.places.whole(file));
        let codes: Vec<&str> = match open.next() {
            Some(first) => std::iter::once(first).chain(open).map(|finding| finding.code.text()).collect(),
            None => Vec::new(),
        };
        let why = if codes.is_empty() { String::new() } else { format!(": {}", codes.join(", ")) };
        let result = SarifResult {
            rule_id: Rule::Inconclusive.id(),
            rule_index: self.rule(Rule::Inconclusive),
            kind: Kind::Open,
            level: Level::None,
            message: Message::plain(&visible(&format!("{}the unit can't be decided, and is not accepted{why}", prefix(report)))),
            locations: place.into_iter().collect(),
            related_locations: Vec::new(),
            partial_fingerprints: None,
            properties: properties(report, None),
        };
        self.result(&result)
    }

    fn problem(&mut self, file: &str, problem: &Problem) {
        let help = problem.help.as_ref().map(|help| format!("; {help}")).unwrap_or_default();
        let mut locations: Vec<Location> = problem.labels.iter().filter_map(|label| self.places.label(label, None)).collect();
        if locations.is_empty() {
            locations.extend(self.places.whole(file));
        }
        self.notify(&format!("{}{help}", problem.message), locations);
    }

    fn notify(&mut self, text: &str, locations: Vec<Location>) {
        self.notifications.push(Notification { level: Level::Error, message: Message::plain(&visible(text)), locations });
    }

    fn member(&mut self, name: &str, value: &impl Serialize) -> io::Result<()> {
        write!(self.out, ",\n\"{name}\": ")?;
        Ok(serde_json::to_writer(&mut self.out, value)?)
    }
}

impl<W: Write> Writer for Sarif<W> {
    fn batch(&mut self, file: &str, batch: &Batch) -> io::Result<()> {
        self.file(file);
        for report in &batch.reports {
            self.unit(file, report)?;
        }
        for problem in &batch.problems {
            self.problem(file, problem);
        }
        Ok(())
    }

    fn finish(&mut self, outcome: &Outcome) -> io::Result<()> {
        if let Some(text) = without_verdict(outcome) {
            self.notify(&text, Vec::new());
        }
        self.out.write_all(if self.any { b"\n]" } else { b"]" })?;
        let rules = self.rules.iter().map(|rule| rule.descriptor()).collect();
        let driver = Driver { name: "backshell", semantic_version: env!("CARGO_PKG_VERSION"), rules };
        self.member("tool", &Tool { driver })?;
        let exit_code = self.lot.map_or(outcome.status(), |(_, status)| status);
        let invocation = Invocation {
            execution_successful: exit_code != 2,
            exit_code,
            tool_execution_notifications: std::mem::take(&mut self.notifications),
        };
        self.member("invocations", &[invocation])?;
        let bases = serde_json::json!({
            CATALOGUE: { "description": { "text": "The pin maps inside the program; `backshell maps NAME` shows them." } },
            ROOT: { "description": { "text": "The root of the paths that were given as absolute ones." } },
        });
        self.member("originalUriBaseIds", &bases)?;
        let files = std::mem::take(&mut self.files);
        let artifacts: Vec<Artifact> =
            files.into_iter().map(|location| Artifact { location, roles: ["analysisTarget"] }).collect();
        self.member("artifacts", &artifacts)?;
        let lot = self.lot.map(|(decision, _)| decision);
        self.member("properties", &RunProperties { summary: Summary::of(outcome), lot })?;
        self.out.write_all(b"\n}]\n}\n")?;
        self.out.flush()
    }
}

/// What to say where units have no verdict, or there is none.
pub(super) fn without_verdict(outcome: &Outcome) -> Option<String> {
    match outcome.unjudged {
        0 if outcome.units() == 0 && outcome.problems == 0 => Some("no unit was checked".to_owned()),
        0 => None,
        1 => Some("1 unit has no verdict, since its input can't be used".to_owned()),
        n => Some(format!("{n} units have no verdict, since their input can't be used")),
    }
}

fn texts(texts: &[String]) -> Vec<String> {
    texts.iter().map(|text| visible(text).into_owned()).collect()
}

/// The unit's name before a message.
fn prefix(report: &UnitReport) -> String {
    match (&report.unit, report.attempt) {
        (Some(unit), 0 | 1) => format!("{unit}: "),
        (Some(unit), attempt) => format!("{unit} (attempt {attempt}): "),
        (None, _) => String::new(),
    }
}

fn properties(report: &UnitReport, finding: Option<FindingProperties>) -> Properties {
    Properties {
        unit: report.unit.as_deref().map(|unit| visible(unit).into_owned()),
        attempt: (report.attempt > 1).then_some(report.attempt),
        cable: visible(&report.cable.name).into_owned(),
        verdict: report.verdict,
        finding,
    }
}

/// SipHash-2-4 with 128 bits (Aumasson and Bernstein, 2012) and a key of zeros, over what stays the same from run to run.
fn fingerprint(report: &UnitReport, finding: &Finding) -> String {
    let mut points: Vec<&str> = finding.points.iter().map(String::as_str).collect();
    points.sort_unstable();
    let mut hasher = SipHasher24::new();
    let attempt = report.attempt.to_string();
    let unit = report.unit.as_deref().unwrap_or_default();
    for part in [finding.code.text(), &report.cable.name, unit, &attempt].into_iter().chain(points) {
        hasher.write(part.as_bytes());
        hasher.write(&[0xff]); // no byte of UTF-8
    }
    format!("{:032x}", hasher.finish128().as_u128())
}
