//! The page of a lot: the decision, what its faults have in common, where they are, then unit by unit.

use maud::{Markup, PreEscaped, html};

use crate::lot::{Decision, FULL_NAMES};

use super::super::lot::{GroupReport, LotReport};
use super::collect::{FEW, HtmlReport};
use super::shell::{Tone, banner, foot, origin, page as shell_page, problems, section, table, uncertainty};
use super::{HtmlSaid, cautions, count, figures, name, sentence, unit, verdicts};

/// So many groups are shown in full; the ranking has all that fit.
const GROUPS: usize = 8;

/// So many rows of a table.
const ROWS: usize = 40;

/// So many contacts, those that most faults touch.
const PINS: usize = 20;

/// Bytes of the units that are shown in full, and of the pictures among them.
const UNIT_BYTES: usize = 1_600_000;
const PICTURE_BYTES: usize = 1_000_000;

/// The page of several units.
pub(super) fn page(report: &HtmlReport, lot: &LotReport, said: &HtmlSaid) -> Markup {
    let subject = match &lot.groups[..] {
        [group] => name(&group.group),
        [] => "no unit was tested".to_owned(),
        groups => format!("{} groups of units", groups.len()),
    };
    let verdict = if lot.groups.is_empty() && report.tests() > 0 {
        drawings(report)
    } else {
        (Tone::of_decision(lot.decision), lot.decision.words())
    };
    shell_page(
        &format!("{subject}: {}", verdict.1.to_lowercase()),
        html! {
            (banner("Report on a lot of cable assemblies", &subject, danger(report), verdict, lead(report, lot)))
            (contents(report, lot))
            main {
                (cautions::list("Before anything is connected or moved", &before(report, lot)))
                (section("decision", "Decision", decision(lot)))
                @if let Some(worst) = report.heat.worst() {
                    (section("where", "Where the faults are", html! {
                        p { "Most often at " (worst) "." }
                        (report.heat.draw())
                    }))
                }
                @for (nth, group) in lot.groups.iter().take(GROUPS).enumerate() { (of_group(report, lot, nth, group)) }
                @if lot.groups.len() > GROUPS {
                    p { (lot.groups.len() - GROUPS) " more groups are in the ranking and the tables of units only." }
                }
                @if lot.groups.len() > 1 { (section("ranking", "The groups side by side", ranking(lot))) }
                (units(report))
                (remarks(report))
                (section("not-shown", "What wasn't tested", not_shown(lot)))
                (section("uncertainty", "Uncertainty and limits of this report", html! { (uncertainty()) (limits(report, lot)) }))
                (problems(report, &left_out(lot)))
                (section("origin", "Where this comes from", origin(report, said)))
            }
            (foot())
        },
    )
}

/// Drawings alone are no lot: the worst of their verdicts.
fn drawings(report: &HtmlReport) -> (Tone, &'static str) {
    if report.fails > 0 {
        (Tone::Bad, "FAILS")
    } else if report.inconclusive > 0 {
        (Tone::Open, "INCONCLUSIVE")
    } else {
        (Tone::Good, "CONFORMS")
    }
}

/// The units that mustn't be connected.
pub(super) fn danger(report: &HtmlReport) -> Option<Markup> {
    (report.dangerous_count > 0).then(|| {
        let more = report.dangerous_count.saturating_sub(24.min(report.dangerous.len() as u64));
        html! {
            (count(report.dangerous_count, "unit", "units")) " can destroy equipment or hurt someone: "
            bdi { (report.dangerous.iter().take(24).map(String::as_str).collect::<Vec<_>>().join(", ")) }
            @if more > 0 { " and " (more) " more" } "."
        }
    })
}

fn lead(report: &HtmlReport, lot: &LotReport) -> Markup {
    let sum = |of: fn(&GroupReport) -> u64| lot.groups.iter().map(of).sum::<u64>();
    html! {
        @if lot.groups.is_empty() {
            p { (count(report.tests(), "drawing", "drawings")) ": " (verdicts(report.conforms, report.fails, report.inconclusive)) "." }
        } @else {
            p {
                (count(sum(|group| group.tested), "unit", "units")) " tested, of " (sum(|group| group.size)) ": "
                (verdicts(sum(|group| group.conforms), sum(|group| group.fails), sum(|group| group.inconclusive))) "."
            }
        }
        @if report.drawings_not_sound() > 0 && !lot.groups.is_empty() {
            p { (count(report.drawings_not_sound(), "drawing", "drawings")) " in the input not sound: see below." }
        }
        @if let [group] = &lot.groups[..] { p { (sentence(&group.reason)) "." } }
        @if lot.groups.len() > 1 { p { "Each group is decided for itself; this is the worst of the decisions." } }
    }
}

