//! Long lists of a cable file are read row by row: the cable, its places and every error are those of the TOML reader.

use std::fmt::Write as _;

use backshell::pinmap::{Cable, Catalogue};
use backshell::text::Source;

use crate::campaign::{Random, Size};

/// A cable file with its own connector, so long that its rows are read here.
fn file(random: &mut Random) -> String {
    let contacts = 900 + random.below(400);
    let mut map = String::from(
        "name = \"trunk\"\ntitle = \"dome \\\"trunk\\\"\"\nstandard = \"drawing DR-30\"\n\
         ends = [{ end = \"A\", connector = \"field\" }, { end = \"B\", connector = \"field\" }]\n\
         common = [{ name = \"0V\", pairing = \"own\", why = \"one rail\", from-memory = true }]\nconductors = [\n",
    );
    let mut pins = String::new();
    for n in 1..=contacts {
        let (common, more) = match random.below(6) {
            0 => (", common = \"0V\"", ""),
            1 => ("", ", optional = true"),
            2 => ("", ", when = \"screened\",   optional = false"),
            _ => ("", ""),
        };
        let provenance =
            ["from-memory = true", "checked = [\"DR\"]", "checked = [ \"DR\", ], from-memory = false"][random.below(3)];
        let _ = writeln!(map, "  {{ signal = \"Sµ{n}\", points = [\"A.{n}\", \"B.{n}\"]{common}{more}, {provenance} }},");
        let (role, pair) = match n % 7 {
            3 => ("pair+", format!(", pair = \"P{}\"", n / 7)),
            4 if n > 4 || contacts > 3 => ("pair-", format!(", pair = \"P{}\"", n / 7)),
            5 => ("drain", String::new()),
            _ => ("signal", String::new()),
        };
        let drains = if role == "drain" { ", drains = [\"P0\"]" } else { "" };
        // the last pair may lack its other conductor
        let (role, pair) = if n == contacts && role == "pair+" { ("signal", String::new()) } else { (role, pair) };
        let _ = writeln!(pins, "{{pin=\"{n}\",name = \"Sµ{n}\", role = \"{role}\"{pair}{drains}, {provenance}}},");
    }
    let connector = "[[connector]]\nname = \"field\"\ntitle = \"patch field\"\nstandard = \"drawing DR-30\"\npins = [\n";
    format!("{map}]\nnotes = [\"one\", 'two']\n\n{connector}{pins}]\n\n[sources]\nDR = \"drawing and order\"\n")
}

/// What is read of a file: everything with its places, or every error.
fn read(text: &str) -> String {
    let source = Source::new("trunk.toml", text);
    let mut catalogue = Catalogue::new();
    match Cable::read(&source, &mut |name| catalogue.connector(name, None)) {
        Ok(cable) => {
            let connectors: Vec<String> = cable
                .ends
                .iter()
                .map(|end| {
                    let of = &end.connector;
                    let found: Vec<Option<usize>> = of.pins.iter().map(|pin| of.find(&pin.pin)).collect();
                    format!("{:?} {:?} {:?} {:?} {:?} {found:?}", of.name, of.name_at, of.pins, of.rows, of.sources)
                })
                .collect();
            let Cable { name, name_at, title, points, links, groups, unconnected, parts, limits, notes, sources, .. } = &cable;
            format!(
                "{name} {name_at:?} {title} {points:?} {links:?} {groups:?} {unconnected:?} {parts:?} {limits:?} {notes:?} {sources:?} \
                 {connectors:?} {:?} {:?}",
                cable.paired, cable.wires
            )
        }
        Err(problems) => {
            let labels = |problem: &backshell::finding::Problem| -> Vec<String> {
                problem.labels.iter().map(|label| format!("{:?} {}", label.span, label.text)).collect()
            };
            let problems: Vec<String> =
                problems.iter().map(|problem| format!("{} {:?} {:?}", problem.message, labels(problem), problem.help)).collect();
            format!("errors {problems:?}")
        }
    }
}

/// The same by the TOML reader alone, which three quotation marks call for.
fn read_the_long_way(text: &str) -> String {
    read(&format!("{text}# \"\"\"\n"))
}

#[test]
fn the_same_cable_and_the_same_errors() {
    let mut random = Random::new(30);
    let (mut sound, mut broken) = (0, 0);
    for nth in 0..Size::asked_for().of(30, 200, 1_000) {
        let mut text = file(&mut random);
        for _ in 0..if nth % 3 == 0 { 0 } else { 1 + random.below(2) } {
            // somewhere in a row
            let mut at = random.below(text.len());
            while !text.is_char_boundary(at) {
                at -= 1;
            }
            match random.below(10) {
                0 => text.insert(at, ['"', '\\', '{', ']', '\n', '#', '\'', '\u{7f}', ' ', ','][random.below(10)]),
                1 => drop(text.remove(at)),
                2 => {
                    let end = text[at..].find('\n').map_or(text.len(), |end| at + end + 1);
                    text.replace_range(at..end, "");
                }
                3 => {
                    let line = text[..at].rfind('\n').map_or(0, |end| end + 1);
                    let end = text[at..].find('\n').map_or(text.len(), |end| at + end + 1);
                    let row = text[line..end].to_owned();
                    text.insert_str(line, &row);
                }
                what => {
                    let (word, other) = [
                        ("from-memory", "from_memory"),
                        ("signal = ", "signals = "),
                        ("role = \"signal\"", "role = \"Signal\""),
                        ("\"B.", "\"C."),
                        ("optional = true", "optional = \"true\""),
                        ("}},", "} },"),
                    ][what - 4];
                    if let Some(found) = text[at..].find(word) {
                        text.replace_range(at + found..at + found + word.len(), other);
                    }
                }
            }
        }
        let (here, there) = (read(&text), read_the_long_way(&text));
        if here.starts_with("errors") {
            broken += 1;
        } else {
            sound += 1;
        }
        assert!(here == there, "file {nth}\n{:.2000}\n{:.2000}", here, there);
    }
    assert!(sound > 8 && broken > 8, "{sound} {broken}");
}
