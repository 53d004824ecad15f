//! From what was observed to probabilities, to a claim that goes no further than they do, and to the next measurement.

use super::evidence::Observation;
use super::model::{Applies, Model};

/// From how many times as likely on the evidence takes sides between two causes: "strong" (H. Jeffreys, Theory of
/// Probability, 1961, appendix B; from memory).
pub const STRONG: f64 = 10.0;

/// From this factor on an observation is told as for a cause, below its inverse as against it.
const WORTH_TELLING: f64 = 1.25;

/// Some causes as they stand after what was observed.
#[derive(Clone, Debug)]
#[non_exhaustive]
pub struct Diagnosis {
    /// The causes that make sense for the cable, the most probable first; the last entry is whatever the model doesn't know.
    pub ranked: Vec<Ranked>,
    /// What may be said.
    pub claim: Claim,
    /// The measurements that are left, the one that is expected to tell most in its time first.
    pub next: Vec<Next>,
    /// The one that tells most in its time between the causes that can't be separated, where there are such.
    pub between: Option<Next>,
    /// How much isn't known, in bits: the entropy of the probabilities.
    pub bits: f64,
}

/// A cause as it stands.
#[derive(Clone, Debug)]
pub struct Ranked {
    /// The cause, as an index into [`Model::causes`]; none for whatever the model doesn't know.
    pub cause: Option<usize>,
    /// Its share before anything was observed.
    pub prior: f64,
    /// Its share after it.
    pub probability: f64,
    /// What speaks for it, and how much, the strongest first.
    pub speaks_for: Vec<Leaning>,
    /// What speaks against it, likewise.
    pub against: Vec<Leaning>,
    /// The signs that would say something of it and weren't seen, the most telling first, as indices into [`Model::signs`].
    pub unseen: Vec<usize>,
    /// The logarithm of how likely all observations are with it.
    log_likelihood: f64,
}

/// An observation, and how many times as likely it is with one cause as with the others.
#[derive(Clone, Copy, Debug, PartialEq)]
#[non_exhaustive]
pub struct Leaning {
    /// The observation, by its place in the list.
    pub observation: usize,
    /// Above one where it speaks for the cause.
    pub factor: f64,
}

/// What may be said.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub enum Claim {
    /// Nothing was observed: the ranking is that of the priors.
    NothingObserved,
    /// The evidence points to one cause, [`STRONG`] times against every other.
    PointsTo(usize),
    /// Two causes or more can't be separated on this evidence, the most probable first.
    CannotSeparate(Vec<usize>),
    /// What the model doesn't know is more probable than any cause.
    NoneFits,
}

/// A measurement that is left.
#[derive(Clone, Copy, Debug, PartialEq)]
#[non_exhaustive]
pub struct Next {
    /// The measurement, as an index into [`Model::measurements`].
    pub measurement: usize,
    /// What it is expected to tell, in bits: by how much it lowers the entropy of the probabilities.
    pub bits: f64,
    /// That over the minutes that it takes.
    pub bits_per_minute: f64,
}

/// The causes as they stand after what was observed; `plug_in` says whether the cable may be plugged into equipment.
#[must_use]
pub fn infer(model: &Model, observed: &[Observation], applies: Applies, plug_in: bool) -> Diagnosis {
    let mut ranked = shares(model, observed, applies);
    let seen: Vec<bool> = (0..model.signs.len()).map(|sign| observed.iter().any(|one| one.sign == sign)).collect();
    let open = |sign: usize| !seen[sign] && applies.to(model.signs[sign].only_with);
    let priors: Vec<(Option<usize>, f64)> = ranked.iter().map(|one| (one.cause, one.prior)).collect();
    for one in &mut ranked {
        lean(model, observed, &priors, one);
        one.unseen = unseen(model, &priors, one.cause, &open);
    }
    let claim = claim(observed, &ranked);
    let left = |shares: &[(Option<usize>, f64)]| {
        let mut next: Vec<Next> = (0..model.measurements.len())
            .filter(|at| plug_in || !model.measurements[*at].plugged_in)
            .filter_map(|at| expected(model, at, shares, &open))
            .collect();
        next.sort_by(|a, b| b.bits_per_minute.total_cmp(&a.bits_per_minute).then(a.measurement.cmp(&b.measurement)));
        next
    };
    let after: Vec<(Option<usize>, f64)> = ranked.iter().map(|one| (one.cause, one.probability)).collect();
    let between = match &claim {
        Claim::CannotSeparate(causes) => {
            let tied: Vec<(Option<usize>, f64)> =
                after.iter().copied().filter(|(cause, _)| cause.is_some_and(|cause| causes.contains(&cause))).collect();
            left(&normal(&tied)).first().copied()
        }
        _ => None,
    };
    let bits = entropy(after.iter().map(|(_, share)| *share));
    Diagnosis { next: left(&after), claim, between, bits, ranked }
}

