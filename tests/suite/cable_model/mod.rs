//! Cables with one known cause each, and what a bench would measure of them: made from lines, joints and couplings by physics
//! that takes nothing from the file of causes, with the scatter of real wire and the noise of instruments.

pub mod line;

use std::fmt::Write;

use backshell::diagnosis::Statement;
use backshell::signal::Network;

use crate::campaign::Random;
use line::{Material, Piece, measure, near_end_crosstalk};

/// Every cause that a cable is made with, by the name in the file of causes.
pub const CAUSES: [&str; 16] = [
    "wiring",
    "split-pair",
    "termination",
    "joint",
    "loss",
    "shell",
    "intermittent",
    "wrong-type",
    "component",
    "skew",
    "wire-size",
    "aluminium",
    "ground",
    "crush",
    "crosstalk",
    "not-the-cable",
];

/// Half the symbol rate of the link, in Hz.
pub const NYQUIST: f64 = 2.7e9;
/// What the link wants of near-end crosstalk, in dB.
pub const ALLOWED_NEXT: f64 = 26.0;

/// A cable, and what was measured of it.
pub struct Bench {
    pub truth: &'static str,
    /// The stated length in metres, and gauge in AWG.
    pub metres: f64,
    pub awg: i32,
    /// Resistances of contacts 1 to 12 in ohm; none where the conductor is open.
    pub ohms: [Option<f64>; 12],
    /// For each contact 1 to 8 at end A, the contact at end B.
    pub lands: [usize; 8],
    /// Shell to shell in ohm; none where it is open.
    pub shell: Option<f64>,
    /// What is between the contacts of the resistor, in ohm; above a megohm it is missing.
    pub resistor: f64,
    /// The network of each pair; none where it has an open.
    pub networks: Vec<Option<Network>>,
    /// The worst near-end crosstalk of each pair in dB.
    pub next: [f64; 4],
    /// What the link can bear at Nyquist, in dB.
    pub allowed_loss: f64,
    /// What a person saw, with the name of the measurement that shows it.
    pub said: Vec<(&'static str, Statement)>,
}

struct Maker {
    random: Random,
}

impl Maker {
    fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.random.share()
    }

    fn chance(&mut self, share: f64) -> bool {
        self.random.share() < share
    }

    /// Nearly normal, with mean 0 and deviation 1.
    fn normal(&mut self) -> f64 {
        (0..12).map(|_| self.random.share()).sum::<f64>() - 6.0
    }
}

/// Diameter in mm of a gauge (ASTM B258).
fn diameter(awg: f64) -> f64 {
    0.127 * 92_f64.powf((36.0 - awg) / 39.0)
}

/// The bench of a number: its cause goes round.
pub fn bench(number: usize, rows: usize) -> Bench {
    let truth = CAUSES[number % CAUSES.len()];
    let mut maker = Maker { random: Random::new(number) };
    make(truth, rows, &mut maker)
}

