//! Properties: any bytes, any netlist, any order.

use std::collections::BTreeSet;

use backshell::finding::Verdict;
use backshell::netlist::{self, Netlist};
use backshell::text::Source;
use backshell::verify::{Options, check_text};
use proptest::prelude::*;

use crate::injection::{Build, Model, cable};

/// Every fact of a netlist, with its words but without its places.
fn facts(netlist: &Netlist) -> Vec<String> {
    netlist::print(netlist).lines().map(str::to_owned).collect()
}

/// A line of the language, or something like it.
pub fn line() -> impl Strategy<Value = String> {
    let point = "[A-C]\\.(1?[0-9]|shell|[a-z+_-]{1,9})";
    let figure = "([<>] ?)?[0-9]{1,3}(\\.[0-9]{0,3})?(e-?[0-9])? ?(ohm|mohm|kohm|Mohm|pF|nF|m|ft|AWG|C|%|parsec)( ?\\+/- ?[0-9]{1,2}( ?%| ohm))?";
    prop_oneof![
        4 => (point, point).prop_map(|(a, b)| format!("{a} {b}")),
        4 => (point, point, figure).prop_map(|(a, b, f)| format!("{a} {b} {f}")),
        2 => proptest::collection::vec(point, 1..5).prop_map(|points| points.join("  ")),
        2 => proptest::collection::vec(point, 1..4).prop_map(|points| format!("open {}", points.join(" "))),
        1 => (point, point).prop_map(|(a, b)| format!("apart {a} {b}")),
        1 => (point, point, figure).prop_map(|(a, b, f)| format!("isolation {a} {b} {f}")),
        1 => (point, point, figure).prop_map(|(a, b, f)| format!("resistor {a} {b} {f} # in the plug")),
        1 => (point, point, point).prop_map(|(a, b, c)| format!("pair {a} {b} screen {c}")),
        1 => (point, point, "[a-z #]{0,6}").prop_map(|(a, b, label)| format!("conductor \"{label}\" {a} {b}")),
        1 => (point, figure).prop_map(|(a, f)| format!("capacitance {a} {f}")),
        1 => "(unit|lot|supplier|cable|rated) [A-Za-z0-9µ-]{1,8}",
        1 => "scope (all|listed|stated)",
        1 => "(length|gauge|temperature|uncertainty) [0-9]{1,2}(\\.5)? (m|AWG|C|ohm|%)",
        1 => "\\PC{0,30}",
    ]
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 400, failure_persistence: None, ..ProptestConfig::default() })]

    /// No bytes make it panic, and every span lies inside the source.
    #[test]
    fn any_bytes(bytes in proptest::collection::vec(any::<u8>(), 0..400)) {
        let text = String::from_utf8_lossy(&bytes);
        inspect(&text);
    }

    #[test]
    fn any_lines(lines in proptest::collection::vec(line(), 0..40)) {
        inspect(&lines.join("\n"));
    }

    /// Printing what was read and reading it again gives the same facts.
    #[test]
    fn round_trip(lines in proptest::collection::vec(line(), 0..40)) {
        let read = netlist::parse(&Source::new("x", lines.join("\n")));
        // what belongs to no unit is a problem and has no place in the canonical form
        prop_assume!(!read.problems.iter().any(|problem| problem.message.contains("belongs to no unit")));
        let printed = netlist::print(&read);
        let again = netlist::parse(&Source::new("x", printed.clone()));
        let broken_unit_lines = read.units.iter().any(|unit| unit.name.is_none()) && read.units.len() > 1;
        prop_assume!(!broken_unit_lines);
        prop_assert_eq!(again.problems.len(), 0, "{}", printed);
        prop_assert_eq!(facts(&read), facts(&again));
        let values = |netlist: &Netlist| netlist.figures.iter().map(|figure| figure.quantity).collect::<Vec<_>>();
        prop_assert_eq!(values(&read), values(&again));
    }

    /// The order of the lines, and of the points in a line, changes no verdict.
    #[test]
    fn order_says_nothing(fault in 0_usize..6, seed in any::<u64>()) {
        let mut model = Model::sound(&cable("displayport"), Build::Full);
        inject(&mut model, fault, seed);
        let netlist = model.netlist();
        let mut lines: Vec<String> = netlist.lines().skip(1).map(str::to_owned).collect();
        let mut state = seed | 1;
        let mut random = |n: usize| {
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            usize::try_from(state >> 33).unwrap() % n.max(1)
        };
        for line in &mut lines {
            let mut words: Vec<&str> = line.split(' ').collect();
            let first = usize::from(words[0] == "open");
            for at in (first + 1..words.len()).rev() {
                words.swap(at, first + random(at - first + 1));
            }
            *line = words.join(" ");
        }
        for at in (1..lines.len()).rev() {
            lines.swap(at, random(at + 1));
        }
        let shuffled = format!("cable displayport\n{}\n", lines.join("\n"));
        prop_assert_eq!(said(&netlist), said(&shuffled));
    }

    /// A symmetrical cable read from its other end has the same verdict, with the ends exchanged.
    #[test]
    fn ends_of_a_symmetrical_cable(fault in 0_usize..6, seed in any::<u64>(), which in 0_usize..4) {
        let name = ["displayport", "ethernet-t568b", "hdmi", "rs232-straight"][which];
        let mut model = Model::sound(&cable(name), Build::Full);
        inject(&mut model, fault, seed);
        let netlist = model.netlist();
        let turn = |text: &str| text.replace("A.", "\u{1}").replace("B.", "A.").replace('\u{1}', "B.");
        let turned = turn(&netlist);
        let (verdict, findings) = said(&netlist);
        let (verdict_turned, findings_turned) = said(&turned);
        prop_assert_eq!(verdict, verdict_turned);
        let codes = |findings: &BTreeSet<(String, Vec<String>)>| findings.iter().map(|(code, _)| code.clone()).collect::<Vec<_>>();
        prop_assert_eq!(codes(&findings), codes(&findings_turned));
    }

    /// A verdict doesn't depend on what the ends are called.
    #[test]
    fn names_of_the_ends(fault in 0_usize..6, seed in any::<u64>()) {
        let mut model = Model::sound(&cable("displayport-mini"), Build::Full);
        inject(&mut model, fault, seed);
        let netlist = model.netlist();
        let renamed = netlist.replace("A.", "X12.").replace("B.", "P-1.").replace("mini\n", "mini\nend P-1 full\nend X12 mini\n");
        let (verdict, findings) = said(&netlist);
        let (verdict_renamed, findings_renamed) = said(&renamed);
        prop_assert_eq!(verdict, verdict_renamed);
        prop_assert_eq!(findings.len(), findings_renamed.len());
    }
}

