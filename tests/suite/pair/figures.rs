//! Figures of files that were made and analysed elsewhere, with numpy and scikit-rf.

use backshell::signal::{
    Analysis, Complex64, DcSource, Grade, Network, Pair, Quality, Settings, Steps, Term, Window, analyse, decibels, impedance,
    through,
};

use super::model::{LIGHT, Line, coupled, exact_step, file, sequential, steps, then, uncoupled};

fn close(what: &str, value: f64, wanted: f64, within: f64) {
    println!("{what}: {value:.6}, wanted {wanted}, off by {:.2e}", value - wanted);
    assert!((value - wanted).abs() <= within, "{what}: {value}, wanted {wanted} within {within}");
}

/// Sdd21, Sdd11, Scd21, Scc21 in dB and the angle of Sdd21 in degrees at a frequency in GHz.
type Row = (f64, [f64; 5]);

fn modes(name: &str, rows: &[Row]) {
    modes_of(name, &sequential(name), rows);
}

fn modes_of(name: &str, network: &Network, rows: &[Row]) {
    let pair = Pair::new(network, None).unwrap();
    for (ghz, wanted) in rows {
        let at = pair.frequencies().iter().position(|hertz| (hertz - ghz * 1e9).abs() < 1.0).unwrap();
        for (term, wanted) in [Term::Sdd21, Term::Sdd11, Term::Scd21, Term::Scc21].into_iter().zip(wanted) {
            let value = pair.decibels(term)[at];
            if *wanted <= -120.0 {
                assert!(value <= -120.0, "{name} {term:?} {ghz}: {value}");
            } else {
                close(&format!("{name} {term:?} at {ghz} GHz, dB"), value, *wanted, 0.01);
            }
        }
        close(&format!("{name} arg Sdd21 at {ghz} GHz"), pair.term(Term::Sdd21)[at].arg().to_degrees(), wanted[4], 0.006);
    }
}

#[test]
fn modes_of_the_files() {
    modes(
        "pair_a_uncoupled",
        &[
            (0.1, [-0.1219, -33.2047, -44.1122, -0.1219, -172.91]),
            (1.35, [-0.7184, -15.3423, -22.1132, -0.7184, -164.14]),
            (2.7, [-0.981, -35.8023, -16.2975, -0.981, 33.92]),
            (4.05, [-1.5469, -15.9183, -13.2376, -1.5469, -127.11]),
            (8.0, [-2.9695, -32.3048, -8.1624, -2.9695, -77.55]),
        ],
    );
    modes(
        "ex_p370_dut",
        &[
            (0.1, [-0.0394, -24.9652, -120.0, -0.0274, -13.47]),
            (1.0, [-1.0785, -7.437, -120.0, -0.8824, -129.93]),
            (2.5, [-1.6983, -6.2938, -120.0, -3.2721, 48.42]),
            (5.0, [-1.6135, -8.4926, -120.0, -2.1393, 86.76]),
            (10.0, [-2.9274, -7.0573, -120.0, -5.4301, 174.31]),
        ],
    );
    modes(
        "ex_p370_2xthru",
        &[
            (0.1, [-0.025, -41.3051, -120.0, -0.0738, -12.26]),
            (1.0, [-0.18, -30.4556, -120.0, -0.6327, -122.48]),
            (2.5, [-0.4123, -32.7754, -120.0, -0.6415, 53.70]),
            (5.0, [-0.7915, -34.1981, -120.0, -1.3735, 106.93]),
            (10.0, [-1.5382, -41.0091, -120.0, -2.5897, -149.60]),
        ],
    );
}

fn analysed(name: &str, settings: &Settings) -> Analysis {
    let analysis = analyse(&sequential(name), settings).unwrap();
    for caution in analysis.cautions.iter().chain(&analysis.pairs[0].cautions) {
        println!("{name}: {caution}");
    }
    analysis
}

