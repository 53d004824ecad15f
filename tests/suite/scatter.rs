//! Sound cables as they come from the reel, with the scatter of real wire, contacts and meters: none fails, and none is
//! inconclusive unless the stated uncertainty reaches a limit.
//!
//! By default a sample of each cable; with `BACKSHELL_CAMPAIGN` (`middle` or `full`) a thousand of each. A cable is drawn so:
//! - wire of a stated size, solid or of seven strands, plain or tinned, by figures typed from ASTM B258 (sizes), ASTM B8
//!   (lay, 2 % at most, from memory) and ASTM B33-04, table 2 (tinning); or by the limits of IEC 60228 for class 5;
//! - the wires of one cable are alike: within 1 % of each other's middle (IEC 61156 allows a pair 2 % of the sum, from memory);
//! - contacts of 5 to 30 milliohm at each end; ties in a plug, and the braid from shell to shell, far below a wire (common
//!   practice, no source);
//! - a stated temperature of 10 to 35 °C, and readings off by no more than the stated uncertainty;
//! - insulation in gigaohm.
//!
//! A reading that has parallel paths is that of the network.

use std::collections::BTreeMap;
use std::fmt::Write;

use backshell::finding::Verdict;
use backshell::graph::Network;
use backshell::pinmap::{Limited, Role, cable_names};

use crate::campaign::{Random, Size, in_parallel};
use crate::injection::{BUILDS, Model, cable, check_units};

/// What is known of a wire, in ohm per metre at 20 °C: the least and the most that its kind may have, and what it has.
struct Wire {
    gauge: String,
    least: f64,
    most: f64,
}

/// How much contacts have, in ohm.
const CONTACT: (f64, f64) = (0.005, 0.030);
/// A tie inside a plug, in ohm.
const TIE: (f64, f64) = (0.000_1, 0.001);
/// A braid, in ohm per metre.
const BRAID: (f64, f64) = (0.005, 0.020);

/// Flexible conductors of class 5: the size in mm², and the greatest resistance in ohm per km, plain and coated
/// (IEC 60228, table 3).
const CLASS_5: [(f64, f64, f64); 4] = [(0.5, 39.0, 40.1), (0.75, 26.0, 26.7), (1.0, 19.5, 20.0), (1.5, 13.3, 13.7)];

fn between(random: &mut Random, (low, high): (f64, f64)) -> f64 {
    low + (high - low) * random.share()
}

/// A wire of some size and kind.
fn wire(random: &mut Random) -> Wire {
    if random.below(4) == 0 {
        let (mm2, plain, coated) = CLASS_5[random.below(CLASS_5.len())];
        let most = if random.below(2) == 0 { plain } else { coated };
        // the area is nominal: a maker stays below the limit by a few percent
        return Wire { gauge: format!("{mm2} mm2"), least: most * 0.93e-3, most: most * 1e-3 };
    }
    let awg = [22, 24, 26, 28, 30][random.below(5)];
    let area = |awg: i32| {
        let mm = 0.127 * 92_f64.powf(f64::from(36 - awg) / 39.0);
        std::f64::consts::FRAC_PI_4 * mm * mm
    };
    let stranded = random.below(3) > 0;
    let tinned = random.below(2) == 0;
    let strand = if stranded { awg + 8 } else { awg };
    let coat = match strand {
        ..=24 => 0.159_40 / 0.153_28,
        25..=29 => 0.162_79 / 0.153_28,
        _ => 0.164_54 / 0.153_28,
    };
    let copper = if stranded { 7.0 * area(strand) } else { area(awg) };
    let solid = 1.0 / 58.0 / copper;
    let lay = if stranded { 1.02 } else { 1.0 };
    Wire { gauge: format!("{awg} AWG"), least: solid, most: solid * lay * if tinned { coat } else { 1.0 } }
}

/// Resistances of a cable: of each contact, and of each wire from plug to plug.
struct Ohms {
    contacts: Vec<f64>,
    tie: f64,
    wires: Vec<f64>,
}

/// What a meter reads between two contacts of a net.
fn reading(model: &Model, net: &[usize], ohms: &Ohms, a: usize, b: usize) -> f64 {
    // each contact has a node before and a node behind its contact resistance; each wire a node in each plug
    let n = u32::try_from(model.cable.points.len()).unwrap();
    let node = |contact: usize| u32::try_from(contact).unwrap();
    let mut edges: Vec<(u32, u32, f64)> = net.iter().map(|at| (node(*at), n + node(*at), ohms.contacts[*at])).collect();
    let mut next = 2 * n;
    for (at, wire) in model.wires.iter().enumerate().filter(|(_, wire)| net.contains(&wire.contacts[0])) {
        let mut plugs: BTreeMap<usize, u32> = BTreeMap::new();
        for contact in &wire.contacts {
            let plug = *plugs.entry(model.end(*contact)).or_insert_with(|| {
                next += 1;
                next - 1
            });
            edges.push((n + node(*contact), plug, ohms.tie));
        }
        let plugs: Vec<u32> = plugs.into_values().collect();
        edges.extend(plugs.windows(2).map(|two| (two[0], two[1], ohms.wires[at])));
    }
    Network::new(next, edges).unwrap().effective(node(a), node(b)).unwrap()
}

/// A unit as it is drawn.
struct Unit {
    text: String,
    /// Whether the uncertainty of a reading reaches what a sound cable of this kind may have.
    reaches: bool,
    /// Whether a reading comes near a limit of the standard: so thin or long a cable isn't sound, however well it is made.
    breaks: bool,
}

