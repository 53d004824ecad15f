//! Two netlists against each other, and both against the map.

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;
use std::process::Command;

use backshell::graph::{Changes, Nets, changes};
use backshell::pinmap::cable_names;
use backshell::report::{CompareJson, CompareTerminal, CompareWriter};
use backshell::verify::{Agreement, CompareOptions, Comparison, Kind, Standing, UnitPair, Weight, compare_files, compare_texts};
use proptest::prelude::*;

use crate::injection::{BUILDS, Build, Model, cable};
use crate::properties::line;

fn compare(first: &str, second: &str) -> (Comparison, Vec<UnitPair>) {
    let mut pairs = Vec::new();
    let options = CompareOptions::default();
    let comparison = compare_texts(("first.netlist", first), ("second.netlist", second), &options, |pair| pairs.push(pair));
    (comparison, pairs)
}

/// The only pair of two netlists that can be used.
fn one(first: &str, second: &str) -> UnitPair {
    let (comparison, mut pairs) = compare(first, second);
    let messages: Vec<&str> = comparison.problems.iter().map(|problem| problem.message.as_str()).collect();
    assert!(pairs.len() == 1 && messages.is_empty(), "{first}\n{second}\n{messages:?}");
    pairs.remove(0)
}

fn messages(pair: &UnitPair, weight: Weight) -> Vec<&str> {
    pair.differences.iter().filter(|of| of.weight == weight).map(|of| of.message.as_str()).collect()
}

// ---------------------------------------------------------------------------------------------- snapshots

fn render(first: &str, second: &str, mut writer: impl CompareWriter) -> u8 {
    let [first, second] = [first, second].map(|name| format!("netlists/compare/{name}.netlist"));
    let options = CompareOptions::default();
    let comparison = compare_files(Path::new(&first), Path::new(&second), &options, |pair| writer.pair(&pair).unwrap());
    writer.finish(&comparison).unwrap();
    comparison.status()
}

#[test]
fn the_examples() {
    for (first, second, status) in [
        ("interlock-issue-b", "interlock-issue-c", 1),
        ("interlock-issue-c", "interlock-build", 1),
        ("ring-drawing", "ring-reel", 1),
        ("ring-new", "ring-aged", 1),
        ("ring-new", "ring-new", 0),
        ("ring-reel", "ring-new", 1),
    ] {
        let (mut people, mut programs) = (Vec::new(), Vec::new());
        assert_eq!(render(first, second, CompareTerminal::new(&mut people, false, false)), status);
        assert_eq!(render(first, second, CompareJson::new(&mut programs).unwrap()), status);
        insta::assert_snapshot!(format!("people__{first}__{second}"), String::from_utf8(people).unwrap());
        let programs: serde_json::Value = serde_json::from_slice(&programs).unwrap();
        insta::assert_snapshot!(format!("programs__{first}__{second}"), serde_json::to_string_pretty(&programs).unwrap());
    }
}

// ---------------------------------------------------------------------------------------------- nets

/// The points whose net isn't the same.
fn changed(before: &Nets, after: &Nets) -> BTreeSet<u32> {
    let n = u32::try_from(before.labels().len()).unwrap();
    let differs = |a: u32| (0..n).any(|b| before.same(a, b) != after.same(a, b));
    (0..n).filter(|point| differs(*point)).collect()
}

/// What the steps make of `before`: what left a net leaves it, what joined one joins it.
fn replayed(before: &Nets, found: &Changes) -> Nets {
    let n = before.labels().len();
    let steps = || found.list.iter().flat_map(|change| &change.steps);
    let left: BTreeSet<u32> = steps().filter(|step| !step.from.is_empty()).flat_map(|step| step.piece.iter().copied()).collect();
    let mut joins = Vec::new();
    for net in before.members() {
        let stayed: Vec<u32> = net.into_iter().filter(|point| !left.contains(point)).collect();
        joins.extend(stayed.windows(2).map(|pair| (pair[0], pair[1])));
    }
    for step in steps() {
        joins.extend(step.piece.windows(2).map(|pair| (pair[0], pair[1])));
        joins.extend(step.to.first().map(|to| (step.piece[0], *to)));
    }
    Nets::new(n, joins)
}

