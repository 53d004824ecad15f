//! The formats that others read: SARIF, JUnit XML, CSV, and the JSON with its schema.
//!
//! Each is read back by a reader that isn't ours, and says the same as the verdicts; whatever a text holds, it stays a text.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};
use std::sync::Arc;

use backshell::finding::{Code, Label, Problem, Severity, Verdict};
use backshell::report::{FindingsCsv, JsonReport, Junit, Sarif, Writer};
use backshell::text::{Source, Span, visible};
use backshell::verify::{Batch, Options, Outcome, check_file, check_text};
use proptest::prelude::*;
use serde_json::{Value, json};

use crate::references::python;
use crate::snapshots::netlists;

fn backshell(arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_backshell")).args(arguments).output().unwrap()
}

fn said(arguments: &[&str], status: i32) -> String {
    let output = backshell(arguments);
    let text = String::from_utf8(output.stdout).unwrap();
    assert_eq!(output.status.code(), Some(status), "{arguments:?}\n{text}{}", String::from_utf8_lossy(&output.stderr));
    text
}

/// A folder that is removed at the end.
struct Folder(PathBuf);

impl Folder {
    fn new(name: &str) -> Self {
        let folder = std::env::temp_dir().join(format!("backshell-formats-{name}-{}", std::process::id()));
        std::fs::create_dir_all(&folder).unwrap();
        Folder(folder)
    }

    fn file(&self, name: &str, content: &str) -> String {
        let path = self.0.join(name);
        std::fs::write(&path, content).unwrap();
        path.display().to_string()
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        std::fs::remove_dir_all(&self.0).ok();
    }
}

/// The same batches in each of the three formats.
fn written(batches: &[(String, Batch)], outcome: &Outcome) -> [String; 3] {
    fn one(mut writer: impl Writer, batches: &[(String, Batch)], outcome: &Outcome) {
        for (file, batch) in batches {
            writer.batch(file, batch).unwrap();
        }
        writer.finish(outcome).unwrap();
    }
    let mut outs = [Vec::new(), Vec::new(), Vec::new()];
    let [sarif, junit, csv] = &mut outs;
    one(Sarif::new(sarif).unwrap(), batches, outcome);
    one(Junit::new(junit).unwrap(), batches, outcome);
    one(FindingsCsv::new(csv).unwrap(), batches, outcome);
    outs.map(|out| String::from_utf8(out).unwrap())
}

fn checked(path: &Path) -> (Vec<(String, Batch)>, Outcome) {
    let mut batches = Vec::new();
    let outcome = check_file(path, &Options::default(), |batch| batches.push((path.display().to_string(), batch)));
    (batches, outcome)
}

fn results(log: &Value) -> &Vec<Value> {
    log["runs"][0]["results"].as_array().unwrap()
}

fn rows(text: &str) -> Vec<csv::StringRecord> {
    csv::ReaderBuilder::new().has_headers(false).from_reader(text.as_bytes()).records().map(Result::unwrap).collect()
}

/// Cases of a report that have a child of that name.
fn cases(document: &roxmltree::Document<'_>, child: &str) -> usize {
    let cases = document.descendants().filter(|node| node.has_tag_name("testcase"));
    cases.filter(|case| case.children().any(|node| node.has_tag_name(child))).count()
}

// ------------------------------------------------------------------ what is written

const SMALL: [&str; 4] = [
    "netlists/faults/shield.from-memory.netlist",
    "netlists/faults/power.end-to-end.netlist",
    "netlists/drawings/sound.netlist",
    "netlists/invalid/control-characters.netlist",
];

#[test]
fn small_outputs() {
    for format in ["sarif", "junit", "csv"] {
        let text = said(&[&["check", "--format", format], &SMALL[..]].concat(), 2);
        assert_eq!(text, said(&[&["check", "--format", format], &SMALL[..]].concat(), 2), "the same bytes again");
        insta::assert_snapshot!(format!("formats__{format}"), text);
    }
}

