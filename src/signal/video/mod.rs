//! Picture formats: the timing of a mode, what it asks of a link, and the lowest link rate that carries it.
//!
//! Everything here is a calculation from published timing rules and link rates. What a source and a screen agree on when they
//! meet is theirs: an engineering estimate, no certification.

mod cta;
mod link;
mod mode;
mod timing;

pub use link::{Carrier, Link, Need, RATES, Rate, lowest};
pub use mode::{COMMON_MODES, Chroma, Mode, Refresh};
pub use timing::{Standard, Timing, timings};
