//! What joins what in one unit, kept for those who draw it.

use crate::graph::Nets;
use crate::netlist::{Bound, ComponentKind, FactKind, Netlist, Unit};
use crate::pinmap::{Cable, EndNames};

/// What joins what in one unit, beside what should.
#[derive(Clone, Debug)]
#[non_exhaustive]
pub struct Wiring {
    /// For each end of the cable, the name that the netlist gives it.
    pub ends: Vec<String>,
    /// For each contact of the map, its text as the netlist writes it.
    pub points: Vec<String>,
    /// The nets that the map wants, with its freedoms settled in the unit's favour.
    pub wanted: Nets,
    /// The nets that were found.
    pub measured: Nets,
    /// For each contact, whether the netlist speaks of it: all of them, unless only some were probed.
    pub probed: Vec<bool>,
    /// The parts that the netlist names.
    pub parts: Vec<FoundPart>,
    /// The conductors that it calls twisted together, by a contact of each, with the contact of their screen.
    pub twisted: Vec<([u32; 2], Option<u32>)>,
}

/// A part that a netlist names.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub struct FoundPart {
    /// Resistor, capacitor or diode.
    pub kind: ComponentKind,
    /// Its two contacts.
    pub points: [u32; 2],
    /// Its value in words, as the netlist gives it; empty where there is none.
    pub value: String,
}

impl Wiring {
    /// The wiring of a unit; `nets` are the wanted ones and the measured ones, `probed` says whether a contact was.
    pub(in crate::verify) fn new(
        (netlist, unit, bound): (&Netlist, &Unit, &Bound),
        ends: &EndNames,
        cable: &Cable,
        nets: (Nets, Nets),
        probed: impl Fn(u32) -> bool,
    ) -> Self {
        let points = || 0..u32::try_from(cable.points.len()).unwrap_or(u32::MAX);
        let mut wiring = Wiring {
            ends: (0..cable.ends.len()).map(|end| ends.end(end).to_owned()).collect(),
            points: points().map(|point| ends.text(point).to_owned()).collect(),
            wanted: nets.0,
            measured: nets.1,
            probed: points().map(probed).collect(),
            parts: Vec::new(),
            twisted: Vec::new(),
        };
        for fact in netlist.facts_of(unit) {
            match (fact.kind, bound.numbers(fact)) {
                (FactKind::Component { kind, figure, .. }, [a, b]) => {
                    let value = figure.and_then(|figure| netlist.figure(figure)).map(|figure| figure.quantity.short());
                    wiring.parts.push(FoundPart { kind, points: [*a, *b], value: value.unwrap_or_default() });
                }
                (FactKind::Pair { .. }, [a, b, screen @ ..]) => wiring.twisted.push(([*a, *b], screen.first().copied())),
                _ => {}
            }
        }
        wiring
    }
}
