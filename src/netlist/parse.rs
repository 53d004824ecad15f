//! Reading a netlist line by line, with recovery at the next line.

use std::sync::Arc;

use crate::finding::Problem;
use crate::text::{Source, Span};
use crate::units::{Dimension, Quantity, Unit as Measure};

use super::grammar::{self, at_end, is_blank};
use super::messages::helped;
use super::model::{ComponentKind, Fact, FactKind, Figure, FigureId, Netlist, Point, PointRange, Unit};

/// Which part of a file a text is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub enum Part {
    /// The whole file.
    Whole,
    /// The beginning of a longer file, cut just before a `unit` line.
    First,
    /// A later part; it begins with a `unit` line.
    Later,
}

/// Reads a whole netlist. What can't be read is in [`Netlist::problems`]; everything else is there.
#[must_use]
pub fn parse(source: &Arc<Source>) -> Netlist {
    parse_part(source, Part::Whole)
}

/// Reads a part of a netlist.
#[must_use]
pub fn parse_part(source: &Arc<Source>, part: Part) -> Netlist {
    let bytes = source.text().as_bytes();
    let mut reader = Reader::new(source, part, bytes.len() / 16);
    reader.read_lines(reader.first_line(), bytes.len());
    reader.finish();
    reader.netlist
}

pub(super) fn strip_bom(bytes: &[u8]) -> &[u8] {
    bytes.strip_prefix("\u{feff}".as_bytes()).unwrap_or(bytes)
}

/// The result of one statement: what went wrong and where, as bytes of the line.
pub(super) type Done = Result<(), Box<Problem>>;

pub(super) struct Reader<'s> {
    pub(super) source: &'s Arc<Source>,
    pub(super) netlist: Netlist,
    pub(super) part: Part,
    saw_unit: bool,
    /// The line being read, and where it starts.
    pub(super) line: &'s [u8],
    pub(super) start: usize,
}

impl<'s> Reader<'s> {
    /// A reader with room for so many lines.
    pub(super) fn new(source: &'s Arc<Source>, part: Part, lines: usize) -> Self {
        let lines = lines.min(64 * 1024);
        let netlist = Netlist {
            units: Vec::with_capacity(lines / 16 + 1),
            facts: Vec::with_capacity(lines),
            points: Vec::with_capacity(2 * lines),
            figures: Vec::with_capacity(lines),
            ..Netlist::empty(source)
        };
        Reader { source, netlist, part, saw_unit: false, line: &[], start: 0 }
    }

    /// Where the first line starts: after a byte order mark.
    pub(super) fn first_line(&self) -> usize {
        let bytes = self.source.text().as_bytes();
        if self.part == Part::Later { 0 } else { bytes.len() - strip_bom(bytes).len() }
    }

    /// Reads the lines of a stretch of the text, which starts and ends with a line.
    pub(super) fn read_lines(&mut self, from: usize, to: usize) {
        let bytes = self.source.text().as_bytes();
        let mut start = from;
        while start < to {
            let end = memchr::memchr(b'\n', &bytes[start..to]).map_or(to, |at| start + at);
            self.read_line(&bytes[start..end], start);
            start = end + 1;
        }
    }

    fn read_line(&mut self, line: &'s [u8], start: usize) {
        let indent = line.iter().take_while(|b| is_blank(**b)).count();
        let line = &line[indent..];
        if line.is_empty() || line[0] == b'#' {
            return;
        }
        (self.line, self.start) = (line, start + indent);
        let marks = (self.netlist.points.len(), self.netlist.figures.len());
        let done = if grammar::looks_like_point(line) { self.join() } else { self.statement() };
        if let Err(problem) = done {
            self.netlist.points.truncate(marks.0);
            self.netlist.figures.truncate(marks.1);
            self.netlist.problems.push(*problem);
            match self.netlist.units.last_mut() {
                Some(unit) => unit.broken = true,
                None => self.netlist.head_broken = true,
            }
        }
    }

    /// `join = point 1*( blank point ) [ quantity ]`
    fn join(&mut self) -> Done {
        let (points, rest) = self.points(self.line)?;
        let (figure, rest) = self.optional_figure(rest, Dimension::Resistance)?;
        self.end(rest, if figure.is_some() { "nothing more" } else { "a point, a resistance or the end of the line" })?;
        if points.count < 2 {
            return Err(self
                .whole_line("a join needs two points or more", "only one point")
                .help(format!("write `open {}` where the point touches nothing", self.point_text(points, 0)))
                .into());
        }
        if figure.is_some() && points.count > 2 {
            return Err(self
                .whole_line("a resistance stands between two points", "this joins more than two")
                .help("give the figure on a line of its own, with the two points that it was measured between")
                .into());
        }
        self.fact(rest, FactKind::Join { points, figure })
    }