#[test]
fn delay_and_skew_of_pair_a() {
    let analysis = analysed("pair_a_uncoupled", &Settings::default());
    let delay = &analysis.pairs[0].delay;
    close("skew by phase, ps", delay.skew_phase_s.unwrap() * 1e12, -20.018_43, 0.001);
    close("skew by step, ps", delay.skew_step_s.unwrap() * 1e12, -20.022_54, 0.1);
    close("delay by step, ps", delay.step_s.unwrap() * 1e12, 4_780.696_2, 0.1);
    close("group delay, ps", delay.group_s.unwrap() * 1e12, 4_779.823_7, 0.1);
    close("first null, GHz", delay.first_null_hz.unwrap() / 1e9, 25.0, 0.05);
    assert_eq!(analysis.pairs[0].dc.source, DcSource::FileRow);
    let two = analysis.pairs[0].two_term_fit.as_ref().unwrap();
    close("root of frequency, dB/sqrt GHz", two.root_db_per_sqrt_ghz, -0.165, 0.001);
    assert!(analysis.pairs[0].cautions.iter().any(|caution| caution.contains("Copper can't gain")));
    // 9 ohm a metre at 5 GHz on each 50 ohm conductor, without what the skew converts
    let unskewed = analysis.pairs[0].unskewed_fit.as_ref().unwrap();
    close("copper without skew, dB/sqrt GHz", unskewed.root_db_per_sqrt_ghz, 8.685_89 * 9.0 / 100.0 / 5f64.sqrt(), 0.08);
}

/// The largest and smallest impedance of a window in ns, with their times.
fn reflection(name: &str, from: f64, to: f64, rise: f64, at_zero: f64) -> [(f64, f64); 2] {
    let network = sequential(name);
    let pair = Pair::new(&network, None).unwrap();
    let grid = backshell::signal::Grid::of(pair.frequencies()).unwrap();
    let spectrum = grid.spectrum(pair.frequencies(), &pair.term(Term::Sdd11), at_zero).unwrap();
    let step = Steps::new(Window::None).response(&spectrum, rise, "reflection").between(from * 1e-9, to * 1e-9);
    let ohm = |(time, rho): (f64, f64)| (impedance(rho, 100.0), time * 1e9);
    let largest = step.points().map(ohm).max_by(|a, b| a.0.total_cmp(&b.0)).unwrap();
    [largest, step.points().map(ohm).min_by(|a, b| a.0.total_cmp(&b.0)).unwrap()]
}

#[test]
fn reflection_of_the_files() {
    let [largest, smallest] = reflection("pair_a_uncoupled", 0.001, 9.0, 100e-12, 0.000_851);
    close("pair A peak, ohm", largest.0, 120.48, 0.01);
    close("pair A peak, ns", largest.1, 4.069, 0.002);
    close("pair A lowest, ohm", smallest.0, 100.04, 0.01);
    let [largest, smallest] = reflection("ex_p370_dut", 0.001, 6.0, 100e-12, 0.0);
    close("dut peak, ohm", largest.0, 99.911_5, 0.01);
    close("dut lowest, ohm", smallest.0, 52.834_4, 0.01);
    close("dut lowest, ns", smallest.1, 0.339, 0.002);
    let [largest, smallest] = reflection("ex_p370_2xthru", 0.001, 6.0, 100e-12, 0.0);
    close("2xthru peak, ohm", largest.0, 103.995_9, 0.01);
    close("2xthru peak, ns", largest.1, 0.336, 0.002);
    close("2xthru lowest, ohm", smallest.0, 99.983_7, 0.01);
}

