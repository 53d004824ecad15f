//! Validates a drawing before the order, and prints the query sheet for its supplier.
//!
//! `cargo run --example validate_drawing -- netlists/drawings/gauge-missing.netlist`

#![allow(clippy::print_stdout)]

use std::io;
use std::path::Path;

use backshell::report::{Questions, Writer};
use backshell::verify::{Options, check_file};

/// The query sheet, and whether nothing speaks against the order.
///
/// # Errors
/// Where the sheet can't be written.
pub fn validate(path: &Path) -> io::Result<(String, bool)> {
    let mut sheet = Vec::new();
    let mut writer = Questions::new(&mut sheet);
    let mut written = Ok(());
    let outcome = check_file(path, &Options::default(), |batch| {
        if written.is_ok() {
            written = writer.batch(&path.display().to_string(), &batch);
        }
    });
    written?;
    writer.finish(&outcome)?;
    Ok((String::from_utf8_lossy(&sheet).into_owned(), outcome.status() == 0))
}

fn main() -> io::Result<()> {
    let path = std::env::args().nth(1).unwrap_or_else(|| "netlists/drawings/gauge-missing.netlist".to_owned());
    let (sheet, fit) = validate(Path::new(&path))?;
    println!("{sheet}{}", if fit { "Nothing speaks against the order." } else { "Ask before you order." });
    Ok(())
}
