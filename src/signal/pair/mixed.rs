//! A balanced pair in its two modes: the difference of its conductors and what they have in common.
//!
//! Bockelman and Eisenstadt, "Combined differential and common-mode scattering parameters", IEEE Transactions on Microwave
//! Theory and Techniques, 1995: with ports 1 (P) and 2 (N) at the near end, 3 (P) and 4 (N) at the far end,
//! S_mixed = M S Mᵀ, M = 1/√2 [[1, −1, 0, 0], [0, 0, 1, −1], [1, 1, 0, 0], [0, 0, 1, 1]].

use num_complex::Complex64;

use super::curve::{Curve, decibels};
use crate::signal::Network;

/// One term of the mixed-mode matrix: the mode and end (1 near, 2 far) that answers, and the one that is driven.
///
/// `d` is the differential, `c` the common mode; the first of the two letters and figures answers, the second is driven.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
#[expect(clippy::exhaustive_enums, reason = "two modes at two ends make sixteen terms")]
pub enum Term {
    /// Reflection of the differential mode at the near end.
    Sdd11,
    /// Transmission of the differential mode from the far end to the near end.
    Sdd12,
    /// Transmission of the differential mode from the near end to the far end.
    Sdd21,
    /// Reflection of the differential mode at the far end.
    Sdd22,
    /// Reflection at the near end that turns the common mode into the differential mode.
    Sdc11,
    /// Transmission from the far end to the near end that turns the common mode into the differential mode.
    Sdc12,
    /// Transmission from the near end to the far end that turns the common mode into the differential mode.
    Sdc21,
    /// Reflection at the far end that turns the common mode into the differential mode.
    Sdc22,
    /// Reflection at the near end that turns the differential mode into the common mode.
    Scd11,
    /// Transmission from the far end to the near end that turns the differential mode into the common mode.
    Scd12,
    /// Transmission from the near end to the far end that turns the differential mode into the common mode.
    Scd21,
    /// Reflection at the far end that turns the differential mode into the common mode.
    Scd22,
    /// Reflection of the common mode at the near end.
    Scc11,
    /// Transmission of the common mode from the far end to the near end.
    Scc12,
    /// Transmission of the common mode from the near end to the far end.
    Scc21,
    /// Reflection of the common mode at the far end.
    Scc22,
}

impl Term {
    /// Row and column in the mixed-mode matrix, whose order is near differential, far differential, near common, far common.
    fn cell(self) -> (usize, usize) {
        let at = self as usize;
        let (modes, ends) = (at / 4, at % 4);
        (modes / 2 * 2 + ends / 2, modes % 2 * 2 + ends % 2)
    }
}

/// A balanced pair over frequency.
#[derive(Clone, Debug, PartialEq)]
pub struct Pair {
    modes: Network,
}

impl Pair {
    /// A pair from a network with ports 1 and 2 at P and N of its near end, 3 and 4 at P and N of its far end.
    ///
    /// `differential_ohm` is the differential reference to see it from; without it, it's twice what the first port has. The
    /// common-mode reference is always a quarter of it. None where there aren't four ports, where the reference isn't
    /// positive, or where the network can't be seen from it (see [`Network::renormalised`]).
    #[must_use]
    pub fn new(network: &Network, differential_ohm: Option<f64>) -> Option<Self> {
        if network.ports() != 4 {
            return None;
        }
        let ohm = differential_ohm.unwrap_or(network.reference()[0] * 2.0);
        let seen = network.renormalised(&[ohm / 2.0; 4])?;
        let h = std::f64::consts::FRAC_1_SQRT_2;
        let m = [h, -h, 0.0, 0.0, 0.0, 0.0, h, -h, h, h, 0.0, 0.0, 0.0, 0.0, h, h].map(Complex64::from);
        Some(Pair { modes: seen.transformed(&m, vec![ohm, ohm, ohm / 4.0, ohm / 4.0])? })
    }

    /// The frequencies in Hz, rising.
    #[must_use]
    pub fn frequencies(&self) -> &[f64] {
        self.modes.frequencies()
    }

    /// The differential reference in ohm.
    #[must_use]
    pub fn differential_ohm(&self) -> f64 {
        self.modes.reference()[0]
    }

    /// The common-mode reference in ohm, a quarter of the differential one.
    #[must_use]
    pub fn common_ohm(&self) -> f64 {
        self.modes.reference()[2]
    }

    /// A term at each frequency.
    #[must_use]
    pub fn term(&self, term: Term) -> Vec<Complex64> {
        let (to, from) = term.cell();
        self.modes.sweep(to, from).collect()
    }

    /// 20 lg of the magnitude of a term at each frequency, in dB: below zero where something is lost.
    #[must_use]
    pub fn decibels(&self, term: Term) -> Vec<f64> {
        let (to, from) = term.cell();
        self.modes.sweep(to, from).map(|value| decibels(value.norm())).collect()
    }

    /// A term in dB over frequency, as a curve.
    #[must_use]
    pub fn curve(&self, term: Term, y_axis: &'static str) -> Curve {
        Curve::new("frequency, Hz", y_axis, self.frequencies().to_vec(), self.decibels(term))
    }

    /// A loss in dB over frequency, as a curve: −20 lg of the magnitude of a term, positive where something is lost.
    #[must_use]
    pub fn loss(&self, term: Term, y_axis: &'static str) -> Curve {
        let loss = self.decibels(term).into_iter().map(|decibels| -decibels).collect();
        Curve::new("frequency, Hz", y_axis, self.frequencies().to_vec(), loss)
    }

    /// What conductor P delivers at the far end under differential drive at the near end, S31 − S32; and conductor N,
    /// S42 − S41. Both are what a lone differential wave would give where the conductors are alike.
    #[must_use]
    pub fn conductors(&self) -> (Vec<Complex64>, Vec<Complex64>) {
        let (both, common) = (self.term(Term::Sdd21), self.term(Term::Scd21));
        both.iter().zip(&common).map(|(d, c)| (d + c, d - c)).unzip()
    }

    /// The differential terms alone, as a network of two ports.
    #[must_use]
    pub fn differential(&self) -> Option<Network> {
        self.modes.part(&[0, 1])
    }

    /// The common-mode terms alone, as a network of two ports.
    #[must_use]
    pub fn common(&self) -> Option<Network> {
        self.modes.part(&[2, 3])
    }
}
