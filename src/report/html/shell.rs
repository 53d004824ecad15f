//! The page around everything: head, style, banner, and the sections that every face has.

use maud::{Markup, PreEscaped, html};

use crate::finding::Verdict;
use crate::lot::Decision;

use super::super::picture;
#[cfg(feature = "signal")]
use super::super::plot;
use super::collect::HtmlReport;
use super::{HtmlSaid, name};

/// The style of the page.
const STYLE: &str = include_str!("page.css");

/// What nobody may take this paper for.
pub(super) const STANDING: &str = "An engineering estimate from the evidence listed here, no certification. The results hold for the units that \
                        were tested. Whoever accepts, uses, repairs or rejects a unit signs for it; no program does.";

/// Where the text closes.
pub(super) fn finish(page: Markup) -> String {
    page.into_string()
}

/// The styles of curves and eyes.
#[cfg(feature = "signal")]
const CURVES: &str = plot::STYLES;
#[cfg(not(feature = "signal"))]
const CURVES: &str = "";

/// A page with its title and what is in it.
pub(super) fn page(title: &str, body: Markup) -> Markup {
    html! {
        (PreEscaped("<!DOCTYPE html>\n"))
        html xmlns="http://www.w3.org/1999/xhtml" lang="en" dir="ltr" {
            head {
                (PreEscaped("<meta charset=\"utf-8\"/><meta name=\"viewport\" content=\"width=device-width, initial-scale=1\"/>"))
                (PreEscaped("<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src 'unsafe-inline'\"/>"))
                title { (title) }
                style { (PreEscaped(STYLE)) (PreEscaped(within(".wiring", picture::STYLES))) (PreEscaped(within(".plot", CURVES))) }
            }
            body { (body) }
        }
    }
}

/// Rules of a picture that hold only below a class of the page: each selector gets it in front.
fn within(class: &str, rules: &str) -> String {
    let mut out = String::with_capacity(rules.len() * 2);
    for (selectors, body) in rules.split('}').filter_map(|rule| rule.split_once('{')) {
        for (nth, selector) in selectors.split(',').enumerate() {
            out.push_str(if nth > 0 { "," } else { "" });
            out.push_str(class);
            out.push(' ');
            out.push_str(selector.trim());
        }
        out.push('{');
        out.push_str(body.trim());
        out.push_str("}\n");
    }
    out
}

/// How the banner looks.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Tone {
    /// Dangerous.
    Stop,
    /// Not accepted.
    Bad,
    /// Not decided.
    Open,
    /// Accepted.
    Good,
}

impl Tone {
    pub(super) fn of(verdict: Verdict) -> Self {
        match verdict {
            Verdict::Conforms => Tone::Good,
            Verdict::Fails => Tone::Bad,
            Verdict::Inconclusive => Tone::Open,
        }
    }

    pub(super) fn of_decision(decision: Decision) -> Self {
        match decision {
            Decision::Accept => Tone::Good,
            Decision::Reject => Tone::Bad,
            Decision::Hold | Decision::NotEnoughUnits => Tone::Open,
        }
    }

    fn class(self) -> &'static str {
        match self {
            Tone::Stop => "stop",
            Tone::Bad => "bad",
            Tone::Open => "open",
            Tone::Good => "good",
        }
    }
}

/// The head of a page: what it is about, then the verdict in large letters; danger above all.
pub(super) fn banner(kind: &str, subject: &str, danger: Option<Markup>, (tone, verdict): (Tone, &str), lead: Markup) -> Markup {
    html! {
        header {
            p class="kind" { (kind) }
            p class="subject" { bdi { (subject) } }
            @if let Some(danger) = danger {
                div class={ "verdict " (Tone::Stop.class()) } role="alert" {
                    p class="large" { "DO NOT CONNECT" }
                    p { (danger) }
                }
            }
            div class={ "verdict " (tone.class()) } {
                h1 class="large" { (verdict) }
                (lead)
            }
        }
    }
}

/// A section with its heading.
pub(super) fn section(id: &str, title: &str, body: Markup) -> Markup {
    html! {
        section id=(id) aria-labelledby={ "h-" (id) } {
            h2 id={ "h-" (id) } { (title) }
            (body)
        }
    }
}

