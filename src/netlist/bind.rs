//! From words to numbers: the points of one unit looked up, its joins listed, its contradictions found.

use std::collections::HashMap;

use crate::finding::Problem;
use crate::text::{Source, Span};

use super::model::{Fact, FactKind, Netlist, Unit};

/// Gives points their numbers, `0..count()`.
pub trait PointLookup {
    /// How many points there are.
    fn count(&self) -> usize;

    /// The number of a point.
    fn find(&self, point: &str) -> Option<u32>;

    /// Says what is wrong with a point that [`find`](Self::find) doesn't know.
    fn explain(&self, source: &std::sync::Arc<Source>, point: super::Point) -> Problem;
}

/// Two points that a fact joins.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub struct Joined {
    /// One point.
    pub a: u32,
    /// The other.
    pub b: u32,
    /// The fact, as an index into [`Netlist::facts`].
    pub fact: u32,
}

/// One unit with its points looked up. Kept from unit to unit, so that its memory is used again.
#[derive(Debug, Default)]
pub struct Bound {
    /// What is joined, in the order of the file; a fact of several points gives a chain.
    pub joins: Vec<Joined>,
    /// For each point, the first fact that says that it touches nothing, that joins it, and that names it at all.
    open: Vec<u32>,
    joined: Vec<u32>,
    named: Vec<u32>,
    /// For each kind of figure, whether a point has carried one; see [`two_figures`].
    figured: [Vec<bool>; 3],
    numbers: Vec<u32>,
    first_point: u32,
}

/// A number for a point that the lookup doesn't know.
const UNKNOWN: u32 = u32::MAX;

/// No fact.
const NONE: u32 = u32::MAX;

impl Bound {
    /// The first fact that says that a point touches nothing.
    #[must_use]
    pub fn open_at(&self, point: u32) -> Option<u32> {
        self.open.get(point as usize).copied().filter(|fact| *fact != NONE)
    }

    /// The first fact that joins a point.
    #[must_use]
    pub fn joined_at(&self, point: u32) -> Option<u32> {
        self.joined.get(point as usize).copied().filter(|fact| *fact != NONE)
    }

    /// Whether a point was probed against others: a line joins it, or says that it touches nothing.
    #[must_use]
    pub fn probed(&self, point: u32) -> bool {
        self.joined_at(point).is_some() || self.open_at(point).is_some()
    }

    /// The first fact of any kind that names a point.
    #[must_use]
    pub fn named_at(&self, point: u32) -> Option<u32> {
        self.named.get(point as usize).copied().filter(|fact| *fact != NONE)
    }

    /// Notes a fact for a point, unless an earlier one stands there.
    fn note(table: &mut [u32], point: u32, fact: u32) {
        if let Some(first) = table.get_mut(point as usize)
            && *first == NONE
        {
            *first = fact;
        }
    }

    /// The numbers of the points of a fact, in its order.
    #[must_use]
    pub fn numbers(&self, fact: &Fact) -> &[u32] {
        let points = fact.kind.points();
        let first = points.first.saturating_sub(self.first_point) as usize;
        self.numbers.get(first..first + points.count as usize).unwrap_or_default()
    }
}

/// Looks up every point of a unit, and lists what is joined.
///
/// # Errors
/// Unknown points and contradictions are given back as problems; where there are any, the unit can have no verdict.
pub fn bind(netlist: &Netlist, unit: &Unit, lookup: &dyn PointLookup, to: &mut Bound) -> Vec<Problem> {
    let mut problems = Vec::new();
    let facts = netlist.facts_of(unit);
    to.joins.clear();
    to.numbers.clear();
    for table in [&mut to.open, &mut to.joined, &mut to.named] {
        table.clear();
        table.resize(lookup.count(), NONE);
    }
    for table in &mut to.figured {
        table.clear();
        table.resize(lookup.count(), false);
    }
    to.first_point = facts.first().map_or(0, |fact| fact.kind.points().first);
    for (nth, fact) in facts.iter().enumerate() {
        let fact_id = unit.facts.start + u32::try_from(nth).unwrap_or(u32::MAX);
        let first = to.numbers.len();
        for point in netlist.points_of(fact.kind.points()) {
            let number = lookup.find(point.text(&netlist.source)).unwrap_or(UNKNOWN);
            if number == UNKNOWN {
                problems.push(lookup.explain(&netlist.source, *point));
            } else {
                Bound::note(&mut to.named, number, fact_id);
            }
            to.numbers.push(number);
        }
        match fact.kind {
            FactKind::Join { .. } | FactKind::Conductor { .. } => {
                for at in first..to.numbers.len() {
                    let number = to.numbers[at];
                    Bound::note(&mut to.joined, number, fact_id);
                    if at > first && number != UNKNOWN && to.numbers[at - 1] != UNKNOWN {
                        to.joins.push(Joined { a: to.numbers[at - 1], b: number, fact: fact_id });
                    }
                }
            }
            FactKind::Open { .. } => {
                for number in &to.numbers[first..] {
                    Bound::note(&mut to.open, *number, fact_id);
                }
            }
            _ => {}
        }
        if to.numbers.len() - first <= 3 && repeated(&to.numbers[first..]) {
            problems.push(named_twice(netlist, fact));
        }
    }
    contradictions(netlist, unit, to, &mut problems);
    problems
}

