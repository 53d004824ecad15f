//! What a cable's lanes carry together.

use schemars::JsonSchema;
use serde::Serialize;

use super::super::eye::{EyeDensity, Transform};
use super::receiver::Receiver;
use super::{Carries, EyeRule, Judged, Ladder, Lane, LineMargin, Rate, Received, STANDING, lines, loss};

/// Every rate of a ladder on every lane, and what follows.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[non_exhaustive]
pub struct Grade {
    /// The ladder's name.
    pub ladder: String,
    /// How this is to be read.
    pub standing: String,
    /// Each rate, from the slowest up.
    pub rates: Vec<RateResult>,
    /// What each number of lanes carries, from the most lanes down; a link of fewer lanes uses the first of them.
    pub lanes: Vec<LaneCount>,
    /// The rate that the cable is meant for, where one was given.
    pub rated: Option<RatedResult>,
}

/// One rate on every lane.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[non_exhaustive]
pub struct RateResult {
    /// Its name.
    pub name: String,
    /// Gbit/s a lane.
    pub gbits: f64,
    /// The Nyquist frequency in GHz, or the end of the limit lines.
    pub nyquist_ghz: f64,
    /// What is judged by: the published mask or lines with their source, or that it is an own estimate.
    pub judged_by: String,
    /// What else the judgement rests on, in words: the ratio of errors, and what was taken for edge, jitter, noise and boards.
    pub conditions: String,
    /// Whether all lanes carry it.
    pub carries: Carries,
    /// The lane with the least to spare, where any could be judged.
    pub worst: Option<String>,
    /// Each lane.
    pub lanes: Vec<LaneResult>,
}

/// One lane at one rate.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[non_exhaustive]
pub struct LaneResult {
    /// The lane's name.
    pub lane: String,
    /// Whether it carries the rate.
    pub carries: Carries,
    /// Its loss at the Nyquist frequency in dB; none where the file ends below.
    pub nyquist_loss_db: Option<f64>,
    /// What there is to spare at the narrowest place, as a part of what is asked for; negative where something is missed.
    pub headroom: Option<f64>,
    /// Its eyes, where it is judged by them.
    pub eye: Option<Received>,
    /// Its margins to limit lines, where it is judged by those.
    pub lines: Vec<LineMargin>,
}

/// The highest rate for a number of lanes.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[non_exhaustive]
pub struct LaneCount {
    /// How many lanes.
    pub lanes: u32,
    /// The highest rate that all of them carry: what link training falls back to.
    pub highest: Option<String>,
    /// Gbit/s in one direction there, before coding is taken off.
    pub raw_gbits: Option<f64>,
    /// Gbit/s of payload there.
    pub payload_gbits: Option<f64>,
    /// Higher rates that couldn't be judged.
    pub not_judged: Vec<String>,
    /// How many steps above (negative: below) the rated one; one below the slowest where none is carried.
    pub steps: Option<i64>,
}

/// The rated rate.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[non_exhaustive]
pub struct RatedResult {
    /// Its name.
    pub name: String,
    /// Whether all lanes carry it.
    pub carries: Carries,
    /// The highest rate that all lanes carry.
    pub reached: Option<String>,
    /// How many steps above (negative: below) the rated one that is; one below the slowest where none is carried.
    pub steps: i64,
    /// The lane with the least to spare at the rated rate.
    pub worst: Option<String>,
}

