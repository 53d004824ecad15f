//! A file in parts: where its bytes come from, and where it is cut.

use std::fs::File;
use std::io::{self, Read, Seek};
use std::path::Path;

use crate::netlist::Part;
use crate::text::Span;

/// How large a part is, in bytes, before it is cut at the next `unit` line.
const PART_BYTES: usize = 512 * 1024;

/// Where the bytes come from.
pub(in crate::verify) enum Input {
    File(File),
    Memory(io::Cursor<Vec<u8>>),
}

impl Input {
    pub(in crate::verify) fn open(path: &Path) -> Result<Self, String> {
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

    /// Reads so many bytes more, or as many as there are.
    fn read_more(&mut self, bytes: usize, to: &mut Vec<u8>) -> io::Result<usize> {
        to.reserve_exact(bytes);
        // a file is read straight into memory that nobody has written to
        match self {
            Input::File(file) => file.by_ref().take(bytes as u64).read_to_end(to),
            Input::Memory(memory) => memory.by_ref().take(bytes as u64).read_to_end(to),
        }
    }

    pub(in crate::verify) fn rewind(&mut self) -> io::Result<()> {
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
pub(in crate::verify) struct Piece {
    pub(in crate::verify) bytes: Vec<u8>,
    pub(in crate::verify) offset: u64,
    pub(in crate::verify) line: u64,
    pub(in crate::verify) part: Part,
}

/// Cuts an input into pieces.
pub(in crate::verify) struct Cutter<'i> {
    input: &'i mut Input,
    rest: Vec<u8>,
    offset: u64,
    line: u64,
    first: bool,
    pub(in crate::verify) done: bool,
    /// A buffer that nobody needs any more.
    spare: Vec<u8>,
}

impl<'i> Cutter<'i> {
    pub(in crate::verify) fn new(input: &'i mut Input) -> Self {
        Cutter { input, rest: Vec::new(), offset: 0, line: 0, first: true, done: false, spare: Vec::new() }
    }

    /// Starts from the beginning again.
    pub(in crate::verify) fn again(&mut self) -> io::Result<()> {
        self.input.rewind()?;
        self.rest.clear();
        (self.offset, self.line, self.first, self.done) = (0, 0, true, false);
        Ok(())
    }

    /// Gives back the bytes of a piece, to be used again.
    pub(in crate::verify) fn give_back(&mut self, bytes: Vec<u8>) {
        self.spare = bytes;
    }

    pub(in crate::verify) fn next(&mut self) -> io::Result<Option<Piece>> {
        if self.done {
            return Ok(None);
        }
        let mut bytes = std::mem::take(&mut self.spare);
        bytes.clear();
        bytes.append(&mut self.rest);
        let mut goal = PART_BYTES;
        let part = loop {
            let start = bytes.len();
            if goal > start {
                self.input.read_more(goal - start, &mut bytes)?;
            }
            if bytes.len() < goal {
                self.done = true;
                break if self.first { Part::Whole } else { Part::Later };
            }
            if let Some(at) = last_unit(&bytes, self.first) {
                self.rest.extend_from_slice(&bytes[at..]);
                bytes.truncate(at);
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
pub(in crate::verify) fn unit_line(bytes: &[u8], at: usize) -> Option<usize> {
    let blank = |b: &u8| matches!(b, b' ' | b'\t' | b'\r');
    let follows = bytes.get(at + 4).is_some_and(blank);
    let line = bytes[..at].iter().rposition(|b| *b == b'\n').map_or(0, |end| end + 1);
    (follows && bytes[line..at].iter().all(blank)).then_some(line)
}

/// The bytes as text. Bytes that are not UTF-8 are replaced one by one, so that offsets stay true, and listed.
pub(in crate::verify) fn readable(bytes: Vec<u8>) -> (String, Vec<Span>) {
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
