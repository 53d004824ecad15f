//! Both netlists against the map of their cable, contact by contact.

use std::collections::{BTreeMap, BTreeSet};

use crate::finding::{Code, Finding, Problem, Severity, Verdict};
use crate::graph::{Change, Changes, Nets, changes};
use crate::pinmap::{Cable, Pairing, Role};

use super::model::{Agreement, Row, ThreeWay};
use super::side::Pair;
use crate::verify::Checker;
use crate::verify::unit::settled;

/// How many contacts a cell of the table names.
const NAMED: usize = 2;

/// The table, where there is a map; `between` are the changes between the two netlists.
///
/// A netlist departs from the map at the contacts that the changes from the map's nets to its own are about. What the
/// map leaves free is settled for each netlist by itself, as a check of that netlist settles it.
pub(super) fn three_way(
    pair: &Pair<'_>,
    between: &Changes,
    checkers: &mut [Checker; 2],
    every_contact: bool,
) -> Result<Option<ThreeWay>, Vec<Problem>> {
    let Some(map) = pair.map() else { return Ok(None) };
    let mut verdicts = [Verdict::Inconclusive; 2];
    let mut findings = [Vec::new(), Vec::new()];
    let mut hazards = [false; 2];
    for (at, side) in pair.sides.iter().enumerate() {
        let report = checkers[at].judge(&map[at], side.given, side.netlist, side.unit)?;
        // what a drawing leaves unsaid is for a check of it: here its wiring counts
        let wiring = || report.findings.iter().filter(|finding| !is_unsaid(finding));
        verdicts[at] = Verdict::of(wiring());
        findings[at] = wiring().map(|finding| finding.code.text().to_owned()).collect();
        hazards[at] = report.findings.iter().any(|finding| finding.hazard);
    }
    let cable = &map[0].cable;
    let wanted = [0, 1].map(|at| settled(&map[at], &pair.sides[at].given, &pair.sides[at].bound, &pair.sides[at].nets));
    let departs = [0, 1].map(|at| about(&changes(&wanted[at], &pair.sides[at].nets, |point| pair.sides[at].knows(point)).list));
    let free = about(&changes(&wanted[0], &wanted[1], |point| pair.knows(point)).list);
    let apart = about(&between.list);
    let nets = pair.sides.each_ref().map(|side| members(&side.nets));
    let mut counts: BTreeMap<Agreement, usize> = BTreeMap::new();
    let mut rows = Vec::new();
    for point in pair.points() {
        let agreement = match departs.each_ref().map(|departs| departs.contains(&point)) {
            _ if !pair.knows(point) => Agreement::Untested,
            [false, false] if apart.contains(&point) && free.contains(&point) => Agreement::BothAllowed,
            [false, false] => Agreement::AllAgree,
            [true, false] => Agreement::FirstDiffers,
            [false, true] => Agreement::SecondDiffers,
            [true, true] if apart.contains(&point) => Agreement::AllDiffer,
            [true, true] => Agreement::RequirementDiffers,
        };
        *counts.entry(agreement).or_default() += 1;
        if matches!(agreement, Agreement::AllAgree | Agreement::Untested) && !every_contact {
            continue;
        }
        let joined_to = |side: usize| match &nets[side][pair.sides[side].nets.of(point) as usize] {
            _ if !pair.sides[side].knows(point) => "not probed".to_owned(),
            net if net.len() == 1 => "open".to_owned(),
            net => brief(pair, net, point),
        };
        rows.push(Row {
            contact: pair.text(point).to_owned(),
            signal: cable.function(point).name.clone(),
            requirement: required(pair, cable, point),
            first: joined_to(0),
            second: joined_to(1),
            agreement,
        });
    }
    let message = message(pair, &counts);
    let (cable, contacts) = (cable.name.clone(), cable.points.len());
    Ok(Some(ThreeWay { cable, verdicts, findings, hazards, contacts, counts, message, rows }))
}