fn make(truth: &'static str, rows: usize, maker: &mut Maker) -> Bench {
    let metres = maker.between(0.4, 0.8);
    let awg = [26, 28, 30][maker.random.below(3)];
    let (mut length, mut gauge) = (metres * (1.0 + 0.01 * maker.normal()), f64::from(awg));
    let mut material = Material {
        velocity: maker.between(0.66, 0.74),
        mm: 0.0,
        rough: maker.between(1.0, 1.4),
        dc_ratio: maker.between(0.99, 1.06),
        skin_ratio: 1.0,
        tangent: maker.between(0.000_5, 0.003),
    };
    if truth == "aluminium" {
        material.dc_ratio *= maker.between(1.46, 1.60);
        material.skin_ratio = maker.between(1.0, 1.15);
    }
    if truth == "wire-size" {
        match maker.random.below(3) {
            0 => length *= maker.between(1.25, 1.8),
            1 => gauge += f64::from(u8::try_from(1 + maker.random.below(4)).unwrap()),
            _ => (length, gauge) = (length * maker.between(1.15, 1.5), gauge + 2.0),
        }
    }
    material.mm = diameter(gauge);
    let direct = material.dc_ratio / 58.0 / (std::f64::consts::FRAC_PI_4 * material.mm * material.mm);
    let mut ohms =
        [None; 12].map(|_: Option<f64>| Some(direct * length * (1.0 + 0.004 * maker.normal()) + maker.between(0.01, 0.04)));
    let mut pairs = runs(truth, length, maker);
    let mut lands = [0, 1, 2, 3, 4, 5, 6, 7];
    let mut shell = Some(maker.between(0.005, 0.03) * length + 0.01);
    let mut resistor = 10e3 * (1.0 + 0.01 * maker.normal());
    let mut opened = None;
    match truth {
        "wiring" => match maker.random.below(4) {
            0 => lands.swap(1, 3),
            1 => lands.swap(4, 5),
            2 => (lands.swap(0, 2), lands.swap(1, 3)).0,
            _ => {
                let at = maker.random.below(8);
                (ohms[at], opened) = (None, Some(at / 2));
            }
        },
        "joint" => {
            let (at, ohm) = (maker.random.below(8), maker.between(0.35, 6.0));
            ohms[at] = ohms[at].map(|own| own + ohm);
            let place = if maker.chance(0.5) { 0 } else { pairs[at / 2].len() };
            pairs[at / 2].insert(place, Piece::Joint { in_p: at % 2 == 0, ohm });
        }
        "shell" => {
            shell = match maker.random.below(10) {
                0..=5 => None,
                6..=8 => Some(maker.between(1.0, 60.0)),
                _ => shell, // a pigtail: nothing shows at direct current
            }
        }
        "ground" => {
            let at = 8 + maker.random.below(2);
            ohms[at] = if maker.chance(0.75) { None } else { ohms[at].map(|own| own + 3.0) };
        }
        "component" => resistor = if maker.chance(0.5) { 30e6 } else { 10e3 * maker.between(1.5, 4.0) },
        _ => {}
    }
    let ohms = ohms.map(|ohm| ohm.map(|ohm| (ohm + 0.004 * maker.normal()).max(0.001)));
    let step = 8.0e9 / rows as f64;
    let frequencies: Vec<f64> = (1..=rows).map(|at| at as f64 * step).collect();
    let mut networks = Vec::new();
    for (at, pieces) in pairs.iter().enumerate() {
        let seen = (opened != Some(at)).then(|| measure(pieces, &material, &frequencies, 3e-4, || maker.normal()));
        networks.push(seen);
    }
    let next = crosstalk(truth, length, &material, maker);
    let usual = loss_at_nyquist(&networks);
    let allowed_loss = usual * if truth == "loss" { maker.between(0.5, 0.88) } else { maker.between(1.15, 2.0) };
    let said = said(truth, length > 1.12 * metres, maker);
    Bench { truth, metres, awg, ohms, lands, shell, resistor, networks, next, allowed_loss, said }
}

/// The pieces of the four pairs.
fn runs(truth: &str, length: f64, maker: &mut Maker) -> Vec<Vec<Piece>> {
    let cable = 100.0 * (1.0 + 0.02 * maker.normal());
    let wrong = if maker.chance(0.5) { maker.between(0.70, 0.87) } else { maker.between(1.15, 1.35) };
    let bad = maker.random.below(4);
    let mate = (bad + 1 + maker.random.below(3)) % 4;
    let split = maker.between(1.14, 1.40);
    (0..4)
        .map(|pair| {
            let mut own = cable * (1.0 + 0.01 * maker.normal());
            let is_split = truth == "split-pair" && (pair == bad || pair == mate);
            if truth == "wrong-type" {
                own *= wrong;
            }
            if is_split {
                own *= split * (1.0 + 0.02 * maker.normal());
            }
            // pieces of the run differ a little, those of a split pair more
            let count = 8;
            let wander = if is_split { 0.05 } else { 0.008 };
            let mut pieces: Vec<Piece> =
                (0..count).map(|_| Piece::Run(own * (1.0 + wander * maker.normal()), length / f64::from(count))).collect();
            let late = 0.000_35 * maker.normal() + if truth == "skew" && pair == bad { maker.between(0.009, 0.03) } else { 0.0 };
            let place = 1 + maker.random.below(6);
            pieces.insert(place, Piece::Longer(late.abs()));
            if truth == "crush" && pair == bad {
                let place = 2 + maker.random.below(4);
                let ohm = own * if maker.chance(0.8) { maker.between(0.45, 0.80) } else { maker.between(1.25, 1.5) };
                pieces.insert(place, Piece::Run(ohm, maker.between(0.012, 0.05)));
            }
            for end in 0..2 {
                let (mut ohm, mut metres) = (100.0 * (1.0 + 0.03 * maker.normal()), maker.between(0.008, 0.015));
                if truth == "termination" && pair == bad && end == mate % 2 {
                    ohm = if maker.chance(0.65) { maker.between(125.0, 165.0) } else { maker.between(48.0, 75.0) };
                    metres = maker.between(0.018, 0.05);
                }
                let place = if end == 0 { 0 } else { pieces.len() };
                pieces.insert(place, Piece::Run(ohm, metres));
            }
            pieces
        })
        .collect()
}

