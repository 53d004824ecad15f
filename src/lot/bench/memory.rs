//! What a bench keeps from one run to the next.

use std::time::SystemTime;

use super::super::record::{Before, Entry, Head};
use super::Tests;
use crate::finding::{Problem, Verdict};
use crate::text::Digest;

/// How a file came out: the worst of its units.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
#[non_exhaustive]
pub enum Outcome {
    /// Every unit conforms.
    Conforms,
    /// A unit can't be decided, or has no verdict.
    CantTell,
    /// A unit fails.
    Fails,
    /// A unit must not be connected.
    DoNotConnect,
    /// No unit has a verdict.
    Unread,
    /// It was taken before, under another name.
    Renamed,
}

impl Outcome {
    /// Every outcome.
    pub const ALL: [Outcome; 6] =
        [Outcome::Conforms, Outcome::CantTell, Outcome::Fails, Outcome::DoNotConnect, Outcome::Unread, Outcome::Renamed];

    /// The word that the memory keeps.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Outcome::Conforms => "conforms",
            Outcome::CantTell => "inconclusive",
            Outcome::Fails => "fails",
            Outcome::DoNotConnect => "hazard",
            Outcome::Unread => "unread",
            Outcome::Renamed => "renamed",
        }
    }

    /// Reads [`word`](Self::word).
    #[must_use]
    pub fn parse(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|outcome| outcome.word() == word)
    }

    /// What a person must read from a distance.
    #[must_use]
    pub fn call(self) -> &'static str {
        match self {
            Outcome::Conforms => "CONFORMS",
            Outcome::Fails => "FAILS",
            Outcome::DoNotConnect => "DO NOT CONNECT",
            Outcome::CantTell | Outcome::Unread | Outcome::Renamed => "CAN'T TELL",
        }
    }
}

/// A file that was taken.
#[derive(Clone, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub struct Taken {
    /// Its name in the folder.
    pub name: String,
    /// The digest of its bytes.
    pub digest: Digest,
    /// When it was modified, in nanoseconds since 1970.
    pub modified: String,
    /// How many verdicts came of it.
    pub units: usize,
    /// How it came out.
    pub outcome: Outcome,
}

impl Taken {
    /// A file by its name in the folder and the digest of its bytes, modified so many nanoseconds after 1970, with how many
    /// verdicts came of it and how it came out.
    #[must_use]
    pub fn new(name: impl Into<String>, digest: Digest, modified: impl Into<String>, units: usize, outcome: Outcome) -> Self {
        Self { name: name.into(), digest, modified: modified.into(), units, outcome }
    }

    /// Whether there is nothing new in a file of the same name.
    #[must_use]
    pub fn covers(&self, other: &Taken) -> bool {
        // one without a verdict is looked at again once somebody touches it
        self.digest == other.digest && (self.outcome != Outcome::Unread || self.modified == other.modified)
    }
}

/// Which units are counted together.
#[derive(Clone, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
#[non_exhaustive]
pub struct LotKey {
    /// The lot.
    pub lot: Option<String>,
    /// The supplier.
    pub supplier: Option<String>,
}

/// How the units of a lot stand, by the last test of each.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
#[non_exhaustive]
pub struct Count {
    /// How many were tested.
    pub units: usize,
    /// How many conform.
    pub conforms: usize,
    /// How many fail.
    pub fails: usize,
    /// How many can't be decided.
    pub inconclusive: usize,
}

impl Count {
    /// Counts last verdicts.
    #[must_use]
    pub fn of(tests: &Tests) -> Self {
        let last = || tests.values().filter_map(|tests| tests.last());
        let count = |of: Verdict| last().filter(|test| test.verdict == of).count();
        Count {
            units: tests.len(),
            conforms: count(Verdict::Conforms),
            fails: count(Verdict::Fails),
            inconclusive: count(Verdict::Inconclusive),
        }
    }
}

/// What became of a file that was to be kept.
#[derive(Clone, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub enum Kept {
    /// Another bench had taken it before.
    Before,
    /// It is kept, and will be after any end of this process.
    Now {
        /// The first of its rows in the record and the head with the last; none where there are no rows.
        rows: Option<(i64, Head)>,
        /// For each of its verdicts, which attempt of the unit it is.
        attempts: Vec<i64>,
        /// For each unit that was tested before, its place among the verdicts and its last attempt.
        before: Vec<(usize, Before)>,
    },
}

/// What a bench keeps: a [record](crate::lot::record), or a file beside the netlists.
pub trait Memory {
    /// Every file that was taken from the folder, in their order.
    ///
    /// # Errors
    /// A memory that can't be read.
    fn all(&mut self) -> Result<Vec<Taken>, Problem>;

    /// Every test of the measured units of a lot.
    ///
    /// # Errors
    /// A memory that can't be read.
    fn standing(&mut self, of: &LotKey) -> Result<Tests, Problem>;

    /// Keeps a file and its verdicts, all or nothing of it.
    ///
    /// # Errors
    /// A memory that can't be written; then nothing of the file is kept.
    fn keep(&mut self, taken: &Taken, entries: &[Entry], time: SystemTime) -> Result<Kept, Problem>;
}
