//! Pictures: they show what was measured and what was wanted, nothing overlaps, and what is written is well-formed.

use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write as _;

use backshell::pinmap::{cable_names, sound_netlist};
use backshell::report::picture::{Bounds, Form, Kind, Line, Mark, Picture, Scene, scene, svg, terminal};
use backshell::verify::{Options, UnitReport, check_file, check_text};
use proptest::prelude::*;

use crate::injection::{BUILDS, Build, Model, cable};

fn drawn(netlist: &str) -> (UnitReport, Picture) {
    let mut reports = Vec::new();
    let options = Options::default().with_wiring(true);
    check_text("drawn.netlist", netlist, &options, |batch| reports.extend(batch.reports));
    let report = reports.pop().unwrap_or_else(|| panic!("no verdict:\n{netlist}"));
    let picture = Picture::of(&report).unwrap();
    (report, picture)
}

/// Sound cables, and cables with every kind of fault, of the whole catalogue.
fn every_netlist(mut each: impl FnMut(&str, &str)) {
    for name in cable_names() {
        let cable = cable(name);
        each(name, &sound_netlist(&cable, false));
        each(name, &sound_netlist(&cable, true));
        for build in BUILDS {
            let sound = Model::sound(&cable, build);
            let mut faulty = |what: &str, change: &dyn Fn(&mut Model)| {
                let mut model = sound.clone();
                change(&mut model);
                each(&format!("{name}, {build:?}, {what}"), &model.netlist());
            };
            let through = sound.through();
            let first = through[0];
            let last = through[through.len() - 1];
            let ends = |wire: usize, end: usize| sound.at_end(wire, end)[0];
            faulty("sound", &|_| {});
            faulty("cut", &|model| model.cut(first));
            faulty("every wire cut", &|model| through.iter().for_each(|wire| model.cut(*wire)));
            faulty("lifted", &|model| model.lift(ends(last, 1)));
            faulty("bridged", &|model| model.bridge(ends(first, 0), ends(last, 0)));
            faulty("exchanged", &|model| model.exchange(&[(ends(first, 1), ends(last, 1))]));
            let n = sound.cable.points.len();
            faulty("everything joined", &|model| (1..n).for_each(|contact| model.bridge(0, contact)));
            faulty("joined in a row", &|model| (1..n / 2).for_each(|contact| model.bridge(contact, n - contact)));
            faulty("several", &|model| {
                model.cut(last);
                model.bridge(ends(first, 1), n - 1);
                model.exchange(&[(ends(first, 0), ends(through[through.len() / 2], 0))]);
            });
            for (plus, minus) in sound.pairs().into_iter().take(1) {
                faulty("reversed", &|model| model.exchange(&[(ends(plus, 1), ends(minus, 1))]));
                faulty("pair cut", &|model| [plus, minus].iter().for_each(|wire| model.cut(*wire)));
            }
            for rule in &cable.unconnected {
                faulty("on a forbidden contact", &|model| model.bridge(rule.point as usize, ends(first, 0)));
            }
            let at_end: Vec<usize> = (0..n).filter(|contact| sound.end(*contact) == 1).collect();
            let turned: Vec<(usize, usize)> =
                (0..at_end.len() / 2).map(|nth| (at_end[nth], at_end[at_end.len() - 1 - nth])).collect();
            faulty("turned round", &|model| model.exchange(&turned));
            let without_parts: String = sound
                .netlist()
                .lines()
                .filter(|line| !line.starts_with("resistor"))
                .fold(String::new(), |all, line| all + line + "\n");
            each(&format!("{name}, without parts"), &without_parts);
            let listed = format!("scope listed\n{}", sound.netlist().lines().take(4).collect::<Vec<_>>().join("\n"));
            each(&format!("{name}, hardly probed"), &listed);
        }
    }
}

// ------------------------------------------------------------------------------------------- the truth of it

