//! Touchstone files: the examples of the specification, scikit-rf on the same files, damage, and round trips.

use std::path::{Path, PathBuf};

use backshell::report::problem_text;
use backshell::signal::touchstone::{self, PortsFrom, Touchstone, Version};
use backshell::signal::{Complex64, Doubt, Network, Parameter, PortOrder, leads_to};
use backshell::text::Source;

use crate::references::python;

fn read(path: &str) -> Touchstone {
    touchstone::read_file(Path::new(path)).unwrap_or_else(|problems| {
        panic!("{path}: {}", problems.iter().map(|problem| problem_text(problem, false)).collect::<String>())
    })
}

fn published(name: &str) -> Touchstone {
    read(&format!("tests/signal/published/{name}"))
}

fn text(text: &str, ports: Option<usize>) -> Result<Touchstone, Vec<String>> {
    touchstone::read(&Source::new("x", text), ports)
        .map_err(|problems| problems.into_iter().map(|problem| problem.message).collect())
}

fn files(folder: &str) -> Vec<PathBuf> {
    let mut files: Vec<PathBuf> = std::fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path()).collect();
    files.retain(|path| path.is_file() && path.extension().is_some_and(|ending| ending != "txt" && ending != "md"));
    files.sort();
    files
}

/// Magnitude and angle as the specification prints them, at a port pair counted from 1.
fn is_polar(network: &Network, row: usize, (to, from): (usize, usize), magnitude: f64, degrees: f64) {
    let value = network.matrix(row)[(to - 1) * network.ports() + from - 1];
    let angle = value.arg().to_degrees();
    assert!((value.norm() - magnitude).abs() < 1e-12 && (angle - degrees).abs() < 1e-9, "S{to}{from} {value} row {row}");
}

/// The figures of the published examples, where they stand in the matrix.
#[test]
fn published_examples() {
    // Touchstone 2.0, example 8, and 1.1, example 1a: one port, magnitude and decibel
    let one = published("s1p-ma.s1p");
    assert_eq!((one.network.frequencies(), one.network.reference()), ([2e6].as_slice(), [50.0].as_slice()));
    assert_eq!((one.version, one.ports_from, one.parameter), (Version::One, PortsFrom::Name, Parameter::S));
    is_polar(&one.network, 0, (1, 1), 0.894, -12.136);
    let decibel = published("s1p-db.s1p").network.matrix(0)[0];
    assert!((20.0 * decibel.norm().log10() + 0.97).abs() < 1e-12 && (decibel.arg().to_degrees() + 12.136).abs() < 1e-9);

    // 2.0, example 13: two ports, real and imaginary
    let two = published("s2p-ri.s2p").network;
    assert_eq!(two.frequencies(), [1e9, 2e9, 1e10]);
    let row = [(0.3419, 0.3336), (-0.0134, 0.0379), (-0.0134, 0.0379), (0.3419, 0.3336)];
    assert_eq!(two.matrix(2), row.map(|(re, im)| Complex64::new(re, im)));

    // 2.0, example 18: two ports, so S11 S21 S12 S22; defaults of the option line; noise after
    let noise = published("noise.s2p");
    assert_eq!((noise.noise_rows, noise.network.frequencies()), (2, [2e9, 22e9].as_slice()));
    is_polar(&noise.network, 0, (2, 1), 3.57, 157.0);
    is_polar(&noise.network, 0, (1, 2), 0.04, 76.0);
    is_polar(&noise.network, 1, (2, 2), 0.56, -85.0);
    let noise = published("noise-keywords.ts");
    assert_eq!((noise.noise_rows, noise.network.reference()), (2, [50.0, 25.0].as_slice()));
    assert_eq!((noise.version, noise.ports_from), (Version::Two, PortsFrom::Keyword));
    is_polar(&noise.network, 0, (2, 1), 3.57, 157.0);

    // 2.0, example 14: four ports over several lines, row by row
    let four = published("s4p-ma.s4p").network;
    assert_eq!(four.frequencies(), [5e9, 6e9, 7e9]);
    is_polar(&four, 0, (1, 4), 0.53, -79.34);
    is_polar(&four, 0, (2, 2), 0.60, 161.20);
    is_polar(&four, 1, (3, 1), 0.41, -81.24);
    is_polar(&four, 2, (4, 1), 0.62, -114.19);

    // 2.0, examples 4, 5 and 6: a reference each, on one line, the next, or two; full and lower matrix
    for name in ["reference-below.ts", "reference.ts", "lower.ts"] {
        let network = published(name).network;
        assert_eq!(network.reference(), [50.0, 75.0, 0.01, 0.01], "{name}");
        assert_eq!(network.matrix(0), four.matrix(0), "{name}");
    }
    // 2.1, example 5: a reference each on the option line
    assert_eq!(published("reference-each.s4p").network.reference(), [0.01, 0.01, 50.0, 50.0]);
}

