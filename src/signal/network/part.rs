//! A network at some of its ports only, or in other waves.

use num_complex::Complex64;

use super::matrix::{product, transposed};
use crate::signal::Network;

impl Network {
    /// What some of the ports make of each other while the rest are terminated in their references; in the order given.
    ///
    /// None where a port isn't there or is named twice.
    #[must_use]
    pub fn part(&self, ports: &[usize]) -> Option<Self> {
        let mut order = ports.to_vec();
        order.extend((0..self.ports()).filter(|port| !ports.contains(port)));
        let ordered = self.reordered(&order)?;
        let (all, some) = (self.ports(), ports.len());
        let scattering = (0..ordered.frequencies().len()).flat_map(|row| {
            ordered.matrix(row).chunks(all).take(some).flat_map(|line| line[..some].to_vec()).collect::<Vec<_>>()
        });
        Network::new(ordered.frequencies().to_vec(), ordered.reference()[..some].to_vec(), scattering.collect())
    }

    /// T S Tᵀ at each frequency, with a real orthogonal T of as many rows as ports, and the references that follow from it.
    pub(in crate::signal) fn transformed(&self, matrix: &[Complex64], reference: Vec<f64>) -> Option<Self> {
        let ports = self.ports();
        let across = transposed(matrix, ports);
        let rows = 0..self.frequencies().len();
        let scattering = rows.flat_map(|row| product(&product(matrix, self.matrix(row), ports), &across, ports));
        Network::new(self.frequencies().to_vec(), reference, scattering.collect())
    }
}
