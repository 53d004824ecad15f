//! What the standards add beyond conductor by conductor: shells that stay open, screens on their own drains, ID contacts by
//! the type of the plug, ties inside a plug, terminators, capacitors in series; and rows that are from memory alone.

use std::collections::BTreeSet;

use backshell::finding::{Code, Finding, Severity, Verdict};
use backshell::pinmap::{Cable, Provenance, Role, cable_names};
use backshell::verify::{Options, Share, check_text};

use crate::injection::{Build, Model, assert_conforms, cable, check, codes, points, weighs};

fn sound(name: &str) -> Model {
    Model::sound(&cable(name), Build::Plain)
}

/// The lines of a sound cable, with more of them.
fn with(name: &str, lines: &str) -> String {
    let model = sound(name);
    format!("cable {name}\n{}{lines}\n", model.lines())
}

/// The one finding that keeps a unit from conforming.
fn only(netlist: &str, verdict: Verdict) -> Finding {
    let report = check(netlist);
    let messages: Vec<&str> = report.findings.iter().map(|finding| finding.message.as_str()).collect();
    assert_eq!(report.verdict, verdict, "{netlist}{messages:?}");
    let mut weighing = report.findings.into_iter().filter(weighs);
    let found = weighing.next().unwrap_or_else(|| panic!("nothing found\n{netlist}"));
    assert!(weighing.next().is_none(), "more than one finding\n{netlist}");
    found
}

fn set(texts: &[&str]) -> BTreeSet<String> {
    texts.iter().map(|text| (*text).to_owned()).collect()
}

/// AES48 and AES54-1, as an application note and an encyclopaedia text have them (X1c, X1b): the shells of audio plugs are
/// tied neither to contact 1 nor to the screen. Two lighting manuals (DX1c, DX1d) forbid the shell lug of DMX512 leads. A
/// builder's article that cites the MIDI specification (MI1c): contact 2 isn't joined to the plug's shell.
#[test]
fn audio_shells_stay_open() {
    for (name, shell, screen, source) in [
        ("xlr3", "A.shell", "A.1", "X1c"),
        ("xlr3", "B.shell", "B.1", "X1c"),
        ("xlr3", "A.shell", "B.shell", "X1c"),
        ("dmx512", "A.shell", "A.1", "DX1c"),
        ("dmx512", "B.shell", "B.1", "DX1c"),
        ("dmx512", "A.shell", "B.shell", "DX1c"),
        ("trs-xlr", "B.shell", "B.1", "X1c"),
        ("midi", "A.shell", "A.2", "MI1c"),
        ("midi", "B.shell", "B.2", "MI1c"),
        ("midi", "A.shell", "B.shell", "MI1c"),
    ] {
        assert_conforms(&with(name, ""));
        let found = only(&with(name, &format!("{shell} {screen}")), Verdict::Fails);
        assert_eq!(found.code, Code::Unexpected, "{name}: {}", found.message);
        assert!(found.points.contains(&shell.to_owned()) && found.source.contains(source), "{name}: {found:?}");
    }
    // the variant that bonds the shell for radio frequencies passes no direct current (X1b)
    assert_conforms(&with("xlr3", "capacitor A.shell A.1 10 nF"));
    assert_eq!(only(&with("dmx512", "capacitor A.shell A.1 10 nF"), Verdict::Fails).code, Code::ComponentUnexpected);
}

