//! Cautions, each before the step that it concerns, and only where it applies.
//!
//! Common practice of the trade, no source, but for what data pairs may carry (IEEE 802.3, power over Ethernet).

use maud::{Markup, html};

use super::views::UnitView;

/// A long cable: a length in metres from which charge on it is worth a word (common practice, no source).
const LONG: f64 = 10.0;

/// Before anything is connected.
pub(super) fn connecting(hazard: bool, sound: bool, length: Option<f64>) -> Vec<&'static str> {
    let mut all = Vec::new();
    if hazard {
        all.push("Don't plug it into anything, not even to try. Mark it and put it apart before you read on.");
    } else if !sound {
        all.push("Don't plug a unit that fails or isn't decided into equipment that you want to keep.");
    }
    if length.is_some_and(|length| length >= LONG) {
        all.push("A long cable that was dragged or unrolled can hold a charge: discharge it to earth before it meets equipment.");
    }
    all
}

/// Before it is measured again.
pub(super) fn measuring(unit: &UnitView) -> Vec<&'static str> {
    let mut all = vec![
        "Unplug both ends and make sure that nothing is live, before you measure resistance or insulation: pairs can carry power from the equipment at the other end.",
        "Don't force a probe into a socket: it spoils the contact. Measure through a mating contact.",
    ];
    let isolation = !unit.not_shown.contains(&"isolation") || unit.findings.iter().any(|finding| finding.code == "isolation.low");
    if isolation {
        all.push(
            "Measure insulation only once the wiring was found right at low voltage, and never above the voltage that the maker of \
             the connectors allows.",
        );
        if unit.has_parts {
            all.push("There are parts in this cable: take them out, or bridge them, before a test at high voltage.");
        }
        all.push(
            "Afterwards discharge the cable through a resistor and check that it is discharged. Good insulation holds charge for \
             long, and a long cable enough of it to kill: this is for qualified people.",
        );
    }
    all
}

/// Before units that aren't accepted are moved.
pub(super) const APART: &str =
    "Put units that fail or are held apart from the others and label them, before anything else is done to them.";

/// A list of cautions, under the step that they come before; nothing where there is none.
pub(super) fn list(before: &str, cautions: &[&str]) -> Markup {
    html! {
        @if !cautions.is_empty() {
            div class="caution" role="note" {
                p { strong { (before) } }
                ul { @for caution in cautions { li { (caution) } } }
            }
        }
    }
}
