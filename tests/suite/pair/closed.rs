//! Pairs whose figures are known in closed form.

use std::f64::consts::PI;

use backshell::signal::{
    Complex64, Curve, DcPoint, DcSource, Form, LossFit, Network, Pair, PairAnalysis, Settings, Term, Window, analyse, decibels,
    impedance, two_pairs,
};

use super::model::{LIGHT, Line, coupled, series, steps, then, uncoupled};

fn close(what: &str, value: f64, wanted: f64, within: f64) {
    assert!((value - wanted).abs() <= within, "{what}: {value}, wanted {wanted} within {within}");
}

fn analysed(network: &Network, settings: &Settings) -> PairAnalysis {
    analyse(network, settings).unwrap().pairs.remove(0)
}

/// Two like lines of a conductor impedance in ohm, of a length in metres at 0.7 of light, N longer by seconds.
fn lines(ohm: f64, metres: f64, later: f64) -> Network {
    let p = Line::lossless(ohm, 0.7, metres);
    let n = Line::lossless(ohm, 0.7, metres + later * 0.7 * LIGHT);
    uncoupled(&steps(20e6, 1000), |hertz| p.chain(hertz), |hertz| n.chain(hertz))
}

#[test]
fn a_matched_line_without_loss() {
    let pair = analysed(&lines(50.0, 2.0, 0.0), &Settings::default().with_length_m(2.0));
    let wanted = 2.0 / (0.7 * LIGHT);
    close("by step", pair.delay.step_s.unwrap(), wanted, 1e-14);
    close("by phase", pair.delay.phase_s.unwrap(), wanted, 1e-17);
    close("group", pair.delay.group_s.unwrap(), wanted, 1e-17);
    assert!(pair.insertion_loss.y.iter().all(|loss| loss.abs() < 1e-10));
    assert!(pair.return_loss_near.y.iter().all(|loss| *loss > 190.0));
    let along = pair.impedance.unwrap();
    close("velocity factor", along.velocity_factor.unwrap(), 0.7, 1e-6);
    close("line", along.near.line_ohm, 100.0, 1e-6);
    close("largest", along.near.largest_ohm, 100.0, 1e-6);
    assert_eq!(along.worst, None);
    assert!(pair.delay.skew_phase_s.unwrap().abs() < 1e-18 && pair.delay.skew_step_s.unwrap().abs() < 1e-18);
}

/// A line of 120 ohm on 100 ohm: rho = 20/220, |Sdd11| at most 2 rho/(1 + rho²) where it is a quarter of a wave long.
#[test]
fn a_known_mismatch() {
    let settings = Settings::default().with_length_m(2.0).with_loop_ohm(0.0);
    let pair = analysed(&lines(60.0, 2.0, 0.0), &settings);
    let rho: f64 = 20.0 / 220.0;
    let worst = pair.return_loss_near.y.iter().copied().fold(f64::INFINITY, f64::min);
    close("return loss", worst, -decibels(2.0 * rho / (1.0 + rho * rho)), 0.001);
    let along = pair.impedance.unwrap();
    close("line", along.near.line_ohm, 120.0, 0.05);
    close("in the middle", along.near.over_time.at(9e-9).unwrap(), 120.0, 0.05);
    // the reference is no fault of the cable: the steps at its ends don't count
    assert!(along.worst.is_none_or(|worst| worst.deviation_ohm.abs() < 0.5), "{:?}", along.worst);
    // table of reflections: 100 ohm and 110, 90, 85, 120
    for (ohm, reflection) in [(110.0, 0.047_619), (90.0, -0.052_632), (85.0, -0.081_081), (120.0, 0.090_909)] {
        close("ohm", impedance(reflection, 100.0), ohm, 0.001);
    }
}

/// |Sdd21| = |cos(π f Δt)|, |Scd21| = |sin(π f Δt)|, first null at 1/(2Δt); the table has 20 ps at 4.05 GHz.
#[test]
fn skew_alone() {
    let network = lines(50.0, 1.0, 20e-12);
    let pair = Pair::new(&network, None).unwrap();
    for ((hertz, through), converted) in network.frequencies().iter().zip(pair.term(Term::Sdd21)).zip(pair.term(Term::Scd21)) {
        close("Sdd21", through.norm(), (PI * hertz * 20e-12).cos().abs(), 1e-9);
        close("Scd21", converted.norm(), (PI * hertz * 20e-12).sin().abs(), 1e-9);
    }
    let told = analysed(&network, &Settings::default()).delay;
    close("by phase", told.skew_phase_s.unwrap(), -20e-12, 1e-17);
    close("by step", told.skew_step_s.unwrap(), -20e-12, 2e-14);
    close("first null", told.first_null_hz.unwrap(), 25e9, 1e3);
    close("loss", told.skew_loss_db(4.05e9).unwrap(), 0.2843, 1e-4);
    // within the sweep a skew of 50 ps cancels the pair at 10 GHz
    let loss = analysed(&lines(50.0, 1.0, 50e-12), &Settings::default()).insertion_loss;
    let deepest = loss.points().max_by(|a, b| a.1.total_cmp(&b.1)).unwrap();
    close("null", deepest.0, 10e9, 1.0);
    assert!(deepest.1 > 150.0);
}