/// Each pair's screen on its own drain, by the contact tables of HDMI (XH), DVI (DV1), USB 3 (U3) and IEEE 1394 (FW1).
#[test]
fn a_screen_on_the_drain_of_another_pair() {
    let mut tried = 0;
    for name in ["hdmi", "hdmi-mini", "hdmi-micro", "dvi-d", "dvi-d-dual", "usb3-a-b", "displayport"] {
        let model = sound(name);
        let pins = &model.cable.ends[0].connector.pins;
        let drains: Vec<(usize, &[String])> =
            pins.iter().enumerate().filter(|(_, pin)| !pin.drains.is_empty()).map(|(at, pin)| (at, &pin.drains[..])).collect();
        for (plus, minus) in model.pairs() {
            let [a, b] = [plus, minus].map(|wire| model.at_end(wire, 0)[0]);
            let pair = model.cable.function(u32::try_from(a).unwrap()).pair.clone().unwrap();
            let Some((own, _)) = drains.iter().find(|(_, drained)| drained.contains(&pair)) else { continue };
            let line = |screen: usize| format!("pair {} {} screen {}", model.text(a), model.text(b), model.text(screen));
            assert_conforms(&with(name, &line(*own)));
            for (other, _) in drains.iter().filter(|(at, _)| at != own) {
                let found = only(&with(name, &line(*other)), Verdict::Fails);
                assert_eq!(found.code, Code::ShieldDrainOpen, "{name} {pair}: {}", found.message);
                assert_eq!(points(&found), model.texts([*own, *other]), "{name} {pair}");
                tried += 1;
            }
        }
    }
    assert!(tried >= 40, "{tried}");
    // on a signal, and on a supply
    assert_eq!(only(&with("hdmi", "pair A.1 A.3 screen A.13"), Verdict::Fails).code, Code::ShieldToSignal);
    let found = only(&with("hdmi", "pair A.1 A.3 screen A.18"), Verdict::Fails);
    assert!(found.hazard && found.message.contains("Do not connect"), "{}", found.message);
}

/// The ID contact by the type of the plug: open in a B plug, tied to GND in an A plug (two texts on leads for two roles; USB
/// 2.0 supplement, OTG in the maps).
#[test]
fn the_id_contact() {
    for (name, ground) in [("usb2-a-mini-b", "B.5"), ("usb2-a-micro-b", "B.5"), ("usb3-a-micro-b", "B.5")] {
        assert_conforms(&with(name, ""));
        let found = only(&with(name, &format!("B.4 {ground}")), Verdict::Fails);
        assert_eq!((found.code, found.points.contains(&"B.4".to_owned())), (Code::Unexpected, true), "{name}");
    }
    let name = "usb2-micro-a-micro-b";
    assert_conforms(&with(name, ""));
    let found = only(&with(name, "").replace("A.4 A.5", "A.5"), Verdict::Fails);
    assert_eq!((found.code, points(&found)), (Code::Open, set(&["A.4"])), "{}", found.message);
    assert!(found.why.contains("wrong role"), "{}", found.why);
    let found = only(&with(name, "A.4 B.4"), Verdict::Fails);
    assert_eq!((found.code, found.points.contains(&"B.4".to_owned())), (Code::Unexpected, true));
}

/// Contacts tied inside one plug: GND and VBUS of a type C plug (CZ), and the handshake of a null modem looped back in each
/// plug (S3d, S3f).
#[test]
fn ties_inside_a_plug() {
    for contact in ["A.A1", "A.A12", "A.B1", "A.B12", "A.A4", "A.A9", "A.B4", "A.B9"] {
        let mut model = sound("usb-c-a");
        model.lift(model.cable.point(contact).unwrap() as usize);
        let report = check(&model.netlist());
        let found: Vec<&Finding> =
            report.findings.iter().filter(|finding| finding.points.contains(&contact.to_owned())).collect();
        assert_eq!(found[0].code, Code::Open, "{contact}: {}", found[0].message);
        assert_eq!(report.verdict, Verdict::Fails);
    }
    let name = "rs232-null-modem-loopback";
    assert_conforms(&with(name, ""));
    for (tie, contacts) in [("A.7 A.8", vec!["A.7", "A.8"]), ("B.7 B.8", vec!["B.7", "B.8"])] {
        let found = only(&with(name, "").replace(tie, ""), Verdict::Fails);
        assert_eq!((found.code, points(&found)), (Code::Open, set(&contacts)), "{}", found.message);
        assert!(found.message.contains("inside plug"), "{}", found.message);
        assert!(found.remedy.contains("fit the link"), "{}", found.remedy);
    }
    for missing in ["A.1", "A.4", "A.6", "B.1", "B.4", "B.6"] {
        let mut model = sound(name);
        model.lift(model.cable.point(missing).unwrap() as usize);
        let found = only(&model.netlist(), Verdict::Fails);
        assert_eq!((found.code, points(&found)), (Code::Open, set(&[missing])), "{}", found.message);
    }
    // where the map leaves the loops free, a lead without them conforms, and one with them too
    assert_conforms(&with("rs232-null-modem", ""));
    assert_conforms(&with("rs232-null-modem", "A.7 A.8\nA.1 A.4 A.6\nB.7 B.8\nB.1 B.4 B.6"));
    // DCD on the wrong side of the plug
    let found = only(&with("rs232-null-modem-handshake", "A.1 A.7"), Verdict::Fails);
    assert_eq!(found.code, Code::Unexpected, "{}", found.message);
}

