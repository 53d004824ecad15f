//! A file, or a part of one, with its line table.

use std::ops::Range;
use std::sync::{Arc, OnceLock};

use miette::{MietteError, MietteSpanContents, SourceCode, SourceSpan, SpanContents};

use super::escape::{blanked, has_controls};
use super::{Readings, Span};

/// Longest stretch of one line, in bytes, that a snippet shows on either side of its label.
const SNIPPET_REACH: usize = 160;

/// A text with the name that reports give it.
///
/// A file that is streamed comes as several parts; each knows where in the file it begins, so that positions are
/// those of the whole file.
#[derive(Debug)]
pub struct Source {
    name: String,
    text: String,
    first_offset: u64,
    first_line: u64,
    line_starts: OnceLock<Vec<u32>>,
    /// The text with its control characters blanked, for the snippets that hold some.
    blanked: OnceLock<Vec<u8>>,
    readings: OnceLock<Readings>,
}

/// A place in a file as people count it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[expect(clippy::exhaustive_structs, reason = "a plain pair of figures")]
pub struct Position {
    /// Line, from 1.
    pub line: u64,
    /// Column in characters, from 1.
    pub column: u64,
    /// Bytes from the start of the file.
    pub offset: u64,
}

impl Source {
    /// A whole file.
    #[must_use]
    pub fn new(name: impl Into<String>, text: impl Into<String>) -> Arc<Self> {
        Self::part(name, text, 0, 0)
    }

    /// A part of a file: `first_offset` bytes and `first_line` whole lines lie before it.
    #[must_use]
    pub fn part(name: impl Into<String>, text: impl Into<String>, first_offset: u64, first_line: u64) -> Arc<Self> {
        Arc::new(Source {
            name: name.into(),
            text: text.into(),
            first_offset,
            first_line,
            line_starts: OnceLock::new(),
            blanked: OnceLock::new(),
            readings: OnceLock::new(),
        })
    }

    /// The name that reports give the file.
    #[must_use]
    pub fn name(&self) -> &str {
        &self.name
    }

    /// The text of this part.
    #[must_use]
    pub fn text(&self) -> &str {
        &self.text
    }

    /// The text of this part, for whoever needs nothing else any more.
    #[must_use]
    pub fn into_text(self) -> String {
        self.text
    }

    /// The words under a span, as they are [read](Self::read_as); empty where the span doesn't lie in this text.
    #[must_use]
    pub fn slice(&self, span: Span) -> &str {
        match self.readings.get().and_then(|readings| readings.at(span)) {
            Some(words) => words,
            None => self.written(span),
        }
    }

    /// The text under a span, as it is written; empty where the span doesn't lie in this text.
    #[must_use]
    pub fn written(&self, span: Span) -> &str {
        self.text.get(span.range()).unwrap_or_default()
    }

    /// Says what some stretches are read as; whoever reads the text says so once, and what is said later is left out.
    pub fn read_as(&self, mut readings: Readings) {
        readings.sort();
        let _ = self.readings.set(readings);
    }

    /// How much of a span a snippet shows: all of it, but for one that is too long for a line.
    #[must_use]
    pub fn shown_len(&self, span: Span) -> usize {
        let start = span.start as usize;
        let whole = span.len as usize;
        if whole <= SNIPPET_REACH { whole } else { self.boundary(start + SNIPPET_REACH - 1).saturating_sub(start) }
    }

    /// Where a byte of this part lies in the file. A byte past the end counts as the end.
    #[must_use]
    pub fn position(&self, byte: u32) -> Position {
        let byte = (byte as usize).min(self.text.len());
        let (line, start) = self.line_at(byte);
        let before = self.text.as_bytes().get(start..byte).unwrap_or_default();
        let mut column = before.iter().filter(|b| (**b & 0xc0) != 0x80).count() as u64 + 1;
        if self.first_offset == 0 && start == 0 && before.starts_with("\u{feff}".as_bytes()) {
            column -= 1; // a byte order mark is no character of the first line
        }
        Position { line: self.first_line + line as u64 + 1, column, offset: self.first_offset + byte as u64 }
    }

    fn line_starts(&self) -> &[u32] {
        self.line_starts.get_or_init(|| {
            let ends = memchr::memchr_iter(b'\n', self.text.as_bytes());
            std::iter::once(0).chain(ends.map(|at| u32::try_from(at + 1).unwrap_or(u32::MAX))).collect()
        })
    }

    /// A stretch of the text with its control characters blanked.
    fn shown(&self, range: Range<usize>) -> &[u8] {
        let bytes = self.text.as_bytes().get(range.clone()).unwrap_or_default();
        if has_controls(bytes) { self.blanked.get_or_init(|| blanked(&self.text)).get(range).unwrap_or_default() } else { bytes }
    }

    /// The line, from 0, that holds a byte, and where it starts.
    fn line_at(&self, byte: usize) -> (usize, usize) {
        let starts = self.line_starts();
        let line = starts.partition_point(|start| *start as usize <= byte).saturating_sub(1);
        (line, starts.get(line).map_or(0, |start| *start as usize))
    }

    /// The end of the line that starts at the given line number, without its line end.
    fn line_end(&self, line: usize) -> usize {
        let end = self.line_starts().get(line + 1).map_or(self.text.len(), |start| *start as usize - 1);
        if end > 0 && self.text.as_bytes().get(end - 1) == Some(&b'\r') { end - 1 } else { end }
    }

    /// The nearest character boundary at or below an index.
    fn boundary(&self, mut at: usize) -> usize {
        at = at.min(self.text.len());
        while !self.text.is_char_boundary(at) {
            at -= 1;
        }
        at
    }
}

impl SourceCode for Source {
    /// Finds the line from the line table instead of counting from the start of the file, blanks control characters,
    /// and cuts a line that is too long to be shown. The column is that of the span itself, in characters.
    fn read_span<'a>(
        &'a self,
        span: &SourceSpan,
        before: usize,
        after: usize,
    ) -> Result<Box<dyn SpanContents<'a> + 'a>, MietteError> {
        let start = span.offset().min(self.text.len());
        let end = start.saturating_add(span.len()).min(self.text.len());
        let (first, _) = self.line_at(start);
        let (last, _) = self.line_at(end.max(start + usize::from(end > start)) - usize::from(end > start));
        let top = first.saturating_sub(before);
        let bottom = (last + after).min(self.line_starts().len() - 1);
        let mut from = self.line_starts().get(top).map_or(0, |at| *at as usize);
        let mut to = self.line_end(bottom);
        let mut line = top;
        if first == last && to.saturating_sub(from) > 8 * SNIPPET_REACH {
            let line_start = self.line_starts().get(first).map_or(0, |at| *at as usize);
            from = self.boundary(start.saturating_sub(SNIPPET_REACH).max(line_start));
            to = self.boundary((start + SNIPPET_REACH).max(from).min(self.line_end(first)));
            line = first;
        }
        let column = self.position(u32::try_from(start).unwrap_or(u32::MAX)).column;
        let bytes = self.shown(from..to);
        Ok(Box::new(MietteSpanContents::new_named(
            self.name.clone(),
            bytes,
            (from, bytes.len()).into(),
            usize::try_from(self.first_line).unwrap_or(0) + line,
            usize::try_from(column - 1).unwrap_or(0),
            bottom - top + 1,
        )))
    }
}
