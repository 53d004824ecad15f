//! What a lot keeps of a unit beside its findings: what it is, and its figures.

use crate::netlist::Action;
use crate::pinmap::Cable;
use crate::units::Bound;

use crate::verify::case::Case;
use crate::verify::case::expected;
use crate::verify::checks::resistance;

/// What a lot keeps of a unit.
#[derive(Clone, Debug, Default)]
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
pub struct Price {
    /// The amount, zero or more.
    pub amount: f64,
    /// The currency: three capital letters (ISO 4217).
    pub currency: String,
}

/// A resistance between two contacts at two ends.
#[derive(Clone, Debug, PartialEq)]
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

/// The figures of a lane from its S-parameters.
#[derive(Clone, Debug, PartialEq)]
pub struct LaneFigures {
    /// The lane.
    pub lane: String,
    /// The loss in dB at half the symbol rate of the rated rate, with that frequency in Hz; none where nothing is rated, or where the
    /// file ends below.
    pub loss: Option<(f64, f64)>,
    /// How long a signal is on its way, in seconds.
    pub delay_s: Option<f64>,
}

/// An end of a cable.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct WiredEnd {
    /// As the netlist names it.
    pub name: String,
    /// How many of its contacts carry a conductor.
    pub contacts: usize,
}

impl LotFacts {
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
