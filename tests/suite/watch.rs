//! The bench: every netlist that is dropped into a folder is taken once, whatever happens meanwhile.

use std::collections::BTreeMap;
use std::ops::ControlFlow;
use std::path::{Path, PathBuf};
use std::process::Stdio;
use std::time::{Duration, UNIX_EPOCH};

use backshell::finding::Problem;
use backshell::lot::bench::{Bench, Event, Memory, Outcome, STATE_FILE, Seen, Settings, TakenFile};
use backshell::report::{BenchScreen, block_letters};

use crate::campaign::{Random, Size};
use crate::scratch::{Scratch, command, lead, leads, run, seen_in, text};

/// A bench under test with a clock of its own, a tenth of a second from look to look.
struct Under<M> {
    bench: Bench<M>,
    now: Duration,
}

const TENTH: Duration = Duration::from_millis(100);

impl<M: Memory> Under<M> {
    fn new(folder: &Path, memory: Result<M, Problem>) -> Self {
        let settings = Settings::default().with_quiet(Duration::from_secs(1));
        Under { bench: Bench::new(folder.to_path_buf(), settings, memory.unwrap()).unwrap(), now: Duration::from_secs(5) }
    }

    /// So many looks.
    fn looks(&mut self, n: usize) -> Vec<Event> {
        let mut events = Vec::new();
        for _ in 0..n {
            self.now += TENTH;
            let time = UNIX_EPOCH + Duration::from_secs(1_931_245_200) + self.now;
            let each = |event| {
                events.push(event);
                ControlFlow::Continue(())
            };
            self.bench.look(self.now, || time, each).unwrap();
        }
        events
    }

    /// Looks until all is quiet and taken.
    fn drain(&mut self) -> Vec<Event> {
        let events = self.looks(13);
        assert!(self.bench.is_idle());
        events
    }
}

fn seen(folder: &Path) -> Under<Seen> {
    Under::new(folder, seen_in(folder))
}

/// Events in short.
fn short(events: &[Event]) -> Vec<String> {
    let one = |event: &Event| match event {
        Event::Taken(file) => {
            let units: Vec<String> = file.units.iter().map(|unit| format!("{} {}", unit.unit, unit.attempt)).collect();
            let same = if file.same_as.is_empty() { String::new() } else { format!(" same as {}", file.same_as.join(" ")) };
            format!("{}: {} [{}]{same}", file.name, file.outcome.word(), units.join(", "))
        }
        Event::Renamed { from, to } => format!("{from} renamed {to}"),
        Event::WrittenAgain { name } => format!("{name} again"),
        Event::LeftAlone { name } => format!("{name} left alone"),
        Event::Unreadable { name, .. } => format!("{name} unreadable"),
        Event::FolderLost(_) => "lost".to_owned(),
        Event::FolderBack => "back".to_owned(),
        other => format!("{other:?}"),
    };
    events.iter().map(one).collect()
}

fn taken(events: Vec<Event>) -> Vec<TakenFile> {
    let taken = events.into_iter().filter_map(|event| match event {
        Event::Taken(file) => Some(*file),
        _ => None,
    });
    taken.collect()
}

/// A new modification time that no coarse clock makes equal to the last.
fn touch(path: &Path, seconds: u64) {
    let file = std::fs::OpenOptions::new().append(true).open(path).unwrap();
    file.set_modified(UNIX_EPOCH + Duration::from_secs(1_931_245_200 + seconds)).unwrap();
}