/// The worst near-end crosstalk of each pair, in dB, from both ends.
fn crosstalk(truth: &str, length: f64, of: &Material, maker: &mut Maker) -> [f64; 4] {
    let mut worst = [f64::INFINITY; 4];
    let (one, other) = {
        let one = maker.random.below(4);
        (one, (one + 1 + maker.random.below(3)) % 4)
    };
    let everywhere = maker.chance(0.5);
    for a in 0..4 {
        for b in 0..a {
            let concerned = [a, b].contains(&one) && [a, b].contains(&other);
            let mut k = maker.between(0.05, 0.12) * 0.025;
            let mut steady = 0.0;
            match truth {
                "split-pair" if concerned => steady = maker.between(0.10, 0.2),
                "crosstalk" if concerned || everywhere => k *= maker.between(9.0, 20.0),
                "wrong-type" if everywhere => k *= maker.between(5.0, 15.0),
                "ground" => k *= maker.between(1.0, 4.0),
                _ => {}
            }
            let mut couplings: Vec<f64> = (0..40).map(|_| steady + k * if maker.chance(0.5) { 1.0 } else { -1.0 }).collect();
            if truth == "termination" && concerned {
                couplings[0] += maker.between(0.0, 0.12);
            }
            let near = near_end_crosstalk(&couplings, length, of, NYQUIST);
            couplings.reverse();
            let db = near.min(near_end_crosstalk(&couplings, length, of, NYQUIST)) + 0.3 * maker.normal();
            worst[a] = worst[a].min(db);
            worst[b] = worst[b].min(db);
        }
    }
    worst
}

fn loss_at_nyquist(networks: &[Option<Network>]) -> f64 {
    let loss = networks.iter().flatten().map(|network| {
        let row = network.frequencies().partition_point(|hertz| *hertz < NYQUIST);
        let s = network.matrix(row);
        -20.0 * ((s[8] - s[9] - s[12] + s[13]) / 2.0).norm().log10()
    });
    loss.fold(0.0, f64::max)
}

/// What people see: each is right nearly always.
fn said(truth: &str, longer: bool, maker: &mut Maker) -> Vec<(&'static str, Statement)> {
    let mut list = Vec::new();
    let mut say = |measurement: &'static str, word: &str, share: f64, [yes, no]: [&str; 2]| {
        let value = if maker.chance(share) { yes } else { no };
        list.push((measurement, Statement::new(word, value)));
    };
    let is = |causes: &[&str]| causes.contains(&truth);
    say("swap", "swap", if is(&["not-the-cable"]) { 0.98 } else { 0.02 }, ["same-fault", "cured"]);
    say("elsewhere", "elsewhere", if is(&["not-the-cable"]) { 0.9 } else { 0.1 }, ["works", "fails"]);
    let moves = match truth {
        "intermittent" => 0.98,
        "joint" => 0.5,
        _ => 0.02,
    };
    say("move", "movement", moves, ["changes", "steady"]);
    say("tape", "length", if longer { 0.98 } else { 0.01 }, ["longer", "as-stated"]);
    say("weigh", "metal", if is(&["aluminium"]) { 0.97 } else { 0.01 }, ["aluminium", "copper"]);
    say("bond", "shield-bonded", if is(&["shell"]) { 0.9 } else { 0.03 }, ["better", "same"]);
    list
}

impl Bench {
    /// The netlist of the unit, with what the measurements of these names show.
    pub fn netlist(&self, with: impl Fn(&str) -> bool) -> String {
        let mut text = format!(
            "cable dome-lens\nlength {:.3} m\ngauge {} AWG\ntemperature 20 C\nuncertainty 0.01 ohm\n",
            self.metres, self.awg
        );
        let figures = with("four-wire");
        for (at, ohm) in self.ohms.iter().enumerate() {
            let Some(ohm) = ohm else { continue };
            let far = self.lands.get(at).map_or(at, |lands| *lands);
            let figure = if figures { format!(" {ohm:.3} ohm") } else { String::new() };
            let _ = writeln!(text, "A.{} B.{}{figure}", at + 1, far + 1);
        }
        if let Some(ohm) = self.shell {
            let figure = if with("shell") { format!(" {ohm:.3} ohm") } else { String::new() };
            let _ = writeln!(text, "A.shell B.shell{figure}");
        }
        let ohm = self.resistor;
        let _ = writeln!(text, "resistor A.13 A.10 {}{ohm:.0} ohm", if ohm > 1e6 { ">" } else { "" });
        text
    }
}

/// The first bench with a cause.
pub fn number_of(truth: &str) -> usize {
    CAUSES.iter().position(|cause| *cause == truth).unwrap()
}
