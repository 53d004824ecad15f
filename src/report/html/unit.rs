//! The page of one unit, and a unit's part of the page of a lot.

use maud::{Markup, PreEscaped, html};

use crate::finding::Verdict;

use super::super::lot::LotReport;
use super::collect::HtmlReport;
use super::shell::{Tone, banner, foot, origin, page as shell_page, problems, section, uncertainty};
use super::views::{FindingView, Place, UnitView};
use super::{HtmlSaid, cautions, count, figures, links};

/// A picture above so many bytes is left out: `backshell draw` writes it into a file of its own.
const PICTURE: usize = 600_000;

/// The page of the only unit.
pub(super) fn page(report: &HtmlReport, unit: &UnitView, lot: &LotReport, said: &HtmlSaid) -> Markup {
    let kind = if unit.is_drawing { "Report on a drawing" } else { "Report on a cable assembly" };
    let danger = unit.hazard.then(|| html! { "Plugged in, this unit can destroy equipment or hurt someone." });
    let lead = html! {
        p { (lead(unit)) }
    };
    let title = format!("{}: {}", unit.full_name(), unit.verdict.word());
    let errors: Vec<String> = Vec::new();
    shell_page(
        &title,
        html! {
            (banner(kind, &unit.full_name(), danger, (Tone::of(unit.verdict), &unit.verdict.word().to_uppercase()), lead))
            main {
                (cautions::list("Before it is connected", &cautions::connecting(unit.hazard, unit.verdict == Verdict::Conforms, unit.length)))
                (section("subject", "What was checked", subject(unit)))
                (section("picture", "Wiring", picture(unit)))
                (section("findings", "Findings", findings(unit, "h3")))
                @if !unit.rework.is_empty() { (section("repair", "Repair, in this order", rework(unit))) }
                (section("figures", "Figures against limits", html! { (figures::of_unit(unit)) (uncertainty()) }))
                @if let Some(links) = links::of_unit(unit, true) { (section("signal", "Signal", links)) }
                (section("not-shown", "What wasn't tested", not_shown(unit)))
                (problems(report, &errors))
                (section("origin", "Where this comes from", html! { (origin(report, said)) (own_digest(unit)) }))
                @if lot.unjudged > 0 { p { (count(lot.unjudged, "unit", "units")) " of the input without a verdict." } }
            }
            (foot())
        },
    )
}

fn lead(unit: &UnitView) -> String {
    let n = (unit.findings.len() + unit.lines.len() + unit.more) as u64;
    let found = match n {
        0 => "nothing was found".to_owned(),
        n => count(n, "finding", "findings"),
    };
    match unit.verdict {
        Verdict::Conforms => {
            format!("On what was measured it conforms to its pin map; {found}. What wasn't tested stands below.")
        }
        Verdict::Fails => format!("It doesn't conform: {found}."),
        Verdict::Inconclusive => format!("It can't be decided on this evidence: {found}."),
    }
}

fn subject(unit: &UnitView) -> Markup {
    html! {
        dl class="facts" {
            dt { "Unit" } dd { bdi { (unit.full_name()) } }
            dt { "Cable" } dd { (unit.cable) }
            dt { "Requirement" } dd { (unit.standard) }
            dt { "Evidence" } dd { bdi { (unit.file) } }
            @if unit.is_drawing { dt { "Kind" } dd { "a drawing: nothing was measured" } }
        }
    }
}

fn own_digest(unit: &UnitView) -> Markup {
    html! {
        @if let Some(digest) = &unit.digest {
            p { "SHA-256 of the unit's own lines: " span class="code digest" { (digest) } }
        }
    }
}

/// The wiring of a unit.
fn picture(unit: &UnitView) -> Markup {
    html! {
        @match &unit.picture {
            Some(svg) if svg.len() <= PICTURE => {
                figure class="wiring" {
                    div class="scroll" tabindex="0" role="group" aria-label="Wiring of the unit" { (PreEscaped(svg)) }
                    figcaption { "The wiring as it was found, faults marked; the findings say the same in words." }
                }
            }
            Some(_) => p { "The picture is too large for this page: `backshell draw` writes it into a file of its own." },
            None => p { "It can't be drawn as it stands; the findings say why." },
        }
    }
}