/// The fewest pieces that can change, by trying every set of pieces that stay.
fn fewest(before: &Nets, after: &Nets) -> usize {
    let mut pieces: Vec<(u32, u32)> = (0..).zip(before.labels()).map(|(point, net)| (*net, after.of(point))).collect();
    pieces.sort_unstable();
    pieces.dedup();
    let free = |set: u32| {
        let stay: Vec<(u32, u32)> =
            (0..).zip(&pieces).filter(|(bit, _): &(u32, _)| set >> bit & 1 == 1).map(|(_, piece)| *piece).collect();
        let nets = |side: fn(&(u32, u32)) -> u32| stay.iter().map(side).collect::<BTreeSet<u32>>().len();
        (nets(|piece| piece.0) == stay.len() && nets(|piece| piece.1) == stay.len()).then_some(stay.len())
    };
    pieces.len() - (0..1_u32 << pieces.len()).filter_map(free).max().unwrap()
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 600, failure_persistence: None, ..ProptestConfig::default() })]

    /// The changes name exactly the points whose net changed, lead from one to the other, and mirror each other.
    #[test]
    fn changes_of_any_nets(
        before in proptest::collection::vec((0_u32..9, 0_u32..9), 0..9),
        after in proptest::collection::vec((0_u32..9, 0_u32..9), 0..9),
    ) {
        let (before, after) = (Nets::new(9, before), Nets::new(9, after));
        let found = changes(&before, &after, |_| true);
        let steps = || found.list.iter().flat_map(|change| &change.steps);
        let named: BTreeSet<u32> =
            steps().flat_map(|step| [&step.piece, &step.from, &step.to]).flat_map(|set| set.iter().copied()).collect();
        prop_assert_eq!(&named, &changed(&before, &after));
        prop_assert_eq!(replayed(&before, &found), after.clone());
        let back = changes(&after, &before, |_| true);
        let turned = |found: &Changes, turn: bool| -> BTreeSet<Vec<[Vec<u32>; 3]>> {
            found.list.iter().map(|change| {
                change.steps.iter().map(|step| {
                    let [from, to] = if turn { [&step.to, &step.from] } else { [&step.from, &step.to] };
                    [&step.piece, from, to].map(|set| set.to_vec())
                }).collect()
            }).collect()
        };
        prop_assert_eq!(turned(&found, false), turned(&back, true));
        prop_assert_eq!(found.same, back.same);
        prop_assert_eq!(steps().count(), fewest(&before, &after), "{:?}", found);
    }

    /// No two netlists make it panic, every label lies in its file, and turned round it says the same.
    #[test]
    fn any_two_netlists(
        first in proptest::collection::vec(line(), 0..25),
        second in proptest::collection::vec(line(), 0..25),
    ) {
        mirrored(&first.join("\n"), &second.join("\n"));
    }

    /// The same for netlists that can be used, and close to each other.
    #[test]
    fn any_two_near_netlists(
        joins in proptest::collection::vec(("[AB]", 1_u8..7, "[AB]", 1_u8..7), 1..9),
        changes in proptest::collection::vec((0_usize..9, 1_u8..7), 1..4),
        listed in any::<[bool; 2]>(),
    ) {
        let text = |joins: &[(String, u8, String, u8)], listed: bool| {
            let lines: Vec<String> = joins
                .iter()
                .filter(|(a, m, b, n)| (a, m) != (b, n))
                .map(|(a, m, b, n)| format!("{a}.{m} {b}.{n}"))
                .collect();
            format!("{}A.1 B.1\n{}\n", if listed { "scope listed\n" } else { "" }, lines.join("\n"))
        };
        let mut other = joins.clone();
        for (at, pin) in changes {
            let at = at % other.len();
            other[at].3 = pin;
        }
        prop_assert!(mirrored(&text(&joins, listed[0]), &text(&other, listed[1])));
    }
}

