//! What is in the folder, and which of it is whole.

use std::ffi::{OsStr, OsString};
use std::io;
use std::path::Path;
use std::time::{Duration, SystemTime};

use crate::finding::Problem;
use crate::netlist::{Forms, is_named_as_input};
use crate::text::visible;

use super::STATE_FILE;

/// A file of the folder.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct File {
    pub name: OsString,
    pub size: u64,
    pub modified: SystemTime,
}

/// What is known of a file that is there.
#[derive(Clone, Debug)]
pub(super) struct Watched {
    pub size: u64,
    pub modified: SystemTime,
    /// Since when it stayed as it is.
    pub since: Duration,
    /// How often it was looked at as it is.
    pub looks: u32,
    /// Dealt with, as it is.
    pub done: bool,
    /// Said to be unreadable, as it is.
    pub said: bool,
    /// There since before the first look, and not changed since.
    pub from_before: bool,
}

impl Watched {
    pub fn new(file: &File, now: Duration, from_before: bool) -> Self {
        let File { size, modified, .. } = *file;
        Watched { size, modified, since: now, looks: 0, done: false, said: false, from_before }
    }

    pub fn left_alone(now: Duration) -> Self {
        let modified = SystemTime::UNIX_EPOCH;
        Watched { size: 0, modified, since: now, looks: 0, done: true, said: true, from_before: false }
    }

    /// Looks at it once more.
    pub fn seen(&mut self, file: &File, now: Duration) {
        if (self.size, self.modified) == (file.size, file.modified) {
            self.looks = self.looks.saturating_add(1);
        } else {
            *self = Watched { looks: 1, ..Watched::new(file, now, false) };
        }
    }

    /// It must be quiet once more.
    pub fn wait(&mut self, now: Duration) {
        self.since = now;
        self.looks = 1;
    }
}

/// What one look at a folder shows.
pub(super) struct Look {
    /// The files that are netlists by their names.
    pub files: Vec<File>,
    /// The others, but for those that are being written or hidden.
    pub left_alone: Vec<OsString>,
}

/// Looks at a folder.
pub(super) fn look(folder: &Path, forms: &Forms) -> Result<Look, Problem> {
    let lost = |error: io::Error| {
        let shown = path_text(folder.as_os_str());
        Problem::new(format!("{}: the folder can't be read: {error}", visible(&shown))).help("it is tried again")
    };
    let mut look = Look { files: Vec::new(), left_alone: Vec::new() };
    for entry in std::fs::read_dir(folder).map_err(lost)? {
        let name = entry.map_err(lost)?.file_name();
        if is_passing(&name) {
            continue;
        }
        // gone since: it isn't there
        let Ok(about) = std::fs::metadata(folder.join(&name)) else { continue };
        if !about.is_file() {
            continue;
        }
        if is_netlist(&name, forms) {
            let modified = about.modified().unwrap_or(SystemTime::UNIX_EPOCH);
            look.files.push(File { name, size: about.len(), modified });
        } else {
            look.left_alone.push(name);
        }
    }
    look.files.sort_by(|a, b| a.name.cmp(&b.name));
    look.left_alone.sort();
    Ok(look)
}

/// Hidden, or one that a program writes before it has its name.
fn is_passing(name: &OsStr) -> bool {
    const ENDINGS: [&[u8]; 8] = [b"~", b".tmp", b".part", b".partial", b".filepart", b".crdownload", b".swp", b".lock"];
    let name = name.as_encoded_bytes().to_ascii_lowercase();
    name.starts_with(b".") || name == STATE_FILE.as_bytes() || ENDINGS.iter().any(|ending| name.ends_with(ending))
}

fn is_netlist(name: &OsStr, forms: &Forms) -> bool {
    let extension = Path::new(name).extension().and_then(OsStr::to_str).map(str::to_ascii_lowercase);
    let others = forms.all_tables || forms.rules.is_some();
    // a record, its journal and what spreadsheets write are no text, whatever the rules say
    let no_text = matches!(extension.as_deref(), Some("db" | "sqlite" | "db-journal" | "xlsx" | "xls" | "ods" | "pdf" | "toml"));
    is_named_as_input(Path::new(name)) || (others && !no_text)
}

/// A path or name as text that tells any two apart: bytes that are no UTF-8 are written `\xNN`, and a backslash beside such
/// bytes twice.
#[must_use]
pub fn path_text(path: &OsStr) -> String {
    if let Some(text) = path.to_str() {
        return text.to_owned();
    }
    let mut out = String::new();
    for chunk in path.as_encoded_bytes().utf8_chunks() {
        out.push_str(&chunk.valid().replace('\\', "\\\\"));
        out.extend(chunk.invalid().iter().map(|byte| format!("\\x{byte:02x}")));
    }
    out
}