/// The contacts that changes are about.
pub(super) fn about(changes: &[Change]) -> BTreeSet<u32> {
    changes.iter().flat_map(Change::about).collect()
}

/// For each net, by its number, its contacts.
fn members(nets: &Nets) -> Vec<Vec<u32>> {
    let mut members = vec![Vec::new(); nets.labels().len()];
    for (point, net) in (0..).zip(nets.labels()) {
        members[*net as usize].push(point);
    }
    members
}

/// The other contacts of a net, for a cell of the table.
fn brief(pair: &Pair<'_>, net: &[u32], point: u32) -> String {
    let others: Vec<&str> = net.iter().filter(|other| **other != point).take(NAMED).map(|other| pair.text(*other)).collect();
    let more = net.len().saturating_sub(1 + others.len());
    if more > 0 { format!("{} +{more}", others.join(" ")) } else { others.join(" ") }
}

/// What the map wants a contact joined to, in words.
fn required(pair: &Pair<'_>, cable: &Cable, point: u32) -> String {
    let mut words = Vec::new();
    for link in cable.links_at(point).map(|at| &cable.links[at]) {
        let group = link.group.map(|group| &cable.groups[group]);
        let mut text = match group {
            Some(group) if group.pairing == Pairing::Any && cable.role(point) != Role::Shell => format!("any {}", group.name),
            Some(_) => format!("{}, may be commoned", brief(pair, &link.points, point)),
            None => brief(pair, &link.points, point),
        };
        if link.optional {
            text.push_str(", may be missing");
        } else if link.when_screened {
            text.push_str(", if screened");
        }
        words.push(text);
    }
    if words.is_empty() { "open".to_owned() } else { words.join("; ") }
}

/// Which of the three is the odd one out, and what to do.
fn message(pair: &Pair<'_>, counts: &BTreeMap<Agreement, usize>) -> String {
    let names = pair.names();
    let [first, second] = &names;
    let repair = |side: usize| match (pair.sides[side].is_drawing(), pair.drawings()) {
        (true, _) => format!("correct {}", names[side]),
        (false, 1) => "rework the cable".to_owned(),
        (false, _) => format!("rework {}", names[side]),
    };
    let mut said: Vec<String> = Vec::new();
    for (agreement, n) in counts {
        let at = if *n == 1 { "at 1 contact".to_owned() } else { format!("at {n} contacts") };
        said.push(match agreement {
            Agreement::AllAgree => continue,
            Agreement::BothAllowed => format!("{first} and {second} differ {at} in what the requirement leaves free"),
            Agreement::FirstDiffers => format!("requirement and {second} agree, {first} differs {at}: {}", repair(0)),
            Agreement::SecondDiffers => format!("requirement and {first} agree, {second} differs {at}: {}", repair(1)),
            Agreement::RequirementDiffers => {
                let what = match pair.drawings() {
                    1 => "the drawing is wrong, and the cable was built to it; correct the drawing and rework the cable",
                    2 => "correct both drawings, unless another map is meant",
                    _ => "rework both, unless another map is meant",
                };
                format!("{first} and {second} agree, both differ from the requirement {at}: {what}")
            }
            Agreement::AllDiffer => {
                format!("no two of requirement, {first} and {second} agree {at}: {} and {}", repair(0), repair(1))
            }
            Agreement::Untested => format!("nothing can be said {at}: not probed in both"),
        });
    }
    if said.is_empty() {
        said.push(format!("requirement, {first} and {second} agree at every contact"));
    }
    said.join("; ")
}

/// Something that a drawing leaves unsaid: what must be said to build a cable, and not what it says of its wiring.
fn is_unsaid(finding: &Finding) -> bool {
    let unbuilt = matches!(finding.code, Code::DrawingLengthMissing | Code::DrawingGaugeMissing);
    unbuilt || (finding.code.text().starts_with("drawing.") && finding.severity != Severity::Fail)
}
