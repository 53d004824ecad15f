//! A lane against limit lines over frequency.

use std::f64::consts::TAU;

use schemars::JsonSchema;
use serde::Serialize;

use super::super::Spectrum;
use super::{Carries, Lane, LineRule, Quantity, decibels};

/// A line needs at least so many rows of the file between its ends.
const FEWEST_ROWS: usize = 8;

/// Where a lane comes nearest to a limit line, or is furthest beyond it.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[non_exhaustive]
pub struct LineMargin {
    /// What the line is about.
    pub quantity: Quantity,
    /// The other lane, where it is about two; lanes count from 1 in the order given.
    pub other: Option<usize>,
    /// What there is to spare in dB or ns, negative where the line is crossed.
    pub margin: f64,
    /// The frequency in MHz where that is.
    pub mhz: f64,
    /// What was measured there, in dB or ns.
    pub measured: f64,
    /// The line there, in dB or ns.
    pub limit: f64,
}

/// One lane of several against a rule's lines; `delays` are those of [`delay`], a lane each.
pub(super) fn judge(at: usize, lanes: &[Lane], delays: &[Vec<f64>], rule: &LineRule) -> (Carries, Vec<LineMargin>) {
    let Some(lane) = lanes.get(at) else { return (Carries::NotJudged("no such lane".to_owned()), Vec::new()) };
    let mut margins = Vec::new();
    let mut missing = Vec::new();
    let mut take = |name: &str, margin: Result<Option<LineMargin>, String>| match margin {
        Ok(margin) => margins.extend(margin),
        Err(why) => missing.push(format!("{name}: {why}")),
    };
    let scan = |spectrum: &Spectrum, quantity, other, of: &dyn Fn(usize) -> f64| scan(spectrum, rule, quantity, other, of);
    let db = |spectrum: &Spectrum| {
        let values = spectrum.values().to_vec();
        move |row: usize| values.get(row).map_or(0.0, |value| decibels(value.norm()))
    };
    take("insertion loss", scan(&lane.through, Quantity::InsertionLoss, None, &db(&lane.through)));
    let has = |quantity| rule.limits.at(quantity, rule.limits.range().0).is_some();
    if has(Quantity::ReturnLoss) {
        match &lane.reflection {
            Some(reflection) => take("return loss", scan(reflection, Quantity::ReturnLoss, None, &db(reflection))),
            None => take("return loss", Err("not measured".to_owned())),
        }
    }
    if has(Quantity::NearEndCrosstalk) {
        for (other, near) in lane.near_end.iter().enumerate() {
            let other = other + 1 + usize::from(other >= at);
            take("near-end crosstalk", scan(near, Quantity::NearEndCrosstalk, Some(other), &db(near)));
        }
        if lane.near_end.is_empty() {
            take("near-end crosstalk", Err("not measured".to_owned()));
        }
    }
    if let Some(own) = delays.get(at) {
        let value = |row: usize| own.get(row).copied().unwrap_or(f64::NAN);
        take("delay", scan(&lane.through, Quantity::Delay, None, &value));
        for (other, delay) in delays.iter().enumerate().filter(|(other, _)| *other != at) {
            let same = lanes.get(other).is_some_and(|other| other.through.step() == lane.through.step());
            if same {
                let skew = |row: usize| delay.get(row).map_or(0.0, |other| (other - value(row)).abs());
                take("skew", scan(&lane.through, Quantity::Skew, Some(other + 1), &skew));
            } else {
                take("skew", Err(format!("lane {} was measured at other frequencies", other + 1)));
            }
        }
    }
    (answer(&margins, &missing), margins)
}

fn answer(margins: &[LineMargin], missing: &[String]) -> Carries {
    let crossed = margins.iter().filter(|margin| margin.margin < 0.0);
    let crossed: Vec<String> = crossed.map(LineMargin::words).collect();
    if !crossed.is_empty() {
        Carries::No(crossed.join("; "))
    } else if !missing.is_empty() {
        Carries::NotJudged(missing.join("; "))
    } else {
        Carries::Yes
    }
}

impl LineMargin {
    fn words(&self) -> String {
        let (name, unit) = match self.quantity {
            Quantity::InsertionLoss => ("insertion loss", "dB"),
            Quantity::ReturnLoss => ("return loss", "dB"),
            Quantity::NearEndCrosstalk => ("near-end crosstalk loss", "dB"),
            Quantity::Delay => ("delay", "ns"),
            Quantity::Skew => ("skew", "ns"),
        };
        let other = self.other.map(|other| format!(" against lane {other}")).unwrap_or_default();
        let (measured, limit, mhz) = (self.measured, self.limit, self.mhz);
        format!("{name}{other} of {measured:.2} {unit} at {mhz:.2} MHz, limit {limit:.2} {unit}")
    }
}

/// The worst place of one line. None where the set has no such line.
fn scan(
    spectrum: &Spectrum,
    rule: &LineRule,
    quantity: Quantity,
    other: Option<usize>,
    value: &dyn Fn(usize) -> f64,
) -> Result<Option<LineMargin>, String> {
    let top = spectrum.step() * (spectrum.values().len() - 1) as f64 / 1e6;
    if top < rule.to_mhz * (1.0 - 1e-9) {
        return Err(format!("the file ends at {top:.3} MHz, below the {:.0} MHz that this rate needs", rule.to_mhz));
    }
    let highest_is_good = matches!(quantity, Quantity::ReturnLoss | Quantity::NearEndCrosstalk);
    let mut worst: Option<LineMargin> = None;
    let mut rows = 0;
    for row in 0..spectrum.values().len() {
        let mhz = row as f64 * spectrum.step() / 1e6;
        if mhz > rule.to_mhz * (1.0 + 1e-9) {
            break;
        }
        let Some(mut limit) = rule.limits.at(quantity, mhz) else { continue };
        if quantity == Quantity::InsertionLoss {
            limit = limit.max(rule.limits.least_loss());
        }
        rows += 1;
        let measured = value(row);
        let margin = if highest_is_good { measured - limit } else { limit - measured };
        if worst.as_ref().is_none_or(|worst| margin < worst.margin) {
            worst = Some(LineMargin { quantity, other, margin, mhz, measured, limit });
        }
    }
    if rows == 0 && rule.limits.at(quantity, rule.limits.range().0).is_none() {
        return Ok(None);
    }
    if rows < FEWEST_ROWS {
        return Err(format!("only {rows} frequencies between the ends of the line"));
    }
    Ok(worst)
}

/// The phase delay of a transfer in ns at each of its rows, from its phase followed up from 0 Hz.
///
/// Rows must lie closer than one over twice the delay, or turns of the phase are lost.
pub(super) fn delay(through: &Spectrum) -> Vec<f64> {
    let mut turns = 0.0;
    let mut last: Option<f64> = None;
    let mut zero = 0.0;
    let mut delays = Vec::with_capacity(through.values().len());
    for (hertz, value) in through.rows() {
        let angle = value.arg();
        match last {
            // at 0 Hz a pair is upright or reversed
            None => zero = if value.re < 0.0 { TAU / 2.0 } else { 0.0 },
            Some(last) => turns -= ((angle - last) / TAU).round(),
        }
        last = Some(angle);
        let phase = angle + turns * TAU - zero;
        delays.push(if hertz > 0.0 { -phase / (TAU * hertz) * 1e9 } else { 0.0 });
    }
    delays
}
