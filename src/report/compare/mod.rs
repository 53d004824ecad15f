//! A comparison of two netlists: for people, and for programs.

mod json;
mod people;

pub use json::{CompareJson, compare_schema};
pub use people::CompareTerminal;

use std::io;

use crate::verify::{Comparison, UnitPair};

/// A report that takes the pairs of units as they come.
pub trait CompareWriter {
    /// Takes one pair of units.
    ///
    /// # Errors
    /// Where the output can't be written.
    fn pair(&mut self, pair: &UnitPair) -> io::Result<()>;

    /// Closes the report.
    ///
    /// # Errors
    /// Where the output can't be written.
    fn finish(&mut self, comparison: &Comparison) -> io::Result<()>;
}
