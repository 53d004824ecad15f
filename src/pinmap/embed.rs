//! Build script: lists the catalogue's files, so that a new cable is one new file and nothing else.

// a build script talks to cargo through its standard output
#![allow(clippy::print_stdout)]

use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::{env, fs, io};

fn main() -> io::Result<()> {
    let root = PathBuf::from(env::var_os("CARGO_MANIFEST_DIR").unwrap_or_default()).join("src/pinmap/catalogue");
    println!("cargo::rerun-if-changed=src/pinmap/embed.rs");
    let mut out = String::new();
    for (constant, folder) in [("CONNECTORS", "connectors"), ("CABLES", "cables")] {
        let folder = root.join(folder);
        println!("cargo::rerun-if-changed={}", folder.display());
        let _ = writeln!(out, "const {constant}: &[(&str, &str)] = &[");
        for file in toml_files(&folder)? {
            println!("cargo::rerun-if-changed={}", file.display());
            let name = file.file_stem().unwrap_or_default().to_string_lossy().into_owned();
            let _ = writeln!(out, "    ({name:?}, include_str!({:?})),", file.display().to_string());
        }
        out.push_str("];\n");
    }
    fs::write(PathBuf::from(env::var_os("OUT_DIR").unwrap_or_default()).join("catalogue.rs"), out)
}

fn toml_files(folder: &Path) -> io::Result<Vec<PathBuf>> {
    let mut files = Vec::new();
    for entry in fs::read_dir(folder)? {
        let path = entry?.path();
        if path.extension().is_some_and(|extension| extension == "toml") {
            files.push(path);
        }
    }
    files.sort_by_key(|path| path.file_stem().map(std::ffi::OsStr::to_owned));
    Ok(files)
}