fn contents(report: &HtmlReport, lot: &LotReport) -> Markup {
    let mut links = vec![("decision", "Decision")];
    if report.heat.worst().is_some() {
        links.push(("where", "Where the faults are"));
    }
    if lot.groups.len() > 1 {
        links.push(("ranking", "Ranking"));
    }
    links.extend([("units", "Units"), ("not-shown", "Not tested"), ("uncertainty", "Uncertainty"), ("origin", "Origin")]);
    html! {
        nav aria-label="Contents" { ul { @for (id, words) in links { li { a href={ "#" (id) } { (words) } } } } }
    }
}

fn before(report: &HtmlReport, lot: &LotReport) -> Vec<&'static str> {
    let sound = report.fails + report.inconclusive == 0;
    let longest = report.summary().groups.keys().filter_map(crate::lot::GroupKey::length).max_by(f64::total_cmp);
    let mut all = cautions::connecting(report.dangerous_count > 0, sound, longest);
    if !sound || lot.decision != Decision::Accept {
        all.push(cautions::APART);
    }
    all
}

fn decision(lot: &LotReport) -> Markup {
    html! {
        @for group in lot.groups.iter().take(GROUPS) {
            h3 { bdi { (name(&group.group)) } ": " (group.decision.words().to_lowercase()) }
            dl class="facts" {
                dt { "Tested" }
                dd { (group.tested) " of " (group.size) ": " (verdicts(group.conforms, group.fails, group.inconclusive)) }
                dt { "Why" } dd { (sentence(&group.reason)) }
                dt { "Sampling plan" } dd { (sentence(&group.plan)) }
                dt { "What the sample proves" } dd { (sentence(&group.proves)) }
                dt { "Share not accepted" }
                dd { (percent(group.interval[0])) " to " (percent(group.interval[1])) ", at 95 % confidence (Clopper and Pearson)" }
                @for note in &group.notes { dt { "Note" } dd { (sentence(note)) } }
            }
        }
        p { "The units tested are taken for a random sample. Accepting a lot is a signature." }
    }
}

fn percent(share: f64) -> String {
    format!("{:.1} %", share * 100.0)
}

/// What a group's faults are.
fn of_group(report: &HtmlReport, lot: &LotReport, nth: usize, group: &GroupReport) -> Markup {
    let own = report.summary().groups.values().nth(nth);
    if group.codes.is_empty() && own.is_none_or(|own| own.readings.is_empty()) {
        return html! {};
    }
    let title = if lot.groups.len() == 1 {
        "Faults and figures".to_owned()
    } else {
        format!("Faults and figures: {}", name(&group.group))
    };
    section(
        &format!("group-{}", nth + 1),
        &title,
        html! {
            @if !group.codes.is_empty() { (pareto(group)) (patterns(group)) }
            (again(group))
            @if let Some(own) = own { (figures::of_group(own)) }
            (apart(group))
        },
    )
}

/// Faults by code, contact and end, the most frequent first.
pub(super) fn pareto(group: &GroupReport) -> Markup {
    let most = |largest: Option<u64>| largest.unwrap_or(1).max(1);
    let codes = most(group.codes.first().map(|entry| entry.findings));
    let pins = most(group.pins.first().map(|entry| entry.findings));
    let more = group.pins.len().saturating_sub(PINS);
    html! {
        (table("Faults by code, the most frequent first", &["Code", ">Units", ">Findings", "Bar", ">So far"], html! {
            @for entry in &group.codes {
                tr { td class="code" { (entry.code) } td class="number" { (entry.units) } td class="number" { (entry.findings) }
                    td { (bar(entry.findings, codes)) } td class="number" { (percent(entry.share_so_far)) } }
            }
        }))
        div class="beside" {
            (table("Contacts that faults touch", &["Contact", ">Findings", "Bar"], html! {
                @for entry in group.pins.iter().take(PINS) {
                    tr { td class="code" { bdi { (name(&entry.point)) } } td class="number" { (entry.findings) } td { (bar(entry.findings, pins)) } }
                }
            }))
            (table("Ends that faults touch", &["End", ">With another end", ">Alone"], html! {
                @for entry in group.ends.iter().take(ROWS) {
                    tr { td class="code" { bdi { (name(&entry.end)) } } td class="number" { (entry.shared) } td class="number" { (entry.alone) } }
                }
            }))
        }
        @if more > 0 { p { (more) " more contacts aren't listed." } }
        @if group.ends.len() > ROWS { p { (group.ends.len() - ROWS) " more ends aren't listed." } }
    }
}

