//! Pairs of conductors as chains of sections: coupled lines, joints, and conductors of unlike length.
//!
//! A section is a chain matrix of two conductors in blocks of 2 x 2: (V1, I1) = [A B; C D] (V2, I2), I2 flowing out.

use std::f64::consts::{PI, TAU};

use backshell::signal::{Complex64, Network};

pub const LIGHT: f64 = 299_792_458.0;

type Block = [Complex64; 4];

#[derive(Clone, Copy)]
pub struct Chain {
    a: Block,
    b: Block,
    c: Block,
    d: Block,
}

fn times(x: Block, y: Block) -> Block {
    [x[0] * y[0] + x[1] * y[2], x[0] * y[1] + x[1] * y[3], x[2] * y[0] + x[3] * y[2], x[2] * y[1] + x[3] * y[3]]
}

fn sum(x: Block, y: Block) -> Block {
    [x[0] + y[0], x[1] + y[1], x[2] + y[2], x[3] + y[3]]
}

fn scaled(x: Block, by: f64) -> Block {
    x.map(|value| value * by)
}

fn inverse(x: Block) -> Block {
    let det = x[0] * x[3] - x[1] * x[2];
    [x[3] / det, -x[1] / det, -x[2] / det, x[0] / det]
}

fn diagonal(p: impl Into<Complex64>, n: impl Into<Complex64>) -> Block {
    [p.into(), Complex64::ZERO, Complex64::ZERO, n.into()]
}

impl Chain {
    pub fn nothing() -> Self {
        Chain { a: diagonal(1.0, 1.0), b: diagonal(0.0, 0.0), c: diagonal(0.0, 0.0), d: diagonal(1.0, 1.0) }
    }

    pub fn then(self, next: Chain) -> Self {
        Chain {
            a: sum(times(self.a, next.a), times(self.b, next.c)),
            b: sum(times(self.a, next.b), times(self.b, next.d)),
            c: sum(times(self.c, next.a), times(self.d, next.c)),
            d: sum(times(self.c, next.b), times(self.d, next.d)),
        }
    }

    /// Scattering at 50 ohm: ports near P, near N, far P, far N.
    fn scattering(&self) -> [Complex64; 16] {
        let (b, c) = (scaled(self.b, 1.0 / 50.0), scaled(self.c, 50.0));
        let (minus_b, minus_c) = (scaled(b, -1.0), scaled(c, -1.0));
        let (a, d, minus_d) = (self.a, self.d, scaled(self.d, -1.0));
        let all = |w, x, y, z| sum(sum(w, x), sum(y, z));
        let turn = inverse(all(a, b, c, d));
        let s21 = scaled(turn, 2.0);
        let s22 = scaled(times(turn, all(a, minus_b, c, minus_d)), -1.0);
        let w = all(a, b, minus_c, minus_d);
        let s11 = scaled(times(w, s21), 0.5);
        let s12 = scaled(sum(all(a, minus_b, minus_c, d), times(w, s22)), 0.5);
        let mut matrix = [Complex64::ZERO; 16];
        for (block, row, column) in [(s11, 0, 0), (s12, 0, 2), (s21, 2, 0), (s22, 2, 2)] {
            for at in 0..4 {
                matrix[(row + at / 2) * 4 + column + at % 2] = block[at];
            }
        }
        matrix
    }
}

/// What a pair is made of along its run.
#[derive(Clone, Copy, Debug)]
pub struct Material {
    /// Velocity as a share of that of light.
    pub velocity: f64,
    /// Diameter of a conductor in mm.
    pub mm: f64,
    /// How many times the skin resistance of a lone smooth wire it has.
    pub rough: f64,
    /// Resistivity beside that of copper, at direct current.
    pub dc_ratio: f64,
    /// The same for what flows in the skin.
    pub skin_ratio: f64,
    /// Loss tangent.
    pub tangent: f64,
}

/// A piece of a pair.
#[derive(Clone, Copy, Debug)]
pub enum Piece {
    /// Both conductors, coupled: differential impedance in ohm, metres.
    Run(f64, f64),
    /// A resistance in ohm in one conductor.
    Joint { in_p: bool, ohm: f64 },
    /// So many metres that N is longer here.
    Longer(f64),
}

