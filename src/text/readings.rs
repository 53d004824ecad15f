//! Stretches of a text that stand for other words than those written there.

use std::collections::HashMap;

use super::Span;

/// What some stretches of a text are read as, such as a bare `7` in a column of end A, read as `A.7`.
///
/// Equal words are kept once. Places may be noted in any order.
#[derive(Debug, Default)]
pub struct Readings {
    words: Vec<Box<str>>,
    known: HashMap<Box<str>, u32>,
    places: Vec<(Span, u32)>,
}

impl Readings {
    /// Notes what a stretch is read as.
    pub fn note(&mut self, place: Span, words: &str) {
        let number = match self.known.get(words) {
            Some(number) => *number,
            None => {
                let number = u32::try_from(self.words.len()).unwrap_or(u32::MAX);
                self.words.push(words.into());
                self.known.insert(words.into(), number);
                number
            }
        };
        self.places.push((place, number));
    }

    /// What a stretch is read as, where that was noted and [sorted](Self::sort).
    #[must_use]
    pub fn at(&self, place: Span) -> Option<&str> {
        let at = self.places.binary_search_by_key(&place, |(place, _)| *place).ok()?;
        self.words.get(self.places[at].1 as usize).map(|words| &**words)
    }

    /// The different words that there are.
    pub fn words(&self) -> impl Iterator<Item = &str> {
        self.words.iter().map(|words| &**words)
    }

    /// Brings the places into the order of the text, so that they can be found.
    pub fn sort(&mut self) {
        self.places.sort_by_key(|(place, _)| *place);
        self.places.dedup_by_key(|(place, _)| *place);
    }
}
