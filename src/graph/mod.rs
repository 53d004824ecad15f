//! Plain graph questions on petgraph, ignorant of cables: which points are one net, which joins lead from one to
//! another, and what a network of resistors measures.

mod moves;
mod nets;
mod network;
mod paths;

pub use moves::{Move, moves};
pub use nets::Nets;
pub use network::{EdgeError, Network};
pub use paths::Paths;