/// Every netlist of the demo data: the counts, the levels and the places are those of the verdicts.
#[test]
fn every_format_says_what_the_verdicts_say() {
    let mut inconclusive = 0;
    for path in netlists() {
        let (batches, outcome) = checked(&path);
        let [sarif, junit, csv] = written(&batches, &outcome);
        let name = path.display();
        let reports = || batches.iter().flat_map(|(_, batch)| &batch.reports);
        let findings: usize = reports().map(|report| report.findings.len()).sum();
        let unjudged = usize::from(outcome.unjudged > 0);

        let log: Value = serde_json::from_str(&sarif).unwrap();
        let count = |key: &str, value: &str| results(&log).iter().filter(|result| result[key] == value).count();
        assert_eq!(count("kind", "fail"), findings, "{name}");
        assert_eq!(count("kind", "open"), outcome.inconclusive, "{name}");
        let of = |severity| reports().flat_map(|report| &report.findings).filter(|one| one.severity == severity).count();
        let levels = ["error", "warning", "note"].map(|level| count("level", level));
        assert_eq!(levels, [Severity::Fail, Severity::Caution, Severity::Note].map(of), "{name}");
        let invocation = &log["runs"][0]["invocations"][0];
        assert_eq!(invocation["exitCode"], outcome.status(), "{name}");
        assert_eq!(invocation["executionSuccessful"], outcome.status() != 2, "{name}");
        let notified = invocation["toolExecutionNotifications"].as_array().unwrap().len();
        assert!(notified >= outcome.problems + unjudged && (notified > 0) == (outcome.status() == 2), "{name}");
        inconclusive += outcome.inconclusive;

        let document = roxmltree::Document::parse(&junit).unwrap();
        assert_eq!(cases(&document, "failure"), outcome.fails + outcome.inconclusive, "{name}");
        assert_eq!(cases(&document, "error"), notified, "{name}");
        let all = document.descendants().filter(|node| node.has_tag_name("testcase")).count();
        assert_eq!(all, outcome.units() + notified, "{name}: the others pass");

        let rows = rows(&csv);
        let plain = reports().filter(|report| report.findings.is_empty()).count();
        let kinds = ["finding", "unit", "problem"].map(|kind| rows.iter().filter(|row| &row[0] == kind).count());
        assert_eq!(kinds, [findings, plain, notified], "{name}");
        for (row, head) in rows.iter().skip(1).zip(std::iter::repeat(&rows[0])) {
            assert_eq!(row.len(), head.len());
        }
    }
    assert!(inconclusive > 5, "{inconclusive}");
}

/// Lines and columns lead to the same words as bytes do, also behind characters of several bytes.
#[test]
fn regions_are_those_of_the_bytes() {
    let folder = Folder::new("regions");
    let odd = folder
        .file("Prüfung.netlist", "\u{feff}cable xlr3 # Größe\nunit \"ÄÖ 1\"\nA.1 B.1\nA.2 B.2 A.9\nconductor \"grün\" A.3 B.7\n");
    let mut seen = 0;
    for path in netlists().into_iter().chain([PathBuf::from(odd)]) {
        let Ok(text) = std::fs::read_to_string(&path) else { continue }; // one isn't UTF-8
        let (batches, outcome) = checked(&path);
        let [sarif, ..] = written(&batches, &outcome);
        let log: Value = serde_json::from_str(&sarif).unwrap();
        let mut places: Vec<&Value> = Vec::new();
        for result in results(&log) {
            places.extend(result["locations"].as_array().unwrap());
            places.extend(result["relatedLocations"].as_array().into_iter().flatten());
        }
        for notice in log["runs"][0]["invocations"][0]["toolExecutionNotifications"].as_array().unwrap() {
            places.extend(notice["locations"].as_array().into_iter().flatten());
        }
        let file = path.file_name().unwrap().to_str().unwrap().replace('ü', "%C3%BC");
        for place in places.iter().map(|place| &place["physicalLocation"]) {
            if !place["artifactLocation"]["uri"].as_str().unwrap().ends_with(&file) || place["region"].is_null() {
                continue;
            }
            let number = |key: &str| usize::try_from(place["region"][key].as_u64().unwrap()).unwrap();
            let (start, end) = (number("byteOffset"), number("byteOffset") + number("byteLength"));
            let at = |byte: usize| {
                let before = text[..byte].trim_start_matches('\u{feff}');
                let last = before.rsplit('\n').next().unwrap();
                (before.matches('\n').count() + 1, last.chars().count() + 1)
            };
            assert_eq!((number("startLine"), number("startColumn")), at(start), "{place}");
            assert_eq!((number("endLine"), number("endColumn")), at(end), "{place}");
            seen += 1;
        }
    }
    assert!(seen > 100, "{seen}");
}

