//! The command itself, over netlists with Touchstone files.

use std::fmt::Write;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use crate::cable_model::{Bench, bench, number_of};

/// A folder of its own, removed at the end.
struct Scratch(PathBuf);

impl Scratch {
    fn new(name: &str) -> Self {
        let folder = std::env::temp_dir().join(format!("backshell-diagnose-{name}-{}", std::process::id()));
        std::fs::create_dir_all(&folder).unwrap();
        std::fs::copy("tests/suite/cable_model/dome-lens.toml", folder.join("dome-lens.toml")).unwrap();
        Scratch(folder)
    }

    /// The netlist of a bench beside the files of its pairs, with some more lines.
    fn unit(&self, bench: &Bench, more: &str) -> String {
        let mut text = bench.netlist(|_| true).replacen('\n', "\nrated HBR2\n", 1);
        for (at, network) in bench.networks.iter().enumerate() {
            let Some(network) = network else { continue };
            let mut file = String::from("! one pair of a lens lead\n# Hz S RI R 50\n");
            for (row, hertz) in network.frequencies().iter().enumerate() {
                let _ = write!(file, "{hertz}");
                for (cell, value) in network.matrix(row).iter().enumerate() {
                    let _ = write!(file, " {:.6} {:.6}", value.re, value.im);
                    if cell % 4 == 3 {
                        file.push('\n');
                    }
                }
            }
            std::fs::write(self.0.join(format!("lane{at}.s4p")), file).unwrap();
            let [plus, minus] = [2 * at + 1, 2 * at + 2];
            let _ = writeln!(text, "sparameters A.{plus} A.{minus} B.{plus} B.{minus} lane{at}.s4p");
        }
        text.push_str(more);
        self.file("unit.netlist", &text)
    }

    fn file(&self, name: &str, text: &str) -> String {
        std::fs::write(self.0.join(name), text).unwrap();
        self.0.join(name).display().to_string()
    }
}

impl Drop for Scratch {
    fn drop(&mut self) {
        std::fs::remove_dir_all(&self.0).ok();
    }
}

fn backshell(arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_backshell")).arg("diagnose").args(arguments).output().unwrap()
}

fn text(bytes: &[u8], folder: &Path) -> String {
    String::from_utf8_lossy(bytes).replace(&format!("{}/", folder.display()), "")
}

#[test]
fn a_split_pair_by_its_files() {
    let scratch = Scratch::new("split");
    let unit = scratch.unit(&bench(number_of("split-pair"), 128), "");
    let output = backshell(&[&unit, "--observed", "swap=cured"]);
    insta::assert_snapshot!("split_pair", text(&output.stdout, &scratch.0));
    assert_eq!(text(&output.stderr, &scratch.0), "");
    let output = backshell(&[&unit, "--observed", "swap=cured", "--observed", "crosstalk=two-pairs", "--format", "json"]);
    assert_eq!(output.status.code(), Some(0));
    let json: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
    assert_eq!((json["schema"].as_str(), json["units"][0]["claim"].as_str()), (Some("backshell.diagnose/1"), Some("points-to")));
    assert_eq!(json["units"][0]["claimed"][0], "split-pair");
    let sum: f64 = json["units"][0]["causes"].as_array().unwrap().iter().map(|one| one["probability"].as_f64().unwrap()).sum();
    assert!((sum - 1.0).abs() < 1e-9);
}

#[test]
fn a_crushed_place_and_a_bad_plug_by_their_files() {
    for (cause, place) in [("crush", " m from A and "), ("termination", "at end ")] {
        let scratch = Scratch::new(cause);
        let unit = scratch.unit(&bench(number_of(cause), 128), "");
        let output = backshell(&[&unit, "--observed", "swap=cured", "--observed", "movement=steady", "--format", "json"]);
        let json: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
        let first = &json["units"][0]["causes"][0];
        assert_eq!(first["cause"], cause, "{}", text(&output.stdout, &scratch.0));
        assert!(first["place"].as_str().unwrap().contains(place), "{first}");
    }
}

#[test]
fn exit_statuses_and_bad_input() {
    let scratch = Scratch::new("status");
    let sound = scratch.file("sound.netlist", "cable xlr3\nunit M1\nA.1 B.1\nA.2 B.2\nA.3 B.3\n");
    let drawing = scratch.file("drawing.netlist", "cable xlr3\nsource drawing\nA.1 B.1\nA.2 B.2\nA.3 B.3\n");
    let swapped = scratch.file("swapped.netlist", "cable xlr3\nA.1 B.1\nA.2 B.3\nA.3 B.2\n");
    let lost = scratch.file("lost.netlist", "cable dome-lens\nA.1 B.1\nA.2 B.2\nsparameters A.1 A.2 B.1 B.2 nowhere.s4p\n");
    let causes = scratch.file("causes.toml", "doubt = 2\n");
    let cases: [(&[&str], i32); 12] = [
        (&["--print-schema"], 0),
        (&["--print-causes"], 0),
        (&[&sound, "--observed", "list"], 0),
        (&[&sound], 1),
        (&[&sound, "--observed", "swap=cured"], 1),
        (&[&sound, "--observed", "swap=same-fault", "--observed", "elsewhere=works", "--unit", "M1"], 0),
        (&[&swapped, "--observed", "swap=cured"], 1),
        (&[&sound, "--observed", "swap"], 2),
        (&[&sound, "--observed", "swap=maybe"], 2),
        (&[&sound, "--unit", "M2"], 2),
        (&[&drawing], 2),
        (&[&lost], 2),
    ];
    for (arguments, status) in cases {
        let output = backshell(arguments);
        assert_eq!(output.status.code(), Some(status), "{arguments:?}: {}", text(&output.stderr, &scratch.0));
        assert_eq!(output.stderr.is_empty(), status != 2, "{arguments:?}");
    }
    assert_eq!(backshell(&[&sound, "--causes", &causes]).status.code(), Some(2));
    assert_eq!(backshell(&[&sound, "--causes", "no-such.toml"]).status.code(), Some(2));
    // the file that is printed is the file that is used
    let printed = scratch.file("printed.toml", &text(&backshell(&["--print-causes"]).stdout, &scratch.0));
    assert_eq!(backshell(&[&sound, "--causes", &printed]).stdout, backshell(&[&sound]).stdout);
}

#[test]
fn for_people() {
    for (name, arguments) in [
        ("nothing_observed", &["netlists/by-hand.netlist"][..]),
        ("rings_out", &["netlists/reel7.netlist", "--unit", "R7-0001"]),
        (
            "rings_out_and_moves",
            &[
                "netlists/reel7.netlist",
                "--unit",
                "R7-0001",
                "--observed",
                "swap=cured",
                "--observed",
                "movement=changes",
                "--observed",
                "end=B",
            ],
        ),
        ("fails_its_check", &["netlists/faults/pair.split.netlist"]),
        ("do_not_connect", &["netlists/faults/power.end-to-end.netlist"]),
        ("aluminium", &["netlists/faults/conductor.aluminium.netlist", "--observed", "swap=cured"]),
    ] {
        insta::assert_snapshot!(name, String::from_utf8(backshell(arguments).stdout).unwrap());
    }
}

#[test]
fn for_programs() {
    let output = backshell(&["netlists/faults/resistance.outlier.netlist", "--format", "json", "--observed", "swap=cured"]);
    insta::assert_snapshot!("for_programs", String::from_utf8(output.stdout).unwrap());
    let schema: serde_json::Value = serde_json::from_slice(&backshell(&["--print-schema"]).stdout).unwrap();
    assert_eq!(schema["title"], "DiagnosisReport");
}
