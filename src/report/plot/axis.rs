//! An axis: the figures that it spans, its name with its unit, and how its figures are written.

use std::ops::Range;

/// An axis from the smallest to the largest of some figures.
#[derive(Clone, Debug)]
pub(super) struct Axis {
    /// Its name, with the unit that its labels are in.
    pub(super) name: String,
    /// What one of its labels stands for, in the unit of the figures.
    factor: f64,
    /// From where to where it goes, in the unit of its labels.
    range: Range<f64>,
    /// The smallest figure, in the unit of the labels.
    low: f64,
}

impl Axis {
    /// An axis that holds all these finite figures, with some room at either end.
    ///
    /// Figures too large or too small to be read get a power of ten, which its name tells.
    pub(super) fn around(name: &str, values: impl Iterator<Item = f64>, room: f64) -> Self {
        let (low, high) = values.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), value| (low.min(value), high.max(value)));
        let (low, high) = if low > high { (0.0, 1.0) } else { (low, high) };
        let size = low.abs().max(high.abs());
        let power = if size > 0.0 { size.log10().floor() } else { 0.0 };
        let (factor, name) = if (-3.0..6.0).contains(&power) || size == 0.0 {
            (1.0, name.to_owned())
        } else {
            (10_f64.powf(power), format!("{name} x 1e{power:.0}"))
        };
        Axis { name, factor, range: 0.0..1.0, low: 0.0 }.spanning(low / factor, high / factor, room)
    }

    /// The same with labels that each stand for `factor` of the figures.
    pub(super) fn scaled(name: &str, factor: f64, low: f64, high: f64, room: f64) -> Self {
        Axis { name: name.to_owned(), factor, range: 0.0..1.0, low: 0.0 }.spanning(low / factor, high / factor, room)
    }

    /// An axis of frequencies in Hz, in the unit that suits the largest.
    pub(super) fn hertz(values: impl Iterator<Item = f64>) -> Self {
        let values: Vec<f64> = values.collect();
        let most = values.iter().fold(0.0, |most: f64, value| most.max(value.abs()));
        let (factor, unit) = match most {
            _ if !(1.0..1e15).contains(&most) => return Axis::around("Frequency, Hz", values.into_iter(), 0.0),
            _ if most >= 1e9 => (1e9, "GHz"),
            _ if most >= 1e6 => (1e6, "MHz"),
            _ if most >= 1e3 => (1e3, "kHz"),
            _ => (1.0, "Hz"),
        };
        let low = values.iter().copied().fold(f64::INFINITY, f64::min);
        let high = values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        Axis::scaled(&format!("Frequency, {unit}"), factor, low, high, 0.0)
    }

    fn spanning(mut self, low: f64, high: f64, room: f64) -> Self {
        let size = low.abs().max(high.abs()).max(1e-3);
        let width = high - low;
        self.low = low;
        // a flat line stands in the middle
        self.range =
            if width < size * 1e-6 { low - size * 0.5..high + size * 0.5 } else { low - width * room..high + width * room };
        self
    }

    /// The same, from zero where its figures start a little above it.
    pub(super) fn down_to_zero(mut self) -> Self {
        let width = self.range.end - self.range.start;
        if self.low >= 0.0 && self.low < width * 0.5 {
            self.range.start = 0.0;
        }
        self
    }

    /// From where to where it goes, in the unit of its labels.
    pub(super) fn range(&self) -> Range<f64> {
        self.range.clone()
    }

    /// A figure in the unit of the labels, kept within the axis.
    pub(super) fn label_value(&self, value: f64) -> f64 {
        (value / self.factor).clamp(self.range.start, self.range.end)
    }

    /// Where on the axis a figure lies: 0 at its start, 1 at its end.
    pub(super) fn share(&self, value: f64) -> f64 {
        (self.label_value(value) - self.range.start) / (self.range.end - self.range.start)
    }

    /// A label, with as many decimals as tell it from its neighbours.
    pub(super) fn label(&self, value: f64) -> String {
        let width = self.range.end - self.range.start;
        plain(value, (0..9).find(|decimals| width * 10_f64.powi(*decimals) >= 100.0).unwrap_or(9))
    }
}

/// A figure with at most so many decimals, without trailing zeros.
fn plain(value: f64, decimals: i32) -> String {
    let text = format!("{value:.0$}", usize::try_from(decimals).unwrap_or(0));
    let text = if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.') } else { &text };
    if text == "-0" { "0".to_owned() } else { text.to_owned() }
}

/// A figure to four digits, for a sentence.
pub(super) fn four_digits(value: f64) -> String {
    let size = value.abs();
    if size != 0.0 && !(1e-3..1e6).contains(&size) {
        return format!("{value:.2e}");
    }
    let before = if size < 1.0 { 0 } else { (0..7).find(|power| size < 10_f64.powi(*power)).unwrap_or(7) };
    plain(value, (4 - before).clamp(0, 3))
}

/// A frequency in Hz, for a sentence.
pub(super) fn hertz_words(value: f64) -> String {
    let (factor, unit) = match value.abs() {
        size if size >= 1e9 => (1e9, "GHz"),
        size if size >= 1e6 => (1e6, "MHz"),
        size if size >= 1e3 => (1e3, "kHz"),
        _ => (1.0, "Hz"),
    };
    format!("{} {unit}", four_digits(value / factor))
}
