//! Figures against their limits: of a unit, and over a lot.

use maud::{Markup, html};

use crate::lot::Group;
use crate::units::{Quantity, Unit};
use crate::verify::Reading;

use super::name;
use super::shell::table;
use super::views::UnitView;

/// So many conductors of a lot are listed.
const ROWS: usize = 60;

/// A resistance in words.
pub(super) fn ohm(value: f64) -> String {
    Quantity::new((value * 1e6).round() / 1e6, Unit::Ohm).short()
}

/// What there is to spare, as a part of the limit.
fn spare(value: f64, limit: Option<f64>) -> String {
    limit
        .filter(|limit| *limit > 0.0)
        .map_or_else(|| "-".to_owned(), |limit| format!("{:+.0} %", (limit - value) / limit * 100.0))
}

fn limit(most: Option<f64>) -> String {
    most.map_or_else(|| "none known".to_owned(), |most| format!("at most {}", ohm(most)))
}

/// The resistances of a unit.
pub(super) fn of_unit(unit: &UnitView) -> Markup {
    if unit.figures.is_empty() {
        return html! { p { "No figure of a conductor is in the evidence: only what joins what." } };
    }
    let row = |reading: &Reading| {
        html! {
            tr {
                td class="code" { bdi { (name(&reading.points)) } }
                td class="number" { (ohm(reading.ohm)) }
                td class="number" { "±" (ohm(reading.uncertainty)) }
                td class="number" { (limit(reading.most)) }
                td class="number" { (spare(reading.ohm, reading.most)) }
            }
        }
    };
    html! {
        (table("Resistances from end to end", &["Contacts", ">Measured", ">Uncertainty", ">Limit", ">To spare"], html! {
            @for reading in &unit.figures { (row(reading)) }
        }))
        @if unit.more_figures > 0 { p { (unit.more_figures) " more figures aren't listed." } }
    }
}

/// The resistances of a group: those nearest to their limit first.
pub(super) fn of_group(group: &Group) -> Markup {
    let mut rows: Vec<_> = group
        .readings
        .iter()
        .filter_map(|(points, reading)| {
            let (low, high) = reading.spread.extremes()?;
            let middle = reading.spread.median()?;
            let used = reading.most.filter(|most| *most > 0.0).map_or(0.0, |most| high / most);
            Some((points, reading, [low, middle, high], used))
        })
        .collect();
    if rows.is_empty() {
        return html! {};
    }
    rows.sort_by(|one, other| other.3.total_cmp(&one.3).then_with(|| one.0.cmp(other.0)));
    let more = rows.len().saturating_sub(ROWS);
    let head = ["Contacts", ">Least", ">Median", ">Most", ">Limit", ">To spare", ">Uncertainty", "Highest unit"];
    html! {
        (table("Resistances over the units, nearest to the limit first", &head, html! {
            @for (points, reading, figures, _) in rows.iter().take(ROWS) {
                tr {
                    td class="code" { bdi { (name(points)) } }
                    @for figure in figures { td class="number" { (ohm(*figure)) } }
                    td class="number" { (limit(reading.most)) }
                    td class="number" { (spare(figures[2], reading.most)) }
                    td class="number" { "±" (ohm(reading.uncertainty)) }
                    td { bdi { @if let Some(unit) = reading.highest.iter().next() { (name(&unit.unit)) } } }
                }
            }
        }))
        @if more > 0 { p { (more) " more pairs of contacts aren't listed." } }
    }
}
