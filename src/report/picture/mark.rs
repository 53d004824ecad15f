//! How a kind of fault is marked: a shape of its own in the picture, a character of its own on a terminal.

use crate::finding::{Code, Finding, Severity};

/// The shape that marks a kind of fault. The word beside it is the finding's code.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
#[non_exhaustive]
pub enum Mark {
    /// Danger: a triangle.
    Danger,
    /// A conductor or a screen is not there: a ring.
    Gap,
    /// Joined to what it must not touch: a diamond.
    Bridge,
    /// On the wrong contact, or with the wrong mate: an arrow.
    Place,
    /// A part in the plug: a box.
    Part,
    /// A figure against its limit: a hexagon.
    Figure,
    /// Not a fault, but something that the evidence can't show: a broken ring.
    Doubt,
}

impl Mark {
    /// Every mark.
    pub const ALL: [Mark; 7] = [Mark::Danger, Mark::Gap, Mark::Bridge, Mark::Place, Mark::Part, Mark::Figure, Mark::Doubt];

    /// The mark of a finding.
    #[must_use]
    pub fn of(finding: &Finding) -> Mark {
        if finding.hazard {
            return Mark::Danger;
        }
        if finding.severity != Severity::Fail {
            return Mark::Doubt;
        }
        match finding.code {
            Code::Open | Code::PairOpen | Code::ShieldOpen | Code::ShieldDrainOpen => Mark::Gap,
            Code::Short | Code::Unexpected | Code::ShieldToSignal | Code::ShieldBothEnds => Mark::Bridge,
            Code::PowerEndToEnd | Code::PowerShort => Mark::Bridge,
            code if code.text().starts_with("component.") => Mark::Part,
            code if code.text().starts_with("resistance.") || code.text().starts_with("isolation.") => Mark::Figure,
            _ => Mark::Place,
        }
    }

    /// The mark on a terminal.
    #[must_use]
    pub fn character(self) -> char {
        match self {
            Mark::Danger => '▲',
            Mark::Gap => '○',
            Mark::Bridge => '◆',
            Mark::Place => '►',
            Mark::Part => '■',
            Mark::Figure => '●',
            Mark::Doubt => '?',
        }
    }

    /// What it stands for, in words.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Mark::Danger => "do not connect",
            Mark::Gap => "not there",
            Mark::Bridge => "joined wrongly",
            Mark::Place => "wrong place or mate",
            Mark::Part => "part in the plug",
            Mark::Figure => "figure out of limits",
            Mark::Doubt => "can't be told",
        }
    }
}
