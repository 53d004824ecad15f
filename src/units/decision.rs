//! Whether a value meets its limit, given how well it is known.
//!
//! The rule is that of JCGM 106:2012 with a guard band as wide as the expanded uncertainty, w = U with k = 2 (clause 4.2 of
//! ILAC-G8:09/2019): what is called conforming is so with a probability of at least 97.7 %, what is called failing likewise,
//! and whatever lies between is neither.

/// What may be said of a value and its limit.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[expect(clippy::exhaustive_enums, reason = "a limit is met, broken or left open; a caller must treat all three")]
pub enum Decision {
    /// The limit is met, even if the whole uncertainty goes against it.
    Conforms,
    /// The limit is broken, even if the whole uncertainty speaks for it.
    Fails,
    /// The uncertainty leaves it open, or a figure was no number.
    Inconclusive,
}

/// Decides whether a value lies at or below a limit.
///
/// All three in the same unit; the uncertainty is the expanded one, U = k·u with k = 2, and 0 gives a plain comparison.
/// Conforms if value + U ≤ limit, fails if value − U > limit, is else inconclusive: also where the value or the limit is
/// infinite or NaN, or the uncertainty isn't a finite number of at least 0.
///
/// The comparisons allow for the rounding of decimal figures (0.1 + 0.2 is above 0.3 in binary): sums that differ from
/// the limit by less than four parts in 2⁵² of the greatest of the three figures are at the limit, so at the edge a value
/// conforms, and doesn't fail.
///
/// ```
/// use backshell::units::{Decision, at_most};
/// assert_eq!(at_most(0.90, 1.0, 0.1), Decision::Conforms);
/// assert_eq!(at_most(0.95, 1.0, 0.1), Decision::Inconclusive);
/// assert_eq!(at_most(1.10, 1.0, 0.1), Decision::Inconclusive);
/// assert_eq!(at_most(1.11, 1.0, 0.1), Decision::Fails);
/// assert_eq!(at_most(f64::NAN, 1.0, 0.1), Decision::Inconclusive);
/// ```
#[must_use]
pub fn at_most(value: f64, limit: f64, expanded_uncertainty: f64) -> Decision {
    let guard = expanded_uncertainty;
    if !value.is_finite() || !limit.is_finite() || !guard.is_finite() || guard < 0.0 {
        return Decision::Inconclusive;
    }
    let rounding = 4.0 * f64::EPSILON * value.abs().max(limit.abs()).max(guard);
    if value + guard <= limit + rounding {
        Decision::Conforms
    } else if value - guard > limit + rounding {
        Decision::Fails
    } else {
        Decision::Inconclusive
    }
}

/// Decides whether a value lies at or above a limit: [`at_most`] mirrored.
///
/// Conforms if value − U ≥ limit, fails if value + U < limit, is else inconclusive.
///
/// ```
/// use backshell::units::{Decision, at_least};
/// assert_eq!(at_least(120e6, 100e6, 20e6), Decision::Conforms);
/// assert_eq!(at_least(110e6, 100e6, 20e6), Decision::Inconclusive);
/// assert_eq!(at_least(70e6, 100e6, 20e6), Decision::Fails);
/// ```
#[must_use]
pub fn at_least(value: f64, limit: f64, expanded_uncertainty: f64) -> Decision {
    at_most(-value, -limit, expanded_uncertainty)
}

/// The probability that the true value lies at or below the limit: Φ((limit − value)/u), for a normal spread about the
/// value and nothing known before (JCGM 106:2012, clause 7).
///
/// All three in the same unit; the uncertainty is the standard one, u (not U = 2u). Without uncertainty the answer is 1 or
/// 0. `None` if the value or the limit is infinite or NaN, or the uncertainty isn't a finite number of at least 0.
///
/// ```
/// use backshell::units::p_conform_at_most;
/// assert!((p_conform_at_most(0.95, 1.0, 0.05).unwrap() - 0.841_345).abs() < 1e-6);
/// assert_eq!(p_conform_at_most(0.95, 1.0, 0.0), Some(1.0));
/// assert_eq!(p_conform_at_most(0.95, 1.0, -0.1), None);
/// ```
#[must_use]
pub fn p_conform_at_most(value: f64, limit: f64, standard_uncertainty: f64) -> Option<f64> {
    let u = standard_uncertainty;
    if !value.is_finite() || !limit.is_finite() || !u.is_finite() || u < 0.0 {
        return None;
    }
    if u == 0.0 {
        return Some(if at_most(value, limit, 0.0) == Decision::Conforms { 1.0 } else { 0.0 });
    }
    Some(0.5 * libm::erfc((value - limit) / u * std::f64::consts::FRAC_1_SQRT_2))
}
