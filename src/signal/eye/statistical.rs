//! The statistical eye: how far it is open but for one bit in so many.
//!
//! The approach is that of StatEye (Sanders, Resso, D'Ambrosia, "Channel compliance testing utilizing novel statistical eye
//! methodology", DesignCon 2004, from memory): the densities of what each other bit does to the sampled one are convolved,
//! noise and crosstalk are laid over them, and the sampling instant is spread by jitter.

use std::f64::consts::SQRT_2;

use libm::erfc;

use super::Pulse;
use super::density::{Density, Residue, Workshop, fed_back};
use super::distortion::open_around;

/// A sum of cursors beyond this isn't that of a passive cable.
const MOST_INTERFERENCE: f64 = 10.0;
/// Standard deviations of noise that are reckoned with; what lies beyond is rarer than 1 in 10^15.
const NOISE_REACH: f64 = 8.0;
/// Times between two phases at which the bathtub is read.
const FINER: usize = 8;

/// What besides the cable moves the signal at the instant of decision.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
#[non_exhaustive]
pub struct Disturbance {
    /// Gaussian noise, root mean square, as a part of the launched difference.
    pub noise: f64,
    /// Random jitter: the standard deviation of a Gaussian, in unit intervals.
    pub random: f64,
    /// Deterministic jitter: the distance of the two Dirac pulses of the dual-Dirac model, in unit intervals.
    pub deterministic: f64,
}

impl Disturbance {
    /// Gaussian noise, root mean square, as a part of the launched difference.
    #[must_use]
    pub fn with_noise(self, noise: f64) -> Self {
        Self { noise, ..self }
    }

    /// Random jitter: the standard deviation of a Gaussian, in unit intervals.
    #[must_use]
    pub fn with_random(self, random: f64) -> Self {
        Self { random, ..self }
    }

    /// Deterministic jitter: the distance of the two Dirac pulses of the dual-Dirac model, in unit intervals.
    #[must_use]
    pub fn with_deterministic(self, deterministic: f64) -> Self {
        Self { deterministic, ..self }
    }

    /// The weights of a grid of so many phases a bit around an instant in unit intervals; phases count from that of 0.
    pub(super) fn phases(&self, phases: usize, instant: f64) -> Vec<(isize, f64)> {
        let count = phases as f64;
        let (sigma, half) = (self.random.abs() * count, self.deterministic.abs() * count / 2.0);
        let centre = instant * count;
        let reach = (half + NOISE_REACH * sigma + 2.0).min(count);
        let (from, to) = ((centre - reach).floor() as isize, (centre + reach).ceil() as isize);
        let near = |at: isize, dirac: f64| {
            let away = at as f64 - dirac;
            // where the Gaussian is narrower than the grid, the two nearest phases share it so that its mean stays
            if sigma < 0.3 {
                (1.0 - away.abs()).max(0.0)
            } else {
                gaussian_step(away + 0.5, sigma) - gaussian_step(away - 0.5, sigma)
            }
        };
        let weight = |at: isize| (at, 0.5 * (near(at, centre - half) + near(at, centre + half)));
        (from..=to).map(weight).filter(|(_, weight)| *weight > 0.0).collect()
    }
}

/// How often a Gaussian around 0 lies below a value.
pub(super) fn gaussian_step(value: f64, sigma: f64) -> f64 {
    if sigma > 0.0 { 0.5 * erfc(-value / sigma / SQRT_2) } else { f64::from(u8::from(value >= 0.0)) }
}

/// The eye as densities, one a phase of the bit.
#[derive(Clone, Debug)]
pub struct StatisticalEye {
    step: f64,
    disturbance: Disturbance,
    mains: Vec<f64>,
    densities: Vec<Density>,
    /// Sums of the weights of each density up to each of them.
    sums: Vec<Vec<f64>>,
    /// Which of the kernels each phase has.
    which: Vec<usize>,
    kernels: Vec<Kernel>,
}

/// What lies over the other bits at one phase: noise, crosstalk, and what the grid left out.
#[derive(Clone, Debug)]
struct Kernel {
    /// How often they lie at or below `at - reach` steps.
    values: Vec<f64>,
    reach: usize,
    sigma: f64,
    most: f64,
}

