//! One lane at one rate, seen by the reference receiver.

use num_complex::Complex64;
use schemars::JsonSchema;
use serde::Serialize;

use super::super::Spectrum;
use super::super::eye::{Drive, EyeDensity, Feedback, Pulse, StatisticalEye, Transform, Worst, peak_distortion, worst_crosstalk};
use super::{Carries, EyeRule, Lane, Rate, loss};

/// How far a file must reach, as a multiple of the Nyquist frequency.
///
/// Of the power of a train of square bits 88.9 % lies below it and 90.3 % below the first gap of the spectrum at twice the
/// Nyquist frequency, so what a file hides between them is little (own estimate of what can be done without).
pub(super) const REACH: f64 = 1.5;
/// Samples a bit for the choice of a setting, and for aggressors.
const COARSE: usize = 16;
/// Samples a bit for the eye.
const FINE: usize = 64;
/// Rows of the eye as a picture.
const PICTURE_ROWS: usize = 160;
/// The step of amplitude of the statistical eye, as a part of what is launched.
const STEP: f64 = 1.0 / 2048.0;
/// How many times the noise (root mean square) a choice of setting reckons with: six on either side.
const NOISE_WEIGHT: f64 = 12.0;
/// Noise reaches the decision in this much of the bit rate (IEEE 802.3, annex 93A uses the same part, from memory).
const NOISE_BANDWIDTH: f64 = 0.75;

/// How far an eye is open.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[non_exhaustive]
pub struct Eye {
    /// The height under the worst pattern, in mV; negative where the eye is closed. No jitter, no noise.
    pub worst_height_mv: f64,
    /// The width under the worst pattern, in unit intervals.
    pub worst_width_ui: f64,
    /// The height at the rate's error ratio with its jitter and noise, in mV; negative where the eye is closed.
    pub height_mv: f64,
    /// The width at the rate's error ratio with its jitter and noise, in unit intervals.
    pub width_ui: f64,
}

/// How much there is to spare, negative where something is missed.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[non_exhaustive]
pub struct Margins {
    /// Height over that of the mask in dB; none where the eye is closed.
    pub height_db: Option<f64>,
    /// Width beyond that of the mask in per cent of it.
    pub width_percent: f64,
    /// Loss below the limit of loss in dB, where the rate has one.
    pub loss_db: Option<f64>,
}

/// A lane's eyes at one rate.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[non_exhaustive]
pub struct Received {
    /// The eye at the end of the cable alone, without equaliser.
    pub bare: Eye,
    /// The eye behind boards and the reference receiver, which is what is judged.
    pub received: Eye,
    /// The equaliser's setting, counted from 1 as in the ladder's file; none where it is off.
    pub setting: Option<usize>,
    /// That setting in words.
    pub equaliser: String,
    /// What the feedback takes off for the bit before, in mV.
    pub tap_mv: f64,
    /// What there is to spare against the mask.
    pub margins: Margins,
}

/// The reference receiver of a rate, laid out for the frequencies of a file.
pub(super) struct Receiver<'a> {
    rate: &'a Rate,
    rule: &'a EyeRule,
    drive: Drive,
    step: f64,
    bit: Vec<Complex64>,
    /// Off first, then each setting: what a bit is multiplied with, boards and all.
    paths: Vec<Vec<Complex64>>,
    noise_gains: Vec<f64>,
}

impl<'a> Receiver<'a> {
    pub fn new(rate: &'a Rate, rule: &'a EyeRule, like: &Spectrum) -> Self {
        let drive = rule.drive(rate.gbits);
        let hertz: Vec<f64> = like.rows().map(|(hertz, _)| hertz).collect();
        let bit: Vec<Complex64> = hertz.iter().map(|hertz| drive.bit(*hertz)).collect();
        let boards: Vec<Complex64> = hertz.iter().map(|hertz| board(rule.boards_db, hertz / rate.nyquist())).collect();
        let off: Vec<Complex64> = bit.iter().zip(&boards).map(|(bit, board)| bit * board).collect();
        let settings = rule.equaliser.iter().flat_map(|equaliser| &equaliser.settings);
        let mut noise_gains = vec![1.0];
        let mut paths = vec![off.clone()];
        for setting in settings {
            noise_gains.push(setting.noise_gain(NOISE_BANDWIDTH * drive.rate));
            paths.push(off.iter().zip(&hertz).map(|(path, hertz)| path * setting.gain(*hertz)).collect());
        }
        Receiver { rate, rule, drive, step: like.step(), bit, paths, noise_gains }
    }

