//! The figures: numbers to records, records to matrices as the file writes them.
//!
//! A record is a frequency with the pairs of numbers of one matrix, over one line or several. It begins at a line with an
//! odd count of numbers.

use std::sync::Arc;

use num_complex::Complex64;

use crate::finding::Problem;
use crate::text::{Source, Span};

use super::header::Layout;
use super::option::{Format, number};
use super::reader::Problems;
use super::words::Word;
use super::{MOST_PORTS, PortsFrom};

/// How many numbers a row of noise figures has: frequency, lowest noise figure, two of the best reflection, resistance.
const NOISE_NUMBERS: usize = 5;

#[derive(Debug)]
pub(super) struct Rows<'s> {
    source: &'s Arc<Source>,
    pub ports: Option<usize>,
    pub ports_from: PortsFrom,
    pub scale: f64,
    pub format: Format,
    pub layout: Layout,
    /// Whether noise figures begin at `[Noise Data]`; else they begin where the frequency of a two-port file stops rising.
    pub noise_by_keyword: bool,
    /// Hz, rising.
    pub frequencies: Vec<f64>,
    /// Where each frequency stands.
    pub places: Vec<Span>,
    /// The entries of all matrices, in the order of the file.
    pub entries: Vec<Complex64>,
    pub noise_rows: usize,
    in_noise: bool,
    last_noise: f64,
    /// The numbers of the record that is being read, and where each stands.
    numbers: Vec<(f64, Span)>,
    /// Whether the record has something that can't be read.
    broken: bool,
    /// A record with too few numbers that isn't reported yet, as the next one may be the rest of it.
    short: Option<(Span, usize)>,
    /// Whether the last line had no record to belong to, which is said once.
    headless: bool,
    /// Whether the count of ports is in doubt, so that counts of numbers say nothing more.
    pub given_up: bool,
    /// Whether any figure was met.
    begun: bool,
}

impl<'s> Rows<'s> {
    pub(super) fn new(source: &'s Arc<Source>, ports: Option<usize>) -> Self {
        Rows {
            source,
            ports,
            ports_from: PortsFrom::Name,
            scale: 1e9,
            format: Format::Magnitude,
            layout: Layout::Full,
            noise_by_keyword: false,
            frequencies: Vec::new(),
            places: Vec::new(),
            entries: Vec::new(),
            noise_rows: 0,
            in_noise: false,
            last_noise: f64::NEG_INFINITY,
            numbers: Vec::new(),
            broken: false,
            short: None,
            headless: false,
            given_up: false,
            begun: false,
        }
    }

    /// Whether no figure was met.
    pub(super) fn is_empty(&self) -> bool {
        !self.begun
    }

    /// A line of figures.
    pub(super) fn line(&mut self, words: impl Iterator<Item = Word<'s>>, problems: &mut Problems) {
        let before = self.numbers.len();
        let mut broken = false;
        for word in words {
            let value = number(self.source, word).unwrap_or_else(|problem| {
                if !broken {
                    problems.push(problem);
                }
                broken = true;
                f64::NAN
            });
            self.numbers.push((value, word.span));
        }
        let odd = (self.numbers.len() - before) % 2 == 1;
        if odd && before > 0 {
            let next = self.numbers.split_off(before);
            self.close(false, problems);
            self.numbers = next;
        } else if !odd && before == 0 {
            self.headless(broken, problems);
            return;
        }
        self.headless = false;
        self.broken |= broken;
        self.begun = true;
    }

    /// A first line with an even count: no frequency, or a number too few or too many.
    fn headless(&mut self, broken: bool, problems: &mut Problems) {
        self.begun = true;
        let numbers = std::mem::take(&mut self.numbers);
        let said = std::mem::replace(&mut self.headless, true);
        if let (false, Some((_, span))) = (broken || said, numbers.first()) {
            let problem = Problem::new("a row with an even count of numbers")
                .at(self.source, *span, format!("{} numbers from here", numbers.len()))
                .help("the first line of a matrix has its frequency and pairs of numbers, so an odd count");
            problems.push(problem);
        }
    }

    /// `[Noise Data]`: what follows is noise.
    pub(super) fn begin_noise(&mut self, problems: &mut Problems) {
        self.close(true, problems);
        self.in_noise = true;
    }

    /// The record is whole, as another begins or the figures end.
    pub(super) fn close(&mut self, ended: bool, problems: &mut Problems) {
        let numbers = std::mem::take(&mut self.numbers);
        let broken = std::mem::take(&mut self.broken);
        if let Some(((first, place), pairs)) = numbers.split_first() {
            self.record(first * self.scale, *place, pairs, broken, ended, problems);
        }
        if ended {
            self.report_short(true, problems);
        }
        // the room for numbers is kept from one record to the next
        self.numbers = numbers;
        self.numbers.clear();
    }

    fn record(&mut self, hertz: f64, place: Span, pairs: &[(f64, Span)], broken: bool, ended: bool, problems: &mut Problems) {
        let count = pairs.len() + 1;
        if self.begins_noise(hertz, count) {
            self.in_noise = true;
        }
        if self.in_noise {
            return self.noise(hertz, place, count, broken, problems);
        }
        if !self.counted(place, count, broken, ended, problems) || broken {
            return;
        }
        if !hertz.is_finite() || hertz < 0.0 {
            let label = if hertz < 0.0 { "below zero" } else { "too large" };
            problems.push(Problem::new("this can't be a frequency").at(self.source, place, label));
            return;
        }
        if let (Some(last), Some(at)) = (self.frequencies.last(), self.places.last())
            && *last >= hertz
        {
            let problem = Problem::new("the frequencies don't rise")
                .at(self.source, *at, "the frequency before")
                .at(self.source, place, if *last > hertz { "below the one before" } else { "the same again" })
                .help("each matrix stands once, in the order of its frequency");
            problems.push(problem);
            return;
        }
        self.frequencies.push(hertz);
        self.places.push(place);
        for pair in pairs.chunks_exact(2) {
            let value = complex(self.format, pair[0].0, pair[1].0);
            if !value.is_finite() {
                problems.push(Problem::new("a figure out of range").at(self.source, pair[0].1, "too large"));
            }
            self.entries.push(value);
        }
    }