/// A table in a frame that scrolls where the page is narrow. A heading with `>` before it is over figures.
pub(super) fn table(caption: &str, head: &[&str], body: Markup) -> Markup {
    html! {
        div class="scroll" tabindex="0" role="group" aria-label=(caption) {
            table {
                caption { span { (caption) } }
                thead { tr { @for cell in head {
                    @match cell.strip_prefix('>') { Some(cell) => th scope="col" class="number" { (cell) }, None => th scope="col" { (cell) } }
                } } }
                tbody { (body) }
            }
        }
    }
}

/// Where it all comes from: what the user says of the paper, the header lines, the input with its digests, the program.
pub(super) fn origin(report: &HtmlReport, said: &HtmlSaid) -> Markup {
    let by_user = [("Number", &said.number), ("Date", &said.date), ("Order", &said.order), ("Instrument", &said.instrument)];
    let has_line = |word: &str| report.header.keys().any(|line| line.split_whitespace().next() == Some(word));
    let missing: Vec<&str> = [
        ("lot", "the lot", false),
        ("tested", "the day of the test", said.date.is_some()),
        ("operator", "who tested", false),
        ("temperature", "the temperature", false),
        ("", "the instrument", said.instrument.is_some()),
    ]
    .into_iter()
    .filter(|(word, _, known)| !known && !has_line(word))
    .map(|(_, words, _)| words)
    .collect();
    html! {
        dl class="facts" {
            @for (word, text) in by_user {
                @if let Some(text) = text { dt { (word) } dd { bdi { (name(text)) } } }
            }
            dt { "Program" }
            dd { "backshell " (env!("CARGO_PKG_VERSION")) ", with the catalogue of cables of this version" }
        }
        @if !report.header.is_empty() {
            (table("What the header lines of the input say", &["Line", ">Tests"], html! {
                @for (line, units) in &report.header { tr { td class="code" { bdi { (line) } } td class="number" { (units) } } }
            }))
            @if report.header_left_out { p { "There are more header lines than are listed." } }
        }
        (table("Input, with its SHA-256 (FIPS 180-4)", &["File", "Digest of its bytes"], html! {
            @for (file, digest) in &report.files {
                tr {
                    td class="code" { bdi { (file) } }
                    td class="code digest" { @match digest { Some(digest) => (digest), None => "none: it couldn't be read" } }
                }
            }
        }))
        @if report.files_left_out > 0 { p { (report.files_left_out) " more parts of the input aren't listed." } }
        @if !missing.is_empty() { p class="missing" { "Not said anywhere: " (missing.join(", ")) "." } }
    }
}

/// What of the input couldn't be used.
pub(super) fn problems(report: &HtmlReport, also: &[String]) -> Markup {
    if report.problems.is_empty() && also.is_empty() {
        return html! {};
    }
    section(
        "unusable",
        "What couldn't be used",
        html! {
            ul { @for text in report.problems.iter().chain(also) { li { (text) } } }
            @if report.problems_left_out > 0 { p { (report.problems_left_out) " more aren't listed." } }
        },
    )
}

/// How the figures were decided.
pub(super) fn uncertainty() -> Markup {
    html! {
        p {
            "Each figure is decided with its expanded uncertainty (k = 2): its own, or that of the header, or 0.02 ohm for resistance and
            5 % for insulation. It conforms where it keeps its limit with the uncertainty on top, fails where it misses it even so,
            and is inconclusive between. What wasn't measured never becomes a pass."
        }
    }
}

/// The foot of every page.
pub(super) fn foot() -> Markup {
    html! {
        footer {
            p { (STANDING) }
            p { "Names are cut after " (super::NAME) " columns and sentences after " (super::SENTENCE) ", with “…” where that happened;
                control characters and marks that turn the direction of writing are spelled out." }
        }
    }
}

/// Places for a signature; a person fills them in.
pub(super) fn signature(title: &str) -> Markup {
    html! {
        div class="signature" {
            h3 { (title) }
            div class="lines" {
                @for word in ["Name", "Title", "Date", "Signature"] { div { span class="blank" {} span { (word) } } }
            }
        }
    }
}
