//! Whether faults lie anywhere along the serial numbers: from one serial on, up to one, more and more, or in a stretch.

use statrs::distribution::{ContinuousCDF, Normal};
use statrs::function::factorial::ln_binomial;

use super::group::Group;
use super::serials::{Bucket, Serials};

/// Fewer units with a fault than this show no drift (common practice, no source).
const FEWEST: u64 = 3;

/// The trend test takes the normal distribution for its own from so many units with a fault, and so many without (common
/// practice, no source).
const FEWEST_FOR_TREND: u64 = 10;

/// How faults lie along the serial numbers.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub enum DriftKind {
    /// More from this serial number on.
    From(u64),
    /// More before this serial number.
    Before(u64),
    /// More and more towards higher numbers.
    Rising,
    /// Fewer and fewer towards higher numbers.
    Falling,
    /// Together in stretches.
    Stretches,
}

/// A drift that was looked for, with what was found.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub struct Drift {
    /// How they lie.
    pub kind: DriftKind,
    /// The code; none for all units that weren't accepted.
    pub code: Option<String>,
    /// What stands before the serial number.
    pub series: String,
    /// Units with the fault, and all units, where there are more.
    pub inside: (u64, u64),
    /// The same elsewhere.
    pub outside: (u64, u64),
    /// The p-value, before it is corrected for having looked at other places.
    pub p: f64,
    /// At how many places was looked.
    pub looks: u64,
}

/// The probability that a random sample of `n` from `lot` units with `bad` bad ones has at least `found` of them.
fn at_least(lot: u64, bad: u64, n: u64, found: u64) -> f64 {
    let (bad, n) = (bad.min(lot), n.min(lot));
    let most = n.min(bad);
    if found == 0 {
        return 1.0;
    }
    let all = ln_binomial(lot, n);
    let mut sum = 0.0;
    for found in found.max(n.saturating_sub(lot - bad))..=most {
        let term = (ln_binomial(bad, found) + ln_binomial(lot - bad, n - found) - all).exp();
        sum += term;
        if term < sum * 1e-17 {
            break; // beyond the middle the terms only fall
        }
    }
    sum.clamp(0.0, 1.0)
}

/// Where a series of (units, units with the fault) falls best into two parts: the index of the first entry of the later part,
/// whether the later part has more, and the exact p-value of that part by the hypergeometric distribution, not corrected for the
/// `len − 1` splits and two directions that were looked at. None where there is nothing to split.
#[must_use]
pub fn split_test(series: &[(u64, u64)]) -> Option<(usize, bool, f64)> {
    let units: u64 = series.iter().map(|(units, _)| units).sum();
    let bad: u64 = series.iter().map(|(_, bad)| bad).sum();
    let (mut before, mut bad_before) = (0, 0);
    let mut best: Option<(usize, bool, f64)> = None;
    for (at, (here, bad_here)) in series.iter().enumerate() {
        if at > 0 {
            let (after, bad_after) = (units - before, bad - bad_before);
            let later = u128::from(bad_after) * u128::from(before) > u128::from(bad_before) * u128::from(after);
            let (n, found) = if later { (after, bad_after) } else { (before, bad_before) };
            let p = at_least(units, bad, n, found);
            if best.is_none_or(|(.., least)| p < least) {
                best = Some((at, later, p));
            }
        }
        before += here;
        bad_before += bad_here;
    }
    best
}

/// The trend of Cochran (1954) and Armitage (1955) over equally spaced entries of (units, units with the fault), as a standard
/// normal deviate with the exact variance of drawing without putting back: above zero where there are more at the end. None where
/// all units, or none, have the fault, or all are in one entry.
#[must_use]
pub fn trend_z(series: &[(u64, f64, u64)]) -> Option<f64> {
    let units: f64 = series.iter().map(|(units, ..)| *units as f64).sum();
    let bad: f64 = series.iter().map(|(.., bad)| *bad as f64).sum();
    let mean = series.iter().map(|(units, at, _)| *units as f64 * at).sum::<f64>() / units;
    let sum: f64 = series.iter().map(|(.., at, bad)| *bad as f64 * (at - mean)).sum();
    let squares: f64 = series.iter().map(|(units, at, _)| *units as f64 * (at - mean).powi(2)).sum();
    let variance = bad * (units - bad) / units / (units - 1.0) * squares;
    (variance > 0.0).then(|| sum / variance.sqrt())
}

