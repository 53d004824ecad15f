//! Serial numbers: in which order units were made, and where along it the faults lie.
//!
//! The order is that of the digits at the end of a unit's name, so that it doesn't depend on files or on how a lot was split.
//! Neighbouring serials share a bucket as soon as more than [`MOST`] buckets would be needed; how many share one depends only on
//! which serials there are.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::tables::pairs;

/// The most buckets of one series.
const MOST: usize = 256;

/// A unit's name as a series and a number: what stands before the digits at its end, and these. None without digits, or with
/// more than 18.
#[must_use]
pub fn serial(name: &str) -> Option<(&str, u64)> {
    let digits = name.bytes().rev().take_while(u8::is_ascii_digit).count();
    let (series, number) = name.split_at(name.len() - digits);
    if number.len() > 18 { None } else { Some((series, number.parse().ok()?)) }
}

/// Neighbouring serials.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[non_exhaustive]
pub struct Bucket {
    /// First tests of units.
    pub units: u64,
    /// Those that weren't accepted.
    pub not_accepted: u64,
    /// Those with a fault of each code.
    pub codes: BTreeMap<String, u64>,
}

/// One series of serial numbers.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[non_exhaustive]
pub struct Serials {
    /// A bucket holds 2 to the power of this many numbers.
    pub level: u32,
    /// The buckets that have a unit, by their first number divided by their size.
    #[serde(with = "pairs")]
    pub buckets: BTreeMap<u64, Bucket>,
}

impl Bucket {
    fn merge(&mut self, other: Bucket) {
        self.units += other.units;
        self.not_accepted += other.not_accepted;
        for (code, count) in other.codes {
            *self.codes.entry(code).or_default() += count;
        }
    }
}

impl Serials {
    /// Takes what is known of some serials.
    pub fn add(&mut self, number: u64, bucket: Bucket) {
        self.buckets.entry(number.checked_shr(self.level).unwrap_or(0)).or_default().merge(bucket);
        self.settle();
    }

    /// Takes another part of the series.
    pub fn merge(&mut self, other: Serials) {
        let level = self.level.max(other.level);
        self.coarsen(level);
        for (at, bucket) in other.buckets {
            self.buckets.entry(at.checked_shr(level - other.level).unwrap_or(0)).or_default().merge(bucket);
        }
        self.settle();
    }

    fn settle(&mut self) {
        while self.buckets.len() > MOST {
            self.coarsen(self.level + 1);
        }
    }

    fn coarsen(&mut self, level: u32) {
        let more = level - self.level;
        if more > 0 {
            for (at, bucket) in std::mem::take(&mut self.buckets) {
                self.buckets.entry(at.checked_shr(more).unwrap_or(0)).or_default().merge(bucket);
            }
            self.level = level;
        }
    }

    /// The first serial number of a bucket.
    #[must_use]
    pub fn first_of(&self, bucket: u64) -> u64 {
        bucket.checked_shl(self.level).unwrap_or(0)
    }
}
