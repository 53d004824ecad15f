//! The cells of one row of a from-to table: its unit, its two points, and what stands beside them.

use crate::finding::Problem;
use crate::text::Span;
use crate::units::{Dimension, Scale, Unit as Measure};

use super::build::{Figures, UnitId};
use super::cells::Cell;
use super::damage::Damage;
use super::grammar::{is_end, is_pin};
use super::headings::Field;
use super::model::{ComponentKind, FigureId, Point};
use super::table::Table;

/// A conductor's end as a row gives it.
#[derive(Clone, Copy)]
pub(super) struct Contact<'s> {
    pub point: Point,
    pub end: &'s str,
    pub pin: &'s str,
}

/// What stands in `to`.
pub(super) enum Far<'s> {
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

/// What one row states.
pub(super) struct Stated<'s> {
    pub place: Span,
    pub near: Contact<'s>,
    pub far: Far<'s>,
    pub wire: Option<Span>,
    pub gauge: Option<FigureId>,
    pub pair: Option<Span>,
    pub figure: Option<FigureId>,
    pub screen: Option<Contact<'s>>,
    pub part: Option<(ComponentKind, Option<FigureId>)>,
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

impl<'s> Table<'s> {
    /// What a row states of its conductor, as far as it can be read.
    pub(super) fn fact(&mut self, cells: &[Cell], row: Span) -> Option<Stated<'s>> {
        let ends = self.options.ends.as_ref();
        let from = Side { field: Field::From, end_field: Some(Field::FromEnd), end: ends.map(|(from, _)| from.as_str()) };
        let to = Side { field: Field::To, end_field: Some(Field::ToEnd), end: ends.map(|(_, to)| to.as_str()) };
        let near = self.near(cells, &from, row);
        let nothing = near.is_none() && self.cell(cells, Field::To).is_none();
        let far = if nothing { None } else { self.far(cells, &to, row) };
        let wire = self.name(cells, Field::Wire);
        let gauge = self.gauge(cells, wire);
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
        Some(Stated { place, near, far, wire, gauge, pair, figure, screen, part })
    }

    pub(super) fn problem(&self, message: &str, place: Span, label: &str) -> Problem {
        Problem::new(message).at(self.to.source, place, label)
    }

    /// The place of a cell, where it is filled.
    pub(super) fn cell(&self, cells: &[Cell], field: Field) -> Option<Span> {
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

    pub(super) fn unit(&mut self, cells: &[Cell], row: Span) -> Option<UnitId> {
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

    /// The size of a wire, which needs its name: else nothing tells which wire of a net it is.
    fn gauge(&mut self, cells: &[Cell], wire: Option<Span>) -> Option<FigureId> {
        let place = self.cell(cells, Field::Gauge)?;
        if wire.is_none() && self.cell(cells, Field::Wire).is_none() {
            let problem = self.problem("a gauge without its wire", place, "which wire is this?");
            self.wrong.push(
                problem.help("name the wire in the column `wire`, by its colour or number; one gauge for all is a header line"),
            );
        }
        let how = Figures { bare: None, decimal_comma: self.options.decimal_comma };
        self.to.figure(place, Dimension::Gauge, how).map_err(|problem| self.wrong.push(problem)).ok()
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
}
