//! The codes of the findings, and what is fixed about each.
//!
//! Codes are stable: scripts and reports refer to them. Each has one page of explanation, a file in `pages/`.

use serde::{Serialize, Serializer};

use super::Severity;

macro_rules! codes {
    ($($(#[$doc:meta])* $name:ident = $text:literal;)*) => {
        /// What kind of fault a finding is.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub enum Code {
            $($(#[$doc])* $name,)*
        }

        impl Code {
            /// Every code, in the order of the documentation.
            pub const ALL: &'static [Code] = &[$(Code::$name,)*];

            /// The code as reports write it.
            #[must_use]
            pub fn text(self) -> &'static str {
                match self { $(Code::$name => $text,)* }
            }

            /// The page that `backshell explain` shows.
            #[must_use]
            pub fn page(self) -> Page {
                Page(match self { $(Code::$name => include_str!(concat!("pages/", $text, ".md")),)* })
            }
        }
    };
}

codes! {
    /// A required conductor is not there.
    Open = "open";
    /// Both conductors of a pair are not there.
    PairOpen = "pair.open";
    /// Conductors that must stay apart are joined.
    Short = "short";
    /// Two conductors, not of one pair, land on each other's pins.
    Swapped = "swapped";
    /// One conductor lands on a wrong pin, or three or more go round in a circle.
    Miswired = "miswired";
    /// The two conductors of one pair are exchanged.
    PairReversed = "pair.reversed";
    /// Two whole pairs are exchanged.
    PairTransposed = "pair.transposed";
    /// Every conductor lands right, but is twisted with a conductor of another pair.
    PairSplit = "pair.split";
    /// Something is joined to a pin that must be left alone.
    Unexpected = "unexpected";
    /// Shells, or the overall shield, are not joined where they must be.
    ShieldOpen = "shield.open";
    /// A pair screen's drain is missing at a pin that must carry it.
    ShieldDrainOpen = "shield.drain-open";
    /// A shield touches a signal conductor.
    ShieldToSignal = "shield.to-signal";
    /// A shield is bonded at both ends where only one end may be.
    ShieldBothEnds = "shield.both-ends";
    /// The supply pin is wired through in a passive cable that must leave it unconnected.
    PowerEndToEnd = "power.end-to-end";
    /// A supply conductor is joined to its return, to a signal or to a shield.
    PowerShort = "power.short";
    /// A part that belongs into the plug was not found.
    ComponentMissing = "component.missing";
    /// A part in the plug has the wrong value.
    ComponentValue = "component.value";
    /// A part that does not belong there.
    ComponentUnexpected = "component.unexpected";
    /// A diode in the plug points the wrong way.
    ComponentReversed = "component.reversed";
    /// A resistance above its limit.
    ResistanceHigh = "resistance.high";
    /// A resistance below what copper can have.
    ResistanceLow = "resistance.low";
    /// The conductors of a pair differ.
    ResistanceUnbalance = "resistance.unbalance";
    /// Within the limit, but far from the siblings.
    ResistanceOutlier = "resistance.outlier";
    /// The figures fit a thinner wire than was declared.
    ConductorThin = "conductor.thin";
    /// The figures fit an aluminium core.
    ConductorAluminium = "conductor.aluminium";
    /// Insulation below its limit.
    IsolationLow = "isolation.low";
    /// The lanes don't carry the rate that the cable is sold for.
    LinkRate = "link.rate";
    /// A file of S-parameters that the netlist names can't be used.
    LinkUnread = "link.unread";
    /// One end's pins were numbered from the wrong side.
    NumberingMirrored = "numbering.mirrored";
    /// The two rows of one end's contact field were exchanged.
    NumberingRowsExchanged = "numbering.rows-exchanged";
    /// One end's pins are off by one.
    NumberingShifted = "numbering.shifted";
    /// The two ends are the other way round.
    EndsExchanged = "ends.exchanged";
    /// Pin for pin where the cable crosses.
    WiringStraight = "wiring.straight";
    /// Crossed where the cable runs straight.
    WiringCrossed = "wiring.crossed";
    /// Another published wiring.
    WiringVariant = "wiring.variant";
    /// What this netlist could not have shown.
    CoverageBlind = "coverage.blind";
    /// A point names a pin that the connector doesn't have.
    DrawingNoSuchPin = "drawing.no-such-pin";
    /// Two wires end on one contact.
    DrawingContactTwice = "drawing.contact-twice";
    /// No length.
    DrawingLengthMissing = "drawing.length-missing";
    /// No conductor size.
    DrawingGaugeMissing = "drawing.gauge-missing";
    /// The gauge is too thin for the length.
    DrawingGaugeThin = "drawing.gauge-thin";
    /// One signal in two gauges.
    DrawingGaugeTwice = "drawing.gauge-twice";
    /// It isn't said which conductors are twisted together.
    DrawingPairsMissing = "drawing.pairs-missing";
    /// A contact is neither wired nor declared unused.
    DrawingContactUnsaid = "drawing.contact-unsaid";
    /// A length or a part without its tolerance.
    DrawingToleranceMissing = "drawing.tolerance-missing";
    /// A length without saying from where to where.
    DrawingDatumMissing = "drawing.datum-missing";
    /// It isn't said from which side the contacts are seen.
    DrawingViewMissing = "drawing.view-missing";
    /// Another connector than the map has.
    DrawingConnectorDiffers = "drawing.connector-differs";
    /// It isn't said whether the cable is screened.
    DrawingScreenUnsaid = "drawing.screen-unsaid";
}

impl Code {
    /// How much it weighs, where nothing that is particular to a unit speaks for less (rows from memory, a figure near its
    /// limit).
    #[must_use]
    pub fn usual_severity(self) -> Severity {
        match self {
            Code::CoverageBlind
            | Code::LinkUnread
            | Code::ResistanceOutlier
            | Code::DrawingPairsMissing
            | Code::DrawingContactUnsaid
            | Code::DrawingToleranceMissing
            | Code::DrawingDatumMissing
            | Code::DrawingViewMissing
            | Code::DrawingScreenUnsaid => Severity::Caution,
            _ => Severity::Fail,
        }
    }

    /// The code of that name.
    #[must_use]
    pub fn parse(text: &str) -> Option<Code> {
        Code::ALL.iter().copied().find(|code| code.text() == text)
    }
}

impl std::fmt::Display for Code {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(self.text())
    }
}

impl Serialize for Code {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(self.text())
    }
}

/// The explanation of one code: a title, a one-line summary and sections with fixed headings.
#[derive(Clone, Copy, Debug)]
pub struct Page(&'static str);

impl Page {
    /// The headings that every page has, in this order. A page may close with `Caution`.
    pub const HEADINGS: [&'static str; 6] = [
        "What it means",
        "How it comes about",
        "What it does to the link",
        "How to confirm it",
        "Usual repair",
        "Standard behind it",
    ];

    /// The whole page.
    #[must_use]
    pub fn text(self) -> &'static str {
        self.0
    }

    /// The title in one line, without the code before it.
    #[must_use]
    pub fn title(self) -> &'static str {
        let first = self.0.lines().next().unwrap_or_default();
        first.split_once(": ").map_or(first, |(_, title)| title)
    }

    /// The summary in one line.
    #[must_use]
    pub fn summary(self) -> &'static str {
        self.0.lines().skip(1).find(|line| !line.trim().is_empty()).unwrap_or_default()
    }
}