#[test]
fn a_series_resistance_at_zero() {
    let both = |from: f64| -> Vec<f64> { (0..200).map(|at| from + f64::from(at) * 10e6).collect() };
    for ohm in [0.0, 1.036, 40.0] {
        let through = 200.0 / (200.0 + ohm);
        let frequencies = both(0.0);
        let network = |frequencies: &[f64]| uncoupled(frequencies, |_| series(ohm / 2.0), |_| series(ohm / 2.0));
        let row = DcPoint::of(&Pair::new(&network(&frequencies), None).unwrap(), None).unwrap();
        let line = DcPoint::of(&Pair::new(&network(&both(10e6)), None).unwrap(), None).unwrap();
        let known = DcPoint::of(&Pair::new(&network(&both(10e6)), None).unwrap(), Some(ohm)).unwrap();
        for (dc, source) in [(row, DcSource::FileRow), (line, DcSource::RootLine), (known, DcSource::LoopResistance)] {
            assert_eq!(dc.source, source);
            close("Sdd21", dc.sdd21, through, 1e-9);
            close("Sdd11", dc.sdd11, 1.0 - through, 1e-9);
            close("loop", dc.loop_ohm, ohm, 1e-6);
        }
        // on 85 ohm the same resistance stands for another Sdd21
        let dc = DcPoint::of(&Pair::new(&network(&frequencies), Some(85.0)).unwrap(), None).unwrap();
        close("Sdd21 on 85", dc.sdd21, 170.0 / (170.0 + ohm), 1e-9);
        close("loop on 85", dc.loop_ohm, ohm, 1e-6);
    }
    let made_up = uncoupled(&both(0.0), |_| series(20.0), |_| series(20.0));
    let pair = analysed(&made_up, &Settings::default().with_loop_ohm(1.0));
    assert!(pair.cautions.iter().any(|caution| caution.contains("many analysers make it up")), "{:?}", pair.cautions);
}

/// A line of 85 ohm differential, odd 42.5 and even 70, doesn't reflect on 85 ohm; and back at 100 ohm all is as it was.
#[test]
fn other_references() {
    let (odd, even) = (Line::lossless(42.5, 0.7, 1.0), Line::lossless(70.0, 0.7, 1.0));
    let network = coupled(&steps(20e6, 500), |hertz| odd.chain(hertz), |hertz| even.chain(hertz), 0.0);
    let pair = Pair::new(&network, Some(85.0)).unwrap();
    assert_eq!((pair.differential_ohm(), pair.common_ohm()), (85.0, 21.25));
    assert!(pair.term(Term::Sdd11).iter().all(|value| value.norm() < 1e-12));
    assert!(Pair::new(&network, None).unwrap().term(Term::Sdd11).iter().any(|value| value.norm() > 0.1));
    let there = network.renormalised(&[42.5, 30.0, 75.0, 42.5]).unwrap();
    let back = there.renormalised(&[50.0; 4]).unwrap();
    for row in 0..network.frequencies().len() {
        for (a, b) in network.matrix(row).iter().zip(back.matrix(row)) {
            assert!((a - b).norm() < 1e-10, "{}", (a - b).norm());
        }
    }
    // a straight join of 50 to 75 ohm reflects (75 − 50)/(75 + 50) and passes 2 √(50·75)/(50 + 75)
    let join = [0.0, 1.0, 1.0, 0.0].map(Complex64::from);
    let join = Network::new(vec![1e9], vec![50.0; 2], join.to_vec()).unwrap().renormalised(&[50.0, 75.0]).unwrap();
    let wanted = [0.2, 2.0 * 3750f64.sqrt() / 125.0, 2.0 * 3750f64.sqrt() / 125.0, -0.2];
    for (value, wanted) in join.matrix(0).iter().zip(wanted) {
        close("join", value.re, wanted, 1e-12);
    }
    assert_eq!(network.renormalised(&[0.0; 4]), None);
    assert_eq!(network.renormalised(&[50.0; 3]), None);
}

