//! The checks: a unit, its cable and its nets in, findings and a verdict out.
//!
//! Each family of checks is a file with one function from a [`Case`] to findings; [`CHECKS`] lists them. What hangs
//! together was already put together by [`cause`](crate::cause), so each family takes the troubles that are its own.

mod case;
mod components;
mod conductors;
mod coverage;
mod figures;
mod given;
mod joins;
mod pairs;
mod parts;
mod requirement;
mod shields;
mod stream;
mod supply;
mod trouble;
mod unit;
mod whole_end;
mod whole_file;

pub use case::Case;
pub use coverage::NotShown;
pub use given::{Given, Head, Said};
pub use requirement::{readings, wanted};
pub use stream::{Batch, Options, Outcome, check_file, check_text};
pub use trouble::{Trouble, fold};
pub use unit::{Checker, UnitReport};
pub use whole_end::{Hypothesis, WholeEnd, hypotheses};
pub use whole_file::read_file;

use crate::finding::Sink;

/// A family of checks.
pub struct Check {
    /// Its name, as its file is called.
    pub name: &'static str,
    /// Looks at a unit and reports what it finds.
    pub run: fn(&Case<'_>, &mut Sink),
}

/// Every family of checks, in the order in which they run.
pub const CHECKS: &[Check] = &[
    Check { name: "whole_end", run: whole_end::check },
    Check { name: "supply", run: supply::check },
    Check { name: "conductors", run: conductors::check },
    Check { name: "pairs", run: pairs::check },
    Check { name: "shields", run: shields::check },
    Check { name: "components", run: components::check },
    Check { name: "figures", run: figures::check },
    Check { name: "coverage", run: coverage::check },
];
