//! How long a pair takes, and how far apart its conductors arrive.

use std::f64::consts::PI;

use num_complex::Complex64;
use schemars::JsonSchema;
use serde::Serialize;

use super::curve::{Curve, decibels};
use super::dc::DcPoint;
use super::mixed::{Pair, Term};
use super::phase::{Phase, median};
use super::step::Steps;
use super::sweep::Grid;

/// Delay and skew of a pair. Skew is above zero where P arrives later than N.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[non_exhaustive]
pub struct Delay {
    /// When the step of Sdd21 passes half of its value at 0 Hz, in seconds; none where it never does.
    pub step_s: Option<f64>,
    /// Phase delay of Sdd21, the middle value over the band, in seconds.
    pub phase_s: Option<f64>,
    /// Group delay of Sdd21 at the frequency asked for, in seconds.
    pub group_s: Option<f64>,
    /// The row that `group_s` is taken at, in Hz.
    pub group_hz: f64,
    /// Skew within the pair by phase, the middle value over the band, in seconds; differential drive.
    pub skew_phase_s: Option<f64>,
    /// Skew within the pair by the steps at the far end, each at half of Sdd21 at 0 Hz, in seconds; differential drive.
    pub skew_step_s: Option<f64>,
    /// The lowest and highest row of the band that `phase_s` and `skew_phase_s` are taken over, in Hz.
    pub band_hz: [f64; 2],
    /// The rise of the edge of the steps, 10 to 90 %, in seconds.
    pub rise_s: f64,
    /// Where skew alone would first cancel the pair, 1/(2·skew), in Hz; none without skew.
    pub first_null_hz: Option<f64>,
    /// Group delay of Sdd21 over frequency, in seconds.
    pub group_delay: Curve,
    /// Skew within the pair by phase over frequency, in seconds.
    pub skew: Curve,
    /// The step that conductor P delivers at the far end, under differential drive, around its arrival.
    pub step_p: Curve,
    /// The step that conductor N delivers at the far end, likewise; turned upright.
    pub step_n: Curve,
}

/// Where less than this comes through at 0 Hz, of a whole, there is no step to time.
const OPEN: f64 = 0.05;

/// What delays are taken at.
#[derive(Clone, Copy, Debug, PartialEq)]
#[non_exhaustive]
pub struct DelaySettings {
    /// The rise of the edge of the steps, 10 to 90 %, in seconds.
    pub rise_s: f64,
    /// The band for phase delay and skew, in Hz.
    pub band_hz: [f64; 2],
    /// Where the group delay is read, in Hz.
    pub group_hz: f64,
}

impl DelaySettings {
    /// Delays by steps of this rise in seconds, over this band and with the group delay at this frequency, both in Hz.
    #[must_use]
    pub fn new(rise_s: f64, band_hz: [f64; 2], group_hz: f64) -> Self {
        Self { rise_s, band_hz, group_hz }
    }
}

impl Delay {
    /// Delay and skew of a pair; None where a sweep has no two rows above 0 Hz.
    #[must_use]
    pub fn of(pair: &Pair, grid: &Grid, dc: &DcPoint, steps: &mut Steps, settings: DelaySettings) -> Option<Self> {
        let frequencies = pair.frequencies();
        let through = pair.term(Term::Sdd21);
        let phase = Phase::of(frequencies, &through)?;
        let (p, n) = pair.conductors();
        let ratio: Vec<Complex64> = p.iter().zip(&n).map(|(p, n)| p * n.conj()).collect();
        let skew = Phase::from_first(frequencies, &ratio)?;
        let band = inhabited(&phase.frequencies, settings.band_hz);
        let over_band = |values: Vec<f64>, of: &Phase| -> Option<f64> {
            let inside = of.frequencies.iter().zip(values).filter(|(hertz, _)| **hertz >= band[0] && **hertz <= band[1]);
            median(&mut inside.map(|(_, value)| value).collect::<Vec<_>>())
        };
        let turned = |phase: &Phase| -> Vec<f64> {
            phase.frequencies.iter().zip(&phase.radians).map(|(hertz, radians)| -radians / (2.0 * PI * hertz)).collect()
        };
        let group = phase.group_delay();
        let nearest = nearest(&phase.frequencies, settings.group_hz);

        let sign = 1f64.copysign(dc.sdd21);
        let level = 0.5 * dc.sdd21.abs();
        let mut step = |values: &[Complex64]| -> Option<Curve> {
            let own = if frequencies[0] == 0.0 { values[0].re } else { dc.sdd21 };
            let upright: Vec<Complex64> = values.iter().map(|value| value * sign).collect();
            let spectrum = grid.spectrum(frequencies, &upright, own * sign)?;
            Some(steps.response(&spectrum, settings.rise_s, "step at the far end"))
        };
        let curves = [step(&through)?, step(&p)?, step(&n)?];
        let [step_s, p_s, n_s] = [0, 1, 2].map(|which: usize| {
            let arrival = curves[which].rises_through(level, -0.5 * settings.rise_s);
            arrival.filter(|_| dc.sdd21.abs() >= OPEN)
        });
        let around = |curve: &Curve| match step_s {
            Some(arrival) => {
                curve.between(arrival - 3.0 * settings.rise_s, arrival + 12.0 * settings.rise_s).thinned(settings.rise_s / 25.0)
            }
            None => curve.thinned(grid.record_s() / 1000.0),
        };
        let skew_phase_s = over_band(turned(&skew), &skew);
        Some(Delay {
            step_s,
            phase_s: over_band(phase.delay(), &phase),
            group_s: group.get(nearest).copied(),
            group_hz: phase.frequencies.get(nearest).copied().unwrap_or(0.0),
            skew_phase_s,
            skew_step_s: p_s.zip(n_s).map(|(p, n)| p - n),
            band_hz: band,
            rise_s: settings.rise_s,
            first_null_hz: skew_phase_s.map(|skew| 0.5 / skew.abs()).filter(|hertz| hertz.is_finite()),
            group_delay: Curve::new("frequency, Hz", "group delay, s", phase.frequencies.clone(), group),
            skew: Curve::new("frequency, Hz", "skew within the pair, s", skew.frequencies.clone(), turned(&skew)),
            step_p: around(&curves[1]),
            step_n: around(&curves[2]),
        })
    }

