//! What a network analyser says of a pair, turned into loss, skew, impedance along the cable, an eye and link rates.
//!
//! Knows no cables and no netlists: a Touchstone file in, figures out. Frequencies are in hertz, times in seconds,
//! impedances in ohm, losses in decibels and positive where something is lost.

mod network;
mod spectrum;
pub mod video;

pub use network::Network;
pub use num_complex::Complex64;
pub use spectrum::{Spectrum, gaussian_edge};
