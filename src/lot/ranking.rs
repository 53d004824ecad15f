//! Types, suppliers and lengths side by side: which to buy, by what their worst samples did.

use std::cmp::Ordering;

use super::bounds::upper_bound;
use super::counts::{GroupKey, Tally, by_grade};
use super::group::Group;
use super::outliers::Robust;
use super::retest::counted;
use super::spread::Spread;
use super::summary::Summary;
use super::tables::FULL_ATTEMPTS;
use super::unit::GradeReached;

/// Fewer samples than this say little of the next one (common practice, no source).
const FEW: u64 = 3;

/// By what the table is sorted.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, serde::Serialize, schemars::JsonSchema)]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum SortBy {
    /// What the worst sample did, then what is left open, then the cost.
    #[default]
    Worst,
    /// The cost of a metre, the least first.
    Cost,
    /// How alike the samples are, the most alike first.
    Consistency,
    /// The words of the group.
    Name,
}

impl SortBy {
    /// The order in words, as a heading has it.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            SortBy::Worst => "by the worst sample of each",
            SortBy::Cost => "by the cost of a metre",
            SortBy::Consistency => "by how alike the samples of each are",
            SortBy::Name => "by name",
        }
    }

    /// What to say of rows that share a place in this order, though their results differ.
    fn tie(self) -> &'static str {
        match self {
            SortBy::Worst => "neither the worst sample nor the cost tells them apart",
            SortBy::Cost => "the cost of a metre doesn't tell them apart",
            SortBy::Consistency => "how alike the samples are doesn't tell them apart",
            SortBy::Name => "the name doesn't tell them apart",
        }
    }
}

/// A row of the ranking.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub struct Ranked {
    /// The place; rows that can't be told apart share one.
    pub place: usize,
    /// The group.
    pub key: GroupKey,
    /// Its units, retests settled.
    pub tally: Tally,
    /// The share that may be bad, at 95 % confidence, one-sided.
    pub may_be_bad: f64,
    /// What the worst sample reached against the rated grade, where signals were analysed.
    pub worst: Option<GradeReached>,
    /// How far the samples lie apart: the scale of their resistances as a share of the median, each conductor for itself, the
    /// worst conductor; none with fewer than two samples.
    pub scatter: Option<f64>,
    /// The cost of a metre, and its currency; the most where prices differ.
    pub cost_per_metre: Option<(f64, String)>,
    /// What to keep in mind: too few samples, a tie, grades that differ.
    pub notes: Vec<String>,
}

/// The ranking of the groups of a summary.
#[must_use]
pub fn ranking(summary: &Summary, by: SortBy) -> Vec<Ranked> {
    let matched = !summary.is_full(FULL_ATTEMPTS);
    let mut rows: Vec<Ranked> = summary.groups.iter().map(|(key, group)| row(key, group, matched)).collect();
    let order = |a: &Ranked, b: &Ranked| compare(a, b, by);
    rows.sort_by(|a, b| order(a, b).then_with(|| a.key.cmp(&b.key)));
    for at in 0..rows.len() {
        let tied = at > 0 && order(&rows[at - 1], &rows[at]) == Ordering::Equal;
        rows[at].place = if tied { rows[at - 1].place } else { at + 1 };
    }
    for tied in rows.chunk_by_mut(|a, b| a.place == b.place).filter(|tied| tied.len() > 1) {
        let alike = tied.windows(2).all(|pair| measured_alike(&pair[0], &pair[1]));
        let why = if alike { "nothing that was measured tells them apart" } else { by.tie() };
        tied.iter_mut().for_each(|row| row.notes.push(format!("place {} is shared: {why}", row.place)));
    }
    mixed_currencies(&mut rows, by);
    rows
}

/// Whether two rows have the same results, all columns of the ranking taken together.
fn measured_alike(a: &Ranked, b: &Ranked) -> bool {
    a.tally == b.tally && a.worst == b.worst && a.scatter == b.scatter
}

