//! A file in parts: where its bytes come from, where it is cut, and which units share a name.

use std::collections::{HashMap, HashSet};
use std::fs::File;
use std::hash::{BuildHasher, BuildHasherDefault, DefaultHasher};
use std::io::{self, Read, Seek};
use std::path::Path;

use crate::netlist::Part;
use crate::text::Span;

/// How large a part is, in bytes, before it is cut at the next `unit` line.
const PART_BYTES: usize = 512 * 1024;

/// Where the bytes come from.
pub(super) enum Input {
    File(File),
    Memory(io::Cursor<Vec<u8>>),
}

impl Input {
    pub(super) fn open(path: &Path) -> Result<Self, String> {
        if path == Path::new("-") {
            let mut bytes = Vec::new();
            io::stdin().lock().read_to_end(&mut bytes).map_err(|error| error.to_string())?;
            return Ok(Input::Memory(io::Cursor::new(bytes)));
        }
        let file = File::open(path).map_err(|error| format!("can't be opened: {error}"))?;
        let about = file.metadata().map_err(|error| format!("can't be read: {error}"))?;
        if about.is_dir() {
            return Err("is a folder; name a netlist in it".to_owned());
        }
        if about.is_file() {
            return Ok(Input::File(file));
        }
        let mut bytes = Vec::new();
        let mut file = file;
        file.read_to_end(&mut bytes).map_err(|error| format!("can't be read: {error}"))?;
        Ok(Input::Memory(io::Cursor::new(bytes)))
    }

    pub(super) fn rewind(&mut self) -> io::Result<()> {
        match self {
            Input::File(file) => file.rewind(),
            Input::Memory(bytes) => bytes.rewind(),
        }
    }
}

impl Read for Input {
    fn read(&mut self, to: &mut [u8]) -> io::Result<usize> {
        match self {
            Input::File(file) => file.read(to),
            Input::Memory(bytes) => bytes.read(to),
        }
    }
}

/// A piece of the file that holds whole units.
pub(super) struct Piece {
    pub(super) bytes: Vec<u8>,
    pub(super) offset: u64,
    pub(super) line: u64,
    pub(super) part: Part,
}

/// Cuts an input into pieces.
pub(super) struct Cutter<'i> {
    input: &'i mut Input,
    rest: Vec<u8>,
    offset: u64,
    line: u64,
    first: bool,
    pub(super) done: bool,
}

impl<'i> Cutter<'i> {
    pub(super) fn new(input: &'i mut Input) -> Self {
        Cutter { input, rest: Vec::new(), offset: 0, line: 0, first: true, done: false }
    }

    pub(super) fn next(&mut self) -> io::Result<Option<Piece>> {
        if self.done {
            return Ok(None);
        }
        let mut bytes = std::mem::take(&mut self.rest);
        let mut goal = PART_BYTES;
        let part = loop {
            let start = bytes.len();
            if goal > start {
                bytes.reserve_exact(goal - start);
                (&mut *self.input).take((goal - start) as u64).read_to_end(&mut bytes)?;
            }
            if bytes.len() < goal {
                self.done = true;
                break if self.first { Part::Whole } else { Part::Later };
            }
            if let Some(at) = last_unit(&bytes, self.first) {
                self.rest = bytes.split_off(at);
                break if self.first { Part::First } else { Part::Later };
            }
            goal = bytes.len() * 2;
        };
        self.first = false;
        let piece = Piece { offset: self.offset, line: self.line, part, bytes };
        self.offset += piece.bytes.len() as u64;
        self.line += memchr::memchr_iter(b'\n', &piece.bytes).count() as u64;
        Ok(Some(piece))
    }
}

/// Where the last `unit` line starts, if a whole unit lies before it.
fn last_unit(bytes: &[u8], first: bool) -> Option<usize> {
    let finder = memchr::memmem::FinderRev::new(b"unit");
    let mut before = bytes.len();
    let mut last = None;
    while let Some(at) = finder.rfind(&bytes[..before]) {
        if let Some(line) = unit_line(bytes, at) {
            if !first {
                return (line > 0).then_some(line);
            }
            if last.is_some() {
                return last;
            }
            last = Some(line);
        }
        before = at;
    }
    None
}

/// The start of the line, where the word at this place is the keyword of a `unit` line.
pub(super) fn unit_line(bytes: &[u8], at: usize) -> Option<usize> {
    let blank = |b: &u8| matches!(b, b' ' | b'\t' | b'\r');
    let follows = bytes.get(at + 4).is_some_and(blank);
    let line = bytes[..at].iter().rposition(|b| *b == b'\n').map_or(0, |end| end + 1);
    (follows && bytes[line..at].iter().all(blank)).then_some(line)
}

