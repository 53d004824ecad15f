//! What the record has of a unit: read, and never written.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use percent_encoding::percent_decode_str;
use serde::Serialize;
use tokio::sync::Mutex;

use super::board::short;

/// So many tests of a unit are shown, the last ones.
pub const ROWS_SHOWN: usize = 50;

/// So many findings of each.
#[cfg(feature = "record")]
const FINDINGS: usize = 4;

/// A name of a unit that is asked for has at most so many bytes.
const NAME: usize = 1000;

/// The name in a request; none where it is no text, too long or nothing.
pub(super) fn name(written: &str) -> Option<String> {
    let name = percent_decode_str(written).decode_utf8().ok()?;
    (1..=NAME).contains(&name.len()).then(|| name.into_owned())
}

/// Where earlier tests are looked up.
pub(super) struct History {
    /// The record; one question at a time, so that no number of browsers holds it.
    record: Arc<Mutex<Option<PathBuf>>>,
}

/// What is answered.
#[derive(Debug, Default, Serialize)]
struct Answer {
    unit: String,
    /// How many tests the record has; those below are the last ones, the newest first.
    total: u64,
    tests: Vec<Row>,
    /// Why there is no answer.
    problem: Option<String>,
}

#[derive(Debug, Serialize)]
struct Row {
    number: i64,
    time: String,
    attempt: i64,
    lot: Option<String>,
    supplier: Option<String>,
    cable: String,
    file: String,
    drawing: bool,
    call: &'static str,
    kind: &'static str,
    findings: Vec<String>,
}

impl History {
    pub fn of(record: Option<&Path>) -> Self {
        History { record: Arc::new(Mutex::new(record.map(Path::to_path_buf))) }
    }

    /// The tests of a unit, as JSON.
    pub async fn answer(&self, unit: String) -> String {
        let record = Arc::clone(&self.record).lock_owned().await;
        // a record on a slow drive must not keep the page from the other browsers
        let asked = tokio::task::spawn_blocking(move || record.as_deref().map(|path| look_up(path, &unit)));
        let answer = asked.await.ok().flatten().unwrap_or_else(|| Answer {
            problem: Some("No record is kept: start `backshell watch` with `--record FILE`.".to_owned()),
            ..Answer::default()
        });
        // plain data: this can't fail
        serde_json::to_string(&answer).unwrap_or_default()
    }
}

#[cfg(not(feature = "record"))]
fn look_up(_: &Path, unit: &str) -> Answer {
    Answer { unit: short(unit), ..Answer::default() }
}

#[cfg(feature = "record")]
fn look_up(path: &Path, unit: &str) -> Answer {
    use crate::lot::record::Record;
    match Record::open_read_only(path).and_then(|record| record.last_tests(unit, ROWS_SHOWN)) {
        Ok((total, rows)) => Answer { unit: short(unit), total, tests: rows.into_iter().map(row).collect(), problem: None },
        Err(problem) => Answer { unit: short(unit), problem: Some(short(&problem.message)), ..Answer::default() },
    }
}

#[cfg(feature = "record")]
fn row(row: crate::lot::record::Row) -> Row {
    use crate::lot::bench::Outcome;
    let outcome = match Outcome::parse(&row.verdict) {
        _ if row.hazard => Outcome::DoNotConnect,
        Some(outcome) => outcome,
        // a word that isn't known was tampered with
        None => Outcome::CantTell,
    };
    let findings = row.findings.iter().filter(|finding| finding.counts()).take(FINDINGS);
    Row {
        number: row.number,
        time: short(&row.time),
        attempt: row.attempt,
        lot: row.lot.as_deref().map(short),
        supplier: row.supplier.as_deref().map(short),
        cable: short(&row.cable),
        file: short(&row.file),
        drawing: row.origin == "drawing",
        call: outcome.call(),
        kind: super::board::kind(outcome),
        findings: findings.map(|finding| short(&format!("{}: {}", finding.code, finding.message))).collect(),
    }
}
