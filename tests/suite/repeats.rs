//! Units that are like one before: their reports are, byte by byte, those of the long way, whatever their figures and lines say.

use std::fmt::Write as _;

use backshell::report::{JsonReport, Terminal, Writer};
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

fn check(text: &str, long_way: bool) -> (String, String) {
    let options = Options { long_way, maps: vec!["netlists/cables".into()], ..Options::default() };
    let (mut people, mut programs) = (Vec::new(), Vec::new());
    {
        let mut one = Terminal::new(&mut people, false);
        let mut other = JsonReport::new(&mut programs).unwrap();
        let outcome = check_text("reel", text, &options, |batch| {
            one.batch("reel", &batch).unwrap();
            other.batch("reel", &batch).unwrap();
        });
        one.finish(&outcome).unwrap();
        other.finish(&outcome).unwrap();
    }
    (String::from_utf8(people).unwrap(), String::from_utf8(programs).unwrap())
}

/// A line of a unit: its words, and the middle of its figure in ohm, where it has one.
type Line = (String, Option<f64>);

/// The lines of a cable that may be sound or have a fault.
fn kind(name: &str, random: &mut Random) -> Vec<Line> {
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

fn reel(stream: usize) -> String {
    let mut random = Random::new(stream);
    let name = CABLES[random.below(CABLES.len())];
    let mut text = format!("cable {name}\n");
    if random.below(4) > 0 {
        text.push_str("length 2.0 m\ngauge 28 AWG\n");
    }
    text.push_str(["", "", "uncertainty 1 %\n", "uncertainty 0.005 ohm\n", "scope listed\n", "scope stated\n"][random.below(6)]);
    let kinds: Vec<Vec<Line>> = (0..3).map(|_| kind(name, &mut random)).collect();
    let odd = random.below(3) > 0;
    for nth in 0..40 {
        let mut unit = format!("\nunit R7-{nth}\n");
        if random.below(30) == 0 {
            unit = format!("\nunit R7-{}\n", random.below(40));
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

/// Any cable, any header, faults, figures that reach limits or can't be read, damaged lines, names said twice.
#[test]
fn the_same_reports_as_the_long_way() {
    let streams = Size::asked_for().of(200, 1_000, 5_000);
    let mut verdicts = [0; 3];
    for stream in 0..streams {
        let text = reel(stream);
        let (short, long) = (check(&text, false), check(&text, true));
        assert_eq!(short.0, long.0, "stream {stream}\n{text}");
        assert_eq!(short.1, long.1, "stream {stream}\n{text}");
        for (count, word) in verdicts.iter_mut().zip(["  conforms", "  fails", "  inconclusive"]) {
            *count += short.0.matches(word).count();
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