/// Compares both ways round; says whether there was a pair.
fn mirrored(first: &str, second: &str) -> bool {
    let (there, pairs) = compare(first, second);
    let (back, turned) = compare(second, first);
    assert_eq!(there.status(), back.status(), "{first}\n--\n{second}");
    assert_eq!(pairs.len(), turned.len());
    let said = |pairs: &[UnitPair], turn: bool| -> BTreeSet<String> {
        let turn_kind = |kind| match kind {
            Kind::Missing if turn => Kind::Added,
            Kind::Added if turn => Kind::Missing,
            kind => kind,
        };
        let of = |pair: &UnitPair| {
            let mut units = pair.units.clone();
            if turn {
                units.reverse();
            }
            let mut differences: Vec<_> =
                pair.differences.iter().map(|of| (turn_kind(of.kind), of.weight, of.points.clone())).collect();
            differences.sort();
            format!("{units:?} {:?} {differences:?} {}", pair.standing, pair.same_nets)
        };
        pairs.iter().map(of).collect()
    };
    assert_eq!(said(&pairs, false), said(&turned, true), "{first}\n--\n{second}");
    for pair in &pairs {
        for label in pair.differences.iter().flat_map(|difference| &difference.labels) {
            assert!(label.source.text().get(label.span.range()).is_some());
        }
        CompareTerminal::new(std::io::sink(), true, true).pair(pair).unwrap();
        CompareJson::new(std::io::sink()).unwrap().pair(pair).unwrap();
    }
    let (alone, pairs) = compare(first, first);
    assert!(pairs.iter().all(|pair| messages(pair, Weight::Differs).is_empty()), "{first}");
    assert!(alone.unpaired.is_empty());
    !turned.is_empty()
}

// ---------------------------------------------------------------------------------------------- injected faults

/// The sound netlist of every cable, in every build, is the same as itself.
#[test]
fn a_sound_cable_is_the_same_as_itself() {
    for name in cable_names() {
        for build in BUILDS {
            let netlist = Model::sound(&cable(name), build).netlist();
            let (comparison, pairs) = compare(&netlist, &netlist);
            assert_eq!((comparison.status(), pairs[0].standing), (0, Standing::Same), "{netlist}");
            assert_eq!(
                pairs[0].requirement.as_ref().unwrap().counts,
                BTreeMap::from([(Agreement::AllAgree, cable(name).points.len())])
            );
        }
    }
}

/// A fault is told in `steps` changes of this kind, at exactly the contacts whose net changed.
fn told(sound: &Model, faulty: &Model, kinds: &[Kind], steps: usize) -> bool {
    let pair = one(&sound.netlist(), &faulty.netlist());
    let (before, after) = (sound.nets(), faulty.nets());
    let changed: BTreeSet<String> = before.symmetric_difference(&after).flatten().map(|contact| sound.text(*contact)).collect();
    let nets: Vec<_> = pair.differences.iter().filter(|of| kinds.contains(&of.kind)).collect();
    let points: BTreeSet<String> = nets.iter().flat_map(|of| of.points.clone()).collect();
    let messages: Vec<&str> = pair.differences.iter().map(|of| of.message.as_str()).collect();
    assert_eq!(points, changed, "{}{messages:?}", faulty.netlist());
    assert_eq!((nets.len(), pair.differences.len()), (steps, steps), "{}{messages:?}", faulty.netlist());
    assert_eq!(pair.standing == Standing::Differs, before != after);
    for difference in nets {
        let files: BTreeSet<&str> = difference.labels.iter().map(|label| label.source.name()).collect();
        assert_eq!(files.len(), 2, "{}: both files are shown", difference.message);
    }
    before != after
}

