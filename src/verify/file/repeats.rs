//! Units that are like one that was checked before: a reel repeats itself, in what is sound and in what is wrong.
//!
//! The report on a unit follows from its header, its lines and their figures. Where the lines are the same, letter by letter but
//! for the name and the figures of the joins, and where the figures are such that no check says anything of them, the report is
//! the same too, with its labels at the lines of this unit. The figures are held against the [`Rule`]s that the checks gave when
//! they saw the first such unit. Whatever doesn't fit goes the long way.

use std::collections::{HashMap, HashSet};
use std::sync::Arc;

use crate::finding::{Finding, Label};
use crate::netlist::{FactKind, Likeness, Netlist, Pattern, Place, Unit, UnitReader};
use crate::text::Source;

use crate::verify::UnitReport;
use crate::verify::checks::resistance::Rule;

/// So many kinds of unit are kept.
const KEPT: usize = 512;

/// The largest report that is kept, in findings.
const FINDINGS: usize = 32;

/// The units that are known.
#[derive(Debug, Default)]
pub(in crate::verify) struct Repeats {
    known: Vec<Known>,
    /// For each outline, where a unit that has it lies in `known`.
    by_outline: HashMap<u64, usize>,
    /// Outlines that were seen once: one that isn't seen again isn't worth keeping.
    met: HashSet<u64>,
    /// The one that was found last.
    last: usize,
    likeness: Likeness,
}

/// A unit with what came of it.
#[derive(Debug)]
struct Known {
    pattern: Pattern,
    rules: Vec<Rule>,
    report: UnitReport,
    /// For each finding, its labels with their places, where these lie in the unit.
    labels: Vec<Vec<(Label, Option<Place>)>>,
}

/// What there is to know about a unit that isn't read yet.
#[allow(clippy::large_enum_variant, reason = "the large one is by far the most frequent")]
pub(in crate::verify) enum Met {
    /// It is like one before, and has the same report; the next unit starts here.
    Like(UnitReport, usize),
    /// It isn't, and the one before that had its outline, if there was one, tells nothing. It is worth keeping where this is
    /// the second of its outline.
    New { worth_keeping: Option<u64> },
}

impl Repeats {
    /// Looks for the unit that comes next among those before. `may_be` says whether a unit of that name, at that
    /// attempt, can have a verdict.
    pub fn meet(&mut self, source: &Arc<Source>, reader: &mut UnitReader<'_>, may_be: impl Fn(&str, u8) -> bool) -> Met {
        let at = match self.like(source.text().as_bytes(), reader) {
            Ok(at) => at,
            Err(worth_keeping) => return Met::New { worth_keeping },
        };
        self.last = at;
        match self.known.get_mut(at).and_then(|known| known.report(source, &self.likeness, may_be)) {
            Some(report) => Met::Like(report, self.likeness.end),
            None => Met::New { worth_keeping: None },
        }
    }

    /// The unit before that the next one is like; else its outline, if it is worth keeping.
    fn like(&mut self, text: &[u8], reader: &mut UnitReader<'_>) -> Result<usize, Option<u64>> {
        let start = reader.at();
        let fits = |at: usize, likeness: &mut Likeness| {
            self.known.get(at).is_some_and(|known| known.pattern.fits(text, start, likeness))
        };
        if fits(self.last, &mut self.likeness) {
            return Ok(self.last);
        }
        let Some(outline) = reader.outline() else { return Err(None) };
        if let Some(at) = self.by_outline.get(&outline).copied() {
            return if fits(at, &mut self.likeness) { Ok(at) } else { Err(None) };
        }
        if self.met.len() > 8 * KEPT {
            self.met.clear();
        }
        Err((!self.met.insert(outline)).then_some(outline))
    }

