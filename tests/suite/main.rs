//! The tests of the whole product, one binary.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::print_stdout)]

mod campaign;
mod catalogue;
mod cli;
mod compare;
mod coverage;
mod depth;
mod derived;
mod drawings;
mod explanation;
mod harness;
mod injection;
mod language;
mod layers;
mod long_lists;
mod own_cables;
mod pair_faults;
mod physics;
mod picture;
mod properties;
mod references;
mod registry;
mod repeats;
mod resistances;
mod rework;
mod scatter;
mod single_faults;
mod snapshots;
mod tables;
mod verdicts;
mod whole_end;
