//! Shells, overall shields and the drains of pair screens.

use crate::finding::{Code, Sink};
use crate::netlist::FactKind;
use crate::pinmap::Role;

use crate::verify::case::Case;
use crate::verify::case::joins::{self, Kind};
use crate::verify::case::trouble::Trouble;

use super::components;
use super::conductors::{fallen, open_of, open_rows};

/// Whether an open belongs to this family: what fell off is only shell, or only drain.
pub(in crate::verify) fn owns(case: &Case<'_>, net: u32, pieces: &[Vec<u32>]) -> bool {
    code(case, net, pieces).is_some()
}

fn code(case: &Case<'_>, net: u32, pieces: &[Vec<u32>]) -> Option<Code> {
    // a conductor of two contacts is open as a whole, whatever contacts its ends sit on
    let whole = case.net(net);
    let fallen = if whole.len() == 2 { whole } else { fallen(pieces) };
    let all = |role: Role| fallen.iter().all(|point| case.cable.role(*point) == role);
    if all(Role::Shell) {
        Some(Code::ShieldOpen)
    } else if fallen.iter().all(|point| case.cable.role(*point).is_shield()) {
        Some(Code::ShieldDrainOpen)
    } else {
        None
    }
}

/// Reports `shield.open`, `shield.drain-open`, `shield.to-signal` and `shield.both-ends`.
pub(in crate::verify) fn check(case: &Case<'_>, sink: &mut Sink) {
    for trouble in &case.troubles {
        match trouble {
            Trouble::Open { net, pieces } => {
                let Some(code) = code(case, *net, pieces) else { continue };
                let mut finding = open_of(case, code, *net, pieces);
                (finding.why, finding.remedy) = if code == Code::ShieldOpen {
                    (
                        "the screen can't carry away what it picks up: errors come and go with the noise around it, and \
                         continuity of the signals stays perfect"
                            .to_owned(),
                        "bond the screen to the shell all round at both plugs, then measure shell to shell with both ends free"
                            .to_owned(),
                    )
                } else {
                    (
                        "this pair's screen floats at one end: crosstalk and emission rise, and the link fails at its highest \
                         rates first"
                            .to_owned(),
                        "terminate the drain on its contact at both ends, then test the whole cable again".to_owned(),
                    )
                };
                components::hide_open(case, &mut finding, &[*net]);
                case.weigh(&mut finding, &open_rows(case, *net, pieces));
                sink.report(finding);
            }
            Trouble::Join { nets, contacts } => {
                let names = joins::names(case, nets);
                let (code, message, why, remedy) = match joins::kind(case, nets) {
                    Kind::ShieldToSignal => (
                        Code::ShieldToSignal,
                        format!("a shield touches a signal: {names} are joined"),
                        "the signal is tied to ground, and noise on the shield goes straight into it",
                        "look for strands of braid or a drain wire at the contacts of both plugs, trim and sleeve them, then test \
                         the whole cable again",
                    ),
                    Kind::ShieldBothEnds => (
                        Code::ShieldBothEnds,
                        format!("the shield is bonded at both ends: {names} are joined"),
                        "a shield that is meant to be bonded at one end only closes a ground loop when it is bonded at both",
                        "lift the shield at the end that must stay open, insulate it, and never lift a protective earth",
                    ),
                    _ => continue,
                };
                let mut finding = case.finding(code, &joins::points(case, nets), message);
                finding.labels = joins::bridge_labels(case, nets, contacts);
                finding.labels.extend(case.map_labels(nets));
                finding.why = why.to_owned();
                finding.remedy = remedy.to_owned();
                finding.source = case.sources(nets);
                case.weigh(&mut finding, &case.rows_at(&joins::points(case, nets)));
                sink.report(finding);
            }
            _ => {}
        }
    }
    stated_screens(case, sink);
}

/// The screens that `pair` lines name: each must land where the map has the drain of its pair, or, where the map names no
/// drain, on a ground or a shell.
fn stated_screens(case: &Case<'_>, sink: &mut Sink) {
    for (line, fact) in case.lines() {
        let (FactKind::Pair { .. }, [a, _, screen]) = (fact.kind, &*case.numbers(fact)) else { continue };
        let (pair, end) = (case.pair(*a), case.cable.points[*a as usize].end);
        let drains_it = |point: &u32| {
            let place = &case.cable.points[*point as usize];
            place.end == end && case.cable.ends[end].connector.pins[place.pin].drains.iter().any(|drained| drained == pair)
        };
        let drain = case.contacts().find(|point| !pair.is_empty() && drains_it(point));
        let role = case.cable.role(*screen);
        let right = match drain {
            Some(drain) => case.wanted.same(drain, *screen),
            None => role.is_shield() || matches!(role, Role::Ground | Role::Return),
        };
        if right {
            continue;
        }
        let carries = role.is_signal() || role == Role::Supply;
        let code = if carries { Code::ShieldToSignal } else { Code::ShieldDrainOpen };
        let belongs = drain.map_or_else(|| "on a ground".to_owned(), |drain| format!("on {}", case.point(drain)));
        let whose = if pair.is_empty() { "this twist" } else { pair };
        let message =
            format!("the screen of {} lands on {} ({}); it belongs {belongs}", whose, case.point(*screen), case.signal(*screen));
        let stop = if role == Role::Supply { ". Do not connect this cable" } else { "" };
        let points: Vec<u32> = drain.into_iter().chain([*screen]).collect();
        let mut finding = case.finding(code, &points, format!("{message}{stop}"));
        finding.hazard = role == Role::Supply;
        finding.labels = vec![case.at(line, "said here")];
        "the pair's screen floats, or carries its noise into another conductor".clone_into(&mut finding.why);
        "terminate the drain on its own contact at both ends, then test the whole cable again".clone_into(&mut finding.remedy);
        case.weigh(&mut finding, &case.pins_at(&points));
        sink.report(finding);
    }
}
