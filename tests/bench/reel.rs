//! A reel of 100,000 display cables, timed side by side with other ways of doing (part of) the job.
//!
//! Everything is timed in turn, round after round, in one run, so that the ratios hold whatever else the machine does.
//! Then one harness of 10,000 to a million points, with the cable file that it needs.
//! `cargo bench` runs it; `cargo bench -- 10000` takes another number of units. `cargo bench -- doubling` checks sound reels of
//! 1,000 to 4,096,000 units instead (1.7 GB of disk), each twice as long as the one before, with the greatest memory of each.

#![allow(clippy::print_stdout, clippy::unwrap_used, clippy::cast_precision_loss)]

use std::fmt::Write as _;
use std::fs::File;
use std::io::{BufWriter, Write as _};
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use backshell::netlist;
use backshell::text::Source;

/// The conductors of a sound display cable (VESA DisplayPort Standard): lanes and their grounds crossed, the rest straight.
const WIRES: [(u32, u32); 19] = [
    (1, 12),
    (2, 11),
    (3, 10),
    (4, 9),
    (5, 8),
    (6, 7),
    (7, 6),
    (8, 5),
    (9, 4),
    (10, 3),
    (11, 2),
    (12, 1),
    (13, 13),
    (14, 14),
    (15, 15),
    (16, 16),
    (17, 17),
    (18, 18),
    (19, 19),
];

/// Rounds of the fast ways; the slow ones run once.
const ROUNDS: usize = 7;

fn main() {
    if std::env::args().any(|argument| argument == "doubling") {
        return doubling();
    }
    let units = std::env::args().skip(1).find_map(|argument| argument.parse().ok()).unwrap_or(100_000);
    let folder = std::env::temp_dir().join(format!("backshell-bench-{}", std::process::id()));
    std::fs::create_dir_all(&folder).unwrap();
    let sound = folder.join("sound.netlist");
    let mixed = folder.join("mixed.netlist");
    let faulty = folder.join("faulty.netlist");
    let joins = folder.join("joins.csv");
    let one = folder.join("one.netlist");
    let lines = reel(&mixed, Some(&joins), units, 5);
    reel(&sound, None, units, 0);
    reel(&faulty, None, units, 1000);
    reel(&one, None, 1, 0);
    let megabytes = std::fs::metadata(&mixed).unwrap().len() as f64 / 1e6;
    println!("a reel of {units} units, {lines} lines, {megabytes:.1} MB, one unit in 200 faulty");

    let mut times: Vec<(&str, Vec<Duration>)> = [
        "wc -w",
        "parse alone, one core",
        "whole check",
        "whole check, every unit sound",
        "whole check, every unit faulty",
        "one small file",
    ]
    .map(|name| (name, Vec::new()))
    .into();
    for round in 0..=ROUNDS {
        let took = [
            run(Command::new("wc").arg("-w").arg(&mixed)),
            parse(&mixed),
            run(check(&mixed)),
            run(check(&sound)),
            if round < 3 { run(check(&faulty)) } else { Duration::ZERO },
            (0..40).map(|_| run(check(&one))).min().unwrap_or_default(),
        ];
        if round > 0 {
            // the first round only warms the caches
            for ((_, list), took) in times.iter_mut().zip(took) {
                if took > Duration::ZERO {
                    list.push(took);
                }
            }
        }
    }
    let median = |list: &[Duration]| -> f64 {
        let mut list = list.to_vec();
        list.sort_unstable();
        list.get(list.len() / 2).map_or(f64::NAN, Duration::as_secs_f64)
    };
    let base = median(&times[0].1);
    for (name, list) in &times {
        println!("{name:32} {:9.2} ms   {:6.2} x wc -w", median(list) * 1e3, median(list) / base);
    }
    let of = |name: &str| times.iter().find(|(known, _)| *known == name).map_or(f64::NAN, |(_, list)| median(list));
    let ratio = of("whole check, every unit faulty") / of("whole check, every unit sound");
    println!("every unit faulty: {ratio:.1} times every unit sound");
    for (name, script, file) in
        [("Python with networkx", "joins_networkx.py", &mixed), ("polars on the joins as CSV", "joins_polars.py", &joins)]
    {
        match scripted(script, file) {
            Some(took) => println!("{name:32} {:9.2} ms   {:6.2} x wc -w", took.as_secs_f64() * 1e3, took.as_secs_f64() / base),
            None => println!("{name:32} not installed"),
        }
    }
    for (name, file) in [("one unit in 200 faulty", &mixed), ("every unit faulty", &faulty)] {
        println!("memory, {name}: {:.1} MB", watched(&mut check(file)).1 as f64 / 1e3);
    }
    for points in [10_000, 100_000, 1_000_000] {
        harness(&folder, points);
        let runs: Vec<(Duration, u64)> = (0..3).map(|_| watched(&mut check(&folder.join("trunk.netlist")))).collect();
        let took = runs.iter().map(|(took, _)| took.as_secs_f64()).fold(f64::INFINITY, f64::min);
        let most = runs.iter().map(|(_, kilobytes)| *kilobytes).max().unwrap_or_default();
        println!(
            "one harness of {points:9} points  {:9.2} ms   {:6.2} us a point  {:6.1} MB",
            took * 1e3,
            took * 1e6 / f64::from(points),
            most as f64 / 1e3
        );
    }
    std::fs::remove_dir_all(&folder).ok();
}