/// What a bench does with whatever is dropped, over both kinds of memory.
fn story<M: Memory>(memory: impl Fn(&Path) -> Result<M, Problem>) {
    let scratch = Scratch::new("story");
    let folder = scratch.folder("in");
    let file = |name: &str, content: &str, seconds: u64| {
        let path = folder.join(name);
        std::fs::write(&path, content).unwrap();
        touch(&path, seconds);
        path
    };
    let mut bench = Under::new(&folder, memory(&folder));
    assert_eq!(short(&bench.drain()), [""; 0]);

    // slowly, in pieces, each just before the quiet time is over
    let whole = lead("M-01", "M1", true);
    for end in [5, 20, 40, whole.len() - 9] {
        file("a.netlist", &whole[..end], end as u64);
        assert_eq!(short(&bench.looks(9)), [""; 0]);
    }
    file("a.netlist", &whole, 100);
    assert_eq!(short(&bench.looks(10)), [""; 0]);
    assert_eq!(short(&bench.looks(2)), ["a.netlist: conforms [M-01 1]"]);
    assert_eq!(short(&bench.looks(30)), [""; 0]);

    // a last line without its end may be half a line: five times as long
    file("half.netlist", lead("M-09", "M9", true).trim_end(), 150);
    assert_eq!(short(&bench.looks(50)), [""; 0]);
    assert_eq!(short(&bench.looks(2)), ["half.netlist: conforms [M-09 1]"]);

    // written under another name, then renamed
    let part = file("b.netlist.tmp", &lead("M-02", "M1", false), 200);
    file(".hidden.netlist", &whole, 200);
    assert_eq!(short(&bench.looks(30)), [""; 0]);
    std::fs::rename(&part, folder.join("b.netlist")).unwrap();
    assert_eq!(short(&bench.drain()), ["b.netlist: fails [M-02 1]"]);

    // renamed after it was taken: not again; the same content under another name while the first is there: a test of its own
    std::fs::rename(folder.join("b.netlist"), folder.join("b2.netlist")).unwrap();
    assert_eq!(short(&bench.drain()), ["b.netlist renamed b2.netlist"]);
    std::fs::copy(folder.join("a.netlist"), folder.join("copy.netlist")).unwrap();
    assert_eq!(short(&bench.drain()), ["copy.netlist: conforms [M-01 2] same as a.netlist"]);
    // the first was cleared away, and another cable tests alike: another time, so that it isn't a renamed file
    std::fs::remove_file(folder.join("copy.netlist")).unwrap();
    std::fs::remove_file(folder.join("a.netlist")).unwrap();
    file("next.netlist", &whole, 250);
    let next = short(&bench.drain());
    assert_eq!(next, ["next.netlist: conforms [M-01 3] same as a.netlist copy.netlist"]);

    // changed later: another attempt, also when it goes back to what it was; written again alike: not
    let path = file("b2.netlist", &lead("M-02", "M1", true), 300);
    assert_eq!(short(&bench.drain()), ["b2.netlist: conforms [M-02 2]"]);
    file("b2.netlist", &lead("M-02", "M1", false), 310);
    assert_eq!(short(&bench.drain()), ["b2.netlist: fails [M-02 3] same as b.netlist"]);
    touch(&path, 320);
    assert_eq!(short(&bench.drain()), ["b2.netlist again"]);
    std::fs::remove_file(&path).unwrap();
    assert_eq!(short(&bench.drain()), [""; 0]);
    file("b2.netlist", &lead("M-02", "M1", false), 330);
    assert_eq!(short(&bench.drain()), ["b2.netlist again"]);

    // what can't be read is said, and read again when it changes or is touched
    let path = file("c.netlist", "cable xlr3\nunit M-03\nA.1 B\n", 400);
    file("scan.pdf", "%PDF", 400);
    assert_eq!(short(&bench.drain()), ["scan.pdf left alone", "c.netlist: unread []"]);
    assert_eq!(short(&bench.drain()), [""; 0]);
    touch(&path, 410);
    assert_eq!(short(&bench.drain()), ["c.netlist: unread []"]);
    file("c.netlist", &lead("M-03", "M1", true), 420);
    assert_eq!(short(&bench.drain()), ["c.netlist: conforms [M-03 1]"]);

    // another start: nothing again, and what came meanwhile
    drop(bench);
    file("d.netlist", &leads("M-04", 3), 500);
    file("b2.netlist", &lead("M-02", "M1", true), 510);
    file("table.csv", "unit,from,to\n", 520);
    let mut bench = Under::new(&folder, memory(&folder));
    let events = bench.drain();
    let expected = [
        "scan.pdf left alone",
        "d.netlist: fails [M-04-00000 1, M-04-00001 1, M-04-00002 1]",
        "b2.netlist: conforms [M-02 4]",
        "table.csv: unread []",
    ];
    assert_eq!(short(&events), expected);
    // counted on from before: M-01, M-02, M-03 and the three new ones
    let files = taken(events);
    let (lot, count) = &files[1].lots[0];
    assert_eq!(lot.lot.as_deref(), Some("M1"));
    assert_eq!((count.units, count.conforms, count.fails, count.inconclusive), (6, 5, 1, 0));
    assert_eq!(files[1].units[0].before.as_ref().map(|before| before.verdict.as_str()), Some("fails"));
    drop(bench);
    assert_eq!(short(&Under::new(&folder, memory(&folder)).drain()), ["scan.pdf left alone"]);

    // the folder goes, and comes back
    let mut bench = Under::new(&folder, memory(&folder));
    bench.drain();
    std::fs::rename(&folder, scratch.path("away")).unwrap();
    assert_eq!(short(&bench.looks(5)), ["lost"]);
    assert!(!bench.bench.is_idle());
    std::fs::rename(scratch.path("away"), &folder).unwrap();
    file("e.netlist", &lead("M-05", "M1", true), 600);
    // the files are looked at anew, and each is known
    assert_eq!(short(&bench.drain()), ["back", "e.netlist: conforms [M-05 1]"]);
}

