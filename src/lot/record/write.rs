//! Writing: a batch is one transaction, and each row follows from the one before.

use std::time::SystemTime;

use rusqlite::types::{ToSqlOutput, Value, ValueRef};
use rusqlite::{OptionalExtension, Statement, Transaction, TransactionBehavior, params};

use crate::finding::Problem;
use crate::text::Digest;

use super::chain::{COLUMNS, digest};
use super::schema::problem;
use super::{Before, Entry, Head, Record, Recorded, time_text};

impl Record {
    /// Adds a batch; `options` is what [`options_text`](super::options_text) gives. Once this returns, the rows are kept.
    ///
    /// An empty batch adds nothing, and gives none.
    ///
    /// # Errors
    /// A disk that is full or refuses, or another program that holds the record for a minute; then nothing of the batch is in
    /// the record, and everything that was recorded before is.
    pub fn append(&mut self, entries: &[Entry], options: &str, time: SystemTime) -> Result<Option<Recorded>, Problem> {
        if entries.is_empty() {
            return Ok(None);
        }
        self.in_one(|transaction| rows(transaction, entries, options, &time_text(time)))
    }

    /// Does something in one transaction, which starts when no other process writes.
    pub(super) fn in_one<T>(&mut self, act: impl FnOnce(&Transaction<'_>) -> rusqlite::Result<T>) -> Result<T, Problem> {
        let name = &self.name;
        let in_words = |error| problem(name, &error);
        let transaction = self.connection.transaction_with_behavior(TransactionBehavior::Immediate).map_err(in_words)?;
        let done = act(&transaction).map_err(in_words)?;
        transaction.commit().map_err(in_words)?;
        Ok(done)
    }
}

/// The last row and its digest; zero and zeros where there is none.
pub(super) fn head(transaction: &Transaction<'_>) -> rusqlite::Result<Head> {
    let last = transaction
        .prepare_cached("SELECT number, digest FROM verdict ORDER BY number DESC LIMIT 1")?
        .query_row([], |row| Ok((row.get(0)?, row.get::<_, String>(1)?)))
        .optional()?;
    Ok(match last {
        // one that can't be read was tampered with; the chain goes on from zeros, and its break shows
        Some((number, text)) => Head { number, digest: Digest::parse(&text).unwrap_or_default() },
        None => Head::default(),
    })
}

/// Writes the rows of a batch.
pub(super) fn rows(
    transaction: &Transaction<'_>,
    entries: &[Entry],
    options: &str,
    time: &str,
) -> rusqlite::Result<Option<Recorded>> {
    if entries.is_empty() {
        return Ok(None);
    }
    let mut head = head(transaction)?;
    let first = head.number + 1;
    let places = (1..=COLUMNS.len() + 1).map(|at| format!("?{at}")).collect::<Vec<_>>().join(", ");
    let insert = format!("INSERT INTO verdict ({}, digest) VALUES ({places})", COLUMNS.join(", "));
    let mut insert = transaction.prepare_cached(&insert)?;
    let mut earlier = transaction.prepare_cached(
        "SELECT attempt, time, verdict FROM verdict WHERE unit = ?1 AND lot IS ?2 AND supplier IS ?3 AND origin = ?4 \
         ORDER BY number DESC LIMIT 1",
    )?;
    let mut before = Vec::new();
    let mut attempts = Vec::with_capacity(entries.len());
    for (at, entry) in entries.iter().enumerate() {
        let last = last_attempt(&mut earlier, entry)?;
        let attempt = last.as_ref().map_or(1, |last| last.attempt.saturating_add(1));
        attempts.push(attempt);
        before.extend(last.map(|last| (at, last)));
        head = row(&mut insert, &head, entry, attempt, options, time)?;
    }
    Ok(Some(Recorded { first, head, attempts, before }))
}

fn last_attempt(earlier: &mut Statement<'_>, entry: &Entry) -> rusqlite::Result<Option<Before>> {
    let before = |row: &rusqlite::Row<'_>| Ok(Before { attempt: row.get(0)?, time: row.get(1)?, verdict: row.get(2)? });
    earlier.query_row(params![entry.unit, entry.lot, entry.supplier, entry.origin()], before).optional()
}

fn text(text: &str) -> ValueRef<'_> {
    ValueRef::Text(text.as_bytes())
}

fn perhaps(said: Option<&String>) -> ValueRef<'_> {
    said.map_or(ValueRef::Null, |said| text(said))
}

/// Writes one row; gives the head with it.
fn row(
    insert: &mut Statement<'_>,
    before: &Head,
    entry: &Entry,
    attempt: i64,
    options: &str,
    time: &str,
) -> rusqlite::Result<Head> {
    let number = before.number + 1;
    let [map, file_digest, unit_digest] = [&entry.map, &entry.file_digest, &entry.unit_digest].map(Digest::to_string);
    let columns: [ValueRef<'_>; COLUMNS.len()] = [
        ValueRef::Integer(number),
        text(time),
        text(&entry.unit),
        ValueRef::Integer(attempt),
        perhaps(entry.lot.as_ref()),
        perhaps(entry.supplier.as_ref()),
        perhaps(entry.kind.as_ref()),
        text(&entry.cable),
        text(&map),
        text(entry.origin()),
        text(entry.verdict.word()),
        ValueRef::Integer(i64::from(entry.hazard)),
        text(&entry.findings),
        text(&entry.file),
        text(&file_digest),
        text(&unit_digest),
        text(&entry.header),
        text(options),
        text(env!("CARGO_PKG_VERSION")),
    ];
    let digest = digest(&before.digest, columns);
    let last = ToSqlOutput::Owned(Value::Text(digest.to_string()));
    insert.execute(rusqlite::params_from_iter(columns.map(ToSqlOutput::Borrowed).into_iter().chain([last])))?;
    Ok(Head { number, digest })
}