/// A harness of two ends with so many points in all: its cable file, with the connector in it, and the netlist of a sound one.
fn harness(folder: &Path, points: u32) {
    let contacts = points / 2;
    let mut map = String::from(
        "name = \"trunk\"\ntitle = \"dome trunk\"\nstandard = \"drawing DR-30\"\n\
         ends = [{ end = \"A\", connector = \"field\" }, { end = \"B\", connector = \"field\" }]\nconductors = [\n",
    );
    let mut pins = String::new();
    let mut text = String::from("cable trunk\nlength 2 m\ngauge 24 AWG\nunit trunk-1\n");
    for n in 1..=contacts {
        let _ = writeln!(map, "  {{ signal = \"S{n}\", points = [\"A.{n}\", \"B.{n}\"], from-memory = true }},");
        let _ = writeln!(pins, "  {{ pin = \"{n}\", name = \"S{n}\", role = \"signal\", from-memory = true }},");
        let _ = writeln!(text, "A.{n} B.{n} 0.21{} ohm", n % 10);
    }
    let connector = "[[connector]]\nname = \"field\"\ntitle = \"patch field\"\nstandard = \"drawing DR-30\"\npins = [\n";
    std::fs::write(folder.join("trunk.toml"), format!("{map}]\n\n{connector}{pins}]\n")).unwrap();
    std::fs::write(folder.join("trunk.netlist"), text).unwrap();
}

/// Sound reels, each twice as long as the one before: time, by how much it grew, and the greatest memory.
fn doubling() {
    let folder = std::env::temp_dir().join(format!("backshell-bench-{}", std::process::id()));
    std::fs::create_dir_all(&folder).unwrap();
    let file = folder.join("sound.netlist");
    let mut before: Option<f64> = None;
    for units in (0..13).map(|doublings| 1000 << doublings) {
        reel(&file, None, units, 0);
        let rounds = if units < 100_000 { 15 } else { 3 };
        let runs: Vec<(Duration, u64)> = (0..rounds).map(|_| watched(&mut check(&file))).collect();
        let took = runs.iter().map(|(took, _)| took.as_secs_f64()).fold(f64::INFINITY, f64::min);
        let most = runs.iter().map(|(_, kilobytes)| *kilobytes).max().unwrap_or_default();
        let grew = before.map_or_else(String::new, |before| format!("{:5.2} x the one before", took / before));
        println!("{units:9} units  {:9.2} ms  {:6.1} MB  {grew}", took * 1e3, most as f64 / 1e3);
        before = Some(took);
    }
    std::fs::remove_dir_all(&folder).ok();
}

