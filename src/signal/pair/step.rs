//! The answer to a step over time, by the inverse Fourier transform.
//!
//! The step is the running integral of the band-limited periodic impulse response, with an edge of Gaussian shape whose centre
//! is at time zero. For values X(k) at k·Δf, K(k) = X(k) G(k)/(j 2π k Δf), it is
//! y(t) = Δf [X(0)(t − t₀) + 2 Re Σ K(k)(e^{j2πkΔft} − e^{j2πkΔft₀})], t₀ where the integral starts. On even times that sum is an
//! inverse transform, padded with zeros, so that nothing is interpolated.

use std::sync::Arc;

use num_complex::Complex64;
use rustfft::{Fft, FftPlanner};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::signal::{Curve, Spectrum, gaussian_edge};

/// What the spectrum is weighted with beside the edge, to keep the end of the sweep from ringing.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum Window {
    /// Nothing: the edge alone. Right where the edge has faded before the sweep ends.
    #[default]
    None,
    /// The Kaiser window of this parameter; 6 is usual. It slows the edge, moves peaks by some tenths of an ohm, and lets a
    /// short sweep be read at all.
    Kaiser(f64),
}

impl Window {
    /// The weight at a share of the highest frequency, from 0 to 1.
    #[must_use]
    pub fn weight(self, share: f64) -> f64 {
        match self {
            Window::None => 1.0,
            Window::Kaiser(beta) => {
                let beta = if beta.is_finite() { beta.clamp(0.0, 100.0) } else { 0.0 };
                bessel_i0(beta * (1.0 - share * share).max(0.0).sqrt()) / bessel_i0(beta)
            }
        }
    }
}

/// The modified Bessel function of order 0, by its power series.
fn bessel_i0(x: f64) -> f64 {
    let quarter = x * x / 4.0;
    let (mut term, mut sum) = (1.0, 1.0);
    for k in 1..500 {
        term *= quarter / (f64::from(k) * f64::from(k));
        sum += term;
        if term < sum * 1e-17 {
            break;
        }
    }
    sum
}

/// Times aren't made finer than this many in a record, which still is below a picosecond for a record of a microsecond.
const MOST_TIMES: usize = 1 << 21;

/// Makes step responses; keeps the plan of the transform from one to the next.
#[derive(Default)]
pub struct Steps {
    planner: Option<FftPlanner<f64>>,
    plan: Option<Arc<dyn Fft<f64>>>,
    scratch: Vec<Complex64>,
    buffer: Vec<Complex64>,
    /// What the spectra are weighted with beside the edge.
    pub window: Window,
}

impl Steps {
    /// Steps with a window.
    #[must_use]
    pub fn new(window: Window) -> Self {
        Steps { window, ..Steps::default() }
    }

    /// The answer of a spectrum to a unit step whose edge takes `rise` seconds from 10 to 90 %, centred at time zero.
    ///
    /// Times run from shortly before zero (half a nanosecond, or two rises if that is more, at most a quarter of the record)
    /// to the end of the record, at least thirty-two of them in a rise, or eight in a period of the highest frequency.
    pub fn response(&mut self, spectrum: &Spectrum, rise: f64, y_axis: &'static str) -> Curve {
        let step = spectrum.step();
        let record = 1.0 / step;
        let values = spectrum.values();
        let period = record / (values.len() - 1) as f64;
        let finest = if rise > 0.0 { (rise / 32.0).min(period / 8.0) } else { period / 8.0 };
        let wanted = (2 * values.len()).max((record / finest).min(MOST_TIMES as f64) as usize);
        let count = wanted.next_power_of_two().min(MOST_TIMES.max(2 * values.len()));
        let spacing = record / count as f64;
        let lead = ((0.5e-9_f64).max(2.0 * rise).min(record / 4.0) / spacing).round() as usize;

        self.fill(spectrum, rise, count);
        self.transform();
        let mean = values[0].re;
        // the plan runs the times from 0; those before it stand at the end
        let from_start = |at: usize| self.buffer[(at + count - lead) % count].re * 2.0;
        let begin = from_start(0);
        let place = |at: usize| (at as f64 - lead as f64) * spacing;
        let height = |at: usize| step * (mean * at as f64 * spacing + from_start(at) - begin);
        Curve::new("time, s", y_axis, (0..count).map(place).collect(), (0..count).map(height).collect())
    }

    fn fill(&mut self, spectrum: &Spectrum, rise: f64, count: usize) {
        self.buffer.clear();
        self.buffer.resize(count, Complex64::ZERO);
        let highest = (spectrum.values().len() - 1) as f64;
        for (at, (hertz, value)) in spectrum.rows().enumerate().skip(1) {
            let weight = gaussian_edge(hertz, rise) * self.window.weight(at as f64 / highest);
            // 1/(j ω): a quarter turn back
            let integral = Complex64::new(value.im, -value.re) / (std::f64::consts::TAU * hertz);
            self.buffer[at % count] += integral * weight;
        }
    }

    fn transform(&mut self) {
        let count = self.buffer.len();
        let plan = match self.plan.take() {
            Some(plan) if plan.len() == count => plan,
            _ => self.planner.get_or_insert_with(FftPlanner::new).plan_fft_inverse(count),
        };
        self.scratch.resize(plan.get_inplace_scratch_len(), Complex64::ZERO);
        plan.process_with_scratch(&mut self.buffer, &mut self.scratch);
        self.plan = Some(plan);
    }
}
