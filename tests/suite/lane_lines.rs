//! The loss and the delay of lanes over lengths, against the closed form of a matched line: what a metre adds is known, and the ends
//! add nothing.

use std::f64::consts::TAU;
use std::fmt::Write as _;

use backshell::lot::{Along, Asked, Summary, TestedUnit, lines};
use backshell::report::{LotOptions, lot_report, lot_text_within};
use backshell::verify::{Options, check_file};

use crate::scratch::Scratch;

/// Attenuation at 1 GHz in dB per metre, growing as the root of the frequency (skin effect).
const DB: f64 = 1.3;
/// Delay in ns per metre.
const NS: f64 = 4.75;

/// Two conductors without reflection and coupling, so that the differential transfer is that of one of them (ports 1, 2 to 3, 4).
fn touchstone(metres: f64) -> String {
    let mut text = "# GHz S DB R 50\n".to_owned();
    for row in 1..=1000 {
        let gigahertz = f64::from(row) * 0.01;
        let db = -DB * gigahertz.sqrt() * metres;
        let degrees = (-360.0 * gigahertz * NS * metres) % 360.0;
        let cell =
            |to: u8, from: u8| if to % 4 == (from + 2) % 4 { format!("{db:.6} {degrees:.6}") } else { "-200 0".to_owned() };
        for to in 0..4 {
            let cells: Vec<String> = (0..4).map(|from| cell(to, from)).collect();
            let first = if to == 0 { format!("{gigahertz}") } else { String::new() };
            writeln!(text, "{first} {}", cells.join(" ")).unwrap();
        }
    }
    text
}

#[test]
fn loss_and_delay_over_lengths() {
    let scratch = Scratch::new("lane-lines");
    let mut summary = Summary::default();
    for (at, metres) in [0.5, 1.0, 1.5, 2.5].into_iter().enumerate() {
        std::fs::write(scratch.path(&format!("lane{at}.s4p")), touchstone(metres)).unwrap();
        let path = scratch.path(&format!("lead{at}.netlist"));
        let text = format!(
            "cable displayport\nrated HBR2\ntype T-30\nlength {metres} m\nunit L-{at}\nA.1 B.12\nA.3 B.10\nsparameters A.1 A.3 B.12 B.10 lane{at}.s4p\n"
        );
        std::fs::write(&path, text).unwrap();
        check_file(&path, &Options::default().with_lot(true), |batch| {
            assert!(batch.problems.is_empty(), "{:?}", batch.problems);
            batch.reports.iter().filter_map(|report| TestedUnit::of(&path, report)).for_each(|unit| summary.add(unit));
        });
    }
    let lines = lines(&summary);
    let of = |wanted: fn(&Along) -> bool| lines.iter().find(|line| wanted(&line.along)).unwrap();

    // half of HBR2's 5.4 Gbit/s (VESA DisplayPort 1.4)
    let loss = of(|along| *along == Along::Loss { kilohertz: 2_700_000 });
    assert_eq!(loss.fit.points, 4);
    assert!((loss.fit.slope - DB * 2.7_f64.sqrt()).abs() < 0.01, "{loss:?}");
    assert!(loss.fit.intercept.abs() < 0.02, "{loss:?}");

    let delay = of(|along| *along == Along::Delay);
    assert!((delay.fit.slope - NS * 1e-9).abs() < 1e-13 * TAU, "{delay:?}");
    assert!(delay.fit.intercept.abs() < 1e-12, "{delay:?}");

    let options = LotOptions::new(Asked::All);
    let report = lot_report(&summary, &options, &[]);
    assert_eq!(report.lane_lines.len(), 2);
    let text = lot_text_within(&report, 1000);
    assert!(text.contains("loss at 2.7 GHz over 4 lengths: ends 0.00 dB"), "{text}");
    assert!(text.contains("cable 4.750 ns +/- 0.000 ns a metre"), "{text}");
}
