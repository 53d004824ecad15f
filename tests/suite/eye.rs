//! Eyes and link rates against other ways to the same figures: the exact sum, every pattern of bits, a script, published
//! limits.

use std::f64::consts::TAU;

use backshell::signal::eye::{Disturbance, Drive, Feedback, Pulse, StatisticalEye, peak_distortion};
use backshell::signal::{Complex64, Spectrum};

/// How the four ports of a file are laid out.
#[derive(Clone, Copy)]
enum Ports {
    /// 1 and 2 near, 3 and 4 far.
    Sequential,
    /// 1 and 3 near, 2 and 4 far.
    OddEven,
}

/// The differential transfer of a file of `tests/signal` (frequencies in MHz, real and imaginary parts, four ports).
///
/// Where the file has no row at 0 Hz, the magnitude there is that of a straight line over the square root of frequency
/// through the first four rows, and at most 1.
fn transfer(name: &str, ports: Ports) -> Spectrum {
    let text = std::fs::read_to_string(format!("tests/signal/{name}")).unwrap();
    let lines = text.lines().filter(|line| !line.starts_with(['!', '#']));
    let figures: Vec<f64> = lines.flat_map(str::split_whitespace).map(|word| word.parse().unwrap()).collect();
    let (near, far) = match ports {
        Ports::Sequential => ([0, 1], [2, 3]),
        Ports::OddEven => ([0, 2], [1, 3]),
    };
    let mut hertz = Vec::new();
    let mut values = Vec::new();
    for row in figures.chunks_exact(33) {
        let s = |to: usize, from: usize| Complex64::new(row[1 + 2 * (4 * to + from)], row[2 + 2 * (4 * to + from)]);
        hertz.push(row[0] * 1e6);
        values.push(0.5 * (s(far[0], near[0]) - s(far[0], near[1]) - s(far[1], near[0]) + s(far[1], near[1])));
    }
    if hertz[0] > 0.0 {
        let points: Vec<(f64, f64)> = hertz.iter().zip(&values).take(4).map(|(f, v)| (f.sqrt(), v.norm())).collect();
        let mean = |of: fn(&(f64, f64)) -> f64| points.iter().map(of).sum::<f64>() / 4.0;
        let (x, y) = (mean(|p| p.0), mean(|p| p.1));
        let slope = points.iter().map(|p| (p.0 - x) * (p.1 - y)).sum::<f64>() / points.iter().map(|p| (p.0 - x).powi(2)).sum::<f64>();
        hertz.insert(0, 0.0);
        values.insert(0, Complex64::from((y - slope * x).min(1.0)));
    }
    Spectrum::new(hertz[1], values).unwrap()
}

