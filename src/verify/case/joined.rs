//! The joins of a unit that carry a figure.

use std::cell::Cell;
use std::collections::HashMap;

use crate::netlist::FactKind;
use crate::pinmap::{Limited, Role};
use crate::units::{Bound, Quantity};

use super::Case;
use super::expected::{Reading, Stated, Wire};

/// A join with its figure.
#[derive(Debug)]
pub(in crate::verify) struct Join {
    /// The fact, as an index into the netlist's.
    pub line: u32,
    /// The two contacts.
    pub points: [u32; 2],
    /// The figure.
    pub reading: Reading,
    /// From one end to another.
    pub across: bool,
    /// Nothing else lies in the net.
    pub alone: bool,
    /// One wire, not a screen, and nothing in parallel.
    pub single: bool,
    /// One wire that carries a signal.
    pub signal: bool,
    /// The wire that its `conductor` line names, where that isn't the header's.
    pub wire: Option<Wire>,
    /// The gauge of that line.
    pub gauge: Option<Quantity>,
    /// Has a finding of its own.
    pub told: Cell<bool>,
}

impl Join {
    /// The resistance, in ohm.
    pub fn ohm(&self) -> f64 {
        self.reading.ohm()
    }
}

/// The joins of a unit that carry a figure, in the order of its lines.
pub(in crate::verify) fn joins(case: &Case<'_>) -> Vec<Join> {
    let mut joins = Vec::new();
    let mut sizes = Vec::new();
    let mut gauges: Vec<([u32; 2], Quantity)> = Vec::new();
    for (line, fact) in case.lines() {
        let figure = match fact.kind {
            FactKind::Join { figure: Some(figure), .. } => figure,
            FactKind::Conductor { gauge: Some(gauge), .. } => {
                let quantity = case.netlist.figure(gauge).map(|figure| figure.quantity);
                gauges.extend(<[u32; 2]>::try_from(&*case.numbers(fact)).ok().zip(quantity));
                continue;
            }
            _ => continue,
        };
        let [a, b] = *case.numbers(fact) else { continue };
        let Some(reading) = Reading::of_join(case, figure) else { continue };
        if joins.is_empty() {
            sizes = case.measured.sizes();
            joins.reserve(case.facts().len());
        }
        let ends = [a, b].map(|point| case.cable.points[point as usize].end);
        let roles = [a, b].map(|point| case.cable.role(point));
        let across = ends[0] != ends[1];
        let alone = sizes[case.measured.of(a) as usize] == 2;
        let single = across && alone && roles[0] != Role::Shell;
        let signal = single && roles.iter().all(|role| role.is_signal());
        joins.push(Join {
            line,
            points: [a, b],
            reading,
            across,
            alone,
            single,
            signal,
            wire: None,
            gauge: None,
            told: Cell::new(false),
        });
    }
    if !gauges.is_empty() {
        let sorted = |[a, b]: [u32; 2]| [a.min(b), a.max(b)];
        let own: HashMap<[u32; 2], Quantity> = gauges.into_iter().map(|(points, gauge)| (sorted(points), gauge)).collect();
        for join in &mut joins {
            join.gauge = own.get(&sorted(join.points)).copied();
            join.wire = join.gauge.and_then(|gauge| Wire::of(&Stated::of(case).with_gauge(gauge)));
        }
    }
    joins
}

/// How far the figures of a unit were held against limits.
#[derive(Clone, Copy, Debug)]
pub(in crate::verify) struct Judged {
    /// Every conductor has a figure that a limit decides.
    pub limits: bool,
    /// The limit is that of the wire that the header names.
    pub wire: bool,
}

/// How far the figures go: a conductor that has others in parallel can't be judged by its own.
pub(in crate::verify) fn judged(case: &Case<'_>) -> Judged {
    let none = Judged { limits: false, wire: false };
    let wire = case.wire().is_some();
    if !wire && case.cable.limits.is_empty() {
        return none;
    }
    let mut read = vec![false; case.cable.points.len()];
    for join in case.joins_by_rule().iter().filter(|join| join.alone && join.reading.quantity.bound == Bound::Exact) {
        if wire || case.limit(Limited::Conductor, join.points).is_some() {
            read[join.points[0] as usize] = true;
            read[join.points[1] as usize] = true;
        }
    }
    let wanted = case.cable.wires.iter().filter(|[a, b]| case.wanted.same(*a, *b));
    let all = wanted.into_iter().all(|[a, b]| read[*a as usize] && read[*b as usize]);
    if all { Judged { limits: true, wire } } else { none }
}
