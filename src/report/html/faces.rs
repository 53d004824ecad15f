//! The two papers that a person signs: the certificate of conformity and the non-conformance report.
//!
//! What is on them follows the records of the trade (common practice, no source). The program proposes; whoever signs decides.

use maud::{Markup, html};

use super::super::lot::LotReport;
use super::collect::HtmlReport;
use super::shell::{Tone, banner, foot, origin, page, problems, section, signature, table, uncertainty};
use super::views::FindingView;
use super::{HtmlSaid, cautions, count, lot as lot_page, name, sentence, unit};

/// What may become of units that don't conform.
const DISPOSITIONS: [(&str, &str); 7] = [
    ("Use as is", "a concession, signed by whoever owns the requirement"),
    ("Rework", "made to conform, then tested in full again"),
    ("Repair", "made usable without conforming: needs a concession"),
    ("Regrade", "sold or used at a lower grade"),
    ("Return to the supplier", ""),
    ("Scrap", ""),
    ("Hold", "until a reading that is named here is in"),
];

/// The certificate; only for units that all conform.
pub(super) fn certificate(report: &HtmlReport, lot: &LotReport, said: &HtmlSaid) -> Markup {
    let tested = report.tested(lot);
    let subject = subject(lot);
    let lead = html! {
        p { (count(tested, "unit", "units")) " tested, each against the requirement named below, and each conforms to what was tested." }
        p { strong { "Not valid until it is signed." } }
    };
    page(
        &format!("Certificate of conformity: {subject}"),
        html! {
            (banner("Certificate of conformity", &subject, None, (Tone::Good, "CONFORMS"), lead))
            main {
                (section("units", "Units", html! {
                    (groups(lot))
                    (requirements(report))
                    p class="names" { @for unit in &report.conforming { bdi { (unit) } " " } }
                    @if report.names_left_out > 0 { p { (report.names_left_out) " more that conform aren't named here." } }
                    @if !report.rows.is_empty() {
                        p { "First tests of these units didn't conform; they were tested again after something was done to them:" }
                        (lot_page::rows(report))
                    }
                }))
                (section("tested", "What was tested", html! {
                    p { "Every contact that the evidence speaks of against the pin map: what must be joined, what must be apart, shells and
                        parts; and every figure in the evidence against its limit." }
                    (uncertainty())
                }))
                (lot_page::remarks(report))
                (section("not-shown", "What wasn't tested", html! {
                    p { "This certificate doesn't speak of what follows." }
                    (lot_page::not_shown(lot))
                }))
                (section("deviations", "Approved deviations", html! { p { "To be filled in by whoever signs; none is known to the program." } (blank()) }))
                (section("origin", "Where this comes from", origin(report, said)))
                (section("signatures", "Signature", signature("For the supplier, or whoever tested")))
            }
            (foot())
        },
    )
}

/// The non-conformance report; only where a unit doesn't conform.
pub(super) fn non_conformance(report: &HtmlReport, lot: &LotReport, said: &HtmlSaid) -> Markup {
    let subject = subject(lot);
    let affected = report.fails + report.inconclusive;
    let word = if report.fails > 0 { "DOESN'T CONFORM" } else { "NOT DECIDED" };
    let tone = if report.fails > 0 { Tone::Bad } else { Tone::Open };
    let size: u64 = lot.groups.iter().map(|group| group.size).sum();
    let lead = html! {
        p { (count(affected, "test", "tests")) " of " (report.tests()) " don't conform: " (report.fails) " fail, " (report.inconclusive) " can't be decided." }
        @if size > 0 { p { (report.tested(lot)) " of " (count(size, "unit", "units")) " in the lot were inspected." } }
    };
    page(
        &format!("Non-conformance report: {subject}"),
        html! {
            (banner("Non-conformance report", &subject, lot_page::danger(report), (tone, word), lead))
            main {
                (section("containment", "Containment", containment(report, size > report.tested(lot))))
                (section("item", "Item", html! { (groups(lot)) (requirements(report)) }))
                (section("nonconformities", "What doesn't conform", nonconformities(report, lot)))
                (section("affected", "Units affected", lot_page::rows(report)))
                (section("cause", "Proposed cause", cause(lot)))
                (lot_page::remarks(report))
                (section("not-shown", "What wasn't tested", lot_page::not_shown(lot)))
                (problems(report, &[]))
                (section("origin", "Where this comes from", html! { (origin(report, said)) (uncertainty()) }))
                (section("disposition", "Disposition", disposition()))
                (section("corrective", "Corrective action", html! { p { "What makes sure that it doesn't come again, who does it, until when:" } (blank()) }))
                (section("signatures", "Signatures", html! { (signature("Found by")) (signature("Decided by")) }))
            }
            (foot())
        },
    )
}

fn subject(lot: &LotReport) -> String {
    match &lot.groups[..] {
        [group] => name(&group.group),
        [] => "drawings".to_owned(),
        groups => format!("{} groups of units", groups.len()),
    }
}

fn groups(lot: &LotReport) -> Markup {
    html! {
        @if !lot.groups.is_empty() {
            (table("Units by cable, type, supplier, lot, rate and length", &["Group", ">In the lot", ">Tested", ">Conform", ">Fail", ">Inconclusive", "Plan"], html! {
                @for group in lot.groups.iter().take(60) {
                    tr {
                        td { bdi { (name(&group.group)) } }
                        @for n in [group.size, group.tested, group.conforms, group.fails, group.inconclusive] { td class="number" { (n) } }
                        td class="text" { (sentence(&group.plan)) }
                    }
                }
            }))
            @if lot.groups.len() > 60 { p { (lot.groups.len() - 60) " more groups aren't listed." } }
        }
    }
}

/// What the units were held against.
fn requirements(report: &HtmlReport) -> Markup {
    html! {
        dl class="facts" {
            @for (cable, standard) in &report.requirements {
                dt { (cable) } dd { @if standard.is_empty() { "as its own map says" } @else { (standard) } }
            }
        }
    }
}

fn containment(report: &HtmlReport, untested: bool) -> Markup {
    let mut all = cautions::connecting(report.dangerous_count > 0, false, None);
    all.push(cautions::APART);
    html! {
        (cautions::list("Before anything is done to the units", &all))
        p { "To be done, and ticked by whoever did it:" }
        ul class="ticks" {
            li { (tick()) "units that fail or are held: labelled and apart" }
            @if untested { li { (tick()) "the units of the lot that weren't tested: held" } }
            li { (tick()) "the same lot in stock: looked for and held" }
            li { (tick()) "the same lot on its way: stopped" }
            li { (tick()) "the same lot in use: found, and taken out where there is danger" }
            li { (tick()) "the test itself: a sound unit tested on the same adapter" }
        }
    }
}

/// Each kind of fault: requirement, actual, evidence, how many units.
fn nonconformities(report: &HtmlReport, lot: &LotReport) -> Markup {
    let units = |code: &str| -> Option<u64> {
        let of: u64 =
            lot.groups.iter().flat_map(|group| &group.codes).filter(|entry| entry.code == code).map(|entry| entry.units).sum();
        (of > 0).then_some(of)
    };
    let mut all: Vec<(&str, &String, &FindingView)> =
        report.examples.iter().map(|(code, (unit, finding))| (*code, unit, finding)).collect();
    all.sort_by_key(|(code, _, finding)| (!finding.hazard, std::cmp::Reverse(units(code)), *code));
    html! {
        @for (nth, (code, unit, finding)) in all.into_iter().enumerate() {
            article class={ "finding " (if finding.hazard { "stop" } else { finding.severity.word() }) } {
                p class="tags" { span class="tag" { (finding.weight()) } " " span class="code" { (code) } }
                h3 { span class="nth" { (nth + 1) } " " (finding.message) }
                dl class="facts" {
                    dt { "Requirement" } dd { @if finding.source.is_empty() { "the pin map of the cable" } @else { (finding.source) } }
                    dt { "Actual" } dd { (finding.message) }
                    dt { "Why it matters" } dd { (finding.why) }
                    dt { "Affected" } dd {
                        @if let Some(units) = units(code) { (count(units, "unit", "units")) " at the first test, of " (report.tested(lot)) " inspected" }
                        @else { "see the table of units" }
                    }
                    dt { "Evidence" } dd { "of unit " bdi { (unit) } ", the first that shows it:" }
                }
                (unit::places(finding))
                @if !finding.remedy.is_empty() { dl class="facts" { dt { "Repair, if that is decided" } dd { (finding.remedy) } } }
            }
        }
    }
}

fn cause(lot: &LotReport) -> Markup {
    html! {
        @for group in lot.groups.iter().take(8) {
            @if !group.codes.is_empty() { h3 { bdi { (name(&group.group)) } } (lot_page::pareto(group)) (lot_page::patterns(group)) }
        }
        p { "A proposal from figures alone: what to suspect first, not what was found. What was found, at the cause and at why it wasn't
            noticed:" }
        (blank())
    }
}

fn disposition() -> Markup {
    html! {
        p { "Left open on purpose: a person who may decide ticks one, and signs." }
        ul class="ticks" {
            @for (word, means) in DISPOSITIONS { li { (tick()) (word) @if !means.is_empty() { ": " (means) } } }
        }
        p { "For these units, and with these conditions:" }
        (blank())
    }
}

/// A box to tick by hand.
fn tick() -> Markup {
    html! { span class="tick-box" aria-label="not ticked" role="img" {} }
}

/// A place to write by hand.
fn blank() -> Markup {
    html! { div class="write" aria-label="left blank" role="img" {} }
}