    /// Whether it is laid out for the frequencies of this spectrum.
    pub fn fits(&self, spectrum: &Spectrum) -> bool {
        self.step == spectrum.step() && self.bit.len() == spectrum.values().len()
    }

    /// A lane's eyes, and whether they are open enough.
    pub fn judge(&self, lane: &Lane, transform: &mut Transform) -> (Carries, Option<Received>) {
        if let Some(why) = self.out_of_reach(&lane.through) {
            return (Carries::NotJudged(why), None);
        }
        if lane.near_end.iter().chain(&lane.far_end).any(|aggressor| !self.fits(aggressor)) {
            return (Carries::NotJudged("its crosstalk was measured at other frequencies than its transfer".to_owned()), None);
        }
        match self.receive(lane, transform) {
            Some(received) => (self.answer(&received), Some(received)),
            None => (Carries::NotJudged("the file gives no eye: its losses aren't those of a cable".to_owned()), None),
        }
    }

    fn out_of_reach(&self, through: &Spectrum) -> Option<String> {
        let top = through.step() * (through.values().len() - 1) as f64;
        let needed = REACH * self.rate.nyquist();
        if top < needed * (1.0 - 1e-9) {
            let (top, needed) = (top / 1e9, needed / 1e9);
            return Some(format!("the file ends at {top:.3} GHz, below the {needed:.3} GHz that this rate needs"));
        }
        self.drive.bits(through.step()).is_none().then(|| {
            let step = through.step() / 1e6;
            format!("the file's frequencies are {step:.3} MHz apart: too far to follow four bits of this rate")
        })
    }

    /// The eye behind the reference receiver as a picture; its heights are parts of what is launched.
    pub fn picture(&self, lane: &Lane, transform: &mut Transform) -> Option<EyeDensity> {
        if self.out_of_reach(&lane.through).is_some() {
            return None;
        }
        let feedback = Feedback { limit: self.tap_limit() };
        let choice = self.choose(lane.through.values(), feedback, transform)?;
        let (_, heard) = self.both(lane.through.values(), self.paths.get(choice)?, FINE, transform);
        let pulse = heard?;
        let worst = peak_distortion(&pulse, feedback, 0.0);
        let disturbance = self.rule.disturbance(*self.noise_gains.get(choice)?);
        EyeDensity::new(&pulse, worst.tap, &disturbance, PICTURE_ROWS)
    }

    fn receive(&self, lane: &Lane, transform: &mut Transform) -> Option<Received> {
        let through = lane.through.values();
        let feedback = Feedback { limit: self.tap_limit() };
        let choice = self.choose(through, feedback, transform)?;
        let path = self.paths.get(choice)?;
        let (bare, heard) = self.both(through, path, FINE, transform);
        let mut aggressors = (Vec::new(), Vec::new());
        for spectrum in lane.near_end.iter().chain(&lane.far_end) {
            let (bare, heard) = self.both(spectrum.values(), path, COARSE, transform);
            aggressors.0.push(bare?);
            aggressors.1.push(heard?);
        }
        let (bare, _) = self.eye(&bare?, Feedback::default(), &aggressors.0, 1.0)?;
        let gain = self.noise_gains.get(choice)?;
        let (received, worst) = self.eye(&heard?, feedback, &aggressors.1, *gain)?;
        Some(Received {
            margins: self.margins(&received, &lane.through),
            bare,
            received,
            setting: (choice > 0).then_some(choice),
            equaliser: self.words(choice),
            tap_mv: worst.tap * self.rule.launch_mv,
        })
    }

    /// Which setting leaves the highest worst eye above the noise; 0 where that is none.
    fn choose(&self, through: &[Complex64], feedback: Feedback, transform: &mut Transform) -> Option<usize> {
        let mut best: Option<(f64, usize)> = None;
        for first in (0..self.paths.len()).step_by(2) {
            let heard = |at: usize| self.paths.get(at).map(|path| product(through, path));
            let (one, other) = (heard(first)?, heard(first + 1));
            let pulses = transform.pulses(self.step, &one, other.as_deref(), self.drive, COARSE);
            for (at, pulse) in [(first, pulses.0), (first + 1, pulses.1)] {
                let Some(pulse) = pulse else { continue };
                let noise = NOISE_WEIGHT * self.rule.disturbance(*self.noise_gains.get(at)?).noise;
                let height = peak_distortion(&pulse, feedback, 0.0).height - noise;
                if best.is_none_or(|(most, _)| height > most) {
                    best = Some((height, at));
                }
            }
        }
        best.map(|(_, at)| at)
    }

