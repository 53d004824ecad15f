//! The tests of the whole product, one binary.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::print_stdout)]

mod catalogue;
mod cli;
mod explanation;
mod injection;
mod language;
mod layers;
mod physics;
mod properties;
mod references;
mod registry;
mod single_faults;
mod snapshots;
mod tables;
mod verdicts;
mod whole_end;
