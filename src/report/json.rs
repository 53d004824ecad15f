//! `--format json`: one object, written as the verdicts come.

use std::io::{self, Write};

use crate::verify::{Batch, Outcome};

use super::Writer;
use super::model::{ErrorReport, Report, Summary, error, unit};

/// The name of this form of the report.
const SCHEMA: &str = "backshell.check/1";

/// The JSON Schema of the report, as text.
#[must_use]
pub fn schema() -> String {
    schema_of::<Report>()
}

/// The JSON Schema of a form of report, as text.
pub(super) fn schema_of<T: schemars::JsonSchema>() -> String {
    serde_json::to_string_pretty(&schemars::schema_for!(T)).unwrap_or_default()
}

/// Writes the report as JSON. Units go out as they come; errors are kept for the end.
pub struct JsonReport<W: Write> {
    out: W,
    any: bool,
    errors: Vec<ErrorReport>,
}

impl<W: Write> JsonReport<W> {
    /// A report that goes to `out`.
    ///
    /// # Errors
    /// Where the output can't be written.
    pub fn new(mut out: W) -> io::Result<Self> {
        write!(out, "{{\n  \"schema\": \"{SCHEMA}\",\n  \"units\": [")?;
        Ok(JsonReport { out, any: false, errors: Vec::new() })
    }
}

impl<W: Write> Writer for JsonReport<W> {
    fn batch(&mut self, file: &str, batch: &Batch) -> io::Result<()> {
        for report in &batch.reports {
            self.out.write_all(if self.any { b",\n    " } else { b"\n    " })?;
            self.any = true;
            serde_json::to_writer(&mut self.out, &unit(file, report))?;
        }
        self.errors.extend(batch.problems.iter().map(error));
        Ok(())
    }

    fn finish(&mut self, outcome: &Outcome) -> io::Result<()> {
        self.out.write_all(if self.any { b"\n  ],\n  \"errors\": [" } else { b"],\n  \"errors\": [" })?;
        for (nth, error) in self.errors.iter().enumerate() {
            self.out.write_all(if nth > 0 { b",\n    " } else { b"\n    " })?;
            serde_json::to_writer(&mut self.out, error)?;
        }
        self.out.write_all(if self.errors.is_empty() { b"],\n  \"summary\": " } else { b"\n  ],\n  \"summary\": " })?;
        serde_json::to_writer(&mut self.out, &Summary::of(outcome))?;
        self.out.write_all(b"\n}\n")?;
        self.out.flush()
    }
}
