//! The response to one bit.

use std::f64::consts::PI;

use num_complex::Complex64;
use rustfft::FftPlanner;

use super::super::{Spectrum, gaussian_edge};

/// More samples than this in one record are refused: no cable file needs them.
const MOST_SAMPLES: usize = 1 << 23;
/// Samples a period of the highest frequency at least, where cursors have to be read between samples.
const OVERSAMPLING: usize = 12;

/// What is sent: two levels, so many bits a second, with edges of Gaussian shape.
#[derive(Clone, Copy, Debug, PartialEq)]
#[non_exhaustive]
pub struct Drive {
    /// Bits a second, above zero.
    pub rate: f64,
    /// How long an edge takes from 10 to 90 %, in seconds; zero for a square bit.
    pub rise: f64,
}

impl Drive {
    /// Bits of this rate a second, with edges of this rise from 10 to 90 % in seconds.
    #[must_use]
    pub fn new(rate: f64, rise: f64) -> Self {
        Self { rate, rise }
    }

    /// The time of one bit in seconds.
    #[must_use]
    pub fn unit(&self) -> f64 {
        1.0 / self.rate
    }

    /// The spectrum of one bit of height 1 that begins at time 0, at a frequency in Hz, in volt seconds.
    #[must_use]
    pub fn bit(&self, hertz: f64) -> Complex64 {
        let unit = self.unit();
        let angle = PI * hertz * unit;
        let sinc = if angle == 0.0 { 1.0 } else { angle.sin() / angle };
        Complex64::from_polar(unit * sinc * gaussian_edge(hertz, self.rise), -angle)
    }

    /// How many bits a record of one over `step` seconds holds, to the nearest whole one. None below four.
    #[must_use]
    pub fn bits(&self, step: f64) -> Option<usize> {
        let bits = (self.rate / step).round();
        (bits >= 4.0 && bits <= MOST_SAMPLES as f64).then_some(bits as usize)
    }
}

/// A pulse response over one whole record, as the cursors of each sampling phase.
///
/// A cursor is what one bit leaves at the sampling instant of another. The cursors of a phase run once round the record, so
/// that they add up to the transfer at 0 Hz (exactly where the record is a whole number of bits).
#[derive(Clone, Debug, PartialEq)]
pub struct Pulse {
    unit: f64,
    samples: usize,
    cursors: usize,
    centre: usize,
    values: Vec<f64>,
}

/// One sampling phase of a pulse.
#[derive(Clone, Copy, Debug, PartialEq)]
#[non_exhaustive]
pub struct Phase<'a> {
    /// Every cursor of the record, in the order of time from the start of the bit, the main one among them.
    pub cursors: &'a [f64],
    /// Which of them is the main cursor: the bit itself.
    pub main: usize,
    /// When it is sampled, in seconds after the bit was launched.
    pub time: f64,
}

impl Phase<'_> {
    /// The main cursor.
    #[must_use]
    pub fn height(&self) -> f64 {
        self.cursors.get(self.main).copied().unwrap_or(0.0)
    }

    /// The cursor so many bits after the main one (before it where negative).
    #[must_use]
    pub fn cursor(&self, after: isize) -> f64 {
        let count = self.cursors.len() as isize;
        if count == 0 {
            return 0.0;
        }
        self.cursors.get((self.main as isize + after).rem_euclid(count) as usize).copied().unwrap_or(0.0)
    }
}

impl Pulse {
    /// The response of a transfer to one bit, at so many samples a bit (1 to 1024).
    ///
    /// None where the record of the spectrum (one over its step) is shorter than four bits, where it holds more than eight
    /// million samples, or where a sample isn't finite.
    #[must_use]
    pub fn new(transfer: &Spectrum, drive: Drive, samples: usize) -> Option<Self> {
        let bit: Vec<Complex64> = transfer.rows().map(|(hertz, value)| value * drive.bit(hertz)).collect();
        let mut transform = Transform::default();
        transform.pulses(transfer.step(), &bit, None, drive, samples).0
    }

    /// The time of one bit in seconds.
    #[must_use]
    pub fn unit(&self) -> f64 {
        self.unit
    }

    /// How many phases a bit is sampled at.
    #[must_use]
    pub fn phases(&self) -> usize {
        self.samples
    }

