//! What one unit must look like: the cable's map, with the freedoms that it leaves settled by what was measured.

use std::collections::BTreeMap;

use crate::graph::Nets;
use crate::pinmap::{Cable, Link, Pairing, Role};

/// The nets that a unit must have.
///
/// Three freedoms of a map are settled in the unit's favour, and nothing else is:
/// - an optional conductor is wanted where `present` says so; of an optional tie inside one plug, those contacts that are
///   joined;
/// - conductors of a group that a plug may common are one wanted net where two of their contacts at one end are joined;
/// - in a group whose pairing is free, each contact belongs to those that it reaches at another end, and those that reach
///   none are wanted with their listed partner.
#[must_use]
pub fn wanted(cable: &Cable, measured: &Nets, present: impl Fn(usize) -> bool) -> Nets {
    let mut joins = Vec::with_capacity(2 * cable.points.len());
    for (at, link) in cable.links.iter().enumerate() {
        if is_free(cable, link) {
            continue;
        }
        if present(at) {
            chain(&link.points, &mut joins);
        } else if is_tie(cable, link) {
            tie(link, measured, &mut joins);
        }
    }
    for group in 0..cable.groups.len() {
        if cable.groups[group].pairing == Pairing::Any {
            free_pairing(cable, group, measured, &mut joins);
        }
        common(cable, group, measured, &mut joins);
    }
    Nets::new(cable.points.len(), joins)
}

fn chain(points: &[u32], joins: &mut Vec<(u32, u32)>) {
    joins.extend(points.windows(2).map(|pair| (pair[0], pair[1])));
}

/// Whether a link's partner isn't fixed: a ground of a group with free pairing. Shells always pair with shells.
pub(in crate::verify) fn is_free(cable: &Cable, link: &Link) -> bool {
    link.group.is_some_and(|group| cable.groups[group].pairing == Pairing::Any)
        && link.points.iter().all(|point| cable.role(*point) != Role::Shell)
}

/// Whether all points of a link are at one end.
fn is_tie(cable: &Cable, link: &Link) -> bool {
    let first = cable.points[link.points[0] as usize].end;
    link.points.iter().all(|point| cable.points[*point as usize].end == first)
}

fn tie(link: &Link, measured: &Nets, joins: &mut Vec<(u32, u32)>) {
    for (nth, a) in link.points.iter().enumerate() {
        joins.extend(link.points[nth + 1..].iter().filter(|b| measured.same(*a, **b)).map(|b| (*a, *b)));
    }
}

/// How an optional conductor shows.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Shows {
    There,
    Absent,
    Either,
}

fn shows(cable: &Cable, link: &Link, measured: &Nets, is_alone: impl Fn(u32) -> bool) -> Shows {
    if is_whole(link, measured) {
        return Shows::There;
    }
    let absent = if is_tie(cable, link) {
        // a contact that only the tie uses is alone, or joined within the tie; a wired one says nothing
        let elsewhere = |point: u32| {
            cable.links_at(point).count() > 1 || link.points.iter().any(|other| *other != point && measured.same(*other, point))
        };
        link.points.iter().all(|point| is_alone(*point) || elsewhere(*point))
    } else {
        link.points.iter().all(|point| is_alone(*point))
    };
    if absent { Shows::Absent } else { Shows::Either }
}

/// Whether all contacts of a link are joined.
fn is_whole(link: &Link, measured: &Nets) -> bool {
    link.points.iter().all(|point| measured.same(*point, link.points[0]))
}

/// The readings of a unit: each says for every conductor of the map whether it is taken to be there.
///
/// An optional conductor whose contacts are neither all joined nor all alone can be read as there and faulty, or as
/// absent with something else on its contacts. Every combination of up to four such conductors is a reading; of more, only
/// all and none.
#[must_use]
pub fn readings(cable: &Cable, measured: &Nets, screened: bool) -> Vec<Vec<bool>> {
    let sizes = measured.sizes();
    let is_alone = |point: u32| sizes[measured.of(point) as usize] == 1;
    let mut sure = Vec::with_capacity(cable.links.len());
    let mut open: Vec<usize> = Vec::new();
    for (at, link) in cable.links.iter().enumerate() {
        // half a pair is no pair: where one conductor is there, so must be the other
        let mate = cable.pair_partner(link.points[0]).filter(|_| cable.role(link.points[0]).is_pair());
        let there = |mate: u32| cable.links_at(mate).map(|at| &cable.links[at]).any(|of| of.optional && is_whole(of, measured));
        let half = || mate.is_some_and(there);
        let may_miss = (link.optional && !half()) || (link.when_screened && !screened);
        let shows = if may_miss { shows(cable, link, measured, is_alone) } else { Shows::There };
        if shows == Shows::Either {
            open.push(at);
        }
        sure.push(shows == Shows::There);
    }
    let masks: Vec<u32> = if open.len() <= 4 { (0..1 << open.len()).collect() } else { vec![0, u32::MAX] };
    masks
        .into_iter()
        .map(|mask| {
            let mut reading = sure.clone();
            for (bit, at) in open.iter().enumerate() {
                reading[*at] = bit >= 32 || mask >> bit & 1 == 1;
            }
            reading
        })
        .collect()
}

