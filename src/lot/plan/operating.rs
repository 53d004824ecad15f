//! The operating characteristic of a single sampling plan: how likely a lot is accepted, by how bad it is.

use statrs::function::beta::beta_reg;
use statrs::function::factorial::ln_binomial;

use super::super::bounds::upper_bound;

/// Up to this many units, and where the sample is more than a tenth of it, a lot is counted exactly (common practice, no source).
const EXACT_UP_TO: u64 = 1_000_000;

/// The probability that a sample of `n` has at most `accept` bad units, each being bad with probability `share`.
#[must_use]
pub fn accept_binomial(n: u64, accept: u64, share: f64) -> f64 {
    let share = share.clamp(0.0, 1.0);
    if accept >= n || share == 0.0 {
        1.0
    } else if share == 1.0 {
        0.0
    } else {
        beta_reg((n - accept) as f64, accept as f64 + 1.0, 1.0 - share)
    }
}

/// The probability that a sample of `n` from a lot of `lot` with `bad` bad units has at most `accept` of them.
#[must_use]
pub fn accept_hypergeometric(lot: u64, bad: u64, n: u64, accept: u64) -> f64 {
    let (bad, n) = (bad.min(lot), n.min(lot));
    if accept >= n.min(bad) {
        return 1.0;
    }
    let least = n.saturating_sub(lot - bad);
    let all = ln_binomial(lot, n);
    let exactly = |found: u64| (ln_binomial(bad, found) + ln_binomial(lot - bad, n - found) - all).exp();
    (least..=accept).map(exactly).sum::<f64>().clamp(0.0, 1.0)
}

/// The probability that a lot is accepted in which this share is bad: exactly counted for a small lot, with the number of bad
/// units rounded to the nearest; else by the binomial distribution.
#[must_use]
pub fn accept_lot(lot: Option<u64>, n: u64, accept: u64, share: f64) -> f64 {
    match lot.filter(|lot| *lot <= EXACT_UP_TO && n.saturating_mul(10) > *lot) {
        Some(lot) => {
            let bad = (share.clamp(0.0, 1.0) * lot as f64).round();
            accept_hypergeometric(lot, bad as u64, n, accept)
        }
        None => accept_binomial(n, accept, share),
    }
}

/// The share of bad units with which a large lot is accepted with this probability (between 0 and 1).
#[must_use]
pub fn quality_at(n: u64, accept: u64, probability: f64) -> f64 {
    // the lot is accepted with at most `accept` of n: the same share is the upper bound from that sample
    upper_bound(accept, n, 1.0 - probability)
}

/// What a plan risks.
#[derive(Clone, Copy, Debug, PartialEq)]
#[non_exhaustive]
pub struct Risks {
    /// The probability that a lot as good as the AQL says is rejected: the producer's risk.
    pub producer: f64,
    /// The share of bad units with which a lot is still accepted one time in ten: the consumer's risk quality.
    pub consumer_quality: f64,
    /// The share with which it is accepted every second time.
    pub even_quality: f64,
}

/// The risks of a plan; the AQL in percent.
#[must_use]
pub fn risks(lot: Option<u64>, n: u64, accept: u64, aql: f64) -> Risks {
    Risks {
        producer: 1.0 - accept_lot(lot, n, accept, aql / 100.0),
        consumer_quality: quality_at(n, accept, 0.10),
        even_quality: quality_at(n, accept, 0.50),
    }
}
