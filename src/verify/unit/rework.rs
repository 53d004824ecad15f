//! What to do to a unit that fails: the fewest moves of contacts that make it right, in an order that can be done.

use crate::finding::{Code, Finding, Severity};
use crate::graph::{Move, moves};
use crate::netlist::Origin;

use crate::verify::case::Case;
use crate::verify::case::joins::{self, Kind};
use crate::verify::case::trouble::Trouble;

/// The steps for a unit with these findings, each a sentence; none where it doesn't fail, or is only drawn.
///
/// What must come off comes first, since a contact needs an empty cavity to go into; then contacts are moved, at most one of
/// them held aside at a time; then what is open is remade, and what isn't wiring is dealt with. A full test closes the list.
#[must_use]
pub fn rework(case: &Case<'_>, findings: &[Finding]) -> Vec<String> {
    let drawing = case.given.origin() == Origin::Drawing;
    if drawing || findings.iter().all(|finding| finding.severity != Severity::Fail) {
        return Vec::new();
    }
    let mut steps = Vec::new();
    if findings.iter().any(|finding| finding.hazard) {
        steps.push(
            "set the cable aside, mark it DO NOT CONNECT, and make sure that both ends are free and nothing is live".to_owned(),
        );
    }
    whole_end(case, &mut steps);
    for trouble in &case.troubles {
        if let Trouble::Join { nets, .. } = trouble {
            steps.push(take_off(case, nets));
        }
    }
    contacts(case, &mut steps);
    for trouble in &case.troubles {
        match trouble {
            Trouble::Open { net, .. } => steps.push(format!("remake the termination of {}", case.conductor(*net))),
            Trouble::PairOpen { nets: [one, two] } => {
                steps.push(format!(
                    "terminate the pair {}: {} and {}",
                    case.pair(*one),
                    case.conductor(*one),
                    case.conductor(*two)
                ));
            }
            _ => {}
        }
    }
    let others = findings.iter().filter(|finding| finding.severity == Severity::Fail && !is_wiring(finding.code));
    steps.extend(others.map(|finding| format!("{}: {}", finding.points.join(" "), finding.remedy)));
    steps.push("test the whole cable again, every contact against all others: a repair can do new harm".to_owned());
    steps
}

/// Whether the fault is among the troubles, or is the cause that takes in a whole end.
fn is_wiring(code: Code) -> bool {
    let text = code.text();
    let families = ["resistance.", "conductor.", "component.", "isolation.", "pair.split"];
    !families.iter().any(|family| text.starts_with(family))
}

fn take_off(case: &Case<'_>, nets: &[u32]) -> String {
    let names = joins::names(case, nets);
    match joins::kind(case, nets) {
        Kind::SupplyThrough => format!("take the conductor between {names} out, or cut it back and insulate it at both ends"),
        Kind::Unexpected => format!("clear what joins {names}: a contact of them has no conductor in a sound cable"),
        Kind::ShieldBothEnds => format!("take the shield off at one end: {names}"),
        _ => format!("find and clear the bridge between {names}"),
    }
}

/// Moves of contacts that took each other's places.
fn contacts(case: &Case<'_>, steps: &mut Vec<String>) {
    let mut sits: Vec<(u32, u32)> = Vec::new();
    let mut together: Vec<&[Vec<u32>]> = Vec::new();
    for places in case.circles {
        if places.iter().any(|place| place.len() > 1) {
            together.push(places);
            continue;
        }
        let next = places.iter().cycle().skip(1);
        // what belongs on a contact sits on the next one; nothing belongs on one that is to be left alone
        let wired = places.iter().zip(next).filter(|(home, _)| !case.is_alone(case.wanted.of(home[0])));
        sits.extend(wired.map(|(home, at)| (at[0], home[0])));
    }
    steps.extend(moves(sits).into_iter().map(|step| in_words(step, |contact| case.point(contact).to_owned())));
    for places in together {
        let places: Vec<String> = places.iter().map(|place| case.list(place)).collect();
        steps.push(format!("exchange what sits on {}", places.join(" with what sits on ")));
    }
}

fn in_words(step: Move, name: impl Fn(u32) -> String) -> String {
    match step {
        Move::Lift { from } => format!("take the conductor out of {} and hold it aside", name(from)),
        Move::Shift { from, to } => format!("move the conductor from {} to {}, which is empty now", name(from), name(to)),
        Move::Seat { to } => format!("put the one that was held aside into {}", name(to)),
    }
}

/// For a cause that takes in a whole end: first whether the record is to blame, then the moves at that end.
fn whole_end(case: &Case<'_>, steps: &mut Vec<String>) {
    let Some(whole) = &case.whole_end else { return };
    if whole.hypothesis.code == Code::EndsExchanged {
        steps.push("mark the ends anew, or correct the record: there is nothing to rewire".to_owned());
        return;
    }
    steps.push(
        "settle whether the record or the plug is wrong; if it is the record, correct it, test again, and leave out the moves"
            .to_owned(),
    );
    let sizes = case.measured.sizes();
    let wired = |contact: u32| sizes[case.measured.of(contact) as usize] > 1;
    let meant = &whole.hypothesis.meant;
    let mut sits: Vec<(u32, u32)> =
        (0..).zip(meant).filter(|(home, at)| **at != *home && wired(*home)).map(|(home, at)| (*at, home)).collect();
    if sits.is_empty() {
        // another map: at the last end, each conductor goes where the map that was asked for wants it
        let end = |contact: u32| case.cable.points[contact as usize].end;
        let partner = |links: &[crate::pinmap::Link], near: u32| {
            let link = links.iter().find(|link| link.points.len() == 2 && link.points.contains(&near))?;
            link.points.iter().copied().find(|point| end(*point) != end(near))
        };
        let near = case.contacts().filter(|contact| end(*contact) == 0 && wired(*contact));
        sits = near.filter_map(|near| Some((partner(&case.cable.links, near)?, partner(&case.named.links, near)?))).collect();
    }
    steps.extend(moves(sits).into_iter().map(|step| in_words(step, |contact| case.ends.text(contact).to_owned())));
}
