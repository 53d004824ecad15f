//! What a supplier delivers, lot after lot.

use schemars::JsonSchema;
use serde::Serialize;

use super::super::clopper_pearson;
use crate::finding::{Problem, Verdict};

use super::lots::{CodeCount, UnitState, code_counts, units};
use super::{Record, Row};

/// How sure the bounds of a share are.
const CONFIDENCE: f64 = 0.95;

/// The lots of one supplier.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[non_exhaustive]
pub struct Trend {
    /// The supplier.
    pub supplier: String,
    /// Its lots, in the order in which the record first has them.
    pub lots: Vec<LotTrend>,
}

/// One lot as it was delivered, and as it stands.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[non_exhaustive]
pub struct LotTrend {
    /// The lot; none for units without one.
    pub lot: Option<String>,
    /// When its first unit was recorded: UTC, RFC 3339.
    pub first: String,
    /// When its last row was recorded.
    pub last: String,
    /// How many units were measured.
    pub units: usize,
    /// How many of them were ever decided.
    pub decided: usize,
    /// How many failed in the first of their tests that was decided: as they were delivered, whatever was repaired since.
    pub failed: usize,
    /// From where to where the share failing of what the supplier makes so may lie: the exact two-sided bounds of 95 %
    /// (C. J. Clopper and E. S. Pearson, Biometrika 26, 1934) on `failed` of `decided`, from 0 to 1. None where nothing was decided.
    pub bounds: Option<[f64; 2]>,
    /// How many fail by their last test.
    pub failing_now: usize,
    /// The codes of the last tests, the most frequent first.
    pub codes: Vec<CodeCount>,
}

impl Record {
    /// The lots of a supplier; none where the record has nothing of it.
    ///
    /// # Errors
    /// A record that can't be read.
    pub fn trend(&self, supplier: &str) -> Result<Trend, Problem> {
        let mut lots: Vec<(Option<String>, Vec<Row>)> = Vec::new();
        let mut place = std::collections::BTreeMap::new();
        let rows = self.rows_where("supplier = ?1", supplier)?;
        for row in rows.into_iter().filter(|row| row.origin != "drawing") {
            let at = *place.entry(row.lot.clone()).or_insert_with(|| {
                lots.push((row.lot.clone(), Vec::new()));
                lots.len() - 1
            });
            lots[at].1.push(row);
        }
        Ok(Trend { supplier: supplier.to_owned(), lots: lots.into_iter().map(|(lot, rows)| one_lot(lot, rows)).collect() })
    }
}

fn one_lot(lot: Option<String>, rows: Vec<Row>) -> LotTrend {
    let time = |row: Option<&Row>| row.map_or_else(String::new, |row| row.time.clone());
    let (first, last) = (time(rows.first()), time(rows.last()));
    let units = units(rows.into_iter());
    let first_decided: Vec<&str> = units.iter().filter_map(first_decided).collect();
    let failed = first_decided.iter().filter(|verdict| **verdict == Verdict::Fails.word()).count();
    LotTrend {
        lot,
        first,
        last,
        units: units.len(),
        decided: first_decided.len(),
        failed,
        bounds: (!first_decided.is_empty()).then(|| {
            let (low, high) = clopper_pearson(failed as u64, first_decided.len() as u64, CONFIDENCE);
            [low, high]
        }),
        failing_now: units.iter().filter(|unit| unit.last() == Verdict::Fails.word()).count(),
        codes: code_counts(&units),
    }
}

fn first_decided(unit: &UnitState) -> Option<&str> {
    unit.verdicts.iter().map(String::as_str).find(|verdict| *verdict != Verdict::Inconclusive.word())
}
