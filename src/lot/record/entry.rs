//! What the record keeps of one verdict, before it has its place in the file.

use std::collections::BTreeMap;
use std::path::Path;
use std::sync::Arc;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::finding::{Severity, Verdict};
use crate::pinmap::Cable;
use crate::text::{Digest, Digester};
use crate::verify::{Batch, Options, UnitReport};

/// One verdict, as it goes into the record.
#[derive(Clone, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub struct Entry {
    /// The unit's name; for an unnamed one, the name of its file without folder and ending.
    pub unit: String,
    /// The lot.
    pub lot: Option<String>,
    /// Who made or sold it.
    pub supplier: Option<String>,
    /// The type.
    pub kind: Option<String>,
    /// The cable that it was checked against.
    pub cable: String,
    /// The version of its map.
    pub map: Digest,
    /// Whether it is a drawing, and not a cable that was measured.
    pub is_drawing: bool,
    /// The verdict.
    pub verdict: Verdict,
    /// Whether it must not be connected.
    pub hazard: bool,
    /// The findings, a JSON array of [`Finding`].
    pub findings: String,
    /// The netlist's path as it was given.
    pub file: String,
    /// The digest of that file.
    pub file_digest: Digest,
    /// The digest of the unit's own lines.
    pub unit_digest: Digest,
    /// The header lines that held for it, a JSON array of texts.
    pub header: String,
}

impl Entry {
    /// The verdict on a measured unit against a cable; whatever else is said of it is empty.
    #[must_use]
    pub fn new(unit: impl Into<String>, cable: impl Into<String>, verdict: Verdict) -> Self {
        Self {
            unit: unit.into(),
            cable: cable.into(),
            verdict,
            lot: None,
            supplier: None,
            kind: None,
            map: Digest::default(),
            is_drawing: false,
            hazard: false,
            findings: "[]".to_owned(),
            file: String::new(),
            file_digest: Digest::default(),
            unit_digest: Digest::default(),
            header: "[]".to_owned(),
        }
    }

    /// The version of its map.
    #[must_use]
    pub fn with_map(self, map: Digest) -> Self {
        Self { map, ..self }
    }

    /// The netlist's path as it was given, and the digest of that file.
    #[must_use]
    pub fn with_file(self, file: impl Into<String>, digest: Digest) -> Self {
        Self { file: file.into(), file_digest: digest, ..self }
    }

    /// The digest of the unit's own lines.
    #[must_use]
    pub fn with_unit_digest(self, unit_digest: Digest) -> Self {
        Self { unit_digest, ..self }
    }

    /// The lot.
    #[must_use]
    pub fn with_lot(self, lot: impl Into<String>) -> Self {
        Self { lot: Some(lot.into()), ..self }
    }

    /// Who made or sold it.
    #[must_use]
    pub fn with_supplier(self, supplier: impl Into<String>) -> Self {
        Self { supplier: Some(supplier.into()), ..self }
    }

    /// The type.
    #[must_use]
    pub fn with_kind(self, kind: impl Into<String>) -> Self {
        Self { kind: Some(kind.into()), ..self }
    }

    /// Whether it is a drawing, and not a cable that was measured.
    #[must_use]
    pub fn with_drawing(self, is_drawing: bool) -> Self {
        Self { is_drawing, ..self }
    }

    /// Whether it must not be connected.
    #[must_use]
    pub fn with_hazard(self, hazard: bool) -> Self {
        Self { hazard, ..self }
    }

    /// The findings, a JSON array of [`Finding`].
    #[must_use]
    pub fn with_findings(self, findings: impl Into<String>) -> Self {
        Self { findings: findings.into(), ..self }
    }

    /// The header lines that held for it, a JSON array of texts.
    #[must_use]
    pub fn with_header(self, header: impl Into<String>) -> Self {
        Self { header: header.into(), ..self }
    }

    /// Where the netlist comes from: `measured` or `drawing`.
    #[must_use]
    pub fn origin(&self) -> &'static str {
        if self.is_drawing { "drawing" } else { "measured" }
    }
}

/// A finding as the record keeps it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[non_exhaustive]
pub struct Finding {
    /// The code; `backshell explain CODE` has its page.
    pub code: String,
    /// How much it weighs: `fail`, `caution` or `note`.
    pub severity: String,
    /// Whether it is dangerous.
    pub hazard: bool,
    /// Whether the verdict can't be given because of it.
    pub undecided: bool,
    /// What is wrong.
    pub message: String,
    /// Every point that the fault touches.
    pub points: Vec<String>,
}

impl Finding {
    /// A finding of this code, how much it weighs, and what is wrong.
    #[must_use]
    pub fn new(code: impl Into<String>, severity: impl Into<String>, message: impl Into<String>) -> Self {
        Self {
            code: code.into(),
            severity: severity.into(),
            message: message.into(),
            hazard: false,
            undecided: false,
            points: Vec::new(),
        }
    }

    /// Whether it is dangerous.
    #[must_use]
    pub fn with_hazard(self, hazard: bool) -> Self {
        Self { hazard, ..self }
    }

    /// Whether the verdict can't be given because of it.
    #[must_use]
    pub fn with_undecided(self, undecided: bool) -> Self {
        Self { undecided, ..self }
    }

    /// One more point that the fault touches.
    #[must_use]
    pub fn with_point(mut self, point: impl Into<String>) -> Self {
        self.points.push(point.into());
        self
    }

