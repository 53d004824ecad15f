//! Which port of an analyser is at which end of a pair.
//!
//! Files don't say it, and the usual orders give very different figures for the same cable. At low frequency nearly
//! everything goes through, so the strongest way out of a port names its far end (common practice, no source).

use std::fmt;

use super::Network;

/// How far apart, in dB, the strongest way out of a port and the next one must be for a guess (common practice, no source).
pub const CLEAR_DB: f64 = 6.0;

/// The most that may be lost on the way, in dB, for what comes out to be taken for a through path; what couples from one
/// conductor to another at low frequency is far below (common practice, no source).
pub const LEAST_DB: f64 = -20.0;

/// Where most of what goes into a port comes out.
#[derive(Clone, Copy, Debug, PartialEq)]
#[expect(clippy::exhaustive_structs, reason = "a plain pair of figures")]
pub struct Way {
    /// The port, from 0.
    pub to: usize,
    /// How much of it, in dB.
    pub decibel: f64,
}

/// An order of ports, for one pair (four ports) or two (eight).
///
/// For two pairs, the second pair goes on as the first: sequential is 1 to 4 near and 5 to 8 far.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[non_exhaustive]
pub enum PortOrder {
    /// Ports 1 and 2 near, 3 and 4 far; through paths 1→3 and 2→4.
    Sequential,
    /// Ports 1 and 3 near, 2 and 4 far; through paths 1→2 and 3→4.
    OddEven,
    /// Ports 1 and 2 near, 3 and 4 far, the far ends exchanged; through paths 1→4 and 2→3.
    Crossed,
}

/// Why an order can't be told from the figures.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub enum Doubt {
    /// The file has neither four ports nor eight.
    Ports(usize),
    /// It has no frequency above 0 Hz.
    NoFrequency,
    /// Next to nothing comes out of the others of what goes into a port: less than [`LEAST_DB`].
    NothingThrough {
        /// The port, from 0.
        from: usize,
        /// At this frequency in Hz.
        hertz: f64,
    },
    /// Two ways out of a port are too much alike.
    Close {
        /// The port that it goes into, from 0.
        from: usize,
        /// Where most comes out.
        strongest: Way,
        /// Where the next most does.
        next: Way,
        /// At this frequency in Hz.
        hertz: f64,
    },
    /// The through paths belong to none of the orders; port `i` leads to port `partners[i]`, from 0.
    Unknown {
        /// Where each port leads.
        partners: Vec<usize>,
    },
}

impl PortOrder {
    /// Every order.
    pub const ALL: [PortOrder; 3] = [PortOrder::Sequential, PortOrder::OddEven, PortOrder::Crossed];

    /// Its name.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            PortOrder::Sequential => "sequential",
            PortOrder::OddEven => "odd-even",
            PortOrder::Crossed => "crossed",
        }
    }

    /// The order of a name.
    #[must_use]
    pub fn named(name: &str) -> Option<PortOrder> {
        PortOrder::ALL.into_iter().find(|order| order.name() == name)
    }

    /// The ports, from 0, in sequential order: the near end of all conductors, then their far ends.
    ///
    /// None unless there are four ports or eight.
    #[must_use]
    pub fn sequence(self, ports: usize) -> Option<Vec<usize>> {
        if ports != 4 && ports != 8 {
            return None;
        }
        let half = ports / 2;
        Some(match self {
            PortOrder::Sequential => (0..ports).collect(),
            PortOrder::OddEven => (0..half).map(|at| 2 * at).chain((0..half).map(|at| 2 * at + 1)).collect(),
            PortOrder::Crossed => (0..half).chain((0..half).map(|at| half + (at ^ 1))).collect(),
        })
    }

    /// The through paths, from near end to far end, ports from 0; none unless there are four ports or eight.
    #[must_use]
    pub fn through(self, ports: usize) -> Vec<(usize, usize)> {
        let sequence = self.sequence(ports).unwrap_or_default();
        let (near, far) = sequence.split_at(sequence.len() / 2);
        near.iter().copied().zip(far.iter().copied()).collect()
    }

    /// The order shown: "ports 1 and 3 at the near end, through paths 1→2, 3→4".
    #[must_use]
    pub fn shown(self, ports: usize) -> String {
        let through = self.through(ports);
        let near: Vec<String> = through.iter().map(|(near, _)| (near + 1).to_string()).collect();
        let paths: Vec<String> = through.iter().map(|(near, far)| format!("{}→{}", near + 1, far + 1)).collect();
        let near = match near.split_last() {
            Some((last, before)) if !before.is_empty() => format!("{} and {last}", before.join(", ")),
            _ => near.concat(),
        };
        format!("ports {near} at the near end, through paths {}", paths.join(", "))
    }

    /// The order that the through paths of a network show.
    ///
    /// # Errors
    /// Why it can't be told: it is refused where the strongest way out of any port isn't [`CLEAR_DB`] above the next, or
    /// is below [`LEAST_DB`].
    pub fn guess(network: &Network) -> Result<PortOrder, Doubt> {
        let ports = network.ports();
        if PortOrder::Sequential.sequence(ports).is_none() {
            return Err(Doubt::Ports(ports));
        }
        let partners = (0..ports).map(|port| leads_to(network, port).map(|way| way.to)).collect::<Result<Vec<usize>, Doubt>>()?;
        let fits =
            |order: &PortOrder| order.through(ports).iter().all(|(near, far)| partners[*near] == *far && partners[*far] == *near);
        PortOrder::ALL.into_iter().find(fits).ok_or(Doubt::Unknown { partners })
    }
}