#[test]
fn along_pair_a() {
    let settings = Settings::default().with_length_m(1.0);
    let analysis = analysed("pair_a_uncoupled", &settings);
    let impedance = analysis.pairs[0].impedance.as_ref().unwrap();
    close("velocity factor", impedance.velocity_factor.unwrap(), 0.7, 0.004);
    let worst = impedance.near.worst.unwrap();
    println!("{worst:#?}");
    close("middle of the section, m", worst.from_near_m.unwrap(), 0.42, 0.003);
    close("its begin", worst.extent[0], 0.400, 0.003);
    close("its end", worst.extent[1], 0.440, 0.003);
    close("reflection", worst.reflection, 0.0893, 0.002);
    let far = impedance.far.worst.unwrap();
    close("middle of the section from the far end, m", far.from_far_m.unwrap(), 0.58, 0.004);
    close("line, ohm", impedance.near.line_ohm, 100.0, 0.2);
    close("rise by copper, ohm", impedance.near.copper_rise_ohm, 1.4, 0.15);
    close("change of the line, ohm", impedance.near.line_change_ohm, 0.0, 0.1);
    // an estimate to a third: ripple and the corner of the skin effect are in the loss too
    close("expected rise, ohm", impedance.near.copper_rise_expected_ohm.unwrap(), 1.66, 0.5);
    close("resolution, m", impedance.resolution_m.unwrap(), 0.0105, 0.0001);
}

#[test]
fn delay_of_the_example_files() {
    for (name, step, group) in [("ex_p370_dut", 354.062_49, 337.769_59), ("ex_p370_2xthru", 340.612_82, 340.490_04)] {
        let analysis = analysed(name, &Settings::default().with_transmission_rise_s(100e-12));
        let delay = &analysis.pairs[0].delay;
        close("delay by step, ps", delay.step_s.unwrap() * 1e12, step, 0.1);
        close("group delay, ps", delay.group_s.unwrap() * 1e12, group, 0.1);
        close("skew by phase, ps", delay.skew_phase_s.unwrap() * 1e12, 0.0, 0.001);
        close("skew by step, ps", delay.skew_step_s.unwrap() * 1e12, 0.0, 0.001);
        close("Sdd21 at 0 Hz", analysis.pairs[0].dc.sdd21, 1.0, 1e-9);
    }
}

#[test]
fn quality_of_the_files() {
    for name in ["pair_a_uncoupled", "ex_p370_dut", "ex_p370_2xthru"] {
        let pair = Pair::new(&sequential(name), None).unwrap();
        let dd = Quality::of(&pair.differential().unwrap()).unwrap();
        let cc = Quality::of(&pair.common().unwrap()).unwrap();
        let common = if name == "ex_p370_dut" { 99.896 } else { 100.0 };
        for (what, value, wanted) in [
            ("causality dd", dd.causality_percent, 100.0),
            ("causality cc", cc.causality_percent, common),
            ("passivity dd", dd.passivity_percent, 100.0),
            ("passivity cc", cc.passivity_percent, 100.0),
            ("reciprocity", dd.reciprocity_percent, 100.0),
        ] {
            close(&format!("{name} {what}"), value, wanted, 0.001);
        }
    }
    for (name, largest) in [("pair_a_uncoupled", 1.0), ("ex_p370_dut", 0.999_333_37), ("ex_p370_2xthru", 0.999_517_61)] {
        close(name, Quality::of(&sequential(name)).unwrap().largest_singular_value, largest, 1e-8);
    }
    let quality = Quality::of(&file("ex_nonpassive")).unwrap();
    close("largest singular value", quality.largest_singular_value, 1.084_971_968, 1e-8);
    close("at, MHz", quality.largest_singular_value_hz / 1e6, 19.9, 1e-9);
    assert_eq!(quality.rows_not_passive, 39);
    close("passivity", quality.passivity_percent, 99.716_791_905, 1e-6);
    close("reciprocity", quality.reciprocity_percent, 99.998_118_210, 1e-6);
    close("causality", quality.causality_percent, 50.374_216_383, 1e-6);
    close("reciprocity error", quality.largest_reciprocity_error, 2.154_065_9e-5, 1e-11);
    assert_eq!([quality.passivity, quality.reciprocity, quality.causality], [Grade::Acceptable, Grade::Good, Grade::Acceptable]);
    let cautions = analysed("ex_nonpassive", &Settings::default()).cautions;
    assert!(cautions.iter().any(|caution| caution.contains("isn't passive") && caution.contains("1.0850")), "{cautions:?}");
}

