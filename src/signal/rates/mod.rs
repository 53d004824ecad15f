//! Link rates: which of them a cable's lanes carry.
//!
//! A ladder is the list of rates that a kind of link can fall back through, from the slowest up. Fast serial links are judged
//! by the eye behind a reference receiver, twisted-pair Ethernet by limit lines over frequency. Each figure of a ladder stands
//! in its file under `data/` with its source. Whatever comes out is an engineering estimate: certification measures with
//! fixtures, patterns and equipment that a file of scattering parameters knows nothing of.

mod grade;
mod ladder;
mod lane;
mod limits;
mod lines;
mod receiver;
mod words;

pub use grade::{Grade, LaneCount, LaneResult, RateResult, RatedResult, eye_picture, grade};
pub use ladder::{Equaliser, EyeRule, Judged, Ladder, LineRule, LossRule, Rate, ladder, ladders, read};
pub use lane::Lane;
pub use limits::{Limits, Quantity};
pub use lines::LineMargin;
pub use receiver::{Eye, Margins, Received};

use schemars::JsonSchema;
use serde::Serialize;

use super::Spectrum;

/// How every judgement of this room is to be read.
pub const STANDING: &str = "an engineering estimate from scattering parameters, no certification; the boards of the equipment count \
                            as a fixed allowance of loss, and no transmit emphasis is reckoned with";

/// Whether a lane, or a cable, carries a rate.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case", tag = "answer", content = "why")]
#[expect(clippy::exhaustive_enums, reason = "yes, no or not known; a caller must treat all three")]
pub enum Carries {
    /// It does.
    Yes,
    /// It doesn't, and what is missed.
    No(String),
    /// That can't be told from what was measured, and why.
    NotJudged(String),
}

impl Carries {
    /// Whether the answer is [`Carries::Yes`].
    #[must_use]
    pub fn yes(&self) -> bool {
        *self == Carries::Yes
    }
}

/// A value over frequency read at a frequency in Hz, on a straight line between two rows. None outside the file.
fn read_at(spectrum: &Spectrum, hertz: f64, of: impl Fn(num_complex::Complex64) -> f64) -> Option<f64> {
    let place = hertz / spectrum.step();
    let last = spectrum.values().len() - 1;
    if !(0.0..=last as f64 * (1.0 + 1e-9)).contains(&place) {
        return None;
    }
    let row = (place.floor() as usize).min(last);
    let low = of(*spectrum.values().get(row)?);
    let high = spectrum.values().get(row + 1).map_or(low, |value| of(*value));
    Some(low + (place - row as f64).clamp(0.0, 1.0) * (high - low))
}

/// The loss of a transfer in dB at a frequency in Hz.
fn loss(spectrum: &Spectrum, hertz: f64) -> Option<f64> {
    read_at(spectrum, hertz, |value| decibels(value.norm()))
}

/// A ratio of amplitudes as a loss in dB, at most 300.
fn decibels(ratio: f64) -> f64 {
    (-20.0 * ratio.max(1e-15).log10()).clamp(-300.0, 300.0)
}
