//! The keywords of versions 2.0 and 2.1.

use std::sync::Arc;

use crate::finding::Problem;
use crate::text::{Source, Span};

use super::mixed::Mode;
use super::option::resistance;
use super::reader::{Problems, Reader, Section};
use super::words::{Word, words};
use super::{MOST_PORTS, PortsFrom, Version};

/// Which entries of a matrix a file writes.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) enum Layout {
    #[default]
    Full,
    Lower,
    Upper,
}

impl Layout {
    /// How many entries a matrix has.
    pub(super) fn cells(self, ports: usize) -> usize {
        if self == Layout::Full { ports * ports } else { ports * (ports + 1) / 2 }
    }
}

/// A value with the place of its keyword.
type At<T> = Option<(T, Span)>;

/// What the keywords say.
#[derive(Debug, Default)]
pub(super) struct Keywords {
    pub version: Option<Span>,
    pub ports: At<usize>,
    /// Whether S12 comes before S21.
    pub row_by_row: At<bool>,
    pub frequencies: At<usize>,
    pub noise: At<usize>,
    pub reference: At<Vec<f64>>,
    pub layout: At<Layout>,
    pub modes: At<Vec<Mode>>,
    pub network: Option<Span>,
}

const NAMES: [&str; 13] = [
    "Version",
    "Number of Ports",
    "Two-Port Data Order",
    "Number of Frequencies",
    "Number of Noise Frequencies",
    "Reference",
    "Matrix Format",
    "Mixed-Mode Order",
    "Network Data",
    "Noise Data",
    "Begin Information",
    "End Information",
    "End",
];

/// The count that a keyword states, of this much or more; where there is none, it says so.
fn count(source: &Arc<Source>, word: Option<Word<'_>>, keyword: Span, least: u32, problems: &mut Problems) -> Option<usize> {
    let read = word.and_then(|word| word.text.parse::<u32>().ok()).filter(|count| *count >= least);
    if read.is_none() {
        let span = word.map_or(keyword, |word| word.span);
        let label = format!("expected a whole number, {least} or more");
        problems.push(Problem::new("a count is missing").at(source, span, label));
    }
    read.and_then(|count| usize::try_from(count).ok())
}

impl<'s> Reader<'s> {
    /// A line from after its `[` on.
    pub(super) fn keyword(&mut self, rest: &'s str, rest_at: usize) {
        let (name, after) = rest.split_once(']').unwrap_or((rest.trim_end(), ""));
        let span = Span::new(rest_at - 1, (rest_at + name.len() + 1).min(rest_at + rest.len()));
        let known = NAMES.iter().find(|known| {
            known.split(' ').map(str::to_ascii_lowercase).eq(name.split_ascii_whitespace().map(str::to_ascii_lowercase))
        });
        if self.section == Section::Information {
            if known == Some(&"End Information") {
                self.section = Section::Head;
            }
            return;
        }
        let Some(known) = known else { return self.unknown(name, span) };
        if self.out_of_place(known, span) {
            return;
        }
        let mut values = words(after, rest_at + name.len() + 1);
        let source = self.source;
        match *known {
            "Version" => {
                let value = values.next();
                self.version = match value.map(|word| word.text) {
                    Some("2.1") => Version::TwoOne,
                    other => {
                        if other != Some("2.0") {
                            let at = value.map_or(span, |word| word.span);
                            let problem = Problem::new("a version of Touchstone that isn't known")
                                .at(source, at, "expected 2.0 or 2.1")
                                .help("a file of version 1 has no [Version] line");
                            self.problems.push(problem);
                        }
                        Version::Two
                    }
                };
                self.keywords.version = Some(span);
            }
            "Number of Ports" => self.number_of_ports(values.next(), span),
            "Two-Port Data Order" => {
                let value = values.next();
                match value.map(|word| word.text) {
                    Some("12_21") => self.keywords.row_by_row = Some((true, span)),
                    Some("21_12") => self.keywords.row_by_row = Some((false, span)),
                    _ => self.misread(value, span, "expected 12_21 or 21_12"),
                }
            }
            "Number of Frequencies" => {
                self.keywords.frequencies = count(source, values.next(), span, 1, &mut self.problems).map(|count| (count, span));
            }
            "Number of Noise Frequencies" => {
                self.keywords.noise = count(source, values.next(), span, 0, &mut self.problems).map(|count| (count, span));
            }
            "Reference" => {
                self.section = Section::Reference;
                self.keywords.reference = Some((Vec::new(), span));
                return self.keywords.references(source, values, &mut self.problems);
            }
            "Matrix Format" => {
                let value = values.next();
                match value.map(|word| word.text.to_ascii_lowercase()).as_deref() {
                    Some("full") => self.keywords.layout = Some((Layout::Full, span)),
                    Some("lower") => self.keywords.layout = Some((Layout::Lower, span)),
                    Some("upper") => self.keywords.layout = Some((Layout::Upper, span)),
                    _ => self.misread(value, span, "expected Full, Lower or Upper"),
                }
            }
            "Mixed-Mode Order" => {
                self.section = Section::Modes;
                self.keywords.modes = Some((Vec::new(), span));
                return self.keywords.modes(source, values, &mut self.problems);
            }
            "Network Data" => self.network_data(span),
            "Noise Data" => {
                self.section = Section::Noise;
                self.rows.begin_noise(&mut self.problems);
            }
            "Begin Information" => self.section = Section::Information,
            "End" => {
                self.rows.close(true, &mut self.problems);
                self.section = Section::End;
            }
            _ => {}
        }
        if let Some(more) = values.next() {
            self.problems.push(Problem::new("more than a keyword takes").at(source, more.span, "nothing more can stand here"));
        }
    }

