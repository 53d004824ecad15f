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
//!
//! # Making what goes in
//!
//! What a caller makes comes from `new` or `Default`, and each `with_…` sets one field, which is public too:
//!
//! ```
//! use backshell::lot::Asked;
//! use backshell::report::LotOptions;
//! use backshell::verify::Options;
//!
//! let options = Options::default().with_cable("xlr3").with_map("cables").with_coverage(true);
//! let mut lot = LotOptions::new(Asked::All).with_size(40);
//! lot.size = None;
//! ```
//!
//! A `with_…` in the singular adds one entry to a list (`with_map`, `with_own_check`).
//!
//! # What a minor version may add
//!
//! Fields of `#[non_exhaustive]` structs, variants of `#[non_exhaustive]` enums, such as [`finding::Code`], and cables and checks, so
//! that a later version may find fault with what an earlier one let pass. A code, a field and a variant keep their names and their
//! meaning. What isn't marked so is complete. [`finding::Verdict`] has three variants: a caller must say what becomes of each, since
//! one that passed over a fourth could let a wrong cable through.
//!
//! The JSON of reports, records and parts of lots is a contract too. It names its form in `schema` (`backshell.check/1`), and
//! [`report::schema`] and its like give the JSON Schema, as `--print-schema` does. A minor version may add properties, and values
//! where the type behind them is `#[non_exhaustive]`; where a property goes or means something else, the number behind the slash
//! changes. Sentences, pictures and pages for people may change with any version.
//!
//! # Features
//!
//! All but the last are on unless `default-features = false`. Without one, no verdict is milder: without `signal`, a netlist that
//! names a file of S-parameters is inconclusive.
//!
//! | feature | what it brings |
//! |---|---|
//! | `command` | the program and its command line: `cli` |
//! | `signal` | S-parameters: Touchstone files, eyes, link rates, video modes: `signal` |
//! | `record` | verdicts kept in a file: `lot::record::Record`; SQLite, which needs a C compiler |
//! | `page` | the bench in a browser: `page` |
//! | `parquet` | the table of a lot as a Parquet file |

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
