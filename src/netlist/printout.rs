//! Print-outs of testers: line by line, by the rules of a rule file. No line is left out that no rule names.

use std::sync::Arc;

use regex::Captures;

use crate::finding::Problem;
use crate::text::{Source, Span};
use crate::units::{Dimension, Unit as Measure};

use super::build::{Builder, Figures, UnitId};
use super::form::Header;
use super::model::{ComponentKind, FactKind, FigureId, Netlist, Point};
use super::parse::strip_bom;
use super::rules::{Rule, Rules, States};
use super::table::not_text;

/// Reads a print-out.
pub(super) fn read(source: &Arc<Source>, rules: &Rules, header: Option<&Header>, bad: &[Span]) -> Netlist {
    let mut reader = Lines { to: Builder::new(source, header), rules, current: None, unnamed: None };
    let text = source.text();
    let mut start = text.len() - strip_bom(text.as_bytes()).len();
    let mut bad = bad;
    for end in memchr::memchr_iter(b'\n', text.as_bytes()).chain(std::iter::once(text.len())) {
        if end >= start {
            let line = text[start..end].trim_ascii();
            let at = start + (text[start..end].len() - text[start..end].trim_ascii_start().len());
            let place = Span::new(at, at + line.len());
            let mut readable = true;
            while let [first, rest @ ..] = bad
                && (first.start as usize) < end
            {
                bad = rest;
                readable = false;
                reader.unreadable(not_text(source, *first));
            }
            if readable && !line.is_empty() {
                reader.line(line, place);
            }
        }
        start = end + 1;
    }
    reader.to.finish()
}

struct Lines<'s> {
    to: Builder<'s>,
    rules: &'s Rules,
    /// The unit that the last unit line named.
    current: Option<UnitId>,
    /// The first line without a unit, and the unit that stands for none.
    unnamed: Option<(Span, UnitId)>,
}

/// One line that a rule reads.
struct Line<'s, 'l> {
    rule: &'s Rule,
    place: Span,
    groups: Captures<'l>,
}

impl Line<'_, '_> {
    /// The place of a group, where the line has it and it isn't empty.
    fn group(&self, name: &str) -> Option<Span> {
        let found = self.groups.name(name).filter(|found| !found.is_empty())?;
        let start = self.place.start as usize;
        Some(Span::new(start + found.start(), start + found.end()))
    }
}

impl<'s> Lines<'s> {
    /// A line that can't be used, and with it the unit that it stands in.
    fn unreadable(&mut self, problem: Problem) {
        match self.current {
            None if self.to.units() > 0 => {
                self.to.orphan();
                self.to.problem(problem);
            }
            unit => self.to.spoil(unit, problem),
        }
    }

    fn line(&mut self, line: &'s str, place: Span) {
        let mut matching = self.rules.set.matches(line).into_iter().filter_map(|at| self.rules.rules.get(at));
        let (first, second) = (matching.next(), matching.next());
        let source = self.to.source;
        match (first, second) {
            (None, _) => {
                let problem =
                    Problem::new("a line that no rule reads").at(source, place, "not one of the rules matches this line");
                self.unreadable(problem.help(
                    "add a rule to the rule file, or an `[[ignore]]` with its reason where the line states nothing; a rule must \
                     match the whole line",
                ));
            }
            (Some(one), Some(other)) => {
                let problem = Problem::new("a line that two rules read")
                    .at(source, place, "which of them holds?")
                    .at(&self.rules.source, one.place, "one")
                    .at(&self.rules.source, other.place, "the other");
                self.unreadable(problem.help("make the rules so narrow that one of them matches"));
            }
            (Some(rule), None) => {
                if let Some(groups) = rule.pattern.captures(line)
                    && rule.states != States::Nothing
                {
                    self.statement(&Line { rule, place, groups });
                }
            }
        }
    }

