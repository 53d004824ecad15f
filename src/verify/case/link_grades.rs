//! The links of a cable on the ladders of their rates, by the S-parameters of their lanes.

use crate::finding::Label;
use crate::pinmap::LinkRates;
use crate::signal::rates::{self, Grade, Ladder, Lane, Rate};

use super::Case;
use super::signal_files::SignalFile;

/// A link of the cable, graded by the S-parameters of its lanes.
#[derive(Clone, Debug)]
#[non_exhaustive]
pub struct LinkGrade {
    /// Every rate of its ladder on the lanes that were measured.
    pub grade: Grade,
    /// Which of them were, in the order of the link.
    pub lanes: Vec<String>,
    /// The lanes that the rated rate needs and that were not measured.
    pub missing: Vec<String>,
    /// The line of each lane that was.
    pub labels: Vec<Label>,
    /// How long a signal is on its way through each of them, in seconds.
    pub delays: Vec<Option<f64>>,
}

/// A link, its ladder, and the rated rate on it.
struct Rated<'c> {
    link: &'c LinkRates,
    ladder: &'static Ladder,
    rate: Option<&'static Rate>,
}

/// The links of a cable of which at least one lane was measured, each graded on its own ladder.
#[must_use]
pub(in crate::verify) fn grades(case: &Case<'_>) -> Vec<LinkGrade> {
    let files = &case.signal_files().files;
    if files.is_empty() {
        return Vec::new();
    }
    links(case).iter().filter_map(|rated| graded(case, rated, files)).collect()
}

/// The links whose ladder knows the rated rate; all of them where none does, or where none is stated.
fn links<'c>(case: &Case<'c>) -> Vec<Rated<'c>> {
    let word = case.given.get(|settings| settings.rated).map(|said| said.text().to_owned());
    let all: Vec<Rated<'c>> = case
        .named
        .link_rates
        .iter()
        .filter_map(|link| {
            let ladder = rates::ladder(&link.ladder)?;
            Some(Rated { link, ladder, rate: word.as_deref().and_then(|word| ladder.rate(word)) })
        })
        .collect();
    if all.iter().any(|rated| rated.rate.is_some()) {
        all.into_iter().filter(|rated| rated.rate.is_some()).collect()
    } else {
        all
    }
}

fn graded(case: &Case<'_>, rated: &Rated<'_>, files: &[SignalFile]) -> Option<LinkGrade> {
    let needed = rated.rate.map_or(rated.link.lanes.len(), |rate| rate.lanes.iter().copied().max().unwrap_or(1) as usize);
    let (mut lanes, mut labels, mut missing) = (Vec::new(), Vec::new(), Vec::new());
    for lane in rated.link.lanes.iter().take(needed) {
        let same = |one: [u32; 2], other: [u32; 2]| one == other || one == [other[1], other[0]];
        let of_lane = |file: &&SignalFile| near(case, file).is_some_and(|near| same(near, lane.near) || same(near, lane.far));
        // of several files of one lane each is graded: the worst counts
        let before = lanes.len();
        for file in files.iter().filter(of_lane) {
            let made = Lane::of_network(&lane.name, &file.network, Some(rated.link.ohm), None);
            if let Some(made) = made.and_then(|mut made| made.pop()) {
                lanes.push(made);
                labels.push(file.label.clone());
            }
        }
        if lanes.len() == before {
            missing.push(lane.name.clone());
        }
    }
    let delays = lanes.iter().map(Lane::delay).collect();
    let names = lanes.iter().map(|lane| lane.name.clone()).collect();
    let grade = (!lanes.is_empty()).then(|| rates::grade(rated.ladder, &lanes, rated.rate))?;
    Some(LinkGrade { grade, lanes: names, missing, labels, delays })
}

/// The contacts of the map at the near end of a file.
fn near(case: &Case<'_>, file: &SignalFile) -> Option<[u32; 2]> {
    let numbers = case.bound.numbers(case.netlist.facts.get(file.fact as usize)?);
    Some([*numbers.get(file.ports[0])?, *numbers.get(file.ports[1])?])
}
