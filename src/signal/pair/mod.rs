//! The figures of pairs: loss, delay, skew, impedance along the cable, crosstalk, and how good the measurement is.

pub(in crate::signal) mod analysis;
pub(in crate::signal) mod crosstalk;
pub(in crate::signal) mod curve;
pub(in crate::signal) mod dc;
pub(in crate::signal) mod delay;
pub(in crate::signal) mod fit;
pub(in crate::signal) mod mixed;
pub(in crate::signal) mod one_pair;
pub(in crate::signal) mod phase;
pub(in crate::signal) mod profile;
pub(in crate::signal) mod quality;
pub(in crate::signal) mod settings;
pub(in crate::signal) mod spectrum;
pub(in crate::signal) mod step;
pub(in crate::signal) mod sweep;
