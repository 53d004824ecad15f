//! The link rates of a unit whose lanes were measured, with curves and eyes.

use maud::{Markup, html};

use crate::signal::rates::{Carries, RateResult, STANDING};

use super::shell::table;
use super::views::{LinkView, UnitView};
use super::{name, sentence};

/// What the lanes of its links carry, with curves and eyes; none where no lane was measured.
pub(super) fn of_unit(unit: &UnitView, with_plots: bool) -> Option<Markup> {
    let links = html! {
        @for link in &unit.grades { (link_table(link)) }
        @if with_plots && !unit.plots.is_empty() {
            div class="plots" {
                @for plot in &unit.plots {
                    figure class="plot" { div class="scroll" tabindex="0" role="group" aria-label="Curve" { (maud::PreEscaped(plot)) } }
                }
            }
        }
    };
    (!unit.grades.is_empty()).then_some(links)
}

fn link_table(link: &LinkView) -> Markup {
    let rated = link.grade.rated.as_ref();
    let answer = |carries: &Carries| match carries {
        Carries::Yes => "carried".to_owned(),
        Carries::No(why) => format!("not carried: {why}"),
        Carries::NotJudged(why) => format!("can't be told: {why}"),
    };
    let least = |rate: &RateResult| {
        let least = rate.lanes.iter().filter_map(|lane| lane.headroom).min_by(f64::total_cmp);
        least.map_or_else(|| "-".to_owned(), |least| format!("{:+.0} %", least * 100.0))
    };
    html! {
        (table("Link rates on the lanes that were measured", &["Rate", ">Gbit/s a lane", "Answer", "Worst lane", ">To spare", "Judged by"], html! {
            @for rate in &link.grade.rates {
                tr {
                    td { (rate.name) @if rated.is_some_and(|rated| rated.name == rate.name) { " (rated)" } }
                    td class="number" { (rate.gbits) }
                    td class="text" { (sentence(&answer(&rate.carries))) }
                    td { @match &rate.worst { Some(lane) => (name(lane)), None => "-" } }
                    td class="number" { (least(rate)) }
                    td class="text" { (sentence(&rate.judged_by)) }
                }
            }
        }))
        @if !link.missing.is_empty() { p { "Not measured: " (name(&link.missing.join(", "))) "." } }
        p class="small" { "These rates are " (STANDING) "." }
    }
}
