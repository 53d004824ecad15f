//! What a known-good sample shows: its contacts by end, its rows, pairs and parts.

use std::collections::{BTreeMap, HashMap};

use crate::finding::Problem;
use crate::graph::Nets;
use crate::netlist::{Bound, FactKind, Netlist, PointLookup, Unit};
use crate::text::visible;
use crate::units::{self, Tolerance};

use super::{DerivedConnector, DerivedEnd, DerivedPart, DerivedPin, DerivedRow};
use crate::verify::compare::Texts;

/// A unit with its contacts known by their texts alone.
pub(super) struct Sample<'a> {
    pub(super) netlist: &'a Netlist,
    pub(super) unit: &'a Unit,
    pub(super) texts: &'a Texts,
    pub(super) bound: &'a Bound,
    pub(super) nets: &'a Nets,
}

impl Sample<'_> {
    pub(super) fn end(&self, point: u32) -> &str {
        self.texts.text(point).split_once('.').map_or("", |(end, _)| end)
    }

    /// The contacts of each end, in natural order.
    pub(super) fn by_end(&self) -> BTreeMap<String, Vec<u32>> {
        let mut ends: BTreeMap<String, Vec<u32>> = BTreeMap::new();
        for point in 0..u32::try_from(self.texts.count()).unwrap_or(u32::MAX) {
            ends.entry(self.end(point).to_owned()).or_default().push(point);
        }
        ends
    }

    /// The nets of two contacts and more, in the order of their first contacts, each with its number.
    pub(super) fn rows(&self) -> Vec<(u32, DerivedRow)> {
        let mut remarks: HashMap<u32, Vec<String>> = HashMap::new();
        for fact in self.netlist.facts_of(self.unit) {
            let Some(first) = self.bound.numbers(fact).first() else { continue };
            let remark = match fact.kind {
                FactKind::Conductor { label, .. } => format!("wire {}", visible(self.netlist.source.slice(label))),
                FactKind::Join { figure: Some(figure), .. } => match self.netlist.figure(figure) {
                    Some(figure) => format!("{} measured", figure.quantity.short()),
                    None => continue,
                },
                _ => continue,
            };
            remarks.entry(self.nets.of(*first)).or_default().push(remark);
        }
        let members = self.nets.members().into_iter().filter(|points| points.len() > 1);
        let row = |(nth, points): (usize, Vec<u32>)| {
            let mut ends: Vec<&str> = points.iter().map(|point| self.end(*point)).collect();
            ends.sort_unstable();
            ends.dedup();
            let row = DerivedRow {
                signal: format!("W{}", nth + 1),
                commoned: ends.len() < points.len(),
                points: points.iter().map(|point| self.texts.text(*point).to_owned()).collect(),
                remarks: remarks.remove(&points[0]).unwrap_or_default(),
            };
            (points[0], row)
        };
        members.enumerate().map(row).collect()
    }

    /// The contacts of an end that no known connector describes.
    pub(super) fn pins(&self, points: &[u32], rows: &[(u32, DerivedRow)]) -> Vec<DerivedPin> {
        let signals: HashMap<u32, &str> = rows.iter().map(|(net, row)| (*net, row.signal.as_str())).collect();
        let (pairs, drains) = self.pairs();
        let pin = |point: &u32| DerivedPin {
            pin: self.texts.text(*point).split_once('.').map_or("", |(_, pin)| pin).to_owned(),
            signal: signals.get(&self.nets.of(*point)).map(|signal| (*signal).to_owned()),
            pair: pairs.get(point).cloned(),
            drains: drains.get(point).cloned(),
        };
        points.iter().map(pin).collect()
    }

    /// For each contact of a pair, the pair and whether it is taken for plus, and for each drain its pair. What is twisted at
    /// one end is so at the others, where each of the two conductors has one contact there.
    pub(super) fn pairs(&self) -> (HashMap<u32, (String, bool)>, HashMap<u32, String>) {
        let mut pairs: HashMap<u32, (String, bool)> = HashMap::new();
        let mut drains: HashMap<u32, String> = HashMap::new();
        let mut stated: Vec<([u32; 2], String)> = Vec::new();
        for fact in self.netlist.facts_of(self.unit) {
            let (FactKind::Pair { .. }, [a, b, screen @ ..]) = (fact.kind, self.bound.numbers(fact)) else { continue };
            let known = |points: [u32; 2]| points.iter().any(|point| pairs.contains_key(point));
            if known([*a, *b]) || self.nets.same(*a, *b) || self.end(*a) != self.end(*b) {
                continue;
            }
            // a pair that was stated at another end keeps its name and its polarity
            let same = stated.iter().find(|([c, d], _)| {
                (self.nets.same(*a, *c) && self.nets.same(*b, *d)) || (self.nets.same(*a, *d) && self.nets.same(*b, *c))
            });
            let (name, plus) = match same {
                Some(([c, _], name)) => (name.clone(), if self.nets.same(*a, *c) { *a } else { *b }),
                None => (format!("P{}", stated.len() + 1), *a),
            };
            let minus = if plus == *a { *b } else { *a };
            pairs.insert(plus, (name.clone(), true));
            pairs.insert(minus, (name.clone(), false));
            if let [screen] = screen {
                drains.insert(*screen, name.clone());
            }
            stated.push(([plus, minus], name));
        }
        let members = self.nets.members();
        let at: HashMap<u32, &Vec<u32>> = members.iter().map(|points| (points[0], points)).collect();
        for ([plus, minus], name) in &stated {
            let net = |point: u32| at.get(&self.nets.of(point)).map_or(&[][..], |points| points.as_slice());
            for point in net(*plus).iter().filter(|point| self.end(**point) != self.end(*plus)) {
                let here = |points: &[u32]| -> Vec<u32> {
                    points.iter().copied().filter(|other| self.end(*other) == self.end(*point)).collect()
                };
                if let ([one], [other]) = (&here(net(*plus))[..], &here(net(*minus))[..])
                    && !pairs.contains_key(one)
                    && !pairs.contains_key(other)
                    && !pairs.iter().any(|(known, (of, _))| of == name && self.end(*known) == self.end(*point))
                {
                    pairs.insert(*one, (name.clone(), true));
                    pairs.insert(*other, (name.clone(), false));
                }
            }
        }
        drains.retain(|point, _| !pairs.contains_key(point));
        (pairs, drains)
    }

    /// Whether the ends and the contacts that the sample names are there.
    pub(super) fn fits(&self, ends: &[DerivedEnd]) -> Result<(), Vec<Problem>> {
        let mut problems = Vec::new();
        if ends.len() < 2 {
            problems.push(Problem::new("a cable has two ends or more, and the sample names contacts of one alone").at(
                &self.netlist.source,
                self.unit.line,
                "this unit",
            ));
        }
        let mut said: Vec<&str> = Vec::new();
        for fact in self.netlist.facts_of(self.unit) {
            for point in self.netlist.points_of(fact.kind.points()) {
                let (text, pin) = (point.text(&self.netlist.source), point.pin(&self.netlist.source));
                let end = ends.iter().find(|end| end.name == point.end(&self.netlist.source));
                let label = match end.map(|end| &end.connector) {
                    None => "the cable that the netlist names has no such end".to_owned(),
                    Some(DerivedConnector::Known { connector, .. }) if connector.find(pin).is_none() => {
                        format!("{} has no contact {}", connector.name, visible(pin))
                    }
                    Some(_) => continue,
                };
                if !said.contains(&text) {
                    said.push(text);
                    let problem = Problem::new(format!("no such contact: {}", visible(text)));
                    problems.push(problem.at(&self.netlist.source, point.span, label));
                }
            }
        }
        if problems.is_empty() { Ok(()) } else { Err(problems) }
    }

    /// The contacts that touch nothing, and whether the sample names them.
    pub(super) fn alone(&self, ends: &[DerivedEnd]) -> Vec<(String, bool)> {
        let sizes = self.nets.sizes();
        let mut alone = Vec::new();
        for end in ends {
            let pins: Vec<&str> = match &end.connector {
                DerivedConnector::Known { connector, .. } => connector.pins.iter().map(|pin| pin.pin.as_str()).collect(),
                DerivedConnector::New { pins, .. } => pins.iter().map(|pin| pin.pin.as_str()).collect(),
            };
            for pin in pins {
                let text = format!("{}.{pin}", end.name);
                let number = self.texts.find(&text);
                if number.is_none_or(|number| sizes[self.nets.of(number) as usize] == 1) {
                    alone.push((text, number.is_some()));
                }
            }
        }
        alone
    }

    /// The parts that the sample states.
    pub(super) fn parts(&self) -> Vec<DerivedPart> {
        let mut parts: Vec<DerivedPart> = Vec::new();
        for fact in self.netlist.facts_of(self.unit) {
            let (FactKind::Component { kind, figure, .. }, [a, b]) = (fact.kind, self.bound.numbers(fact)) else { continue };
            let value = figure.and_then(|figure| self.netlist.figure(figure)).map(|figure| figure.quantity);
            let points = [self.texts.text(*a).to_owned(), self.texts.text(*b).to_owned()];
            let spread = match value.and_then(|value| value.tolerance.map(|tolerance| (value.value, tolerance))) {
                Some((_, Tolerance::Percent(percent))) => percent,
                Some((value, Tolerance::Absolute(spread))) if value > 0.0 => spread / value * 100.0,
                _ => 0.0,
            };
            // what the reading may be off, and what the value loses by being written with four digits
            let percent = TOLERANCE_PERCENT.max((spread + 0.1).ceil());
            parts.push(DerivedPart { kind, points, value, percent });
        }
        parts
    }

    pub(super) fn most_ohm(&self) -> Option<f64> {
        let ohm = self.netlist.facts_of(self.unit).iter().filter_map(|fact| match fact.kind {
            FactKind::Join { figure: Some(figure), .. } => {
                self.netlist.figure(figure).filter(|figure| figure.quantity.bound == units::Bound::Exact)
            }
            _ => None,
        });
        ohm.map(|figure| figure.quantity.value).max_by(f64::total_cmp)
    }
}

/// What a part may be off where the sample says nothing, in percent: common practice for film resistors, no source.
pub(super) const TOLERANCE_PERCENT: f64 = 5.0;
