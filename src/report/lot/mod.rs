//! The report on a lot: one model, a file a format.

mod csv;
mod formats;
mod human;
mod model;
#[cfg(feature = "parquet")]
mod parquet;
mod sections;

pub use csv::UnitsCsv;
pub use formats::LotWriter;
pub use human::{lot_summary_text, lot_text, lot_text_within};
pub use model::{GroupReport, LotOptions, LotReport, lot_report};
#[cfg(feature = "parquet")]
pub use parquet::UnitsParquet;

/// The JSON Schema of the report on a lot, as text.
#[must_use]
pub fn lot_schema() -> String {
    super::json::schema_of::<LotReport>()
}
