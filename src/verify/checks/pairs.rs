//! Pairs: open, reversed, transposed, or split.

use std::collections::BTreeMap;

use crate::finding::{Code, Finding, Label, Sink};
use crate::netlist::FactKind;

use crate::verify::case::Case;
use crate::verify::case::joins::is_hazard;
use crate::verify::case::trouble::Trouble;
use crate::verify::case::whole_end::as_likely;

use super::components;
use super::conductors::displaced_labels;
use super::place;

/// Reports `pair.open`, `pair.reversed`, `pair.transposed` and `pair.split`.
pub(in crate::verify) fn check(case: &Case<'_>, sink: &mut Sink) {
    for trouble in &case.troubles {
        match trouble {
            Trouble::PairOpen { nets } => sink.report(pair_open(case, *nets)),
            Trouble::Reversed { contacts } => sink.report(reversed(case, *contacts)),
            Trouble::Transposed { exchanges, flipped } => sink.report(transposed(case, *exchanges, *flipped)),
            _ => {}
        }
    }
    split(case, sink);
}

fn pair_open(case: &Case<'_>, nets: [u32; 2]) -> Finding {
    let points: Vec<u32> = nets.iter().flat_map(|net| case.net(*net)).collect();
    let message = format!(
        "both conductors of pair {} are open: {} and {}",
        case.pair(nets[0]),
        case.conductor(nets[0]),
        case.conductor(nets[1])
    );
    let mut finding = case.finding(Code::PairOpen, &points, message);
    finding.labels = case.shown(&points, |points, _| format!("{}: no far contact", case.list(points)));
    finding.labels.extend(case.map_labels(&nets));
    finding.why = "the lane is not there: the link fails, or falls back to what the other pairs can carry".to_owned();
    finding.remedy =
        "both conductors together point to a pair that was never terminated, or cut through: open the plug, terminate the pair, \
         and test the whole cable again"
            .to_owned();
    finding.source = case.sources(&nets);
    place::add(case, &mut finding, nets[0]);
    components::hide_open(case, &mut finding, &nets);
    case.weigh(&mut finding, &case.rows_at(&points));
    finding
}

fn reversed(case: &Case<'_>, contacts: [u32; 2]) -> Finding {
    let nets = contacts.map(|contact| case.wanted.of(contact));
    let points: Vec<u32> = nets.iter().flat_map(|net| case.net(*net)).collect();
    let message = format!(
        "pair {} is reversed: {} and {} are exchanged",
        case.pair(contacts[0].min(nets[0])),
        case.conductor(nets[0].min(nets[1])),
        case.conductor(nets[0].max(nets[1]))
    );
    let mut finding = case.finding(Code::PairReversed, &points, message);
    finding.labels = displaced_labels(case, &points);
    finding.labels.extend(case.map_labels(&nets));
    finding.why = "plus arrives on minus: a receiver that doesn't correct polarity can't read the lane, and one that does hides \
                   the fault"
        .to_owned();
    finding.remedy = "exchange the two contacts of the pair at one end, then test the whole cable again".to_owned();
    finding.source = case.sources(&nets);
    finding.hazard = is_hazard(case, &nets);
    finding.why.push_str(&as_likely(case.rivals));
    case.weigh(&mut finding, &case.rows_at(&points));
    finding
}

fn transposed(case: &Case<'_>, exchanges: [[u32; 2]; 2], flipped: bool) -> Finding {
    let nets: Vec<u32> = exchanges.iter().flatten().map(|contact| case.wanted.of(*contact)).collect();
    let points: Vec<u32> = nets.iter().flat_map(|net| case.net(*net)).collect();
    let [one, other] = exchanges[0].map(|contact| case.pair(case.wanted.of(contact)).to_owned());
    let turned = if flipped { ", with plus on minus" } else { "" };
    let message = format!("pairs {} and {} have changed places{turned}", one.clone().min(other.clone()), one.max(other));
    let mut finding = case.finding(Code::PairTransposed, &points, message);
    finding.labels = displaced_labels(case, &points);
    finding.labels.extend(case.map_labels(&nets));
    finding.why = "each lane arrives at the contacts of the other: the link doesn't train, unless the equipment happens to \
                   cross them back"
        .to_owned();
    finding.remedy =
        "move both conductors of each pair at one end (or see whether another published wiring was used there), then \
                      test the whole cable again"
            .to_owned();
    finding.source = case.sources(&nets);
    finding.why.push_str(&as_likely(case.rivals));
    case.weigh(&mut finding, &case.rows_at(&points));
    finding
}

