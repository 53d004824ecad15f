//! Reading rules: a TOML file that says, with regular expressions, what the lines of a print-out state.
//!
//! The file is read in two steps: as it is written, then checked. Every problem of it is reported at its place.

use std::collections::BTreeMap;
use std::sync::Arc;

use regex::{Regex, RegexSet};
use serde::Deserialize;
use toml::Spanned;

use crate::finding::Problem;
use crate::text::{Source, Span, visible};
use crate::units::{Scale, Unit as Measure};

use super::grammar::{is_end, is_pin};
use super::model::ComponentKind;

#[derive(Debug, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
struct RawRules {
    point: Option<Spanned<String>>,
    from_end: Option<Spanned<String>>,
    to_end: Option<Spanned<String>>,
    value_unit: Option<Spanned<String>>,
    #[serde(default)]
    decimal_comma: bool,
    #[serde(default)]
    ends: BTreeMap<String, Spanned<String>>,
    #[serde(default)]
    pins: BTreeMap<String, Spanned<String>>,
    #[serde(default)]
    units: BTreeMap<String, Spanned<String>>,
    #[serde(default)]
    rule: Vec<RawRule>,
    #[serde(default)]
    ignore: Vec<RawIgnore>,
}

#[derive(Debug, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
struct RawRule {
    r#match: Spanned<String>,
    fact: Option<Spanned<String>>,
    from_end: Option<Spanned<String>>,
    to_end: Option<Spanned<String>>,
    end: Option<Spanned<String>>,
    value_unit: Option<Spanned<String>>,
}

#[derive(Debug, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
struct RawIgnore {
    r#match: Spanned<String>,
    /// For the reader of the file; no line is left out without a reason.
    #[allow(dead_code)]
    why: String,
}

/// How the lines of a print-out are read.
#[derive(Debug)]
pub struct Rules {
    /// The rule file.
    pub(super) source: Arc<Source>,
    /// Every pattern at once, in the order of `rules`.
    pub(super) set: RegexSet,
    pub(super) rules: Vec<Rule>,
    /// Parts a point into its end and its pin.
    pub(super) point: Option<Regex>,
    /// What the print-out calls ends, pins and units, and what they are called here.
    pub(super) ends: BTreeMap<String, String>,
    pub(super) pins: BTreeMap<String, String>,
    pub(super) units: BTreeMap<String, (Measure, Scale)>,
    pub(super) decimal_comma: bool,
}

/// One rule.
#[derive(Debug)]
pub(super) struct Rule {
    pub pattern: Regex,
    pub place: Span,
    pub states: States,
    /// The ends of a bare pin in `from`, in `to`, and in `open` or `net`.
    pub ends: [Option<String>; 3],
    /// The unit of a bare number.
    pub bare: Option<(Measure, Scale)>,
}

/// What a line states.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum States {
    /// Nothing; the line is left out.
    Nothing,
    /// The unit that the lines below belong to.
    Unit,
    Open,
    Net,
    Join,
    Isolation,
    Component(ComponentKind),
    Capacitance,
}

/// The names that a group of a rule can have.
const GROUPS: [&str; 8] = ["unit", "from", "to", "open", "net", "value", "measure", "wire"];

/// The facts between two points.
const FACTS: [(&str, States); 6] = [
    ("join", States::Join),
    ("isolation", States::Isolation),
    ("resistor", States::Component(ComponentKind::Resistor)),
    ("capacitor", States::Component(ComponentKind::Capacitor)),
    ("diode", States::Component(ComponentKind::Diode)),
    ("capacitance", States::Capacitance),
];

impl Rules {
    /// The text of the rule file.
    #[must_use]
    pub fn text(&self) -> &str {
        self.source.text()
    }

