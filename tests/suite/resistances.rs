//! Resistances and insulation, judged in whole units against published limits, with their uncertainty.

use backshell::finding::Verdict;
use backshell::verify::UnitReport;

use crate::injection::{check, codes, sourced};

/// A straight network cord with one figure a conductor. The catalogue has its limit from memory alone, which never fails a
/// unit (`depth` has that): here it is as if a source had been found.
fn cord(header: &str, ohms: [f64; 8]) -> UnitReport {
    let rows: String = ohms.iter().zip(1..).map(|(ohm, pin)| format!("A.{pin} B.{pin} {ohm} ohm\n")).collect();
    check(&format!("cable {}\n{header}\n{rows}", sourced("ethernet-t568b")))
}

fn outcome(report: &UnitReport) -> (Verdict, Vec<&str>) {
    (report.verdict, codes(&report.findings))
}

/// Printed resistance of solid copper in ohm per 1000 ft at 20 °C: wire tables that go by diameters rounded to 0.1 mil (NBS
/// Handbook 100 and its kin, from memory).
const HANDBOOK: [(u32, f64); 6] = [(22, 16.20), (24, 25.67), (26, 41.02), (28, 65.33), (30, 103.7), (32, 162.0)];

#[test]
fn a_cord_of_handbook_wire_conforms_and_one_of_thinner_wire_does_not() {
    for (nth, (awg, ohm)) in HANDBOOK.into_iter().enumerate() {
        let header = format!("length 100 ft\ngauge {awg} AWG\ntemperature 20 C\nuncertainty 1 %");
        let report = cord(&header, [ohm / 10.0; 8]);
        assert_eq!(outcome(&report), (Verdict::Conforms, vec![]), "{awg} AWG");
        assert!(!report.not_shown.words().any(|word| word == "resistance" || word == "gauge"));
        let Some((thinner, more)) = HANDBOOK.get(nth + 1) else { continue };
        let report = cord(&header, [more / 10.0; 8]);
        assert_eq!(outcome(&report), (Verdict::Fails, vec!["conductor.thin"]), "{awg} AWG");
        assert!(report.findings[0].message.contains(&format!("copper of {thinner} AWG")), "{}", report.findings[0].message);
        assert_eq!(report.findings[0].points.len(), 16);
        // and the other way round the record is wrong
        let report = cord(&format!("length 100 ft\ngauge {thinner} AWG\ntemperature 20 C\nuncertainty 1 %"), [ohm / 10.0; 8]);
        assert_eq!(outcome(&report), (Verdict::Inconclusive, vec!["resistance.low"]), "{awg} AWG");
    }
}

/// 24 AWG at 75 °C has 102.418 ohm/km (annealed copper, 0.00393 per kelvin; computed with numpy from IEC 60028 and NBS
/// Handbook 100): too much at 20 °C for a cable that may be 5 % longer, as it should be at 75.
#[test]
fn temperature_counts() {
    let header = |celsius: i32| format!("length 30 m +/- 0.1 m\ngauge 24 AWG\ntemperature {celsius} C\nuncertainty 0.01 ohm");
    let ohms = [0.102_418 * 30.0 + 0.02; 8];
    assert_eq!(outcome(&cord(&header(75), ohms)).0, Verdict::Conforms);
    assert_eq!(outcome(&cord(&header(20), ohms)), (Verdict::Fails, vec!["conductor.thin"]));
}

/// Clad aluminium has 1.5408 (10 % of copper by volume, ASTM B566) or 1.4959 (15 %) times the resistance of copper: 129.76
/// and 125.98 ohm/km in 24 AWG (computed with numpy from the rule of mixtures).
#[test]
fn clad_aluminium_is_named_with_its_rival() {
    for per_km in [129.76, 125.98] {
        let report = cord("length 20 m\ngauge 24 AWG\ntemperature 20 C\nuncertainty 0.01 ohm", [per_km * 0.02 + 0.02; 8]);
        assert_eq!(outcome(&report), (Verdict::Fails, vec!["conductor.aluminium"]));
        assert!(report.findings[0].message.contains("26 AWG nearly as well"), "{}", report.findings[0].message);
    }
}

