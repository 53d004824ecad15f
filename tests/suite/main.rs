//! The tests of the whole product, one binary.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::print_stdout)]

mod browser;
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
mod examples;
mod explanation;
mod eye;
mod formats;
mod fuzz_corpus;
mod harness;
mod html;
mod injection;
mod lane_lines;
mod language;
mod layers;
mod long_lists;
mod lot;
mod lot_statistics;
mod manners;
mod own_cables;
#[cfg(feature = "page")]
mod page;
mod pair;
mod pair_faults;
mod physics;
mod picture;
mod plots;
mod properties;
#[cfg(feature = "record")]
mod record;
mod references;
mod registry;
mod repeats;
mod resistances;
mod rework;
mod running_lot;
mod scatter;
mod scratch;
mod settings;
mod signal_command;
mod signal_files;
mod single_faults;
mod snapshots;
mod tables;
mod touchstone;
mod touchstone_written;
mod verdicts;
mod video;
mod watch;
mod whole_end;
