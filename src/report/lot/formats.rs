//! A lot as SARIF and as JUnit XML: its units as `check` reports them, then the decision on each group.

use std::io::{self, Write};

use serde::Serialize;

use crate::lot::Decision;
use crate::text::visible;

use super::super::Writer;
use super::super::junit::{Case, CaseResult, Junit};
use super::super::sarif::{Kind, Rule, Sarif};
use super::model::{GroupReport, LotReport};

/// A report on units that can close with the decision on their lot.
pub trait LotWriter: Writer {
    /// Takes the decision, and the exit status that goes with it; to be called before [`Writer::finish`].
    ///
    /// # Errors
    /// Where the output can't be written.
    fn lot(&mut self, report: &LotReport, status: u8) -> io::Result<()>;
}

/// What there is to say of a group beside its decision.
#[derive(Serialize)]
struct GroupProperties<'a> {
    group: String,
    decision: Decision,
    plan: &'a str,
    proves: &'a str,
    notes: &'a [String],
    size: u64,
    tested: u64,
    conforms: u64,
    fails: u64,
    inconclusive: u64,
    dangerous: u64,
}

fn properties(group: &GroupReport) -> GroupProperties<'_> {
    GroupProperties {
        group: visible(&group.group).into_owned(),
        decision: group.decision,
        plan: &group.plan,
        proves: &group.proves,
        notes: &group.notes,
        size: group.size,
        tested: group.tested,
        conforms: group.conforms,
        fails: group.fails,
        inconclusive: group.inconclusive,
        dangerous: group.dangerous,
    }
}

impl<W: Write> LotWriter for Sarif<W> {
    fn lot(&mut self, report: &LotReport, status: u8) -> io::Result<()> {
        for group in &report.groups {
            let kind = match group.decision {
                Decision::Accept => Kind::Pass,
                Decision::Reject => Kind::Fail,
                Decision::Hold | Decision::NotEnoughUnits => Kind::Open,
            };
            let text = format!("{}: {}: {}", group.group, group.decision.words(), group.reason);
            self.other(Rule::Lot, kind, &text, properties(group))?;
        }
        self.decided(report.decision, status);
        Ok(())
    }
}

impl<W: Write> LotWriter for Junit<W> {
    fn lot(&mut self, report: &LotReport, _: u8) -> io::Result<()> {
        for group in &report.groups {
            let message = format!("{}: {}", group.decision.words(), visible(&group.reason));
            let text = format!("{message}\n  plan: {}\n  proof: {}", visible(&group.plan), visible(&group.proves));
            let (result, notes) = match group.decision {
                Decision::Accept => (CaseResult::Passed, text),
                Decision::Reject => (CaseResult::Failure { kind: "reject".to_owned(), message, text }, String::new()),
                Decision::Hold => (CaseResult::Failure { kind: "hold".to_owned(), message, text }, String::new()),
                Decision::NotEnoughUnits => {
                    (CaseResult::Failure { kind: "not-enough-units".to_owned(), message, text }, String::new())
                }
            };
            let name = visible(&group.group).into_owned();
            self.case("decision on the lot", Case { name, class: "lot".to_owned(), result, notes })?;
        }
        Ok(())
    }
}
