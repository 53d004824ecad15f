//! The lines that show where contacts are.

use std::collections::BTreeMap;

use crate::finding::Label;
use crate::netlist::{Bound, Netlist, Unit};

/// Labels on the lines that show where contacts are: one a line, with those of its contacts that matter.
///
/// Of contacts that no line joins or calls open, the line that names them says that they are apart. Contacts that no line names are shown at the unit itself: with all points probed, they are open. `contact` gives the
/// netlist's number of a contact, `list` writes contacts, and `say` the text of a label from its contacts and whether the
/// line says that they are open.
pub(in crate::verify) fn shown(
    (netlist, unit, bound): (&Netlist, &Unit, &Bound),
    points: &[u32],
    contact: impl Fn(u32) -> u32,
    list: impl Fn(&[u32]) -> String,
    say: impl Fn(&[u32], bool) -> String,
) -> Vec<Label> {
    let mut lines: BTreeMap<(u32, bool), Vec<u32>> = BTreeMap::new();
    let mut unnamed = Vec::new();
    let mut points = points.to_vec();
    points.sort_unstable();
    for point in &points {
        let contact = contact(*point);
        match (bound.joined_at(contact), bound.open_at(contact)) {
            (Some(fact), _) => lines.entry((fact, false)).or_default().push(*point),
            (None, Some(fact)) => lines.entry((fact, true)).or_default().push(*point),
            (None, None) => match bound.named_at(contact) {
                Some(fact) => lines.entry((fact, true)).or_default().push(*point),
                None => unnamed.push(*point),
            },
        }
    }
    let mut labels: Vec<Label> =
        lines.iter().map(|((fact, open), points)| at(netlist, unit, *fact, say(points, *open))).collect();
    if !unnamed.is_empty() {
        let verb = if unnamed.len() == 1 { "isn't" } else { "aren't" };
        let text = format!("{} {verb} named in this unit, so open", list(&unnamed));
        labels.push(Label::new(&netlist.source, unit.line, text));
    }
    labels
}

/// A label on a fact.
pub(in crate::verify) fn at(netlist: &Netlist, unit: &Unit, fact: u32, text: impl Into<String>) -> Label {
    let span = netlist.facts.get(fact as usize).map_or(unit.line, |fact| fact.span);
    Label::new(&netlist.source, span, text)
}