/// A rule is there for each code that occurs, and no other, with the page that `explain` shows.
#[test]
fn rules_are_the_pages() {
    let log: Value = serde_json::from_str(&said(&["check", "--format", "sarif", "netlists/reel7.netlist"], 1)).unwrap();
    let rules = log["runs"][0]["tool"]["driver"]["rules"].as_array().unwrap();
    let mut used = BTreeSet::new();
    for result in results(&log) {
        let rule = &rules[usize::try_from(result["ruleIndex"].as_u64().unwrap()).unwrap()];
        assert_eq!(rule["id"], result["ruleId"]);
        used.insert(result["ruleId"].as_str().unwrap());
    }
    assert_eq!(used.len(), rules.len());
    for rule in rules {
        let id = rule["id"].as_str().unwrap();
        if let Some(code) = Code::parse(id) {
            assert_eq!(rule["help"]["markdown"], said(&["explain", id], 0));
            assert!(code.page().text().contains(rule["shortDescription"]["text"].as_str().unwrap()));
        } else {
            assert_eq!(id, "verdict.inconclusive");
        }
    }
}

/// The level of a rule is the heaviest that a fault of the demo data has; two that only come near their limits there are left out.
#[test]
fn usual_severities() {
    let mut heaviest = std::collections::BTreeMap::new();
    for path in netlists() {
        for (_, batch) in checked(&path).0 {
            for finding in batch.reports.iter().flat_map(|report| &report.findings) {
                let most = heaviest.entry(finding.code).or_insert(finding.severity);
                *most = finding.severity.min(*most);
            }
        }
    }
    for (code, severity) in heaviest {
        if ![Code::ResistanceLow, Code::ResistanceUnbalance].contains(&code) {
            assert_eq!(code.usual_severity(), severity, "{code}");
        }
    }
}

// ------------------------------------------------------------------ fingerprints and places

fn fingerprints(path: &str, status: i32) -> Vec<String> {
    let log: Value = serde_json::from_str(&said(&["check", "--format", "sarif", path], status)).unwrap();
    let all = results(&log).iter().filter_map(|result| result["partialFingerprints"]["backshellFinding/v1"].as_str());
    all.map(str::to_owned).collect()
}

/// A fingerprint outlives lines that move, figures that change and a file that is renamed; no two findings of a reel share one.
#[test]
fn fingerprints_are_stable() {
    let folder = Folder::new("fingerprints");
    let reel = std::fs::read_to_string("netlists/reel7.netlist").unwrap();
    let before = fingerprints("netlists/reel7.netlist", 1);
    assert_eq!(before.iter().collect::<BTreeSet<_>>().len(), before.len());
    let later = folder.file("renamed.netlist", &format!("# moved\n\n{}", reel.replace("0.466 ohm", "0.467 ohm")));
    assert_eq!(fingerprints(&later, 1), before);
    let other = folder.file("other.netlist", &reel.replace("R7-0002", "R8-0002"));
    let changed = fingerprints(&other, 1).iter().zip(&before).filter(|(now, then)| now != then).count();
    assert_eq!(changed, 1, "another unit, another finding");
}

