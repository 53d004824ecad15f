//! What the faults of a lot have in common.
//!
//! The same fault at the same contacts in many units comes from the drawing or the fixture; faults that lie anywhere come from
//! workmanship; faults that begin at a serial number come from a tool, a reel or a shift. Each pattern is a test of "the faults
//! fall on any place alike", with an exact p-value.
//!
//! Many places are looked at, and one of many looks odd by chance. So each p-value is multiplied by the number of all places and
//! orders that were looked at in the group (Bonferroni): among lots whose faults really are scattered, at most one in a hundred
//! shows any pattern at all ([`LEVEL`]).

use statrs::function::beta::beta_reg;

use crate::text::count;

use super::drift::{Drift, DriftKind, drifts};
use super::group::Group;

/// A pattern is one where its corrected p-value is at most this.
pub const LEVEL: f64 = 0.01;

/// What kind of pattern.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub enum PatternKind {
    /// The same fault at the same contacts in every unit that was tested, three at least.
    EveryUnit,
    /// The same fault at the same contacts in more units than chance gives.
    Repeated,
    /// A contact that has more faults than its neighbours, of whatever kind.
    Contact,
    /// An end that has more faults than the others.
    End,
    /// A cause that takes in a whole end: its numbering, or another wiring.
    WholeEnd,
    /// The same on most conductors: the wire, the length, or the record.
    Material,
    /// Along the serial numbers.
    Drift(DriftKind),
    /// Faults on any place.
    Scattered,
    /// Too few faults to tell.
    TooFew,
}

/// A pattern in words.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub struct Pattern {
    /// What kind.
    pub kind: PatternKind,
    /// What was found: `open at A.3 B.10 in 14 of 40 units`.
    pub found: String,
    /// What to suspect first, and what tells it from the rest.
    pub suspect: &'static str,
    /// How often, out of how many chances.
    pub statistic: (u64, u64),
    /// The p-value, where there is a test: as it is, and corrected for all that was looked at.
    pub p: Option<(f64, f64)>,
}

/// A test that was made.
struct Look {
    pattern: Pattern,
    places: u64,
}

/// The probability of at least `found` in `of` with this chance each.
fn at_least(found: u64, of: u64, chance: f64) -> f64 {
    if found == 0 || chance >= 1.0 {
        1.0
    } else if found > of || chance <= 0.0 {
        0.0
    } else {
        beta_reg(found as f64, (of - found) as f64 + 1.0, chance)
    }
}

const REPEATED: &str = "a drawing, a numbering or a fixture rather than workmanship: check the drawing and the work instruction \
                        at these contacts before single units are repaired";
const EVERY_UNIT: &str = "before the lot is blamed: test again with a second adapter, or with the cable turned end for end. If \
                          the fault stays with the tester it is the fixture; if it goes with the cable, the drawing";
const CONTACT: &str = "a contact of the fixture, or a tool or die of this position: turn a unit end for end, and look at one \
                       termination under the microscope";
const END: &str = "what is done at this end: its tool, its operator, its adapter. Turn a unit end for end first";
const WHOLE_END: &str = "one numbering or wiring for a whole end: compare the drawing with the map before any unit is touched";
const MATERIAL: &str =
    "the wire, the length or the record, not single joints: tape the length, and measure one metre of the wire";

/// Whether a code is about a whole end.
fn whole_end(code: &str) -> bool {
    code.starts_with("numbering.") || code.starts_with("wiring.") || code == "ends.exchanged"
}

/// Whether a fault is on most conductors alike.
fn material(group: &Group, code: &str, points: &str) -> bool {
    let touched = points.split(' ').count() as u64;
    let contacts: u64 = group.contacts.values().sum();
    code.starts_with("conductor.") || (touched > 4 && 2 * touched > contacts)
}

