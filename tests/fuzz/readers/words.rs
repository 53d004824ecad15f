//! What stands on the command line: a value a line, read by everything that reads one.

use backshell::diagnosis::Statement;
use backshell::finding::Code;
use backshell::netlist::{Field, TableOptions};
use backshell::report::{link_text, video_report, video_text};
use backshell::signal::PortOrder;
use backshell::signal::rates::ladders;
use backshell::signal::video::{Link, Mode};
use backshell::text::{Digest, visible};
use backshell::units::Unit;

use super::{show, text};

pub fn words(bytes: &[u8]) {
    let Some(text) = text(bytes) else { return };
    for word in text.lines().take(16) {
        one(word);
    }
}

fn one(word: &str) {
    match Mode::parse(word) {
        Ok(mode) => {
            let again = Mode::parse(&format!("{}, {} bits, {}", mode.size(), mode.bits, mode.chroma.text()));
            assert_eq!(again.map_err(|problem| problem.message), Ok(mode));
            assert!(!video_text(&mode).is_empty());
            serde_json::to_string(&video_report(&[mode], None)).unwrap();
        }
        Err(problem) => show(&[problem]),
    }
    for lanes in [None, Some(1), Some(4), Some(255)] {
        match Link::named(word, lanes) {
            Ok(link) => assert!(!link_text(&[], &link).is_empty()),
            Err(problem) => show(&[problem]),
        }
    }
    if let Some(code) = Code::parse(word) {
        assert_eq!(code.text(), word);
    }
    if let Some(order) = PortOrder::named(word) {
        assert_eq!(order.name(), word);
    }
    if let Some(digest) = Digest::parse(word) {
        assert_eq!(Digest::parse(&digest.to_string()), Some(digest));
    }
    assert_eq!(visible(&visible(word)), visible(word));
    let _ = (Mode::parse_bits(word), Mode::parse_chroma(word), Statement::parse(word), Field::parse(word));
    let _ = (TableOptions::is_end(word), Unit::parse(word));
    ladders().iter().for_each(|ladder| assert!(ladder.rate(word).is_none_or(|rate| !rate.name.is_empty())));
}