    fn statement(&mut self, line: &Line<'_, '_>) {
        if line.rule.states == States::Unit {
            return self.unit_line(line);
        }
        let unit = match line.group("unit") {
            Some(name) => {
                let (unit, _) = self.to.unit(name);
                if let Some(problem) = self.to.unusable_name(name) {
                    self.to.spoil(Some(unit), problem);
                }
                unit
            }
            None => match self.current {
                Some(unit) => unit,
                None if self.unnamed.is_none() && self.to.units() > 0 => {
                    let problem =
                        Problem::new("a fact that belongs to no unit").at(self.to.source, line.place, "which unit is this?");
                    return self.unreadable(problem.help("the rule needs a group `unit`, or the print-out a line that names it"));
                }
                None => {
                    let unit = self.to.unnamed_unit(line.place);
                    self.unnamed.get_or_insert((line.place, unit));
                    unit
                }
            },
        };
        self.stray();
        if let Err(problem) = self.fact(unit, line) {
            self.to.spoil(Some(unit), problem);
        }
    }

    fn unit_line(&mut self, line: &Line<'_, '_>) {
        let Some(name) = line.group("unit") else {
            let problem = Problem::new("a unit without its name").at(self.to.source, line.place, "no name here");
            return self.unreadable(problem);
        };
        let (unit, new) = self.to.unit(name);
        self.current = Some(unit);
        self.stray();
        if let Some(problem) = self.to.unusable_name(name) {
            self.to.spoil(Some(unit), problem);
        }
        if !new {
            let problem = Problem::new("a unit named twice")
                .at(self.to.source, name, "named again here")
                .at(self.to.source, self.to.named_at(unit), "first named here")
                .help("two units of one name can't be told apart; neither gets a verdict");
            self.to.spoil(Some(unit), problem);
        }
    }

    /// Facts above the first unit belong to none, so that no unit is complete.
    fn stray(&mut self) {
        if let Some((place, unit)) = self.unnamed
            && self.to.units() > unit + 1
        {
            self.unnamed = None;
            let problem = Problem::new("a fact above the first unit line belongs to no unit").at(
                self.to.source,
                place,
                "which unit is this?",
            );
            self.to.spoil(None, problem);
        }
    }

    fn fact(&mut self, unit: UnitId, line: &Line<'_, '_>) -> Result<(), Problem> {
        let place = line.place;
        let between = |reader: &mut Self| Ok([reader.point(line, "from", 0)?, reader.point(line, "to", 1)?]);
        match line.rule.states {
            States::Nothing | States::Unit => {}
            States::Open => {
                let points = self.list(line, "open")?;
                self.to.fact(unit, place, &points, |points| FactKind::Open { points });
            }
            States::Net => {
                let points = self.list(line, "net")?;
                if points.len() < 2 {
                    return Err(Problem::new("a net needs two points or more").at(self.to.source, place, "only one point"));
                }
                self.to.fact(unit, place, &points, |points| FactKind::Join { points, figure: None });
            }
            States::Join => {
                let points = between(self)?;
                let figure = self.figure(line, Dimension::Resistance)?;
                let wire = line.group("wire");
                if let Some(problem) = wire.and_then(|wire| self.to.unusable_name(wire)) {
                    return Err(problem);
                }
                if figure.is_some() || wire.is_none() {
                    self.to.fact(unit, place, &points, |points| FactKind::Join { points, figure });
                }
                if let Some(label) = wire {
                    self.to.fact(unit, place, &points, |points| FactKind::Conductor { label, points, gauge: None });
                }
            }
            States::Isolation => {
                let points = between(self)?;
                let figure = self.needed(line, Dimension::Resistance)?;
                self.to.fact(unit, place, &points, |points| FactKind::Isolation { points, figure });
            }
            States::Component(kind) => {
                let points = between(self)?;
                let figure = match kind {
                    ComponentKind::Resistor => Some(self.needed(line, Dimension::Resistance)?),
                    ComponentKind::Capacitor => Some(self.needed(line, Dimension::Capacitance)?),
                    ComponentKind::Diode => None,
                };
                self.to.fact(unit, place, &points, |points| FactKind::Component { kind, points, figure });
            }
            States::Capacitance => {
                let point = self.point(line, "from", 0)?;
                let figure = self.needed(line, Dimension::Capacitance)?;
                self.to.fact(unit, place, &[point], |points| FactKind::Capacitance { points, figure });
            }
        }
        Ok(())
    }

    // ------------------------------------------------------------------ points and figures