/// Examples 9 and 10 of the specification are the same impedances, at 75 ohm and normalised, and at 20 ohm in ohm; 11 and
/// 12 are the same hybrid figures. So each pair is one network.
#[test]
fn published_pairs_are_one_network() {
    let (one, other) = (published("z1p.s1p"), published("z1p-keywords.ts"));
    assert_eq!((one.network.reference(), other.network.reference()), ([75.0].as_slice(), [20.0].as_slice()));
    close(&one.network.renormalised(&[20.0]).unwrap(), &other.network, 1e-12);
    close(&other.network.renormalised(&[75.0]).unwrap(), &one.network, 1e-12);
    // 74.25 ohm at -4 degrees, seen from 20 ohm
    let z = Complex64::from_polar(74.25, -4f64.to_radians());
    assert!((other.network.matrix(0)[0] - (z - 20.0) / (z + 20.0)).norm() < 1e-12);
    close(&published("h2p.s2p").network, &published("h2p-keywords.ts").network, 1e-12);
}

fn close(one: &Network, other: &Network, tolerance: f64) {
    assert_eq!(one.ports(), other.ports());
    let pairs = one.reference().iter().zip(other.reference()).chain(one.frequencies().iter().zip(other.frequencies()));
    for (one, other) in pairs {
        assert!((one - other).abs() <= tolerance * one.abs(), "{one} {other}");
    }
    assert_eq!(one.frequencies().len(), other.frequencies().len());
    for row in 0..one.frequencies().len() {
        for (one, other) in one.matrix(row).iter().zip(other.matrix(row)) {
            assert!((one - other).norm() <= tolerance * (1.0 + one.norm()), "row {row}: {one} {other}");
        }
    }
}

fn pairs(network: &Network) -> Vec<[f64; 2]> {
    (0..network.frequencies().len()).flat_map(|row| network.matrix(row).iter().map(|value| [value.re, value.im])).collect()
}

/// Every file against scikit-rf (BSD-3-Clause), with its references, and at other references.
#[test]
fn against_scikit_rf() {
    let folder = std::env::temp_dir().join(format!("backshell-touchstone-{}", std::process::id()));
    std::fs::create_dir_all(&folder).unwrap();
    let mut all = [files("tests/signal"), files("tests/signal/published")].concat();
    assert!(all.len() >= 19, "{}", all.len());
    for (name, text) in made_files() {
        std::fs::write(folder.join(&name), text).unwrap();
        all.push(folder.join(name));
    }
    let mut lines = String::new();
    for path in &all {
        let read = read(path.to_str().unwrap());
        let to: Vec<f64> = (0u8..).map(|port| 45.0 + 7.0 * f64::from(port)).take(read.network.ports()).collect();
        let renormalised = read.network.renormalised(&to).unwrap();
        let written = std::fs::read_to_string(path).unwrap();
        let mode = written.lines().find_map(|line| line.strip_prefix("[Mixed-Mode Order] "));
        assert_eq!(mode.is_some(), read.mixed_mode, "{}", path.display());
        let line = serde_json::json!({
            "file": path, "f": read.network.frequencies(), "z0": read.network.reference(), "s": pairs(&read.network),
            "to": to, "renormalised": pairs(&renormalised), "mode": mode,
        });
        lines.push_str(&line.to_string());
        lines.push('\n');
    }
    let said = python("check_touchstone.py", &[], &lines);
    std::fs::remove_dir_all(&folder).ok();
    if let Some((agreed, text)) = said {
        println!("{text}");
        assert!(agreed && text.contains(&format!("{} files", all.len())), "{text}");
    }
}

