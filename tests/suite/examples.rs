//! The examples of the library do what they say, and a check of one's own can make a verdict stricter only.

use std::path::Path;
use std::sync::atomic::{AtomicUsize, Ordering};

use backshell::diagnosis::Statement;
use backshell::finding::{Code, Sink, Verdict};
use backshell::verify::{Case, Check, Options, check_file, check_text};

#[allow(dead_code)]
#[path = "../../examples/diagnose_link.rs"]
mod diagnose_link;
#[allow(dead_code)]
#[path = "../../examples/inspect_reel.rs"]
mod inspect_reel;
#[allow(dead_code)]
#[path = "../../examples/own_check.rs"]
mod own_check;
#[allow(dead_code)]
#[path = "../../examples/validate_drawing.rs"]
mod validate_drawing;

const REEL: &str = "netlists/reel7.netlist";

#[test]
fn a_reel_is_inspected() {
    let (found, outcome) = inspect_reel::inspect(Path::new(REEL));
    assert_eq!((outcome.conforms, outcome.units()), (1, 10));
    assert!(found.iter().any(|line| line.starts_with("R7-0002 pair.reversed: ") && line.contains("(lines [39, 41")), "{found:?}");
}

#[test]
fn a_drawing_is_validated() {
    let (sheet, fit) = validate_drawing::validate(Path::new("netlists/drawings/gauge-missing.netlist")).unwrap();
    assert!(sheet.contains("gauge") && !fit, "{sheet}");
    assert!(validate_drawing::validate(Path::new("netlists/drawings/sound.netlist")).unwrap().1);
}

#[test]
fn a_link_is_diagnosed() {
    let said = [Statement::parse("swap=cured").unwrap()];
    let lines = diagnose_link::diagnose(Path::new(REEL), "R7-0001", &said).unwrap();
    assert_eq!(lines.len(), 4, "{lines:?}");
    assert!(lines[3].starts_with("next: "), "{lines:?}");
    assert!(diagnose_link::diagnose(Path::new("no-such.netlist"), "R7-0001", &said).is_err());
}

#[test]
fn a_check_of_ones_own_leaves_undecided_and_no_more() {
    use Verdict::{Conforms, Fails, Inconclusive};
    let with = "A.1 B.1 0.1 ohm\nA.2 B.2 0.1 ohm\nA.3 B.3 0.1 ohm\n";
    let reversed = "A.1 B.1 0.1 ohm\nA.2 B.3 0.1 ohm\nA.3 B.2 0.1 ohm\n";
    let mut text = "cable xlr3\n".to_owned();
    for nth in 0..40 {
        let unit = if nth == 31 { with.replace("A.2 B.2 0.1 ohm", "A.2 B.2") } else { with.to_owned() };
        text.push_str(&format!("unit M-{nth:02}\n{unit}"));
    }
    text.push_str(&format!("unit M-40\n{reversed}"));
    let mut wanted = vec![Conforms; 41];
    (wanted[31], wanted[40]) = (Inconclusive, Fails);
    assert_eq!(own_check::verdicts(&text), wanted);
}

#[test]
fn a_check_of_ones_own_shows_its_own_unit() {
    let text = "cable xlr3\nunit M-1\nA.1 B.1 0.1 ohm\nA.2 B.2 0.1 ohm\nA.3 B.3 0.1 ohm\nunit M-2\nA.1 B.1\nA.2 B.2 0.1 ohm\nA.3 B.3 0.1 ohm\n";
    let options = Options::default().with_own_check(own_check::EVERY_FIGURE);
    let mut lines = Vec::new();
    check_text("dome.netlist", text, &options, |batch| {
        let findings =
            batch.reports.iter().flat_map(|report| &report.findings).filter(|finding| finding.code == Code::CoverageBlind);
        lines.extend(findings.map(|finding| finding.labels[0].source.position(finding.labels[0].span.start).line));
    });
    assert_eq!(lines, [7]);
}

static SEEN: AtomicUsize = AtomicUsize::new(0);

fn count(_: &Case<'_>, _: &mut Sink) {
    SEEN.fetch_add(1, Ordering::Relaxed);
}

/// Units that are alike go a shorter way otherwise, on which nobody asks a check again.
#[test]
fn a_check_of_ones_own_looks_at_every_unit() {
    let mut text = "cable xlr3\n".to_owned();
    for nth in 0..500 {
        text.push_str(&format!("unit M-{nth:03}\nA.1 B.1 0.1 ohm\nA.2 B.2 0.1{nth} ohm\nA.3 B.3 0.1 ohm\n"));
    }
    let options = Options::default().with_own_check(Check::new("count", count));
    check_text("dome.netlist", &text, &options, |_| {});
    assert_eq!(SEEN.load(Ordering::Relaxed), 500);
}

/// Tries to make every unit look sound.
fn wipe(_: &Case<'_>, sink: &mut Sink) {
    *sink = Sink::default();
}

#[test]
fn a_check_of_ones_own_takes_nothing_away() {
    let plain = Options::default();
    let wiped = Options::default().with_own_check(Check::new("wipe", wipe));
    let codes = |options: &Options| {
        let mut all: Vec<(Verdict, Vec<Code>)> = Vec::new();
        let outcome = check_file(Path::new(REEL), options, |batch| {
            let reports = batch.reports.iter();
            all.extend(reports.map(|report| (report.verdict, report.findings.iter().map(|finding| finding.code).collect())));
        });
        (outcome, all)
    };
    assert_eq!(codes(&plain), codes(&wiped));
    let mut seen = 0;
    check_text("one.netlist", "cable xlr3\nA.1 B.1\nA.2 B.3\nA.3 B.2\n", &wiped, |batch| {
        seen += batch.reports.iter().filter(|report| report.verdict == Verdict::Fails).count();
    });
    assert_eq!(seen, 1);
}
