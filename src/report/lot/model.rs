//! The report on a lot as data: the fields of `--format json`, in their order.

use schemars::JsonSchema;
use serde::Serialize;

use crate::finding::Problem;
use crate::lot::plan::{Inspection, Standing, risks};
use crate::lot::{
    Asked, Decided, Decision, FULL_ATTEMPTS, Group, GroupKey, PlanUsed, SortBy, Summary, clopper_pearson, counted, decide_lot,
    patterns, proves,
};

use super::super::model::{ErrorReport, error};
use super::sections::{
    CapabilityEntry, CodeEntry, EndEntry, LaneLineEntry, LineEntry, OutlierEntry, PatternEntry, PinEntry, RankEntry,
    StandingEntry, capability_of, codes, ends, lane_line_entries, line_entries, outlier_entries, pins, rank_entries,
};

/// The confidence of every bound.
const CONFIDENCE: f64 = 0.95;

/// So many units that came in more than once are named.
const LISTED_TWICE: usize = 100;

/// What the caller decides.
#[derive(Clone, Debug)]
#[non_exhaustive]
pub struct LotOptions {
    /// How many units the lot has; where it isn't said, those that were tested are the lot.
    pub size: Option<u64>,
    /// The plan.
    pub asked: Asked,
    /// How the lots before came out, where that was said.
    pub history: Option<Standing>,
    /// By what the ranking is sorted.
    pub sort_by: SortBy,
}

impl LotOptions {
    /// Decides by this plan; the units that were tested are the lot, nothing is said of lots before, and groups are
    /// ranked by what their worst sample did.
    #[must_use]
    pub fn new(asked: Asked) -> Self {
        Self { asked, size: None, history: None, sort_by: SortBy::Worst }
    }

    /// How many units the lot has; where it isn't said, those that were tested are the lot.
    #[must_use]
    pub fn with_size(self, size: u64) -> Self {
        Self { size: Some(size), ..self }
    }

    /// How the lots before came out, where that was said.
    #[must_use]
    pub fn with_history(self, history: Standing) -> Self {
        Self { history: Some(history), ..self }
    }

    /// By what the ranking is sorted.
    #[must_use]
    pub fn with_sort_by(self, sort_by: SortBy) -> Self {
        Self { sort_by, ..self }
    }
}

/// The report on a lot.
#[derive(Debug, Serialize, JsonSchema)]
#[non_exhaustive]
pub struct LotReport {
    /// Which form this is: `backshell.lot/1`.
    pub schema: String,
    /// The decision on all groups together: the worst of them.
    pub decision: Decision,
    /// The groups: units of one cable, type, supplier, lot, rate and length.
    pub groups: Vec<GroupReport>,
    /// By what the ranking is sorted.
    pub ranked_by: SortBy,
    /// The groups side by side.
    pub ranking: Vec<RankEntry>,
    /// The resistance of each type over its lengths.
    pub lines: Vec<LineEntry>,
    /// The loss and the delay of each type's lanes over its lengths, where S-parameters were measured.
    pub lane_lines: Vec<LaneLineEntry>,
    /// Units without a verdict, since their input can't be used.
    pub unjudged: u64,
    /// Drawings, which aren't units of a lot.
    pub drawings: u64,
    /// Tables that were too large to be kept.
    pub left_out: Vec<String>,
    /// What could not be used.
    pub errors: Vec<ErrorReport>,
}

/// The report on one group.
#[derive(Debug, Serialize, JsonSchema)]
#[non_exhaustive]
pub struct GroupReport {
    /// The group in words.
    pub group: String,
    /// How many units the lot has.
    pub size: u64,
    /// Units that were tested.
    pub tested: u64,
    /// Of these, those that conform, retests settled.
    pub conforms: u64,
    /// Those that fail.
    pub fails: u64,
    /// Those that can't be decided; they count as not accepted.
    pub inconclusive: u64,
    /// Those that mustn't be connected.
    pub dangerous: u64,
    /// The decision.
    pub decision: Decision,
    /// The plan.
    pub plan: String,
    /// Why.
    pub reason: String,
    /// What holds for the plan beside that: history, risks.
    pub notes: Vec<String>,
    /// What the sample proves.
    pub proves: String,
    /// The share that isn't accepted, two-sided at 95 % confidence.
    pub interval: [f64; 2],
    /// Faults by code, the most frequent first.
    pub codes: Vec<CodeEntry>,
    /// Contacts by the faults that touch them, the most frequent first.
    pub pins: Vec<PinEntry>,
    /// Ends by the faults that touch them.
    pub ends: Vec<EndEntry>,
    /// What the faults have in common.
    pub patterns: Vec<PatternEntry>,
    /// Units that stand apart.
    pub outliers: Vec<OutlierEntry>,
    /// Figures that stand apart and aren't listed.
    pub more_outliers: u64,
    /// The conductor with the least capability against its limit.
    pub capability: Option<CapabilityEntry>,
    /// Units that aren't accepted, and those that were tested again.
    pub units: Vec<StandingEntry>,
    /// Units that came in more than once, as two of the inputs have them: the first of them.
    pub counted_twice: Vec<String>,
    /// What the evidence can't speak of, and of how many units that holds.
    pub not_shown: Vec<(String, u64)>,
}

