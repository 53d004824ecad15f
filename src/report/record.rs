//! What the record says, as text and as JSON.

use std::fmt::Write;

use schemars::JsonSchema;
use serde::Serialize;

use crate::lot::record::{Audit, CodeCount, History, LotState, LotTrend, Row, Trend, UnitState};
use crate::text::visible;

use super::json::schema_of;
use super::maps::table;
use super::page::Page;
use super::terminal::WIDTH;

/// The longest name that a table shows, in characters.
const NAME: usize = 48;

/// An answer with the name of its form.
#[derive(Debug, Serialize, JsonSchema)]
struct Form<'a, T> {
    /// Which form this is, as in `backshell.record.unit/1`.
    schema: &'static str,
    #[serde(flatten)]
    answer: &'a T,
}

/// An answer of the record: as text for people, or as JSON.
pub trait RecordAnswer: Serialize + JsonSchema {
    /// The name of its form of JSON.
    const SCHEMA: &'static str;

    /// For people, with texts of so many columns; tables, digests and lines of the netlist keep their length.
    fn text_within(&self, width: usize) -> String;

    /// The same with texts of the usual width.
    #[must_use]
    fn text(&self) -> String {
        self.text_within(WIDTH)
    }

    /// One JSON object and a line feed.
    fn json(&self) -> String
    where
        Self: Sized,
    {
        let form = Form { schema: Self::SCHEMA, answer: self };
        serde_json::to_string_pretty(&form).unwrap_or_default() + "\n"
    }

    /// The JSON Schema of [`json`](Self::json).
    #[must_use]
    fn schema() -> String
    where
        Self: Sized + 'static,
    {
        schema_of::<Form<'static, Self>>()
    }
}

/// A name in a table: escaped, and cut where it is too long.
fn cell(name: &str) -> String {
    let shown = visible(name);
    match shown.char_indices().nth(NAME) {
        Some((cut, _)) => format!("{}…", &shown[..cut]),
        None => shown.into_owned(),
    }
}

fn said(name: Option<&String>) -> String {
    name.map_or_else(|| "-".to_owned(), |name| cell(name))
}

fn plural(n: usize, one: &str) -> String {
    if n == 1 { format!("1 {one}") } else { format!("{n} {one}s") }
}

fn verdict(word: &str, hazard: bool) -> String {
    let hazard = if hazard { ", DO NOT CONNECT" } else { "" };
    format!("{}{hazard}", visible(word))
}

fn codes(counts: &[CodeCount]) -> String {
    let counts: Vec<String> = counts.iter().map(|count| format!("{} {}", visible(&count.code), count.units)).collect();
    counts.join(", ")
}

impl RecordAnswer for History {
    const SCHEMA: &'static str = "backshell.record.unit/1";

    fn text_within(&self, width: usize) -> String {
        let mut out = Page::new(width);
        out.paragraph("", &format!("{}: {}", visible(&self.unit), plural(self.rows.len(), "test")));
        self.rows.iter().for_each(|row| attempt(&mut out, row));
        out.into_text()
    }
}

/// An attempt of a unit, with all that the record has of it.
fn attempt(out: &mut Page, row: &Row) {
    let what = if row.origin == "drawing" { "drawing" } else { "attempt" };
    let _ = writeln!(out, "\n{what} {}  {}  {}", row.attempt, visible(&row.time), verdict(&row.verdict, row.hazard));
    for finding in &row.findings {
        let first = format!("  {:7} {}  ", visible(&finding.severity), visible(&finding.code));
        out.paragraph(&first, &finding.message);
    }
    let lines = [
        ("lot", row.lot.as_deref()),
        ("supplier", row.supplier.as_deref()),
        ("type", row.kind.as_deref()),
        ("cable", Some(&row.cable)),
        ("map", Some(&row.map)),
        ("file", Some(&row.file)),
        ("digest", Some(&row.file_digest)),
        ("unit", Some(&row.unit_digest)),
        ("program", Some(&row.program)),
    ];
    for (name, value) in lines {
        if let Some(value) = value {
            out.paragraph(&format!("  {name:8} "), value);
        }
    }
    for line in &row.header {
        let _ = writeln!(out, "  header   {}", visible(line));
    }
    if row.options.as_object().is_none_or(|options| !options.is_empty()) {
        let _ = writeln!(out, "  options  {}", visible(&row.options.to_string()));
    }
    let _ = writeln!(out, "  row      {}, {}", row.number, visible(&row.digest));
}

impl RecordAnswer for LotState {
    const SCHEMA: &'static str = "backshell.record.lot/1";

