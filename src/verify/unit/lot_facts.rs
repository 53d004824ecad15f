//! What a lot keeps of a unit beside its findings: what it is, and its figures.

use crate::netlist::Action;
use crate::pinmap::Cable;
use crate::units::Bound;

use crate::verify::case::Case;
use crate::verify::case::expected;
use crate::verify::checks::resistance;

/// What a lot keeps of a unit.
#[derive(Clone, Debug, Default)]
#[non_exhaustive]
pub struct LotFacts {
    /// The type, as the header says it.
    pub kind: Option<String>,
    /// Who made or sold it.
    pub supplier: Option<String>,
    /// The lot.
    pub lot: Option<String>,
    /// The link rate that it is sold for.
    pub rated: Option<String>,
    /// The length in metres.
    pub length: Option<f64>,
    /// What it costs.
    pub price: Option<Price>,
    /// What was done to it before this attempt.
    pub action: Option<Action>,
    /// The exact resistances from one end to another, in the order of the netlist.
    pub readings: Vec<Reading>,
    /// What its lanes lose, and how long a signal takes, where S-parameters were measured.
    pub lanes: Vec<LaneFigures>,
    /// The ends, as the netlist names them.
    pub ends: Vec<WiredEnd>,
    /// How many conductors the map has.
    pub conductors: usize,
    /// How many differential pairs the map has.
    pub pairs: usize,
}

/// What a unit costs.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub struct Price {
    /// The amount, zero or more.
    pub amount: f64,
    /// The currency: three capital letters (ISO 4217).
    pub currency: String,
}

impl Price {
    /// So much of a currency, by its three capital letters.
    #[must_use]
    pub fn new(amount: f64, currency: impl Into<String>) -> Self {
        Self { amount, currency: currency.into() }
    }
}

/// A resistance between two contacts at two ends.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub struct Reading {
    /// The two contacts as the netlist writes them, as in `A.1 B.12`.
    pub points: String,
    /// The resistance in ohm.
    pub ohm: f64,
    /// Its expanded uncertainty in ohm (k = 2).
    pub uncertainty: f64,
    /// The most that it may have, in ohm, where that is known: the cable's own limit, or what the stated wire can have.
    pub most: Option<f64>,
}

impl Reading {
    /// A resistance between two contacts and its expanded uncertainty (k = 2), both in ohm.
    #[must_use]
    pub fn new(points: impl Into<String>, ohm: f64, uncertainty: f64) -> Self {
        Self { points: points.into(), ohm, uncertainty, most: None }
    }

    /// The most that it may have, in ohm, where that is known: the cable's own limit, or what the stated wire can have.
    #[must_use]
    pub fn with_most(self, most: f64) -> Self {
        Self { most: Some(most), ..self }
    }
}

/// The figures of a lane from its S-parameters.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub struct LaneFigures {
    /// The lane.
    pub lane: String,
    /// The loss in dB at half the symbol rate of the rated rate, with that frequency in Hz; none where nothing is rated, or where the
    /// file ends below.
    pub loss: Option<(f64, f64)>,
    /// How long a signal is on its way, in seconds.
    pub delay_s: Option<f64>,
}

impl LaneFigures {
    /// A lane of which nothing was measured yet.
    #[must_use]
    pub fn new(lane: impl Into<String>) -> Self {
        Self { lane: lane.into(), loss: None, delay_s: None }
    }

    /// The loss in dB at half the symbol rate of the rated rate, with that frequency in Hz.
    #[must_use]
    pub fn with_loss(self, db: f64, hertz: f64) -> Self {
        Self { loss: Some((db, hertz)), ..self }
    }

    /// How long a signal is on its way, in seconds.
    #[must_use]
    pub fn with_delay_s(self, delay_s: f64) -> Self {
        Self { delay_s: Some(delay_s), ..self }
    }
}

/// An end of a cable.
#[derive(Clone, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub struct WiredEnd {
    /// As the netlist names it.
    pub name: String,
    /// How many of its contacts carry a conductor.
    pub contacts: usize,
}

impl WiredEnd {
    /// An end of this name with so many contacts that carry a conductor.
    #[must_use]
    pub fn new(name: impl Into<String>, contacts: usize) -> Self {
        Self { name: name.into(), contacts }
    }
}

impl LotFacts {
    /// The type, as the header says it.
    #[must_use]
    pub fn with_kind(self, kind: impl Into<String>) -> Self {
        Self { kind: Some(kind.into()), ..self }
    }

    /// Who made or sold it.
    #[must_use]
    pub fn with_supplier(self, supplier: impl Into<String>) -> Self {
        Self { supplier: Some(supplier.into()), ..self }
    }

