//! The catalogue: every map complete and consistent, and errors in a map shown at their places.

use std::path::Path;

use backshell::finding::Problem;
use backshell::pinmap::{Cable, Catalogue, Connector, Role, cable_names, connector_names, sound_netlist};
use backshell::text::Source;

use crate::injection::{assert_conforms, cable};

#[test]
fn every_connector_reads() {
    let mut catalogue = Catalogue::new();
    for name in connector_names() {
        let connector = catalogue.connector(name, None).unwrap_or_else(|problems| panic!("{name}: {problems:?}"));
        assert_eq!(connector.name, name, "the file's name and the connector's");
        for pin in &connector.pins {
            assert!(pin.provenance.from_memory || !pin.provenance.checked.is_empty(), "{name} {}: no provenance", pin.pin);
        }
    }
}

#[test]
fn every_cable_is_complete() {
    for name in cable_names() {
        let cable = cable(name);
        assert_eq!(cable.name, name, "the file's name and the cable's");
        assert!(!cable.notes.is_empty(), "{name}: no known miswiring");
        let rows = cable.links.iter().map(|link| &link.provenance).chain(cable.unconnected.iter().map(|rule| &rule.provenance));
        for provenance in rows {
            assert!(provenance.from_memory || !provenance.checked.is_empty(), "{name}: a row without provenance");
        }
        assert_conforms(&sound_netlist(&cable, false));
        assert_conforms(&sound_netlist(&cable, true));
    }
}

/// The two conductors of a pair land on the two contacts of a pair; plus meets plus, but for the two cables whose
/// published wiring turns every pair.
#[test]
fn pairs_stay_pairs() {
    for name in cable_names() {
        let cable = cable(name);
        let turned = ["ethernet-rollover", "telephone-6p6c-reversed"].contains(&name);
        for link in &cable.links {
            let [a, b] = link.points[..] else { continue };
            if cable.points[a as usize].end == cable.points[b as usize].end {
                continue;
            }
            let (one, other) = (cable.role(a), cable.role(b));
            assert_eq!(one.is_pair(), other.is_pair(), "{name}: {} {}", cable.text(a), cable.text(b));
            if one.is_pair() {
                assert_eq!(one == other, !turned, "{name}: polarity of {} {}", cable.text(a), cable.text(b));
                let far_partner = |point: u32| {
                    let partner = cable.pair_partner(point).unwrap();
                    let link = cable.links.iter().find(|link| link.points.contains(&partner)).unwrap();
                    *link
                        .points
                        .iter()
                        .find(|other| cable.points[**other as usize].end != cable.points[partner as usize].end)
                        .unwrap()
                };
                assert_eq!(cable.pair_partner(b), Some(far_partner(a)), "{name}: the pair of {}", cable.text(a));
            }
        }
    }
}

/// A cable wired from A to B and read from B to A is the same: crossings invert.
#[test]
fn like_ends_invert() {
    let turned = |name: &str| -> bool {
        let cable = cable(name);
        let turn = |point: u32| {
            let place = &cable.points[point as usize];
            let other = cable.points.iter().position(|p| p.end == 1 - place.end && p.pin == place.pin).unwrap();
            u32::try_from(other).unwrap()
        };
        cable.links.iter().filter(|link| !link.optional).all(|link| {
            let mut points: Vec<u32> = link.points.iter().map(|point| turn(*point)).collect();
            points.sort_unstable();
            cable.links.iter().any(|other| other.points == points)
        })
    };
    let symmetrical = cable_names().filter(|name| {
        let cable = cable(name);
        cable.ends.len() == 2 && cable.ends[0].connector.name == cable.ends[1].connector.name
    });
    let mut count = 0;
    for name in symmetrical {
        assert!(turned(name), "{name}");
        count += 1;
    }
    assert!(count > 15, "{count}");
}

#[test]
fn supplies_are_known() {
    // the display cable is the one that everyone gets wrong: its supply contact has no wire
    let cable = cable("displayport");
    let supply = cable.point("A.20").unwrap();
    assert_eq!(cable.role(supply), Role::Supply);
    assert!(cable.unconnected(supply).is_some());
    assert!(cable.links.iter().all(|link| !link.points.contains(&supply)));
}