    /// Reads a rule file.
    ///
    /// # Errors
    /// Every problem of the file.
    pub fn read(source: &Arc<Source>) -> Result<Self, Vec<Problem>> {
        let raw: RawRules = toml::from_str(source.text())
            .map_err(|error| vec![Problem::toml(&format!("the rule file {}", visible(source.name())), source, &error)])?;
        let mut check = Check { source, problems: Vec::new() };
        let point = raw.point.as_ref().and_then(|point| check.point(point));
        let ends = check.names(&raw.ends, is_end, "an end is a letter, then letters, digits, `_` or `-`");
        let pins = check.names(&raw.pins, is_pin, "a pin is letters, digits, `_`, `+` or `-`");
        let units = raw.units.iter().filter_map(|(word, unit)| Some((word.clone(), check.unit(unit)?))).collect();
        let default_ends = [&raw.from_end, &raw.to_end].map(|end| check.end(end.as_ref()));
        let default_unit = raw.value_unit.as_ref().and_then(|unit| check.unit(unit));
        let mut rules = Vec::new();
        let mut patterns = Vec::new();
        for rule in &raw.rule {
            let ends = [
                check.end(rule.from_end.as_ref()).or_else(|| default_ends[0].clone()),
                check.end(rule.to_end.as_ref()).or_else(|| default_ends[1].clone()),
                check.end(rule.end.as_ref()),
            ];
            let bare = rule.value_unit.as_ref().and_then(|unit| check.unit(unit)).or(default_unit);
            let Some(pattern) = check.pattern(&rule.r#match) else { continue };
            let place = check.place(&rule.r#match);
            if let Some(states) = check.states(&pattern, place, rule.fact.as_ref()) {
                patterns.push(pattern.as_str().to_owned());
                rules.push(Rule { pattern, place, states, ends, bare });
            }
        }
        for ignore in &raw.ignore {
            if let Some(pattern) = check.pattern(&ignore.r#match) {
                let place = check.place(&ignore.r#match);
                patterns.push(pattern.as_str().to_owned());
                rules.push(Rule { pattern, place, states: States::Nothing, ends: [None, None, None], bare: None });
            }
        }
        if raw.rule.is_empty() {
            let help = "write `[[rule]]` and below it `match = '…'`, a regular expression with named groups";
            check.problems.push(Problem::new(format!("the rule file {} has no rule", visible(source.name()))).help(help));
        }
        check.problems.sort_by_key(|problem| problem.labels.first().map_or(0, |label| label.span.start));
        let set = RegexSet::new(&patterns);
        match set {
            Ok(set) if check.problems.is_empty() => {
                let source = Arc::clone(source);
                Ok(Rules { source, set, rules, point, ends, pins, units, decimal_comma: raw.decimal_comma })
            }
            Ok(_) => Err(check.problems),
            Err(_) => {
                check.problems.push(Problem::new(format!("the rules of {} are too large together", visible(source.name()))));
                Err(check.problems)
            }
        }
    }
}

/// Checks what is written, and collects what is wrong.
struct Check<'s> {
    source: &'s Arc<Source>,
    problems: Vec<Problem>,
}

impl Check<'_> {
    fn wrong(&mut self, message: impl Into<String>, place: Span, label: impl Into<String>) {
        self.problems.push(Problem::new(message).at(self.source, place, label));
    }

    fn place(&self, value: &Spanned<String>) -> Span {
        value.span().into()
    }

    /// A regular expression that a whole line must match.
    fn pattern(&mut self, written: &Spanned<String>) -> Option<Regex> {
        let pattern = written.get_ref();
        let place = self.place(written);
        let (message, within) = match regex_syntax::parse(pattern) {
            Ok(_) => match Regex::new(&format!(r"\A(?:{pattern})\z")) {
                Ok(regex) => return Some(regex),
                Err(regex::Error::CompiledTooBig(_)) => ("it is too large".to_owned(), None),
                Err(_) => ("it can't stand as a part of a larger one".to_owned(), None),
            },
            Err(regex_syntax::Error::Parse(error)) => (error.kind().to_string(), Some(*error.span())),
            Err(regex_syntax::Error::Translate(error)) => (error.kind().to_string(), Some(*error.span())),
            Err(_) => ("it can't be read".to_owned(), None),
        };
        let place = within.and_then(|span| self.inside(place, pattern, span.start.offset, span.end.offset)).unwrap_or(place);
        self.wrong("a regular expression that can't be used", place, message);
        None
    }

    /// The place of a part of a value, where the value stands in the file as it is.
    fn inside(&self, place: Span, value: &str, start: usize, end: usize) -> Option<Span> {
        let written = self.source.written(place);
        let quotes = written.len().checked_sub(value.len())? / 2;
        let shift = quotes.min(3);
        let at = (written.get(shift..)?.starts_with(value)).then_some(place.start as usize + shift)?;
        Some(Span::new(at + start, at + end.max(start + 1).min(value.len().max(start))))
    }

    /// What the lines of a pattern state, by the names of its groups.
    fn states(&mut self, pattern: &Regex, place: Span, fact: Option<&Spanned<String>>) -> Option<States> {
        let groups: Vec<&str> = pattern.capture_names().flatten().collect();
        if let Some(unknown) = groups.iter().find(|name| !GROUPS.contains(name)) {
            let known = GROUPS.map(|name| format!("`{name}`")).join(", ");
            self.wrong(format!("no group is called `{}`", visible(unknown)), place, format!("the groups are {known}"));
            return None;
        }
        let states = match fact {
            None => States::Join,
            Some(fact) => match FACTS.iter().find(|(name, _)| name == fact.get_ref()) {
                Some((_, states)) => *states,
                None => {
                    let known = FACTS.map(|(name, _)| format!("`{name}`")).join(", ");
                    self.wrong("no such fact", fact.span().into(), format!("expected one of {known}"));
                    return None;
                }
            },
        };
        let has = |name: &str| groups.contains(&name);
        let (states, needed, allowed): (States, &[&str], &[&str]) = match states {
            States::Join if fact.is_none() && has("open") => (States::Open, &["open"], &["open", "unit"]),
            States::Join if fact.is_none() && has("net") => (States::Net, &["net"], &["net", "unit"]),
            States::Join if fact.is_none() && groups == ["unit"] => (States::Unit, &["unit"], &["unit"]),
            States::Join => (states, &["from", "to"], &["from", "to", "unit", "value", "measure", "wire"]),
            States::Capacitance => (states, &["from", "value"], &["from", "unit", "value", "measure"]),
            States::Component(ComponentKind::Diode) => (states, &["from", "to"], &["from", "to", "unit"]),
            _ => (states, &["from", "to", "value"], &["from", "to", "unit", "value", "measure"]),
        };
        let missing = needed.iter().find(|name| !has(name));
        let surplus = groups.iter().find(|name| !allowed.contains(name));
        if let Some(name) = missing {
            self.wrong(
                format!("a rule without the group `{name}`"),
                place,
                format!("write `(?<{name}>…)` about what stands for it; a line that states nothing belongs to an `[[ignore]]`"),
            );
        } else if let Some(name) = surplus {
            self.wrong("a group that doesn't fit the others", place, format!("`{name}` has no meaning in this rule"));
        } else if has("measure") && !has("value") {
            self.wrong("a unit of measure without its value", place, "write `(?<value>…)` about the number");
        } else {
            return Some(states);
        }
        None
    }

    /// The pattern that parts a point.
    fn point(&mut self, written: &Spanned<String>) -> Option<Regex> {
        let pattern = self.pattern(written)?;
        let groups: Vec<&str> = pattern.capture_names().flatten().collect();
        if groups.contains(&"pin") && groups.iter().all(|name| matches!(*name, "end" | "pin")) {
            return Some(pattern);
        }
        self.wrong("a point has a pin and mostly an end", self.place(written), "the groups here are `pin` and `end`");
        None
    }

    fn end(&mut self, written: Option<&Spanned<String>>) -> Option<String> {
        let written = written?;
        if is_end(written.get_ref().as_bytes()) {
            return Some(written.get_ref().clone());
        }
        self.wrong("this isn't an end", self.place(written), "an end is a letter, then letters, digits, `_` or `-`");
        None
    }

    fn names(
        &mut self,
        written: &BTreeMap<String, Spanned<String>>,
        is_name: impl Fn(&[u8]) -> bool,
        what: &str,
    ) -> BTreeMap<String, String> {
        for name in written.values().filter(|name| !is_name(name.get_ref().as_bytes())) {
            self.wrong("a name that can't be used", self.place(name), what);
        }
        written.iter().map(|(word, name)| (word.clone(), name.get_ref().clone())).collect()
    }

    fn unit(&mut self, written: &Spanned<String>) -> Option<(Measure, Scale)> {
        let unit = Measure::parse(written.get_ref());
        if unit.is_none() {
            let label = format!("expected one of {}", Measure::spellings().join(", "));
            self.wrong("unknown unit", self.place(written), label);
        }
        unit
    }
}