/// A short section of 120 ohm at 1.2 m of 2 m, from both ends; the line grows by 6 ohm without losing anything.
#[test]
fn a_fault_at_a_known_place() {
    let chain = |hertz: f64| {
        let before = then(Line::lossless(50.0, 0.7, 1.2).chain(hertz), Line::lossless(60.0, 0.7, 0.05).chain(hertz));
        then(before, Line::lossless(50.0, 0.7, 0.75).chain(hertz))
    };
    let network = uncoupled(&steps(20e6, 1000), chain, chain);
    let along = analysed(&network, &Settings::default().with_length_m(2.0)).impedance.unwrap();
    for view in [&along.near, &along.far] {
        let place = view.worst.unwrap();
        close("place from the near end, m", place.from_near_m.unwrap(), 1.225, 0.005);
        close("place from the far end, m", place.from_far_m.unwrap(), 0.775, 0.005);
        close("ohm", place.ohm, 120.0, 0.3);
        close("rho", place.reflection, 20.0 / 220.0, 0.002);
    }
    // a line that changes: 100 ohm for half of it, 106 after; nothing lost, so nothing of it is copper
    let change = |hertz: f64| then(Line::lossless(50.0, 0.7, 1.0).chain(hertz), Line::lossless(53.0, 0.7, 1.0).chain(hertz));
    let changed = analysed(&uncoupled(&steps(20e6, 1000), change, change), &Settings::default()).impedance.unwrap();
    close("rise by copper", changed.near.copper_rise_ohm, 0.0, 0.3);
    assert!(changed.near.line_change_ohm > 3.0, "{}", changed.near.line_change_ohm);
}

#[test]
fn conductors_exchanged_at_one_end() {
    let network = lines(50.0, 1.0, 20e-12).reordered(&[0, 1, 3, 2]).unwrap();
    let pair = analysed(&network, &Settings::default());
    close("Sdd21 at 0 Hz", pair.dc.sdd21, -1.0, 1e-6);
    close("delay", pair.delay.step_s.unwrap(), 1.0 / (0.7 * LIGHT) + 10e-12, 2e-14);
    close("phase", pair.delay.phase_s.unwrap(), 1.0 / (0.7 * LIGHT) + 10e-12, 2e-14);
    close("skew", pair.delay.skew_phase_s.unwrap(), 20e-12, 1e-16);
    close("skew by step", pair.delay.skew_step_s.unwrap(), 20e-12, 2e-14);
    assert!(pair.cautions.iter().any(|caution| caution.contains("exchanged at one end")), "{:?}", pair.cautions);
}

#[test]
fn a_record_too_short_is_said() {
    let said = |metres: f64, settings: &Settings| {
        let cautions = analysed(&lines(50.0, metres, 0.0), settings).cautions;
        cautions.iter().find(|caution| caution.contains("too short for")).cloned()
    };
    // 20 MHz is 50 ns: 3 m are 14.3 ns and fit there and back, 4.5 m only one way, 9 m not at all
    assert_eq!(said(3.0, &Settings::default()), None);
    assert!(said(4.5, &Settings::default()).unwrap().contains("an echo from its far end"));
    assert!(said(9.0, &Settings::default()).unwrap().contains("the cable"));
    // 30 m wrap round three times and look short; the length tells
    let known = Settings::default().with_length_m(30.0).with_velocity_factor(0.7);
    assert!(said(30.0, &known).is_some());
}

/// Sweeps that don't lie on even steps give the same delays, and say that they were interpolated.
#[test]
fn uneven_sweeps() {
    let (p, n) = (Line { skin: 9.0, ..Line::lossless(50.0, 0.7, 1.0) }, Line { skin: 9.0, ..Line::lossless(50.0, 0.7, 1.004) });
    let offset: Vec<f64> = (0..1001).map(|at| 300e3 + f64::from(at) * 19.999_7e6).collect();
    let logarithmic: Vec<f64> = (0..4001).map(|at| 1e6 * 20_000f64.powf(f64::from(at) / 4000.0)).collect();
    let of = |frequencies: &[f64]| {
        let network = uncoupled(frequencies, |hertz| p.chain(hertz), |hertz| n.chain(hertz));
        analyse(&network, &Settings::default()).unwrap()
    };
    let even = of(&steps(20e6, 1000));
    assert!(!even.resampled);
    for uneven in [of(&offset), of(&logarithmic)] {
        assert!(
            uneven.resampled && uneven.cautions.iter().any(|caution| caution.contains("interpolated onto")),
            "{:?}",
            uneven.cautions
        );
        let (a, b) = (&even.pairs[0].delay, &uneven.pairs[0].delay);
        close("delay", b.step_s.unwrap(), a.step_s.unwrap(), 0.2e-12);
        close("skew", b.skew_step_s.unwrap(), a.skew_step_s.unwrap(), 0.1e-12);
    }
}

