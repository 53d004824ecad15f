//! The record: nothing that was reported is lost, and whatever is tampered with shows.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use std::process::Stdio;
use std::time::{Duration, SystemTime, UNIX_EPOCH};

use backshell::finding::Verdict;
use backshell::lot::record::{Audit, Entry, Finding, History, LotState, Record, Trend};
use backshell::report::RecordAnswer;
use backshell::text::Digest;
use proptest::prelude::*;
use rusqlite::Connection;

use crate::campaign::{Random, Size};
use crate::references::python;
use crate::scratch::{Scratch, command, leads, run, text};

/// 2031-03-14 09:00 UTC, and so many seconds later.
fn at(seconds: u64) -> SystemTime {
    UNIX_EPOCH + Duration::from_secs(1_931_245_200 + seconds)
}

fn entry(unit: &str, verdict: Verdict) -> Entry {
    let finding = Finding::new("open", "fail", "A.2 to B.2 (hot) is open").with_point("A.2").with_point("B.2");
    let findings = if verdict == Verdict::Fails { vec![finding] } else { Vec::new() };
    Entry::new(unit, "xlr3", verdict)
        .with_map(Digest::of(b"map"))
        .with_file("dome.netlist", Digest::of(b"file"))
        .with_unit_digest(Digest::of(unit.as_bytes()))
        .with_lot("M1")
        .with_supplier("Quillon Looms")
        .with_findings(serde_json::to_string(&findings).unwrap())
        .with_header(r#"["cable xlr3","length 2.0 m"]"#)
}

/// A record of ten units.
fn ten(scratch: &Scratch) -> PathBuf {
    let path = scratch.path("ten.db");
    let mut record = Record::open_or_new(&path).unwrap();
    for nth in 0..10 {
        let verdict = if nth % 4 == 3 { Verdict::Fails } else { Verdict::Conforms };
        record.append(&[entry(&format!("M-{nth:02}"), verdict)], "{}", at(nth)).unwrap();
    }
    path
}

fn audit(path: &Path, head: Option<Digest>) -> Audit {
    Record::open(path).unwrap().audit(head).unwrap()
}

fn head_of(path: &Path) -> Digest {
    audit(path, None).head.digest
}

/// Changes a record behind its back: the triggers are taken out, and put back afterwards.
fn tamper(path: &Path, statements: &str) {
    let raw = Connection::open(path).unwrap();
    let triggers: Vec<(String, String)> = raw
        .prepare("SELECT name, sql FROM sqlite_schema WHERE type = 'trigger'")
        .unwrap()
        .query_map([], |row| Ok((row.get(0)?, row.get(1)?)))
        .unwrap()
        .map(Result::unwrap)
        .collect();
    assert_eq!(triggers.len(), 5);
    for (name, _) in &triggers {
        raw.execute_batch(&format!("DROP TRIGGER {name}")).unwrap();
    }
    raw.execute_batch(statements).unwrap();
    for (_, sql) in &triggers {
        raw.execute_batch(sql).unwrap();
    }
}

/// The rows that an audit finds fault with.
fn rows_at_fault(audit: &Audit) -> BTreeSet<i64> {
    audit.described.iter().filter_map(|flaw| flaw.row).collect()
}

const COPY: &str = "time, unit, attempt, lot, supplier, type, cable, map, origin, verdict, hazard, findings, file, file_digest, \
                    unit_digest, header, options, program";

#[test]
fn every_kind_of_tampering_shows() {
    let mut tried = 0;
    let mut shows = |what: &str, statements: &str, rows: &[i64]| {
        let scratch = Scratch::new("tamper");
        let path = ten(&scratch);
        let sound = audit(&path, None);
        assert_eq!((sound.rows, sound.flaws, &sound.described[..]), (10, 0, &[][..]));
        tamper(&path, statements);
        let found = audit(&path, Some(sound.head.digest));
        assert!(found.flaws > 0, "{what} doesn't show");
        assert_eq!(rows_at_fault(&found), rows.iter().copied().collect(), "{what}: {:?}", found.described);
        let output = run(&[Path::new("record"), Path::new("verify"), &path]);
        assert_eq!(output.status.code(), Some(1), "{what}");
        assert!(text(&output.stdout).contains("TAMPERED WITH OR DAMAGED"), "{what}");
        tried += 1;
    };
    for column in COPY.split(", ") {
        let value = if matches!(column, "attempt" | "hazard") { "7" } else { "'other'" };
        shows(column, &format!("UPDATE verdict SET {column} = {value} WHERE number = 5"), &[5]);
    }
    shows("lot to null", "UPDATE verdict SET lot = NULL WHERE number = 5", &[5]);
    shows("null to nothing", "UPDATE verdict SET type = '' WHERE number = 5", &[5]);
    shows("a byte moved to the next column", "UPDATE verdict SET lot = 'M', supplier = '1Quillon Looms' WHERE number = 5", &[5]);
    shows("digest", "UPDATE verdict SET digest = replace(digest, substr(digest, 1, 1), 'g') WHERE number = 5", &[5]);
    shows(
        "digest of another",
        "UPDATE verdict SET digest = (SELECT digest FROM verdict WHERE number = 4) WHERE number = 5",
        &[5, 6],
    );
    shows("one removed", "DELETE FROM verdict WHERE number = 5", &[6]);
    shows("three removed", "DELETE FROM verdict WHERE number BETWEEN 5 AND 7", &[8]);
    shows("the first removed", "DELETE FROM verdict WHERE number = 1", &[2]);
    shows(
        "one removed and the rest numbered anew",
        "DELETE FROM verdict WHERE number = 5; UPDATE verdict SET number = number - 1 WHERE number > 5",
        &[5, 6, 7, 8, 9],
    );
    shows(
        "two change places",
        "UPDATE verdict SET number = 99 WHERE number = 4; UPDATE verdict SET number = 4 WHERE number = 7; \
         UPDATE verdict SET number = 7 WHERE number = 99",
        &[4, 5, 7, 8],
    );
    let forged = |digest: &str| {
        format!("INSERT INTO verdict (number, {COPY}, digest) SELECT 11, {COPY}, {digest} FROM verdict WHERE number = 1")
    };
    shows("appended without digest", &forged("''"), &[11]);
    shows("appended with the last digest", &forged("(SELECT digest FROM verdict WHERE number = 10)"), &[11]);
    shows("appended with its model's digest", &forged("digest"), &[11]);
    shows(
        "put in between",
        &format!(
            "UPDATE verdict SET number = number + 100 WHERE number > 5; UPDATE verdict SET number = number - 99 WHERE number > 100; \
             INSERT INTO verdict (number, {COPY}, digest) SELECT 6, {COPY}, digest FROM verdict WHERE number = 1"
        ),
        &[6, 7, 8, 9, 10, 11],
    );
    shows("a table more", "CREATE TABLE mine (x)", &[]);
    shows("an index less", "DROP INDEX verdict_of_unit", &[]);
    println!("tampering: {tried} ways, all found");
}

#[test]
fn what_the_chain_cannot_show_the_noted_head_does() {
    let scratch = Scratch::new("head");
    let path = ten(&scratch);
    let head = head_of(&path);
    assert_eq!(audit(&path, Some(head)).noted_head_found, Some(true));
    // rows that come later don't hide it
    Record::open_or_new(&path).unwrap().append(&[entry("M-10", Verdict::Conforms)], "{}", at(10)).unwrap();
    assert_eq!(audit(&path, Some(head)).noted_head_found, Some(true));
    tamper(&path, "DELETE FROM verdict WHERE number > 8");
    let cut = audit(&path, Some(head));
    assert_eq!((cut.flaws, cut.noted_head_found), (0, Some(false)));
    let other = scratch.path("other.db");
    Record::open_or_new(&other).unwrap().append(&[entry("M-00", Verdict::Conforms)], "{}", at(0)).unwrap();
    let arguments = |head: &str| {
        let words = ["record", "verify", other.to_str().unwrap(), "--head", head];
        run(&words).status.code()
    };
    assert_eq!(arguments(&head.to_string()), Some(1));
    assert_eq!(arguments(&head_of(&other).to_string().to_uppercase()), Some(0));
    assert_eq!(arguments("abc"), Some(2));
}

#[test]
fn rows_are_only_ever_added() {
    let scratch = Scratch::new("triggers");
    let path = ten(&scratch);
    let raw = Connection::open(&path).unwrap();
    let copy = |number: i64| format!("(number, {COPY}, digest) SELECT {number}, {COPY}, digest FROM verdict WHERE number = 2");
    for statement in [
        "UPDATE verdict SET verdict = 'conforms' WHERE number = 4".to_owned(),
        "DELETE FROM verdict WHERE number = 4".to_owned(),
        "DELETE FROM verdict".to_owned(),
        format!("INSERT OR REPLACE INTO verdict {}", copy(4)),
        format!("REPLACE INTO verdict {}", copy(10)),
        format!("INSERT INTO verdict {}", copy(12)),
        format!("INSERT INTO verdict {}", copy(0)),
    ] {
        let refused = raw.execute(&statement, []).unwrap_err().to_string();
        assert!(refused.contains("record"), "{statement}: {refused}");
    }
    drop(raw);
    assert_eq!((audit(&path, None).rows, audit(&path, None).flaws), (10, 0));
}

#[test]
fn what_is_no_record_is_refused_and_left_alone() {
    let scratch = Scratch::new("refused");
    let foreign = scratch.path("foreign.db");
    Connection::open(&foreign).unwrap().execute_batch("CREATE TABLE cables (name)").unwrap();
    let named = scratch.path("named.db");
    Connection::open(&named).unwrap().execute_batch("PRAGMA application_id = 77; CREATE TABLE x (y); DROP TABLE x").unwrap();
    let newer = ten(&scratch);
    Connection::open(&newer).unwrap().execute_batch("PRAGMA user_version = 2").unwrap();
    let plain = scratch.file("notes.txt", "what the dome needs, and more than a hundred bytes of it ".repeat(9));
    let short = scratch.file("short.txt", "x");
    let netlist = scratch.file("m.netlist", leads("M", 2));
    let folder = scratch.folder("folder");
    for (path, says) in [
        (&foreign, "isn't a record"),
        (&named, "isn't a record"),
        (&plain, "isn't a record"),
        (&short, "isn't a record"),
        (&newer, "version 2"),
        (&folder, "no ordinary file"),
    ] {
        let before = std::fs::read(path).ok();
        for arguments in [
            vec![Path::new("check"), &netlist, Path::new("--record"), path],
            vec![Path::new("record"), Path::new("verify"), path],
            vec![Path::new("record"), Path::new("unit"), path, Path::new("M-00000")],
        ] {
            let output = run(&arguments);
            let said = format!("{}{}", text(&output.stdout), text(&output.stderr));
            assert_eq!(output.status.code(), Some(2), "{arguments:?}: {said}");
            let said = said.split_whitespace().collect::<Vec<_>>().join(" ");
            assert!(said.contains(says), "{arguments:?}: {said}");
            assert!(!said.contains("M-00000 conforms"), "{said}");
        }
        assert_eq!(std::fs::read(path).ok(), before, "{}", path.display());
    }
    // one that isn't there isn't made by a question; an empty file becomes a record
    let missing = scratch.path("missing.db");
    assert_eq!(run(&[Path::new("record"), Path::new("verify"), &missing]).status.code(), Some(2));
    assert!(!missing.exists());
    let empty = scratch.file("empty.db", "");
    assert_eq!(run(&[Path::new("record"), Path::new("verify"), &empty]).status.code(), Some(2));
    assert_eq!(run(&[Path::new("check"), &netlist, Path::new("--record"), &empty]).status.code(), Some(0));
    assert_eq!(audit(&empty, None).rows, 2);
    // SQLite would take this for a database in memory
    let inside = command().current_dir(&scratch.0).args(["check", "m.netlist", "--record", ":memory:"]).output().unwrap();
    assert_eq!(inside.status.code(), Some(0));
    assert_eq!(audit(&scratch.path(":memory:"), None).rows, 2);
}

/// What the report says of units, in whole lines only.
fn reported(stdout: &[u8], prefix: &str) -> Vec<String> {
    let said = text(stdout);
    let whole = said.rfind('\n').map_or("", |end| &said[..=end]);
    let units = whole.lines().filter(|line| line.starts_with(prefix));
    units.map(|line| line.split_whitespace().next().unwrap().to_owned()).collect()
}

fn recorded(path: &Path) -> BTreeSet<String> {
    let raw = Connection::open(path).unwrap();
    let mut units = raw.prepare("SELECT unit FROM verdict").unwrap();
    units.query_map([], |row| row.get(0)).unwrap().map(Result::unwrap).collect()
}

#[test]
fn killed_at_any_moment_nothing_that_was_reported_is_lost() {
    let runs = Size::asked_for().of(25, 60, 200);
    let scratch = Scratch::new("killed");
    let path = scratch.path("r.db");
    // each file is a batch of its own, and a few of them fill the buffer of the output
    const UNITS: usize = 60;
    let files: Vec<PathBuf> = (0..40).map(|nth| scratch.file(&format!("{nth}.netlist"), "")).collect();
    let mut random = Random::new(0);
    let (mut midway, mut units_reported, mut units_recorded) = (0, 0, 0);
    for nth in 0..runs {
        for (at, file) in files.iter().enumerate() {
            std::fs::write(file, leads(&format!("K{nth}-{at}"), UNITS)).unwrap();
        }
        let mut child = command()
            .arg("check")
            .args(&files)
            .args([Path::new("--record"), &path, Path::new("--draw-all")])
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        let out = child.stdout.take().unwrap();
        let reader = std::thread::spawn(move || {
            let mut bytes = Vec::new();
            let mut out = out;
            std::io::Read::read_to_end(&mut out, &mut bytes).unwrap();
            bytes
        });
        std::thread::sleep(Duration::from_micros(random.below(400_000) as u64));
        child.kill().unwrap();
        child.wait().unwrap();
        let reported = reported(&reader.join().unwrap(), &format!("K{nth}-"));
        if !path.exists() || std::fs::metadata(&path).unwrap().len() == 0 && reported.is_empty() {
            continue; // before the record was made
        }
        let mut record = Record::open_or_new(&path).unwrap();
        let audit = record.audit(None).unwrap();
        assert_eq!(audit.flaws, 0, "run {nth}: {:?}", audit.described);
        let all = recorded(&path);
        assert_eq!(all.len() as u64, audit.rows, "run {nth}");
        for unit in &reported {
            assert!(all.contains(unit), "run {nth}: {unit} was reported and isn't recorded");
        }
        let of_run = all.iter().filter(|unit| unit.starts_with(&format!("K{nth}-"))).count();
        assert_eq!(of_run % UNITS, 0, "run {nth}: half a batch is recorded");
        midway += usize::from(of_run > 0 && of_run < 40 * UNITS);
        units_reported += reported.len();
        units_recorded += of_run;
    }
    println!("killed: {runs} runs, {midway} midway; {units_reported} units reported, {units_recorded} recorded, none lost");
    assert!(midway > 0 && units_reported > 0 && units_recorded > 0);
}

/// A full disk: the error is clear, the status is 2, and every row that was reported is there.
#[cfg(unix)]
fn full(path: &Path, output: &std::process::Output, says: &str) {
    let said = text(&output.stdout).replace('│', " ").split_whitespace().collect::<Vec<_>>().join(" ");
    assert_eq!(output.status.code(), Some(2), "{}", text(&output.stderr));
    assert!(said.contains(says) && said.contains("isn't recorded"), "{}", said.get(said.len().saturating_sub(900)..).unwrap());
    let found = audit(path, None);
    assert_eq!(found.flaws, 0, "{:?}", found.described);
    let all = recorded(path);
    let reported = reported(&output.stdout, "F-");
    assert!(!reported.is_empty() && reported.len() < 40_000, "{}", reported.len());
    // said in numbers: the names would fill the screen
    assert!(reported.iter().cloned().collect::<BTreeSet<_>>() == all, "{} reported, {} recorded", reported.len(), all.len());
    println!("full disk ({says}): {} of 40000 units recorded, and just these reported", all.len());
}

#[cfg(unix)]
#[test]
fn a_full_disk_loses_nothing() {
    let scratch = Scratch::new("full");
    let netlist = scratch.file("f.netlist", leads("F", 40_000));
    let path = scratch.path("r.db");
    let arguments = [Path::new("check"), &netlist, Path::new("--record"), &path];
    let output = crate::scratch::run_limited(12_000, &arguments);
    full(&path, &output, "the disk refuses");
    // with room again, the same file goes in whole
    let before = audit(&path, None).rows;
    assert_eq!(run(&arguments).status.code(), Some(1));
    let after = audit(&path, None);
    assert_eq!((after.rows, after.flaws), (before + 40_000, 0));
    // not even the tables fit
    let path = scratch.path("none.db");
    let output = crate::scratch::run_limited(4, &[Path::new("check"), &netlist, Path::new("--record"), &path]);
    assert_eq!(output.status.code(), Some(2));
    assert!(reported(&output.stdout, "F-").is_empty());
}

/// A disk of a few megabytes, where this process may mount one.
#[cfg(target_os = "linux")]
#[test]
fn a_full_disk_of_its_own_loses_nothing() {
    let scratch = Scratch::new("tmpfs");
    let netlist = scratch.file("f.netlist", leads("F", 40_000));
    let disk = scratch.folder("disk");
    let mounted = std::process::Command::new("mount")
        .args(["-t", "tmpfs", "-o", "size=12m", "none"])
        .arg(&disk)
        .output()
        .is_ok_and(|output| output.status.success());
    if !mounted {
        println!("not tried: no disk can be mounted here");
        return;
    }
    let path = disk.join("r.db");
    let output = run(&[Path::new("check"), &netlist, Path::new("--record"), &path]);
    let kept = scratch.path("kept.db");
    // a question opens the record on the full disk, too
    let asked = run(&[Path::new("record"), Path::new("verify"), &path]);
    std::fs::copy(&path, &kept).unwrap();
    std::process::Command::new("umount").arg(&disk).status().unwrap();
    assert_eq!(asked.status.code(), Some(0), "{}", text(&asked.stderr));
    full(&kept, &output, "the disk is full");
}

#[test]
fn several_processes_write_to_one_record() {
    let scratch = Scratch::new("several");
    let path = scratch.path("r.db");
    let processes = 4;
    let files = Size::asked_for().of(10, 40, 40);
    let mut children = Vec::new();
    for process in 0..processes {
        let names: Vec<PathBuf> = (0..files)
            .map(|nth| scratch.file(&format!("{process}-{nth}.netlist"), leads(&format!("S{process}-{nth}"), 5)))
            .collect();
        let mut command = command();
        command.arg("check").args(&names).arg("--record").arg(&path).stdout(Stdio::null()).stderr(Stdio::piped());
        children.push(command.spawn().unwrap());
    }
    for child in children {
        let output = child.wait_with_output().unwrap();
        assert_eq!(output.status.code(), Some(1), "{}", text(&output.stderr));
        assert!(text(&output.stderr).contains(&format!("recorded: {} verdicts", files * 5)), "{}", text(&output.stderr));
    }
    let found = audit(&path, None);
    assert_eq!((found.rows, found.flaws), ((processes * files * 5) as u64, 0), "{:?}", found.described);
    println!("{processes} processes at once: {} rows, one chain", found.rows);
}

fn hostile() -> Vec<String> {
    [
        "R7'; DROP TABLE verdict; --",
        "\"quoted\" and 'quoted'",
        "a\\u{0}b \\0 %00",
        "nul\0inside",
        "\u{202e}1000-7R\u{202c}\u{200f}",
        "\u{1b}[2J\u{7}bell\r\nnew line",
        "",
        " ",
        "cable é e\u{301} 電線 🪐",
        "%_*?",
        "NULL",
    ]
    .iter()
    .map(|name| (*name).to_owned())
    .chain(["x".repeat(10_000), "\u{202e}".repeat(3_000)])
    .collect()
}

#[test]
fn hostile_names_come_back_as_they_are_and_are_shown_escaped() {
    let scratch = Scratch::new("hostile");
    let path = scratch.path("r.db");
    let mut record = Record::open_or_new(&path).unwrap();
    let names = hostile();
    for (nth, name) in (0..).zip(&names) {
        let mut hostile = entry(name, Verdict::Fails).with_lot(name).with_supplier(name).with_kind(name);
        hostile.file.clone_from(name);
        record.append(&[hostile], "{}", at(nth)).unwrap();
    }
    let unsafe_here = |shown: &str| {
        shown.chars().any(|c| c != '\n' && (c.is_control() || ('\u{202a}'..='\u{202e}').contains(&c) || c == '\u{200f}'))
    };
    for name in &names {
        let history = record.history(name).unwrap();
        assert_eq!(history.rows.len(), 1, "{name:?}");
        let row = &history.rows[0];
        assert_eq!(
            [Some(&row.unit), row.lot.as_ref(), row.supplier.as_ref(), row.kind.as_ref(), Some(&row.file)],
            [Some(name); 5]
        );
        let (lot, trend) = (record.lot(name).unwrap(), record.trend(name).unwrap());
        assert_eq!((lot.units.len(), lot.units[0].unit.as_str()), (1, name.as_str()));
        assert_eq!((trend.lots.len(), trend.lots[0].lot.as_ref()), (1, Some(name)));
        for shown in [history.text(), lot.text(), trend.text()] {
            assert!(!unsafe_here(&shown), "{name:?}");
        }
        let read: serde_json::Value = serde_json::from_str(&history.json()).unwrap();
        assert_eq!(read["rows"][0]["unit"].as_str(), Some(name.as_str()));
    }
    assert_eq!(audit(&path, None).flaws, 0);
    if let Some((agreed, said)) = python("check_record.py", &[path.to_str().unwrap()], "") {
        assert!(agreed && said.contains(&format!("{} rows, 0 differ", names.len())), "{said}");
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 24, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn any_name_comes_back(unit in any::<String>(), lot in any::<Option<String>>()) {
        let scratch = Scratch::new("any");
        let path = scratch.path("r.db");
        let mut record = Record::open_or_new(&path).unwrap();
        let mut one = entry(&unit, Verdict::Conforms);
        one.lot.clone_from(&lot);
        record.append(&[one.clone(), one], "{}", at(0)).unwrap();
        let rows = record.history(&unit).unwrap().rows;
        prop_assert_eq!(rows.iter().map(|row| (&row.unit, &row.lot, row.attempt)).collect::<Vec<_>>(), vec![(&unit, &lot, 1), (&unit, &lot, 2)]);
        prop_assert_eq!(record.audit(None).unwrap().flaws, 0);
    }
}

/// The chain, the digests of files, units and maps, as another program works them out from the description.
#[test]
fn another_program_finds_the_same_digests() {
    let scratch = Scratch::new("reference");
    let path = scratch.path("r.db");
    for netlist in ["netlists/reel7.netlist", "netlists/reel7.netlist"] {
        assert_eq!(run(&["check", netlist, "--record", path.to_str().unwrap()]).status.code(), Some(1));
    }
    let compared = python("check_record.py", &[path.to_str().unwrap(), "netlists/reel7.netlist"], "");
    if let Some((agreed, said)) = compared {
        assert!(agreed && said.contains("20 rows, 0 differ") && said.contains("20 units, 0 differ"), "{said}");
        println!("{said}");
        tamper(&path, "UPDATE verdict SET verdict = 'conforms' WHERE number = 2");
        let (agreed, said) = python("check_record.py", &[path.to_str().unwrap()], "").unwrap();
        assert!(!agreed, "{said}");
    }
}

#[test]
fn another_attempt_is_kept_beside_the_first() {
    let scratch = Scratch::new("attempts");
    let path = scratch.path("r.db");
    let record = path.to_str().unwrap();
    let bad = scratch.file("bad.netlist", crate::scratch::lead("M-01", "M1", false));
    let good = scratch.file("good.netlist", crate::scratch::lead("M-01", "M1", true));
    let elsewhere = scratch.file("other.netlist", crate::scratch::lead("M-01", "M2", true));
    let check = |file: &Path| run(&["check", file.to_str().unwrap(), "--record", record]);
    assert!(!text(&check(&bad).stderr).contains(", attempt "));
    let again = text(&check(&good).stderr);
    assert!(again.contains("M-01: conforms, attempt 2; attempt 1 at ") && again.contains(": fails"), "{again}");
    // the same name in another lot is another unit
    assert!(!text(&check(&elsewhere).stderr).contains(", attempt "));
    let record = Record::open(&path).unwrap();
    let history = record.history("M-01").unwrap();
    let attempts: Vec<(i64, &str, &str)> =
        history.rows.iter().map(|row| (row.attempt, row.lot.as_deref().unwrap(), row.verdict.as_str())).collect();
    assert_eq!(attempts, [(1, "M1", "fails"), (2, "M1", "conforms"), (1, "M2", "conforms")]);
    let lot = record.lot("M1").unwrap();
    assert_eq!((lot.units.len(), lot.conforms, lot.units[0].verdicts.join(" ")), (1, 1, "fails conforms".to_owned()));
    // as delivered it failed, whatever was repaired since
    let trend = record.trend("Quillon Looms").unwrap();
    let counts: Vec<(usize, usize, usize)> = trend.lots.iter().map(|lot| (lot.failed, lot.decided, lot.failing_now)).collect();
    assert_eq!(counts, [(1, 1, 0), (0, 1, 0)]);
}

/// Three lots, with drawings and undecided units among them.
fn three_lots(path: &Path) -> Record {
    use Verdict::{Conforms, Fails, Inconclusive};
    let mut record = Record::open_or_new(path).unwrap();
    let lots: [(&str, &[Verdict]); 3] = [
        ("M1", &[Conforms; 8]),
        ("M2", &[Conforms, Fails, Conforms, Inconclusive, Fails, Conforms]),
        ("M3", &[Fails, Fails, Inconclusive]),
    ];
    let mut seconds = 0;
    for (lot, verdicts) in lots {
        for (nth, verdict) in verdicts.iter().enumerate() {
            seconds += 60;
            let one = entry(&format!("{lot}-{nth:02}"), *verdict).with_lot(lot);
            record.append(&[one], r#"{"cable":"xlr3"}"#, at(seconds)).unwrap();
        }
    }
    // repaired and tested again; an undecided one is decided at last; a drawing is no unit
    let again = [("M2-01", Conforms, false), ("M2-03", Fails, false), ("M2 drawing", Fails, true)];
    for (unit, verdict, is_drawing) in again {
        let one = entry(unit, verdict).with_lot("M2").with_drawing(is_drawing);
        record.append(&[one], "{}", at(86_400)).unwrap();
    }
    record
}

#[test]
fn a_supplier_lot_after_lot() {
    let scratch = Scratch::new("trend");
    let record = three_lots(&scratch.path("r.db"));
    let trend: Trend = record.trend("Quillon Looms").unwrap();
    let lots: Vec<(&str, usize, usize, usize, usize)> =
        trend.lots.iter().map(|lot| (lot.lot.as_deref().unwrap(), lot.units, lot.decided, lot.failed, lot.failing_now)).collect();
    assert_eq!(lots, [("M1", 8, 8, 0, 0), ("M2", 6, 6, 3, 2), ("M3", 3, 2, 2, 2)]);
    // none of eight: the upper bound is 1 - 0.025^(1/8); two of two: the lower one is 0.025^(1/2)
    let [low, high] = trend.lots[0].bounds.unwrap();
    assert!(low == 0.0 && (high - (1.0 - 0.025_f64.powf(0.125))).abs() < 1e-12, "{low} {high}");
    let [low, high] = trend.lots[2].bounds.unwrap();
    assert!((low - 0.025_f64.sqrt()).abs() < 1e-12 && (high - 1.0).abs() < 1e-15, "{low} {high}");
    // three of six is the same read from either side
    let [low, high] = trend.lots[1].bounds.unwrap();
    assert!((low + high - 1.0).abs() < 1e-9 && (low - 0.1181).abs() < 1e-4, "{low} {high}");
    assert_eq!(record.lot("M2").unwrap().drawings, 1);
    assert!(record.trend("Nobody").unwrap().lots.is_empty());
}

/// What people and programs get, with the version of the program taken out. The last digits of bounds are those of a library, so
/// that trends stand here for people only.
#[test]
fn answers_as_they_are_read() {
    let scratch = Scratch::new("answers");
    let mut record = three_lots(&scratch.path("r.db"));
    let mut all = String::new();
    let mut add = |text: String| all.push_str(&(text + "\n――――\n"));
    add(record.history("M2-01").unwrap().text());
    add(record.lot("M2").unwrap().text());
    add(record.trend("Quillon Looms").unwrap().text());
    add(record.history("M2-01").unwrap().json());
    add(record.lot("M3").unwrap().json());
    let audit = record.audit(None).unwrap();
    add(audit.text());
    add(audit.json());
    // the digests of rows take in the version
    let mut all = all.replace(env!("CARGO_PKG_VERSION"), "VERSION");
    for row in record.history("M2-01").unwrap().rows {
        all = all.replace(&row.digest, &format!("DIGEST-OF-ROW-{}", row.number));
    }
    all = all.replace(&audit.head.digest.to_string(), "HEAD");
    insta::assert_snapshot!(all);
}

/// Nobody reads the report to its end: the record still takes all.
#[cfg(unix)]
#[test]
fn a_closed_pipe_keeps_nothing_from_the_record() {
    let scratch = Scratch::new("pipe");
    let netlist = scratch.file("p.netlist", leads("P", 20_000));
    let path = scratch.path("r.db");
    let mut child = command()
        .args([Path::new("check"), &netlist, Path::new("--record"), &path])
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    drop(child.stdout.take());
    child.wait().unwrap();
    assert_eq!(audit(&path, None).rows, 20_000);
}

#[test]
fn questions_and_their_statuses() {
    for schema in [History::schema(), LotState::schema(), Trend::schema(), Audit::schema()] {
        let read: serde_json::Value = serde_json::from_str(&schema).unwrap();
        assert!(read["properties"]["schema"].is_object(), "{read}");
    }
    let scratch = Scratch::new("questions");
    let path = ten(&scratch);
    let record = path.to_str().unwrap();
    for (arguments, status) in [
        (vec!["record", "unit", record, "M-03"], 0),
        (vec!["record", "unit", record, "M-03", "--format", "json"], 0),
        (vec!["record", "unit", record, "m-03"], 2),
        (vec!["record", "lot", record, "M1"], 0),
        (vec!["record", "lot", record, "M1", "--format", "json"], 0),
        (vec!["record", "lot", record, "M2"], 2),
        (vec!["record", "supplier", record, "Quillon Looms"], 0),
        (vec!["record", "supplier", record, "Quillon Looms", "--format", "json"], 0),
        (vec!["record", "supplier", record, "Nobody"], 2),
        (vec!["record", "verify", record], 0),
        (vec!["record", "verify", record, "--format", "json"], 0),
        (vec!["record"], 2),
    ] {
        let output = run(&arguments);
        assert_eq!(output.status.code(), Some(status), "{arguments:?}\n{}", text(&output.stderr));
        if arguments.contains(&"json") {
            let read: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
            assert!(read["schema"].as_str().unwrap().starts_with("backshell.record."), "{read}");
        }
    }
}
