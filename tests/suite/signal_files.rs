//! The Touchstone files that a netlist names: at which contacts they were measured, and whether their figures agree.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use backshell::finding::Problem;
use backshell::graph::Nets;
use backshell::netlist::{self, Bound, Netlist, Point, PointLookup, bind};
use backshell::report::problem_text;
use backshell::signal::touchstone::{self, PortsFrom};
use backshell::signal::{Doubt, PortOrder};
use backshell::text::Source;
use backshell::verify::{SignalFile, SignalFiles};

/// The contacts of one pair, with a second one at the far end.
const POINTS: [&str; 6] = ["A.1", "A.3", "B.12", "B.10", "B.7", "C.1"];

struct Contacts;

impl PointLookup for Contacts {
    fn count(&self) -> usize {
        POINTS.len()
    }

    fn find(&self, point: &str) -> Option<u32> {
        POINTS.iter().position(|known| *known == point).and_then(|at| u32::try_from(at).ok())
    }

    fn explain(&self, source: &Arc<Source>, point: Point) -> Problem {
        Problem::new("no such point").at(source, point.span, "here")
    }
}

/// The files of a netlist that lies in `folder`, and the netlist; its joins are looked at.
fn files_in(folder: &Path, text: &str) -> (Netlist, SignalFiles) {
    let netlist = netlist::parse(&Source::new("pair.netlist", text));
    assert!(netlist.problems.is_empty(), "{:?}", netlist.problems);
    let unit = &netlist.units[0];
    let mut bound = Bound::default();
    assert!(bind(&netlist, unit, &Contacts, &mut bound).is_empty(), "{text}");
    let nets = Nets::new(POINTS.len(), bound.joins.iter().map(|join| (join.a, join.b)));
    let files = SignalFiles::of(&netlist, unit, folder, Some((&bound, &nets)));
    (netlist, files)
}

fn files(text: &str) -> (Netlist, SignalFiles) {
    files_in(Path::new("tests/signal"), text)
}

fn shown(netlist: &Netlist, file: &SignalFile) -> Vec<String> {
    file.points.iter().map(|point| point.text(&netlist.source).to_owned()).collect()
}

/// The one file of a netlist.
fn one(text: &str) -> (Vec<String>, SignalFile) {
    let (netlist, mut files) = files(text);
    let problems: String = files.problems.iter().map(|problem| problem_text(problem, false)).collect();
    assert!(files.problems.is_empty() && files.files.len() == 1, "{text}{problems}");
    let file = files.files.remove(0);
    (shown(&netlist, &file), file)
}

fn problems(text: &str) -> String {
    let (_, files) = files(text);
    assert!(files.files.is_empty(), "{text}: {:?}", files.files);
    files.problems.iter().map(|problem| problem_text(problem, false)).collect()
}

/// Port 1 of the file is at the first point of the line; the network comes near, near, far, far, each with its own far end.
#[test]
fn ports_go_to_their_points() {
    let raw = touchstone::read_file(Path::new("tests/signal/pair_a_uncoupled.s4p")).unwrap().network;
    // pair A is odd-even: through paths 1 to 2 and 3 to 4
    for (line, points, ports) in [
        ("A.1 B.12 A.3 B.10", ["A.1", "A.3", "B.12", "B.10"], [0, 2, 1, 3]),
        ("A.3 B.10 A.1 B.12", ["A.3", "A.1", "B.10", "B.12"], [0, 2, 1, 3]),
        ("A.1 B.12 B.10 A.3", ["A.1", "A.3", "B.12", "B.10"], [0, 3, 1, 2]),
        ("B.12 A.1 A.3 B.10", ["B.12", "B.10", "A.1", "A.3"], [0, 3, 1, 2]),
    ] {
        for joins in ["", "A.1 B.12\n", "A.3 B.10 0.4 ohm\n", "A.1 B.12\nA.3 B.10\n"] {
            let (found, file) = one(&format!("{joins}sparameters {line} pair_a_uncoupled.s4p\n"));
            assert_eq!((found.as_slice(), file.ports), (points.map(str::to_owned).as_slice(), ports), "{line}");
            assert_eq!(file.network, raw.reordered(&ports).unwrap());
            assert_eq!(PortOrder::guess(&file.network), Ok(PortOrder::Sequential), "{line}");
            assert_eq!((file.confirmed, file.ports_from), (Ok(()), PortsFrom::Name));
            assert_eq!(file.path, PathBuf::from("tests/signal/pair_a_uncoupled.s4p"));
            assert_eq!(file.fact, u32::try_from(joins.lines().count()).unwrap());
        }
    }
    // a sequential file whose line names the far contacts the other way round: each near one still has its own far end
    let (found, file) = one("sparameters A.1 A.3 B.10 B.12 ex_p370_dut.s4p\n");
    assert_eq!((found.as_slice(), file.ports), (["A.1", "A.3", "B.10", "B.12"].map(str::to_owned).as_slice(), [0, 1, 2, 3]));
}

