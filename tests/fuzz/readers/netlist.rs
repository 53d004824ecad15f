//! The netlist language: parsed and printed; checked, and a map derived from it.

use std::sync::Arc;

use backshell::netlist::{self, Header, Netlist, Unit};
use backshell::pinmap::{Cable, Catalogue};
use backshell::report::{coverage_text, derived_map, probe_plan};
use backshell::verify::{Options, check_file, check_text, derive_text};

use super::{everything, show, source, text, told, with_file};

pub fn netlist(bytes: &[u8]) {
    let Some(text) = text(bytes) else { return };
    let source = source("file", text);
    let read = netlist::parse(&source);
    show(&read.problems);
    let _ = Header::read(&source, "".as_ref()).map_err(|problems| show(&problems));
    round_trip(&read);
}

/// The same with everything that is made of it, and of bytes that are no text; its own reader, since it takes a hundred times as
/// long.
pub fn check(bytes: &[u8]) {
    let Some(text) = text(bytes) else {
        with_file("bytes.netlist", bytes, |path| told(|each| check_file(path, &everything(), each)));
        return;
    };
    reports(text);
    derive(text);
}

/// What was read, printed and read again, is the same.
pub fn round_trip(read: &Netlist) {
    // neither what stands above the first unit nor what belongs to a `unit` line that can't be read has a canonical form
    let unnamed = |unit: &Unit| unit.name.is_none() && read.source.written(unit.line).starts_with("unit");
    let above = read.problems.iter().any(|problem| problem.message.contains("belongs to no unit"));
    if above || read.units.iter().any(unnamed) {
        return;
    }
    let printed = netlist::print(read);
    let again = netlist::parse(&source("printed", &printed));
    assert!(again.problems.is_empty(), "what was printed can't be read:\n{printed}{:?}", again.problems);
    assert_eq!(printed, netlist::print(&again));
    let values = |netlist: &Netlist| netlist.figures.iter().map(|figure| figure.quantity).collect::<Vec<_>>();
    assert_eq!(values(read), values(&again));
}

/// Units that are like one before have the reports of the long way, and everything can be written.
fn reports(text: &str) {
    let options = everything();
    let told_of = |options: &Options| told(|each| check_text("file", text, options, each));
    let first = told_of(&options);
    assert_eq!(first, told_of(&options.clone().with_long_way(true)));
    check_text("file", text, &options, |batch| {
        for report in &batch.reports {
            let _ = (coverage_text(report), probe_plan(report, None));
        }
    });
}

/// A map that is derived reads back, and its sample can be checked against it; its figures may fail.
fn derive(text: &str) {
    let derived = match derive_text("file", text, None, None, &Options::default()) {
        Ok(derived) => derived,
        Err(problems) => return show(&problems),
    };
    let map = derived_map(&derived);
    let mut catalogue = Catalogue::new();
    let cable = Cable::read(&source("derived.toml", &map), &mut |name| match derived.known_connector(name) {
        Some(known) => Ok(Arc::clone(known)),
        None => catalogue.connector(name, None),
    });
    let cable = Arc::new(cable.unwrap_or_else(|problems| panic!("{map}\n{problems:?}")));
    derived.check(&cable).unwrap_or_else(|problems| panic!("{map}\n{problems:?}"));
}
