//! Units that are like one before: their reports are, byte by byte, those of the long way, whatever their figures and lines say.

use std::fmt::Write as _;

use backshell::finding::Label;
use backshell::netlist::Action;
use backshell::report::{JsonReport, Terminal, Writer};
use backshell::text::Digest;
use backshell::verify::{Options, Twice, check_text};

use crate::campaign::{Random, Size};
use crate::injection::{BUILDS, Model, cable};

const CABLES: [&str; 10] = [
    "displayport",
    "hdmi",
    "ethernet-t568b",
    "usb-c-a",
    "usb2-a-b",
    "rs232-null-modem",
    "xlr3",
    "can-de9",
    "dome-harness",
    "dome-clock",
];

/// What is told to people and to programs, and what else the reports hold.
fn check(text: &str, lot: bool, long_way: bool) -> [String; 3] {
    let options = Options::default().with_long_way(long_way).with_lot(lot).with_map("netlists/cables");
    let (mut people, mut programs, mut beside) = (Vec::new(), Vec::new(), String::new());
    {
        let mut one = Terminal::new(&mut people, false);
        let mut other = JsonReport::new(&mut programs).unwrap();
        let outcome = check_text("reel", text, &options, |batch| {
            one.batch("reel", &batch).unwrap();
            other.batch("reel", &batch).unwrap();
            for report in &batch.reports {
                let _ = writeln!(beside, "{:?} {} {:?} {:?}", report.unit, report.attempt, report.lot, report.links);
            }
        });
        one.finish(&outcome).unwrap();
        other.finish(&outcome).unwrap();
    }
    [String::from_utf8(people).unwrap(), String::from_utf8(programs).unwrap(), beside]
}

/// A line of a unit: its words, and the middle of its figure in ohm, where it has one.
type Line = (String, Option<f64>);

/// The lines of a cable that may be sound or have a fault; `file` are S-parameters that it may name.
fn kind(name: &str, file: &str, random: &mut Random) -> Vec<Line> {
    let model = Model::sound(&cable(name), BUILDS[random.below(3)]);
    let mut lines: Vec<Line> = Vec::new();
    let mut opens = Vec::new();
    let of = model.labels();
    for net in 0..of.len() {
        let members: Vec<String> = (0..of.len()).filter(|at| of[*at] == net).map(|at| model.text(at)).collect();
        match members.len() {
            0 => {}
            1 => opens.push(members[0].clone()),
            _ => lines.extend(members.windows(2).map(|two| (two.join(" "), Some(0.45)))),
        }
    }
    if !opens.is_empty() {
        lines.push((format!("open {}", opens.join(" ")), None));
    }
    lines.extend(model.part_lines().lines().map(|line| (line.to_owned(), None)));
    let words = |lines: &[Line], at: usize| -> Vec<String> { lines[at].0.split(' ').map(str::to_owned).collect() };
    for _ in 0..random.below(3) {
        let (one, two) = (random.below(lines.len()), random.below(lines.len()));
        let (mut a, mut b) = (words(&lines, one), words(&lines, two));
        let (first, second) = (a[0].clone(), b.last().unwrap().clone());
        match random.below(9) {
            0 if one != two && a.len() == 2 && b.len() == 2 => {
                std::mem::swap(&mut a[1], &mut b[1]);
                (lines[one].0, lines[two].0) = (a.join(" "), b.join(" "));
            }
            1 if lines.len() > 2 => drop(lines.remove(one)),
            2 => lines.push((format!("{first} {second}"), Some(0.3))),
            3 => lines.push((format!("isolation {first} {second} >500 Mohm"), None)),
            4 => lines.push((format!("pair {first} {second}"), None)),
            5 => lines.push((format!("resistor {first} {second} 120 ohm"), None)),
            6 => lines[one].0 = format!(" {}\t", lines[one].0),
            7 => lines.push((format!("conductor \"red\" {first} {second} 26 AWG"), None)),
            _ => lines.push(("# measured 2 times, 0.45 ohm".to_owned(), None)),
        }
    }
    let joins: Vec<Vec<String>> = (0..lines.len()).map(|at| words(&lines, at)).filter(|words| words.len() == 2).collect();
    if let ([one, two, ..], 0) = (joins.as_slice(), random.below(6)) {
        let at = random.below(lines.len());
        lines.insert(at, (format!("sparameters {} {} {} {} {file}", one[0], two[0], one[1], two[1]), None));
    }
    lines
}

