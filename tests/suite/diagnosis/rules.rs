//! What a diagnosis must never do, and what it must always do.

use backshell::diagnosis::{
    Applies, Claim, Place, SignalFigures, Statement, claim, gather, infer, observation, observed_list, where_at, worth_listing,
};

use super::{checked, model, observed, share};

/// A sound lens lead, every pin probed.
const SOUND: &str = "cable dome-lens\nlength 1 m\ngauge 28 AWG\ntemperature 20 C\nuncertainty 0.01 ohm\n\
    A.1 B.1 0.24 ohm\nA.2 B.2 0.24 ohm\nA.3 B.3 0.241 ohm\nA.4 B.4 0.239 ohm\nA.5 B.5 0.24 ohm\nA.6 B.6 0.24 ohm\n\
    A.7 B.7 0.24 ohm\nA.8 B.8 0.238 ohm\nA.9 B.9 0.24 ohm\nA.10 B.10 0.24 ohm\nA.11 B.11 0.24 ohm\nA.12 B.12 0.24 ohm\n\
    A.shell B.shell 0.02 ohm\nresistor A.13 A.10 10 kohm\n";

fn say(list: &[&str]) -> Vec<Statement> {
    list.iter().map(|text| Statement::parse(text).unwrap()).collect()
}

#[test]
fn with_nothing_measured_nothing_is_above_its_prior() {
    let model = model();
    let diagnosis = infer(&model, &[], Applies::ALL, true);
    assert_eq!(diagnosis.claim, Claim::NothingObserved);
    assert!(diagnosis.ranked.iter().all(|one| one.probability <= one.prior + 1e-12));
    assert!((diagnosis.ranked.iter().map(|one| one.probability).sum::<f64>() - 1.0).abs() < 1e-12);
    // the ladder begins with a known-good cable in the same place
    assert_eq!(model.measurements[diagnosis.next[0].measurement].name, "swap");
    assert!(claim(&model, &diagnosis).contains("priors"));
}

#[test]
fn a_swap_decides_between_the_cable_and_the_rest() {
    let model = model();
    let with = |state: &'static str| infer(&model, &observed(&model, &[("swap", &[state])]), Applies::ALL, true);
    let before = share(&model, &infer(&model, &[], Applies::ALL, true), "not-the-cable");
    assert!(share(&model, &with("cured"), "not-the-cable") < before / 5.0);
    assert!(share(&model, &with("same-fault"), "not-the-cable") > before * 5.0);
}

#[test]
fn not_the_cable_stays_until_a_swap_is_recorded() {
    let model = model();
    let broken: &[(&str, &[&str])] = &[
        ("map", &["right"]),
        ("impedance", &["two-off"]),
        ("crosstalk", &["two-pairs"]),
        ("place", &["whole-run"]),
        ("pairing", &["wrong"]),
        ("elsewhere", &["fails"]),
    ];
    let diagnosis = infer(&model, &observed(&model, broken), Applies::ALL, true);
    assert_eq!(diagnosis.claim, Claim::PointsTo(model.cause("split-pair").unwrap()));
    assert!(share(&model, &diagnosis, "not-the-cable") >= model.stays - 1e-12);
    let listed = worth_listing(&model, &diagnosis);
    assert!(listed.iter().any(|at| diagnosis.ranked[*at].cause == model.cause("not-the-cable")));
    let swapped = [broken, &[("swap", &["cured"])]].concat();
    let diagnosis = infer(&model, &observed(&model, &swapped), Applies::ALL, true);
    assert!(share(&model, &diagnosis, "not-the-cable") < 1e-4);
}

#[test]
fn nothing_is_ever_certain() {
    let model = model();
    for cause in &model.causes {
        // every sign as this cause would have it
        let list: Vec<(&str, Vec<&str>)> = model
            .signs
            .iter()
            .zip(&cause.likelihood)
            .map(|(sign, shares)| {
                let most = (0..shares.len()).max_by(|a, b| shares[*a].total_cmp(&shares[*b])).unwrap();
                (sign.name.as_str(), vec![sign.states[most].name.as_str()])
            })
            .collect();
        let list: Vec<(&str, &[&str])> = list.iter().map(|(sign, states)| (*sign, states.as_slice())).collect();
        let diagnosis = infer(&model, &observed(&model, &list), Applies::ALL, true);
        assert_eq!(diagnosis.ranked[0].cause.map(|first| &model.causes[first].name), Some(&cause.name));
        assert!(diagnosis.ranked[0].probability <= 1.0 - model.doubt, "{}", cause.name);
        assert!(diagnosis.next.is_empty(), "everything was seen");
    }
}

