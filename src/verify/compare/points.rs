//! Contacts known by their texts alone, where no map numbers them.

use std::collections::HashMap;
use std::sync::Arc;

use crate::finding::Problem;
use crate::netlist::{Netlist, Point, PointLookup, Unit};
use crate::text::{Source, visible};

/// Contacts in natural order: `A.2` comes before `A.10`.
#[derive(Debug, Default)]
pub(super) struct Texts {
    texts: Vec<String>,
    numbers: HashMap<String, u32>,
}

impl Texts {
    /// Every contact that the units name.
    pub(super) fn of(units: [(&Netlist, &Unit); 2]) -> Self {
        let mut texts: Vec<String> = Vec::new();
        for (netlist, unit) in units {
            for fact in netlist.facts_of(unit) {
                let points = netlist.points_of(fact.kind.points());
                texts.extend(points.iter().map(|point| point.text(&netlist.source).to_owned()));
            }
        }
        texts.sort_by_cached_key(|text| (natural(text), text.clone()));
        texts.dedup();
        let numbers = (0..).zip(&texts).map(|(number, text)| (text.clone(), number)).collect();
        Texts { texts, numbers }
    }

    /// A contact as it is written.
    pub(super) fn text(&self, point: u32) -> &str {
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

/// A text with its runs of digits led by their length, so that numbers sort as numbers.
fn natural(text: &str) -> String {
    let mut key = String::with_capacity(2 * text.len());
    let mut rest = text;
    while !rest.is_empty() {
        let digits = rest.bytes().take_while(u8::is_ascii_digit).count();
        if digits > 0 {
            let number = rest[..digits].trim_start_matches('0');
            key.push_str(&format!("{:08}{number}", number.len()));
            rest = &rest[digits..];
        }
        let other = rest.find(|c: char| c.is_ascii_digit()).unwrap_or(rest.len());
        key.push_str(&rest[..other]);
        rest = &rest[other..];
    }
    key
}

#[cfg(test)]
mod tests {
    #[test]
    fn numbers_count_as_numbers() {
        let mut points = ["B.1", "A.shell", "A.10", "A.2", "A.B12", "A.B4"];
        points.sort_by_cached_key(|point| super::natural(point));
        assert_eq!(points, ["A.2", "A.10", "A.B4", "A.B12", "A.shell", "B.1"]);
    }
}