fn unit(model: &Model, nth: usize, random: &mut Random) -> Unit {
    let wire = wire(random);
    let tenths = |value: f64| (value * 10.0).round() / 10.0;
    let length = tenths(between(random, (0.3, 10.0)));
    let celsius = tenths(between(random, (10.0, 35.0)));
    let (uncertainty, share) = [(0.001, 0.0), (0.005, 0.0), (0.020, 0.0), (0.0, 0.01)][random.below(4)];
    let mut text = format!("unit {nth}\nlength {length} m\ngauge {}\ntemperature {celsius} C\n", wire.gauge);
    let stated = if share > 0.0 { format!("{} %", share * 100.0) } else { format!("{uncertainty} ohm") };
    let _ = writeln!(text, "uncertainty {stated}");
    let warm = 1.0 + 0.003_93 * (celsius - 20.0);
    let shell = |at: usize| model.wires[at].contacts.iter().all(|contact| model.role(*contact) == Role::Shell);
    let ohms = |pick: &mut dyn FnMut((f64, f64)) -> f64| Ohms {
        contacts: model.cable.points.iter().map(|_| pick(CONTACT)).collect(),
        tie: pick(TIE),
        wires: (0..model.wires.len())
            .map(|at| length * warm * if shell(at) { pick(BRAID) } else { pick((wire.least, wire.most)) })
            .collect(),
    };
    let (least, most) = (ohms(&mut |(low, _)| low), ohms(&mut |(_, high)| high));
    let middle = between(random, (wire.least, wire.most));
    let alike = (middle * 0.99).max(wire.least)..(middle * 1.01).min(wire.most);
    let real =
        ohms(&mut |range| between(random, if range == (wire.least, wire.most) { (alike.start, alike.end) } else { range }));
    let (mut reaches, mut breaks) = (false, false);
    let nets: Vec<Vec<usize>> = model.nets().into_iter().map(|net| net.into_iter().collect()).collect();
    for net in nets.iter().filter(|net| net.len() > 1) {
        for other in &net[1..] {
            let truth = reading(model, net, &real, net[0], *other);
            let expanded = uncertainty + share * truth;
            // a normal spread of half the expanded uncertainty, cut off at the whole
            let spread: f64 = (0..12).map(|_| random.share()).sum::<f64>() - 6.0;
            let read = (truth + (spread * expanded / 2.0).clamp(-expanded, expanded)).max(0.0);
            let _ = writeln!(text, "{} {} {read:.5} ohm", model.text(net[0]), model.text(*other));
            let [low, high] = [&least, &most].map(|ohms| reading(model, net, ohms, net[0], *other));
            reaches |= read + expanded > high || read - expanded < low;
            let limits = model.cable.limits.iter().filter(|limit| limit.of == Limited::Conductor);
            let most = limits
                .filter(|limit| {
                    net.iter().any(|contact| {
                        model.cable.links.iter().any(|link| {
                            limit.signals.contains(&link.signal) && link.points.iter().any(|point| *point as usize == *contact)
                        })
                    })
                })
                .map(|limit| limit.ohm);
            breaks |= most.fold(f64::INFINITY, f64::min) < read + expanded;
        }
    }
    for two in nets.windows(2) {
        let gigaohm = 10_f64.powf(between(random, (0.5, 2.0)));
        let _ = writeln!(text, "isolation {} {} {gigaohm:.2} Gohm", model.text(two[0][0]), model.text(two[1][0]));
    }
    text += &model.part_lines();
    Unit { text, reaches, breaks }
}

#[test]
fn sound_cables_conform() {
    let count = Size::asked_for().of(60, 1_000, 1_000);
    let names: Vec<&str> = cable_names().collect();
    let undecided = in_parallel(&names, |nth, name| {
        let cable = cable(name);
        let mut random = Random::new(nth);
        let models = BUILDS.map(|build| Model::sound(&cable, build));
        let units: Vec<Unit> = (0..count).map(|nth| unit(&models[nth % models.len()], nth, &mut random)).collect();
        let mut undecided = 0;
        for some in units.chunks(500) {
            let text: String = some.iter().map(|unit| unit.text.as_str()).collect();
            let reports = check_units(&format!("cable {name}\n{text}"));
            assert_eq!(reports.len(), some.len());
            for (report, Unit { text, reaches, breaks }) in reports.iter().zip(some) {
                let messages: Vec<&str> = report.findings.iter().map(|finding| finding.message.as_str()).collect();
                match report.verdict {
                    Verdict::Conforms => {}
                    _ if *breaks => {
                        assert!(report.findings.iter().any(|finding| finding.code.text() == "resistance.high"), "{messages:?}");
                    }
                    Verdict::Inconclusive if *reaches => undecided += 1,
                    verdict => panic!("{name} {}: {messages:?}\n{text}", verdict.word()),
                }
            }
        }
        undecided
    });
    let undecided: usize = undecided.iter().sum();
    println!("{} sound cables, seed {:#x}: {undecided} within the uncertainty of a limit", names.len() * count, Random::SEED);
    assert!(undecided * 4 < names.len() * count, "{undecided} left undecided");
}

/// Readings of a net with tied contacts, by hand.
#[test]
fn readings_by_hand() {
    let model = Model::sound(&cable("usb-c-a"), BUILDS[0]);
    let at = |text: &str| model.cable.point(text).unwrap() as usize;
    let net: Vec<usize> = model.net(at("A.A4")).into_iter().collect();
    let ohms = Ohms { contacts: vec![0.03; model.cable.points.len()], tie: 1e-9, wires: vec![0.4; model.wires.len()] };
    assert!((reading(&model, &net, &ohms, at("A.A4"), at("A.A9")) - 0.06).abs() < 1e-6, "two contacts in one plug");
    assert!((reading(&model, &net, &ohms, at("A.A4"), at("B.1")) - 0.46).abs() < 1e-6, "contact, wire, contact");
}
