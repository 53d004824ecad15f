//! Quantities as types: each unit and each range is declared once, with its words; and what follows from figures alone:
//! the resistance of wire, decisions under uncertainty, the place of a break.

mod decision;
mod locate;
mod quantity;
mod unit;
mod wire;

pub use decision::{Decision, at_least, at_most, p_conform_at_most};
pub use locate::{Distance, Reading, break_from_both_ends, break_from_sibling};
pub use quantity::{Bound, Quantity, Tolerance};
pub use unit::{Dimension, Scale, Unit};
pub use wire::{
    ALUMINIUM_CONDUCTIVITY, COPPER_CELSIUS, COPPER_OHM_MM2_PER_METRE, COPPER_PER_KELVIN, SEVEN_STRANDS_LEAST, STRANDED_MOST,
    TINNED_MOST, area_mm2, awg_area_mm2, awg_diameter_mm, awg_of_area, awg_of_ratio, copper_clad_ratio, copper_ohm_per_metre,
    lay_factor, tinned_most,
};