/// Which contacts hang together along lines of a picture.
fn nets(picture: &Picture, line: impl Fn(Line) -> bool, bridges: bool) -> BTreeSet<BTreeSet<String>> {
    let contacts = picture.contacts.len();
    let side = |track: usize, left: bool| contacts + 2 * track + usize::from(!left);
    let mut joins: Vec<(usize, usize)> = Vec::new();
    for (at, track) in picture.tracks.iter().enumerate() {
        for leg in track.legs.iter().filter(|leg| line(leg.line)) {
            joins.push((leg.contact, side(at, picture.contacts[leg.contact].end == 0)));
        }
        if track.middle.is_some_and(&line) {
            joins.push((side(at, true), side(at, false)));
        }
    }
    for bridge in picture.bridges.iter().filter(|_| bridges) {
        let reached = |track: usize| {
            let leg = picture.tracks[track].legs.iter().find(|leg| leg.line == Line::Sound).unwrap();
            side(track, picture.contacts[leg.contact].end == 0)
        };
        joins.extend(bridge.tracks.windows(2).map(|pair| (reached(pair[0]), reached(pair[1]))));
    }
    let mut of: Vec<usize> = (0..contacts + 2 * picture.tracks.len()).collect();
    loop {
        let before = of.clone();
        for (a, b) in &joins {
            let low = of[*a].min(of[*b]);
            of[*a] = low;
            of[*b] = low;
        }
        if of == before {
            break;
        }
    }
    let mut sets: BTreeMap<usize, BTreeSet<String>> = BTreeMap::new();
    for (at, contact) in picture.contacts.iter().enumerate() {
        sets.entry(of[at]).or_default().insert(format!("{}.{}", picture.faces[contact.end].end, contact.pin));
    }
    sets.into_values().collect()
}

fn expected(report: &UnitReport, wanted: bool) -> BTreeSet<BTreeSet<String>> {
    let wiring = report.wiring.as_ref().unwrap();
    let nets = if wanted { &wiring.wanted } else { &wiring.measured };
    nets.members().iter().map(|net| net.iter().map(|point| wiring.points[*point as usize].clone()).collect()).collect()
}

/// The solid lines join what the netlist joins, and nothing else; sound and dotted lines together what the map joins.
#[test]
fn lines_show_the_nets() {
    let mut faulty = 0;
    every_netlist(|what, netlist| {
        let (report, picture) = drawn(netlist);
        let solid = nets(&picture, |line| line != Line::Missing, true);
        assert_eq!(solid, expected(&report, false), "{what}: the solid lines\n{netlist}");
        // a dotted stretch is drawn beside a wrong one, so that the wanted way is whole
        let mut whole = picture;
        for track in &mut whole.tracks {
            if track.middle == Some(Line::Wrong) {
                track.middle = Some(Line::Missing);
            }
        }
        let wanted = nets(&whole, |line| line != Line::Wrong, false);
        let lines = whole.tracks.iter().flat_map(|track| &track.legs).any(|leg| leg.line != Line::Sound);
        faulty += usize::from(lines);
        assert_eq!(wanted, expected(&report, true), "{what}: sound and dotted lines\n{netlist}");
    });
    assert!(faulty > 500, "{faulty} pictures with faults");
}

/// Each finding has its mark and its word at a conductor or a part.
#[test]
fn findings_are_marked() {
    let mut marks = BTreeSet::new();
    every_netlist(|what, netlist| {
        let (report, picture) = drawn(netlist);
        assert_eq!(picture.notes.len(), report.findings.len());
        let shapes = scene(&picture).shapes;
        for (at, finding) in report.findings.iter().enumerate() {
            let marked = picture.tracks.iter().map(|track| &track.notes).chain(picture.parts.iter().map(|part| &part.notes));
            let somewhere = marked.into_iter().any(|notes| notes.contains(&at));
            let free = finding.points.iter().all(|point| {
                let contact =
                    |at: &usize| format!("{}.{}", picture.faces[picture.contacts[*at].end].end, picture.contacts[*at].pin);
                (0..picture.contacts.len()).find(|at| contact(at) == *point).is_none_or(|at| picture.contacts[at].marked)
            });
            assert!(somewhere || free, "{what}: {} is marked nowhere\n{netlist}", finding.code);
            if at < 3 {
                let word = |text: &Form| matches!(text, Form::Text { text, .. } if text == finding.code.text());
                assert!(shapes.iter().any(|shape| word(&shape.form)), "{what}: no word for {}", finding.code);
            }
            marks.insert(picture.notes[at].mark);
        }
        let text = terminal(&picture, false);
        for (nth, note) in picture.notes.iter().enumerate().take(16) {
            assert!(text.contains(&format!("{}{} {}", note.mark.character(), nth + 1, note.word)), "{what}\n{text}");
        }
    });
    assert!(marks.len() >= 5, "{marks:?}");
    let characters: BTreeSet<char> = Mark::ALL.iter().map(|mark| mark.character()).collect();
    assert_eq!(characters.len(), Mark::ALL.len(), "each mark has a character of its own");
}

// ------------------------------------------------------------------------------------------- the layout