/// The transform against the sum it stands for, at times on and between its own.
#[test]
fn steps_against_the_exact_sum() {
    for (name, at_zero, rise) in
        [("pair_a_uncoupled", 0.000_851, 100e-12), ("ex_p370_dut", 0.0, 100e-12), ("ex_p370_2xthru", 0.0, 35e-12)]
    {
        let pair = Pair::new(&sequential(name), None).unwrap();
        let values = pair.term(Term::Sdd11);
        let grid = backshell::signal::Grid::of(pair.frequencies()).unwrap();
        assert!(!grid.resampled);
        let spectrum = grid.spectrum(pair.frequencies(), &values, at_zero).unwrap();
        let step = Steps::new(Window::None).response(&spectrum, rise, "reflection");
        let mut most = 0f64;
        for at in 0..700 {
            let time = -0.1e-9 + f64::from(at) * 0.013_37e-9;
            let exact = exact_step(pair.frequencies(), &values, at_zero, rise, step.x[0], time);
            most = most.max((impedance(exact, 100.0) - impedance(step.at(time).unwrap(), 100.0)).abs());
        }
        println!("{name}: transform and sum differ by at most {most:.2e} ohm");
        assert!(most < 0.01, "{name}: {most}");
    }
}

/// Pair B: 1.5 m of 50 ohm odd and 65 ohm even, 15 mm ends of 86 and 112 ohm differential, N later by 12 ps, in rows of 25 MHz
/// rounded to six decimals like the file that the figures were made from.
pub(super) fn pair_b() -> Network {
    let odd = |ohm, length| Line { ohm, factor: 0.7, resistance: 0.3386, skin: 30.0, tangent: 0.001, length };
    let even = |ohm, length| Line { ohm, factor: 0.68, resistance: 0.3386, skin: 38.0, tangent: 0.0012, length };
    let chain = |lines: [Line; 3]| move |hertz| then(then(lines[0].chain(hertz), lines[1].chain(hertz)), lines[2].chain(hertz));
    let odd = chain([odd(43.0, 0.015), odd(50.0, 1.5), odd(56.0, 0.015)]);
    let even = chain([even(55.0, 0.015), even(65.0, 1.5), even(72.0, 0.015)]);
    let exact = coupled(&steps(25e6, 800), odd, even, 12e-12);
    let round = |value: f64| (value * 1e6).round() / 1e6;
    let rounded =
        (0..800).flat_map(|row| exact.matrix(row).to_vec()).map(|value| Complex64::new(round(value.re), round(value.im)));
    Network::new(exact.frequencies().to_vec(), vec![50.0; 4], rounded.collect()).unwrap()
}

#[test]
fn pair_b_over_frequency() {
    modes_of(
        "pair B",
        &pair_b(),
        &[
            (0.1, [-0.5786, -31.5474, -49.0516, -0.8688, 93.24]),
            (1.35, [-2.4218, -18.3034, -28.2811, -2.553, 38.24]),
            (2.7, [-3.5941, -19.615, -23.4101, -3.8215, 86.27]),
            (4.05, [-4.6741, -15.1665, -20.9306, -4.8169, 137.38]),
            (8.0, [-7.0639, -22.8769, -17.2064, -7.439, -165.14]),
        ],
    );
    close("largest singular value", Quality::of(&pair_b()).unwrap().largest_singular_value, 0.992_732, 2e-6);
    let told = analyse(&pair_b(), &Settings::default()).unwrap().pairs.remove(0);
    let two = told.two_term_fit.unwrap();
    close("dB/sqrt GHz", two.root_db_per_sqrt_ghz, 1.6492, 0.0001);
    close("dB/GHz", two.linear_db_per_ghz, 0.3130, 0.0001);
    close("largest deviation, dB", two.residual_largest_db, 0.145, 0.001);
    close("fit at 2.5 GHz", told.nyquist_losses[0].loss_db, 3.4558, 0.0001);
    close("fit at 5 GHz", told.nyquist_losses[1].loss_db, 5.2037, 0.0001);
}

