//! How the figures of a lot are spread: counts of values, exact as long as few values differ.
//!
//! A meter gives a few hundred different values at most, and then every value is counted as it is. Where more values differ,
//! all are rounded down to fewer binary digits, as few as needed. How many digits go depends only on which values there are, so
//! that spreads merge to the same answer in any order.

use std::collections::BTreeMap;

use serde::{Deserialize, Deserializer, Serialize, Serializer};

/// The most different values that are kept.
const MOST: usize = 256;

/// How figures of zero and above are spread.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Spread {
    /// Binary digits that are dropped from the end of each value.
    dropped: u32,
    /// How often each value occurs; positive floating-point numbers sort as their bits do.
    counts: BTreeMap<u64, u64>,
}

impl Spread {
    /// Takes a value; one that is negative or no number is left out.
    pub fn add(&mut self, value: f64) {
        // a zero with a minus sign is a zero
        let value = value + 0.0;
        if value.is_finite() && value >= 0.0 {
            *self.counts.entry(value.to_bits() >> self.dropped).or_default() += 1;
            self.settle();
        }
    }

    /// Takes the values of another spread.
    pub fn merge(&mut self, other: &Spread) {
        let dropped = self.dropped.max(other.dropped);
        self.drop_to(dropped);
        for (key, count) in &other.counts {
            *self.counts.entry(key >> (dropped - other.dropped)).or_default() += count;
        }
        self.settle();
    }

    fn settle(&mut self) {
        while self.counts.len() > MOST {
            self.drop_to(self.dropped + 1);
        }
    }

    fn drop_to(&mut self, dropped: u32) {
        let more = dropped - self.dropped;
        if more > 0 {
            let counts = std::mem::take(&mut self.counts);
            for (key, count) in counts {
                *self.counts.entry(key >> more).or_default() += count;
            }
            self.dropped = dropped;
        }
    }

    /// How many values there are.
    #[must_use]
    pub fn count(&self) -> u64 {
        self.counts.values().sum()
    }

    /// The values with their counts, in order. Where digits were dropped, a value stands for a range and is its middle.
    pub fn values(&self) -> impl DoubleEndedIterator<Item = (f64, u64)> {
        let half = if self.dropped == 0 { 0 } else { 1_u64 << (self.dropped - 1) };
        self.counts.iter().map(move |(key, count)| (f64::from_bits((key << self.dropped) + half), *count))
    }

    /// Whether every value is as it was measured.
    #[must_use]
    pub fn is_exact(&self) -> bool {
        self.dropped == 0
    }

    /// The middle value; of an even number, the mean of the two in the middle. None without values.
    #[must_use]
    pub fn median(&self) -> Option<f64> {
        median_of(self.values(), self.count())
    }

    /// The median of the distances from a value, without any factor.
    #[must_use]
    pub fn median_distance(&self, from: f64) -> Option<f64> {
        let mut distances: Vec<(f64, u64)> = self.values().map(|(value, count)| ((value - from).abs(), count)).collect();
        distances.sort_by(|a, b| a.0.total_cmp(&b.0));
        median_of(distances.into_iter(), self.count())
    }

    /// The mean distance from a value.
    #[must_use]
    pub fn mean_distance(&self, from: f64) -> Option<f64> {
        self.mean_of(|value| (value - from).abs())
    }

    /// The mean of a function of the values; none without values.
    #[must_use]
    pub fn mean_of(&self, of: impl Fn(f64) -> f64) -> Option<f64> {
        let n = self.count();
        (n > 0).then(|| self.values().map(|(value, count)| of(value) * count as f64).sum::<f64>() / n as f64)
    }

    /// The least and the greatest value.
    #[must_use]
    pub fn extremes(&self) -> Option<(f64, f64)> {
        Some((self.values().next()?.0, self.values().next_back()?.0))
    }
}

fn median_of(values: impl Iterator<Item = (f64, u64)>, n: u64) -> Option<f64> {
    let (low, high) = (n.checked_sub(1)? / 2, n / 2);
    let (mut seen, mut lower) = (0, None);
    for (value, count) in values {
        seen += count;
        if lower.is_none() && seen > low {
            lower = Some(value);
        }
        if seen > high {
            return lower.map(|lower| (lower + value) / 2.0);
        }
    }
    None
}

#[derive(Serialize, Deserialize)]
struct Written {
    dropped: u32,
    counts: Vec<(f64, u64)>,
}

impl Serialize for Spread {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let counts = self.counts.iter().map(|(key, count)| (f64::from_bits(key << self.dropped), *count)).collect();
        Written { dropped: self.dropped, counts }.serialize(serializer)
    }
}

impl<'de> Deserialize<'de> for Spread {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let Written { dropped, counts } = Written::deserialize(deserializer)?;
        if dropped > 62 || counts.iter().any(|(value, _)| !value.is_finite() || value.is_sign_negative()) {
            return Err(serde::de::Error::custom("a spread needs values of zero and above, and at most 62 dropped digits"));
        }
        let mut spread = Spread { dropped, counts: BTreeMap::new() };
        for (value, count) in counts {
            let sum: &mut u64 = spread.counts.entry(value.to_bits() >> dropped).or_default();
            *sum = sum.saturating_add(count);
        }
        spread.settle();
        Ok(spread)
    }
}
