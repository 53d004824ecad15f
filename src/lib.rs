//! Checks custom-made cable assemblies against the pin maps of their connectors.
//!
//! Text goes one way through the crate, and each room knows only those before it:
//! [`text`] → [`units`] → [`finding`] → [`signal`] → [`netlist`] → [`pinmap`] → [`graph`] → [`cause`] → [`verify`] →
//! [`diagnosis`] → [`lot`] → [`report`] → `page` → [`cli`].
//!
//! The whole way, from a netlist to a verdict with the places that show why:
//!
//! ```
//! use backshell::finding::{Code, Verdict};
//! use backshell::verify::{Options, check_text};
//!
//! let text = "cable xlr3\nA.1 B.1\nA.2 B.3\nA.3 B.2\n";
//! check_text("microphone.netlist", text, &Options::default(), |batch| {
//!     let report = &batch.reports[0];
//!     assert_eq!(report.verdict, Verdict::Fails);
//!     assert_eq!(report.findings[0].code, Code::PairReversed);
//!     let at = &report.findings[0].labels[0];
//!     assert_eq!(at.source.position(at.span.start).line, 3);
//! });
//! ```
//!
//! [`verify::check_file`] does the same for a file, however long. The examples show one job each: `inspect_reel` reads a reel,
//! `validate_drawing` asks a supplier, `diagnose_link` looks for a cause, `own_check` adds a check of one's own.

pub mod cause;
#[cfg(feature = "command")]
pub mod cli;
pub mod diagnosis;
pub mod finding;
pub mod graph;
pub mod lot;
pub mod netlist;
#[cfg(feature = "page")]
pub mod page;
pub mod pinmap;
pub mod report;
#[cfg(feature = "signal")]
pub mod signal;
pub mod text;
pub mod units;
pub mod verify;
