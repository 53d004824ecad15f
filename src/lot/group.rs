//! The units of one group, as counts.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use crate::finding::Verdict;

use super::counts::{EndFound, Extreme, Found, Grades, ReadingSpread, Tally, least};
use super::retest::Attempt;
use super::serials::{Bucket, Serials, serial};
use super::spread::Spread;
use super::tables::{self, First, pairs};
use super::unit::TestedUnit;

/// The units of one group.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[non_exhaustive]
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
    /// What lanes lose in dB, by the frequency in kHz at which that was taken.
    #[serde(default)]
    pub losses: BTreeMap<u64, Spread>,
    /// How long signals are on their way, in seconds.
    #[serde(default)]
    pub delays: Spread,
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
    /// How often each test of a unit that has a name came in, by unit and attempt: more than once, and it counts more than once.
    #[serde(with = "pairs", default)]
    pub names: BTreeMap<(String, u8), u64>,
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
    pub(super) fn add(&mut self, unit: TestedUnit) {
        let facts = unit.facts;
        let first = unit.attempt == 1;
        *if first { &mut self.first } else { &mut self.later }.of(unit.verdict) += 1;
        let mut codes: Vec<String> = unit.faults.iter().map(|fault| fault.code.text().to_owned()).collect();
        codes.sort_unstable();
        codes.dedup();
        if unit.named {
            *self.names.entry((unit.name.clone(), unit.attempt)).or_default() += 1;
        }
        if !first || unit.verdict != Verdict::Conforms {
            let attempt = Attempt::new(unit.verdict, facts.action, &codes);
            self.keep((unit.name.clone(), unit.attempt), attempt);
        }
        for end in facts.ends {
            let contacts = self.contacts.entry(end.name).or_default();
            *contacts = (*contacts).max(end.contacts as u64);
        }
        self.conductors = self.conductors.max(facts.conductors as u64);
        self.pairs = self.pairs.max(facts.pairs as u64);
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
        for reading in facts.readings {
            let entry = self.readings.entry(reading.points).or_default();
            entry.spread.add(reading.ohm);
            entry.most = least(entry.most, reading.most);
            entry.uncertainty = entry.uncertainty.max(reading.uncertainty);
            let key = (reading.ohm + 0.0).to_bits();
            entry.lowest.insert(Extreme { key, unit: unit.name.clone() });
            entry.highest.insert(Extreme { key: !key, unit: unit.name.clone() });
        }
        for lane in facts.lanes {
            if let Some((db, hertz)) = lane.loss {
                self.losses.entry((hertz / 1e3).round() as u64).or_default().add(db);
            }
            if let Some(seconds) = lane.delay_s {
                self.delays.add(seconds);
            }
        }
        if let Some(price) = facts.price {
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

    /// The units of which one and the same test came in more than once, as two of the inputs have it.
    pub fn counted_twice(&self) -> impl Iterator<Item = &str> {
        self.names.iter().filter(|(_, times)| **times > 1).map(|((unit, _), _)| unit.as_str())
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

    pub(super) fn merge(&mut self, other: Group) {
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
        for (kilohertz, spread) in other.losses {
            self.losses.entry(kilohertz).or_default().merge(&spread);
        }
        self.delays.merge(&other.delays);
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
        add_up(&mut self.names, other.names);
        for (test, attempt) in other.attempts {
            self.keep(test, attempt);
        }
        self.not_accepted.merge(other.not_accepted);
    }
}
