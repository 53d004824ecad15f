//! Figures that speak against what a line says: a join that hardly conducts, insulation that does.
//!
//! The limits only keep a plainly bad figure from passing; they are common practice, no source. Where a figure could be
//! right or wrong, for want of a limit of the cable's own, the unit is undecided.

use crate::finding::{Code, Finding, Severity, Sink};
use crate::netlist::{FactKind, FigureId};
use crate::units::{Bound, Quantity};

use super::case::Case;

/// Above this a join may be a bad joint, or a long thin cable, in ohm.
const JOIN_DOUBTFUL: f64 = 10.0;
/// Above this a join is none, in ohm.
const JOIN_NONE: f64 = 10e3;
/// Below this insulation may be too low, in ohm.
const ISOLATION_DOUBTFUL: f64 = 100e6;
/// Below this it is, in ohm.
const ISOLATION_NONE: f64 = 1e6;

/// Reports `resistance.high` and `isolation.low`.
pub(super) fn check(case: &Case<'_>, sink: &mut Sink) {
    for (line, fact) in (case.unit.facts.start..).zip(case.facts()) {
        match fact.kind {
            FactKind::Join { figure: Some(figure), .. } => {
                let Some(quantity) = quantity(case, figure) else { continue };
                // a figure that is only known to lie below a doubtful one is doubtful too
                if quantity.value > JOIN_DOUBTFUL {
                    let sure = quantity.value > JOIN_NONE && quantity.bound != Bound::Below;
                    sink.report(join(case, line, &case.numbers(fact), &quantity, sure));
                }
            }
            FactKind::Isolation { figure, .. } => {
                let Some(quantity) = quantity(case, figure) else { continue };
                if let [a, b] = *case.numbers(fact)
                    && !case.wanted.same(a, b)
                    && (quantity.value < ISOLATION_DOUBTFUL || quantity.bound == Bound::Below)
                {
                    let sure = quantity.value < ISOLATION_NONE && quantity.bound != Bound::Above;
                    sink.report(isolation(case, line, [a, b], &quantity, sure));
                }
            }
            _ => {}
        }
    }
}

fn quantity(case: &Case<'_>, id: FigureId) -> Option<Quantity> {
    case.netlist.figure(id).map(|figure| figure.quantity)
}

/// A figure that is doubtful leaves the unit undecided.
fn weigh(mut finding: Finding, sure: bool) -> Finding {
    if !sure {
        finding.severity = Severity::Caution;
        finding.undecided = true;
    }
    "common practice, no source".clone_into(&mut finding.source);
    finding
}

fn join(case: &Case<'_>, line: u32, points: &[u32], quantity: &Quantity, sure: bool) -> Finding {
    let what = if sure { "that is no join" } else { "more than most sound conductors have" };
    let message = format!("{} measure {}: {what}", case.list(points), quantity.short());
    let mut finding = case.finding(Code::ResistanceHigh, points, message);
    finding.labels = vec![case.at(line, quantity.short())];
    "a bad joint warms up, drifts when it is moved, and fails under load or at speed".clone_into(&mut finding.why);
    "measure again with four wires; look at the terminations at both ends, and remake the bad one"
        .clone_into(&mut finding.remedy);
    weigh(finding, sure)
}

fn isolation(case: &Case<'_>, line: u32, points: [u32; 2], quantity: &Quantity, sure: bool) -> Finding {
    let what = if sure { "that is no insulation" } else { "not enough to tell that it is sound" };
    let message =
        format!("{} and {} are insulated by {}: {what}", case.point(points[0]), case.point(points[1]), quantity.short());
    let mut finding = case.finding(Code::IsolationLow, &points, message);
    finding.labels = vec![case.at(line, quantity.short())];
    "current leaks between conductors that must be apart, more so when it is damp or warm".clone_into(&mut finding.why);
    "clean and dry the plugs, look for flux, strands and crushed insulation, then measure again; insulation tests at high voltage are \
     for qualified persons, on a cable whose map is right"
        .clone_into(&mut finding.remedy);
    weigh(finding, sure)
}