/// Nothing overlaps, nothing leaves the frame.
fn assert_in_order(what: &str, scene: &Scene) {
    let frame = Bounds { x0: 0.0, y0: 0.0, x1: scene.width, y1: scene.height };
    let name = |at: usize| match &scene.shapes[at].form {
        Form::Text { text, .. } => format!("the text `{text}`"),
        _ => format!("a {:?} ({})", scene.shapes[at].kind, scene.shapes[at].class),
    };
    for (at, shape) in scene.shapes.iter().enumerate() {
        assert!(frame.holds(&shape.bounds), "{what}: {} leaves the frame: {:?}", name(at), shape.bounds);
        if shape.kind == Kind::Inscription {
            let within = scene.shapes[..at].iter().rev().find(|other| other.kind != Kind::Inscription).unwrap();
            assert!(within.bounds.holds(&shape.bounds), "{what}: {} is larger than what it stands in", name(at));
        }
    }
    let solid: Vec<usize> =
        (0..scene.shapes.len()).filter(|at| matches!(scene.shapes[*at].kind, Kind::Text | Kind::Contact | Kind::Mark)).collect();
    for (nth, a) in solid.iter().enumerate() {
        for b in &solid[nth + 1..] {
            let (one, other) = (&scene.shapes[*a].bounds, &scene.shapes[*b].bounds);
            assert!(!one.overlaps(other), "{what}: {} lies over {}: {one:?} {other:?}", name(*a), name(*b));
        }
    }
    // a level lead passes other contacts by, and an upright bridge passes every text by
    for (at, line) in scene.shapes.iter().enumerate().filter(|(_, shape)| shape.kind == Kind::Line) {
        let (width, height) = (line.bounds.x1 - line.bounds.x0, line.bounds.y1 - line.bounds.y0);
        for other in &solid {
            let shape = &scene.shapes[*other];
            let middle = (shape.bounds.y0 + shape.bounds.y1) / 2.0;
            let own = (middle - (line.bounds.y0 + line.bounds.y1) / 2.0).abs() < 1.0;
            let crossed = match shape.kind {
                Kind::Contact => height <= 2.1 && width > 2.1 && !own && shape.bounds.overlaps(&line.bounds),
                Kind::Text => line.class == "wrong" && width <= 2.1 && shape.bounds.overlaps(&line.bounds),
                _ => false,
            };
            assert!(!crossed, "{what}: {} crosses {}", name(at), name(*other));
        }
    }
}

#[test]
fn nothing_overlaps() {
    let mut count = 0;
    every_netlist(|what, netlist| {
        let (_, picture) = drawn(netlist);
        assert_in_order(what, &scene(&picture));
        for line in terminal(&picture, false).lines() {
            assert!(line.chars().count() <= 160, "{what}: {line}");
        }
        count += 1;
    });
    assert!(count > 1500, "{count} pictures");
}

#[test]
fn nothing_overlaps_in_the_examples() {
    for path in crate::snapshots::netlists() {
        check_file(&path, &Options::default().with_wiring(true), |batch| {
            for report in &batch.reports {
                // a drawing with a pin that doesn't exist has no picture
                let Some(picture) = Picture::of(report) else {
                    assert_eq!(report.findings[0].code.text(), "drawing.no-such-pin");
                    continue;
                };
                assert_in_order(&format!("{} {:?}", path.display(), report.unit), &scene(&picture));
            }
        });
    }
}

// ------------------------------------------------------------------------------------------- the document

/// What an XML parser that is not ours reads: the texts, in their order.
fn texts(document: &str) -> Vec<String> {
    let tree = roxmltree::Document::parse(document).unwrap_or_else(|error| panic!("{error}\n{document}"));
    assert_eq!(tree.root_element().tag_name().name(), "svg");
    let texts = tree.descendants().filter(|node| node.has_tag_name(("http://www.w3.org/2000/svg", "text")));
    texts.map(|node| node.text().unwrap_or_default().to_owned()).collect()
}

fn written(scene: &Scene) -> Vec<String> {
    let text = |form: &Form| match form {
        Form::Text { text, .. } => Some(text.clone()),
        _ => None,
    };
    scene.shapes.iter().filter_map(|shape| text(&shape.form)).collect()
}

#[test]
fn documents_are_well_formed_and_the_same_each_time() {
    for name in cable_names() {
        for build in BUILDS {
            let mut model = Model::sound(&cable(name), build);
            let wire = model.through()[0];
            model.cut(wire);
            let netlist = model.netlist();
            let scene = scene(&drawn(&netlist).1);
            let document = svg(&scene);
            assert_eq!(texts(&document), written(&scene), "{name}");
            assert_eq!(
                document,
                svg(&backshell::report::picture::scene(&drawn(&netlist).1)),
                "{name}: other bytes the second time"
            );
        }
    }
}