#[test]
fn what_is_dropped_is_taken_once_without_a_record() {
    story(seen_in);
}

#[cfg(feature = "record")]
#[test]
fn what_is_dropped_is_taken_once_with_a_record() {
    use backshell::lot::record::{BenchRecord, Record};
    story(|folder| BenchRecord::new(Record::open_or_new(&folder.with_extension("db"))?, folder, "{}".to_owned()));
}

#[test]
fn many_at_once() {
    let n = Size::asked_for().of(300, 300, 3000);
    let scratch = Scratch::new("many");
    let mut bench = seen(&scratch.0);
    let mut events = Vec::new();
    for nth in 0..n {
        scratch.file(&format!("{nth:04}.netlist"), lead(&format!("M-{nth:04}"), "M1", nth % 7 != 0));
        if nth % 50 == 0 {
            events.extend(bench.looks(1));
        }
    }
    events.extend(bench.drain());
    let files = taken(events);
    let mut names: Vec<&str> = files.iter().map(|file| file.name.as_str()).collect();
    names.sort_unstable();
    names.dedup();
    let all = bench.bench.files();
    assert_eq!((names.len(), files.len(), all), (n, n, n));
    let last = &files.last().unwrap().lots[0].1;
    assert_eq!((last.units, last.fails), (n, n.div_ceil(7)));
    println!("{n} files at once, each taken once");
}

#[test]
fn names_that_are_no_text_stay_apart() {
    #[cfg(unix)]
    {
        use std::os::unix::ffi::OsStrExt;
        let scratch = Scratch::new("bytes");
        let mut bench = seen(&scratch.0);
        for (nth, name) in
            [&b"\xff.netlist"[..], b"\xfe.netlist", b"\xfe\\.netlist", "\u{202e}x'\".netlist".as_bytes()].iter().enumerate()
        {
            let path = scratch.0.join(std::ffi::OsStr::from_bytes(name));
            // some file systems take only text
            if std::fs::write(&path, lead("M-01", "M1", true)).is_err() {
                return;
            }
            touch(&path, nth as u64);
        }
        let events = bench.drain();
        let names: Vec<String> = short(&events).iter().map(|line| line.split(": ").next().unwrap().to_owned()).collect();
        assert_eq!(names, ["\\xff.netlist", "\\xfe.netlist", "\\xfe\\\\.netlist", "\u{202e}x'\".netlist"]);
        drop(bench);
        assert_eq!(short(&seen(&scratch.0).drain()), [""; 0]);
        let mut out = Vec::new();
        let mut screen = BenchScreen::new(&mut out);
        events.iter().for_each(|event| screen.event(event).unwrap());
        assert!(text(&out).contains("\\u{202e}x'\".netlist") && !text(&out).contains('\u{202e}'));
    }
}

