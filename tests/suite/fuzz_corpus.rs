//! Every input in `tests/fuzz/corpus/` again, by the functions that the fuzzing loop runs.

use std::fs;
use std::path::Path;

#[path = "../fuzz/readers/mod.rs"]
mod readers;

fn replay(reader: &readers::Reader) {
    let folder = Path::new("tests/fuzz/corpus").join(reader.name);
    let mut files: Vec<_> = fs::read_dir(&folder).unwrap().map(|entry| entry.unwrap().path()).collect();
    files.sort();
    assert!(files.len() >= 10, "{}: next to nothing is kept", folder.display());
    for file in files {
        let bytes = fs::read(&file).unwrap();
        if std::panic::catch_unwind(|| (reader.run)(&bytes)).is_err() {
            panic!("{}: the panic above", file.display());
        }
    }
}

/// One reader after the other: some take files of one name.
#[test]
fn what_was_kept() {
    readers::ALL.iter().for_each(replay);
}

/// A folder for each reader, and none besides.
#[test]
fn a_folder_for_each_reader() {
    let mut folders: Vec<_> =
        fs::read_dir("tests/fuzz/corpus").unwrap().map(|entry| entry.unwrap().file_name().into_string().unwrap()).collect();
    folders.sort();
    let names: Vec<&str> = readers::ALL.iter().map(|reader| reader.name).collect();
    assert_eq!(folders, names);
}
