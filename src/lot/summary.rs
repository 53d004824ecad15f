//! The partial result over some units of a lot.
//!
//! [`Summary::merge`] is associative and commutative, and a summary of nothing changes nothing: whatever way a lot is split over
//! benches, files or machines, and in whatever order the parts are merged, the written result is the same byte for byte.
//! [`Summary::add`] is the merging of one unit.
//!
//! Memory doesn't grow with the number of units, but with what is different among them, and each table is bounded:
//!
//! | table | kept | beyond that |
//! |---|---|---|
//! | groups (cable, type, supplier, lot, rated, length) | 512 | all units are one group |
//! | faults by code and points | 20,000 | dropped; those by code stay |
//! | contacts with a fault | 20,000 | dropped |
//! | resistances (pairs of contacts) | 1,000, each with 256 values, then rounded; 8 highest and lowest units | dropped |
//! | series of serial numbers | 32, each with 512 buckets, then wider ones | dropped |
//! | tests that aren't a first test that conforms | 50,000 | dropped: first results stand, 1,000 units are named |
//!
//! That is below 64 MB, however long a reel is.

use std::cmp::Ordering;
use std::collections::{BTreeMap, BTreeSet};

use serde::{Deserialize, Serialize};

use crate::finding::Verdict;

use super::retest::Attempt;
use super::serials::{Bucket, Serials, serial};
use super::spread::Spread;
use super::tables::{self, First, pairs};
use super::unit::{GradeReached, TestedUnit};

/// What units of one group have in common.
#[derive(Clone, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
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
    fn of(unit: &TestedUnit) -> Self {
        let record = &unit.record;
        GroupKey {
            cable: unit.cable.clone(),
            kind: record.kind.clone(),
            supplier: record.supplier.clone(),
            lot: record.lot.clone(),
            rated: record.rated.clone(),
            metres: record.length.map(Metres),
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

    fn merge(&mut self, other: Tally) {
        self.conforms += other.conforms;
        self.fails += other.fails;
        self.inconclusive += other.inconclusive;
    }
}

/// How often something was found.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Found {
    /// Findings.
    pub findings: u64,
    /// Units that have one.
    pub units: u64,
}

/// The findings that touch one end.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
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
    key: u64,
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
    fn merge(&mut self, other: ReadingSpread) {
        self.spread.merge(&other.spread);
        self.most = least(self.most, other.most);
        self.uncertainty = self.uncertainty.max(other.uncertainty);
        self.lowest.merge(other.lowest);
        self.highest.merge(other.highest);
    }
}

fn least(one: Option<f64>, other: Option<f64>) -> Option<f64> {
    match (one, other) {
        (Some(one), Some(other)) => Some(one.min(other)),
        (one, other) => one.or(other),
    }
}

/// What the units of a group reached against their rated grade.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
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
    fn merge(&mut self, other: Grades) {
        for (steps, count) in other.steps {
            *self.steps.entry(steps).or_default() += count;
        }
        self.worst = self.worst.into_iter().chain(other.worst).min_by(by_grade);
        self.best = self.best.into_iter().chain(other.best).max_by(by_grade);
    }
}

/// The units of one group.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Group {
    /// First tests.
    pub first: Tally,
    /// Later tests.
    pub later: Tally,
    /// First tests of units that mustn't be connected.
    pub hazards: u64,
    /// Faults by code; those of first tests, here and below.
    pub codes: BTreeMap<String, Found>,
    /// Faults by code and points, such as `open` and `A.3 B.10`.
    #[serde(with = "pairs")]
    pub patterns: BTreeMap<(String, String), u64>,
    /// Findings that touch each contact.
    pub pins: BTreeMap<String, u64>,
    /// Findings by end.
    pub ends: BTreeMap<String, EndFound>,
    /// Where along the serial numbers units weren't accepted.
    pub serials: BTreeMap<String, Serials>,
    /// The resistances, by their two contacts.
    pub readings: BTreeMap<String, ReadingSpread>,
    /// What a unit costs: the least and the most, by currency.
    pub prices: BTreeMap<String, (f64, f64)>,
    /// What was reached against the rated grade.
    pub grades: Grades,
    /// How many contacts of each end carry a conductor.
    pub contacts: BTreeMap<String, u64>,
    /// How many conductors the map has.
    pub conductors: u64,
    /// How many pairs the map has.
    pub pairs: u64,
    /// How many units' evidence couldn't speak of each question.
    pub not_shown: BTreeMap<String, u64>,
    /// Tests that aren't a first test that conforms, by unit and attempt.
    #[serde(with = "pairs")]
    pub attempts: BTreeMap<(String, u8), Attempt>,
    /// The first units that aren't accepted, by series and number.
    pub not_accepted: First<(String, u64, String), { tables::MOST_NAMED }>,
}

