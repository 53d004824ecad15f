//! Pairs against scikit-rf and against sums written out with numpy (`tests/reference/check_pair.py`), on the same files.

use backshell::signal::{Complex64, Grid, Network, Pair, Quality, Settings, Steps, Term, Window, analyse};
use serde_json::{Value, json};

use super::figures::pair_b;
use super::model::{file, sequential};
use crate::references::python;

const TERMS: [(&str, Term); 16] = [
    ("dd11", Term::Sdd11),
    ("dd12", Term::Sdd12),
    ("dd21", Term::Sdd21),
    ("dd22", Term::Sdd22),
    ("dc11", Term::Sdc11),
    ("dc12", Term::Sdc12),
    ("dc21", Term::Sdc21),
    ("dc22", Term::Sdc22),
    ("cd11", Term::Scd11),
    ("cd12", Term::Scd12),
    ("cd21", Term::Scd21),
    ("cd22", Term::Scd22),
    ("cc11", Term::Scc11),
    ("cc12", Term::Scc12),
    ("cc21", Term::Scc21),
    ("cc22", Term::Scc22),
];

fn flat(values: impl IntoIterator<Item = Complex64>) -> Vec<f64> {
    values.into_iter().flat_map(|value| [value.re, value.im]).collect()
}

fn quality(network: &Network) -> Value {
    let quality = Quality::of(network).unwrap();
    json!({
        "passivity": quality.passivity_percent,
        "passivity_grade": quality.passivity,
        "reciprocity": quality.reciprocity_percent,
        "reciprocity_grade": quality.reciprocity,
        "causality": quality.causality_percent,
        "causality_grade": quality.causality,
        "singular": quality.largest_singular_value,
        "singular_hz": quality.largest_singular_value_hz,
    })
}

/// What the script is to find again: everything that the program says of a network, and the steps at some of their times.
fn case(name: &str, network: &Network, in_file: bool, ohm: Option<f64>) -> Value {
    let mut settings = Settings::default();
    settings.differential_ohm = ohm;
    let analysis = analyse(network, &settings).unwrap();
    let told = &analysis.pairs[0];
    let pair = Pair::new(network, ohm).unwrap();
    let terms: serde_json::Map<String, Value> =
        TERMS.iter().map(|(name, term)| ((*name).to_owned(), json!(flat(pair.term(*term))))).collect();
    let grid = Grid::of(pair.frequencies()).unwrap();
    let mut steps = Steps::new(Window::None);
    let rise = settings.reflection_rise_s.unwrap_or(100e-12);
    let mut sampled = |term: Term, at_zero: f64| {
        let spectrum = grid.spectrum(pair.frequencies(), &pair.term(term), at_zero).unwrap();
        let step = steps.response(&spectrum, rise, "step");
        let stride = (step.x.len() / 400).max(1);
        let some = |values: &[f64]| -> Vec<f64> { values.iter().copied().take(values.len() / 2).step_by(stride).collect() };
        json!({"begin": step.x[0], "times": some(&step.x), "values": some(&step.y)})
    };
    let steps = json!({"rise": rise, "dd11": sampled(Term::Sdd11, told.dc.sdd11), "dd22": sampled(Term::Sdd22, told.dc.sdd22)});
    let whole = json!({
        "frequencies": network.frequencies(),
        "scattering": flat((0..network.frequencies().len()).flat_map(|row| network.matrix(row).to_vec())),
    });
    let order = if name == "pair_a_uncoupled" { "odd-even" } else { "sequential" };
    json!({
        "name": name,
        "order": order,
        "network": if in_file { Value::Null } else { whole },
        "ohm": ohm.unwrap_or(100.0),
        "terms": terms,
        "quality": {"whole": quality(network), "dd": quality(&pair.differential().unwrap()), "cc": quality(&pair.common().unwrap())},
        "dc": {"sdd21": told.dc.sdd21, "sdd11": told.dc.sdd11},
        "delay": {
            "step": told.delay.step_s, "group": told.delay.group_s, "group_hz": told.delay.group_hz,
            "skew_phase": told.delay.skew_phase_s, "skew_step": told.delay.skew_step_s,
            "band": told.delay.band_hz, "rise": told.delay.rise_s,
        },
        "fits": {"two": told.two_term_fit, "three": told.three_term_fit, "four": told.four_term_fit},
        "steps": steps,
    })
}

#[test]
fn pairs_against_scikit_rf() {
    let mut lines = String::new();
    let mut say = |case: Value| {
        lines.push_str(&case.to_string());
        lines.push('\n');
    };
    for name in ["pair_a_uncoupled", "ex_p370_dut", "ex_p370_2xthru"] {
        for ohm in [None, Some(90.0), Some(85.0)] {
            say(case(name, &sequential(name), true, ohm));
        }
    }
    say(case("pair_b_coupled", &pair_b(), false, None));
    say(case("pair_b_coupled", &pair_b(), false, Some(85.0)));
    let not_passive = json!({"name": "ex_nonpassive", "order": "sequential", "network": null, "quality": {"whole": quality(&file("ex_nonpassive"))}});
    say(not_passive);
    let unequal = [42.5, 30.0, 75.0, 50.0];
    let seen = sequential("ex_p370_dut").renormalised(&unequal).unwrap();
    let values = flat((0..seen.frequencies().len()).flat_map(|row| seen.matrix(row).to_vec()));
    say(json!({"name": "ex_p370_dut", "order": "sequential", "network": null, "reference": unequal, "seen": values}));
    if let Some((agreed, text)) = python("check_pair.py", &[], &lines) {
        println!("{text}");
        assert!(agreed, "{text}");
        assert!(text.contains("13 cases"), "{text}");
    }
}
