//! Where along the cable a conductor is broken, from capacitances.

use crate::finding::{Finding, Label};
use crate::netlist::FactKind;
use crate::units::{self, Bound, Distance, Quantity, Tolerance, Unit};

use crate::verify::case::Case;
use crate::verify::case::expected;

/// The expanded uncertainty of a capacitance without a tolerance of its own, as a share (common practice, no source).
const UNCERTAINTY: f64 = 0.02;

/// By how much the pieces of a conductor may differ from a sound one, as a share (common practice, no source).
const UNEQUAL: f64 = 0.15;

/// A capacitance at a contact.
#[derive(Clone, Copy)]
struct Capacitance {
    contact: u32,
    fact: u32,
    reading: units::Reading,
}

/// Adds to an open what the capacitances say of its place: a sentence, and labels on their lines.
pub(in crate::verify) fn add(case: &Case<'_>, finding: &mut Finding, net: u32) {
    let [a, b] = case.net(net)[..] else { return };
    let all = capacitances(case);
    if all.is_empty() {
        return;
    }
    let at = |contact: u32| all.iter().copied().find(|known| known.contact == contact);
    let (metres, relative) = expected::length(case).map_or((1.0, 0.0), |(metres, more)| (metres, more / metres));
    let length = units::Reading::new(metres, relative);
    let (place, used) = match (at(a), at(b)) {
        (Some(near), Some(far)) => {
            // both pieces together are one conductor: a sound sibling tells whether anything is missing, or too much
            let whole = near.reading.value + far.reading.value;
            let sibling = [near, far].iter().find_map(|known| sibling(case, &all, known.contact));
            let odd = sibling.filter(|sibling| (whole - sibling.reading.value).abs() > UNEQUAL * sibling.reading.value);
            if let Some(sibling) = odd {
                finding
                    .message
                    .push_str("; its capacitances don't add up to those of a sound conductor: it isn't simply broken once");
                finding.labels.extend([near, far, sibling].iter().map(|known| label(case, *known)));
                return;
            }
            (units::break_from_both_ends(length, near.reading, far.reading), vec![near, far])
        }
        (Some(known), None) | (None, Some(known)) => {
            let Some(sibling) = sibling(case, &all, known.contact) else { return };
            (units::break_from_sibling(length, known.reading, sibling.reading), vec![known, sibling])
        }
        (None, None) => return,
    };
    let Some(place) = place else { return };
    let from = used[0].contact;
    finding.message.push_str("; ");
    finding.message.push_str(&words(case, from, place, expected::length(case).is_some(), metres));
    finding.labels.extend(used.iter().map(|known| label(case, *known)));
    "open the plug at the end where the break lies, or cut back to it; a capacitance is a share of the length, so a conductor that \
     runs apart from the others misleads it"
        .clone_into(&mut finding.remedy);
    finding.remedy.push_str(". Then test the whole cable again");
}

fn words(case: &Case<'_>, from: u32, place: Distance, in_metres: bool, length: f64) -> String {
    let end = case.ends.end(case.cable.points[from as usize].end);
    if place.beyond > place.uncertainty {
        return "its capacitances don't fit one break: it isn't simply broken through, or has no equal to compare with"
            .to_owned();
    }
    let far = length - place.metres;
    if place.uncertainty > 0.25 * length {
        return "the readings are too uncertain for so short a cable to tell where it is broken".to_owned();
    }
    if place.metres <= place.uncertainty.max(0.02 * length) {
        return format!("the break is at end {end}, in the plug or next to it");
    }
    if far <= place.uncertainty.max(0.02 * length) {
        return format!("the break is at the far end from {end}, in the plug or next to it");
    }
    if in_metres {
        let metres = |value: f64| Quantity::new((value * 100.0).round() / 100.0, Unit::Metre).short();
        format!("the break lies {} from end {end} (+/- {})", metres(place.metres), metres(place.uncertainty.max(0.01)))
    } else {
        format!(
            "the break lies at {:.0} % of its length from end {end} (+/- {:.0} %)",
            place.metres * 100.0,
            (place.uncertainty * 100.0).max(1.0)
        )
    }
}

fn label(case: &Case<'_>, known: Capacitance) -> Label {
    let farad = Quantity::new(known.reading.value, Unit::Farad).short();
    case.at(known.fact, format!("{farad} at {}", case.point(known.contact)))
}

fn capacitances(case: &Case<'_>) -> Vec<Capacitance> {
    let facts = case.lines();
    facts
        .filter_map(|(line, fact)| {
            let FactKind::Capacitance { figure, .. } = fact.kind else { return None };
            let quantity = case.netlist.figure(figure).map(|figure| figure.quantity).filter(|of| of.bound == Bound::Exact)?;
            let [contact] = *case.numbers(fact) else { return None };
            let relative = match quantity.tolerance {
                Some(Tolerance::Percent(percent)) => percent / 100.0,
                Some(Tolerance::Absolute(farad)) if quantity.value > 0.0 => farad / quantity.value,
                _ => UNCERTAINTY,
            };
            Some(Capacitance { contact, fact: line, reading: units::Reading::new(quantity.value, relative) })
        })
        .collect()
}

/// A sound conductor of the same kind, read at the same end: the other one of the pair, or else the middle one of all.
fn sibling(case: &Case<'_>, all: &[Capacitance], of: u32) -> Option<Capacitance> {
    let end = |contact: u32| case.cable.points[contact as usize].end;
    let sound = |contact: u32| {
        let net = case.net(case.wanted.of(contact));
        net.len() > 1 && net.iter().all(|other| case.measured.same(*other, contact))
    };
    let alike = |known: &&Capacitance| {
        known.contact != of
            && end(known.contact) == end(of)
            && case.cable.role(known.contact).is_pair() == case.cable.role(of).is_pair()
            && sound(known.contact)
    };
    let mut siblings: Vec<Capacitance> = all.iter().filter(alike).copied().collect();
    let partner = case.cable.pair_partner(of);
    if let Some(mate) = siblings.iter().find(|known| Some(known.contact) == partner) {
        return Some(*mate);
    }
    siblings.sort_by(|one, other| one.reading.value.total_cmp(&other.reading.value));
    siblings.get(siblings.len() / 2).copied()
}