    /// Whether it keeps its unit from conforming.
    #[must_use]
    pub fn counts(&self) -> bool {
        self.severity == Severity::Fail.word() || self.undecided
    }
}

/// Whether a unit must not be connected.
#[must_use]
pub fn hazardous(report: &UnitReport) -> bool {
    report.findings.iter().any(|finding| finding.hazard)
}

/// The entries of a batch: one for each verdict, in their order.
///
/// `lot` and `supplier` hold for the units that say nothing of their own. The check must have been made with
/// [`Options::about`]; without it, the digests are those of nothing, and no header line is known.
#[must_use]
pub fn entries(file: &str, batch: &Batch, maps: &mut Maps, lot: Option<&str>, supplier: Option<&str>) -> Vec<Entry> {
    let file_digest = batch.digest.unwrap_or_else(|| Digest::of(b""));
    let entry = |report: &UnitReport| {
        let about = report.about.as_deref().cloned().unwrap_or_default();
        Entry {
            unit: report.unit.clone().unwrap_or_else(|| stem(file)),
            lot: about.lot.or_else(|| lot.map(str::to_owned)),
            supplier: about.supplier.or_else(|| supplier.map(str::to_owned)),
            kind: about.kind,
            cable: report.cable.name.clone(),
            map: maps.version(&report.cable),
            is_drawing: report.is_drawing,
            verdict: report.verdict,
            hazard: hazardous(report),
            findings: findings_text(report),
            file: file.to_owned(),
            file_digest,
            unit_digest: about.digest,
            header: json(&about.header),
        }
    };
    batch.reports.iter().map(entry).collect()
}

/// The name of a file without folder and ending; where it has none, as it stands.
fn stem(file: &str) -> String {
    Path::new(file).file_stem().and_then(|stem| stem.to_str()).unwrap_or(file).to_owned()
}

fn findings_text(report: &UnitReport) -> String {
    if report.findings.is_empty() {
        return "[]".to_owned();
    }
    let finding = |finding: &crate::finding::Finding| {
        let mut points = finding.points.clone();
        points.sort_unstable();
        Finding {
            code: finding.code.text().to_owned(),
            severity: finding.severity.word().to_owned(),
            hazard: finding.hazard,
            undecided: finding.undecided,
            message: finding.message.clone(),
            points,
        }
    };
    json(&report.findings.iter().map(finding).collect::<Vec<_>>())
}

/// Texts, lists and flags alone: writing them as JSON can't fail.
fn json(value: &impl Serialize) -> String {
    serde_json::to_string(value).unwrap_or_default()
}

/// What the command line said beside the netlist, as the column `options` holds it: a JSON object with the keys `cable`
/// (in place of what the netlists say), `maps` (folders), `table`, `columns`, `ends`, `decimal_comma`, `rule` (the digest of the
/// rule file) and `header` (of tables and print-outs, the digest of those lines); a key that says nothing is left out.
#[must_use]
pub fn options_text(options: &Options) -> String {
    let forms = &options.forms;
    let digest = |text: &str| Digest::of(text.as_bytes()).to_string().into();
    let mut said: BTreeMap<&str, serde_json::Value> = BTreeMap::new();
    said.extend(options.cable.clone().map(|cable| ("cable", cable.into())));
    if !options.maps.is_empty() {
        let folders: Vec<String> = options.maps.iter().map(|folder| folder.display().to_string()).collect();
        said.insert("maps", folders.into());
    }
    if !options.own_checks.is_empty() {
        said.insert("own_checks", options.own_checks.iter().map(|check| check.name).collect::<Vec<_>>().into());
    }
    if forms.all_tables {
        said.insert("table", true.into());
    }
    if !forms.table.columns.is_empty() {
        let columns = forms.table.columns.iter().map(|(field, heading)| format!("{}={heading}", field.name()));
        said.insert("columns", columns.collect::<Vec<_>>().into());
    }
    said.extend(forms.table.ends.as_ref().map(|(from, to)| ("ends", format!("{from},{to}").into())));
    if forms.table.decimal_comma {
        said.insert("decimal_comma", true.into());
    }
    said.extend(forms.rules.as_ref().map(|rules| ("rule", digest(rules.text()))));
    said.extend(forms.header.as_ref().map(|header| ("header", digest(header.source.text()))));
    json(&said)
}

/// The versions of maps, each worked out once.
#[derive(Debug, Default)]
pub struct Maps {
    /// Each with the cable itself, which keeps its place in memory from being used again.
    known: Vec<(Arc<Cable>, Digest)>,
}

/// How many versions are kept.
const KEPT: usize = 64;

impl Maps {
    /// The version of a cable's map: the digest of the cable file and of those of its connectors.
    pub fn version(&mut self, cable: &Arc<Cable>) -> Digest {
        if let Some((_, version)) = self.known.iter().find(|(known, _)| Arc::ptr_eq(known, cable)) {
            return *version;
        }
        let version = version(cable);
        if self.known.len() >= KEPT {
            self.known.remove(0);
        }
        self.known.push((Arc::clone(cable), version));
        version
    }
}

fn version(cable: &Cable) -> Digest {
    let mut texts: Vec<&str> = vec![cable.file.text()];
    for end in &cable.ends {
        let text = end.connector.file.text();
        if !texts.contains(&text) {
            texts.push(text);
        }
    }
    let mut digester = Digester::default();
    for text in texts {
        digester.take(&(text.len() as u64).to_be_bytes());
        digester.take(text.as_bytes());
    }
    digester.finish()
}
