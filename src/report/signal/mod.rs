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
