//! Lines of one unit that contradict each other by what they join.

use std::cell::OnceCell;

use crate::finding::Problem;
use crate::graph::{Nets, Paths};
use crate::netlist::{Bound, Fact, FactKind, Netlist, Unit};
use crate::pinmap::Cable;
use crate::text::visible;
use crate::units;

use super::coverage;
use super::resistance::DOUBTFUL;

/// From this on, in ohm, a figure is one of insulation (common practice, no source).
const INSULATES: f64 = 1e6;

/// Points that a line sets apart, and others join; and joins whose figure says that they are none.
pub(in crate::verify) fn contradictions(
    netlist: &Netlist,
    unit: &Unit,
    cable: Option<&Cable>,
    bound: &Bound,
    stated: &Nets,
) -> Vec<Problem> {
    let mut problems = Vec::new();
    let ways = OnceCell::new();
    for fact in netlist.facts_of(unit) {
        if let FactKind::Join { figure: Some(figure), .. } = fact.kind
            && let Some(quantity) = netlist.figure(figure).map(|figure| figure.quantity)
            && quantity.value >= INSULATES
            && quantity.bound != units::Bound::Below
            && let [a, b] = *bound.numbers(fact)
            && cable.is_none_or(|cable| cable.link_between(a, b).is_none())
        {
            let what = netlist.source.slice(fact.span);
            problems.push(
                Problem::new("a join with the resistance of insulation")
                    .at(&netlist.source, fact.span, "this line says that the points are joined")
                    .help(format!("if this is an insulation measurement, write `isolation {}`", visible(what))),
            );
        }
        let [a, b] = *bound.numbers(fact) else { continue };
        if !stated.same(a, b) || !(coverage::says_apart(netlist, fact) || is_no_join(netlist, fact)) {
            continue;
        }
        let mut problem = Problem::new("two points that are said to be apart, and to be joined")
            .at(&netlist.source, fact.span, "apart here")
            .help("one of the lines is wrong; measure these points again");
        let joins = || bound.joins.iter().map(|join| (join.a, join.b, join.fact));
        let way = ways.get_or_init(|| Paths::new(stated.labels().len(), joins())).between(&[a], &[b]);
        for (nth, joined) in way.iter().take(3).filter_map(|joined| netlist.facts.get(*joined as usize)).enumerate() {
            problem = problem.at(&netlist.source, joined.span, if nth == 0 { "joined here" } else { "and by way of this line" });
        }
        problems.push(problem);
    }
    problems
}

/// An insulation measurement that found more than a join has: too little to say that the points are apart, and too much to
/// go with a line that joins them.
fn is_no_join(netlist: &Netlist, fact: &Fact) -> bool {
    let FactKind::Isolation { figure, .. } = fact.kind else { return false };
    let quantity = netlist.figure(figure).map(|figure| figure.quantity);
    quantity.is_some_and(|quantity| quantity.value > DOUBTFUL && quantity.bound != units::Bound::Below)
}
