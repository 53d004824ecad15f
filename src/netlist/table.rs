//! From-to tables: one row, one conductor.

use std::collections::{HashMap, HashSet};
use std::hash::{BuildHasher, BuildHasherDefault, DefaultHasher};
use std::sync::Arc;

use crate::finding::Problem;
use crate::text::{Source, Span};
use crate::units::{Dimension, Scale, Unit as Measure};

use super::build::{Builder, Figures, UnitId};
use super::cells::{Cell, Flaw};
use super::damage::Damage;
use super::form::Header;
use super::grammar::{is_end, is_pin, looks_like_point};
use super::headings::{Field, Layout, headings};
use super::lost::lost_digits;
use super::model::{ComponentKind, FactKind, FigureId, Netlist, Point};
use super::parse::strip_bom;
use super::settings::{Origin, Setting};
use super::twists::Twists;

/// What a table can't say of itself.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct TableOptions {
    /// Columns that are called otherwise than their field: the field, and the heading that means it.
    pub columns: Vec<(Field, String)>,
    /// The ends that bare pins in `from` and in `to` belong to.
    pub ends: Option<(String, String)>,
    /// True where a comma stands before the decimals.
    pub decimal_comma: bool,
}

impl TableOptions {
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

/// A conductor's end as a row gives it.
#[derive(Clone, Copy)]
pub(super) struct Contact<'s> {
    pub point: Point,
    pub end: &'s str,
    pub pin: &'s str,
}

/// What stands in `to`.
enum Far<'s> {
    Contact(Contact<'s>),
    /// Nothing is there.
    Open,
}

/// A column of points: its field, the field of its ends, and the end that its bare pins belong to.
struct Side<'s> {
    field: Field,
    end_field: Option<Field>,
    end: Option<&'s str>,
}

struct Table<'s> {
    to: Builder<'s>,
    layout: Layout,
    options: &'s TableOptions,
    /// Places of bytes that are no text, from the next row on.
    bad: &'s [Span],
    /// True where the row above names its `from`.
    from_above: bool,
    /// The rows by what they say, as a hash, and the units of which it was said that a row stands twice.
    seen: HashMap<u64, Span>,
    twice: HashSet<UnitId>,
    twists: Twists<'s>,
    /// Names of units that are damaged: their rows may belong to others.
    suspects: Vec<(Damage, String)>,
    /// What is wrong with the row that is being read.
    wrong: Vec<Problem>,
}