/// Terminators: 120 ohm is never inside a DMX512 lead (two lighting manuals, DX1 and DX1c); on CAN (CA3, CA4), PROFIBUS (PB1,
/// PB1h) and RS-485 (R5) it sits at the two ends of the bus, there also inside a plug, so that the place decides.
#[test]
fn terminators() {
    for (name, line, verdict, source) in [
        ("dmx512", "resistor A.2 A.3 120 ohm", Verdict::Fails, "DX1"),
        ("dmx512", "resistor B.3 B.2 110 ohm", Verdict::Fails, "DX1c"),
        ("can-de9", "resistor A.2 A.7 120 ohm", Verdict::Inconclusive, "CA3"),
        ("can-m12", "resistor B.4 B.5 120 ohm", Verdict::Inconclusive, "CA4"),
        ("profibus-de9", "resistor A.3 A.8 220 ohm", Verdict::Inconclusive, "PB1h"),
        ("profibus-de9", "resistor B.6 B.3 390 ohm", Verdict::Inconclusive, "PB1"),
        ("rs485-pair", "resistor A.A A.B 120 ohm", Verdict::Inconclusive, "R5"),
        ("rs232-straight", "resistor A.2 A.3 120 ohm", Verdict::Fails, "TIA"),
    ] {
        let found = only(&with(name, line), verdict);
        assert_eq!(found.code, Code::ComponentUnexpected, "{name}: {}", found.message);
        assert!(found.source.contains(source), "{name}: {}", found.source);
        assert_eq!(found.message.contains("end of the bus"), verdict == Verdict::Inconclusive, "{}", found.message);
    }
    // between other contacts it is no terminator
    assert_eq!(only(&with("can-de9", "resistor A.3 A.7 120 ohm"), Verdict::Fails).code, Code::ComponentUnexpected);
}

/// A capacitor in series passes no direct current (elementary; a sheet on passive SFP+ assemblies says that their data
/// contacts are AC coupled): a test that rings out the path can't tell whether it is whole.
#[test]
fn a_capacitor_in_series() {
    let lead = "cable netlists/cables/dome-clock.toml\nA.3 B.3\nA.shell B.shell\n";
    let (one, two) = ("capacitor A.1 B.1 100 nF\n", "capacitor A.2 B.2 96 nF\n");
    assert_conforms(&format!("{lead}{one}{two}"));
    for stated in ["", one] {
        let report = check(&format!("{lead}{stated}"));
        assert_eq!(report.verdict, Verdict::Inconclusive, "{stated}");
        let found = report.findings.iter().find(|finding| finding.points == ["A.2", "B.2"]).unwrap();
        assert_eq!((found.code, found.severity, found.undecided), (Code::ComponentMissing, Severity::Caution, true));
        assert!(found.message.contains("direct current") && found.remedy.contains("capacitance between A.2 and B.2"));
    }
    // and coverage doesn't claim to have seen it
    let coverage = |lines: &str| {
        let mut parts = Vec::new();
        let options = Options::default().with_coverage(true);
        check_text("x", lines, &options, |batch| {
            parts.extend(batch.reports.into_iter().filter_map(|report| report.coverage).map(|c| (c.parts, c.plan.parts)));
        });
        parts.remove(0)
    };
    assert_eq!(coverage(&format!("{lead}{one}")), (Share { shown: 1, of: 2 }, vec!["capacitor A.2 B.2 100 nF".to_owned()]));
    assert!(coverage(&format!("{lead}{one}{two}")).0.whole());
    // a drawing says everything that is to be built
    assert_eq!(check(&format!("source drawing\n{lead}{one}")).verdict, Verdict::Fails);
    let found = only(&format!("{lead}{one}capacitor A.2 B.2 10 nF\n"), Verdict::Fails);
    assert_eq!(found.code, Code::ComponentValue);
    let found = only(&format!("{lead}{one}{two}A.2 B.2\n"), Verdict::Fails);
    assert_eq!((found.code, points(&found)), (Code::Unexpected, set(&["A.2", "B.2"])));
    assert!(found.message.contains("capacitor") && found.message.contains("bridged"), "{}", found.message);
}