/// A bar of a Pareto chart; the figure stands beside it.
fn bar(n: u64, of: u64) -> Markup {
    let width = (n * 100).div_ceil(of);
    html! {
        svg class="bar" xmlns="http://www.w3.org/2000/svg" width="100" height="10" viewBox="0 0 100 10" aria-hidden="true" {
            (PreEscaped(format!("<rect width=\"{width}\" height=\"10\"/>")))
        }
    }
}

/// What the faults have in common, with what to suspect first.
pub(super) fn patterns(group: &GroupReport) -> Markup {
    html! {
        @if !group.patterns.is_empty() {
            (table("What the faults have in common", &["Pattern", "Found", "Suspect first", ">p, for all places"], html! {
                @for pattern in group.patterns.iter().take(ROWS) {
                    tr {
                        td { (pattern.kind) } td class="text" { (sentence(&pattern.found)) } td class="text" { (sentence(&pattern.suspect)) }
                        td class="number" { @match pattern.p_corrected { Some(p) => (format!("{p:.2e}")), None => "-" } }
                    }
                }
            }))
            @if group.patterns.len() > ROWS { p { (group.patterns.len() - ROWS) " more patterns aren't listed." } }
        }
    }
}

/// Units that were tested again, with every result.
fn again(group: &GroupReport) -> Markup {
    let retested: Vec<_> = group.units.iter().filter(|unit| unit.results.len() > 1).collect();
    html! {
        @if !retested.is_empty() {
            (table("Tested again: every result is kept", &["Unit", "Counts as", "Results", "Why"], html! {
                @for unit in retested.iter().take(ROWS) {
                    tr { td { bdi { (name(&unit.unit)) } } td { (unit.verdict) } td class="text" { (sentence(&unit.results.join("; "))) }
                        td class="text" { @if let Some(why) = &unit.why { (sentence(why)) } } }
                }
            }))
            @if retested.len() > ROWS { p { (retested.len() - ROWS) " more units that were tested again aren't listed." } }
        }
    }
}

/// Figures that stand apart, and the capability.
fn apart(group: &GroupReport) -> Markup {
    let more = group.outliers.len().saturating_sub(ROWS) as u64 + group.more_outliers;
    html! {
        @if !group.outliers.is_empty() {
            (table("Figures that stand apart from their siblings", &["Unit", "Contacts", ">Reads", ">The lot", ">Modified z"], html! {
                @for entry in group.outliers.iter().take(ROWS) {
                    tr {
                        td { bdi { (name(&entry.unit)) } } td class="code" { bdi { (name(&entry.points)) } }
                        td class="number" { (figures::ohm(entry.ohm)) } td class="number" { (figures::ohm(entry.median)) }
                        td class="number" { @match entry.z { Some(z) => (format!("{z:.1}")), None => "all others are equal" } }
                    }
                }
            }))
            @if more > 0 { p { (more) " more aren't listed." } }
        }
        @if let Some(found) = &group.capability {
            p {
                "Capability of the conductor nearest to its limit, " bdi { (name(&found.points)) } ": Cpk " (cpk(found.cpk))
                ", at least " (cpk(found.cpk_lower)) " at 95 % confidence, from " (found.n) " values; " (sentence(&found.caution)) "."
            }
        }
    }
}

/// A capability; where the values hardly differ, its size says nothing more.
fn cpk(value: f64) -> String {
    if value > 1000.0 { "above 1000".to_owned() } else { format!("{value:.2}") }
}

fn ranking(lot: &LotReport) -> Markup {
    let head = ["", "Group", ">Conform", ">May be bad", ">Rated grade, worst", ">Scatter", ">Cost of a metre"];
    let dash = || "-".to_owned();
    html! {
        (table(&format!("Ranking, {}", lot.ranked_by.words()), &head, html! {
            @for row in lot.ranking.iter().take(100) {
                tr {
                    td class="number" { (row.place) } td { bdi { (name(&row.group)) } }
                    td class="number" { (row.conforms) " of " (row.units) } td class="number" { "< " (percent(row.may_be_bad)) }
                    td class="number" {
                        (row.worst_steps_above_rated.zip(row.worst_margin).map_or_else(dash, |(steps, margin)| format!("{steps:+} ({:+.0} %)", margin * 100.0)))
                    }
                    td class="number" { (row.scatter.map_or_else(dash, percent)) }
                    td class="number" {
                        (row.cost_per_metre.zip(row.currency.as_ref()).map_or_else(dash, |(cost, currency)| format!("{cost:.2} {}", name(currency))))
                    }
                }
            }
        }))
        @if lot.ranking.len() > 100 { p { (lot.ranking.len() - 100) " more groups aren't listed." } }
    }
}

