//! What must hold whatever features are left out: the core reads, checks, compares and reports, and an unread file of
//! S-parameters never leads to "conforms".

use std::path::Path;

use backshell::finding::{Code, Verdict};
use backshell::lot::{Asked, TestedUnit};
use backshell::report::{HtmlFace, HtmlReport, HtmlSaid, JsonReport, LotOptions, Writer, lot_report};
use backshell::verify::{Options, UnitReport, check_file, check_text};

fn reports(text: &str) -> Vec<UnitReport> {
    let mut all = Vec::new();
    check_text("core.netlist", text, &Options::default().with_lot(true), |mut batch| {
        assert!(batch.problems.is_empty(), "{:?}", batch.problems);
        all.append(&mut batch.reports);
    });
    all
}

const SOUND: &str = "cable xlr3\nA.1 B.1\nA.2 B.2\nA.3 B.3\n";

#[test]
fn a_sound_and_a_crossed_lead() {
    let sound = reports(SOUND);
    assert_eq!(sound[0].verdict, Verdict::Conforms, "{:?}", sound[0].findings);
    let crossed = reports(&SOUND.replace("A.2 B.2", "A.2 B.3").replace("A.3 B.3", "A.3 B.2"));
    assert_eq!(crossed[0].verdict, Verdict::Fails);
    assert_eq!(crossed[0].findings[0].code, Code::PairReversed);
    assert!(TestedUnit::of(Path::new("core.netlist"), &crossed[0]).is_some_and(|unit| unit.verdict == Verdict::Fails));
}

/// A file of the repository, and two reports on it.
#[test]
fn a_file_and_its_reports() {
    let path = Path::new("netlists/faults/swapped.netlist");
    let options = Options::default().with_lot(true).with_about(true).with_wiring(true).with_measured(true);
    let mut written = Vec::new();
    let mut json = JsonReport::new(&mut written).expect("written to memory");
    let mut html = HtmlReport::new();
    let outcome = check_file(path, &options, |batch| {
        json.batch("swapped.netlist", &batch).expect("written to memory");
        html.batch(path, &batch);
    });
    json.finish(&outcome).expect("written to memory");
    drop(json);
    assert!(String::from_utf8_lossy(&written).contains("\"swapped\""));
    let lot = LotOptions::new(Asked::All);
    let page = html.page(&lot_report(html.summary(), &lot, &[]), &HtmlSaid::default(), HtmlFace::Report).expect("a report");
    assert!(page.contains("swapped"), "{page}");
}

/// The files are there and can be read, but for one of the last unit; a build that leaves signals out must not pass over them.
#[test]
fn an_unread_file_of_s_parameters_decides_nothing() {
    let folder = Path::new("netlists/signals");
    let path = folder.join("projector-leads.netlist");
    let text = std::fs::read_to_string(&path).expect("an example of the repository");
    let mut verdicts = Vec::new();
    check_file(&path, &Options::default(), |batch| {
        verdicts.extend(batch.reports.iter().map(|report| {
            let unread = report.findings.iter().any(|finding| finding.code == Code::LinkUnread);
            (report.unit.clone(), report.verdict, unread)
        }));
    });
    assert!(text.contains("sparameters"));
    assert!(!verdicts.is_empty());
    for (unit, verdict, unread) in verdicts {
        assert_eq!(unread, !cfg!(feature = "signal") || unit.as_deref() == Some("PL4-04"), "{unit:?}");
        assert!(cfg!(feature = "signal") || verdict != Verdict::Conforms, "{unit:?}");
    }
}
