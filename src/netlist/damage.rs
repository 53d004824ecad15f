//! What becomes of pins and serial numbers in a spreadsheet: dates, exponents, lost zeros, ditto marks, ranges.
//!
//! Such a cell is found and named, with what it may have been. It is never mended: which of the possible originals it
//! was, only the source can say.

use std::sync::Arc;

use crate::finding::Problem;
use crate::text::{Source, Span, visible};

use super::grammar::{is_pin, point};

/// How many digits of a number a spreadsheet keeps: those that every IEEE 754 double keeps (ISO C, `DBL_DIG`).
const DIGITS_KEPT: usize = 15;

/// What a cell looks like.
#[derive(Clone, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub enum Damage {
    /// A date; with what it may have been.
    Date(Vec<String>),
    /// A number in exponent form, `2.20E+02`; with what it may have been.
    Exponent(Vec<String>),
    /// A long number in exponent form, `1.23457E+12`; how many digits it had, and how many are left.
    Shortened(usize, usize),
    /// A whole number where other pins have an `E` between digits: `220` beside `22E2`; with the pin that it may have been.
    ExponentLost(String),
    /// Fewer digits than the others, which begin with zeros; with how many digits those have.
    ZerosLost(usize),
    /// A number of more than 15 digits that ends in zeros.
    Rounded,
    /// A mark that stands for the cell above.
    Ditto,
    /// An empty cell below a filled one.
    Merged,
    /// Words for several rows, such as `1-8 straight` or `A1..A4`.
    Range,
    /// Several points in one cell.
    List,
}

impl Damage {
    /// What a word looks like that should be a point or a pin.
    #[must_use]
    pub fn of(word: &str) -> Option<Self> {
        Self::of_name(word).or_else(|| is_range(word).then_some(Damage::Range)).or_else(|| is_list(word).then_some(Damage::List))
    }

    /// What a word looks like that should be a name: of a unit, a wire, a pair.
    #[must_use]
    pub fn of_name(word: &str) -> Option<Self> {
        let word = word.trim();
        if is_ditto(word) {
            Some(Damage::Ditto)
        } else if let Some(may_be) = date(word) {
            Some(Damage::Date(may_be))
        } else if let Some(damage) = exponent(word) {
            Some(damage)
        } else if is_rounded(word) {
            Some(Damage::Rounded)
        } else {
            joins_two(word).then_some(Damage::Range)
        }
    }

    /// What a pin looks like that no connector has: also `1-8`, which could have been a name.
    #[must_use]
    pub fn of_unknown_pin(pin: &str) -> Option<Self> {
        let two = pin.split_once('-').is_some_and(|(from, to)| {
            let letters = |word: &str| word.trim_end_matches(|c: char| c.is_ascii_digit()).len();
            let counts = |word: &str| letters(word) < word.len();
            counts(from) && counts(to) && from[..letters(from)] == to[..letters(to)]
        });
        Self::of(pin).or(two.then_some(Damage::Range))
    }

    /// The pin with an `E` between digits that a whole number may have been; `mantissa` says which digits stand before
    /// an `E` elsewhere.
    pub(super) fn exponent_lost(number: &str, mantissa: impl Fn(&str) -> bool) -> Option<Self> {
        let significant = number.trim_end_matches('0').len().max(1);
        let before = (significant..number.len()).find(|len| mantissa(&number[..*len]))?;
        Some(Damage::ExponentLost(format!("{}E{}", &number[..before], number.len() - before)))
    }

