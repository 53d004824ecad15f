//! What a network analyser says of a pair, turned into loss, skew, impedance along the cable, an eye and link rates.
//!
//! Knows no cables and no netlists: a Touchstone file in, figures out. Frequencies are in hertz, times in seconds,
//! impedances in ohm, losses in decibels and positive where something is lost.

mod analysis;
mod convert;
mod crosstalk;
mod curve;
mod dc;
mod delay;
pub mod eye;
mod fit;
mod matrix;
mod mixed;
mod network;
mod one_pair;
mod order;
mod part;
mod phase;
mod profile;
mod quality;
pub mod rates;
mod settings;
mod singular;
mod spectrum;
mod step;
mod sweep;
pub mod touchstone;
pub mod video;

pub use analysis::{Analysis, Impedance, NyquistLoss, PairAnalysis, analyse};
pub use convert::Parameter;
pub use crosstalk::{Crosstalk, two_pairs};
pub use curve::{Curve, decibels};
pub use dc::{DcPoint, DcSource};
pub use delay::{Delay, DelaySettings};
pub use fit::{Form, LossFit};
pub use mixed::{Pair, Term};
pub use network::Network;
pub use num_complex::Complex64;
pub use one_pair::through;
pub use order::{CLEAR_DB, Doubt, LEAST_DB, PortOrder, Way, leads_to};
pub use phase::Phase;
pub use profile::{Discontinuity, End, View, ViewSettings, impedance};
pub use quality::{Grade, Quality};
pub use settings::Settings;
pub use spectrum::{Spectrum, gaussian_edge};
pub use step::{Steps, Window};
pub use sweep::Grid;