/// The shares of the causes before and after what was observed.
fn shares(model: &Model, observed: &[Observation], applies: Applies) -> Vec<Ranked> {
    let fit: Vec<usize> = (0..model.causes.len()).filter(|cause| applies.to(model.causes[*cause].only_with)).collect();
    let weights: f64 = fit.iter().map(|cause| model.causes[*cause].prior).sum();
    let mut priors: Vec<(Option<usize>, f64)> =
        fit.iter().map(|cause| (Some(*cause), (1.0 - model.doubt) * model.causes[*cause].prior / weights)).collect();
    priors.push((None, model.doubt));
    let mut ranked: Vec<Ranked> = priors
        .iter()
        .map(|(cause, prior)| Ranked {
            cause: *cause,
            prior: *prior,
            probability: *prior,
            speaks_for: Vec::new(),
            against: Vec::new(),
            unseen: Vec::new(),
            log_likelihood: observed.iter().map(|one| likelihood(model, &priors, *cause, one).ln()).sum(),
        })
        .collect();
    let most = ranked.iter().map(|one| one.log_likelihood).fold(f64::NEG_INFINITY, f64::max);
    let total: f64 = ranked.iter().map(|one| one.prior * (one.log_likelihood - most).exp()).sum();
    for one in &mut ranked {
        one.probability = one.prior * (one.log_likelihood - most).exp() / total;
    }
    let waits = |cause: Option<usize>| {
        let until = cause.and_then(|cause| model.causes[cause].stays_until);
        until.is_some_and(|sign| !observed.iter().any(|one| one.sign == sign))
    };
    keep(&mut ranked, |one| match one.cause {
        None => model.doubt,
        cause if waits(cause) => model.stays,
        _ => 0.0,
    });
    ranked.sort_by(|a, b| {
        let last = |one: &Ranked| one.cause.is_none();
        last(a).cmp(&last(b)).then(b.probability.total_cmp(&a.probability)).then(a.cause.cmp(&b.cause))
    });
    ranked
}

/// The most that is given away to causes that would have less.
const MOST_KEPT: f64 = 0.9;

/// Raises shares to the least that they may have, at the cost of the others.
fn keep(ranked: &mut [Ranked], least: impl Fn(&Ranked) -> f64) {
    let short: Vec<bool> = ranked.iter().map(|one| one.probability < least(one)).collect();
    let asked: f64 = ranked.iter().zip(&short).filter(|(_, short)| **short).map(|(one, _)| least(one)).sum();
    let rest: f64 = ranked.iter().zip(&short).filter(|(_, short)| !**short).map(|(one, _)| one.probability).sum();
    if asked <= 0.0 || rest <= 0.0 {
        return;
    }
    let given = asked.min(MOST_KEPT);
    for (one, short) in ranked.iter_mut().zip(short) {
        one.probability = if short { least(one) * given / asked } else { one.probability * (1.0 - given) / rest };
    }
}

/// How often a state of a sign is seen with a cause. What the model doesn't know looks like the average of all causes, half
/// the time, and like anything the other half.
fn seen_with(model: &Model, priors: &[(Option<usize>, f64)], cause: Option<usize>, sign: usize, state: usize) -> f64 {
    if let Some(cause) = cause {
        return model.causes[cause].likelihood[sign][state];
    }
    let known = priors.iter().filter_map(|(cause, prior)| Some((model.causes[(*cause)?].likelihood[sign][state], *prior)));
    let (sum, weight) = known.fold((0.0, 0.0), |(sum, weight), (share, prior)| (sum + share * prior, weight + prior));
    0.5 * sum / weight + 0.5 / model.signs[sign].states.len() as f64
}

/// How likely an observation is with a cause.
fn likelihood(model: &Model, priors: &[(Option<usize>, f64)], cause: Option<usize>, observed: &Observation) -> f64 {
    let states = observed.weights.iter().enumerate();
    states.map(|(state, weight)| weight * seen_with(model, priors, cause, observed.sign, state)).sum::<f64>().max(1e-12)
}

