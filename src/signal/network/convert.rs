//! Scattering from impedance, admittance and hybrid parameters, and from one reference to another.
//!
//! References are real, so that power waves and travelling waves are the same (K. Kurokawa, "Power Waves and the
//! Scattering Matrix", IEEE Trans. MTT-13, 1965). With `v = V / sqrt(R)` and `i = I sqrt(R)` at each port, what enters is
//! `(v + i) / 2` and what leaves `(v - i) / 2`; every formula here follows from that.

use num_complex::Complex64;

use super::Network;
use super::matrix::{less_diagonal, solve, solve_right};

/// What kind of matrix a file holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[expect(clippy::exhaustive_enums, reason = "Touchstone has these five kinds")]
pub enum Parameter {
    /// Scattering.
    S,
    /// Admittance, in siemens.
    Y,
    /// Impedance, in ohm.
    Z,
    /// Inverse hybrid, two ports only: `I1, V2` from `V1, I2`.
    G,
    /// Hybrid, two ports only: `V1, I2` from `I1, V2`.
    H,
}

impl Parameter {
    /// Its letter.
    #[must_use]
    pub fn letter(self) -> char {
        match self {
            Parameter::S => 'S',
            Parameter::Y => 'Y',
            Parameter::Z => 'Z',
            Parameter::G => 'G',
            Parameter::H => 'H',
        }
    }
}

/// The scattering matrix of one that is in siemens, in ohm or hybrid, at the references in ohm.
///
/// None where there is no such matrix: a wave leaves that no wave entered for.
pub(in crate::signal) fn scattering(of: Parameter, matrix: &[Complex64], reference: &[f64]) -> Option<Vec<Complex64>> {
    let size = reference.len();
    match of {
        Parameter::S => Some(matrix.to_vec()),
        Parameter::Z => {
            let z = scaled(matrix, reference, |row, column| 1.0 / (row * column).sqrt());
            solve(less_diagonal(&z, size, -1.0), less_diagonal(&z, size, 1.0), size)
        }
        Parameter::Y => {
            let y = scaled(matrix, reference, |row, column| -(row * column).sqrt());
            // with the sign turned: (1 + y) s = 1 - y
            let minus: Vec<Complex64> = y.iter().map(|value| -value).collect();
            solve(less_diagonal(&minus, size, -1.0), less_diagonal(&y, size, -1.0), size)
        }
        Parameter::H => hybrid(matrix, reference),
        Parameter::G => {
            // the same as a hybrid matrix, with the ports exchanged
            let turned: Vec<Complex64> = matrix.iter().rev().copied().collect();
            let back: Vec<f64> = reference.iter().rev().copied().collect();
            hybrid(&turned, &back).map(|s| s.into_iter().rev().collect())
        }
    }
}

fn scaled(matrix: &[Complex64], reference: &[f64], by: impl Fn(f64, f64) -> f64) -> Vec<Complex64> {
    let size = reference.len();
    matrix.iter().enumerate().map(|(at, value)| value * by(reference[at / size], reference[at % size])).collect()
}

fn hybrid(h: &[Complex64], reference: &[f64]) -> Option<Vec<Complex64>> {
    let [h11, h12, h21, h22] = *h else { return None };
    let [one, two] = *reference else { return None };
    let across = (two / one).sqrt();
    let (h11, h12, h21, h22) = (h11 / one, h12 * across, h21 * across, h22 * two);
    solve(vec![h11 + 1.0, -h12, h21, -(h22 + 1.0)], vec![h11 - 1.0, h12, h21, h22 - 1.0], 2)
}

impl Network {
    /// The same network at other references, in ohm.
    ///
    /// None where the count isn't that of the ports, where one isn't above zero, or where there is no such matrix.
    #[must_use]
    pub fn renormalised(&self, to: &[f64]) -> Option<Self> {
        let size = self.ports();
        if to.len() != size || to.iter().any(|ohm| !ohm.is_finite() || *ohm <= 0.0) {
            return None;
        }
        if to == self.reference() {
            return Some(self.clone());
        }
        let pairs = || self.reference().iter().zip(to);
        let mismatch: Vec<f64> = pairs().map(|(from, to)| (to - from) / (to + from)).collect();
        let factor: Vec<f64> = pairs().map(|(from, to)| (from + to) / (2.0 * (from.sqrt() * to.sqrt()))).collect();
        let mut scattering = Vec::with_capacity(self.frequencies().len() * size * size);
        for row in 0..self.frequencies().len() {
            let s = self.matrix(row);
            let mut above = s.to_vec();
            let mut below: Vec<Complex64> = s.iter().enumerate().map(|(at, value)| -value * mismatch[at / size]).collect();
            for port in 0..size {
                above[port * size + port] -= mismatch[port];
                below[port * size + port] += 1.0;
            }
            let x = solve_right(&below, &above, size)?;
            scattering.extend(x.iter().enumerate().map(|(at, value)| value * (factor[at / size] / factor[at % size])));
        }
        Network::new(self.frequencies().to_vec(), to.to_vec(), scattering)
    }
}
