//! A comparison for programs: one object, written as the pairs come.

use std::io::{self, Write};

use schemars::JsonSchema;
use serde::Serialize;

use crate::verify::{Comparison, Difference, Standing, UnitPair};

use super::super::json::schema_of;
use super::super::model::{ErrorReport, LabelReport, error, label};
use super::CompareWriter;

/// The name of this form of the report.
const SCHEMA: &str = "backshell.compare/1";

/// A whole comparison.
#[derive(Debug, Serialize, JsonSchema)]
#[allow(dead_code)]
struct CompareReport {
    /// Which form this is: `backshell.compare/1`.
    schema: String,
    /// The units that were compared, in the order of the first file.
    pairs: Vec<PairEntry<'static>>,
    /// The two files.
    files: [String; 2],
    /// Units that only one of the files has.
    unpaired: Vec<UnpairedEntry>,
    /// What could not be used.
    errors: Vec<ErrorReport>,
    /// The count.
    summary: CompareSummary,
}

/// Two units.
#[derive(Debug, Serialize, JsonSchema)]
struct PairEntry<'p> {
    #[serde(flatten)]
    pair: &'p UnitPair,
    /// What differs, what weighs most first.
    differences: Vec<DifferenceEntry<'p>>,
}

/// One difference.
#[derive(Debug, Serialize, JsonSchema)]
struct DifferenceEntry<'p> {
    #[serde(flatten)]
    difference: &'p Difference,
    /// The lines that show it, those of the first file first.
    labels: Vec<LabelReport>,
}

/// A unit that only one of the files has.
#[derive(Debug, Serialize, JsonSchema)]
struct UnpairedEntry {
    /// Its name; null where it has none.
    unit: Option<String>,
    /// Its `unit` line.
    label: LabelReport,
}

/// How many pairs of units came out how.
#[derive(Debug, Serialize, JsonSchema)]
struct CompareSummary {
    /// Pairs that were compared.
    pairs: usize,
    /// Those that are the same.
    same: usize,
    /// Those that differ.
    differ: usize,
    /// Those that can't be decided.
    inconclusive: usize,
    /// Units that only one of the files has.
    unpaired: usize,
    /// Pairs that could not be compared, since their input can't be used.
    unjudged: usize,
}

/// The JSON Schema of a comparison, as text.
#[must_use]
pub fn compare_schema() -> String {
    schema_of::<CompareReport>()
}

/// Writes a comparison as JSON. Pairs go out as they come.
pub struct CompareJson<W: Write> {
    out: W,
    any: bool,
}

impl<W: Write> CompareJson<W> {
    /// A report that goes to `out`.
    ///
    /// # Errors
    /// Where the output can't be written.
    pub fn new(mut out: W) -> io::Result<Self> {
        write!(out, "{{\n  \"schema\": \"{SCHEMA}\",\n  \"pairs\": [")?;
        Ok(CompareJson { out, any: false })
    }

    fn field(&mut self, name: &str, value: &impl Serialize) -> io::Result<()> {
        write!(self.out, ",\n  \"{name}\": ")?;
        serde_json::to_writer(&mut self.out, value).map_err(io::Error::from)
    }
}

impl<W: Write> CompareWriter for CompareJson<W> {
    fn pair(&mut self, pair: &UnitPair) -> io::Result<()> {
        self.out.write_all(if self.any { b",\n    " } else { b"\n    " })?;
        self.any = true;
        let entry = |difference| DifferenceEntry { difference, labels: difference.labels.iter().map(label).collect() };
        let entry = PairEntry { pair, differences: pair.differences.iter().map(entry).collect() };
        serde_json::to_writer(&mut self.out, &entry).map_err(io::Error::from)
    }

    fn finish(&mut self, comparison: &Comparison) -> io::Result<()> {
        self.out.write_all(if self.any { b"\n  ]" } else { b"]" })?;
        self.field("files", &comparison.files)?;
        let unpaired = comparison.unpaired.iter().map(|(_, unit, at)| UnpairedEntry { unit: unit.clone(), label: label(at) });
        self.field("unpaired", &unpaired.collect::<Vec<_>>())?;
        self.field("errors", &comparison.problems.iter().map(error).collect::<Vec<_>>())?;
        let summary = CompareSummary {
            pairs: comparison.counts.iter().sum(),
            same: comparison.count(Standing::Same),
            differ: comparison.count(Standing::Differs),
            inconclusive: comparison.count(Standing::Inconclusive),
            unpaired: comparison.unpaired.len(),
            unjudged: comparison.unjudged,
        };
        self.field("summary", &summary)?;
        self.out.write_all(b"\n}\n")?;
        self.out.flush()
    }
}
