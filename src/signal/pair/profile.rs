//! Impedance along the cable, from the echo of a step at either end (time-domain reflectometry).
//!
//! What is seen at depth comes through what lies before it: the impedance is that of a first echo, with losses and repeated
//! echoes left in. Copper resistance lets it rise slowly along a cable whose own impedance doesn't change; that rise goes with
//! the root of depth, as skin effect does, and is told from a change of impedance by the loss.

use std::f64::consts::PI;

use schemars::JsonSchema;
use serde::Serialize;

use super::curve::Curve;
use super::fit::least_squares;
use super::phase::median;

/// An end of the cable.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
#[expect(clippy::exhaustive_enums, reason = "a cable of one pair has two ends")]
pub enum End {
    /// Ports 1 and 2.
    Near,
    /// Ports 3 and 4.
    Far,
}

/// A place whose impedance departs most from that of the line around it.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, JsonSchema)]
#[non_exhaustive]
pub struct Discontinuity {
    /// The end that it was seen from.
    pub seen_from: End,
    /// The impedance there in ohm.
    pub ohm: f64,
    /// That less the impedance of the line there, in ohm.
    pub deviation_ohm: f64,
    /// The reflection coefficient that a step from the line to it has.
    pub reflection: f64,
    /// When its echo peaks after the edge entered that end, there and back, in seconds.
    pub echo_s: f64,
    /// Where it is, as a share of the length from the near end, 0 to 1: the middle of what departs at least half as much.
    pub share_from_near: f64,
    /// Where it begins and ends, likewise.
    pub extent: [f64; 2],
    /// The same place in metres from the near end; none where the length isn't known.
    pub from_near_m: Option<f64>,
    /// The same place in metres from the far end; none where the length isn't known.
    pub from_far_m: Option<f64>,
}

/// The impedance along the cable as one end sees it.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[non_exhaustive]
pub struct View {
    /// The end that looks.
    pub end: End,
    /// Impedance in ohm over the time there and back in seconds, from the edge at 0 to past the other end.
    pub over_time: Curve,
    /// The largest impedance between the ends in ohm.
    pub largest_ohm: f64,
    /// When its echo arrives, in seconds.
    pub largest_s: f64,
    /// The smallest impedance between the ends in ohm.
    pub smallest_ohm: f64,
    /// When its echo arrives, in seconds.
    pub smallest_s: f64,
    /// The impedance of the line itself at its start, in ohm, without the rise.
    pub line_ohm: f64,
    /// How much the resistance of the copper lets the impedance rise to the other end, in ohm.
    pub copper_rise_ohm: f64,
    /// How much the impedance of the line itself changes from its start to the other end, in ohm.
    pub line_change_ohm: f64,
    /// The rise that the loss of the cable lets expect, in ohm; none where the loss says nothing of copper.
    pub copper_rise_expected_ohm: Option<f64>,
    /// The place that departs most; none where all of it lies within 0.1 ohm of the line.
    pub worst: Option<Discontinuity>,
}

/// What a view needs beside the step.
#[derive(Clone, Copy, Debug, PartialEq)]
#[non_exhaustive]
pub struct ViewSettings {
    /// The end that looks.
    pub end: End,
    /// The reference in ohm.
    pub reference_ohm: f64,
    /// The time one way in seconds.
    pub delay_s: f64,
    /// The rise of the edge, 10 to 90 %, in seconds.
    pub rise_s: f64,
    /// The loss that goes with the root of frequency, in dB per √GHz over the whole length, where it is known.
    pub root_loss_db: Option<f64>,
    /// The length in metres, where it is known.
    pub length_m: Option<f64>,
}

/// The impedance in ohm that gives a reflection on a reference: Z (1 + ρ)/(1 − ρ). The reflection is held between −0.999 and
/// 0.999, so that an open end stands as two thousand times the reference.
#[must_use]
pub fn impedance(reflection: f64, reference_ohm: f64) -> f64 {
    let rho = reflection.clamp(-0.999, 0.999);
    reference_ohm * (1.0 + rho) / (1.0 - rho)
}

