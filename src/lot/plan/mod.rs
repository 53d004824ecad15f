//! Sampling plans: how many units to test, how many may fail, and what that risks.

mod iso2859;
mod operating;
mod switching;
mod zero;

pub use iso2859::{AQLS, Cell, Inspection, LETTERS, Level, Single, cell, letter, sample_size, single};
pub use operating::{Risks, accept_binomial, accept_hypergeometric, accept_lot, quality_at, risks};
pub use switching::{History, LotResult, Standing, read_history};
pub use zero::{Zero, zero_acceptance, zero_acceptance_of_lot};