/// The patterns of a group, the surest first; the last says so where there is none.
#[must_use]
pub fn patterns(group: &Group) -> Vec<Pattern> {
    let mut sure = Vec::new();
    let mut looks = Vec::new();
    repeated(group, &mut sure, &mut looks);
    contacts(group, &mut looks);
    ends(group, &mut looks);
    looks.extend(drifts(group).into_iter().map(drift));
    let places = looks.iter().map(|look| look.places).sum::<u64>().max(1) as f64;
    let mut found: Vec<Pattern> = looks
        .into_iter()
        .filter_map(|Look { mut pattern, .. }| {
            let (p, _) = pattern.p?;
            pattern.p = Some((p, (p * places).min(1.0)));
            (p * places <= LEVEL || pattern.kind == PatternKind::EveryUnit).then_some(pattern)
        })
        .collect();
    found.sort_by(|a, b| {
        let p = |pattern: &Pattern| pattern.p.map_or(0.0, |(_, corrected)| corrected);
        (a.kind != PatternKind::EveryUnit).cmp(&(b.kind != PatternKind::EveryUnit)).then(p(a).total_cmp(&p(b)))
    });
    // a contact that a repeated fault names is told by that fault
    let told: Vec<String> = found.iter().filter(|pattern| is_repeated(pattern)).map(|pattern| pattern.found.clone()).collect();
    found.retain(|pattern| {
        pattern.kind != PatternKind::Contact || {
            let contact = pattern.found.split(' ').next().unwrap_or("");
            !told.iter().any(|told| told.split(' ').any(|word| word == contact))
        }
    });
    sure.extend(found);
    close(group, &mut sure);
    sure
}

fn is_repeated(pattern: &Pattern) -> bool {
    matches!(pattern.kind, PatternKind::EveryUnit | PatternKind::Repeated)
}

/// Says so where the faults have no place in common.
fn close(group: &Group, patterns: &mut Vec<Pattern>) {
    let findings: u64 = group.codes.values().map(|found| found.findings).sum();
    if findings == 0 || !patterns.is_empty() {
        return;
    }
    let units = group.first.units();
    let statistic = (group.first.not_accepted(), units);
    patterns.push(if findings < 3 {
        let found = format!("{} in {}", count(findings, "fault", "faults"), count(units, "unit", "units"));
        let suspect = "too few faults to tell a pattern from chance";
        Pattern { kind: PatternKind::TooFew, found, suspect, statistic, p: None }
    } else {
        let found = format!(
            "{findings} faults, on {}, none more often than chance gives",
            count(group.pins.len(), "contact", "contacts")
        );
        let suspect = "workmanship: sort every unit, count faults per thousand joints, and watch the next lot";
        Pattern { kind: PatternKind::Scattered, found, suspect, statistic, p: None }
    });
}

/// The same code at the same contacts.
fn repeated(group: &Group, sure: &mut Vec<Pattern>, looks: &mut Vec<Look>) {
    let units = group.first.units();
    for (code, found) in &group.codes {
        if whole_end(code) {
            let words = format!("{code} in {} of {}", found.units, count(units, "unit", "units"));
            let statistic = (found.units, units);
            sure.push(Pattern { kind: PatternKind::WholeEnd, found: words, suspect: WHOLE_END, statistic, p: None });
            continue;
        }
        let of_pairs = code.starts_with("pair.") && group.pairs > 0;
        let places = if of_pairs { group.pairs } else { group.conductors }.max(1);
        let mut looked = false;
        for ((_, points), units_with) in
            group.patterns.range((code.clone(), String::new())..).take_while(|((of, _), _)| of == code)
        {
            let statistic = (*units_with, found.findings);
            if material(group, code, points) {
                let words = format!("{code} on most conductors alike in {units_with} of {}", count(units, "unit", "units"));
                sure.push(Pattern { kind: PatternKind::Material, found: words, suspect: MATERIAL, statistic, p: None });
                continue;
            }
            let p = at_least(*units_with, found.findings, 1.0 / places as f64);
            let every = *units_with == units && units >= 3;
            let (kind, suspect) = if every { (PatternKind::EveryUnit, EVERY_UNIT) } else { (PatternKind::Repeated, REPEATED) };
            let words = format!(
                "{code} at {points} in {} {}",
                if every { "all of".to_owned() } else { format!("{units_with} of") },
                count(units, "unit", "units")
            );
            let pattern = Pattern { kind, found: words, suspect, statistic, p: Some((p, p)) };
            looks.push(Look { pattern, places: if looked { 0 } else { places } });
            looked = true;
        }
    }
}

