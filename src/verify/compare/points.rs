//! Contacts known by their texts alone, where no map numbers them.

use std::collections::HashMap;
use std::sync::Arc;

use crate::finding::Problem;
use crate::netlist::{Netlist, Point, PointLookup, Unit};
use crate::text::{Source, visible};

/// Contacts in natural order: `A.2` comes before `A.10`.
#[derive(Debug, Default)]
pub(in super::super) struct Texts {
    texts: Vec<String>,
    numbers: HashMap<String, u32>,
}

impl Texts {
    /// Every contact that the units name.
    pub(in super::super) fn of<'u>(units: impl IntoIterator<Item = (&'u Netlist, &'u Unit)>) -> Self {
        let mut texts: Vec<String> = Vec::new();
        for (netlist, unit) in units {
            for fact in netlist.facts_of(unit) {
                let points = netlist.points_of(fact.kind.points());
                texts.extend(points.iter().map(|point| point.text(&netlist.source).to_owned()));
            }
        }
        // a shorter pin is a lower number
        texts.sort_by_cached_key(|text| {
            let (end, pin) = text.split_once('.').unwrap_or((text, ""));
            (end.to_owned(), pin.len(), pin.to_owned())
        });
        texts.dedup();
        let numbers = (0..).zip(&texts).map(|(number, text)| (text.clone(), number)).collect();
        Texts { texts, numbers }
    }

    /// A contact as it is written.
    pub(in super::super) fn text(&self, point: u32) -> &str {
        self.texts.get(point as usize).map_or("", String::as_str)
    }
}

impl PointLookup for Texts {
    fn count(&self) -> usize {
        self.texts.len()
    }

    fn find(&self, point: &str) -> Option<u32> {
        self.numbers.get(point).copied()
    }

    fn explain(&self, source: &Arc<Source>, point: Point) -> Problem {
        let text = visible(point.text(source)).into_owned();
        Problem::new(format!("no contact {text} in either netlist")).at(source, point.span, "not known")
    }
}