/// Puts one of six kinds of fault at a place that the seed picks; the first is none.
fn inject(model: &mut Model, fault: usize, seed: u64) {
    let through = model.through();
    let pick = |shift: u32| through[usize::try_from(seed >> shift & 0xffff).unwrap() % through.len()];
    let (one, two) = (pick(0), pick(16));
    match fault {
        1 => model.cut(one),
        2 => model.bridge(model.wires[one].contacts[0], model.wires[two].contacts[0]),
        3 => {
            let (a, b) = (model.at_end(one, 1)[0], model.at_end(two, 1)[0]);
            model.exchange(&[(a, b)]);
        }
        4 => {
            model.cut(one);
            model.bridge(model.wires[one].contacts[0], model.wires[two].contacts[0]);
        }
        5 => model.lift(model.wires[one].contacts[0]),
        _ => {}
    }
}

fn said(netlist: &str) -> (Verdict, BTreeSet<(String, Vec<String>)>) {
    let report = crate::injection::check(netlist);
    let findings = report.findings.iter().map(|finding| {
        let mut points = finding.points.clone();
        points.sort();
        (finding.code.text().to_owned(), points)
    });
    (report.verdict, findings.collect())
}

/// Checks a text whole, draws it, and looks at every span on the way.
fn inspect(text: &str) {
    let read = netlist::parse(&Source::new("x", text));
    let inside = |span: backshell::text::Span| {
        assert!(span.end() as usize <= text.len(), "{span:?} in {text:?}");
        assert!(text.get(span.range()).is_some(), "{span:?} cuts a character of {text:?}");
    };
    read.facts.iter().for_each(|fact| inside(fact.span));
    read.points.iter().for_each(|point| inside(point.span));
    read.figures.iter().for_each(|figure| inside(figure.span));
    read.units.iter().for_each(|unit| inside(unit.line));
    for cable in [None, Some("displayport"), Some("xlr3")] {
        let mut options = Options::default().with_coverage(true);
        options.cable = cable.map(str::to_owned);
        let mut out = Vec::new();
        {
            use backshell::report::{JsonReport, Terminal, Writer};
            let mut people = Terminal::new(std::io::sink(), false);
            let mut programs = JsonReport::new(&mut out).unwrap();
            let outcome = check_text("x", text, &options, |batch| {
                for label in batch.problems.iter().flat_map(|problem| &problem.labels) {
                    assert!(label.source.text().get(label.span.range()).is_some());
                }
                for label in batch.reports.iter().flat_map(|report| &report.findings).flat_map(|finding| &finding.labels) {
                    assert!(label.source.text().get(label.span.range()).is_some());
                }
                people.batch("x", &batch).unwrap();
                programs.batch("x", &batch).unwrap();
            });
            people.finish(&outcome).unwrap();
            programs.finish(&outcome).unwrap();
        }
        serde_json::from_slice::<serde_json::Value>(&out).unwrap();
    }
}