/// No path of the machine is in a log, whether the file lies below the current folder or elsewhere.
#[test]
fn no_absolute_paths() {
    let folder = Folder::new("absolute");
    let elsewhere = folder.file("a b%.netlist", "cable xlr3\nA.1 B.1\nA.2 B.3\nA.3 B.2\n");
    let below = std::env::current_dir().unwrap().join("netlists/faults/open.netlist").display().to_string();
    let place = |path: &str| {
        let log: Value = serde_json::from_str(&said(&["check", "--format", "sarif", path], 1)).unwrap();
        results(&log)[0]["locations"][0]["physicalLocation"]["artifactLocation"].clone()
    };
    assert_eq!(place(&below), json!({"uri": "netlists/faults/open.netlist"}));
    assert_eq!(place("./netlists/faults/open.netlist"), json!({"uri": "netlists/faults/open.netlist"}));
    let uri = elsewhere.trim_start_matches('/').replace(' ', "%20").replace("%.", "%25.");
    assert_eq!(place(&elsewhere), json!({"uri": uri, "uriBaseId": "ROOT"}));
    let catalogue = said(&["check", "--format", "sarif", "netlists/faults/open.netlist"], 1);
    assert!(catalogue.contains(r#""uri":"catalogue/cables/"#) && !catalogue.contains("file:"));
}

/// A command line that can't be used is reported in the format that was asked for.
#[test]
fn the_input_that_can_not_be_used() {
    for arguments in
        [&["no-such.netlist"][..], &["netlists/faults/open.netlist", "--ends", "A,B"], &["netlists/invalid/empty.netlist"]]
    {
        let log: Value = serde_json::from_str(&said(&[&["check", "--format", "sarif"], arguments].concat(), 2)).unwrap();
        let invocation = &log["runs"][0]["invocations"][0];
        assert_eq!((&invocation["executionSuccessful"], &invocation["exitCode"]), (&json!(false), &json!(2)));
        assert!(!invocation["toolExecutionNotifications"].as_array().unwrap().is_empty());
        let junit = said(&[&["check", "--format", "junit"], arguments].concat(), 2);
        assert!(cases(&roxmltree::Document::parse(&junit).unwrap(), "error") > 0, "{junit}");
        assert!(said(&[&["check", "--format", "csv"], arguments].concat(), 2).contains("\r\nproblem,"));
    }
}

/// A reel longer than a suite holds becomes several, each with its own counts.
#[test]
fn a_long_reel_in_suites() {
    let unit = |n: usize| format!("unit S-{n:05}\nA.1 B.1\nA.2 B.{}\nA.3 B.{}\n", [2, 3][n % 2], [3, 2][n % 2]);
    let reel: String = "cable xlr3\n".to_owned() + &(0..2500).map(unit).collect::<String>();
    let mut batches = Vec::new();
    let outcome = check_text("reel", &reel, &Options::default(), |batch| batches.push(("reel".to_owned(), batch)));
    let [sarif, junit, csv] = written(&batches, &outcome);
    assert_eq!(results(&serde_json::from_str(&sarif).unwrap()).len(), 1250);
    assert_eq!(rows(&csv).len(), 2501);
    let document = roxmltree::Document::parse(&junit).unwrap();
    let suites: Vec<[String; 3]> = document
        .descendants()
        .filter(|node| node.has_tag_name("testsuite"))
        .map(|suite| ["name", "tests", "failures"].map(|name| suite.attribute(name).unwrap().to_owned()))
        .collect();
    let wanted = [["reel", "1000", "500"], ["reel (2)", "1000", "500"], ["reel (3)", "500", "250"]];
    assert_eq!(suites, wanted.map(|suite| suite.map(str::to_owned)));
}

// ------------------------------------------------------------------ hostile texts

/// Texts that mean something to what may read them, and any others.
fn hostile() -> impl Strategy<Value = String> {
    let known = [
        "\"'<>&;,",
        "</failure></testcase>",
        "<script>alert(1)</script>",
        "]]>",
        "<![CDATA[",
        "&#0;&amp;",
        "=cmd|' /C calc'!A0",
        "+1+1",
        "-2+3",
        "@SUM(A1)",
        "'=1",
        "＝1",
        "\u{202e}gnp.exe",
        "\u{0}\u{1}\u{b}\u{1b}[2J\u{7f}\u{85}",
        "\u{fffe}\u{ffff}",
        "[here](http://example.invalid)",
        "{0} {unit}",
        "a\r\nb\tc",
        "%00%2e../..",
        "\\",
        "é\u{301}漢字🛰",
    ];
    let known = proptest::sample::select(known.to_vec()).prop_map(str::to_owned);
    let long = any::<char>().prop_map(|c| c.to_string().repeat(10_000 / c.len_utf8()));
    prop_oneof![4 => known, 3 => any::<String>(), 1 => long]
}

/// A SARIF text as it was before its braces and brackets were made safe.
fn unescaped(text: &str) -> String {
    let text = if text.contains("\\](") { text.replace("\\[", "[").replace("\\]", "]") } else { text.to_owned() };
    text.replace("{{", "{").replace("}}", "}")
}

/// A cell as it was before an apostrophe was put before it.
fn without_apostrophe(cell: &str) -> &str {
    cell.strip_prefix('\'').unwrap_or(cell)
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 96, failure_persistence: None, ..ProptestConfig::default() })]

    /// Whatever a text holds, each format is valid, has it back, and has nothing that would be acted on.
    #[test]
    fn hostile_texts_stay_texts(texts in proptest::collection::vec(hostile(), 8)) {
        let [unit, file, message, point, signal, why, remedy, words] = &*texts else { unreachable!() };
        let mut batches = Vec::new();
        let text = "cable xlr3\nA.1 B.1\nA.2 B.3\nA.3 B.2\n";
        let outcome = check_text("x", text, &Options::default(), |batch| batches.push((file.clone(), batch)));
        let source = Source::new(file.clone(), text);
        let report = &mut batches[0].1.reports[0];
        report.unit = Some(unit.clone());
        let mut cable = (*report.cable).clone();
        cable.name.clone_from(point);
        report.cable = Arc::new(cable);
        let finding = &mut report.findings[0];
        finding.message.clone_from(message);
        finding.points = vec![point.clone()];
        finding.signals = vec![signal.clone()];
        finding.why.clone_from(why);
        finding.remedy.clone_from(remedy);
        finding.labels = vec![Label::new(&source, Span::new(11, 18), words.clone())];
        batches[0].1.problems.push(Problem::new(words.clone()).help(signal.clone()));
        let all = written(&batches, &outcome);
        for out in &all {
            prop_assert!(out.chars().all(|c| matches!(c, '\n' | '\r') || visible(c.encode_utf8(&mut [0; 4])).len() == c.len_utf8()));
        }
        let [sarif, junit, csv] = &all;

        let log: Value = serde_json::from_str(sarif).unwrap();
        let result = &results(&log)[0];
        let text = result["message"]["text"].as_str().unwrap();
        let wanted = format!("{unit}: {message}");
        prop_assert_eq!(unescaped(text), visible(&wanted));
        prop_assert!(!text.replace("\\]", "").contains("]("));
        prop_assert_eq!(&result["properties"]["unit"], &*visible(unit));
        prop_assert_eq!(&result["properties"]["points"][0], &*visible(point));
        prop_assert_eq!(&result["properties"]["why"], &*visible(why));
        let uri = result["locations"][0]["physicalLocation"]["artifactLocation"]["uri"].as_str().unwrap_or_default();
        prop_assert!(uri.bytes().all(|b| b.is_ascii_alphanumeric() || b"-._~/%".contains(&b)), "{}", uri);
        let name = file.trim_start_matches('/');
        if !name.starts_with("./") {
            prop_assert_eq!(percent_encoding::percent_decode_str(uri).decode_utf8().unwrap(), name);
        }

        let mut json = Vec::new();
        let mut writer = JsonReport::new(&mut json).unwrap();
        writer.batch(file, &batches[0].1).unwrap();
        writer.finish(&outcome).unwrap();
        let exact: Value = serde_json::from_slice(&json).unwrap();
        prop_assert_eq!(&exact["units"][0]["unit"], unit);
        prop_assert_eq!(&exact["units"][0]["findings"][0]["message"], message);

        let document = roxmltree::Document::parse(junit).unwrap();
        let case = document.descendants().find(|node| node.has_tag_name("testcase")).unwrap();
        prop_assert_eq!(case.attribute("name").unwrap(), visible(unit));
        prop_assert_eq!(case.attribute("classname").unwrap(), visible(point));
        let failure = case.first_element_child().unwrap();
        prop_assert_eq!(failure.attribute("message").unwrap(), visible(message));
        prop_assert!(failure.text().unwrap().contains(&*visible(why)));
        prop_assert_eq!(document.descendants().filter(|node| node.is_element()).count(), 4 + if file.is_empty() { 3 } else { 2 });
        let error = document.descendants().find(|node| node.has_tag_name("error")).unwrap();
        prop_assert_eq!(error.attribute("message").unwrap(), visible(words));
        prop_assert!(error.text().unwrap().ends_with(&*visible(signal)));
        let notice = log["runs"][0]["invocations"][0]["toolExecutionNotifications"][0]["message"]["text"].as_str().unwrap();
        let wanted = format!("{words}; {signal}");
        prop_assert_eq!(unescaped(notice), visible(&wanted));

        let rows = rows(csv);
        let cell = |name: &str| &rows[1][rows[0].iter().position(|head| head == name).unwrap()];
        for (name, text) in [("unit", unit), ("file", file), ("message", message), ("points", point), ("signals", signal), ("remedy", remedy)] {
            prop_assert_eq!(without_apostrophe(cell(name)), visible(text), "{}", name);
        }
        prop_assert!(rows[1].iter().all(|cell| !cell.starts_with(['=', '+', '-', '@', '\t', '\r'])));
        prop_assert_eq!(rows.len(), 3);
        prop_assert_eq!(without_apostrophe(&rows[2][10]), visible(words));
        prop_assert!(rows[2].iter().all(|cell| !cell.starts_with(['=', '+', '-', '@', '\t', '\r'])));
    }
}

