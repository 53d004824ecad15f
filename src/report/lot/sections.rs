//! The sections of the report on a lot as data.

use schemars::JsonSchema;
use serde::Serialize;

use crate::lot::{
    Along, Capability, Group, Normality, Pattern, PatternKind, SortBy, Standing, Summary, capability, lines, outliers, ranking,
};

/// A code with its units.
#[derive(Debug, Serialize, JsonSchema)]
pub struct CodeEntry {
    /// The code; `backshell explain CODE` has its page.
    pub code: String,
    /// Units that have it.
    pub units: u64,
    /// Findings.
    pub findings: u64,
    /// The findings up to this one, as a share of all.
    pub share_so_far: f64,
}

/// A contact with its faults.
#[derive(Debug, Serialize, JsonSchema)]
pub struct PinEntry {
    /// The contact.
    pub point: String,
    /// Findings that touch it.
    pub findings: u64,
}

/// An end with its faults.
#[derive(Debug, Serialize, JsonSchema)]
pub struct EndEntry {
    /// The end.
    pub end: String,
    /// Findings that touch it and another end.
    pub shared: u64,
    /// Findings that touch it alone.
    pub alone: u64,
}

/// A pattern.
#[derive(Debug, Serialize, JsonSchema)]
pub struct PatternEntry {
    /// What kind, in a word or two.
    pub kind: String,
    /// What was found.
    pub found: String,
    /// What to suspect first.
    pub suspect: String,
    /// How often, out of how many chances.
    pub statistic: (u64, u64),
    /// The p-value.
    pub p: Option<f64>,
    /// The same, times the number of places that were looked at.
    pub p_corrected: Option<f64>,
}

/// A unit that stands apart.
#[derive(Debug, Serialize, JsonSchema)]
pub struct OutlierEntry {
    /// The unit.
    pub unit: String,
    /// The two contacts.
    pub points: String,
    /// The figure in ohm.
    pub ohm: f64,
    /// The median of the lot.
    pub median: f64,
    /// The modified z; null where all others are equal.
    pub z: Option<f64>,
}

/// A capability.
#[derive(Debug, Serialize, JsonSchema)]
pub struct CapabilityEntry {
    /// The two contacts.
    pub points: String,
    /// Values.
    pub n: u64,
    /// Their mean in ohm.
    pub mean: f64,
    /// Their standard deviation in ohm.
    pub deviation: f64,
    /// The upper limit in ohm.
    pub limit: f64,
    /// Cpk against it.
    pub cpk: f64,
    /// Its lower bound at 95 % confidence.
    pub cpk_lower: f64,
    /// What to keep in mind.
    pub caution: String,
}

/// A unit that isn't accepted, or was tested again.
#[derive(Debug, Serialize, JsonSchema)]
pub struct StandingEntry {
    /// The unit.
    pub unit: String,
    /// What counts for the lot.
    pub verdict: String,
    /// Every result that is kept.
    pub results: Vec<String>,
    /// Why this one counts.
    pub why: Option<String>,
}

/// A row of the ranking.
#[derive(Debug, Serialize, JsonSchema)]
pub struct RankEntry {
    /// The place.
    pub place: usize,
    /// The group in words.
    pub group: String,
    /// Units.
    pub units: u64,
    /// Those that conform.
    pub conforms: u64,
    /// The share that may be bad, one-sided at 95 % confidence.
    pub may_be_bad: f64,
    /// Grades above the rated one that the worst sample reached; null without signals.
    pub worst_steps_above_rated: Option<i32>,
    /// What it has to spare at the rated grade, as a part of what that asks for.
    pub worst_margin: Option<f64>,
    /// The scatter of the resistances, as a share of their median.
    pub scatter: Option<f64>,
    /// The cost of a metre.
    pub cost_per_metre: Option<f64>,
    /// Its currency.
    pub currency: Option<String>,
    /// What to keep in mind.
    pub notes: Vec<String>,
}

