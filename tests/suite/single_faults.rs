//! Every single fault of every catalogue cable: found, with its right code and points, as the only failing finding.
//!
//! A fault that leaves the nets of the sound cable unchanged can't be seen by continuity; there the verdict must be that
//! of the sound cable. That happens where contacts are tied in both plugs, and where a group may be commoned.

use std::collections::BTreeSet;

use backshell::finding::{Severity, Verdict};
use backshell::pinmap::{Role, cable_names};

use crate::injection::{BUILDS, Build, Model, assert_conforms, cable, check, codes, points};

/// How many faults were looked at, and how many of them can't be seen.
#[derive(Default, Debug)]
struct Tally {
    seen: usize,
    unseen: usize,
}

/// The fault is found with this code and these points, or can't be seen at all.
fn expect(sound: &Model, faulty: &Model, code: &str, wanted: &BTreeSet<String>, hazard: Option<bool>, tally: &mut Tally) {
    let netlist = faulty.netlist();
    if faulty.nets() == sound.nets() {
        tally.unseen += 1;
        assert_conforms(&netlist);
        return;
    }
    tally.seen += 1;
    let report = check(&netlist);
    let failing: Vec<_> = report.findings.iter().filter(|finding| finding.severity == Severity::Fail).collect();
    let messages: Vec<&str> = report.findings.iter().map(|finding| finding.message.as_str()).collect();
    assert_eq!(report.verdict, Verdict::Fails, "{code} expected\n{netlist}");
    assert_eq!(failing.len(), 1, "{code} expected\n{netlist}{messages:?}");
    assert_eq!(failing[0].code.text(), code, "{netlist}{messages:?}");
    assert_eq!(&points(failing[0]), wanted, "{code}\n{netlist}{messages:?}");
    if let Some(hazard) = hazard {
        assert_eq!(failing[0].hazard, hazard, "hazard of {code}\n{netlist}{messages:?}");
    }
    for label in &failing[0].labels {
        assert!(label.span.end() as usize <= label.source.text().len(), "a label outside of its source");
    }
    assert!(!failing[0].labels.is_empty(), "{code} without a place\n{netlist}");
}

fn every_cable(mut run: impl FnMut(&Model, Build, &mut Tally)) -> Tally {
    let mut tally = Tally::default();
    for name in cable_names() {
        let cable = cable(name);
        for build in BUILDS {
            if build == Build::Commoned && cable.groups.is_empty() {
                continue;
            }
            run(&Model::sound(&cable, build), build, &mut tally);
        }
    }
    println!("{tally:?}");
    tally
}

/// The code for a wire that is not there.
fn open_code(model: &Model, contacts: &[usize]) -> &'static str {
    if contacts.iter().all(|contact| model.role(*contact) == Role::Shell) {
        "shield.open"
    } else if contacts.iter().all(|contact| matches!(model.role(*contact), Role::Shell | Role::Drain)) {
        "shield.drain-open"
    } else {
        "open"
    }
}

#[test]
fn the_sound_cable_conforms() {
    every_cable(|model, _, _| assert_conforms(&model.netlist()));
}

/// Every wire that is cut. An optional conductor that is cut is a sound cable without it.
#[test]
fn open() {
    let tally = every_cable(|model, build, tally| {
        for wire in model.through() {
            let link = &model.cable.links[model.wires[wire].link.unwrap()];
            let mut faulty = model.clone();
            faulty.cut(wire);
            if link.optional || link.when_screened {
                if build != Build::Commoned {
                    assert_conforms(&faulty.netlist());
                }
                continue;
            }
            let whole = model.net(model.wires[wire].contacts[0]);
            // commoned, or tied elsewhere: what falls off is what no longer reaches the rest
            let pieces: Vec<BTreeSet<usize>> = faulty.nets().into_iter().filter(|net| net.is_subset(&whole)).collect();
            let largest = pieces.iter().map(BTreeSet::len).max().unwrap();
            let unique = largest > 1 && pieces.iter().filter(|piece| piece.len() == largest).count() == 1;
            let fallen: Vec<usize> = pieces.iter().filter(|piece| !unique || piece.len() < largest).flatten().copied().collect();
            let code = open_code(model, &fallen);
            expect(model, &faulty, code, &model.texts(fallen.clone()), None, tally);
        }
    });
    assert!(tally.seen > 300, "{tally:?}");
}

