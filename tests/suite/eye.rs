//! Eyes and link rates against other ways to the same figures: the exact sum, every pattern of bits, a script, published
//! limits.

use std::f64::consts::TAU;
use std::fmt::Write as _;

use backshell::signal::eye::{
    Ctle, Disturbance, Drive, EyeDensity, Feedback, Phase, Pulse, StatisticalEye, peak_distortion, worst_crosstalk,
};
use backshell::signal::rates::{Carries, Judged, Lane, Limits, Quantity, grade, ladder, ladders, read};
use backshell::signal::{Complex64, Spectrum};
use backshell::text::Source;
use proptest::prelude::*;

use crate::references::python;

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
        let slope =
            points.iter().map(|p| (p.0 - x) * (p.1 - y)).sum::<f64>() / points.iter().map(|p| (p.0 - x).powi(2)).sum::<f64>();
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

/// The worst height at a phase.
fn height_of(phase: Phase<'_>) -> f64 {
    2.0 * phase.height() - phase.cursors.iter().map(|cursor| cursor.abs()).sum::<f64>()
}

#[test]
fn worst_eyes_of_files() {
    for (file, ports, rise, rate, height, main, interference, width, _) in FILES {
        let transfer = transfer(file, ports);
        let pulse = Pulse::new(&transfer, Drive::new(rate, rise), 256).unwrap();
        let worst = peak_distortion(&pulse, Feedback::default(), 0.0);
        let near = |name: &str, found: f64, wanted: f64, by: f64| {
            assert!((found - wanted).abs() < by, "{file} at {rate}: {name} {found}, expected {wanted}");
        };
        near("height", worst.height, height, 2e-5);
        near("main", worst.main, main, 5e-4);
        near("interference", worst.interference, interference, 5e-4);
        // the script's window lies around the highest sample, ours around the middle of the pulse
        let peak = (0..256).max_by(|a, b| pulse.phase(*a).height().total_cmp(&pulse.phase(*b).height())).unwrap();
        let share = (0..256).filter(|number| height_of(pulse.phase(peak - 128 + number)) > 0.0).count() as f64 / 256.0;
        near("width", share, width, 0.02);
        assert!(worst.width > share - 0.01 && worst.width <= 1.0, "{file} at {rate}: {} of {share}", worst.width);
        // the cursors of every phase add up to the transfer at 0 Hz
        for number in 0..256 {
            near("sum", pulse.phase(number).cursors.iter().sum(), transfer.values()[0].re, 1e-9);
        }
    }
}