#[test]
fn a_map_counts_against_wiring_only_where_it_is_whole() {
    let model = model();
    let sees_map = |text: &str| {
        let report = checked(text);
        let evidence = gather(&model, &report, &[], &[]).unwrap();
        let sign = model.sign("map");
        (evidence.observations.iter().any(|one| Some(one.sign) == sign), evidence.notes.join(" "))
    };
    assert!(sees_map(SOUND).0);
    // the same cable, where only what the lines state was probed
    let stated = SOUND.replace("cable dome-lens\n", "cable dome-lens\nscope stated\n");
    let (seen, notes) = sees_map(&stated);
    assert!(!seen && notes.contains("separations"), "{notes}");
    // or where nobody measured the resistor
    let without = SOUND.replace("resistor A.13 A.10 10 kohm\n", "");
    let (seen, notes) = sees_map(&without);
    assert!(!seen && notes.contains("parts"), "{notes}");
    // a wiring fault counts however little was probed
    let swapped = stated.replace("A.1 B.1", "A.1 B.x").replace("A.3 B.3", "A.3 B.1").replace("A.1 B.x", "A.1 B.3");
    assert!(sees_map(&swapped).0);
}

#[test]
fn findings_and_figures_become_observations() {
    let model = model();
    let seen = |text: &str, sign: &str| {
        let evidence = gather(&model, &checked(text), &[], &[]).unwrap();
        let sign = model.sign(sign).unwrap();
        let one = evidence.observations.iter().find(|one| one.sign == sign).unwrap_or_else(|| panic!("{text}"));
        let most = one.weights.iter().copied().fold(0.0, f64::max);
        model.signs[sign].states[one.weights.iter().position(|weight| *weight >= most).unwrap()].name.clone()
    };
    let with = |from: &str, to: &str| SOUND.replace(from, to);
    for (text, sign, state) in [
        (SOUND.to_owned(), "map", "right"),
        (SOUND.to_owned(), "siblings", "alike"),
        (SOUND.to_owned(), "level", "as-stated"),
        (SOUND.to_owned(), "shell", "bonded"),
        (SOUND.to_owned(), "grounds", "whole"),
        (SOUND.to_owned(), "parts", "right"),
        (with("A.3 B.3 0.241", "A.3 B.3 1.9"), "siblings", "one-high"),
        (
            with("0.24 ohm", "0.36 ohm").replace("0.241", "0.36").replace("0.239", "0.36").replace("0.238", "0.36"),
            "level",
            "clad",
        ),
        (with("A.shell B.shell 0.02 ohm\n", ""), "shell", "open"),
        (with("A.shell B.shell 0.02", "A.shell B.shell 12"), "shell", "open"),
        (with("A.9 B.9 0.24 ohm\n", ""), "grounds", "missing"),
        (with("A.10 B.10 0.24", "A.10 B.10 4.4"), "grounds", "missing"),
        (with("10 kohm", "33 kohm"), "parts", "wrong"),
        (with("A.1 B.1", "A.1 B.2").replace("A.2 B.2", "A.2 B.1"), "map", "wrong"),
        (format!("{SOUND}pair A.1 A.2\npair A.3 A.4\npair A.5 A.6\npair A.7 A.8\n"), "pairing", "right"),
        (format!("{SOUND}pair A.1 A.2\npair A.3 A.5\npair A.4 A.6\npair A.7 A.8\n"), "pairing", "wrong"),
    ] {
        assert_eq!(seen(&text, sign), state, "{text}");
    }
}

#[test]
fn what_is_said_must_make_sense() {
    let model = model();
    let report = checked(SOUND);
    let wrong = |list: &[&str]| gather(&model, &report, &[], &say(list)).unwrap_err()[0].message.clone();
    insta::assert_snapshot!(
        "said",
        [
            wrong(&["swop=cured"]),
            wrong(&["swap=perhaps"]),
            wrong(&["map=right"]),
            wrong(&["swap=cured", "swap=same-fault"]),
            wrong(&["end=C"]),
            wrong(&["end=A", "end=B"]),
        ]
        .join("\n")
    );
    // a cable without shell has no use for a word about its shell
    let midi = checked("cable xlr3\nA.1 B.1\nA.2 B.2\nA.3 B.3\n");
    let said = gather(&model, &midi, &[], &say(&["shield-bonded=better"])).unwrap();
    assert!(midi.cable.has_shell || said.notes.iter().any(|note| note.contains("no bonded shell")), "{:?}", said.notes);
    assert!(said.observations.iter().all(|one| Some(one.sign) != model.sign("shield-bonded")) || midi.cable.has_shell);
    insta::assert_snapshot!("observed_list", observed_list(&model, 100));
}

