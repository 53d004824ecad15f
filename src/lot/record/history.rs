//! Everything that the record has of units of one name.

use rusqlite::types::Type;
use schemars::JsonSchema;
use serde::Serialize;

use crate::finding::Problem;

use super::chain::COLUMNS;
use super::{Finding, Record};

/// A row of the record.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, JsonSchema)]
#[non_exhaustive]
pub struct Row {
    /// Its number, from 1.
    pub number: i64,
    /// When it was recorded: UTC, RFC 3339.
    pub time: String,
    /// The unit.
    pub unit: String,
    /// Which attempt of this unit, from 1.
    pub attempt: i64,
    /// The lot.
    pub lot: Option<String>,
    /// Who made or sold it.
    pub supplier: Option<String>,
    /// The type.
    #[serde(rename = "type")]
    pub kind: Option<String>,
    /// The cable that it was checked against.
    pub cable: String,
    /// The version of its map.
    pub map: String,
    /// `measured` or `drawing`.
    pub origin: String,
    /// `conforms`, `fails` or `inconclusive`.
    pub verdict: String,
    /// Whether it must not be connected.
    pub hazard: bool,
    /// What was found.
    pub findings: Vec<Finding>,
    /// The netlist's path as it was given.
    pub file: String,
    /// The digest of that file.
    pub file_digest: String,
    /// The digest of the unit's own lines.
    pub unit_digest: String,
    /// The header lines that held for it.
    pub header: Vec<String>,
    /// What the command line said beside them.
    #[schemars(with = "std::collections::BTreeMap<String, serde_json::Value>")]
    pub options: serde_json::Value,
    /// The version of the program.
    pub program: String,
    /// The digest of this row and all before it.
    pub digest: String,
}

/// What the record has of the units of one name.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, JsonSchema)]
#[non_exhaustive]
pub struct History {
    /// The name.
    pub unit: String,
    /// Its rows, the first test first. Units of different lots or suppliers may share a name.
    pub rows: Vec<Row>,
}

impl Record {
    /// What the record has of the units of one name; no rows where there are none.
    ///
    /// # Errors
    /// A record that can't be read.
    pub fn history(&self, unit: &str) -> Result<History, Problem> {
        let rows = self.rows_where("unit = ?1", unit)?;
        Ok(History { unit: unit.to_owned(), rows })
    }

    /// How many tests the record has of the units of one name, and the last `most` of them, the newest first.
    ///
    /// # Errors
    /// A record that can't be read.
    pub fn last_tests(&self, unit: &str, most: usize) -> Result<(u64, Vec<Row>), Problem> {
        let columns = COLUMNS.join(", ");
        let query = format!("SELECT {columns}, digest FROM verdict WHERE unit = ?1 ORDER BY number DESC LIMIT ?2");
        let most = i64::try_from(most).unwrap_or(i64::MAX);
        let answer = || -> rusqlite::Result<(u64, Vec<Row>)> {
            let count = "SELECT count(*) FROM verdict WHERE unit = ?1";
            let total: i64 = self.connection.query_row(count, [unit], |row| row.get(0))?;
            let mut statement = self.connection.prepare(&query)?;
            let rows = statement.query_map(rusqlite::params![unit, most], read)?.collect::<rusqlite::Result<_>>()?;
            Ok((u64::try_from(total).unwrap_or(0), rows))
        };
        self.checked(answer())
    }

    /// The rows for which a condition on one text holds, in their order.
    pub(super) fn rows_where(&self, condition: &str, text: &str) -> Result<Vec<Row>, Problem> {
        let columns = COLUMNS.join(", ");
        let query = format!("SELECT {columns}, digest FROM verdict WHERE {condition} ORDER BY number");
        let rows = || -> rusqlite::Result<Vec<Row>> { self.connection.prepare(&query)?.query_map([text], read)?.collect() };
        self.checked(rows())
    }
}

/// JSON in a column.
fn json<T: serde::de::DeserializeOwned>(row: &rusqlite::Row<'_>, column: &str) -> rusqlite::Result<T> {
    let text: String = row.get(column)?;
    let unreadable = |error| rusqlite::Error::FromSqlConversionFailure(0, Type::Text, Box::new(error));
    serde_json::from_str(&text).map_err(unreadable)
}

fn read(row: &rusqlite::Row<'_>) -> rusqlite::Result<Row> {
    Ok(Row {
        number: row.get("number")?,
        time: row.get("time")?,
        unit: row.get("unit")?,
        attempt: row.get("attempt")?,
        lot: row.get("lot")?,
        supplier: row.get("supplier")?,
        kind: row.get("type")?,
        cable: row.get("cable")?,
        map: row.get("map")?,
        origin: row.get("origin")?,
        verdict: row.get("verdict")?,
        hazard: row.get::<_, i64>("hazard")? != 0,
        findings: json(row, "findings")?,
        file: row.get("file")?,
        file_digest: row.get("file_digest")?,
        unit_digest: row.get("unit_digest")?,
        header: json(row, "header")?,
        options: json(row, "options")?,
        program: row.get("program")?,
        digest: row.get("digest")?,
    })
}
