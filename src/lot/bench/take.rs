//! Taking one file: its digest, its verdicts, and keeping them.

use std::collections::BTreeSet;
use std::ffi::OsStr;
use std::fs;
use std::io::{self, Read};
use std::path::Path;
use std::time::{Duration, SystemTime};

use super::super::record::{Before, Entry, Head, entries};
use crate::finding::{Problem, Verdict};
use crate::text::{Digest, Digester, visible};
use crate::verify::{Batch, check_file};

use super::{Bench, Count, Event, Kept, LotKey, Memory, Outcome, Running, Taken, Test, path_text};

/// How many times as long a file must be quiet that ends within a line.
const IN_A_LINE: u32 = 5;

/// A file that was taken.
#[derive(Debug)]
#[non_exhaustive]
pub struct TakenFile {
    /// Its name in the folder.
    pub name: String,
    /// How it came out.
    pub outcome: Outcome,
    /// Its verdicts with their findings, and what couldn't be used.
    pub batches: Vec<Batch>,
    /// Its units, in the order of the file.
    pub units: Vec<TestedUnit>,
    /// How many units have no verdict.
    pub unjudged: usize,
    /// Other names under which the same bytes were taken before.
    pub same_as: Vec<String>,
    /// The first of its rows in the record and the head with the last; none without a record.
    pub rows: Option<(i64, Head)>,
    /// The lots of its units, and how each stands now.
    pub lots: Vec<(LotKey, Count)>,
    /// The lot that is being tested with the decision so far, where its size was said.
    pub running: Option<Running>,
}

/// A unit of a file that was taken.
#[derive(Clone, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub struct TestedUnit {
    /// Its name; for an unnamed unit, that of the file without its ending.
    pub unit: String,
    /// Its verdict.
    pub verdict: Verdict,
    /// Whether it must not be connected.
    pub hazard: bool,
    /// Which attempt it is, from 1.
    pub attempt: i64,
    /// Its last attempt before this one.
    pub before: Option<Before>,
}

impl<M: Memory> Bench<M> {
    /// Takes a file that is whole, or says why there is nothing to take. Without an event there is nothing new.
    pub(super) fn take(&mut self, name: &OsStr, now: Duration, time: &impl Fn() -> SystemTime) -> Result<Option<Event>, Problem> {
        let path = self.folder.join(name);
        let shown = path_text(name);
        let Some(watched) = self.watched.get(name).cloned() else { return Ok(None) };
        let as_it_was = |about: &fs::Metadata| about.len() == watched.size && about.modified().ok() == Some(watched.modified);
        let read = digest_of(&path);
        let still = fs::metadata(&path).is_ok_and(|about| as_it_was(&about));
        let (digest, in_a_line) = match read {
            Ok(read) if still => read,
            Err(error) if still => return Ok(self.unreadable(name, shown, now, &error)),
            _ => {
                self.wait(name, now);
                return Ok(None);
            }
        };
        let mut taken =
            Taken { name: shown, digest, modified: nanoseconds(watched.modified), units: 0, outcome: Outcome::Renamed };
        if self.last.get(&taken.name).is_some_and(|last| last.covers(&taken)) {
            self.done(name);
            return Ok((!watched.from_before).then_some(Event::WrittenAgain { name: taken.name }));
        }
        if in_a_line && now.saturating_sub(watched.since) < self.settings.quiet * IN_A_LINE {
            return Ok(None);
        }
        let same_as = self.same_content(&taken);
        if let Some(from) = self.renamed_from(&taken, &same_as) {
            self.memory.keep(&taken, &[], time())?;
            self.done(name);
            let unjudged = self.unjudged.get(&from).copied().unwrap_or(0);
            let event = Event::Renamed { from, to: taken.name.clone() };
            self.remember_part(taken, unjudged);
            return Ok(Some(event));
        }
        let batches = self.checked(&path);
        // what was checked must be what was looked at
        let read_otherwise = batches.iter().any(|batch| batch.digest.is_some_and(|read| read != digest));
        if read_otherwise || !fs::metadata(&path).is_ok_and(|about| as_it_was(&about)) {
            self.wait(name, now);
            return Ok(None);
        }
        let all = self.entries(&path_text(path.as_os_str()), &batches);
        let unjudged: usize = batches.iter().map(|batch| batch.unjudged).sum();
        taken.units = all.len();
        taken.outcome = outcome(&all, unjudged > 0 || batches.iter().any(|batch| !batch.problems.is_empty()));
        let kept = self.memory.keep(&taken, &all, time())?;
        self.done(name);
        let Kept::Now { rows, attempts, before } = kept else {
            self.remember_part(taken, unjudged);
            return Ok(None);
        };
        let units = tested(&all, &attempts, before);
        let lots = self.count(&all)?;
        let (name, outcome) = (taken.name.clone(), taken.outcome);
        self.remember_part(taken, unjudged);
        let running = self.running();
        let file = TakenFile { name, outcome, batches, units, unjudged, same_as, rows, lots, running };
        Ok(Some(Event::Taken(Box::new(file))))
    }

