//! When the figures of a unit give no finding: what is left to look at in a unit that is like one before in all but its figures.

use crate::pinmap::Limited;
use crate::units::{Bound, Decision, Quantity};

use super::limits::Most;
use super::siblings::{self, Middle};
use super::{DOUBTFUL, NO_JOIN, has_branches};
use crate::verify::case::Case;
use crate::verify::case::expected::{self, Reading, Uncertainty};

/// What the figures of a unit must keep to, so that no check says anything of them. It settles less than the checks do: where
/// it doesn't hold, they decide.
#[derive(Debug)]
pub(in crate::verify) struct Rule {
    uncertainty: Uncertainty,
    figures: Vec<Figure>,
    /// Two figures each, and by how much they may differ.
    pairs: Vec<([usize; 2], (f64, f64))>,
    branches: Vec<Vec<usize>>,
    readings: Vec<Reading>,
}

/// One figure: as it was, and between what it must lie, with its whole uncertainty, in ohm.
#[derive(Debug)]
struct Figure {
    quantity: Quantity,
    least: f64,
    most: f64,
    /// One wire, not a screen, and nothing in parallel: whatever is compared with another is one.
    single: bool,
}

impl Rule {
    /// The rule of a unit; none where a join is more than one wire from end to end, or its figure only a bound.
    pub fn of(case: &Case<'_>) -> Option<Self> {
        let joins = case.joins_by_rule();
        let (wire, metres) = (case.wire(), expected::length(case).map(|(metres, _)| metres));
        let plain =
            |join: &super::Join| join.reading.quantity.bound == Bound::Exact && join.across && join.alone && join.wire.is_none();
        // of what was told already, nothing more is compared
        let told = case.has_told_figures() || joins.iter().any(|join| join.told.get());
        if told || !joins.iter().all(plain) {
            return None;
        }
        let mut lines: Vec<[u32; 2]> =
            joins.iter().map(|join| [join.points[0].min(join.points[1]), join.points[0].max(join.points[1])]).collect();
        lines.sort_unstable();
        if lines.windows(2).any(|lines| lines[0] == lines[1]) {
            return None; // two figures for the same points may contradict each other
        }
        let figures = joins.iter().map(|join| {
            let most = Most::of(case, wire, metres, join).ohm().unwrap_or(DOUBTFUL);
            // what is too low is looked at for all single wires together, and for each that carries a signal
            let low = wire.filter(|_| join.single && !has_branches(case));
            // a limit that is no number settles nothing
            let most = if most.is_finite() { most.min(NO_JOIN) } else { f64::NEG_INFINITY };
            let least = low.map_or(0.0, |wire| wire.least);
            Figure { quantity: join.reading.quantity, most, least, single: join.single }
        });
        let figures = figures.collect();
        let mut pairs = Vec::new();
        siblings::each_pair(case, joins, |one, two| {
            pairs.push(([one, two], siblings::allowed(case.limit(Limited::Unbalance, joins[one].points))));
        });
        let (uncertainty, branches) = (Uncertainty::of(case), siblings::branches(case, joins));
        Some(Rule { uncertainty, figures, pairs, branches, readings: Vec::new() })
    }

    /// Whether these figures, in the order of the lines, give no finding.
    pub fn settles(&mut self, values: &[f64]) -> bool {
        if values.len() != self.figures.len() {
            return false;
        }
        self.readings.clear();
        let (mut least, mut most, mut surest, mut uncertainty) = (f64::INFINITY, 0.0_f64, f64::INFINITY, 0.0_f64);
        let mut within = true;
        for (figure, value) in self.figures.iter().zip(values) {
            let reading = Reading::of(Quantity { value: *value, ..figure.quantity }, self.uncertainty);
            if figure.single {
                (least, most) = (least.min(*value), most.max(*value));
            }
            (surest, uncertainty) = (surest.min(reading.uncertainty), uncertainty.max(reading.uncertainty));
            // not through one comparison that is false for all: a figure that is no number must not pass
            within &= value + reading.uncertainty <= figure.most && *value >= figure.least;
            self.readings.push(reading);
        }
        // where all lie closer together than any two may, or than the uncertainty, they need not be looked at one by one
        let apart = (most - least).max(0.0);
        within && (apart < surest || self.no_outliers()) && self.balanced(apart, uncertainty)
    }

    /// The figures that were looked at last, each with its uncertainty.
    pub fn readings(&self) -> &[Reading] {
        &self.readings
    }

    fn no_outliers(&self) -> bool {
        self.branches.iter().all(|siblings| {
            let readings = siblings.iter().map(|at| self.readings[*at]);
            Middle::of(readings.clone()).is_none_or(|middle| !readings.clone().any(|reading| middle.is_apart(reading)))
        })
    }

    fn balanced(&self, apart: f64, uncertainty: f64) -> bool {
        self.pairs.iter().all(|([one, two], allowed)| {
            // 1.5 is more than the root of two, which two figures of the same uncertainty have between them
            apart < allowed.1 - 1.5 * uncertainty
                || siblings::difference(self.readings[*one], self.readings[*two], *allowed).1 == Decision::Conforms
        })
    }
}
