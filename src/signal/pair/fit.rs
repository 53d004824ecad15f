//! A smooth curve through a loss, which tells copper from dielectric and from ripple.

use schemars::JsonSchema;
use serde::Serialize;

use super::quality::hertz;
use crate::signal::Curve;

/// The powers of frequency that a loss is made of.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum Form {
    /// b √f + c f: skin effect and dielectric.
    TwoTerm,
    /// a + b √f + c f: with a constant, for contacts and steps of impedance.
    ThreeTerm,
    /// a + b √f + c f + d f√f: the fit of USB 3.1 revision 1.0, 5.6.1.3.2.3.
    FourTerm,
}

impl Form {
    /// The powers of frequency, in the order of the coefficients.
    #[must_use]
    pub fn powers(self) -> &'static [f64] {
        match self {
            Form::TwoTerm => &[0.5, 1.0],
            Form::ThreeTerm => &[0.0, 0.5, 1.0],
            Form::FourTerm => &[0.0, 0.5, 1.0, 1.5],
        }
    }
}

/// The curve of a form that comes closest to a loss in the least-squares sense.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[non_exhaustive]
pub struct LossFit {
    /// The form fitted.
    pub form: Form,
    /// The constant a, in dB; 0 where the form has none.
    pub constant_db: f64,
    /// b, in dB per √GHz: the share of the skin effect.
    pub root_db_per_sqrt_ghz: f64,
    /// c, in dB per GHz: the share of the dielectric.
    pub linear_db_per_ghz: f64,
    /// d, in dB per GHz^1.5; 0 where the form has none.
    pub steep_db_per_ghz_1_5: f64,
    /// The lowest and highest frequency that took part, in Hz.
    pub band_hz: [f64; 2],
    /// How many frequencies took part.
    pub rows: usize,
    /// The root mean square of what is left of the loss, in dB.
    pub residual_rms_db: f64,
    /// The largest deviation from the curve (insertion loss deviation), in dB.
    pub residual_largest_db: f64,
    /// Where it is, in Hz.
    pub residual_largest_hz: f64,
}

impl LossFit {
    /// Fits a loss in dB over frequency in Hz, taking the rows from one frequency to another, in Hz.
    ///
    /// None with fewer than three rows a coefficient, which would follow the ripple, or where the rows don't settle them.
    #[must_use]
    pub fn of(loss: &Curve, form: Form, band_hz: [f64; 2]) -> Option<Self> {
        let part = loss.between(band_hz[0], band_hz[1]);
        let powers = form.powers();
        if part.x.len() < 3 * powers.len() {
            return None;
        }
        // columns scaled by the highest frequency keep the four of them apart in rounding
        let top = *part.x.last()?;
        let columns = powers.iter().map(|power| part.x.iter().map(|hertz| (hertz / top).powf(*power)).collect()).collect();
        let scaled = least_squares(columns, part.y.clone())?;
        let mut fit = LossFit {
            form,
            constant_db: 0.0,
            root_db_per_sqrt_ghz: 0.0,
            linear_db_per_ghz: 0.0,
            steep_db_per_ghz_1_5: 0.0,
            band_hz: [*part.x.first()?, top],
            rows: part.x.len(),
            residual_rms_db: 0.0,
            residual_largest_db: 0.0,
            residual_largest_hz: 0.0,
        };
        for (power, value) in powers.iter().zip(scaled) {
            let value = value / (top / 1e9).powf(*power);
            match *power {
                0.0 => fit.constant_db = value,
                0.5 => fit.root_db_per_sqrt_ghz = value,
                1.0 => fit.linear_db_per_ghz = value,
                _ => fit.steep_db_per_ghz_1_5 = value,
            }
        }
        let mut squares = 0.0;
        for (hertz, loss) in part.points() {
            let residual = loss - fit.at(hertz);
            squares += residual * residual;
            if residual.abs() > fit.residual_largest_db {
                (fit.residual_largest_db, fit.residual_largest_hz) = (residual.abs(), hertz);
            }
        }
        fit.residual_rms_db = (squares / part.x.len() as f64).sqrt();
        fit.root_db_per_sqrt_ghz.is_finite().then_some(fit)
    }