#[test]
fn statistical_eyes_of_files() {
    for (file, ports, rise, rate, _, _, _, _, openings) in FILES {
        let pulse = Pulse::new(&transfer(file, ports), Drive::new(rate, rise), 64).unwrap();
        let worst = peak_distortion(&pulse, Feedback::default(), 0.0);
        let instant = worst.phase as f64 / 64.0 - 0.5;
        for (step, by) in [(1e-5, 4e-4), (1.0 / 2048.0, 2e-3)] {
            let eye = StatisticalEye::new(&pulse, 0.0, &[], Disturbance::default(), step).unwrap();
            let mut last = f64::INFINITY;
            for (ratio, opening) in [1e-3, 1e-6, 1e-12].into_iter().zip(openings) {
                let found = eye.height(instant, ratio);
                assert!((found - opening).abs() < by, "{file} at {rate}, step {step}, {ratio}: {found}, expected {opening}");
                assert!(
                    found <= last && found > worst.height - 2.0 * step,
                    "{file} at {rate}, {ratio}: {found} of {}",
                    worst.height
                );
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
            let drive = Drive::new(rate, rise);
            let pulse = Pulse::new(&transfer, drive, 16).unwrap();
            for number in 0..16 {
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

/// A matched line: so many dB lost at 5 GHz by the skin effect, a delay in ns.
fn line(step: f64, rows: usize, loss: f64, delay: f64) -> Spectrum {
    let neper = loss * std::f64::consts::LN_10 / 20.0;
    let value = |row: usize| {
        let hertz = row as f64 * step;
        let skin = neper * (hertz / 5e9).sqrt();
        Complex64::from_polar((-skin).exp(), -skin - TAU * hertz * delay * 1e-9)
    };
    Spectrum::new(step, (0..rows).map(value).collect()).unwrap()
}

/// The same with an echo: so much of it, so many seconds later.
fn echoing(through: &Spectrum, echo: f64, late: f64) -> Spectrum {
    let values = through.rows().map(|(hertz, value)| value * (1.0 + echo * Complex64::from_polar(1.0, -TAU * hertz * late)));
    Spectrum::new(through.step(), values.collect()).unwrap()
}

/// A short channel of eight bits with an echo, and its cursors at a phase by the exact sum.
fn short() -> (Spectrum, Drive, Pulse) {
    let drive = Drive::new(4e9, 80e-12);
    let step = drive.rate / 8.0;
    let channel = echoing(&line(step, 40, 9.0, 0.31), -0.2, 0.57e-9);
    let pulse = Pulse::new(&channel, drive, 32).unwrap();
    (channel, drive, pulse)
}

/// What is sampled at a time of each of the patterns of eight bits that go round and round, the bit itself being a 1.
fn patterns(channel: &Spectrum, drive: Drive, phase: Phase<'_>) -> Vec<f64> {
    let one = |bit: usize| exact(channel, drive, phase.time + (bit as f64 - phase.main as f64) * drive.unit());
    let ones: Vec<f64> = (0..8).map(one).collect();
    let sample = |pattern: usize| {
        let levels = (0..8).map(|bit| if pattern >> bit & 1 == 1 { 0.5 } else { -0.5 });
        levels.zip(&ones).map(|(level, one)| level * one).sum::<f64>()
    };
    (0..256).filter(|pattern| pattern >> phase.main & 1 == 1).map(sample).collect()
}

#[test]
fn every_pattern_of_a_short_channel() {
    let (channel, drive, pulse) = short();
    let worst = peak_distortion(&pulse, Feedback::default(), 0.0);
    let eye = StatisticalEye::new(&pulse, 0.0, &[], Disturbance::default(), 1e-5).unwrap();
    for number in 0..32 {
        let mut samples = patterns(&channel, drive, pulse.phase(number));
        samples.sort_by(f64::total_cmp);
        let number = usize::try_from(number).unwrap();
        assert!(
            (2.0 * samples[0] - worst.heights[number]).abs() < 1e-9,
            "phase {number}: {} {}",
            samples[0],
            worst.heights[number]
        );
        // a ratio between the shares of the `rank` and of one pattern more
        let instant = number as f64 / 32.0 - 0.5;
        for rank in [0, 1, 5, 17, 40, 63] {
            let found = eye.height(instant, (rank as f64 + 0.5) / 128.0);
            assert!((found - 2.0 * samples[rank]).abs() < 1e-4, "phase {number}, rank {rank}: {found}, {}", 2.0 * samples[rank]);
        }
    }
    // the bathtub is the share of patterns that are read as a 0
    let bathtub = eye.bathtub();
    for number in 0..32 {
        let wrong = patterns(&channel, drive, pulse.phase(number)).iter().filter(|sample| **sample <= 0.0).count() as f64 / 128.0;
        let found = bathtub[8 * usize::try_from(number).unwrap()];
        assert!((found - wrong).abs() < 1e-9, "phase {number}: {found}, {wrong}");
    }
}

#[test]
fn feedback_takes_off_the_bit_before() {
    let (_, _, pulse) = short();
    let without = peak_distortion(&pulse, Feedback::default(), 0.0);
    let with = peak_distortion(&pulse, Feedback::new(0.05), 0.0);
    let after = pulse.phase(isize::try_from(with.phase).unwrap()).cursor(1);
    assert!((with.tap - after.clamp(-0.05, 0.05)).abs() < 1e-12 && with.tap.abs() > 0.01, "{}", with.tap);
    assert!(with.height > without.height + 0.01);
    let none = StatisticalEye::new(&pulse, 0.0, &[], Disturbance::default(), 1e-4).unwrap();
    let some = StatisticalEye::new(&pulse, with.tap, &[], Disturbance::default(), 1e-4).unwrap();
    let instant = with.phase as f64 / 32.0 - 0.5;
    assert!((some.height(instant, 1e-6) - with.height).abs() < 1e-3);
    assert!(none.height(instant, 1e-6) < with.height);
}

/// Where nothing but noise and jitter disturbs, both are known in closed form.
#[test]
fn noise_and_jitter_alone() {
    let open = line(0.1e9, 500, 0.0, 1.0);
    let pulse = Pulse::new(&open, Drive::new(2e9, 40e-12), 64).unwrap();
    // quantiles of the normal distribution: 1e-3, 1e-6, 1e-9, 1e-12
    for (ratio, sigmas) in [(1e-3, 3.090_232), (1e-6, 4.753_424), (1e-9, 5.997_807), (1e-12, 7.034_484)] {
        let noisy = Disturbance::default().with_noise(0.02);
        let eye = StatisticalEye::new(&pulse, 0.0, &[], noisy, 1.0 / 2048.0).unwrap();
        let (found, wanted) = (eye.height(0.0, ratio), 1.0 - 2.0 * 0.02 * sigmas);
        assert!((found - wanted).abs() < 2e-3, "{ratio}: {found}, {wanted}");
        let shaky = Disturbance::default().with_random(0.02).with_deterministic(0.2);
        let eye = StatisticalEye::new(&pulse, 0.0, &[], shaky, 1.0 / 2048.0).unwrap();
        // each of the two Dirac pulses has half the weight, and an edge lies between two bits that differ half the time
        let (found, wanted) = (eye.width(ratio).0, 1.0 - 0.2 - 2.0 * 0.02 * sigmas);
        assert!((found - wanted).abs() < 0.03, "{ratio}: {found}, {wanted}");
    }
}

#[test]
fn crosstalk_closes_the_eye() {
    let (_, drive, pulse) = short();
    let values = line(drive.rate / 8.0, 40, 3.0, 0.2).rows().map(|(hertz, value)| value * (hertz / 1e11)).collect();
    let aggressor = Pulse::new(&Spectrum::new(drive.rate / 8.0, values).unwrap(), drive, 16).unwrap();
    let crosstalk = worst_crosstalk(&aggressor);
    let sum = |number| aggressor.phase(number).cursors.iter().map(|cursor| cursor.abs()).sum::<f64>();
    assert!((crosstalk - (0..16).map(sum).fold(0.0, f64::max)).abs() < 1e-12 && crosstalk > 0.01, "{crosstalk}");
    let (alone, beside) =
        (peak_distortion(&pulse, Feedback::default(), 0.0), peak_distortion(&pulse, Feedback::default(), crosstalk));
    assert!((alone.height - beside.height - crosstalk).abs() < 1e-12);
    let instant = alone.phase as f64 / 32.0 - 0.5;
    let eye = StatisticalEye::new(&pulse, 0.0, std::slice::from_ref(&aggressor), Disturbance::default(), 1e-4).unwrap();
    let height = eye.height(instant, 1e-9);
    assert!((height - beside.height).abs() < 2e-3 && height > beside.height - 1e-3, "{height} {}", beside.height);
    let quiet = StatisticalEye::new(&pulse, 0.0, &[], Disturbance::default(), 1e-4).unwrap();
    assert!(eye.height(instant, 1e-3) < quiet.height(instant, 1e-3) - 0.01);
}

#[test]
fn picture_of_an_eye() {
    let (_, _, pulse) = short();
    let picture =
        EyeDensity::new(&pulse, 0.0, &Disturbance::default().with_noise(0.01).with_random(0.01).with_deterministic(0.1), 120)
            .unwrap();
    assert_eq!(picture.cells.len(), picture.columns * picture.rows);
    for column in 0..picture.columns {
        let sum: f32 = (0..picture.rows).map(|row| picture.cells[row * picture.columns + column]).sum();
        assert!((sum - 1.0).abs() < 1e-4, "column {column}: {sum}");
        // nothing favours a 1: the picture is the same upside down
        for row in 0..picture.rows {
            let (up, down) = (
                picture.cells[row * picture.columns + column],
                picture.cells[(picture.rows - 1 - row) * picture.columns + column],
            );
            assert!((up - down).abs() < 0.02, "column {column}, row {row}: {up} {down}");
        }
    }
    // at the sampling instant, hardly anything lies in the middle of an open eye
    let worst = peak_distortion(&pulse, Feedback::default(), 0.0);
    let column = picture.columns / 2 + worst.phase - 16;
    assert!(worst.height > 0.2 && picture.cells[picture.rows / 2 * picture.columns + column] < 1e-6);
}

/// The worst eyes of random channels against a script of numpy that adds up every frequency at every phase.
#[test]
fn worst_eyes_against_numpy() {
    let mut state = 0x5eed_u64;
    let mut random = |from: f64, to: f64| {
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        from + (to - from) * (state >> 11) as f64 / (1_u64 << 53) as f64
    };
    let mut lines = String::new();
    for _ in 0..40 {
        let drive = Drive::new(random(1e9, 12e9), random(0.0, 60e-12));
        let step = drive.rate / random(8.0, 60.0).floor();
        let rows = (random(1.0, 3.0) * drive.rate / step) as usize;
        let (loss, delay, echo, late) = (random(0.0, 20.0), random(0.1, 0.9), random(-0.3, 0.3), random(0.05, 0.4));
        let through = echoing(&line(step, rows, loss, delay / step * 1e9 * 0.5), echo, late / step);
        let pulse = Pulse::new(&through, drive, 32).unwrap();
        let worst = peak_distortion(&pulse, Feedback::new(random(-0.1, 0.1)), 0.0);
        let limit = if worst.tap == 0.0 { 0.0 } else { worst.tap };
        let row = serde_json::json!({
            "step": step, "rate": drive.rate, "rise": drive.rise, "tap": limit, "samples": 32,
            "transfer": through.values().iter().map(|value| [value.re, value.im]).collect::<Vec<_>>(),
            "time": pulse.phase(0).time, "main": worst.main, "phase": worst.phase, "heights": worst.heights,
        });
        writeln!(lines, "{row}").unwrap();
    }
    if let Some((agreed, text)) = python("check_eye.py", &[], &lines) {
        println!("{text}");
        assert!(agreed && text.contains("40 channels"), "{text}");
    }
}

#[test]
fn ladders_are_whole() {
    let names: Vec<&str> = ladders().iter().map(|ladder| ladder.name.as_str()).collect();
    assert_eq!(names, ["displayport", "tmds", "frl", "usb2", "usb3", "ethernet"]);
    for ladder in ladders() {
        for (step, rate) in ladder.rates.iter().enumerate() {
            assert_eq!(ladder.step(&rate.name), Some(step));
            for word in std::iter::once(&rate.name).chain(&rate.also) {
                assert_eq!(ladder.rate(word).map(|found| &found.name), Some(&rate.name), "{word}");
            }
            assert!(!rate.source.is_empty() && rate.lanes.iter().all(|lanes| ladder.lanes.contains(lanes)), "{}", rate.name);
            let total = |step: usize| ladder.rates[step].raw(*ladder.rates[step].lanes.iter().max().unwrap());
            assert!(step == 0 || total(step) > total(step - 1), "{}", rate.name);
        }
    }
}

#[test]
fn rates_by_their_usual_names() {
    for (name, word, wanted) in [
        ("displayport", "hbr3", "HBR3"),
        ("displayport", "8.1 Gbit/s", "HBR3"),
        ("displayport", "32.4 Gbit/s", "HBR3"),
        ("displayport", "UHBR13.5", "UHBR13.5"),
        ("displayport", "1.62Gbps", "RBR"),
        ("usb3", "USB 3.2 Gen 2", "USB 3.2 Gen 2"),
        ("usb3", "usb 3.2 gen 2x2", "USB 3.2 Gen 2x2"),
        ("usb3", "5 Gbit/s", "USB 3.2 Gen 1"),
        ("usb3", "20 Gbit/s", "USB 3.2 Gen 2x2"),
        ("usb2", "480 Mbit/s", "High Speed"),
        ("ethernet", "10GBASE-T", "10GBASE-T"),
        ("ethernet", "10 Gbit/s", "10GBASE-T"),
        ("ethernet", "100 Mbit/s", "100BASE-TX"),
        ("ethernet", "Cat 6A", "10GBASE-T"),
        ("ethernet", "cat5e", "2.5GBASE-T"),
        ("tmds", "340 MHz", "TMDS 340 MHz"),
        ("frl", "48 Gbit/s", "FRL6"),
        ("frl", "4 x 6", "FRL3"),
    ] {
        assert_eq!(ladder(name).unwrap().rate(word).map(|rate| rate.name.as_str()), Some(wanted), "{word}");
    }
    for (name, word) in [("displayport", "HBR4"), ("displayport", ""), ("frl", "6 Gbit/s"), ("usb3", "10"), ("ethernet", "Cat 9")]
    {
        assert_eq!(ladder(name).unwrap().rate(word).map(|rate| rate.name.as_str()), None, "{word}");
    }
}

/// Raw and payload rates as VESA and the HDMI specifications give them.
#[test]
fn totals_of_rates() {
    for (name, word, lanes, raw, payload) in [
        ("displayport", "RBR", 4, 6.48, 5.184),
        ("displayport", "HBR", 4, 10.8, 8.64),
        ("displayport", "HBR2", 4, 21.6, 17.28),
        ("displayport", "HBR3", 4, 32.4, 25.92),
        ("displayport", "UHBR10", 4, 40.0, 38.788),
        ("displayport", "UHBR13.5", 4, 54.0, 52.364),
        ("displayport", "UHBR20", 4, 80.0, 77.576),
        ("tmds", "DVI", 3, 4.95, 3.96),
        ("tmds", "HDMI 1.4", 3, 10.2, 8.16),
        ("tmds", "HDMI 2.0", 3, 18.0, 14.4),
        ("frl", "FRL1", 3, 9.0, 8.0),
        ("frl", "FRL2", 3, 18.0, 16.0),
        ("frl", "FRL3", 4, 24.0, 21.333),
        ("frl", "FRL4", 4, 32.0, 28.444),
        ("frl", "FRL5", 4, 40.0, 35.556),
        ("frl", "FRL6", 4, 48.0, 42.667),
        ("ethernet", "1000BASE-T", 4, 1.0, 1.0),
        ("ethernet", "100BASE-TX", 2, 0.1, 0.1),
        ("usb3", "Gen 2x2", 2, 20.0, 19.394),
    ] {
        let rate = ladder(name).unwrap().rate(word).unwrap();
        assert!((rate.raw(lanes) - raw).abs() < 1e-9, "{word}: {}", rate.raw(lanes));
        assert!((rate.payload(lanes) - payload).abs() < 5e-4, "{word}: {}", rate.payload(lanes));
    }
}

#[test]
fn broken_ladders_are_refused() {
    let text = std::fs::read_to_string("src/signal/rates/data/usb3.toml").unwrap();
    for (from, to, label) in [
        ("gbits = 5", "gbits = -5", "`gbits` must be above zero"),
        ("payload = [8, 10]", "payload = [10, 8]", "`payload` is bits"),
        ("error-ratio = 1e-12", "error-ratio = 1e-20", "`error-ratio` must lie"),
        ("equaliser = \"superspeed 1\"", "equaliser = \"none\"", "no equaliser `none`"),
        ("eye = \"USB 3.2 Gen 2\"", "eye = \"Gen 7\"", "no rate `Gen 7`"),
        ("zero-ghz = 0.65", "zero-ghz = 0", "the settings of `superspeed 1`"),
        ("name = \"USB 3.2 Gen 2\"", "name = \"USB 3.2 Gen 1\"", "a second time"),
        ("lanes = [1, 2]", "lanes = []", "at least one rate"),
        ("launch-mv = 800", "lunch-mv = 800", "lunch-mv"),
    ] {
        let broken = text.replacen(from, to, 1);
        assert_ne!(broken, text, "{from}");
        let problem = read(&Source::new("usb3.toml", broken)).unwrap_err();
        let said = format!("{} {:?}", problem.message, problem.labels.iter().map(|label| &label.text).collect::<Vec<_>>());
        // toml's untagged enum can't say which key of an eye it doesn't know
        assert!(said.contains(label) || from == "launch-mv = 800", "{from}: {said}");
    }
}

/// Limit lines at frequencies in MHz: what the standards print, or their formulas worked out by hand.
#[test]
fn limit_lines() {
    use Limits::{Cable5e, Cable6, Cable6a, Channel5e, Channel6, ClassD, ClassE, ClassEa, ClassF, Link1000};
    use Quantity::{Delay, InsertionLoss, NearEndCrosstalk, ReturnLoss, Skew};
    for (limits, quantity, mhz, wanted, by, source) in [
        (ClassD, InsertionLoss, 100.0, 24.01, 0.006, "presentation to the IEEE 10GBASE-T task force, March 2004"),
        (ClassE, InsertionLoss, 100.0, 21.71, 0.005, "presentation to the IEEE 10GBASE-T task force, March 2004"),
        (ClassE, InsertionLoss, 250.0, 35.93, 0.005, "presentation to the IEEE 10GBASE-T task force, March 2004"),
        (ClassE, NearEndCrosstalk, 16.0, 53.2, 0.05, "public listing of the draft of class E"),
        (ClassE, NearEndCrosstalk, 100.0, 39.9, 0.05, "public listing of the draft of class E"),
        (ClassE, NearEndCrosstalk, 250.0, 33.1, 0.05, "public listing of the draft of class E"),
        (ClassE, ReturnLoss, 100.0, 12.0, 0.05, "public listing of the draft of class E"),
        (ClassE, ReturnLoss, 250.0, 8.0, 0.05, "public listing of the draft of class E"),
        (ClassD, Delay, 1.0, 580.0, 0.5, "table of TIA-568"),
        (ClassD, Delay, 10.0, 555.0, 0.5, "table of TIA-568"),
        (ClassD, Delay, 100.0, 548.0, 0.5, "table of TIA-568"),
        (ClassEa, Delay, 200.0, 547.0, 0.5, "table of TIA-568"),
        (Cable6, Delay, 1.0, 570.0, 0.5, "table of TIA-568, 5.70 ns/m"),
        (Cable6, Delay, 100.0, 538.0, 0.5, "table of TIA-568, 5.38 ns/m"),
        (Cable6, Skew, 50.0, 45.0, 1e-9, "TIA-568"),
        (ClassD, Skew, 50.0, 50.0, 1e-9, "TIA-568"),
        (Cable5e, InsertionLoss, 100.0, 21.975, 6e-4, "formula"),
        (Cable5e, InsertionLoss, 1.0, 2.04, 6e-4, "formula"),
        (Cable6, InsertionLoss, 250.0, 32.85, 6e-4, "formula"),
        (Cable6a, InsertionLoss, 16.0, 7.488, 6e-4, "formula"),
        (Channel5e, InsertionLoss, 16.0, 9.053, 6e-4, "formula"),
        (Channel6, InsertionLoss, 100.0, 21.3, 0.05, "table of TIA-568 (from memory)"),
        (Channel6, InsertionLoss, 16.0, 8.0, 0.06, "table of TIA-568 (from memory)"),
        (ClassEa, InsertionLoss, 250.0, 33.886, 6e-4, "formula"),
        (ClassEa, NearEndCrosstalk, 500.0, 27.9, 0.06, "ISO/IEC 11801 (from memory)"),
        (ClassEa, ReturnLoss, 398.2, 6.0, 1e-9, "ISO/IEC 11801 (from memory)"),
        (ClassD, InsertionLoss, 1.0, 2.4, 6e-4, "formula"),
        (ClassD, NearEndCrosstalk, 100.0, 30.079, 6e-4, "formula"),
        (ClassD, NearEndCrosstalk, 1.0, 60.0, 1e-9, "the cap"),
        (ClassE, NearEndCrosstalk, 1.0, 65.0, 1e-9, "the cap"),
        (Cable5e, NearEndCrosstalk, 16.0, 47.238, 6e-4, "formula"),
        (Cable6, NearEndCrosstalk, 250.0, 38.331, 6e-4, "formula"),
        (Channel5e, ReturnLoss, 16.0, 17.0, 1e-9, "formula"),
        (Channel5e, ReturnLoss, 100.0, 10.01, 6e-4, "formula"),
        (Cable6, ReturnLoss, 250.0, 17.322, 6e-4, "formula"),
        (Link1000, InsertionLoss, 100.0, 24.004, 6e-4, "formula"),
        (Link1000, InsertionLoss, 16.0, 9.128, 6e-4, "formula"),
        (Link1000, NearEndCrosstalk, 1.0, 60.7, 6e-4, "formula"),
        (ClassF, InsertionLoss, 600.0, 54.6, 0.1, "ISO/IEC 11801 (from memory)"),
    ] {
        let found = limits.at(quantity, mhz).unwrap();
        assert!((found - wanted).abs() <= by, "{limits:?} {quantity:?} at {mhz} MHz: {found}, {wanted} by {source}");
    }
    for limits in Limits::ALL {
        let (from, to) = limits.range();
        assert!(limits.at(InsertionLoss, from).is_some() && limits.at(InsertionLoss, to).is_some());
        assert!(limits.at(InsertionLoss, from * 0.9).is_none() && limits.at(InsertionLoss, to * 1.1).is_none());
        assert!(limits.at(InsertionLoss, f64::NAN).is_none() && !limits.source().is_empty());
    }
}

fn lanes(count: usize, through: &Spectrum) -> Vec<Lane> {
    (0..count).map(|at| Lane::new(format!("lane {at}"), through.clone())).collect()
}

/// Four pairs of so many dB at 100 MHz, well matched and apart.
fn pairs(loss: f64) -> Vec<Lane> {
    let through = line(0.5e6, 1201, loss / (100e6_f64 / 5e9).sqrt(), 5.0);
    let flat = |db: f64| Spectrum::new(0.5e6, vec![Complex64::from(10f64.powf(-db / 20.0)); 1201]).unwrap();
    let pair = |at: usize| {
        let alone = Lane::new(format!("pair {at}"), through.clone()).with_reflection(flat(40.0));
        (0..3).fold(alone, |lane, _| lane.with_near_end(flat(80.0)))
    };
    (1..=4).map(pair).collect()
}

#[test]
fn a_lossless_lane_carries_everything() {
    for ladder in ladders() {
        let lanes = if ladder.name == "ethernet" { pairs(0.0) } else { lanes(4, &line(25e6, 801, 0.0, 5.0)) };
        let grade = grade(ladder, &lanes, ladder.rates.first());
        for rate in &grade.rates {
            assert_eq!(rate.carries, Carries::Yes, "{}", rate.name);
        }
        let steps = i64::try_from(ladder.rates.len()).unwrap() - 1;
        assert_eq!(grade.rated.unwrap().steps, steps);
        assert!(grade.lanes.iter().all(|count| count.highest.is_some() && count.not_judged.is_empty()));
    }
}

#[test]
fn the_lane_that_is_worst_decides() {
    let display = ladder("displayport").unwrap();
    let mut cable = lanes(4, &line(25e6, 801, 2.0, 5.0));
    cable[2] = Lane::new("lane 2", line(25e6, 801, 30.0, 5.0));
    let grade = grade(display, &cable, display.rate("UHBR20"));
    let [four, two, one] = grade.lanes.as_slice() else { panic!("{:?}", grade.lanes) };
    assert_eq!((four.lanes, two.lanes, one.lanes), (4, 2, 1));
    assert_eq!(two.highest.as_deref(), Some("UHBR20"));
    assert_eq!((two.steps, one.steps), (Some(0), Some(0)));
    assert!(four.steps.unwrap() < 0 && four.highest.as_deref() != Some("UHBR20"), "{four:?}");
    let rated = grade.rated.unwrap();
    assert!(matches!(&rated.carries, Carries::No(why) if why.starts_with("lane 2: the eye is")), "{rated:?}");
    assert_eq!(rated.worst.as_deref(), Some("lane 2"));
    assert!(rated.steps < 0 && rated.reached == four.highest);
    assert!(grade.standing.contains("no certification"));
    assert!(
        grade.rates.iter().all(|rate| rate.judged_by.contains("published mask") && rate.conditions.contains("own estimates"))
    );
}

#[test]
fn what_a_file_does_not_hold_is_not_judged() {
    let display = ladder("displayport").unwrap();
    // up to 10 GHz: enough for 8.1 Gbit/s and 10 Gbit/s, not for 13.5 Gbit/s
    let cable = grade(display, &lanes(4, &line(25e6, 401, 1.0, 5.0)), display.rate("UHBR20"));
    for rate in &cable.rates {
        let judged = rate.gbits <= 10.0;
        assert_eq!(
            judged,
            !matches!(&rate.carries, Carries::NotJudged(why) if why.contains("the file ends at 10.000 GHz")),
            "{rate:?}"
        );
    }
    assert_eq!(cable.lanes[0].highest.as_deref(), Some("UHBR10"));
    assert_eq!(cable.lanes[0].not_judged, ["UHBR13.5", "UHBR20"]);
    // steps too wide
    let coarse = grade(display, &lanes(1, &line(1e9, 31, 1.0, 0.1)), None);
    assert!(
        matches!(&coarse.rates[0].carries, Carries::NotJudged(why) if why.contains("too far")),
        "{:?}",
        coarse.rates[0].carries
    );
    // no lane at all
    assert!(matches!(grade(display, &[], None).rates[0].carries, Carries::NotJudged(_)));
    // Ethernet without crosstalk
    let ethernet = ladder("ethernet").unwrap();
    let alone = grade(ethernet, &lanes(4, &line(0.5e6, 1201, 0.0, 5.0)), ethernet.rate("Cat 6"));
    assert!(matches!(&alone.rated.unwrap().carries, Carries::NotJudged(why) if why.contains("near-end crosstalk: not measured")));
}

#[test]
fn ethernet_by_its_lines() {
    let ethernet = ladder("ethernet").unwrap();
    // 6.51 dB at 10 MHz: within class E there (6.56 dB), beyond class EA (6.47 dB)
    let grade = grade(ethernet, &pairs(20.6), ethernet.rate("Cat 6A"));
    let rated = grade.rated.unwrap();
    assert_eq!((rated.reached.as_deref(), rated.steps), (Some("5GBASE-T"), -1));
    assert!(matches!(&rated.carries, Carries::No(why) if why.contains("insertion loss of")), "{:?}", rated.carries);
    let lane = &grade.rates[4].lanes[0];
    let loss = &lane.lines[0];
    let limit = Limits::ClassE.at(Quantity::InsertionLoss, loss.mhz).unwrap().max(4.0);
    assert!((loss.measured - 20.6 * (loss.mhz / 100.0).sqrt()).abs() < 1e-6 && (loss.limit - limit).abs() < 1e-9, "{loss:?}");
    assert!(loss.margin > 0.0 && loss.margin < 0.8);
    // 5 ns through the line, and what the phase of the skin effect adds: as many radians as the loss has neper
    let delay = lane.lines.iter().find(|line| line.quantity == Quantity::Delay).unwrap();
    let neper = 20.6 * std::f64::consts::LN_10 / 20.0 * (delay.mhz / 100.0).sqrt();
    assert!((delay.measured - 5.0 - neper / TAU / delay.mhz * 1e3).abs() < 1e-6, "{delay:?}");
    let skew = lane.lines.iter().filter(|line| line.quantity == Quantity::Skew);
    assert_eq!(
        skew.map(|line| (line.other, line.measured)).collect::<Vec<_>>(),
        [(Some(2), 0.0), (Some(3), 0.0), (Some(4), 0.0)]
    );
    // crosstalk against the right pair, and skew
    let mut cable = pairs(10.0);
    cable[1].near_end[1] = Spectrum::new(0.5e6, vec![Complex64::from(0.03); 1201]).unwrap();
    cable[3].through = line(0.5e6, 1201, 10.0 / (100e6_f64 / 5e9).sqrt(), 65.0);
    let grade = crate::eye::grade(ethernet, &cable, None);
    let Carries::No(why) = &grade.rates[3].lanes[1].carries else { panic!("{:?}", grade.rates[3].lanes[1]) };
    assert!(why.contains("near-end crosstalk loss against lane 3") && why.contains("skew against lane 4 of 60.00 ns"), "{why}");
}

#[test]
fn the_equaliser_that_helps_is_taken() {
    let usb = ladder("usb3").unwrap();
    let grade = grade(usb, &lanes(1, &line(25e6, 801, 5.9, 5.0)), None);
    let received = grade.rates[1].lanes[0].eye.as_ref().unwrap();
    assert!(received.setting.is_some() && received.received.height_mv > 70.0, "{received:?}");
    let Judged::Eye(rule) = &usb.rates[1].judged else { panic!() };
    let equaliser = rule.equaliser.as_ref().unwrap();
    assert_eq!(equaliser.settings.len(), 7);
    // USB 3.2, figure 6-27, long channel: 0.667 at 0 Hz; a peak between the poles
    let Judged::Eye(first) = &usb.rates[0].judged else { panic!() };
    let long: &Ctle = &first.equaliser.as_ref().unwrap().settings[0];
    assert!((long.gain(0.0).norm() - 0.667).abs() < 5e-4 && long.gain(3e9).norm() > 1.0);
    // too much loss for the published budget, however open the eye
    let lossy = crate::eye::grade(usb, &lanes(1, &line(25e6, 801, 6.5, 5.0)), None);
    assert!(
        matches!(&lossy.rates[1].carries, Carries::No(why) if why.contains("the loss at 5000 MHz")),
        "{:?}",
        lossy.rates[1].carries
    );
}

fn height(carries: &Carries) -> u8 {
    u8::from(carries.yes())
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 10, failure_persistence: None, ..ProptestConfig::default() })]

    /// More of the same loss, or the same signal made smaller, never carries more.
    #[test]
    fn a_worse_channel_never_gets_a_higher_grade(loss in 0.0..30.0_f64, more in 0.0..10.0_f64, smaller in 0.3..1.0_f64) {
        for name in ["displayport", "usb3", "frl", "tmds", "usb2"] {
            let ladder = ladder(name).unwrap();
            let good = line(50e6, 401, loss, 3.0);
            let small = Spectrum::new(50e6, good.values().iter().map(|value| value * smaller).collect()).unwrap();
            let better = grade(ladder, &lanes(1, &good), None);
            for worse in [line(50e6, 401, loss + more, 3.0), small] {
                let worse = grade(ladder, &lanes(1, &worse), None);
                for (better, worse) in better.rates.iter().zip(&worse.rates) {
                    prop_assert!(height(&worse.carries) <= height(&better.carries), "{name} {loss} {more} {smaller} {}", better.name);
                }
            }
        }
    }

    #[test]
    fn no_spectrum_makes_it_panic(
        step in prop_oneof![1e-3..1e3_f64, 1e5..1e8_f64, 1e8..1e12_f64, Just(f64::MIN_POSITIVE), Just(f64::MAX)],
        values in prop::collection::vec((-2.0..2.0_f64, -2.0..2.0_f64), 2..200),
        scale in prop_oneof![Just(1.0), Just(0.0), Just(1e-300), Just(1e300), Just(f64::MAX / 4.0)],
    ) {
        let values: Vec<Complex64> = values.iter().map(|(re, im)| Complex64::new(re * scale, im * scale)).collect();
        let through = Spectrum::new(step, values).unwrap();
        for ladder in ladders() {
            let lane = Lane::new("any", through.clone()).with_reflection(through.clone()).with_near_end(through.clone()).with_far_end(through.clone());
            let grade = grade(ladder, &[lane.clone(), lane], ladder.rates.last());
            prop_assert!(serde_json::to_string(&grade).is_ok());
        }
        for samples in [0, 1, 7, 64, 100_000] {
            for drive in [Drive::new(5e9, 0.0), Drive::new(0.0, 1.0), Drive::new(f64::MAX, f64::NAN)] {
                if let Some(pulse) = Pulse::new(&through, drive, samples) {
                    let worst = peak_distortion(&pulse, Feedback::new(f64::NAN), 0.0);
                    let eye = StatisticalEye::new(&pulse, worst.tap, &[], Disturbance::default(), 1e-3);
                    if let Some(eye) = eye {
                        let (width, instant) = eye.width(1e-6);
                        prop_assert!((0.0..=1.0).contains(&width));
                        prop_assert!(eye.height(instant, 0.0).is_finite());
                    }
                    let _ = EyeDensity::new(&pulse, 0.0, &Disturbance::default(), 8);
                }
            }
        }
    }
}
