//! Shells, overall shields and the drains of pair screens.

use crate::finding::{Code, Sink};
use crate::pinmap::Role;

use super::case::Case;
use super::conductors::{fallen, open_of};
use super::joins::{self, Kind};
use super::trouble::Trouble;

/// Whether an open belongs to this family: what fell off is only shell, or only drain.
pub(super) fn owns(case: &Case<'_>, net: u32, pieces: &[Vec<u32>]) -> bool {
    code(case, net, pieces).is_some()
}

fn code(case: &Case<'_>, _net: u32, pieces: &[Vec<u32>]) -> Option<Code> {
    let fallen = fallen(pieces);
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
pub(super) fn check(case: &Case<'_>, sink: &mut Sink) {
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
                sink.report(finding);
            }
            _ => {}
        }
    }
}
