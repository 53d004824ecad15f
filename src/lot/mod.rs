//! A lot of units: what its sample proves, what its faults have in common, and whether it is accepted.
//!
//! [`Summary`] is a partial result: units go in one by one, summaries merge in any order, and the answer doesn't depend on how
//! the lot was split. Everything else reads a summary: [`patterns()`], [`outliers()`], [`capability()`], [`decide`], [`ranking()`].
//!
//! ```
//! use backshell::lot::upper_bound;
//! // three good samples out of three allow up to 63 % defective at 95 % confidence
//! assert_eq!((upper_bound(0, 3, 0.95) * 100.0).round(), 63.0);
//! ```

pub mod bench;
mod bounds;
mod capability;
mod counts;
mod decision;
mod drift;
mod group;
mod line;
mod outliers;
mod part;
mod patterns;
pub mod plan;
mod ranking;
pub mod record;
mod retest;
mod serials;
mod spread;
mod summary;
mod tables;
mod unit;

pub use bounds::{clopper_pearson, lower_bound, proves, upper_bound};
pub use capability::{Capability, Normality, capability, cpk_lower};
pub use counts::{EndFound, Extreme, Found, Grades, GroupKey, Metres, ReadingSpread, Tally};
pub use decision::{Asked, Decided, Decision, PlanUsed, decide, decide_lot};
pub use drift::{Drift, DriftKind, runs_lower_tail, split_test, trend_z};
pub use group::Group;
pub use line::{Along, Fit, Line, fit, lines};
pub use outliers::{Outlier, Robust, outliers};
pub use part::{PART_SCHEMA, read_part, write_part};
pub use patterns::{LEVEL, Pattern, PatternKind, patterns};
pub use ranking::{Ranked, SortBy, ranking};
pub use retest::{Attempt, Counted, Standing, counted};
pub use serials::{Bucket, Serials, serial};
pub use spread::Spread;
pub use summary::Summary;
pub use tables::{FULL_ATTEMPTS, FULL_NAMES, FULL_PATTERNS, FULL_PINS, FULL_READINGS, FULL_SERIALS, First};
pub use unit::{Fault, GradeReached, TestedUnit};
