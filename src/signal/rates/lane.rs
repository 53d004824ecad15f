//! A lane of a cable, as its rates are judged from it.

use num_complex::Complex64;

use super::super::{DcPoint, Grid, Network, Pair, Spectrum, Term};
use crate::signal::pair::crosstalk::{differential, two_pairs};
use crate::signal::pair::curve::decibels;
use crate::signal::pair::phase::{Phase, median};

/// Above this loss in dB the phase of a lane isn't asked for its delay: noise turns it (common practice, no source).
const FAINT_DB: f64 = 30.0;

/// A lane of the cable: what goes through it, and what else is known of it.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub struct Lane {
    /// What it is called.
    pub name: String,
    /// The differential transfer from end to end.
    pub through: Spectrum,
    /// The differential reflection, where it was measured.
    pub reflection: Option<Spectrum>,
    /// What comes in from each other lane at the near end (of the signals that are sent there).
    pub near_end: Vec<Spectrum>,
    /// What comes in from each other lane at the far end (of the signals that travel along).
    pub far_end: Vec<Spectrum>,
}

impl Lane {
    /// The differential reflection, where it was measured.
    #[must_use]
    pub fn with_reflection(self, reflection: Spectrum) -> Self {
        Self { reflection: Some(reflection), ..self }
    }

    /// What comes in from one more lane at the near end (of the signals that are sent there).
    #[must_use]
    pub fn with_near_end(mut self, near_end: Spectrum) -> Self {
        self.near_end.push(near_end);
        self
    }

    /// What comes in from one more lane at the far end (of the signals that travel along).
    #[must_use]
    pub fn with_far_end(mut self, far_end: Spectrum) -> Self {
        self.far_end.push(far_end);
        self
    }

    /// A lane of which only the transfer is known.
    #[must_use]
    pub fn new(name: impl Into<String>, through: Spectrum) -> Self {
        Lane { name: name.into(), through, reflection: None, near_end: Vec::new(), far_end: Vec::new() }
    }

    /// The lane of a measured pair; `loop_ohm` is the resistance of both conductors in series at direct current, where it is
    /// known. None where the sweep has no two rows above 0 Hz.
    ///
    /// The lane stands upright, whichever conductor the file calls plus: a reversed pair is a matter of wiring.
    #[must_use]
    pub fn of_pair(name: impl Into<String>, pair: &Pair, loop_ohm: Option<f64>) -> Option<Self> {
        let at_zero = DcPoint::of(pair, loop_ohm)?;
        let frequencies = pair.frequencies();
        let grid = Grid::of(frequencies)?;
        let sign = 1_f64.copysign(at_zero.sdd21);
        let through: Vec<Complex64> = pair.term(Term::Sdd21).into_iter().map(|value| value * sign).collect();
        let through = grid.spectrum(frequencies, &through, at_zero.sdd21.abs())?;
        let reflection = grid.spectrum(frequencies, &pair.term(Term::Sdd11), at_zero.sdd11);
        Some(Lane { reflection, ..Lane::new(name, through) })
    }

    /// How long a signal is on its way, in seconds: the middle of the phase delay over the frequencies at which no more than 30 dB is
    /// lost. None with fewer than two such frequencies above 0 Hz.
    #[must_use]
    pub fn delay(&self) -> Option<f64> {
        let heard = self.through.rows().skip(1).take_while(|(_, value)| decibels(value.norm()) > -FAINT_DB);
        let (frequencies, values): (Vec<f64>, Vec<Complex64>) = heard.unzip();
        median(&mut Phase::of(&frequencies, &values)?.delay())
    }

    /// The lanes of a file: one of four ports, or two of eight with what each puts onto the other. The order of ports is that
    /// of [`Pair`] and of [`two_pairs`]; `differential_ohm` is the reference they are judged at.
    ///
    /// None where the network has another number of ports, or no pair can be made of it.
    #[must_use]
    pub fn of_network(name: &str, network: &Network, differential_ohm: Option<f64>, loop_ohm: Option<f64>) -> Option<Vec<Self>> {
        match network.ports() {
            4 => Some(vec![Lane::of_pair(name, &Pair::new(network, differential_ohm)?, loop_ohm)?]),
            8 => {
                let (pairs, _) = two_pairs(network, differential_ohm)?;
                let ohm = differential_ohm.unwrap_or(network.reference()[0] * 2.0);
                let seen = network.renormalised(&[ohm / 2.0; 8])?;
                let grid = Grid::of(seen.frequencies())?;
                let coupled = |to: [usize; 2], from: [usize; 2]| {
                    let values: Vec<Complex64> = differential(&seen, to, from).collect();
                    grid.spectrum(seen.frequencies(), &values, 0.0)
                };
                let [first, second] = &pairs;
                let mut first = Lane::of_pair(format!("{name} 1"), first, loop_ohm)?;
                let mut second = Lane::of_pair(format!("{name} 2"), second, loop_ohm)?;
                first.near_end.push(coupled([0, 1], [2, 3])?);
                first.far_end.push(coupled([4, 5], [2, 3])?);
                second.near_end.push(coupled([2, 3], [0, 1])?);
                second.far_end.push(coupled([6, 7], [0, 1])?);
                Some(vec![first, second])
            }
            _ => None,
        }
    }
}