/// Every contact that is lifted: nothing reaches it any more.
#[test]
fn lifted_contact() {
    let tally = every_cable(|model, _, tally| {
        for contact in 0..model.cable.points.len() {
            let whole = model.net(contact);
            let optional = model
                .wires
                .iter()
                .filter(|wire| wire.contacts.contains(&contact))
                .all(|wire| wire.link.is_none_or(|at| model.cable.links[at].optional || model.cable.links[at].when_screened));
            if whole.len() < 2 || optional {
                continue;
            }
            let mut faulty = model.clone();
            faulty.lift(contact);
            let fallen: Vec<usize> = if whole.len() == 2 { whole.iter().copied().collect() } else { vec![contact] };
            // with the contact of a tie gone, what hung on it alone falls off too
            if faulty.nets().iter().filter(|net| net.is_subset(&whole)).count() > 2 {
                continue;
            }
            expect(model, &faulty, open_code(model, &fallen), &model.texts(fallen.clone()), None, tally);
        }
    });
    assert!(tally.seen > 300, "{tally:?}");
}

/// Both conductors of a pair cut.
#[test]
fn pair_open() {
    let tally = every_cable(|model, _, tally| {
        for (plus, minus) in model.pairs() {
            let optional = model.cable.links[model.wires[plus].link.unwrap()].optional;
            let mut faulty = model.clone();
            faulty.cut(plus);
            faulty.cut(minus);
            let contacts = [plus, minus].iter().flat_map(|wire| model.wires[*wire].contacts.clone()).collect::<Vec<_>>();
            if optional {
                assert_conforms(&faulty.netlist());
            } else {
                expect(model, &faulty, "pair.open", &model.texts(contacts), Some(false), tally);
            }
        }
    });
    assert!(tally.seen > 80, "{tally:?}");
}

/// Every two conductors joined.
#[test]
fn short() {
    let tally = every_cable(|model, _, tally| {
        let through = model.through();
        for (nth, one) in through.iter().enumerate() {
            for other in &through[nth + 1..] {
                let (a, b) = (model.wires[*one].contacts[0], model.wires[*other].contacts[0]);
                if model.net(a).contains(&b) {
                    continue; // one net already
                }
                let mut faulty = model.clone();
                faulty.bridge(a, b);
                let group = |wire: &usize| model.cable.links[model.wires[*wire].link.unwrap()].group;
                if group(one).is_some() && group(one) == group(other) {
                    assert_conforms(&faulty.netlist());
                    tally.unseen += 1;
                    continue;
                }
                let (x, y) = (model.net(a), model.net(b));
                let touches =
                    |net: &BTreeSet<usize>, test: fn(Role) -> bool| net.iter().any(|contact| test(model.role(*contact)));
                let all = |net: &BTreeSet<usize>, test: fn(Role) -> bool| net.iter().all(|contact| test(model.role(*contact)));
                let supply = |role| role == Role::Supply;
                let earth = touches(&x, |role| role == Role::Earth) || touches(&y, |role| role == Role::Earth);
                let (code, hazard) = if touches(&x, supply) && touches(&y, supply) {
                    continue; // two supplies: see below
                } else if touches(&x, supply) || touches(&y, supply) {
                    ("power.short", true)
                } else if (touches(&x, Role::is_signal) && all(&y, Role::is_shield))
                    || (touches(&y, Role::is_signal) && all(&x, Role::is_shield))
                {
                    ("shield.to-signal", false)
                } else {
                    ("short", earth)
                };
                let contacts: BTreeSet<usize> = x.union(&y).copied().collect();
                expect(model, &faulty, code, &model.texts(contacts), Some(hazard), tally);
            }
        }
    });
    assert!(tally.seen > 2_000, "{tally:?}");
}

