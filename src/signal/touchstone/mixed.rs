//! Mixed-mode files: differential and common modes of pairs of ports, turned back into single ports.
//!
//! For a pair of ports i and j (specification 2.0, appendix A): the differential voltage is V(i) - V(j) and its current
//! (I(i) - I(j)) / 2; the common voltage is (V(i) + V(j)) / 2 and its current I(i) + I(j). Waves divide by the root of two.

use num_complex::Complex64;

use crate::signal::network::convert::Parameter;
use crate::signal::network::matrix::{product, transposed};

/// What a row of a matrix stands for; ports count from 0.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Mode {
    Single(usize),
    Differential(usize, usize),
    Common(usize, usize),
}

impl Mode {
    /// `S4`, `D2,3` or `C2,3`.
    pub(super) fn read(text: &str) -> Option<Mode> {
        let mut letters = text.chars();
        let kind = letters.next()?.to_ascii_lowercase();
        let port = |text: &str| text.parse::<usize>().ok()?.checked_sub(1);
        let rest = letters.as_str();
        if kind == 's' {
            return port(rest).map(Mode::Single);
        }
        let (one, two) = rest.split_once(',')?;
        let (one, two) = (port(one)?, port(two)?);
        match kind {
            'd' if one != two => Some(Mode::Differential(one, two)),
            'c' if one != two => Some(Mode::Common(one, two)),
            _ => None,
        }
    }
}

/// What is wrong with an order of modes; none where every port stands once, alone or in the two modes of one pair whose
/// ports have the same reference.
pub(super) fn fault(modes: &[Mode], reference: &[f64]) -> Option<&'static str> {
    let ports = reference.len();
    let mut alone = vec![0; ports];
    let mut differential = vec![None; ports];
    let mut common = vec![None; ports];
    for mode in modes {
        let (slot, one, two) = match *mode {
            Mode::Single(port) if port < ports => {
                alone[port] += 1;
                continue;
            }
            Mode::Differential(one, two) if one < ports && two < ports => (&mut differential, one, two),
            Mode::Common(one, two) if one < ports && two < ports => (&mut common, one, two),
            _ => return Some("it names a port that the file hasn't got"),
        };
        if slot[one].replace(two).is_some() || slot[two].replace(one).is_some() {
            return Some("a port stands in two pairs");
        }
    }
    for port in 0..ports {
        match (alone[port], differential[port], common[port]) {
            (1, None, None) => {}
            (0, Some(one), Some(other)) if one == other => {
                if reference[port] != reference[one] {
                    return Some("the two ports of a pair have different references");
                }
            }
            _ => return Some("each port stands once alone (S), or once in a D and once in the C of the same two ports"),
        }
    }
    None
}

/// The matrix between single ports, of one between modes.
pub(super) fn single_ended(matrix: &[Complex64], modes: &[Mode], parameter: Parameter) -> Vec<Complex64> {
    // single = left x modal x transposed(left), where left turns what is driven into what is driven at the ports
    let (differential, common) = match parameter {
        // voltages of the ports from those of the modes: V = Vc + Vd/2 and Vc - Vd/2
        Parameter::Z => (0.5, 1.0),
        // currents: I = Ic/2 + Id and Ic/2 - Id
        Parameter::Y => (1.0, 0.5),
        _ => (std::f64::consts::FRAC_1_SQRT_2, std::f64::consts::FRAC_1_SQRT_2),
    };
    let ports = modes.len();
    let mut left = vec![Complex64::ZERO; ports * ports];
    for (row, mode) in modes.iter().enumerate() {
        let mut set = |port: usize, value: f64| left[port * ports + row] = value.into();
        match *mode {
            Mode::Single(port) => set(port, 1.0),
            Mode::Differential(one, two) => {
                set(one, differential);
                set(two, -differential);
            }
            Mode::Common(one, two) => {
                set(one, common);
                set(two, common);
            }
        }
    }
    product(&product(&left, matrix, ports), &transposed(&left, ports), ports)
}
