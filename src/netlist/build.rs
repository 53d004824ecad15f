//! Puts a netlist together from facts that come in any order, unit by unit or mixed.

use std::collections::HashMap;
use std::sync::Arc;

use crate::finding::Problem;
use crate::text::{Readings, Source, Span};
use crate::units::{Dimension, Quantity};

use super::form::Header;
use super::grammar::{is_end, is_pin, point, quantity_in};
use super::messages::misread;
use super::model::{Fact, FactKind, Figure, FigureId, Netlist, Point, PointRange, Unit};
use super::parse::out_of_range;

/// How many problems of one kind are shown; the rest is counted.
const SHOWN: usize = 10;

/// The number of a unit: the order in which the units are first named.
pub(super) type UnitId = u32;

/// How a figure without a unit, or with a comma, is read.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Figures {
    /// The unit of a bare number.
    pub bare: Option<(crate::units::Unit, crate::units::Scale)>,
    /// True where a comma stands before the decimals.
    pub decimal_comma: bool,
}

/// A netlist in the making.
pub(super) struct Builder<'s> {
    pub source: &'s Arc<Source>,
    netlist: Netlist,
    readings: Readings,
    /// For each fact, its unit.
    unit_of: Vec<UnitId>,
    numbers: HashMap<&'s str, UnitId>,
    /// The unit that was named last.
    last: Option<UnitId>,
    /// True where a unit is named again after another one.
    scattered: bool,
    /// Facts whose unit isn't known: the unit above, and the number of the one below.
    orphans: Vec<(Option<UnitId>, UnitId)>,
    said: HashMap<String, usize>,
    words: String,
}

impl<'s> Builder<'s> {
    pub fn new(source: &'s Arc<Source>, header: Option<&Header>) -> Self {
        let mut netlist = Netlist::empty(source);
        if let Some(header) = header {
            netlist.head_source = Arc::clone(&header.source);
            netlist.head = header.settings.clone();
        }
        Builder {
            source,
            netlist,
            readings: Readings::default(),
            unit_of: Vec::new(),
            numbers: HashMap::new(),
            last: None,
            scattered: false,
            orphans: Vec::new(),
            said: HashMap::new(),
            words: String::new(),
        }
    }

    /// The header lines so far.
    pub fn head(&mut self) -> &mut super::Settings {
        &mut self.netlist.head
    }

    // ------------------------------------------------------------------ units

    /// The unit of this name, and whether it is new.
    pub fn unit(&mut self, name: Span) -> (UnitId, bool) {
        let words = self.source.written(name);
        if let Some(last) = self.last
            && self
                .netlist
                .units
                .get(last as usize)
                .and_then(|unit| unit.name)
                .is_some_and(|known| self.source.written(known) == words)
        {
            return (last, false);
        }
        let known = self.numbers.get(words).copied();
        self.scattered |= known.is_some();
        let number = known.unwrap_or_else(|| self.new_unit(Some(name), name));
        self.numbers.insert(words, number);
        self.last = Some(number);
        (number, known.is_none())
    }

    /// The one unit of a file that names none.
    pub fn unnamed_unit(&mut self, first: Span) -> UnitId {
        let unit = self.last.unwrap_or_else(|| self.new_unit(None, first));
        self.last = Some(unit);
        unit
    }

    /// The unit that was named last.
    pub fn last_unit(&self) -> Option<UnitId> {
        self.last
    }

    fn new_unit(&mut self, name: Option<Span>, line: Span) -> UnitId {
        self.netlist.units.push(Unit { name, attempt: 1, line, settings: None, facts: 0..0, broken: false });
        index(self.netlist.units.len() - 1)
    }

    /// Notes that a fact stands here whose unit isn't known. It belongs to the unit above or to the one below; where
    /// units are mixed, to any.
    pub fn orphan(&mut self) {
        self.orphans.push((self.last, self.units()));
    }

    fn mark_orphans(&mut self) {
        for (above, next) in std::mem::take(&mut self.orphans) {
            let below = (next < self.units()).then_some(next);
            if self.scattered || (above.is_none() && below.is_none()) {
                self.mark(None);
            }
            [above, below].into_iter().flatten().for_each(|unit| self.mark(Some(unit)));
        }
    }

