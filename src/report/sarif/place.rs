//! Places in files as SARIF has them: relative URIs and regions.

use std::path::{MAIN_SEPARATOR, Path, PathBuf};

use percent_encoding::{AsciiSet, NON_ALPHANUMERIC, utf8_percent_encode};

use crate::finding::Label;
use crate::pinmap::{cable_names, connector_names};
use crate::text::visible;

use super::objects::{ArtifactLocation, Location, Message, PhysicalLocation, Region};

/// What is written as it is: the unreserved characters of RFC 3986 (section 2.3), and the slash between folders.
const ENCODED: &AsciiSet = &NON_ALPHANUMERIC.remove(b'-').remove(b'.').remove(b'_').remove(b'~').remove(b'/');

/// The root of a path that was given as an absolute one; the log doesn't say where it is.
pub(super) const ROOT: &str = "ROOT";

/// The pin maps inside the program.
pub(super) const CATALOGUE: &str = "CATALOGUE";

/// Turns the names of files into URIs. None of them is absolute.
#[derive(Debug, Default)]
pub(super) struct Places {
    /// Paths below this folder are written from there.
    pub(super) folder: Option<PathBuf>,
}

impl Places {
    /// A file; none for a text that has no name.
    pub(super) fn file(&self, name: &str) -> Option<ArtifactLocation> {
        let below = self.folder.as_ref().and_then(|folder| Path::new(name).strip_prefix(folder).ok());
        let path = below.map_or_else(|| name.to_owned(), |below| below.display().to_string());
        let path = if MAIN_SEPARATOR == '/' { path } else { path.replace(MAIN_SEPARATOR, "/") };
        let mut rest = path.trim_start_matches('/');
        while let Some(shorter) = rest.strip_prefix("./") {
            rest = shorter.trim_start_matches('/');
        }
        if rest.is_empty() {
            return None;
        }
        let is_rooted = path.starts_with('/') || Path::new(&path).is_absolute();
        let uri_base_id = if is_rooted { Some(ROOT) } else { is_of_the_catalogue(rest).then_some(CATALOGUE) };
        Some(ArtifactLocation { uri: utf8_percent_encode(rest, ENCODED).to_string(), uri_base_id })
    }

    /// The place of a label, with its words.
    pub(super) fn label(&self, label: &Label, id: Option<usize>) -> Option<Location> {
        let artifact_location = self.file(label.source.name())?;
        let start = label.source.position(label.span.start);
        let end = label.source.position(label.span.end());
        let region = Region {
            start_line: start.line,
            start_column: start.column.max(1),
            end_line: end.line,
            end_column: end.column.max(1),
            byte_offset: start.offset,
            byte_length: label.span.len,
        };
        let message = (!label.text.is_empty()).then(|| Message::plain(&visible(&label.text)));
        Some(Location { id, physical_location: PhysicalLocation { artifact_location, region: Some(region) }, message })
    }

    /// A whole file as a place.
    pub(super) fn whole(&self, name: &str) -> Option<Location> {
        let artifact_location = self.file(name)?;
        Some(Location { id: None, physical_location: PhysicalLocation { artifact_location, region: None }, message: None })
    }
}

/// Whether this is a map inside the program, which has no file.
fn is_of_the_catalogue(name: &str) -> bool {
    let Some(name) = name.strip_prefix("catalogue/").and_then(|name| name.strip_suffix(".toml")) else { return false };
    match name.split_once('/') {
        Some(("cables", name)) => cable_names().any(|known| known == name),
        Some(("connectors", name)) => connector_names().any(|known| known == name),
        _ => false,
    }
}
