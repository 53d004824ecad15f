//! Conductors: open, shorted, on each other's contacts, or on contacts that must be left alone.

use std::cell::LazyCell;

use crate::finding::{Code, Finding, Label, Sink};
use crate::netlist::ComponentKind;
use crate::pinmap::{Provenance, Role};

use crate::verify::case::Case;
use crate::verify::case::joins::{self, Kind};
use crate::verify::case::trouble::Trouble;
use crate::verify::case::whole_end::as_likely;

use super::components;
use super::drawing;
use super::place;
use super::shields;

/// From here on, in ohm, a join where terminators occur reads like one and not like a bridge (common practice, no source).
const TERMINATOR: f64 = 50.0;

/// Reports `open`, `short`, `unexpected`, `swapped` and `miswired`.
pub(in crate::verify) fn check(case: &Case<'_>, sink: &mut Sink) {
    // a bridge by a row to a contact that has one already is the drawing's finding
    let doubled = LazyCell::new(|| drawing::doubled(case));
    let is_doubled = |contacts: &[u32]| contacts.iter().any(|contact| doubled.contains_key(contact));
    for trouble in &case.troubles {
        match trouble {
            Trouble::Open { net, pieces } if !shields::owns(case, *net, pieces) => sink.report(open(case, *net, pieces)),
            Trouble::Join { nets, contacts } => match joins::kind(case, nets) {
                Kind::Short if is_doubled(contacts) => {}
                Kind::Short => sink.report(short(case, nets, contacts)),
                Kind::Unexpected => sink.report(unexpected(case, nets, contacts)),
                _ => {}
            },
            Trouble::Exchange { places } => sink.report(exchange(case, places)),
            _ => {}
        }
    }
}

/// The contacts that fell off a net: all but those of its one largest piece, or all where no piece is the largest.
pub(in crate::verify) fn fallen(pieces: &[Vec<u32>]) -> Vec<u32> {
    let largest = pieces.iter().map(Vec::len).max().unwrap_or(0);
    let unique = largest > 1 && pieces.iter().filter(|piece| piece.len() == largest).count() == 1;
    let mut fallen: Vec<u32> = pieces.iter().filter(|piece| !unique || piece.len() != largest).flatten().copied().collect();
    fallen.sort_unstable();
    fallen
}

/// What an open is called, its places and its repair; shared with the shields.
pub(in crate::verify) fn open_of(case: &Case<'_>, code: Code, net: u32, pieces: &[Vec<u32>]) -> Finding {
    let fallen = fallen(pieces);
    let whole = case.net(net);
    let end = |contact: u32| case.cable.points[contact as usize].end;
    let tie = whole.len() > 1 && whole.iter().all(|contact| end(*contact) == end(whole[0]));
    let message = if tie {
        let plug = case.ends.end(end(whole[0]));
        format!(
            "{} not tied to {} inside plug {plug} ({})",
            with_verb(case, &fallen),
            others(case, net, &fallen),
            case.link_of(net).map_or("", |link| link.signal.as_str())
        )
    } else if whole.len() == 2 {
        format!("{} is open", case.conductor(net))
    } else {
        format!("{} not joined to the rest of {}", with_verb(case, &fallen), case.conductor(net))
    };
    let mut finding = case.finding(code, if whole.len() == 2 { &whole } else { &fallen }, message);
    let shown: &[u32] = if whole.len() == 2 { &whole } else { &fallen };
    finding.labels = case.shown(shown, |points, open| {
        if open {
            format!("{} said to be open", with_verb(case, points))
        } else {
            format!("{} not joined to {}", with_verb(case, points), others(case, net, points))
        }
    });
    finding.labels.extend(link_labels(case, net, &fallen));
    finding.source = case.sources(&[net]);
    finding.remedy = if tie {
        "open the plug and fit the link between these contacts, then test the whole cable again"
    } else {
        "remake the termination at the end that is open (a capacitance reading from each end tells which), then test the whole \
         cable again"
    }
    .to_owned();
    place::add(case, &mut finding, net);
    finding
}

/// The map's entries that the contacts belong to.
fn link_labels(case: &Case<'_>, net: u32, contacts: &[u32]) -> Vec<Label> {
    let mut rows: Vec<usize> = contacts.iter().flat_map(|contact| case.cable.links_at(*contact)).collect();
    rows.sort_unstable();
    rows.dedup();
    let links = rows.into_iter().map(|at| &case.cable.links[at]).filter(|link| case.wanted.of(link.points[0]) == net);
    links.take(2).map(|link| case.required(link)).collect()
}

fn with_verb(case: &Case<'_>, points: &[u32]) -> String {
    let verb = if points.len() == 1 { "is" } else { "are" };
    format!("{} {verb}", case.list(points))
}

/// The other contacts of a wanted net, a few of them by name.
fn others(case: &Case<'_>, net: u32, points: &[u32]) -> String {
    let others: Vec<u32> = case.net(net).into_iter().filter(|point| !points.contains(point)).collect();
    match others.len() {
        0 => "each other".to_owned(),
        1..=3 => case.list(&others),
        n => format!("{} and {} more", case.list(&others[..2]), n - 2),
    }
}