    /// Keeps a unit, whose line starts at `start`, with its report.
    pub fn keep(
        &mut self,
        outline: u64,
        (netlist, unit, start): (&Netlist, &Unit, usize),
        mut rules: Vec<Rule>,
        report: &UnitReport,
    ) {
        let UnitReport { findings, coverage: None, wiring: None, measured: None, about: None, is_drawing: false, .. } = report
        else {
            return;
        };
        // a file that is named in the same words may say something else, and what it says is no part of the unit's lines
        if netlist.facts_of(unit).iter().any(|fact| matches!(fact.kind, FactKind::SParameters { .. })) {
            return;
        }
        let Some(pattern) = Pattern::of(netlist, unit, start) else { return };
        let text = netlist.source.text().as_bytes();
        if !pattern.fits(text, start, &mut self.likeness) || !rules.iter_mut().all(|rule| rule.settles(&self.likeness.values)) {
            return;
        }
        let in_unit = |label: &Label| Arc::ptr_eq(&label.source, &netlist.source);
        let figures = rules.first().map_or(0, |rule| rule.readings().len());
        if report.lot.as_ref().is_some_and(|lot| lot.readings.len() != figures) {
            return;
        }
        // findings stand in the order of their first labels, which only those of one text keep
        let ordered = findings.len() < 2 || findings.iter().all(|finding| finding.labels.first().is_none_or(in_unit));
        if findings.len() > FINDINGS || !ordered {
            return;
        }
        let placed = |label: &Label| -> Option<(Label, Option<Place>)> {
            if !in_unit(label) {
                return Some((label.clone(), None));
            }
            let place = pattern.place(start, label.span)?;
            // no text is kept of which nothing else is needed
            Some((Label { source: Arc::clone(&report.cable.file), ..label.clone() }, Some(place)))
        };
        let labels: Option<Vec<Vec<_>>> =
            findings.iter().map(|finding| finding.labels.iter().map(placed).collect::<Option<Vec<_>>>()).collect();
        let Some(labels) = labels else { return };
        if self.known.len() >= KEPT {
            self.known.clear();
            self.by_outline.clear();
        }
        self.last = self.known.len();
        self.by_outline.insert(outline, self.last);
        let findings = findings.iter().map(|finding| Finding { labels: Vec::new(), ..finding.clone() }).collect();
        let report = UnitReport {
            unit: None,
            cable: Arc::clone(&report.cable),
            is_drawing: false,
            verdict: report.verdict,
            findings,
            not_shown: report.not_shown,
            rework: report.rework.clone(),
            coverage: None,
            wiring: None,
            measured: None,
            attempt: unit.attempt,
            lot: report.lot.clone(),
            #[cfg(feature = "signal")]
            links: Vec::new(),
            about: None,
        };
        self.known.push(Known { pattern, rules, report, labels });
    }
}

impl Known {
    /// The report on a unit that is like this one; none where its figures are for the checks to judge.
    fn report(&mut self, source: &Arc<Source>, likeness: &Likeness, may_be: impl Fn(&str, u8) -> bool) -> Option<UnitReport> {
        if !self.rules.iter_mut().all(|rule| rule.settles(&likeness.values)) {
            return None;
        }
        let name = source.slice(likeness.name);
        if !may_be(name, self.report.attempt) {
            return None;
        }
        let label = |(label, place): &(Label, Option<Place>)| match place {
            Some(place) => Label::new(source, likeness.span(*place), label.text.as_str()),
            None => label.clone(),
        };
        let findings = self.report.findings.iter().zip(&self.labels);
        let findings =
            findings.map(|(finding, labels)| Finding { labels: labels.iter().map(label).collect(), ..finding.clone() });
        let figures = self.rules.first().map_or(&[][..], Rule::readings);
        Some(UnitReport {
            unit: Some(name.to_owned()),
            cable: Arc::clone(&self.report.cable),
            is_drawing: false,
            verdict: self.report.verdict,
            findings: findings.collect(),
            not_shown: self.report.not_shown,
            rework: self.report.rework.clone(),
            coverage: None,
            wiring: None,
            measured: None,
            attempt: self.report.attempt,
            lot: self.report.lot.as_ref().map(|lot| Box::new(lot.with_figures(figures))),
            #[cfg(feature = "signal")]
            links: Vec::new(),
            about: None,
        })
    }
}
