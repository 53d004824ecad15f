//! What was taken, where there is no record: a small file beside the netlists.
//!
//! `.backshell-seen` in the folder has one line for each file that was taken: a JSON object with `time`, `name`, `digest`,
//! `modified`, `outcome` and `units`, a list of objects with `unit`, `lot`, `supplier`, `verdict`, `measured`, `hazard`, `action`
//! (what was done before the test) and `sort` (cable, type, rate and length, each on its line). A line is written
//! and brought to the disk before the file is said to be taken. A line without its end, which a process that was killed leaves, is
//! cut off at the next start, and its file taken then. While a bench runs, the file is locked, so that there is one bench for each
//! folder. Whoever removes it has every file taken again.

use std::collections::BTreeMap;
use std::fs::{File, OpenOptions, TryLockError};
use std::io::{Read, Seek, SeekFrom, Write};
use std::path::Path;
use std::time::SystemTime;

use serde::{Deserialize, Serialize};

use super::super::record::{Before, Entry, time_text};
use crate::finding::{Problem, Verdict};
use crate::netlist::Action;
use crate::text::{Digest, visible};

use super::{Kept, LotKey, Memory, Outcome, Taken, Test, Tests};

/// The name of the file.
pub const STATE_FILE: &str = ".backshell-seen";

#[derive(Debug, Serialize, Deserialize)]
struct Line {
    time: String,
    name: String,
    digest: String,
    modified: String,
    outcome: String,
    units: Vec<UnitLine>,
}

#[derive(Debug, Serialize, Deserialize)]
struct UnitLine {
    unit: String,
    lot: Option<String>,
    supplier: Option<String>,
    verdict: String,
    measured: bool,
    // lines of earlier versions don't have what follows
    #[serde(default, skip_serializing_if = "Option::is_none")]
    hazard: Option<bool>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    action: Option<Action>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    sort: Option<String>,
}

/// The file, open and locked.
#[derive(Debug)]
pub struct Seen {
    file: File,
    /// Its path, for messages.
    name: String,
    taken: Vec<Taken>,
    lots: BTreeMap<LotKey, Tests>,
    /// The last attempt of each unit, drawings apart.
    attempts: BTreeMap<(LotKey, String, bool), Before>,
}

impl Seen {
    /// Opens the file of a folder, and makes it where there is none.
    ///
    /// # Errors
    /// A folder in which nothing can be written; another bench that holds the file; a line that can't be read.
    pub fn open(folder: &Path) -> Result<Self, Problem> {
        let path = folder.join(STATE_FILE);
        let name = path.display().to_string();
        let fault = |what: &str| Problem::new(format!("{}: {what}", visible(&name)));
        let file = OpenOptions::new().read(true).append(true).create(true).open(&path);
        let mut file = file.map_err(|error| {
            fault(&format!("can't be opened: {error}")).help("what was taken is kept there; with `--record FILE` in the record")
        })?;
        match file.try_lock() {
            Ok(()) => {}
            Err(TryLockError::WouldBlock) => {
                return Err(fault("another `watch` takes from this folder").help("end that one first, or go on with it"));
            }
            Err(TryLockError::Error(error)) => return Err(fault(&format!("can't be locked: {error}"))),
        }
        let mut bytes = Vec::new();
        file.read_to_end(&mut bytes).map_err(|error| fault(&format!("can't be read: {error}")))?;
        let whole = memchr::memrchr(b'\n', &bytes).map_or(0, |at| at + 1);
        if whole < bytes.len() {
            file.set_len(whole as u64).map_err(|error| fault(&format!("can't be written: {error}")))?;
        }
        let mut seen = Seen { file, name: name.clone(), taken: Vec::new(), lots: BTreeMap::new(), attempts: BTreeMap::new() };
        for (number, line) in (1..).zip(bytes[..whole].split(|byte| *byte == b'\n')).filter(|(_, line)| !line.is_empty()) {
            let unreadable = || {
                fault(&format!("line {number} can't be read"))
                    .help("this file says what was taken: restore it, or remove it and have everything taken again")
            };
            let line: Line = serde_json::from_slice(line).map_err(|_| unreadable())?;
            seen.add(&line).ok_or_else(unreadable)?;
        }
        Ok(seen)
    }