#[test]
fn pair_b_over_time() {
    let settings = Settings::default().with_length_m(1.53);
    let analysis = analyse(&pair_b(), &settings).unwrap();
    let pair = &analysis.pairs[0];
    for caution in analysis.cautions.iter().chain(&pair.cautions) {
        println!("{caution}");
    }
    close("skew by phase, ps", pair.delay.skew_phase_s.unwrap() * 1e12, -12.0, 0.001);
    close("skew by step, ps", pair.delay.skew_step_s.unwrap() * 1e12, -11.999, 0.01);
    close("delay by step, ns", pair.delay.step_s.unwrap() * 1e9, 7.3257, 0.0001);
    close("group delay, ns", pair.delay.group_s.unwrap() * 1e9, 7.3138, 0.0001);
    close("Sdd21 at 0 Hz", pair.dc.sdd21, 1.0, 1e-12);
    assert_eq!(pair.dc.source, DcSource::RootLine);
    let impedance = pair.impedance.as_ref().unwrap();
    close("near end, ohm", impedance.near.smallest_ohm, 87.25, 0.01);
    close("near end, ns", impedance.near.smallest_s * 1e9, 0.070, 0.002);
    close("far end, ohm", impedance.near.largest_ohm, 111.69, 0.01);
    close("far end, ns", impedance.near.largest_s * 1e9, 14.552, 0.002);
    // each end sees its own connector best; that of 112 ohm stands out less
    let [near, far] = [impedance.near.worst.unwrap(), impedance.far.worst.unwrap()];
    println!("{near:#?}\n{far:#?}");
    close("worst, m", near.from_near_m.unwrap(), 0.0075, 0.003);
    close("worst of the far end, m", far.from_far_m.unwrap(), 0.0075, 0.003);
    assert_eq!(impedance.worst.unwrap(), near);

    // with the loop measured, the far end comes out right
    let known = analyse(&pair_b(), &settings.with_loop_ohm(1.036)).unwrap();
    let pair = &known.pairs[0];
    close("Sdd21 at 0 Hz", pair.dc.sdd21, 0.994_85, 1e-5);
    let view = &pair.impedance.as_ref().unwrap().near;
    close("far end, ohm", view.largest_ohm, 112.13, 0.01);
    close("near end, ohm", view.smallest_ohm, 87.26, 0.01);
    for (ns, ohm) in [(5.0, 103.49), (8.0, 104.38), (12.0, 105.31)] {
        close(&format!("ohm at {ns} ns"), view.over_time.at(ns * 1e-9).unwrap(), ohm, 0.01);
    }
    // all of the rise is copper
    close("rise by copper, ohm", view.copper_rise_ohm, 5.7, 0.3);
    close("line, ohm", view.line_ohm, 100.0, 0.4);
    close("change of the line, ohm", view.line_change_ohm, 0.0, 1e-9);
}

