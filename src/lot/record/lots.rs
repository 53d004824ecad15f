//! How a lot stands: the last verdict of every unit.

use std::collections::btree_map::Entry as Place;
use std::collections::{BTreeMap, BTreeSet};

use schemars::JsonSchema;
use serde::Serialize;

use crate::finding::{Problem, Verdict};

use super::{Record, Row};

/// How the units of one lot stand.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, JsonSchema)]
#[non_exhaustive]
pub struct LotState {
    /// The lot.
    pub lot: String,
    /// The units that were measured, in the order in which they were first tested.
    pub units: Vec<UnitState>,
    /// How many conform by their last test.
    pub conforms: usize,
    /// How many fail by their last test.
    pub fails: usize,
    /// How many can't be decided by their last test.
    pub inconclusive: usize,
    /// The codes that keep units from conforming by their last test, the most frequent first.
    pub codes: Vec<CodeCount>,
    /// How many rows of the lot are of drawings, which are no units of it.
    pub drawings: usize,
}

/// How one unit stands.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, JsonSchema)]
#[non_exhaustive]
pub struct UnitState {
    /// Its name.
    pub unit: String,
    /// Who made or sold it.
    pub supplier: Option<String>,
    /// How often it was tested.
    pub attempts: usize,
    /// Every verdict, the first test first.
    pub verdicts: Vec<String>,
    /// Whether it must not be connected, by the last test.
    pub hazard: bool,
    /// The codes that keep it from conforming, by the last test.
    pub codes: Vec<String>,
    /// When it was last tested.
    pub time: String,
}

impl UnitState {
    /// The verdict of the last test.
    #[must_use]
    pub fn last(&self) -> &str {
        self.verdicts.last().map_or("", String::as_str)
    }
}

/// How many units have a code.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, JsonSchema)]
#[non_exhaustive]
pub struct CodeCount {
    /// The code.
    pub code: String,
    /// How many units.
    pub units: usize,
}

impl Record {
    /// How a lot stands; no units where the record has none of it.
    ///
    /// # Errors
    /// A record that can't be read.
    pub fn lot(&self, lot: &str) -> Result<LotState, Problem> {
        let rows = self.rows_where("lot = ?1", lot)?;
        let drawings = rows.iter().filter(|row| row.origin == "drawing").count();
        let units = units(rows.into_iter().filter(|row| row.origin != "drawing"));
        let count = |verdict: Verdict| units.iter().filter(|unit| unit.last() == verdict.word()).count();
        Ok(LotState {
            lot: lot.to_owned(),
            conforms: count(Verdict::Conforms),
            fails: count(Verdict::Fails),
            inconclusive: count(Verdict::Inconclusive),
            codes: code_counts(&units),
            units,
            drawings,
        })
    }
}

/// The units of some rows, in the order in which they were first tested; those of one name and supplier are one.
pub(super) fn units(rows: impl Iterator<Item = Row>) -> Vec<UnitState> {
    let mut units: Vec<UnitState> = Vec::new();
    let mut known: BTreeMap<(Option<String>, String), usize> = BTreeMap::new();
    for row in rows {
        let codes = failing_codes(&row);
        match known.entry((row.supplier.clone(), row.unit.clone())) {
            Place::Occupied(at) => {
                if let Some(unit) = units.get_mut(*at.get()) {
                    unit.attempts += 1;
                    unit.verdicts.push(row.verdict);
                    (unit.hazard, unit.codes, unit.time) = (row.hazard, codes, row.time);
                }
            }
            Place::Vacant(at) => {
                at.insert(units.len());
                let Row { unit, supplier, verdict, hazard, time, .. } = row;
                units.push(UnitState { unit, supplier, attempts: 1, verdicts: vec![verdict], hazard, codes, time });
            }
        }
    }
    units
}

fn failing_codes(row: &Row) -> Vec<String> {
    let codes: BTreeSet<&String> = row.findings.iter().filter(|finding| finding.counts()).map(|finding| &finding.code).collect();
    codes.into_iter().cloned().collect()
}

/// How many units have each code, the most frequent first.
pub(super) fn code_counts(units: &[UnitState]) -> Vec<CodeCount> {
    let mut counts: BTreeMap<&str, usize> = BTreeMap::new();
    for code in units.iter().flat_map(|unit| &unit.codes) {
        *counts.entry(code).or_default() += 1;
    }
    let mut counts: Vec<CodeCount> = counts.into_iter().map(|(code, units)| CodeCount { code: code.to_owned(), units }).collect();
    counts.sort_by_key(|count| std::cmp::Reverse(count.units));
    counts
}
