//! Causes that take in a whole end: contacts numbered from the wrong side, rows exchanged, off by one, the two ends the
//! other way round, or another wiring than the cable's.
//!
//! Each such cause is a hypothesis: a way to read the netlist, or another map. Where a unit shows two faults or more, every
//! hypothesis that makes more conductors agree is explained like the unit itself, and taken if what is left of the faults
//! makes it the less surprising.

use std::collections::HashSet;
use std::sync::Arc;

use crate::finding::{Code, Label, Sink};
use crate::graph::Nets;
use crate::pinmap::{Cable, Connector};

use super::Case;
use super::requirement::{is_free, wanted};

/// What one such cause costs, in the terms of [`Cost`](crate::cause::Cost): more than one fault, and less than two, since a
/// list read from the wrong side is less surprising than two independent faults that happen to look like it (common
/// practice, no source).
pub const COST: u32 = 15;

/// A way to read a netlist, or another map to read it by.
#[derive(Clone, Debug)]
#[non_exhaustive]
pub struct Hypothesis {
    /// What the finding is called.
    pub code: Code,
    /// The end that it concerns; none where it concerns both or can't be told.
    pub end: Option<usize>,
    /// The map to read it by.
    pub cable: Arc<Cable>,
    /// For each contact of the map, the contact of the netlist that is meant.
    pub meant: Vec<u32>,
    /// A contact that has no counterpart: what belongs on it is nowhere.
    pub lost: Option<u32>,
    /// How the contacts are read, in words that go on after "read with".
    pub reading: String,
}

/// A cause that was found, for the finding.
#[derive(Clone, Debug)]
#[non_exhaustive]
pub struct WholeEnd {
    /// The hypothesis.
    pub hypothesis: Hypothesis,
    /// True where either end could be the one.
    pub either_end: bool,
    /// Conductors that agree when it is read so, and of how many; then the same as it stands.
    pub agree: [usize; 4],
    /// Others that explain as much.
    pub rivals: Vec<(Code, String)>,
    /// True where, as it stands, equipment could be destroyed.
    pub hazard: bool,
    /// The contacts that are concerned, as the netlist names them.
    pub contacts: Vec<u32>,
}

/// Every hypothesis for a cable. `variants` are the other maps with the same connectors.
#[must_use]
pub fn hypotheses(cable: &Arc<Cable>, variants: &[Arc<Cable>]) -> Vec<Hypothesis> {
    let mut all = Vec::new();
    for end in 0..cable.ends.len() {
        renumbered(cable, end, &mut all);
    }
    ends_exchanged(cable, &mut all);
    let straight_map = is_straight(cable);
    if !straight_map {
        straight(cable, &mut all);
    }
    for variant in variants {
        let code = match (straight_map, is_straight(variant)) {
            (true, false) => Code::WiringCrossed,
            (false, true) => Code::WiringStraight,
            _ => Code::WiringVariant,
        };
        all.push(Hypothesis {
            code,
            end: None,
            cable: Arc::clone(variant),
            meant: identity(cable),
            lost: None,
            reading: format!("the wiring of {}", variant.name),
        });
    }
    all
}

/// The measured nets as a hypothesis reads them; none where it leaves something out.
#[must_use]
pub fn read_so(hypothesis: &Hypothesis, measured: &Nets) -> Option<Nets> {
    if let Some(lost) = hypothesis.lost {
        // what stands in the lost contact's stead must be a contact that nothing touches
        let instead = *hypothesis.meant.get(lost as usize)?;
        let alone = (0..).zip(measured.labels()).all(|(point, net)| point == instead || *net != measured.of(instead));
        if !alone {
            return None;
        }
    }
    let mut first = vec![u32::MAX; measured.labels().len()];
    let joins: Vec<(u32, u32)> = (0..)
        .zip(&hypothesis.meant)
        .map(|(point, meant)| {
            let slot = &mut first[measured.of(*meant) as usize];
            if *slot == u32::MAX {
                *slot = point;
            }
            (*slot, point)
        })
        .collect();
    Some(Nets::new(hypothesis.meant.len(), joins))
}

