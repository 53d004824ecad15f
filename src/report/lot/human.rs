//! The report on a lot for people: the decision first.

use std::fmt::Write as _;

use unicode_width::UnicodeWidthStr;

use crate::lot::{Decision, FULL_NAMES, SortBy};
use crate::text::{count, visible};
use crate::units::{Quantity, Unit};

use super::super::page::Page;
use super::super::terminal::WIDTH;
use super::model::{GroupReport, LotReport};
use super::sections::{LaneFigure, OutlierEntry, RankEntry, p_value};

/// So many rows of a list are shown; `--format json` has all.
const ROWS: usize = 12;

/// The report for people.
#[must_use]
pub fn lot_text(report: &LotReport) -> String {
    lot_text_within(report, WIDTH)
}

/// The report for people, with lines of so many columns; tables keep theirs.
#[must_use]
pub fn lot_text_within(report: &LotReport, width: usize) -> String {
    let mut out = Page::new(width);
    headline(&mut out, report.decision);
    match &report.groups[..] {
        [] => out.push_str("no unit has a verdict\n\n"),
        [group] => group_text(&mut out, "", group),
        groups => {
            paragraph(
                &mut out,
                "",
                &format!("{} groups of units, each decided for itself: this is the worst of the decisions", groups.len()),
            );
            ranking(&mut out, report.ranked_by, &report.ranking);
            lines(&mut out, report);
            for group in groups {
                let decision = format!("{}  ", group.decision.words());
                if group.is_plain() {
                    paragraph(&mut out, &decision, &format!("{}: {} of {} conform", group.group, group.conforms, group.tested));
                    out.push_str("\n");
                } else {
                    group_text(&mut out, &decision, group);
                }
            }
        }
    }
    close(&mut out, report);
    out.into_text()
}

/// The decision and the counts alone: a line a group, and what must not be connected.
#[must_use]
pub fn lot_summary_text(report: &LotReport) -> String {
    let mut out = Page::new(WIDTH);
    for group in &report.groups {
        let _ = write!(out, "{}  {}: ", group.decision.words(), visible(&group.group));
        counts(&mut out, group);
    }
    match report.groups.len() {
        0 => out.push_str("no unit has a verdict\n"),
        1 => {}
        groups => {
            let _ = writeln!(out, "{}: the worst of {groups} decisions", report.decision.words());
        }
    }
    out.into_text()
}

fn headline(out: &mut Page, decision: Decision) {
    let words = decision.words();
    let spaced: String = words.chars().flat_map(|letter| [letter, ' ']).collect();
    let spaced = spaced.trim_end();
    let rule = "=".repeat(spaced.len() + 4);
    let _ = writeln!(out, "{rule}\n  {spaced}\n{rule}");
}

fn paragraph(out: &mut Page, first: &str, text: &str) {
    out.paragraph(first, text);
}

fn group_text(out: &mut Page, first: &str, group: &GroupReport) {
    paragraph(out, first, &group.group);
    counts(out, group);
    out.push_str("\n");
    paragraph(out, "  why     ", &group.reason);
    paragraph(out, "  plan    ", &group.plan);
    paragraph(out, "  proof   ", &group.proves);
    for note in &group.notes {
        paragraph(out, "  note    ", note);
    }
    faults(out, group);
    patterns(out, group);
    units(out, group);
    figures(out, group);
    out.push_str("\n");
}

/// How many units did what, and how many must not be connected.
fn counts(out: &mut Page, group: &GroupReport) {
    let tested = count(group.tested, "unit", "units");
    let of = if group.size > group.tested { format!(" of {}", group.size) } else { String::new() };
    let GroupReport { conforms, fails, inconclusive, .. } = group;
    let _ = writeln!(
        out,
        "{tested}{of} tested: {conforms} conform{}, {fails} fail{}, {inconclusive} inconclusive",
        if *conforms == 1 { "s" } else { "" },
        if *fails == 1 { "s" } else { "" },
    );
    if group.dangerous > 0 {
        let _ = writeln!(out, "DO NOT CONNECT: {}", count(group.dangerous, "unit", "units"));
    }
}

fn faults(out: &mut Page, group: &GroupReport) {
    if group.codes.is_empty() {
        return;
    }
    out.push_str("\nFaults, the most frequent first\n");
    let width = group.codes.iter().map(|entry| entry.code.len()).max().unwrap_or(0);
    let most = group.codes.first().map_or(1, |entry| entry.findings).max(1);
    for entry in &group.codes {
        let bar = "#".repeat(usize::try_from((entry.findings * 20).div_ceil(most)).unwrap_or(0));
        let percent = entry.share_so_far * 100.0;
        let line = format!(
            "  {:width$}  {:>6} in {:<13} {bar:20} {percent:3.0} % so far",
            entry.code,
            entry.findings,
            count(entry.units, "unit", "units"),
        );
        let _ = writeln!(out, "{}", line.trim_end());
    }
    let pins = group.pins.iter().take(ROWS).map(|pin| format!("{} {}", visible(&pin.point), pin.findings));
    let mut pins: Vec<String> = pins.collect();
    if group.pins.len() > ROWS {
        pins.push(format!("and {} more", group.pins.len() - ROWS));
    }
    paragraph(out, "  contacts  ", &pins.join(", "));
    let ends = group.ends.iter().map(|end| {
        let alone = if end.alone > 0 { format!(" ({} at this end alone)", end.alone) } else { String::new() };
        format!("{} {}{alone}", end.end, end.shared + end.alone)
    });
    paragraph(out, "  ends      ", &ends.collect::<Vec<_>>().join(", "));
}

