//! Causes that take in a whole end: one finding, with its counter-check, and only what it doesn't explain beside it.

use crate::injection::{Build, Model, cable, check, codes};

/// A contact exchange at the last end, given as a list of places taken.
fn renumber(model: &mut Model, turn: impl Fn(usize) -> usize) {
    let end = model.cable.ends.len() - 1;
    let number = |model: &Model, contact: usize| -> Option<usize> {
        let place = &model.cable.points[contact];
        let pin = &model.cable.ends[place.end].connector.pins[place.pin].pin;
        pin.parse().ok().filter(|_| place.end == end)
    };
    let contacts: Vec<usize> = (0..model.cable.points.len()).collect();
    let target = |model: &Model, contact: usize| -> usize {
        let Some(n) = number(model, contact) else { return contact };
        contacts.iter().copied().find(|other| number(model, *other) == Some(turn(n))).unwrap_or(contact)
    };
    let mut turned = model.clone();
    for wire in &mut turned.wires {
        for contact in &mut wire.contacts {
            *contact = target(model, *contact);
        }
    }
    *model = turned;
}

/// Numbered from the wrong side: named on every catalogue cable whose plug is numbered 1, 2, 3 …, unless it looks like a
/// single fault, or like the cable itself.
#[test]
fn mirrored_on_every_cable() {
    let mut named = 0;
    for name in backshell::pinmap::cable_names() {
        let cable = cable(name);
        let last = &cable.ends[cable.ends.len() - 1].connector;
        let n = last.pins.iter().filter_map(|pin| pin.pin.parse::<usize>().ok()).max().unwrap_or(0);
        if n < 4 {
            continue;
        }
        let sound = Model::sound(&cable, Build::Plain);
        let mut model = sound.clone();
        renumber(&mut model, |pin| n + 1 - pin);
        if model.nets() == sound.nets() {
            continue;
        }
        let report = check(&model.netlist());
        let found = codes(&report.findings);
        assert!(!found.is_empty(), "{name}");
        let other_published = found.iter().any(|code| code.starts_with("wiring.") || *code == "pair.transposed");
        if found.len() == 1 && found[0] == "numbering.mirrored" {
            named += 1;
            let message = &report.findings[0].message;
            assert!(message.contains("conductors agree; as it stands"), "{message}");
        } else {
            // the same nets as another published wiring, or as one fault
            assert!(found.len() == 1 || other_published, "{name}: {found:?}\n{}", model.netlist());
        }
    }
    assert!(named > 15, "{named}");
}

#[test]
fn what_a_cause_does_not_explain_stays() {
    let mut model = Model::sound(&cable("displayport"), Build::Plain);
    renumber(&mut model, |pin| 21 - pin);
    let at = |text: &str| model.cable.point(text).unwrap() as usize;
    let (one, other) = (at("A.13"), at("A.18"));
    model.exchange(&[(one, other)]);
    let report = check(&model.netlist());
    let mut found = codes(&report.findings);
    found.sort_unstable();
    assert_eq!(found, ["numbering.mirrored", "swapped"]);
    let swapped = report.findings.iter().find(|finding| finding.code.text() == "swapped").unwrap();
    // the points are those of the netlist, not of the map: 13 and 18 of end B were read as 8 and 3
    assert_eq!(swapped.points, ["A.13", "A.18", "B.8", "B.3"]);
}
