//! Folders in place of files: every netlist in them, in sorted order.

use std::path::{Path, PathBuf};

use crate::finding::Problem;
use crate::netlist::is_named_as_input;
use crate::text::visible;

/// The files that paths stand for: a file for itself, a folder for those in it and in its folders that are named as
/// a netlist or a table is, or all of them, sorted by their paths. Beside them, the other files of the folders, hidden ones aside.
///
/// # Errors
/// A folder that can't be read, or has nothing to read.
pub(super) fn netlists_in(paths: &[PathBuf], all: bool) -> Result<(Vec<PathBuf>, Vec<PathBuf>), Vec<Problem>> {
    let (mut files, mut left_out, mut problems) = (Vec::new(), Vec::new(), Vec::new());
    for path in paths {
        if !path.is_dir() {
            files.push(path.clone());
            continue;
        }
        let mut found = Vec::new();
        if let Err(problem) = walk(path, &mut found) {
            problems.push(problem);
            continue;
        }
        found.sort();
        let before = files.len();
        for file in found {
            if all || is_named_as_input(&file) {
                files.push(file);
            } else if !is_hidden(&file) {
                left_out.push(file);
            }
        }
        if files.len() == before {
            let shown = path.display().to_string();
            problems.push(Problem::new(format!("{}: no netlist in this folder", visible(&shown))).help(
                "a folder is read for files that end in .netlist, .csv or .tsv; with `--rule` or `--table` for every file",
            ));
        }
    }
    if problems.is_empty() { Ok((files, left_out)) } else { Err(problems) }
}

fn is_hidden(file: &Path) -> bool {
    file.file_name().is_some_and(|name| name.as_encoded_bytes().starts_with(b"."))
}

/// So many files that weren't read are named.
const NAMED: usize = 8;

/// Says which files of the folders weren't read.
pub(super) fn say_left_out(left_out: &[PathBuf]) {
    if left_out.is_empty() {
        return;
    }
    let names: Vec<String> = left_out.iter().take(NAMED).map(|file| visible(&file.display().to_string()).into_owned()).collect();
    let more = left_out.len().saturating_sub(NAMED);
    let more = if more > 0 { format!(" and {more} more") } else { String::new() };
    super::complain(&format!("not read, since the name isn't that of a netlist or a table: {}{more}", names.join(", ")));
}

fn walk(folder: &Path, to: &mut Vec<PathBuf>) -> Result<(), Problem> {
    let shown = || visible(&folder.display().to_string()).into_owned();
    let unreadable = |error: std::io::Error| Problem::new(format!("{}: can't be read: {error}", shown()));
    for entry in std::fs::read_dir(folder).map_err(unreadable)? {
        let entry = entry.map_err(unreadable)?;
        // a link isn't followed, so that no folder is read twice
        match entry.file_type().map_err(unreadable)? {
            kind if kind.is_dir() => walk(&entry.path(), to)?,
            kind if kind.is_file() => to.push(entry.path()),
            _ => {}
        }
    }
    Ok(())
}
