//! What must hold for any network.

use backshell::signal::{Complex64, Network, Pair, Quality, Settings, Term, analyse};
use proptest::prelude::*;

use super::model::{Line, coupled, steps, then, uncoupled};

fn line() -> impl Strategy<Value = Line> {
    (25.0..90.0, 0.4..1.0, 0.0..1.0, 0.0..60.0, 0.0..0.03, 0.001..0.6)
        .prop_map(|(ohm, factor, resistance, skin, tangent, length)| Line { ohm, factor, resistance, skin, tangent, length })
}

/// Any figure that a file may hold.
fn figure() -> impl Strategy<Value = f64> {
    prop_oneof![
        -1.5..1.5,
        Just(0.0),
        Just(1.0),
        Just(-1.0),
        -1e3..1e3,
        -1e-9..1e-9,
        prop::num::f64::NORMAL | prop::num::f64::SUBNORMAL
    ]
}

fn network() -> impl Strategy<Value = Network> {
    let gap = prop_oneof![Just(1e7), 1.0..1e9, Just(1e-3), Just(1e12)];
    (prop_oneof![Just(4usize), Just(8)], prop_oneof![Just(0.0), 0.0..1e9], prop::collection::vec(gap, 1..12), prop::bool::ANY)
        .prop_flat_map(|(ports, first, gaps, even)| {
            let mut frequencies = vec![first];
            for gap in &gaps {
                let gap = if even { gaps[0] } else { *gap };
                frequencies.push(frequencies.last().unwrap() + gap);
            }
            let cells = frequencies.len() * ports * ports;
            let values = prop::collection::vec((figure(), figure()), cells);
            let reference = prop::collection::vec(prop_oneof![Just(50.0), 1e-3..1e5], ports);
            (Just(frequencies), reference, values)
        })
        .prop_filter_map("frequencies must rise", |(frequencies, reference, values)| {
            let scattering = values.into_iter().map(|(re, im)| Complex64::new(re, im)).collect();
            Network::new(frequencies, reference, scattering)
        })
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 24, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn any_network_is_analysed_or_refused(network in network(), length in prop::option::of(1e-3..1e3), ohm in prop::option::of(1e-2..1e4)) {
        let mut settings = Settings::default();
        (settings.length_m, settings.differential_ohm) = (length, ohm);
        if let Ok(analysis) = analyse(&network, &settings) {
            let again = serde_json::to_string(&analysis).unwrap();
            prop_assert_eq!(again, serde_json::to_string(&analyse(&network, &settings).unwrap()).unwrap());
            for pair in &analysis.pairs {
                for curve in [&pair.insertion_loss, &pair.return_loss_near, &pair.loss_without_conversion, &pair.delay.group_delay] {
                    prop_assert!(curve.y.iter().all(|value| value.is_finite()));
                }
            }
        }
    }

    #[test]
    fn cascades_are_passive_and_reciprocal(p in prop::collection::vec(line(), 1..5), n in prop::collection::vec(line(), 1..5), loss in prop::bool::ANY) {
        let of = |lines: &[Line], hertz: f64| {
            let lossless = |line: &Line| Line { resistance: 0.0, skin: 0.0, tangent: 0.0, ..*line };
            let chains = lines.iter().map(|line| if loss { *line } else { lossless(line) }).map(|line| line.chain(hertz));
            chains.reduce(then).unwrap()
        };
        let frequencies = steps(40e6, 60);
        let apart = uncoupled(&frequencies, |hertz| of(&p, hertz), |hertz| of(&n, hertz));
        let together = coupled(&frequencies, |hertz| of(&p, hertz), |hertz| of(&n, hertz), 7e-12);
        for network in [apart, together] {
            for ohm in [None, Some(85.0), Some(140.0)] {
                let pair = Pair::new(&network, ohm).unwrap();
                for part in [network.clone(), pair.differential().unwrap(), pair.common().unwrap()] {
                    let quality = Quality::of(&part).unwrap();
                    prop_assert_eq!(quality.energy_cautions("It"), Vec::<String>::new());
                    prop_assert!(quality.largest_singular_value < 1.0 + 1e-9, "{}", quality.largest_singular_value);
                    if !loss && part.ports() == 4 {
                        prop_assert!(quality.largest_singular_value > 1.0 - 1e-9, "{}", quality.largest_singular_value);
                    }
                }
            }
        }
    }

    /// P and N exchanged at both ends: the same pair, with the skew the other way round. Near and far exchanged: the views too.
    #[test]
    fn exchanged_conductors_and_ends(p in line(), n in line(), end in line()) {
        let frequencies = steps(40e6, 150);
        let network = uncoupled(&frequencies, |hertz| then(p.chain(hertz), end.chain(hertz)), |hertz| then(n.chain(hertz), end.chain(hertz)));
        let (pair, crossed) = (Pair::new(&network, None).unwrap(), Pair::new(&network.reordered(&[1, 0, 3, 2]).unwrap(), None).unwrap());
        for (term, sign) in [(Term::Sdd21, 1.0), (Term::Sdd11, 1.0), (Term::Scc21, 1.0), (Term::Scd21, -1.0), (Term::Sdc21, -1.0)] {
            for (a, b) in pair.term(term).iter().zip(crossed.term(term)) {
                prop_assert!((a - b * sign).norm() < 1e-12);
            }
        }
        let turned = network.reordered(&[2, 3, 0, 1]).unwrap();
        let settings = Settings::default().with_length_m(1.0);
        let [here, other, back] = [&network, &network.reordered(&[1, 0, 3, 2]).unwrap(), &turned].map(|network| analyse(network, &settings).unwrap().pairs.remove(0));
        let near = |a: Option<f64>, b: Option<f64>, sign: f64| (a.unwrap_or(0.0) - sign * b.unwrap_or(0.0)).abs() < 1e-15;
        prop_assert!(near(here.delay.skew_phase_s, other.delay.skew_phase_s, -1.0));
        prop_assert!(near(here.delay.step_s, other.delay.step_s, 1.0));
        if let (Some(here), Some(back)) = (here.impedance, back.impedance) {
            prop_assert!((here.near.largest_ohm - back.far.largest_ohm).abs() < 1e-6);
            prop_assert!((here.far.smallest_ohm - back.near.smallest_ohm).abs() < 1e-6);
        }
    }

    /// The same scattering at twice the reference is twice the impedance, and frequencies by half are times by two.
    #[test]
    fn scales(line in line(), end in line()) {
        let frequencies = steps(40e6, 200);
        let chain = |hertz| then(line.chain(hertz), end.chain(hertz));
        let network = uncoupled(&frequencies, chain, chain);
        let values: Vec<Complex64> = (0..200).flat_map(|row| network.matrix(row).to_vec()).collect();
        let of = |frequencies: &[f64], ohm: f64, slower: f64| {
            let network = Network::new(frequencies.to_vec(), vec![ohm; 4], values.clone()).unwrap();
            let settings = Settings::default().with_reflection_rise_s(400e-12 * slower).with_transmission_rise_s(400e-12 * slower).with_skew_band_hz([1e9 / slower, 5e9 / slower]);
            analyse(&network, &settings).unwrap().pairs.remove(0)
        };
        let (one, doubled) = (of(&frequencies, 50.0, 1.0), of(&frequencies, 100.0, 1.0));
        let slow = of(&steps(20e6, 200), 50.0, 2.0);
        if let (Some(a), Some(b)) = (&one.impedance, &doubled.impedance) {
            prop_assert!((a.near.largest_ohm * 2.0 - b.near.largest_ohm).abs() < 1e-6);
        }
        if let (Some(a), Some(b)) = (one.delay.phase_s, slow.delay.phase_s) {
            prop_assert!((a * 2.0 - b).abs() < 1e-15);
        }
        if let (Some(a), Some(b)) = (one.delay.step_s, slow.delay.step_s) {
            prop_assert!((a * 2.0 - b).abs() < 1e-12, "{a} {b}");
        }
    }
}
