//! The checks: a unit, its cable and its nets in, findings and a verdict out.
//!
//! Each family of checks is a file with one function from a [`Case`] to findings; [`CHECKS`] lists them. What hangs
//! together was already put together by [`cause`](crate::cause), so each family takes the troubles that are its own.

mod about;
mod case;
mod compare;
mod components;
mod conductors;
mod contradictions;
mod coverage;
mod derive;
mod drawing;
mod expected;
mod given;
mod isolation;
mod joined;
mod joins;
mod link;
mod lot_facts;
mod measured;
mod names;
mod not_shown;
mod pairs;
mod parts;
mod physical;
mod place;
mod places;
mod repeats;
mod requirement;
mod resistance;
mod rework;
mod shields;
mod signal_files;
mod stream;
mod supply;
mod trouble;
mod unit;
mod whole_end;
mod whole_file;
mod wiring;
mod worker;

pub use about::About;
pub use case::{Case, Evidence};
pub use compare::{
    Agreement, Beside, CompareOptions, Comparison, Difference, Kind, Row, Standing, StepText, ThreeWay, UnitPair, Weight,
    compare_files, compare_texts,
};
pub use coverage::{ConductorRow, Coverage, PLAN_MOST, Plan, Share, Sight};
pub use derive::{Derived, DerivedConnector, DerivedEnd, DerivedPart, DerivedPin, DerivedRow, derive_file, derive_text};
pub use given::{Given, Head, Said};
pub use link::LinkGrade;
pub use lot_facts::{LotFacts, Price, Reading, WiredEnd};
pub use measured::{JoinReading, Measured, MeasuredPair, Runs, StatedWire};
pub use names::Twice;
pub use not_shown::NotShown;
pub use physical::{Conductor, ConductorKind, Masked, conductors};
pub use requirement::{readings, wanted};
pub use signal_files::{SignalFile, SignalFiles};
pub use stream::{Batch, Options, Outcome, check_file, check_text};
pub use trouble::{Trouble, fold};
pub use unit::{Checker, UnitReport};
pub use whole_end::{Hypothesis, WholeEnd, hypotheses};
pub use whole_file::read_file;
pub use wiring::{FoundPart, Wiring};

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
    Check { name: "resistance", run: resistance::check },
    Check { name: "isolation", run: isolation::check },
    Check { name: "link", run: link::check },
    Check { name: "drawing", run: drawing::check },
    Check { name: "coverage", run: coverage::check },
];
