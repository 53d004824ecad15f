//! Cable files and connector files.

use std::sync::Arc;

use backshell::pinmap::{Cable, Catalogue, Connector, sound_netlist};
use backshell::report::map_page;
use backshell::report::picture::{Picture, scene, svg, terminal};
use backshell::verify::check_text;

use super::{everything, show, source, text, told};

/// A cable with what hangs on it: its page, its sound sample, the report on that, and its picture.
pub fn cable(bytes: &[u8]) {
    let Some(text) = text(bytes) else { return };
    let mut catalogue = Catalogue::new();
    let cable = match Cable::read(&source("lead.toml", text), &mut |name| catalogue.connector(name, None)) {
        Ok(cable) => Arc::new(cable),
        Err(problems) => return show(&problems),
    };
    assert!(!map_page(&cable).is_empty());
    let options = everything().with_cable(&cable.name).with_known(Arc::clone(&cable));
    for optional in [false, true] {
        let sample = sound_netlist(&cable, optional);
        told(|each| check_text("sample", &sample, &options, each));
        check_text("sample", &sample, &options, |batch| {
            for picture in batch.reports.iter().filter_map(Picture::of_map) {
                assert!(!svg(&scene(&picture)).is_empty());
                assert!(!terminal(&picture, false).is_empty());
            }
        });
    }
}

pub fn connector(bytes: &[u8]) {
    let Some(text) = text(bytes) else { return };
    match Connector::read(&source("plug.toml", text)) {
        Ok(connector) => connector.pins.iter().for_each(|pin| assert!(connector.find(&pin.pin).is_some())),
        Err(problems) => show(&problems),
    }
}
