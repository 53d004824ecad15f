//! Touchstone files: versions 1.0 and 1.1 (no keywords), 2.0 and 2.1 (keywords in brackets), 1 to 8 ports.
//!
//! Source: IBIS Open Forum, Touchstone File Format Specification, version 2.0 (2009) and version 2.1 (2024), which holds
//! the older versions too. The grammar, case-insensitive, `!` starts a comment anywhere:
//!
//! ```text
//! file     = [ "[Version]" version ] option { keyword } { record } [ noise ] [ "[End]" ]
//! option   = "#" { "Hz" | "kHz" | "MHz" | "GHz" | "S" | "Y" | "Z" | "G" | "H" | "RI" | "MA" | "DB" | "R" number { number } }
//! record   = frequency { number number }
//! noise    = { frequency number number number number }
//! ```
//!
//! A line that begins a record has an odd count of numbers, any other line an even count: so records are told apart even
//! where one of them is damaged, and a file without a telling name says by itself how many ports it has.
//!
//! Written here because no library reads this with places for its errors: the crate `touchstone` (0.17) stops at the first
//! error, knows the line only, and reads no Y, Z, G, H, mixed-mode, half-matrix or noise data.

mod assemble;
mod header;
mod mixed;
mod option;
mod reader;
mod rows;
mod words;

use std::path::Path;
use std::sync::Arc;

use crate::finding::Problem;
use crate::text::{Source, Span, read_whole};

use crate::signal::network::Network;
use crate::signal::network::convert::Parameter;

/// The most ports that are read: two pairs with both ends of each are eight.
pub const MOST_PORTS: usize = 8;

/// What was read of a file.
#[derive(Clone, Debug)]
#[non_exhaustive]
pub struct Touchstone {
    /// Its scattering parameters, one port for one contact, at the references that the file states.
    pub network: Network,
    /// Its version.
    pub version: Version,
    /// What its matrices are; [`network`](Self::network) has them turned into scattering parameters.
    pub parameter: Parameter,
    /// How the number of ports is known.
    pub ports_from: PortsFrom,
    /// Whether the file speaks in differential and common modes, which were turned back into single ports.
    pub mixed_mode: bool,
    /// How many rows of noise figures were passed over.
    pub noise_rows: usize,
    /// The comments above the first figure, each from its `!` on.
    pub comments: Vec<Span>,
}

/// The version of a file.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub enum Version {
    /// 1.0 or 1.1: an option line and figures.
    One,
    /// 2.0: with keywords.
    Two,
    /// 2.1: with keywords.
    TwoOne,
}

impl Version {
    /// Whether the file has keywords.
    #[must_use]
    pub fn has_keywords(self) -> bool {
        self != Version::One
    }
}

/// How the number of ports is known.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub enum PortsFrom {
    /// From the caller, who has it from the file's name (`.s4p`).
    Name,
    /// From `[Number of Ports]`.
    Keyword,
    /// From how many numbers stand between two frequencies.
    Layout,
}

impl PortsFrom {
    /// In words, after "the number of ports is known …".
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            PortsFrom::Name => "from the file's name",
            PortsFrom::Keyword => "from [Number of Ports]",
            PortsFrom::Layout => "from the layout of its lines",
        }
    }
}

/// Reads the text of a Touchstone file; `ports` is how many its name says that it has.
///
/// # Errors
/// Everything that is wrong with it, each at its place. A file with any error gives no network.
pub fn read(source: &Arc<Source>, ports: Option<usize>) -> Result<Touchstone, Vec<Problem>> {
    let mut reader = reader::Reader::new(source, ports);
    for line in words::lines(source.text()) {
        reader.line(line);
    }
    reader.finish()
}

/// Reads a Touchstone file, which reports call by its path.
///
/// # Errors
/// As [`read`], and where the file can't be opened.
pub fn read_file(path: &Path) -> Result<Touchstone, Vec<Problem>> {
    let name = path.display().to_string();
    let text = read_whole(path).map_err(|why| vec![Problem::new(format!("the Touchstone file {name} {why}"))])?;
    read(&Source::new(name, text), ports_of_name(path))
}

/// How many ports a file's name says that it has: 4 for `lane0.s4p`. None for `.ts`, and for any other ending.
#[must_use]
pub fn ports_of_name(path: &Path) -> Option<usize> {
    let ending = path.extension()?.to_str()?.to_ascii_lowercase();
    let digits = ending.strip_suffix('p')?.strip_prefix(['s', 'y', 'z', 'g', 'h'])?;
    digits.bytes().all(|byte| byte.is_ascii_digit()).then(|| digits.parse().ok()).flatten()
}
