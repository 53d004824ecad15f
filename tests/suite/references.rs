//! The pin maps and the nets against what others have published or built.
//!
//! `tests/reference/` holds tables that were typed independently of the catalogue, each row with its source, and two
//! scripts: one compares the connectors with the symbols of Debian's package kicad-symbols, the other compares nets with
//! those that networkx finds.

use std::collections::{BTreeMap, BTreeSet};
use std::io::Write;
use std::process::{Command, Stdio};

use backshell::graph::Nets;
use backshell::pinmap::{Cable, Catalogue, Pairing, Role, cable_names, connector_names};
use serde::Deserialize;

use crate::injection::cable;

#[derive(Debug, Deserialize)]
struct Wire {
    cable: String,
    from: String,
    to: String,
    signal: String,
    source: String,
}

#[derive(Debug, Deserialize)]
struct Alone {
    cable: String,
    point: String,
    #[allow(dead_code)]
    why: String,
    source: String,
}

#[derive(Debug, Deserialize)]
struct Pair {
    cable: String,
    end: String,
    plus: String,
    minus: String,
    #[allow(dead_code)]
    name: String,
    source: String,
}

#[derive(Debug, Deserialize)]
struct Colour {
    scheme: String,
    pin: String,
    colour: String,
    pair: u32,
}

pub(crate) fn table<T: for<'de> Deserialize<'de>>(name: &str) -> Vec<T> {
    let mut reader = csv::Reader::from_path(format!("tests/reference/{name}")).unwrap();
    reader.deserialize().collect::<Result<Vec<T>, _>>().unwrap()
}

fn wanted_nets(cable: &Cable) -> Nets {
    let required = cable.links.iter().filter(|link| !link.optional && !link.when_screened);
    Nets::new(
        cable.points.len(),
        required.flat_map(|link| link.points.windows(2).map(|two| (two[0], two[1])).collect::<Vec<_>>()),
    )
}

fn is_free(cable: &Cable, point: u32) -> bool {
    cable.role(point) != Role::Shell
        && cable.links.iter().any(|link| {
            link.points.contains(&point) && link.group.is_some_and(|group| cable.groups[group].pairing == Pairing::Any)
        })
}

/// Every conductor of the published tables is in the map, and the map has no other.
#[test]
fn wiring_tables_of_the_published_standards() {
    let rows: Vec<Wire> = table("wiring.csv");
    let mut by_cable: BTreeMap<&str, Vec<&Wire>> = BTreeMap::new();
    for row in &rows {
        assert!(!row.source.is_empty(), "{row:?}");
        by_cable.entry(&row.cable).or_default().push(row);
    }
    for (name, rows) in &by_cable {
        let cable = cable(name);
        let point = |text: &str| cable.point(text).unwrap_or_else(|| panic!("{name}: no {text}"));
        let fixed: Vec<(u32, u32)> =
            rows.iter().filter(|row| row.to != "any").map(|row| (point(&row.from), point(&row.to))).collect();
        let mut published = Nets::new(cable.points.len(), fixed);
        let mut map = wanted_nets(&cable);
        // grounds whose partner isn't fixed: in both, each is only known to be one of them
        let free: BTreeSet<&str> = rows.iter().filter(|row| row.to == "any").map(|row| row.from.as_str()).collect();
        let map_free: BTreeSet<&str> =
            (0..).zip(&cable.points).filter(|(n, _)| is_free(&cable, *n)).map(|(_, p)| p.text.as_str()).collect();
        assert_eq!(free, map_free, "{name}: grounds with free pairing");
        let without_free = |nets: &Nets| -> BTreeSet<Vec<u32>> {
            nets.members().into_iter().filter(|net| net.len() > 1 && !is_free(&cable, net[0])).collect()
        };
        assert_eq!(
            without_free(&map),
            without_free(&published),
            "{name}: signals {:?}",
            rows.iter().map(|row| &row.signal).collect::<Vec<_>>()
        );
        published.clone_from(&map);
        map.clone_from(&published);
    }
    // no catalogue cable without a table
    let tables: BTreeSet<&str> = by_cable.keys().copied().collect();
    for name in cable_names() {
        if name != "rs485-pair" {
            // no standard fixes its contacts (TIA-485 names none)
            assert!(tables.contains(name), "{name}: no independent table");
        }
    }
}

#[test]
fn contacts_that_the_published_tables_leave_alone() {
    let rows: Vec<Alone> = table("unconnected.csv");
    assert!(rows.len() > 50);
    for row in rows {
        assert!(!row.source.is_empty(), "{row:?}");
        let cable = cable(&row.cable);
        let point = cable.point(&row.point).unwrap_or_else(|| panic!("{row:?}"));
        assert!(cable.unconnected(point).is_some(), "{row:?}: wired in the map");
    }
}

