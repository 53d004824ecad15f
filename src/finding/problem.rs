//! Labels, and problems of the input itself.

use std::sync::Arc;

use crate::text::{Source, Span};

/// A place in a source with what is to be seen there.
#[derive(Clone, Debug)]
pub struct Label {
    /// The text that the span lies in.
    pub source: Arc<Source>,
    /// The bytes.
    pub span: Span,
    /// What is to be seen there, in a few words.
    pub text: String,
}

impl Label {
    /// A label.
    #[must_use]
    pub fn new(source: &Arc<Source>, span: Span, text: impl Into<String>) -> Self {
        Label { source: Arc::clone(source), span, text: text.into() }
    }
}

/// An input that can't be used as it stands: an unreadable line, a contradiction, an unknown name.
#[derive(Clone, Debug)]
pub struct Problem {
    /// What is wrong.
    pub message: String,
    /// What to do about it, where that can be said.
    pub help: Option<String>,
    /// Where it shows; empty where there is no place, as with a file that can't be opened.
    pub labels: Vec<Label>,
}

impl Problem {
    /// A problem without a place.
    #[must_use]
    pub fn new(message: impl Into<String>) -> Self {
        Problem { message: message.into(), help: None, labels: Vec::new() }
    }

    /// A TOML file that can't be read; `what` names it, as in "the pin map dome.toml".
    #[must_use]
    pub fn toml(what: &str, source: &Arc<Source>, error: &toml::de::Error) -> Self {
        let span = error.span().map_or_else(Span::default, Span::from);
        let message = error.message().lines().next().unwrap_or("not readable");
        Problem::new(format!("{what} can't be read")).at(source, span, message)
    }

    /// The same with a place.
    #[must_use]
    pub fn at(mut self, source: &Arc<Source>, span: Span, text: impl Into<String>) -> Self {
        self.labels.push(Label::new(source, span, text));
        self
    }

    /// The same with a way out.
    #[must_use]
    pub fn help(mut self, text: impl Into<String>) -> Self {
        self.help = Some(text.into());
        self
    }
}
