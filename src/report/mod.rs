//! Reports: one model of what was found, and a file per format.

mod bench;
mod block;
mod cells;
mod compare;
mod coverage;
mod csv;
mod derived;
mod diagnosis;
mod explained;
mod html;
mod json;
mod junit;
mod lot;
mod maps;
mod model;
mod page;
pub mod picture;
#[cfg(feature = "signal")]
pub mod plot;
mod questions;
#[cfg(feature = "record")]
mod record;
mod sarif;
#[cfg(feature = "signal")]
mod signal;
mod terminal;
#[cfg(feature = "signal")]
mod video;

pub use bench::BenchScreen;
pub use block::block_letters;
pub use compare::{CompareJson, CompareTerminal, CompareWriter, compare_schema};
pub use coverage::{
    ConductorEntry, CoverageEntry, CoverageReport, ShareEntry, coverage_entry, coverage_schema, coverage_text,
    coverage_text_within, probe_plan, probe_plan_within,
};
pub use csv::FindingsCsv;
pub use derived::derived_map;
pub use diagnosis::{
    CauseEntry, DiagnosisEntry, DiagnosisReport, LeaningEntry, NextEntry, ObservationEntry, diagnosis_entry, diagnosis_schema,
    diagnosis_text, diagnosis_text_within,
};
pub use explained::{explained_list, explained_page, explained_verdict};
pub use html::{HtmlFace, HtmlReport, HtmlSaid};
pub use json::{JsonReport, schema};
pub use junit::Junit;
#[cfg(feature = "parquet")]
pub use lot::UnitsParquet;
pub use lot::{
    GroupReport, LotOptions, LotReport, LotWriter, UnitsCsv, lot_report, lot_schema, lot_summary_text, lot_text, lot_text_within,
};
pub use maps::{catalogue_table, map_page, map_page_within, own_table};
pub use model::{ErrorReport, FindingReport, LabelReport, Report, Summary, UnitEntry, error, unit};
pub use questions::Questions;
#[cfg(feature = "record")]
pub use record::RecordAnswer;
pub use sarif::Sarif;
#[cfg(feature = "signal")]
pub use signal::{NamedPicture, SignalFileEntry, SignalReport, signal_pictures, signal_schema, signal_text, signal_text_within};
pub use terminal::{Terminal, problem_text, problem_text_within};
#[cfg(feature = "signal")]
pub use video::{
    FitEntry, LinkEntry, ModeEntry, TimingEntry, VideoReport, link_text, link_text_within, video_report, video_schema,
    video_text, video_text_within,
};

use std::io;

use crate::verify::{Batch, Outcome};

/// A report that takes the verdicts as they come.
pub trait Writer {
    /// Takes one part of a file.
    ///
    /// # Errors
    /// Where the output can't be written.
    fn batch(&mut self, file: &str, batch: &Batch) -> io::Result<()>;

    /// Closes the report.
    ///
    /// # Errors
    /// Where the output can't be written.
    fn finish(&mut self, outcome: &Outcome) -> io::Result<()>;
}