impl StatisticalEye {
    /// The eye of a pulse on a grid of amplitudes with a step (a part of the launched difference, 1e-6 to 0.02).
    ///
    /// `tap` is taken off the cursor after the main one. Aggressors send bits of their own at any phase. None where the step
    /// is out of range, where the disturbance isn't finite, or where the cursors add up to ten times what was launched.
    #[must_use]
    pub fn new(pulse: &Pulse, tap: f64, aggressors: &[Pulse], disturbance: Disturbance, step: f64) -> Option<Self> {
        let Disturbance { noise, random, deterministic } = disturbance;
        let fit = (1e-6..=0.02).contains(&step)
            && (0.0..=1.0).contains(&noise)
            && (0.0..=0.25).contains(&random)
            && (0.0..=1.0).contains(&deterministic);
        let sound = |pulse: &Pulse| (0..pulse.phases()).all(|at| total(pulse, at) < MOST_INTERFERENCE);
        if !fit || !sound(pulse) || !aggressors.iter().all(sound) {
            return None;
        }
        let mut workshop = Workshop::default();
        let mut crosstalk = Density { first: 0, weights: vec![1.0] };
        let mut spare = Residue::default();
        for aggressor in aggressors {
            let (density, residue) = any_phase(aggressor, step, &mut workshop);
            spare.variance += residue.variance;
            spare.most += residue.most;
            crosstalk = convolved(&crosstalk, &density);
        }
        let phases = pulse.phases();
        let mut eye = StatisticalEye {
            step,
            disturbance,
            mains: Vec::with_capacity(phases),
            densities: Vec::with_capacity(phases),
            sums: Vec::with_capacity(phases),
            which: Vec::with_capacity(phases),
            kernels: Vec::new(),
        };
        for number in 0..phases {
            let phase = pulse.phase(number as isize);
            let others = fed_back(phase, tap).enumerate().filter(|(at, _)| *at != phase.main).map(|(_, cursor)| cursor);
            let (density, residue) = workshop.bits(others, step);
            let sigma = (noise * noise + (residue.variance + spare.variance).max(0.0)).sqrt();
            // without noise, nothing goes beyond the sum of what was left out
            let most = if noise > 0.0 { f64::INFINITY } else { residue.most + spare.most };
            let (sigma, most) = (sigma / step, most / step);
            // most phases differ by next to nothing: a kernel that is wider by less than 0.2 % will do
            let same = eye.kernels.iter().position(|kernel| kernel.covers(sigma, most));
            eye.which.push(same.unwrap_or(eye.kernels.len()));
            if same.is_none() {
                eye.kernels.push(Kernel::new(&crosstalk, if most.is_finite() { sigma } else { sigma * 1.001 }, most));
            }
            eye.mains.push(phase.height());
            eye.sums.push(running(&density.weights));
            eye.densities.push(density);
        }
        Some(eye)
    }

    /// How often a 1 is read as a 0 at each of [`StatisticalEye::instants`], by the middle of the eye as threshold.
    #[must_use]
    pub fn bathtub(&self) -> Vec<f64> {
        let phases = self.mains.len();
        let still: Vec<f64> = (0..phases).map(|at| self.below(at, 0.0).max(1e-300)).collect();
        let fine: Vec<f64> = (0..phases * FINER)
            .map(|at| {
                let (low, part) = (at / FINER, (at % FINER) as f64 / FINER as f64);
                let high = (low + 1).min(phases - 1);
                if part == 0.0 { still[low] } else { (still[low].ln() * (1.0 - part) + still[high].ln() * part).exp() }
            })
            .collect();
        let weights = self.disturbance.phases(phases * FINER, 0.0);
        // beyond the bit, the next one is read: wrong half the time
        let beyond = weights.iter().map(|(away, _)| away.unsigned_abs()).max().unwrap_or(0);
        let mut wide = vec![0.5; fine.len() + 2 * beyond];
        wide[beyond..beyond + fine.len()].copy_from_slice(&fine);
        let mut spread = vec![0.0; fine.len()];
        for (away, weight) in &weights {
            let from = (beyond as isize + away) as usize;
            for (sum, errors) in spread.iter_mut().zip(&wide[from..]) {
                *sum += weight * errors;
            }
        }
        spread.into_iter().map(|errors: f64| errors.min(1.0)).collect()
    }