/// A reversed pair is a fault of the cable and no contradiction, where the joins show it too.
#[test]
fn a_reversed_pair_is_no_contradiction() {
    let line = "sparameters A.1 B.10 A.3 B.12 pair_a_uncoupled.s4p\n";
    let (found, _) = one(&format!("A.1 B.10\nA.3 B.12\n{line}"));
    assert_eq!(found, ["A.1", "A.3", "B.10", "B.12"]);
    // joined to each other all four, the joins say nothing of which leads where
    let (found, _) = one(&format!("A.1 A.3 B.10 B.12\n{line}"));
    assert_eq!(found, ["A.1", "A.3", "B.10", "B.12"]);
}

/// Where the figures can't tell, the joins say which far contact is whose, else the line does.
#[test]
fn figures_in_doubt() {
    for (joins, points) in [
        ("", ["A.1", "A.3", "B.12", "B.10"]),
        ("A.1 B.12\n", ["A.1", "A.3", "B.12", "B.10"]),
        ("A.3 B.12\n", ["A.1", "A.3", "B.10", "B.12"]),
    ] {
        let (found, file) = one(&format!("{joins}sparameters A.1 A.3 B.12 B.10 ex_nonpassive.s4p\n"));
        assert_eq!(found, points, "{joins}");
        assert!(matches!(file.confirmed, Err(Doubt::NothingThrough { .. })), "{:?}", file.confirmed);
    }
}

/// The files of one unit aren't those of another, and one that can't be used doesn't hide the next.
#[test]
fn each_unit_has_its_own() {
    let text = "unit 1\nsparameters A.1 B.12 A.3 B.10 nothing.s4p\nsparameters A.1 B.12 A.3 B.10 \"pair_a_uncoupled.s4p\"\n\
                unit 2\nA.1 B.12\n";
    let netlist = netlist::parse(&Source::new("reel.netlist", text));
    let of = |unit: usize| SignalFiles::of(&netlist, &netlist.units[unit], Path::new("tests/signal"), None);
    let first = of(0);
    assert_eq!((first.files.len(), first.problems.len()), (1, 1));
    assert_eq!(first.problems[0].labels[0].source.slice(first.problems[0].labels[0].span), "nothing.s4p");
    assert!(of(1).files.is_empty() && of(1).problems.is_empty());
    // from another folder
    let (_, files) = files_in(Path::new("tests"), "sparameters A.1 B.12 A.3 B.10 signal/pair_a_uncoupled.s4p\n");
    assert_eq!(files.files.len(), 1);
}

/// Every contradiction, as people see it.
#[test]
fn contradictions() {
    for (name, text) in [
        ("no-such-file", "sparameters A.1 A.3 B.12 B.10 nothing.s4p\n"),
        ("a-folder", "sparameters A.1 A.3 B.12 B.10 published\n"),
        ("two-ports", "sparameters A.1 A.3 B.12 B.10 published/s2p-ri.s2p\n"),
        ("broken-file", "sparameters A.1 A.3 B.12 B.10 broken/wrong-count.s4p\n"),
        ("three-at-one-end", "sparameters A.1 B.7 B.12 B.10 ex_p370_dut.s4p\n"),
        ("three-ends", "sparameters A.1 A.3 B.12 C.1 ex_p370_dut.s4p\n"),
        ("same-point", "sparameters A.1 A.1 B.12 B.10 ex_p370_dut.s4p\n"),
        ("other-order", "sparameters A.1 A.3 B.12 B.10 pair_a_uncoupled.s4p\n"),
        ("joined-otherwise", "A.1 B.12 0.41 ohm\nsparameters A.1 B.10 A.3 B.12 pair_a_uncoupled.s4p\n"),
        ("second-joined-otherwise", "A.3 B.10 0.41 ohm\nsparameters A.1 B.10 A.3 B.12 pair_a_uncoupled.s4p\n"),
    ] {
        insta::assert_snapshot!(format!("signal__{name}"), problems(text));
    }
    // looped back at both ends, and the joins say so too
    let (found, file) = one("A.1 A.3\nB.12 B.10\nsparameters A.1 A.3 B.12 B.10 pair_a_uncoupled.s4p\n");
    assert_eq!(found, ["A.1", "A.3", "B.12", "B.10"]);
    assert_eq!(file.confirmed, Err(Doubt::Unknown { partners: vec![1, 0, 3, 2] }));
}