/// Every single fault of every cable, put into the sound netlist, is one change at its contacts.
#[test]
fn single_faults() {
    let mut seen = 0;
    for name in cable_names() {
        let sound = Model::sound(&cable(name), Build::Full);
        let through = sound.through();
        for (nth, wire) in through.iter().enumerate() {
            let mut cut = sound.clone();
            cut.cut(*wire);
            let pieces = cut.nets().len() - sound.nets().len();
            seen += usize::from(told(&sound, &cut, &[Kind::Missing], pieces));
            let mut lifted = sound.clone();
            lifted.lift(sound.wires[*wire].contacts[0]);
            let pieces = lifted.nets().len() - sound.nets().len();
            seen += usize::from(told(&sound, &lifted, &[Kind::Missing], pieces));
            let other = through[(nth + 1) % through.len()];
            let [a, b] = [*wire, other].map(|wire| sound.at_end(wire, 1)[0]);
            if sound.net(a).contains(&b) {
                continue;
            }
            let mut bridged = sound.clone();
            bridged.bridge(a, b);
            seen += usize::from(told(&sound, &bridged, &[Kind::Added], 1));
            let mut exchanged = sound.clone();
            exchanged.exchange(&[(a, b)]);
            seen += usize::from(told(&sound, &exchanged, &[Kind::Exchanged], 1));
            let Some(free) = (0..sound.cable.points.len()).find(|contact| sound.net(*contact).len() == 1) else { continue };
            let mut moved = sound.clone();
            moved.exchange(&[(a, free)]);
            seen += usize::from(told(&sound, &moved, &[Kind::Moved], 1));
        }
    }
    println!("{seen} faults");
    assert!(seen > 1000, "{seen}");
}

// ---------------------------------------------------------------------------------------------- the odd one out

const DRAWING: &str = "source drawing\ncable xlr3\n";
const RIGHT: &str = "A.1 B.1\nA.2 B.2\nA.3 B.3\n";
const CROSSED: &str = "A.1 B.1\nA.2 B.3\nA.3 B.2\n";
const BROKEN: &str = "A.1 B.1\nA.3 B.2\nopen A.2\n";

/// Two ways of being wired and the requirement: which of the three is told to be the odd one.
#[test]
fn odd_one_out() {
    use Agreement::{AllDiffer, FirstDiffers, RequirementDiffers, SecondDiffers};
    for (drawing, build, agreement, words) in [
        (RIGHT, CROSSED, SecondDiffers, "requirement and the drawing agree, the build differs at 4 contacts: rework the cable"),
        (CROSSED, RIGHT, FirstDiffers, "requirement and the build agree, the drawing differs at 4 contacts: correct the drawing"),
        (CROSSED, CROSSED, RequirementDiffers, "the drawing and the build agree, both differ from the requirement at 4 contacts"),
        (CROSSED, BROKEN, AllDiffer, "no two of requirement, the drawing and the build agree"),
    ] {
        let (drawing, build) = (format!("{DRAWING}{drawing}"), format!("cable xlr3\n{build}"));
        let pair = one(&drawing, &build);
        let three = pair.requirement.unwrap();
        assert!(three.counts.contains_key(&agreement), "{three:?}");
        assert!(three.message.contains(words), "{}", three.message);
        assert_eq!(pair.standing, Standing::Differs);
        // the other way round it is the same, with the places exchanged
        let turned = one(&build, &drawing).requirement.unwrap();
        let turned: BTreeMap<Agreement, usize> = turned.counts.into_iter().map(|(of, n)| (mirror(of), n)).collect();
        assert_eq!(three.counts, turned);
    }
}

fn mirror(of: Agreement) -> Agreement {
    match of {
        Agreement::FirstDiffers => Agreement::SecondDiffers,
        Agreement::SecondDiffers => Agreement::FirstDiffers,
        of => of,
    }
}

/// What the map leaves free isn't a fault of either, and is still a difference.
#[test]
fn what_the_map_leaves_free() {
    let [plain, common] = [Build::Plain, Build::Commoned].map(|build| Model::sound(&cable("displayport"), build).netlist());
    let pair = one(&plain, &common);
    assert_eq!(pair.standing, Standing::Differs);
    let three = pair.requirement.unwrap();
    let odd = [Agreement::FirstDiffers, Agreement::SecondDiffers, Agreement::AllDiffer, Agreement::RequirementDiffers];
    assert!(odd.iter().all(|of| !three.counts.contains_key(of)) && three.counts[&Agreement::BothAllowed] > 0, "{three:?}");
}

