//! Faults in the terms of the trade: those of a pair are folded into one.

use crate::cause::Fault;
use crate::graph::Nets;
use crate::pinmap::Cable;

/// One physical fault of a cable.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Trouble {
    /// A wanted net is broken into pieces.
    Open {
        /// The net.
        net: u32,
        /// The contacts of each piece.
        pieces: Vec<Vec<u32>>,
    },
    /// Both conductors of a pair are broken.
    PairOpen {
        /// The two nets, the lower first.
        nets: [u32; 2],
    },
    /// Wanted nets are joined.
    Join {
        /// The nets.
        nets: Vec<u32>,
        /// Every contact of the joined net.
        contacts: Vec<u32>,
    },
    /// The two contacts of a pair took each other's places.
    Reversed {
        /// The contacts.
        contacts: [u32; 2],
    },
    /// Two pairs took each other's places.
    Transposed {
        /// Each entry is one exchange of two contacts.
        exchanges: [[u32; 2]; 2],
        /// True where plus sits on minus.
        flipped: bool,
    },
    /// Other contacts of one end took each other's places, in a circle.
    Exchange {
        /// The places, two or more; each is a contact, or several that moved as one.
        places: Vec<Vec<u32>>,
    },
}

/// Folds the faults of one unit.
#[must_use]
pub fn fold(cable: &Cable, wanted: &Nets, faults: Vec<Fault>) -> Vec<Trouble> {
    let mut troubles = Vec::new();
    let mut swaps: Vec<[u32; 2]> = Vec::new();
    let mut opens: Vec<(u32, Vec<Vec<u32>>)> = Vec::new();
    for fault in faults {
        match fault {
            Fault::Open { net, pieces } => opens.push((net, pieces)),
            Fault::Join { nets, contacts } => troubles.push(Trouble::Join { nets, contacts }),
            Fault::Exchange { places } => {
                let singles: Vec<u32> = places.iter().filter(|place| place.len() == 1).map(|place| place[0]).collect();
                match (singles.as_slice(), places.len()) {
                    ([a, b], 2) if cable.pair_partner(*a) == Some(*b) => {
                        troubles.push(Trouble::Reversed { contacts: [*a, *b] });
                    }
                    ([a, b], 2) => swaps.push([*a, *b]),
                    _ => troubles.push(Trouble::Exchange { places }),
                }
            }
        }
    }
    while let Some([a, b]) = swaps.pop() {
        let partners = (cable.pair_partner(a), cable.pair_partner(b));
        let other = swaps.iter().position(|[c, d]| partners == (Some(*c), Some(*d)) || partners == (Some(*d), Some(*c)));
        troubles.push(match other {
            Some(at) => Trouble::Transposed { exchanges: [swaps.remove(at), [a, b]], flipped: cable.role(a) != cable.role(b) },
            None => Trouble::Exchange { places: vec![vec![a], vec![b]] },
        });
    }
    while let Some((net, pieces)) = opens.pop() {
        let partner = partner_net(cable, wanted, net);
        troubles.push(match opens.iter().position(|(other, _)| Some(*other) == partner) {
            Some(at) => {
                let (other, _) = opens.remove(at);
                Trouble::PairOpen { nets: [net.min(other), net.max(other)] }
            }
            None => Trouble::Open { net, pieces },
        });
    }
    troubles.sort_by_key(lowest);
    troubles
}

/// The net of the other conductor of the pair that a net is one of.
fn partner_net(cable: &Cable, wanted: &Nets, net: u32) -> Option<u32> {
    cable.pair_partner(net).map(|partner| wanted.of(partner))
}

/// The lowest contact of a fault, by which faults are put in order.
fn lowest(trouble: &Trouble) -> u32 {
    match trouble {
        Trouble::Open { net, .. } => *net,
        Trouble::PairOpen { nets } => nets[0],
        Trouble::Join { contacts, .. } => contacts.iter().min().copied().unwrap_or(0),
        Trouble::Exchange { places } => places.iter().flatten().min().copied().unwrap_or(0),
        Trouble::Reversed { contacts } => contacts[0].min(contacts[1]),
        Trouble::Transposed { exchanges, .. } => exchanges.iter().flatten().min().copied().unwrap_or(0),
    }
}
