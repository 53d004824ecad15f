//! A response over evenly spaced frequencies from zero, which is what leads to time.

use num_complex::Complex64;

/// A transfer or reflection at 0 Hz, one step, two steps … of frequency.
#[derive(Clone, Debug, PartialEq)]
pub struct Spectrum {
    step: f64,
    values: Vec<Complex64>,
}

impl Spectrum {
    /// A spectrum from its step in Hz and its values, the first of them at 0 Hz. None without at least two values, with a
    /// step that isn't positive, or with a figure that isn't finite.
    #[must_use]
    pub fn new(step: f64, values: Vec<Complex64>) -> Option<Self> {
        let fit = step.is_finite() && step > 0.0 && values.len() > 1 && values.iter().all(|value| value.is_finite());
        fit.then_some(Spectrum { step, values })
    }

    /// The step in Hz; one over it is how long a record the spectrum gives, in seconds.
    #[must_use]
    pub fn step(&self) -> f64 {
        self.step
    }

    /// The values from 0 Hz up.
    #[must_use]
    pub fn values(&self) -> &[Complex64] {
        &self.values
    }

    /// Each frequency in Hz with its value.
    pub fn rows(&self) -> impl Iterator<Item = (f64, Complex64)> + '_ {
        self.values.iter().enumerate().map(|(at, value)| (at as f64 * self.step, *value))
    }
}

/// How much of a frequency in Hz an edge of Gaussian shape lets through; its step takes `rise` seconds from 10 to 90 %.
///
/// One at every frequency where the rise is zero.
#[must_use]
pub fn gaussian_edge(hertz: f64, rise: f64) -> f64 {
    // from 10 to 90 % a Gaussian takes 2 x 1.2815515655 of its standard deviations (quantile of the normal distribution)
    let sigma = rise / (2.0 * 1.281_551_565_544_600_4);
    let angle = std::f64::consts::TAU * hertz * sigma;
    (-0.5 * angle * angle).exp()
}