fn connector_problems(text: &str) -> Vec<Problem> {
    Connector::read(&Source::new("own.toml", text)).err().unwrap_or_default()
}

#[test]
fn errors_in_a_connector_are_shown_at_their_places() {
    let text = "name = \"x\"\ntitle = \"x\"\nstandard = \"own\"\npins = [\n  { pin = \"1\", name = \"a\", role = \"pair+\", pair = \"P\", checked = [\"Z\"] },\n  { pin = \"1\", name = \"b\", role = \"signal\", pair = \"P\" },\n]\n";
    let problems = connector_problems(text);
    let messages: Vec<&str> = problems.iter().map(|problem| problem.message.as_str()).collect();
    assert!(messages.contains(&"contact 1 twice"), "{messages:?}");
    assert!(messages.contains(&"source Z isn't described under [sources]"), "{messages:?}");
    assert!(messages.contains(&"a pair's contact needs `pair` and the role `pair+` or `pair-`"), "{messages:?}");
    for problem in &problems {
        let label = &problem.labels[0];
        assert!(!label.source.slice(label.span).is_empty(), "{}", problem.message);
    }
    let unknown = connector_problems("name = \"x\"\ntitle = \"x\"\nstandard = \"own\"\npins = []\ncolour = \"red\"\n");
    assert_eq!(unknown.len(), 1);
    let label = &unknown[0].labels[0];
    assert_eq!((label.source.slice(label.span), label.text.as_str()), ("colour", "no such key"));
    assert!(unknown[0].help.as_ref().is_some_and(|help| help.contains("standard")), "the keys that it may have");
}

#[test]
fn errors_in_a_cable_are_shown_at_their_places() {
    let text = "name = \"x\"\ntitle = \"x\"\nstandard = \"own\"\nends = [\n  { end = \"A\", connector = \"xlr-3\" },\n  { end = \"B\", connector = \"xlr-3\" },\n]\nconductors = [\n  { signal = \"hot\", points = [\"A.2\", \"B.9\"] },\n  { signal = \"cold\", points = [\"A.3\"] },\n]\n";
    let mut catalogue = Catalogue::new();
    let source = Source::new("own.toml", text);
    let problems = Cable::read(&source, &mut |name| catalogue.connector(name, None)).err().unwrap();
    let messages: Vec<&str> = problems.iter().map(|problem| problem.message.as_str()).collect();
    assert!(messages.contains(&"no such contact: B.9"), "{messages:?}");
    assert!(messages.contains(&"a conductor joins two points or more, each once"), "{messages:?}");
    assert!(messages.iter().any(|message| message.starts_with("not said what becomes of A.1, A.2")), "{messages:?}");
    assert_eq!(source.slice(problems[0].labels[0].span), "\"B.9\"");
}

#[test]
fn an_unknown_cable_lists_the_near_ones() {
    let problems = Catalogue::new().cable("ethernet", Path::new("")).err().unwrap();
    let help = problems[0].help.clone().unwrap();
    assert!(help.contains("`ethernet-t568b`"), "{help}");
    let problems = Catalogue::new().cable("display-port", Path::new("")).err().unwrap();
    assert!(problems[0].help.clone().unwrap().contains("`displayport`"));
}

#[test]
fn links_of_a_cable_lie_on_pairs_that_end_on_pairs() {
    let mut catalogue = Catalogue::new();
    let mut links = 0;
    for name in cable_names() {
        let cable = catalogue.cable(name, Path::new("")).unwrap();
        for link in &cable.link_rates {
            links += 1;
            assert!(!link.lanes.is_empty() && (50.0..=150.0).contains(&link.ohm), "{name}");
            for lane in &link.lanes {
                let far = lane.far.map(|point| cable.function(point).pair.clone().expect("a pair"));
                assert_eq!(far[0], far[1], "{name} {}", lane.name);
                let roles = lane.far.map(|point| cable.role(point));
                assert!(roles.iter().all(|role| role.is_pair()) && roles[0] != roles[1], "{name} {}", lane.name);
                assert_eq!(cable.points[lane.far[0] as usize].end, cable.points[lane.far[1] as usize].end, "{name}");
            }
        }
    }
    assert!(links > 25, "{links}");
}
