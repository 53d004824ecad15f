//! A diagnosis in sentences.

use std::fmt::Write as _;

use super::evidence::{Evidence, Observation};
use super::infer::{Claim, Diagnosis, Next, Ranked, STRONG};
use super::model::{Cause, Measurement, Model};

/// How many causes that can't be separated are named.
const NAMED: usize = 4;

/// What may be said of the causes, in a sentence or two.
#[must_use]
pub fn claim(model: &Model, diagnosis: &Diagnosis) -> String {
    match &diagnosis.claim {
        Claim::NothingObserved => {
            "Nothing was observed yet: the order is that of the priors, and says nothing of this cable.".to_owned()
        }
        Claim::NoneFits => {
            "None of the known causes fits what was observed: look for a mistake in the record, or for two faults.".to_owned()
        }
        Claim::PointsTo(cause) => format!(
            "The evidence points to {}: it is more than {STRONG} times as likely with that as with any other known cause. That is no \
             proof: confirm it before anything is repaired.",
            short(&model.causes[*cause])
        ),
        Claim::CannotSeparate(causes) => cannot_separate(model, causes, diagnosis.between),
    }
}

fn cannot_separate(model: &Model, causes: &[usize], between: Option<Next>) -> String {
    let names: Vec<&str> = causes.iter().take(NAMED).map(|cause| short(&model.causes[*cause])).collect();
    let more = causes.len() - names.len();
    let list = if more > 0 {
        format!("{} and {more} more", names.join(", "))
    } else if let [first @ .., last] = &names[..] {
        format!("{} and {last}", first.join(", "))
    } else {
        String::new()
    };
    let how = match between {
        Some(next) => format!(" To tell them apart: {}.", model.measurements[next.measurement].words),
        None => " No measurement that this model knows is left to tell them apart.".to_owned(),
    };
    let fits = if causes.len() == 2 { "both" } else { "all of them" };
    format!("Cannot separate {list}: what was observed fits {fits}.{how}")
}

/// A cause in few words: those before the colon.
fn short(cause: &Cause) -> &str {
    cause.words.split(':').next().unwrap_or(&cause.words)
}

/// An observation in words, with the figures behind it.
#[must_use]
pub fn observation(model: &Model, observed: &Observation) -> String {
    let sign = &model.signs[observed.sign];
    let most = observed.weights.iter().copied().fold(0.0, f64::max);
    // states that fit about as well are told together
    let fitting = observed.weights.iter().zip(&sign.states).filter(|(weight, _)| **weight >= most / 2.0);
    let states: Vec<&str> = fitting.map(|(_, state)| state.words.as_str()).collect();
    let states = states.join(", or ");
    if observed.words.is_empty() { states } else { format!("{states} ({})", observed.words) }
}

/// Where a cause sits, or how to find that out; empty where it has no place.
#[must_use]
pub fn where_at(model: &Model, cause: &Cause, evidence: &Evidence) -> String {
    if cause.at_an_end {
        return match (&evidence.end, &cause.locate) {
            (Some((end, how)), _) => format!("at end {end}, {how}"),
            (None, Some(locate)) => format!("at which end isn't known: {locate}"),
            (None, None) => "at which end isn't known".to_owned(),
        };
    }
    let in_mid_run = model.sign("place").and_then(|sign| {
        let state = model.signs[sign].state("middle")?;
        cause.likelihood[sign].get(state).copied()
    });
    match &evidence.place {
        Some(place) if in_mid_run.is_some_and(|share| share > 0.5) => place.clone(),
        _ => String::new(),
    }
}

/// How much an observation speaks for or against a cause.
#[must_use]
pub fn times(factor: f64) -> String {
    let round = |factor: f64| if factor < 9.95 { format!("{factor:.1}") } else { format!("{factor:.0}") };
    if factor >= 1.0 {
        format!("{} times as likely as with the others", round(factor))
    } else {
        format!("{} times as likely with the others", round(1.0 / factor))
    }
}

/// A measurement with the reason for it: what it is expected to tell.
#[must_use]
pub fn next(measurement: &Measurement, next: Next, open: f64) -> String {
    format!(
        "{} ({} min; expected to tell {:.2} of the {open:.2} bits that are open, {:.3} a minute; needs {})",
        measurement.words, measurement.minutes, next.bits, next.bits_per_minute, measurement.needs
    )
}

/// The causes that are worth a place in a short list: the first ones, those that can't be separated from the leader, and those
/// that mustn't be ruled out yet.
#[must_use]
pub fn worth_listing(model: &Model, diagnosis: &Diagnosis) -> Vec<usize> {
    let stays = |one: &Ranked| one.cause.is_some_and(|cause| model.causes[cause].stays_until.is_some());
    let list = diagnosis.ranked.iter().enumerate();
    list.filter(|(at, one)| *at < 3 || (*at < 6 && one.probability >= 0.04) || stays(one)).map(|(at, _)| at).collect()
}

/// What can be said with `--observed`, in lines of so many columns.
#[must_use]
pub fn observed_list(model: &Model, width: usize) -> String {
    let mut out = String::new();
    let mut say = |first: &str, text: &str| {
        let under = " ".repeat(first.chars().count());
        let options = textwrap::Options::new(width).initial_indent(first).subsequent_indent(&under);
        let _ = writeln!(out, "{}", textwrap::fill(text, options));
    };
    say("", "What can be said with --observed WORD=VALUE. Whatever the netlist shows already needn't be said.");
    say("", "");
    let end = "the plug at which the fault shows, by moving it or by turning the cable";
    say(&format!("{:26} ", "end=END"), end);
    for sign in &model.signs {
        say(&format!("{:26} ", sign.name), &sign.asks);
        for state in &sign.states {
            say(&format!("  {:24}   ", format!("={}", state.name)), &state.words);
        }
    }
    out
}