    /// The pulses at the end of the cable and behind the receiver.
    fn both(
        &self,
        values: &[Complex64],
        path: &[Complex64],
        samples: usize,
        transform: &mut Transform,
    ) -> (Option<Pulse>, Option<Pulse>) {
        let (bare, heard) = (product(values, &self.bit), product(values, path));
        transform.pulses(self.step, &bare, Some(&heard), self.drive, samples)
    }

    fn eye(&self, pulse: &Pulse, feedback: Feedback, aggressors: &[Pulse], noise_gain: f64) -> Option<(Eye, Worst)> {
        let crosstalk = aggressors.iter().map(worst_crosstalk).sum();
        let worst = peak_distortion(pulse, feedback, crosstalk);
        let eye = StatisticalEye::new(pulse, worst.tap, aggressors, self.rule.disturbance(noise_gain), STEP)?;
        let (width_ui, instant) = eye.width(self.rule.error_ratio);
        let height = eye.height(instant, self.rule.error_ratio);
        let launch = self.rule.launch_mv;
        let figures =
            Eye { worst_height_mv: worst.height * launch, worst_width_ui: worst.width, height_mv: height * launch, width_ui };
        Some((figures, worst))
    }

    fn margins(&self, eye: &Eye, through: &Spectrum) -> Margins {
        let ratio = eye.height_mv / self.rule.height_mv;
        let rule = self.rule.loss.as_ref();
        Margins {
            height_db: (ratio > 0.0).then(|| 20.0 * ratio.log10()),
            width_percent: 100.0 * (eye.width_ui / self.rule.width_ui - 1.0),
            loss_db: rule.and_then(|rule| Some(rule.db - loss(through, rule.mhz * 1e6)?)),
        }
    }

    fn answer(&self, received: &Received) -> Carries {
        let (eye, margins, rule) = (&received.received, &received.margins, self.rule);
        let mut missed = Vec::new();
        if eye.height_mv < rule.height_mv {
            missed.push(format!("the eye is {:.0} mV high of {:.0} mV", eye.height_mv.max(0.0), rule.height_mv));
        }
        if eye.width_ui < rule.width_ui {
            missed.push(format!("the eye is {:.3} UI wide of {:.3} UI", eye.width_ui, rule.width_ui));
        }
        if let (Some(loss), Some(margin)) = (&rule.loss, margins.loss_db.filter(|margin| *margin < 0.0)) {
            missed.push(format!("the loss at {:.0} MHz is {:.2} dB over {:.2} dB", loss.mhz, -margin, loss.db));
        }
        if !missed.is_empty() {
            return Carries::No(missed.join("; "));
        }
        match &rule.loss {
            Some(loss) if margins.loss_db.is_none() => {
                Carries::NotJudged(format!("the file ends below the {:.0} MHz that the loss is limited at", loss.mhz))
            }
            _ => Carries::Yes,
        }
    }

    fn tap_limit(&self) -> f64 {
        self.rule.equaliser.as_ref().map_or(0.0, |equaliser| equaliser.tap_mv / self.rule.launch_mv)
    }

    fn words(&self, choice: usize) -> String {
        let setting = choice.checked_sub(1).and_then(|at| self.rule.equaliser.as_ref()?.settings.get(at));
        let Some(setting) = setting else { return "off".to_owned() };
        let poles: Vec<String> = setting.poles.iter().map(|pole| format!("{:.2}", pole / 1e9)).collect();
        format!("{:.1} dB at 0 Hz, zero at {:.2} GHz, poles at {} GHz", setting.dc_db, setting.zero / 1e9, poles.join(" and "))
    }
}

/// What boards let through: losses like those of the skin effect, so many dB at 1 times the Nyquist frequency.
fn board(db: f64, times: f64) -> Complex64 {
    let neper = db * std::f64::consts::LN_10 / 20.0 * times.sqrt();
    Complex64::from_polar((-neper).exp(), -neper)
}

fn product(one: &[Complex64], other: &[Complex64]) -> Vec<Complex64> {
    one.iter().zip(other).map(|(one, other)| one * other).collect()
}
