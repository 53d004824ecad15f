//! The command itself: exit statuses, streams, and bad input.

use std::io::Write;
use std::path::PathBuf;
use std::process::{Command, Output, Stdio};

fn backshell(arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_backshell"))
        .args(arguments)
        .env_remove("NO_COLOR")
        .env("XDG_CONFIG_HOME", env!("CARGO_TARGET_TMPDIR"))
        .output()
        .unwrap()
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

/// A file in a folder of its own, removed at the end.
struct Scratch(PathBuf);

impl Scratch {
    fn new(name: &str) -> Self {
        let folder = std::env::temp_dir().join(format!("backshell-{name}-{}", std::process::id()));
        std::fs::create_dir_all(&folder).unwrap();
        Scratch(folder)
    }

    fn file(&self, name: &str, content: &[u8]) -> String {
        let path = self.0.join(name);
        std::fs::write(&path, content).unwrap();
        path.display().to_string()
    }
}

impl Drop for Scratch {
    fn drop(&mut self) {
        std::fs::remove_dir_all(&self.0).ok();
    }
}

#[test]
fn exit_statuses() {
    let scratch = Scratch::new("status");
    let good = scratch.file("good.netlist", b"cable xlr3\nA.1 B.1\nA.2 B.2\nA.3 B.3\n");
    let bad = scratch.file("bad.netlist", b"cable xlr3\nA.1 B.1\nA.2 B.3\nA.3 B.2\n");
    let unknown = scratch.file("unknown.netlist", b"cable xlr33\nA.1 B.1\n");
    for (arguments, status) in [
        (vec!["check", &good], 0),
        (vec!["check", &bad], 1),
        (vec!["check", &good, &bad], 1),
        (vec!["check", &unknown], 2),
        (vec!["check", &good, &unknown], 2),
        (vec!["check"], 2),
        (vec!["check", &good, "--format", "runes"], 2),
        (vec!["check", "--print-schema"], 0),
        (vec!["check", &bad, "--cable", "no-such"], 2),
        (vec!["explain", "pair.reversed"], 0),
        (vec!["explain"], 0),
        (vec!["explain", "pair.revresed"], 2),
        (vec!["maps"], 0),
        (vec!["maps", "hdmi"], 0),
        (vec!["maps", "hdmy"], 2),
        (vec!["maps", "hdmi", "--draw"], 0),
        (vec!["maps", "hdmi", "--draw", "--format", "svg"], 0),
        (vec!["maps", "hdmi", "--format", "svg"], 2),
        (vec!["draw", &good], 0),
        (vec!["draw", &bad], 1),
        (vec!["draw", &bad, "--cable", "trs-xlr"], 2),
        (vec!["draw", &good, "--unit", "R7-0001"], 2),
        (vec!["draw", &unknown], 2),
        (vec!["draw", "netlists/reel7.netlist", "--unit", "R7-0001"], 0),
        (vec!["draw", "netlists/reel7.netlist", "--unit", "R7-0011"], 2),
        (vec![], 2),
    ] {
        let output = backshell(&arguments);
        assert_eq!(output.status.code(), Some(status), "{arguments:?}\n{}", text(&output.stderr));
    }
}

#[test]
fn no_colour_in_a_pipe() {
    let output = backshell(&["check", "netlists/reel7.netlist"]);
    assert!(!text(&output.stdout).contains('\u{1b}'));
    assert_eq!(output.status.code(), Some(1));
}

/// Of several units the first that fails is drawn, and the command says so; with `-o` nothing goes to the standard output.
#[test]
fn a_picture_of_one_unit() {
    let scratch = Scratch::new("draw");
    let file = scratch.0.join("reel.svg").display().to_string();
    let output = backshell(&["draw", "netlists/reel7.netlist", "--format", "svg", "-o", &file]);
    assert_eq!((output.status.code(), text(&output.stdout)), (Some(1), String::new()));
    assert!(text(&output.stderr).contains("10 units; drawn is R7-0002: the first that fails"), "{}", text(&output.stderr));
    let document = std::fs::read_to_string(&file).unwrap();
    assert!(document.starts_with("<?xml") && document.contains("R7-0002: fails") && document.contains("pair.reversed"));
    let output = backshell(&["draw", "netlists/reel7.netlist", "--unit", "R7-0005"]);
    assert_eq!(text(&output.stderr), "");
    let drawn = text(&output.stdout);
    assert!(drawn.starts_with("R7-0005  fails  DO NOT CONNECT\n") && !drawn.contains('\u{1b}'), "{drawn}");
    let output =
        backshell(&["draw", "netlists/reel7.netlist", "-o", &scratch.0.join("no/such/folder.svg").display().to_string()]);
    assert_eq!(output.status.code(), Some(2));
    let output = backshell(&["draw", "netlists/invalid/unknown-points.netlist"]);
    assert_eq!(output.status.code(), Some(2));
    assert!(text(&output.stderr).contains("nothing to draw"), "{}", text(&output.stderr));
}

#[test]
fn the_standard_input() {
    let mut child = Command::new(env!("CARGO_BIN_EXE_backshell"))
        .args(["check", "-", "--cable", "xlr3"])
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    child.stdin.take().unwrap().write_all(b"A.1 B.1\nA.2 B.2\nA.3 B.3\n").unwrap();
    let output = child.wait_with_output().unwrap();
    assert_eq!(output.status.code(), Some(0), "{}", text(&output.stdout));
}

#[test]
fn a_closed_pipe_is_no_error() {
    let mut child = Command::new(env!("CARGO_BIN_EXE_backshell"))
        .args(["check", "netlists/reel7.netlist"])
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    drop(child.stdout.take());
    let output = child.wait_with_output().unwrap();
    assert_eq!(text(&output.stderr), "");
}

#[test]
fn input_that_is_no_netlist() {
    let scratch = Scratch::new("input");
    let empty = scratch.file("empty.netlist", b"");
    let binary = scratch.file("binary.netlist", &[0, 1, 2, 255, 254]);
    let long = scratch.file("long.netlist", &b"A.1 ".repeat(500_000));
    let folder = scratch.0.display().to_string();
    let missing = scratch.0.join("missing.netlist").display().to_string();
    for (path, words) in [
        (&empty, "no unit and no fact"),
        (&binary, "not a text file"),
        (&long, "no cable line"),
        (&folder, "is a folder"),
        (&missing, "can't be opened"),
    ] {
        for format in ["human", "json"] {
            let output = backshell(&["check", path, "--format", format]);
            let said = text(&output.stdout);
            assert_eq!(output.status.code(), Some(2), "{path}: {said}");
            assert!(said.contains(words), "{path}: {said}");
            assert!(said.len() < 8_000, "{path}: {} bytes", said.len());
        }
    }
}

/// A long file is read in parts; what it says must not depend on that.
#[test]
fn a_long_file_and_its_parts() {
    let scratch = Scratch::new("long");
    let unit = |n: usize, last: &str| {
        let joins: String = (1..=2).map(|pin| format!("A.{pin}   B.{pin}   0.412 ohm   # as measured\n")).collect();
        format!("unit R7-{n:05}\n{joins}{last}\n")
    };
    let mut content = String::from("# a long reel\ncable xlr3\n");
    let units = 20_000;
    for n in 0..units {
        content += &unit(
            n,
            match n {
                777 => "A.3 A.shell",
                12_345 => "A.3 B.3 nonsense",
                19_998 => "open A.3 B.3",
                _ => "A.3 B.3",
            },
        );
    }
    content += &unit(5, "A.3 B.3");
    let path = scratch.file("long.netlist", content.as_bytes());
    let output = backshell(&["check", &path, "--format", "json"]);
    assert_eq!(output.status.code(), Some(2));
    let report: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
    let found = report["units"].as_array().unwrap();
    let names: Vec<&str> = found.iter().map(|unit| unit["unit"].as_str().unwrap()).collect();
    let mut sorted = names.clone();
    sorted.sort_unstable();
    assert_eq!(names, sorted, "the order of the file");
    assert_eq!(found.len(), units - 2, "without the one that can't be read and the one named twice");
    let failing: Vec<&str> =
        found.iter().filter(|unit| unit["verdict"] == "fails").map(|unit| unit["unit"].as_str().unwrap()).collect();
    assert_eq!(failing, ["R7-00777", "R7-19998"]);
    let label = &found.iter().find(|unit| unit["unit"] == "R7-19998").unwrap()["findings"][0]["labels"][0];
    let (line, offset) = (label["line"].as_u64().unwrap(), label["offset"].as_u64().unwrap());
    assert_eq!(content.lines().nth(usize::try_from(line).unwrap() - 1).unwrap(), "open A.3 B.3");
    assert!(content[usize::try_from(offset).unwrap()..].starts_with("open A.3 B.3"));
    let errors = report["errors"].as_array().unwrap();
    assert_eq!(errors.len(), 2, "{errors:?}");
    assert!(errors[0]["message"].as_str().unwrap().contains("end of the line"));
    assert!(errors[1]["message"].as_str().unwrap().contains("named twice"));
    let lines: Vec<u64> = errors[1]["labels"].as_array().unwrap().iter().map(|label| label["line"].as_u64().unwrap()).collect();
    assert_eq!(lines, [u64::try_from(units).unwrap() * 4 + 3, 5 * 4 + 3]);
}

/// The report keeps to the schema that the program prints: its fields, read by types written apart.
#[test]
fn the_json_reads_back() {
    #[derive(serde::Deserialize)]
    #[serde(deny_unknown_fields)]
    #[allow(dead_code)]
    struct Label {
        file: String,
        line: u64,
        column: u64,
        offset: u64,
        length: u64,
        text: String,
    }
    #[derive(serde::Deserialize)]
    #[allow(dead_code)]
    struct Finding {
        code: String,
        severity: String,
        message: String,
        points: Vec<String>,
        signals: Vec<String>,
        labels: Vec<Label>,
        hazard: bool,
        remedy: String,
        source: String,
    }
    #[derive(serde::Deserialize)]
    #[allow(dead_code)]
    struct Unit {
        unit: Option<String>,
        cable: String,
        file: String,
        verdict: String,
        findings: Vec<Finding>,
        not_shown: Vec<String>,
    }
    #[derive(serde::Deserialize)]
    struct Summary {
        units: usize,
        conforms: usize,
        fails: usize,
        inconclusive: usize,
    }
    #[derive(serde::Deserialize)]
    struct Report {
        schema: String,
        units: Vec<Unit>,
        errors: Vec<serde_json::Value>,
        summary: Summary,
    }
    let output = backshell(&["check", "netlists/reel7.netlist", "--format", "json"]);
    let report: Report = serde_json::from_slice(&output.stdout).unwrap();
    assert_eq!(report.schema, "backshell.check/1");
    let summary = &report.summary;
    assert_eq!((summary.units, summary.conforms, summary.fails, summary.inconclusive), (10, 1, 8, 1));
    assert!(report.errors.is_empty());
    let source = std::fs::read_to_string("netlists/reel7.netlist").unwrap();
    for unit in &report.units {
        assert_eq!(unit.findings.len(), usize::from(unit.verdict != "conforms"), "{:?}", unit.unit);
        for finding in &unit.findings {
            let mut sorted = finding.points.clone();
            sorted.sort();
            assert_eq!(finding.points, sorted);
            for label in finding.labels.iter().filter(|label| label.file.ends_with(".netlist")) {
                let line = source.lines().nth(usize::try_from(label.line).unwrap() - 1).unwrap();
                let at = usize::try_from(label.offset).unwrap();
                assert!(line.contains(&source[at..at + usize::try_from(label.length).unwrap()]));
            }
        }
    }
    let schema: serde_json::Value = serde_json::from_slice(&backshell(&["check", "--print-schema"]).stdout).unwrap();
    assert!(schema["properties"]["units"].is_object());
}

/// Which file is read how, and options that none of the files has a use for.
#[test]
fn forms_and_their_options() {
    let scratch = Scratch::new("forms");
    let rows = b"from,to\n1,1\n2,2\n3,3\n";
    let table = scratch.file("three.CSV", rows);
    let plain = scratch.file("three.txt", rows);
    let tabs = scratch.file("three.tsv", b"from\tto\n1\t1\n2\t2\n3\t3\n");
    let netlist = scratch.file("three.netlist", b"cable xlr3\nA.1 B.1\nA.2 B.2\nA.3 B.3\n");
    let header = scratch.file("header.netlist", b"cable xlr3\nsource measured\n");
    let facts = scratch.file("facts.netlist", b"cable xlr3\nA.1 B.1\n");
    let rule = scratch
        .file("rule.toml", b"[[rule]]\nmatch = '(?<from>A.*),(?<to>.*)'\n[[ignore]]\nmatch = 'from,to'\nwhy = 'heading'\n");
    let log = scratch.file("three.log", b"from,to\nA.1,B.1\nA.2,B.2\nA.3,B.3\n");
    let broken = scratch.file("broken.toml", b"[[rule]]\nmatch = '('\n");
    let xlr = "cable xlr3\nsource measured";
    for (arguments, status, words) in [
        // a table without figures is a drawing, and this one says nothing of length and gauge
        (vec![&*table, "--ends", "A,B", "--cable", "xlr3"], 1, "drawing.length-missing"),
        (vec![&*tabs, &*netlist, "--ends", "A,B", "--set", xlr, "--set", "length 2 m"], 0, "2 conform"),
        (vec![&*table, "--ends", "A,B", "--header", &*header], 0, "1 conforms"),
        (vec![&*plain, "--table", "--ends", "A,B", "--set", xlr], 0, "1 conforms"),
        (vec![&*log, "--rule", &*rule, "--set", xlr], 0, "1 conforms"),
        (vec![&*log, &*netlist, &*table, "--rule", &*rule, "--set", xlr, "--ends", "A,B"], 0, "3 conform"),
        (vec![&*table, "--ends", "A,B"], 2, "no cable line"),
        (vec![&*table, "--set", xlr], 2, "a pin without its end"),
        (vec![&*netlist, "--ends", "A,B"], 2, "no file is read as one"),
        (vec![&*netlist, "--set", xlr], 2, "no file is read as one"),
        (vec![&*table, "--rule", &*rule, "--ends", "A,B"], 2, "no file is read by the rules"),
        (vec![&*log, "--rule", &*broken, "--set", xlr], 2, "broken.toml:2:10"),
        (vec![&*log, "--rule", "missing.toml", "--set", xlr], 2, "can't be opened"),
        (vec![&*table, "--ends", "A,B", "--header", &*facts], 2, "only header lines"),
        (vec![&*table, "--ends", "A,B", "--set", "lenght 2 m"], 2, "did you mean `length`"),
    ] {
        let output = backshell(&[&["check"], &arguments[..]].concat());
        let said = text_of(&output);
        assert_eq!(output.status.code(), Some(status), "{arguments:?}\n{said}");
        assert!(said.contains(words), "{arguments:?}\n{said}");
    }
    for arguments in [
        vec![&*table, "--ends", "A"],
        vec![&*table, "--ends", "1,2"],
        vec![&*table, "--column", "form=Pin"],
        vec![&*table, "--column", "from"],
        vec![&*table, "--column", "from="],
        vec![&*table, "--set", xlr, "--header", &*header],
        vec![&*log, "--table", "--rule", &*rule],
    ] {
        let output = backshell(&[&["check"], &arguments[..]].concat());
        assert_eq!(output.status.code(), Some(2), "{arguments:?}");
        assert!(text(&output.stderr).contains("error"), "{arguments:?}");
    }
}

/// A cable that an option names isn't sought in the netlist.
#[test]
fn an_unknown_cable_is_shown_where_it_was_named() {
    let netlist = "netlists/reel7.netlist";
    for (arguments, says) in [
        (vec!["check", netlist, "--cable", "nosuch"], "--cable: no cable `nosuch` in the catalogue"),
        (vec!["compare", netlist, netlist, "--cable", "nosuch"], "--cable: no cable `nosuch` in the catalogue"),
        (vec!["check", netlist, "--cable", "./nosuch.toml"], "--cable: the pin map ./nosuch.toml can't be opened"),
    ] {
        let output = backshell(&arguments);
        let said = text_of(&output);
        assert_eq!(output.status.code(), Some(2), "{said}");
        assert!(said.contains(says) && !said.contains("named here"), "{said}");
    }
    let said = text_of(&backshell(&["check", "netlists/invalid/unknown-cable.netlist"]));
    assert!(said.contains("named here") && !said.contains("--cable:"), "{said}");
}

/// Whoever knows half of a code, or writes it large, finds it.
#[test]
fn a_code_is_found_by_its_beginning() {
    assert_eq!(backshell(&["explain", "PAIR.Split"]), backshell(&["explain", "pair.split"]));
    for (word, status, says) in [
        ("pair", 2, "these begin so: `pair.open`, `pair.reversed`, `pair.transposed`, `pair.split`"),
        ("power.", 2, "these begin so: `power.end-to-end`, `power.short`"),
        ("wiring.v", 2, "did you mean `wiring.variant`?"),
        ("pair.revresed", 2, "did you mean `pair.reversed`?"),
        ("", 2, "`backshell explain` lists them"),
        ("verdict.inconclusive", 0, "This is no finding but the verdict on a unit"),
        ("lot.decision", 0, "This is no finding but the decision on a lot"),
    ] {
        let output = backshell(&["explain", word]);
        assert_eq!(output.status.code(), Some(status), "{word}");
        assert!(text_of(&output).contains(says), "{word}: {}", text_of(&output));
    }
}

/// Both streams, without the line breaks of the drawing.
fn text_of(output: &Output) -> String {
    let said = text(&output.stdout) + &text(&output.stderr);
    said.replace('│', " ").split_whitespace().collect::<Vec<_>>().join(" ")
}