/// Where most of what goes into a port comes out, at the lowest frequency above 0 Hz.
///
/// # Errors
/// Where less than [`LEAST_DB`] comes through, or two ways out are less than [`CLEAR_DB`] apart.
pub fn leads_to(network: &Network, from: usize) -> Result<Way, Doubt> {
    let (row, hertz) = lowest(network).ok_or(Doubt::NoFrequency)?;
    let (ports, matrix) = (network.ports(), network.matrix(row));
    if from >= ports {
        return Err(Doubt::Ports(ports));
    }
    let decibel = |to: usize| 20.0 * libm::log10(matrix[to * ports + from].norm());
    let mut ways: Vec<Way> = (0..ports).filter(|to| *to != from).map(|to| Way { to, decibel: decibel(to) }).collect();
    ways.sort_by(|one, other| other.decibel.total_cmp(&one.decibel).then(one.to.cmp(&other.to)));
    match ways.as_slice() {
        [] => Err(Doubt::Ports(ports)),
        [strongest, ..] if strongest.decibel < LEAST_DB => Err(Doubt::NothingThrough { from, hertz }),
        [strongest, next, ..] if strongest.decibel - next.decibel < CLEAR_DB => {
            Err(Doubt::Close { from, strongest: *strongest, next: *next, hertz })
        }
        [strongest, ..] => Ok(*strongest),
    }
}

/// The row of the lowest frequency above 0 Hz, and that frequency.
fn lowest(network: &Network) -> Option<(usize, f64)> {
    network.frequencies().iter().copied().enumerate().find(|(_, hertz)| *hertz > 0.0)
}

impl fmt::Display for Doubt {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Doubt::Ports(ports) => {
                write!(f, "a pair has four ports and two pairs have eight; this network has {ports}")
            }
            Doubt::NoFrequency => write!(f, "there is no frequency above 0 Hz"),
            Doubt::NothingThrough { from, hertz } => {
                write!(f, "at {} MHz, less than {LEAST_DB} dB comes through from port {}", hertz / 1e6, from + 1)
            }
            Doubt::Close { from, strongest, next, hertz } => write!(
                f,
                "at {} MHz, port {} gives {:.1} dB to port {} and {:.1} dB to port {}: less than {CLEAR_DB} dB apart",
                hertz / 1e6,
                from + 1,
                strongest.decibel,
                strongest.to + 1,
                next.decibel,
                next.to + 1
            ),
            Doubt::Unknown { partners } => {
                let paths: Vec<String> =
                    partners.iter().enumerate().map(|(from, to)| format!("{}→{}", from + 1, to + 1)).collect();
                write!(f, "the through paths are {}, which is none of the usual orders", paths.join(", "))
            }
        }
    }
}

impl std::error::Error for Doubt {}