/// Files of every kind of matrix that scikit-rf converts as the specification says. Version 1 in Y, G and H isn't among
/// them: scikit-rf multiplies each of those by the reference, where the specification divides some.
fn made_files() -> Vec<(String, String)> {
    let two = "1 0.021 -0.003 0.4 0.1 0.3 -0.2 0.018 0.004\n2 0.02 -0.004 0.39 0.12 0.31 -0.22 0.019 0.005\n";
    let four = "1 9 1 2 -1 3 0 1 1\n2 -1 8 2 1 1 2 0\n3 0 1 1 7 -3 1 2\n1 1 2 0 1 2 6 1\n";
    let head = |kind: &str, format: &str| format!("[Version] 2.0\n# MHz {kind} {format} R 50\n");
    let two_ports = |order: &str| {
        format!(
            "[Number of Ports] 2\n[Two-Port Data Order] {order}\n[Number of Frequencies] 2\n[Reference] 50 75\n[Network Data]\n{two}[End]\n"
        )
    };
    let four_ports = |more: &str| {
        format!("[Number of Ports] 4\n[Number of Frequencies] 1\n[Reference] 50 50 75 75\n{more}[Network Data]\n{four}[End]\n")
    };
    let mut files = Vec::new();
    for kind in ["S", "Y", "Z", "G", "H"] {
        for order in ["21_12", "12_21"] {
            files.push((format!("{kind}-{order}.ts"), head(kind, "RI") + &two_ports(order)));
        }
    }
    for format in ["RI", "MA", "DB"] {
        files.push((format!("s-{format}.ts"), head("S", format) + &four_ports("")));
        files.push((format!("z-{format}.s4p"), format!("# kHz Z {format} R 50\n{four}")));
    }
    files.push(("y.ts".to_owned(), head("Y", "RI") + &four_ports("")));
    files.push(("modes-y.ts".to_owned(), head("Y", "RI") + &four_ports("[Mixed-Mode Order] C3,4 D2,1 D4,3 C1,2\n")));
    files.push(("modes-s.ts".to_owned(), head("S", "RI") + &four_ports("[Mixed-Mode Order] D1,2 D3,4 C1,2 C3,4\n")));
    files.push(("modes-z.ts".to_owned(), head("Z", "MA") + &four_ports("[Mixed-Mode Order] D1,2 D3,4 C1,2 C3,4\n")));
    files
}

/// Every file of `tests/signal/broken`, one a kind of error, as people see it. None gives a network.
#[test]
fn every_kind_of_error() {
    for path in files("tests/signal/broken") {
        let name = path.file_name().unwrap().to_str().unwrap().to_owned();
        let problems = match touchstone::read_file(&path) {
            Ok(read) => panic!("{name} was read: {read:?}"),
            Err(problems) => problems,
        };
        let shown: String = problems.iter().map(|problem| problem_text(problem, false)).collect();
        insta::assert_snapshot!(format!("touchstone__{}", name.replace('.', "_")), shown);
    }
}

/// How many ports a file has is told by its name, by a keyword or by its lines.
#[test]
fn number_of_ports() {
    for (name, ports) in [
        ("a.s4p", Some(4)),
        ("b/C.S8P", Some(8)),
        ("d.z2p", Some(2)),
        ("e.ts", None),
        ("f.sp", None),
        ("g", None),
        ("h.s4px", None),
    ] {
        assert_eq!(touchstone::ports_of_name(Path::new(name)), ports, "{name}");
    }
    for ports in 1usize..=8 {
        let mut file = "# Hz S RI\n".to_owned();
        for hertz in 1..3 {
            file.push_str(&hertz.to_string());
            for _ in 0..ports {
                file.push_str(&" 0.1 0".repeat(ports));
                file.push('\n');
            }
        }
        let read = text(&file, None).unwrap();
        assert_eq!(
            (read.network.ports(), read.ports_from, read.ports_from.words()),
            (ports, PortsFrom::Layout, "from the layout of its lines")
        );
        assert_eq!(text(&file, Some(ports)).unwrap().network, read.network);
        assert!(text(&file, Some(ports % 8 + 1)).unwrap_err()[0].contains("the file's name says"));
    }
    for ports in [0, 9, 4_000_000_000] {
        assert_eq!(text("# Hz S RI\n1 0 0\n", Some(ports)).unwrap_err().len(), 1, "{ports}");
    }
}

/// The head of a file: what was said of it is kept, and what is said twice alike is no error.
#[test]
fn head_of_a_file() {
    let read =
        text("\u{feff}! pair 3\r\n# r 75 ri\tS mhz !\r\n# MHz S RI R 75\r\n\r\n1 0.5 0 ! low\r\n2 0.5 0\r\n", None).unwrap();
    assert_eq!((read.network.frequencies(), read.network.reference()), ([1e6, 2e6].as_slice(), [75.0].as_slice()));
    assert_eq!(read.comments.len(), 2, "{:?}", read.comments);
    let old = text("#\r1 0.5 0\r2 0.5 0\r", None).unwrap();
    assert_eq!(old.network.frequencies(), [1e9, 2e9]);
    let information = "[version] 2.0\n# hz s ri\n[number of ports] 1\n[Begin Information]\n[x] y\n# nothing\n1 2 3\n[end information]\n[number OF frequencies] 1\n[network data]\n1 0 0\n[end]\n";
    assert_eq!(text(information, None).unwrap().network.frequencies(), [1.0]);
}