/// The findings of a unit. `heading` is the level below what they stand under.
fn findings(unit: &UnitView, heading: &str) -> Markup {
    html! {
        @if unit.findings.is_empty() { p { "None." } }
        @for (nth, finding) in unit.findings.iter().enumerate() { (one(nth + 1, finding, heading)) }
        @if !unit.lines.is_empty() {
            p { "Further findings, a line each:" }
            ul { @for (code, message) in &unit.lines { li { span class="code" { (code) } " " (message) } } }
        }
        @if unit.more > 0 { p { (unit.more) " more findings aren't listed; `backshell check --format json` has them all." } }
    }
}

/// One finding: what, where, why, and how to repair it.
pub(super) fn one(nth: usize, finding: &FindingView, heading: &str) -> Markup {
    let title = html! {
        span class="nth" { (nth) } " " (finding.message)
    };
    html! {
        article class={ "finding " (if finding.hazard { "stop" } else { finding.severity.word() }) } {
            p class="tags" { span class="tag" { (finding.weight()) } " " span class="code" { (finding.code) } }
            @if heading == "h3" { h3 { (title) } } @else { h4 { (title) } }
            (places(finding))
            dl class="facts" {
                @for (word, text) in [("Why it matters", &finding.why), ("Repair", &finding.remedy), ("Source", &finding.source)] {
                    @if !text.is_empty() { dt { (word) } dd { (text) } }
                }
            }
        }
    }
}

/// The lines that show a finding.
pub(super) fn places(finding: &FindingView) -> Markup {
    let line = |place: &Place| {
        html! {
            li {
                p class="where" { bdi { (place.file) } ", line " (place.line) ", column " (place.column) }
                pre { span class="line-number" { (place.line) } " " (place.text[0]) mark { (place.text[1]) } (place.text[2]) }
                @if !place.says.is_empty() { p class="says" { (place.says) } }
            }
        }
    };
    html! {
        @if !finding.places.is_empty() { ol class="places" { @for place in &finding.places { (line(place)) } } }
        @if finding.more_places > 0 { p { (finding.more_places) " more places aren't listed." } }
    }
}

fn rework(unit: &UnitView) -> Markup {
    html! {
        (cautions::list("Before it is repaired and measured again", &cautions::measuring(unit)))
        ol { @for step in &unit.rework { li { (step) } } }
    }
}

/// What the evidence of a unit can't show.
fn not_shown(unit: &UnitView) -> Markup {
    html! {
        p { "This evidence can't speak of:" }
        ul class="words" { @for word in &unit.not_shown { li { (word) } } }
        p { "A cable can conform in all that is listed above and still be bad in one of these." }
    }
}

/// A unit on the page of a lot.
pub(super) fn part(nth: usize, unit: &UnitView, with_picture: bool) -> Markup {
    html! {
        article class="unit" id={ "unit-" (nth) } {
            h3 {
                bdi { (unit.full_name()) } " "
                span class={ "tag " (unit.verdict.word()) } { (unit.verdict.word()) }
                @if unit.hazard { " " span class="tag stop" { "DO NOT CONNECT" } }
            }
            p class="small" { (unit.cable) ". Evidence: " bdi { (unit.file) } @if let Some(digest) = &unit.digest { ", own lines " span class="code digest" { (digest) } } }
            @if with_picture { (picture(unit)) } @else { p class="small" { "Its pictures are left out, to keep the page small." } }
            (findings(unit, "h4"))
            @if !unit.rework.is_empty() { h4 { "Repair, in this order" } (rework(unit)) }
            @if let Some(links) = links::of_unit(unit, with_picture) { h4 { "Signal" } (links) }
        }
    }
}