#[test]
fn the_file_beside_the_netlists() {
    let scratch = Scratch::new("seen");
    let state = scratch.path(STATE_FILE);
    scratch.file("a.netlist", lead("M-01", "M1", true));
    let mut bench = seen(&scratch.0);
    assert_eq!(short(&bench.drain()), ["a.netlist: conforms [M-01 1]"]);
    // one bench for each folder
    let second = Seen::open(&scratch.0).unwrap_err();
    assert!(second.message.contains("another `watch`"), "{}", second.message);
    drop(bench);
    // a line without its end is cut off, and its file taken again
    let whole = std::fs::read(&state).unwrap();
    let line = serde_json::from_slice::<serde_json::Value>(&whole).unwrap();
    assert_eq!((line["name"].as_str(), line["outcome"].as_str()), (Some("a.netlist"), Some("conforms")));
    for cut in [1, 10, whole.len() - 1] {
        std::fs::write(&state, &whole[..whole.len() - cut]).unwrap();
        assert_eq!(short(&seen(&scratch.0).drain()), ["a.netlist: conforms [M-01 1]"], "{cut}");
    }
    // anything else in it is refused, and left as it is
    for line in [
        "what is this\n",
        "{}\n",
        &text(&whole).replace("conforms", "perfect"),
        &text(&whole).replace("\"digest\":\"", "\"digest\":\"z"),
    ] {
        std::fs::write(&state, line).unwrap();
        let refused = Seen::open(&scratch.0).unwrap_err();
        assert!(refused.message.contains("line 1 can't be read"), "{line}: {}", refused.message);
        assert_eq!(std::fs::read(&state).unwrap(), line.as_bytes());
    }
}

fn watch_once(folder: &Path, record: Option<&Path>) -> std::process::Output {
    let mut arguments: Vec<&Path> = vec![Path::new("watch"), folder];
    if let Some(record) = record {
        arguments.extend([Path::new("--record"), record]);
    }
    arguments.extend(["--once", "--quiet", "0"].map(Path::new));
    run(&arguments)
}

/// The names of the files that the screen shows as taken, in whole events only: each ends in the line of its lot or of its row.
fn shown(stdout: &[u8], end: &str) -> Vec<String> {
    let said = text(stdout);
    let whole = said.rfind('\n').map_or("", |end| &said[..=end]);
    let mut names = Vec::new();
    let mut name = None;
    for line in whole.lines() {
        if let Some((file, _)) = line.split_once(".netlist: 1 unit") {
            name = Some(file.to_owned());
        } else if line.starts_with(end) {
            names.extend(name.take());
        }
    }
    names
}