    /// One of the sampling phases. From 0 to [`Pulse::phases`] they are a window of one bit around the middle of the pulse,
    /// which lies halfway between the instants where it passes half its height; others lie before and after.
    #[must_use]
    pub fn phase(&self, number: isize) -> Phase<'_> {
        let record = self.samples * self.cursors;
        let shift = (number - (self.samples / 2) as isize).rem_euclid(record as isize) as usize;
        let at = (self.centre + shift) % record;
        let row = at % self.samples;
        let cursors = self.values.get(row * self.cursors..(row + 1) * self.cursors).unwrap_or_default();
        Phase { cursors, main: at / self.samples, time: at as f64 / self.samples as f64 * self.unit }
    }

    /// From samples in the order of time, `samples` a bit.
    fn from_samples(unit: f64, samples: usize, cursors: usize, wave: &[f64]) -> Option<Self> {
        if !wave.iter().all(|value| value.is_finite()) {
            return None;
        }
        let peak = (0..wave.len()).max_by(|a, b| wave[*a].total_cmp(&wave[*b]).then(b.cmp(a)))?;
        let record = wave.len();
        let above = |at: &usize| wave[at % record] > 0.5 * wave[peak];
        let before = (1..record).take_while(|away| above(&(peak + record - away))).count();
        let after = (1..record).take_while(|away| above(&(peak + away))).count();
        let centre = (peak + record + after / 2 - before / 2) % record;
        let mut values = Vec::with_capacity(record);
        for row in 0..samples {
            values.extend(wave[row..].iter().step_by(samples));
        }
        Some(Pulse { unit, samples, cursors, centre, values })
    }
}

/// Spectra to pulses, with the tables of the transforms kept from one to the next.
#[derive(Default)]
pub struct Transform {
    planner: Option<FftPlanner<f64>>,
    work: Vec<Complex64>,
    scratch: Vec<Complex64>,
}

impl std::fmt::Debug for Transform {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Transform").finish_non_exhaustive()
    }
}

impl Transform {
    /// Two pulses in one transform: two real records are the real and the imaginary part of a complex one.
    ///
    /// The spectra are those of the received bit from 0 Hz in steps of `step` Hz (transfer times [`Drive::bit`]).
    pub(crate) fn pulses(
        &mut self,
        step: f64,
        first: &[Complex64],
        second: Option<&[Complex64]>,
        drive: Drive,
        samples: usize,
    ) -> (Option<Pulse>, Option<Pulse>) {
        let Some(cursors) = drive.bits(step).filter(|_| (1..=1024).contains(&samples)) else { return (None, None) };
        let wanted = cursors * samples;
        let exact = (drive.rate / step - cursors as f64).abs() < 1e-6;
        let length = if exact { wanted } else { smooth(wanted.max(OVERSAMPLING * first.len())) };
        if length > MOST_SAMPLES {
            return (None, None);
        }
        self.transform(step, first, second, length);
        let unit = drive.unit();
        // how many samples of the record lie between two of the wanted ones
        let stride = if exact { 1.0 } else { unit * step * length as f64 / samples as f64 };
        let one = |part: fn(&Complex64) -> f64| {
            let wave: Vec<f64> = if exact {
                self.work.iter().map(part).collect()
            } else {
                (0..wanted).map(|at| between(&self.work, part, at as f64 * stride)).collect()
            };
            Pulse::from_samples(unit, samples, cursors, &wave)
        };
        (one(|value| value.re), second.and_then(|_| one(|value| value.im)))
    }

    /// The record of `length` samples of both spectra, in `self.work`.
    fn transform(&mut self, step: f64, first: &[Complex64], second: Option<&[Complex64]>, length: usize) {
        self.work.clear();
        self.work.resize(length, Complex64::ZERO);
        let mut add = |values: &[Complex64], turn: Complex64| {
            for (at, value) in values.iter().enumerate() {
                let value = value * step;
                if at == 0 {
                    self.work[0] += turn * value.re;
                } else {
                    // sampled times are exact even where the file reaches beyond half the sampling rate: rows fold back
                    let row = at % length;
                    self.work[row] += turn * value;
                    self.work[(length - row) % length] += turn * value.conj();
                }
            }
        };
        add(first, Complex64::ONE);
        if let Some(second) = second {
            add(second, Complex64::I);
        }
        let transform = self.planner.get_or_insert_with(FftPlanner::new).plan_fft_inverse(length);
        self.scratch.resize(transform.get_inplace_scratch_len(), Complex64::ZERO);
        transform.process_with_scratch(&mut self.work, &mut self.scratch);
    }
}

/// The least product of twos, threes and fives that isn't below a count; transforms of such lengths are quick.
fn smooth(least: usize) -> usize {
    (least..).find(|length| [2, 3, 5].iter().fold(*length, strip) == 1).unwrap_or(least)
}

fn strip(mut length: usize, prime: &usize) -> usize {
    while length > 1 && length.is_multiple_of(*prime) {
        length /= prime;
    }
    length
}

/// A periodic record read between its samples, by the polynomial of degree five through the nearest six.
fn between(record: &[Complex64], part: fn(&Complex64) -> f64, at: f64) -> f64 {
    let floor = at.floor();
    let x = at - floor;
    let first = floor as usize + record.len() - 2;
    let (a, b, c, d, e, f) = (x + 2.0, x + 1.0, x, x - 1.0, x - 2.0, x - 3.0);
    let weights = [
        b * c * d * e * f / -120.0,
        a * c * d * e * f / 24.0,
        a * b * d * e * f / -12.0,
        a * b * c * e * f / 12.0,
        a * b * c * d * f / -24.0,
        a * b * c * d * e / 120.0,
    ];
    (first..).zip(weights).map(|(at, weight)| weight * part(&record[at % record.len()])).sum()
}
