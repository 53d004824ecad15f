//! Parts inside the plugs.

use crate::finding::{Code, Finding, Label, Sink};
use crate::netlist::{ComponentKind, FactKind, Origin};
use crate::pinmap::Part;
use crate::units::{Bound, Quantity};

use crate::verify::case::Case;

/// A part that the netlist states.
struct Stated {
    kind: ComponentKind,
    points: [u32; 2],
    value: Option<Quantity>,
    line: u32,
}

/// Reports `component.missing`, `component.value`, `component.unexpected` and `component.reversed`.
pub(in crate::verify) fn check(case: &Case<'_>, sink: &mut Sink) {
    let mut stated: Vec<Stated> = Vec::new();
    for (line, fact) in case.lines() {
        if let (FactKind::Component { kind, figure, .. }, [a, b]) = (fact.kind, &*case.numbers(fact)) {
            let value = figure.and_then(|id| case.netlist.figure(id)).map(|figure| figure.quantity);
            stated.push(Stated { kind, points: [*a, *b], value, line });
        }
    }
    let judged = !stated.is_empty() || case.given.origin() == Origin::Drawing;
    let mut missing: Vec<&Part> = Vec::new();
    for part in &case.cable.parts {
        let same = |stated: &Stated| stated.kind == part.kind && same_place(case, part.points, stated.points);
        match stated.iter().position(same) {
            Some(at) => compare(case, part, &stated.remove(at), sink),
            None if !part.optional => missing.push(part),
            None => {}
        }
    }
    for part in missing {
        // the same kind of part with one leg right is that part, fitted to the wrong contact
        let astray = stated.iter().position(|stated| stated.kind == part.kind && one_leg_right(case, part, stated));
        let astray = astray.map(|at| stated.remove(at));
        sink.report(missing_finding(case, part, astray.as_ref(), judged));
    }
    for extra in &stated {
        sink.report(unexpected(case, extra));
    }
}

/// Whether two places are the same: between the same wanted nets. A diode's direction is looked at later.
pub(in crate::verify) fn same_place(case: &Case<'_>, wanted: [u32; 2], found: [u32; 2]) -> bool {
    let nets = |points: [u32; 2]| {
        let mut nets = points.map(|point| case.wanted.of(point));
        nets.sort_unstable();
        nets
    };
    nets(wanted) == nets(found)
}

fn one_leg_right(case: &Case<'_>, part: &Part, stated: &Stated) -> bool {
    part.points.iter().any(|wanted| stated.points.iter().any(|found| case.wanted.same(*wanted, *found)))
}

fn compare(case: &Case<'_>, part: &Part, stated: &Stated, sink: &mut Sink) {
    if part.kind == ComponentKind::Diode {
        if !case.wanted.same(part.points[0], stated.points[0]) {
            let message = format!(
                "the diode between {} and {} points the wrong way",
                case.point(part.points[0]),
                case.point(part.points[1])
            );
            let mut finding = about(case, Code::ComponentReversed, part, message);
            finding.labels.insert(0, case.at(stated.line, format!("anode on {}", case.point(stated.points[0]))));
            finding.remedy = "turn the diode round, or replace the plug, then measure it again in both directions".to_owned();
            case.weigh(&mut finding, &[&part.provenance]);
            sink.report(finding);
        }
        return;
    }
    let (Some(wanted), Some(found)) = (part.value, stated.value) else { return };
    let fit = fit(&wanted, &found);
    if fit == Fit::Inside {
        return;
    }
    // a drawing must keep its whole tolerance inside; a measurement can be too blunt to tell
    let undecided = fit == Fit::Edge && case.given.origin() == Origin::Measured;
    let message = format!(
        "the {} between {} and {} is {}; it must be {}{}",
        part.kind.word(),
        case.point(part.points[0]),
        case.point(part.points[1]),
        found.short(),
        wanted.short(),
        if undecided { ", and the measurement is too blunt to tell" } else { "" }
    );
    let mut finding = about(case, Code::ComponentValue, part, message);
    if undecided {
        finding.leave_undecided();
    }
    finding.labels.insert(0, case.at(stated.line, found.short()));
    finding.remedy = "replace the plug or the part; where the reading is odd, measure with the far end free and both \
                      directions, then test the whole cable again"
        .to_owned();
    case.weigh(&mut finding, &[&part.provenance]);
    sink.report(finding);
}

/// How a stated value lies to the wanted one.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Fit {
    /// Inside, with all of its own tolerance.
    Inside,
    /// Its tolerance reaches over the edge.
    Edge,
    /// Outside, with all of its own tolerance.
    Outside,
}

fn fit(wanted: &Quantity, found: &Quantity) -> Fit {
    let spread = |quantity: &Quantity| quantity.spread().unwrap_or_default();
    // a part at the very edge is inside: the edge itself is computed, with its rounding
    let edge = spread(wanted) * (1.0 + 1e-9);
    let off = (found.value - wanted.value).abs();
    if found.bound != Bound::Exact || off - spread(found) > edge {
        Fit::Outside
    } else if off + spread(found) <= edge {
        Fit::Inside
    } else {
        Fit::Edge
    }
}