/// The wanted nets where more of a group is taken to be commoned; none where there is nothing more of it.
///
/// Where a group is commoned, conductors of it that reach none of the others may be among them, and have been taken off, or
/// not. That can't be told of one that is open as a whole, which is left as it is. What is joined here is apart in the unit,
/// so that these nets are never those that were measured.
pub(in crate::verify) fn commoned_further(cable: &Cable, measured: &Nets, nets: &Nets) -> Option<Nets> {
    let mut joins: Vec<(u32, u32)> = Vec::new();
    for group in 0..cable.groups.len() {
        let plugs = in_plugs(cable, group, measured);
        let same_plug = plugs.chunk_by(|one, other| (one.0, one.1) == (other.0, other.1));
        let Some(commoned) = same_plug.filter(|points| points.len() > 1).max_by_key(|points| points.len()) else { continue };
        let first = commoned[0].2;
        let sizes = measured.sizes();
        let mut wanted: BTreeMap<u32, Vec<u32>> = BTreeMap::new();
        for point in cable.links.iter().filter(|link| link.group == Some(group)).flat_map(|link| &link.points) {
            wanted.entry(nets.of(*point)).or_default().push(*point);
        }
        let lies_apart = |points: &&Vec<u32>| {
            points.iter().all(|point| !measured.same(*point, first))
                && points.iter().any(|point| sizes[measured.of(*point) as usize] > 1)
        };
        joins.extend(wanted.values().filter(lies_apart).map(|points| (first, points[0])));
    }
    joins.retain(|(a, b)| !nets.same(*a, *b));
    let known = (0..).zip(nets.labels()).map(|(point, net)| (point, *net));
    (!joins.is_empty()).then(|| Nets::new(nets.labels().len(), known.chain(joins)))
}

/// Links of a group that are commoned in a plug become one net.
fn common(cable: &Cable, group: usize, measured: &Nets, joins: &mut Vec<(u32, u32)>) {
    let plugs = in_plugs(cable, group, measured);
    for commoned in plugs.chunk_by(|one, other| (one.0, one.1) == (other.0, other.1)) {
        joins.extend(commoned[1..].iter().map(|(.., point)| (commoned[0].2, *point)));
    }
}

/// The contacts of a group, each with its net and its end, those of one net in one plug beside each other.
fn in_plugs(cable: &Cable, group: usize, measured: &Nets) -> Vec<(u32, usize, u32)> {
    let contacts = cable.links.iter().filter(|link| link.group == Some(group)).flat_map(|link| &link.points);
    let place = |point: &u32| (measured.of(*point), cable.points[*point as usize].end, *point);
    let mut plugs: Vec<(u32, usize, u32)> = contacts.map(place).collect();
    plugs.sort_unstable();
    plugs.dedup();
    plugs
}

fn free_pairing(cable: &Cable, group: usize, measured: &Nets, joins: &mut Vec<(u32, u32)>) {
    let links: Vec<&Link> = cable.links.iter().filter(|link| link.group == Some(group) && is_free(cable, link)).collect();
    let end = |point: u32| cable.points[point as usize].end;
    let mut by_net: BTreeMap<u32, Vec<u32>> = BTreeMap::new();
    for point in links.iter().flat_map(|link| &link.points) {
        by_net.entry(measured.of(*point)).or_default().push(*point);
    }
    let reaches = |point: u32| by_net[&measured.of(point)].iter().any(|other| end(*other) != end(point));
    for points in by_net.values().filter(|points| reaches(points[0])) {
        chain(points, joins);
    }
    // those that reach nothing: first with their listed partner, then with whoever is left at another end
    let mut left: Vec<u32> = Vec::new();
    for link in &links {
        if link.points.iter().all(|point| !reaches(*point)) {
            chain(&link.points, joins);
        } else {
            left.extend(link.points.iter().copied().filter(|point| !reaches(*point)));
        }
    }
    left.sort_unstable();
    while let Some(point) = left.first().copied() {
        left.remove(0);
        if let Some(at) = left.iter().position(|other| end(*other) != end(point)) {
            joins.push((point, left.remove(at)));
        } else if let Some(served) = by_net.values().filter(|points| reaches(points[0])).max_by_key(|points| points.len()) {
            joins.push((point, served[0]));
        }
    }
}
