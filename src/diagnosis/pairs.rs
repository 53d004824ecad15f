//! The figures of the pairs of a unit, from the networks that its netlist names.

use crate::pinmap::{Cable, LinkRates};
use crate::signal::rates::{self, Judged, Ladder, Lane, Quantity, Rate};
use crate::signal::{Network, Pair, Settings, analyse};
use crate::verify::{Measured, MeasuredPair, UnitReport};

use super::figures::SignalFigures;
use super::link::Link;

/// The figures of the measured pairs of a unit, and what could not be told, in words.
#[must_use]
pub fn figures(report: &UnitReport) -> (Vec<SignalFigures>, Vec<String>) {
    let (mut figures, mut notes) = (Vec::new(), Vec::new());
    let Some(measured) = report.measured.as_deref() else { return (figures, notes) };
    for pair in &measured.pairs {
        if pair.pair.is_empty() {
            notes.push(format!("{} isn't of a pair of the map, so it was left out", pair.path));
            continue;
        }
        match of_pair(&report.cable, measured, pair, &mut notes) {
            Ok(one) => figures.push(one),
            Err(why) => notes.push(format!("{} was left out: {why}", pair.path)),
        }
    }
    notes.dedup();
    (figures, notes)
}

fn of_pair(cable: &Cable, measured: &Measured, pair: &MeasuredPair, notes: &mut Vec<String>) -> Result<SignalFigures, String> {
    let carried = link_rates(cable, pair.near, measured.rated.as_deref());
    let ladder = carried.and_then(|link| rates::ladder(&link.ladder));
    let rate = ladder.and_then(|ladder| rate(ladder, measured.rated.as_deref(), notes));
    if ladder.is_none() {
        notes.push(format!("no rates are known for {}: loss, skew and conversion of its pairs can't be judged", cable.name));
    }
    let link = Link {
        nyquist_hz: rate.map(Rate::nyquist),
        differential_ohm: carried.map_or_else(|| pair.network.reference()[0] * 2.0, |link| link.ohm),
        allowed_loss_db: rate.and_then(allowed_loss),
        metres: measured.metres,
        area_mm2: measured.area_mm2,
        loop_ohm: measured.wire.map(|wire| 2.0 * (wire.nominal + wire.contacts)),
    };
    let mut settings =
        Settings { differential_ohm: Some(link.differential_ohm), length_m: measured.metres, ..Settings::default() };
    if let Some(nyquist) = link.nyquist_hz {
        settings.skew_band_hz = [0.2 * nyquist, nyquist];
        settings.fit_band_hz = [settings.fit_band_hz[0].min(0.02 * nyquist), 1.5 * nyquist];
        settings.nyquist_hz = vec![nyquist];
    }
    let analysis = analyse(&pair.network, &settings)?;
    let analysed = analysis.pairs.first().ok_or("there is no pair in it")?;
    let ends = [pair.ends[0].as_str(), pair.ends[1].as_str()];
    let mut figures = SignalFigures::of(&pair.pair, ends, analysed, &link);
    figures.headroom = ladder.zip(rate).and_then(|(ladder, rate)| headroom(ladder, rate, &pair.network, link.differential_ohm));
    Ok(figures)
}

/// The link that a pair carries, by its contacts at one end; of several, the one whose ladder knows the rated rate.
fn link_rates<'c>(cable: &'c Cable, contacts: [u32; 2], rated: Option<&str>) -> Option<&'c LinkRates> {
    let has = |points: [u32; 2]| points == contacts || points == [contacts[1], contacts[0]];
    let here = || cable.link_rates.iter().filter(|link| link.lanes.iter().any(|lane| has(lane.near) || has(lane.far)));
    let knows =
        |link: &&LinkRates| rates::ladder(&link.ladder).zip(rated).is_some_and(|(ladder, word)| ladder.rate(word).is_some());
    here().find(knows).or_else(|| here().next())
}

/// The rated rate; without one, or with a word that the ladder doesn't know, the slowest: what fails there fails everywhere.
fn rate<'l>(ladder: &'l Ladder, rated: Option<&str>, notes: &mut Vec<String>) -> Option<&'l Rate> {
    let known = rated.and_then(|word| ladder.rate(word));
    let slowest = ladder.rates.first();
    if let (None, Some(slowest)) = (known, slowest) {
        let why = rated
            .map_or_else(|| "no `rated` line".to_owned(), |word| format!("`rated {word}` isn't on the ladder {}", ladder.name));
        notes.push(format!("{why}: pairs were held against {}, the slowest rate of {}", slowest.name, ladder.title));
    }
    known.or(slowest)
}

/// The loss in dB that a rate allows at its own deciding frequency, where a standard gives one there.
fn allowed_loss(rate: &Rate) -> Option<f64> {
    match &rate.judged {
        Judged::Eye(rule) => {
            let loss = rule.loss.as_ref()?;
            ((loss.mhz * 1e6 / rate.nyquist() - 1.0).abs() < 0.01).then_some(loss.db)
        }
        Judged::Lines(rule) => rule.limits.at(Quantity::InsertionLoss, rule.to_mhz),
    }
}

/// What the pair alone has to spare at a rate, by the estimate of the ladder; crosstalk isn't in it.
fn headroom(ladder: &Ladder, rate: &Rate, network: &Network, ohm: f64) -> Option<f64> {
    let pair = Pair::new(network, Some(ohm))?;
    let lane = Lane::of_pair("pair", &pair, None)?;
    let alone = Ladder { rates: vec![rate.clone()], ..ladder.clone() };
    let graded = rates::grade(&alone, &[lane], None);
    graded.rates.first()?.lanes.first()?.headroom
}
