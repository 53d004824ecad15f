//! Tables whose size is bounded, and that still merge to the same answer in any order.
//!
//! A table is kept whole or not at all: as soon as all parts together have more different entries than the table may hold, it
//! is dropped, and its name stands among those that are full. The number of different entries only grows with more units, so
//! that a part which dropped a table can't be part of a lot that keeps it: the answer is the same however the lot was split.

use std::collections::BTreeSet;

use serde::{Deserialize, Deserializer, Serialize, Serializer};

/// The most groups (type, supplier, length …) that are kept apart.
pub(super) const MOST_GROUPS: usize = 512;
/// The most different faults (code and points).
pub(super) const MOST_PATTERNS: usize = 20_000;
/// The most different contacts that have a fault.
pub(super) const MOST_PINS: usize = 20_000;
/// The most different resistances (pairs of contacts).
pub(super) const MOST_READINGS: usize = 1_000;
/// The most tests that weren't a first test that conforms.
pub(super) const MOST_ATTEMPTS: usize = 50_000;
/// The most series of serial numbers (what stands before the digits).
pub(super) const MOST_SERIES: usize = 16;
/// The most tests whose units are kept by name, so that none counts twice.
pub(super) const MOST_NAMES: usize = 100_000;
/// The most units of a group that are named where not all that weren't accepted could be kept.
pub(super) const MOST_NAMED: usize = 100;

/// The name of the table of faults by code and points, where it is full.
pub const FULL_PATTERNS: &str = "patterns";
/// The name of the table of contacts, where it is full.
pub const FULL_PINS: &str = "pins";
/// The name of the table of resistances, where it is full.
pub const FULL_READINGS: &str = "readings";
/// The name of the table of tests that weren't a first test that conforms, where it is full.
pub const FULL_ATTEMPTS: &str = "attempts";
/// The name of the table of series of serial numbers, where it is full.
pub const FULL_SERIALS: &str = "serials";
/// The name of the table of units by name, where it is full: whether one counts twice isn't known then.
pub const FULL_NAMES: &str = "unit names";
/// The name of the table of groups, where it is full.
pub(super) const FULL_GROUPS: &str = "groups";

/// The first entries in their order, and no more than a fixed number of them.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct First<T: Ord, const MOST: usize>(BTreeSet<T>);

impl<T: Ord, const MOST: usize> Default for First<T, MOST> {
    fn default() -> Self {
        First(BTreeSet::new())
    }
}

impl<T: Ord, const MOST: usize> First<T, MOST> {
    /// Takes an entry, if it is among the first.
    pub fn insert(&mut self, entry: T) {
        if self.0.len() < MOST || self.0.last().is_some_and(|last| entry < *last) {
            self.0.insert(entry);
            if self.0.len() > MOST {
                self.0.pop_last();
            }
        }
    }

    /// Takes those of another list.
    pub fn merge(&mut self, other: Self) {
        for entry in other.0 {
            self.insert(entry);
        }
    }

    /// The entries, in their order.
    pub fn iter(&self) -> impl Iterator<Item = &T> {
        self.0.iter()
    }

    /// How many there are.
    #[must_use]
    pub fn len(&self) -> usize {
        self.0.len()
    }

    /// Whether there are none.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }
}

impl<T: Ord + Serialize, const MOST: usize> Serialize for First<T, MOST> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_seq(&self.0)
    }
}

impl<'de, T: Ord + Deserialize<'de>, const MOST: usize> Deserialize<'de> for First<T, MOST> {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let mut first = First::default();
        for entry in Vec::deserialize(deserializer)? {
            first.insert(entry);
        }
        Ok(first)
    }
}

/// A map with keys that aren't text, as a list of pairs.
pub(super) mod pairs {
    use std::collections::BTreeMap;

    use serde::{Deserialize, Deserializer, Serialize, Serializer};

    pub fn serialize<K: Serialize, V: Serialize, S: Serializer>(map: &BTreeMap<K, V>, to: S) -> Result<S::Ok, S::Error> {
        to.collect_seq(map)
    }

    pub fn deserialize<'de, K: Deserialize<'de> + Ord, V: Deserialize<'de>, D: Deserializer<'de>>(
        from: D,
    ) -> Result<BTreeMap<K, V>, D::Error> {
        Ok(Vec::<(K, V)>::deserialize(from)?.into_iter().collect())
    }
}
