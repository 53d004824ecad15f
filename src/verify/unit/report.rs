//! The verdict on one unit.

use std::sync::Arc;

use crate::finding::{Finding, Verdict};
use crate::netlist::{Netlist, Unit};
use crate::pinmap::Cable;

#[cfg(feature = "signal")]
use crate::verify::case::link_grades::LinkGrade;
use crate::verify::checks::coverage::Coverage;

use super::Prepared;
use super::about::About;
use super::lot_facts::LotFacts;
use super::measured::Measured;
use super::not_shown::NotShown;
use super::wiring::Wiring;

/// The verdict on one unit.
#[derive(Debug)]
#[non_exhaustive]
pub struct UnitReport {
    /// The name; none for an unnamed unit.
    pub unit: Option<String>,
    /// The cable that it was checked against.
    pub cable: Arc<Cable>,
    /// Whether it is a drawing, and not a cable that was measured.
    pub is_drawing: bool,
    /// The verdict.
    pub verdict: Verdict,
    /// The findings, hazards first.
    pub findings: Vec<Finding>,
    /// What the supplied facts cannot speak of.
    pub not_shown: NotShown,
    /// For a unit that fails, what to do to it, step by step.
    pub rework: Vec<String>,
    /// What they show, where that was asked for.
    pub coverage: Option<Box<Coverage>>,
    /// What joins what, where it was asked for.
    pub wiring: Option<Wiring>,
    /// What was measured, where it was asked for.
    pub measured: Option<Box<Measured>>,
    /// Which test of this unit it is, from 1.
    pub attempt: u8,
    /// What a lot keeps of it, where that was asked for.
    pub lot: Option<Box<LotFacts>>,
    /// The links of which S-parameters were measured, with the rates that their lanes carry.
    #[cfg(feature = "signal")]
    pub links: Vec<LinkGrade>,
    /// What the netlist says of the unit itself, where it was asked for.
    pub about: Option<Box<About>>,
}

impl UnitReport {
    /// The report on a unit that can't be checked beyond these findings.
    pub(super) fn unreadable(prepared: &Prepared, netlist: &Netlist, unit: &Unit, findings: Vec<Finding>) -> Self {
        UnitReport {
            unit: netlist.name_of(unit).map(str::to_owned),
            cable: Arc::clone(&prepared.cable),
            is_drawing: true,
            verdict: Verdict::Fails,
            findings,
            not_shown: NotShown::everything(),
            rework: Vec::new(),
            coverage: None,
            wiring: None,
            measured: None,
            attempt: unit.attempt,
            lot: None,
            #[cfg(feature = "signal")]
            links: Vec::new(),
            about: None,
        }
    }
}