    /// Whether the noise figures of a version 1 file begin here: a two-port file, a row of five, and a frequency that
    /// doesn't rise.
    fn begins_noise(&self, hertz: f64, count: usize) -> bool {
        !self.noise_by_keyword
            && self.ports == Some(2)
            && count == NOISE_NUMBERS
            && self.frequencies.last().is_some_and(|last| *last >= hertz)
    }

    fn noise(&mut self, hertz: f64, place: Span, count: usize, broken: bool, problems: &mut Problems) {
        self.noise_rows += 1;
        if broken {
            return;
        }
        if count != NOISE_NUMBERS {
            let label = format!("{count} numbers from here, {NOISE_NUMBERS} belong there");
            problems.push(Problem::new("a row of noise figures with a wrong count of numbers").at(self.source, place, label));
        } else if !hertz.is_finite() || hertz < 0.0 || hertz <= self.last_noise {
            problems.push(Problem::new("the frequencies of the noise figures don't rise").at(
                self.source,
                place,
                "not above the last",
            ));
        }
        self.last_noise = hertz;
    }

    /// Whether a record has as many numbers as its ports need; the first one says how many ports there are, if nothing
    /// else does.
    fn counted(&mut self, place: Span, count: usize, broken: bool, ended: bool, problems: &mut Problems) -> bool {
        if self.given_up {
            return false;
        }
        let deduced = (1..=MOST_PORTS).find(|ports| 1 + 2 * self.layout.cells(*ports) == count);
        let Some(ports) = self.ports else {
            self.ports = deduced;
            self.ports_from = PortsFrom::Layout;
            if deduced.is_none() {
                self.given_up = true;
                let problem = Problem::new("how many ports the file has can't be told")
                    .at(self.source, place, format!("{count} numbers from here to the next frequency"))
                    .help("N ports take 1 + 2 x N x N numbers, for N up to 8; or name the file after them, as in `lane0.s4p`");
                problems.push(problem);
            }
            return deduced.is_some();
        };
        let wanted = 1 + 2 * self.layout.cells(ports.min(MOST_PORTS));
        if count == wanted || broken {
            self.report_short(false, problems);
            return count == wanted;
        }
        match deduced {
            Some(other) if self.frequencies.is_empty() && !self.noise_by_keyword => {
                self.given_up = true;
                let problem = Problem::new(format!("the file's name says {ports} ports, but its first matrix has {other}"))
                    .at(self.source, place, format!("{count} numbers from here to the next frequency, not {wanted}"))
                    .help(format!("is its ending right? A file of {other} ports ends in `.s{other}p`"));
                problems.push(problem);
            }
            _ => self.wrong_count(place, count, wanted, ended, problems),
        }
        false
    }

    /// A record with a wrong count of numbers. Where a number was lost, the line reads as the beginning of the next
    /// record; so what is too short is held back until the next one shows whether it is the rest.
    fn wrong_count(&mut self, place: Span, count: usize, wanted: usize, ended: bool, problems: &mut Problems) {
        let (place, count) = match self.short.take() {
            Some((first, before)) if before + count <= wanted + 1 => (first, before + count),
            Some((first, before)) => {
                self.miscounted(first, before, false, problems);
                (place, count)
            }
            None => (place, count),
        };
        match count < wanted && !ended {
            true => self.short = Some((place, count)),
            false => self.miscounted(place, count, ended, problems),
        }
    }

    /// Reports a record that was held back as too short.
    fn report_short(&mut self, ended: bool, problems: &mut Problems) {
        if let Some((place, count)) = self.short.take() {
            self.miscounted(place, count, ended, problems);
        }
    }

    fn miscounted(&self, place: Span, count: usize, ended: bool, problems: &mut Problems) {
        let ports = self.ports.unwrap_or_default();
        let wanted = 1 + 2 * self.layout.cells(ports);
        let until = if ended { "the end" } else { "the next frequency" };
        let label = format!("{count} numbers from here to {until}; {} {wanted}", take(ports));
        problems.push(match ended && count < wanted {
            true => Problem::new("the figures end inside a matrix")
                .at(self.source, place, label)
                .help("the file was cut off, or lost a number; save or copy it again"),
            false => Problem::new("a matrix with a wrong count of numbers").at(self.source, place, label),
        });
    }
}

/// "4 ports take", "1 port takes".
fn take(ports: usize) -> String {
    if ports == 1 { "1 port takes".to_owned() } else { format!("{ports} ports take") }
}

/// The value of a pair of numbers.
fn complex(format: Format, one: f64, two: f64) -> Complex64 {
    match format {
        Format::Real => Complex64::new(one, two),
        Format::Magnitude => Complex64::from_polar(one, two.to_radians()),
        Format::Decibel => Complex64::from_polar(libm::pow(10.0, one / 20.0), two.to_radians()),
    }
}