/// Whether a hypothesis can leave nothing to explain: every conductor that must be there, and whose partner is fixed, has its
/// contacts joined when they are read so. It gives up at the first that hasn't, so that it costs next to nothing.
pub(in crate::verify) fn can_leave_nothing(hypothesis: &Hypothesis, measured: &Nets) -> bool {
    let cable = &hypothesis.cable;
    let read = |point: u32| hypothesis.meant.get(point as usize).map(|meant| measured.of(*meant));
    // what belongs on a contact that was lost is nowhere
    let mut spare = hypothesis.lost.is_some();
    let required = cable.links.iter().filter(|link| !link.optional && !link.when_screened && !is_free(cable, link));
    required
        .into_iter()
        .all(|link| link.points.iter().all(|point| read(*point) == read(link.points[0])) || std::mem::take(&mut spare))
}

/// How many conductors agree under a hypothesis, and of how many, without those that may be missing; with the measured nets
/// as it reads them. None where it leaves something out.
pub(in crate::verify) fn seen_so(hypothesis: &Hypothesis, measured: &Nets) -> Option<(usize, usize, Nets)> {
    let measured = read_so(hypothesis, measured)?;
    let links = &hypothesis.cable.links;
    let nets = wanted(&hypothesis.cable, &measured, |link| !links[link].optional && !links[link].when_screened);
    let (agree, of) = agreement(&hypothesis.cable, &nets, &measured);
    Some((agree, of, measured))
}

/// How many conductors agree: each joins its contacts, and nothing else is with them. And how many there are.
#[must_use]
pub fn agreement(cable: &Cable, wanted: &Nets, measured: &Nets) -> (usize, usize) {
    let mut sizes = vec![[0_usize; 2]; wanted.labels().len()];
    for (of_wanted, of_measured) in wanted.labels().iter().zip(measured.labels()) {
        sizes[*of_wanted as usize][0] += 1;
        sizes[*of_measured as usize][1] += 1;
    }
    let there = cable.links.iter().filter(|link| link.points.iter().all(|point| wanted.same(*point, link.points[0])));
    let members = wanted.table();
    let (mut agree, mut all) = (0, 0);
    for link in there {
        all += 1;
        let point = link.points[0];
        let joined = members.of(wanted.of(point)).iter().all(|other| measured.same(*other, point));
        agree += usize::from(joined && sizes[wanted.of(point) as usize][0] == sizes[measured.of(point) as usize][1]);
    }
    (agree, all)
}

fn identity(cable: &Cable) -> Vec<u32> {
    (0..u32::try_from(cable.points.len()).unwrap_or(u32::MAX)).collect()
}

/// The number of a contact of an end.
fn at(cable: &Cable, end: usize, pin: usize) -> Option<u32> {
    cable.contact(end, pin)
}

/// The contacts numbered 1, 2, 3 … of a connector, in their order; none where they aren't numbered so.
fn numbered(connector: &Connector) -> Option<Vec<usize>> {
    let mut numbers: Vec<(usize, usize)> = connector
        .pins
        .iter()
        .enumerate()
        .filter_map(|(at, pin)| pin.pin.parse().ok().map(|number: usize| (number, at)))
        .collect();
    numbers.sort_unstable();
    let complete = numbers.len() > 2 && numbers.iter().enumerate().all(|(at, (number, _))| *number == at + 1);
    complete.then(|| numbers.into_iter().map(|(_, at)| at).collect())
}

/// What it is called, each contact with the one that is read for it, the contact that is lost, and how it reads.
type Renumbering = (Code, Vec<(usize, usize)>, Option<usize>, String);

