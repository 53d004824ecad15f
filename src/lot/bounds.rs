//! What a sample proves of the lot behind it: exact binomial bounds (Clopper and Pearson 1934).
//!
//! The units tested are taken for a random sample of a lot that is much larger. For the whole of a small lot the bounds are on
//! the safe side.

use statrs::function::beta::beta_reg;

/// The value below which a beta distribution has this probability, to the last digits that its integral has.
fn beta_quantile(probability: f64, a: f64, b: f64) -> f64 {
    let (mut low, mut high) = (0.0_f64, 1.0_f64);
    // each step halves the interval; 1,100 reach the smallest number there is, and it ends long before
    for _ in 0..1100 {
        let middle = (low + high) / 2.0;
        if middle <= low || middle >= high {
            break;
        }
        if beta_reg(a, b, middle) < probability {
            low = middle;
        } else {
            high = middle;
        }
    }
    (low + high) / 2.0
}

fn usable(found: u64, of: u64, confidence: f64) -> bool {
    found <= of && of > 0 && confidence > 0.0 && confidence < 1.0
}

/// The one-sided upper bound of a share: with `found` of `of`, the true share is below it at this confidence (a number between
/// 0 and 1). 1 where nothing is known: without a sample, or with a confidence out of range.
///
/// ```
/// use backshell::lot::upper_bound;
/// // without any failure it is 1 - (1 - confidence)^(1/n)
/// assert!((upper_bound(0, 3, 0.95) - (1.0 - 0.05_f64.powf(1.0 / 3.0))).abs() < 1e-12);
/// ```
#[must_use]
pub fn upper_bound(found: u64, of: u64, confidence: f64) -> f64 {
    if !usable(found, of, confidence) || found == of {
        return 1.0;
    }
    if found == 0 {
        return -libm::expm1((-confidence).ln_1p() / of as f64);
    }
    beta_quantile(confidence, found as f64 + 1.0, (of - found) as f64)
}

/// The one-sided lower bound of a share; 0 where nothing is known.
#[must_use]
pub fn lower_bound(found: u64, of: u64, confidence: f64) -> f64 {
    if !usable(found, of, confidence) || found == 0 {
        return 0.0;
    }
    if found == of {
        return libm::exp((-confidence).ln_1p() / of as f64);
    }
    beta_quantile(1.0 - confidence, found as f64, (of - found) as f64 + 1.0)
}

/// The two-sided interval of a share: lower and upper end. Its upper end lies above the one-sided bound of the same confidence,
/// since it shares the doubt between both sides: say which of them is meant.
///
/// ```
/// use backshell::lot::clopper_pearson;
/// let (low, high) = clopper_pearson(0, 3, 0.95);
/// assert!(low == 0.0 && (high - 0.707_598).abs() < 1e-6);
/// ```
#[must_use]
pub fn clopper_pearson(found: u64, of: u64, confidence: f64) -> (f64, f64) {
    let one_sided = 1.0 - (1.0 - confidence) / 2.0;
    (lower_bound(found, of, one_sided), upper_bound(found, of, one_sided))
}

/// What a sample proves, as a sentence.
///
/// ```
/// assert_eq!(
///     backshell::lot::proves(0, 3, 0.95),
///     "3 good samples out of 3 allow up to 63 % defective at 95 % confidence (one-sided)"
/// );
/// ```
#[must_use]
pub fn proves(not_accepted: u64, units: u64, confidence: f64) -> String {
    let upper = upper_bound(not_accepted, units, confidence) * 100.0;
    let digits = usize::from(upper < 10.0) + usize::from(upper < 1.0);
    let good = units.saturating_sub(not_accepted);
    format!(
        "{good} good sample{} out of {units} allow{} up to {upper:.digits$} % defective at {} % confidence (one-sided)",
        if good == 1 { "" } else { "s" },
        if good == 1 { "s" } else { "" },
        (confidence * 1000.0).round() / 10.0,
    )
}