fn open(case: &Case<'_>, net: u32, pieces: &[Vec<u32>]) -> Finding {
    let mut finding = open_of(case, Code::Open, net, pieces);
    let roles: Vec<Role> = case.roles(net).collect();
    finding.why = if roles.contains(&Role::Earth) {
        finding.hazard = true;
        finding.message.push_str(": protective earth is missing. Do not connect this cable");
        "metal that can be touched may carry a dangerous voltage if insulation fails; work on protective earth belongs to \
         licensed persons, under the local code"
    } else if fallen(pieces).iter().all(|contact| case.cable.role(*contact) == Role::Detect) {
        "the device reads from this contact what it is plugged into: it takes the wrong role, or sees nothing at all"
    } else if roles.contains(&Role::Supply) {
        "the far device gets no supply through this conductor, or the others carry its share"
    } else if roles.iter().any(|role| matches!(role, Role::Return | Role::Ground)) {
        "its current takes another way, with more noise and more voltage drop, and the fault hides behind parallel grounds"
    } else if roles.iter().any(|role| role.is_pair()) {
        "half a pair carries no differential signal: the lane fails, or the link falls back to a lower mode"
    } else {
        "whatever this conductor carries doesn't reach the far end"
    }
    .to_owned();
    components::hide_open(case, &mut finding, &[net]);
    case.weigh(&mut finding, &open_rows(case, net, pieces));
    finding
}

/// The rows of the map that an open breaks: those of the contacts that fell off.
pub(in crate::verify) fn open_rows<'a>(case: &Case<'a>, net: u32, pieces: &[Vec<u32>]) -> Vec<&'a Provenance> {
    let whole = case.net(net);
    case.rows_at(&if whole.len() == 2 { whole } else { fallen(pieces) })
}

fn short(case: &Case<'_>, nets: &[u32], contacts: &[u32]) -> Finding {
    let mut finding = case.finding(Code::Short, &joins::points(case, nets), format!("{} are joined", joins::names(case, nets)));
    finding.labels = joins::bridge_labels(case, nets, contacts);
    finding.labels.extend(case.map_labels(nets));
    finding.hazard = joins::is_hazard(case, nets);
    finding.why = "signals that must stay apart drive each other; two outputs on one wire can overload both".to_owned();
    finding.remedy = "look for a bridge of solder, a stray strand or crushed insulation at both plugs, clear it, then test the \
                      whole cable again, with an insulation measurement"
        .to_owned();
    finding.source = case.sources(nets);
    if let Some(figure) = terminator(case, nets) {
        finding.remedy = format!(
            "{figure} reads like a terminator, not like a bridge: if a resistor is in a plug there, say so with a line `resistor`; \
             else {}",
            finding.remedy
        );
    }
    hazard_words(case, &mut finding, nets);
    case.weigh(&mut finding, &case.rows_at(&joins::points(case, nets)));
    finding
}

/// The figure of a join where the map knows of a resistor that may be found there.
fn terminator(case: &Case<'_>, nets: &[u32]) -> Option<String> {
    if case.cable.excluded.is_empty() {
        return None;
    }
    let between = |points: [u32; 2]| {
        let mut of = points.map(|point| case.wanted.of(point));
        of.sort_unstable();
        of
    };
    let known = |points: [u32; 2]| {
        let mut excluded = case.cable.excluded.iter();
        excluded.any(|row| row.kind == ComponentKind::Resistor && between(row.points) == between(points))
    };
    let of_bridge = |points: [u32; 2]| points.iter().all(|point| nets.contains(&case.wanted.of(*point)));
    let mut joins = case.joins().iter().filter(|join| of_bridge(join.points) && known(join.points));
    joins.find(|join| join.ohm() >= TERMINATOR).map(|join| join.reading.quantity.short())
}

fn unexpected(case: &Case<'_>, nets: &[u32], contacts: &[u32]) -> Finding {
    let alone: Vec<u32> = nets.iter().copied().filter(|net| case.is_alone(*net)).collect();
    let others: Vec<u32> = nets.iter().copied().filter(|net| !case.is_alone(*net)).collect();
    let (first, rest) = alone.split_at(usize::from(!alone.is_empty()));
    let to = if others.is_empty() { joins::names(case, rest) } else { joins::names(case, &others) };
    let message = format!("{}, to be left unconnected, is joined to {to}", joins::names(case, first));
    let bridged = case
        .cable
        .parts
        .iter()
        .find(|part| case.cable.is_in_series(part) && part.points.iter().all(|point| nets.contains(&case.wanted.of(*point))));
    let message = match bridged {
        Some(part) => format!(
            "{} and {} are joined: the {} that belongs in their path is bridged",
            case.point(part.points[0]),
            case.point(part.points[1]),
            part.kind.word()
        ),
        None => message,
    };
    let mut finding = case.finding(Code::Unexpected, &joins::points(case, nets), message);
    finding.labels = joins::bridge_labels(case, nets, contacts);
    finding.labels.extend(case.map_labels(nets));
    let rule = alone.first().and_then(|point| case.cable.unconnected(*point));
    finding.why = match (rule, bridged) {
        (_, Some(part)) if !part.why.is_empty() => part.why.clone(),
        (_, Some(_)) => "direct current passes where the devices must be kept apart".to_owned(),
        (Some(rule), None) => rule.why.clone(),
        (None, None) => "this contact has no wire in a sound cable".to_owned(),
    };
    finding.labels.extend(bridged.map(|part| Label::new(&case.cable.file, part.span, "required here")));
    finding.remedy = "take the conductor off the contact, or clear the bridge, then test the whole cable again".to_owned();
    finding.source = case.sources(&alone);
    finding.hazard = joins::is_hazard(case, nets);
    hazard_words(case, &mut finding, nets);
    case.weigh(&mut finding, &case.rows_at(&joins::points(case, nets)));
    finding
}