impl Piece {
    fn chain(self, hertz: f64, of: &Material) -> Chain {
        match self {
            Piece::Joint { in_p, ohm } => {
                let b = if in_p { diagonal(ohm, 0.0) } else { diagonal(0.0, ohm) };
                Chain { b, ..Chain::nothing() }
            }
            Piece::Longer(metres) => {
                let (cosh, sinh) = {
                    let phase = Complex64::new(0.0, TAU * hertz * metres / (of.velocity * LIGHT));
                    (phase.cosh(), phase.sinh())
                };
                Chain {
                    a: diagonal(1.0, cosh),
                    b: diagonal(0.0, sinh * 50.0),
                    c: diagonal(0.0, sinh / 50.0),
                    d: diagonal(1.0, cosh),
                }
            }
            Piece::Run(differential, metres) => {
                let odd = line(hertz, differential / 2.0, metres, of);
                let even = line(hertz, differential / 2.0 * 1.28, metres, of);
                let both = |at: usize| {
                    let (e, o) = (even[at], odd[at]);
                    [(e + o) / 2.0, (e - o) / 2.0, (e - o) / 2.0, (e + o) / 2.0]
                };
                Chain { a: both(0), b: both(1), c: both(2), d: both(0) }
            }
        }
    }
}

/// cosh, Z sinh and sinh / Z of one mode.
fn line(hertz: f64, ohm: f64, metres: f64, of: &Material) -> [Complex64; 3] {
    let rho = 1.0 / 58.0 * 1e-6;
    let radius = of.mm * 1e-3 / 2.0;
    let direct = of.dc_ratio * rho / (PI * radius * radius);
    let depth = (rho * of.skin_ratio / (PI * hertz * 4e-7 * PI)).sqrt();
    let skin = of.rough * rho * of.skin_ratio / (2.0 * PI * radius * depth);
    let along = Complex64::new(direct.hypot(skin), skin + TAU * hertz * ohm / (of.velocity * LIGHT));
    let across = Complex64::new(of.tangent, 1.0) * (TAU * hertz / (ohm * of.velocity * LIGHT));
    let (gamma, own) = ((along * across).sqrt() * metres, (along / across).sqrt());
    [gamma.cosh(), own * gamma.sinh(), gamma.sinh() / own]
}

/// What an analyser sees of a pair, with its noise as a share of full scale.
pub fn measure(pieces: &[Piece], of: &Material, frequencies: &[f64], noise: f64, mut chance: impl FnMut() -> f64) -> Network {
    let mut scattering = Vec::with_capacity(frequencies.len() * 16);
    for hertz in frequencies {
        let whole = pieces.iter().fold(Chain::nothing(), |so_far, piece| so_far.then(piece.chain(*hertz, of)));
        let noisy = whole.scattering().map(|value| value + Complex64::new(chance(), chance()) * noise);
        scattering.extend(noisy);
    }
    Network::new(frequencies.to_vec(), vec![50.0; 4], scattering).unwrap()
}

/// Near-end crosstalk of two pairs that couple weakly: the coupling of each of some equal pieces of the run, summed with the
/// way there and back; the worst up to a frequency, in dB below the signal.
pub fn near_end_crosstalk(couplings: &[f64], metres: f64, of: &Material, highest: f64) -> f64 {
    let piece = metres / couplings.len() as f64;
    let worst = (1..=24).map(|at| highest * f64::from(at) / 24.0).map(|hertz| {
        let gamma = Complex64::new(0.12 * (hertz / 1e9).sqrt(), TAU * hertz / (of.velocity * LIGHT));
        let own = couplings.iter().enumerate().map(|(at, k)| (-2.0 * gamma * (at as f64 + 0.5) * piece).exp() * *k);
        (own.sum::<Complex64>() * Complex64::new(0.0, TAU * hertz / (2.0 * of.velocity * LIGHT)) * piece).norm()
    });
    -20.0 * worst.fold(1e-6, f64::max).log10()
}