    fn statement(&mut self) -> Done {
        let (rest, keyword) = match grammar::word(self.line) {
            Ok(found) => found,
            Err(_) => return Err(self.whole_line("this line can't be read", "no keyword and no point").into()),
        };
        let Ok((rest, ())) = grammar::gap(rest) else {
            return Err(self.unknown(keyword).into());
        };
        match keyword {
            b"unit" => self.unit(rest),
            b"apart" => {
                let (points, rest) = self.exactly(rest, 2)?;
                self.end(rest, "nothing more")?;
                self.fact(rest, FactKind::Apart { points })
            }
            b"open" => {
                let (points, rest) = self.points(rest)?;
                self.end(rest, "a point or the end of the line")?;
                self.fact(rest, FactKind::Open { points })
            }
            b"isolation" => {
                let (points, rest) = self.exactly(rest, 2)?;
                let (figure, rest) = self.figure(rest, Dimension::Resistance)?;
                self.end(rest, "nothing more")?;
                self.fact(rest, FactKind::Isolation { points, figure })
            }
            b"resistor" => self.component(rest, ComponentKind::Resistor),
            b"capacitor" => self.component(rest, ComponentKind::Capacitor),
            b"diode" => self.component(rest, ComponentKind::Diode),
            b"pair" => self.pair(rest),
            b"conductor" => {
                let (rest, label) = self.text(rest)?;
                let (points, rest) = self.exactly(rest, 2)?;
                let (gauge, rest) = self.optional_figure(rest, Dimension::Gauge)?;
                self.end(rest, "a gauge or the end of the line")?;
                self.fact(rest, FactKind::Conductor { label, points, gauge })
            }
            b"capacitance" => {
                let (points, rest) = self.exactly(rest, 1)?;
                let (figure, rest) = self.figure(rest, Dimension::Capacitance)?;
                self.end(rest, "nothing more")?;
                self.fact(rest, FactKind::Capacitance { points, figure })
            }
            b"sparameters" => {
                // the path may look like a point itself, so only four are taken
                let (points, rest) =
                    self.points_up_to(rest, 4).and_then(|(points, after)| self.counted(rest, points, after, 4))?;
                let (rest, path) = self.text(rest)?;
                self.end(rest, "nothing more")?;
                self.fact(rest, FactKind::SParameters { points, path })
            }
            _ => self.header(keyword, rest),
        }
    }

    /// `"unit" text [ "attempt" digit ]`
    fn unit(&mut self, rest: &'s [u8]) -> Done {
        self.saw_unit = true;
        let name = self.text(rest).and_then(|(rest, name)| self.attempt(rest).map(|(rest, attempt)| ((name, attempt), rest)));
        let next = u32::try_from(self.netlist.facts.len()).unwrap_or(u32::MAX);
        let line = self.so_far(name.as_ref().map_or(&[][..], |(_, rest)| rest));
        // the facts below belong to this unit even where its name can't be read
        self.netlist.units.push(Unit {
            name: name.as_ref().ok().map(|((name, _), _)| *name),
            attempt: name.as_ref().map_or(1, |((_, attempt), _)| *attempt),
            line,
            settings: None,
            facts: next..next,
            broken: name.is_err(),
        });
        name.map(|_| ())
    }

    /// `[ "attempt" digit ]` and the end of the line.
    fn attempt(&self, rest: &'s [u8]) -> Result<(&'s [u8], u8), Box<Problem>> {
        let Ok((after, b"attempt")) = grammar::word(rest) else {
            return self.end(rest, "`attempt` with its number, or the end of the line").map(|()| (rest, 1));
        };
        let (after, ()) = grammar::gap(after).map_err(|e| self.expected(e))?;
        let (after, number) = grammar::word(after).map_err(|e| self.expected(e))?;
        let [digit @ b'1'..=b'9'] = number else {
            return Err(self.problem("which attempt is this?", number, "expected a number from 1 to 9").into());
        };
        let (after, ()) = grammar::gap(after).map_err(|e| self.expected(e))?;
        self.end(after, "nothing more")?;
        Ok((after, digit - b'0'))
    }

