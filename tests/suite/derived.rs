//! `backshell maps --new`: what a sample gives reads back, and the sample conforms to it.

use std::process::Command;
use std::sync::Arc;

use backshell::finding::{Problem, Verdict};
use backshell::pinmap::{Cable, Catalogue, cable_names, sound_netlist};
use backshell::report::derived_map;
use backshell::text::Source;
use backshell::verify::{Derived, Options, derive_text};
use proptest::prelude::*;

use crate::injection::{cable, codes};
use crate::scratch::Scratch;

fn read(derived: &Derived) -> (String, Result<Cable, Vec<Problem>>) {
    let text = derived_map(derived);
    let source = Source::new(format!("{}.toml", derived.name), text.clone());
    let mut catalogue = Catalogue::new();
    let cable = Cable::read(&source, &mut |name| match derived.known_connector(name) {
        Some(known) => Ok(Arc::clone(known)),
        None => catalogue.connector(name, None),
    });
    (text, cable)
}

/// Derives a map, reads it back, and checks the sample against it.
fn derive_and_check(netlist: &str) -> (String, Cable) {
    let derived = derive_text("sample.netlist", netlist, None, None, &Options::default());
    let derived = derived.unwrap_or_else(|problems| panic!("{netlist}\n{problems:?}"));
    let (text, read) = read(&derived);
    let cable = read.unwrap_or_else(|problems| panic!("{netlist}\n{text}\n{problems:?}"));
    let report = derived.check(&Arc::new(cable.clone())).unwrap_or_else(|problems| panic!("{netlist}\n{text}\n{problems:?}"));
    assert_eq!(report.verdict, Verdict::Conforms, "{netlist}\n{text}\n{:?}", codes(&report.findings));
    (text, cable)
}

/// With the connectors of the cable, and with connectors that only the sample knows, of every cable of the catalogue.
#[test]
fn every_sound_sample_conforms_to_its_own_map() {
    for name in cable_names() {
        let known = cable(name);
        for optional in [false, true] {
            let sample = sound_netlist(&known, optional);
            let (text, derived) = derive_and_check(&sample);
            assert_eq!(derived.points.len(), known.points.len(), "{name}");
            let connectors = |cable: &Cable| cable.ends.iter().map(|end| end.connector.name.clone()).collect::<Vec<_>>();
            assert_eq!(connectors(&derived), connectors(&known), "{name}");
            for (number, point) in (0..).zip(&known.points) {
                let own = derived.point(&point.text).unwrap();
                assert_eq!(derived.function(own), known.function(number), "{name} {}: what the contact is", point.text);
            }
            assert!(
                text.lines()
                    .filter(|line| line.contains("from-memory"))
                    .all(|line| line.contains("TODO") || line.starts_with('#'))
            );

            let bare = sample.replacen(&format!("cable {name}\n"), "", 1);
            let (_, derived) = derive_and_check(&bare);
            assert_eq!(derived.name, "my-cable");
            assert_eq!(derived.points.len(), known.points.len(), "{name}: every contact is named in a sound sample");
            // what must be joined there is what is joined in the sample, no more and no less
            let nets = sample.lines().filter(|line| line.contains('#') && !line.starts_with("open")).count();
            assert!(derived.links.len() <= nets && !derived.links.is_empty(), "{name}");
        }
    }
}

/// A wire moved, a wire lost and a wire too many in another unit fail against the derived map.
#[test]
fn another_unit_fails_against_it() {
    let (_, cable) = derive_and_check("A.1 B.1\nA.2 B.2\nA.3 B.3 0.4 ohm\nopen A.4 B.4\n");
    let options = Options::default().with_cable("my-cable").with_known(Arc::new(cable));
    for (netlist, verdict) in [
        ("A.1 B.1\nA.2 B.2\nA.3 B.3\n", Verdict::Conforms),
        // every row is from memory until somebody looked at it, so what breaks it is a question
        ("A.1 B.2\nA.2 B.1\nA.3 B.3\n", Verdict::Inconclusive),
        ("A.1 B.1\nA.2 B.2\n", Verdict::Inconclusive),
        ("A.1 B.1\nA.2 B.2\nA.3 B.3\nA.4 B.4\n", Verdict::Inconclusive),
    ] {
        backshell::verify::check_text("unit", netlist, &options, |batch| {
            assert_eq!(batch.reports[0].verdict, verdict, "{netlist}")
        });
    }
}

