//! Putting things back into their places, one at a time.

use std::collections::BTreeMap;

/// One move of what sits in a place.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[expect(clippy::exhaustive_enums, reason = "with one place to hold things aside there are no other moves")]
pub enum Move {
    /// Out of its place, to be held aside.
    Lift {
        /// The place.
        from: u32,
    },
    /// From one place into another, which is empty.
    Shift {
        /// The place.
        from: u32,
        /// The empty place.
        to: u32,
    },
    /// What is held aside, into a place that is empty.
    Seat {
        /// The empty place.
        to: u32,
    },
}

/// The fewest moves that put everything where it belongs, in an order in which each goes into an empty place and at most one
/// thing is held aside. `sits` says of each occupied place where its occupant belongs; a place that isn't named is empty.
///
/// Whatever sits wrong must move once, and each closed circle needs one thing more to be held aside, so that no shorter
/// list exists. Two occupants that belong to one place are left where they are.
///
/// ```
/// use backshell::graph::{Move, moves};
/// // two exchanged
/// assert_eq!(moves([(1, 3), (3, 1)]), [Move::Lift { from: 1 }, Move::Shift { from: 3, to: 1 }, Move::Seat { to: 3 }]);
/// // one in a place that should be empty
/// assert_eq!(moves([(1, 2)]), [Move::Shift { from: 1, to: 2 }]);
/// ```
#[must_use]
pub fn moves(sits: impl IntoIterator<Item = (u32, u32)>) -> Vec<Move> {
    let mut belongs: BTreeMap<u32, u32> = sits.into_iter().filter(|(place, home)| place != home).collect();
    let mut sits_at: BTreeMap<u32, u32> = BTreeMap::new();
    let mut doubled = Vec::new();
    for (place, home) in &belongs {
        if sits_at.insert(*home, *place).is_some() {
            doubled.push(*home);
        }
    }
    for home in doubled {
        belongs.retain(|_, other| *other != home);
        sits_at.remove(&home);
    }
    let mut list = Vec::new();
    // where a place is empty, its occupant moves in and leaves another place empty
    let empty: Vec<u32> = sits_at.keys().copied().filter(|home| !belongs.contains_key(home)).collect();
    for home in empty {
        fill(home, &mut belongs, &mut sits_at, &mut list);
    }
    while let Some((place, home)) = belongs.pop_first() {
        sits_at.remove(&home);
        list.push(Move::Lift { from: place });
        fill(place, &mut belongs, &mut sits_at, &mut list);
        list.push(Move::Seat { to: home });
    }
    list
}

/// Fills an empty place, and then the one that this leaves empty, as long as something belongs there.
fn fill(mut empty: u32, belongs: &mut BTreeMap<u32, u32>, sits_at: &mut BTreeMap<u32, u32>, list: &mut Vec<Move>) {
    while let Some(from) = sits_at.remove(&empty) {
        belongs.remove(&from);
        list.push(Move::Shift { from, to: empty });
        empty = from;
    }
}