/// How much skin effect lets the impedance seen rise to the far end of a line, in ohm.
///
/// Skin effect is a series impedance K√s, which gives the loss A(f) = K √(πf) ℓ/(2Z) in neper and, to first order, the reflected
/// step K/(2L) √(t/π). At t = 2T both together are Z A(f)·(4/(π√2))/√(fT). Derived here from the textbook line equations.
fn expected_rise(line_ohm: f64, root_loss_db: f64, delay_s: f64) -> f64 {
    let neper = root_loss_db / 8.685_890;
    line_ohm * neper * 4.0 / (PI * std::f64::consts::SQRT_2) / (delay_s * 1e9).sqrt()
}

/// The impedance of the line at a depth: `at_begin + root·√t + slope·t`.
#[derive(Clone, Copy, Debug, Default)]
struct Line {
    at_begin: f64,
    root: f64,
    slope: f64,
}

impl Line {
    fn at(&self, seconds: f64) -> f64 {
        self.at_begin + self.root * seconds.max(0.0).sqrt() + self.slope * seconds
    }
}

impl View {
    /// The impedance along the cable from the reflected step of one end; None where the step ends before the echo of the other
    /// end, or the cable is too short to hold an edge.
    #[must_use]
    pub fn of(step: &Curve, settings: ViewSettings) -> Option<Self> {
        let ViewSettings { end, reference_ohm, delay_s, rise_s, .. } = settings;
        let back = 2.0 * delay_s;
        let enough = delay_s.is_finite() && back > rise_s && step.x.last().is_some_and(|last| *last >= back);
        if !enough {
            return None;
        }
        let shown = step.between(0.0, back + 4.0 * rise_s);
        let ohm: Vec<f64> = shown.y.iter().map(|rho| impedance(*rho, reference_ohm)).collect();
        let whole = Curve::new("there and back, s", "impedance, ohm", shown.x, ohm);
        let inside = whole.between(0.0, back);
        let largest = inside.points().max_by(|a, b| a.1.total_cmp(&b.1))?;
        let smallest = inside.points().min_by(|a, b| a.1.total_cmp(&b.1))?;
        let (line, expected) = settings.line(&inside)?;
        Some(View {
            end,
            largest_ohm: largest.1,
            largest_s: largest.0,
            smallest_ohm: smallest.1,
            smallest_s: smallest.0,
            line_ohm: line.at_begin,
            copper_rise_ohm: line.root * back.sqrt(),
            line_change_ohm: line.slope * back,
            copper_rise_expected_ohm: expected,
            worst: settings.worst(&inside, line),
            over_time: whole.thinned(rise_s / 8.0),
        })
    }

    /// The impedance over metres from the end that looks; None where the length isn't known.
    #[must_use]
    pub fn over_metres(&self, delay_s: f64, length_m: f64) -> Curve {
        let x = self.over_time.x.iter().map(|seconds| seconds / (2.0 * delay_s) * length_m).collect();
        Curve::new("from this end, m", "impedance, ohm", x, self.over_time.y.clone())
    }
}

impl ViewSettings {
    /// A view from this end, with the reference in ohm, the time one way and the rise of the edge, both in seconds.
    #[must_use]
    pub fn new(end: End, reference_ohm: f64, delay_s: f64, rise_s: f64) -> Self {
        Self { end, reference_ohm, delay_s, rise_s, root_loss_db: None, length_m: None }
    }

    /// The loss that goes with the root of frequency, in dB per √GHz over the whole length, where it is known.
    #[must_use]
    pub fn with_root_loss_db(self, root_loss_db: f64) -> Self {
        Self { root_loss_db: Some(root_loss_db), ..self }
    }

    /// The length in metres, where it is known.
    #[must_use]
    pub fn with_length_m(self, length_m: f64) -> Self {
        Self { length_m: Some(length_m), ..self }
    }

