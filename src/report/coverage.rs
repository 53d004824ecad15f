//! What a netlist can show, as text, as a probe plan to fill in, and as data.

use std::fmt::Write as _;

use schemars::JsonSchema;
use serde::Serialize;

use super::json::schema_of;
use super::page::Page;
use super::terminal::WIDTH;
use crate::netlist::quoted;
use crate::text::{count, visible};
use crate::units::{Quantity, Unit};
use crate::verify::{ConductorRow, PLAN_MOST, Share, Sight, UnitReport};

/// The coverage of every unit of an input: the fields of `coverage --format json`.
#[derive(Debug, Serialize, JsonSchema)]
#[non_exhaustive]
pub struct CoverageReport {
    /// Which form this is: `backshell.coverage/1`.
    pub schema: &'static str,
    /// The units that could be read.
    pub units: Vec<CoverageEntry>,
}

impl CoverageReport {
    /// A report on these units.
    #[must_use]
    pub fn new(units: Vec<CoverageEntry>) -> Self {
        Self { schema: "backshell.coverage/1", units }
    }
}

/// What the facts of one unit show.
#[derive(Debug, Serialize, JsonSchema)]
#[non_exhaustive]
pub struct CoverageEntry {
    /// The unit's name; null where the file holds one unnamed unit.
    pub unit: Option<String>,
    /// The cable that it was read against.
    pub cable: String,
    /// The file that it is in.
    pub file: String,
    /// The joins that prove every net whole.
    pub joins: ShareEntry,
    /// The pairs of nets that must be apart.
    pub apart: ShareEntry,
    /// The parts that must be there, of which a line says what was measured.
    pub parts: ShareEntry,
    /// Every conductor of the map.
    pub conductors: Vec<ConductorEntry>,
    /// The expanded uncertainty of the resistances, in ohm (k = 2).
    pub uncertainty_ohm: f64,
    /// The pairs that are left to probe, and must be joined.
    pub left_joined: Vec<[String; 2]>,
    /// The pairs that are left to probe, and must be apart; at most 20,000.
    pub left_apart: Vec<[String; 2]>,
    /// The lines that would state the parts that nobody measured.
    pub left_parts: Vec<String>,
    /// What the supplied facts cannot speak of.
    pub not_shown: Vec<&'static str>,
}

/// How much of something is shown.
#[derive(Clone, Copy, Debug, Serialize, JsonSchema)]
#[non_exhaustive]
pub struct ShareEntry {
    /// So many are shown.
    pub shown: u64,
    /// Of so many.
    pub of: u64,
}

/// A conductor, and whether its loss would show.
#[derive(Debug, Serialize, JsonSchema)]
#[non_exhaustive]
pub struct ConductorEntry {
    /// Its contacts.
    pub points: [String; 2],
    /// Its signal.
    pub signal: String,
    /// `seen`, `hidden` (a parallel path hides its loss) or `not-probed`.
    pub loss: &'static str,
    /// For a hidden one whose wire is known: what its contacts should read with it, in ohm.
    pub with_ohm: Option<f64>,
    /// And without it.
    pub without_ohm: Option<f64>,
}

/// The JSON Schema of `coverage --format json`, as text.
#[must_use]
pub fn coverage_schema() -> String {
    schema_of::<CoverageReport>()
}

/// A unit's coverage as data; none where it wasn't worked out.
#[must_use]
pub fn coverage_entry(file: &str, report: &UnitReport) -> Option<CoverageEntry> {
    let coverage = report.coverage.as_deref()?;
    let share = |share: Share| ShareEntry { shown: share.shown, of: share.of };
    Some(CoverageEntry {
        unit: report.unit.clone(),
        cable: report.cable.name.clone(),
        file: file.to_owned(),
        joins: share(coverage.joins),
        apart: share(coverage.apart),
        parts: share(coverage.parts),
        conductors: coverage.rows.iter().map(conductor).collect(),
        uncertainty_ohm: coverage.uncertainty,
        left_joined: coverage.plan.joined.iter().map(|(points, _)| points.clone()).collect(),
        left_apart: coverage.plan.apart.clone(),
        left_parts: coverage.plan.parts.clone(),
        not_shown: report.not_shown.words().collect(),
    })
}

fn conductor(row: &ConductorRow) -> ConductorEntry {
    let (loss, change) = match &row.sight {
        Sight::Seen => ("seen", None),
        Sight::Hidden(masked) => ("hidden", masked.change),
        Sight::NotProbed => ("not-probed", None),
    };
    let [with_ohm, without_ohm] = [0, 1].map(|at| change.map(|change| change[at]));
    ConductorEntry { points: row.points.clone(), signal: row.signal.clone(), loss, with_ohm, without_ohm }
}

/// A unit's coverage as text; empty where it wasn't worked out.
#[must_use]
pub fn coverage_text(report: &UnitReport) -> String {
    coverage_text_within(report, WIDTH)
}

