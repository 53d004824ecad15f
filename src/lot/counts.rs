//! What a group of units is, and what is counted of it.

use std::cmp::Ordering;
use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use crate::finding::Verdict;

use super::spread::Spread;
use super::tables::{First, pairs};
use super::unit::{GradeReached, TestedUnit};

/// What units of one group have in common.
#[derive(Clone, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[non_exhaustive]
pub struct GroupKey {
    /// The cable that they were checked against.
    pub cable: String,
    /// The type.
    pub kind: Option<String>,
    /// Who made or sold them.
    pub supplier: Option<String>,
    /// The lot.
    pub lot: Option<String>,
    /// The link rate that they are sold for.
    pub rated: Option<String>,
    /// The length.
    pub metres: Option<Metres>,
}

/// A length in metres, sorted by its value.
#[derive(Clone, Copy, Debug, Serialize, Deserialize)]
#[expect(clippy::exhaustive_structs, reason = "a figure with its unit")]
pub struct Metres(pub f64);

impl Ord for Metres {
    fn cmp(&self, other: &Self) -> Ordering {
        self.0.total_cmp(&other.0)
    }
}

impl PartialOrd for Metres {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl PartialEq for Metres {
    fn eq(&self, other: &Self) -> bool {
        self.cmp(other) == Ordering::Equal
    }
}

impl Eq for Metres {}

impl GroupKey {
    pub(super) fn of(unit: &TestedUnit) -> Self {
        let facts = &unit.facts;
        GroupKey {
            cable: unit.cable.clone(),
            kind: facts.kind.clone(),
            supplier: facts.supplier.clone(),
            lot: facts.lot.clone(),
            rated: facts.rated.clone(),
            metres: facts.length.map(Metres),
        }
    }

    /// The length in metres.
    #[must_use]
    pub fn length(&self) -> Option<f64> {
        self.metres.map(|metres| metres.0)
    }

    /// What is said of the group, in words: `displayport, Quillon Looms, lot R7, 2 m`.
    #[must_use]
    pub fn words(&self) -> String {
        let mut words = vec![self.cable.clone()];
        words.extend(self.kind.clone());
        words.extend(self.supplier.clone());
        words.extend(self.lot.as_ref().map(|lot| format!("lot {lot}")));
        words.extend(self.rated.as_ref().map(|rated| format!("rated {rated}")));
        words.extend(self.metres.map(|metres| format!("{} m", metres.0)));
        words.join(", ")
    }
}

/// How many came out how.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[expect(clippy::exhaustive_structs, reason = "one count for each verdict")]
pub struct Tally {
    /// Those that conform.
    pub conforms: u64,
    /// Those that fail.
    pub fails: u64,
    /// Those that can't be decided.
    pub inconclusive: u64,
}

impl Tally {
    /// The count of a verdict.
    pub fn of(&mut self, verdict: Verdict) -> &mut u64 {
        match verdict {
            Verdict::Conforms => &mut self.conforms,
            Verdict::Fails => &mut self.fails,
            Verdict::Inconclusive => &mut self.inconclusive,
        }
    }

    /// All of them.
    #[must_use]
    pub fn units(&self) -> u64 {
        self.conforms + self.fails + self.inconclusive
    }

    /// Those that aren't accepted: what fails, and what can't be decided.
    #[must_use]
    pub fn not_accepted(&self) -> u64 {
        self.fails + self.inconclusive
    }

    pub(super) fn merge(&mut self, other: Tally) {
        self.conforms += other.conforms;
        self.fails += other.fails;
        self.inconclusive += other.inconclusive;
    }
}

/// How often something was found.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[non_exhaustive]
pub struct Found {
    /// Findings.
    pub findings: u64,
    /// Units that have one.
    pub units: u64,
}

/// The findings that touch one end.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[non_exhaustive]
pub struct EndFound {
    /// Findings that touch this end and another.
    pub shared: u64,
    /// Findings that touch this end alone.
    pub alone: u64,
    /// Contacts of this end that findings touch, counted once for each finding.
    pub touches: u64,
}

/// A unit with a figure: sorts by the figure.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct Extreme {
    /// The figure's bits, or for the highest ones these turned over, so that the first in order is the farthest out.
    pub(super) key: u64,
    /// The unit.
    pub unit: String,
}

impl Extreme {
    /// The figure, for an entry of the lowest ones.
    #[must_use]
    pub fn lowest(&self) -> f64 {
        f64::from_bits(self.key)
    }

    /// The figure, for an entry of the highest ones.
    #[must_use]
    pub fn highest(&self) -> f64 {
        f64::from_bits(!self.key)
    }
}

/// One resistance over the lot.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[non_exhaustive]
pub struct ReadingSpread {
    /// The values in ohm.
    pub spread: Spread,
    /// The lowest of the limits, in ohm, where one is known.
    pub most: Option<f64>,
    /// The largest expanded uncertainty, in ohm.
    pub uncertainty: f64,
    /// The units with the lowest values.
    pub lowest: First<Extreme, 8>,
    /// The units with the highest values.
    pub highest: First<Extreme, 8>,
}

impl ReadingSpread {
    pub(super) fn merge(&mut self, other: ReadingSpread) {
        self.spread.merge(&other.spread);
        self.most = least(self.most, other.most);
        self.uncertainty = self.uncertainty.max(other.uncertainty);
        self.lowest.merge(other.lowest);
        self.highest.merge(other.highest);
    }
}

pub(super) fn least(one: Option<f64>, other: Option<f64>) -> Option<f64> {
    match (one, other) {
        (Some(one), Some(other)) => Some(one.min(other)),
        (one, other) => one.or(other),
    }
}

/// What the units of a group reached against their rated grade.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[non_exhaustive]
pub struct Grades {
    /// How many units are so many steps above it.
    #[serde(with = "pairs")]
    pub steps: BTreeMap<i32, u64>,
    /// The worst of them: fewest steps, then least margin.
    pub worst: Option<GradeReached>,
    /// The best of them.
    pub best: Option<GradeReached>,
}

/// Fewest steps first, then least margin.
pub(super) fn by_grade(one: &GradeReached, other: &GradeReached) -> Ordering {
    one.steps_above_rated.cmp(&other.steps_above_rated).then(one.margin.total_cmp(&other.margin))
}

impl Grades {
    pub(super) fn merge(&mut self, other: Grades) {
        for (steps, count) in other.steps {
            *self.steps.entry(steps).or_default() += count;
        }
        self.worst = self.worst.into_iter().chain(other.worst).min_by(by_grade);
        self.best = self.best.into_iter().chain(other.best).max_by(by_grade);
    }
}
