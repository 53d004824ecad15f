//! The cells of a CSV file (RFC 4180) with their places. csv-core finds where a field ends; the places, and what the
//! standard doesn't allow, are worked out here.

use csv_core::{ReadFieldResult, Reader, ReaderBuilder};

use crate::text::Span;

/// A cell: what is written in it, without quotation marks and without blanks at either end.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Cell {
    pub place: Span,
    /// What is wrong with its quotation marks.
    pub flaw: Option<Flaw>,
}

/// What the standard doesn't allow.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Flaw {
    /// The quotation mark that opens the cell is never closed.
    NeverClosed,
    /// Something stands after the quotation mark that closes the cell.
    AfterQuote,
    /// The quotation mark seems to stand alone, as a ditto mark does: what it opens begins and ends where
    /// cells do.
    Alone,
}

/// Reads row after row.
pub(super) struct Rows<'t> {
    text: &'t [u8],
    at: usize,
    delimiter: u8,
    reader: Reader,
    scratch: [u8; 1024],
}

impl<'t> Rows<'t> {
    /// The rows of a text from a byte on.
    pub fn new(text: &'t str, at: usize, delimiter: u8) -> Self {
        let reader = ReaderBuilder::new().delimiter(delimiter).build();
        Rows { text: text.as_bytes(), at, delimiter, reader, scratch: [0; 1024] }
    }

    /// The cells of the next row; false where there is none. Lines without anything are left out, and of the cells
    /// beyond a width, all but the first that is filled.
    pub fn next(&mut self, cells: &mut Vec<Cell>, width: usize) -> bool {
        cells.clear();
        loop {
            let start = self.at;
            let (ends_row, delimited) = loop {
                let (result, read, _) = self.reader.read_field(&self.text[self.at..], &mut self.scratch);
                self.at += read;
                match result {
                    // csv-core takes empty input for the end of the file
                    ReadFieldResult::InputEmpty | ReadFieldResult::OutputFull => {}
                    ReadFieldResult::Field { record_end } => break (record_end, read > 0),
                    ReadFieldResult::End => return !cells.is_empty(),
                }
            };
            // the rest of the last line end, and lines without anything, come before the first field
            let skipped = if cells.is_empty() { line_ends(&self.text[start..self.at]) } else { 0 };
            // the delimiter or the first byte of the line end was read with the field
            let end = if delimited { self.at - 1 } else { self.at };
            let cell = self.cell((start + skipped).min(end), end);
            if cells.len() < width || (cells.len() == width && cell.place.len > 0) {
                cells.push(cell);
            }
            if ends_row {
                return true;
            }
        }
    }

    fn cell(&self, start: usize, end: usize) -> Cell {
        let raw = &self.text[start..end];
        let Some(inside) = raw.strip_prefix(b"\"") else { return Cell { place: self.trimmed(start, end), flaw: None } };
        let mut closed = None;
        let mut at = 0;
        while let Some(quote) = memchr::memchr(b'"', &inside[at..]) {
            if inside.get(at + quote + 1) != Some(&b'"') {
                closed = Some(at + quote);
                break;
            }
            at += quote + 2;
        }
        let edge = |b: Option<&u8>| b.is_some_and(|b| *b == self.delimiter || matches!(b, b'\n' | b'\r'));
        let (end, flaw) = match closed {
            Some(closed) if closed + 1 == inside.len() => {
                let alone = edge(inside.first()) && edge(inside[..closed].last());
                (end - 1, alone.then_some(Flaw::Alone))
            }
            Some(_) => (end, Some(Flaw::AfterQuote)),
            None => (end, Some(Flaw::NeverClosed)),
        };
        match flaw {
            None => Cell { place: self.trimmed(start + 1, end), flaw },
            // the first line of it is enough to show
            Some(_) => {
                let line = memchr::memchr2(b'\n', b'\r', raw).map_or(end, |at| start + at);
                Cell { place: Span::new(start, line), flaw }
            }
        }
    }

    fn trimmed(&self, start: usize, end: usize) -> Span {
        let raw = &self.text[start..end];
        let from = raw.iter().position(|b| !b.is_ascii_whitespace()).unwrap_or(0);
        let to = raw.iter().rposition(|b| !b.is_ascii_whitespace()).map_or(from, |last| last + 1);
        Span::new(start + from, start + to)
    }
}

fn line_ends(bytes: &[u8]) -> usize {
    bytes.iter().take_while(|b| matches!(b, b'\n' | b'\r')).count()
}
