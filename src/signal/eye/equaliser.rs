//! A reference receiver: a filter that lifts high frequencies, and a decision that takes off what the bit before left.

use num_complex::Complex64;
use schemars::JsonSchema;
use serde::Serialize;

/// A continuous-time linear equaliser: one zero and some poles, as reference receivers of link standards describe it.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[non_exhaustive]
pub struct Ctle {
    /// The gain at 0 Hz in dB; negative where low frequencies are held back.
    pub dc_db: f64,
    /// The frequency of the zero in Hz.
    pub zero: f64,
    /// The frequencies of the poles in Hz.
    pub poles: Vec<f64>,
}

impl Ctle {
    /// An equaliser of this gain at 0 Hz in dB, with its zero and its poles in Hz.
    #[must_use]
    pub fn new(dc_db: f64, zero: f64, poles: Vec<f64>) -> Self {
        Self { dc_db, zero, poles }
    }

    /// The gain at a frequency in Hz: `G (1 + jf/z) / product of (1 + jf/p)`.
    #[must_use]
    pub fn gain(&self, hertz: f64) -> Complex64 {
        let factor = |corner: f64| Complex64::new(1.0, hertz / corner);
        let poles = self.poles.iter().fold(Complex64::ONE, |product, pole| product * factor(*pole));
        10f64.powf(self.dc_db / 20.0) * factor(self.zero) / poles
    }

    /// How much louder white noise of a bandwidth in Hz gets, as a ratio of root mean squares.
    #[must_use]
    pub fn noise_gain(&self, bandwidth: f64) -> f64 {
        const PARTS: usize = 64;
        let middle = |part: usize| (part as f64 + 0.5) / PARTS as f64 * bandwidth;
        let sum: f64 = (0..PARTS).map(|part| self.gain(middle(part)).norm_sqr()).sum();
        (sum / PARTS as f64).sqrt()
    }
}

/// Decision feedback of one tap.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
#[non_exhaustive]
pub struct Feedback {
    /// The most that it takes off for the bit before, as a part of the launched difference; zero for none.
    pub limit: f64,
}

impl Feedback {
    /// Feedback that takes off up to this part of the launched difference.
    #[must_use]
    pub fn new(limit: f64) -> Self {
        Self { limit }
    }

    /// What it takes off where the bit before leaves so much.
    #[must_use]
    pub fn tap(self, cursor: f64) -> f64 {
        let limit = if self.limit > 0.0 { self.limit } else { 0.0 };
        cursor.clamp(-limit, limit)
    }
}