    /// `( "resistor" | "capacitor" ) point point quantity`, `"diode" point point`
    fn component(&mut self, rest: &'s [u8], kind: ComponentKind) -> Done {
        let (points, rest) = self.exactly(rest, 2)?;
        let dimension = match kind {
            ComponentKind::Resistor => Some(Dimension::Resistance),
            ComponentKind::Capacitor => Some(Dimension::Capacitance),
            ComponentKind::Diode => None,
        };
        let (figure, rest) = match dimension {
            Some(dimension) => self.figure(rest, dimension).map(|(figure, rest)| (Some(figure), rest))?,
            None => (None, rest),
        };
        self.end(rest, "nothing more")?;
        self.fact(rest, FactKind::Component { kind, points, figure })
    }

    /// `pair = "pair" point point [ "screen" point ]`
    fn pair(&mut self, rest: &'s [u8]) -> Done {
        let (mut points, rest) = self.exactly(rest, 2)?;
        let mut after = rest;
        if let Ok((screen, b"screen")) = grammar::word(rest) {
            let (screen, ()) = grammar::gap(screen).map_err(|e| self.expected(e))?;
            after = self.exactly(screen, 1)?.1;
            points.count = 3;
        }
        self.end(after, "`screen` with the point of its drain, or the end of the line")?;
        self.fact(after, FactKind::Pair { points })
    }

    fn fact(&mut self, rest: &'s [u8], kind: FactKind) -> Done {
        let span = self.so_far(rest);
        self.netlist.facts.push(Fact { span, kind });
        if let Some(unit) = self.netlist.units.last_mut() {
            unit.facts.end = u32::try_from(self.netlist.facts.len()).unwrap_or(u32::MAX);
        }
        Ok(())
    }

    /// `1*( point gap )`, as many as there are
    fn points(&mut self, input: &'s [u8]) -> Result<(PointRange, &'s [u8]), Box<Problem>> {
        self.points_up_to(input, usize::MAX)
    }

    /// `1*most( point gap )`
    fn points_up_to(&mut self, mut input: &'s [u8], most: usize) -> Result<(PointRange, &'s [u8]), Box<Problem>> {
        let first = self.netlist.points.len();
        loop {
            let (rest, (point, end_len)) = grammar::point(input).map_err(|e| self.expected(e))?;
            let span = self.span(point);
            self.netlist.points.push(Point { span, end_len: u32::try_from(end_len).unwrap_or(u32::MAX) });
            input = rest;
            if self.netlist.points.len() - first == most || !grammar::looks_like_point(input) {
                break;
            }
        }
        let count = self.netlist.points.len() - first;
        let as_index = |n: usize| u32::try_from(n).unwrap_or(u32::MAX);
        Ok((PointRange { first: as_index(first), count: as_index(count) }, input))
    }

    /// `count*count( point gap )`
    fn exactly(&mut self, input: &'s [u8], count: u32) -> Result<(PointRange, &'s [u8]), Box<Problem>> {
        let (points, rest) = self.points(input)?;
        self.counted(input, points, rest, count)
    }

    fn counted(
        &self,
        input: &'s [u8],
        points: PointRange,
        rest: &'s [u8],
        count: u32,
    ) -> Result<(PointRange, &'s [u8]), Box<Problem>> {
        if points.count == count {
            return Ok((points, rest));
        }
        let written = &input[..input.len() - rest.len()];
        let words = match count {
            1 => "one point".to_owned(),
            2 => "two points".to_owned(),
            n => format!("{n} points"),
        };
        Err(self.problem(format!("expected {words}, found {}", points.count), trim(written), "these points").into())
    }

    pub(super) fn text(&mut self, input: &'s [u8]) -> Result<(&'s [u8], Span), Box<Problem>> {
        let (rest, text) = grammar::text(input).map_err(|e| self.expected(e))?;
        Ok((rest, self.span(text)))
    }

    fn figure(&mut self, input: &'s [u8], of: Dimension) -> Result<(FigureId, &'s [u8]), Box<Problem>> {
        let (rest, quantity) = grammar::quantity(input).map_err(|e| self.expected(e))?;
        let written = trim(&input[..input.len() - rest.len()]);
        if quantity.unit.dimension() != of {
            return Err(self.problem("the wrong kind of figure", written, format!("expected {}", of.words())).into());
        }
        self.in_range(&quantity, written)?;
        let id = FigureId(u32::try_from(self.netlist.figures.len()).unwrap_or(u32::MAX));
        self.netlist.figures.push(Figure { span: self.span(written), quantity });
        Ok((id, rest))
    }

