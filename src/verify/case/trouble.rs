//! Faults in the terms of the trade: those of a pair are folded into one.

use std::collections::BTreeMap;

use crate::cause::{Cost, Fault};
use crate::graph::Nets;
use crate::pinmap::Cable;

/// One physical fault of a cable.
#[derive(Clone, Debug, PartialEq, Eq)]
#[non_exhaustive]
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
    let mut circles: Vec<Vec<u32>> = Vec::new();
    let mut opens: Vec<(u32, Vec<Vec<u32>>)> = Vec::new();
    for fault in faults {
        match fault {
            Fault::Open { net, pieces } => opens.push((net, pieces)),
            Fault::Join { nets, contacts } => troubles.push(Trouble::Join { nets, contacts }),
            Fault::Exchange { places } if places.iter().all(|place| place.len() == 1) => circles.push(places.concat()),
            Fault::Exchange { places } => troubles.push(Trouble::Exchange { places }),
        }
    }
    transposed(cable, &mut circles, &mut troubles);
    troubles.extend(circles.into_iter().map(|circle| match circle[..] {
        [a, b] if cable.pair_partner(a) == Some(b) => Trouble::Reversed { contacts: [a, b] },
        _ => Trouble::Exchange { places: circle.into_iter().map(|contact| vec![contact]).collect() },
    }));
    let mut opens: BTreeMap<u32, Vec<Vec<u32>>> = opens.into_iter().collect();
    while let Some((net, pieces)) = opens.pop_last() {
        let partner = partner_net(cable, wanted, net).filter(|partner| opens.remove(partner).is_some());
        troubles.push(match partner {
            Some(other) => Trouble::PairOpen { nets: [net.min(other), net.max(other)] },
            None => Trouble::Open { net, pieces },
        });
    }
    troubles.sort_by_key(lowest);
    troubles
}

/// The longest circle in which a transposition of pairs is looked for: longer ones are no two or three faults.
const CIRCLE: usize = 8;

/// Takes the transpositions of two pairs out of what moved in circles: each is one fault that does two exchanges, so one
/// that leaves two exchanges less to explain is taken, plus on plus rather than plus on minus.
///
/// What is left may be circles that share contacts with a transposition: it comes first, and the transposition after it.
fn transposed(cable: &Cable, circles: &mut Vec<Vec<u32>>, troubles: &mut Vec<Trouble>) {
    for flipped in [false, true] {
        let mut at = 0;
        while at < circles.len() {
            if let Some((exchanges, touched, left)) = transposition(cable, circles, at, flipped) {
                let mut nth = 0..;
                circles.retain(|_| nth.next().is_none_or(|nth: usize| !touched.contains(&nth)));
                circles.extend(left);
                troubles.push(Trouble::Transposed { exchanges, flipped });
                at = 0;
            } else {
                at += 1;
            }
        }
    }
}

/// A transposition with its two exchanges, the circles that it touches, and what is left of them.
type Transposition = ([[u32; 2]; 2], [usize; 2], Vec<Vec<u32>>);

/// A transposition that moves contacts of one circle, if there is one.
fn transposition(cable: &Cable, circles: &[Vec<u32>], at: usize, flipped: bool) -> Option<Transposition> {
    let circle = &circles[at];
    for (nth, a) in circle.iter().enumerate().take_while(|_| circle.len() <= CIRCLE) {
        let Some(c) = cable.pair_partner(*a) else { continue };
        let Some(other) = circles.iter().position(|circle| circle.len() <= CIRCLE && circle.contains(&c)) else { continue };
        for b in circle[nth + 1..].iter().filter(|b| **b != c && (cable.role(*a) != cable.role(**b)) == flipped) {
            let Some(d) = cable.pair_partner(*b).filter(|d| circles[other].contains(d)) else { continue };
            let both: Vec<&Vec<u32>> = if other == at { vec![circle] } else { vec![circle, &circles[other]] };
            let exchanges = [[*a, *b], [c, d]];
            let left = without(&both, exchanges);
            let count = |circles: &mut dyn Iterator<Item = usize>| circles.map(|length| length - 1).sum::<usize>();
            if count(&mut left.iter().map(Vec::len)) + 2 == count(&mut both.iter().map(|circle| circle.len())) {
                return Some((exchanges, [at, other], left));
            }
        }
    }
    None
}

/// The circles that are left once these contacts have been exchanged back.
fn without(circles: &[&Vec<u32>], exchanges: [[u32; 2]; 2]) -> Vec<Vec<u32>> {
    let back = |contact: u32| {
        let found = exchanges.iter().find(|exchange| exchange.contains(&contact));
        found.map_or(contact, |[a, b]| if *a == contact { *b } else { *a })
    };
    let moves = circles.iter().flat_map(|circle| circle.iter().copied().zip(circle.iter().copied().cycle().skip(1)));
    let mut next: BTreeMap<u32, u32> = moves.map(|(from, to)| (from, back(to))).collect();
    let mut left = Vec::new();
    while let Some((start, mut to)) = next.pop_first() {
        let mut circle = vec![start];
        while to != start {
            circle.push(to);
            to = next.remove(&to).unwrap_or(start);
        }
        if circle.len() > 1 {
            left.push(circle);
        }
    }
    left
}

/// What troubles cost, in the terms of [`Cost`]: each as one fault, a circle by the exchanges that it takes, a break and a
/// bridge by each piece and each net more than one.
#[must_use]
pub fn cost(troubles: &[Trouble]) -> u32 {
    let faults: usize = troubles
        .iter()
        .map(|trouble| match trouble {
            Trouble::Exchange { places } => places.len() - 1,
            Trouble::Open { pieces, .. } => pieces.len() - 1,
            Trouble::Join { nets, .. } => nets.len() - 1,
            _ => 1,
        })
        .sum();
    u32::try_from(faults).unwrap_or(u32::MAX).saturating_mul(Cost::OPEN)
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
