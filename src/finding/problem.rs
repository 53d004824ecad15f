//! Labels, and problems of the input itself.

use std::sync::Arc;

use crate::text::{Source, Span};

/// A place in a source with what is to be seen there.
#[derive(Clone, Debug)]
#[non_exhaustive]
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
#[non_exhaustive]
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
    ///
    /// An unknown key or word comes with the known one that is nearest to it, and the help lists all of them.
    #[must_use]
    pub fn toml(what: &str, source: &Arc<Source>, error: &toml::de::Error) -> Self {
        let span = error.span().map_or_else(Span::default, Span::from);
        let (label, help) = toml_words(error.message());
        let problem = Problem::new(format!("{what} can't be read")).at(source, span, label);
        match help {
            Some(help) => problem.help(help),
            None => problem,
        }
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

/// What is wrong with a TOML file in words, and what to do about it, from the message of its reader.
fn toml_words(message: &str) -> (String, Option<String>) {
    let first = message.lines().next().unwrap_or("not readable");
    let mut names = first.split('`').skip(1).step_by(2);
    let unknown = ["unknown field", "unknown variant"].iter().position(|start| first.starts_with(start));
    if let (Some(kind), Some(written)) = (unknown, names.next()) {
        let known: Vec<&str> = names.collect();
        let near = known
            .iter()
            .map(|known| (strsim::damerau_levenshtein(known, written), *known))
            .min()
            .filter(|(distance, known)| *distance <= 1 + known.len() / 3);
        let what = ["no such key", "no such word"][kind];
        let label = near.map_or_else(|| what.to_owned(), |(_, near)| format!("{what}: did you mean `{near}`?"));
        return (label, (!known.is_empty()).then(|| format!("what can stand here: {}", known.join(", "))));
    }
    if let Some(key) = first.strip_prefix("missing field ") {
        return (format!("without its key {key}"), None);
    }
    if first.starts_with("invalid type: integer") && first.contains("string") {
        return ("a number, where a text belongs".to_owned(), Some("write it in quotation marks, as in \"1\"".to_owned()));
    }
    (first.to_owned(), None)
}
