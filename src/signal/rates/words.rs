//! The names that people give a rate.

use super::Rate;

/// A name without case, spaces and marks, so that `Cat 6A`, `cat6a` and `CAT-6A` are one.
fn plain(word: &str) -> String {
    word.chars().filter(|c| c.is_alphanumeric() || *c == '.' || *c == '+').flat_map(char::to_lowercase).collect()
}

/// Gbit/s where a word is a speed: `8.1 Gbit/s`, `480 Mbit/s`, `10 Gbps`, `5G`.
fn speed(word: &str) -> Option<f64> {
    let plain = plain(word);
    let letters = plain.find(|c: char| c.is_ascii_alphabetic())?;
    let (figure, unit) = plain.split_at(letters);
    let figure: f64 = figure.parse().ok()?;
    match unit {
        "g" | "gbit" | "gbits" | "gbps" | "gb" | "gbs" | "gbd" => Some(figure),
        "m" | "mbit" | "mbits" | "mbps" | "mb" | "mbs" => Some(figure / 1000.0),
        _ => None,
    }
}

/// The rate that a word means: by a name, by Gbit/s a lane, or by Gbit/s in all. None where none, or more than one, fits.
pub(super) fn find<'a>(rates: &'a [Rate], word: &str) -> Option<&'a Rate> {
    let wanted = plain(word);
    let named = |rate: &&Rate| std::iter::once(&rate.name).chain(&rate.also).any(|name| plain(name) == wanted);
    if let Some(rate) = rates.iter().find(named) {
        return Some(rate);
    }
    let speed = speed(word)?;
    let near = |gbits: f64| (gbits - speed).abs() < 1e-6 * speed.abs();
    let total = |rate: &&Rate| rate.lanes.iter().max().is_some_and(|lanes| near(rate.raw(*lanes)));
    only(rates.iter().filter(|rate| near(rate.gbits))).or_else(|| only(rates.iter().filter(total)))
}

fn only<'a>(mut rates: impl Iterator<Item = &'a Rate>) -> Option<&'a Rate> {
    let first = rates.next()?;
    rates.next().is_none().then_some(first)
}
