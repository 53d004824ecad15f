//! The order of the tracks from the top, and what is kept together.

use std::collections::HashMap;

use crate::pinmap::Cable;
use crate::verify::Wiring;

use super::model::Contact;
use super::routes::{Group, Line, Track};

/// A pair: by its end and the name that the map gives it, or by its number among those that the netlist names.
#[derive(Clone, PartialEq, Eq, Hash)]
enum Pair {
    Mapped(usize, String),
    Twisted(usize),
}

/// The contacts that a track really joins.
fn there<'a>(track: &'a Track, contacts: &'a [Contact]) -> impl Iterator<Item = u32> + 'a {
    track.legs.iter().filter(|leg| leg.line != Line::Missing).map(|leg| contacts[leg.contact].point)
}

/// Tracks in their order from the top: by the contacts of the first end, pairs together, the overall screen last.
///
/// Pairs are those that the netlist calls twisted together; those of the map where it calls none.
pub(super) fn group(cable: &Cable, wiring: &Wiring, contacts: &[Contact], tracks: &[Track]) -> Vec<Group> {
    let mut rank = vec![0_usize; contacts.len()];
    let mut order: Vec<usize> = (0..contacts.len()).collect();
    order.sort_by_key(|at| (contacts[*at].end, contacts[*at].column, contacts[*at].row));
    for (nth, at) in order.into_iter().enumerate() {
        rank[at] = nth;
    }
    let connector = |contact: &Contact| &cable.ends[contact.end].connector;
    let pin = |contact: &Contact| &connector(contact).pins[cable.points[contact.point as usize].pin];
    let first =
        |track: &Track| track.legs.iter().find(|leg| leg.line != Line::Wrong).or(track.legs.first()).map(|leg| leg.contact);
    let mut groups: Vec<Group> = Vec::new();
    let mut by_pair: HashMap<Pair, usize> = HashMap::new();
    let mut twisted: HashMap<u32, usize> = HashMap::new();
    let mut screens: HashMap<u32, Vec<usize>> = HashMap::new();
    for (nth, (points, screen)) in wiring.twisted.iter().enumerate() {
        twisted.extend(points.map(|point| (point, nth)));
        if let Some(point) = screen {
            screens.entry(*point).or_default().push(nth);
        }
    }
    for (at, track) in tracks.iter().enumerate() {
        let contact = first(track).map(|contact| &contacts[contact]);
        let lies_in = |contact: &Contact| match twisted.is_empty() {
            true => Some(Pair::Mapped(contact.end, cable.function(contact.point).pair.clone()?)),
            false => there(track, contacts).find_map(|point| twisted.get(&point)).map(|nth| Pair::Twisted(*nth)),
        };
        if let Some(key) = contact.and_then(lies_in).filter(|_| !track.is_screen) {
            let group = *by_pair.entry(key.clone()).or_insert_with(|| {
                let screened = match &key {
                    Pair::Mapped(end, name) => cable.ends[*end].connector.pins.iter().any(|pin| pin.drains.contains(name)),
                    Pair::Twisted(nth) => wiring.twisted[*nth].1.is_some(),
                };
                groups.push(Group { is_pair: true, screened, tracks: Vec::new() });
                groups.len() - 1
            });
            groups[group].tracks.push(at);
        } else {
            groups.push(Group { is_pair: false, screened: false, tracks: vec![at] });
        }
    }
    // the drain of one pair's screen lies with that pair
    for (at, track) in tracks.iter().enumerate() {
        let Some(contact) = first(track).map(|contact| &contacts[contact]).filter(|_| !track.is_screen) else { continue };
        let pair = match (twisted.is_empty(), pin(contact).drains.as_slice()) {
            (true, [pair]) => Pair::Mapped(contact.end, pair.clone()),
            (true, _) => continue,
            (false, _) => match there(track, contacts).find_map(|point| screens.get(&point)).map(Vec::as_slice) {
                Some([nth]) => Pair::Twisted(*nth),
                _ => continue,
            },
        };
        if let Some(group) = by_pair.get(&pair) {
            groups.iter_mut().filter(|group| group.tracks == [at]).for_each(|group| group.tracks.clear());
            groups[*group].tracks.push(at);
        }
    }
    groups.retain(|group| !group.tracks.is_empty());
    let middle = |track: usize| {
        let legs = || tracks[track].legs.iter().filter(|leg| leg.line != Line::Wrong || tracks[track].legs.len() == 2);
        let left: Vec<usize> = legs().filter(|leg| contacts[leg.contact].end == 0).map(|leg| rank[leg.contact]).collect();
        let all: Vec<usize> = if left.is_empty() { legs().map(|leg| rank[leg.contact]).collect() } else { left };
        all.iter().sum::<usize>() * 16 / all.len().max(1)
    };
    for group in &mut groups {
        group.tracks.sort_by_key(|track| middle(*track));
    }
    groups.sort_by_key(|group| {
        let places: Vec<usize> = group.tracks.iter().map(|track| middle(*track)).collect();
        let screen = group.tracks.iter().any(|track| tracks[*track].is_screen);
        (screen, places.iter().sum::<usize>() / places.len().max(1))
    });
    groups
}
