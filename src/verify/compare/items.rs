//! Parts in plugs, pairs, and conductors with their colour or number.

use std::collections::{BTreeMap, BTreeSet};

use crate::netlist::{ComponentKind, FactKind};
use crate::units::Quantity;

use super::figures::{apart, uncertainty};
use super::model::{Difference, Kind, Weight};
use super::side::{Pair, Side};

/// A line that names two contacts.
struct Item {
    kind: Kind,
    /// The word of the line.
    word: &'static str,
    /// The two contacts, as the line has them.
    points: [u32; 2],
    /// What it says besides: a value, the screen's contact, a colour.
    detail: String,
    value: Option<Quantity>,
    fact: u32,
}

impl Item {
    /// The two contacts, the lower first.
    fn place(&self) -> [u32; 2] {
        let [a, b] = self.points;
        [a.min(b), a.max(b)]
    }
}

fn items_of(pair: &Pair<'_>, side: &Side<'_>) -> Vec<Item> {
    let mut found = Vec::new();
    for (number, fact) in side.facts() {
        let [a, b, ref rest @ ..] = *side.bound.numbers(fact) else { continue };
        let (kind, word, detail, value) = match fact.kind {
            FactKind::Component { kind, figure, .. } => {
                let value = figure.and_then(|id| side.netlist.figure(id)).map(|figure| figure.quantity);
                (Kind::Part, kind.word(), value.map(|value| value.short()).unwrap_or_default(), value)
            }
            FactKind::Pair { .. } => {
                let screen = rest.first().map(|screen| format!("screen {}", pair.text(*screen)));
                (Kind::Pair, "pair", screen.unwrap_or_default(), None)
            }
            FactKind::Conductor { label, gauge, .. } => {
                let gauge = gauge.and_then(|id| side.netlist.figure(id)).map(|figure| figure.quantity);
                (Kind::Conductor, "conductor", side.netlist.source.slice(label).to_owned(), gauge)
            }
            _ => continue,
        };
        found.push(Item { kind, word, points: [a, b], detail, value, fact: number });
    }
    found
}

/// Compares them all; `moved` are the contacts that the changes of the nets are about.
pub(super) fn items(pair: &Pair<'_>, moved: &BTreeSet<u32>, to: &mut Vec<Difference>) {
    let lists = pair.sides.each_ref().map(|side| items_of(pair, side));
    let told_by_nets = |item: &Item| item.kind == Kind::Conductor && item.points.iter().all(|point| moved.contains(point));
    for found in matched(&lists) {
        let said = match found {
            [Some(one), Some(two)] if one.place() == two.place() => same_place(pair, one, two),
            [Some(one), Some(two)] if told_by_nets(one) && told_by_nets(two) => None,
            [Some(one), Some(two)] => {
                let message = format!("{} moves from {} to {}", name(one), pair.list(&one.place()), pair.list(&two.place()));
                Some((message, Weight::Differs))
            }
            [Some(one), None] | [None, Some(one)] if !told_by_nets(one) => {
                let lacks = usize::from(found[1].is_none());
                let message = format!("{} {} is only in {}", name(one), pair.list(&one.points), pair.names()[1 - lacks]);
                let silent = !lists[lacks].iter().any(|item| item.kind == one.kind);
                Some((message, lacking(pair, one.kind, lacks, silent)))
            }
            _ => None,
        };
        let Some((message, weight)) = said else { continue };
        let sides = || [0, 1].into_iter().filter_map(|side| found[side].map(|item| (side, item)));
        let points: BTreeSet<u32> = sides().flat_map(|(_, item)| item.points).collect();
        let labels = sides().map(|(side, item)| pair.sides[side].at(item.fact, "this line")).collect();
        let points = pair.texts(&points.into_iter().collect::<Vec<u32>>());
        to.push(Difference::new(
            found.iter().flatten().next().map_or(Kind::Part, |item| item.kind),
            weight,
            message,
            points,
            labels,
        ));
    }
}

/// What a line is about: `resistor 56 kohm`, `conductor brown`, `pair`.
fn name(item: &Item) -> String {
    if item.kind == Kind::Pair || item.detail.is_empty() {
        item.word.to_owned()
    } else {
        format!("{} {}", item.word, item.detail)
    }
}