fn exchange(case: &Case<'_>, places: &[Vec<u32>]) -> Finding {
    let contacts: Vec<u32> = places.iter().map(|place| place[0]).collect();
    let contacts = contacts.as_slice();
    let nets: Vec<u32> = contacts.iter().map(|contact| case.wanted.of(*contact)).collect();
    let touched: Vec<u32> = places
        .iter()
        .zip(&nets)
        .flat_map(|(place, net)| {
            let net = case.net(*net);
            if net.len() == 2 { net } else { place.clone() }
        })
        .collect();
    let conductors: Vec<u32> = nets.iter().copied().filter(|net| !case.is_alone(*net)).collect();
    let end = case.ends.end(case.cable.points[contacts[0] as usize].end);
    let (code, message, why) = match (contacts, conductors.as_slice()) {
        ([_, _], [one, two]) => (
            Code::Swapped,
            format!("{} and {} have changed places", case.conductor(*one), case.conductor(*two)),
            "each conductor carries its signal to the contact of the other",
        ),
        ([one, two], [only]) => {
            let (right, wrong) = if case.wanted.of(*one) == *only { (one, two) } else { (two, one) };
            let message = format!("{} lands on {} instead of {}", case.conductor(*only), case.point(*wrong), case.point(*right));
            (Code::Miswired, message, "the signal doesn't reach its contact, and reaches one that must be left alone")
        }
        _ => {
            let moves: Vec<String> = contacts
                .iter()
                .enumerate()
                .filter(|(_, contact)| !case.is_alone(case.wanted.of(**contact)))
                .map(|(at, contact)| {
                    let next = contacts[(at + 1) % contacts.len()];
                    format!("{} on {}", case.signal(*contact), case.point(next))
                })
                .collect();
            let message = format!("{} conductors go round in a circle at end {end}: {}", conductors.len(), moves.join(", "));
            (Code::Miswired, message, "each of these conductors carries its signal to the contact of another")
        }
    };
    let mut finding = case.finding(code, &touched, message);
    finding.labels = displaced_labels(case, &touched);
    finding.labels.extend(case.map_labels(&nets).into_iter().take(4));
    finding.why = why.to_owned();
    finding.remedy = if touched.len() == 2 * contacts.len() {
        "move the contacts at one end (continuity can't tell which end was wired wrong), then test the whole cable again"
            .to_owned()
    } else {
        format!("move the contacts at end {end}, then test the whole cable again")
    };
    finding.source = case.sources(&nets);
    finding.hazard = joins::is_hazard(case, &nets);
    hazard_words(case, &mut finding, &nets);
    finding.why.push_str(&as_likely(case.rivals));
    case.weigh(&mut finding, &case.rows_at(&joins::points(case, &nets)));
    finding
}

/// The lines that show contacts, with where each belongs.
pub(in crate::verify) fn displaced_labels(case: &Case<'_>, points: &[u32]) -> Vec<Label> {
    case.shown(points, |points, _| {
        let belongs: Vec<String> = points
            .iter()
            .map(|point| match case.net(case.wanted.of(*point))[..] {
                [a, b] => format!("{} belongs to {}", case.point(*point), case.point(if a == *point { b } else { a })),
                [_] => format!("{} belongs to nothing", case.point(*point)),
                _ => format!("{} belongs to {}", case.point(*point), case.signal(*point)),
            })
            .collect();
        belongs.join(", ")
    })
}

/// Adds the warning where a fault is dangerous.
fn hazard_words(case: &Case<'_>, finding: &mut Finding, nets: &[u32]) {
    if !finding.hazard {
        return;
    }
    finding.message.push_str(". Do not connect this cable");
    finding.why = if nets.iter().any(|net| case.has_role(*net, Role::Earth)) {
        "protective earth is not where it belongs; metal that can be touched may become live. Work on protective earth \
         belongs to licensed persons, under the local code"
    } else {
        "the supply reaches contacts that are not made for it, and can destroy the devices at both ends"
    }
    .to_owned();
    finding.remedy = format!("set the cable aside and mark it; {}", finding.remedy);
}
