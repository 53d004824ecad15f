//! The record: every verdict, kept in one file that shows when it was tampered with.
//!
//! # The file
//!
//! A record is an SQLite database (sqlite.org/fileformat2.html) with the application id `0x4253484c` (`BSHL`) and the user
//! version 1. Any tool that reads SQLite reads it. A file that isn't a record is refused, and so is one of a newer version;
//! neither is touched. It keeps one journal beside itself while a batch is written (`FILE-journal`), and none after it. A process
//! that is killed leaves its journal, and the next one that opens the record puts the record right with it: move the two together.
//!
//! The table `verdict` has one row for each verdict; a unit without one, since its input can't be used, isn't in it:
//!
//! | column | type | what it holds |
//! |---|---|---|
//! | `number` | integer | the row, from 1, without gaps |
//! | `time` | text | when it was recorded: UTC, RFC 3339, to the second, as in `2026-11-25T09:30:00Z` |
//! | `unit` | text | the unit's name; for an unnamed one, the name of its file without folder and ending |
//! | `attempt` | integer | from 1: how often a unit of that name, lot and supplier was tested, this time included; drawings of a name are counted apart |
//! | `lot`, `supplier`, `type` | text or null | the header lines of that name |
//! | `cable` | text | the cable that it was checked against |
//! | `map` | text | the version of its map: the digest of the cable file and of those of its connectors (below) |
//! | `origin` | text | `measured` or `drawing` |
//! | `verdict` | text | `conforms`, `fails` or `inconclusive` |
//! | `hazard` | integer | 1 where the cable must not be connected, else 0 |
//! | `findings` | text | a JSON array of objects: `code`, `severity`, `hazard`, `undecided`, `message`, `points` |
//! | `file` | text | the netlist's path as it was given |
//! | `file_digest` | text | the digest of that file, as it was read |
//! | `unit_digest` | text | the digest of the unit's own lines ([`About::digest`](crate::verify::About::digest)) |
//! | `header` | text | a JSON array: every header line that held for the unit, so that its limits can be worked out again |
//! | `options` | text | a JSON object: what the command line said beside that ([`options_text`]) |
//! | `program` | text | the version of the program, as in `0.1.0` |
//! | `digest` | text | of the row and of all before it (below) |
//!
//! The table `taken` has one row for each file that [`bench`](super::bench) took from a folder: `number`, `time`, `folder`
//! (its full path), `name`, `digest`, `modified` (its time of modification in nanoseconds since 1970, as text), `units` (how
//! many verdicts came of it) and `outcome` (`conforms`, `fails`, `inconclusive`, `hazard`, `unread` or `renamed`). It only
//! serves to take no file twice; it is not part of the chain.
//!
//! Digests are SHA-256 (FIPS 180-4), written as 64 hexadecimal digits in lower case. Triggers refuse every change and every
//! removal of a row, and any row that doesn't have the next number.
//!
//! # The chain
//!
//! The `digest` of a row is that of these bytes, one after the other:
//!
//! 1. the ASCII text `backshell record row 1` and a line feed;
//! 2. the 32 bytes of the digest of the row before; for the first row, 32 zeros;
//! 3. every other column in the order of the table above, each as one letter and what follows it: `T`, the length of the
//!    text in bytes as an unsigned number of 8 bytes, the most significant first, and the text in UTF-8; `I` and a signed
//!    number of 8 bytes, the most significant first; or `N` alone for null.
//!
//! The version of a map is the digest of the cable file's text and of the text of each connector file, in the order of the
//! ends and each once, each as its length in 8 bytes, the most significant first, and the text.
//!
//! # What the chain shows, and what it can't
//!
//! A row that was changed, removed from between others, put in or moved no longer follows from the one before it, and
//! `backshell record verify` says which. There is no secret in it. So it can't show that the last rows were cut off, that rows
//! were added at the end by somebody who worked out their digests, or that the whole file was replaced by another one with a
//! sound chain. Whoever notes the head, the digest of the last row, in another place (a test certificate, a mail, a
//! notebook) can show all three: `backshell record verify FILE --head DIGEST` says whether that row is still there.
//!
//! # What survives
//!
//! A batch is one transaction with a rollback journal and `synchronous = EXTRA`: its rows are on the disk, as far as the
//! disk tells the truth, before anything says that they are recorded. A process that is killed at any moment, or a disk
//! that is full, leaves whole batches and nothing of the one under way; whoever opens the file next rolls that back. A
//! rollback journal and not a write-ahead log, since then the file by itself is the whole record whenever nobody is writing,
//! and since it also holds on a network drive. Several processes may write to one record: each batch waits for the others
//! (for a minute at most), and takes its place in the chain inside its transaction.

mod entry;
mod place;

#[cfg(feature = "record")]
mod audit;
#[cfg(feature = "record")]
mod chain;
#[cfg(feature = "record")]
mod history;
#[cfg(feature = "record")]
mod lots;
#[cfg(feature = "record")]
mod recorder;
#[cfg(feature = "record")]
mod schema;
#[cfg(feature = "record")]
mod taken;
#[cfg(feature = "record")]
mod trend;
#[cfg(feature = "record")]
mod write;

pub use entry::{Entry, Finding, Maps, entries, hazardous, options_text};
pub use place::{Before, Head, Recorded};

#[cfg(feature = "record")]
pub use audit::{Audit, Flaw};
#[cfg(feature = "record")]
pub use history::{History, Row};
#[cfg(feature = "record")]
pub use lots::{CodeCount, LotState, UnitState};
#[cfg(feature = "record")]
pub use recorder::Recorder;
#[cfg(feature = "record")]
pub use schema::Record;
#[cfg(feature = "record")]
pub use taken::BenchRecord;
#[cfg(feature = "record")]
pub use trend::{LotTrend, Trend};

use std::time::SystemTime;

/// A time as the record writes it: UTC, RFC 3339, to the second. Before 1970 and after the year 9999, the nearest of these.
///
/// ```
/// use std::time::{Duration, UNIX_EPOCH};
///
/// use backshell::lot::record::time_text;
///
/// assert_eq!(time_text(UNIX_EPOCH + Duration::from_secs(1_000_000_000)), "2001-09-09T01:46:40Z");
/// ```
#[must_use]
pub fn time_text(time: SystemTime) -> String {
    const LAST: u64 = 253_402_300_799;
    let seconds = time.duration_since(SystemTime::UNIX_EPOCH).map_or(0, |since| since.as_secs()).min(LAST);
    humantime::format_rfc3339_seconds(SystemTime::UNIX_EPOCH + std::time::Duration::from_secs(seconds)).to_string()
}
