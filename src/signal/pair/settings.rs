//! What an analysis is told beside the file.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::step::Window;

/// What an analysis of a pair is told beside the file.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields, rename_all = "kebab-case")]
#[non_exhaustive]
pub struct Settings {
    /// The differential reference to see the pair from, in ohm: 100, 90 for USB, 85 for Type-C. Without it, twice that of the
    /// first port of the file. The common-mode reference is a quarter of it.
    pub differential_ohm: Option<f64>,
    /// The length of the cable in metres.
    pub length_m: Option<f64>,
    /// The velocity in the cable as a share of that of light, above 0 and at most 1.
    pub velocity_factor: Option<f64>,
    /// The resistance of both conductors in series in ohm, from a DC measurement.
    pub loop_ohm: Option<f64>,
    /// The rise of the edge for the impedance along the cable, 10 to 90 %, in seconds. Without it 100 ps, or one over the
    /// highest frequency where that is slower.
    pub reflection_rise_s: Option<f64>,
    /// The rise of the edge for delay and skew, 10 to 90 %, in seconds. Without it 60 ps, or one over the highest frequency
    /// where that is slower.
    pub transmission_rise_s: Option<f64>,
    /// The band over which skew and phase delay are taken, in Hz; 1 to 5 GHz unless said.
    pub skew_band_hz: [f64; 2],
    /// The band over which the loss is fitted, in Hz; 50 MHz to 12 GHz unless said.
    pub fit_band_hz: [f64; 2],
    /// The Nyquist frequencies at which the fitted loss is read, in Hz; 2.5 and 5 GHz unless said. The group delay is read at
    /// the first.
    pub nyquist_hz: Vec<f64>,
    /// What the spectrum is weighted with beside the edge.
    pub window: Window,
}

impl Default for Settings {
    fn default() -> Self {
        Settings {
            differential_ohm: None,
            length_m: None,
            velocity_factor: None,
            loop_ohm: None,
            reflection_rise_s: None,
            transmission_rise_s: None,
            skew_band_hz: [1e9, 5e9],
            fit_band_hz: [50e6, 12e9],
            nyquist_hz: vec![2.5e9, 5e9],
            window: Window::None,
        }
    }
}

/// The velocity of light in vacuum, in m/s.
pub(in crate::signal) const LIGHT: f64 = 299_792_458.0;

impl Settings {
    /// The differential reference to see the pair from, in ohm: 100, 90 for USB, 85 for Type-C. Without it, twice that of the
    /// first port of the file. The common-mode reference is a quarter of it.
    #[must_use]
    pub fn with_differential_ohm(self, differential_ohm: f64) -> Self {
        Self { differential_ohm: Some(differential_ohm), ..self }
    }

    /// The length of the cable in metres.
    #[must_use]
    pub fn with_length_m(self, length_m: f64) -> Self {
        Self { length_m: Some(length_m), ..self }
    }

    /// The velocity in the cable as a share of that of light, above 0 and at most 1.
    #[must_use]
    pub fn with_velocity_factor(self, velocity_factor: f64) -> Self {
        Self { velocity_factor: Some(velocity_factor), ..self }
    }

    /// The resistance of both conductors in series in ohm, from a DC measurement.
    #[must_use]
    pub fn with_loop_ohm(self, loop_ohm: f64) -> Self {
        Self { loop_ohm: Some(loop_ohm), ..self }
    }

    /// The rise of the edge for the impedance along the cable, 10 to 90 %, in seconds. Without it 100 ps, or one over the
    /// highest frequency where that is slower.
    #[must_use]
    pub fn with_reflection_rise_s(self, reflection_rise_s: f64) -> Self {
        Self { reflection_rise_s: Some(reflection_rise_s), ..self }
    }

    /// The rise of the edge for delay and skew, 10 to 90 %, in seconds. Without it 60 ps, or one over the highest frequency
    /// where that is slower.
    #[must_use]
    pub fn with_transmission_rise_s(self, transmission_rise_s: f64) -> Self {
        Self { transmission_rise_s: Some(transmission_rise_s), ..self }
    }

    /// The band over which skew and phase delay are taken, in Hz; 1 to 5 GHz unless said.
    #[must_use]
    pub fn with_skew_band_hz(self, skew_band_hz: [f64; 2]) -> Self {
        Self { skew_band_hz, ..self }
    }

    /// The band over which the loss is fitted, in Hz; 50 MHz to 12 GHz unless said.
    #[must_use]
    pub fn with_fit_band_hz(self, fit_band_hz: [f64; 2]) -> Self {
        Self { fit_band_hz, ..self }
    }

    /// The Nyquist frequencies at which the fitted loss is read, in Hz; 2.5 and 5 GHz unless said. The group delay is read at
    /// the first.
    #[must_use]
    pub fn with_nyquist_hz(self, nyquist_hz: Vec<f64>) -> Self {
        Self { nyquist_hz, ..self }
    }

    /// What the spectrum is weighted with beside the edge.
    #[must_use]
    pub fn with_window(self, window: Window) -> Self {
        Self { window, ..self }
    }

    /// Whether every figure is one that can be meant; else what is wrong, in words.
    ///
    /// # Errors
    /// A length, velocity, resistance or edge that isn't positive and finite, a velocity above that of light, a band that
    /// doesn't rise.
    pub fn check(&self) -> Result<(), String> {
        let figures = [
            ("the differential reference in ohm", self.differential_ohm),
            ("the length in metres", self.length_m),
            ("the velocity factor", self.velocity_factor),
            ("the edge for reflection in seconds", self.reflection_rise_s),
            ("the edge for transmission in seconds", self.transmission_rise_s),
        ];
        for (what, value) in figures {
            if let Some(value) = value.filter(|value| !(value.is_finite() && *value > 0.0)) {
                return Err(format!("{value} can't be {what}: it must be above 0."));
            }
        }
        if self.velocity_factor.is_some_and(|factor| factor > 1.0) {
            return Err("A velocity factor above 1 would be faster than light.".to_owned());
        }
        if let Some(ohm) = self.loop_ohm.filter(|ohm| !(ohm.is_finite() && *ohm >= 0.0)) {
            return Err(format!("{ohm} can't be the loop resistance in ohm: it must be at least 0."));
        }
        let rises = |band: [f64; 2]| band[0] >= 0.0 && band[0] < band[1] && band[1].is_finite();
        if !rises(self.skew_band_hz) || !rises(self.fit_band_hz) {
            return Err("A band goes from a lower to a higher frequency in hertz.".to_owned());
        }
        if self.nyquist_hz.iter().any(|hertz| !(hertz.is_finite() && *hertz > 0.0)) {
            return Err("A Nyquist frequency is above 0 Hz.".to_owned());
        }
        Ok(())
    }

    /// A rise that was given, else the usual one, or one over the highest frequency where that is slower: there the edge has
    /// faded to 5 %.
    pub(in crate::signal) fn rise(given: Option<f64>, usual: f64, highest_hz: f64) -> f64 {
        given.unwrap_or_else(|| usual.max(1.0 / highest_hz.max(1e-3)))
    }
}
