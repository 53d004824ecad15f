//! Folders in place of files: every netlist in them, in sorted order.

use std::path::{Path, PathBuf};

use crate::finding::Problem;
use crate::text::visible;

/// The files that paths stand for: a file for itself, a folder for those in it and in its folders that are wanted, sorted by
/// their paths. Beside them, how many files of the folders aren't wanted.
///
/// # Errors
/// A folder that can't be read, or has nothing to read.
pub(super) fn netlists_in(paths: &[PathBuf], wanted: impl Fn(&Path) -> bool) -> Result<(Vec<PathBuf>, usize), Vec<Problem>> {
    let (mut files, mut left_out, mut problems) = (Vec::new(), 0, Vec::new());
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
        let all = found.len();
        files.extend(found.into_iter().filter(|file| wanted(file)));
        left_out += all - (files.len() - before);
        if files.len() == before {
            let shown = path.display().to_string();
            problems.push(Problem::new(format!("{}: no netlist in this folder", visible(&shown))).help(
                "a folder is read for files that end in .netlist, .csv or .tsv; with `--rule` or `--table` for every file",
            ));
        }
    }
    if problems.is_empty() { Ok((files, left_out)) } else { Err(problems) }
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
