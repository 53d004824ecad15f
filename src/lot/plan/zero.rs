//! Zero-acceptance plans: how many good units in a row prove a quality.

use std::fmt;

use super::operating::{accept_binomial, accept_hypergeometric};

/// A plan that proves, with this confidence, that at most this share is bad.
#[derive(Clone, Copy, Debug, PartialEq)]
#[non_exhaustive]
pub struct Zero {
    /// How many units to test.
    pub n: u64,
    /// How many of them may not be accepted: none, in a plan of this name.
    pub accept: u64,
    /// The confidence, between 0 and 1.
    pub confidence: f64,
    /// The share, between 0 and 1.
    pub quality: f64,
    /// Whether the whole lot has to be tested.
    pub every_unit: bool,
}

impl fmt::Display for Zero {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let percent = |share: f64| (share * 1e5).round() / 1e3;
        write!(
            f,
            "zero acceptance, at most {} % bad at {} % confidence: test {}, accept with {}",
            percent(self.quality),
            percent(self.confidence),
            self.n,
            self.accept
        )
    }
}

fn usable(confidence: f64, quality: f64) -> bool {
    confidence > 0.0 && confidence < 1.0 && quality > 0.0 && quality < 1.0
}

/// How many units of a large lot must be tested, with `accept` failures allowed. None where confidence or quality isn't between
/// 0 and 1, or more than a thousand million units would be needed.
///
/// ```
/// use backshell::lot::plan::zero_acceptance;
/// assert_eq!(zero_acceptance(0, 0.95, 0.05).unwrap().n, 59);
/// assert_eq!(zero_acceptance(1, 0.95, 0.05).unwrap().n, 93);
/// ```
#[must_use]
pub fn zero_acceptance(accept: u64, confidence: f64, quality: f64) -> Option<Zero> {
    if !usable(confidence, quality) {
        return None;
    }
    let proves = |n: u64| accept_binomial(n, accept, quality) <= (1.0 - confidence) * (1.0 + 1e-12);
    let n = least(accept.checked_add(1)?, 1_000_000_000, proves)?;
    Some(Zero { n, accept, confidence, quality, every_unit: false })
}

/// The same for a lot of this size, without a failure: exact, and never more than the lot. The lot that has to be found out is
/// the one with just more bad units than the quality allows.
#[must_use]
pub fn zero_acceptance_of_lot(lot: u64, confidence: f64, quality: f64) -> Option<Zero> {
    if !usable(confidence, quality) || lot == 0 {
        return None;
    }
    // one more than are allowed; a hair is for the rounding of the product
    let bad = ((quality * lot as f64 + 1e-9).floor() as u64 + 1).min(lot);
    let n = least(1, lot, |n| accept_hypergeometric(lot, bad, n, 0) <= (1.0 - confidence) * (1.0 + 1e-12)).unwrap_or(lot);
    Some(Zero { n, accept: 0, confidence, quality, every_unit: n >= lot })
}

/// The least number from `from` to `most` that a test takes, which takes all above one that it takes.
fn least(from: u64, most: u64, test: impl Fn(u64) -> bool) -> Option<u64> {
    if from > most || !test(most) {
        return None;
    }
    let (mut low, mut high) = (from, most);
    while low < high {
        let middle = low + (high - low) / 2;
        if test(middle) {
            high = middle;
        } else {
            low = middle + 1;
        }
    }
    Some(low)
}
