//! What a finding about a drawing calls for, the most pressing first.

use super::{Code, Finding, Severity};

/// What a finding about a drawing calls for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[non_exhaustive]
pub enum Grade {
    /// The drawing can't be built as it stands, or would be dangerous.
    StopsTheOrder,
    /// Built as it is drawn, the cable is wrong.
    ChangesTheBuild,
    /// Something that must be asked.
    ToAsk,
    /// Something that is better said.
    ToTidy,
}

impl Grade {
    /// Every grade, in order.
    pub const ALL: [Grade; 4] = [Grade::StopsTheOrder, Grade::ChangesTheBuild, Grade::ToAsk, Grade::ToTidy];

    /// The grade of a finding.
    #[must_use]
    pub fn of(finding: &Finding) -> Self {
        let unbuildable = matches!(
            finding.code,
            Code::DrawingNoSuchPin
                | Code::DrawingContactTwice
                | Code::DrawingLengthMissing
                | Code::DrawingGaugeMissing
                | Code::DrawingConnectorDiffers
        );
        match finding.severity {
            Severity::Fail if finding.hazard || unbuildable => Grade::StopsTheOrder,
            Severity::Fail => Grade::ChangesTheBuild,
            Severity::Caution => Grade::ToAsk,
            Severity::Note => Grade::ToTidy,
        }
    }

    /// The grade in words.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Grade::StopsTheOrder => "Stops the order",
            Grade::ChangesTheBuild => "Changes the build",
            Grade::ToAsk => "To ask",
            Grade::ToTidy => "To tidy",
        }
    }
}