/// Whether a short list of numbers holds one twice.
fn repeated(numbers: &[u32]) -> bool {
    match *numbers {
        [a, b] => a == b && a != UNKNOWN,
        [a, b, c] => (a == b && a != UNKNOWN) || (c != UNKNOWN && (a == c || b == c)),
        _ => false,
    }
}

fn named_twice(netlist: &Netlist, fact: &Fact) -> Problem {
    Problem::new("the same point twice on one line")
        .at(&netlist.source, fact.span, "each point once")
        .help("one of the two is probably another pin")
}

fn contradictions(netlist: &Netlist, unit: &Unit, bound: &mut Bound, problems: &mut Vec<Problem>) {
    let span = |fact: u32| netlist.facts.get(fact as usize).map_or(Span::default(), |fact| fact.span);
    for (open, joined) in bound.open.iter().copied().zip(bound.joined.iter().copied()) {
        if open != NONE && joined != NONE {
            let point = shared_point(netlist, bound, open, joined);
            problems.push(
                Problem::new(format!("{point} is said to be open, and to be joined"))
                    .at(&netlist.source, span(joined), "joined here")
                    .at(&netlist.source, span(open), "open here")
                    .help("one of the two lines is wrong; measure this point again"),
            );
        }
    }
    two_figures(netlist, unit, bound, problems);
    two_mates(netlist, unit, bound, problems);
}

/// A conductor is twisted with one other, not with two.
fn two_mates(netlist: &Netlist, unit: &Unit, bound: &Bound, problems: &mut Vec<Problem>) {
    let mut mates: HashMap<u32, (u32, Span)> = HashMap::new();
    for fact in netlist.facts_of(unit) {
        let (FactKind::Pair { .. }, [a, b, ..]) = (fact.kind, bound.numbers(fact)) else { continue };
        for (one, other) in [(*a, *b), (*b, *a)] {
            let (mate, line) = *mates.entry(one).or_insert((other, fact.span));
            if mate != other && one != UNKNOWN {
                problems.push(
                    Problem::new("a conductor twisted with two others")
                        .at(&netlist.source, line, "with one here")
                        .at(&netlist.source, fact.span, "with another here")
                        .help("a pair has two conductors; one of the two lines is wrong"),
                );
            }
        }
    }
}

/// The point that two facts have in common, as text.
fn shared_point<'n>(netlist: &'n Netlist, bound: &Bound, one: u32, other: u32) -> &'n str {
    let (Some(one), Some(other)) = (netlist.facts.get(one as usize), netlist.facts.get(other as usize)) else {
        return "a point";
    };
    let theirs = bound.numbers(other);
    let at = bound.numbers(one).iter().position(|number| theirs.contains(number)).unwrap_or(0);
    netlist.points_of(one.kind.points()).get(at).map_or("a point", |point| point.text(&netlist.source))
}

/// Two different figures of one kind for the same points.
fn two_figures(netlist: &Netlist, unit: &Unit, bound: &mut Bound, problems: &mut Vec<Problem>) {
    // a point that carries a second figure is rare; only then is it worth the price of a table
    let mut figured = std::mem::take(&mut bound.figured);
    let mut table: HashMap<(usize, u32, u32), u32> = HashMap::new();
    let mut listed = false;
    let facts = netlist.facts_of(unit);
    for nth in 0..facts.len() {
        let Some((kind, low, high, _)) = measured(&facts[nth], bound) else { continue };
        let Some(seen) = figured[kind].get_mut(low as usize) else { continue };
        if !std::mem::replace(seen, true) {
            if listed {
                table.insert((kind, low, high), u32::try_from(nth).unwrap_or(u32::MAX));
            }
            continue;
        }
        if !listed {
            listed = true;
            for (before, fact) in facts.iter().enumerate().take(nth) {
                if let Some((kind, low, high, _)) = measured(fact, bound) {
                    table.entry((kind, low, high)).or_insert(u32::try_from(before).unwrap_or(u32::MAX));
                }
            }
        }
        let first = *table.entry((kind, low, high)).or_insert(u32::try_from(nth).unwrap_or(u32::MAX)) as usize;
        let figure = |at: usize| measured(&facts[at], bound).and_then(|(.., id)| netlist.figure(id));
        if let (Some(one), Some(two)) = (figure(first), figure(nth))
            && one.quantity != two.quantity
        {
            problems.push(
                Problem::new("two figures for the same points")
                    .at(&netlist.source, facts[first].span, netlist.source.slice(one.span))
                    .at(&netlist.source, facts[nth].span, netlist.source.slice(two.span))
                    .help("keep the one that holds, or measure again"),
            );
        }
    }
    bound.figured = figured;
}

/// The kind of figure that a fact carries, its points in ascending order, and the figure.
fn measured(fact: &Fact, bound: &Bound) -> Option<(usize, u32, u32, super::FigureId)> {
    let (kind, figure) = match fact.kind {
        FactKind::Join { figure: Some(figure), .. } => (0, figure),
        FactKind::Isolation { figure, .. } => (1, figure),
        FactKind::Capacitance { figure, .. } => (2, figure),
        _ => return None,
    };
    match *bound.numbers(fact) {
        [a] => Some((kind, a, a, figure)),
        [a, b] => Some((kind, a.min(b), a.max(b), figure)),
        _ => None,
    }
}
