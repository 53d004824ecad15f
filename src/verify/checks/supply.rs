//! Supply pins: wired through where they must not be, or joined to something else.

use crate::finding::{Code, Sink};
use crate::pinmap::Role;

use crate::verify::case::Case;
use crate::verify::case::joins::{self, Kind};
use crate::verify::case::trouble::Trouble;

/// Reports `power.end-to-end` and `power.short`.
pub(in crate::verify) fn check(case: &Case<'_>, sink: &mut Sink) {
    for trouble in &case.troubles {
        let Trouble::Join { nets, contacts } = trouble else { continue };
        let points = joins::points(case, nets);
        let mut finding = match joins::kind(case, nets) {
            Kind::SupplyThrough => {
                let mut finding = case.finding(
                    Code::PowerEndToEnd,
                    &points,
                    format!(
                        "{} is wired through: {} are joined. Do not connect this cable",
                        case.signal(points[0]),
                        joins::names(case, nets)
                    ),
                );
                finding.why = "the supply of one device is fed back into the other; with both powered, two supplies \
                               drive each other, and either may be damaged or fail to start"
                    .to_owned();
                finding.remedy = "set the cable aside and mark it; remove the conductor, or cut it back and insulate it at \
                                  both ends, then test the whole cable again"
                    .to_owned();
                finding
            }
            Kind::SupplyShort => {
                let mut finding = case.finding(
                    Code::PowerShort,
                    &points,
                    format!("{} are joined: a supply is shorted. Do not connect this cable", joins::names(case, nets)),
                );
                let to_return = nets.iter().any(|net| {
                    case.roles(*net)
                        .any(|role| matches!(role, Role::Return | Role::Ground | Role::Earth | Role::Shell | Role::Drain))
                });
                finding.why = if to_return {
                    "the device that feeds the cable is short-circuited as soon as it is plugged in; port, cable or both can \
                     overheat"
                } else {
                    "the supply voltage reaches a contact that is not made for it, and can destroy the device behind it"
                }
                .to_owned();
                finding.remedy = "set the cable aside and mark it; find the bridge (a whisker, solder between contacts, or \
                                  crushed insulation), clear it, and test the whole cable again before it meets equipment"
                    .to_owned();
                finding
            }
            _ => continue,
        };
        finding.hazard = true;
        finding.labels = joins::bridge_labels(case, nets, contacts);
        finding.labels.extend(case.map_labels(nets));
        finding.source = case.sources(nets);
        sink.report(finding);
    }
}