/// The same where the netlist states a capacitor in the way of a conductor: the part is a fault of this cable, but whether
/// the conductor is whole isn't known.
#[test]
fn an_open_behind_a_capacitor() {
    let cut = |lines: &str| with("displayport", lines).replace("A.1 B.12\n", "");
    let report = check(&cut("capacitor A.1 B.12 100 nF"));
    let open = report.findings.iter().find(|finding| finding.code == Code::Open).unwrap();
    assert_eq!((open.severity, open.undecided), (Severity::Caution, true), "{}", open.message);
    assert!(open.message.contains("direct current") && open.remedy.contains("capacitance"), "{}", open.message);
    assert_eq!(codes(&report.findings).len(), 2);
    assert!(
        report.findings.iter().any(|finding| finding.code == Code::ComponentUnexpected && finding.severity == Severity::Fail)
    );
    // a capacitor that doesn't lie in the way hides nothing
    let report = check(&cut("capacitor A.1 A.2 100 nF"));
    let open = report.findings.iter().find(|finding| finding.code == Code::Open).unwrap();
    assert_eq!((open.severity, open.undecided), (Severity::Fail, false), "{}", open.message);
    // both conductors of the pair, and only one of them behind a capacitor
    let pair = |lines: &str| cut(lines).replace("A.3 B.10\n", "");
    let report = check(&pair("capacitor A.1 B.12 100 nF\ncapacitor A.3 B.10 100 nF"));
    assert!(report.findings.iter().any(|finding| finding.code == Code::PairOpen && finding.undecided));
    let report = check(&pair("capacitor A.1 B.12 100 nF"));
    assert!(report.findings.iter().any(|finding| finding.code == Code::PairOpen && finding.severity == Severity::Fail));
}

