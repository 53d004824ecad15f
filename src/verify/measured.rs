//! What was measured of one unit, kept for those who ask why it fails its signal.

use crate::finding::Label;
use crate::netlist::FactKind;
use crate::pinmap::Role;
use crate::units::{Bound, area_mm2};

use super::case::Case;
use super::expected::{self, Wire};
use super::joined;
use super::not_shown::NotShown;

/// What was measured of one unit.
#[derive(Clone, Debug)]
pub struct Measured {
    /// The resistances of its joins, in the order of its lines; those that are only bounds are left out.
    pub joins: Vec<JoinReading>,
    /// What a wire of the stated length and gauge has, where both are stated.
    pub wire: Option<StatedWire>,
    /// The stated length in metres.
    pub metres: Option<f64>,
    /// The metal area of the stated gauge, in mm².
    pub area_mm2: Option<f64>,
    /// The rate that the cable is sold for.
    pub rated: Option<String>,
    /// Whether `pair` lines say of every pair how it is twisted.
    pub pairs_stated: bool,
    /// Whether drains or grounds lie in parallel, so that continuity can't show the loss of one.
    pub grounds_hidden: bool,
    /// Whether other conductors do.
    pub others_hidden: bool,
    /// Whether a `capacitance` line is there.
    pub has_capacitance: bool,
    /// The S-parameter files that it names.
    pub networks: Vec<NetworkFile>,
}

/// A resistance between two contacts.
#[derive(Clone, Debug, PartialEq)]
pub struct JoinReading {
    /// The contacts as the netlist writes them.
    pub points: [String; 2],
    /// The signal.
    pub signal: String,
    /// In ohm.
    pub ohm: f64,
    /// Its expanded uncertainty in ohm (k = 2).
    pub uncertainty: f64,
    /// What runs there.
    pub runs: Runs,
}

/// What runs between two contacts that are joined.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Runs {
    /// One wire that carries a signal, of the stated size.
    SignalWire,
    /// A drain or a ground from end to end.
    Ground,
    /// The screen, from shell to shell.
    Shell,
    /// Something else, or more than one conductor.
    Other,
}

/// What a wire has from end to end, in ohm.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct StatedWire {
    /// Plain copper, without the contacts.
    pub nominal: f64,
    /// What the contacts of both ends are taken to add.
    pub contacts: f64,
}

/// An S-parameter file.
#[derive(Clone, Debug)]
pub struct NetworkFile {
    /// The contacts of its ports, in their order, as the netlist writes them.
    pub points: [String; 4],
    /// For each port, the end of the cable, as the netlist names it.
    pub ends: [String; 4],
    /// For each port, its pair; empty where it belongs to none.
    pub pairs: [String; 4],
    /// The path as it is written, from the netlist's folder.
    pub path: String,
    /// The line.
    pub label: Label,
}

impl Measured {
    /// What was measured of a unit.
    pub(super) fn of(case: &Case<'_>) -> Self {
        let joins = case.joins().iter().filter(|join| join.reading.quantity.bound == Bound::Exact);
        let readings = joins.map(|join| JoinReading {
            points: join.points.map(|point| case.point(point).to_owned()),
            signal: case.link_signal(join.points).to_owned(),
            ohm: join.ohm(),
            uncertainty: join.reading.uncertainty,
            runs: runs(case, join),
        });
        let is_ground = |point: u32| is_ground(case.cable.role(point));
        let hidden: Vec<bool> =
            case.masked().iter().map(|masked| masked.conductor.points.iter().all(|point| is_ground(*point))).collect();
        let gauge = case.given.get(|settings| settings.gauge).map(|said| said.value);
        Measured {
            joins: readings.collect(),
            wire: case.wire().map(|wire| StatedWire { nominal: wire.nominal, contacts: Wire::contacts() }),
            metres: expected::length(case).map(|(metres, _)| metres),
            area_mm2: gauge.and_then(|gauge| area_mm2(&gauge)),
            rated: case.given.get(|settings| settings.rated).map(|said| said.text().to_owned()),
            pairs_stated: !case.cable.paired.is_empty() && !NotShown::of(case).words().any(|word| word == "pairing"),
            grounds_hidden: hidden.contains(&true),
            others_hidden: hidden.contains(&false),
            has_capacitance: case.facts().iter().any(|fact| matches!(fact.kind, FactKind::Capacitance { .. })),
            networks: networks(case),
        }
    }
}

fn is_ground(role: Role) -> bool {
    matches!(role, Role::Ground | Role::Drain | Role::Return | Role::Shell)
}

fn runs(case: &Case<'_>, join: &joined::Join) -> Runs {
    let roles = join.points.map(|point| case.cable.role(point));
    if join.across && roles == [Role::Shell; 2] {
        Runs::Shell
    } else if join.signal && join.wire.is_none() {
        Runs::SignalWire
    } else if join.across && roles.iter().all(|role| matches!(role, Role::Ground | Role::Drain | Role::Return)) {
        Runs::Ground
    } else {
        Runs::Other
    }
}

fn networks(case: &Case<'_>) -> Vec<NetworkFile> {
    let mut files = Vec::new();
    for (line, fact) in (case.unit.facts.start..).zip(case.facts()) {
        let FactKind::SParameters { path, .. } = fact.kind else { continue };
        let Ok(points) = <[u32; 4]>::try_from(&*case.numbers(fact)) else { continue };
        files.push(NetworkFile {
            points: points.map(|point| case.point(point).to_owned()),
            ends: points.map(|point| case.ends.end(case.cable.points[point as usize].end).to_owned()),
            pairs: points.map(|point| case.pair(point).to_owned()),
            path: case.netlist.source.slice(path).to_owned(),
            label: case.at(line, "this file"),
        });
    }
    files
}