/// A figure of the lanes over lengths.
#[derive(Debug, Serialize, JsonSchema)]
pub struct LaneLineEntry {
    /// The type in words.
    pub group: String,
    /// Which figure.
    pub figure: LaneFigure,
    /// The frequency of a loss, in GHz: half the symbol rate of the rated rate.
    pub gigahertz: Option<f64>,
    /// Lengths.
    pub points: usize,
    /// What the ends add, in dB or in seconds.
    pub ends: f64,
    /// What a metre adds.
    pub per_metre: f64,
    /// Half the width of the 95 % confidence interval of both; null with two lengths.
    pub half_widths: Option<(f64, f64)>,
    /// What stands against trusting it.
    pub caution: Option<String>,
}

/// A figure of a lane.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum LaneFigure {
    /// The loss in dB.
    Loss,
    /// The delay in seconds.
    Delay,
}

/// The resistance over lengths.
#[derive(Debug, Serialize, JsonSchema)]
pub struct LineEntry {
    /// The type in words.
    pub group: String,
    /// Lengths.
    pub points: usize,
    /// What the ends add, in ohm.
    pub ends_ohm: f64,
    /// What a metre adds, in ohm.
    pub ohm_per_metre: f64,
    /// Half the width of the 95 % confidence interval of both; null with two lengths.
    pub half_widths: Option<(f64, f64)>,
    /// What stands against trusting it.
    pub caution: Option<String>,
}

pub(super) fn codes(group: &Group) -> Vec<CodeEntry> {
    let all: u64 = group.codes.values().map(|found| found.findings).sum();
    let mut codes: Vec<_> = group.codes.iter().collect();
    codes.sort_by_key(|(code, found)| (u64::MAX - found.findings, code.as_str()));
    let mut so_far = 0;
    let entry = |(code, found): (&String, &crate::lot::Found)| {
        so_far += found.findings;
        CodeEntry {
            code: code.clone(),
            units: found.units,
            findings: found.findings,
            share_so_far: so_far as f64 / all.max(1) as f64,
        }
    };
    codes.into_iter().map(entry).collect()
}

pub(super) fn pins(group: &Group) -> Vec<PinEntry> {
    let mut pins: Vec<PinEntry> =
        group.pins.iter().map(|(point, findings)| PinEntry { point: point.clone(), findings: *findings }).collect();
    pins.sort_by(|a, b| b.findings.cmp(&a.findings).then_with(|| a.point.cmp(&b.point)));
    pins
}

pub(super) fn ends(group: &Group) -> Vec<EndEntry> {
    let entry =
        |(end, found): (&String, &crate::lot::EndFound)| EndEntry { end: end.clone(), shared: found.shared, alone: found.alone };
    group.ends.iter().map(entry).collect()
}

pub(super) fn outlier_entries(group: &Group) -> (Vec<OutlierEntry>, u64) {
    let (found, more) = outliers(group);
    let entries = found.into_iter().map(|outlier| OutlierEntry {
        unit: outlier.unit,
        points: outlier.points,
        ohm: outlier.ohm,
        median: outlier.median,
        z: Some(outlier.z).filter(|z| z.is_finite()),
    });
    (entries.collect(), more)
}

/// The conductor whose capability is least.
pub(super) fn capability_of(group: &Group) -> Option<CapabilityEntry> {
    let all = group.readings.iter().filter_map(|(points, reading)| {
        let limit = reading.most?;
        Some((points, limit, capability(&reading.spread, None, Some(limit))?))
    });
    let (points, limit, found) = all.min_by(|a, b| a.2.cpk.total_cmp(&b.2.cpk))?;
    Some(CapabilityEntry {
        points: points.clone(),
        n: found.n,
        mean: found.mean,
        deviation: found.deviation,
        limit,
        cpk: found.cpk,
        cpk_lower: found.cpk_lower,
        caution: caution(&found),
    })
}