/// A name in natural order: its series, then its number.
pub(super) fn natural(name: &str) -> (&str, u64, &str) {
    let (series, number) = serial(name).unwrap_or((name, 0));
    (series, number, name)
}

/// Adds the counts of one map to those of another.
fn add_up<K: Ord>(to: &mut BTreeMap<K, u64>, from: BTreeMap<K, u64>) {
    for (key, count) in from {
        *to.entry(key).or_default() += count;
    }
}

impl Group {
    fn add(&mut self, unit: TestedUnit) {
        let record = unit.record;
        let first = unit.attempt == 1;
        *if first { &mut self.first } else { &mut self.later }.of(unit.verdict) += 1;
        let mut codes: Vec<String> = unit.faults.iter().map(|fault| fault.code.text().to_owned()).collect();
        codes.sort_unstable();
        codes.dedup();
        if !first || unit.verdict != Verdict::Conforms {
            let action = record.action.map(|action| action.word().to_owned());
            let attempt = Attempt { verdict: unit.verdict.word().to_owned(), action, codes: codes.clone() };
            self.keep((unit.name.clone(), unit.attempt), attempt);
        }
        for end in record.ends {
            let contacts = self.contacts.entry(end.name).or_default();
            *contacts = (*contacts).max(end.contacts as u64);
        }
        self.conductors = self.conductors.max(record.conductors as u64);
        self.pairs = self.pairs.max(record.pairs as u64);
        if !first {
            return;
        }
        self.hazards += u64::from(unit.hazard);
        if unit.verdict != Verdict::Conforms {
            let (series, number, name) = natural(&unit.name);
            self.not_accepted.insert((series.to_owned(), number, name.to_owned()));
        }
        if let Some((series, number)) = serial(&unit.name) {
            let not_accepted = u64::from(unit.verdict != Verdict::Conforms);
            let bucket = Bucket { units: 1, not_accepted, codes: codes.iter().map(|code| (code.clone(), 1)).collect() };
            self.serials.entry(series.to_owned()).or_default().add(number, bucket);
        }
        for code in codes {
            self.codes.entry(code).or_default().units += 1;
        }
        for fault in unit.faults {
            self.fault(fault.code.text(), &fault.points);
        }
        for reading in record.readings {
            let entry = self.readings.entry(reading.points).or_default();
            entry.spread.add(reading.ohm);
            entry.most = least(entry.most, reading.most);
            entry.uncertainty = entry.uncertainty.max(reading.uncertainty);
            let key = (reading.ohm + 0.0).to_bits();
            entry.lowest.insert(Extreme { key, unit: unit.name.clone() });
            entry.highest.insert(Extreme { key: !key, unit: unit.name.clone() });
        }
        if let Some(price) = record.price {
            let known = self.prices.entry(price.currency).or_insert((price.amount, price.amount));
            *known = (known.0.min(price.amount), known.1.max(price.amount));
        }
        if let Some(grade) = unit.grade.filter(|grade| !grade.margin.is_nan()) {
            let steps = BTreeMap::from([(grade.steps_above_rated, 1)]);
            self.grades.merge(Grades { steps, worst: Some(grade), best: Some(grade) });
        }
        for word in unit.not_shown {
            *self.not_shown.entry(word.to_owned()).or_default() += 1;
        }
    }

    /// The same test twice is a record that went in twice; the one that sorts last stays, whichever comes first.
    fn keep(&mut self, test: (String, u8), attempt: Attempt) {
        let known = self.attempts.entry(test).or_insert_with(|| attempt.clone());
        if attempt > *known {
            *known = attempt;
        }
    }

    fn fault(&mut self, code: &str, points: &[String]) {
        self.codes.entry(code.to_owned()).or_default().findings += 1;
        *self.patterns.entry((code.to_owned(), points.join(" "))).or_default() += 1;
        let mut touched: BTreeMap<&str, u64> = BTreeMap::new();
        for point in points {
            *self.pins.entry(point.clone()).or_default() += 1;
            *touched.entry(point.split_once('.').map_or("", |(end, _)| end)).or_default() += 1;
        }
        let alone = touched.len() == 1;
        for (end, touches) in touched {
            let found = self.ends.entry(end.to_owned()).or_default();
            *if alone { &mut found.alone } else { &mut found.shared } += 1;
            found.touches += touches;
        }
    }

