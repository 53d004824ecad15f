//! Quantities as types: each unit and each range is declared once, with its words.

mod quantity;
mod unit;

pub use quantity::{Bound, Quantity, Tolerance};
pub use unit::{Dimension, Scale, Unit};