/// Two that are the same and both wrong are never a pass.
#[test]
fn both_wrong_is_no_pass() {
    let wrong = format!("cable xlr3\n{CROSSED}");
    let (comparison, pairs) = compare(&wrong, &wrong);
    assert_eq!((comparison.status(), pairs[0].standing), (1, Standing::Differs));
    assert!(pairs[0].differences.is_empty());
    let mut hazard = Model::sound(&cable("displayport"), Build::Full);
    let contact = |text: &str| hazard.cable.points.iter().position(|point| point.text == text).unwrap();
    let (a, b) = (contact("A.20"), contact("B.20"));
    hazard.bridge(a, b);
    let hazard = hazard.netlist();
    let pair = one(&hazard, &hazard);
    assert_eq!(pair.requirement.as_ref().unwrap().hazards, [true, true]);
    let mut out = Vec::new();
    CompareTerminal::new(&mut out, false, false).pair(&pair).unwrap();
    assert!(String::from_utf8(out).unwrap().contains("DO NOT CONNECT"));
}

// ---------------------------------------------------------------------------------------------- what isn't known

/// What wasn't probed is never missing, and never the same.
#[test]
fn untested_is_not_missing() {
    let whole = format!("cable xlr3\n{RIGHT}");
    let listed = "cable xlr3\nscope listed\nA.1 B.1\nA.2 B.2\n";
    for (first, second) in [(whole.as_str(), listed), (listed, whole.as_str()), (listed, listed)] {
        let pair = one(first, second);
        assert_eq!(pair.standing, Standing::Inconclusive);
        assert!(pair.differences.iter().all(|of| of.kind == Kind::Untested), "{:?}", pair.differences);
        assert!(!pair.differences.is_empty());
    }
    let wrong = one(&whole, "cable xlr3\nscope listed\nA.1 B.2\n");
    assert_eq!(wrong.standing, Standing::Differs);
}

/// A contact that nothing names was probed and is alone, where all were probed: the map still wants its conductor there.
#[test]
fn a_contact_that_nothing_names_is_still_required() {
    let without_cold = "cable xlr3\nA.1 B.1\nA.2 B.2\n";
    let three = one(without_cold, without_cold).requirement.unwrap();
    assert_eq!(three.counts.get(&Agreement::RequirementDiffers), Some(&2), "{three:?}");
    let contacts: Vec<&str> = three.rows.iter().map(|row| row.contact.as_str()).collect();
    assert_eq!(contacts, ["A.3", "B.3"]);
}

#[test]
fn figures_side_by_side() {
    let text = |header: &str, figure: &str| format!("{header}A.1 B.1 {figure}\nA.2 B.2\n");
    let stated = "uncertainty 0.02 ohm\n";
    // the difference of two figures, each known to 0.02 ohm, is known to 0.0283 ohm: the root of the sum of the squares
    for (header, first, second, standing) in [
        (stated, "0.40 ohm", "0.428 ohm", Standing::Same),
        (stated, "0.40 ohm", "0.429 ohm", Standing::Differs),
        ("", "0.40 ohm", "0.40 ohm", Standing::Same),
        ("", "0.40 ohm", "0.41 ohm", Standing::Inconclusive),
        ("", "0.40 ohm", "4.1 ohm", Standing::Inconclusive),
        ("", "0.40 ohm", "", Standing::Inconclusive),
        ("uncertainty 5 %\n", "0.40 ohm", "0.428 ohm", Standing::Same),
        ("uncertainty 5 %\n", "0.40 ohm", "0.431 ohm", Standing::Differs),
        ("source drawing\n", "0.40 ohm", "0.41 ohm", Standing::Differs),
        ("source drawing\n", "0.40 ohm +/- 5%", "0.41 ohm", Standing::Same),
        ("", "<1 ohm", "<1 ohm", Standing::Same),
        ("", "<1 ohm", "0.41 ohm", Standing::Inconclusive),
    ] {
        let pair = one(&text(header, first), &text(header, second));
        assert_eq!(pair.standing, standing, "{header}{first} {second}: {:?}", pair.differences);
    }
    let pair = one(&text(stated, "0.400 ohm"), &text(stated, "0.500 ohm"));
    assert_eq!(messages(&pair, Weight::Differs), ["resistance A.1 B.1 goes from 400 mohm to 500 mohm (+100 mohm, +25.0 %)"]);
}