fn mixed_currencies(rows: &mut [Ranked], by: SortBy) {
    let mut currencies: Vec<String> = rows.iter().filter_map(|row| Some(row.cost_per_metre.as_ref()?.1.clone())).collect();
    currencies.sort_unstable();
    currencies.dedup();
    if currencies.len() > 1 && matches!(by, SortBy::Worst | SortBy::Cost) {
        let note = format!("prices in {}: costs of different currencies aren't compared", currencies.join(" and "));
        rows.iter_mut().filter(|row| row.cost_per_metre.is_some()).for_each(|row| row.notes.push(note.clone()));
    }
}

fn row(key: &GroupKey, group: &Group, matched: bool) -> Ranked {
    let tally = counted(group, matched).tally;
    let mut notes = Vec::new();
    if tally.units() < FEW {
        let samples = if tally.units() == 1 { "1 sample" } else { "2 samples" };
        notes.push(format!("{samples}: too few to say what the next one does"));
    }
    if let (Some(worst), Some(best)) = (&group.grades.worst, &group.grades.best)
        && worst.steps_above_rated != best.steps_above_rated
    {
        notes.push(format!(
            "the samples differ by {} grades; the worst counts",
            best.steps_above_rated.saturating_sub(worst.steps_above_rated)
        ));
    }
    if key.rated.is_some() && group.grades.worst.is_none() {
        notes.push("no signal was measured: the rated grade isn't shown".to_owned());
    }
    let prices = &group.prices;
    if prices.len() > 1 {
        notes.push("prices in more than one currency: no cost".to_owned());
    }
    let price = prices.iter().next().filter(|_| prices.len() == 1);
    let cost = price.zip(key.length().filter(|metres| *metres > 0.0));
    Ranked {
        place: 0,
        key: key.clone(),
        tally,
        may_be_bad: upper_bound(tally.not_accepted(), tally.units(), 0.95),
        worst: group.grades.worst,
        scatter: group.readings.values().filter_map(|reading| scatter(&reading.spread)).max_by(f64::total_cmp),
        cost_per_metre: cost.map(|((currency, (_, most)), metres)| (most / metres, currency.clone())),
        notes,
    }
}

fn scatter(values: &Spread) -> Option<f64> {
    let robust = Robust::of(values).filter(|robust| values.count() > 1 && robust.median > 0.0)?;
    Some(robust.scale / robust.median)
}

/// None last.
fn known_first<T>(a: Option<&T>, b: Option<&T>, order: impl Fn(&T, &T) -> Ordering) -> Ordering {
    match (a, b) {
        (Some(a), Some(b)) => order(a, b),
        (a, b) => a.is_none().cmp(&b.is_none()),
    }
}

fn compare(a: &Ranked, b: &Ranked, by: SortBy) -> Ordering {
    // costs of different currencies can't be told apart
    let cost =
        || known_first(a.cost_per_metre.as_ref(), b.cost_per_metre.as_ref(), |a, b| a.1.cmp(&b.1).then(a.0.total_cmp(&b.0)));
    match by {
        SortBy::Name => a.key.cmp(&b.key),
        SortBy::Cost => cost(),
        SortBy::Consistency => known_first(a.scatter.as_ref(), b.scatter.as_ref(), f64::total_cmp),
        SortBy::Worst => {
            // one bad sample weighs more than any number of good ones
            let worst = |row: &Ranked| match row.tally {
                Tally { fails: 1.., .. } => 2,
                Tally { inconclusive: 1.., .. } => 1,
                _ => 0,
            };
            worst(a)
                .cmp(&worst(b))
                .then_with(|| known_first(a.worst.as_ref(), b.worst.as_ref(), |a, b| by_grade(b, a)))
                .then_with(|| a.may_be_bad.total_cmp(&b.may_be_bad))
                .then_with(cost)
        }
    }
}
