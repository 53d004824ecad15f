//! A sound sample of a cable, as a netlist.

use std::collections::HashSet;
use std::fmt::Write as _;

use super::Cable;

/// The netlist of a sound cable: every required conductor, every part, and the contacts that must be left alone.
///
/// `optional` says whether the conductors that may be missing are there too.
#[must_use]
pub fn sound_netlist(cable: &Cable, optional: bool) -> String {
    let mut out = format!("cable {}\n\n", cable.name);
    let mut touched = HashSet::new();
    for link in &cable.links {
        if (link.optional || link.when_screened) && !optional {
            continue;
        }
        let texts: Vec<&str> = link.points.iter().map(|point| cable.text(*point)).collect();
        touched.extend(link.points.iter().copied());
        let _ = writeln!(out, "{}   # {}", texts.join(" "), link.signal);
    }
    for part in cable.parts.iter().filter(|part| !part.optional) {
        let value = part.value.map(|value| value.short()).unwrap_or_default();
        let line = format!("{} {} {} {value}", part.kind.word(), cable.text(part.points[0]), cable.text(part.points[1]));
        let _ = writeln!(out, "{}", line.trim_end());
    }
    let alone: Vec<&str> =
        (0..).zip(&cable.points).filter(|(number, _)| !touched.contains(number)).map(|(_, point)| point.text.as_str()).collect();
    if !alone.is_empty() {
        let _ = writeln!(out, "open {}", alone.join(" "));
    }
    out
}