    /// What is wrong, without the word itself.
    #[must_use]
    pub fn message(&self) -> &'static str {
        match self {
            Damage::Date(_) => "a cell that looks like a date",
            Damage::Exponent(_) | Damage::Shortened(..) => "a cell that looks like a number in exponent form",
            Damage::ExponentLost(_) => "a whole number among pins with an E between digits",
            Damage::ZerosLost(_) => "fewer digits than the others: leading zeros may be lost",
            Damage::Rounded => "a long number that ends in zeros: it may be rounded",
            Damage::Ditto => "a ditto mark instead of the words themselves",
            Damage::Merged => "an empty cell below a filled one",
            Damage::Range => "a range instead of rows",
            Damage::List => "several points in one cell",
        }
    }

    /// What the word may have been.
    #[must_use]
    pub fn label(&self) -> String {
        match self {
            Damage::Date(may_be) => format!("may have been {}", one_of(may_be)),
            Damage::Shortened(digits, left) => format!("was a number of {digits} digits, of which {left} are left"),
            Damage::Exponent(may_be) if may_be.is_empty() => "may have been a fraction".to_owned(),
            Damage::Exponent(may_be) => format!("may have been {}", one_of(may_be)),
            Damage::ExponentLost(pin) => format!("may have been `{pin}`"),
            Damage::ZerosLost(width) => format!("the others have {width} digits"),
            Damage::Rounded => format!("only the first {DIGITS_KEPT} digits are sure"),
            Damage::Ditto => "stands for the cell above".to_owned(),
            Damage::Merged => "empty".to_owned(),
            Damage::Range => "which contacts, and what with what?".to_owned(),
            Damage::List => "one point expected".to_owned(),
        }
    }

    /// How to repair the source.
    #[must_use]
    pub fn help(&self) -> String {
        match self {
            Damage::Date(_) => "a spreadsheet turns pins such as `6-10` and `MAR1` into dates: set the column to text, type \
                                the pins again as the source has them, and export it once more"
                .to_owned(),
            Damage::Exponent(_) => "a spreadsheet turns `22E1` into 220 and shows it so: set the column to text, type the words \
                                    again as the source has them, and export it once more"
                .to_owned(),
            Damage::Shortened(..) => {
                "a spreadsheet shows long numbers so, and exports what it shows: set the column to text, type \
                                      the numbers again as the source has them, and export it once more"
                    .to_owned()
            }
            Damage::ExponentLost(pin) => format!(
                "a spreadsheet turns `{pin}` into a number: look it up in the source; set the column to text, or write the pin \
                 with its end, which no spreadsheet touches"
            ),
            Damage::ZerosLost(_) => {
                "a spreadsheet turns `01` into 1: look it up in the source; set the column to text, or write \
                                     the pin with its end, which no spreadsheet touches"
                    .to_owned()
            }
            Damage::Rounded => format!(
                "a spreadsheet keeps {DIGITS_KEPT} digits of a number and puts zeros for the rest: set the column to text and \
                 take the numbers from the source again"
            ),
            Damage::Ditto => "write in each row what it stands for".to_owned(),
            Damage::Merged => {
                "merged cells keep their words in the first row only: undo the merging, and fill every row".to_owned()
            }
            Damage::Range => "write one row for each conductor, with its unit and both of its points".to_owned(),
            Damage::List => "write one row for each of them".to_owned(),
        }
    }

    /// The problem, at the word.
    pub(super) fn problem(&self, source: &Arc<Source>, place: Span) -> Problem {
        Problem::new(self.message()).at(source, place, self.label()).help(self.help())
    }
}

fn one_of(words: &[String]) -> String {
    words.iter().map(|word| format!("`{}`", visible(word))).collect::<Vec<_>>().join(" or ")
}

fn is_ditto(word: &str) -> bool {
    const MARKS: [char; 11] = ['"', '″', '〃', '\'', '’', '´', '“', '”', '„', ',', '‟'];
    let bare = word.trim_matches(['-', '–', '—', ' ', '.']);
    if !bare.is_empty() && bare.chars().count() <= 2 && bare.chars().all(|c| MARKS.contains(&c)) {
        return true;
    }
    let lower = word.to_ascii_lowercase();
    matches!(lower.as_str(), "do" | "do." | "ditto" | "dito" | "idem" | "id." | "as above" | "same" | "same as above")
}

/// How the names of the months begin: English, then German and French where they differ.
const MONTHS: [&[&str]; 12] = [
    &["jan"],
    &["feb", "fév"],
    &["mar", "mär", "mrz"],
    &["apr", "avr"],
    &["may", "mai"],
    &["jun", "juin"],
    &["jul", "juil"],
    &["aug", "aoû"],
    &["sep", "sept"],
    &["oct", "okt"],
    &["nov"],
    &["dec", "dez", "déc"],
];

/// The number of a month: its short name, or its whole name in English.
fn month(word: &str) -> Option<u32> {
    const WHOLE: [&str; 12] = [
        "january",
        "february",
        "march",
        "april",
        "may",
        "june",
        "july",
        "august",
        "september",
        "october",
        "november",
        "december",
    ];
    let lower = word.to_lowercase();
    (1..).zip(MONTHS.iter().zip(WHOLE)).find(|(_, (short, whole))| short.contains(&&*lower) || *whole == lower).map(|(n, _)| n)
}

