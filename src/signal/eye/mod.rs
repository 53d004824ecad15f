//! The eye at the far end of a pair: how far it stays open whatever bits are sent, and how often it doesn't.
//!
//! Everything here is two-level signalling (NRZ). Heights are fractions of the launched difference between a 0 and a 1
//! (peak to peak, differential), times are in seconds or in unit intervals (UI, the time of one bit). An eye figure means
//! nothing without the edge that was sent and the highest frequency of the file, so both go in by name.

mod density;
mod distortion;
mod equaliser;
mod pulse;
mod statistical;

pub use density::EyeDensity;
pub use distortion::{Worst, peak_distortion, worst_crosstalk};
pub use equaliser::{Ctle, Feedback};
pub use pulse::{Drive, Phase, Pulse, Transform};
pub use statistical::{Disturbance, StatisticalEye};
