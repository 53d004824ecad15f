//! What one pair puts onto another: near-end and far-end crosstalk between the differential modes.

use num_complex::Complex64;
use schemars::JsonSchema;
use serde::Serialize;

use super::curve::{Curve, decibels};
use super::mixed::Pair;
use crate::signal::Network;

/// The ports of two pairs: P and N of the first and of the second at the near end, then the same at the far end.
const FIRST: [usize; 4] = [0, 1, 4, 5];
const SECOND: [usize; 4] = [2, 3, 6, 7];

/// Crosstalk between two pairs, as losses: the higher, the less one hears of the other. A coupling of nothing stands as 200 dB.
#[derive(Clone, Debug, Serialize, JsonSchema)]
#[non_exhaustive]
pub struct Crosstalk {
    /// NEXT at the near end: driven on the first pair, heard on the second, in dB.
    pub next_near: Curve,
    /// NEXT at the far end: driven on the first pair, heard on the second, in dB.
    pub next_far: Curve,
    /// FEXT from the near end of the first pair to the far end of the second, in dB.
    pub fext_first_to_second: Curve,
    /// FEXT from the near end of the second pair to the far end of the first, in dB.
    pub fext_second_to_first: Curve,
}

/// Two pairs of a network with eight ports: ports 1 and 2 are P and N of the first pair at the near end, 3 and 4 those of the
/// second, 5 to 8 the same at the far end.
///
/// The reference is as in [`Pair::new`]; None where there aren't eight ports, or where a pair isn't to be had.
#[must_use]
pub fn two_pairs(network: &Network, differential_ohm: Option<f64>) -> Option<([Pair; 2], Crosstalk)> {
    if network.ports() != 8 {
        return None;
    }
    let ohm = differential_ohm.unwrap_or(network.reference()[0] * 2.0);
    let seen = network.renormalised(&[ohm / 2.0; 8])?;
    let first = Pair::new(&seen.part(&FIRST)?, Some(ohm))?;
    let second = Pair::new(&seen.part(&SECOND)?, Some(ohm))?;
    let loss = |to: [usize; 2], from: [usize; 2], y_axis| {
        let coupling = differential(&seen, to, from).map(|value| -decibels(value.norm()));
        Curve::new("frequency, Hz", y_axis, seen.frequencies().to_vec(), coupling.collect())
    };
    let crosstalk = Crosstalk {
        next_near: loss([2, 3], [0, 1], "near-end crosstalk at the near end, dB"),
        next_far: loss([6, 7], [4, 5], "near-end crosstalk at the far end, dB"),
        fext_first_to_second: loss([6, 7], [0, 1], "far-end crosstalk, first pair to second, dB"),
        fext_second_to_first: loss([4, 5], [2, 3], "far-end crosstalk, second pair to first, dB"),
    };
    Some(([first, second], crosstalk))
}

/// The differential answer at one pair of ports to a differential wave at another.
pub(in crate::signal) fn differential(
    network: &Network,
    to: [usize; 2],
    from: [usize; 2],
) -> impl Iterator<Item = Complex64> + '_ {
    let rows = 0..network.frequencies().len();
    rows.map(move |row| {
        let (matrix, ports) = (network.matrix(row), network.ports());
        let cell = |to: usize, from: usize| matrix[to * ports + from];
        (cell(to[0], from[0]) - cell(to[0], from[1]) - cell(to[1], from[0]) + cell(to[1], from[1])) / 2.0
    })
}