/// The order of ports is told from the through paths, or it isn't.
#[test]
fn port_order() {
    for (file, order) in [
        ("pair_a_uncoupled", PortOrder::OddEven),
        ("ex_p370_dut", PortOrder::Sequential),
        ("ex_p370_2xthru", PortOrder::Sequential),
    ] {
        let network = read(&format!("tests/signal/{file}.s4p")).network;
        assert_eq!(PortOrder::guess(&network), Ok(order), "{file}");
        let sequential = network.reordered(&order.sequence(4).unwrap()).unwrap();
        assert_eq!(PortOrder::guess(&sequential), Ok(PortOrder::Sequential), "{file}");
    }
    // no cable: at 0.1 MHz next to nothing comes through, though most of that from 1 to 2
    let other = read("tests/signal/ex_nonpassive.s4p").network;
    let nothing = Doubt::NothingThrough { from: 0, hertz: 1e5 };
    assert_eq!(PortOrder::guess(&other), Err(nothing.clone()));
    assert_eq!(nothing.to_string(), "at 0.1 MHz, less than -20 dB comes through from port 1");
    // at 25 MHz, S21 of pair A is 0.722529 - 0.681644 j in the file, which is -0.06 dB
    let way = leads_to(&read("tests/signal/pair_a_uncoupled.s4p").network, 0).unwrap();
    assert!(way.to == 1 && (way.decibel + 0.06).abs() < 0.005, "{way:?}");
    assert_eq!(PortOrder::Sequential.shown(4), "ports 1 and 2 at the near end, through paths 1→3, 2→4");
    assert_eq!(PortOrder::OddEven.shown(4), "ports 1 and 3 at the near end, through paths 1→2, 3→4");
    assert_eq!(PortOrder::Crossed.shown(4), "ports 1 and 2 at the near end, through paths 1→4, 2→3");
    assert_eq!(PortOrder::OddEven.shown(8), "ports 1, 3, 5 and 7 at the near end, through paths 1→2, 3→4, 5→6, 7→8");
    for order in PortOrder::ALL {
        assert_eq!(PortOrder::named(order.name()), Some(order));
        for ports in [4, 8] {
            // wired in this order, and seen through it
            let network = wired(ports, &order.through(ports), 0.9, 0.9 / 2.0);
            assert_eq!(PortOrder::guess(&network), Ok(order), "{}", order.shown(ports));
            let sequential = network.reordered(&order.sequence(ports).unwrap()).unwrap();
            assert_eq!(PortOrder::guess(&sequential), Ok(PortOrder::Sequential));
            // 20 lg(2) is 6.02 dB: with a little less, it is refused
            let close = wired(ports, &order.through(ports), 0.9, 0.9 / 1.99);
            assert!(matches!(PortOrder::guess(&close), Err(Doubt::Close { .. })), "{}", order.shown(ports));
        }
    }
    assert_eq!(PortOrder::guess(&wired(2, &[(0, 1)], 0.9, 0.1)), Err(Doubt::Ports(2)));
    assert_eq!(PortOrder::guess(&wired(4, &[], 0.9, 0.0)), Err(Doubt::NothingThrough { from: 0, hertz: 1e6 }));
    let ring = PortOrder::guess(&wired(4, &[(0, 1), (1, 0)], 0.9, 0.0));
    assert_eq!(ring, Err(Doubt::NothingThrough { from: 2, hertz: 1e6 }));
    let at_rest = Network::new(vec![0.0], vec![50.0; 4], vec![Complex64::ZERO; 16]).unwrap();
    assert_eq!(PortOrder::guess(&at_rest), Err(Doubt::NoFrequency));
}

/// At 0 Hz everything leads to port 1, at 1 MHz the through paths carry `through` and every other way `rest`.
fn wired(ports: usize, paths: &[(usize, usize)], through: f64, rest: f64) -> Network {
    let mut matrix = vec![Complex64::new(rest, 0.0); ports * ports];
    for (near, far) in paths {
        matrix[near * ports + far] = through.into();
        matrix[far * ports + near] = through.into();
    }
    let rest: Vec<Complex64> = (0..ports * ports).map(|at| Complex64::new(f64::from(u8::from(at < ports)), 0.0)).collect();
    Network::new(vec![0.0, 1e6], vec![50.0; ports], [rest, matrix].concat()).unwrap()
}

#[test]
fn a_file_that_is_not_there() {
    let problems = touchstone::read_file(Path::new("tests/signal/nothing.s4p")).unwrap_err();
    assert!(
        problems[0].message.starts_with("the Touchstone file tests/signal/nothing.s4p can't be opened"),
        "{}",
        problems[0].message
    );
}