// ------------------------------------------------------------------ lots

/// A lot closes with its decision, and the exit status is that of the decision.
#[test]
fn lots() {
    let kind = |arguments: &[&str], status| {
        let log: Value = serde_json::from_str(&said(&[&["lot", "--format", "sarif"], arguments].concat(), status)).unwrap();
        let last = results(&log).last().unwrap().clone();
        assert_eq!(last["ruleId"], "lot.decision");
        assert_eq!(log["runs"][0]["invocations"][0]["exitCode"], status);
        let junit = said(&[&["lot", "--format", "junit"], arguments].concat(), status);
        let document = roxmltree::Document::parse(&junit).unwrap();
        let suite = document.descendants().rfind(|node| node.has_tag_name("testsuite")).unwrap();
        assert_eq!(suite.attribute("name"), Some("decision on the lot"));
        let failed = suite.descendants().find(|node| node.has_tag_name("failure")).and_then(|node| node.attribute("type"));
        (last["kind"].as_str().unwrap().to_owned(), last["level"].as_str().unwrap().to_owned(), failed.map(str::to_owned))
    };
    let as_text = |kind: &str, level: &str, failed: Option<&str>| (kind.to_owned(), level.to_owned(), failed.map(str::to_owned));
    let same_contact = "netlists/lots/floor-same-contact.netlist";
    assert_eq!(kind(&[same_contact], 1), as_text("fail", "error", Some("reject")));
    assert_eq!(
        kind(&["netlists/lots/cue-microphones.netlist", "--size", "200", "--aql", "1.5"], 1),
        as_text("open", "none", Some("hold"))
    );
    let folder = Folder::new("lot");
    let good = folder.file("good.netlist", "cable xlr3\nlength 2 m\nunit S-1\nA.1 B.1\nA.2 B.2\nA.3 B.3\n");
    assert_eq!(kind(&[&good], 0), as_text("pass", "none", None));
    assert_eq!(kind(&[&good, "--size", "500"], 1), as_text("open", "none", Some("not-enough-units")));
    for format in ["sarif", "junit"] {
        let output = backshell(&["lot", &good, "--format", format, "--merge", "x.json"]);
        assert_eq!(output.status.code(), Some(2));
        assert!(String::from_utf8_lossy(&output.stderr).contains("lists units"));
    }
    // what comes up after the files were read is in the report too
    let text = said(&["lot", &good, "--size", "500", "--part-out", "no/such/folder.json", "--format", "sarif"], 2);
    assert!(text.contains("can't be written") && text.contains("\"executionSuccessful\":false"), "{text}");
    // the name of a supplier is a text in every format
    let supplier = "</failure><b>&[x](http://example.invalid)";
    let text = format!("cable xlr3\nsupplier \"{supplier}\"\nunit S-1\nA.1 B.1\nA.2 B.3\nA.3 B.2\n");
    let hostile = folder.file("hostile.netlist", &text);
    let junit = said(&["lot", "--format", "junit", &hostile], 1);
    let document = roxmltree::Document::parse(&junit).unwrap();
    let names: Vec<&str> = document.descendants().filter_map(|node| node.attribute("name")).collect();
    assert!(names.iter().any(|name| name.contains(supplier)), "{names:?}");
    let log: Value = serde_json::from_str(&said(&["lot", "--format", "sarif", &hostile], 1)).unwrap();
    let decision = results(&log).last().unwrap();
    assert!(decision["properties"]["group"].as_str().unwrap().contains(supplier), "{decision}");
    assert!(!decision["message"]["text"].as_str().unwrap().replace("\\]", "").contains("]("), "{decision}");
    let formula = folder.file("formula.netlist", "cable xlr3\nsupplier \"=1+1\"\nunit -S\nA.1 B.1\nA.2 B.2\nA.3 B.3\n");
    let output = backshell(&["lot", &formula, "--format", "csv"]);
    let rows = rows(&String::from_utf8(output.stdout).unwrap());
    assert!(rows.len() == 2 && rows[1].iter().all(|cell| !cell.starts_with(['=', '-'])), "{rows:?}");
}

