//! The checks: a unit, its cable and its nets in, findings and a verdict out.
//!
//! `case` puts together what there is to look at, each family in `checks` is one function from a [`Case`] to findings,
//! `unit` makes the verdict of them, and `file` takes whole files unit by unit. What hangs together was already put
//! together by [`cause`](crate::cause), so each family takes the troubles that are its own.

mod case;
mod checks;
mod compare;
mod derive;
mod file;
mod unit;

pub use case::{
    Case, Conductor, ConductorKind, Evidence, Given, Head, Hypothesis, Masked, Said, Trouble, WholeEnd, conductors, fold,
    hypotheses, readings, wanted,
};
#[cfg(feature = "signal")]
pub use case::{LinkGrade, SignalFile, SignalFiles};
pub use checks::{CHECKS, Check, ConductorRow, Coverage, PLAN_MOST, Plan, Share, Sight};
pub use compare::{
    Agreement, Beside, CompareOptions, Comparison, Difference, Kind, Row, Standing, StepText, ThreeWay, UnitPair, Weight,
    compare_files, compare_texts,
};
pub use derive::{Derived, DerivedConnector, DerivedEnd, DerivedPart, DerivedPin, DerivedRow, derive_file, derive_text};
pub use file::{Batch, Options, Outcome, Twice, check_file, check_text, read_file};
#[cfg(feature = "signal")]
pub use unit::MeasuredPair;
pub use unit::{
    About, Checker, FoundPart, JoinReading, LaneFigures, LotFacts, Measured, NotShown, Price, Reading, Runs, StatedWire,
    UnitReport, WiredEnd, Wiring,
};
