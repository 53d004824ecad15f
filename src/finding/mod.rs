//! Findings: what is wrong, where it shows, and the static facts about each code.

mod code;
mod problem;
mod sink;

pub use code::{Code, Page};
pub use problem::{Label, Problem};
pub use sink::{Finding, Severity, Sink, Verdict};
