//! Which pairs of a cable carry a link, and on which ladder of rates.

use toml::Spanned;

use crate::netlist::ComponentKind;
use crate::text::{Span, visible};

use super::Cable;
use super::connector::Provenance;
use super::entries::{Reader, quantity};
use super::raw::{RawLinkRates, place};
use super::role::Role;

/// A link that a cable carries: its pairs, and the ladder of rates that the two ends try.
#[derive(Clone, Debug)]
#[non_exhaustive]
pub struct LinkRates {
    /// The ladder, by the name under which [`signal::rates`](crate::signal) knows it.
    pub ladder: String,
    /// Its lanes; a link with fewer lanes uses the first ones.
    pub lanes: Vec<Lane>,
    /// The differential impedance that the pairs are made for, in ohm.
    pub ohm: f64,
    /// Where the entry comes from.
    pub provenance: Provenance,
    /// The entry in the file.
    pub span: Span,
}

/// A pair from one end to the other.
#[derive(Clone, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub struct Lane {
    /// What the pair is called at the first end.
    pub name: String,
    /// Its plus and minus contact at the first end.
    pub near: [u32; 2],
    /// Where they belong at the other end.
    pub far: [u32; 2],
}

impl Reader<'_> {
    /// The entries `link-rates`, checked but for their lanes, which need the whole cable.
    pub(super) fn link_rates(&mut self, written: Vec<Spanned<RawLinkRates>>) -> Vec<(LinkRates, Vec<Spanned<String>>)> {
        let mut all = Vec::with_capacity(written.len());
        for entry in written {
            let span = place(&entry);
            let raw = entry.into_inner();
            let provenance = self.provenance(&raw.checked, raw.from_memory);
            let impedance = raw.impedance.get_ref();
            let read = quantity(ComponentKind::Resistor.word(), impedance).filter(|read| read.value > 0.0);
            if read.is_none() {
                self.problem("this impedance can't be read", place(&raw.impedance), "expected a resistance, as in \"100 ohm\"");
            }
            let ohm = read.map_or(0.0, |read| read.value);
            let ladder = raw.ladder.into_inner();
            all.push((LinkRates { ladder, lanes: Vec::new(), ohm, provenance, span }, raw.lanes));
        }
        all
    }

    /// Finds the contacts of the lanes.
    pub(super) fn lanes(&mut self, cable: &Cable, written: Vec<(LinkRates, Vec<Spanned<String>>)>) -> Vec<LinkRates> {
        let mut all = Vec::with_capacity(written.len());
        for (mut link, names) in written {
            for name in names {
                match lane(cable, name.get_ref()) {
                    Some(lane) => link.lanes.push(lane),
                    None => self.problem(
                        format!("{} is no pair from end to end", visible(name.get_ref())),
                        place(&name),
                        "a pair of the connector at the first end, wired to another end",
                    ),
                }
            }
            all.push(link);
        }
        all
    }
}

/// The pair of a name at the first end, and where its conductors go.
fn lane(cable: &Cable, name: &str) -> Option<Lane> {
    let here = |role: Role| {
        let points = (0..).zip(&cable.points).filter(|(_, point)| point.end == 0);
        let mut found = points.map(|(number, _)| number).filter(|number| {
            let function = cable.function(*number);
            function.pair.as_deref() == Some(name) && function.role == role && cable.links_at(*number).next().is_some()
        });
        found.next()
    };
    let there = |near: u32| {
        let links = cable.links_at(near).flat_map(|link| &cable.links[link].points);
        links.copied().find(|point| cable.points[*point as usize].end != 0)
    };
    let near = [here(Role::PairPlus)?, here(Role::PairMinus)?];
    Some(Lane { name: name.to_owned(), near, far: [there(near[0])?, there(near[1])?] })
}