// ------------------------------------------------------------------ other readers

/// Reports as the readers of others see them: jsonschema, junitparser and csv, of Python. The schema of SARIF is fetched by
/// `.ci/run`.
#[test]
fn other_readers() {
    let mut lines = String::new();
    let mut push = |item: Value| lines.push_str(&(item.to_string() + "\n"));
    for (arguments, status) in [
        (&["check", "netlists/reel7.netlist"][..], 1),
        (&["check", "netlists/drawings/length-missing.netlist", "netlists/invalid/contradictions.netlist"], 2),
        (&["check", "netlists/faults/component.in-series.netlist", "netlists/tables/cue-measured.csv"], 2),
        (&["coverage", "netlists/reel7.netlist"], 0),
        (&["compare", "netlists/compare/interlock-issue-b.netlist", "netlists/compare/interlock-issue-c.netlist"], 1),
        (&["compare", "netlists/compare/interlock-issue-c.netlist", "netlists/compare/interlock-build.netlist"], 1),
        (&["lot", "netlists/lots/cue-microphones.netlist"], 1),
        (&["lot", "netlists/lots/suppliers"], 1),
        (&["lot", "netlists/lots/floor-same-contact.netlist", "--size", "200"], 1),
        (&["signal", "tests/signal/pair_a_uncoupled.s4p"], 0),
        (&["video", "3840x2160@120"], 0),
        (&["video", "3840x2160@120", "--rate", "HBR3", "--lanes", "4"], 0),
        (&["diagnose", "netlists/reel7.netlist", "--unit", "R7-0001"], 1),
    ] {
        let output = backshell(&[arguments, &["--format", "json"]].concat());
        let text = String::from_utf8(output.stdout).unwrap();
        assert_eq!(output.status.code(), Some(status), "{arguments:?} {}", String::from_utf8_lossy(&output.stderr));
        let document: Value = serde_json::from_str(&text).unwrap();
        let schema: Value = serde_json::from_str(&said(&[arguments[0], "--print-schema"], 0)).unwrap();
        push(json!({"name": arguments.join(" "), "kind": "json", "schema": schema, "document": document}));
    }
    let required = std::env::var_os("CI").is_some() || std::env::var_os("BACKSHELL_REFERENCES").is_some();
    let schema = std::fs::read_to_string("target/reference/sarif-2.1.0.json");
    assert!(schema.is_ok() || !required, "the schema of SARIF isn't in target/reference: run .ci/run, which fetches it");
    let schema: Option<Value> = schema.ok().map(|text| serde_json::from_str(&text).unwrap());
    for path in netlists() {
        let (batches, outcome) = checked(&path);
        let [sarif, junit, csv] = written(&batches, &outcome);
        let name = path.display().to_string();
        if let Some(schema) = &schema {
            let document: Value = serde_json::from_str(&sarif).unwrap();
            push(json!({"name": name, "kind": "sarif", "schema": schema, "document": document}));
        }
        let errors = outcome.problems + usize::from(outcome.unjudged > 0 || outcome.units() + outcome.problems == 0);
        let failures = outcome.fails + outcome.inconclusive;
        push(
            json!({"name": name, "kind": "junit", "text": junit, "passed": outcome.conforms, "failures": failures, "errors": errors}),
        );
        let rows: usize = batches.iter().flat_map(|(_, batch)| &batch.reports).map(|report| report.findings.len().max(1)).sum();
        push(json!({"name": name, "kind": "csv", "text": csv, "rows": rows + errors}));
    }
    for lot in ["netlists/lots/floor-same-contact.netlist", "netlists/lots/suppliers"] {
        let document: Value = serde_json::from_str(&said(&["lot", "--format", "sarif", lot], 1)).unwrap();
        if let Some(schema) = &schema {
            push(json!({"name": lot, "kind": "sarif", "schema": schema, "document": document}));
        }
    }
    if let Some((agreed, text)) = python("check_formats.py", &[], &lines) {
        println!("{text}");
        assert!(agreed, "{text}");
    }
}

