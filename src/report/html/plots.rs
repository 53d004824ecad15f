//! The curves of a unit whose pairs were measured: loss, impedance along the cable, eyes.

use crate::signal::rates::{self, Lane};
use crate::signal::{Settings, analyse};
use crate::verify::UnitReport;

use super::super::signal::{SignalFileEntry, SignalReport, signal_pictures};
use super::views::inline;

/// So many pairs are drawn: more curves in one chart can't be told apart.
const PAIRS: usize = 8;

/// The plots of a unit; none where no pair was measured.
pub(super) fn of(report: &UnitReport) -> Vec<String> {
    let (Some(measured), Some(link)) = (&report.measured, report.links.first()) else { return Vec::new() };
    let Some(ladder) = rates::ladder(&link.grade.ladder) else { return Vec::new() };
    let of_map = report.cable.link_rates.iter().find(|known| known.ladder == link.grade.ladder);
    let settings = Settings { differential_ohm: of_map.map(|known| known.ohm), length_m: measured.metres, ..Settings::default() };
    let (mut files, mut lanes) = (Vec::new(), Vec::new());
    for lane_name in link.lanes.iter().take(PAIRS) {
        let same = |near: [u32; 2], lane: [u32; 2]| near == lane || near == [lane[1], lane[0]];
        let lane = of_map.and_then(|known| known.lanes.iter().find(|lane| lane.name == *lane_name));
        let pair =
            lane.and_then(|lane| measured.pairs.iter().find(|pair| same(pair.near, lane.near) || same(pair.near, lane.far)));
        let Some(pair) = pair else { continue };
        let Ok(analysis) = analyse(&pair.network, &settings) else { continue };
        let made = Lane::of_network(lane_name, &pair.network, settings.differential_ohm, None).and_then(|mut lanes| lanes.pop());
        let Some(made) = made else { continue };
        files.push(SignalFileEntry {
            file: pair.path.clone(),
            lanes: vec![lane_name.clone()],
            ports: 4,
            ports_from: String::new(),
            order: String::new(),
            order_guessed: false,
            analysis,
        });
        lanes.push(made);
    }
    if files.is_empty() {
        return Vec::new();
    }
    // each eye is drawn by the grade's row of its lane
    let whole = link.lanes.len() == lanes.len();
    let signal = SignalReport::new(files, whole.then(|| link.grade.clone()));
    let pictures = signal_pictures(&signal, &lanes, whole.then_some(ladder), &settings);
    pictures.into_iter().map(|picture| inline(&picture.svg)).filter(|svg| !svg.is_empty()).collect()
}
