//! The reports and the bench page as a browser shows them: Chromium, driven by playwright-core.
//!
//! What is looked at stands in `tests/reference/browser/`; its pictures go to `target/tmp/browser`, to be looked at by eye.

use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

use serde_json::{Value, json};

use crate::scratch::{Scratch, command, lead, leads, run, text};

/// Runs the script over `asked`, where there is a browser; in CI there must be one.
fn browse(mut asked: Value) -> Option<String> {
    let required = std::env::var_os("CI").is_some() || std::env::var_os("BACKSHELL_REFERENCES").is_some();
    for needed in ["/usr/bin/chromium", "target/reference/node_modules/playwright-core/package.json"] {
        if !Path::new(needed).exists() {
            assert!(!required, "{needed} isn't there: `.ci/run` installs it");
            println!("not looked at in a browser: {needed} isn't there");
            return None;
        }
    }
    asked["shots"] = Path::new(env!("CARGO_TARGET_TMPDIR")).join("browser").display().to_string().into();
    let node = Command::new("node")
        .arg("tests/reference/check_browser.mjs")
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn();
    let mut node = match node {
        Ok(node) => node,
        Err(error) => {
            assert!(!required, "node can't be run: {error}");
            return None;
        }
    };
    std::io::Write::write_all(&mut node.stdin.take().unwrap(), asked.to_string().as_bytes()).unwrap();
    let output = node.wait_with_output().unwrap();
    let said = format!("{}{}", text(&output.stdout), text(&output.stderr));
    assert!(output.status.success(), "{said}");
    println!("{said}");
    Some(said)
}

/// Writes a report; the words are those after `backshell report`.
fn report(scratch: &Scratch, name: &str, words: &[&str]) -> Value {
    let file = scratch.path(&format!("{name}.html"));
    let mut all = vec!["report".as_ref(), "-o".as_ref(), file.as_os_str()];
    all.extend(words.iter().map(AsRef::<std::ffi::OsStr>::as_ref));
    let output = run(&all);
    assert!(file.exists(), "{name}: {}", text(&output.stderr));
    json!({ "name": name, "file": file })
}

#[test]
fn reports_on_screens_and_on_paper() {
    let scratch = Scratch::new("browser");
    let file = |name: &str, content: &str| -> PathBuf { scratch.file(name, content) };
    let lot = file("lot.netlist", &leads("D", 240));
    let sound: String = (0..30).map(|nth| lead(&format!("M-{nth:02}"), "M1", true).split_off("cable xlr3\n".len())).collect();
    let sound = file("sound.netlist", &format!("cable xlr3\n{}", sound.replace("lot M1\nsupplier \"Quillon Looms\"\n", "")));
    let (lot, sound) = (lot.display().to_string(), sound.display().to_string());
    let said = ["--date", "4 April 2031", "--order", "DR-114, line 3", "--instrument", "ring-out bench 2", "--number", "C-31"];
    let with = |words: &[&'static str]| [words, &said[..]].concat();
    let mut reports = [
        report(&scratch, "unit", &["netlists/faults/two-faults.netlist"]),
        report(&scratch, "unit-of-display", &["netlists/faults/pair.transposed.netlist"]),
        report(&scratch, "drawing", &["netlists/drawings/lanes-straight.netlist"]),
        report(&scratch, "reel", &["netlists/reel7.netlist"]),
        report(&scratch, "lot", &[&lot, "--size", "500"]),
        report(&scratch, "suppliers", &["netlists/lots/suppliers"]),
        report(&scratch, "certificate", &[&[sound.as_str(), "--face", "certificate"], &said[..]].concat()),
        report(&scratch, "non-conformance", &with(&["netlists/reel7.netlist", "--face", "non-conformance"])),
        report(&scratch, "signal", &["netlists/signals/projector-leads.netlist"]),
    ];
    // a certificate of 30 units is one sheet of paper
    reports[6]["pages"] = 2.into();
    if let Some(said) = browse(json!({ "kind": "reports", "reports": reports })) {
        assert!(said.contains("9 reports"), "{said}");
    }
}

/// The bench page, with a record and a lot of known size: what arrives, from afar, without colour, and by the keyboard.
#[cfg(feature = "record")]
#[test]
fn the_bench_on_a_screen() {
    use std::io::{BufRead, BufReader};

    let scratch = Scratch::new("browser-bench");
    let (before, folder, record) = (scratch.folder("before"), scratch.folder("in"), scratch.path("dome.db"));
    std::fs::write(before.join("a.netlist"), lead("E-07", "M0", false)).unwrap();
    let once =
        |folder: &Path| command().arg("watch").arg(folder).args(["--once", "--quiet", "0", "--record"]).arg(&record).output();
    assert_eq!(once(&before).unwrap().status.code(), Some(1));
    let mut bench = command()
        .arg("watch")
        .arg(&folder)
        .args(["--quiet", "0", "--serve", "127.0.0.1:0", "--size", "150", "--aql", "4.0", "--lot", "M1", "--record"])
        .arg(&record)
        .stdout(Stdio::null())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let mut line = String::new();
    BufReader::new(bench.stderr.take().unwrap()).read_line(&mut line).unwrap();
    let address = line.trim().split_once("http://").map(|(_, address)| format!("http://{address}"));
    let display = std::fs::read_to_string("netlists/faults/pair.transposed.netlist").unwrap();
    let danger = std::fs::read_to_string("netlists/faults/power.short.netlist").unwrap();
    let half = "cable xlr3\nlot M1\nsupplier \"Quillon Looms\"\nscope stated\nunit M-03\nA.1 B.1\n";
    let netlist = |name: &str, content: &str, unit: &str, call: &str| json!({ "name": name, "content": content, "unit": unit, "call": call });
    let other_lot = |content: &str, unit: &str| {
        content.replacen("cable ", "lot K9\ncable ", 1).replacen("\n\n", &format!("\nunit {unit}\n"), 1)
    };
    let asked = json!({
        "kind": "bench",
        "address": address,
        "folder": folder,
        "earlier": { "unit": "E-07", "call": "FAILS" },
        "so_far": ["NOT ENOUGH UNITS YET", "Lot M1 of Quillon Looms: 3 of 20 units of the sample inspected, out of a lot of 150", "1 conform, 1 fail, 1 inconclusive"],
        "netlists": [
            netlist("sound.netlist", &lead("M-01", "M1", true), "M-01", "CONFORMS"),
            netlist("reversed.netlist", &lead("M-02", "M1", false), "M-02", "FAILS"),
            netlist("half.netlist", half, "M-03", "CAN'T TELL"),
            netlist("danger.netlist", &other_lot(&danger, "K9-0001"), "K9-0001", "DO NOT CONNECT"),
            netlist("network.netlist", &other_lot(&display, "K9-0002"), "K9-0002", "FAILS"),
        ],
    });
    let said = std::panic::catch_unwind(|| browse(asked));
    bench.kill().ok();
    bench.wait().ok();
    match said {
        Ok(Some(said)) => assert!(said.contains("5 verdicts"), "{said}"),
        Ok(None) => {}
        Err(fault) => std::panic::resume_unwind(fault),
    }
}