/// Verdicts of the JSON report, so that the formats are compared with what is there already.
#[test]
fn the_json_has_the_same_findings() {
    let (batches, outcome) = checked(Path::new("netlists/reel7.netlist"));
    let mut out = Vec::new();
    let mut writer = JsonReport::new(&mut out).unwrap();
    batches.iter().for_each(|(file, batch)| writer.batch(file, batch).unwrap());
    writer.finish(&outcome).unwrap();
    let report: Value = serde_json::from_slice(&out).unwrap();
    let [sarif, ..] = written(&batches, &outcome);
    let log: Value = serde_json::from_str(&sarif).unwrap();
    let of_json: Vec<[&Value; 3]> = report["units"]
        .as_array()
        .unwrap()
        .iter()
        .flat_map(|unit| {
            unit["findings"].as_array().unwrap().iter().map(move |one| [&unit["unit"], &one["code"], &one["points"]])
        })
        .collect();
    let of_sarif: Vec<[&Value; 3]> = results(&log)
        .iter()
        .filter(|result| result["kind"] == "fail")
        .map(|result| [&result["properties"]["unit"], &result["ruleId"], &result["properties"]["points"]])
        .collect();
    assert_eq!(of_json, of_sarif);
    assert!(batches[0].1.reports.iter().any(|report| report.verdict == Verdict::Inconclusive));
}

