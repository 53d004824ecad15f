//! A stretch of bytes in a [`Source`](super::Source).

use std::ops::Range;

/// A half-open range of bytes, counted from the start of the source that it lies in.
///
/// A source holds at most 4 GiB; larger files are read in parts (see [`Source::part`](super::Source::part)).
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[expect(clippy::exhaustive_structs, reason = "a plain pair of places")]
pub struct Span {
    /// The first byte.
    pub start: u32,
    /// How many bytes; zero for a place between two bytes.
    pub len: u32,
}

impl Span {
    /// The span of `start..end`; an `end` before `start` gives an empty span.
    #[must_use]
    pub fn new(start: usize, end: usize) -> Self {
        let start = u32::try_from(start).unwrap_or(u32::MAX);
        let end = u32::try_from(end).unwrap_or(u32::MAX);
        Span { start, len: end.saturating_sub(start) }
    }

    /// The byte after the last one.
    #[must_use]
    pub fn end(self) -> u32 {
        self.start.saturating_add(self.len)
    }

    /// The span as indices into the text.
    #[must_use]
    pub fn range(self) -> Range<usize> {
        self.start as usize..self.end() as usize
    }

    /// The smallest span that holds both.
    #[must_use]
    pub fn to(self, other: Span) -> Span {
        let start = self.start.min(other.start);
        Span { start, len: self.end().max(other.end()) - start }
    }
}

impl From<Range<usize>> for Span {
    fn from(range: Range<usize>) -> Self {
        Span::new(range.start, range.end)
    }
}
