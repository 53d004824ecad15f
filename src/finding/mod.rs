//! Findings: what is wrong, where it shows, and the static facts about each code.

mod code;
mod grade;
mod problem;
mod sink;

pub use code::{Code, Page};
pub use grade::Grade;
pub use problem::{Label, Problem};
pub use sink::{Finding, Severity, Sink, Verdict};
