//! The digest of a row and of all before it.

use rusqlite::types::ValueRef;

use crate::text::{Digest, Digester};

/// The columns of a row, in the order in which they go into its digest.
pub(super) const COLUMNS: [&str; 19] = [
    "number",
    "time",
    "unit",
    "attempt",
    "lot",
    "supplier",
    "type",
    "cable",
    "map",
    "origin",
    "verdict",
    "hazard",
    "findings",
    "file",
    "file_digest",
    "unit_digest",
    "header",
    "options",
    "program",
];

/// What the bytes of every row begin with.
const START: &[u8] = b"backshell record row 1\n";

/// The digest of a row that follows another, the columns being those of [`COLUMNS`].
///
/// A real number and raw bytes have letters of their own, `R` and `B`: no row that was written by the program holds them, and
/// so none that does can pass for one.
pub(super) fn digest<'v>(before: &Digest, columns: impl IntoIterator<Item = ValueRef<'v>>) -> Digest {
    let mut bytes = Digester::default();
    bytes.take(START);
    bytes.take(before.bytes());
    for column in columns {
        let (letter, long, short): (&[u8], Option<&[u8]>, [u8; 8]) = match column {
            ValueRef::Null => (b"N", None, [0; 8]),
            ValueRef::Integer(number) => (b"I", None, number.to_be_bytes()),
            ValueRef::Real(number) => (b"R", None, number.to_be_bytes()),
            ValueRef::Text(text) => (b"T", Some(text), (text.len() as u64).to_be_bytes()),
            ValueRef::Blob(blob) => (b"B", Some(blob), (blob.len() as u64).to_be_bytes()),
        };
        bytes.take(letter);
        if letter != b"N" {
            bytes.take(&short);
        }
        bytes.take(long.unwrap_or_default());
    }
    bytes.finish()
}
