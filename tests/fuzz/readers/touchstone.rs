//! Touchstone files, and what is worked out from their figures.

use backshell::report::{SignalFileEntry, SignalReport, signal_pictures, signal_text};
use backshell::signal::rates::{Lane, grade, ladder};
use backshell::signal::touchstone::read;
use backshell::signal::{Network, PortOrder, Settings, analyse};

use super::{show, source, text};

/// The text, read without a telling name, and as a file of so many ports as fits the first of these that reads it.
pub fn touchstone(bytes: &[u8]) {
    let Some(text) = text(bytes) else { return };
    let source = source("lane", text);
    for ports in [None, Some(1), Some(2), Some(4), Some(8)] {
        match read(&source, ports) {
            Ok(read) => {
                let network = &read.network;
                let figures = network.frequencies().len() * network.ports() * network.ports();
                assert!((0..network.frequencies().len()).map(|row| network.matrix(row).len()).sum::<usize>() == figures);
                assert!(network.frequencies().is_sorted());
                return signal(network);
            }
            Err(problems) => show(&problems),
        }
    }
}

/// The analysis of a pair or two, their grade, the page and the pictures.
fn signal(network: &Network) {
    let ports = network.ports();
    let order = PortOrder::guess(network).unwrap_or(PortOrder::Sequential);
    let Some(network) = order.sequence(ports).and_then(|sequence| network.reordered(&sequence)) else { return };
    let settings = Settings::default().with_length_m(2.0);
    let Ok(analysis) = analyse(&network, &settings) else { return };
    let Some(lanes) = Lane::of_network("lane", &network, None, None) else { return };
    for name in ["displayport", "ethernet"] {
        let entry = SignalFileEntry::new("lane", ports, analysis.clone()).with_order(order.shown(ports), true);
        let entry = lanes.iter().fold(entry, |entry, lane| entry.with_lane(&lane.name));
        let report = SignalReport::new(vec![entry], Some(grade(ladder(name).unwrap(), &lanes, None)));
        assert!(!signal_text(&report).is_empty());
        assert!(!serde_json::to_string(&report).unwrap().contains("NaN"));
        let _ = signal_pictures(&report, &lanes, ladder(name), &settings);
    }
}
