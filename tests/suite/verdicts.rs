//! Verdicts that need more than a single fault: what would make a wrong cable conform, tried one by one.

use backshell::finding::{Severity, Verdict};
use backshell::verify::{Options, check_text};

use crate::injection::{Build, Model, assert_conforms, cable, check, codes};

const XLR: &str = "cable xlr3\nA.1 B.1\nA.2 B.2\nA.3 B.3\n";

#[test]
fn a_point_that_is_not_named_is_open() {
    let report = check("cable xlr3\nA.1 B.1\nA.2 B.2\n");
    assert_eq!(codes(&report.findings), ["open"]);
    assert_eq!(report.verdict, Verdict::Fails);
}

#[test]
fn what_was_not_probed_is_never_a_pass() {
    let report = check("cable xlr3\nscope listed\nA.1 B.1\nA.2 B.2\nA.3 B.3\n");
    assert_eq!(codes(&report.findings), ["coverage.blind"]);
    assert_eq!(report.verdict, Verdict::Inconclusive);
    // a fault among the probed points is a fault all the same
    let report = check("cable xlr3\nscope listed\nA.2 B.3\nA.3 B.2\n");
    assert_eq!(codes(&report.findings), ["pair.reversed", "coverage.blind"]);
    assert_eq!(report.verdict, Verdict::Fails);
    // a contact whose partner wasn't probed is no contact that must be left alone
    let report = check("cable xlr3\nscope listed\nA.1 B.1\nA.2 B.3\n");
    assert_eq!(codes(&report.findings), ["short", "coverage.blind"]);
    // half a conductor probed says nothing about the conductor
    let report = check("cable xlr3\nscope listed\nopen A.2\n");
    assert_eq!(report.verdict, Verdict::Inconclusive);
    let whole = format!("{}scope listed\nopen A.shell B.shell\n", XLR);
    assert_eq!(check(&whole).verdict, Verdict::Conforms);
}

#[test]
fn a_part_that_was_not_measured_is_never_a_pass() {
    let sound = Model::sound(&cable("usb-c-a"), Build::Plain).netlist();
    assert_conforms(&sound);
    let bare: String = sound.lines().filter(|line| !line.starts_with("resistor")).map(|line| format!("{line}\n")).collect();
    let report = check(&bare);
    assert_eq!((report.verdict, codes(&report.findings).as_slice()), (Verdict::Inconclusive, ["component.missing"].as_slice()));
    assert_eq!(report.findings[0].severity, Severity::Caution);
    // a drawing says everything that is to be built
    let report = check(&format!("source drawing\n{bare}"));
    assert_eq!(report.verdict, Verdict::Fails);
}

/// The values that CC resistors are mistaken for: USB Type-C specification, section 4.11 (from memory): 56, 22 and 10 kohm
/// stand for the default, 1.5 A and 3 A; only 56 kohm may sit in a cable with a Standard-A plug.
#[test]
fn the_resistor_in_a_type_c_plug() {
    let sound = Model::sound(&cable("usb-c-a"), Build::Plain).netlist();
    let with = |value: &str| -> String {
        sound
            .lines()
            .map(|line| if line.starts_with("resistor") { format!("resistor A.A5 A.A4 {value}\n") } else { format!("{line}\n") })
            .collect()
    };
    for good in ["56 kohm", "53.2 kohm", "58.8 kohm", "55.9 kohm +/- 1%"] {
        assert_conforms(&with(good));
    }
    for bad in ["10 kohm", "22 kohm", "5.1 kohm", "53.1 kohm", "58.9 kohm", ">200 kohm"] {
        assert_eq!(codes(&check(&with(bad)).findings), ["component.value"], "{bad}");
        assert_eq!(check(&with(bad)).verdict, Verdict::Fails, "{bad}");
    }
    // a measurement whose own uncertainty reaches over the edge can't tell
    assert_eq!(check(&with("58.5 kohm +/- 1%")).verdict, Verdict::Inconclusive);
    // either contact of the tied VBUS group is the same net
    assert_conforms(&sound.replace("A.A4 56", "A.B9 56"));
}