fn caution(capability: &Capability) -> String {
    match capability.normality {
        Normality::TooFew => {
            format!("{} values can't show whether they are normal, and a Cpk from them is a guess", capability.n)
        }
        Normality::NothingAgainst(_) => "nothing speaks against a normal distribution".to_owned(),
        Normality::NotNormal(p) => {
            format!("the values aren't normal (p {}): no share beyond the limit follows from this Cpk", p_value(p))
        }
    }
}

/// A p-value in as few digits as it deserves.
pub(super) fn p_value(p: f64) -> String {
    match p {
        _ if p < 1e-12 => "below 1e-12".to_owned(),
        _ if p < 0.001 => format!("{p:.0e}"),
        _ => format!("{p:.3}"),
    }
}

impl From<Pattern> for PatternEntry {
    fn from(pattern: Pattern) -> Self {
        let kind = match pattern.kind {
            PatternKind::EveryUnit => "every unit",
            PatternKind::Repeated => "repeated",
            PatternKind::Contact => "contact",
            PatternKind::End => "end",
            PatternKind::WholeEnd => "whole end",
            PatternKind::Material => "material",
            PatternKind::Drift(_) => "drift",
            PatternKind::Scattered => "scattered",
            PatternKind::TooFew => "too few",
        };
        PatternEntry {
            kind: kind.to_owned(),
            found: pattern.found,
            suspect: pattern.suspect.to_owned(),
            statistic: pattern.statistic,
            p: pattern.p.map(|(p, _)| p),
            p_corrected: pattern.p.map(|(_, corrected)| corrected),
        }
    }
}

impl StandingEntry {
    pub(super) fn named(unit: &str) -> Self {
        StandingEntry { unit: unit.to_owned(), verdict: "not accepted".to_owned(), results: Vec::new(), why: None }
    }
}

impl From<Standing> for StandingEntry {
    fn from(standing: Standing) -> Self {
        StandingEntry {
            unit: standing.unit,
            verdict: standing.verdict.word().to_owned(),
            results: standing.results,
            why: standing.why.map(str::to_owned),
        }
    }
}

pub(super) fn rank_entries(summary: &Summary, by: SortBy) -> Vec<RankEntry> {
    let entry = |row: crate::lot::Ranked| RankEntry {
        place: row.place,
        group: row.key.words(),
        units: row.tally.units(),
        conforms: row.tally.conforms,
        may_be_bad: row.may_be_bad,
        worst_steps_above_rated: row.worst.map(|grade| grade.steps_above_rated),
        worst_margin: row.worst.map(|grade| grade.margin),
        scatter: row.scatter,
        cost_per_metre: row.cost_per_metre.as_ref().map(|(cost, _)| *cost),
        currency: row.cost_per_metre.map(|(_, currency)| currency),
        notes: row.notes,
    };
    ranking(summary, by).into_iter().map(entry).collect()
}

pub(super) fn line_entries(summary: &Summary) -> Vec<LineEntry> {
    let entry = |line: crate::lot::Line| LineEntry {
        group: line.of.words(),
        points: line.fit.points,
        ends_ohm: line.fit.intercept,
        ohm_per_metre: line.fit.slope,
        half_widths: line.fit.half_widths,
        caution: line.fit.caution().map(str::to_owned),
    };
    lines(summary).into_iter().filter(|line| line.along == Along::Resistance).map(entry).collect()
}

pub(super) fn lane_line_entries(summary: &Summary) -> Vec<LaneLineEntry> {
    let entry = |line: crate::lot::Line| {
        let (figure, gigahertz) = match line.along {
            Along::Loss { kilohertz } => (LaneFigure::Loss, Some(kilohertz as f64 / 1e6)),
            Along::Delay => (LaneFigure::Delay, None),
            Along::Resistance => return None,
        };
        Some(LaneLineEntry {
            group: line.of.words(),
            figure,
            gigahertz,
            points: line.fit.points,
            ends: line.fit.intercept,
            per_metre: line.fit.slope,
            half_widths: line.fit.half_widths,
            caution: line.fit.caution().map(str::to_owned),
        })
    };
    lines(summary).into_iter().filter_map(entry).collect()
}