/// One bad joint is one conductor's fault, and what it does to its pair is no second finding.
#[test]
fn one_high_conductor() {
    let mut ohms = [0.45; 8];
    ohms[3] = 1.2;
    let report = cord("length 5 m\ngauge 24 AWG\nuncertainty 0.01 ohm", ohms);
    assert_eq!(outcome(&report), (Verdict::Fails, vec!["resistance.high"]));
    assert_eq!(report.findings[0].points, ["A.4", "B.4"]);
    // without a length nothing says how much is too much, but its siblings do
    let report = cord("uncertainty 0.01 ohm", ohms);
    assert_eq!(report.verdict, Verdict::Fails, "a pair that differs by 0.75 ohm breaks 3 % or 0.2 ohm");
    assert_eq!(codes(&report.findings), ["resistance.unbalance"]);
    // eight doubtful conductors are one question
    let report = cord("uncertainty 0.01 ohm", [4.5; 8]);
    assert_eq!(outcome(&report), (Verdict::Inconclusive, vec!["resistance.high"]));
}

/// IEEE 802.3 (from memory): 3 % of the sum or 0.200 ohm, whichever is greater. The pairs of figures and their percentages
/// are a worked table of both published forms, computed with numpy.
#[test]
fn unbalance_of_a_pair() {
    let with = |one: f64, two: f64, uncertainty: f64| {
        let rest = (one + two) / 2.0;
        let report = cord(
            &format!("uncertainty {uncertainty} ohm\nlength 100 m\ngauge 24 AWG"),
            [one, two, rest, rest, rest, rest, rest, rest],
        );
        let codes: Vec<String> = codes(&report.findings).iter().map(|code| (*code).to_owned()).collect();
        (report.verdict, codes)
    };
    // 2.0675 % and 0.380 ohm; by the other form, 4.22 %
    assert_eq!(with(9.38, 9.0, 0.02).0, Verdict::Conforms);
    // 4.1 %: 0.74 of 18.02 ohm, 0.541 allowed
    assert_eq!(with(9.38, 8.64, 0.02), (Verdict::Fails, vec!["resistance.unbalance".to_owned()]));
    // 0.55 of 18.21 ohm against 0.546: the uncertainty of a difference is 1.41 times that of each
    assert_eq!(with(9.38, 8.83, 0.01), (Verdict::Inconclusive, vec!["resistance.unbalance".to_owned()]));
    // 23 % of the sum, but only 0.150 ohm: a percentage alone would fail good short cords
    let short = cord("length 2 m\ngauge 26 AWG\nuncertainty 0.001 ohm", [0.25, 0.4, 0.3, 0.3, 0.31, 0.32, 0.33, 0.29]);
    assert_eq!(short.verdict, Verdict::Conforms);
}

/// USB Type-C: 250 mV over the return and 500 mV over the supply at 3 A, so 0.08333 and 0.16667 ohm (a public test group's
/// summary of the specification). Guard bands as in JCGM 106:2012 and ILAC-G8:09/2019, w = U.
#[test]
fn a_limit_of_the_standard_and_its_guard_band() {
    let with = |ohm: f64, uncertainty: f64| {
        let report = check(&format!(
            "cable usb-c-usb2\nuncertainty {uncertainty} ohm\nA.A4 B.A4 {ohm} ohm\nA.A4 A.A9 A.B4 A.B9 B.A4 B.A9 B.B4 B.B9\n\
             A.A1 A.A12 A.B1 A.B12 B.A1 B.A12 B.B1 B.B12 A.shell B.shell\nA.A5 B.A5\nA.A6 B.A6\nA.A7 B.A7\n"
        ));
        let codes: Vec<String> = codes(&report.findings).iter().map(|code| (*code).to_owned()).collect();
        (report.verdict, codes.contains(&"resistance.high".to_owned()))
    };
    assert_eq!(with(0.14, 0.02), (Verdict::Conforms, false));
    assert_eq!(with(0.15, 0.02), (Verdict::Inconclusive, true));
    assert_eq!(with(0.18, 0.02), (Verdict::Inconclusive, true));
    assert_eq!(with(0.19, 0.02), (Verdict::Fails, true));
    assert_eq!(with(0.167, 0.0), (Verdict::Fails, true));
}

/// The set of eight figures with one far off that handbooks use against the 3-sigma rule: its modified z is 31.9, while its
/// ordinary z can't pass 2.47 in eight parts (Iglewicz and Hoaglin; computed with scipy).
#[test]
fn an_outlier_that_three_sigma_cannot_see() {
    // shuffled so that no pair is unbalanced beyond 0.2 ohm but the one with the outlier
    let report = cord("uncertainty 0.01 ohm", [1.02, 0.98, 1.01, 0.99, 1.0, 1.03, 0.97, 1.12]);
    assert_eq!(outcome(&report), (Verdict::Conforms, vec!["resistance.outlier"]));
    assert_eq!(report.findings[0].points, ["A.8", "B.8"]);
    // equal figures have no spread: the uncertainty takes its place
    let report = cord("uncertainty 0.01 ohm", [1.0, 1.0, 1.0, 1.0, 1.0, 1.0, 1.0, 1.009]);
    assert_eq!(outcome(&report), (Verdict::Conforms, vec![]));
}