/// Every two conductors exchanged at one end, and the other; a pair reversed.
#[test]
fn exchanged() {
    let tally = every_cable(|model, _, tally| {
        let through = model.through();
        for end in 0..model.cable.ends.len() {
            for (nth, one) in through.iter().enumerate() {
                for other in &through[nth + 1..] {
                    let (Some(a), Some(b)) =
                        (model.at_end(*one, end).first().copied(), model.at_end(*other, end).first().copied())
                    else {
                        continue;
                    };
                    if model.net(a).contains(&b) {
                        continue; // contacts of one net: nothing changes
                    }
                    let mut faulty = model.clone();
                    faulty.exchange(&[(a, b)]);
                    let partner = model.cable.pair_partner(u32::try_from(a).unwrap()) == u32::try_from(b).ok();
                    let code = if partner { "pair.reversed" } else { "swapped" };
                    let touched = [a, b].into_iter().flat_map(|contact| {
                        let net = model.net(contact);
                        if net.len() == 2 { net } else { BTreeSet::from([contact]) }
                    });
                    let touched = model.texts(touched);
                    let free = |contact: usize| {
                        let role = model.role(contact);
                        let any = model.cable.links.iter().any(|link| {
                            link.points.contains(&u32::try_from(contact).unwrap())
                                && link.group.is_some_and(|at| model.cable.groups[at].pairing == backshell::pinmap::Pairing::Any)
                        });
                        any && role != Role::Shell
                    };
                    if free(a) && free(b) {
                        // grounds whose partner no standard fixes: the same cable
                        assert_conforms(&faulty.netlist());
                        tally.unseen += 1;
                        continue;
                    }
                    expect(model, &faulty, code, &touched, None, tally);
                }
            }
        }
    });
    assert!(tally.seen > 4_000, "{tally:?}");
}

/// A wire on the contact of another that takes several tied contacts, and the other way round: all of them moved.
#[test]
fn tied_contacts_exchanged() {
    let tally = every_cable(|model, build, tally| {
        if build == Build::Commoned {
            return;
        }
        let end = model.cable.ends.len() - 1;
        for group in model.through() {
            let tied = model.at_end(group, end);
            if tied.len() < 2 || model.net(tied[0]).len() != model.wires[group].contacts.len() {
                continue;
            }
            for single in model.through() {
                let one = model.at_end(single, end);
                if one.len() != 1 || model.net(one[0]).len() != 2 {
                    continue;
                }
                let mut faulty = model.clone();
                for (wire, contacts) in [(group, &one), (single, &tied)] {
                    faulty.wires[wire].contacts.retain(|contact| model.end(*contact) != end);
                    faulty.wires[wire].contacts.extend(contacts.iter().copied());
                }
                let far = model.wires[single].contacts.iter().copied();
                let touched = model.texts(far.chain(tied.iter().copied()));
                expect(model, &faulty, "swapped", &touched, None, tally);
            }
        }
    });
    assert!(tally.seen > 10, "{tally:?}");
}

/// Every two pairs exchanged at one end.
#[test]
fn pairs_transposed() {
    let tally = every_cable(|model, _, tally| {
        let pairs = model.pairs();
        for end in 0..model.cable.ends.len() {
            for (nth, one) in pairs.iter().enumerate() {
                for other in &pairs[nth + 1..] {
                    let at = |wire: usize| model.at_end(wire, end)[0];
                    let mut faulty = model.clone();
                    faulty.exchange(&[(at(one.0), at(other.0)), (at(one.1), at(other.1))]);
                    let contacts =
                        [one.0, one.1, other.0, other.1].into_iter().flat_map(|wire| model.wires[wire].contacts.clone());
                    expect(model, &faulty, "pair.transposed", &model.texts(contacts), None, tally);
                }
            }
        }
    });
    assert!(tally.seen > 100, "{tally:?}");
}

