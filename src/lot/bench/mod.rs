//! The bench: a folder into which a tester drops netlists, each of which is taken once, checked and kept.
//!
//! [`Bench::look`] looks at the folder once and says what happened since; whoever calls it decides how often, and shows it:
//! a terminal, a browser, a script. Between two looks there is nothing to lose: a file is kept in the [`Memory`] before it is
//! said to be taken. Where a process ends between the two, [`Bench::latest`] of the next one has the verdict that nobody saw.
//!
//! # When a file is taken
//!
//! - By its name: `.netlist`, `.csv` and `.tsv`; with rules for print-outs or `--table`, everything else too. Never a name that
//!   begins with a dot or ends in `~`, `.tmp`, `.part`, `.partial`, `.filepart`,
//!   `.crdownload`, `.swp` or `.lock`: programs that write under another name and then rename use these (common practice, no
//!   source). What is left alone for its name is said once. Folders inside the folder are not looked into.
//! - Once it is whole: its size and its time of modification stayed the same for the quiet time, one second unless it is
//!   set; five times as long where it doesn't end in a line feed, as a line that is half written doesn't. That is measured by
//!   looking, on the clock of this machine, since a network drive may have another one. A file that changes while it is read
//!   waits again. A tester that rests longer between two lines needs a longer quiet time: half of a netlist may lack the very
//!   line that shows a short, and its verdict stands until the rest is there and is taken as another attempt.
//! - Once: what was taken is known by its name and the digest of its bytes. A file that changes later is taken again, as another
//!   attempt. One that is written again with the same bytes isn't; it is said, since a tester that always writes the same
//!   file for sound cables would not be counted: let it write the unit's name or the time into it.
//! - The same bytes under another name are another file and so another attempt: two cables that test alike give the same
//!   bytes. It is said. Only a file that was renamed is not taken again: the old name is gone, and bytes and time of
//!   modification are the same.
//! - A file that gives no verdict (unreadable lines, no such cable) is taken as such, and taken again once its bytes or its time of
//!   modification change. One that can't be opened is said once and tried again until it can.
//!
//! # Why it looks, and isn't called
//!
//! Services that report changes of a folder miss those that another machine makes on a network drive, and drop some when many
//! come at once; so whoever relies on them must look as well. Looking alone is one way that holds everywhere, and
//! the same at the start and after a restart. A look costs one reading of the folder and of each file's size.
//!
//! # Several benches
//!
//! Several benches may share a folder where they share a record: each file is taken by one of them. The count that each shows is
//! that of the record when it first met the lot, and its own files since; `backshell record lot` counts them all. With a
//! [`LotPlan`] the record is asked again at each file.

mod folder;
mod memory;
mod running;
mod seen;
mod take;

pub use folder::path_text;
pub use memory::{Count, Kept, LotKey, Memory, Outcome, Taken};
pub use running::{LotPlan, Running, Test, Tests};
pub use seen::{STATE_FILE, Seen};
pub use take::{TakenFile, TestedUnit};

use std::collections::BTreeMap;
use std::ffi::OsString;
use std::ops::ControlFlow;
use std::path::PathBuf;
use std::time::{Duration, SystemTime};

use crate::finding::Problem;
use crate::text::Digest;
use crate::verify::Options;

use super::counts::Tally;
use super::record::Maps;
use folder::{Look, Watched};

/// How long a file must stay as it is before it is taken, where nothing else is said.
pub const QUIET: Duration = Duration::from_secs(1);

/// What holds for a bench.
#[derive(Clone, Debug, Default)]
#[non_exhaustive]
pub struct Settings {
    /// How netlists are read and checked.
    pub options: Options,
    /// How long a file must stay as it is; zero takes it at the second look.
    pub quiet: Duration,
    /// The lot of units that say nothing of theirs.
    pub lot: Option<String>,
    /// The supplier of units that say nothing of theirs.
    pub supplier: Option<String>,
    /// How large the lot is and how it is decided; it is that of the name and supplier above, where these are given.
    pub plan: Option<LotPlan>,
}

impl Settings {
    /// How netlists are read and checked.
    #[must_use]
    pub fn with_options(self, options: Options) -> Self {
        Self { options, ..self }
    }

