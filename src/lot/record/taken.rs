//! Which files a bench took, kept in the record beside their verdicts.

use std::path::Path;
use std::time::SystemTime;

use rusqlite::{OptionalExtension, Transaction, params};

use super::super::bench::{Kept, LotKey, Memory, Outcome, Taken, Test, Tests, path_text};
use crate::finding::{Problem, Verdict};
use crate::text::Digest;

use super::write::rows;
use super::{Entry, Record, time_text};

/// A record as the memory of a bench that watches one folder.
#[derive(Debug)]
pub struct BenchRecord {
    record: Record,
    /// The folder's full path.
    folder: String,
    options: String,
}

impl BenchRecord {
    /// What was taken from a folder is kept under its full path; `options` is what
    /// [`options_text`](super::options_text) gives.
    ///
    /// # Errors
    /// A folder that isn't there.
    pub fn new(record: Record, folder: &Path, options: String) -> Result<Self, Problem> {
        let folder = folder
            .canonicalize()
            .map_err(|error| Problem::new(format!("{}: can't be opened: {error}", path_text(folder.as_os_str()))))?;
        Ok(BenchRecord { record, folder: path_text(folder.as_os_str()), options })
    }
}

const TAKEN: &str = "SELECT name, digest, modified, units, outcome FROM taken";

fn read(row: &rusqlite::Row<'_>) -> rusqlite::Result<Taken> {
    let digest: String = row.get(1)?;
    let outcome: String = row.get(4)?;
    Ok(Taken {
        name: row.get(0)?,
        digest: Digest::parse(&digest).unwrap_or_default(),
        modified: row.get(2)?,
        units: usize::try_from(row.get::<_, i64>(3)?).unwrap_or(0),
        // a word that isn't known was tampered with: such a file is looked at again
        outcome: Outcome::parse(&outcome).unwrap_or(Outcome::Unread),
    })
}

fn last_of(transaction: &Transaction<'_>, folder: &str, name: &str) -> rusqlite::Result<Option<Taken>> {
    let query = format!("{TAKEN} WHERE folder = ?1 AND name = ?2 ORDER BY number DESC LIMIT 1");
    transaction.prepare_cached(&query)?.query_row([folder, name], read).optional()
}

impl Memory for BenchRecord {
    fn all(&mut self) -> Result<Vec<Taken>, Problem> {
        let query = format!("{TAKEN} WHERE folder = ?1 ORDER BY number");
        let all = || -> rusqlite::Result<Vec<Taken>> {
            self.record.connection.prepare(&query)?.query_map([&self.folder], read)?.collect()
        };
        self.record.checked(all())
    }

    fn standing(&mut self, of: &LotKey) -> Result<Tests, Problem> {
        let query = "SELECT unit, verdict, hazard, cable, type, header FROM verdict \
                     WHERE lot IS ?1 AND supplier IS ?2 AND origin = 'measured' ORDER BY number";
        let all = || -> rusqlite::Result<Tests> {
            let mut statement = self.record.connection.prepare_cached(query)?;
            let mut rows = statement.query(params![of.lot, of.supplier])?;
            let mut tests = Tests::new();
            while let Some(row) = rows.next()? {
                // a word that isn't known was tampered with, and is no pass
                let verdict = verdict_of(&row.get::<_, String>(1)?).unwrap_or(Verdict::Inconclusive);
                let (cable, kind, header): (String, Option<String>, String) = (row.get(3)?, row.get(4)?, row.get(5)?);
                let test = Test::said(verdict, row.get::<_, i64>(2)? != 0, &cable, kind.as_deref(), &header);
                tests.entry(row.get(0)?).or_default().push(test);
            }
            Ok(tests)
        };
        self.record.checked(all())
    }

    fn keep(&mut self, taken: &Taken, entries: &[Entry], time: SystemTime) -> Result<Kept, Problem> {
        let (folder, options, time) = (&self.folder, &self.options, time_text(time));
        let digest = taken.digest.to_string();
        self.record.in_one(|transaction| {
            // another bench may have been first
            if last_of(transaction, folder, &taken.name)?.is_some_and(|last| last.covers(taken)) {
                return Ok(Kept::Before);
            }
            let recorded = rows(transaction, entries, options, &time)?;
            let units = i64::try_from(taken.units).unwrap_or(i64::MAX);
            transaction
                .prepare_cached(
                    "INSERT INTO taken (time, folder, name, digest, modified, units, outcome) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7)",
                )?
                .execute(params![time, folder, taken.name, digest, taken.modified, units, taken.outcome.word()])?;
            Ok(match recorded {
                Some(recorded) => Kept::Now {
                    rows: Some((recorded.first, recorded.head)),
                    attempts: recorded.attempts,
                    before: recorded.before,
                },
                None => Kept::Now { rows: None, attempts: Vec::new(), before: Vec::new() },
            })
        })
    }
}

fn verdict_of(word: &str) -> Option<Verdict> {
    [Verdict::Conforms, Verdict::Fails, Verdict::Inconclusive].into_iter().find(|verdict| verdict.word() == word)
}