/// Insulation is stated as a limit; two good figures are the same.
#[test]
fn insulation_side_by_side() {
    let text = |figure: &str| format!("A.1 B.1\nA.2 B.2\n{figure}\n");
    for (first, second, standing) in [
        ("isolation A.1 A.2 >500 Mohm", "isolation A.2 A.1 >200 Mohm", Standing::Same),
        ("isolation A.1 A.2 >500 Mohm", "isolation A.1 A.2 3 Mohm", Standing::Inconclusive),
        ("isolation A.1 A.2 >500 Mohm", "", Standing::Inconclusive),
        ("isolation A.1 B.1 3 Mohm", "isolation A.1 B.1 3 Mohm", Standing::Same),
    ] {
        assert_eq!(one(&text(first), &text(second)).standing, standing, "{first} {second}");
    }
}

/// A drawing isn't asked for figures; one that it states must have been measured.
#[test]
fn figures_of_a_drawing() {
    let drawing = |figure: &str| format!("{DRAWING}{RIGHT}").replace("A.1 B.1", &format!("A.1 B.1 {figure}"));
    let build =
        |figure: &str| format!("cable xlr3\nuncertainty 0.01 ohm\n{RIGHT}").replace("A.1 B.1", &format!("A.1 B.1 {figure}"));
    for (stated, measured, standing) in [
        ("", "0.4 ohm", Standing::Same),
        ("0.4 ohm", "", Standing::Inconclusive),
        ("0.4 ohm +/- 10%", "0.44 ohm", Standing::Same),
        ("0.4 ohm +/- 10%", "0.5 ohm", Standing::Differs),
    ] {
        assert_eq!(one(&drawing(stated), &build(measured)).standing, standing, "{stated} {measured}");
    }
}

/// Two netlists that say nothing are not the same cable.
#[test]
fn nothing_to_compare() {
    assert_eq!(one("unit X\n", "unit X\n").standing, Standing::Inconclusive);
    assert_eq!(compare("", "").0.status(), 2);
}

#[test]
fn parts_pairs_and_conductors() {
    let base = "A.1 B.1\nA.2 B.2\nA.3 B.3\n";
    for (header, first, second, standing, words) in [
        ("source drawing\n", "resistor A.1 A.2 56 kohm\n", "", Standing::Differs, "resistor 56 kohm A.1 A.2 is only in"),
        ("", "resistor A.1 A.2 56 kohm\n", "", Standing::Inconclusive, "resistor 56 kohm A.1 A.2 is only in"),
        ("", "resistor A.1 A.2 56 kohm +/- 5%\n", "resistor A.2 A.1 55 kohm\n", Standing::Same, ""),
        ("", "diode A.1 A.2\n", "diode A.2 A.1\n", Standing::Differs, "the other way round"),
        ("", "resistor A.1 A.2 56 kohm\n", "resistor A.1 A.3 56 kohm\n", Standing::Differs, "moves from A.1 A.2 to A.1 A.3"),
        ("", "pair A.1 A.2\n", "pair A.1 A.3\n", Standing::Inconclusive, "pair A.1 A.2 is only in"),
        ("source drawing\n", "pair A.1 A.2\n", "pair A.1 A.3\n", Standing::Differs, "pair A.1 A.2 is only in"),
        ("", "pair A.1 A.2 screen A.3\n", "pair A.2 A.1 screen A.3\n", Standing::Same, ""),
        ("", "conductor red A.1 B.1\n", "conductor blue A.1 B.1\n", Standing::Differs, "goes from red to blue"),
    ] {
        let pair = one(&format!("{header}{base}{first}"), &format!("{header}{base}{second}"));
        assert_eq!(pair.standing, standing, "{first}{second}{:?}", pair.differences);
        assert!(words.is_empty() || pair.differences.iter().any(|of| of.message.contains(words)), "{:?}", pair.differences);
    }
    // what a drawing says of pairs and colours, a closed sample can't: noted, and not held against it
    let drawing = format!("source drawing\n{base}pair A.2 A.3\nconductor red A.1 B.1\n");
    let pair = one(&drawing, base);
    assert_eq!((pair.standing, messages(&pair, Weight::Note).len()), (Standing::Same, 2));
}

