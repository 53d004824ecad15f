//! Files and lines to try the analysis on. Takes nothing from the program but its types.

use std::f64::consts::TAU;

use backshell::signal::{Complex64, Network};

pub const LIGHT: f64 = 299_792_458.0;

/// A file of four ports in megahertz, real and imaginary parts at 50 ohm, as all of `tests/signal` are.
pub fn file(name: &str) -> Network {
    let text = std::fs::read_to_string(format!("tests/signal/{name}.s4p")).unwrap();
    assert!(text.contains("# MHz S RI R 50"), "{name}");
    let lines = text.lines().filter(|line| !line.starts_with(['!', '#']));
    let figures: Vec<f64> = lines.flat_map(str::split_whitespace).map(|word| word.parse().unwrap()).collect();
    let rows = figures.chunks_exact(33);
    assert!(rows.remainder().is_empty());
    let frequencies = rows.clone().map(|row| row[0] * 1e6).collect();
    let scattering = rows.flat_map(|row| row[1..].chunks_exact(2).map(|two| Complex64::new(two[0], two[1]))).collect();
    Network::new(frequencies, vec![50.0; 4], scattering).unwrap()
}

/// The same with its ports near P, near N, far P, far N.
pub fn sequential(name: &str) -> Network {
    let network = file(name);
    if name == "pair_a_uncoupled" { network.reordered(&[0, 2, 1, 3]).unwrap() } else { network }
}

/// A chain matrix [A, B, C, D] at one frequency.
type Chain = [Complex64; 4];

pub fn then(a: Chain, b: Chain) -> Chain {
    [a[0] * b[0] + a[1] * b[2], a[0] * b[1] + a[1] * b[3], a[2] * b[0] + a[3] * b[2], a[2] * b[1] + a[3] * b[3]]
}

/// A series resistance in ohm.
pub fn series(ohm: f64) -> Chain {
    [1.0.into(), ohm.into(), 0.0.into(), 1.0.into()]
}

/// A uniform line: what it is made of a metre.
#[derive(Clone, Copy, Debug)]
pub struct Line {
    /// Impedance in ohm without its losses.
    pub ohm: f64,
    /// Velocity factor.
    pub factor: f64,
    /// DC resistance in ohm/m.
    pub resistance: f64,
    /// Resistance of the skin effect at 5 GHz in ohm/m.
    pub skin: f64,
    /// Loss tangent.
    pub tangent: f64,
    /// Metres.
    pub length: f64,
}

impl Line {
    pub fn lossless(ohm: f64, factor: f64, length: f64) -> Self {
        Line { ohm, factor, resistance: 0.0, skin: 0.0, tangent: 0.0, length }
    }

    /// Its chain matrix at a frequency, causal: skin effect goes with √s, and the permittivity is that of a dielectric whose
    /// relaxations are spread evenly from 10⁴ to 10¹³ rad/s (Djordjevic and others, "Wideband frequency-domain
    /// characterization of FR-4 and time-domain causality", 2001), with the given impedance, velocity and loss tangent at 5 GHz.
    pub fn chain(&self, hertz: f64) -> Chain {
        let Line { ohm, resistance, skin, tangent, length, .. } = *self;
        let velocity = self.factor * LIGHT;
        let s = Complex64::new(0.0, TAU * hertz);
        if hertz == 0.0 {
            return series(resistance * length);
        }
        let surface = Complex64::new(1.0, 1.0) * (skin * (hertz / 5e9).sqrt());
        let along = s * (ohm / velocity) + (surface * surface + resistance * resistance).sqrt();
        let spread = |hertz: f64| (Complex64::new(1e13, TAU * hertz) / Complex64::new(1e4, TAU * hertz)).ln();
        let middle = spread(5e9);
        let permittivity = (spread(hertz) - middle.re) * (tangent / -middle.im) + 1.0;
        let across = s * permittivity / (ohm * velocity);
        let (gamma, own) = ((along * across).sqrt() * length, (along / across).sqrt());
        [gamma.cosh(), own * gamma.sinh(), gamma.sinh() / own, gamma.cosh()]
    }
}

/// The scattering matrix of a chain at 50 ohm: S11, S12, S21, S22.
fn scattering([a, b, c, d]: Chain) -> [Complex64; 4] {
    let (b, c) = (b / 50.0, c * 50.0);
    let all = a + b + c + d;
    [(a + b - c - d) / all, (a * d - b * c) * 2.0 / all, Complex64::from(2.0) / all, (d + b - a - c) / all]
}

/// Two lines that don't couple, P and N.
pub fn uncoupled(frequencies: &[f64], p: impl Fn(f64) -> Chain, n: impl Fn(f64) -> Chain) -> Network {
    let matrices = frequencies.iter().flat_map(|hertz| {
        let (p, n) = (scattering(p(*hertz)), scattering(n(*hertz)));
        let o = Complex64::ZERO;
        [p[0], o, p[1], o, o, n[0], o, n[1], p[2], o, p[3], o, o, n[2], o, n[3]]
    });
    Network::new(frequencies.to_vec(), vec![50.0; 4], matrices.collect()).unwrap()
}

/// Two like lines that couple, by their odd and even modes, with a matched delay in seconds before the far port of N.
pub fn coupled(frequencies: &[f64], odd: impl Fn(f64) -> Chain, even: impl Fn(f64) -> Chain, late: f64) -> Network {
    let matrices = frequencies.iter().flat_map(|hertz| {
        let (odd, even) = (scattering(odd(*hertz)), scattering(even(*hertz)));
        let turn = Complex64::cis(-TAU * hertz * late);
        (0..16).map(move |at| {
            let (to, from) = (at / 4, at % 4);
            let mode = to / 2 * 2 + from / 2;
            let sign = if to % 2 == from % 2 { 1.0 } else { -1.0 };
            let value = (even[mode] + odd[mode] * sign) / 2.0;
            let turns = u8::from(to == 3) + u8::from(from == 3);
            value * turn.powu(u32::from(turns))
        })
    });
    Network::new(frequencies.to_vec(), vec![50.0; 4], matrices.collect()).unwrap()
}

/// `rows` frequencies from one step up.
pub fn steps(step: f64, rows: u32) -> Vec<f64> {
    (1..=rows).map(|at| f64::from(at) * step).collect()
}

/// The step response by the sum itself, term by term; begins at `begin`.
pub fn exact_step(frequencies: &[f64], values: &[Complex64], at_zero: f64, rise: f64, begin: f64, time: f64) -> f64 {
    let step = frequencies.iter().copied().find(|hertz| *hertz > 0.0).unwrap();
    let sigma = rise / (2.0 * 1.281_551_565_544_600_4);
    let terms = frequencies.iter().zip(values).filter(|(hertz, _)| **hertz > 0.0).map(|(hertz, value)| {
        let omega = TAU * hertz;
        let share = value * (-0.5 * (omega * sigma).powi(2)).exp() / Complex64::new(0.0, omega);
        2.0 * (share * (Complex64::cis(omega * time) - Complex64::cis(omega * begin))).re
    });
    step * (terms.sum::<f64>() + at_zero * (time - begin))
}
