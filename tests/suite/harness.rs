//! Harnesses: more than two ends, splices, and very many points. (Every single fault of `dome-harness` is in `single_faults`.)

use std::collections::BTreeSet;
use std::fmt::Write as _;
use std::process::Command;
use std::sync::Arc;

use backshell::finding::Verdict;
use backshell::pinmap::{Cable, Catalogue, sound_netlist};
use backshell::text::Source;
use backshell::verify::{Options, UnitReport, check_text, derive_text};

use crate::injection::cable;

fn backshell(arguments: &[&str]) -> (Option<i32>, String) {
    let output = Command::new(env!("CARGO_BIN_EXE_backshell")).args(arguments).output().unwrap();
    (output.status.code(), String::from_utf8([output.stdout, output.stderr].concat()).unwrap())
}

/// Every command takes a harness of three plugs and a splice.
#[test]
fn every_command_takes_it() {
    let folder = std::env::temp_dir().join(format!("backshell-harness-{}", std::process::id()));
    std::fs::create_dir_all(&folder).unwrap();
    let sound = folder.join("sound.netlist").display().to_string();
    let open = "netlists/faults/harness-splice-open.netlist";
    let maps = ["--maps", "netlists/cables"];
    std::fs::write(&sound, sound_netlist(&cable("dome-harness"), true)).unwrap();
    for (command, status, says) in [
        (vec!["check", &sound], 0, "1 conforms"),
        (vec!["coverage", &sound], 0, "dome-harness"),
        (vec!["coverage", "--plan", "--cable", "dome-harness"], 1, "S1.1"),
        (vec!["compare", &sound, &sound], 0, "the same"),
        (vec!["compare", &sound, open], 1, "C.2"),
        (vec!["draw", &sound], 0, "S1.1"),
        (vec!["draw", &sound, "--format", "svg"], 0, "S1"),
        (vec!["draw", open], 1, "C.2"),
        (vec!["maps", "dome-harness"], 0, "End S1"),
        (vec!["maps", "dome-harness", "--draw"], 0, "S1.1"),
        (vec!["maps", "--new", &sound], 0, "end = \"S1\""),
    ] {
        let (code, out) = backshell(&[command.as_slice(), &maps].concat());
        assert_eq!(code, Some(status), "{command:?}: {out}");
        assert!(out.contains(says), "{command:?}: {out}");
    }
    std::fs::remove_dir_all(&folder).ok();
    insta::assert_snapshot!("draw", backshell(&["draw", open]).1);
}

/// A harness of some ends with so many contacts each: contact n of every end joined to contact n of the next, or of all of them.
fn wide(ends: usize, contacts: usize) -> (Arc<Cable>, Vec<Vec<String>>) {
    let mut nets: Vec<Vec<String>> = Vec::new();
    for n in 1..=contacts {
        let of = |end: usize| format!("E{}.{n}", end % ends);
        // every tenth is a splice of all ends; the others join two of them in turn
        nets.push(if n % 10 == 0 { (0..ends).map(of).collect() } else { vec![of(n), of(n + 1)] });
    }
    let wired: BTreeSet<&String> = nets.iter().flatten().collect();
    let mut map = String::from("name = \"wide\"\ntitle = \"wide\"\nstandard = \"drawing DR-32\"\nends = [\n");
    (0..ends).for_each(|end| writeln!(map, "  {{ end = \"E{end}\", connector = \"field\" }},").unwrap());
    map += "]\nconductors = [\n";
    for (n, points) in nets.iter().enumerate() {
        writeln!(map, "  {{ signal = \"S{n}\", points = {points:?}, checked = [\"DR\"] }},").unwrap();
    }
    map += "]\nunconnected = [\n";
    for point in
        (0..ends).flat_map(|end| (1..=contacts).map(move |n| format!("E{end}.{n}"))).filter(|point| !wired.contains(point))
    {
        writeln!(map, "  {{ point = {point:?}, why = \"spare\", checked = [\"DR\"] }},").unwrap();
    }
    map += "]\n[[connector]]\nname = \"field\"\ntitle = \"field\"\nstandard = \"drawing DR-32\"\npins = [\n";
    (1..=contacts)
        .for_each(|n| writeln!(map, "  {{ pin = \"{n}\", name = \"S\", role = \"signal\", from-memory = true }},").unwrap());
    map += "]\n[sources]\nDR = \"drawing DR-32\"\n";
    let mut catalogue = Catalogue::new();
    let cable = Cable::read(&Source::new("wide.toml", map), &mut |name| catalogue.connector(name, None));
    (Arc::new(cable.unwrap_or_else(|problems| panic!("{:?}", problems[0]))), nets)
}