/// Two lines of one kind at one place.
fn same_place(pair: &Pair<'_>, one: &Item, two: &Item) -> Option<(String, Weight)> {
    let at = format!("{} {}", one.word, pair.list(&one.place()));
    if one.word == ComponentKind::Diode.word() && one.points != two.points {
        return Some((format!("{at} is the other way round"), Weight::Differs));
    }
    if one.kind == Kind::Conductor && one.detail == two.detail {
        // a size that only one of them states is no difference
        let (a, b) = (one.value?, two.value?);
        let message = format!("{at} ({}) goes from {} to {}", one.detail, a.short(), b.short());
        return (a != b).then_some((message, Weight::Differs));
    }
    let weight = match (one.value, two.value) {
        (Some(_), Some(_)) if one.kind == Kind::Conductor => Some(Weight::Differs),
        (Some(a), Some(b)) => apart(&a, &b, uncertainty(pair, one.word, [&a, &b])),
        _ if one.detail == two.detail => None,
        // a line that names no screen doesn't say that there is none
        _ if one.kind == Kind::Pair && pair.drawings() < 2 && (one.detail.is_empty() || two.detail.is_empty()) => {
            Some(Weight::Inconclusive)
        }
        _ => Some(Weight::Differs),
    }?;
    let text = |detail: &str| if detail.is_empty() { "no screen".to_owned() } else { detail.to_owned() };
    let doubt = if one.value.is_some() && weight == Weight::Inconclusive {
        "; without a tolerance or an `uncertainty` line it can't be said whether they differ"
    } else {
        ""
    };
    Some((format!("{at} goes from {} to {}{doubt}", text(&one.detail), text(&two.detail)), weight))
}

/// How much it weighs that one of the two lacks a line; `silent` says that it has no line of that kind at all.
fn lacking(pair: &Pair<'_>, kind: Kind, side: usize, silent: bool) -> Weight {
    match (kind, pair.drawings()) {
        (_, 2) => Weight::Differs,
        // parts belong to every measurement; pairing shows only where a sample is cut open, and colours where one looked
        (Kind::Pair | Kind::Conductor, 1) if silent => Weight::Note,
        _ if silent => Weight::Inconclusive,
        (Kind::Part, _) => Weight::Differs,
        _ if pair.sides[side].is_drawing() => Weight::Differs,
        _ => Weight::Inconclusive,
    }
}

/// Which line of one unit is which of the other: those at the same place, then those that say the same elsewhere.
///
/// Exchanging the two lists exchanges the two halves of every match, and nothing else.
fn matched(lists: &[Vec<Item>; 2]) -> Vec<[Option<&Item>; 2]> {
    let mut left = lists.each_ref().map(|list| list.iter().collect::<Vec<&Item>>());
    let mut found = by_key(&mut left, |item| Some(format!("{} {:?}", item.word, item.place())));
    found.extend(by_key(&mut left, |item| (item.kind != Kind::Pair && !item.detail.is_empty()).then(|| name(item))));
    let [first, second] = left;
    found.extend(first.into_iter().map(|item| [Some(item), None]));
    found.extend(second.into_iter().map(|item| [None, Some(item)]));
    found.sort_by_key(|found| found.iter().flatten().map(|item| (item.kind, item.place())).min());
    found
}

/// Takes those that have the same key in both, in the order of what they say.
fn by_key<'i>(left: &mut [Vec<&'i Item>; 2], key: impl Fn(&Item) -> Option<String>) -> Vec<[Option<&'i Item>; 2]> {
    let mut groups: BTreeMap<String, [Vec<&'i Item>; 2]> = BTreeMap::new();
    let mut rest: [Vec<&'i Item>; 2] = Default::default();
    for side in 0..2 {
        for item in std::mem::take(&mut left[side]) {
            match key(item) {
                Some(key) => groups.entry(key).or_default()[side].push(item),
                None => rest[side].push(item),
            }
        }
    }
    let mut found = Vec::new();
    for mut group in groups.into_values() {
        for list in &mut group {
            list.sort_by(|a, b| (&a.detail, a.place(), a.points).cmp(&(&b.detail, b.place(), b.points)));
        }
        let both = group[0].len().min(group[1].len());
        found.extend((0..both).map(|nth| [Some(group[0][nth]), Some(group[1][nth])]));
        for (side, list) in group.into_iter().enumerate() {
            rest[side].extend(list.into_iter().skip(both));
        }
    }
    *left = rest;
    found
}
