//! Files of causes: the one that comes with the program, those of users, and anything else.

use backshell::diagnosis::{Applies, Model, infer};
use backshell::report::problem_text;
use backshell::text::Source;
use proptest::prelude::*;

const SMALL: &str = "doubt = 0.1\nstays = 0.02\n\
    [[sign]]\nname = \"smell\"\nasks = \"does it smell?\"\nusual = [0.9, 0.1]\n\
    states = [{ name = \"none\", words = \"it smells of nothing\" }, { name = \"burnt\", words = \"it smells burnt\" }]\n\
    [[measurement]]\nname = \"sniff\"\nwords = \"smell the plugs\"\nneeds = \"a nose\"\nminutes = 1\nsigns = [\"smell\"]\n\
    [[cause]]\nname = \"overload\"\nwords = \"overloaded\"\nprior = 1\nremedy = \"replace it\"\nseen = { smell = [0.2, 0.8] }\n\
    [[cause]]\nname = \"age\"\nwords = \"old\"\nprior = 3\nremedy = \"replace it\"\n";

fn read(text: &str) -> Result<Model, String> {
    Model::read(&Source::new("mine.toml", text))
        .map_err(|problems| problems.iter().map(|problem| problem_text(problem, false)).collect::<Vec<_>>().join("\n"))
}

#[test]
fn a_small_file_is_used_as_it_says() {
    let model = read(SMALL).unwrap();
    let diagnosis = infer(&model, &super::observed(&model, &[("smell", &["burnt"])]), Applies::ALL, true);
    // 0.9 of prior, a quarter and three quarters of it; 0.1 for the rest, which looks half like the average of both
    let average = 0.25 * 0.8 + 0.75 * 0.1;
    let joint = [0.225 * 0.8, 0.675 * 0.1, 0.1 * (0.5 * average + 0.25)];
    let sum: f64 = joint.iter().sum();
    for (cause, expected) in [("overload", joint[0]), ("age", joint[1])] {
        assert!((super::share(&model, &diagnosis, cause) - expected / sum).abs() < 1e-12, "{cause}");
    }
}

#[test]
fn however_much_is_kept_shares_stay_shares() {
    let kept = SMALL.replace("doubt = 0.1\nstays = 0.02", "doubt = 0.5\nstays = 0.5");
    let kept = kept.replace("prior = 1\n", "prior = 1\nstays-until = \"smell\"\n").replace("prior = 3\n", "prior = 300\n");
    for doubt in ["doubt = 0.5", "doubt = 0"] {
        let model = read(&kept.replace("doubt = 0.5", doubt)).unwrap();
        for seen in [&[][..], &[("smell", &["burnt"][..])]] {
            let diagnosis = infer(&model, &super::observed(&model, seen), Applies::ALL, true);
            let sum: f64 = diagnosis.ranked.iter().map(|one| one.probability).sum();
            assert!((sum - 1.0).abs() < 1e-12 && diagnosis.ranked.iter().all(|one| one.probability >= 0.0), "{sum}");
        }
    }
}

#[test]
fn every_error_of_a_file_is_shown_at_its_place() {
    let wrong = |from: &str, to: &str| {
        assert!(SMALL.contains(from), "{from}");
        read(&SMALL.replacen(from, to, 1)).unwrap_err()
    };
    let all = [
        wrong("doubt = 0.1", "doubt = 1.5"),
        wrong("doubt = 0.1", "doubt = \"much\""),
        wrong("prior = 1", "prior = 0"),
        wrong("prior = 1", "prior = nan"),
        wrong("minutes = 1", "minutes = -3"),
        wrong("[0.2, 0.8]", "[0.2, 0.2]"),
        wrong("[0.2, 0.8]", "[0.0, 1.0]"),
        wrong("[0.2, 0.8]", "[0.2, 0.7, 0.1]"),
        wrong("seen = { smell", "seen = { taste"),
        wrong("signs = [\"smell\"]", "signs = [\"taste\"]"),
        wrong("signs = [\"smell\"]", "signs = []"),
        wrong("name = \"age\"", "name = \"overload\""),
        wrong("name = \"age\"", "name = \"Old age\""),
        wrong("needs = \"a nose\"", "need = \"a nose\""),
        wrong("prior = 3", "prior = 3\nonly-with = \"wheels\""),
        wrong("prior = 3", "prior = 3\nstays-until = \"taste\""),
        wrong("name = \"burnt\"", "name = \"none\""),
        read("doubt = 0.1\nstays = 0.1\n").unwrap_err(),
        read("doubt = ").unwrap_err(),
    ];
    insta::assert_snapshot!("broken_causes", all.join("\n"));
}

#[test]
fn every_sign_can_be_measured_and_every_cause_shows() {
    let model = super::model();
    for (at, sign) in model.signs.iter().enumerate() {
        assert!(model.measurements.iter().any(|one| one.signs.contains(&at)), "{} is never measured", sign.name);
        assert!(model.causes.iter().any(|cause| cause.touches[at]), "{} tells nothing", sign.name);
    }
    for cause in &model.causes {
        let shows = cause
            .likelihood
            .iter()
            .zip(&model.signs)
            .any(|(shares, sign)| shares.iter().zip(&sign.usual).any(|(share, usual)| share / usual > 5.0));
        assert!(shows, "{} never shows", cause.name);
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 400, failure_persistence: None, ..ProptestConfig::default() })]

    /// No bytes make it panic, and every problem has its place inside the file.
    #[test]
    fn any_bytes(bytes in proptest::collection::vec(any::<u8>(), 0..300)) {
        inspect(&String::from_utf8_lossy(&bytes));
    }

    /// Nor does a file that was sound before some of its bytes changed.
    #[test]
    fn any_change(at in 0..SMALL.len(), length in 0..12_usize, with in "[-0-9a-z\"\\[\\]{}=.,e\n ]{0,8}") {
        let end = (at + length).min(SMALL.len());
        inspect(&format!("{}{with}{}", &SMALL[..at], &SMALL[end..]));
    }
}

fn inspect(text: &str) {
    match Model::read(&Source::new("mine.toml", text)) {
        Ok(model) => {
            for sign in &model.signs {
                for state in &sign.states {
                    let seen = super::observed(&model, &[(&sign.name, &[&state.name])]);
                    let diagnosis = infer(&model, &seen, Applies::ALL, true);
                    let sum: f64 = diagnosis.ranked.iter().map(|one| one.probability).sum();
                    assert!((sum - 1.0).abs() < 1e-9, "{sum}");
                }
            }
        }
        Err(problems) => {
            assert!(!problems.is_empty());
            for label in problems.iter().flat_map(|problem| &problem.labels) {
                assert!(label.span.end() as usize <= text.len());
            }
        }
    }
}