// ---------------------------------------------------------------------------------------------- units and ends

#[test]
fn which_unit_with_which() {
    let unit = |name: &str| format!("unit {name}\n{RIGHT}");
    let names = |first: &str, second: &str| {
        let (comparison, pairs) = compare(&format!("cable xlr3\n{first}"), &format!("cable xlr3\n{second}"));
        let alone: Vec<Option<String>> = comparison.unpaired.into_iter().map(|(_, name, _)| name).collect();
        (pairs.into_iter().map(|pair| pair.units.map(Option::unwrap_or_default)).collect::<Vec<_>>(), alone)
    };
    let pair = |one: &str, two: &str| [one.to_owned(), two.to_owned()];
    let two = unit("X") + &unit("Y");
    assert_eq!(names(&unit("P"), &unit("Q")), (vec![pair("P", "Q")], vec![]));
    assert_eq!(names(&two, &(unit("Y") + &unit("X"))), (vec![pair("X", "X"), pair("Y", "Y")], vec![]));
    assert_eq!(names(RIGHT, &two), (vec![pair("", "X"), pair("", "Y")], vec![]));
    assert_eq!(names(&two, &unit("P")), (vec![pair("X", "P"), pair("Y", "P")], vec![]));
    assert_eq!(names(&unit("X"), &two), (vec![pair("X", "X")], vec![Some("Y".to_owned())]));
    assert_eq!(names(&format!("source drawing\n{}", unit("X")), &two).0.len(), 2);
    assert_eq!(names(&two, &(unit("Y") + &unit("Z"))), (vec![pair("Y", "Y")], vec![Some("X".to_owned()), Some("Z".to_owned())]));
}

/// Ends go by the map where each netlist says which side they are; without a map by their names.
#[test]
fn ends_of_other_names() {
    let near = "cable displayport-mini\nend P1 full\nend P2 mini\n";
    let sound = Model::sound(&cable("displayport-mini"), Build::Full).netlist();
    let body = sound.split_once('\n').unwrap().1;
    let (mini, full) =
        if cable("displayport-mini").ends[0].side.as_deref() == Some("mini") { ("A.", "B.") } else { ("B.", "A.") };
    let renamed = format!("{near}{}", body.replace(full, "P1.").replace(mini, "P2."));
    let pair = one(&sound, &renamed);
    assert_eq!((pair.standing, pair.ends.len()), (Standing::Same, 2), "{:?}", pair.differences);
    // a netlist that names no cable is read by the other's map
    assert_eq!(one(&sound, body).standing, Standing::Same);
    let (comparison, pairs) = compare("A.1 B.1\n", "P1.1 P2.1\n");
    assert!(pairs.is_empty() && comparison.status() == 2);
    assert!(comparison.problems[0].message.contains("no end in common"));
}

// ---------------------------------------------------------------------------------------------- the command

