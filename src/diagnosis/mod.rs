//! Why a cable that rings out fails its signal: causes ranked by what was observed, and what to measure next.
//!
//! The model is small on purpose. A cause has a prior weight, and says how often each sign is seen with it; signs are
//! taken as independent of each other, given the cause (naive Bayes). All figures are judgements, lie in `causes.toml`,
//! and can be changed by the user. What was observed comes from the checks of a unit, from its S-parameters, and from
//! what a person says; none of it is ever taken for more than it shows.

mod evidence;
mod figures;
mod infer;
#[cfg(feature = "signal")]
mod link;
mod model;
#[cfg(feature = "signal")]
mod pairs;
mod raw;
mod words;

pub use evidence::{Evidence, Observation, Statement, gather};
pub use figures::{Place, SignalFigures};
pub use infer::{Claim, Diagnosis, Leaning, Next, Ranked, STRONG, infer};
#[cfg(feature = "signal")]
pub use link::Link;
pub use model::{Applies, Cause, Measurement, Model, OnlyWith, Sign, State};
#[cfg(feature = "signal")]
pub use pairs::figures;
pub use words::{claim, next, observation, observed_list, times, where_at, worth_listing};