/// Grades a cable's lanes on a ladder. Lanes of a link come in its order; rates that the files say too little of aren't judged.
#[must_use]
pub fn grade(ladder: &Ladder, lanes: &[Lane], rated: Option<&Rate>) -> Grade {
    let mut transform = Transform::default();
    let delays: Vec<Vec<f64>> = if ladder.rates.iter().any(|rate| matches!(rate.judged, Judged::Lines(_))) {
        lanes.iter().map(|lane| lines::delay(&lane.through)).collect()
    } else {
        Vec::new()
    };
    let mut known: Vec<(&EyeRule, f64, Vec<LaneResult>)> = Vec::new();
    let mut rates = Vec::new();
    for rate in &ladder.rates {
        let results = match &rate.judged {
            Judged::Eye(rule) => {
                // a rate that differs from another only in its number of lanes has the same eyes
                let same = known.iter().find(|(other, gbits, _)| *gbits == rate.gbits && **other == **rule);
                match same {
                    Some((_, _, results)) => results.clone(),
                    None => {
                        let results = eyes(rate, rule, lanes, &mut transform);
                        known.push((rule, rate.gbits, results.clone()));
                        results
                    }
                }
            }
            Judged::Lines(rule) => (0..lanes.len())
                .map(|at| {
                    let (carries, margins) = lines::judge(at, lanes, &delays, rule);
                    lane_result(rate, &lanes[at], carries, None, margins)
                })
                .collect(),
        };
        rates.push(rate_result(rate, results));
    }
    let counts: Vec<u32> = {
        let mut counts: Vec<u32> = ladder.lanes.iter().copied().filter(|count| *count as usize <= lanes.len()).collect();
        counts.sort_unstable_by(|a, b| b.cmp(a));
        counts
    };
    let rated_step = rated.and_then(|rate| ladder.step(&rate.name));
    Grade {
        ladder: ladder.name.clone(),
        standing: STANDING.to_owned(),
        lanes: counts.iter().map(|count| lane_count(ladder, &rates, *count, rated_step)).collect(),
        rated: rated_step.and_then(|step| rated_result(&rates, step)),
        rates,
    }
}

/// The eye of a lane at a rate behind the reference receiver, as a picture. Its heights are parts of what is launched.
///
/// None where the rate isn't judged by an eye, or where the file says too little.
#[must_use]
pub fn eye_picture(rate: &Rate, lane: &Lane) -> Option<EyeDensity> {
    match &rate.judged {
        Judged::Eye(rule) => Receiver::new(rate, rule, &lane.through).picture(lane, &mut Transform::default()),
        Judged::Lines(_) => None,
    }
}

fn eyes(rate: &Rate, rule: &EyeRule, lanes: &[Lane], transform: &mut Transform) -> Vec<LaneResult> {
    let mut receiver: Option<Receiver> = None;
    let mut results = Vec::new();
    for lane in lanes {
        let fitting = match receiver.take().filter(|receiver| receiver.fits(&lane.through)) {
            Some(fitting) => fitting,
            None => Receiver::new(rate, rule, &lane.through),
        };
        let (carries, received) = fitting.judge(lane, transform);
        results.push(lane_result(rate, lane, carries, received, Vec::new()));
        receiver = Some(fitting);
    }
    results
}

fn lane_result(rate: &Rate, lane: &Lane, carries: Carries, eye: Option<Received>, lines: Vec<LineMargin>) -> LaneResult {
    let of_lines = lines.iter().map(|margin| margin.margin / margin.limit.abs().max(1e-9));
    let of_eye = match (&rate.judged, &eye) {
        (Judged::Eye(rule), Some(eye)) => {
            let loss = rule.loss.as_ref().and_then(|loss| Some(eye.margins.loss_db? / loss.db.max(1e-9)));
            let (height, width) = (eye.received.height_mv / rule.height_mv, eye.received.width_ui / rule.width_ui);
            [Some(height - 1.0), Some(width - 1.0), loss]
        }
        _ => [None; 3],
    };
    LaneResult {
        lane: lane.name.clone(),
        carries,
        nyquist_loss_db: loss(&lane.through, rate.nyquist()),
        headroom: of_lines.chain(of_eye.into_iter().flatten()).min_by(f64::total_cmp),
        eye,
        lines,
    }
}

