//! The option line: `# MHz S RI R 50`, its words in any order.

use std::sync::Arc;

use crate::finding::Problem;
use crate::text::{Source, Span};

use super::words::Word;
use crate::signal::network::convert::Parameter;

/// How a complex number is written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Format {
    /// Real and imaginary part.
    Real,
    /// Magnitude and angle in degrees.
    Magnitude,
    /// Magnitude in decibels and angle in degrees.
    Decibel,
}

/// What an option line says; the defaults are those of the specification.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Options {
    /// Hz in the file's unit of frequency.
    pub scale: f64,
    pub parameter: Parameter,
    pub format: Format,
    /// The reference of all ports, or of each, in ohm.
    pub reference: Vec<f64>,
}

impl Default for Options {
    fn default() -> Self {
        Options { scale: 1e9, parameter: Parameter::S, format: Format::Magnitude, reference: vec![50.0] }
    }
}

#[derive(Clone, Copy)]
enum Said {
    Scale(f64),
    Parameter(Parameter),
    Format(Format),
    Resistance,
}

const WORDS: [(&str, Said); 13] = [
    ("hz", Said::Scale(1.0)),
    ("khz", Said::Scale(1e3)),
    ("mhz", Said::Scale(1e6)),
    ("ghz", Said::Scale(1e9)),
    ("s", Said::Parameter(Parameter::S)),
    ("y", Said::Parameter(Parameter::Y)),
    ("z", Said::Parameter(Parameter::Z)),
    ("g", Said::Parameter(Parameter::G)),
    ("h", Said::Parameter(Parameter::H)),
    ("ri", Said::Format(Format::Real)),
    ("ma", Said::Format(Format::Magnitude)),
    ("db", Said::Format(Format::Decibel)),
    ("r", Said::Resistance),
];

impl Options {
    /// Reads the words after `#`.
    pub(super) fn read<'s>(source: &Arc<Source>, words: impl Iterator<Item = Word<'s>>) -> Result<Options, Box<Problem>> {
        let mut options = Options::default();
        let mut seen = [None::<Span>; 4];
        let mut words = words.peekable();
        while let Some(word) = words.next() {
            let known = WORDS.iter().find(|(name, _)| name.eq_ignore_ascii_case(word.text));
            let Some((_, said)) = known else {
                return Err(Problem::new("the option line has a word that it can't have")
                    .at(source, word.span, "none of the words of an option line")
                    .help("it reads # UNIT KIND FORMAT R OHM, as in `# MHz S RI R 50`: Hz, kHz, MHz or GHz; S, Y, Z, G or H; RI, MA or DB")
                    .into());
            };
            let slot = match said {
                Said::Scale(_) => 0,
                Said::Parameter(_) => 1,
                Said::Format(_) => 2,
                Said::Resistance => 3,
            };
            if let Some(first) = seen[slot].replace(word.span) {
                return Err(Problem::new("the option line says the same thing twice")
                    .at(source, first, "once")
                    .at(source, word.span, "and again")
                    .into());
            }
            match said {
                Said::Scale(hertz) => options.scale = *hertz,
                Said::Parameter(parameter) => options.parameter = *parameter,
                Said::Format(format) => options.format = *format,
                Said::Resistance => {
                    options.reference.clear();
                    while let Some(number) = words.next_if(|word| starts_number(word.text)) {
                        options.reference.push(resistance(source, number)?);
                    }
                    if options.reference.is_empty() {
                        let label = "no figure in ohm after it";
                        return Err(Problem::new("the option line states no reference").at(source, word.span, label).into());
                    }
                }
            }
        }
        Ok(options)
    }
}

fn starts_number(word: &str) -> bool {
    !word.starts_with(|c: char| c.is_ascii_alphabetic())
}

/// A reference in ohm.
pub(super) fn resistance(source: &Arc<Source>, word: Word<'_>) -> Result<f64, Box<Problem>> {
    let value = number(source, word)?;
    if value <= 0.0 {
        return Err(Problem::new("a reference of a port must be above zero")
            .at(source, word.span, "ohm")
            .help("it is what the analyser's port is matched to, most often 50 ohm")
            .into());
    }
    Ok(value)
}

/// A finite number.
pub(super) fn number(source: &Arc<Source>, word: Word<'_>) -> Result<f64, Box<Problem>> {
    match word.text.parse::<f64>() {
        Ok(value) if value.is_finite() => Ok(value),
        Ok(_) => Err(Problem::new("a figure that isn't finite").at(source, word.span, "no measured figure").into()),
        Err(_) => {
            let problem = Problem::new("this isn't a number");
            let problem = match word.text.contains(',') {
                true => problem.at(source, word.span, "a comma, where a point belongs"),
                false => problem.at(source, word.span, "expected a number, as in `-0.5` or `1.2e-3`"),
            };
            Err(problem.into())
        }
    }
}
