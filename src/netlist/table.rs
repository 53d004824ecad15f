//! From-to tables: one row, one conductor.

use std::collections::{HashMap, HashSet};
use std::hash::{BuildHasher, BuildHasherDefault, DefaultHasher};
use std::sync::Arc;

use crate::finding::Problem;
use crate::text::{Source, Span};

use super::build::{Builder, UnitId};
use super::cells::{Cell, Flaw};
use super::damage::Damage;
use super::form::Header;
use super::grammar::{is_end, is_pin, looks_like_point};
use super::headings::{Field, Layout, headings};
use super::lost::lost_digits;
use super::model::{FactKind, Netlist};
use super::parse::strip_bom;
use super::row::{Contact, Far, Stated};
use super::settings::{Origin, Setting};
use super::twists::Twists;

/// What a table can't say of itself.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
#[non_exhaustive]
pub struct TableOptions {
    /// Columns that are called otherwise than their field: the field, and the heading that means it.
    pub columns: Vec<(Field, String)>,
    /// The ends that bare pins in `from` and in `to` belong to.
    pub ends: Option<(String, String)>,
    /// True where a comma stands before the decimals.
    pub decimal_comma: bool,
}

impl TableOptions {
    /// One more column that is called otherwise than its field: the field, and the heading that means it.
    #[must_use]
    pub fn with_column(mut self, field: Field, heading: impl Into<String>) -> Self {
        self.columns.push((field, heading.into()));
        self
    }

    /// The ends that bare pins in `from` and in `to` belong to.
    #[must_use]
    pub fn with_ends(self, from: impl Into<String>, to: impl Into<String>) -> Self {
        Self { ends: Some((from.into(), to.into())), ..self }
    }

    /// True where a comma stands before the decimals.
    #[must_use]
    pub fn with_decimal_comma(self, decimal_comma: bool) -> Self {
        Self { decimal_comma, ..self }
    }

    /// Whether a word can be the name of an end: a letter, then letters, digits, `_` and `-`.
    #[must_use]
    pub fn is_end(word: &str) -> bool {
        is_end(word.as_bytes())
    }
}

/// Reads a from-to table. Where the header doesn't say its source, one with a column of resistances is measured, and one
/// without is a drawing.
pub(super) fn read(source: &Arc<Source>, options: &TableOptions, header: Option<&Header>, bad: &[Span]) -> Netlist {
    let mut to = Builder::new(source, header);
    let start = source.text().len() - strip_bom(source.text().as_bytes()).len();
    let (mut rows, layout, heading) = match headings(source, start, &options.columns) {
        Ok(found) => found,
        Err(problems) => {
            problems.into_iter().for_each(|problem| to.spoil(None, problem));
            return to.finish();
        }
    };
    if to.head().origin.is_none() {
        let figures = layout.column(Field::Ohm).or(layout.column(Field::Milliohm)).is_some();
        let value = if figures { Origin::Measured } else { Origin::Drawing };
        // said nowhere; the line that stands for it is the heading, where the header is the table itself
        let line = if header.is_some() { Span::default() } else { heading };
        to.head().origin = Some(Setting { value, line });
    }
    let mut table = Table {
        to,
        layout,
        options,
        bad,
        from_above: false,
        seen: HashMap::new(),
        twice: HashSet::new(),
        twists: Twists::default(),
        suspects: Vec::new(),
        wrong: Vec::new(),
    };
    let mut cells = Vec::new();
    let width = table.layout.width;
    while rows.next(&mut cells, width) {
        table.row(&cells);
    }
    table.finish(heading)
}

/// A table that is being read.
pub(super) struct Table<'s> {
    pub to: Builder<'s>,
    pub layout: Layout,
    pub options: &'s TableOptions,
    /// Places of bytes that are no text, from the next row on.
    pub bad: &'s [Span],
    /// True where the row above names its `from`.
    pub from_above: bool,
    /// The rows by what they say, as a hash, and the units of which it was said that a row stands twice.
    pub seen: HashMap<u64, Span>,
    pub twice: HashSet<UnitId>,
    pub twists: Twists<'s>,
    /// Names of units that are damaged: their rows may belong to others.
    pub suspects: Vec<(Damage, String)>,
    /// What is wrong with the row that is being read.
    pub wrong: Vec<Problem>,
}

impl<'s> Table<'s> {
    fn row(&mut self, cells: &[Cell]) {
        let place = cells.iter().map(|cell| cell.place).reduce(Span::to).unwrap_or_default();
        self.bad_bytes(place);
        let unnamed = self.layout.unnamed.iter().filter_map(|column| cells.get(*column)).find(|cell| cell.place.len > 0);
        if let Some(cell) = unnamed.or(cells.get(self.layout.width)) {
            let problem = self.problem("a cell outside of the columns that have a heading", cell.place, "which column is this?");
            self.wrong.push(
                problem.help("a cell that holds the delimiter must stand in quotation marks; every column needs a heading"),
            );
        }
        let swallowed = self.quotation_marks(cells, place);
        if swallowed {
            self.wrong.drain(..).for_each(|problem| self.to.problem(problem));
            return;
        }
        let states = |field: &Field| *field != Field::Note && self.cell(cells, *field).is_some();
        if self.wrong.is_empty() && !Field::ALL.iter().any(states) {
            return;
        }
        let unit = self.unit(cells, place);
        let fact = self.fact(cells, place);
        match (unit, fact) {
            (Some(unit), Some(fact)) if self.wrong.is_empty() => self.state(unit, fact),
            _ => {
                if let Some(unit) = unit {
                    self.to.mark(Some(unit));
                }
                self.wrong.drain(..).for_each(|problem| self.to.problem(problem));
            }
        }
    }