#[test]
fn the_end_is_the_one_that_was_said_or_that_reflects() {
    let model = model();
    let report = checked(SOUND);
    let joint = &model.causes[model.cause("joint").unwrap()];
    let at = |figures: &[SignalFigures], list: &[&str]| {
        where_at(&model, joint, &gather(&model, &report, figures, &say(list)).unwrap())
    };
    assert!(at(&[], &[]).contains("isn't known: flex"));
    assert_eq!(at(&[], &["end=B"]), "at end B, as was observed");
    let pair = |metres: f64| {
        SignalFigures::new("L1", ["A".to_owned(), "B".to_owned()])
            .with_mean_ohm(100.0)
            .with_rated_ohm(100.0)
            .with_worst(Place::new(metres, 1.0, 130.0, 0.3))
    };
    assert_eq!(at(&[pair(0.02)], &[]), "at end A, by the reflection on pair L1, 0.02 m from it");
    assert_eq!(at(&[pair(0.97)], &[]), "at end B, by the reflection on pair L1, 0.03 m from it");
    assert_eq!(at(&[pair(0.97)], &["end=A"]), "at end A, as was observed");
    let crush = &model.causes[model.cause("crush").unwrap()];
    let evidence = gather(&model, &report, &[pair(0.4)], &[]).unwrap();
    assert!(where_at(&model, crush, &evidence).starts_with("0.40 m from A and 0.60 m from B"));
    assert!(where_at(&model, joint, &evidence).contains("isn't known"));
}

#[test]
fn a_return_loss_without_a_place_leaves_the_place_open() {
    let model = model();
    let figures = [SignalFigures::new("L0", [String::new(), String::new()]).with_return_loss_db(5.0)];
    let evidence = gather(&model, &checked(SOUND), &figures, &[]).unwrap();
    let place = evidence.observations.iter().find(|one| Some(one.sign) == model.sign("place")).unwrap();
    assert!(place.weights[0] < 0.02 && place.weights[1..].iter().all(|weight| *weight > 0.98), "{:?}", place.weights);
    assert!(observation(&model, place).contains(", or "));
}

#[test]
fn a_pair_alone_does_not_tell_a_split_from_another_cable() {
    let model = model();
    let pair =
        |name: &str, ohm: f64| SignalFigures::new(name, [String::new(), String::new()]).with_mean_ohm(ohm).with_rated_ohm(100.0);
    let states = |figures: &[SignalFigures]| {
        let evidence = gather(&model, &checked(SOUND), figures, &[]).unwrap();
        evidence.observations.into_iter().find(|one| Some(one.sign) == model.sign("impedance")).unwrap().weights
    };
    // one of four was measured: it may be one, two or all of them
    let one = states(&[pair("L0", 130.0)]);
    assert!(one[0] < 0.02 && one[1] > 0.9 && one[2] > 0.9 && one[3] > 0.9, "{one:?}");
    let split = states(&[pair("L0", 130.0), pair("L1", 128.0), pair("L2", 100.0), pair("L3", 101.0)]);
    assert!(split[2] > 0.95 && split[3] < 0.05, "{split:?}");
    let all = states(&[pair("L0", 130.0), pair("L1", 128.0), pair("L2", 125.0), pair("L3", 129.0)]);
    assert!(all[3] > 0.95 && all[2] < 0.05, "{all:?}");
    // one up and one down isn't a split
    let unlike = states(&[pair("L0", 130.0), pair("L1", 75.0), pair("L2", 100.0), pair("L3", 100.0)]);
    assert!(unlike[2] < 0.05, "{unlike:?}");
}

#[test]
fn a_dangerous_cable_is_not_plugged_in_for_a_measurement() {
    let model = model();
    let diagnosis = infer(&model, &[], Applies::ALL, false);
    assert!(!diagnosis.next.is_empty());
    assert!(diagnosis.next.iter().all(|next| !model.measurements[next.measurement].plugged_in));
}

#[test]
fn what_is_expected_of_a_measurement_is_what_it_tells_on_average() {
    // the mutual information of one sign and the causes, by its other form: the entropy of the outcome less that given the cause
    let model = model();
    let diagnosis = infer(&model, &[], Applies::ALL, true);
    let next = diagnosis.next.iter().find(|next| model.measurements[next.measurement].name == "swap").unwrap();
    let sign = model.sign("swap").unwrap();
    let entropy = |shares: &[f64]| -> f64 { shares.iter().map(|share| -share * share.log2()).sum() };
    let known: Vec<(f64, &[f64])> = diagnosis
        .ranked
        .iter()
        .filter_map(|one| Some((one.probability, model.causes[one.cause?].likelihood[sign].as_slice())))
        .collect();
    let weight: f64 = known.iter().map(|(share, _)| share).sum();
    let mean: Vec<f64> = (0..2).map(|state| known.iter().map(|(share, of)| share * of[state]).sum::<f64>() / weight).collect();
    let unknown: Vec<f64> = mean.iter().map(|share| 0.5 * share + 0.25).collect();
    let outcome: Vec<f64> = (0..2).map(|state| weight * mean[state] + (1.0 - weight) * unknown[state]).collect();
    let given: f64 = known.iter().map(|(share, of)| share * entropy(of)).sum::<f64>() + (1.0 - weight) * entropy(&unknown);
    let bits = entropy(&outcome) - given;
    assert!((bits - next.bits).abs() < 1e-9, "{bits} {}", next.bits);
    assert!((next.bits_per_minute - next.bits / 2.0).abs() < 1e-12);
}