    fn missing(&self, line: &Line<'_, '_>, group: &str) -> Problem {
        Problem::new(format!("a line without its `{group}`"))
            .at(self.to.source, line.place, "the rule matches this line, but the group is empty")
            .at(&self.rules.source, line.rule.place, "this rule")
    }

    fn point(&mut self, line: &Line<'_, '_>, group: &str, end: usize) -> Result<Point, Problem> {
        let place = line.group(group).ok_or_else(|| self.missing(line, group))?;
        if group == "to" && line.group("from") == Some(place) {
            let problem = Problem::new("one word for both points").at(self.to.source, place, "`from` and `to` at once");
            return Err(problem.help("a fact needs two points that stand in the line"));
        }
        self.contact(line, place, end)
    }

    /// Points with blanks, commas or semicolons between them.
    fn list(&mut self, line: &Line<'_, '_>, group: &str) -> Result<Vec<Point>, Problem> {
        let place = line.group(group).ok_or_else(|| self.missing(line, group))?;
        let words = self.to.source.written(place);
        let mut points = Vec::new();
        for word in words.split([' ', '\t', ',', ';']).filter(|word| !word.is_empty()) {
            let at = place.start as usize + (word.as_ptr() as usize - words.as_ptr() as usize);
            points.push(self.contact(line, Span::new(at, at + word.len()), 2)?);
        }
        if points.is_empty() { Err(self.missing(line, group)) } else { Ok(points) }
    }

    fn contact(&mut self, line: &Line<'_, '_>, place: Span, end: usize) -> Result<Point, Problem> {
        let rules = self.rules;
        let words = self.to.source.written(place);
        let parted = rules
            .point
            .as_ref()
            .and_then(|point| point.captures(words))
            .and_then(|parts| Some((parts.name("end").map(|end| end.as_str()), parts.name("pin")?.as_str())));
        let (own, pin) = parted.unwrap_or_else(|| match words.split_once('.') {
            Some((end, pin)) => (Some(end), pin),
            None => (None, words),
        });
        let own = own.map(|end| rules.ends.get(end).map_or(end, String::as_str));
        let Some(end) = own.or(line.rule.ends[end].as_deref()) else {
            let problem = Problem::new("a pin without its end").at(self.to.source, place, "which end is it at?").at(
                &rules.source,
                line.rule.place,
                "read by this rule",
            );
            return Err(problem.help(
                "`from-end`, `to-end` or `end` in the rule says which end bare pins belong to; `point` at the top of the rule \
                 file says how a point is written",
            ));
        };
        let pin = rules.pins.get(pin).map_or(pin, String::as_str);
        self.to.named_point(place, end, pin).ok_or_else(|| {
            let read = format!("read as end `{}`, pin `{}`", crate::text::visible(end), crate::text::visible(pin));
            Problem::new("this isn't a point").at(self.to.source, place, read).help(
                "`point` at the top of the rule file says how a point is written; `[ends]` and `[pins]` give other names for \
                 those that can't be used",
            )
        })
    }

    fn needed(&mut self, line: &Line<'_, '_>, of: Dimension) -> Result<FigureId, Problem> {
        self.figure(line, of)?.ok_or_else(|| self.missing(line, "value"))
    }

    fn figure(&mut self, line: &Line<'_, '_>, of: Dimension) -> Result<Option<FigureId>, Problem> {
        let Some(place) = line.group("value") else { return Ok(None) };
        let bare = match line.group("measure") {
            None => line.rule.bare,
            Some(at) => {
                let word = self.to.source.written(at);
                let unit = self.rules.units.get(word).copied().or_else(|| Measure::parse(word));
                Some(unit.ok_or_else(|| {
                    Problem::new("unknown unit")
                        .at(self.to.source, at, "not a unit of the language")
                        .help("`[units]` in the rule file says what the print-out's units are, as in `\"Ohms\" = \"ohm\"`")
                })?)
            }
        };
        let how = Figures { bare, decimal_comma: self.rules.decimal_comma };
        self.to.figure(place, of, how).map(Some).map_err(|problem| match (bare, &problem.help) {
            (None, None) => problem.help("`value-unit = \"ohm\"` in the rule says which unit bare numbers are in"),
            _ => problem,
        })
    }
}