/// A figure as a tester prints it, most of them near the middle.
fn figure(middle: f64, random: &mut Random) -> String {
    let near = middle + (random.share() - 0.5) * [0.0, 0.015, 0.06, 0.5][random.below(4)];
    match random.below(90) {
        0 => "5.2 ohm".to_owned(),
        1 => "12000 ohm".to_owned(),
        2 => "2 Mohm".to_owned(),
        3 => ">0.2 ohm".to_owned(),
        4 => "<2 ohm".to_owned(),
        5 => format!("{near:.3} ohm +/- 2%"),
        6 => format!("{near:.2e} ohm"),
        7 => "0 ohm".to_owned(),
        8 => format!("{:.0}mohm", near.abs() * 1e3),
        9 => format!("{near:.17} ohm"),
        10 => String::new(),
        11 => format!("{near:.2} ohm # again"),
        12 => "99999999999999999999 ohm".to_owned(),
        13 => "0.4.5 ohm".to_owned(),
        14 => ".5 ohm".to_owned(),
        15 => "120 ohm".to_owned(),
        n => format!("{near:.*} ohm", if n % 10 == 0 { 2 } else { 3 }),
    }
}

/// Header lines of a unit, which differ from unit to unit, in numbers or in words.
fn header(random: &mut Random) -> String {
    let (mut lines, n) = (String::new(), random.below(4));
    for _ in 0..1 + random.below(2) {
        let line = match random.below(9) {
            0 => format!("length {}.5 m", n + 1),
            1 => format!("gauge {} AWG", 24 + 2 * n),
            2 => format!("price {n}.50 EUR"),
            3 => format!("lot R{n}"),
            4 => format!("supplier \"{} Looms\"", ["Quillon", "Marl", "Finch", "Tarn"][n]),
            5 => format!("rated {}", ["HBR3", "HBR2", "RBR", "10G"][n]),
            6 => format!("uncertainty {} %", n + 1),
            7 => format!("scope {}", ["all", "listed", "stated", "listed"][n]),
            _ => format!("source {}", ["measured", "drawing", "measured", "measured"][n]),
        };
        let _ = writeln!(lines, "{line}");
    }
    lines
}

/// A `unit` line, with what may follow on it.
fn unit_line(nth: usize, attempts: usize, random: &mut Random) -> String {
    let nth = if random.below(30) == 0 { random.below(40) } else { nth };
    // the attempts at a unit have one name
    let (name, attempt) = (nth / attempts, nth % attempts + 1);
    let mut line = if random.below(40) == 0 { format!("\nunit \"R7-{name}\"") } else { format!("\nunit R7-{name}") };
    match random.below(40) {
        0 => line.push_str(" attempt"),
        1 => line.push_str(" attempt 2 # again"),
        2 => line.push_str(" attempt 12"),
        _ if attempt == 1 && random.below(4) > 0 => {}
        _ => {
            let _ = write!(line, " attempt {attempt}");
        }
    }
    line.push('\n');
    if attempt > 1 && random.below(4) > 0 {
        let actions = Action::ALL.map(Action::word);
        let _ = writeln!(line, "action {}", actions[random.below(2 + attempt % 2).min(actions.len() - 1)]);
    }
    line
}

/// A reel; `file` are S-parameters that its units may name.
fn reel(stream: usize, file: &str) -> String {
    let mut random = Random::new(stream);
    let name = CABLES[random.below(CABLES.len())];
    let mut text = format!("cable {name}\n");
    if random.below(4) > 0 {
        text.push_str("length 2.0 m\ngauge 28 AWG\n");
    }
    text.push_str(["", "", "uncertainty 1 %\n", "uncertainty 0.005 ohm\n", "scope listed\n", "scope stated\n"][random.below(6)]);
    let kinds: Vec<Vec<Line>> = (0..3).map(|_| kind(name, file, &mut random)).collect();
    let odd = random.below(3) > 0;
    let attempts = 1 + random.below(3);
    let headed = random.below(3) == 0;
    for nth in 0..40 {
        let mut unit = unit_line(nth, attempts, &mut random);
        if headed && random.below(2) == 0 {
            unit.push_str(&header(&mut random));
        }
        let most = random.below(3) + 1;
        let kind = &kinds[random.below(most)];
        for (words, middle) in kind {
            unit.push_str(words);
            if let Some(middle) = middle {
                let figure = if odd { figure(*middle, &mut random) } else { format!("0.4{:02} ohm", 40 + random.below(20)) };
                let _ = write!(unit, " {figure}");
            }
            unit.push('\n');
        }
        if random.below(12) == 0 {
            let at = random.below(unit.len());
            match random.below(4) {
                0 => drop(unit.remove(at)),
                1 => unit.insert(at, ['7', '.', ' ', '\n', '#', 'A', '"', '\u{fffd}'][random.below(8)]),
                2 => unit.push_str("length 2.5 m\n"),
                _ => unit.truncate(at),
            }
        }
        text.push_str(&unit);
    }
    text
}

