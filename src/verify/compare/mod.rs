//! Two netlists net by net: a drawing against a sample, a sample against its sibling, one release against the next.
//!
//! What is compared, and how much it weighs:
//!
//! - **Nets** differ by contacts, not by lines (see [`changes`]): a join is *missing* or
//!   *added*; a contact that is joined elsewhere *moved*; contacts that took each other's places are *exchanged*. A
//!   contact that one of the two says nothing of (`scope listed`) is *untested*, and never missing.
//! - **Figures** for the same contacts differ where what they allow is further apart than their uncertainties together;
//!   where an uncertainty isn't stated, and they aren't equal, it can't be said.
//! - **Parts, pairs and conductors** go by their contacts, then by what they say.
//! - **Header lines** that say what the cable is (cable, type, rated, length, gauge) differ where both say it.
//! - **The map**, where there is one, is the third: whether each of the two conforms to it, and contact by contact which
//!   two of the three agree.
//!
//! Two units are the *same* only where nothing of this differs or is in doubt, and both conform to the map.

mod figures;
mod items;
mod joins;
pub(in crate::verify) mod load;
mod model;
mod points;
mod requirement;
mod side;

pub use model::{Agreement, Beside, Comparison, Difference, Kind, Row, Standing, StepText, ThreeWay, UnitPair, Weight};

use std::collections::HashMap;
use std::path::{Path, PathBuf};

use crate::finding::{Label, Problem, Verdict};
use crate::graph::changes;
use crate::netlist::{Forms, Origin, Scope, Unit};

use crate::verify::{Checker, Given, Options};
pub(in crate::verify) use load::Loaded;
pub(in crate::verify) use points::Texts;
use side::Pair;

/// What the caller may decide about a comparison.
#[derive(Clone, Debug, Default)]
#[non_exhaustive]
pub struct CompareOptions {
    /// The cable whose map is the third, in place of what the netlists say; a path is taken from the current folder.
    pub cable: Option<String>,
    /// Folders of a user's own cables and connectors.
    pub maps: Vec<PathBuf>,
    /// Which file is read how.
    pub forms: Forms,
    /// Keep a row for every contact, and not only for those where not all agree.
    pub every_contact: bool,
}

impl CompareOptions {
    /// The cable whose map is the third, in place of what the netlists say; a path is taken from the current folder.
    #[must_use]
    pub fn with_cable(self, cable: impl Into<String>) -> Self {
        Self { cable: Some(cable.into()), ..self }
    }

    /// One more folder of a user's own cables and connectors.
    #[must_use]
    pub fn with_map(mut self, map: impl Into<PathBuf>) -> Self {
        self.maps.push(map.into());
        self
    }

    /// Which file is read how.
    #[must_use]
    pub fn with_forms(self, forms: Forms) -> Self {
        Self { forms, ..self }
    }

    /// Keep a row for every contact, and not only for those where not all agree.
    #[must_use]
    pub fn with_every_contact(self, every_contact: bool) -> Self {
        Self { every_contact, ..self }
    }
}

/// Compares two files, and hands over the pairs of units in the order of the first; one may be `-`, the standard input.
pub fn compare_files(first: &Path, second: &Path, options: &CompareOptions, each: impl FnMut(UnitPair)) -> Comparison {
    let files = [first, second].map(|path| path.display().to_string());
    if files[0] == "-" && files[1] == "-" {
        let problem = Problem::new("only one of the two netlists can come from the standard input");
        return Comparison { files, problems: vec![problem], ..Comparison::default() };
    }
    compare(files, [load::file(first, &options.forms), load::file(second, &options.forms)], options, each)
}

/// Compares two texts that are already in memory, each with the name that reports give it.
pub fn compare_texts(
    first: (&str, &str),
    second: (&str, &str),
    options: &CompareOptions,
    each: impl FnMut(UnitPair),
) -> Comparison {
    let files = [first.0.to_owned(), second.0.to_owned()];
    compare(files, [load::text(first.0, first.1), load::text(second.0, second.1)], options, each)
}

fn compare(
    files: [String; 2],
    loaded: [Result<Loaded, Problem>; 2],
    options: &CompareOptions,
    mut each: impl FnMut(UnitPair),
) -> Comparison {
    let mut comparison = Comparison { files, ..Comparison::default() };
    let mut usable = Vec::new();
    for loaded in loaded {
        match loaded {
            Ok(mut loaded) => {
                comparison.problems.append(&mut loaded.problems);
                usable.push(loaded);
            }
            Err(problem) => comparison.problems.push(problem),
        }
    }
    let [Some(first), Some(second)] = [usable.first(), usable.get(1)] else { return comparison };
    let loaded = [first, second];
    let mut checkers = loaded.map(|loaded| {
        let folder = if options.cable.is_some() { PathBuf::new() } else { loaded.folder.clone() };
        Checker::new(folder, &Options { cable: options.cable.clone(), maps: options.maps.clone(), ..Options::default() })
    });
    for units in paired(loaded, &mut comparison) {
        match pair(loaded, units, &mut checkers, options) {
            Ok(pair) => {
                comparison.counts[pair.standing as usize] += 1;
                each(pair);
            }
            Err(problems) => {
                comparison.unjudged += 1;
                comparison.problems.extend(problems);
            }
        }
    }
    comparison
}