/// Runs a bench, ends it at some moment, again and again, while files come. `taken` tells how often each was taken.
fn ended_again_and_again(what: &str, record: bool, taken: impl Fn(&Path, Option<&Path>) -> BTreeMap<String, usize>) {
    let runs = Size::asked_for().of(20, 60, 200);
    let scratch = Scratch::new("ended");
    let folder = scratch.folder("in");
    let path = scratch.path("r.db");
    let record = record.then_some(path.as_path());
    let mut random = Random::new(usize::from(record.is_some()) + 1);
    let (mut files, mut said, mut midway) = (0, BTreeMap::new(), 0);
    for nth in 0..runs {
        let mut arguments: Vec<PathBuf> = vec!["watch".into(), folder.clone(), "--quiet".into(), "0".into()];
        if let Some(record) = record {
            arguments.extend(["--record".into(), record.to_path_buf()]);
        }
        let mut child = command().args(&arguments).stdout(Stdio::piped()).stderr(Stdio::null()).spawn().unwrap();
        let mut out = child.stdout.take().unwrap();
        let reader = std::thread::spawn(move || {
            let mut bytes = Vec::new();
            std::io::Read::read_to_end(&mut out, &mut bytes).unwrap();
            bytes
        });
        for _ in 0..6 {
            // whole at once, by renaming
            let part = folder.join(".new");
            std::fs::write(&part, lead(&format!("E-{files:05}"), "M1", files % 3 != 0)).unwrap();
            std::fs::rename(&part, folder.join(format!("{files:05}.netlist"))).unwrap();
            files += 1;
            std::thread::sleep(Duration::from_micros(random.below(12_000) as u64));
        }
        std::thread::sleep(Duration::from_micros(random.below(if record.is_some() { 300_000 } else { 60_000 }) as u64));
        if nth % 2 == 0 {
            child.kill().unwrap();
        } else {
            // as Ctrl-C does
            let interrupt = std::process::Command::new("kill").args(["-INT", &child.id().to_string()]).status();
            if !interrupt.is_ok_and(|status| status.success()) {
                child.kill().unwrap();
            }
        }
        child.wait().unwrap();
        let names = shown(&reader.join().unwrap(), if record.is_some() { "recorded: " } else { "lot M1" });
        let shown_now = names.len();
        for name in names {
            *said.entry(name).or_insert(0) += 1;
        }
        midway += usize::from(shown_now > 0 && said.len() < files);
        if nth % 10 == 0 || nth + 1 == runs {
            let kept = taken(&folder, record);
            for (name, times) in &said {
                assert_eq!(*times, 1, "run {nth}: {name} was shown {times} times");
                assert_eq!(kept.get(name), Some(&1), "run {nth}: {name} was shown and isn't kept");
            }
        }
    }
    let output = watch_once(&folder, record);
    assert_eq!(output.status.code().unwrap() & !1, 0, "{}", text(&output.stderr));
    let kept = taken(&folder, record);
    assert_eq!(kept.len(), files, "missed");
    assert!(kept.values().all(|times| *times == 1), "taken twice");
    println!(
        "{what}: {runs} runs ended, {midway} midway; {files} files, each taken once; {} of them shown before the last run",
        said.len()
    );
    assert!(midway > 0 && !said.is_empty());
}

#[cfg(unix)]
#[test]
fn ended_at_any_moment_without_a_record() {
    ended_again_and_again("without a record", false, |folder, _| {
        let mut times = BTreeMap::new();
        let state = std::fs::read_to_string(folder.join(STATE_FILE)).unwrap_or_default();
        for line in state.split_inclusive('\n').filter(|line| line.ends_with('\n')) {
            let line: serde_json::Value = serde_json::from_str(line).unwrap();
            *times.entry(line["name"].as_str().unwrap().trim_end_matches(".netlist").to_owned()).or_insert(0) += 1;
        }
        times
    });
}

#[cfg(all(unix, feature = "record"))]
#[test]
fn ended_at_any_moment_with_a_record() {
    use backshell::lot::record::Record;
    ended_again_and_again("with a record", true, |_, path| {
        let path = path.unwrap();
        let audit = Record::open_or_new(path).unwrap().audit(None).unwrap();
        assert_eq!(audit.flaws, 0, "{:?}", audit.described);
        let raw = rusqlite::Connection::open(path).unwrap();
        let pairs =
            "SELECT name, count(*), (SELECT count(*) FROM verdict WHERE file = folder || '/' || name) FROM taken GROUP BY name";
        let mut rows = raw.prepare(pairs).unwrap();
        let rows = rows
            .query_map([], |row| Ok((row.get::<_, String>(0)?, row.get::<_, u32>(1)? as usize, row.get::<_, u32>(2)? as usize)))
            .unwrap();
        let mut times = BTreeMap::new();
        for row in rows {
            let (name, taken, verdicts) = row.unwrap();
            assert_eq!(taken, verdicts, "{name}");
            times.insert(name.trim_end_matches(".netlist").to_owned(), verdicts);
        }
        times
    });
}