fn rate_result(rate: &Rate, lanes: Vec<LaneResult>) -> RateResult {
    let judged_by = match &rate.judged {
        Judged::Eye(rule) if rule.published => format!("published mask: {}", rule.mask),
        Judged::Eye(rule) => format!("no published mask: {}", rule.mask),
        Judged::Lines(rule) => format!("published limits: {}", rule.limits.source()),
    };
    RateResult {
        name: rate.name.clone(),
        gbits: rate.gbits,
        nyquist_ghz: rate.nyquist() / 1e9,
        judged_by,
        conditions: conditions(rate),
        carries: together(&lanes),
        worst: worst(&lanes),
        lanes,
    }
}

fn conditions(rate: &Rate) -> String {
    match &rate.judged {
        Judged::Eye(rule) => format!(
            "errors in {:e} of the bits; launched {} mV with edges of {} ps; noise {} mV, random jitter {} UI, deterministic jitter {} \
             UI, boards {} dB (own estimates)",
            rule.error_ratio, rule.launch_mv, rule.edge_ps, rule.noise_mv, rule.random_ui, rule.deterministic_ui, rule.boards_db
        ),
        Judged::Lines(rule) => format!("up to {} MHz", rule.to_mhz),
    }
}

/// What lanes carry together: a failure weighs more than a doubt, and a doubt more than a success.
fn together(lanes: &[LaneResult]) -> Carries {
    let named = |lane: &LaneResult, why: &str| format!("{}: {why}", lane.lane);
    let fails = lanes.iter().find_map(|lane| match &lane.carries {
        Carries::No(why) => Some(Carries::No(named(lane, why))),
        _ => None,
    });
    let doubts = || {
        lanes.iter().find_map(|lane| match &lane.carries {
            Carries::NotJudged(why) => Some(Carries::NotJudged(named(lane, why))),
            _ => None,
        })
    };
    let none = || lanes.is_empty().then(|| Carries::NotJudged("no lanes".to_owned()));
    fails.or_else(doubts).or_else(none).unwrap_or(Carries::Yes)
}

fn worst(lanes: &[LaneResult]) -> Option<String> {
    let judged = lanes.iter().filter_map(|lane| Some((lane.headroom?, &lane.lane)));
    judged.min_by(|a, b| a.0.total_cmp(&b.0)).map(|(_, lane)| lane.clone())
}

fn lane_count(ladder: &Ladder, rates: &[RateResult], count: u32, rated: Option<usize>) -> LaneCount {
    let fitting = ladder.rates.iter().zip(rates).enumerate().filter(|(_, (rate, _))| rate.lanes.contains(&count));
    let mut highest: Option<(usize, &Rate)> = None;
    let mut not_judged = Vec::new();
    for (step, (rate, result)) in fitting {
        match together(result.lanes.get(..count as usize).unwrap_or_default()) {
            Carries::Yes => {
                highest = Some((step, rate));
                not_judged.clear();
            }
            Carries::NotJudged(_) => not_judged.push(rate.name.clone()),
            Carries::No(_) => {}
        }
    }
    LaneCount {
        lanes: count,
        highest: highest.map(|(_, rate)| rate.name.clone()),
        raw_gbits: highest.map(|(_, rate)| rate.raw(count)),
        payload_gbits: highest.map(|(_, rate)| rate.payload(count)),
        not_judged,
        steps: rated.map(|rated| steps(highest.map(|(step, _)| step), rated)),
    }
}

fn rated_result(rates: &[RateResult], rated: usize) -> Option<RatedResult> {
    let result = rates.get(rated)?;
    let highest = rates.iter().rposition(|rate| rate.carries.yes());
    Some(RatedResult {
        name: result.name.clone(),
        carries: result.carries.clone(),
        reached: highest.and_then(|step| rates.get(step)).map(|rate| rate.name.clone()),
        steps: steps(highest, rated),
        worst: result.worst.clone(),
    })
}

fn steps(highest: Option<usize>, rated: usize) -> i64 {
    let place = |step: usize| i64::try_from(step).unwrap_or(i64::MAX);
    highest.map_or(-1, place) - place(rated)
}
