//! The least surprising set of faults behind measured nets.
//!
//! Everything that was measured is explained exactly, by three kinds of fault:
//! a wanted net that is broken ([`Fault::Open`]), wanted nets that are joined ([`Fault::Join`]), and contacts of one end
//! that took each other's places ([`Fault::Exchange`]). See [`explain`].

mod group;
mod search;

pub use search::{Cost, explain, explain_by};

/// One fault.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
#[non_exhaustive]
pub enum Fault {
    /// A wanted net is broken into pieces.
    Open {
        /// The wanted net, by its lowest point.
        net: u32,
        /// The pieces, as the contacts that hold them now; two or more.
        pieces: Vec<Vec<u32>>,
    },
    /// Wanted nets are joined.
    Join {
        /// The wanted nets, each by its lowest point; two or more.
        nets: Vec<u32>,
        /// Every contact of the joined net, as measured.
        contacts: Vec<u32>,
    },
    /// Contacts of one end that took each other's places, in a circle: what belongs on each is found on the next.
    Exchange {
        /// Two places or more; each is a contact, or several contacts that are tied together and moved as one.
        places: Vec<Vec<u32>>,
    },
}

/// A set of faults that reproduces the measured nets exactly.
#[derive(Clone, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub struct Explanation {
    /// The faults, in a fixed order.
    pub faults: Vec<Fault>,
    /// What they cost together.
    pub cost: u32,
    /// True where no cheaper set exists within the model.
    pub proven: bool,
}