#[test]
fn a_contradiction_is_never_a_verdict() {
    for text in [
        "cable xlr3\nA.1 B.1\nA.2 B.2\nA.3 B.3\nopen A.3\n",
        "cable xlr3\nA.1 B.1 0.1 ohm\nB.1 A.1 0.2 ohm\nA.2 B.2\nA.3 B.3\n",
        "cable xlr3\nA.1 B.1\nA.2 B.2\nA.3 B.3\nA.4 B.4\n",
        "cable xlr3\nunit a\nA.1 B.1\nA.2 B.2\nA.3 B.3\nunit a\nA.1 B.1\nA.2 B.2\nA.3 B.3\n",
        "cable xlr3\nA.1 B.1\nA.2 B.2\nA.3 B.3\nnonsense\n",
        "A.1 B.1\nA.2 B.2\nA.3 B.3\n",
        "cable xlr3\n",
        "",
    ] {
        let outcome = check_text("x", text, &Options::default(), |batch| assert!(batch.reports.is_empty(), "{text}"));
        assert_eq!(outcome.status(), 2, "{text}");
    }
    // the same figure twice is no contradiction
    assert_conforms("cable xlr3\nA.1 B.1 0.1 ohm\nB.1 A.1 100 mohm\nA.2 B.2\nA.3 B.3\n");
}

#[test]
fn dangerous_faults_come_first_and_say_so() {
    let mut model = Model::sound(&cable("usb2-a-b"), Build::Plain);
    let at = |text: &str| model.cable.point(text).unwrap() as usize;
    let (data, vbus, ground) = ((at("A.2"), at("A.3")), at("A.1"), at("A.4"));
    model.exchange(&[data]);
    model.bridge(vbus, ground);
    let report = check(&model.netlist());
    assert_eq!(codes(&report.findings), ["power.short", "pair.reversed"]);
    assert!(report.findings[0].hazard && !report.findings[1].hazard);
    assert!(report.findings[0].message.contains("Do not connect"));
    let mut model = Model::sound(&cable("usb2-a-b"), Build::Plain);
    model.exchange(&[(vbus, ground)]);
    let report = check(&model.netlist());
    assert_eq!(codes(&report.findings), ["swapped"]);
    assert!(report.findings[0].hazard && report.findings[0].message.contains("Do not connect"));
}

#[test]
fn grounds_may_be_commoned_and_a_signal_may_not_join_them() {
    let mut model = Model::sound(&cable("displayport"), Build::Commoned);
    assert_conforms(&model.netlist());
    let at = |text: &str| model.cable.point(text).unwrap() as usize;
    let (lane, ground) = (at("A.1"), at("A.2"));
    model.bridge(lane, ground);
    assert_eq!(codes(&check(&model.netlist()).findings), ["short"]);
}

#[test]
fn the_ends_may_be_the_other_way_round() {
    // the tester's A sits on the full-size plug
    let sound = Model::sound(&cable("displayport-mini"), Build::Plain).netlist();
    let turned = sound.replace("A.", "\u{1}").replace("B.", "A.").replace('\u{1}', "B.");
    assert_eq!(check(&turned).verdict, Verdict::Fails);
    assert_conforms(&format!("end A full\n{turned}"));
    assert_conforms(&format!("end B mini\n{turned}"));
}

/// A screened type must have its screen; an unscreened one must not.
#[test]
fn the_type_says_whether_there_is_a_screen() {
    let plain = Model::sound(&cable("ethernet-t568b"), Build::Plain).netlist();
    let full = Model::sound(&cable("ethernet-t568b"), Build::Full).netlist();
    assert_conforms(&plain);
    assert_conforms(&full);
    assert_conforms(&format!("type U/UTP\n{plain}"));
    assert_conforms(&format!("type \"S/FTP cat 6A\"\n{full}"));
    let report = check(&format!("type S/FTP\n{plain}"));
    assert_eq!(codes(&report.findings), ["shield.open"]);
}

