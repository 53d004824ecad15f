//! Snapshots of the real output for every netlist in `netlists/`, as people and as programs get it.

use std::path::Path;

use backshell::report::{JsonReport, Terminal, Writer};
use backshell::verify::{Options, Outcome, check_file};

fn render(path: &Path, mut writer: impl Writer) {
    let file = path.display().to_string();
    let outcome: Outcome = check_file(path, &Options::default(), |batch| writer.batch(&file, &batch).unwrap());
    writer.finish(&outcome).unwrap();
}

/// The netlists below `netlists/`, in order, as paths from the crate's root.
pub fn netlists() -> Vec<std::path::PathBuf> {
    let mut files = Vec::new();
    for folder in ["netlists", "netlists/faults", "netlists/drawings", "netlists/invalid", "netlists/signals"] {
        for entry in std::fs::read_dir(folder).unwrap() {
            let path = entry.unwrap().path();
            if path.extension().is_some_and(|extension| extension == "netlist") {
                files.push(Path::new(folder).join(path.file_name().unwrap()));
            }
        }
    }
    files.sort();
    files
}

fn name(path: &Path) -> String {
    path.with_extension("").display().to_string().replace(['/', '\\'], "__").replace("netlists__", "")
}

#[test]
fn every_netlist_for_people() {
    for path in netlists() {
        let mut out = Vec::new();
        render(&path, Terminal::new(&mut out, false));
        insta::assert_snapshot!(format!("people__{}", name(&path)), String::from_utf8(out).unwrap());
    }
}

#[test]
fn every_netlist_for_programs() {
    for path in netlists() {
        let mut out = Vec::new();
        render(&path, JsonReport::new(&mut out).unwrap());
        let value: serde_json::Value = serde_json::from_slice(&out).unwrap();
        let text = serde_json::to_string_pretty(&value).unwrap();
        insta::assert_snapshot!(format!("programs__{}", name(&path)), text);
    }
}

#[test]
fn maps_and_pages() {
    let mut catalogue = backshell::pinmap::Catalogue::new();
    insta::assert_snapshot!("catalogue", backshell::report::catalogue_table(&mut catalogue, 100));
    for cable in ["displayport", "usb-c-a", "rs232-null-modem"] {
        let cable = catalogue.cable(cable, Path::new("")).unwrap();
        insta::assert_snapshot!(format!("map__{}", cable.name), backshell::report::map_page(&cable));
    }
}
