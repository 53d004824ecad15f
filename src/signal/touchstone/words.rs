//! Lines and words of a Touchstone file. No text is copied: everything is a slice of the source.

use crate::text::Span;

/// A line without its comment.
#[derive(Clone, Copy, Debug)]
pub(super) struct Line<'s> {
    /// Where it starts in the text.
    pub start: usize,
    /// What stands before the comment.
    pub body: &'s str,
    /// The comment from its `!` on; empty where there is none.
    pub comment: Span,
}

/// A word with its place.
#[derive(Clone, Copy, Debug)]
pub(super) struct Word<'s> {
    pub text: &'s str,
    pub span: Span,
}

/// The lines of a text. A line ends at a line feed or a carriage return; a byte order mark is left out.
pub(super) fn lines(text: &str) -> impl Iterator<Item = Line<'_>> {
    let bytes = text.as_bytes();
    let mut start = if text.starts_with('\u{feff}') { '\u{feff}'.len_utf8() } else { 0 };
    memchr::memchr2_iter(b'\n', b'\r', bytes).chain(std::iter::once(bytes.len())).filter_map(move |end| {
        let from = start;
        start = end + 1;
        let whole = text.get(from..end)?;
        let body_len = memchr::memchr(b'!', whole.as_bytes()).unwrap_or(whole.len());
        let comment = Span::new(from + body_len, end);
        Some(Line { start: from, body: &whole[..body_len], comment })
    })
}

/// The words of a stretch that starts at `start`, divided by ASCII blanks.
pub(super) fn words(body: &str, start: usize) -> impl Iterator<Item = Word<'_>> {
    let bytes = body.as_bytes();
    let mut at = 0;
    std::iter::from_fn(move || {
        at += bytes.get(at..)?.iter().position(|byte| !byte.is_ascii_whitespace())?;
        let from = at;
        at += bytes[from..].iter().position(u8::is_ascii_whitespace).unwrap_or(bytes.len() - from);
        Some(Word { text: &body[from..at], span: Span::new(start + from, start + at) })
    })
}