#[test]
fn the_file_for_review() {
    let sample = "source drawing\nconnector X1 \"dome terminal, 5 contacts\"\nconnector X2 xlr-3\nend X1 cabinet\nlength 2 m\n\
                  X1.1 X1.2 X2.1 0.21 ohm\nX1.1 X2.1\nconductor brown X1.3 X2.2\nX1.4 X2.3\npair X1.3 X1.4 screen X1.shell\n\
                  open X1.5\nresistor X1.3 X1.4 4.712 kohm\ndiode X1.4 X1.5\n";
    let sample = sample.replace("X1.1 X1.2 X2.1 0.21 ohm\n", "X1.1 X1.2 0.21 ohm\n").replace("source drawing\n", "");
    let (text, _) = derive_and_check(&sample);
    insta::assert_snapshot!("dome", text);
}

/// What can't become a cable is refused, and says why.
/// A part may be off by what the sample says of it, in percent or in ohm, and a little more for the digits that are written.
#[test]
fn parts_keep_the_tolerance_of_the_sample() {
    let sample =
        "A.1 B.1\nA.2 B.2\nresistor A.1 A.3 1 kohm +/- 200 ohm\nresistor A.2 A.4 56 kohm +/- 7%\nresistor A.3 A.4 100 kohm\n";
    let derived = derive_text("sample.netlist", sample, None, None, &Options::default()).unwrap();
    assert_eq!(derived.parts.iter().map(|part| part.percent).collect::<Vec<_>>(), [21.0, 8.0, 5.0]);
}

/// R7-0005 has its supply wired through: no map makes that a requirement. And nobody is certified against a map that nobody checked.
#[test]
fn no_map_of_a_dangerous_sample_and_no_certificate_by_an_unreviewed_one() {
    let scratch = Scratch::new("derived");
    let run = |words: &[&str]| {
        let out = Command::new(env!("CARGO_BIN_EXE_backshell")).args(words).output().unwrap();
        (out.status.code(), String::from_utf8_lossy(&out.stderr).into_owned())
    };
    let (bad, good) = (scratch.path("bad.toml"), scratch.path("good.toml"));
    let (bad, good) = (bad.to_str().unwrap(), good.to_str().unwrap());
    let (status, said) = run(&["maps", "--new", "netlists/reel7.netlist", "--unit", "R7-0005", "-o", bad]);
    assert_eq!(status, Some(1));
    assert!(said.contains("power.end-to-end") && said.contains("no map is made of it"), "{said}");
    assert!(!std::path::Path::new(bad).exists());

    let (status, said) = run(&["maps", "--new", "netlists/reel7.netlist", "--unit", "R7-0001", "-o", good]);
    assert_eq!((status, said.as_str()), (Some(0), ""));
    let unit = scratch.file("unit.netlist", "cable good.toml\nA.1 B.12\n");
    let page = scratch.path("page.html");
    let (status, said) = run(&["report", unit.to_str().unwrap(), "--face", "certificate", "-o", page.to_str().unwrap()]);
    assert_eq!(status, Some(1));
    assert!(said.contains("every row of the map `good` is from memory"), "{said}");
}

/// Every cable of the catalogue has a row that was checked against something published, so that a certificate can be given for it.
#[test]
fn every_catalogue_cable_can_be_certified() {
    for name in cable_names() {
        assert!(cable(name).links.iter().any(|row| !row.provenance.is_from_memory_alone()), "{name}");
    }
}

/// Contacts 1 and 12 of a DisplayPort plug change their names between source and sink (VESA DisplayPort Standard): a row is called as at
/// its first contact, A being taken for the source.
#[test]
fn rows_are_called_as_at_their_first_contact() {
    let sample = "connector A displayport\nconnector B displayport\nA.1 B.12\nA.12 B.1\nB.4 B.5\n";
    let derived = derive_text("sample.netlist", sample, None, None, &Options::default()).unwrap();
    let (text, _) = read(&derived);
    for row in [
        r#"signal = "ML0+", points = ["A.1", "B.12"]"#,
        r#"signal = "ML3-", points = ["A.12", "B.1"]"#,
        r#"signal = "ML2-", points = ["B.4", "B.5"]"#,
    ] {
        assert!(text.contains(row), "{row}\n{text}");
    }
}