fn patterns(out: &mut Page, group: &GroupReport) {
    if group.patterns.is_empty() {
        return;
    }
    out.push_str("\nWhat the faults have in common\n");
    for pattern in group.patterns.iter().take(ROWS) {
        let p = match (pattern.p, pattern.p_corrected) {
            (Some(p), Some(corrected)) => {
                format!(" (p {}, {} for all places looked at)", p_value(p), p_value(corrected))
            }
            _ => String::new(),
        };
        paragraph(out, &format!("  {:10}  ", pattern.kind), &format!("{}{p}", pattern.found));
        let word = if pattern.kind == "too few" { "" } else { "suspect " };
        paragraph(out, "              ", &format!("{word}{}", pattern.suspect));
    }
    if group.patterns.len() > ROWS {
        let _ = writeln!(out, "  and {} more", group.patterns.len() - ROWS);
    }
}

fn units(out: &mut Page, group: &GroupReport) {
    if group.units.is_empty() {
        return;
    }
    out.push_str("\nNot accepted, or tested again\n");
    for unit in group.units.iter().take(ROWS) {
        let text = match (&unit.results[..], &unit.why) {
            ([], _) => unit.verdict.clone(),
            ([only], None) => only.trim_start_matches("1 ").to_owned(),
            (results, why) => {
                let why = why.as_ref().map(|why| format!(". {why}")).unwrap_or_default();
                format!("{}: attempt {}{why}", unit.verdict, results.join("; attempt "))
            }
        };
        paragraph(out, "  ", &format!("{}  {text}", unit.unit));
    }
    if group.units.len() > ROWS {
        let _ = writeln!(out, "  and {} more", group.units.len() - ROWS);
    }
}

fn ohm(value: f64) -> String {
    Quantity::new((value * 1e6).round() / 1e6, Unit::Ohm).short()
}

fn figures(out: &mut Page, group: &GroupReport) {
    let outlier = |outlier: &OutlierEntry| {
        let z = outlier.z.map_or_else(|| "all others are equal".to_owned(), |z| format!("modified z {z:.1}"));
        let (points, median) = (&outlier.points, ohm(outlier.median));
        format!("{}: {points} reads {}, the lot {median} ({z})", outlier.unit, ohm(outlier.ohm))
    };
    if !group.outliers.is_empty() {
        out.push_str("\nFigures that stand apart from their siblings\n");
        for entry in group.outliers.iter().take(ROWS) {
            paragraph(out, "  ", &outlier(entry));
        }
        let more = group.outliers.len().saturating_sub(ROWS) as u64 + group.more_outliers;
        if more > 0 {
            let _ = writeln!(out, "  and {more} more");
        }
    }
    if let Some(found) = &group.capability {
        out.push_str("\nCapability of the conductor nearest to its limit\n");
        let text = format!(
            "{}: mean {}, standard deviation {}, limit {}: Cpk {:.2}, at least {:.2} at 95 % confidence, from {} values; {}",
            found.points,
            ohm(found.mean),
            ohm(found.deviation),
            ohm(found.limit),
            found.cpk,
            found.cpk_lower,
            found.n,
            found.caution
        );
        paragraph(out, "  ", &text);
    }
}

fn ranking(out: &mut Page, by: SortBy, rows: &[RankEntry]) {
    let _ = writeln!(out, "\nRanking, {}", by.words());
    let head = ["", "group", "conform", "may be bad", "rated grade", "scatter", "a metre"].map(str::to_owned);
    let percent = |share: f64| format!("{:.1} %", share * 100.0);
    let dash = || "-".to_owned();
    let cells = |row: &RankEntry| {
        [
            format!("{}.", row.place),
            visible(&row.group).into_owned(),
            format!("{} of {}", row.conforms, row.units),
            format!("< {}", percent(row.may_be_bad)),
            row.worst_steps_above_rated.zip(row.worst_margin).map_or_else(dash, |(steps, margin)| match steps {
                0 => format!("met ({:+.0} %)", margin * 100.0),
                _ => format!("{steps:+} ({:+.0} %)", margin * 100.0),
            }),
            row.scatter.map_or_else(dash, percent),
            row.cost_per_metre.zip(row.currency.as_ref()).map_or_else(dash, |(cost, currency)| format!("{cost:.2} {currency}")),
        ]
    };
    let table: Vec<[String; 7]> = std::iter::once(head).chain(rows.iter().map(cells)).collect();
    let width = |column: usize| table.iter().map(|row| row[column].width()).max().unwrap_or(0);
    let widths: Vec<usize> = (0..7).map(width).collect();
    for row in &table {
        let mut line = String::from(" ");
        for (cell, width) in row.iter().zip(&widths) {
            let _ = write!(line, " {cell}{} ", " ".repeat(width.saturating_sub(cell.width())));
        }
        let _ = writeln!(out, "{}", line.trim_end());
    }
    let mut notes: Vec<(&str, Vec<&str>)> = Vec::new();
    for (note, row) in rows.iter().flat_map(|row| row.notes.iter().map(move |note| (note, row))) {
        match notes.iter_mut().find(|(known, _)| known == note) {
            Some((_, of)) => of.push(&row.group),
            None => notes.push((note, vec![&row.group])),
        }
    }
    for (note, of) in notes {
        let of = if let [one] = of[..] { one.to_owned() } else { format!("{} of the groups", of.len()) };
        paragraph(out, "  ", &format!("{of}: {note}"));
    }
    out.push_str("\n");
}

