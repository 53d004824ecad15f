//! The same network seen from other reference resistances, or at some of its ports only.

use num_complex::Complex64;

use super::Network;
use super::matrix::{product, right_quotient};

impl Network {
    /// The same network with another reference resistance at each port, in ohm.
    ///
    /// For real references: S' = A⁻¹ (S − Γ)(1 − Γ S)⁻¹ A with Γ = (Z' − Z)/(Z' + Z) and A = √(1 − Γ²)/(1 − Γ), after
    /// Kurokawa, "Power waves and the scattering matrix", 1965. None where the count differs from the ports, where a reference
    /// isn't positive and finite, or where the network answers without bound at the new references (only an active one can).
    #[must_use]
    pub fn renormalised(&self, ohm: &[f64]) -> Option<Self> {
        let ports = self.ports();
        if ohm.len() != ports || !ohm.iter().all(|ohm| ohm.is_finite() && *ohm > 0.0) {
            return None;
        }
        if ohm == self.reference() {
            return Some(self.clone());
        }
        let gamma: Vec<f64> = ohm.iter().zip(self.reference()).map(|(new, old)| (new - old) / (new + old)).collect();
        let scale: Vec<f64> = gamma.iter().map(|gamma| (1.0 - gamma * gamma).sqrt() / (1.0 - gamma)).collect();
        let one = |at: usize| f64::from(u8::from(at / ports == at % ports));
        let mut scattering = Vec::with_capacity(self.frequencies().len() * ports * ports);
        for row in 0..self.frequencies().len() {
            let s = self.matrix(row);
            let above: Vec<Complex64> = s.iter().enumerate().map(|(at, value)| value - gamma[at / ports] * one(at)).collect();
            let below: Vec<Complex64> = s.iter().enumerate().map(|(at, value)| one(at) - value * gamma[at / ports]).collect();
            let quotient = right_quotient(ports, &above, &below)?;
            scattering.extend(quotient.iter().enumerate().map(|(at, value)| value * (scale[at % ports] / scale[at / ports])));
        }
        Network::new(self.frequencies().to_vec(), ohm.to_vec(), scattering)
    }

    /// What some of the ports make of each other while the rest are terminated in their references; in the order given.
    ///
    /// None where a port isn't there or is named twice.
    #[must_use]
    pub fn part(&self, ports: &[usize]) -> Option<Self> {
        let mut order = ports.to_vec();
        order.extend((0..self.ports()).filter(|port| !ports.contains(port)));
        let ordered = self.reordered(&order)?;
        let (all, some) = (self.ports(), ports.len());
        let scattering = (0..ordered.frequencies().len())
            .flat_map(|row| ordered.matrix(row).chunks(all).take(some).flat_map(|line| line[..some].to_vec()).collect::<Vec<_>>());
        Network::new(ordered.frequencies().to_vec(), ordered.reference()[..some].to_vec(), scattering.collect())
    }

    /// T S Tᵀ at each frequency, with a real orthogonal T of as many rows as ports, and the references that follow from it.
    pub(super) fn transformed(&self, matrix: &[Complex64], reference: Vec<f64>) -> Option<Self> {
        let ports = self.ports();
        let across: Vec<Complex64> = (0..ports * ports).map(|at| matrix[at % ports * ports + at / ports]).collect();
        let rows = 0..self.frequencies().len();
        let scattering = rows.flat_map(|row| product(ports, &product(ports, matrix, self.matrix(row)), &across));
        Network::new(self.frequencies().to_vec(), reference, scattering.collect())
    }
}