    fn merge(&mut self, other: Group) {
        self.first.merge(other.first);
        self.later.merge(other.later);
        self.hazards += other.hazards;
        for (code, found) in other.codes {
            let own = self.codes.entry(code).or_default();
            own.findings += found.findings;
            own.units += found.units;
        }
        add_up(&mut self.patterns, other.patterns);
        add_up(&mut self.pins, other.pins);
        for (end, found) in other.ends {
            let own = self.ends.entry(end).or_default();
            own.shared += found.shared;
            own.alone += found.alone;
            own.touches += found.touches;
        }
        for (series, serials) in other.serials {
            self.serials.entry(series).or_default().merge(serials);
        }
        for (points, reading) in other.readings {
            self.readings.entry(points).or_default().merge(reading);
        }
        for (currency, (low, high)) in other.prices {
            let own = self.prices.entry(currency).or_insert((low, high));
            *own = (own.0.min(low), own.1.max(high));
        }
        self.grades.merge(other.grades);
        for (end, contacts) in other.contacts {
            let own = self.contacts.entry(end).or_default();
            *own = (*own).max(contacts);
        }
        self.conductors = self.conductors.max(other.conductors);
        self.pairs = self.pairs.max(other.pairs);
        add_up(&mut self.not_shown, other.not_shown);
        for (test, attempt) in other.attempts {
            self.keep(test, attempt);
        }
        self.not_accepted.merge(other.not_accepted);
    }
}

/// The partial result over some units.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Summary {
    /// The groups.
    #[serde(with = "pairs")]
    pub groups: BTreeMap<GroupKey, Group>,
    /// Units without a verdict, since their input can't be used.
    pub unjudged: u64,
    /// Problems of the input.
    pub problems: u64,
    /// Drawings, which aren't units of a lot.
    pub drawings: u64,
    /// The tables that were full, and were dropped.
    pub full: BTreeSet<String>,
}

impl Summary {
    /// The summary of some units.
    #[must_use]
    pub fn of(units: impl IntoIterator<Item = TestedUnit>) -> Self {
        let mut summary = Summary::default();
        for unit in units {
            summary.add(unit);
        }
        summary
    }

    /// Takes a unit.
    pub fn add(&mut self, unit: TestedUnit) {
        let mut one = Group::default();
        let key = GroupKey::of(&unit);
        // an empty group takes the unit where it is new, so that nothing is merged twice
        let known = self.groups.contains_key(&key);
        if known && self.full.is_empty() {
            if let Some(group) = self.groups.get_mut(&key) {
                group.add(unit);
            }
        } else {
            one.add(unit);
            self.merge(Summary { groups: BTreeMap::from([(key, one)]), ..Summary::default() });
            return;
        }
        self.settle();
    }

    /// Takes another part of the lot.
    pub fn merge(&mut self, other: Summary) {
        self.unjudged += other.unjudged;
        self.problems += other.problems;
        self.drawings += other.drawings;
        self.full.extend(other.full);
        for (key, group) in other.groups {
            self.groups.entry(key).or_default().merge(group);
        }
        self.settle();
    }

    /// Drops what is full.
    pub(super) fn settle(&mut self) {
        if self.groups.len() > tables::MOST_GROUPS || self.is_full(tables::FULL_GROUPS) {
            self.full.insert(tables::FULL_GROUPS.to_owned());
            let groups = std::mem::take(&mut self.groups);
            let mut all = Group::default();
            for (_, group) in groups {
                all.merge(group);
            }
            self.groups.insert(GroupKey { cable: "(several)".to_owned(), ..GroupKey::default() }, all);
        }
        self.bound(tables::FULL_PATTERNS, tables::MOST_PATTERNS, |group| group.patterns.len(), |group| group.patterns.clear());
        self.bound(tables::FULL_PINS, tables::MOST_PINS, |group| group.pins.len(), |group| group.pins.clear());
        self.bound(tables::FULL_READINGS, tables::MOST_READINGS, |group| group.readings.len(), |group| group.readings.clear());
        self.bound(tables::FULL_ATTEMPTS, tables::MOST_ATTEMPTS, |group| group.attempts.len(), |group| group.attempts.clear());
        self.bound(tables::FULL_SERIALS, tables::MOST_SERIES, |group| group.serials.len(), |group| group.serials.clear());
    }

    fn bound(&mut self, table: &str, most: usize, len: fn(&Group) -> usize, clear: fn(&mut Group)) {
        if self.is_full(table) || self.groups.values().map(len).sum::<usize>() > most {
            self.full.insert(table.to_owned());
            self.groups.values_mut().for_each(clear);
        }
    }

    /// Whether a table was dropped because it was full.
    #[must_use]
    pub fn is_full(&self, table: &str) -> bool {
        self.full.contains(table)
    }

    /// All first tests.
    #[must_use]
    pub fn tally(&self) -> Tally {
        self.groups.values().fold(Tally::default(), |mut sum, group| {
            sum.merge(group.first);
            sum
        })
    }
}
