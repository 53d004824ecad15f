//! What the resistances of a unit should be: its wire by length, gauge and temperature, and the contacts at both ends.
//!
//! The header names a wire; what it doesn't say (strands, tin, the last centimetres) is allowed for. Every allowance here
//! is common practice without a source, unless it names one.

use crate::finding::Label;
use crate::netlist::FigureId;
use crate::units::{self, Bound, Decision, Quantity, Unit};

use super::Case;

/// The contacts of both ends together: what is to be expected, and the most, in ohm.
const CONTACTS: (f64, f64) = (0.020, 0.100);

/// By how much a cable may differ from its stated length: this share of it, and at least so many metres.
const LENGTH: (f64, f64) = (0.05, 0.05);

/// How far from 20 °C a cable may be whose temperature isn't stated, in kelvin.
const CELSIUS: f64 = 10.0;

/// By how much a flexible conductor of a size in mm² may exceed the solid wire of that area: IEC 60228 allows coated class
/// 5 conductors up to 20 %.
const METRIC_MOST: f64 = 1.20;

/// The expanded uncertainty of a resistance where none is stated, in ohm.
const UNCERTAINTY: f64 = 0.020;

/// The resistances in ohm of one wire from end to end, with its contacts.
#[derive(Clone, Copy, Debug)]
pub(in crate::verify) struct Wire {
    /// The least that it can have.
    pub least: f64,
    /// What plain solid copper has, without the contacts.
    pub nominal: f64,
    /// The most that it may have.
    pub most: f64,
}

impl Wire {
    /// What the contacts are taken to add, in ohm.
    pub fn contacts() -> f64 {
        CONTACTS.0
    }

    /// The most that the contacts may add, in ohm.
    pub fn contacts_most() -> f64 {
        CONTACTS.1
    }

    /// The wire that the header names, if it gives length and gauge.
    pub fn of(stated: &Stated) -> Option<Self> {
        let (length, gauge, celsius) = (allowed_length(stated.length?)?, stated.gauge?, stated.celsius);
        let per_metre = |kelvin: f64| units::copper_ohm_per_metre(&gauge, celsius.unwrap_or(20.0) + kelvin);
        let spread = if celsius.is_some() { 0.0 } else { CELSIUS };
        let coating = if gauge.unit == Unit::Awg {
            units::STRANDED_MOST * units::TINNED_MOST.iter().map(|(.., factor)| *factor).fold(1.0, f64::max)
        } else {
            METRIC_MOST
        };
        let (metres, more) = length;
        Some(Wire {
            least: per_metre(-spread)? * units::SEVEN_STRANDS_LEAST * (metres - more).max(0.0),
            nominal: per_metre(0.0)? * metres,
            most: per_metre(spread)? * coating * (metres + more) + CONTACTS.1,
        })
    }
}

/// What the header says of the wire.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(in crate::verify) struct Stated {
    length: Option<Quantity>,
    gauge: Option<Quantity>,
    celsius: Option<f64>,
}

impl Stated {
    /// What the header of a unit says.
    pub fn of(case: &Case<'_>) -> Self {
        Stated {
            length: case.given.get(|settings| settings.length).map(|said| said.value),
            gauge: case.given.get(|settings| settings.gauge).map(|said| said.value),
            celsius: case.given.get(|settings| settings.temperature).map(|said| said.value.value),
        }
    }
}

impl Stated {
    /// The same with another gauge.
    pub fn with_gauge(self, gauge: Quantity) -> Self {
        Stated { gauge: Some(gauge), ..self }
    }
}

/// The stated length in metres, and by how much the cable may differ from it.
pub(in crate::verify) fn length(case: &Case<'_>) -> Option<(f64, f64)> {
    case.given.get(|settings| settings.length).and_then(|said| allowed_length(said.value))
}

fn allowed_length(length: Quantity) -> Option<(f64, f64)> {
    let more = length.spread().unwrap_or_else(|| (length.value * LENGTH.0).max(LENGTH.1));
    (length.bound == Bound::Exact).then_some((length.value, more))
}

/// The wire in words: `2 m of 28 AWG`, or of the gauge that its own line says.
pub(in crate::verify) fn in_words(case: &Case<'_>, own: Option<Quantity>) -> String {
    let said = |quantity: Option<Quantity>| quantity.map(|quantity| quantity.short()).unwrap_or_default();
    let length = case.given.get(|settings| settings.length).map(|said| said.value);
    let gauge = own.or_else(|| case.given.get(|settings| settings.gauge).map(|said| said.value));
    format!("{} of {}", said(length), said(gauge))
}