/// Every class that a shape carries has a style, so that none falls back to black on black.
#[test]
fn every_class_has_a_style() {
    let mut classes: BTreeSet<&str> = BTreeSet::new();
    every_netlist(|_, netlist| classes.extend(scene(&drawn(netlist).1).shapes.iter().map(|shape| shape.class)));
    let document = svg(&Scene::default());
    let plain = ["label", "number", "note"]; // set like any text
    for class in classes.iter().filter(|class| !plain.contains(class)) {
        let found = [",", "{"].iter().any(|end| document.contains(&format!(".{class}{end}")));
        assert!(found, "no style for {class}");
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 200, failure_persistence: None, ..ProptestConfig::default() })]

    /// Whatever a netlist or a map calls things: the document stays well-formed and says the same words, nothing overlaps, and
    /// no character that steers a terminal, turns the writing or is forbidden in XML 1.0 gets through.
    #[test]
    fn hostile_names(names in proptest::collection::vec("(\\PC|[\\x00-\\x20\"'<>&\u{200e}\u{202e}\u{fffe}\u{ffff}\u{1b}\u{61c}]){0,40}", 4)) {
        let (_, mut picture) = drawn("cable xlr3\nA.1 B.1\nA.2 B.3\nA.3 B.2\n");
        picture.title.clone_from(&names[0]);
        picture.cable.clone_from(&names[1]);
        picture.faces[0].connector.clone_from(&names[2]);
        picture.faces[1].name.clone_from(&names[3]);
        picture.notes[0].message.clone_from(&names[0]);
        for (contact, name) in picture.contacts.iter_mut().zip(names.iter().cycle()) {
            contact.signal.clone_from(name);
            contact.pin.clone_from(name);
        }
        picture.tracks[0].signal.clone_from(&names[1]);
        let scene = scene(&picture);
        assert_in_order("hostile", &scene);
        let document = svg(&scene);
        prop_assert_eq!(texts(&document), written(&scene));
        for text in [document, terminal(&picture, false)] {
            let bad = text.chars().find(|c| {
                (c.is_control() && *c != '\n') || "\u{61c}\u{200e}\u{200f}\u{202a}\u{202e}\u{2066}\u{2069}\u{fffe}\u{ffff}".contains(*c)
            });
            prop_assert_eq!(bad, None);
        }
    }
}

// ------------------------------------------------------------------------------------------- cables of any size

/// A netlist for a made-up cable of so many contacts at each of so many ends, in a folder of its own.
fn made_up(ends: usize, contacts: usize, rows: bool, lines: &str) -> (UnitReport, Picture) {
    let folder = std::env::temp_dir().join(format!("backshell-draw-{ends}-{contacts}-{rows}-{}", std::process::id()));
    std::fs::create_dir_all(&folder).unwrap();
    let mut connector = "name = \"dome-strip\"\ntitle = \"dome strip\"\nstandard = \"none\"\n".to_owned();
    if rows {
        let half = contacts.div_ceil(2);
        let row = |from: usize, to: usize| format!("{:?}", (from..=to).map(|n| n.to_string()).collect::<Vec<_>>());
        let _ = writeln!(connector, "rows = [{}, {}]", row(1, half), row(half + 1, contacts));
    }
    connector.push_str("pins = [\n");
    for n in 1..=contacts {
        let _ = writeln!(connector, "  {{ pin = \"{n}\", name = \"loop {n}\", role = \"signal\", from-memory = true }},");
    }
    connector.push_str("]\n");
    let mut cable = "name = \"dome-harness\"\ntitle = \"dome harness\"\nstandard = \"none\"\nends = [\n".to_owned();
    let letters: Vec<char> = ('A'..='Z').take(ends).collect();
    for letter in &letters {
        let _ = writeln!(cable, "  {{ end = \"{letter}\", connector = \"dome-strip\" }},");
    }
    cable.push_str("]\nconductors = [\n");
    let mut netlist = "cable harness.toml\n".to_owned();
    for n in 1..=contacts {
        let points: Vec<String> = letters.iter().map(|letter| format!("{letter}.{n}")).collect();
        let _ = writeln!(cable, "  {{ signal = \"loop {n}\", points = {points:?}, from-memory = true }},");
        if !lines.contains(&format!("A.{n} ")) {
            let _ = writeln!(netlist, "{}", points.join(" "));
        }
    }
    cable.push_str("]\n");
    netlist.push_str(lines);
    for (name, text) in [("dome-strip.toml", &connector), ("harness.toml", &cable), ("unit.netlist", &netlist)] {
        std::fs::write(folder.join(name), text).unwrap();
    }
    let mut reports = Vec::new();
    let options = Options::default().with_wiring(true);
    check_file(&folder.join("unit.netlist"), &options, |batch| {
        assert!(batch.problems.is_empty(), "{:?}", batch.problems);
        reports.extend(batch.reports);
    });
    std::fs::remove_dir_all(&folder).unwrap();
    let report = reports.pop().unwrap();
    let picture = Picture::of(&report).unwrap();
    (report, picture)
}

