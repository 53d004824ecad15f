//! Plain graph questions on petgraph, ignorant of cables: which points are one net, which joins lead from one to
//! another, what changed from one set of nets to another, and what a network of resistors measures.

mod change;
mod moves;
mod nets;
mod network;
mod paths;

pub use change::{Change, Changes, Step, changes};
pub use moves::{Move, moves};
pub use nets::{NetTable, Nets};
pub use network::{EdgeError, Network};
pub use paths::Paths;
