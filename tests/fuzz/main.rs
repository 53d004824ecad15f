//! Feeds bytes that libFuzzer makes up to a reader of input, which BACKSHELL_READER names; `tests/fuzz/run` builds and runs it.

#![no_main]
#![allow(clippy::unwrap_used, clippy::expect_used, missing_docs)]

use std::sync::LazyLock;

use libfuzzer_sys::fuzz_target;

mod readers;

static READER: LazyLock<fn(&[u8])> = LazyLock::new(|| {
    let name = std::env::var("BACKSHELL_READER").unwrap_or_default();
    let names: Vec<&str> = readers::ALL.iter().map(|reader| reader.name).collect();
    let found = readers::ALL.iter().find(|reader| reader.name == name);
    found.unwrap_or_else(|| panic!("BACKSHELL_READER is `{name}`, and must be one of {}", names.join(", "))).run
});

fuzz_target!(|bytes: &[u8]| (*READER)(bytes));