#[test]
fn what_is_refused() {
    for (netlist, says) in [
        ("A.1 A.2\n", "two ends or more"),
        ("A.1 B.1\nopen A.1\n", "said to be open"),
        ("A.1 B.1\napart A.1 B.1\n", "said to be apart"),
        ("unit a\nA.1 B.1\nunit b\nA.1 B.1\n", "`--unit NAME`"),
        ("cable xlr3\nA.1 B.9\n", "no such contact: B.9"),
        ("cable xlr3\nA.1 C.1\n", "no such contact: C.1"),
        ("connector A xlr-3\nA.9 B.1\n", "no such contact: A.9"),
        ("A.1 B.\n", ""),
        ("", "no unit and no fact"),
        ("cable ethernet\u{1a}\nA.1 B.1\n", "no cable can be called `ethernet\\u{1a}`"),
        ("cable \"dome lead\"\nA.1 B.1\n", "no cable can be called `dome lead`"),
    ] {
        let problems = derive_text("sample", netlist, None, None, &Options::default()).err().unwrap();
        assert!(problems.iter().any(|problem| problem.message.contains(says)), "{netlist}: {problems:?}");
    }
    let taken = derive_text("sample", "A.1 B.1\n", None, Some("xlr3"), &Options::default()).err().unwrap();
    assert!(taken[0].message.contains("the catalogue has a cable `xlr3` already"));
}

/// A netlist of some ends: nets, parts, pairs, figures, and contacts that touch nothing.
fn netlists() -> impl Strategy<Value = String> {
    let contact = (0_usize..4, 0_usize..9).prop_map(|(end, pin)| {
        let pin = ["1", "2", "3", "A10", "05", "9", "22E1", "shell", "x-1"][pin];
        format!("{}.{pin}", ["A", "B", "X12", "d_1"][end])
    });
    let net = proptest::collection::vec(contact.clone(), 2..5);
    let nets = proptest::collection::vec((net, proptest::bool::ANY), 1..8);
    let parts = proptest::collection::vec((contact.clone(), contact.clone(), 0_usize..3, 1_u32..100_000), 0..3);
    let pairs = proptest::collection::vec((contact.clone(), contact), 0..3);
    (nets, parts, pairs).prop_map(|(nets, parts, pairs)| {
        let mut out = String::from("A.1 B.1\n");
        for (mut points, figure) in nets {
            points.sort();
            points.dedup();
            if let [a, b] = points.as_slice()
                && figure
            {
                out.push_str(&format!("{a} {b} 0.41 ohm\n"));
            } else if points.len() > 1 {
                out.push_str(&format!("{}\n", points.join(" ")));
            }
        }
        for (a, b, kind, value) in parts.into_iter().filter(|(a, b, ..)| a != b) {
            out.push_str(&match kind {
                0 => format!("resistor {a} {b} {value} ohm +/- 7%\n"),
                1 => format!("capacitor {a} {b} {value} pF\n"),
                _ => format!("diode {a} {b}\n"),
            });
        }
        let mut paired: Vec<String> = Vec::new();
        for (a, b) in pairs {
            let one_end = a.split_once('.').map(|(end, _)| end) == b.split_once('.').map(|(end, _)| end);
            if a != b && one_end && !paired.contains(&a) && !paired.contains(&b) {
                out.push_str(&format!("pair {a} {b}\n"));
                paired.extend([a, b]);
            }
        }
        out
    })
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 512, failure_persistence: None, ..ProptestConfig::default() })]

    /// Whatever the netlist says, what it gives reads back without an error, its rows are the nets of the netlist, and a
    /// netlist without pairs, parts and figures conforms to it.
    #[test]
    fn any_netlist_gives_a_map_that_reads_back(netlist in netlists()) {
        let derived = derive_text("sample", &netlist, None, None, &Options::default());
        prop_assume!(derived.is_ok());
        let derived = derived.unwrap();
        let (text, cable) = read(&derived);
        let cable = cable.unwrap_or_else(|problems| panic!("{netlist}\n{text}\n{problems:?}"));
        let report = derived.check(&Arc::new(cable)).unwrap();
        prop_assert_eq!(report.verdict, Verdict::Conforms, "{}\n{}\n{:?}", netlist, text, report.findings);
    }
}
