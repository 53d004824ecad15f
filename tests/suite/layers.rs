//! The rooms of the crate: a room imports only from those before it, and no file grows without saying why.

use std::path::{Path, PathBuf};

/// From the ground up.
const ROOMS: [&str; 14] = [
    "text",
    "units",
    "finding",
    "signal",
    "netlist",
    "pinmap",
    "graph",
    "cause",
    "verify",
    "diagnosis",
    "lot",
    "report",
    "page",
    "cli",
];

/// The inner rooms of `verify`, likewise.
const INNER: [&str; 6] = ["case", "checks", "unit", "file", "compare", "derive"];

fn sources(folder: &Path, to: &mut Vec<PathBuf>) {
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            sources(&path, to);
        } else if path.extension().is_some_and(|extension| extension == "rs") {
            to.push(path);
        }
    }
}

#[test]
fn imports_run_one_way() {
    let mut files = Vec::new();
    sources(Path::new("src"), &mut files);
    let mut arrows = 0;
    for path in &files {
        let Some(own) =
            path.strip_prefix("src").unwrap().components().next().map(|part| part.as_os_str().to_string_lossy().into_owned())
        else {
            continue;
        };
        let Some(own) = ROOMS.iter().position(|room| *room == own) else { continue };
        let text = std::fs::read_to_string(path).unwrap();
        for at in text.match_indices("crate::").map(|(at, _)| at + "crate::".len()) {
            if text[..at].lines().last().is_some_and(|line| line.trim_start().starts_with("//")) {
                continue;
            }
            let name: String = text[at..].chars().take_while(|c| c.is_alphanumeric() || *c == '_').collect();
            let other = ROOMS.iter().position(|room| *room == name);
            let other = other.unwrap_or_else(|| panic!("{}: `crate::{name}` is no room", path.display()));
            assert!(other <= own, "{}: {} imports from {}", path.display(), ROOMS[own], ROOMS[other]);
            arrows += 1;
        }
    }
    assert!(arrows > 50, "{arrows}");
}

#[test]
fn the_rooms_of_verify_import_one_way() {
    let mut arrows = 0;
    for (own, room) in INNER.iter().enumerate() {
        let mut files = Vec::new();
        sources(&Path::new("src/verify").join(room), &mut files);
        assert!(!files.is_empty(), "{room}");
        for path in files {
            let text = std::fs::read_to_string(&path).unwrap();
            for line in text.lines().filter(|line| !line.trim_start().starts_with("//")) {
                let Some((_, after)) = line.split_once("crate::verify::") else { continue };
                let name: String = after.chars().take_while(|c| c.is_alphanumeric() || *c == '_').collect();
                // what is exported from the room as a whole may be imported from there by the later ones
                let Some(other) = INNER.iter().position(|room| *room == name) else { continue };
                assert!(other < own, "{}: {room} imports from {name}", path.display());
                arrows += 1;
            }
        }
    }
    assert!(arrows > 30, "{arrows}");
}

#[test]
fn files_stay_small() {
    let mut files = Vec::new();
    sources(Path::new("src"), &mut files);
    for path in files {
        let lines = std::fs::read_to_string(&path).unwrap().lines().count();
        assert!(lines <= 560, "{}: {lines} lines", path.display());
    }
}