/// Contacts read from the wrong side, with rows exchanged, or off by one, at one end.
fn renumbered(cable: &Arc<Cable>, end: usize, all: &mut Vec<Hypothesis>) {
    let connector = &cable.ends[end].connector;
    let mut found: Vec<Renumbering> = Vec::new();
    let numbers = numbered(connector);
    if let Some(pins) = &numbers {
        let n = pins.len();
        let turned = (0..n).map(|i| (pins[i], pins[n - 1 - i])).collect();
        found.push((Code::NumberingMirrored, turned, None, format!("contact n taken for {} − n", n + 1)));
        // the last moves to the first place, which nothing is on
        let up = (0..n).map(|i| (pins[i], pins[(i + 1) % n])).collect();
        found.push((Code::NumberingShifted, up, Some(pins[n - 1]), "contact n taken for n + 1".to_owned()));
        let down = (0..n).map(|i| (pins[i], pins[(i + n - 1) % n])).collect();
        found.push((Code::NumberingShifted, down, Some(pins[0]), "contact n taken for n − 1".to_owned()));
    }
    if connector.rows.len() > 1 {
        let row = |row: &Vec<Option<usize>>| -> Vec<usize> { row.iter().flatten().copied().collect() };
        let rows: Vec<Vec<usize>> = connector.rows.iter().map(row).collect();
        let turned = rows.iter().flat_map(|row| row.iter().copied().zip(row.iter().rev().copied())).collect();
        found.push((Code::NumberingMirrored, turned, None, "each row taken from its other end".to_owned()));
        if let [one, two] = rows.as_slice()
            && one.len() == two.len()
        {
            let exchanged = one.iter().zip(two).flat_map(|(a, b)| [(*a, *b), (*b, *a)]).collect();
            found.push((Code::NumberingRowsExchanged, exchanged, None, "the two rows taken for each other".to_owned()));
        }
    }
    for (code, pairs, lost, reading) in found {
        let mut meant = identity(cable);
        for (pin, read) in &pairs {
            if let (Some(point), Some(read)) = (at(cable, end, *pin), at(cable, end, *read)) {
                meant[point as usize] = read;
            }
        }
        let lost = lost.and_then(|pin| at(cable, end, pin));
        let same = all.iter().any(|known| known.code == code && known.meant == meant && known.lost == lost);
        if !same && meant != identity(cable) {
            all.push(Hypothesis { code, end: Some(end), cable: Arc::clone(cable), meant, lost, reading });
        }
    }
}

/// The two ends of a cable with two like-numbered connectors taken for each other.
fn ends_exchanged(cable: &Arc<Cable>, all: &mut Vec<Hypothesis>) {
    if cable.ends.len() != 2 {
        return;
    }
    let mut meant = Vec::with_capacity(cable.points.len());
    for place in &cable.points {
        let pin = &cable.ends[place.end].connector.pins[place.pin].pin;
        let other = 1 - place.end;
        let Some(found) = cable.ends[other].connector.find(pin).and_then(|pin| at(cable, other, pin)) else { return };
        meant.push(found);
    }
    let mut seen = vec![false; meant.len()];
    if meant.iter().any(|point| std::mem::replace(&mut seen[*point as usize], true)) {
        return;
    }
    let reading = "the two ends taken for each other".to_owned();
    all.push(Hypothesis { code: Code::EndsExchanged, end: None, cable: Arc::clone(cable), meant, lost: None, reading });
}

/// Whether every conductor of two contacts joins contacts of the same number.
fn is_straight(cable: &Cable) -> bool {
    let name = |point: u32| {
        let place = &cable.points[point as usize];
        cable.ends[place.end].connector.pins[place.pin].pin.as_str()
    };
    cable.links.iter().all(|link| match link.points[..] {
        [a, b] if cable.points[a as usize].end != cable.points[b as usize].end => name(a) == name(b),
        _ => true,
    })
}

/// Pin for pin where the cable crosses: a map where each conductor of two contacts joins those of one number. What is tied
/// inside a plug stays as it is.
fn straight(cable: &Arc<Cable>, all: &mut Vec<Hypothesis>) {
    let [first, last] = cable.ends.as_slice() else { return };
    let mut same: Vec<Option<u32>> = Vec::with_capacity(cable.links.len());
    for link in &cable.links {
        let ends = link.points.iter().map(|point| cable.points[*point as usize].end);
        if !ends.eq([0, 1]) {
            same.push(None);
            continue;
        }
        let pin = cable.points[link.points[0] as usize].pin;
        let found = last.connector.find(&first.connector.pins[pin].pin).and_then(|pin| at(cable, 1, pin));
        let Some(found) = found else { return };
        same.push(Some(found));
    }
    let straight = cable.rewired(|links| {
        for (link, same) in links.iter_mut().zip(same) {
            link.points[1] = same.unwrap_or(link.points[1]);
        }
    });
    all.push(Hypothesis {
        code: Code::WiringStraight,
        end: None,
        cable: Arc::new(straight),
        meant: identity(cable),
        lost: None,
        reading: "each contact joined to the one of its own number".to_owned(),
    });
}