#[test]
fn crosstalk_of_eight_ports() {
    let o = Complex64::ZERO;
    let mut matrix = vec![o; 64];
    for (near, far) in [(0, 4), (1, 5), (2, 6), (3, 7)] {
        (matrix[far * 8 + near], matrix[near * 8 + far]) = (0.9.into(), 0.9.into());
    }
    // onto one conductor from one conductor: half of it is differential; onto both alike: none
    matrix[2 * 8] = 0.02.into();
    matrix[6 * 8] = 0.002.into();
    (matrix[6 * 8 + 4], matrix[7 * 8 + 4]) = (0.1.into(), 0.1.into());
    let network = Network::new(steps(1e9, 4), vec![50.0; 8], matrix.repeat(4)).unwrap();
    let (pairs, crosstalk) = two_pairs(&network, None).unwrap();
    assert!(pairs.iter().all(|pair| pair.decibels(Term::Sdd21).iter().all(|loss| (loss - decibels(0.9)).abs() < 1e-9)));
    close("NEXT near", crosstalk.next_near.y[0], 40.0, 1e-9);
    close("NEXT far", crosstalk.next_far.y[0], 200.0, 1e-9);
    close("FEXT 1 to 2", crosstalk.fext_first_to_second.y[0], 60.0, 1e-9);
    close("FEXT 2 to 1", crosstalk.fext_second_to_first.y[0], 200.0, 1e-9);
    let analysis = analyse(&network, &Settings::default()).unwrap();
    assert_eq!(analysis.pairs.len(), 2);
    assert!(analysis.crosstalk.is_some() && analysis.pair_skew_s.is_some());
}

#[test]
fn fits_find_what_was_put_in() {
    let hertz = steps(25e6, 400);
    let put = |f: f64| 0.3 + 1.25 * f.sqrt() + 0.32 * f + 0.05 * f.powf(1.5);
    let loss = Curve::new("frequency, Hz", "loss, dB", hertz.clone(), hertz.iter().map(|hertz| put(hertz / 1e9)).collect());
    let fit = LossFit::of(&loss, Form::FourTerm, [50e6, 12e9]).unwrap();
    let found = [fit.constant_db, fit.root_db_per_sqrt_ghz, fit.linear_db_per_ghz, fit.steep_db_per_ghz_1_5];
    for (found, wanted) in found.into_iter().zip([0.3, 1.25, 0.32, 0.05]) {
        close("coefficient", found, wanted, 1e-9);
    }
    assert!(fit.residual_rms_db < 1e-12 && fit.cautions().is_empty());
    close("at 5 GHz", fit.at(5e9), put(5.0), 1e-12);
    // the table: 1.25 √f + 0.32 f at 4.05 GHz
    let two = hertz.iter().map(|hertz| 1.25 * (hertz / 1e9).sqrt() + 0.32 * hertz / 1e9).collect();
    let two = Curve::new("frequency, Hz", "loss, dB", hertz, two);
    close("at 4.05 GHz", LossFit::of(&two, Form::TwoTerm, [50e6, 12e9]).unwrap().at(4.05e9), 3.8116, 1e-4);
    assert_eq!(LossFit::of(&two, Form::FourTerm, [1e9, 1.2e9]), None);
}

/// 1/I0(6), I0 from tables of Bessel functions (67.2344 at 6).
#[test]
fn kaiser_window() {
    close("middle", Window::Kaiser(6.0).weight(0.0), 1.0, 1e-15);
    close("end", Window::Kaiser(6.0).weight(1.0), 1.0 / 67.234_4, 1e-8);
    close("none", Window::None.weight(1.0), 1.0, 0.0);
}

