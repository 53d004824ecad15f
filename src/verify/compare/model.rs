//! The outcome of a comparison as data.

use std::collections::BTreeMap;

use schemars::JsonSchema;
use serde::Serialize;

use crate::finding::{Label, Problem, Verdict};

/// How two netlists compare; the pairs of units themselves are handed over one by one.
#[derive(Debug, Default)]
#[non_exhaustive]
pub struct Comparison {
    /// The two files.
    pub files: [String; 2],
    /// Units that only one of the files has: which file (0 or 1), the name, and the `unit` line.
    pub unpaired: Vec<(usize, Option<String>, Label)>,
    /// What could not be used.
    pub problems: Vec<Problem>,
    /// Pairs that are the same, differ, and can't be decided.
    pub counts: [usize; 3],
    /// Pairs that could not be compared, since their input can't be used.
    pub unjudged: usize,
}

impl Comparison {
    /// How many pairs of units came out like this.
    #[must_use]
    pub fn count(&self, standing: Standing) -> usize {
        self.counts[standing as usize]
    }

    /// The exit status: 0 where every unit has a partner and every pair is the same, 1 where something differs or is
    /// undecided, 2 where the input can't be used.
    #[must_use]
    pub fn status(&self) -> u8 {
        let pairs: usize = self.counts.iter().sum();
        if !self.problems.is_empty() || self.unjudged > 0 || pairs + self.unpaired.len() == 0 {
            2
        } else {
            u8::from(pairs > self.count(Standing::Same) || !self.unpaired.is_empty())
        }
    }
}

/// How two units stand to each other.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
#[expect(clippy::exhaustive_enums, reason = "a caller must treat all three, as with a verdict")]
pub enum Standing {
    /// Nothing differs, all was measured, and where there is a map, both conform to it.
    Same,
    /// They differ, or one of them fails its map.
    Differs,
    /// Nothing is known to differ, but something wasn't measured, or not well enough.
    Inconclusive,
}

/// How much a difference weighs.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
#[non_exhaustive]
pub enum Weight {
    /// The two differ.
    Differs,
    /// It can't be said whether they differ.
    Inconclusive,
    /// Said for completeness: what one of the two can't know, or how it was measured.
    Note,
}

/// What a difference is about.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
#[non_exhaustive]
pub enum Kind {
    /// Joined in the first netlist, not in the second.
    Missing,
    /// Joined in the second netlist, not in the first.
    Added,
    /// Joined to other contacts than in the first netlist.
    Moved,
    /// Contacts that took each other's places.
    Exchanged,
    /// Contacts that one of the two, or both, say nothing of.
    Untested,
    /// A part in a plug.
    Part,
    /// Conductors that are twisted together.
    Pair,
    /// A conductor's colour or number.
    Conductor,
    /// A resistance, an insulation or a capacitance.
    Figure,
    /// A header line.
    Header,
}

impl Kind {
    /// The word for it.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Kind::Missing => "missing",
            Kind::Added => "added",
            Kind::Moved => "moved",
            Kind::Exchanged => "exchanged",
            Kind::Untested => "untested",
            Kind::Part => "part",
            Kind::Pair => "pair",
            Kind::Conductor => "conductor",
            Kind::Figure => "figure",
            Kind::Header => "header",
        }
    }
}

/// One difference.
#[derive(Clone, Debug, Serialize, JsonSchema)]
#[non_exhaustive]
pub struct Difference {
    /// What it is about.
    pub kind: Kind,
    /// How much it weighs.
    pub weight: Weight,
    /// The difference in a sentence.
    pub message: String,
    /// For changes of nets: what went where. A circle has several steps.
    pub steps: Vec<StepText>,
    /// Every contact that it names, in natural order, as the first netlist writes them.
    pub points: Vec<String>,
    /// The lines that show it, those of the first file first.
    #[serde(skip)]
    pub labels: Vec<Label>,
}

impl Difference {
    /// A difference that is no change of nets.
    pub(super) fn new(kind: Kind, weight: Weight, message: String, points: Vec<String>, labels: Vec<Label>) -> Self {
        Difference { kind, weight, message, steps: Vec::new(), points, labels }
    }
}

