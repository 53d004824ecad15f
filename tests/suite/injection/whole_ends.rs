//! Every cause that takes in a whole end, put into a cable.

use std::collections::BTreeSet;
use std::path::Path;
use std::sync::Arc;

use backshell::pinmap::{Cable, Catalogue, cable_names};

use super::{BUILDS, Model, Wire};

/// The places that contacts of one end move to; none falls off.
type Moves = Vec<(usize, Option<usize>)>;

/// A cable where what is on each of these contacts sits on another.
fn moved(sound: &Model, moves: &Moves) -> Model {
    let mut model = sound.clone();
    let to = |contact: &usize| moves.iter().find(|(from, _)| from == contact).map_or(Some(*contact), |(_, to)| *to);
    for part in &mut model.parts {
        *part = part.map(|contact| to(&contact).unwrap_or(contact));
    }
    for wire in &mut model.wires {
        wire.contacts = wire.contacts.iter().filter_map(to).collect();
    }
    model
}

fn pin(model: &Model, contact: usize) -> &str {
    let place = &model.cable.points[contact];
    &model.cable.ends[place.end].connector.pins[place.pin].pin
}

fn named(model: &Model, end: usize, name: &str) -> Option<usize> {
    (0..model.cable.points.len()).find(|contact| model.end(*contact) == end && pin(model, *contact) == name)
}

/// Every such cause that can be put into this cable: its code, its end where it has one, and the cable.
pub fn whole_ends(sound: &Model) -> Vec<(&'static str, Option<usize>, Model)> {
    let mut all = Vec::new();
    for end in 0..sound.cable.ends.len() {
        for (code, moves) in numberings(sound, end) {
            all.push((code, Some(end), moved(sound, &moves)));
        }
    }
    if let Some(moves) = ends_exchanged(sound) {
        all.push(("ends.exchanged", None, moved(sound, &moves)));
    }
    all.extend(wirings(sound).into_iter().map(|(code, model)| (code, None, model)));
    all
}