    /// The impedance of the line without its discontinuities, and the rise that its loss lets expect.
    ///
    /// The least absolute deviation, so that short faults don't draw it. The rise may be half as much again as the loss lets
    /// expect; what the impedance changes beyond that isn't copper.
    fn line(&self, inside: &Curve) -> Option<(Line, Option<f64>)> {
        let back = 2.0 * self.delay_s;
        let edge = self.rise_s.min(back / 6.0);
        let part = inside.between(edge, back - edge).thinned((back / 400.0).max(self.rise_s / 50.0));
        let begin = median(&mut part.y.clone())?;
        let expected = self.root_loss_db.map(|loss| expected_rise(begin, loss.max(0.0), self.delay_s));
        let most = expected.map_or(f64::INFINITY, |rise| 1.5 * rise / back.sqrt());
        let roots: Vec<f64> = part.x.iter().map(|seconds| seconds.sqrt()).collect();
        let free = least_deviation(&roots, &part.y).unwrap_or([begin, 0.0]);
        let root = free[1].max(0.0).min(most);
        let left: Vec<f64> = part.y.iter().zip(&roots).map(|(ohm, seconds)| ohm - root * seconds).collect();
        // where the rise is all copper, what is left is level
        let level = Line { at_begin: median(&mut left.clone())?, root, slope: 0.0 };
        if root == free[1] {
            return Some((level, expected));
        }
        let changed = least_deviation(&part.x, &left).map(|[at_begin, slope]| Line { at_begin, root, slope });
        Some((changed.unwrap_or(level), expected))
    }

    /// The place that departs most from the line.
    ///
    /// Within a rise of either end the step from the reference to the line is no fault: there only what lies outside of both
    /// counts.
    fn worst(&self, inside: &Curve, line: Line) -> Option<Discontinuity> {
        let back = 2.0 * self.delay_s;
        let departs = |(seconds, ohm): (f64, f64)| {
            let own = line.at(seconds);
            let (low, high) = (own.min(self.reference_ohm), own.max(self.reference_ohm));
            let at_end = seconds < self.rise_s || seconds > back - self.rise_s;
            if at_end && ohm >= low && ohm <= high { 0.0 } else { ohm - own }
        };
        let deviations: Vec<f64> = inside.points().map(departs).collect();
        let peak = (0..deviations.len()).max_by(|a, b| deviations[*a].abs().total_cmp(&deviations[*b].abs()))?;
        let (echo_s, ohm, deviation_ohm) = (inside.x[peak], inside.y[peak], deviations[peak]);
        if deviation_ohm.abs() < 0.1 {
            return None;
        }
        let alike = |at: &usize| deviations[*at] / deviation_ohm > 0.5;
        let first = (0..peak).rev().take_while(alike).last().unwrap_or(peak);
        let last = (peak..deviations.len()).take_while(alike).last().unwrap_or(peak);
        let share = |at: usize| {
            let share = (inside.x[at] / back).clamp(0.0, 1.0);
            if self.end == End::Near { share } else { 1.0 - share }
        };
        let extent = if self.end == End::Near { [share(first), share(last)] } else { [share(last), share(first)] };
        let share_from_near = (extent[0] + extent[1]) / 2.0;
        let own = line.at(echo_s);
        Some(Discontinuity {
            seen_from: self.end,
            ohm,
            deviation_ohm,
            reflection: (ohm - own) / (ohm + own),
            echo_s,
            share_from_near,
            extent,
            from_near_m: self.length_m.map(|metres| metres * share_from_near),
            from_far_m: self.length_m.map(|metres| metres * (1.0 - share_from_near)),
        })
    }
}

/// The line a + b x whose absolute deviations sum to the least, by least squares whose weights are taken anew (Weiszfeld).
fn least_deviation(x: &[f64], y: &[f64]) -> Option<[f64; 2]> {
    let top = x.iter().copied().fold(0.0, f64::max);
    let mut weights = vec![1.0; x.len()];
    let mut line = [0.0; 2];
    for _ in 0..40 {
        let ones = weights.clone();
        let slopes = x.iter().zip(&weights).map(|(x, weight)| x / top * weight).collect();
        let target = y.iter().zip(&weights).map(|(y, weight)| y * weight).collect();
        let factors = least_squares(vec![ones, slopes], target)?;
        line = [factors[0], factors[1] / top];
        for ((x, y), weight) in x.iter().zip(y).zip(&mut weights) {
            *weight = 1.0 / (y - line[0] - line[1] * x).abs().max(1e-3).sqrt();
        }
    }
    Some(line)
}