/// Labels on the header lines that say what the wire is.
pub(in crate::verify) fn labels(case: &Case<'_>) -> Vec<Label> {
    let length = case.given.get(|settings| settings.length).map(|said| said.label("this length"));
    let gauge = case.given.get(|settings| settings.gauge).map(|said| said.label("this gauge"));
    length.into_iter().chain(gauge).collect()
}

/// A reading in ohm with its expanded uncertainty (k = 2).
#[derive(Clone, Copy, Debug)]
pub(in crate::verify) struct Reading {
    /// What was written.
    pub quantity: Quantity,
    /// The expanded uncertainty in ohm.
    pub uncertainty: f64,
}

impl Reading {
    /// A resistance: its uncertainty is its own tolerance, or else that of the header, or else [`UNCERTAINTY`].
    pub fn of_join(case: &Case<'_>, figure: FigureId) -> Option<Self> {
        Some(Reading::of(case.netlist.figure(figure)?.quantity, Uncertainty::of(case)))
    }

    /// A resistance whose header states an uncertainty, or none.
    #[inline]
    pub fn of(quantity: Quantity, stated: Uncertainty) -> Self {
        Reading::new(quantity, || stated.at(quantity.value))
    }

    /// An insulation: its uncertainty is its own tolerance, or else that of the header if it is a share, or else 5 %.
    pub fn of_isolation(case: &Case<'_>, figure: FigureId) -> Option<Self> {
        let quantity = case.netlist.figure(figure)?.quantity;
        let share = case.given.get(|settings| settings.uncertainty).filter(|said| said.value.unit == Unit::Percent);
        let percent = share.map_or(5.0, |said| said.value.value);
        Some(Reading::new(quantity, || quantity.value * percent / 100.0))
    }

    /// A figure that is only a bound is taken at its word.
    #[inline]
    fn new(quantity: Quantity, otherwise: impl FnOnce() -> f64) -> Self {
        let exact = quantity.bound == Bound::Exact;
        let uncertainty = if exact { quantity.spread().unwrap_or_else(otherwise) } else { 0.0 };
        Reading { quantity, uncertainty }
    }

    /// The value, in ohm.
    #[inline]
    pub fn ohm(self) -> f64 {
        self.quantity.value
    }

    /// Whether it lies at or below a limit in ohm. A figure that is only a bound settles what it can: `<` can't fail,
    /// `>` can't conform.
    pub fn at_most(self, limit: f64) -> Decision {
        let decided = units::at_most(self.ohm(), limit, self.uncertainty);
        match (self.quantity.bound, decided) {
            (Bound::Below, Decision::Fails) | (Bound::Above, Decision::Conforms) => Decision::Inconclusive,
            _ => decided,
        }
    }

    /// Whether it lies at or above a limit in ohm; as [`at_most`](Self::at_most), mirrored.
    pub fn at_least(self, limit: f64) -> Decision {
        let decided = units::at_least(self.ohm(), limit, self.uncertainty);
        match (self.quantity.bound, decided) {
            (Bound::Above, Decision::Fails) | (Bound::Below, Decision::Conforms) => Decision::Inconclusive,
            _ => decided,
        }
    }
}

/// The expanded uncertainty of a resistance in ohm: that of the header, or else [`UNCERTAINTY`].
pub(in crate::verify) fn uncertainty(case: &Case<'_>, ohm: f64) -> f64 {
    Uncertainty::of(case).at(ohm)
}

/// The uncertainty of resistances that a header states, if it does.
#[derive(Clone, Copy, Debug)]
pub(in crate::verify) struct Uncertainty(Option<Quantity>);

impl Uncertainty {
    /// What the header of a unit says.
    pub fn of(case: &Case<'_>) -> Self {
        Uncertainty(case.given.get(|settings| settings.uncertainty).map(|said| said.value))
    }

    /// The expanded uncertainty of a resistance, both in ohm.
    #[inline]
    fn at(self, ohm: f64) -> f64 {
        match self.0 {
            Some(said) if said.unit == Unit::Percent => ohm * said.value / 100.0,
            Some(said) => said.value,
            None => UNCERTAINTY,
        }
    }
}

/// A resistance in words.
pub(in crate::verify) fn ohm(value: f64) -> String {
    Quantity::new(value, Unit::Ohm).short()
}
