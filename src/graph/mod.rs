//! Plain graph questions on petgraph, ignorant of cables: which points are one net, and which joins lead from one to
//! another.

mod nets;
mod paths;

pub use nets::Nets;
pub use paths::Paths;
