//! The tests of the whole product, one binary.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::print_stdout)]

mod cable_model;
mod campaign;
mod catalogue;
mod cli;
mod compare;
mod coverage;
mod depth;
mod derived;
mod diagnosis;
mod drawings;
mod explanation;
mod eye;
mod formats;
mod harness;
mod injection;
mod language;
mod layers;
mod lot;
mod lot_statistics;
mod own_cables;
mod pair;
mod pair_faults;
mod physics;
mod picture;
mod plots;
mod properties;
mod references;
mod registry;
mod resistances;
mod rework;
mod scatter;
mod signal_files;
mod single_faults;
mod snapshots;
mod tables;
mod touchstone;
mod touchstone_written;
mod verdicts;
mod video;
mod whole_end;
