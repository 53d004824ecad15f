//! What was said about a unit: its own header lines, or else those of the file.

use std::sync::Arc;

use crate::finding::Label;
use crate::netlist::{EndSetting, Netlist, Origin, Scope, Setting, Settings, Unit};
use crate::text::{Source, Span};

/// The header lines of a file with the text that they stand in.
///
/// A long file is read in parts, and only the first holds the header.
#[derive(Clone, Debug)]
#[non_exhaustive]
pub struct Head {
    /// The text.
    pub source: Arc<Source>,
    /// The header lines.
    pub settings: Settings,
}

impl Head {
    /// The header of a netlist.
    #[must_use]
    pub fn of(netlist: &Netlist) -> Self {
        Head { source: Arc::clone(&netlist.head_source), settings: netlist.head.clone() }
    }
}

/// The header lines that hold for one unit.
#[derive(Clone, Copy, Debug)]
pub struct Given<'a> {
    head: &'a Head,
    own: Option<(&'a Arc<Source>, &'a Settings)>,
}

/// A header line with the text that it stands in.
#[derive(Clone, Copy, Debug)]
#[non_exhaustive]
pub struct Said<'a, T> {
    /// The value.
    pub value: T,
    /// The whole line.
    pub line: Span,
    /// The text.
    pub source: &'a Arc<Source>,
}

impl<T> Said<'_, T> {
    /// A label on the line.
    #[must_use]
    pub fn label(&self, text: impl Into<String>) -> Label {
        Label::new(self.source, self.line, text)
    }
}

impl<'a> Said<'a, Span> {
    /// The word itself.
    #[must_use]
    pub fn text(&self) -> &'a str {
        self.source.slice(self.value)
    }
}

impl<'a> Given<'a> {
    /// What holds for a unit.
    #[must_use]
    pub fn new(head: &'a Head, netlist: &'a Netlist, unit: &'a Unit) -> Self {
        Given { head, own: unit.settings.as_deref().map(|own| (&netlist.source, own)) }
    }

    /// A header line: the unit's own, or else the file's.
    pub fn get<T>(&self, pick: impl Fn(&'a Settings) -> Option<Setting<T>>) -> Option<Said<'a, T>> {
        let own = self.own.and_then(|(source, settings)| pick(settings).map(|setting| (source, setting)));
        let (source, setting) = own.or_else(|| pick(&self.head.settings).map(|setting| (&self.head.source, setting)))?;
        Some(Said { value: setting.value, line: setting.line, source })
    }

    /// How far the netlist goes.
    #[must_use]
    pub fn scope(&self) -> Scope {
        self.get(|settings| settings.scope).map_or_else(Scope::default, |said| said.value)
    }

    /// Every header line that holds, as it is written: the unit's own, or else the file's.
    #[must_use]
    pub fn lines(&self) -> Vec<&'a str> {
        let own = self.own.map_or_else(Vec::new, |(_, settings)| settings.lines());
        let of_file = self.head.settings.lines().into_iter();
        let of_file = of_file.filter(|(keyword, _)| own.iter().all(|(own, _)| own != keyword));
        let own_text = |line| self.own.map_or("", |(source, _)| source.written(line));
        let of_file: Vec<&str> = of_file.map(|(_, line)| self.head.source.written(line)).collect();
        of_file.into_iter().chain(own.iter().map(|(_, line)| own_text(*line))).collect()
    }

    /// Where it comes from.
    #[must_use]
    pub fn origin(&self) -> Origin {
        self.get(|settings| settings.origin).map_or_else(Origin::default, |said| said.value)
    }

    /// The `end` lines: the unit's own where it has any, or else the file's.
    #[must_use]
    pub fn ends(&self) -> (&'a Arc<Source>, &'a [EndSetting]) {
        match self.own {
            Some((source, settings)) if !settings.ends.is_empty() => (source, &settings.ends),
            _ => (&self.head.source, &self.head.settings.ends),
        }
    }

    /// The `connector` lines: the unit's own where it has any, or else the file's.
    #[must_use]
    pub fn connectors(&self) -> (&'a Arc<Source>, &'a [EndSetting]) {
        match self.own {
            Some((source, settings)) if !settings.connectors.is_empty() => (source, &settings.connectors),
            _ => (&self.head.source, &self.head.settings.connectors),
        }
    }

    /// Whether the cable's type names an overall screen.
    ///
    /// The designations of ISO/IEC 11801-1 (from memory) put the overall screen before the slash: `F/UTP`, `S/FTP`,
    /// `SF/UTP`; `U/UTP` and `U/FTP` have none. The older words without a slash (`FTP`, `STP`, `SFTP`, `ScTP`) are taken to
    /// name one, in whatever case they are written (common practice, no source).
    #[must_use]
    pub fn names_overall_screen(&self) -> bool {
        self.get(|settings| settings.kind).is_some_and(|said| {
            let text = said.text().to_ascii_uppercase();
            let words: Vec<&str> = text.split(|c: char| !c.is_ascii_alphabetic()).filter(|word| !word.is_empty()).collect();
            let pairs = |word: &str| matches!(word, "UTP" | "FTP" | "STP");
            (0..words.len()).any(|at| match (at.checked_sub(1).map(|before| words[before]), words[at]) {
                (Some("U"), word) if pairs(word) => false,
                (Some("S" | "F" | "SF"), word) if pairs(word) => true,
                (_, word) => {
                    matches!(word, "FTP" | "STP" | "SFTP" | "FFTP" | "SSTP" | "SUTP" | "FUTP" | "SFUTP" | "SFFTP" | "SCTP")
                }
            })
        })
    }
}