/// What the ends add, and what each metre adds.
struct LineWords<'a> {
    group: &'a str,
    figure: String,
    points: usize,
    ends: f64,
    per_metre: f64,
    half_widths: Option<(f64, f64)>,
    caution: Option<&'a str>,
}

impl LineWords<'_> {
    fn say(&self, out: &mut Page, show: impl Fn(f64) -> String) {
        let half = |half: Option<f64>| half.map(|half| format!(" +/- {}", show(half))).unwrap_or_default();
        let (ends, slope) = (show(self.ends), show(self.per_metre));
        let (a, b) = (self.half_widths.map(|half| half.0), self.half_widths.map(|half| half.1));
        let caution = self.caution.map(|caution| format!(" ({caution})")).unwrap_or_default();
        let (group, figure, points) = (self.group, &self.figure, self.points);
        let text =
            format!("{group}, {figure}over {points} lengths: ends {ends}{}, cable {slope}{} a metre{caution}", half(a), half(b));
        paragraph(out, "Line  ", &text);
    }
}

fn lines(out: &mut Page, report: &LotReport) {
    for line in &report.lines {
        let words = LineWords {
            group: &line.group,
            figure: String::new(),
            points: line.points,
            ends: line.ends_ohm,
            per_metre: line.ohm_per_metre,
            half_widths: line.half_widths,
            caution: line.caution.as_deref(),
        };
        words.say(out, ohm);
    }
    for line in &report.lane_lines {
        let figure = match line.gigahertz {
            Some(gigahertz) => format!("loss at {gigahertz} GHz "),
            None => "delay ".to_owned(),
        };
        let words = LineWords {
            group: &line.group,
            figure,
            points: line.points,
            ends: line.ends,
            per_metre: line.per_metre,
            half_widths: line.half_widths,
            caution: line.caution.as_deref(),
        };
        match line.figure {
            LaneFigure::Loss => words.say(out, |db| format!("{:.2} dB", (db * 100.0).round() / 100.0 + 0.0)),
            LaneFigure::Delay => words.say(out, |seconds| format!("{:.3} ns", (seconds * 1e12).round() / 1e3 + 0.0)),
        }
    }
    if !report.lines.is_empty() || !report.lane_lines.is_empty() {
        out.push_str("\n");
    }
}

fn close(out: &mut Page, report: &LotReport) {
    let mut not_shown: std::collections::BTreeMap<&str, u64> = std::collections::BTreeMap::new();
    let (mut tested, mut untested) = (0, 0);
    for group in &report.groups {
        tested += group.tested;
        untested += group.size - group.tested.min(group.size);
        for (word, units) in &group.not_shown {
            *not_shown.entry(word).or_default() += units;
        }
    }
    out.push_str("What wasn't tested\n");
    if untested > 0 {
        paragraph(
            out,
            "  ",
            &format!(
                "{} of the lot: the bounds above speak of {}, no verdict does",
                count(untested, "unit", "units"),
                if untested == 1 { "it" } else { "them" }
            ),
        );
    }
    let words: Vec<String> = not_shown
        .into_iter()
        .map(
            |(word, units)| if units >= tested { word.to_owned() } else { format!("{word} ({})", count(units, "unit", "units")) },
        )
        .collect();
    if !words.is_empty() {
        paragraph(out, "  ", &words.join(", "));
    }
    if report.left_out.iter().any(|table| table == FULL_NAMES) {
        paragraph(out, "  ", "whether a unit is in two of the inputs: there are too many units to keep their names");
    }
    if report.unjudged > 0 {
        let _ = writeln!(out, "  {} of the input without a verdict: see the errors", report.unjudged);
    }
    if report.drawings > 0 {
        let _ = writeln!(out, "  {} in the input: no units of a lot, left out", count_drawings(report.drawings));
    }
    for table in report.left_out.iter().filter(|table| *table != FULL_NAMES) {
        let _ = writeln!(out, "  the table of {table} grew too large and was left out");
    }
    paragraph(
        out,
        "",
        "The units tested are taken for a random sample. An engineering estimate, no certification; accepting a lot is a signature.",
    );
}

fn count_drawings(n: u64) -> String {
    count(usize::try_from(n).unwrap_or(usize::MAX), "drawing", "drawings")
}