/// The units: the most urgent in full, the others in rows.
fn units(report: &HtmlReport) -> Markup {
    let (mut bytes, mut pictures, mut parts) = (0, 0, Vec::new());
    for (urgency, view) in &report.full {
        // a sound unit of many is a name
        if urgency.0 == 3 && report.tests() > FEW {
            continue;
        }
        let picture = view.drawn_bytes();
        let with_picture = pictures + picture <= PICTURE_BYTES;
        let part = unit::part(parts.len() + 1, view, with_picture).into_string();
        if bytes + part.len() > UNIT_BYTES {
            break;
        }
        bytes += part.len();
        pictures += if with_picture { picture } else { 0 };
        parts.push(part);
    }
    let not_sound = report.fails + report.inconclusive;
    let shown = report.full.iter().take(parts.len()).filter(|(urgency, _)| urgency.0 < 3).count() as u64;
    section(
        "units",
        "Unit by unit",
        html! {
            @if not_sound > shown {
                p { (shown) " of the " (not_sound) " tests that don't conform are shown in full, the most urgent first; the table has the others." }
            }
            @for part in &parts { (PreEscaped(part)) }
            (rows(report))
            @if !report.conforming.is_empty() {
                h3 { "Conform" }
                p class="names" { @for unit in &report.conforming { bdi { (unit) } " " } }
                @if report.names_left_out > 0 { p { (report.names_left_out) " more that conform aren't named." } }
            }
        },
    )
}

/// Every test that doesn't conform, as rows.
pub(super) fn rows(report: &HtmlReport) -> Markup {
    html! {
        @if !report.rows.is_empty() {
            (table("Tests that don't conform, in the order of the input", &["Unit", "Verdict", ">Findings", "Codes"], html! {
                @for row in &report.rows {
                    tr {
                        td { bdi { (row.name) } }
                        td { (row.verdict.word()) @if row.hazard { ", do not connect" } }
                        td class="number" { (row.findings) } td class="code" { (row.codes) }
                    }
                }
            }))
            @if report.rows_left_out > 0 { p { (report.rows_left_out) " more that don't conform aren't listed; `backshell lot --format csv` has them all." } }
        }
    }
}

/// What was found beside the faults: cautions and notes.
pub(super) fn remarks(report: &HtmlReport) -> Markup {
    if report.remarks.is_empty() {
        return html! {};
    }
    section(
        "remarks",
        "Cautions that fail no unit",
        table(
            "By code, with the first unit of each",
            &["Code", ">Tests", "Unit", "What it says"],
            html! {
                @for (code, (tests, unit, message)) in &report.remarks {
                    tr { td class="code" { (code) } td class="number" { (tests) } td { bdi { (unit) } } td class="text" { (message) } }
                }
            },
        ),
    )
}

/// What the evidence on a lot can't show.
pub(super) fn not_shown(lot: &LotReport) -> Markup {
    let untested: u64 = lot.groups.iter().map(|group| group.size.saturating_sub(group.tested)).sum();
    let mut words: std::collections::BTreeMap<&str, u64> = std::collections::BTreeMap::new();
    let tested: u64 = lot.groups.iter().map(|group| group.tested).sum();
    for (word, units) in lot.groups.iter().flat_map(|group| &group.not_shown) {
        *words.entry(word).or_default() += units;
    }
    html! {
        @if untested > 0 { p { strong { (count(untested, "unit", "units")) } " of the lot: the bounds speak of " (if untested == 1 { "it" } else { "them" }) ", no verdict does." } }
        @if lot.drawings > 0 { p { (count(lot.drawings, "drawing", "drawings")) " in the input: no units of a lot, nothing was measured of them." } }
        @if !words.is_empty() {
            (table("Questions that this evidence can't answer", &["Question", ">Units of which it isn't known"], html! {
                @for (word, units) in &words {
                    tr { td { (word) } td class="number" { @if *units >= tested { "all" } @else { (units) } } }
                }
            }))
        }
    }
}

fn limits(report: &HtmlReport, lot: &LotReport) -> Markup {
    html! {
        @if lot.groups.len() > 1 && report.heat.worst().is_some() {
            p { "The map of contacts puts the units of all groups side by side; contacts of different cables share a name there." }
        }
        p { "First tests are counted in the tables of faults; a retest counts for the decision where something was done to the unit in between." }
    }
}

fn left_out(lot: &LotReport) -> Vec<String> {
    let mut all: Vec<String> = lot
        .left_out
        .iter()
        .map(|table| match table.as_str() {
            FULL_NAMES => {
                "Whether a unit is in two of the inputs wasn't looked at: there are too many units to keep their names."
                    .to_owned()
            }
            table => format!("The table of {table} grew too large and was left out."),
        })
        .collect();
    if lot.unjudged > 0 {
        all.push(format!("{} of the input without a verdict.", count(lot.unjudged, "unit", "units")));
    }
    all
}