/// Two benches on one folder with one record: each file is taken by one of them.
#[cfg(feature = "record")]
#[test]
fn two_benches_share_a_folder() {
    let n = Size::asked_for().of(60, 100, 100);
    let scratch = Scratch::new("two");
    let folder = scratch.folder("in");
    let path = scratch.path("r.db");
    let start = || {
        let mut command = command();
        command.arg("watch").arg(&folder).args(["--quiet", "0"]).arg("--record").arg(&path);
        command.stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap()
    };
    let mut benches = [start(), start()];
    for nth in 0..n {
        let part = folder.join(".new");
        std::fs::write(&part, lead(&format!("E-{nth:05}"), "M1", true)).unwrap();
        std::fs::rename(&part, folder.join(format!("{nth:05}.netlist"))).unwrap();
        std::thread::sleep(Duration::from_millis(if nth % 10 == 0 { 40 } else { 1 }));
    }
    // as long as it takes, and not for ever
    for _ in 0..1500 {
        let lot = backshell::lot::record::Record::open(&path).and_then(|record| record.lot("M1"));
        if lot.is_ok_and(|lot| lot.units.len() == n) {
            break;
        }
        std::thread::sleep(Duration::from_millis(200));
    }
    // what is recorded is shown within the next moment
    std::thread::sleep(Duration::from_millis(500));
    benches.iter_mut().for_each(|bench| bench.kill().unwrap());
    let outputs = benches.map(|bench| bench.wait_with_output().unwrap());
    let mut all: Vec<String> = outputs.iter().flat_map(|output| shown(&output.stdout, "recorded: ")).collect();
    let shares = outputs.each_ref().map(|output| shown(&output.stdout, "recorded: ").len());
    all.sort_unstable();
    let expected: Vec<String> = (0..n).map(|nth| format!("{nth:05}")).collect();
    assert_eq!(all, expected, "{shares:?}");
    println!("two benches: {} and {} of {n} files", shares[0], shares[1]);
}

/// A full disk: what isn't kept isn't shown, and it is taken once there is room.
#[cfg(unix)]
#[test]
fn a_full_disk_stops_the_bench() {
    let scratch = Scratch::new("bench-full");
    for nth in 0..40 {
        scratch.file(&format!("{nth:05}.netlist"), lead(&format!("E-{nth:05}"), "M1", true));
    }
    let arguments = ["watch", scratch.0.to_str().unwrap(), "--once", "--quiet", "0"].map(Path::new);
    let output = crate::scratch::run_limited(4, &arguments);
    assert_eq!(output.status.code(), Some(2));
    assert!(text(&output.stderr).contains("can't be written"), "{}", text(&output.stderr));
    let first = shown(&output.stdout, "lot M1");
    assert!(!first.is_empty() && first.len() < 40, "{}", first.len());
    let rest = shown(&run(&arguments).stdout, "lot M1");
    assert_eq!(first.len() + rest.len(), 40);
    assert!(rest.iter().all(|name| !first.contains(name)));
}