impl GroupReport {
    /// Whether there is nothing more to say than that it is accepted.
    pub(super) fn is_plain(&self) -> bool {
        self.decision == Decision::Accept && self.codes.is_empty() && self.units.is_empty() && self.outliers.is_empty()
    }
}

/// The report on a summary.
#[must_use]
pub fn lot_report(summary: &Summary, options: &LotOptions, problems: &[Problem]) -> LotReport {
    let one = summary.groups.len() == 1;
    let groups: Vec<GroupReport> = summary
        .groups
        .iter()
        .map(|(key, group)| {
            // a unit that couldn't be read belongs to some group
            group_report(key, group, options, if one { summary.unjudged } else { 0 }, !summary.is_full(FULL_ATTEMPTS))
        })
        .collect();
    let worst = |decision: &Decision| match decision {
        Decision::Reject => 0,
        Decision::Hold => 1,
        Decision::NotEnoughUnits => 2,
        Decision::Accept => 3,
    };
    let mut decision = groups.iter().map(|group| group.decision).min_by_key(worst).unwrap_or(Decision::NotEnoughUnits);
    if decision == Decision::Accept && summary.unjudged > 0 && !one {
        decision = Decision::Hold;
    }
    LotReport {
        schema: "backshell.lot/1".to_owned(),
        decision,
        groups,
        ranked_by: options.sort_by,
        ranking: rank_entries(summary, options.sort_by),
        lines: line_entries(summary),
        lane_lines: lane_line_entries(summary),
        unjudged: summary.unjudged,
        drawings: summary.drawings,
        left_out: summary.full.iter().cloned().collect(),
        errors: problems.iter().map(error).collect(),
    }
}

/// The decision on a group, with what history says.
fn decided(options: &LotOptions, size: u64, tally: crate::lot::Tally, hazards: u64, unjudged: u64) -> (Decided, Vec<String>) {
    let mut notes = Vec::new();
    let decided = decide_lot(options.asked, options.history.as_ref(), size, tally, hazards, unjudged);
    let plan = decided.plan;
    if plan == PlanUsed::All && options.asked != Asked::All {
        notes.push("a lot of one unit has no sampling plan: it is tested itself".to_owned());
    }
    if let Some(standing) = &options.history {
        notes.push(format!("inspection by the lots before: {} ({})", standing.inspection.word(), standing.why));
        if standing.may_reduce {
            notes
                .push("ten lots in a row were accepted: reduced inspection can be agreed, where production is steady".to_owned());
        }
    }
    if let PlanUsed::Iso(single) = &plan
        && !single.every_unit
    {
        let risks = risks(Some(size), single.n, single.accept, single.aql);
        notes.push(format!(
            "the plan rejects a lot as good as the AQL {:.1} times in a hundred, and accepts one with {:.1} % bad one time in ten",
            risks.producer * 100.0,
            risks.consumer_quality * 100.0
        ));
        if single.inspection == Inspection::Reduced {
            notes.push("the table of reduced inspection is from memory".to_owned());
        }
    }
    (decided, notes)
}

fn group_report(key: &GroupKey, group: &Group, options: &LotOptions, unjudged: u64, matched: bool) -> GroupReport {
    let settled = counted(group, matched);
    let tally = settled.tally;
    let tested = tally.units();
    let size = options.size.unwrap_or(tested + unjudged).max(tested + unjudged);
    let (decided, mut notes) = decided(options, size, tally, group.hazards, unjudged);
    let Decided { decision, plan, reason } = decided.doubting(group.counted_twice(), group.hazards);
    if settled.unmatched {
        notes.push("so many units failed that retests weren't matched with first tests: the first results stand".to_owned());
    }
    let not_accepted = tally.not_accepted();
    let (low, high) = clopper_pearson(not_accepted, tested, CONFIDENCE);
    let (outliers, more_outliers) = outlier_entries(group);
    GroupReport {
        group: key.words(),
        size,
        tested,
        conforms: tally.conforms,
        fails: tally.fails,
        inconclusive: tally.inconclusive,
        dangerous: group.hazards,
        decision,
        plan: plan.words(),
        reason,
        notes,
        proves: if options.size.is_none() {
            format!(
                "these units are taken for the whole lot; as a sample of a larger one, {}",
                proves(not_accepted, tested, CONFIDENCE)
            )
        } else if tested >= size {
            format!("every unit of the lot was tested: {not_accepted} of {tested} aren't accepted")
        } else {
            proves(not_accepted, tested, CONFIDENCE)
        },
        interval: [low, high],
        codes: codes(group),
        pins: pins(group),
        ends: ends(group),
        patterns: patterns(group).into_iter().map(PatternEntry::from).collect(),
        outliers,
        more_outliers,
        capability: capability_of(group),
        units: if settled.unmatched {
            group.not_accepted.iter().map(|(.., unit)| StandingEntry::named(unit)).collect()
        } else {
            settled.standings.into_iter().map(StandingEntry::from).collect()
        },
        counted_twice: group.counted_twice().take(LISTED_TWICE).map(str::to_owned).collect(),
        not_shown: group.not_shown.iter().map(|(word, units)| (word.clone(), *units)).collect(),
    }
}