/// What `numpy` found for the same files by the definitions of the pulse's documentation: file, ports, edge in s, rate in
/// bit/s, worst height, main cursor, sum of interference, width in UI, openings at 1e-3, 1e-6 and 1e-12.
type Row = (&'static str, Ports, f64, f64, f64, f64, f64, f64, [f64; 3]);
const FILES: [Row; 9] = [
    ("pair_a_uncoupled.s4p", Ports::OddEven, 60e-12, 2.7e9, 0.92761, 0.96338, 0.03577, 0.746, [0.9335, 0.9310, 0.9292]),
    ("pair_a_uncoupled.s4p", Ports::OddEven, 60e-12, 5.4e9, 0.88037, 0.93976, 0.05939, 0.895, [0.8898, 0.8860, 0.8836]),
    ("pair_a_uncoupled.s4p", Ports::OddEven, 60e-12, 8.1e9, 0.80542, 0.90236, 0.09695, 0.965, [0.8177, 0.8128, 0.8099]),
    ("ex_p370_dut.s4p", Ports::Sequential, 100e-12, 2.7e9, 0.88015, 0.94071, 0.06056, 0.762, [0.8828, 0.8818, 0.8811]),
    ("ex_p370_dut.s4p", Ports::Sequential, 100e-12, 5.4e9, 0.73779, 0.86968, 0.13190, 0.941, [0.7423, 0.7407, 0.7396]),
    ("ex_p370_dut.s4p", Ports::Sequential, 100e-12, 8.1e9, 0.54793, 0.77692, 0.22899, 0.891, [0.5586, 0.5549, 0.5529]),
    ("ex_p370_2xthru.s4p", Ports::Sequential, 100e-12, 2.7e9, 0.97301, 0.98733, 0.01432, 0.953, [0.9759, 0.9749, 0.9740]),
    ("ex_p370_2xthru.s4p", Ports::Sequential, 100e-12, 5.4e9, 0.90778, 0.95494, 0.04715, 0.992, [0.9124, 0.9110, 0.9098]),
    ("ex_p370_2xthru.s4p", Ports::Sequential, 100e-12, 8.1e9, 0.69996, 0.85378, 0.15382, 0.973, [0.7109, 0.7080, 0.7058]),
];

/// The pulse at a time by the sum over all frequencies, one by one.
fn exact(transfer: &Spectrum, drive: Drive, time: f64) -> f64 {
    let terms = transfer.rows().map(|(hertz, value)| {
        let term = (value * drive.bit(hertz) * Complex64::from_polar(1.0, TAU * hertz * time)).re;
        if hertz == 0.0 { term } else { 2.0 * term }
    });
    terms.sum::<f64>() * transfer.step()
}

#[test]
fn worst_eyes_of_files() {
    for (file, ports, rise, rate, height, main, interference, width, _) in FILES {
        let transfer = transfer(file, ports);
        let pulse = Pulse::new(&transfer, Drive { rate, rise }, 256).unwrap();
        let worst = peak_distortion(&pulse, Feedback::default(), 0.0);
        let near = |name: &str, found: f64, wanted: f64, by: f64| {
            assert!((found - wanted).abs() < by, "{file} at {rate}: {name} {found}, expected {wanted}");
        };
        near("height", worst.height, height, 2e-5);
        near("main", worst.main, main, 5e-4);
        near("interference", worst.interference, interference, 5e-4);
        near("width", worst.width, width, 0.02);
        // the cursors of every phase add up to the transfer at 0 Hz
        for number in 0..pulse.phases() {
            near("sum", pulse.phase(number).cursors.iter().sum(), transfer.values()[0].re, 1e-9);
        }
    }
}

#[test]
fn statistical_eyes_of_files() {
    for (file, ports, rise, rate, _, _, _, _, openings) in FILES {
        let pulse = Pulse::new(&transfer(file, ports), Drive { rate, rise }, 64).unwrap();
        let worst = peak_distortion(&pulse, Feedback::default(), 0.0);
        let instant = worst.phase as f64 / 64.0 - 0.5;
        for (step, by) in [(1e-5, 4e-4), (1.0 / 2048.0, 2e-3)] {
            let eye = StatisticalEye::new(&pulse, 0.0, &[], Disturbance::default(), step).unwrap();
            let mut last = f64::INFINITY;
            for (ratio, opening) in [1e-3, 1e-6, 1e-12].into_iter().zip(openings) {
                let found = eye.height(instant, ratio);
                assert!((found - opening).abs() < by, "{file} at {rate}, step {step}, {ratio}: {found}, expected {opening}");
                assert!(found <= last && found > worst.height - 2.0 * step, "{file} at {rate}, {ratio}: {found} of {}", worst.height);
                last = found;
            }
        }
    }
}

#[test]
fn pulses_against_the_exact_sum() {
    let transfer = transfer("pair_a_uncoupled.s4p", Ports::OddEven);
    // whole numbers of bits in the record of 40 ns, and others
    for rate in [0.48e9, 1.62e9, 1.65e9, 2.7e9, 5.4e9, 8.1e9, 9.999e9, 13.5e9, 20e9] {
        for rise in [0.0, 30e-12] {
            let drive = Drive { rate, rise };
            let pulse = Pulse::new(&transfer, drive, 16).unwrap();
            for number in 0..pulse.phases() {
                let phase = pulse.phase(number);
                for after in [-3_i32, -1, 0, 1, 2, 7, 30] {
                    let time = phase.time + f64::from(after) * pulse.unit();
                    if (0.0..40e-9 - pulse.unit()).contains(&time) {
                        let (found, wanted) = (phase.cursor(after as isize), exact(&transfer, drive, time));
                        assert!((found - wanted).abs() < 1e-4, "{rate} {rise} phase {number} cursor {after}: {found}, {wanted}");
                    }
                }
            }
        }
    }
}