/// The probability of at most this many runs among so many units with a fault and so many without, in random order (Wald and
/// Wolfowitz 1940, exact). 1 where there is only one kind.
///
/// ```
/// use backshell::lot::runs_lower_tail;
/// // five of each: 2 of the 252 orders have two runs
/// assert!((runs_lower_tail(5, 5, 2) - 2.0 / 252.0).abs() < 1e-12);
/// ```
#[must_use]
pub fn runs_lower_tail(bad: u64, good: u64, runs: u64) -> f64 {
    if bad == 0 || good == 0 {
        return 1.0;
    }
    let all = ln_binomial(bad + good, bad);
    let ways = |a: u64, b: u64| {
        if a > bad - 1 || b > good - 1 { 0.0 } else { (ln_binomial(bad - 1, a) + ln_binomial(good - 1, b) - all).exp() }
    };
    let exactly = |runs: u64| match (runs / 2, runs % 2) {
        (half, 0) => 2.0 * ways(half - 1, half - 1),
        (half, _) => ways(half, half - 1) + ways(half - 1, half),
    };
    (2..=runs).map(exactly).sum::<f64>().min(1.0)
}

/// Everything that was looked for along the serial numbers of a group.
pub(super) fn drifts(group: &Group) -> Vec<Drift> {
    let mut found = Vec::new();
    for (series, serials) in &group.serials {
        let all: Vec<Entry> = serials.buckets.iter().map(|(at, bucket)| (*at, bucket.units, bucket.not_accepted)).collect();
        along(series, serials, None, &all, &mut found);
        for code in group.codes.keys() {
            let count = |bucket: &Bucket| bucket.codes.get(code).copied().unwrap_or(0);
            let own: Vec<Entry> = serials.buckets.iter().map(|(at, bucket)| (*at, bucket.units, count(bucket))).collect();
            // where a code is all there is, it was looked at already
            if own != all {
                along(series, serials, Some(code), &own, &mut found);
            }
        }
    }
    found
}

/// A bucket, its units, and those that have the fault.
type Entry = (u64, u64, u64);

fn along(series: &str, serials: &Serials, code: Option<&str>, entries: &[Entry], found: &mut Vec<Drift>) {
    let units: u64 = entries.iter().map(|(_, units, _)| units).sum();
    let bad: u64 = entries.iter().map(|(.., bad)| bad).sum();
    let good = units - bad.min(units);
    if bad < FEWEST || good == 0 || entries.len() < 2 {
        return;
    }
    let drift = |kind, inside, outside, p, looks| Drift {
        kind,
        code: code.map(str::to_owned),
        series: series.to_owned(),
        inside,
        outside,
        p,
        looks,
    };
    let counts: Vec<(u64, u64)> = entries.iter().map(|(_, units, bad)| (*units, *bad)).collect();
    if let Some((at, later, p)) = split_test(&counts) {
        let sum = |part: &[(u64, u64)]| part.iter().fold((0, 0), |(bad, units), (u, b)| (bad + b, units + u));
        let (before, after) = (sum(&counts[..at]), sum(&counts[at..]));
        let number = serials.first_of(entries[at].0);
        let looks = 2 * (counts.len() as u64 - 1);
        found.push(if later {
            drift(DriftKind::From(number), after, before, p, looks)
        } else {
            drift(DriftKind::Before(number), before, after, p, looks)
        });
    }
    if bad >= FEWEST_FOR_TREND && good >= FEWEST_FOR_TREND {
        let spaced: Vec<(u64, f64, u64)> = entries.iter().map(|(at, units, bad)| (*units, *at as f64, *bad)).collect();
        if let Some(z) = trend_z(&spaced) {
            let p = (2.0 * Normal::standard().sf(z.abs())).min(1.0);
            let kind = if z > 0.0 { DriftKind::Rising } else { DriftKind::Falling };
            found.push(drift(kind, (bad, units), (0, 0), p, 1));
        }
    }
    if serials.level == 0 && entries.iter().all(|(_, units, _)| *units == 1) {
        let runs = 1 + entries.windows(2).filter(|pair| (pair[0].2 > 0) != (pair[1].2 > 0)).count() as u64;
        found.push(drift(DriftKind::Stretches, (bad, units), (runs, 0), runs_lower_tail(bad, good, runs), 1));
    }
}