/// What a date may have been, where the word is one.
fn date(word: &str) -> Option<Vec<String>> {
    let mut parts: Vec<&str> = word.split(['-', '/', '.', ' ', ',']).filter(|part| !part.is_empty()).collect();
    if parts.last().is_some_and(|time| time.contains(':')) {
        parts.pop();
    }
    if !(2..=3).contains(&parts.len()) {
        return None;
    }
    let named: Vec<u32> = parts.iter().filter_map(|part| month(part)).collect();
    let digits = |part: &str| (part.len() <= 4 && part.bytes().all(|b| b.is_ascii_digit())).then(|| part.parse().ok()).flatten();
    let numbers: Vec<u32> = parts.iter().filter_map(|part| digits(part)).collect();
    if named.len() + numbers.len() != parts.len() {
        return None;
    }
    // `DEC-0042` is a serial number and no date
    let is_year = |number: u32| (1900..2200).contains(&number);
    if parts.iter().any(|part| digits(part).is_some_and(|number| part.len() > 2 && !is_year(number))) {
        return None;
    }
    let mut may_be = match (&named[..], &numbers[..]) {
        ([month], [number, rest @ ..]) if rest.len() <= 1 => {
            let name = parts.iter().find(|part| digits(part).is_none()).copied().unwrap_or_default().to_uppercase();
            vec![format!("{month}-{number}"), format!("{number}-{month}"), format!("{name}{number}")]
        }
        ([], [a, b, c]) => {
            let in_range = |day: u32, month: u32| (1..=31).contains(&day) && (1..=12).contains(&month);
            let pair = |one: u32, two: u32| in_range(one, two) || in_range(two, one);
            let padded = parts.iter().all(|part| part.len() == 2) || word.contains(['/', '.']);
            if parts[0].len() == 4 && pair(*b, *c) {
                vec![format!("{b}-{c}"), format!("{c}-{b}")]
            } else if (parts[2].len() == 4 || padded) && pair(*a, *b) {
                vec![format!("{a}-{b}"), format!("{b}-{a}")]
            } else {
                return None;
            }
        }
        _ => return None,
    };
    may_be.dedup();
    Some(may_be)
}

/// What `2.20E+02` may have been: only spreadsheets write the sign of the exponent, and one digit before the point.
fn exponent(word: &str) -> Option<Damage> {
    let (mantissa, exponent) = word.split_once(['E', 'e'])?;
    let power: usize = exponent.strip_prefix(['+', '-'])?.parse().ok()?;
    let (whole, decimals) = mantissa.split_once(['.', ',']).unwrap_or((mantissa, ""));
    let digits = format!("{whole}{decimals}");
    if whole.len() != 1 || !digits.bytes().all(|b| b.is_ascii_digit()) {
        return None;
    }
    let digits = digits.trim_end_matches('0');
    if exponent.starts_with('-') || digits.is_empty() || power + 1 < digits.len() {
        return Some(Damage::Exponent(Vec::new()));
    }
    // a short one can be written out; of a long one, nobody knows the digits that are gone
    let zeros = power + 1 - digits.len();
    Some(match zeros {
        0..=5 => Damage::Exponent(vec![format!("{digits}E{zeros}"), format!("{digits}{}", "0".repeat(zeros))]),
        _ => Damage::Shortened(power + 1, digits.len()),
    })
}

fn is_rounded(word: &str) -> bool {
    word.len() > DIGITS_KEPT && word.bytes().all(|b| b.is_ascii_digit()) && word[DIGITS_KEPT..].bytes().all(|b| b == b'0')
}

/// Two names with a word or a mark for "up to" between them.
fn joins_two(word: &str) -> bool {
    let lower = word.to_lowercase();
    let words = [" to ", " thru ", " through ", " bis ", " till ", "..", "…"];
    words.iter().filter_map(|up_to| lower.split_once(up_to)).any(|(from, to)| {
        let named = |side: &str| side.chars().any(char::is_alphanumeric);
        named(from) && named(to)
    })
}

fn is_range(word: &str) -> bool {
    let lower = word.to_lowercase();
    let many = lower.split_whitespace().any(|part| matches!(part, "straight" | "all" | "each" | "every" | "rest" | "others"));
    many || word.split_once(['-', '–', '—', '~']).is_some_and(|(from, to)| {
        let spaced = from.ends_with(' ') || to.starts_with(' ') || word.contains(['–', '—', '~']);
        let (from, to) = (from.trim(), to.trim());
        (spaced && is_pin(from.as_bytes()) && is_pin(to.as_bytes())) || (is_point(from) && is_point(to))
    })
}

fn is_list(word: &str) -> bool {
    let parts: Vec<&str> = word.split([',', ';', '/', '&', ' ', '\n', '\r', '\t']).filter(|part| !part.is_empty()).collect();
    parts.len() >= 2 && (parts.iter().all(|part| is_point(part)) || parts.iter().all(|part| is_pin(part.as_bytes())))
}

fn is_point(word: &str) -> bool {
    point(word.as_bytes()).is_ok_and(|(rest, _)| rest.is_empty())
}