    fn unknown(&mut self, name: &str, span: Span) {
        let shown: String = name.trim().chars().take(40).collect();
        let distance = |known: &str| strsim::damerau_levenshtein(&known.to_ascii_lowercase(), &shown.to_ascii_lowercase());
        let near = NAMES.iter().map(|known| (distance(known), *known)).min().filter(|(distance, _)| *distance <= 3);
        let problem = Problem::new("a keyword that isn't one of Touchstone's").at(self.source, span, "not known");
        self.problems.push(match near {
            Some((_, near)) => problem.help(format!("did you mean [{near}]?")),
            None => problem.help(format!("the keywords are [{}]", NAMES.join("], ["))),
        });
    }

    fn misread(&mut self, word: Option<Word<'_>>, keyword: Span, expected: &str) {
        let span = word.map_or(keyword, |word| word.span);
        self.problems.push(Problem::new("this can't follow the keyword").at(self.source, span, expected));
    }

    /// Whether a keyword can't stand where it stands, or was there before; says so.
    fn out_of_place(&mut self, keyword: &str, span: Span) -> bool {
        let k = &self.keywords;
        let earlier = match keyword {
            "Version" => k.version,
            "Number of Ports" => k.ports.map(|(_, at)| at),
            "Two-Port Data Order" => k.row_by_row.map(|(_, at)| at),
            "Number of Frequencies" => k.frequencies.map(|(_, at)| at),
            "Number of Noise Frequencies" => k.noise.map(|(_, at)| at),
            "Reference" => k.reference.as_ref().map(|(_, at)| *at),
            "Matrix Format" => k.layout.map(|(_, at)| at),
            "Mixed-Mode Order" => k.modes.as_ref().map(|(_, at)| *at),
            "Network Data" => k.network,
            _ => None,
        };
        let problem = Problem::new(format!("[{keyword}] can't stand here"));
        let section = self.section;
        self.section = match section {
            Section::Reference | Section::Modes => Section::Head,
            other => other,
        };
        let in_head = self.section == Section::Head;
        let problem = match keyword {
            _ if section == Section::End => problem.at(self.source, span, "after [End]"),
            "Version" if self.begun => problem.at(self.source, span, "[Version] is the first line of a file"),
            _ if earlier.is_some() => {
                let first = earlier.unwrap_or_default();
                let problem = Problem::new(format!("[{keyword}] stands there twice"));
                problem.at(self.source, first, "once").at(self.source, span, "and again")
            }
            "Version" => return false,
            _ if !self.version.has_keywords() => problem
                .at(self.source, span, "a keyword, in a file without [Version]")
                .help("a file with keywords begins with [Version] 2.0"),
            "Noise Data" if section != Section::Network => problem.at(self.source, span, "it comes after the network data"),
            "End" | "Noise Data" => return false,
            "End Information" => problem.at(self.source, span, "no [Begin Information] before it"),
            _ if !in_head => problem.at(self.source, span, "below [Network Data], where no such keyword can stand"),
            _ => return false,
        };
        self.problems.push(problem);
        true
    }

    fn number_of_ports(&mut self, word: Option<Word<'_>>, span: Span) {
        let Some(ports) = count(self.source, word, span, 1, &mut self.problems) else { return };
        let at = word.map_or(span, |word| word.span);
        self.keywords.ports = Some((ports, at));
        if ports > MOST_PORTS {
            self.problems.push(too_many(ports).at(self.source, at, "this many ports"));
            self.rows.given_up = true;
            return;
        }
        match self.rows.ports {
            Some(named) if named != ports => {
                let problem = Problem::new(format!("the file's name says {named} ports, and [Number of Ports] {ports}"))
                    .at(self.source, at, "this many ports")
                    .help("one of them is wrong; correct it before the file is used");
                self.problems.push(problem);
            }
            _ => {}
        }
        self.rows.ports = Some(ports);
        self.rows.ports_from = PortsFrom::Keyword;
    }

    fn network_data(&mut self, span: Span) {
        self.section = Section::Network;
        self.keywords.network = Some(span);
        self.rows.layout = self.keywords.layout.map_or_else(Layout::default, |(layout, _)| layout);
        self.rows.noise_by_keyword = true;
        if self.keywords.ports.is_none() {
            let problem = Problem::new("[Number of Ports] is missing").at(self.source, span, "needed before the figures");
            self.problems.push(problem);
        }
    }
}

/// What is said of a file with more ports than are read.
pub(super) fn too_many(ports: usize) -> Problem {
    Problem::new(format!("a file of {ports} ports; from 1 to {MOST_PORTS} can be read"))
        .help("save the ports of one pair, or of two, as a file of their own")
}

impl Keywords {
    /// Figures of `[Reference]`.
    pub(super) fn references<'s>(
        &mut self,
        source: &Arc<Source>,
        words: impl Iterator<Item = Word<'s>>,
        problems: &mut Problems,
    ) {
        let Some((list, _)) = &mut self.reference else { return };
        for word in words {
            match resistance(source, word) {
                Ok(ohm) => list.push(ohm),
                Err(problem) => {
                    problems.push(problem);
                    list.push(50.0); // so that the count is right; the file gives no network
                }
            }
        }
    }

    /// Entries of `[Mixed-Mode Order]`.
    pub(super) fn modes<'s>(&mut self, source: &Arc<Source>, words: impl Iterator<Item = Word<'s>>, problems: &mut Problems) {
        let Some((list, _)) = &mut self.modes else { return };
        for word in words {
            match Mode::read(word.text) {
                Some(mode) => list.push(mode),
                None => {
                    let label = "expected S1, D1,2 or C1,2, with the numbers of ports";
                    problems.push(Problem::new("this isn't a mode of a port").at(source, word.span, label));
                }
            }
        }
    }
}