/// The same with texts of so many columns.
#[must_use]
pub fn coverage_text_within(report: &UnitReport, width: usize) -> String {
    let Some(coverage) = report.coverage.as_deref() else { return String::new() };
    let name = report.unit.as_deref().map_or_else(|| "(one unit)".into(), visible);
    let mut out = Page::new(width);
    let _ = writeln!(out, "{name} against {}", report.cable.name);
    let line = |out: &mut Page, what: &str, share: Share| {
        let _ = writeln!(out, "  {what:34} {} of {} shown ({:.0} %)", share.shown, share.of, share.percent().floor());
    };
    line(&mut out, "joins that must be there", coverage.joins);
    line(&mut out, "pairs of nets that must be apart", coverage.apart);
    if coverage.parts.of > 0 {
        line(&mut out, "parts that must be there", coverage.parts);
    }
    let rows = |wanted: fn(&Sight) -> bool| coverage.rows.iter().filter(move |row| wanted(&row.sight));
    let seen = rows(|sight| *sight == Sight::Seen).count();
    let _ = writeln!(out, "\n  {seen} of {} conductors would show their loss as an open", coverage.rows.len());
    let hidden: Vec<&ConductorRow> = rows(|sight| matches!(sight, Sight::Hidden(_))).collect();
    if !hidden.is_empty() {
        out.push_str("\n");
        let count = hidden.len();
        out.paragraph("  ", &format!("hidden by a parallel path ({count}); what a four-wire measurement would read:"));
        for row in hidden {
            out.paragraph(&format!("    {:<28} ", visible(&words(row))), &change(row, coverage.uncertainty));
        }
    }
    let unprobed: Vec<&ConductorRow> = rows(|sight| *sight == Sight::NotProbed).collect();
    if !unprobed.is_empty() {
        let _ = writeln!(out, "\n  not probed ({}):", unprobed.len());
        for row in unprobed {
            let _ = writeln!(out, "    {}", words(row));
        }
    }
    let not_shown: Vec<&str> = report.not_shown.words().collect();
    out.push_str("\n");
    out.paragraph("  Not shown by this evidence: ", &not_shown.join(", "));
    out.into_text()
}

fn words(row: &ConductorRow) -> String {
    format!("{} to {} ({})", row.points[0], row.points[1], row.signal)
}

/// What the loss of a hidden conductor changes.
fn change(row: &ConductorRow, uncertainty: f64) -> String {
    let ohm = |value: f64| Quantity::new(value, Unit::Ohm).short();
    let Sight::Hidden(masked) = &row.sight else { return String::new() };
    let (Some([with, without]), Some((step, percent))) = (masked.change, masked.step()) else {
        return "a tie in the plug, or a wire of unknown length and gauge: measure before it is commoned".to_owned();
    };
    let enough = if step > 2.0 * uncertainty {
        format!("{} of uncertainty is enough", ohm(uncertainty))
    } else {
        format!("needs an uncertainty below {}, not {}", ohm(step / 2.0), ohm(uncertainty))
    };
    format!("{} with it, {} without (+{percent:.0} %); {enough}", ohm(with), ohm(without))
}

/// The pairs that are left to probe, as lines of a netlist to be filled in: each is a comment until the meter has shown it.
///
/// `cable` gives a netlist of its own, for the cable by that name or path; else the lines are those to be added to the netlist
/// that was read, below the line of the unit.
#[must_use]
pub fn probe_plan(report: &UnitReport, cable: Option<&str>) -> String {
    probe_plan_within(report, cable, WIDTH)
}

/// The same with comments of so many columns; lines to be filled in keep their length.
#[must_use]
pub fn probe_plan_within(report: &UnitReport, cable: Option<&str>, columns: usize) -> String {
    let Some(coverage) = report.coverage.as_deref() else { return String::new() };
    let plan = &coverage.plan;
    let name = &report.cable.name;
    let mut out = Page::new(columns);
    let (joined, apart) = (count(plan.joined.len(), "pair", "pairs"), plan.apart.len());
    out.behind("## ", &format!("Probe plan for {name}: {joined} to find joined and {apart} to find apart."));
    out.behind(
        "## ",
        "Both ends free, nothing live, low voltage. Take away the `# ` of a line when the meter has shown what it says; where the \
         meter shows something else, write that. A contact that touches none of all the others is `open` in one line, in place of \
         its `apart` lines. `backshell coverage` tells how much of the map is shown.",
    );
    if let Some(cable) = cable {
        let _ = writeln!(out, "cable {}\nscope stated\n\nunit 1", quoted(cable));
    } else if let Some(unit) = &report.unit {
        let _ = writeln!(out, "\nunit {}", quoted(unit));
    }
    let points = plan.joined.iter().map(|(points, _)| points).chain(&plan.apart);
    let width = points.map(|[a, _]| a.len()).max().unwrap_or(0);
    for ([a, b], signal) in &plan.joined {
        let _ = writeln!(out, "# {a:width$} {b:8} # {}", visible(signal));
    }
    if !plan.apart.is_empty() {
        out.push_str("\n");
        out.behind("## ", "apart: supplies and protective earth first, then neighbours in a plug, then the rest");
    }
    for [a, b] in &plan.apart {
        let _ = writeln!(out, "# apart {a:width$} {b}");
    }
    if !plan.parts.is_empty() {
        out.push_str("\n");
        out.behind("## ", "parts: measure each, and write what it has; direct current doesn't show a capacitor in series");
    }
    for line in &plan.parts {
        let _ = writeln!(out, "# {line}");
    }
    if plan.apart.len() >= PLAN_MOST {
        out.behind("## ", "the list stops here: this cable needs a tester that probes every contact");
    }
    out.into_text()
}