    fn unreadable(&mut self, name: &OsStr, shown: String, now: Duration, error: &io::Error) -> Option<Event> {
        let watched = self.watched.get_mut(name)?;
        watched.wait(now);
        if std::mem::replace(&mut watched.said, true) {
            return None;
        }
        let problem = Problem::new(format!("{}: can't be read: {error}", visible(&shown)))
            .help("it is tried again until it can be read; it has no verdict");
        Some(Event::Unreadable { name: shown, problem })
    }

    fn wait(&mut self, name: &OsStr, now: Duration) {
        if let Some(watched) = self.watched.get_mut(name) {
            watched.wait(now);
        }
    }

    fn done(&mut self, name: &OsStr) {
        if let Some(watched) = self.watched.get_mut(name) {
            watched.done = true;
        }
    }

    /// The other names that were last taken with these bytes.
    fn same_content(&self, taken: &Taken) -> Vec<String> {
        let names = self.by_content.get(&taken.digest).into_iter().flatten();
        let last = |name: &&String| self.last.get(*name).is_some_and(|last| last.digest == taken.digest);
        names.filter(|name| **name != taken.name).filter(last).cloned().collect()
    }

    /// The name under which a file was taken that has another name now.
    fn renamed_from(&self, taken: &Taken, same: &[String]) -> Option<String> {
        let there = |name: &str| self.watched.keys().any(|known| path_text(known) == name);
        let same_time = |name: &str| self.last.get(name).is_some_and(|last| last.modified == taken.modified);
        same.iter().find(|name| same_time(name) && !there(name)).cloned()
    }

    fn checked(&self, path: &Path) -> Vec<Batch> {
        let mut batches = Vec::new();
        check_file(path, &self.settings.options, |batch| batches.push(batch));
        batches
    }

    fn entries(&mut self, file: &str, batches: &[Batch]) -> Vec<Entry> {
        let (lot, supplier) = (self.settings.lot.as_deref(), self.settings.supplier.as_deref());
        batches.iter().flat_map(|batch| entries(file, batch, &mut self.maps, lot, supplier)).collect()
    }

    /// Counts the lots on, each from what the memory has of it; where a decision hangs on it, it is asked again for each file, since
    /// another bench may test units of the same lot.
    fn count(&mut self, entries: &[Entry]) -> Result<Vec<(LotKey, Count)>, Problem> {
        let mut touched: Vec<LotKey> = Vec::new();
        let mut up_to_date = BTreeSet::new();
        for entry in entries.iter().filter(|entry| !entry.is_drawing) {
            let key = LotKey { lot: entry.lot.clone(), supplier: entry.supplier.clone() };
            let ask = self.settings.plan.is_some() || !self.lots.contains_key(&key);
            if ask && up_to_date.insert(key.clone()) {
                let standing = self.memory.standing(&key)?;
                self.lots.insert(key.clone(), standing);
            }
            // the memory holds this file already
            if !up_to_date.contains(&key) {
                self.lots.entry(key.clone()).or_default().entry(entry.unit.clone()).or_default().push(Test::of(entry));
            }
            if !touched.contains(&key) {
                touched.push(key);
            }
        }
        let count = |key: LotKey| {
            let count = self.lots.get(&key).map(Count::of).unwrap_or_default();
            (key, count)
        };
        Ok(touched.into_iter().map(count).collect())
    }
}

fn tested(entries: &[Entry], attempts: &[i64], before: Vec<(usize, Before)>) -> Vec<TestedUnit> {
    let mut before = before.into_iter().peekable();
    let unit = |(at, entry): (usize, &Entry)| TestedUnit {
        unit: entry.unit.clone(),
        verdict: entry.verdict,
        hazard: entry.hazard,
        attempt: attempts.get(at).copied().unwrap_or(1),
        before: before.next_if(|(of, _)| *of == at).map(|(_, before)| before),
    };
    entries.iter().enumerate().map(unit).collect()
}

/// The worst of the units; `doubt` where something of the file can't be used.
fn outcome(entries: &[Entry], doubt: bool) -> Outcome {
    let of = |entry: &Entry| match entry.verdict {
        _ if entry.hazard => Outcome::DoNotConnect,
        Verdict::Conforms => Outcome::Conforms,
        Verdict::Fails => Outcome::Fails,
        Verdict::Inconclusive => Outcome::CantTell,
    };
    match entries.iter().map(of).max() {
        None => Outcome::Unread,
        Some(worst) if doubt => worst.max(Outcome::CantTell),
        Some(worst) => worst,
    }
}

/// The digest of a file, read piece by piece, and whether it ends within a line.
fn digest_of(path: &Path) -> io::Result<(Digest, bool)> {
    let mut file = fs::File::open(path)?;
    let mut digester = Digester::default();
    let mut piece = vec![0; 1 << 16];
    let mut last = b'\n';
    loop {
        match file.read(&mut piece) {
            Ok(0) => return Ok((digester.finish(), last != b'\n')),
            Ok(read) => {
                digester.take(&piece[..read]);
                last = piece[read - 1];
            }
            Err(error) if error.kind() == io::ErrorKind::Interrupted => {}
            Err(error) => return Err(error),
        }
    }
}

fn nanoseconds(time: SystemTime) -> String {
    match time.duration_since(SystemTime::UNIX_EPOCH) {
        Ok(since) => since.as_nanos().to_string(),
        Err(before) => format!("-{}", before.duration().as_nanos()),
    }
}
