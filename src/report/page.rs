//! A text for people with the width of its lines.

use std::fmt;

use crate::text::visible;

/// A text under way. Paragraphs are broken at the width; tables and pictures keep theirs.
pub(super) struct Page {
    text: String,
    width: usize,
}

impl Page {
    /// An empty page with lines of so many columns.
    pub(super) fn new(width: usize) -> Self {
        Page { text: String::new(), width }
    }

    /// Adds a text as it is.
    pub(super) fn push_str(&mut self, text: &str) {
        self.text.push_str(text);
    }

    /// Adds a paragraph behind a first indent; later lines stand below its text.
    pub(super) fn paragraph(&mut self, first: &str, text: &str) {
        self.filled(first, &" ".repeat(first.chars().count()), text);
    }

    /// Adds a paragraph each of whose lines begins with the same, such as a comment.
    pub(super) fn behind(&mut self, mark: &str, text: &str) {
        self.filled(mark, mark, text);
    }

    /// Words stay whole, even one that is longer than a line: digests, paths and options are to be copied.
    fn filled(&mut self, first: &str, under: &str, text: &str) {
        let whole = textwrap::Options::new(self.width).break_words(false).word_splitter(textwrap::WordSplitter::NoHyphenation);
        let options = whole.initial_indent(first).subsequent_indent(under);
        self.text.push_str(&textwrap::fill(&visible(text), options));
        self.text.push('\n');
    }

    /// The text.
    pub(super) fn into_text(self) -> String {
        self.text
    }
}

impl fmt::Write for Page {
    fn write_str(&mut self, text: &str) -> fmt::Result {
        self.text.push_str(text);
        Ok(())
    }
}