#[test]
fn statuses_and_options() {
    let scratch = Scratch::new("watch-status");
    let folder = scratch.folder("in");
    let status = |more: &[&str]| {
        let mut words = vec!["watch", folder.to_str().unwrap(), "--once", "--quiet", "0"];
        words.extend(more);
        run(&words).status.code()
    };
    assert_eq!(status(&[]), Some(0));
    std::fs::write(folder.join("a.netlist"), "A.1 B.1\nA.2 B.2\nA.3 B.3\n").unwrap();
    assert_eq!(status(&["--cable", "xlr3", "--lot", "M7", "--supplier", "Quillon Looms"]), Some(0));
    let state = std::fs::read_to_string(folder.join(STATE_FILE)).unwrap();
    assert!(state.contains(r#""unit":"a","lot":"M7","supplier":"Quillon Looms","verdict":"conforms""#), "{state}");
    std::fs::write(folder.join("b.netlist"), lead("M-02", "M1", false)).unwrap();
    assert_eq!(status(&[]), Some(1));
    std::fs::write(folder.join("c.netlist"), "what\n").unwrap();
    assert_eq!(status(&[]), Some(2));
    assert_eq!(status(&["--quiet", "soon"]), Some(2));
    assert_eq!(run(&["watch", scratch.path("nowhere").to_str().unwrap(), "--once"]).status.code(), Some(2));
    // print-outs by rules, tables by their ending
    for (from, to) in [("netlists/printouts", "txt"), ("netlists/tables", "csv")] {
        let one = std::fs::read_dir(from).unwrap().map(|entry| entry.unwrap().path());
        let mut ours: Vec<PathBuf> = one.filter(|path| path.extension().is_some_and(|extension| extension == to)).collect();
        ours.sort();
        assert!(!ours.is_empty(), "{from}");
        for path in ours {
            std::fs::copy(&path, folder.join(path.file_name().unwrap())).unwrap();
        }
    }
    let words = ["watch", folder.to_str().unwrap(), "--once", "--quiet", "0", "--rule", "netlists/rules/cue-bench.toml"];
    let said = text(&run(&words).stdout);
    assert!(said.contains(".txt: ") && said.contains(".csv: ") && !said.contains("left alone"), "{said}");
}

/// What stands on the screen, for each outcome.
#[test]
fn verdicts_as_they_are_seen() {
    let scratch = Scratch::new("screen");
    let mut bench = seen(&scratch.0);
    let reel = std::fs::read_to_string("netlists/reel7.netlist").unwrap();
    let files = [
        ("1.netlist", lead("M-01", "M1", true)),
        ("2.netlist", lead("M-02", "M1", false)),
        ("3.netlist", reel),
        ("4.netlist", "cable xlr3\nunit M-04\nscope stated\nA.1 B.1\n".to_owned()),
        ("5.netlist", lead("M-02", "M1", true)),
        ("6.netlist", lead("M-02", "M1", true)),
        ("7.netlist", "cable xlr3\nunit M-07\nA.1 B\nunit M-08\nA.1 B.1\nA.2 B.2\nA.3 B.3\n".to_owned()),
        ("8.netlist", "cable no-such\nunit M-09\nA.1 B.1\n".to_owned()),
        ("notes.docx", String::new()),
    ];
    for (nth, (name, content)) in (0..).zip(&files) {
        touch(&scratch.file(name, content), nth);
    }
    let events = bench.drain();
    let mut out = Vec::new();
    let mut screen = BenchScreen::new(&mut out);
    screen.start("in", bench.bench.files(), bench.bench.latest()).unwrap();
    events.iter().for_each(|event| screen.event(event).unwrap());
    let folder = scratch.0.display().to_string();
    insta::assert_snapshot!(text(&out).replace(&folder, "in"));
    let calls: Vec<&str> = taken(events).iter().map(|file| file.outcome.call()).collect();
    assert_eq!(calls, ["CONFORMS", "FAILS", "DO NOT CONNECT", "CAN'T TELL", "CONFORMS", "CONFORMS", "CAN'T TELL", "CAN'T TELL"]);
}

/// Every word is drawn, fits a terminal, and none looks like another.
#[test]
fn block_letters_are_all_drawn() {
    let mut drawn: Vec<String> = Outcome::ALL.map(|outcome| block_letters(outcome.call())).to_vec();
    for text in &drawn {
        assert!(text.lines().all(|line| line.chars().count() <= 80), "{text}");
        assert!(text.chars().all(|c| matches!(c, '#' | ' ' | '\n')), "{text}");
    }
    drawn.sort();
    drawn.dedup();
    assert_eq!(drawn.len(), 4);
    assert_eq!(block_letters("?").trim(), "?");
}
