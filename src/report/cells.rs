//! Cells of CSV (RFC 4180) that a spreadsheet shows and doesn't run.
//!
//! A text that begins with `=`, `+`, `-` or `@`, or with their full-width forms, is a formula to a spreadsheet, quotation
//! marks or not. Such a cell gets an apostrophe before it, and so does one that begins with an apostrophe: whoever takes one
//! leading apostrophe off has the text again. Control characters are spelled, as [`visible`] does.

use std::io::{self, Write};

use crate::text::visible;

/// What begins a formula, and the apostrophe itself.
const STARTS: [char; 9] = ['=', '+', '-', '@', '＝', '＋', '－', '＠', '\''];

/// A row of cells with text.
pub(super) fn row<S: AsRef<str>>(out: &mut impl Write, cells: impl IntoIterator<Item = S>) -> io::Result<()> {
    for (nth, cell) in cells.into_iter().enumerate() {
        if nth > 0 {
            out.write_all(b",")?;
        }
        cell_of(out, cell.as_ref())?;
    }
    out.write_all(b"\r\n")
}

fn cell_of(out: &mut impl Write, text: &str) -> io::Result<()> {
    let text = visible(text);
    let apostrophe = if text.starts_with(STARTS) { "'" } else { "" };
    // the semicolon too: where the comma stands before decimals, spreadsheets part cells there
    if text.contains([',', ';', '"']) {
        write!(out, "\"{apostrophe}{}\"", text.replace('"', "\"\""))
    } else {
        write!(out, "{apostrophe}{text}")
    }
}
