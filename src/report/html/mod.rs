//! The report as one HTML file that needs nothing beside it: for a unit or a lot, and as certificate or non-conformance report.
//!
//! [`HtmlReport`] takes the verdicts as they come and keeps what a page can hold; [`HtmlReport::page`] writes it. The page is
//! XHTML at the same time, holds no script, and asks for nothing from anywhere. It stays below 5 MB however many units there are:
//! what doesn't fit is counted, and the page says so.

mod cautions;
mod collect;
mod faces;
mod figures;
mod heat;
#[cfg(feature = "signal")]
mod links;
#[cfg(not(feature = "signal"))]
#[path = "links_unread.rs"]
mod links;
mod lot;
#[cfg(feature = "signal")]
mod plots;
mod shell;
mod unit;
mod views;

pub use collect::HtmlReport;

use super::picture::fit;
use crate::text::count;

/// Which face of the report.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub enum HtmlFace {
    /// Everything: verdict, findings, figures, what wasn't tested, where it comes from.
    Report,
    /// A certificate of conformity, for someone to sign; only where every unit conforms.
    Certificate,
    /// A non-conformance report; a person decides what becomes of the units.
    NonConformance,
}

/// What the user says of the paper, beside the netlists.
#[derive(Clone, Debug, Default)]
#[non_exhaustive]
pub struct HtmlSaid {
    /// The date on the paper. There is none unless it is said.
    pub date: Option<String>,
    /// The order and its line.
    pub order: Option<String>,
    /// The instrument with its serial number and when its calibration is due.
    pub instrument: Option<String>,
    /// The number of the paper.
    pub number: Option<String>,
}

impl HtmlSaid {
    /// The date on the paper. There is none unless it is said.
    #[must_use]
    pub fn with_date(self, date: impl Into<String>) -> Self {
        Self { date: Some(date.into()), ..self }
    }

    /// The order and its line.
    #[must_use]
    pub fn with_order(self, order: impl Into<String>) -> Self {
        Self { order: Some(order.into()), ..self }
    }

    /// The instrument with its serial number and when its calibration is due.
    #[must_use]
    pub fn with_instrument(self, instrument: impl Into<String>) -> Self {
        Self { instrument: Some(instrument.into()), ..self }
    }

    /// The number of the paper.
    #[must_use]
    pub fn with_number(self, number: impl Into<String>) -> Self {
        Self { number: Some(number.into()), ..self }
    }
}

/// Names, in columns.
const NAME: usize = 120;

/// Sentences, in columns.
const SENTENCE: usize = 1_200;

/// A name that can't break the page: without control characters, and cut with `…` where it is long.
fn name(text: &str) -> String {
    fit(text, NAME)
}

/// A sentence, likewise.
fn sentence(text: &str) -> String {
    fit(text, SENTENCE)
}

/// How many came out how, in words.
fn verdicts(conforms: u64, fails: u64, inconclusive: u64) -> String {
    format!("{}, {}, {inconclusive} inconclusive", count(conforms, "conforms", "conform"), count(fails, "fails", "fail"))
}
