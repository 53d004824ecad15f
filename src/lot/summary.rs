//! The partial result over some units of a lot.
//!
//! [`Summary::merge`] is associative and commutative, and a summary of nothing changes nothing: whatever way a lot is split over
//! benches, files or machines, and in whatever order the parts are merged, the written result is the same byte for byte.
//! [`Summary::add`] is the merging of one unit.
//!
//! Memory doesn't grow with the number of units, but with what is different among them, and each table is bounded:
//!
//! | table | kept | beyond that |
//! |---|---|---|
//! | groups (cable, type, supplier, lot, rated, length) | 512 | all units are one group |
//! | faults by code and points | 20,000 | dropped; those by code stay |
//! | contacts with a fault | 20,000 | dropped |
//! | resistances (pairs of contacts) | 1,000, each with 256 values, then rounded; 8 highest and lowest units | dropped |
//! | series of serial numbers | 16, each with 256 buckets, then wider ones | dropped |
//! | tests by the name of the unit | 100,000 | dropped: no unit that came in twice is found |
//! | tests that aren't a first test that conforms | 50,000 | dropped: first results stand, 100 units of each group are named |
//!
//! That is below 64 MB, however long a reel is.

use std::collections::{BTreeMap, BTreeSet};

use serde::{Deserialize, Serialize};

use super::counts::{GroupKey, Tally};
use super::group::Group;
use super::tables::{self, pairs};
use super::unit::TestedUnit;

/// The partial result over some units.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[non_exhaustive]
pub struct Summary {
    /// The groups.
    #[serde(with = "pairs")]
    pub groups: BTreeMap<GroupKey, Group>,
    /// Units without a verdict, since their input can't be used.
    pub unjudged: u64,
    /// Problems of the input.
    pub problems: u64,
    /// Drawings, which aren't units of a lot.
    pub drawings: u64,
    /// The tables that were full, and were dropped.
    pub full: BTreeSet<String>,
}

impl Summary {
    /// The summary of some units.
    #[must_use]
    pub fn of(units: impl IntoIterator<Item = TestedUnit>) -> Self {
        let mut summary = Summary::default();
        for unit in units {
            summary.add(unit);
        }
        summary
    }

    /// Takes a unit.
    pub fn add(&mut self, unit: TestedUnit) {
        let mut one = Group::default();
        let key = GroupKey::of(&unit);
        // an empty group takes the unit where it is new, so that nothing is merged twice
        let known = self.groups.contains_key(&key);
        // a reel whose names are too many is still counted the short way
        let nameless = self.is_full(tables::FULL_NAMES);
        let unit = TestedUnit { named: unit.named && !nameless, ..unit };
        if known && self.full.len() == usize::from(nameless) {
            if let Some(group) = self.groups.get_mut(&key) {
                group.add(unit);
            }
        } else {
            one.add(unit);
            self.merge(Summary { groups: BTreeMap::from([(key, one)]), ..Summary::default() });
            return;
        }
        self.settle();
    }

    /// Takes another part of the lot.
    pub fn merge(&mut self, other: Summary) {
        self.unjudged += other.unjudged;
        self.problems += other.problems;
        self.drawings += other.drawings;
        self.full.extend(other.full);
        for (key, group) in other.groups {
            self.groups.entry(key).or_default().merge(group);
        }
        self.settle();
    }

    /// Drops what is full.
    pub(super) fn settle(&mut self) {
        if self.groups.len() > tables::MOST_GROUPS || self.is_full(tables::FULL_GROUPS) {
            self.full.insert(tables::FULL_GROUPS.to_owned());
            // units of several lots may share their names
            self.full.insert(tables::FULL_NAMES.to_owned());
            let groups = std::mem::take(&mut self.groups);
            let mut all = Group::default();
            for (_, group) in groups {
                all.merge(group);
            }
            self.groups.insert(GroupKey { cable: "(several)".to_owned(), ..GroupKey::default() }, all);
        }
        self.bound(tables::FULL_PATTERNS, tables::MOST_PATTERNS, |group| group.patterns.len(), |group| group.patterns.clear());
        self.bound(tables::FULL_PINS, tables::MOST_PINS, |group| group.pins.len(), |group| group.pins.clear());
        self.bound(tables::FULL_READINGS, tables::MOST_READINGS, |group| group.readings.len(), |group| group.readings.clear());
        self.bound(tables::FULL_ATTEMPTS, tables::MOST_ATTEMPTS, |group| group.attempts.len(), |group| group.attempts.clear());
        self.bound(tables::FULL_NAMES, tables::MOST_NAMES, |group| group.names.len(), |group| group.names.clear());
        self.bound(tables::FULL_SERIALS, tables::MOST_SERIES, |group| group.serials.len(), |group| group.serials.clear());
    }

    fn bound(&mut self, table: &str, most: usize, len: fn(&Group) -> usize, clear: fn(&mut Group)) {
        if self.is_full(table) || self.groups.values().map(len).sum::<usize>() > most {
            self.full.insert(table.to_owned());
            self.groups.values_mut().for_each(clear);
        }
    }

    /// Whether a table was dropped because it was full.
    #[must_use]
    pub fn is_full(&self, table: &str) -> bool {
        self.full.contains(table)
    }

    /// All first tests.
    #[must_use]
    pub fn tally(&self) -> Tally {
        self.groups.values().fold(Tally::default(), |mut sum, group| {
            sum.merge(group.first);
            sum
        })
    }
}
