//! What was measured of one unit, kept for those who ask why it fails its signal.

#[cfg(feature = "signal")]
use crate::finding::Problem;
use crate::netlist::FactKind;
use crate::pinmap::Role;
#[cfg(feature = "signal")]
use crate::signal::Network;
use crate::units::{Bound, area_mm2};

use crate::verify::case::Case;
use crate::verify::case::expected::{self, Wire};
use crate::verify::case::joined;
#[cfg(feature = "signal")]
use crate::verify::case::signal_files::SignalFile;

use super::not_shown::NotShown;

/// What was measured of one unit.
#[derive(Clone, Debug)]
#[non_exhaustive]
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
    /// The pairs of which S-parameters were measured.
    #[cfg(feature = "signal")]
    pub pairs: Vec<MeasuredPair>,
    /// What is wrong with the files of the others.
    #[cfg(feature = "signal")]
    pub problems: Vec<Problem>,
}

/// A resistance between two contacts.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
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
#[non_exhaustive]
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
#[non_exhaustive]
pub struct StatedWire {
    /// Plain copper, without the contacts.
    pub nominal: f64,
    /// What the contacts of both ends are taken to add.
    pub contacts: f64,
}

/// The S-parameters of a pair.
#[cfg(feature = "signal")]
#[derive(Clone, Debug)]
#[non_exhaustive]
pub struct MeasuredPair {
    /// The pair at the near end; empty where the two contacts are none.
    pub pair: String,
    /// The contacts of the near end, as numbers of [`Cable::points`](crate::pinmap::Cable::points).
    pub near: [u32; 2],
    /// The near end and the far end, as the netlist names them.
    pub ends: [String; 2],
    /// The network: ports 1 and 2 at the near contacts, 3 and 4 at those that they lead to.
    pub network: Network,
    /// The file, as the netlist names it.
    pub path: String,
}

impl Measured {
    /// What was measured of a unit.
    pub(in crate::verify) fn of(case: &Case<'_>) -> Self {
        #[cfg(feature = "signal")]
        let files = case.signal_files();
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
            #[cfg(feature = "signal")]
            pairs: files.files.iter().filter_map(|file| pair(case, file)).collect(),
            #[cfg(feature = "signal")]
            problems: files.problems.clone(),
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

/// A pair by its file.
#[cfg(feature = "signal")]
fn pair(case: &Case<'_>, file: &SignalFile) -> Option<MeasuredPair> {
    let numbers = case.bound.numbers(case.netlist.facts.get(file.fact as usize)?);
    let [one, two, far, _] = file.ports.map(|port| numbers.get(port).copied());
    let near = [one?, two?];
    let end = |point: u32| case.ends.end(case.cable.points[point as usize].end).to_owned();
    let is_pair = case.cable.pair_partner(near[0]) == Some(near[1]);
    Some(MeasuredPair {
        pair: if is_pair { case.pair(near[0]).to_owned() } else { String::new() },
        near,
        ends: [end(near[0]), end(far?)],
        network: file.network.clone(),
        path: file.path.display().to_string(),
    })
}
