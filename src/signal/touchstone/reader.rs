//! The file line by line: which part of it a line belongs to, and the list of what is wrong.

use std::sync::Arc;

use crate::finding::Problem;
use crate::text::{Source, Span};

use super::header::{Keywords, too_many};
use super::option::Options;
use super::rows::Rows;
use super::words::{Line, Word, words};
use super::{MOST_PORTS, Touchstone, Version};

/// How many errors of a file are listed; more of them seldom say more.
const MOST_PROBLEMS: usize = 12;

/// What is wrong with a file, as far as it is listed.
#[derive(Debug)]
pub(super) struct Problems {
    listed: Vec<Problem>,
    more: usize,
}

impl Problems {
    pub(super) fn push(&mut self, problem: impl Into<Box<Problem>>) {
        match self.listed.len() < MOST_PROBLEMS {
            true => self.listed.push(*problem.into()),
            false => self.more += 1,
        }
    }

    pub(super) fn is_empty(&self) -> bool {
        self.listed.is_empty()
    }

    pub(super) fn into_vec(mut self, source: &Source) -> Vec<Problem> {
        if self.more > 0 {
            let (name, more) = (source.name(), self.more);
            self.listed.push(Problem::new(format!("{name}: {more} more errors of this file aren't listed")));
        }
        self.listed
    }
}

/// The part of the file that a line stands in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Section {
    /// Before the figures; in version 1 the figures too.
    Head,
    /// After `[Reference]`, which goes on over several lines.
    Reference,
    /// After `[Mixed-Mode Order]`, likewise.
    Modes,
    /// After `[Network Data]`.
    Network,
    /// After `[Noise Data]`.
    Noise,
    /// Between `[Begin Information]` and `[End Information]`.
    Information,
    /// After `[End]`.
    End,
}

#[derive(Debug)]
pub(super) struct Reader<'s> {
    pub(super) source: &'s Arc<Source>,
    pub(super) problems: Problems,
    pub(super) section: Section,
    pub(super) version: Version,
    pub(super) options: Option<(Options, Span)>,
    pub(super) keywords: Keywords,
    pub(super) rows: Rows<'s>,
    pub(super) comments: Vec<Span>,
    /// Whether anything but comments was read.
    pub(super) begun: bool,
    /// Whether figures were met where none can stand, which is said once.
    pub(super) misplaced: bool,
}

impl<'s> Reader<'s> {
    pub(super) fn new(source: &'s Arc<Source>, ports: Option<usize>) -> Self {
        let mut problems = Problems { listed: Vec::new(), more: 0 };
        let known = ports.filter(|ports| (1..=MOST_PORTS).contains(ports));
        let mut rows = Rows::new(source, known);
        if let (Some(ports), None) = (ports, known) {
            problems.push(too_many(ports));
            rows.given_up = true;
        }
        Reader {
            source,
            problems,
            section: Section::Head,
            version: Version::One,
            options: None,
            keywords: Keywords::default(),
            rows,
            comments: Vec::new(),
            begun: false,
            misplaced: false,
        }
    }

    pub(super) fn line(&mut self, line: Line<'s>) {
        if let Some(first) = words(line.body, line.start).next() {
            self.words(line, first);
        }
        if line.comment.len > 0 && self.rows.is_empty() {
            self.comments.push(line.comment);
        }
    }

    /// A line that has more than a comment.
    fn words(&mut self, line: Line<'s>, first: Word<'s>) {
        if self.section == Section::Information && !first.text.starts_with('[') {
            return;
        }
        let rest_at = first.span.start as usize + 1;
        let rest = line.body.get(rest_at - line.start..).unwrap_or_default();
        match first.text.as_bytes()[0] {
            b'[' => self.keyword(rest, rest_at),
            b'#' => self.option_line(first, rest, rest_at),
            _ => self.figures(line, first),
        }
        self.begun = true;
    }

    fn option_line(&mut self, first: Word<'s>, rest: &'s str, rest_at: usize) {
        let span = Span::new(first.span.start as usize, rest_at + rest.trim_end().len());
        if matches!(self.section, Section::Reference | Section::Modes) {
            self.section = Section::Head;
        }
        if self.section != Section::Head && self.options.is_none() && self.rows.is_empty() {
            let label = "below [Network Data]";
            self.problems.push(Problem::new("the option line comes too late").at(self.source, span, label));
        }
        // a later option line is passed over where it says the same (specification, option line)
        match Options::read(self.source, words(rest, rest_at)) {
            Ok(options) => match &self.options {
                Some((earlier, at)) if *earlier != options => {
                    let problem = Problem::new("two option lines that don't agree")
                        .at(self.source, *at, "this one")
                        .at(self.source, span, "and this one")
                        .help("a file has one option line, above its figures; take out the other");
                    self.problems.push(problem);
                }
                Some(_) => {}
                None => {
                    self.rows.scale = options.scale;
                    self.rows.format = options.format;
                    self.options = Some((options, span));
                }
            },
            Err(problem) => {
                self.problems.push(problem);
                self.options.get_or_insert((Options::default(), span));
            }
        }
    }

    fn figures(&mut self, line: Line<'s>, first: Word<'s>) {
        let all = words(line.body, line.start);
        match self.section {
            Section::Reference => return self.keywords.references(self.source, all, &mut self.problems),
            Section::Modes => return self.keywords.modes(self.source, all, &mut self.problems),
            Section::Network | Section::Noise => {}
            Section::Head if self.version == Version::One => {}
            Section::Head | Section::Information | Section::End => {
                if !self.misplaced {
                    let label = if self.section == Section::End { "after [End]" } else { "before [Network Data]" };
                    let problem = Problem::new("text where none can stand").at(self.source, first.span, label);
                    self.problems.push(problem);
                }
                self.misplaced = true;
                return;
            }
        }
        if self.options.is_none() && self.rows.is_empty() {
            let problem = Problem::new("figures before the option line")
                .at(self.source, first.span, "what these are isn't known")
                .help("the line `# UNIT KIND FORMAT R OHM` stands above the figures, as in `# MHz S RI R 50`");
            self.problems.push(problem);
        }
        self.rows.line(all, &mut self.problems);
    }

    pub(super) fn finish(mut self) -> Result<Touchstone, Vec<Problem>> {
        self.rows.close(true, &mut self.problems);
        let source = self.source;
        let found = self.assemble();
        match found {
            Ok(touchstone) => Ok(touchstone),
            Err(problems) => Err(problems.into_vec(source)),
        }
    }
}
