//! What a network analyser says of a pair, turned into loss, skew, impedance along the cable, an eye and link rates.
//!
//! Knows no cables and no netlists: a Touchstone file in, figures out. Frequencies are in hertz, times in seconds,
//! impedances in ohm, losses in decibels and positive where something is lost.

pub mod eye;
mod network;
mod pair;
pub mod rates;
pub mod touchstone;
pub mod video;

pub use network::Network;
pub use network::convert::Parameter;
pub use network::order::{CLEAR_DB, Doubt, LEAST_DB, PortOrder, Way, leads_to};
pub use num_complex::Complex64;
pub use pair::analysis::{Analysis, Impedance, NyquistLoss, PairAnalysis, analyse};
pub use pair::crosstalk::{Crosstalk, two_pairs};
pub use pair::curve::{Curve, decibels};
pub use pair::dc::{DcPoint, DcSource};
pub use pair::delay::{Delay, DelaySettings};
pub use pair::fit::{Form, LossFit};
pub use pair::mixed::{Pair, Term};
pub use pair::one_pair::through;
pub use pair::phase::Phase;
pub use pair::profile::{Discontinuity, End, View, ViewSettings, impedance};
pub use pair::quality::{Grade, Quality};
pub use pair::settings::Settings;
pub use pair::spectrum::{Spectrum, gaussian_edge};
pub use pair::step::{Steps, Window};
pub use pair::sweep::Grid;