fn numberings(sound: &Model, end: usize) -> Vec<(&'static str, Moves)> {
    let contacts = || (0..sound.cable.points.len()).filter(move |contact| sound.end(*contact) == end);
    let mut all: Vec<(&'static str, Moves)> = Vec::new();
    let numbers: Vec<usize> = contacts().filter_map(|contact| pin(sound, contact).parse().ok()).collect();
    let n = numbers.len();
    if n > 2 && (1..=n).all(|number| numbers.contains(&number)) {
        let renumber = |turn: &dyn Fn(usize) -> usize| -> Moves {
            (1..=n)
                .map(|from| (named(sound, end, &from.to_string()).unwrap(), named(sound, end, &turn(from).to_string())))
                .collect()
        };
        all.push(("numbering.mirrored", renumber(&|number| n + 1 - number)));
        all.push(("numbering.shifted", renumber(&|number| number + 1)));
        all.push(("numbering.shifted", renumber(&|number| number - 1)));
    }
    let at = |pin: usize| contacts().find(|contact| sound.cable.points[*contact].pin == pin);
    let rows: Vec<Vec<usize>> = sound.cable.ends[end]
        .connector
        .rows
        .iter()
        .map(|row| row.iter().flatten().filter_map(|pin| at(*pin)).collect())
        .collect();
    if rows.len() > 1 {
        let turned = rows.iter().flat_map(|row| row.iter().copied().zip(row.iter().rev().map(|to| Some(*to))));
        all.push(("numbering.mirrored", turned.collect()));
    }
    if let [one, two] = &rows[..]
        && one.len() == two.len()
    {
        let across = one.iter().zip(two).flat_map(|(a, b)| [(*a, Some(*b)), (*b, Some(*a))]);
        all.push(("numbering.rows-exchanged", across.collect()));
    }
    all
}

fn ends_exchanged(sound: &Model) -> Option<Moves> {
    if sound.cable.ends.len() != 2 {
        return None;
    }
    let moves: Option<Moves> = (0..sound.cable.points.len())
        .map(|contact| named(sound, 1 - sound.end(contact), pin(sound, contact)).map(|other| (contact, Some(other))))
        .collect();
    moves
}

/// Whether every wire of two contacts joins contacts of the same name.
fn is_straight(model: &Model) -> bool {
    let mut across = model.wires.iter().filter(|wire| wire.contacts.len() == 2);
    across.all(|wire| {
        let [a, b] = [wire.contacts[0], wire.contacts[1]];
        model.end(a) == model.end(b) || pin(model, a) == pin(model, b)
    })
}

/// Whether these nets are those of a sound cable, built in any way that the map leaves free: with or without what may be
/// missing, and of a tie inside a plug that may be missing, with any of its contacts.
pub fn is_sound(cable: &Arc<Cable>, nets: &[usize]) -> bool {
    let mut model = Model::with(cable, |_| false);
    for (at, link) in cable.links.iter().enumerate().filter(|(_, link)| link.optional || link.when_screened) {
        let contacts: Vec<usize> = link.points.iter().map(|point| *point as usize).collect();
        let tie = contacts.iter().all(|contact| model.end(*contact) == model.end(contacts[0]));
        let labels: BTreeSet<usize> = contacts.iter().map(|contact| nets[*contact]).collect();
        if tie || labels.len() == 1 {
            let of = |label: &usize| contacts.iter().copied().filter(|contact| nets[*contact] == *label).collect();
            model.wires.extend(labels.iter().map(|label| Wire { contacts: of(label), link: Some(at) }));
        }
    }
    model.labels() == nets
}

/// Whether these nets are those of another published wiring with the same connectors.
pub fn is_another(cable: &Cable, nets: &[usize]) -> bool {
    let connectors = |cable: &Cable| cable.ends.iter().map(|end| end.connector.name.clone()).collect::<Vec<_>>();
    let others =
        cable_names().filter(|name| *name != cable.name).map(|name| Catalogue::new().cable(name, Path::new("")).unwrap());
    others.filter(|other| connectors(other) == connectors(cable)).any(|other| is_sound(&other, nets))
}

/// Pin for pin where the cable crosses, and the other published wirings of the same connectors.
fn wirings(sound: &Model) -> Vec<(&'static str, Model)> {
    let mut all = Vec::new();
    let straight = is_straight(sound);
    // what is commoned in the plugs would join whatever comes to lie on its contacts
    let commoned = sound.wires.iter().any(|wire| wire.link.is_none());
    if !straight && !commoned && sound.cable.ends.len() == 2 {
        let mut model = sound.clone();
        let mut complete = true;
        for wire in &mut model.wires {
            let [a, b] = wire.contacts[..] else { continue };
            if (sound.end(a), sound.end(b)) == (0, 1) {
                match named(sound, 1, pin(sound, a)) {
                    Some(same) => wire.contacts[1] = same,
                    None => complete = false,
                }
            }
        }
        if complete {
            all.push(("wiring.straight", model));
        }
    }
    for name in cable_names().filter(|name| *name != sound.cable.name) {
        let other = Catalogue::new().cable(name, Path::new("")).unwrap();
        let connectors = |ends: &[backshell::pinmap::End]| ends.iter().map(|end| end.connector.name.clone()).collect::<Vec<_>>();
        if connectors(&other.ends) != connectors(&sound.cable.ends) {
            continue;
        }
        for variant in BUILDS.map(|build| Model::sound(&other, build)) {
            let code = match (straight, is_straight(&variant)) {
                (true, false) => "wiring.crossed",
                (false, true) => "wiring.straight",
                _ => "wiring.variant",
            };
            // the contacts are the same in both, in the same order
            all.push((code, Model { wires: variant.wires, ..sound.clone() }));
        }
    }
    all
}