// ------------------------------------------------------------------ the example

/// The step of a pipeline passes sound drawings, and fails where one of them has a defect or can't be read.
#[test]
fn drawings_in_a_pipeline() {
    let folder = Folder::new("pipeline");
    let drawings = folder.0.join("drawings of the dome");
    std::fs::create_dir_all(&drawings).unwrap();
    let out = folder.0.join("out");
    let run = || {
        let output = Command::new("examples/drawings-in-ci/check-drawings.sh")
            .arg(&drawings)
            .env("BACKSHELL", env!("CARGO_BIN_EXE_backshell"))
            .env("OUT", &out)
            .output()
            .unwrap();
        (output.status.code(), String::from_utf8_lossy(&output.stdout).into_owned() + &String::from_utf8_lossy(&output.stderr))
    };
    let (status, text) = run();
    assert!(status == Some(2) && text.contains("no drawing in"), "{text}");
    std::fs::copy("netlists/drawings/sound.netlist", drawings.join("sound.netlist")).unwrap();
    assert_eq!(run().0, Some(0), "{}", run().1);
    for (name, from, status) in [
        ("defect.netlist", "netlists/drawings/length-missing.netlist", 1),
        ("unreadable.netlist", "netlists/invalid/contradictions.netlist", 2),
    ] {
        std::fs::copy(from, drawings.join(name)).unwrap();
        let (found, text) = run();
        assert_eq!(found, Some(status), "{text}");
        let sarif = std::fs::read_to_string(out.join("drawings.sarif")).unwrap();
        let log: Value = serde_json::from_str(&sarif).unwrap();
        assert_eq!(log["runs"][0]["invocations"][0]["exitCode"], status);
        assert!(results(&log).iter().any(|result| result["ruleId"] == "drawing.length-missing"));
        let junit = std::fs::read_to_string(out.join("drawings.xml")).unwrap();
        assert!(cases(&roxmltree::Document::parse(&junit).unwrap(), "failure") > 0);
    }
}