/// A delay that was taken away by more than the cable has is seen as an answer before the question.
#[test]
fn an_advanced_copy_is_not_causal() {
    let b = pair_b();
    let advanced = |seconds: f64| {
        let matrices = b.frequencies().iter().enumerate().flat_map(|(row, hertz)| {
            let turn = Complex64::cis(std::f64::consts::TAU * hertz * seconds);
            b.matrix(row)
                .to_vec()
                .into_iter()
                .enumerate()
                .map(move |(at, value)| if at / 8 == at % 4 / 2 { value } else { value * turn })
        });
        let network = Network::new(b.frequencies().to_vec(), vec![50.0; 4], matrices.collect()).unwrap();
        let pair = Pair::new(&network, None).unwrap();
        [pair.differential().unwrap(), pair.common().unwrap()].map(|mode| Quality::of(&mode).unwrap())
    };
    let [[dd0, cc0], [dd4, cc4], [dd8, cc8]] = [0.0, 4e-9, 8e-9].map(advanced);
    let wanted = [(&dd0, 99.998), (&cc0, 100.0), (&dd4, 99.998), (&cc4, 100.0), (&dd8, 3.269), (&cc8, 36.546)];
    for (quality, wanted) in wanted {
        close("causality", quality.causality_percent, wanted, 0.002);
    }
    assert_eq!((dd4.causality, dd8.causality, cc8.causality), (Grade::Good, Grade::Poor, Grade::Inconclusive));
    assert!(!dd8.causality_cautions("It").is_empty() && dd4.causality_cautions("It").is_empty());
}

#[test]
fn nothing_stands_as_two_hundred_decibels() {
    assert!((decibels(0.0) + 200.0).abs() < 1e-9);
}

/// The model of the lines gives the file of pair A to its last decimal, so pair B, which it makes, is as good.
#[test]
fn the_model_gives_the_file_of_pair_a() {
    let line = |ohm, length| Line { ohm, factor: 0.7, resistance: 0.085, skin: 9.0, tangent: 0.0008, length };
    let chain = |rest: f64| {
        move |hertz| then(then(line(50.0, 0.4).chain(hertz), line(60.0, 0.04).chain(hertz)), line(50.0, rest).chain(hertz))
    };
    let network = sequential("pair_a_uncoupled");
    let made = uncoupled(network.frequencies(), chain(0.56), chain(0.56 + 20e-12 * 0.7 * LIGHT));
    let cells = |network: &Network| (0..801).flat_map(|row| network.matrix(row).to_vec()).collect::<Vec<_>>();
    let most = cells(&network).iter().zip(cells(&made)).map(|(a, b)| (a - b).norm()).fold(0.0, f64::max);
    println!("file and model differ by at most {most:.2e}");
    assert!(most < 1e-6, "{most}");
}

/// A Kaiser window moves the peak by some tenths of an ohm, as it does elsewhere (120.2 ohm by scikit-rf's own step).
#[test]
fn a_window_moves_the_peak() {
    let windowed = Settings::default().with_window(Window::Kaiser(6.0));
    let view = analysed("pair_a_uncoupled", &windowed).pairs.remove(0).impedance.unwrap().near;
    close("peak, ohm", view.largest_ohm, 120.3, 0.3);
}

#[test]
fn the_analysis_has_a_schema_and_its_settings_a_form() {
    let schema = serde_json::to_value(schemars::schema_for!(Analysis)).unwrap();
    let told = serde_json::to_value(analysed("ex_p370_2xthru", &Settings::default())).unwrap();
    let properties = schema["properties"].as_object().unwrap();
    assert!(told.as_object().unwrap().keys().eq(properties.keys()) || told.as_object().unwrap().len() == properties.len());
    assert!(properties.values().all(|property| property["description"].is_string()));
    let settings: Settings = serde_json::from_str(r#"{"differential-ohm": 85, "window": {"kaiser": 6.0}}"#).unwrap();
    assert_eq!((settings.differential_ohm, settings.window), (Some(85.0), Window::Kaiser(6.0)));
    assert!(serde_json::from_str::<Settings>(r#"{"differential": 85}"#).is_err());
}

#[test]
fn the_spectrum_that_leads_to_an_eye() {
    let pair = Pair::new(&pair_b(), None).unwrap();
    let spectrum = through(&pair, Some(1.036)).unwrap();
    assert_eq!((spectrum.step(), spectrum.values().len()), (25e6, 801));
    close("at 0 Hz", spectrum.values()[0].re, 0.994_85, 1e-5);
}