#[test]
fn exit_statuses() {
    let folder = std::env::temp_dir().join(format!("backshell-compare-{}", std::process::id()));
    std::fs::create_dir_all(&folder).unwrap();
    let file = |name: &str, text: &str| {
        let path = folder.join(name);
        std::fs::write(&path, text).unwrap();
        path.display().to_string()
    };
    let good = file("good.netlist", &format!("cable xlr3\n{RIGHT}"));
    let bad = file("bad.netlist", &format!("cable xlr3\n{CROSSED}"));
    let plain = file("plain.netlist", CROSSED);
    let listed = file("listed.netlist", "cable xlr3\nscope listed\nA.1 B.1\n");
    let two = file("two.netlist", &format!("cable xlr3\nunit X\n{RIGHT}unit Y\n{RIGHT}"));
    let only = file("only.netlist", &format!("cable xlr3\nunit X\n{RIGHT}"));
    let broken = file("broken.netlist", "cable xlr3\nA.1 B.1 nonsense\n");
    let missing = folder.join("missing.netlist").display().to_string();
    let folder_name = folder.display().to_string();
    for (arguments, status) in [
        (vec![&*good, &good], 0),
        (vec![&good, &bad], 1),
        (vec![&bad, &bad], 1),
        (vec![&plain, &plain], 0),
        (vec![&plain, &plain, "--cable", "xlr3"], 1),
        (vec![&plain, &plain, "--cable", "no-such"], 2),
        (vec![&good, &listed], 1),
        (vec![&good, &two], 0),
        (vec![&only, &two], 1),
        (vec![&good, &broken], 2),
        (vec![&good, &missing], 2),
        (vec![&folder_name, &good], 2),
        (vec!["-", "-"], 2),
        (vec![&good], 2),
        (vec![], 2),
        (vec!["--print-schema"], 0),
    ] {
        for format in ["human", "json"] {
            let mut all = vec!["compare", "--format", format];
            all.extend(&arguments);
            let output = Command::new(env!("CARGO_BIN_EXE_backshell")).args(&all).output().unwrap();
            let said = String::from_utf8_lossy(&output.stdout);
            assert_eq!(output.status.code(), Some(status), "{all:?}\n{said}");
            if format == "json" && arguments.len() >= 2 {
                let report: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
                assert_eq!(report["schema"], "backshell.compare/1");
            }
        }
    }
    std::fs::remove_dir_all(&folder).ok();
}

/// The report has the fields that the printed schema requires, and no others.
#[test]
fn the_schema() {
    let schema: serde_json::Value = serde_json::from_str(&backshell::report::compare_schema()).unwrap();
    let mut out = Vec::new();
    render("interlock-issue-b", "interlock-issue-c", CompareJson::new(&mut out).unwrap());
    let report: serde_json::Value = serde_json::from_slice(&out).unwrap();
    let keys = |value: &serde_json::Value| value.as_object().unwrap().keys().cloned().collect::<BTreeSet<String>>();
    assert_eq!(keys(&schema["properties"]), keys(&report));
    for (name, value) in [
        ("PairEntry", &report["pairs"][0]),
        ("DifferenceEntry", &report["pairs"][0]["differences"][0]),
        ("ThreeWay", &report["pairs"][0]["requirement"]),
        ("Row", &report["pairs"][0]["requirement"]["rows"][0]),
        ("Beside", &report["pairs"][0]["beside"][0]),
        ("CompareSummary", &report["summary"]),
    ] {
        assert_eq!(keys(&schema["$defs"][name]["properties"]), keys(value), "{name}");
    }
}

/// What a drawing says beside its nets counts too: sizes of wires, the view, the datum, the connectors.
#[test]
fn what_a_drawing_says_beside_its_nets() {
    for (header, first, second) in [
        ("", "conductor red A.1 B.1 24 AWG", "conductor red A.1 B.1 28 AWG"),
        ("view mating-face", "", ""),
        ("datum \"face to face\"", "", ""),
        ("connector B xlr-3", "", ""),
    ] {
        let other = header.replace("mating-face", "wiring-side").replace("face to face", "cable only").replace("xlr-3", "xlr-5");
        let text = |header: &str, line: &str| format!("cable xlr3\nsource drawing\n{header}\n{RIGHT}pair A.2 A.3\n{line}\n");
        let pair = one(&text(header, first), &text(&other, second));
        assert_eq!(pair.standing, Standing::Differs, "{header} {first}");
        assert_eq!(one(&text(header, first), &text(header, first)).standing, Standing::Same, "{header} {first}");
    }
}