    /// The instants of the bathtub in unit intervals from the middle of the pulse, -0.5 to 0.5.
    pub fn instants(&self) -> impl Iterator<Item = f64> + '_ {
        let count = self.mains.len() * FINER;
        (0..count).map(move |at| at as f64 / count as f64 - 0.5)
    }

    /// How long the eye is open at an error ratio in unit intervals, and the middle of that time as in
    /// [`StatisticalEye::instants`].
    ///
    /// Where it isn't open at all, the width is 0 and the instant that with the fewest errors.
    #[must_use]
    pub fn width(&self, ratio: f64) -> (f64, f64) {
        let wanted = ratio.max(1e-300).ln();
        let margins: Vec<f64> = self.bathtub().iter().map(|errors| wanted - errors.max(1e-300).ln()).collect();
        let best = (0..margins.len()).max_by(|a, b| margins[*a].total_cmp(&margins[*b]).then(b.cmp(a))).unwrap_or(0);
        let instant = |at: f64| at / margins.len().max(1) as f64 - 0.5;
        let width = open_around(&margins, best);
        if width <= 0.0 {
            return (0.0, instant(best as f64));
        }
        let first = margins[..best].iter().rposition(|margin| *margin <= 0.0).map_or(0, |at| at + 1);
        let last = margins[best..].iter().position(|margin| *margin <= 0.0).map_or(margins.len() - 1, |at| best + at - 1);
        (width, instant((first + last) as f64 / 2.0))
    }

    /// The height of the eye at an instant (as in [`StatisticalEye::instants`]) but for the given ratio of errors, as a part of
    /// the launched difference; negative where it is closed.
    #[must_use]
    pub fn height(&self, instant: f64, ratio: f64) -> f64 {
        let phases = self.mains.len() as isize;
        let middle = phases / 2;
        let weights: Vec<(usize, f64)> = self
            .disturbance
            .phases(self.mains.len(), instant)
            .into_iter()
            .filter(|(_, weight)| *weight > ratio * 1e-3)
            .map(|(at, weight)| ((at + middle).clamp(0, phases - 1) as usize, weight))
            .collect();
        let often = |value: f64| weights.iter().map(|(at, weight)| weight * self.below(*at, value)).sum::<f64>();
        let (mut low, mut high) = (-MOST_INTERFERENCE, MOST_INTERFERENCE);
        while high - low > self.step / 16.0 {
            let middle = 0.5 * (low + high);
            if often(middle) < ratio { low = middle } else { high = middle }
        }
        low + high
    }

    /// The contour of an error ratio: at each phase, the instant in unit intervals and the height there.
    #[must_use]
    pub fn contour(&self, ratio: f64) -> Vec<(f64, f64)> {
        let count = self.mains.len();
        (0..count).map(|at| at as f64 / count as f64 - 0.5).map(|instant| (instant, self.height(instant, ratio))).collect()
    }

    /// How often a 1 sampled at a phase lies at or below a value.
    fn below(&self, phase: usize, value: f64) -> f64 {
        let (Some(density), Some(sums)) = (self.densities.get(phase), self.sums.get(phase)) else { return 0.5 };
        let (Some(kernel), Some(main)) = (self.which.get(phase).and_then(|at| self.kernels.get(*at)), self.mains.get(phase))
        else {
            return 0.5;
        };
        let main = main / 2.0;
        // of a weight at bin i, as much as the kernel says at `place - i`
        let place = (value - main) / self.step;
        let floor = place.floor();
        let part = place - floor;
        let reach = kernel.reach as isize;
        let offset = floor as isize - density.first;
        // bins up to here count whole, and those after `last` not at all
        let whole = offset - reach;
        let last = (offset + reach + 1).min(density.weights.len() as isize - 1);
        let sure = if whole < 0 { 0.0 } else { sums[(whole as usize).min(sums.len() - 1)] };
        let first = (whole + 1).max(0);
        if first > last {
            return sure;
        }
        let mut unsure = 0.0;
        for (at, weight) in (first..).zip(&density.weights[first as usize..=last as usize]) {
            let row = offset - at + reach;
            // below its first row the kernel is 0
            let low = usize::try_from(row).map_or(0.0, |row| kernel.values[row]);
            let high = kernel.values[(row + 1) as usize];
            unsure += weight * (low + part * (high - low));
        }
        sure + unsure
    }
}

