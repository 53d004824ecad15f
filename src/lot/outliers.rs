//! Units whose figure stands apart from the same figure of their siblings in the lot.

use super::counts::ReadingSpread;
use super::group::Group;
use super::spread::Spread;

/// A figure stands apart beyond this modified z (Iglewicz and Hoaglin, from memory).
const APART: f64 = 3.5;

/// Fewer values than this say nothing of one of them (common practice, no source).
const FEWEST: u64 = 5;

/// Middle and scale that single values don't move.
#[derive(Clone, Copy, Debug, PartialEq)]
#[non_exhaustive]
pub struct Robust {
    /// The median.
    pub median: f64,
    /// What stands for the standard deviation: 1.482602 times the median distance from the median; where that is zero, 1.253314
    /// times the mean distance (Iglewicz and Hoaglin, from memory). Zero where all values are equal.
    pub scale: f64,
    /// Whether more than half of the values are equal, so that the mean distance had to do.
    pub by_mean: bool,
}

impl Robust {
    /// Of some values; none without any.
    #[must_use]
    pub fn of(values: &Spread) -> Option<Self> {
        let median = values.median()?;
        let by_median = 1.482_602_218_505_602 * values.median_distance(median)?;
        if by_median > 0.0 {
            return Some(Robust { median, scale: by_median, by_mean: false });
        }
        // the square root of pi/2
        Some(Robust { median, scale: 1.253_314_137_315_5 * values.mean_distance(median)?, by_mean: true })
    }

    /// How many scales a value lies from the middle; zero where all are equal and it is so too, else infinite.
    #[must_use]
    pub fn z(&self, value: f64) -> f64 {
        let off = value - self.median;
        if off == 0.0 { 0.0 } else { off / self.scale }
    }
}

/// A figure that stands apart.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub struct Outlier {
    /// The unit.
    pub unit: String,
    /// The two contacts.
    pub points: String,
    /// The figure in ohm.
    pub ohm: f64,
    /// The median of its siblings.
    pub median: f64,
    /// The modified z; above zero where it is too high.
    pub z: f64,
}

/// The outliers of a group, farthest first, and how many more there are that aren't named.
#[must_use]
pub fn outliers(group: &Group) -> (Vec<Outlier>, u64) {
    let (mut found, mut all) = (Vec::new(), 0);
    for (points, reading) in &group.readings {
        let Some(mut robust) = Robust::of(&reading.spread).filter(|_| reading.spread.count() >= FEWEST) else { continue };
        // the meter alone scatters by its standard uncertainty
        robust.scale = robust.scale.max(reading.uncertainty / 2.0);
        let apart = |ohm: f64| stands_apart(&robust, reading, ohm);
        all += reading.spread.values().filter(|(ohm, _)| apart(*ohm)).map(|(_, count)| count).sum::<u64>();
        let low = reading.lowest.iter().map(|entry| (entry.lowest(), &entry.unit)).filter(|(ohm, _)| *ohm < robust.median);
        let high = reading.highest.iter().map(|entry| (entry.highest(), &entry.unit)).filter(|(ohm, _)| *ohm > robust.median);
        found.extend(low.chain(high).filter(|(ohm, _)| apart(*ohm)).map(|(ohm, unit)| Outlier {
            unit: unit.clone(),
            points: points.clone(),
            ohm,
            median: robust.median,
            z: robust.z(ohm),
        }));
    }
    found.sort_by(|a, b| b.z.abs().total_cmp(&a.z.abs()).then_with(|| a.unit.cmp(&b.unit)).then_with(|| a.points.cmp(&b.points)));
    let named = found.len() as u64;
    (found, all.saturating_sub(named))
}

/// By more than the spread of the siblings, and by more than the uncertainty of the meter.
fn stands_apart(robust: &Robust, reading: &ReadingSpread, ohm: f64) -> bool {
    robust.z(ohm).abs() > APART && (ohm - robust.median).abs() > reading.uncertainty
}
