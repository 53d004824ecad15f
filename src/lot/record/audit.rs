//! Walking the chain: what was changed, removed, moved or put in.

use std::collections::HashSet;

use rusqlite::Transaction;
use rusqlite::types::ValueRef;
use schemars::JsonSchema;
use serde::Serialize;

use crate::finding::Problem;
use crate::text::{Digest, visible};

use super::chain::{COLUMNS, digest};
use super::schema::TABLES;
use super::{Head, Record};

/// So many flaws are described; the rest is counted.
const DESCRIBED: usize = 100;

/// What a record shows of itself.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, JsonSchema)]
#[non_exhaustive]
pub struct Audit {
    /// How many rows there are.
    pub rows: u64,
    /// The last row.
    pub head: Head,
    /// How many flaws there are.
    pub flaws: u64,
    /// The first hundred of them, in the order of the rows.
    pub described: Vec<Flaw>,
    /// What is worth knowing and no flaw, such as a clock that ran backwards.
    pub remarks: Vec<String>,
    /// Whether the head that was asked for is still there; none where none was asked for.
    pub noted_head_found: Option<bool>,
}

/// Something that a record that nobody tampered with doesn't have.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, JsonSchema)]
#[non_exhaustive]
pub struct Flaw {
    /// The row that shows it; none where it concerns the file.
    pub row: Option<i64>,
    /// What is wrong, in words.
    pub what: String,
}

impl Record {
    /// Works out every digest again; `noted` is a head that somebody noted elsewhere.
    ///
    /// # Errors
    /// A file that can't be read, or is damaged so that its rows can't be walked.
    pub fn audit(&mut self, noted: Option<Digest>) -> Result<Audit, Problem> {
        let name = &self.name;
        let in_words = |error| super::schema::problem(name, &error);
        let transaction = self.connection.transaction().map_err(in_words)?;
        let mut walk = Walk::new(noted);
        walk.tables(&transaction).map_err(in_words)?;
        walk.pages(&transaction).map_err(in_words)?;
        walk.rows(&transaction).map_err(in_words)?;
        Ok(walk.audit)
    }
}

struct Walk {
    audit: Audit,
    noted: Option<Digest>,
    last_time: Vec<u8>,
    backwards: u64,
}

impl Walk {
    fn new(noted: Option<Digest>) -> Self {
        let audit = Audit {
            rows: 0,
            head: Head::default(),
            flaws: 0,
            described: Vec::new(),
            remarks: Vec::new(),
            noted_head_found: noted.map(|_| false),
        };
        Walk { audit, noted, last_time: Vec::new(), backwards: 0 }
    }

    fn flaw(&mut self, row: Option<i64>, what: impl Into<String>) {
        self.audit.flaws += 1;
        if self.audit.described.len() < DESCRIBED {
            self.audit.described.push(Flaw { row, what: what.into() });
        }
    }

    /// The tables and triggers must be those of a record: without its triggers, rows can be changed unseen by others.
    fn tables(&mut self, transaction: &Transaction<'_>) -> rusqlite::Result<()> {
        let mut all = transaction.prepare("SELECT sql FROM sqlite_schema WHERE sql IS NOT NULL ORDER BY rowid")?;
        let there = all.query_map([], |row| row.get::<_, String>(0))?.collect::<rusqlite::Result<Vec<String>>>()?;
        let known: HashSet<&str> = TABLES.into_iter().collect();
        let found: HashSet<&str> = there.iter().map(String::as_str).collect();
        for missing in TABLES.iter().filter(|table| !found.contains(**table)) {
            self.flaw(None, format!("removed or changed: {}", first_line(missing)));
        }
        for foreign in there.iter().filter(|table| !known.contains(table.as_str())) {
            self.flaw(None, format!("not of a record: {}", visible(first_line(foreign))));
        }
        Ok(())
    }

    /// What SQLite itself finds: damaged pages, and indexes that hide a row.
    fn pages(&mut self, transaction: &Transaction<'_>) -> rusqlite::Result<()> {
        let mut check = transaction.prepare("PRAGMA integrity_check(20)")?;
        let said = check.query_map([], |row| row.get::<_, String>(0))?.collect::<rusqlite::Result<Vec<String>>>()?;
        for line in said.iter().filter(|line| line.as_str() != "ok") {
            self.flaw(None, format!("damaged: {}", visible(line)));
        }
        Ok(())
    }

    fn rows(&mut self, transaction: &Transaction<'_>) -> rusqlite::Result<()> {
        let columns = COLUMNS.join(", ");
        // by the table itself, not by an index
        let mut all = transaction.prepare(&format!("SELECT {columns}, digest FROM verdict NOT INDEXED ORDER BY number"))?;
        let mut rows = all.query([])?;
        while let Some(row) = rows.next()? {
            let mut columns = [ValueRef::Null; COLUMNS.len()];
            for (at, column) in columns.iter_mut().enumerate() {
                *column = row.get_ref(at)?;
            }
            let stored = match row.get_ref(COLUMNS.len())? {
                ValueRef::Text(text) => std::str::from_utf8(text).ok().and_then(Digest::parse),
                _ => None,
            };
            let number = if let ValueRef::Integer(number) = columns[0] { number } else { 0 };
            self.row(number, columns, stored);
        }
        if self.backwards > 0 {
            let times = if self.backwards == 1 { "once".to_owned() } else { format!("{} times", self.backwards) };
            self.audit.remarks.push(format!("the clock ran backwards between two rows, {times}"));
        }
        Ok(())
    }

    fn row(&mut self, number: i64, columns: [ValueRef<'_>; COLUMNS.len()], stored: Option<Digest>) {
        let before = self.audit.head;
        let next = before.number.saturating_add(1);
        if number != next {
            let last = number.saturating_sub(1);
            let missing = if last == next { format!("row {next} is") } else { format!("rows {next} to {last} are") };
            self.flaw(Some(number), format!("{missing} missing before row {number}"));
        }
        let digest = digest(&before.digest, columns);
        match stored {
            Some(stored) if stored == digest => {}
            Some(_) if before.number == 0 => {
                self.flaw(Some(number), format!("row {number} was changed, or rows before it were removed"));
            }
            Some(_) => self.flaw(
                Some(number),
                format!(
                    "row {number} doesn't follow from row {}: it was changed, put in or moved, or what stood before it was",
                    before.number
                ),
            ),
            None => self.flaw(Some(number), format!("row {number} has no digest: the program didn't write it")),
        }
        if let ValueRef::Text(time) = columns[1] {
            // one form for all, so that their order as text is that of time
            self.backwards += u64::from(time < self.last_time.as_slice());
            self.last_time = time.to_vec();
        }
        let stored = stored.unwrap_or(digest);
        if self.noted == Some(stored) {
            self.audit.noted_head_found = Some(true);
        }
        self.audit.rows += 1;
        self.audit.head = Head { number, digest: stored };
    }
}

fn first_line(statement: &str) -> &str {
    statement.lines().next().unwrap_or_default()
}
