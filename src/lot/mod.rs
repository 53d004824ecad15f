//! The lot: what many units say together, and what is kept of them.

pub mod bench;
mod bounds;
pub mod record;

pub use bounds::{clopper_pearson, lower_bound, proves, upper_bound};
