//! The points of a netlist looked up in a cable's map.

use std::sync::Arc;

use crate::finding::Problem;
use crate::netlist::{Damage, Point, PointLookup};
use crate::text::{Source, visible};

use super::Cable;
use super::table::Table;

/// How a netlist names the ends of a cable, and the table that finds a point from its text.
#[derive(Debug)]
pub struct EndNames {
    /// For each end of the cable, the name that the netlist gives it.
    names: Vec<String>,
    /// The points as the netlist writes them, where that isn't as the map does.
    texts: Option<Vec<String>>,
    /// Finds the points of a cable that has few; of a large one, the tables of its connectors do.
    table: Option<Table>,
    cable: Arc<Cable>,
}

/// So many points are few.
const FEW: usize = 4096;

impl EndNames {
    /// The ends under the names of the map itself.
    #[must_use]
    pub fn as_in_map(cable: &Arc<Cable>) -> Self {
        Self::new(cable, cable.ends.iter().map(|end| end.name.clone()).collect())
    }

    /// The ends renamed: each entry gives the netlist's name of an end, and the side, end or connector that it is.
    ///
    /// # Errors
    /// The index of the entry that can't be used, and why.
    pub fn renamed(cable: &Arc<Cable>, entries: &[(&str, &str)]) -> Result<Self, (usize, String)> {
        let mut names: Vec<Option<&str>> = vec![None; cable.ends.len()];
        for (nth, (name, side)) in entries.iter().enumerate() {
            let of = |test: &dyn Fn(&super::End) -> bool| {
                let mut found = cable.ends.iter().enumerate().filter(|(_, end)| test(end)).map(|(at, _)| at);
                found.next().filter(|_| found.next().is_none())
            };
            let at = of(&|end| end.side.as_deref() == Some(side))
                .or_else(|| of(&|end| end.name == **side))
                .or_else(|| of(&|end| end.connector.name == **side));
            let Some(at) = at else {
                let sides: Vec<String> =
                    cable.ends.iter().map(|end| format!("`{}`", end.side.as_deref().unwrap_or(&end.name))).collect();
                return Err((nth, format!("the sides of {} are {}", cable.name, sides.join(" and "))));
            };
            if names[at].is_some() {
                return Err((nth, "two ends can't be the same side".to_owned()));
            }
            names[at] = Some(name);
        }
        // an end that isn't named keeps the map's name; of two ends where one took the other's, they change places
        let mut free: Vec<&str> =
            cable.ends.iter().map(|end| end.name.as_str()).filter(|name| !names.contains(&Some(*name))).collect();
        let mut filled = Vec::with_capacity(names.len());
        for (name, end) in names.iter().zip(&cable.ends) {
            filled.push(match name {
                Some(name) => (*name).to_owned(),
                None => {
                    let at = free.iter().position(|other| *other == end.name).unwrap_or(0);
                    if free.is_empty() { end.name.clone() } else { free.remove(at).to_owned() }
                }
            });
        }
        Ok(Self::new(cable, filled))
    }

    fn new(cable: &Arc<Cable>, names: Vec<String>) -> Self {
        let as_in_map = names.iter().zip(&cable.ends).all(|(name, end)| *name == end.name);
        let texts = (!as_in_map).then(|| -> Vec<String> {
            let points = cable.points.iter();
            points.map(|point| format!("{}.{}", names[point.end], cable.ends[point.end].connector.pins[point.pin].pin)).collect()
        });
        let text = |number: u32| texts.as_ref().map_or_else(|| cable.text(number), |texts| &texts[number as usize]);
        let table = (cable.points.len() <= FEW).then(|| {
            let mut table = Table::with_room_for(cable.points.len());
            for number in (0_u32..).take(cable.points.len()) {
                table.insert(text(number), number);
            }
            table
        });
        EndNames { table, names, texts, cable: Arc::clone(cable) }
    }

    /// A point as the netlist writes it.
    #[must_use]
    pub fn text(&self, point: u32) -> &str {
        match &self.texts {
            Some(texts) => texts.get(point as usize).map_or("", String::as_str),
            None => self.cable.points.get(point as usize).map_or("", |point| &point.text),
        }
    }

    /// The name that the netlist gives an end.
    #[must_use]
    pub fn end(&self, end: usize) -> &str {
        self.names.get(end).map_or("", String::as_str)
    }
}

impl PointLookup for EndNames {
    fn count(&self) -> usize {
        self.cable.points.len()
    }

    fn find(&self, point: &str) -> Option<u32> {
        if let Some(table) = &self.table {
            return table.find(point);
        }
        let (name, pin) = point.split_once('.')?;
        let end = self.names.iter().position(|known| known == name)?;
        self.cable.contact(end, self.cable.ends[end].connector.find(pin)?)
    }

    fn explain(&self, source: &Arc<Source>, point: Point) -> Problem {
        let (end, pin) = (point.end(source), point.pin(source));
        let Some(at) = self.names.iter().position(|name| name == end) else {
            let names = self.names.iter().map(|name| format!("`{name}`")).collect::<Vec<_>>().join(" and ");
            let problem = Problem::new(format!("{} has no end `{}`", self.cable.name, visible(end))).at(
                source,
                point.span,
                format!("its ends are {names}"),
            );
            return problem.help(format!(
                "say which side it is on a header line, as in `end {} {}`",
                visible(end),
                self.side_example()
            ));
        };
        let connector = &self.cable.ends[at].connector;
        let first = connector.pins.first().map_or("", |pin| pin.pin.as_str());
        let last = connector.pins.iter().rev().find(|pin| pin.pin != "shell").map_or("", |pin| pin.pin.as_str());
        let shell = if connector.find("shell").is_some() { " and shell" } else { "" };
        let problem = Problem::new(format!("{} has no contact {}", connector.name, visible(pin))).at(
            source,
            point.span,
            format!("its contacts are {first} to {last}{shell}"),
        );
        match (connector.near(pin), Damage::of_unknown_pin(pin)) {
            (Some(known), _) => {
                problem.help(format!("did you mean {end}.{known}? Pin names are text: case and leading zeros count"))
            }
            (None, Some(damage)) => problem.help(format!("{}; {}", damage.message(), damage.help())),
            (None, None) => problem,
        }
    }
}

impl EndNames {
    /// Whether a point names an end of the cable, and a contact that its connector doesn't have. What a spreadsheet may have
    /// spoilt names nothing.
    #[must_use]
    pub fn lacks(&self, point: &str) -> bool {
        point.split_once('.').is_some_and(|(end, pin)| {
            let known = self.names.iter().any(|name| name == end);
            known && self.find(point).is_none() && Damage::of_unknown_pin(pin).is_none()
        })
    }

    fn side_example(&self) -> &str {
        self.cable.ends.first().map_or("A", |end| end.side.as_deref().unwrap_or(&end.name))
    }
}