#[test]
fn two_faults_are_two_findings() {
    let report = check("cable ethernet-t568b\nA.1 B.2\nA.2 B.1\nA.3 B.3\nA.4 A.7 B.4 B.7\nA.5 B.5\nA.6 B.6\nA.8 B.8\n");
    assert_eq!(codes(&report.findings), ["pair.reversed", "short"]);
    // a lane lost and another bridged to its neighbour
    let report = check("cable ethernet-t568b\nA.1 B.1\nA.2 B.2\nA.3 A.4 B.3 B.4\nA.5 B.5\nA.6 B.6\nopen A.7 A.8 B.7 B.8\n");
    assert_eq!(codes(&report.findings), ["short", "pair.open"]);
}

/// A line that says one thing and measures another is never a pass.
#[test]
fn figures_that_speak_against_their_lines() {
    let with = |line: &str| check(&format!("cable xlr3\nA.1 B.1\nA.2 B.2\n{line}\n"));
    assert_eq!(with("A.3 B.3 0.3 ohm").verdict, Verdict::Conforms);
    assert_eq!(with("A.3 B.3 <1 ohm").verdict, Verdict::Conforms);
    assert_eq!(with("A.3 B.3 17 ohm").verdict, Verdict::Inconclusive);
    assert_eq!(with("A.3 B.3 <2 Mohm").verdict, Verdict::Inconclusive);
    assert_eq!(with("A.3 B.3 5 Mohm").verdict, Verdict::Fails);
    assert_eq!(with("A.3 B.3\nisolation A.1 A.2 2 ohm").verdict, Verdict::Fails);
    assert_eq!(with("A.3 B.3\nisolation A.1 A.2 >2 ohm").verdict, Verdict::Inconclusive);
    assert_eq!(with("A.3 B.3\nisolation A.1 A.2 <1 Gohm").verdict, Verdict::Inconclusive);
    assert_eq!(with("A.3 B.3\nisolation A.1 A.2 >500 Mohm").verdict, Verdict::Conforms);
}

/// `pair` lines that contradict each other, or put a screen on the wrong contact, are never a pass.
#[test]
fn pair_lines_that_cannot_be_right() {
    let sound = Model::sound(&cable("hdmi"), Build::Plain).netlist();
    let text = format!("{sound}pair A.1 A.4\npair A.1 A.3\npair A.4 A.6\n");
    let outcome = check_text("x", &text, &Options::default(), |batch| assert!(batch.reports.is_empty()));
    assert_eq!(outcome.status(), 2);
    assert_conforms(&format!("{sound}pair A.1 A.3 screen A.2\npair A.1 A.3 screen A.2\n"));
    assert_eq!(codes(&check(&format!("{sound}pair A.1 A.3 screen A.5\n")).findings), ["shield.drain-open"]);
    assert_eq!(codes(&check(&format!("{sound}pair A.1 A.3 screen A.4\n")).findings), ["shield.to-signal"]);
    let display = Model::sound(&cable("displayport"), Build::Plain).netlist();
    assert_conforms(&format!("{display}pair A.1 A.3 screen A.2\n"));
    assert_eq!(codes(&check(&format!("{display}pair A.1 A.3 screen A.13\n")).findings), ["shield.to-signal"]);
}