    /// What keeps a name from being written in the language, or from being told from another.
    pub fn unusable_name(&self, place: Span) -> Option<Problem> {
        let words = self.source.written(place);
        let label = if words.contains(|c: char| c == '"' || c.is_control()) {
            "a quotation mark, or a line break, inside a name"
        } else if words.contains(is_unseen) {
            "a character inside that can't be seen, such as a blank of another kind"
        } else {
            return None;
        };
        Some(Problem::new("a name that can't be used").at(self.source, place, label).help("write the name without it"))
    }

    /// Whether nothing was said so far, and nothing was wrong.
    pub fn is_empty(&self) -> bool {
        self.netlist.units.is_empty() && self.netlist.problems.is_empty()
    }

    /// How many units there are.
    pub fn units(&self) -> UnitId {
        index(self.netlist.units.len())
    }

    /// Where a unit is named.
    pub fn named_at(&self, unit: UnitId) -> Span {
        self.netlist.units.get(unit as usize).map_or(Span::default(), |unit| unit.line)
    }

    // ------------------------------------------------------------------ what can't be used

    /// A problem that keeps a unit from having a verdict; without a unit, every unit of the file.
    pub fn spoil(&mut self, unit: Option<UnitId>, problem: Problem) {
        self.mark(unit);
        self.problem(problem);
    }

    /// The same without saying it again.
    pub fn mark(&mut self, unit: Option<UnitId>) {
        match unit.and_then(|unit| self.netlist.units.get_mut(unit as usize)) {
            Some(unit) => unit.broken = true,
            None => self.netlist.head_broken = true,
        }
    }

    /// A problem; of those of one kind, only the first few are shown.
    pub fn problem(&mut self, problem: Problem) {
        let times = self.said.entry(problem.message.clone()).or_default();
        *times += 1;
        if *times <= SHOWN {
            self.netlist.problems.push(problem);
        }
    }

    // ------------------------------------------------------------------ points, figures, facts

    /// A point that stands there whole.
    pub fn whole_point(&self, place: Span) -> Option<Point> {
        let (rest, (_, end_len)) = point(self.source.written(place).as_bytes()).ok()?;
        rest.is_empty().then(|| Point { span: place, end_len: index(end_len) })
    }

    /// A point whose words don't stand there as such.
    pub fn named_point(&mut self, place: Span, end: &str, pin: &str) -> Option<Point> {
        if !is_end(end.as_bytes()) || !is_pin(pin.as_bytes()) {
            return None;
        }
        self.words.clear();
        self.words.extend([end, ".", pin]);
        if self.source.written(place) != self.words {
            self.readings.note(place, &self.words);
        }
        Some(Point { span: place, end_len: index(end.len()) })
    }

    /// A figure of the given kind.
    pub fn figure(&mut self, place: Span, of: Dimension, how: Figures) -> Result<FigureId, Problem> {
        let quantity = self.quantity(place, how)?;
        if quantity.unit.dimension() != of {
            let expected = format!("expected {}", of.words());
            return Err(Problem::new("the wrong kind of figure").at(self.source, place, expected));
        }
        if let Some(allowed) = out_of_range(&quantity) {
            return Err(Problem::new("a figure out of range").at(self.source, place, allowed));
        }
        self.netlist.figures.push(Figure { span: place, quantity });
        Ok(FigureId(index(self.netlist.figures.len() - 1)))
    }