    /// The loss of the curve at a frequency in Hz, in dB.
    #[must_use]
    pub fn at(&self, hertz: f64) -> f64 {
        let ghz = hertz / 1e9;
        let root = ghz.sqrt();
        self.constant_db
            + root * self.root_db_per_sqrt_ghz
            + ghz * self.linear_db_per_ghz
            + ghz * root * self.steep_db_per_ghz_1_5
    }

    /// The curve at the frequencies of a loss.
    #[must_use]
    pub fn curve(&self, loss: &Curve) -> Curve {
        let part = loss.between(self.band_hz[0], self.band_hz[1]);
        let y = part.x.iter().map(|hertz| self.at(*hertz)).collect();
        Curve { y, ..part }
    }

    /// What to be wary of, in words.
    #[must_use]
    pub fn cautions(&self) -> Vec<String> {
        let mut cautions = Vec::new();
        // a share counts as below zero where it takes more than rounding and ripple from the loss at the top of the band
        let ghz = self.band_hz[1] / 1e9;
        let (root, linear) = (self.root_db_per_sqrt_ghz * ghz.sqrt(), self.linear_db_per_ghz * ghz);
        let least = -(2.0 * self.residual_rms_db).max(0.01);
        if self.form != Form::FourTerm && root < least {
            cautions.push(format!(
                "The share of the loss that goes with the root of frequency comes out below zero ({:.3} dB per root GHz). Copper \
                 can't gain, so something else falls off with frequency: skew within the pair does, and so does a notch. Don't \
                 read this fit as copper and dielectric.",
                self.root_db_per_sqrt_ghz
            ));
        }
        if self.form != Form::FourTerm && linear < least {
            cautions.push(format!(
                "The share of the loss that goes with frequency itself comes out below zero ({:.3} dB per GHz). A dielectric can't \
                 gain; the fit splits the loss wrongly, and only its sum is to be used.",
                self.linear_db_per_ghz
            ));
        }
        if self.residual_largest_db > 1.0 {
            cautions.push(format!(
                "The loss strays from its smooth curve by {:.2} dB at {}: reflections between two places, or a resonance.",
                self.residual_largest_db,
                hertz(self.residual_largest_hz)
            ));
        }
        cautions
    }
}

/// The factors of some columns whose sum comes closest to a target, by orthogonalising the columns one after another
/// (modified Gram and Schmidt, twice for rounding). None where a column adds nothing to those before it.
pub(in crate::signal) fn least_squares(mut columns: Vec<Vec<f64>>, mut target: Vec<f64>) -> Option<Vec<f64>> {
    let count = columns.len();
    let mut upper = vec![vec![0.0; count]; count];
    let mut along = vec![0.0; count];
    for at in 0..count {
        let whole = dot(&columns[at], &columns[at]).sqrt();
        for _ in 0..2 {
            for before in 0..at {
                let (done, rest) = columns.split_at_mut(at);
                let share = dot(&done[before], &rest[0]);
                upper[before][at] += share;
                subtract(&mut rest[0], &done[before], share);
            }
        }
        let length = dot(&columns[at], &columns[at]).sqrt();
        if !(length.is_finite() && length > 1e-12 * whole) {
            return None;
        }
        columns[at].iter_mut().for_each(|value| *value /= length);
        upper[at][at] = length;
        along[at] = dot(&columns[at], &target);
        subtract(&mut target, &columns[at], along[at]);
    }
    let mut factors = vec![0.0; count];
    for at in (0..count).rev() {
        let later: f64 = (at + 1..count).map(|after| upper[at][after] * factors[after]).sum();
        factors[at] = (along[at] - later) / upper[at][at];
    }
    factors.iter().all(|factor| factor.is_finite()).then_some(factors)
}

fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

fn subtract(from: &mut [f64], what: &[f64], times: f64) {
    from.iter_mut().zip(what).for_each(|(from, what)| *from -= times * what);
}
