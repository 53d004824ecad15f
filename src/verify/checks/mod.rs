//! The families of checks, a file each.

mod components;
mod conductors;
pub(in crate::verify) mod contradictions;
pub(in crate::verify) mod coverage;
pub(in crate::verify) mod drawing;
mod isolation;
#[cfg(feature = "signal")]
mod link;
#[cfg(not(feature = "signal"))]
#[path = "link_unread.rs"]
mod link;
mod pairs;
mod place;
pub(in crate::verify) mod resistance;
mod shields;
mod supply;

pub use coverage::{ConductorRow, Coverage, PLAN_MOST, Plan, Share, Sight};

use crate::finding::Sink;
use crate::verify::case::{Case, whole_end};

/// A family of checks.
#[derive(Clone, Copy, Debug)]
#[non_exhaustive]
pub struct Check {
    /// Its name, as its file is called.
    pub name: &'static str,
    /// Looks at a unit and reports what it finds.
    pub run: fn(&Case<'_>, &mut Sink),
}

impl Check {
    /// A check of this name, as records keep it.
    #[must_use]
    pub const fn new(name: &'static str, run: fn(&Case<'_>, &mut Sink)) -> Self {
        Self { name, run }
    }
}

/// What all families find, and then the caller's own. These get a sink of their own, so that they can add to the findings
/// and take none away.
pub(in crate::verify) fn found(case: &Case<'_>, own: &[Check]) -> Sink {
    let mut sink = Sink::default();
    for check in CHECKS {
        (check.run)(case, &mut sink);
    }
    for check in own {
        let mut added = Sink::default();
        (check.run)(case, &mut added);
        added.into_findings().into_iter().for_each(|finding| sink.report(finding));
    }
    sink
}

/// Every family of checks, in the order in which they run.
pub const CHECKS: &[Check] = &[
    Check { name: "whole_end", run: whole_end::check },
    Check { name: "supply", run: supply::check },
    Check { name: "conductors", run: conductors::check },
    Check { name: "pairs", run: pairs::check },
    Check { name: "shields", run: shields::check },
    Check { name: "components", run: components::check },
    Check { name: "resistance", run: resistance::check },
    Check { name: "isolation", run: isolation::check },
    Check { name: "link", run: link::check },
    Check { name: "drawing", run: drawing::check },
    Check { name: "coverage", run: coverage::check },
];