/// Any cable, any header, faults, figures that reach limits or can't be read, damaged lines, names said twice, attempts, header
/// lines that change from unit to unit, S-parameters.
#[test]
fn the_same_reports_as_the_long_way() {
    let streams = Size::asked_for().of(200, 1_000, 5_000);
    let mut verdicts = [0; 3];
    for stream in 0..streams {
        // a file that is there takes long to read
        let text = reel(stream, if stream % 40 == 0 { "tests/signal/ex_nonpassive.s4p" } else { "nothing.s4p" });
        let lot = stream % 2 == 0;
        let (short, long) = (check(&text, lot, false), check(&text, lot, true));
        for (short, long) in short.iter().zip(&long) {
            assert_eq!(short, long, "stream {stream}\n{text}");
        }
        for (count, word) in verdicts.iter_mut().zip(["  conforms", "  fails", "  inconclusive"]) {
            *count += short[0].matches(word).count();
        }
    }
    assert!(verdicts.iter().all(|count| *count > streams / 2), "{verdicts:?}");
}

/// What comes twice is found however little room there is, and nothing else.
#[test]
fn names_in_little_room() {
    let mut random = Random::new(7);
    let spread = |n: usize| (n as u64).wrapping_mul(0x9e37_79b9_7f4a_7c15).rotate_left(23);
    let hashes: Vec<u64> = (0..3_000).map(|_| spread(random.below(6_000))).collect();
    let mut known = std::collections::BTreeMap::new();
    hashes.iter().for_each(|hash| *known.entry(*hash).or_insert(0) += 1);
    let expected: Vec<u64> = known.into_iter().filter(|(_, count)| *count > 1).map(|(hash, _)| hash).collect();
    for room in [10_000, 3_000, 700, 64, 1, 0] {
        let mut search = Twice::with_room_for(room);
        loop {
            hashes.chunks(97).for_each(|some| search.take(some));
            if !search.needs_another_round() {
                break;
            }
        }
        assert_eq!(search.found().collect::<Vec<u64>>(), expected, "{room}");
    }
}

/// Lanes are graded in every unit anew: a file may change while a bench is at work, and what it says is no line of the unit.
#[test]
fn every_unit_reads_its_own_files() {
    let mut text = "cable displayport\nrated HBR3\n".to_owned();
    for nth in 0..4 {
        let _ = write!(text, "unit R7-{nth}\nA.1 B.12 0.44{nth} ohm\nA.3 B.10 0.445 ohm\n");
        text.push_str("sparameters A.1 B.12 A.3 B.10 tests/signal/pair_a_uncoupled.s4p\n");
    }
    for long_way in [false, true] {
        let mut lanes = Vec::new();
        check_text("reel", &text, &Options::default().with_long_way(long_way), |batch| {
            lanes.extend(batch.reports.iter().map(|report| report.links.iter().map(|link| link.lanes.len()).sum::<usize>()));
        });
        assert_eq!(lanes, [1; 4], "{long_way}");
    }
}

/// A reel of several parts: the digest is that of the whole file, and names are alike only where the attempts are.
#[test]
fn a_long_file_in_parts() {
    let mut text = "cable xlr3\n".to_owned();
    for nth in 0..30_000 {
        let attempt = if nth % 2 == 0 { "" } else { " attempt 2\naction repaired" };
        let _ = write!(text, "unit R7-{}{attempt}\nA.1 B.1 0.2 ohm\nA.2 B.2\nA.3 B.3\nA.shell B.shell\n", nth / 2);
    }
    text.push_str("unit R7-9 attempt 2\nA.1 B.1\nA.2 B.2\n");
    for about in [false, true] {
        let (mut parts, mut units, mut problems) = (0, 0, Vec::new());
        let options = Options::default().with_about(about);
        let outcome = check_text("reel", &text, &options, |batch| {
            parts += 1;
            units += batch.reports.iter().filter(|report| report.attempt == 2).count();
            assert_eq!(batch.digest, about.then(|| Digest::of(text.as_bytes())));
            problems.extend(batch.problems);
        });
        assert!(parts > 2, "{parts}");
        assert_eq!((outcome.units(), units, outcome.unjudged), (29_999, 14_999, 2));
        let lines: Vec<usize> = problems.iter().flat_map(|problem| &problem.labels).map(line_of).collect();
        assert_eq!((problems.len(), lines), (1, vec![165_002, 106]));
    }
}

fn line_of(label: &Label) -> usize {
    usize::try_from(label.source.position(label.span.start).line).unwrap()
}