/// Evidence that is no evidence, tried one by one: each of these once conformed.
#[test]
fn what_looks_like_evidence_and_is_none() {
    let verdict = |text: &str| check(text).verdict;
    // what an over-range meter prints says nothing of how much more there is; nor does a figure that could be anything
    for figure in [">1 ohm", "1 ohm +/- 500%", "1.99 ohm +/- 1 ohm"] {
        assert_eq!(verdict(&XLR.replace("A.3 B.3", &format!("A.3 B.3 {figure}"))), Verdict::Inconclusive, "{figure}");
    }
    assert_conforms(&XLR.replace("A.3 B.3", "A.3 B.3 0.9 ohm +/- 10%"));
    // a loop inside a plug isn't judged by the length of the cable
    let modem = "cable rs232-null-modem\nlength 100 m\ngauge 28 AWG\nA.2 B.3 21.4 ohm\nA.3 B.2 21.5 ohm\nA.5 B.5 21.4 ohm\n";
    assert_conforms(modem);
    assert_ne!(verdict(&format!("{modem}A.7 A.8 9 ohm\n")), Verdict::Conforms);
    // with only listed points probed, a line that isn't a probe probes nothing
    let listed = "cable xlr3\nscope listed\nA.1 B.1\nA.2 B.2\nA.3 B.3\n";
    for line in [
        "capacitance A.shell 5 pF\ncapacitance B.shell 5 pF",
        "pair A.shell A.1\npair B.shell B.1",
        "isolation A.shell B.shell >1 Gohm",
    ] {
        assert_eq!(verdict(&format!("{listed}{line}\n")), Verdict::Inconclusive, "{line}");
    }
    // a file of traces that nothing reads says nothing of the impedance
    let display = Model::sound(&cable("displayport"), Build::Plain).netlist();
    let report = check(&format!("{display}sparameters A.1 A.3 B.12 B.10 nofile.s4p\n"));
    assert!(report.not_shown.words().any(|word| word == "impedance"));
    // half a pair
    let half = "cable dmx512\nA.1 B.1\nA.2 B.2\nA.3 B.3\nA.4 B.4\nopen A.5 B.5\n";
    assert_eq!(codes(&check(half).findings), ["open"]);
}

/// ISO/IEC 11801-1 (from memory) writes `S/FTP`; people write it in other ways.
#[test]
fn a_screened_type_in_any_spelling() {
    let open_shells = "cable ethernet-t568b\nA.1 B.1\nA.2 B.2\nA.3 B.3\nA.4 B.4\nA.5 B.5\nA.6 B.6\nA.7 B.7\nA.8 B.8\n";
    for kind in
        ["S/FTP", "s/ftp", "SFTP", "FTP", "STP", "\"screened S-FTP\"", "Cat.6/S/FTP", "S/FTP/LSZH", "\"F / UTP\"", "SF/UTP"]
    {
        let report = check(&format!("type {kind}\n{open_shells}"));
        assert_eq!(codes(&report.findings), ["shield.open"], "{kind}");
    }
    for kind in ["U/UTP", "UTP", "u/ftp", "QL-28"] {
        assert_conforms(&format!("type {kind}\n{open_shells}"));
    }
}

/// Header figures that would silently switch the checks off are errors.
#[test]
fn header_figures_that_cannot_be() {
    for line in [
        "temperature 300 C",
        "temperature 293 C",
        "length <2 m",
        "gauge >28 AWG",
        "gauge 57 AWG",
        "length 2 m +/- 1000%",
        "length 2 m +/- 3 m",
    ] {
        let outcome = check_text("x", &format!("{line}\n{XLR}"), &Options::default(), |_| {});
        assert_eq!(outcome.status(), 2, "{line}");
    }
}

/// A map that is a pipe or a device would never end.
#[cfg(unix)]
#[test]
fn a_map_is_an_ordinary_file() {
    let mut problems = Vec::new();
    let outcome = check_text("x", "cable /dev/zero\nA.1 B.1\n", &Options::default(), |batch| problems.extend(batch.problems));
    assert_eq!(outcome.status(), 2);
    assert!(problems[0].message.contains("is no ordinary file"), "{problems:?}");
}

/// Insulation that was written as a join is a slip of the pen, not a shorted supply.
#[test]
fn a_join_with_the_resistance_of_insulation() {
    let mut problems = Vec::new();
    let text = "cable usb2-a-b\nA.1 B.1\nA.2 B.2\nA.3 B.3\nA.4 B.4\nA.shell B.shell\nA.1 A.4 >20 Mohm\n";
    let outcome = check_text("x", text, &Options::default(), |batch| problems.extend(batch.problems));
    assert_eq!(outcome.status(), 2);
    assert!(problems[0].help.as_deref().unwrap().contains("`isolation A.1 A.4 >20 Mohm`"), "{problems:?}");
}