#[test]
fn from_one_contact_to_a_hundred() {
    for contacts in [1, 2, 3, 19, 100] {
        for rows in [false, contacts > 1] {
            let (_, picture) = made_up(2, contacts, rows, "");
            assert_eq!((picture.contacts.len(), picture.tracks.len()), (2 * contacts, contacts));
            assert!(picture.left_out.is_none());
            assert_in_order(&format!("{contacts} contacts"), &scene(&picture));
        }
    }
}

#[test]
fn more_than_two_ends() {
    for ends in [3, 5] {
        let (report, picture) = made_up(ends, 8, true, "A.3 B.4\nopen B.3 C.3\n");
        assert!(!report.findings.is_empty());
        assert_eq!(picture.faces.len(), ends);
        assert_in_order(&format!("{ends} ends"), &scene(&picture));
        assert!(picture.tracks.iter().any(|track| track.legs.iter().any(|leg| leg.line == Line::Missing)));
    }
}

/// A harness of thousands of contacts: the picture stays small, shows what a finding names, and says what it leaves out.
#[test]
fn a_large_harness_stays_bounded() {
    let (report, picture) = made_up(2, 3000, true, "A.2718 B.2719\nopen A.2719 B.2718\n");
    assert!(picture.contacts.len() <= 300, "{} contacts", picture.contacts.len());
    for point in report.findings.iter().flat_map(|finding| &finding.points) {
        let shown = picture.contacts.iter().any(|contact| point.ends_with(&format!(".{}", contact.pin)) && contact.marked);
        assert!(shown, "{point} is in a finding, but not in the picture");
    }
    let left_out = picture.left_out.clone().unwrap();
    assert!(left_out.contains("of 6000 contacts") && left_out.contains("of 3000 conductors"), "{left_out}");
    let scene = scene(&picture);
    assert_in_order("3000 contacts", &scene);
    let document = svg(&scene);
    assert!(document.len() < 500_000, "{} bytes", document.len());
    assert!(texts(&document).iter().any(|text| text.contains("Left out")));
    let text = terminal(&picture, false);
    assert!(text.lines().count() < 200 && text.contains("Left out") && text.contains("A.2718"), "{text}");
}

// ------------------------------------------------------------------------------------------- as people see it

#[test]
fn pictures() {
    for (name, file, unit) in [
        ("reel7-reversed", "netlists/reel7.netlist", Some("R7-0002")),
        ("short", "netlists/faults/short.netlist", None),
        ("two-faults", "netlists/faults/two-faults.netlist", None),
        ("pair-split", "netlists/faults/pair.split.netlist", None),
        ("part-missing", "netlists/faults/component.missing.netlist", None),
    ] {
        let mut pictures = Vec::new();
        check_file(std::path::Path::new(file), &Options::default().with_wiring(true), |batch| {
            pictures.extend(batch.reports.iter().filter(|report| report.unit.as_deref() == unit).filter_map(Picture::of));
        });
        let picture = &pictures[0];
        insta::assert_snapshot!(format!("terminal__{name}"), terminal(picture, false));
        if matches!(name, "reel7-reversed" | "part-missing") {
            insta::assert_snapshot!(format!("svg__{name}"), svg(&scene(picture)));
        }
    }
    let mut sound = Vec::new();
    let netlist = sound_netlist(&cable("hdmi"), true);
    check_text("hdmi", &netlist, &Options::default().with_wiring(true), |batch| {
        sound.extend(batch.reports.iter().filter_map(Picture::of_map));
    });
    insta::assert_snapshot!("terminal__map-hdmi", terminal(&sound[0], false));
}

#[test]
fn colour_is_only_added() {
    let (_, picture) = drawn(
        &Model::sound(&cable("xlr3"), Build::Plain).netlist().replace("A.1 B.1", "A.1\nB.1").replace("A.1\n", "open A.1\nopen "),
    );
    let coloured = terminal(&picture, true);
    assert!(coloured.contains("\u{1b}["));
    let mut plain = String::new();
    let mut rest = coloured.as_str();
    while let Some(at) = rest.find('\u{1b}') {
        plain.push_str(&rest[..at]);
        rest = &rest[at + rest[at..].find('m').unwrap() + 1..];
    }
    plain.push_str(rest);
    assert_eq!(plain, terminal(&picture, false));
}