/// Contacts, whatever the fault.
fn contacts(group: &Group, looks: &mut Vec<Look>) {
    let fewest = group.contacts.values().copied().min().unwrap_or(1).max(1);
    for (end, found) in &group.ends {
        let findings = found.shared + found.alone;
        let contacts = group.contacts.get(end).copied().unwrap_or(fewest).max(1);
        let chance = (found.touches as f64 / findings.max(1) as f64 / contacts as f64).min(1.0);
        let start = format!("{end}.");
        let mut looked = false;
        for (point, count) in group.pins.range(start.clone()..).take_while(|(point, _)| point.starts_with(&start)) {
            let p = at_least(*count, findings, chance);
            let words = format!("{point} in {count} of the {findings} faults that touch {end}");
            let statistic = (*count, findings);
            let pattern = Pattern { kind: PatternKind::Contact, found: words, suspect: CONTACT, statistic, p: Some((p, p)) };
            looks.push(Look { pattern, places: if looked { 0 } else { contacts } });
            looked = true;
        }
    }
}

/// Ends, for the faults that lie at one of them.
fn ends(group: &Group, looks: &mut Vec<Look>) {
    let alone: u64 = group.ends.values().map(|found| found.alone).sum();
    let contacts: u64 = group.contacts.values().sum();
    for (end, found) in &group.ends {
        let Some(own) = group.contacts.get(end).filter(|_| group.contacts.len() > 1) else { continue };
        let p = at_least(found.alone, alone, *own as f64 / contacts.max(1) as f64);
        let words = format!("end {end} has {} of the {alone} faults that lie at one end", found.alone);
        let statistic = (found.alone, alone);
        let pattern = Pattern { kind: PatternKind::End, found: words, suspect: END, statistic, p: Some((p, p)) };
        looks.push(Look { pattern, places: 1 });
    }
}

fn drift(drift: Drift) -> Look {
    let Drift { kind, code, series, inside, outside, p, looks } = drift;
    let what = code.unwrap_or_else(|| "units that aren't accepted".to_owned());
    let (bad, of) = inside;
    let found = match kind {
        DriftKind::From(number) => {
            format!("{what}: from serial {series}{number} on {bad} of {of} units, before it {} of {}", outside.0, outside.1)
        }
        DriftKind::Before(number) => {
            format!("{what}: before serial {series}{number} {bad} of {of} units, from it on {} of {}", outside.0, outside.1)
        }
        DriftKind::Rising => format!("{what}: more and more along the serials {series}…, {bad} of {of} units in all"),
        DriftKind::Falling => format!("{what}: fewer and fewer along the serials {series}…, {bad} of {of} units in all"),
        DriftKind::Stretches => {
            format!("{what}: {bad} of {of} units, which lie together along the serials {series}… ({} runs)", outside.0)
        }
    };
    let suspect = match kind {
        DriftKind::From(_) | DriftKind::Rising => {
            "tool wear, a new reel, another set-up or shift: split the lot there, and compare date, reel and operator"
        }
        DriftKind::Before(_) | DriftKind::Falling => {
            "the first set-up, or the end of an old reel: split the lot there, and compare date, reel and operator"
        }
        DriftKind::Stretches => "a reel, a tray or an hour that went wrong: compare date, reel and operator of these serials",
    };
    Look {
        pattern: Pattern { kind: PatternKind::Drift(kind), found, suspect, statistic: inside, p: Some((p, p)) },
        places: looks,
    }
}