/// Names are compared by a hash of 64 bits, so that a reel of a hundred thousand units costs little.
pub(super) fn name_hash(name: &[u8], attempt: u8) -> u64 {
    BuildHasherDefault::<DefaultHasher>::default().hash_one((name, attempt))
}

/// The names that more than one unit has.
///
/// A long reel has millions of names, so that they are looked at twice: first only four bytes of each are kept, then those whose
/// four bytes occur twice are told apart.
#[derive(Default)]
pub(super) struct Names {
    /// Part of the hash of each name.
    seen: Vec<u32>,
    /// Those that occur twice.
    suspects: HashSet<u32>,
    /// For each suspect name, where its first unit line starts, and how many lines lie before it.
    pub(super) first: HashMap<u64, (u64, u64)>,
    pub(super) again: HashSet<u64>,
}

impl Names {
    /// Takes note of the units of a piece.
    pub(super) fn scan(&mut self, piece: &Piece) {
        self.seen.extend(unit_lines(&piece.bytes).map(|(_, hash)| short(hash)));
    }

    /// Whether some names may be alike, so that every piece must be looked at once more; no more names come after that.
    pub(super) fn has_suspects(&mut self) -> bool {
        let mut seen = std::mem::take(&mut self.seen);
        seen.sort_unstable();
        self.suspects = seen.windows(2).filter(|pair| pair[0] == pair[1]).map(|pair| pair[0]).collect();
        !self.suspects.is_empty()
    }

    /// Looks at a piece for names that are alike.
    pub(super) fn compare(&mut self, piece: &Piece) {
        let (mut counted_to, mut line) = (0, piece.line);
        for (start, hash) in unit_lines(&piece.bytes) {
            if !self.suspects.contains(&short(hash)) {
                continue;
            }
            line += memchr::memchr_iter(b'\n', &piece.bytes[counted_to..start]).count() as u64;
            counted_to = start;
            match self.first.entry(hash) {
                std::collections::hash_map::Entry::Occupied(_) => {
                    self.again.insert(hash);
                }
                std::collections::hash_map::Entry::Vacant(entry) => {
                    entry.insert((piece.offset + start as u64, line));
                }
            }
        }
    }
}

/// Four bytes of a hash.
fn short(hash: u64) -> u32 {
    (hash >> 32) as u32
}

/// Where the `unit` lines of a piece start, and the hashes of their names.
fn unit_lines(bytes: &[u8]) -> impl Iterator<Item = (usize, u64)> {
    memchr::memmem::find_iter(bytes, b"unit").filter_map(move |at| {
        let start = unit_line(bytes, at)?;
        let end = memchr::memchr(b'\n', &bytes[at..]).map_or(bytes.len(), |end| at + end);
        let (name, attempt) = written_name(&bytes[at + 4..end]);
        Some((start, name_hash(name, attempt)))
    })
}

/// The name on a `unit` line, without quotation marks and comment, and which attempt it is.
fn written_name(rest: &[u8]) -> (&[u8], u8) {
    let rest = after_blanks(rest);
    let (name, rest) = match rest.strip_prefix(b"\"") {
        Some(quoted) => {
            let end = quoted.iter().position(|b| *b == b'"').unwrap_or(quoted.len());
            (&quoted[..end], quoted.get(end + 1..).unwrap_or_default())
        }
        None => rest.split_at(rest.iter().position(|b| matches!(b, b' ' | b'\t' | b'\r' | b'#' | b'"')).unwrap_or(rest.len())),
    };
    let attempt = after_blanks(rest).strip_prefix(b"attempt").map(after_blanks);
    match attempt {
        Some([digit @ b'1'..=b'9', ..]) => (name, digit - b'0'),
        _ => (name, 1),
    }
}

fn after_blanks(rest: &[u8]) -> &[u8] {
    &rest[rest.iter().position(|b| !matches!(b, b' ' | b'\t' | b'\r')).unwrap_or(rest.len())..]
}

/// The bytes as text. Bytes that are not UTF-8 are replaced one by one, so that offsets stay true, and listed.
pub(super) fn readable(bytes: Vec<u8>) -> (String, Vec<Span>) {
    let bytes = match String::from_utf8(bytes) {
        Ok(text) => return (text, Vec::new()),
        Err(error) => error.into_bytes(),
    };
    let mut text = String::with_capacity(bytes.len());
    let mut bad: Vec<Span> = Vec::new();
    for chunk in bytes.utf8_chunks() {
        text.push_str(chunk.valid());
        let invalid = chunk.invalid().len();
        if invalid > 0 {
            let here = Span::new(text.len(), text.len() + invalid);
            match bad.last_mut() {
                Some(last) if last.end() == here.start => *last = last.to(here),
                _ => bad.push(here),
            }
            text.extend(std::iter::repeat_n('?', invalid));
        }
    }
    (text, bad)
}