/// IPC/WHMA-A-620 (from memory): 100 Mohm up to 3 m, 10 Mohm above.
#[test]
fn insulation_by_length() {
    let with = |header: &str, figure: &str| {
        check(&format!("cable xlr3\n{header}\nA.1 B.1\nA.2 B.2\nA.3 B.3\nisolation A.1 A.2 {figure}\n")).verdict
    };
    assert_eq!(with("length 2 m", "50 Mohm"), Verdict::Fails);
    assert_eq!(with("length 20 m", "50 Mohm"), Verdict::Conforms);
    assert_eq!(with("", "50 Mohm"), Verdict::Fails);
    assert_eq!(with("", "102 Mohm"), Verdict::Inconclusive);
    assert_eq!(with("uncertainty 1 %", "102 Mohm"), Verdict::Conforms);
    assert_eq!(with("", ">100 Mohm"), Verdict::Conforms);
    assert_eq!(with("", ">50 Mohm"), Verdict::Inconclusive);
    assert_eq!(with("", "<50 Mohm"), Verdict::Fails);
    assert_eq!(with("", "<500 Mohm"), Verdict::Inconclusive);
}

/// A break at 25.7 m of 42 m: 52 pF/m of pair cable (a handbook value for 100 ohm pairs, from memory) gives 1336 pF and 848
/// pF at the two ends, and 2184 pF where the conductor is whole. The distances are worked by hand: 42 · 1336 / 2184.
#[test]
fn a_break_is_located() {
    let message = |lines: &str| {
        let report = check(&format!(
            "cable ethernet-t568b\n{lines}\nA.1 B.1\nA.2 B.2\nA.3 B.3\nA.4 B.4\nA.6 B.6\nA.7 B.7\nA.8 B.8\nopen A.5 B.5\n"
        ));
        assert_eq!(codes(&report.findings), ["open"]);
        report.findings[0].message.clone()
    };
    let length = "length 42 m +/- 0.1 m\n";
    let both = message(&format!("{length}capacitance A.5 1336 pF +/- 1%\ncapacitance B.5 848 pF +/- 1%"));
    assert!(both.ends_with("the break lies 25.69 m from end A (+/- 150 mm)"), "{both}");
    // its mate, 1 % off
    let mate = message(&format!("{length}capacitance A.5 1336 pF +/- 1%\ncapacitance A.4 2200 pF +/- 1%"));
    assert!(mate.ends_with("the break lies 25.51 m from end A (+/- 370 mm)"), "{mate}");
    // other pairs, where the mate wasn't read: the middle one of three
    let others = message(&format!(
        "{length}capacitance A.5 1336 pF\ncapacitance A.1 2100 pF\ncapacitance A.2 2184 pF\ncapacitance A.7 2300 pF"
    ));
    assert!(others.contains("the break lies 25.69 m from end A"), "{others}");
    let share = message("capacitance A.5 1336 pF\ncapacitance B.5 848 pF");
    assert!(share.ends_with("the break lies at 61 % of its length from end A (+/- 1 %)"), "{share}");
    let plug = message(&format!("{length}capacitance A.5 3 pF +/- 1 pF\ncapacitance B.5 2180 pF"));
    assert!(plug.ends_with("the break is at end A, in the plug or next to it"), "{plug}");
    let odd = message(&format!("{length}capacitance A.5 2600 pF\ncapacitance A.4 2184 pF"));
    assert!(odd.contains("don't fit one break"), "{odd}");
    // both pieces and a sound conductor: a fifth more than that isn't one break, a hundredth is
    let much = message(&format!("{length}capacitance A.5 1336 pF\ncapacitance B.5 1285 pF\ncapacitance A.4 2184 pF"));
    assert!(much.contains("don't add up to those of a sound conductor"), "{much}");
    let fits = message(&format!("{length}capacitance A.5 1336 pF\ncapacitance B.5 848 pF\ncapacitance A.4 2162 pF"));
    assert!(fits.contains("the break lies 25.69 m from end A"), "{fits}");
    // nothing to compare with says nothing
    assert!(message(&format!("{length}capacitance A.5 1336 pF")).ends_with("is open"));
    assert!(message(&format!("{length}capacitance A.1 1336 pF")).ends_with("is open"));
}