    fn optional_figure(&mut self, input: &'s [u8], of: Dimension) -> Result<(Option<FigureId>, &'s [u8]), Box<Problem>> {
        match input.first() {
            Some(b) if b.is_ascii_digit() || matches!(b, b'<' | b'>' | b'.' | b'-' | b'+') => {
                self.figure(input, of).map(|(id, rest)| (Some(id), rest))
            }
            _ => Ok((None, input)),
        }
    }

    pub(super) fn in_range(&self, quantity: &Quantity, written: &'s [u8]) -> Done {
        match out_of_range(quantity) {
            None => Ok(()),
            Some(allowed) => Err(self.problem("a figure out of range", written, allowed).into()),
        }
    }

    pub(super) fn end(&self, rest: &'s [u8], expected: &str) -> Done {
        if at_end(rest) {
            return Ok(());
        }
        let word = rest.split(|b| is_blank(*b)).next().unwrap_or(rest);
        let problem = self.problem("something at the end of the line can't be read", word, format!("expected {expected}"));
        Err(helped(problem, &String::from_utf8_lossy(word)).into())
    }

    // ------------------------------------------------------------------ places and messages

    /// The span of a piece of the line.
    pub(super) fn span(&self, piece: &[u8]) -> Span {
        let text = self.source.text().as_bytes();
        let at = (piece.as_ptr() as usize).wrapping_sub(text.as_ptr() as usize).min(text.len());
        Span::new(at, at + piece.len())
    }

    /// From the first word to before what is left, without the blanks in between.
    pub(super) fn so_far(&self, rest: &[u8]) -> Span {
        let read = trim(&self.line[..self.line.len() - rest.len().min(self.line.len())]);
        Span::new(self.start, self.start + read.len())
    }

    fn point_text(&self, points: PointRange, nth: usize) -> &str {
        self.netlist.points_of(points).get(nth).map_or("", |point| point.text(self.source))
    }

    pub(super) fn problem(&self, message: impl Into<String>, at: &[u8], label: impl Into<String>) -> Problem {
        Problem::new(message).at(self.source, self.span(at), label)
    }

    pub(super) fn whole_line(&self, message: &str, label: &str) -> Problem {
        self.problem(message, trim(self.line), label)
    }

    /// Says what is wrong with facts above the first unit, or makes them one where there is none.
    fn finish(&mut self) {
        if self.saw_unit || self.part == Part::First {
            return self.stray_facts();
        }
        self.whole_file();
    }

    /// The facts of a file without `unit` lines are one unit.
    pub(super) fn whole_file(&mut self) {
        if let Some(line) = self.netlist.facts.first().map(|fact| fact.span) {
            let facts = u32::try_from(self.netlist.facts.len()).unwrap_or(u32::MAX);
            let broken = self.netlist.head_broken;
            self.netlist.units.push(Unit { name: None, attempt: 1, line, settings: None, facts: 0..facts, broken });
        }
    }

    /// Facts above the first unit belong to none.
    pub(super) fn stray_facts(&mut self) {
        let facts = u32::try_from(self.netlist.facts.len()).unwrap_or(u32::MAX);
        let head_facts = self.netlist.units.first().map_or(facts, |unit| unit.facts.start);
        if self.part != Part::Later && head_facts > 0 {
            let problem = Problem::new("a fact above the first unit line belongs to no unit")
                .at(self.source, self.netlist.facts[0].span, "which unit is this?")
                .help("move it below the `unit` line that it belongs to");
            self.netlist.problems.push(problem);
            self.netlist.head_broken = true;
        }
    }
}

/// What is allowed, where a figure lies outside of it.
pub(super) fn out_of_range(quantity: &Quantity) -> Option<String> {
    let (low, high) = match quantity.unit {
        Measure::Awg => (-3.0, 56.0),
        unit => unit.dimension().range(),
    };
    if quantity.value >= low && quantity.value <= high {
        return None;
    }
    let symbol = quantity.unit.symbol();
    Some(match quantity.unit {
        Measure::Awg => "AWG sizes run from -3 (written 4/0 in tables) to 56".to_owned(),
        _ => format!("allowed here: {low} to {high} {symbol}"),
    })
}

pub(super) fn trim(piece: &[u8]) -> &[u8] {
    let end = piece.iter().rposition(|b| !is_blank(*b)).map_or(0, |at| at + 1);
    &piece[..end]
}
