//! Recording a check as it goes: each batch of verdicts is in the record before anything else is done with it.

use std::path::Path;
use std::time::SystemTime;

use crate::finding::Problem;
use crate::verify::{Batch, Options};

use super::{Entry, Head, Maps, Record, Recorded, entries, options_text};

/// Takes the batches of a check.
#[derive(Debug)]
pub struct Recorder {
    record: Record,
    maps: Maps,
    options: String,
    rows: u64,
    head: Option<Head>,
}

impl Recorder {
    /// Opens or makes the record for a check with these options, which must have [`Options::about`].
    ///
    /// # Errors
    /// As for [`Record::open_or_new`].
    pub fn new(path: &Path, options: &Options) -> Result<Self, Problem> {
        let record = Record::open_or_new(path)?;
        Ok(Recorder { record, maps: Maps::default(), options: options_text(options), rows: 0, head: None })
    }

    /// Records the verdicts of a batch, in one transaction. Once this returns, they are kept; with what is given back come the
    /// entries, so that a unit that was tested before can be named.
    ///
    /// # Errors
    /// As for [`Record::append`]; nothing of this batch is recorded then, and all batches before are.
    pub fn batch(&mut self, file: &str, batch: &Batch, time: SystemTime) -> Result<Option<(Recorded, Vec<Entry>)>, Problem> {
        let entries = entries(file, batch, &mut self.maps, None, None);
        let Some(recorded) = self.record.append(&entries, &self.options, time)? else { return Ok(None) };
        self.rows += entries.len() as u64;
        self.head = Some(recorded.head);
        Ok(Some((recorded, entries)))
    }

    /// How many verdicts this recorder has recorded.
    #[must_use]
    pub fn rows(&self) -> u64 {
        self.rows
    }

    /// The head of the record after the last batch; none before the first.
    #[must_use]
    pub fn head(&self) -> Option<Head> {
        self.head
    }

    /// The path of the record as it was given.
    #[must_use]
    pub fn name(&self) -> &str {
        self.record.name()
    }
}
