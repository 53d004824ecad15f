//! Scattering parameters over frequency.

pub(in crate::signal) mod convert;
pub(in crate::signal) mod matrix;
pub(in crate::signal) mod order;
pub(in crate::signal) mod part;
pub(in crate::signal) mod singular;

use num_complex::Complex64;

/// The scattering matrix of a network at each of its frequencies.
///
/// Ports count from 0 here; people and Touchstone files count them from 1.
#[derive(Clone, Debug, PartialEq)]
pub struct Network {
    frequencies: Vec<f64>,
    reference: Vec<f64>,
    scattering: Vec<Complex64>,
}

impl Network {
    /// A network from its frequencies in Hz, the reference resistance of each port in ohm, and one matrix a frequency,
    /// row by row. None where the counts don't agree, where a figure isn't finite, where the frequencies don't rise, or
    /// where a reference isn't positive.
    #[must_use]
    pub fn new(frequencies: Vec<f64>, reference: Vec<f64>, scattering: Vec<Complex64>) -> Option<Self> {
        let cells = reference.len().checked_mul(reference.len())?.checked_mul(frequencies.len())?;
        let rises = frequencies.windows(2).all(|two| two[0] < two[1]);
        let fit = !reference.is_empty()
            && cells == scattering.len()
            && rises
            && frequencies.iter().all(|hertz| hertz.is_finite() && *hertz >= 0.0)
            && reference.iter().all(|ohm| ohm.is_finite() && *ohm > 0.0)
            && scattering.iter().all(|value| value.is_finite());
        fit.then_some(Network { frequencies, reference, scattering })
    }

    /// How many ports it has.
    #[must_use]
    pub fn ports(&self) -> usize {
        self.reference.len()
    }

    /// The frequencies in Hz, rising.
    #[must_use]
    pub fn frequencies(&self) -> &[f64] {
        &self.frequencies
    }

    /// The reference resistance of each port in ohm.
    #[must_use]
    pub fn reference(&self) -> &[f64] {
        &self.reference
    }

    /// The matrix at one frequency, row by row; empty past the last frequency.
    #[must_use]
    pub fn matrix(&self, row: usize) -> &[Complex64] {
        let cells = self.ports() * self.ports();
        self.scattering.get(row * cells..(row + 1) * cells).unwrap_or_default()
    }

    /// What leaves port `to` of what enters at port `from`, at each frequency.
    ///
    /// Empty where there is no such port.
    pub fn sweep(&self, to: usize, from: usize) -> impl Iterator<Item = Complex64> + '_ {
        let ports = self.ports();
        let there = to < ports && from < ports;
        self.scattering.chunks_exact(ports * ports).filter(move |_| there).map(move |matrix| matrix[to * ports + from])
    }

    /// The same network with its ports in another order: port `i` of the result is port `order[i]` of this one.
    ///
    /// None where the order doesn't name every port once.
    #[must_use]
    pub fn reordered(&self, order: &[usize]) -> Option<Self> {
        let ports = self.ports();
        let mut seen = vec![false; ports];
        for port in order {
            *seen.get_mut(*port).filter(|seen| !**seen)? = true;
        }
        if order.len() != ports {
            return None;
        }
        let matrices = self.scattering.chunks_exact(ports * ports);
        let scattering =
            matrices.flat_map(|matrix| order.iter().flat_map(move |to| order.iter().map(move |from| matrix[to * ports + from])));
        Some(Network {
            frequencies: self.frequencies.clone(),
            reference: order.iter().map(|port| self.reference[*port]).collect(),
            scattering: scattering.collect(),
        })
    }
}