    fn quantity(&self, place: Span, how: Figures) -> Result<Quantity, Problem> {
        let written = self.source.written(place);
        if how.decimal_comma && written.contains('.') {
            let problem = Problem::new("a point in a figure, among figures with a decimal comma");
            let problem = problem.at(self.source, place, "decimals, or thousands?");
            return Err(problem.help("write it with a comma before the decimals, and without marks between the thousands"));
        }
        let comma = how.decimal_comma && written.matches(',').count() == 1;
        let with_point = if comma { written.replace(',', ".") } else { String::new() };
        // a comma and a point are one byte each, so that places stay true
        let text = if comma { with_point.as_bytes() } else { written.as_bytes() };
        match quantity_in(text, how.bare) {
            Ok(([], quantity)) => Ok(quantity),
            Ok((rest, _)) => {
                let end = place.end() as usize;
                let left = Span::new(end - rest.len(), end);
                Err(Problem::new("something after the figure can't be read").at(self.source, left, "expected nothing more"))
            }
            Err(error) => Err(misread(self.source, text, place.start as usize, error)),
        }
    }

    /// A fact of a unit.
    pub fn fact(&mut self, unit: UnitId, span: Span, points: &[Point], kind: impl FnOnce(PointRange) -> FactKind) {
        let range = PointRange { first: index(self.netlist.points.len()), count: index(points.len()) };
        self.netlist.points.extend_from_slice(points);
        self.netlist.facts.push(Fact { span, kind: kind(range) });
        self.unit_of.push(unit);
    }

    /// Everything that is read otherwise than it is written: the unit, the place, the words that it is read as.
    pub fn read_otherwise(&mut self) -> impl Iterator<Item = (UnitId, Span, &str)> {
        self.readings.sort();
        self.netlist.facts.iter().zip(&self.unit_of).flat_map(|(fact, unit)| {
            let points = self.netlist.points_of(fact.kind.points()).iter();
            points.filter_map(|point| Some((*unit, point.span, self.readings.at(point.span)?)))
        })
    }

    /// The different words of all that.
    pub fn words_read_otherwise(&self) -> impl Iterator<Item = &str> {
        self.readings.words()
    }

    /// The units, in their order, with their names.
    pub fn unit_names(&self) -> Vec<(UnitId, Span)> {
        (0..).zip(&self.netlist.units).filter_map(|(number, unit)| Some((number, unit.name?))).collect()
    }

    /// The netlist, with the facts of each unit together.
    pub fn finish(mut self) -> Netlist {
        self.mark_orphans();
        if !self.unit_of.is_sorted() {
            self.bring_together();
        }
        let mut at = 0;
        for (number, unit) in (0..).zip(&mut self.netlist.units) {
            let count = self.unit_of[at..].iter().take_while(|of| **of == number).count();
            unit.facts = index(at)..index(at + count);
            at += count;
        }
        let more = self.netlist.problems.iter().filter_map(|problem| {
            // in the order of the file; each kind once
            self.said
                .remove(&problem.message)
                .filter(|times| *times > SHOWN)
                .map(|times| (times - SHOWN, problem.message.clone()))
        });
        let more: Vec<Problem> = more.map(|(n, message)| Problem::new(format!("{n} more of this kind: {message}"))).collect();
        self.netlist.problems.extend(more);
        self.source.read_as(self.readings);
        self.netlist
    }

    /// Facts and points in the order of their units; within a unit they keep theirs.
    fn bring_together(&mut self) {
        let mut order: Vec<usize> = (0..self.unit_of.len()).collect();
        order.sort_by_key(|at| self.unit_of[*at]);
        let mut points = Vec::with_capacity(self.netlist.points.len());
        let mut facts = Vec::with_capacity(self.netlist.facts.len());
        for at in &order {
            let Fact { span, kind } = self.netlist.facts[*at];
            let first = index(points.len());
            points.extend_from_slice(self.netlist.points_of(kind.points()));
            facts.push(Fact { span, kind: kind.with_points_at(first) });
        }
        self.unit_of.sort_unstable();
        self.netlist.points = points;
        self.netlist.facts = facts;
    }
}

/// Blanks other than the plain one, and marks without width: with one of them, two names look alike and are not.
fn is_unseen(c: char) -> bool {
    (c.is_whitespace() && c != ' ')
        || matches!(c, '\u{ad}' | '\u{200b}'..='\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2060}'..='\u{206f}' | '\u{feff}')
}

fn index(n: usize) -> u32 {
    u32::try_from(n).unwrap_or(u32::MAX)
}