    /// Takes note of a line; gives for each of its units which attempt it is, and the last one before. None where the line says
    /// what no bench writes.
    fn add(&mut self, line: &Line) -> Option<Vec<(i64, Option<Before>)>> {
        let outcome = Outcome::parse(&line.outcome)?;
        self.taken.push(Taken {
            name: line.name.clone(),
            digest: Digest::parse(&line.digest)?,
            modified: line.modified.clone(),
            units: line.units.len(),
            outcome,
        });
        let mut attempts = Vec::with_capacity(line.units.len());
        for unit in &line.units {
            let verdicts = [Verdict::Conforms, Verdict::Fails, Verdict::Inconclusive];
            let verdict = verdicts.into_iter().find(|verdict| verdict.word() == unit.verdict)?;
            let key = LotKey { lot: unit.lot.clone(), supplier: unit.supplier.clone() };
            if unit.measured {
                let dangerous = outcome == Outcome::DoNotConnect && verdict != Verdict::Conforms;
                let test = Test {
                    verdict,
                    // of a file that had a dangerous unit, it may be any that doesn't conform
                    hazard: unit.hazard.unwrap_or(dangerous),
                    action: unit.action,
                    sort: unit.sort.clone(),
                };
                self.lots.entry(key.clone()).or_default().entry(unit.unit.clone()).or_default().push(test);
            }
            let key = (key, unit.unit.clone(), unit.measured);
            let attempt = self.attempts.get(&key).map_or(1, |before| before.attempt + 1);
            let now = Before { attempt, time: line.time.clone(), verdict: unit.verdict.clone() };
            attempts.push((attempt, self.attempts.insert(key, now)));
        }
        Some(attempts)
    }

    fn write(&mut self, line: &Line) -> Result<(), Problem> {
        let mut text = serde_json::to_vec(line).unwrap_or_default();
        text.push(b'\n');
        let before = self.file.seek(SeekFrom::End(0));
        let written = self.file.write_all(&text).and_then(|()| self.file.sync_data());
        written.map_err(|error| {
            // half a line must not stand before the next
            if let Ok(end) = before {
                let _ = self.file.set_len(end);
            }
            Problem::new(format!("{}: can't be written: {error}", visible(&self.name)))
                .help("the file that was just read isn't taken; make room, then start again")
        })
    }
}

impl Memory for Seen {
    fn all(&mut self) -> Result<Vec<Taken>, Problem> {
        Ok(self.taken.clone())
    }

    fn standing(&mut self, of: &LotKey) -> Result<Tests, Problem> {
        Ok(self.lots.get(of).cloned().unwrap_or_default())
    }

    fn keep(&mut self, taken: &Taken, entries: &[Entry], time: SystemTime) -> Result<Kept, Problem> {
        let unit = |entry: &Entry| {
            let test = Test::of(entry);
            UnitLine {
                unit: entry.unit.clone(),
                lot: entry.lot.clone(),
                supplier: entry.supplier.clone(),
                verdict: entry.verdict.word().to_owned(),
                measured: !entry.is_drawing,
                hazard: Some(test.hazard),
                action: test.action,
                sort: test.sort,
            }
        };
        let line = Line {
            time: time_text(time),
            name: taken.name.clone(),
            digest: taken.digest.to_string(),
            modified: taken.modified.clone(),
            outcome: taken.outcome.word().to_owned(),
            units: entries.iter().map(unit).collect(),
        };
        self.write(&line)?;
        let units = self.add(&line).unwrap_or_default();
        let attempts = units.iter().map(|(attempt, _)| *attempt).collect();
        let before = units.into_iter().enumerate().filter_map(|(at, (_, before))| Some((at, before?))).collect();
        Ok(Kept::Now { rows: None, attempts, before })
    }
}
