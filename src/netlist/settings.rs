//! The header lines: what a unit is and how it was measured.

use crate::text::Span;
use crate::units::Quantity;

/// A header line: its value and where it stands.
#[derive(Clone, Copy, Debug, PartialEq)]
#[non_exhaustive]
pub struct Setting<T> {
    /// What was said.
    pub value: T,
    /// The whole line, without its comment.
    pub line: Span,
}

/// A word or quoted text, without its quotation marks, as a span of the source.
pub type Word = Span;

/// Where a netlist comes from.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
#[non_exhaustive]
pub enum Origin {
    /// From a tester or a meter.
    #[default]
    Measured,
    /// From a supplier's drawing.
    Drawing,
}

/// From where the contacts of a drawing are seen.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[expect(clippy::exhaustive_enums, reason = "contacts are seen from the mating face or from behind")]
pub enum View {
    /// At the face that mates with the other connector.
    MatingFace,
    /// From the side where the conductors go in.
    WiringSide,
}

impl View {
    /// The word for it, as the language writes it.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            View::MatingFace => "mating-face",
            View::WiringSide => "wiring-side",
        }
    }
}

/// How far a netlist goes.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
#[non_exhaustive]
pub enum Scope {
    /// Every point was probed: one that isn't named is open.
    #[default]
    All,
    /// Only the named points were probed, each against all others that are named.
    Listed,
    /// Only what the lines state was probed, pair by pair: two points of which no line says whether they are joined are
    /// unknown.
    Stated,
}

impl Scope {
    /// The word for it, as the language writes it.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Scope::All => "all",
            Scope::Listed => "listed",
            Scope::Stated => "stated",
        }
    }
}

/// What was done to a unit between its first test and a retest.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, serde::Serialize, serde::Deserialize)]
#[non_exhaustive]
pub enum Action {
    /// The plugs were pulled and mated again.
    #[serde(rename = "re-mated")]
    Remated,
    /// The contacts were cleaned.
    #[serde(rename = "cleaned")]
    Cleaned,
    /// The adapter, the leads or the program of the tester were at fault, and were put right.
    #[serde(rename = "set-up-corrected")]
    SetUpCorrected,
    /// The unit was repaired.
    #[serde(rename = "repaired")]
    Repaired,
}

impl Action {
    /// Every action.
    pub const ALL: [Action; 4] = [Action::Remated, Action::Cleaned, Action::SetUpCorrected, Action::Repaired];

    /// The word for it, as the language writes it.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Action::Remated => "re-mated",
            Action::Cleaned => "cleaned",
            Action::SetUpCorrected => "set-up-corrected",
            Action::Repaired => "repaired",
        }
    }
}

/// What a unit costs.
#[derive(Clone, Copy, Debug, PartialEq)]
#[non_exhaustive]
pub struct Price {
    /// The amount, zero or more.
    pub amount: f64,
    /// The currency: three capital letters (ISO 4217).
    pub currency: Word,
}

/// Which side of the cable, or which connector, an end of the netlist is.
#[derive(Clone, Copy, Debug, PartialEq)]
#[non_exhaustive]
pub struct EndSetting {
    /// The end as the netlist's points name it.
    pub end: Word,
    /// The side or the end as the cable file names it, or the connector.
    pub side: Word,
    /// The whole line, without its comment.
    pub line: Span,
}

/// The header lines above the first unit, or inside one.
#[derive(Clone, Debug, Default, PartialEq)]
#[non_exhaustive]
pub struct Settings {
    /// The catalogue cable, or the path of a cable file.
    pub cable: Option<Setting<Word>>,
    /// Measured, or from a drawing.
    pub origin: Option<Setting<Origin>>,
    /// All points probed, or only those listed.
    pub scope: Option<Setting<Scope>>,
    /// The length of the cable, in metres, above zero.
    pub length: Option<Setting<Quantity>>,
    /// The size of the conductors, AWG number or square millimetres.
    pub gauge: Option<Setting<Quantity>>,
    /// The temperature of the cable while it was measured, in degrees Celsius.
    pub temperature: Option<Setting<Quantity>>,
    /// The expanded uncertainty of the resistances, in ohm or percent (k = 2).
    pub uncertainty: Option<Setting<Quantity>>,
    /// The link rate that the cable is sold for.
    pub rated: Option<Setting<Word>>,
    /// What one unit costs.
    pub price: Option<Setting<Price>>,
    /// The lot.
    pub lot: Option<Setting<Word>>,
    /// Who made or sold it.
    pub supplier: Option<Setting<Word>>,
    /// The type: the maker's name for the bulk cable, or its screening (U/UTP, S/FTP …).
    pub kind: Option<Setting<Word>>,
    /// When it was tested.
    pub tested: Option<Setting<Word>>,
    /// Who tested it.
    pub operator: Option<Setting<Word>>,
    /// What was done to the unit before this attempt.
    pub action: Option<Setting<Action>>,
    /// From where to where the length of a drawing is measured.
    pub datum: Option<Setting<Word>>,
    /// From where the contacts of a drawing are seen.
    pub view: Option<Setting<View>>,
    /// Which side each end is.
    pub ends: Vec<EndSetting>,
    /// The connector that a drawing names for each end.
    pub connectors: Vec<EndSetting>,
}

impl Settings {
    /// Every header line: its keyword, and where it stands without its comment. Lines of one keyword stand together.
    #[must_use]
    pub fn lines(&self) -> Vec<(&'static str, Span)> {
        fn line<T>(setting: &Option<Setting<T>>) -> Option<Span> {
            setting.as_ref().map(|setting| setting.line)
        }
        let once = [
            ("cable", line(&self.cable)),
            ("source", line(&self.origin)),
            ("scope", line(&self.scope)),
            ("length", line(&self.length)),
            ("gauge", line(&self.gauge)),
            ("temperature", line(&self.temperature)),
            ("uncertainty", line(&self.uncertainty)),
            ("rated", line(&self.rated)),
            ("price", line(&self.price)),
            ("lot", line(&self.lot)),
            ("supplier", line(&self.supplier)),
            ("type", line(&self.kind)),
            ("tested", line(&self.tested)),
            ("operator", line(&self.operator)),
            ("action", line(&self.action)),
            ("datum", line(&self.datum)),
            ("view", line(&self.view)),
        ];
        let once = once.into_iter().filter_map(|(keyword, line)| Some((keyword, line?)));
        let ends = self.ends.iter().map(|end| ("end", end.line));
        once.chain(ends).chain(self.connectors.iter().map(|end| ("connector", end.line))).collect()
    }
}