fn missing_finding(case: &Case<'_>, part: &Part, astray: Option<&Stated>, judged: bool) -> Finding {
    // that other parts were measured doesn't say that anyone looked for one that a test with direct current can't show
    let in_series = case.cable.is_in_series(part) && part.kind == ComponentKind::Capacitor;
    let judged = judged && !(in_series && case.given.origin() == Origin::Measured);
    let value = part.value.map(|value| format!(" of {}", value.short())).unwrap_or_default();
    let place = format!("{} and {}", case.point(part.points[0]), case.point(part.points[1]));
    let what = format!("the {}{value} between {place}", part.kind.word());
    let message = match (astray, judged) {
        (Some(stated), _) => {
            format!("{what} is fitted between {} and {} instead", case.point(stated.points[0]), case.point(stated.points[1]))
        }
        (None, true) => format!("{what} is missing"),
        (None, false) if in_series => format!(
            "whether the path of {} is whole isn't shown: {what} lies in series in it, and a test with direct current reads open \
             either way",
            case.signal(part.points[0])
        ),
        (None, false) => format!("{what} was not measured"),
    };
    let mut finding = about(case, Code::ComponentMissing, part, message);
    match astray {
        Some(stated) => {
            finding.labels.insert(0, case.at(stated.line, "found here"));
            let mut more: Vec<String> = stated.points.iter().map(|point| case.point(*point).to_owned()).collect();
            more.retain(|point| !finding.points.contains(point));
            finding.points.extend(more);
            finding.remedy = "replace the plug, or move the part to its contact, then measure it again".to_owned();
        }
        None => {
            finding.labels.insert(0, Label::new(&case.netlist.source, case.unit.line, "not stated in this unit"));
            finding.remedy = if in_series && !judged {
                format!(
                    "measure the capacitance between {place}, both ends free, or pass an AC signal of some kHz; then add the line \
                     `{}`",
                    example(case, part)
                )
            } else if judged {
                "replace the plug, or fit the part, then measure it from contact to contact".to_owned()
            } else {
                format!("measure between {place} with the far end free, and add the line `{}`", example(case, part))
            };
        }
    }
    if astray.is_none() && !judged {
        finding.leave_undecided();
    }
    case.weigh(&mut finding, &[&part.provenance]);
    finding
}

/// The netlist line that would state a part.
pub(in crate::verify) fn example(case: &Case<'_>, part: &Part) -> String {
    let value = part.value.map(|value| format!(" {}", Quantity { tolerance: None, ..value }.short())).unwrap_or_default();
    format!("{} {} {}{value}", part.kind.word(), case.point(part.points[0]), case.point(part.points[1]))
}

fn unexpected(case: &Case<'_>, stated: &Stated) -> Finding {
    let value = stated.value.map(|value| format!(" of {}", value.short())).unwrap_or_default();
    let message = format!(
        "a {}{value} between {} and {}, where a sound cable has none",
        stated.kind.word(),
        case.point(stated.points[0]),
        case.point(stated.points[1])
    );
    let mut finding = case.finding(Code::ComponentUnexpected, &stated.points, message);
    finding.labels = vec![case.at(stated.line, "this part")];
    finding.remedy = "find out why it is there before it meets equipment; a plain plug has no such part".to_owned();
    let mut excluded = case.cable.excluded.iter();
    let Some(row) = excluded.find(|row| row.kind == stated.kind && same_place(case, row.points, stated.points)) else {
        finding.why = "a part that the map doesn't know changes what the devices read from these contacts: role, current, \
                       termination or level"
            .to_owned();
        finding.source.clone_from(&case.cable.standard);
        return finding;
    };
    finding.labels.push(Label::new(&case.cable.file, row.span, "none belongs here"));
    finding.why.clone_from(&row.why);
    finding.source = case.source_of(std::iter::once(&row.provenance));
    if row.place_decides {
        finding.leave_undecided();
        finding.message.push_str("; it belongs there only at an end of the bus");
        finding.remedy = "find out where on the bus this lead goes: at an end, switch off or leave out any other terminator \
                          there; anywhere else, switch this one off or take it out, then test the whole cable again"
            .to_owned();
    }
    case.weigh(&mut finding, &[&row.provenance]);
    finding
}

/// An open that a capacitor hides: where the netlist states capacitors that join all pieces of each of these nets, a test with
/// direct current reads open whether the path is whole or not.
pub(in crate::verify) fn hide_open(case: &Case<'_>, finding: &mut Finding, nets: &[u32]) {
    if case.capacitors().is_empty() || finding.hazard {
        return;
    }
    let mut lines = Vec::new();
    for net in nets {
        let across = |points: [u32; 2]| points.iter().all(|point| case.wanted.of(*point) == *net);
        let contacts = case.net(*net);
        let mut pieces: Vec<u32> = contacts.iter().map(|contact| case.measured.of(*contact)).collect();
        for (line, points) in case.capacitors().iter().filter(|(_, points)| across(*points)) {
            let [one, other] = points.map(|point| contacts.iter().position(|contact| *contact == point).map(|at| pieces[at]));
            if let (Some(one), Some(other)) = (one, other)
                && one != other
            {
                pieces.iter_mut().filter(|piece| **piece == other).for_each(|piece| *piece = one);
                lines.push(*line);
            }
        }
        if pieces.iter().any(|piece| *piece != pieces[0]) {
            return;
        }
    }
    if lines.is_empty() {
        return;
    }
    finding.leave_undecided();
    finding
        .message
        .push_str("; a capacitor lies in the way, so a test with direct current doesn't tell whether the path is whole");
    finding.labels.extend(lines.iter().map(|line| case.at(*line, "lies in series")));
    finding.remedy = format!(
        "measure the capacitance between {}, both ends free, against the value of the part, or pass an AC signal of some kHz",
        finding.points.join(" and ")
    );
}

fn about(case: &Case<'_>, code: Code, part: &Part, message: String) -> Finding {
    let mut finding = case.finding(code, &part.points, message);
    finding.labels = vec![Label::new(&case.cable.file, part.span, "required here")];
    finding.why = if part.why.is_empty() {
        "the devices read the kind of cable, its role or its current from this part".to_owned()
    } else {
        part.why.clone()
    };
    finding.source = case.source_of(std::iter::once(&part.provenance));
    finding
}