/// Contacts that hang together in both netlists, with what they are joined to in one of them only.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, JsonSchema)]
#[non_exhaustive]
pub struct StepText {
    /// The contacts.
    pub contacts: Vec<String>,
    /// What they are joined to in the first netlist, and not in the second; of a large net, the first hundred.
    pub from: Vec<String>,
    /// What they are joined to in the second netlist, and not in the first; of a large net, the first hundred.
    pub to: Vec<String>,
}

/// A figure or a header line side by side.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[non_exhaustive]
pub struct Beside {
    /// What it is: `resistance`, `isolation`, `capacitance`, or the word of a header line.
    pub what: &'static str,
    /// The contacts of a figure.
    pub points: Vec<String>,
    /// In the first netlist; null where it says nothing.
    pub first: Option<String>,
    /// In the second.
    pub second: Option<String>,
    /// Both as numbers, in ohm, farad, metre, AWG number, square millimetre or degree Celsius; null where it is a word.
    pub values: [Option<f64>; 2],
    /// The second less the first, in words.
    pub difference: Option<String>,
    /// The same in percent of the first.
    pub percent: Option<f64>,
    /// How much it weighs; null where the two say the same, or no more apart than their uncertainty.
    pub weight: Option<Weight>,
}

/// How two units compare.
#[derive(Debug, Serialize, JsonSchema)]
#[non_exhaustive]
pub struct UnitPair {
    /// Their names; null where a file holds one unnamed unit.
    pub units: [Option<String>; 2],
    /// What messages call the two.
    pub names: [String; 2],
    /// Whether both are drawings.
    pub drawings: bool,
    /// True where one of the two is a drawing, or both are.
    pub any_drawing: bool,
    /// How they stand to each other.
    pub standing: Standing,
    /// What differs, what weighs most first.
    #[serde(skip)]
    pub differences: Vec<Difference>,
    /// How many nets of two contacts or more are the same.
    pub same_nets: usize,
    /// Figures for the same contacts, and header lines that differ.
    pub beside: Vec<Beside>,
    /// Ends that the two call by different names.
    pub ends: Vec<[String; 2]>,
    /// Both against the map of their cable; null where there is none.
    pub requirement: Option<ThreeWay>,
}

impl UnitPair {
    /// For each of the two, whether connecting it can destroy equipment or hurt someone.
    #[must_use]
    pub fn hazards(&self) -> [bool; 2] {
        self.requirement.as_ref().map_or([false; 2], |three| three.hazards)
    }
}

/// Two netlists and the map of their cable, contact by contact.
#[derive(Clone, Debug, Serialize, JsonSchema)]
#[non_exhaustive]
pub struct ThreeWay {
    /// The cable.
    pub cable: String,
    /// The verdict of a whole check on each.
    pub verdicts: [Verdict; 2],
    /// The codes of what each check found.
    pub findings: [Vec<String>; 2],
    /// True where connecting it can destroy equipment or hurt someone.
    pub hazards: [bool; 2],
    /// How many contacts the cable has.
    pub contacts: usize,
    /// At how many contacts the three stand how; what doesn't occur is left out.
    pub counts: BTreeMap<Agreement, usize>,
    /// Which of the three is the odd one out, and what to do, in a sentence.
    pub message: String,
    /// The contacts that were probed in both and where not all agree, or every contact where the caller asked for them.
    pub rows: Vec<Row>,
}

/// One contact in the three.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, JsonSchema)]
#[non_exhaustive]
pub struct Row {
    /// The contact, as the first netlist writes it.
    pub contact: String,
    /// Its signal.
    pub signal: String,
    /// What the map wants it joined to.
    pub requirement: String,
    /// What it is joined to in the first netlist.
    pub first: String,
    /// What it is joined to in the second.
    pub second: String,
    /// Who agrees with whom.
    pub agreement: Agreement,
}

/// Who agrees with whom at one contact.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum Agreement {
    /// All three.
    AllAgree,
    /// The two netlists differ in what the map leaves free.
    BothAllowed,
    /// The second netlist and the map.
    FirstDiffers,
    /// The first netlist and the map.
    SecondDiffers,
    /// The two netlists.
    RequirementDiffers,
    /// No two.
    AllDiffer,
    /// One of the netlists, or both, say nothing of the contact.
    Untested,
}