/// A finding that rests on nothing but memory is a caution that says so; one that breaks a row with a source beside it, or is
/// dangerous, fails.
#[test]
fn rows_from_memory_alone() {
    let apart = |name: &str| with(name, "").replace("A.shell B.shell\n", "");
    let found = only(&apart("displayport"), Verdict::Inconclusive);
    assert_eq!((found.code, found.severity, found.undecided), (Code::ShieldOpen, Severity::Caution, true));
    assert!(found.message.contains("from memory") && found.remedy.starts_with("look up first"), "{found:?}");
    // braids of USB 2.0, USB 3 and VGA leads end on both shells: sources AX and CE, U3d and U3e, VG2 and DS
    for name in ["usb2-a-b", "usb2-a-micro-b", "usb2-a-mini-b", "usb3-a-b", "usb3-a-micro-b", "vga", "hdmi", "dvi-d"] {
        assert_eq!(only(&apart(name), Verdict::Fails).code, Code::ShieldOpen, "{name}");
    }
    let found = only(&with("displayport", "A.shell A.1"), Verdict::Fails);
    assert_eq!(found.code, Code::ShieldToSignal);
    let found = only(&with("displayport", "A.20 A.shell"), Verdict::Fails);
    assert!(found.hazard && found.code == Code::PowerShort);
    // a part: the bypass capacitor of a full-featured lead
    let found = only(&with("usb-c", "capacitor A.A4 A.A1 47 nF"), Verdict::Inconclusive);
    assert!(found.code == Code::ComponentValue && found.message.contains("from memory"), "{}", found.message);
    // contacts to be left alone, as if nothing had been found about the shells of audio plugs
    let text = cable("xlr3").file.text().replace("checked = [\"X1b\", \"X1c\"]", "checked = [], from-memory = true");
    let text = text.replace("name = \"xlr3\"", "name = \"shells-from-memory\"");
    let path = format!("{}/shells-from-memory.toml", env!("CARGO_TARGET_TMPDIR"));
    std::fs::write(&path, text).unwrap();
    let lead = format!("cable {path}\nA.1 B.1\nA.2 B.2\nA.3 B.3\n");
    let found = only(&format!("{lead}A.shell B.shell\n"), Verdict::Inconclusive);
    assert!(found.code == Code::Unexpected && found.message.contains("from memory"), "{}", found.message);
    assert_eq!(only(&format!("{lead}A.shell A.1\n"), Verdict::Fails).code, Code::Unexpected);
    // a limit from memory: 3 % or 0.2 ohm between the conductors of a pair
    let lines = with("ethernet-t568b", "").replace("A.1 B.1\n", "A.1 B.1 1.2 ohm\n").replace("A.2 B.2\n", "A.2 B.2 0.6 ohm\n");
    let report = check(&lines);
    let found = report.findings.iter().find(|finding| finding.code == Code::ResistanceUnbalance).unwrap();
    assert_eq!((found.severity, found.undecided), (Severity::Caution, true), "{}", found.message);
}

/// Which rows of the catalogue have no source yet. A row that joins this list needs a reason; one that leaves it, a source.
#[test]
fn what_has_no_source_yet() {
    let mut rows = BTreeSet::new();
    for name in cable_names() {
        let cable = cable(name);
        let alone = |row: &Provenance| row.from_memory && row.checked.is_empty();
        let of = |cable: &Cable, what: String| format!("{} {what}", cable.name);
        rows.extend(cable.links.iter().filter(|l| alone(&l.provenance)).map(|l| of(&cable, l.signal.clone())));
        rows.extend(
            cable.unconnected.iter().filter(|u| alone(&u.provenance)).map(|u| of(&cable, cable.text(u.point).to_owned())),
        );
        rows.extend(cable.parts.iter().filter(|p| alone(&p.provenance)).map(|p| of(&cable, p.kind.word().to_owned())));
        rows.extend(cable.excluded.iter().filter(|p| alone(&p.provenance)).map(|p| of(&cable, format!("no {}", p.kind.word()))));
        rows.extend(cable.limits.iter().filter(|l| alone(&l.provenance)).map(|l| of(&cable, format!("{:?}", l.of))));
        // a supply that no source knows would be a hazard that no source knows
        let supplies = cable.links.iter().filter(|l| alone(&l.provenance) && cable.role(l.points[0]) == Role::Supply);
        assert_eq!(supplies.count(), 0, "{name}");
    }
    let expected = [
        "can-m12 shield",
        "displayport shield",
        "displayport-mini GND",
        "displayport-mini shield",
        "displayport-mini-mini GND",
        "displayport-mini-mini shield",
        "ethernet-crossover Unbalance",
        "ethernet-gigabit-crossover Unbalance",
        "ethernet-t568a Unbalance",
        "ethernet-t568b Unbalance",
        "m12-d-ethernet Unbalance",
        "m12-x-ethernet Unbalance",
        "rs485-pair shield",
        "usb-c capacitor",
    ];
    assert_eq!(rows, set(&expected));
}
