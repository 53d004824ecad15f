//! Reading a netlist one unit at a time, so that memory holds the facts of one unit and no more.

use std::sync::Arc;

use crate::finding::Problem;
use crate::text::Source;

use super::Netlist;
use super::grammar::is_blank;
use super::parse::{Part, Reader};
use super::pattern::outline;

/// Reads a text one unit at a time: the same facts, at the same places, as [`parse_part`](super::parse_part) gives of the whole.
pub struct UnitReader<'s> {
    reader: Reader<'s>,
    /// The line that comes next.
    at: usize,
    /// False where the file has no `unit` line, so that all of it is one unit.
    in_units: bool,
    /// Where the unit that comes next ends, where that was looked for.
    end: Option<usize>,
}

impl<'s> UnitReader<'s> {
    /// Reads what stands above the first unit.
    #[must_use]
    pub fn new(source: &'s Arc<Source>, part: Part) -> Self {
        let mut reader = Reader::new(source, part, 64);
        let first = reader.first_line();
        let at = unit_start(source.text().as_bytes(), first);
        if part == Part::Whole && at == source.text().len() {
            return UnitReader { reader, at: first, in_units: false, end: None };
        }
        reader.read_lines(first, at);
        reader.stray_facts();
        UnitReader { reader, at, in_units: true, end: None }
    }

    /// Where the next unit starts: its `unit` line, or the end of the text.
    #[must_use]
    pub fn at(&self) -> usize {
        self.at
    }

    /// Goes on at another `unit` line.
    pub fn skip_to(&mut self, at: usize) {
        self.at = at;
        self.end = None;
    }

    /// A number that tells units apart whose lines differ in more than numbers: all units that fit one
    /// [`Pattern`](super::Pattern) have the same. None where there is no such unit, or it is too long for a pattern.
    pub fn outline(&mut self) -> Option<u64> {
        let text = self.reader.source.text().as_bytes();
        if !self.in_units || self.at >= text.len() {
            return None;
        }
        let (outline, end) = outline(text, self.at)?;
        self.end = Some(end);
        Some(outline)
    }

    /// Reads the next unit, which becomes the only one of [`netlist`](Self::netlist); false where there is none.
    pub fn next_unit(&mut self) -> bool {
        let text = self.reader.source.text().as_bytes();
        if self.at >= text.len() {
            return false;
        }
        let end = match self.end {
            Some(end) => end,
            None if self.in_units => unit_start(text, line_after(text, self.at)),
            None => text.len(),
        };
        let netlist = &mut self.reader.netlist;
        netlist.units.clear();
        netlist.facts.clear();
        netlist.points.clear();
        netlist.figures.clear();
        self.reader.read_lines(self.at, end);
        self.skip_to(end);
        if !self.in_units {
            self.reader.whole_file();
        }
        !self.reader.netlist.units.is_empty()
    }

    /// The unit that was read last, the header, and what is wrong with all that was read.
    #[must_use]
    pub fn netlist(&self) -> &Netlist {
        &self.reader.netlist
    }

    /// Marks the unit that was read last as one that can have no verdict.
    pub fn break_unit(&mut self) {
        if let Some(unit) = self.reader.netlist.units.last_mut() {
            unit.broken = true;
        }
    }

    /// What is wrong with all that was read.
    pub fn take_problems(&mut self) -> Vec<Problem> {
        std::mem::take(&mut self.reader.netlist.problems)
    }
}

impl std::fmt::Debug for UnitReader<'_> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("UnitReader").field("at", &self.at).finish_non_exhaustive()
    }
}

/// Where the first line starts, of those from `at` on, that begins a unit; else the end of the text.
fn unit_start(text: &[u8], mut at: usize) -> usize {
    while at < text.len() {
        if begins_unit(&text[at..]) {
            return at;
        }
        at = line_after(text, at);
    }
    text.len()
}

/// Where the next unit starts, if nothing but blank lines and comments stands before it.
pub(super) fn unit_after(text: &[u8], mut at: usize) -> Option<usize> {
    while at < text.len() {
        match text[at..].iter().find(|b| !is_blank(**b)) {
            None => return Some(text.len()),
            Some(b'\n' | b'#') => at = line_after(text, at),
            Some(_) => return begins_unit(&text[at..]).then_some(at),
        }
    }
    Some(text.len())
}

/// Whether a line is a `unit` line, readable or not.
pub(super) fn begins_unit(line: &[u8]) -> bool {
    let indent = line.iter().take_while(|b| is_blank(**b)).count();
    line[indent..]
        .strip_prefix(b"unit")
        .is_some_and(|rest| rest.first().is_none_or(|b| is_blank(*b) || matches!(b, b'#' | b'\n')))
}

pub(super) fn line_after(text: &[u8], at: usize) -> usize {
    memchr::memchr(b'\n', &text[at..]).map_or(text.len(), |end| at + end + 1)
}
