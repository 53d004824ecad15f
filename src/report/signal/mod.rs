//! What Touchstone files of a cable's pairs tell, and which rates they carry: as data, as text, as pictures.

mod pictures;
mod text;

pub use pictures::{NamedPicture, signal_pictures};
pub use text::{signal_text, signal_text_within};

use schemars::JsonSchema;
use serde::Serialize;

use super::json::schema_of;
use crate::signal::Analysis;
use crate::signal::rates::Grade;

/// The fields of `signal --format json`.
#[derive(Debug, Serialize, JsonSchema)]
#[non_exhaustive]
pub struct SignalReport {
    /// Which form this is: `backshell.signal/1`.
    pub schema: &'static str,
    /// Each file.
    pub files: Vec<SignalFileEntry>,
    /// What the lanes of all files carry together; null where no ladder of rates was asked for.
    pub grade: Option<Grade>,
}

/// A file.
#[derive(Debug, Serialize, JsonSchema)]
#[non_exhaustive]
pub struct SignalFileEntry {
    /// Its name, as it was given.
    pub file: String,
    /// The lanes that it holds.
    pub lanes: Vec<String>,
    /// Its ports.
    pub ports: usize,
    /// How their number is known.
    pub ports_from: String,
    /// Which port is where: `ports 1 and 3 at the near end, through paths 1→2, 3→4`.
    pub order: String,
    /// Whether the order was guessed from the through paths; else it was stated.
    pub order_guessed: bool,
    /// Everything that the file tells.
    pub analysis: Analysis,
}

impl SignalFileEntry {
    /// A file of this name and so many ports, with all that it tells; nothing is said of its lanes and of its ports.
    #[must_use]
    pub fn new(file: impl Into<String>, ports: usize, analysis: Analysis) -> Self {
        let (ports_from, order) = (String::new(), String::new());
        Self { file: file.into(), lanes: Vec::new(), ports, ports_from, order, order_guessed: false, analysis }
    }

    /// One more lane that it holds.
    #[must_use]
    pub fn with_lane(mut self, lane: impl Into<String>) -> Self {
        self.lanes.push(lane.into());
        self
    }

    /// How the number of its ports is known.
    #[must_use]
    pub fn with_ports_from(self, ports_from: impl Into<String>) -> Self {
        Self { ports_from: ports_from.into(), ..self }
    }

    /// Which port is where, and whether that was guessed from the through paths.
    #[must_use]
    pub fn with_order(self, order: impl Into<String>, guessed: bool) -> Self {
        Self { order: order.into(), order_guessed: guessed, ..self }
    }
}

impl SignalReport {
    /// A report on files, with the grade of their lanes.
    #[must_use]
    pub fn new(files: Vec<SignalFileEntry>, grade: Option<Grade>) -> Self {
        SignalReport { schema: "backshell.signal/1", files, grade }
    }
}

/// The JSON Schema of `signal --format json`, as text.
#[must_use]
pub fn signal_schema() -> String {
    schema_of::<SignalReport>()
}