fn check(cable: &Arc<Cable>, nets: &[Vec<String>]) -> UnitReport {
    let mut netlist = String::from("cable wide\nunit one\n");
    nets.iter().filter(|net| net.len() > 1).for_each(|net| netlist += &format!("{}\n", net.join(" ")));
    let options = Options::default().with_known(Arc::clone(cable)).with_coverage(true).with_wiring(true);
    let mut report = None;
    check_text("wide.netlist", &netlist, &options, |mut batch| {
        assert!(batch.problems.is_empty(), "{:?}", batch.problems);
        report = batch.reports.pop();
    });
    report.unwrap()
}

/// A hundred thousand points at five ends, in a debug build: sound, and with three faults that are each named with their points.
/// What a table doesn't look up would take minutes here.
#[test]
fn very_many_points() {
    let (cable, sound) = wide(5, 20_000);
    assert_eq!(check(&cable, &sound).verdict, Verdict::Conforms);

    let mut nets = sound.clone();
    let taken = nets[9].pop().unwrap(); // a branch that fell off the splice of contact 10
    nets[6_000].pop(); // an open wire
    let bridged = nets.remove(15_002);
    nets[15_001].extend(bridged.clone());
    let report = check(&cable, &nets);
    assert_eq!(report.verdict, Verdict::Fails);
    let told = |code: &str| -> BTreeSet<String> {
        let of = |finding: &&backshell::finding::Finding| finding.code.text() == code;
        report.findings.iter().filter(of).flat_map(|finding| finding.points.clone()).collect()
    };
    let mut opened: BTreeSet<String> = sound[6_000].iter().cloned().collect();
    opened.insert(taken);
    assert_eq!(told("open"), opened);
    assert_eq!(told("short"), sound[15_001].iter().chain(&bridged).cloned().collect());
    assert_eq!(report.findings.iter().filter(|finding| finding.severity == backshell::finding::Severity::Fail).count(), 3);
}

/// A thousand faults at once: each is told, and none is taken for another.
#[test]
fn very_many_faults() {
    let (cable, sound) = wide(3, 6_000);
    let mut nets = sound;
    let mut lost = BTreeSet::new();
    for n in (0..nets.len()).step_by(6).filter(|n| nets[*n].len() == 2) {
        lost.extend(nets[n].clone());
    }
    let known = lost.clone();
    nets.retain(|net| !known.contains(&net[0]));
    let report = check(&cable, &nets);
    let told: BTreeSet<String> = report
        .findings
        .iter()
        .filter(|finding| finding.code.text() == "open")
        .flat_map(|finding| finding.points.clone())
        .collect();
    assert!(lost.len() > 1_000);
    assert_eq!(told, lost);
}

/// The length of a harness is that of its longest way: a short branch is sound, a bad joint is not, wherever it is.
#[test]
fn branches_have_lengths_of_their_own() {
    let netlist = |dome: f64, rack: f64| {
        format!(
            "length 5 m\ngauge 24 AWG\nA.1 B.1 {dome} ohm\nA.1 C.1 {rack} ohm\nA.2 S1.1 0.1 ohm\nS1.1 B.2 {dome} ohm\n\
             S1.1 C.2 {rack} ohm\nA.3 B.3 {dome} ohm\nA.4 B.4 {dome} ohm\nA.5 C.3 {rack} ohm\nA.6 C.4 {rack} ohm\n\
             B.5 C.5 {dome} ohm\nA.shell B.shell C.shell\nopen B.6 C.6\n"
        )
    };
    let known = vec![cable("dome-harness")];
    let mut options = Options::default().with_cable("dome-harness");
    options.known = known;
    // 24 AWG has 84.2 mohm a metre (ASTM B258): 0.42 ohm in 5 m, 0.08 ohm in one
    for (dome, rack, verdict) in [(0.45, 0.45, Verdict::Conforms), (0.45, 0.11, Verdict::Conforms), (0.45, 1.3, Verdict::Fails)] {
        check_text("branches.netlist", &netlist(dome, rack), &options, |batch| {
            let report = &batch.reports[0];
            assert_eq!(report.verdict, verdict, "{dome} {rack}: {:?}", report.findings);
            let high = report.findings.iter().filter(|finding| finding.code.text() == "resistance.high");
            assert_eq!(high.count() > 0, verdict == Verdict::Fails);
        });
    }
}

/// What a sample of a harness gives is its wiring, whatever the ends are called.
#[test]
fn a_map_from_a_sample() {
    let known = cable("dome-harness");
    let sample = sound_netlist(&known, true).replace("cable dome-harness\n", "");
    let derived = derive_text("harness", &sample, None, Some("again"), &Options::default()).unwrap();
    let rows = |points: &[String]| points.iter().cloned().collect::<BTreeSet<String>>();
    let found: BTreeSet<BTreeSet<String>> = derived.rows.iter().map(|row| rows(&row.points)).collect();
    let meant = known.links.iter().map(|link| link.points.iter().map(|point| known.text(*point).to_owned()).collect()).collect();
    assert_eq!(found, meant);
    assert_eq!(derived.ends.iter().map(|end| end.name.as_str()).collect::<Vec<_>>(), ["A", "B", "C", "S1"]);
}