    /// The lot.
    #[must_use]
    pub fn with_lot(self, lot: impl Into<String>) -> Self {
        Self { lot: Some(lot.into()), ..self }
    }

    /// The link rate that it is sold for.
    #[must_use]
    pub fn with_rated(self, rated: impl Into<String>) -> Self {
        Self { rated: Some(rated.into()), ..self }
    }

    /// The length in metres.
    #[must_use]
    pub fn with_length(self, length: f64) -> Self {
        Self { length: Some(length), ..self }
    }

    /// What it costs.
    #[must_use]
    pub fn with_price(self, price: Price) -> Self {
        Self { price: Some(price), ..self }
    }

    /// What was done to it before this attempt.
    #[must_use]
    pub fn with_action(self, action: Action) -> Self {
        Self { action: Some(action), ..self }
    }

    /// One more exact resistance from one end to another, in the order of the netlist.
    #[must_use]
    pub fn with_reading(mut self, reading: Reading) -> Self {
        self.readings.push(reading);
        self
    }

    /// One more end, as the netlist names it.
    #[must_use]
    pub fn with_end(mut self, end: WiredEnd) -> Self {
        self.ends.push(end);
        self
    }

    /// How many conductors the map has.
    #[must_use]
    pub fn with_conductors(self, conductors: usize) -> Self {
        Self { conductors, ..self }
    }

    /// How many differential pairs the map has.
    #[must_use]
    pub fn with_pairs(self, pairs: usize) -> Self {
        Self { pairs, ..self }
    }

    /// The same of a unit that is like this one, but for its figures.
    pub(in crate::verify) fn with_figures(&self, figures: &[expected::Reading]) -> Self {
        let readings = self.readings.iter().zip(figures).map(|(reading, figure)| Reading {
            ohm: figure.ohm(),
            uncertainty: figure.uncertainty,
            ..reading.clone()
        });
        LotFacts { readings: readings.collect(), ..self.clone() }
    }

    pub(in crate::verify) fn of(case: &Case<'_>) -> Self {
        let given = &case.given;
        let text = |said: Option<crate::verify::Said<'_, crate::text::Span>>| said.map(|said| said.text().to_owned());
        // units that are like one before get these filled in with their own figures
        let exact = case.joins_by_rule().iter().filter(|join| join.across && join.reading.quantity.bound == Bound::Exact);
        let readings = exact.map(|join| Reading {
            points: case.list(&join.points),
            ohm: join.ohm(),
            uncertainty: join.reading.uncertainty,
            most: resistance::most(case, join),
        });
        LotFacts {
            kind: text(given.get(|settings| settings.kind)),
            supplier: text(given.get(|settings| settings.supplier)),
            lot: text(given.get(|settings| settings.lot)),
            rated: text(given.get(|settings| settings.rated)),
            length: given.get(|settings| settings.length).map(|said| said.value.value),
            price: given
                .get(|settings| settings.price)
                .map(|said| Price { amount: said.value.amount, currency: said.source.slice(said.value.currency).to_owned() }),
            action: given.get(|settings| settings.action).map(|said| said.value),
            readings: readings.collect(),
            lanes: lanes(case),
            ends: wired_ends(case),
            conductors: case.named.wires.len(),
            pairs: case.named.paired.iter().map(Vec::len).max().unwrap_or(0) / 2,
        }
    }
}

/// The figures of the lanes that were measured.
#[cfg(feature = "signal")]
fn lanes(case: &Case<'_>) -> Vec<LaneFigures> {
    let mut all = Vec::new();
    for link in case.link_grades() {
        let rated = link.grade.rated.as_ref().and_then(|rated| link.grade.rates.iter().find(|rate| rate.name == rated.name));
        for (at, (lane, delay_s)) in link.lanes.iter().zip(&link.delays).enumerate() {
            let loss = rated.and_then(|rate| Some((rate.lanes.get(at)?.nyquist_loss_db?, rate.nyquist_ghz * 1e9)));
            all.push(LaneFigures { lane: lane.clone(), loss, delay_s: *delay_s });
        }
    }
    all
}

/// None, since no S-parameters are read.
#[cfg(not(feature = "signal"))]
fn lanes(_: &Case<'_>) -> Vec<LaneFigures> {
    Vec::new()
}

fn wired_ends(case: &Case<'_>) -> Vec<WiredEnd> {
    let cable: &Cable = case.named;
    let mut ends: Vec<WiredEnd> =
        (0..cable.ends.len()).map(|end| WiredEnd { name: case.ends.end(end).to_owned(), contacts: 0 }).collect();
    for (number, point) in (0..).zip(&cable.points) {
        if cable.links_at(number).next().is_some() {
            ends[point.end].contacts += 1;
        }
    }
    ends
}
