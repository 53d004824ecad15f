//! Process capability of a figure against its limit.

use statrs::distribution::{ContinuousCDF, Normal};

use super::spread::Spread;

/// Whether the figures look as if they were drawn from a normal distribution.
#[derive(Clone, Copy, Debug, PartialEq)]
#[non_exhaustive]
pub enum Normality {
    /// Fewer than 20 values: nothing can be said (common practice, no source).
    TooFew,
    /// The test of Jarque and Bera (from memory) finds nothing against it at 1 %; its p-value, by the chi-square distribution
    /// with two degrees of freedom, is only approximate below a few hundred values.
    NothingAgainst(f64),
    /// They don't; the share beyond a limit that follows from Cpk is then wrong.
    NotNormal(f64),
}

/// The capability of a figure.
#[derive(Clone, Copy, Debug, PartialEq)]
#[non_exhaustive]
pub struct Capability {
    /// How many values.
    pub n: u64,
    /// Their mean.
    pub mean: f64,
    /// Their standard deviation, with n − 1.
    pub deviation: f64,
    /// (upper − lower limit) / 6s, where there are both.
    pub cp: Option<f64>,
    /// The distance from the mean to the nearer limit, over 3s.
    pub cpk: f64,
    /// Its lower bound at 95 % confidence (Bissell's approximation, from memory).
    pub cpk_lower: f64,
    /// The share beyond the limits in parts per million, if the values are normal.
    pub ppm: f64,
    /// Whether they are.
    pub normality: Normality,
}

/// Cp and Cpk of values against a lower and an upper limit, in the unit of the values. None with fewer than two values, with
/// values that are all equal, or without a limit.
#[must_use]
pub fn capability(values: &Spread, lower: Option<f64>, upper: Option<f64>) -> Option<Capability> {
    let n = values.count();
    let mean = values.mean_of(|value| value)?;
    let moment = |power: i32| values.mean_of(|value| (value - mean).powi(power)).unwrap_or(0.0);
    let second = moment(2);
    if n < 2 || second <= 0.0 {
        return None;
    }
    let deviation = (second * n as f64 / (n - 1) as f64).sqrt();
    let normal = Normal::standard();
    let to = [upper.map(|upper| upper - mean), lower.map(|lower| mean - lower)];
    let nearest = to.into_iter().flatten().min_by(f64::total_cmp)?;
    let cpk = nearest / (3.0 * deviation);
    let (skewness, kurtosis) = (moment(3) / second.powf(1.5), moment(4) / (second * second) - 3.0);
    let p = (-(n as f64) / 6.0 * (skewness * skewness + kurtosis * kurtosis / 4.0) / 2.0).exp();
    Some(Capability {
        n,
        mean,
        deviation,
        cp: upper.zip(lower).map(|(upper, lower)| (upper - lower) / (6.0 * deviation)),
        cpk,
        cpk_lower: cpk_lower(cpk, n, 0.95),
        ppm: to.into_iter().flatten().map(|distance| 1e6 * normal.sf(distance / deviation)).sum(),
        normality: match n {
            0..20 => Normality::TooFew,
            _ if p >= 0.01 => Normality::NothingAgainst(p),
            _ => Normality::NotNormal(p),
        },
    })
}

/// The lower bound of Cpk from n values, for a confidence between 0 and 1: Cpk·(1 − z·√(1/(9n·Cpk²) + 1/(2(n − 1)))), Bissell's
/// approximation (from memory). Minus infinity with fewer than two values.
#[must_use]
pub fn cpk_lower(cpk: f64, n: u64, confidence: f64) -> f64 {
    if n < 2 || !(0.0..1.0).contains(&confidence) || confidence == 0.0 {
        return f64::NEG_INFINITY;
    }
    let (n, z) = (n as f64, Normal::standard().inverse_cdf(confidence));
    // the same with Cpk under the root, so that a mean on the limit divides by nothing
    cpk - z * (1.0 / (9.0 * n) + cpk * cpk / (2.0 * (n - 1.0))).sqrt()
}