    fn state(&mut self, unit: UnitId, row: Stated<'s>) {
        let Stated { place, near, far, wire, gauge, pair, figure, screen, part } = row;
        let Far::Contact(far) = far else {
            self.said_before(unit, place, [near, near], None);
            return self.to.fact(unit, place, &[near.point], |points| FactKind::Open { points });
        };
        let points = [near.point, far.point];
        if let Some((kind, figure)) = part {
            return self.to.fact(unit, place, &points, |points| FactKind::Component { kind, points, figure });
        }
        if figure.is_some() || wire.is_none() {
            self.to.fact(unit, place, &points, |points| FactKind::Join { points, figure });
        }
        if let Some(label) = wire {
            self.to.fact(unit, place, &points, |points| FactKind::Conductor { label, points, gauge });
        }
        self.said_before(unit, place, [near, far], wire);
        if let Some(pair) = pair {
            self.twists.add(unit, pair, self.to.source.written(pair), [near, far], screen);
        }
    }

    /// Two rows that say the same: two units of one name may hide behind them.
    fn said_before(&mut self, unit: UnitId, place: Span, contacts: [Contact<'s>; 2], wire: Option<Span>) {
        let mut names = contacts.map(|contact| (contact.end, contact.pin));
        names.sort_unstable();
        let wire = wire.map(|wire| self.to.source.written(wire));
        let hash = BuildHasherDefault::<DefaultHasher>::default().hash_one((unit, names, wire));
        if let Some(first) = self.seen.insert(hash, place)
            && self.twice.insert(unit)
        {
            let problem = self.problem("a row that stands twice in one unit", place, "said again here");
            let problem = problem.at(self.to.source, first, "first said here").help(
                "where these are two units of one name, name them apart; two wires between the same points need names in a \
                 column `wire`; else leave out one of the rows",
            );
            self.to.spoil(Some(unit), problem);
        }
    }

    // ------------------------------------------------------------------ what touches more than one row

    /// Bytes that are no text, up to the end of a row.
    fn bad_bytes(&mut self, row: Span) {
        while let [first, rest @ ..] = self.bad
            && first.start < row.end()
        {
            self.bad = rest;
            let problem = not_text(self.to.source, *first);
            if first.end() > row.start {
                self.wrong.push(problem);
            } else {
                self.to.spoil(None, problem);
            }
        }
    }

    /// Quotation marks that don't close where they should: they may have taken rows of any unit with them.
    fn quotation_marks(&mut self, cells: &[Cell], row: Span) -> bool {
        let mut found = false;
        let lines = memchr::memchr(b'\n', self.to.source.written(row).as_bytes()).is_some();
        for cell in cells {
            let problem = match cell.flaw {
                Some(flaw) => flawed(self.to.source, cell.place, flaw),
                None if lines && self.swallows_rows(cell.place) => {
                    let words = self.to.source.written(cell.place);
                    let first_line = words.find(['\n', '\r']).unwrap_or(words.len());
                    let start = cell.place.start as usize;
                    let place = Span::new(start.saturating_sub(1), start + first_line);
                    self.problem(
                        "a quotation mark that takes whole rows into one cell",
                        place,
                        "this cell goes on over the rows below",
                    )
                    .help("close it in its own row; a ditto mark can't stand alone: write the words that it stands for")
                }
                None => continue,
            };
            found = true;
            self.to.spoil(None, problem);
        }
        found
    }

    /// Whether a line inside a cell looks like a row of the table: two of its pieces are points or pins.
    fn swallows_rows(&self, place: Span) -> bool {
        let is_point = |piece: &&str| {
            let word = piece.trim_matches('"').as_bytes();
            is_pin(word) || looks_like_point(word)
        };
        let delimiter = char::from(self.layout.delimiter);
        let mut lines = self.to.source.written(place).split('\n').skip(1);
        lines.any(|line| line.trim_end().split(delimiter).filter(is_point).count() >= 2)
    }

    fn finish(mut self, heading: Span) -> Netlist {
        if self.to.is_empty() {
            let problem = self.problem("a table without rows", heading, "nothing stands below the heading");
            self.to.spoil(None, problem);
        }
        for at in self.bad {
            self.to.spoil(None, not_text(self.to.source, *at));
        }
        self.twists.finish(&mut self.to);
        lost_digits(&mut self.to, self.suspects);
        self.to.finish()
    }
}

/// Bytes that are no text.
pub(super) fn not_text(source: &Arc<Source>, place: Span) -> Problem {
    Problem::new("bytes that are not UTF-8")
        .at(source, place, "this can't be read as text")
        .help("save the file as text in UTF-8; spreadsheets call it CSV UTF-8")
}

/// A cell whose quotation marks are not as RFC 4180 has them.
pub(super) fn flawed(source: &Arc<Source>, place: Span, flaw: Flaw) -> Problem {
    let (message, label, help) = match flaw {
        Flaw::NeverClosed => (
            "a quotation mark is never closed",
            "opened here",
            "close it in its own row; a ditto mark can't stand alone: write the words that it stands for",
        ),
        Flaw::Alone => (
            "a quotation mark that stands alone",
            "it takes what follows, up to the next one, into one cell",
            "a ditto mark can't stand in a table: write the words that it stands for; a cell in quotation marks must not begin \
             and end with the delimiter or a line break",
        ),
        Flaw::AfterQuote => (
            "something stands after the closing quotation mark",
            "this cell",
            "a quotation mark inside a cell is written twice, as in `\"5\"\" drop\"`",
        ),
    };
    Problem::new(message).at(source, place, label).help(help)
}