/// Every contact that must be left alone, wired through to its like, and joined to every conductor.
#[test]
fn forbidden_contacts() {
    let tally = every_cable(|model, build, tally| {
        if build != Build::Plain {
            return;
        }
        let alone: Vec<usize> = model.cable.unconnected.iter().map(|rule| rule.point as usize).collect();
        for (nth, a) in alone.iter().enumerate() {
            for b in &alone[nth + 1..] {
                let mut faulty = model.clone();
                faulty.bridge(*a, *b);
                let supplies = [a, b].iter().filter(|contact| model.role(***contact) == Role::Supply).count();
                let code = match supplies {
                    2 if model.end(*a) != model.end(*b) => "power.end-to-end",
                    2 => continue, // two supply contacts of one plug: see the verdicts
                    1 if [a, b].iter().any(|contact| !matches!(model.role(**contact), Role::Supply | Role::Unused)) => {
                        "power.short"
                    }
                    _ => "unexpected",
                };
                expect(model, &faulty, code, &model.texts([*a, *b]), None, tally);
            }
            for wire in model.through() {
                let contact = model.wires[wire].contacts[0];
                let net = model.net(contact);
                let mut faulty = model.clone();
                faulty.bridge(*a, contact);
                let supply_alone = model.role(*a) == Role::Supply;
                let supply_net = net.iter().any(|contact| model.role(*contact) == Role::Supply);
                let code = match (supply_alone, supply_net) {
                    (true, true) => continue, // two supplies: see the verdicts
                    (true, false) => "power.short",
                    (false, true) if model.role(*a) != Role::Unused => "power.short",
                    _ => "unexpected",
                };
                let mut contacts = net.clone();
                contacts.insert(*a);
                let hazard = supply_alone || supply_net;
                expect(model, &faulty, code, &model.texts(contacts), if hazard { Some(true) } else { None }, tally);
            }
        }
    });
    assert!(tally.seen > 1_000, "{tally:?}");
}

/// A conductor that sits on a contact that must be left alone.
#[test]
fn on_a_forbidden_contact() {
    let tally = every_cable(|model, build, tally| {
        if build != Build::Plain {
            return;
        }
        for rule in &model.cable.unconnected {
            let alone = rule.point as usize;
            for wire in model.through() {
                let Some(contact) = model.at_end(wire, model.end(alone)).first().copied() else { continue };
                let net = model.net(contact);
                if net.len() != 2 {
                    continue; // one contact of several in a plug: the rest of them still hold the conductor
                }
                let mut faulty = model.clone();
                faulty.exchange(&[(contact, alone)]);
                let mut contacts = net.clone();
                contacts.insert(alone);
                expect(model, &faulty, "miswired", &model.texts(contacts), None, tally);
            }
        }
    });
    assert!(tally.seen > 300, "{tally:?}");
}

/// Three conductors in a circle.
#[test]
fn three_in_a_circle() {
    let tally = every_cable(|model, build, tally| {
        if build != Build::Plain {
            return;
        }
        let through: Vec<usize> =
            model.through().into_iter().filter(|wire| model.net(model.wires[*wire].contacts[0]).len() == 2).collect();
        let last = model.cable.ends.len() - 1;
        for three in through.windows(3) {
            let at: Vec<usize> = three.iter().map(|wire| model.at_end(*wire, last)[0]).collect();
            let free = at.iter().any(|contact| {
                model
                    .cable
                    .links
                    .iter()
                    .any(|link| link.group.is_some() && link.points.contains(&u32::try_from(*contact).unwrap()))
            });
            if free {
                continue;
            }
            let mut faulty = model.clone();
            faulty.exchange(&[(at[0], at[1])]);
            faulty.exchange(&[(at[1], at[2])]);
            let contacts = three.iter().flat_map(|wire| model.wires[*wire].contacts.clone());
            expect(model, &faulty, "miswired", &model.texts(contacts), None, tally);
        }
    });
    assert!(tally.seen > 80, "{tally:?}");
}

/// A pair twisted with another pair's conductors, from `pair` lines; and the right pairs said line by line.
#[test]
fn pairs_split() {
    let mut seen = 0;
    every_cable(|model, build, _| {
        if build != Build::Plain {
            return;
        }
        let pairs = model.pairs();
        let at = |wire: usize| model.text(model.at_end(wire, 0)[0]);
        let line = |a: usize, b: usize| format!("pair {} {}\n", at(a), at(b));
        let right: String = pairs.iter().map(|(plus, minus)| line(*plus, *minus)).collect();
        assert_conforms(&(model.netlist() + &right));
        for (nth, one) in pairs.iter().enumerate() {
            for other in &pairs[nth + 1..] {
                let netlist = model.netlist() + &line(one.0, other.0) + &line(other.1, one.1);
                let report = check(&netlist);
                assert_eq!(codes(&report.findings), ["pair.split"], "{netlist}");
                let touched = [one.0, one.1, other.0, other.1].map(|wire| model.at_end(wire, 0)[0]);
                assert_eq!(points(&report.findings[0]), model.texts(touched), "{netlist}");
                seen += 1;
            }
        }
    });
    assert!(seen > 50, "{seen}");
}