    fn text_within(&self, width: usize) -> String {
        let mut out = Page::new(width);
        let stands = format!(
            "lot {}: {}; by the last test {} conform, {} fail, {} inconclusive",
            visible(&self.lot),
            plural(self.units.len(), "unit"),
            self.conforms,
            self.fails,
            self.inconclusive
        );
        out.paragraph("", &stands);
        if !self.codes.is_empty() {
            out.paragraph("", &format!("units by what keeps them from conforming: {}", codes(&self.codes)));
        }
        if self.drawings > 0 {
            let _ = writeln!(out, "{} of it, not counted as units", plural(self.drawings, "drawing"));
        }
        if !self.units.is_empty() {
            out.push_str("\n");
            table(
                &mut out,
                ["unit", "supplier", "tests", "verdicts", "last tested", "codes"],
                self.units.iter().map(unit).collect(),
            );
        }
        out.into_text()
    }
}

fn unit(unit: &UnitState) -> [String; 6] {
    let last = verdict(unit.last(), unit.hazard);
    let earlier = unit.verdicts.iter().rev().skip(1).map(|verdict| visible(verdict).into_owned());
    let mut verdicts: Vec<String> = earlier.collect();
    verdicts.reverse();
    verdicts.push(last);
    let codes = unit.codes.iter().map(|code| visible(code).into_owned()).collect::<Vec<_>>().join(" ");
    [
        cell(&unit.unit),
        said(unit.supplier.as_ref()),
        unit.attempts.to_string(),
        verdicts.join(" > "),
        visible(&unit.time).into_owned(),
        codes,
    ]
}

impl RecordAnswer for Trend {
    const SCHEMA: &'static str = "backshell.record.supplier/1";

    fn text_within(&self, width: usize) -> String {
        let mut out = Page::new(width);
        out.paragraph("", &format!("{}: {}, the first one first", visible(&self.supplier), plural(self.lots.len(), "lot")));
        out.push_str("\n");
        let heading = ["lot", "first tested", "units", "failed as delivered", "share", "at 95 %", "failing now", "codes now"];
        table(&mut out, heading, self.lots.iter().map(lot).collect());
        out.push_str("\n");
        out.paragraph(
            "",
            "Failed as delivered: by the first test of a unit that was decided, whatever was repaired since. At 95 %: exact \
             two-sided bounds (Clopper and Pearson 1934) on the share failing of all that is made so, where the units are a \
             random sample of it; an engineering estimate, no certification.",
        );
        out.into_text()
    }
}

fn lot(lot: &LotTrend) -> [String; 8] {
    let percent = |share: f64| format!("{:.1} %", share * 100.0);
    let share = if lot.decided == 0 { "-".to_owned() } else { percent(lot.failed as f64 / lot.decided as f64) };
    let bounds = lot.bounds.map_or_else(|| "-".to_owned(), |[low, high]| format!("{} to {}", percent(low), percent(high)));
    [
        said(lot.lot.as_ref()),
        visible(&lot.first).into_owned(),
        lot.units.to_string(),
        format!("{} of {}", lot.failed, lot.decided),
        share,
        bounds,
        lot.failing_now.to_string(),
        codes(&lot.codes),
    ]
}

impl RecordAnswer for Audit {
    const SCHEMA: &'static str = "backshell.record.verify/1";

    fn text_within(&self, width: usize) -> String {
        let rows = if self.rows == 1 { "1 row".to_owned() } else { format!("{} rows", self.rows) };
        let mut out = Page::new(width);
        let chain = if self.flaws == 0 {
            format!("{rows}; each follows from the one before")
        } else {
            format!("{rows}; TAMPERED WITH OR DAMAGED, {}", plural(usize::try_from(self.flaws).unwrap_or(usize::MAX), "flaw"))
        };
        out.paragraph("", &chain);
        for flaw in &self.described {
            out.paragraph("  ", &flaw.what);
        }
        let left = self.flaws.saturating_sub(self.described.len() as u64);
        if left > 0 {
            let _ = writeln!(out, "  and {left} more");
        }
        for remark in &self.remarks {
            out.paragraph("note: ", remark);
        }
        match self.noted_head_found {
            Some(true) => out.push_str("the head that was noted is in it\n"),
            Some(false) => {
                out.paragraph("", "THE HEAD THAT WAS NOTED IS NOT IN IT: rows were cut off or changed, or this is another record")
            }
            None => {}
        }
        let _ = writeln!(out, "head: row {}, {}", self.head.number, self.head.digest);
        out.paragraph(
            "",
            "The chain can't show that rows at the end were cut off, that rows were added at the end by somebody who worked out \
             their digests, or that the whole file was replaced. Note the head in another place, such as a certificate or a mail, \
             and give it later as `--head DIGEST`: then it shows.",
        );
        out.into_text()
    }
}