/// The pairs of the published tables; the HEAC pair of HDMI is twisted only in cables that are sold for it.
#[test]
fn pairs_of_the_published_tables() {
    for row in table::<Pair>("pairs.csv") {
        assert!(!row.source.is_empty(), "{row:?}");
        let cable = cable(&row.cable);
        let point = |pin: &str| cable.point(&format!("{}.{pin}", row.end)).unwrap_or_else(|| panic!("{row:?}"));
        let (plus, minus) = (point(&row.plus), point(&row.minus));
        if cable.function(plus).name.contains("HEAC") {
            continue;
        }
        if cable.unconnected(plus).is_some() && cable.unconnected(minus).is_some() {
            continue;
        }
        assert_eq!((cable.role(plus), cable.role(minus)), (Role::PairPlus, Role::PairMinus), "{row:?}");
        assert_eq!(cable.pair_partner(plus), Some(minus), "{row:?}");
    }
}

/// ANSI/TIA-568 pair table: pairs 1 to 4 on contacts 4-5, then 1-2 and 3-6 by scheme, then 7-8.
#[test]
fn tia_568_pairs() {
    let rows: Vec<Colour> = table("colours-568.csv");
    assert_eq!(rows.len(), 16);
    for (scheme, name) in [("T568A", "ethernet-t568a"), ("T568B", "ethernet-t568b")] {
        let cable = cable(name);
        let of_scheme: Vec<&Colour> = rows.iter().filter(|row| row.scheme == scheme).collect();
        assert_eq!(of_scheme.len(), 8, "{scheme}");
        for row in &of_scheme {
            let mate = of_scheme.iter().find(|other| other.pair == row.pair && other.pin != row.pin).unwrap();
            let point = |pin: &str| cable.point(&format!("A.{pin}")).unwrap();
            assert_eq!(cable.pair_partner(point(&row.pin)), Some(point(&mate.pin)), "{scheme} {} {}", row.pin, row.colour);
        }
    }
}

pub(crate) fn python(script: &str, arguments: &[&str], input: &str) -> Option<(bool, String)> {
    let required = std::env::var_os("CI").is_some() || std::env::var_os("BACKSHELL_REFERENCES").is_some();
    let child = Command::new("python3")
        .arg(format!("tests/reference/{script}"))
        .args(arguments)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn();
    let mut child = match child {
        Ok(child) => child,
        Err(error) => {
            assert!(!required, "python3 can't be run: {error}");
            return None;
        }
    };
    child.stdin.take().unwrap().write_all(input.as_bytes()).ok();
    let output = child.wait_with_output().unwrap();
    let text = format!("{}{}", String::from_utf8_lossy(&output.stdout), String::from_utf8_lossy(&output.stderr));
    if !required && text.contains("No module named") {
        println!("not compared: {text}");
        return None;
    }
    Some((output.status.success(), text))
}

/// The connectors against the symbols of Debian's package kicad-symbols, where it is installed (in CI it must be).
#[test]
fn connectors_against_kicad_symbols() {
    let mut catalogue = Catalogue::new();
    let mut all: BTreeMap<&str, BTreeMap<String, String>> = BTreeMap::new();
    for name in connector_names() {
        let connector = catalogue.connector(name, None).unwrap();
        all.insert(name, connector.pins.iter().map(|pin| (pin.pin.clone(), pin.near.name.clone())).collect());
    }
    let file = std::env::temp_dir().join(format!("backshell-connectors-{}.json", std::process::id()));
    std::fs::write(&file, serde_json::to_string(&all).unwrap()).unwrap();
    let said = python("check_symbols.py", &[file.to_str().unwrap()], "");
    std::fs::remove_file(&file).ok();
    if let Some((agreed, text)) = said {
        println!("{text}");
        assert!(agreed, "{text}");
    }
}

/// The nets of random joins against networkx's connected components.
#[test]
fn nets_against_networkx() {
    let mut state = 0x5eed_u64;
    let mut random = |n: u64| {
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (state >> 33) % n
    };
    let mut lines = String::new();
    for _ in 0..300 {
        let n = 1 + random(60);
        let joins: Vec<(u32, u32)> =
            (0..random(90)).map(|_| (u32::try_from(random(n)).unwrap(), u32::try_from(random(n)).unwrap())).collect();
        let nets = Nets::new(usize::try_from(n).unwrap(), joins.iter().copied()).members();
        lines.push_str(&serde_json::json!({"points": n, "joins": joins, "nets": nets}).to_string());
        lines.push('\n');
    }
    if let Some((agreed, text)) = python("check_nets.py", &[], &lines) {
        println!("{text}");
        assert!(agreed, "{text}");
        assert!(text.contains("300 graphs"), "{text}");
    }
}