fn total(pulse: &Pulse, number: usize) -> f64 {
    pulse.phase(number as isize).cursors.iter().map(|cursor| cursor.abs()).sum()
}

fn running(weights: &[f64]) -> Vec<f64> {
    let mut sum = 0.0;
    let add = |weight: &f64| {
        sum += weight;
        sum
    };
    weights.iter().map(add).collect()
}

/// The density of an aggressor whose bits begin at any time: the mean of those of its phases.
fn any_phase(aggressor: &Pulse, step: f64, workshop: &mut Workshop) -> (Density, Residue) {
    let stride = (aggressor.phases() / 16).max(1);
    let numbers: Vec<usize> = (0..aggressor.phases()).step_by(stride).collect();
    let mut all = Vec::new();
    let mut most = Residue::default();
    for number in &numbers {
        let (density, residue) = workshop.bits(aggressor.phase(*number as isize).cursors.iter().copied(), step);
        most.variance = most.variance.max(residue.variance);
        all.push(density);
    }
    let first = all.iter().map(|density| density.first).min().unwrap_or(0);
    let length = all.iter().map(|density| (density.first - first) as usize + density.weights.len()).max().unwrap_or(1);
    let mut weights = vec![0.0; length];
    for density in &all {
        for (weight, more) in weights[(density.first - first) as usize..].iter_mut().zip(&density.weights) {
            *weight += more / numbers.len() as f64;
        }
    }
    (Density { first, weights }, most)
}

fn convolved(one: &Density, other: &Density) -> Density {
    let mut weights = vec![0.0; one.weights.len() + other.weights.len() - 1];
    for (at, share) in one.weights.iter().enumerate().filter(|(_, share)| **share > 0.0) {
        for (weight, more) in weights[at..].iter_mut().zip(&other.weights) {
            *weight += share * more;
        }
    }
    Density { first: one.first + other.first, weights }
}

impl Kernel {
    /// From crosstalk, and noise of `sigma` steps that never exceeds `most` steps.
    fn new(crosstalk: &Density, sigma: f64, most: f64) -> Self {
        let sigma = if sigma < 0.25 { 0.0 } else { sigma };
        let spread = (NOISE_REACH * sigma).min(most).ceil() as isize + 1;
        let last = crosstalk.first + crosstalk.weights.len() as isize - 1;
        let reach = (-crosstalk.first).max(last).max(0) + spread;
        let noise: Vec<f64> = (-spread..=spread)
            .map(|at| {
                if (at as f64) < -most {
                    0.0
                } else if at as f64 > most {
                    1.0
                } else {
                    gaussian_step(at as f64, sigma)
                }
            })
            .collect();
        let mut values = vec![0.0; 2 * reach as usize + 2];
        for (bin, share) in (crosstalk.first..).zip(&crosstalk.weights).filter(|(_, share)| **share > 0.0) {
            let from = (bin - spread + reach) as usize;
            for (value, step) in values[from..].iter_mut().zip(&noise) {
                *value += share * step;
            }
            for value in values.iter_mut().skip(from + noise.len()) {
                *value += share;
            }
        }
        Kernel { values, reach: reach as usize, sigma, most }
    }

    /// Whether it does for noise of `sigma` steps that never exceeds `most` steps.
    fn covers(&self, sigma: f64, most: f64) -> bool {
        most == self.most && sigma <= self.sigma && sigma >= self.sigma * 0.998
    }
}