/// The units that belong together, in the order of the first file; those without a partner are noted.
///
/// One unit is compared with one unit, whatever they are called. A single unit stands for all of a reel where it is a
/// drawing, or where the reel has none of its name. Otherwise units of one name belong together.
fn paired<'l>(loaded: [&'l Loaded; 2], to: &mut Comparison) -> Vec<[&'l Unit; 2]> {
    let units = loaded.map(|loaded| &loaded.netlist.units[..]);
    let by_name = |side: usize| -> HashMap<Option<&'l str>, &'l Unit> {
        units[side].iter().rev().map(|unit| (loaded[side].netlist.name_of(unit), unit)).collect()
    };
    let others = [by_name(1), by_name(0)];
    let stands_for_all = |side: usize| match units[side] {
        [only] => {
            let drawing = Given::new(&loaded[side].head, &loaded[side].netlist, only).origin() == Origin::Drawing;
            drawing || units[1 - side].len() == 1 || !others[side].contains_key(&loaded[side].netlist.name_of(only))
        }
        _ => false,
    };
    match units {
        [[], _] | [_, []] => return Vec::new(),
        [[one], many] if stands_for_all(0) => return many.iter().map(|other| [one, other]).collect(),
        [many, [one]] if stands_for_all(1) => return many.iter().map(|other| [other, one]).collect(),
        _ => {}
    }
    let mut pairs = Vec::new();
    for side in 0..2 {
        for unit in units[side] {
            let name = loaded[side].netlist.name_of(unit);
            match others[side].get(&name) {
                Some(other) if side == 0 => pairs.push([unit, *other]),
                Some(_) => {}
                None => {
                    let label = Label::new(&loaded[side].netlist.source, unit.line, "only in this file");
                    to.unpaired.push((side, name.map(str::to_owned), label));
                }
            }
        }
    }
    pairs
}

/// Compares two units.
fn pair(
    loaded: [&Loaded; 2],
    units: [&Unit; 2],
    checkers: &mut [Checker; 2],
    options: &CompareOptions,
) -> Result<UnitPair, Vec<Problem>> {
    let pair = Pair::new(loaded, units, checkers, options.cable.as_deref())?;
    let nets = pair.sides.each_ref().map(|side| &side.nets);
    let between = changes(nets[0], nets[1], |point| pair.knows(point));
    let mut differences = joins::differences(&pair, &between.list);
    items::items(&pair, &requirement::about(&between.list), &mut differences);
    let mut beside = Vec::new();
    figures::header(&pair, &mut beside, &mut differences);
    figures::figures(&pair, &mut beside, &mut differences);
    let requirement = requirement::three_way(&pair, &between, checkers, options.every_contact)?;
    // a netlist that states its facts pair by pair, and conforms, has stated them all
    let complete = [0, 1].map(|side| {
        let conforms = requirement.as_ref().is_some_and(|three| three.verdicts[side] == Verdict::Conforms);
        conforms && pair.sides[side].given.scope() == Scope::Stated
    });
    differences.extend(untested(&pair, complete));
    differences.sort_by_key(|difference| difference.weight);
    let verdicts = requirement.iter().flat_map(|three| three.verdicts);
    let standing = if differences.iter().any(|difference| difference.weight == Weight::Differs)
        || verdicts.clone().any(|verdict| verdict == Verdict::Fails)
    {
        Standing::Differs
    } else if differences.iter().any(|difference| difference.weight == Weight::Inconclusive)
        || verdicts.clone().any(|verdict| verdict == Verdict::Inconclusive)
    {
        Standing::Inconclusive
    } else {
        Standing::Same
    };
    Ok(UnitPair {
        units: pair.sides.each_ref().map(|side| side.netlist.name_of(side.unit).map(str::to_owned)),
        names: pair.names(),
        drawings: pair.drawings() == 2,
        any_drawing: pair.drawings() > 0,
        standing,
        differences,
        same_nets: between.same,
        beside,
        ends: pair.renamed_ends(),
        requirement,
    })
}

/// The contacts that one of the two says nothing of, while the other does; and that neither is known to be complete.
fn untested(pair: &Pair<'_>, complete: [bool; 2]) -> Vec<Difference> {
    let mut found = Vec::new();
    let mut add = |message: String, points: Vec<u32>, sides: &[usize]| {
        let label = |side: usize| {
            let said = pair.sides[side].given.get(|settings| settings.scope)?;
            let listed = said.value == Scope::Listed;
            Some(said.label(if listed {
                "only the contacts that are named were probed"
            } else {
                "only what the lines state was probed"
            }))
        };
        let labels = sides.iter().filter_map(|side| label(*side)).collect();
        found.push(Difference::new(Kind::Untested, Weight::Inconclusive, message, pair.texts(&points), labels));
    };
    for (side, name) in pair.names().iter().enumerate() {
        let points: Vec<u32> = pair
            .points()
            .filter(|point| !complete[side] && !pair.sides[side].knows(*point) && pair.sides[1 - side].knows(*point))
            .collect();
        if !points.is_empty() {
            let were = if points.len() == 1 { "contact was" } else { "contacts were" };
            let message = format!("{} {were} not probed in {name}: {}", points.len(), pair.list(&points));
            add(message, points, &[side]);
        }
    }
    if pair.points().next().is_none() {
        add("neither of the two names a contact: there is nothing to compare".to_owned(), Vec::new(), &[]);
    }
    if pair.sides.iter().all(|side| side.is_listed()) && complete == [false; 2] {
        add("only some contacts were probed in both: of the rest nothing is known".to_owned(), Vec::new(), &[0, 1]);
    }
    found
}
