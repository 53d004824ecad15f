//! The signal of whole cables: `backshell signal`, its pictures, and the rate that `check` and `lot` judge lanes by.

use std::process::Command;

use backshell::finding::{Code, Severity, Verdict};
use backshell::lot::GradeReached;
use backshell::signal::rates::Carries;
use backshell::verify::{Options, UnitReport, check_file};

const LEADS: &str = "netlists/signals/projector-leads.netlist";

fn run(arguments: &[&str]) -> (String, Option<i32>) {
    let output = Command::new(env!("CARGO_BIN_EXE_backshell")).args(arguments).output().unwrap();
    let said = [output.stdout, output.stderr].concat();
    (String::from_utf8(said).unwrap(), output.status.code())
}

fn leads() -> Vec<UnitReport> {
    let mut reports = Vec::new();
    check_file(std::path::Path::new(LEADS), &Options::default(), |batch| reports.extend(batch.reports));
    reports
}

#[test]
fn lanes_are_shown_and_graded() {
    let (said, status) = run(&[
        "signal",
        "netlists/signals/lane-sound.s4p",
        "netlists/signals/lane-skewed.s4p",
        "--rated",
        "HBR3",
        "--length",
        "2",
    ]);
    assert_eq!(status, Some(1));
    insta::assert_snapshot!("lanes", said);
    // what the files were made from: 23.5 mm at 0.70 of the velocity of light, from the published definition of the metre
    let skew = 0.0235 / (0.70 * 299_792_458.0) * 1e12;
    let line = said.lines().filter(|line| line.contains("skew within the pair")).nth(1).unwrap();
    let shown: f64 = line.split_whitespace().find_map(|word| word.parse().ok()).unwrap();
    assert!((shown - skew).abs() < 1.0, "{line}: {skew}");
}

#[test]
fn data_hold_what_people_read() {
    let (said, status) = run(&["signal", "netlists/signals/lane-skewed.s4p", "--rated", "HBR3", "--format", "json"]);
    assert_eq!(status, Some(1));
    let data: serde_json::Value = serde_json::from_str(&said).unwrap();
    assert_eq!(data["schema"], "backshell.signal/1");
    assert_eq!(data["grade"]["rated"]["reached"], "HBR2");
    assert_eq!(data["grade"]["rated"]["steps"], -1);
    assert_eq!(data["files"][0]["order"], "ports 1 and 2 at the near end, through paths 1→3, 2→4");
    let (schema, status) = run(&["signal", "--print-schema"]);
    assert_eq!(status, Some(0));
    serde_json::from_str::<serde_json::Value>(&schema).unwrap();
}

#[test]
fn pictures_are_whole_documents() {
    let folder = std::env::temp_dir().join(format!("backshell-pictures-{}", std::process::id()));
    let path = folder.display().to_string();
    let (_, status) =
        run(&["signal", "netlists/signals/lane-sound.s4p", "--rated", "HBR3", "--length", "2", "--pictures", &path]);
    assert_eq!(status, Some(0));
    for name in ["loss", "return-loss", "impedance", "eye-lane-sound"] {
        let text = std::fs::read_to_string(folder.join(name).with_extension("svg")).unwrap();
        let document = roxmltree::Document::parse(&text).unwrap();
        assert_eq!(document.root_element().tag_name().name(), "svg", "{name}");
        assert!(text.len() < 400_000, "{name}");
    }
    std::fs::remove_dir_all(&folder).unwrap();
}

#[test]
fn what_cannot_be_used_is_said() {
    let cases = [
        vec!["signal", "netlists/signals/no-such.s4p"],
        vec!["signal", "tests/signal/published/s2p-ri.s2p"],
        vec!["signal", "netlists/signals/lane-sound.s4p", "--rated", "HBR9"],
        vec!["signal", "netlists/signals/lane-sound.s4p", "--ladder", "rope"],
        vec!["signal", "netlists/signals/lane-sound.s4p", "--ladder", "usb3", "--rated", "HBR3"],
        vec!["signal", "netlists/signals/lane-sound.s4p", "--velocity", "1.2"],
        vec!["signal", "netlists/signals/lane-sound.s4p", "--length", "0"],
    ];
    let mut all = String::new();
    for case in cases {
        let (said, status) = run(&case);
        assert_eq!(status, Some(2), "{case:?}: {said}");
        all.push_str(&format!("$ {}\n{said}\n", case.join(" ")));
    }
    insta::assert_snapshot!("unusable", all);
}

#[test]
fn a_rate_that_is_not_carried_is_a_finding_at_its_line() {
    let reports = leads();
    let verdicts: Vec<Verdict> = reports.iter().map(|report| report.verdict).collect();
    assert_eq!(verdicts, [Verdict::Conforms, Verdict::Fails, Verdict::Inconclusive, Verdict::Inconclusive]);
    let of = |at: usize, code: Code| reports[at].findings.iter().find(|finding| finding.code == code);
    assert!(of(0, Code::LinkRate).is_none());
    assert!(reports[0].not_shown.words().any(|word| word == "impedance"), "the AUX pair was not measured");
    let skewed = of(1, Code::LinkRate).unwrap();
    assert_eq!(skewed.severity, Severity::Fail);
    assert_eq!(skewed.points, ["A.7", "A.9", "B.4", "B.6"]);
    assert_eq!(skewed.labels.len(), 1);
    assert!(skewed.message.contains("HBR2"), "{}", skewed.message);
    let unknown = of(2, Code::LinkRate).unwrap();
    assert!(unknown.undecided);
    assert_eq!(unknown.points, ["A.7", "A.9", "A.10", "A.12", "B.1", "B.3", "B.4", "B.6"]);
    assert!(of(3, Code::LinkUnread).unwrap().undecided);
}

/// What would make a lane that misses its rate conform: a good file before its own, and a rate that nobody knows.
#[test]
fn no_file_of_a_lane_hides_another() {
    let text = std::fs::read_to_string(LEADS).unwrap();
    let first = text.split("\n# one conductor").next().unwrap();
    let folder = std::env::temp_dir().join(format!("backshell-lanes-{}", std::process::id()));
    std::fs::create_dir_all(&folder).unwrap();
    for name in ["lane-sound.s4p", "lane-skewed.s4p"] {
        std::fs::copy(std::path::Path::new("netlists/signals").join(name), folder.join(name)).unwrap();
    }
    let verdict = |text: String| {
        let path = folder.join("leads.netlist");
        std::fs::write(&path, text).unwrap();
        let mut verdicts = Vec::new();
        check_file(&path, &Options::default(), |batch| verdicts.extend(batch.reports.iter().map(|report| report.verdict)));
        verdicts
    };
    assert_eq!(verdict(first.to_owned()), [Verdict::Conforms]);
    assert_eq!(verdict(format!("{first}\nsparameters A.7 A.9 B.6 B.4 lane-skewed.s4p\n")), [Verdict::Fails]);
    assert_eq!(verdict(first.replace("HBR3", "HBR33")), [Verdict::Inconclusive]);
    std::fs::remove_dir_all(&folder).unwrap();
}

#[test]
fn what_a_unit_reached_goes_into_its_lot() {
    let reports = leads();
    let reached: Vec<Option<i32>> =
        reports.iter().map(|report| GradeReached::of(&report.links).map(|grade| grade.steps_above_rated)).collect();
    // the first carries UHBR13.5 and isn't judged above it; of the last two not every lane was measured
    assert_eq!(reached, [Some(2), Some(-1), None, None]);
    let rated = reports[0].links[0].grade.rated.as_ref().unwrap();
    assert_eq!(rated.carries, Carries::Yes);
}