/// What speaks for a cause and against it: each observation beside the average of the other causes.
fn lean(model: &Model, observed: &[Observation], priors: &[(Option<usize>, f64)], one: &mut Ranked) {
    let Some(cause) = one.cause else { return };
    for (at, observation) in observed.iter().enumerate() {
        let own = likelihood(model, priors, Some(cause), observation);
        let others = priors.iter().filter(|(other, _)| other.is_some_and(|other| other != cause));
        let (sum, weight) = others.fold((0.0, 0.0), |(sum, weight), (other, prior)| {
            (sum + prior * likelihood(model, priors, *other, observation), weight + prior)
        });
        let factor = if weight > 0.0 { own / (sum / weight) } else { 1.0 };
        let leaning = Leaning { observation: at, factor };
        if factor >= WORTH_TELLING {
            one.speaks_for.push(leaning);
        } else if factor <= 1.0 / WORTH_TELLING {
            one.against.push(leaning);
        }
    }
    one.speaks_for.sort_by(|a, b| b.factor.total_cmp(&a.factor));
    one.against.sort_by(|a, b| a.factor.total_cmp(&b.factor));
}

/// The signs that weren't seen and on which a cause differs most from the others.
fn unseen(model: &Model, priors: &[(Option<usize>, f64)], cause: Option<usize>, open: &impl Fn(usize) -> bool) -> Vec<usize> {
    let Some(at) = cause else { return Vec::new() };
    let telling = |sign: usize| -> f64 {
        let states = 0..model.signs[sign].states.len();
        states
            .map(|state| {
                let own = model.causes[at].likelihood[sign][state];
                own * (own / seen_with(model, priors, None, sign, state)).ln()
            })
            .sum()
    };
    let mut signs: Vec<(f64, usize)> = (0..model.signs.len())
        .filter(|sign| model.causes[at].touches[*sign] && open(*sign))
        .map(|sign| (telling(sign), sign))
        .collect();
    signs.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
    signs.into_iter().map(|(_, sign)| sign).collect()
}

/// What may be said of causes as they stand.
fn claim(observed: &[Observation], ranked: &[Ranked]) -> Claim {
    if observed.is_empty() {
        return Claim::NothingObserved;
    }
    let known = || ranked.iter().filter_map(|one| Some((one.cause?, one)));
    let unknown = ranked.iter().find(|one| one.cause.is_none()).map_or(0.0, |one| one.probability);
    let Some((leader, first)) = known().next() else { return Claim::NoneFits };
    if first.probability < unknown {
        return Claim::NoneFits;
    }
    let near =
        |one: &Ranked| first.log_likelihood - one.log_likelihood < STRONG.ln() || first.probability < one.probability * STRONG;
    let together: Vec<usize> = known().filter(|(_, one)| near(one)).map(|(cause, _)| cause).collect();
    if together.len() > 1 { Claim::CannotSeparate(together) } else { Claim::PointsTo(leader) }
}

/// What a measurement is expected to tell; none where it shows nothing new.
fn expected(model: &Model, at: usize, shares: &[(Option<usize>, f64)], open: &impl Fn(usize) -> bool) -> Option<Next> {
    let measurement = &model.measurements[at];
    let signs: Vec<usize> = measurement.signs.iter().copied().filter(|sign| open(*sign)).collect();
    if signs.is_empty() {
        return None;
    }
    let tables: Vec<Vec<Vec<f64>>> = signs
        .iter()
        .map(|sign| {
            let states = 0..model.signs[*sign].states.len();
            states.map(|state| shares.iter().map(|(cause, _)| seen_with(model, shares, *cause, *sign, state)).collect()).collect()
        })
        .collect();
    let mut bits = entropy(shares.iter().map(|(_, share)| *share));
    each_outcome(&tables, shares.iter().map(|(_, share)| *share).collect(), &mut |joint| {
        let total: f64 = joint.iter().sum();
        if total > 0.0 {
            bits -= total * entropy(joint.iter().map(|share| share / total));
        }
    });
    let bits = bits.max(0.0);
    Some(Next { measurement: at, bits, bits_per_minute: bits / measurement.minutes })
}

/// Every outcome of some signs, as the share of each cause times how likely the outcome is with it.
fn each_outcome(tables: &[Vec<Vec<f64>>], joint: Vec<f64>, take: &mut impl FnMut(&[f64])) {
    let Some((first, rest)) = tables.split_first() else { return take(&joint) };
    for state in first {
        let joint = joint.iter().zip(state).map(|(so_far, share)| so_far * share).collect();
        each_outcome(rest, joint, take);
    }
}

/// The entropy of shares, in bits.
fn entropy(shares: impl Iterator<Item = f64>) -> f64 {
    shares.filter(|share| *share > 0.0).map(|share| -share * share.log2()).sum()
}

fn normal(shares: &[(Option<usize>, f64)]) -> Vec<(Option<usize>, f64)> {
    let sum: f64 = shares.iter().map(|(_, share)| share).sum();
    shares.iter().map(|(cause, share)| (*cause, share / sum)).collect()
}