    /// How long a file must stay as it is; zero takes it at the second look.
    #[must_use]
    pub fn with_quiet(self, quiet: Duration) -> Self {
        Self { quiet, ..self }
    }

    /// The lot of units that say nothing of theirs.
    #[must_use]
    pub fn with_lot(self, lot: impl Into<String>) -> Self {
        Self { lot: Some(lot.into()), ..self }
    }

    /// The supplier of units that say nothing of theirs.
    #[must_use]
    pub fn with_supplier(self, supplier: impl Into<String>) -> Self {
        Self { supplier: Some(supplier.into()), ..self }
    }

    /// How large the lot is and how it is decided; it is that of the name and supplier above, where these are given.
    #[must_use]
    pub fn with_plan(self, plan: LotPlan) -> Self {
        Self { plan: Some(plan), ..self }
    }
}

/// What happened.
#[derive(Debug)]
#[non_exhaustive]
pub enum Event {
    /// A file was taken, and is kept.
    Taken(Box<TakenFile>),
    /// A file was renamed since it was taken; it isn't tested again.
    Renamed {
        /// Its name when it was taken.
        from: String,
        /// Its name now.
        to: String,
    },
    /// A file was written again with the same bytes; it isn't tested again.
    WrittenAgain {
        /// Its name.
        name: String,
    },
    /// A file is left alone for its name.
    LeftAlone {
        /// Its name.
        name: String,
    },
    /// A file can't be opened or read; it is tried again.
    Unreadable {
        /// Its name.
        name: String,
        /// Why.
        problem: Problem,
    },
    /// The folder can't be read; it is tried again.
    FolderLost(Problem),
    /// The folder can be read again.
    FolderBack,
}

/// A folder and what was taken from it.
pub struct Bench<M> {
    folder: PathBuf,
    settings: Settings,
    memory: M,
    maps: Maps,
    /// What is known of each file that is there.
    watched: BTreeMap<OsString, Watched>,
    /// The last time that each name was taken.
    last: BTreeMap<String, Taken>,
    /// The names that were taken with these bytes.
    by_content: BTreeMap<Digest, Vec<String>>,
    lots: BTreeMap<LotKey, Tests>,
    /// Units without a verdict, by the file that was taken.
    unjudged: BTreeMap<String, usize>,
    /// The name that was taken last.
    latest: Option<String>,
    lost: bool,
    first_look: bool,
}

impl<M: Memory> Bench<M> {
    /// A bench with what its memory holds.
    ///
    /// # Errors
    /// A memory that can't be read.
    pub fn new(folder: PathBuf, settings: Settings, mut memory: M) -> Result<Self, Problem> {
        let all = memory.all()?;
        let mut bench = Bench {
            folder,
            settings: Settings { options: Options { about: true, ..settings.options.clone() }, ..settings },
            memory,
            maps: Maps::default(),
            watched: BTreeMap::new(),
            last: BTreeMap::new(),
            by_content: BTreeMap::new(),
            lots: BTreeMap::new(),
            unjudged: BTreeMap::new(),
            latest: None,
            lost: false,
            first_look: true,
        };
        all.into_iter().for_each(|taken| bench.remember(taken));
        bench.go_on_with_the_lot()?;
        Ok(bench)
    }

    /// Takes up a lot that was named, as far as it was tested before.
    fn go_on_with_the_lot(&mut self) -> Result<(), Problem> {
        let named = self.settings.lot.clone().filter(|_| self.settings.plan.is_some());
        let Some(lot) = named else { return Ok(()) };
        let key = LotKey { lot: Some(lot), supplier: self.settings.supplier.clone() };
        let tests = self.memory.standing(&key)?;
        if !tests.is_empty() {
            self.lots.insert(key, tests);
        }
        Ok(())
    }