impl<'s> Table<'s> {
    fn row(&mut self, cells: &[Cell]) {
        let place = cells.iter().map(|cell| cell.place).reduce(Span::to).unwrap_or_default();
        self.bad_bytes(place);
        if let Some(cell) = cells.get(self.layout.width) {
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

    /// What a row states of its conductor, as far as it can be read.
    fn fact(&mut self, cells: &[Cell], row: Span) -> Option<Stated<'s>> {
        let ends = self.options.ends.as_ref();
        let from = Side { field: Field::From, end_field: Some(Field::FromEnd), end: ends.map(|(from, _)| from.as_str()) };
        let to = Side { field: Field::To, end_field: Some(Field::ToEnd), end: ends.map(|(_, to)| to.as_str()) };
        let near = self.near(cells, &from, row);
        let nothing = near.is_none() && self.cell(cells, Field::To).is_none();
        let far = if nothing { None } else { self.far(cells, &to, row) };
        let wire = self.name(cells, Field::Wire);
        let pair = self.name(cells, Field::Pair);
        let figure = self.figure(cells);
        let part = self.part(cells);
        let (near, far) = (near?, far?);
        let screen = self.screen(cells, near, pair);
        let parts = [Some(near.point.span), far.place(), wire, self.cell(cells, Field::Ohm), self.cell(cells, Field::Milliohm)];
        let place = parts.into_iter().flatten().reduce(Span::to).unwrap_or(row);
        let of_a_wire = wire.is_some() || pair.is_some() || figure.is_some();
        if matches!(far, Far::Open) && (of_a_wire || part.is_some()) {
            let problem = self.problem("a conductor that ends nowhere", place, "`open` says that its point touches nothing");
            self.wrong.push(problem.help("a row with `open` names the point alone; all else needs both points"));
        } else if part.is_some() && of_a_wire {
            let problem =
                self.problem("a part and a wire in one row", place, "a part joins its points otherwise than a wire does");
            self.wrong.push(problem.help("give the part a row of its own, with the words for it in `part`"));
        }
        Some(Stated { place, near, far, wire, pair, figure, screen, part })
    }

    fn state(&mut self, unit: UnitId, row: Stated<'s>) {
        let Stated { place, near, far, wire, pair, figure, screen, part } = row;
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
            self.to.fact(unit, place, &points, |points| FactKind::Conductor { label, points });
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

    // ------------------------------------------------------------------ the cells of a row

    fn problem(&self, message: &str, place: Span, label: &str) -> Problem {
        Problem::new(message).at(self.to.source, place, label)
    }

    /// The place of a cell, where it is filled.
    fn cell(&self, cells: &[Cell], field: Field) -> Option<Span> {
        let cell = cells.get(self.layout.column(field)?)?;
        (cell.place.len > 0).then_some(cell.place)
    }

    /// Something to show where a cell is empty: a delimiter beside it, or else the row.
    fn gap(&self, cells: &[Cell], field: Field, row: Span) -> Span {
        let text = self.to.source.text().as_bytes();
        let cell = self.layout.column(field).and_then(|column| cells.get(column));
        let at = cell.map_or(row.end(), |cell| cell.place.start) as usize;
        let beside = [Some(at), at.checked_sub(1)].into_iter().flatten();
        let delimiter = beside.into_iter().find(|at| text.get(*at) == Some(&self.layout.delimiter));
        delimiter.filter(|_| cell.is_some()).map_or(row, |at| Span::new(at, at + 1))
    }

    fn unit(&mut self, cells: &[Cell], row: Span) -> Option<UnitId> {
        if self.layout.column(Field::Unit).is_none() {
            return Some(self.to.unnamed_unit(row));
        }
        if let Some(name) = self.cell(cells, Field::Unit) {
            let words = self.to.source.written(name);
            let damage = Damage::of_name(words);
            if let Some(damage @ Damage::Ditto) = damage {
                self.to.orphan();
                self.wrong.push(damage.problem(self.to.source, name));
                return None;
            }
            let (unit, new) = self.to.unit(name);
            if new {
                // said once, and not in every row
                self.wrong.extend(damage.as_ref().map(|damage| damage.problem(self.to.source, name)));
                self.wrong.extend(self.to.unusable_name(name));
                self.suspects.extend(damage.map(|damage| (damage, words.to_owned())));
            }
            return Some(unit);
        }
        self.to.orphan();
        let gap = self.gap(cells, Field::Unit, row);
        let problem = match self.to.last_unit() {
            Some(_) => Damage::Merged.problem(self.to.source, gap),
            None => self.problem("a row without its unit", gap, "empty").help("name the unit in every row"),
        };
        self.wrong.push(problem);
        None
    }

    /// A name that stands in a cell; one that can't be used is a problem, but still a name.
    fn name(&mut self, cells: &[Cell], field: Field) -> Option<Span> {
        let place = self.cell(cells, field)?;
        let words = self.to.source.written(place);
        if let Some(damage) = Damage::of_name(words) {
            self.wrong.push(damage.problem(self.to.source, place));
        } else {
            self.wrong.extend(self.to.unusable_name(place));
        }
        Some(place)
    }

    fn near(&mut self, cells: &[Cell], side: &Side<'s>, row: Span) -> Option<Contact<'s>> {
        let Some(place) = self.cell(cells, side.field) else {
            let gap = self.gap(cells, side.field, row);
            let problem = if self.from_above {
                Damage::Merged.problem(self.to.source, gap)
            } else {
                self.problem("a row without its `from`", gap, "empty").help("each row needs both points of its conductor")
            };
            self.wrong.push(problem);
            return None;
        };
        self.from_above = true;
        if is_open(self.to.source.written(place)) {
            let problem = self.problem("`open` instead of a point", place, "which point is open?");
            self.wrong.push(problem.help("write the point in `from`, and `open` in `to`"));
            return None;
        }
        self.contact(cells, side, place, row)
    }

    fn far(&mut self, cells: &[Cell], side: &Side<'s>, row: Span) -> Option<Far<'s>> {
        let Some(place) = self.cell(cells, side.field) else {
            let gap = self.gap(cells, side.field, row);
            let problem = self.problem("a row without its `to`", gap, "empty").help(
                "write `open` where the point touches nothing; leave the row out where nobody looked; \
                 undo merged cells, and fill every row",
            );
            self.wrong.push(problem);
            return None;
        };
        if is_open(self.to.source.written(place)) {
            return Some(Far::Open);
        }
        self.contact(cells, side, place, row).map(Far::Contact)
    }

    /// The point in a cell: a whole one, or a pin whose end stands in its own column or was given with the table.
    fn contact(&mut self, cells: &[Cell], side: &Side<'s>, place: Span, row: Span) -> Option<Contact<'s>> {
        let source = self.to.source;
        let words = source.written(place);
        let own = side.end_field.filter(|field| self.layout.column(*field).is_some());
        if own.is_none()
            && let Some(point) = self.to.whole_point(place)
        {
            let (end, pin) = words.split_at(point.end_len as usize);
            return Some(Contact { point, end, pin: &pin[1..] });
        }
        let end_at = own.and_then(|field| self.cell(cells, field));
        if let (Some(field), None) = (own, end_at) {
            let gap = self.gap(cells, field, row);
            self.wrong.push(Damage::Merged.problem(source, gap));
            return None;
        }
        let damaged = end_at.and_then(|at| Some((Damage::of_name(source.written(at))?, at)));
        if let Some((damage, at)) = damaged.or_else(|| Some((Damage::of(words)?, place))) {
            self.wrong.push(damage.problem(source, at));
            return None;
        }
        let end = end_at.map(|at| source.written(at)).or(side.end);
        if let Some(end) = end
            && let Some(point) = self.to.named_point(place, end, words)
        {
            return Some(Contact { point, end, pin: words });
        }
        let problem = match (end_at, end) {
            (Some(at), Some(end)) if !is_end(end.as_bytes()) => {
                self.problem("this isn't an end", at, "expected a letter, then letters, digits, `_` or `-`")
            }
            (Some(_), _) => self.problem("this isn't a pin", place, "expected letters, digits, `_`, `+` or `-`"),
            (None, None) if is_pin(words.as_bytes()) => self.problem("a pin without its end", place, "which end is it at?").help(
                "`--ends A,B` says which ends the bare pins in `from` and `to` belong to; a column `from-end` or `to-end` \
                 names them row by row; or write whole points such as `A.1`",
            ),
            _ => self.problem("this isn't a point", place, "expected END.PIN, as in `A.1` or `B.shell`"),
        };
        self.wrong.push(problem);
        None
    }

    fn figure(&mut self, cells: &[Cell]) -> Option<FigureId> {
        let ohm = self.cell(cells, Field::Ohm).map(|place| (place, Scale::Ten(0)));
        let milliohm = self.cell(cells, Field::Milliohm).map(|place| (place, Scale::Ten(-3)));
        if let (Some((one, _)), Some((other, _))) = (ohm, milliohm) {
            let problem = self.problem("two resistances in one row", other, "and here");
            self.wrong.push(problem.at(self.to.source, one, "one here").help("keep the one that holds"));
        }
        let (place, scale) = ohm.or(milliohm)?;
        let how = Figures { bare: Some((Measure::Ohm, scale)), decimal_comma: self.options.decimal_comma };
        match self.to.figure(place, Dimension::Resistance, how) {
            Ok(figure) => Some(figure),
            Err(problem) => {
                let damage = Damage::of_name(self.to.source.written(place));
                self.wrong.push(damage.map_or(problem, |damage| damage.problem(self.to.source, place)));
                None
            }
        }
    }

    /// A part inside a plug, with its value.
    fn part(&mut self, cells: &[Cell]) -> Option<(ComponentKind, Option<FigureId>)> {
        let place = self.cell(cells, Field::Part)?;
        let words = self.to.source.written(place);
        let (word, value) = words.split_once([' ', '\t']).unwrap_or((words, ""));
        let value = value.trim_ascii_start();
        let value_at = Span::new(place.end() as usize - value.len(), place.end() as usize);
        let how = Figures { bare: None, decimal_comma: self.options.decimal_comma };
        let read = match word.to_ascii_lowercase().as_str() {
            "resistor" => {
                self.to.figure(value_at, Dimension::Resistance, how).map(|value| (ComponentKind::Resistor, Some(value)))
            }
            "capacitor" => {
                self.to.figure(value_at, Dimension::Capacitance, how).map(|value| (ComponentKind::Capacitor, Some(value)))
            }
            "diode" if value.is_empty() => Ok((ComponentKind::Diode, None)),
            _ => Err(self.problem("this isn't a part", place, "expected `resistor 56 kohm`, `capacitor 10 nF` or `diode`")),
        };
        read.map_err(|problem| self.wrong.push(problem)).ok()
    }

    /// Where the drain of a pair's screen lands; a bare pin is at the end of `from`.
    fn screen(&mut self, cells: &[Cell], near: Contact<'s>, pair: Option<Span>) -> Option<Contact<'s>> {
        let place = self.cell(cells, Field::Screen)?;
        if pair.is_none() {
            let problem = self.problem("a screen without its pair", place, "which conductors does it enclose?");
            self.wrong.push(problem.help("give the two rows of the pair the same word in a column `pair`"));
        }
        let side = Side { field: Field::Screen, end_field: None, end: Some(near.end) };
        self.contact(cells, &side, place, place)
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

/// What one row states.
struct Stated<'s> {
    place: Span,
    near: Contact<'s>,
    far: Far<'s>,
    wire: Option<Span>,
    pair: Option<Span>,
    figure: Option<FigureId>,
    screen: Option<Contact<'s>>,
    part: Option<(ComponentKind, Option<FigureId>)>,
}

impl Far<'_> {
    fn place(&self) -> Option<Span> {
        match self {
            Far::Contact(contact) => Some(contact.point.span),
            Far::Open => None,
        }
    }
}

/// `open` in the place of a point: it touches nothing.
fn is_open(words: &str) -> bool {
    words.eq_ignore_ascii_case("open")
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
