//! Files that are read whole because another file or an option names them.

use std::path::Path;

/// The longest of them, in bytes: far more than the map of a harness with a million contacts.
const MOST: u64 = 512 << 20;

/// The text of a file: an ordinary one (no device, no pipe), of at most 512 MiB, in UTF-8.
///
/// # Errors
/// Why it can't be read, in words that go on after its name.
pub fn read_whole(path: &Path) -> Result<String, String> {
    let about = std::fs::metadata(path).map_err(|error| format!("can't be opened: {error}"))?;
    if !about.is_file() {
        return Err("is no ordinary file".to_owned());
    }
    if about.len() > MOST {
        return Err(format!("is larger than {} MiB", MOST >> 20));
    }
    std::fs::read_to_string(path).map_err(|error| format!("can't be opened: {error}"))
}
