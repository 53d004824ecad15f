//! Insulation between conductors that must be apart.

use crate::finding::{Code, Sink};
use crate::netlist::FactKind;
use crate::pinmap::Limited;
use crate::units::Decision;

use crate::verify::case::Case;
use crate::verify::case::expected::{self, Reading, ohm};

/// The least insulation where the cable has no limit of its own, in ohm: up to a length in metres, and for longer cables.
/// The defaults of IPC/WHMA-A-620 (from memory).
const LEAST: (f64, f64, f64) = (100e6, 3.0, 10e6);

/// Reports `isolation.low`.
pub(in crate::verify) fn check(case: &Case<'_>, sink: &mut Sink) {
    for (line, fact) in case.lines() {
        let FactKind::Isolation { figure, .. } = fact.kind else { continue };
        let [a, b] = *case.numbers(fact) else { continue };
        let Some(reading) = Reading::of_isolation(case, figure) else { continue };
        // points that belong together are looked at by those who find opens
        if case.wanted.same(a, b) {
            continue;
        }
        let limit = case.limit(Limited::Isolation, [a, b]);
        let long = expected::length(case).is_some_and(|(metres, _)| metres > LEAST.1);
        let least = limit.map_or(if long { LEAST.2 } else { LEAST.0 }, |limit| limit.ohm);
        let decision = reading.at_least(least);
        if decision == Decision::Conforms {
            continue;
        }
        let quantity = reading.quantity.short();
        let message = format!(
            "{} and {} are insulated by {quantity}: {} {}",
            case.point(a),
            case.point(b),
            if decision == Decision::Fails { "the least is" } else { "that doesn't show" },
            ohm(least)
        );
        let mut finding = case.finding(Code::IsolationLow, &[a, b], message);
        finding.labels = vec![case.at(line, quantity)];
        if decision == Decision::Inconclusive {
            finding.leave_undecided();
        }
        "current leaks between conductors that must be apart, more so when it is damp or warm".clone_into(&mut finding.why);
        "clean and dry the plugs, look for flux, strands and crushed insulation, then measure again; insulation tests at high \
         voltage are for qualified persons, on a cable whose map is right"
            .clone_into(&mut finding.remedy);
        finding.source = limit.map_or_else(
            || "IPC/WHMA-A-620, default where nothing is agreed (from memory)".to_owned(),
            |limit| case.source_of(std::iter::once(&limit.provenance)),
        );
        case.weigh(&mut finding, &limit.map(|limit| &limit.provenance).into_iter().collect::<Vec<_>>());
        sink.report(finding);
    }
}