    /// The lot that is being tested with the decision so far, where its size was said.
    #[must_use]
    pub fn running(&self) -> Option<Running> {
        let Settings { plan, lot, supplier, .. } = &self.settings;
        // a file that was cleared away is no input any more
        let unread = |watched: &Watched| u64::from(watched.said && !watched.done);
        let of_file = |name: &OsString| self.unjudged.get(&path_text(name)).map_or(0, |units| *units as u64);
        let unjudged = self.watched.iter().map(|(name, watched)| unread(watched) + of_file(name)).sum();
        plan.as_ref().map(|plan| running::running(plan, (lot.as_deref(), supplier.as_deref()), &self.lots, unjudged))
    }

    /// How many names were taken so far.
    #[must_use]
    pub fn files(&self) -> usize {
        self.last.len()
    }

    /// The file that was taken last, by this run or one before.
    #[must_use]
    pub fn latest(&self) -> Option<&Taken> {
        self.last.get(self.latest.as_ref()?)
    }

    /// Looks at the folder once. `now` is any clock that doesn't run backwards; `time` goes into the record. Events are handed
    /// over as they come, each after it was kept; whoever can't show one breaks off, and nothing more is taken then.
    ///
    /// # Errors
    /// A memory that can't be written: the file is not taken then, and nothing was said of it.
    pub fn look(
        &mut self,
        now: Duration,
        time: impl Fn() -> SystemTime,
        mut each: impl FnMut(Event) -> ControlFlow<()>,
    ) -> Result<(), Problem> {
        let Look { files, left_alone } = match folder::look(&self.folder, &self.settings.options.forms) {
            Ok(look) => look,
            Err(problem) => {
                if !std::mem::replace(&mut self.lost, true) {
                    let _ = each(Event::FolderLost(problem));
                }
                return Ok(());
            }
        };
        let mut said = Vec::new();
        if std::mem::replace(&mut self.lost, false) {
            said.push(Event::FolderBack);
        }
        let whole = self.note(&files, &left_alone, now, &mut said);
        self.first_look = false;
        for event in said {
            if each(event).is_break() {
                return Ok(());
            }
        }
        for name in whole {
            if let Some(event) = self.take(&name, now, &time)?
                && each(event).is_break()
            {
                return Ok(());
            }
        }
        Ok(())
    }

    /// Whether every file that is there was dealt with.
    #[must_use]
    pub fn is_idle(&self) -> bool {
        !self.lost && !self.first_look && self.watched.values().all(|watched| watched.done || watched.said)
    }

    /// Takes note of what is there; gives the files that are whole, in the order in which they were written.
    fn note(&mut self, files: &[folder::File], left_alone: &[OsString], now: Duration, said: &mut Vec<Event>) -> Vec<OsString> {
        let there: std::collections::BTreeSet<&OsString> = files.iter().map(|file| &file.name).chain(left_alone).collect();
        self.watched.retain(|name, _| there.contains(name));
        for name in left_alone {
            if !self.watched.contains_key(name) {
                self.watched.insert(name.clone(), Watched::left_alone(now));
                said.push(Event::LeftAlone { name: path_text(name) });
            }
        }
        let mut whole = Vec::new();
        for file in files {
            let watched = self.watched.entry(file.name.clone()).or_insert_with(|| Watched::new(file, now, self.first_look));
            watched.seen(file, now);
            if !watched.done && now.saturating_sub(watched.since) >= self.settings.quiet && watched.looks > 1 {
                whole.push((file.modified, file.name.clone()));
            }
        }
        whole.sort();
        whole.into_iter().map(|(_, name)| name).collect()
    }

    /// Takes note that a file was taken of which some units have no verdict.
    fn remember_part(&mut self, taken: Taken, unjudged: usize) {
        let name = taken.name.clone();
        self.remember(taken);
        self.unjudged.entry(name).and_modify(|least| *least = unjudged.max(*least));
    }

    /// Takes note that a file was taken.
    fn remember(&mut self, taken: Taken) {
        let names = self.by_content.entry(taken.digest).or_default();
        if !names.contains(&taken.name) {
            names.push(taken.name.clone());
        }
        self.latest = Some(taken.name.clone());
        // of a file that gave no verdict at all, one unit is the least
        let unread = usize::from(taken.outcome == Outcome::Unread);
        self.unjudged.insert(taken.name.clone(), unread);
        self.last.insert(taken.name.clone(), taken);
    }
}