    /// What skew alone takes from the differential signal at a frequency in Hz, in dB: −20 lg |cos π f Δt|, for conductors that
    /// don't couple. None where the skew isn't known.
    #[must_use]
    pub fn skew_loss_db(&self, hertz: f64) -> Option<f64> {
        self.skew_phase_s.map(|skew| -decibels((PI * hertz * skew).cos()))
    }

    /// What to be wary of, in words: whether the record that the steps of frequency give holds the delay and its tail, and
    /// whether phase and step agree. `expected_s` is the delay that length and velocity factor let expect, where both are known.
    #[must_use]
    pub fn cautions(&self, grid: &Grid, expected_s: Option<f64>) -> Vec<String> {
        let mut cautions = Vec::new();
        let record = grid.record_s();
        let longest = [self.step_s, self.phase_s, self.group_s, expected_s].into_iter().flatten().fold(0.0, f64::max);
        let (needed, ns) = (longest * 1.25, 1e9);
        if needed > record / 2.0 {
            let what = if needed > record { "the cable" } else { "an echo from its far end" };
            cautions.push(format!(
                "The steps of {:.4} MHz give a record of {:.2} ns, too short for {what}: one way takes about {:.2} ns, and its tail \
                 needs a quarter more. What comes later wraps round to the start. Measure again with steps of at most {:.4} MHz.",
                grid.step_hz / 1e6,
                record * ns,
                longest * ns,
                0.5e-6 / needed,
            ));
        }
        if let (Some(step), Some(group)) = (self.step_s, self.group_s)
            && (step - group).abs() > 0.1 * step.abs() + self.rise_s
        {
            cautions.push(format!(
                "The delay by step is {:.4} ns, that by phase {:.4} ns. They should be about the same: look for noise, an edge \
                 too slow for so short a cable, or steps of frequency too wide for so long a one.",
                step * ns,
                group * ns,
            ));
        }
        if self.step_s.is_none() {
            cautions.push(
                "There is no delay by step: hardly anything comes through at low frequencies, or the step never reaches half of its \
                 final value. Look whether the far end is connected, and whether the ports stand in the right order."
                    .to_owned(),
            );
        }
        if let (Some(phase), Some(step)) = (self.skew_phase_s, self.skew_step_s)
            && (phase - step).abs() > 2e-12 + 0.2 * phase.abs().max(step.abs())
        {
            cautions.push(format!(
                "Skew within the pair is {:.2} ps by phase and {:.2} ps by step. Where they differ, skew isn't a plain difference of \
                 lengths: reflections or coupling change with frequency.",
                phase * 1e12,
                step * 1e12,
            ));
        }
        cautions
    }
}

/// The band that rows lie in: the one asked for where it holds at least three, else the upper three quarters of the sweep.
fn inhabited(frequencies: &[f64], band: [f64; 2]) -> [f64; 2] {
    let inside = |band: [f64; 2]| frequencies.iter().copied().filter(move |hertz| *hertz >= band[0] && *hertz <= band[1]);
    let top = frequencies.last().copied().unwrap_or(0.0);
    let band = if inside(band).count() >= 3 { band } else { [top / 4.0, top] };
    [inside(band).next().unwrap_or(0.0), inside(band).next_back().unwrap_or(0.0)]
}

fn nearest(frequencies: &[f64], wanted: f64) -> usize {
    let far = |at: &usize| (frequencies[*at] - wanted).abs();
    (0..frequencies.len()).min_by(|a, b| far(a).total_cmp(&far(b))).unwrap_or(0)
}