/// Reports the cause that takes in a whole end, with its counter-check.
pub(in crate::verify) fn check(case: &Case<'_>, sink: &mut Sink) {
    let Some(whole) = &case.whole_end else { return };
    let hypothesis = &whole.hypothesis;
    let [so, of, as_is, all] = whole.agree;
    let end = match (hypothesis.end, whole.either_end) {
        (Some(_), true) => "at one end (continuity can't tell which)".to_owned(),
        (Some(end), false) => format!("at end {}", case.ends.end(end)),
        (None, _) => String::new(),
    };
    let what = match hypothesis.code {
        Code::NumberingMirrored => format!("the contacts {end} are numbered from the wrong side"),
        Code::NumberingRowsExchanged => format!("the two rows of contacts {end} are exchanged"),
        Code::NumberingShifted => format!("the contacts {end} are off by one"),
        Code::EndsExchanged => "the two ends are the other way round".to_owned(),
        Code::WiringStraight => format!("wired pin for pin, where {} crosses", case.named.name),
        Code::WiringCrossed => format!("wired as {}, where {} runs straight", hypothesis.cable.name, case.named.name),
        _ => format!("wired as {}, which is another published wiring than {}", hypothesis.cable.name, case.named.name),
    };
    let stop = if whole.hazard { ". Do not connect this cable" } else { "" };
    let message =
        format!("{what}: read with {}, {so} of {of} conductors agree; as it stands, {as_is} of {all}{stop}", hypothesis.reading);
    let mut finding = case.finding(hypothesis.code, &[], message);
    let mut known = HashSet::new();
    for contact in &whole.contacts {
        finding.points.push(case.ends.text(*contact).to_owned());
        let signal = &case.named.function(*contact).name;
        if known.insert(signal) {
            finding.signals.push(signal.clone());
        }
    }
    finding.hazard = whole.hazard;
    finding.labels = case.lines_of(&whole.contacts, 3);
    finding.labels.push(Label::new(
        &case.netlist.source,
        case.unit.line,
        format!("{so} of {of} conductors of this unit agree when read so"),
    ));
    finding.why =
        "one cause, not many: whoever made the list or the plug went by another numbering or wiring, so every unit made from \
                   it will show the same"
            .to_owned();
    finding.remedy = match hypothesis.code {
        Code::EndsExchanged => {
            let side = case.named.ends.get(1).map_or("B", |end| end.side.as_deref().unwrap_or(&end.name));
            format!("nothing to rewire: mark the ends anew, or say `end {} {side}` in the header", case.ends.end(0))
        }
        Code::WiringStraight | Code::WiringCrossed | Code::WiringVariant => {
            "settle which wiring was ordered; then rewire one end, or book the cable as what it is".to_owned()
        }
        _ => "compare the view and the numbering of the drawing with the connector in hand: if the list is wrong, mend the list; if the \
              plug was wired so, wire one end anew"
            .to_owned(),
    };
    finding.why.push_str(&as_likely(&whole.rivals));
    finding.source.clone_from(&case.named.standard);
    case.weigh(&mut finding, &case.rows_at(&whole.contacts));
    sink.report(finding);
}

/// Causes for a whole end that explain as much, to go on after the `why` of a finding.
pub(in crate::verify) fn as_likely(rivals: &[(Code, String)]) -> String {
    if rivals.is_empty() {
        return String::new();
    }
    let rivals: Vec<String> = rivals.iter().map(|(code, reading)| format!("{code}, read with {reading}")).collect();
    format!(". As likely: {}; wire colours or a look at the plug tell them apart", rivals.join("; "))
}
