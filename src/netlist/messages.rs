//! What is said of a line that can't be read.

use std::sync::Arc;

use crate::finding::Problem;
use crate::text::{Source, Span, visible};
use crate::units::Unit as Measure;

use super::damage::Damage;
use super::grammar::{Expected, What, is_blank};
use super::parse::{Reader, trim};

impl Reader<'_> {
    pub(super) fn unknown(&self, keyword: &[u8]) -> Problem {
        let text = String::from_utf8_lossy(keyword);
        let shown: String = visible(&text).chars().take(40).collect();
        let problem = self.problem(format!("unknown word `{shown}`"), keyword, "neither a keyword nor a point such as `A.1`");
        let known = KEYWORDS.iter().map(|word| (strsim::damerau_levenshtein(word, &shown), *word));
        match known.min() {
            Some((distance, word)) if distance <= 2 && distance < word.len() / 2 + 1 => {
                problem.help(format!("did you mean `{word}`?"))
            }
            _ => problem,
        }
    }

    pub(super) fn expected(&self, error: nom::Err<Expected>) -> Box<Problem> {
        Box::new(misread(self.source, self.line, self.start, error))
    }
}

/// What is said of a piece of a line, or of a cell, that isn't what was expected there; `start` is where it starts.
pub(super) fn misread(source: &Arc<Source>, line: &[u8], start: usize, error: nom::Err<Expected>) -> Problem {
    let problem = |message: &str, at: usize, len: usize, label: &str| {
        Problem::new(message).at(source, Span::new(start + at, start + at + len), label)
    };
    let (nom::Err::Error(found) | nom::Err::Failure(found)) = error else {
        return problem("this line can't be read", 0, trim(line).len(), "it ends too early");
    };
    let at = line.len().saturating_sub(found.left);
    let rest = &line[at..];
    let len = rest.iter().position(|b| is_blank(*b) || *b == b'#').unwrap_or(rest.len());
    let word_at = line[..at].iter().rposition(|b| is_blank(*b)).map_or(0, |blank| blank + 1);
    let word = std::str::from_utf8(&line[word_at..at + len]).unwrap_or_default();
    let (at, len) = match found.what {
        What::ClosingQuote => (at, rest.len()),
        // where something is missing at the end of the line, the line is what there is to show
        _ if trim(rest).is_empty() => (0, trim(line).len()),
        _ => (at, len),
    };
    let written = String::from_utf8_lossy(&line[at..at + len]);
    let problem = |message: &str, label: &str| problem(message, at, len, label);
    match found.what {
        What::Word => problem("a word is missing", "expected a word, or a text in quotation marks"),
        What::Point => {
            let problem = problem("this isn't a point", "expected END.PIN, as in `A.1` or `B.shell`");
            helped(problem, word)
        }
        What::Pin => {
            let problem = problem("a point without its pin", "expected a pin after the dot: letters, digits, `_`, `+`, `-`");
            helped(problem, word)
        }
        What::Quantity => problem("a figure is missing", "expected a number with its unit, as in `0.41 ohm`"),
        What::Number => problem("this isn't a number", "expected digits, with a point for the decimals"),
        What::DecimalComma => problem("a comma inside a number", "the decimals come after a point: `0.41`, not `0,41`"),
        What::Unit => {
            let problem = problem("unknown unit", "expected ohm, F, m, ft, in, AWG, mm2, C or %, with p n u m k M G before it");
            match near_unit(&written) {
                Some(unit) => {
                    problem.help(format!("did you mean `{unit}`? Case matters: `mohm` is a thousandth, `Mohm` a million"))
                }
                None => problem,
            }
        }
        What::Tolerance => problem("this isn't a tolerance", "expected a percentage, or the same unit as the value"),
        What::ClosingQuote => problem("a quotation mark is never closed", "opened here"),
        What::Gap => helped(problem("a blank is missing", "expected a blank here"), word),
        What::TooLarge => problem("a figure out of range", "too large to be a figure"),
    }
}

/// Adds the way out where the word looks like something that stands in tables, such as a range.
pub(super) fn helped(problem: Problem, written: &str) -> Problem {
    match Damage::of(written) {
        Some(damage) => problem.help(damage.help()),
        None => problem,
    }
}

/// Every word that a line can begin with.
const KEYWORDS: &[&str] = &[
    "cable",
    "source",
    "scope",
    "length",
    "gauge",
    "temperature",
    "rated",
    "price",
    "lot",
    "supplier",
    "type",
    "tested",
    "operator",
    "action",
    "uncertainty",
    "end",
    "connector",
    "view",
    "datum",
    "unit",
    "open",
    "apart",
    "isolation",
    "resistor",
    "capacitor",
    "diode",
    "pair",
    "conductor",
    "capacitance",
    "sparameters",
];

/// The unit that was probably meant.
fn near_unit(written: &str) -> Option<&'static str> {
    let wanted = match written {
        "R" | "Ohm" | "Ohms" | "ohms" | "OHM" | "OHMS" | "O" => return Some("ohm"),
        "kOhm" | "KOhm" | "Kohm" | "kohms" | "K" | "k" => return Some("kohm"),
        "MOhm" | "MOhms" | "Mohms" | "M" => return Some("Mohm"),
        "mOhm" | "mOhms" | "mohms" => return Some("mohm"),
        "awg" => return Some("AWG"),
        "pf" | "PF" => return Some("pF"),
        other => other,
    };
    let near = Measure::spellings().iter().map(|unit| (strsim::damerau_levenshtein(unit, wanted), *unit));
    near.min().filter(|(distance, unit)| *distance == 1 && unit.len() > 2).map(|(_, unit)| unit)
}