#[test]
fn what_can_not_be_meant_is_refused() {
    let network = lines(50.0, 1.0, 0.0);
    let refused = |settings: Settings| analyse(&network, &settings).unwrap_err();
    assert!(refused(Settings::default().with_length_m(-1.0)).contains("length"));
    assert!(refused(Settings::default().with_velocity_factor(1.2)).contains("faster than light"));
    assert!(refused(Settings::default().with_loop_ohm(f64::NAN)).contains("loop resistance"));
    assert!(refused(Settings::default().with_skew_band_hz([2e9, 1e9])).contains("band"));
    let two = network.part(&[0, 2]).unwrap();
    assert!(analyse(&two, &Settings::default()).unwrap_err().contains("this network has 2"));
    let short = Network::new(vec![0.0, 1e9], vec![50.0; 4], vec![Complex64::ZERO; 32]).unwrap();
    assert!(analyse(&short, &Settings::default()).unwrap_err().contains("three frequencies"));
}

/// Nothing comes through: no delay is made up, and the view along the cable needs length and velocity.
#[test]
fn an_open_far_end() {
    let line = Line::lossless(50.0, 0.7, 1.0);
    let chain = |hertz: f64| then(line.chain(hertz), series(1e9));
    let open = uncoupled(&steps(20e6, 500), chain, chain);
    let pair = analysed(&open, &Settings::default());
    assert_eq!((pair.delay.step_s, pair.delay.skew_step_s), (None, None));
    assert!(pair.impedance.is_none());
    let said = |what: &str| pair.cautions.iter().any(|caution| caution.contains(what));
    assert!(said("the far end is open") && said("no delay by step") && said("no view along the cable"), "{:?}", pair.cautions);
    let known = Settings::default().with_length_m(1.0).with_velocity_factor(0.7);
    let along = analysed(&open, &known).impedance.unwrap();
    close("in the middle", along.near.over_time.at(4e-9).unwrap(), 100.0, 0.5);
    assert!(along.near.over_time.y.last().unwrap() > &1000.0);
}

/// A pair in odd-even order read as sequential has nothing coming through.
#[test]
fn ports_in_another_order() {
    let analysis = analyse(&super::model::file("pair_a_uncoupled"), &Settings::default()).unwrap();
    assert!(analysis.cautions.iter().any(|caution| caution.contains("ports 1 and 3 at the near end")), "{:?}", analysis.cautions);
    let pair = &analysis.pairs[0];
    assert!(pair.cautions.iter().any(|caution| caution.contains("stand in another order")), "{:?}", pair.cautions);
}

/// A sweep that ends at 500 MHz: slower edges, another band for skew, and all of it said.
#[test]
fn a_short_sweep() {
    let (p, n) = (Line::lossless(50.0, 0.7, 3.0), Line::lossless(50.0, 0.7, 3.01));
    let network = uncoupled(&steps(2e6, 250), |hertz| p.chain(hertz), |hertz| n.chain(hertz));
    let analysis = analyse(&network, &Settings::default()).unwrap();
    let pair = &analysis.pairs[0];
    close("rise", pair.delay.rise_s, 2e-9, 1e-15);
    close("skew by phase", pair.delay.skew_phase_s.unwrap(), -0.01 / (0.7 * LIGHT), 1e-15);
    close("skew by step", pair.delay.skew_step_s.unwrap(), -0.01 / (0.7 * LIGHT), 1e-12);
    assert_eq!(analysis.cautions.iter().filter(|caution| caution.contains("sweep ends at 0.500 GHz")).count(), 2);
    assert!(pair.cautions.iter().any(|caution| caution.contains("band for skew")), "{:?}", pair.cautions);
    let sharp = Settings::default().with_reflection_rise_s(100e-12);
    let cautions = analyse(&network, &sharp).unwrap().cautions;
    assert!(cautions.iter().any(|caution| caution.contains("steps ring") && caution.contains("2000.0 ps")), "{cautions:?}");
}

/// Length, delay and velocity factor against each other.
#[test]
fn a_length_that_does_not_fit() {
    let said = |length, factor| {
        let mut settings = Settings::default().with_length_m(length);
        settings.velocity_factor = factor;
        analysed(&lines(50.0, 1.0, 0.0), &settings).cautions.join("\n")
    };
    let known = Settings::default().with_velocity_factor(0.7);
    let along = analysed(&lines(50.0, 1.0, 0.0), &known).impedance.unwrap();
    close("length from the velocity factor", along.length_m.unwrap(), 1.0, 1e-4);
    assert_eq!(along.velocity_factor, Some(0.7));
    assert!(!said(1.0, Some(0.7)).contains("velocity"));
    assert!(said(1.1, Some(0.7)).contains("off by 10.0 %"));
    assert!(said(0.2, None).contains("Check the length"));
    assert!(said(2.0, None).contains("Check the length"));
}