/// Pairs that are twisted otherwise than the map's signal pairs: from `pair` lines.
fn split(case: &Case<'_>, sink: &mut Sink) {
    // for each contact, the one that it is twisted with, and the line that says so
    let mut twisted: BTreeMap<u32, (u32, u32)> = BTreeMap::new();
    for (nth, fact) in case.lines() {
        if let (FactKind::Pair { .. }, [a, b, ..]) = (fact.kind, &*case.numbers(fact)) {
            twisted.insert(*a, (*b, nth));
            twisted.insert(*b, (*a, nth));
        }
    }
    let mut done: Vec<u32> = Vec::new();
    for &start in twisted.keys() {
        if done.contains(&start) || is_right(case, start, &twisted) {
            continue;
        }
        // follow twist and signal pair in turn: a split takes in two pairs or more
        let mut touched = Vec::new();
        let mut lines: Vec<u32> = Vec::new();
        let mut queue = vec![start];
        while let Some(contact) = queue.pop() {
            if touched.contains(&contact) {
                continue;
            }
            touched.push(contact);
            if let Some((mate, line)) = twisted.get(&contact) {
                queue.push(*mate);
                if !lines.contains(line) {
                    lines.push(*line);
                }
            }
            queue.extend(case.cable.pair_partner(contact));
        }
        done.extend(&touched);
        touched.sort_unstable();
        lines.sort_unstable();
        sink.report(split_finding(case, &touched, &lines, &twisted));
    }
}

/// Whether a contact is twisted with its own partner; contacts outside the pairs may be twisted with each other.
fn is_right(case: &Case<'_>, contact: u32, twisted: &BTreeMap<u32, (u32, u32)>) -> bool {
    let Some((mate, _)) = twisted.get(&contact) else { return true };
    match (case.cable.pair_partner(contact), case.cable.pair_partner(*mate)) {
        (Some(partner), _) => partner == *mate,
        (None, Some(_)) => false,
        (None, None) => true,
    }
}

fn split_finding(case: &Case<'_>, touched: &[u32], lines: &[u32], twisted: &BTreeMap<u32, (u32, u32)>) -> Finding {
    let mut pairs: Vec<&str> = touched.iter().map(|contact| case.pair(*contact)).filter(|pair| !pair.is_empty()).collect();
    pairs.dedup();
    pairs.sort_unstable();
    pairs.dedup();
    let message = match pairs[..] {
        [only] => format!("pair {only} is split: its conductors are not twisted together"),
        _ => format!("pairs {} are split: their conductors are twisted with each other's", pairs.join(" and ")),
    };
    let mut finding = case.finding(Code::PairSplit, touched, message);
    let label = |line: u32| -> Option<Label> {
        let fact = case.netlist.facts.get(line as usize)?;
        let [a, b, ..] = *case.numbers(fact) else { return None };
        let text = format!("{} ({}) is twisted with {} ({})", case.point(a), case.signal(a), case.point(b), case.signal(b));
        Some(case.at(line, text))
    };
    finding.labels = lines.iter().filter_map(|line| label(*line)).collect();
    let nets: Vec<u32> =
        touched.iter().filter(|contact| twisted.contains_key(contact)).map(|contact| case.wanted.of(*contact)).collect();
    finding.labels.extend(case.map_labels(&nets).into_iter().take(4));
    finding.why = "continuity is perfect, yet each signal runs in two twists: crosstalk is high and the impedance wrong, and \
                   errors grow with rate and length"
        .to_owned();
    finding.remedy =
        "take both ends off and terminate them again pair by pair; a second wrong at the other end doesn't undo it".to_owned();
    finding.source = case.sources(&nets);
    case.weigh(&mut finding, &case.pins_at(touched));
    finding
}