/// How long a command takes, and the most memory in kB that it was seen to have; 0 where the system doesn't say.
fn watched(command: &mut Command) -> (Duration, u64) {
    let start = Instant::now();
    let mut child = command.stdout(Stdio::null()).spawn().unwrap();
    let status = format!("/proc/{}/status", child.id());
    let mut most = 0;
    loop {
        if let Some(done) = child.try_wait().unwrap() {
            assert!(done.code().is_some_and(|code| code < 2), "{command:?}");
            return (start.elapsed(), most);
        }
        let text = std::fs::read_to_string(&status).unwrap_or_default();
        let line = text.lines().find_map(|line| line.strip_prefix("VmHWM:"));
        most = most.max(line.and_then(|line| line.trim().trim_end_matches(" kB").parse().ok()).unwrap_or(0));
        std::thread::sleep(Duration::from_micros(500));
    }
}

/// Writes a reel as a netlist, and its joins as CSV; so many units in a thousand have two conductors exchanged. Gives the lines.
fn reel(path: &Path, joins: Option<&Path>, units: u64, faulty_in_a_thousand: u64) -> u64 {
    let mut state = 0x5eed_u64;
    let mut random = |n: u64| {
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (state >> 33) % n
    };
    let mut text = BufWriter::new(File::create(path).unwrap());
    let mut rows = joins.map(|joins| BufWriter::new(File::create(joins).unwrap()));
    text.write_all(b"cable displayport\nlength 2.0 m\ngauge 28 AWG\n").unwrap();
    if let Some(rows) = &mut rows {
        rows.write_all(b"unit,a,b\n").unwrap();
    }
    for unit in 0..units {
        let mut wires = WIRES;
        if random(1000) < faulty_in_a_thousand {
            let a = usize::try_from(random(19)).unwrap();
            let b = usize::try_from((a as u64 + 1 + random(18)) % 19).unwrap();
            (wires[a].1, wires[b].1) = (wires[b].1, wires[a].1);
        }
        writeln!(text, "\nunit R7-{unit:06}").unwrap();
        for (a, b) in wires {
            writeln!(text, "A.{a} B.{b} 0.{} ohm", 440 + random(20)).unwrap();
            if let Some(rows) = &mut rows {
                writeln!(rows, "R7-{unit:06},A.{a},B.{b}").unwrap();
            }
        }
        text.write_all(b"A.shell B.shell 0.012 ohm\nopen A.20 B.20\n").unwrap();
    }
    text.flush().unwrap();
    rows.iter_mut().for_each(|rows| rows.flush().unwrap());
    3 + units * 23
}

fn check(file: &Path) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_backshell"));
    command.arg("check").arg(file);
    command
}

fn run(mut command: impl std::borrow::BorrowMut<Command>) -> Duration {
    let command = command.borrow_mut();
    command.stdout(Stdio::null());
    let start = Instant::now();
    let status = command.status();
    let took = start.elapsed();
    assert!(status.is_ok_and(|status| status.code().is_some_and(|code| code < 2)), "{command:?}");
    took
}

fn parse(file: &Path) -> Duration {
    let start = Instant::now();
    let source = Source::new("reel", std::fs::read_to_string(file).unwrap());
    let read = netlist::parse(&source);
    let took = start.elapsed();
    assert!(read.problems.is_empty() && !read.units.is_empty());
    took
}

fn scripted(script: &str, file: &PathBuf) -> Option<Duration> {
    let start = Instant::now();
    let status = Command::new("python3")
        .arg(format!("tests/bench/{script}"))
        .arg(file)
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .status()
        .ok()?;
    status.success().then(|| start.elapsed())
}
