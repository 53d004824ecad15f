//! The words of the language, in nom.
//!
//! Each parser carries the rule that it implements. `blank` is a space or a tab; a word ends at a blank, at `#` or at
//! the end of the line. Everything works on the bytes of one line, without its line end.

use nom::bytes::complete::{tag, take_while, take_while1};
use nom::error::{ErrorKind, ParseError};
use nom::sequence::{preceded, terminated};
use nom::{IResult, Parser};

use crate::units::{Bound, Quantity, Scale, Tolerance, Unit};

/// What was expected, and how much of the line was left there.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Expected {
    /// Bytes left at the place of the error.
    pub left: usize,
    /// What should have stood there.
    pub what: What,
}

/// The kinds of error inside a line.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum What {
    Word,
    Point,
    Pin,
    Quantity,
    Number,
    DecimalComma,
    Unit,
    Tolerance,
    ClosingQuote,
    Gap,
    TooLarge,
}

impl ParseError<&[u8]> for Expected {
    fn from_error_kind(input: &[u8], _: ErrorKind) -> Self {
        Expected { left: input.len(), what: What::Word }
    }
    fn append(_: &[u8], _: ErrorKind, other: Self) -> Self {
        other
    }
}

/// The result of a parser of this grammar.
pub(super) type Parsed<'a, T> = IResult<&'a [u8], T, Expected>;

fn fail<T>(input: &[u8], what: What) -> Parsed<'_, T> {
    Err(nom::Err::Failure(Expected { left: input.len(), what }))
}

/// Classes of bytes, as bits of [`CLASS`].
const BLANK: u8 = 1;
const END: u8 = 2;
const PIN: u8 = 4;
const WORD: u8 = 8;
const LETTER: u8 = 16;
const DIGIT: u8 = 32;

/// The classes that each byte belongs to, looked up instead of compared.
const CLASS: [u8; 256] = {
    let mut table = [0; 256];
    let mut b = 0_u8;
    loop {
        let mut class = 0;
        if matches!(b, b' ' | b'\t' | b'\r') {
            class |= BLANK;
        } else if b != b'#' && b != b'"' {
            class |= WORD;
        }
        if b.is_ascii_alphanumeric() || matches!(b, b'_' | b'-') {
            class |= END | PIN;
        }
        if b == b'+' {
            class |= PIN;
        }
        if b.is_ascii_alphabetic() {
            class |= LETTER;
        }
        if b.is_ascii_digit() {
            class |= DIGIT;
        }
        table[b as usize] = class;
        if b == u8::MAX {
            break;
        }
        b += 1;
    }
    table
};

#[inline]
fn is(b: u8, class: u8) -> bool {
    CLASS[b as usize] & class != 0
}

/// How many bytes at the start belong to an unquoted word.
pub(super) fn word_len(input: &[u8]) -> usize {
    input.iter().position(|b| !is_word_byte(*b) || *b == b'\n').unwrap_or(input.len())
}

/// How many bytes at the start belong to a class.
fn run_of(input: &[u8], class: u8) -> usize {
    let mut len = 0;
    while len < input.len() && is(input[len], class) {
        len += 1;
    }
    len
}

#[inline]
pub(super) fn is_blank(b: u8) -> bool {
    is(b, BLANK)
}

fn is_word_byte(b: u8) -> bool {
    is(b, WORD)
}

/// `blank*`
pub(super) fn blanks(input: &[u8]) -> Parsed<'_, &[u8]> {
    let (blanks, rest) = input.split_at(run_of(input, BLANK));
    Ok((rest, blanks))
}

/// Nothing more but blanks and a comment: `blank* [ "#" any* ]`
pub(super) fn at_end(input: &[u8]) -> bool {
    match blanks(input) {
        Ok((rest, _)) => rest.is_empty() || rest[0] == b'#',
        Err(_) => false,
    }
}

/// After a word there must be a blank, a comment or the end.
pub(super) fn gap(input: &[u8]) -> Parsed<'_, ()> {
    match input.first() {
        None | Some(b'#') => Ok((input, ())),
        Some(b) if is_blank(*b) => blanks(input).map(|(rest, _)| (rest, ())),
        Some(_) => fail(input, What::Gap),
    }
}

/// `word = 1*( any but blank, "#" and quotation mark )`
pub(super) fn word(input: &[u8]) -> Parsed<'_, &[u8]> {
    match take_while1::<_, _, Expected>(is_word_byte)(input) {
        Ok((rest, word)) => Ok((rest, word)),
        Err(_) => fail(input, What::Word),
    }
}

/// `text = word | quotation-mark *( any but quotation mark ) quotation-mark`
pub(super) fn text(input: &[u8]) -> Parsed<'_, &[u8]> {
    if input.first() != Some(&b'"') {
        return terminated(word, gap).parse(input);
    }
    let (rest, inside) = preceded(tag("\""), take_while(|b| b != b'"')).parse(input)?;
    match rest.first() {
        Some(_) => {
            let (rest, ()) = gap(&rest[1..])?;
            Ok((rest, inside))
        }
        None => fail(input, What::ClosingQuote),
    }
}

/// `point = end "." pin ; end = letter *( letter | digit | "_" | "-" ) ; pin = 1*( letter | digit | "_" | "+" | "-" )`
///
/// Gives the bytes of the point and how many of them belong to the end.
pub(super) fn point(input: &[u8]) -> Parsed<'_, (&[u8], usize)> {
    if !input.first().is_some_and(|b| is(*b, LETTER)) {
        return fail(input, What::Point);
    }
    let end_len = run_of(input, END);
    if input.get(end_len) != Some(&b'.') {
        return fail(input, What::Point);
    }
    let pin_at = end_len + 1;
    let pin_len = run_of(&input[pin_at..], PIN);
    if pin_len == 0 {
        return fail(&input[pin_at..], What::Pin);
    }
    let (point, rest) = input.split_at(pin_at + pin_len);
    let (rest, ()) = gap(rest)?;
    Ok((rest, (point, end_len)))
}

/// Whether a word is the name of an end.
pub(super) fn is_end(word: &[u8]) -> bool {
    word.first().is_some_and(|b| is(*b, LETTER)) && run_of(word, END) == word.len()
}

/// Whether a word is the name of a pin.
pub(super) fn is_pin(word: &[u8]) -> bool {
    !word.is_empty() && run_of(word, PIN) == word.len()
}

/// Whether a point begins here: a letter first, and a dot inside the word.
pub(super) fn looks_like_point(input: &[u8]) -> bool {
    input.first().is_some_and(|b| is(*b, LETTER)) && input.get(run_of(input, END)) == Some(&b'.')
}

/// `number = [ sign ] ( 1*digit [ "." *digit ] | "." 1*digit ) [ ( "e" | "E" ) [ sign ] 1*digit ]`
///
/// Gives the number times a power of ten, rounded once, so that `412 mohm` and `0.412 ohm` are the same figure.
fn number(input: &[u8]) -> Parsed<'_, Decimal<'_>> {
    let signed = usize::from(matches!(input.first(), Some(b'+' | b'-')));
    let whole = run_of(&input[signed..], DIGIT);
    let mut len = signed + whole;
    let mut digits = whole;
    if input.get(len) == Some(&b'.') {
        let decimals = run_of(&input[len + 1..], DIGIT);
        digits += decimals;
        len += 1 + decimals;
    }
    if digits == 0 {
        return fail(input, What::Number);
    }
    let (text, rest) = input.split_at(len);
    if rest.first() == Some(&b',') {
        return fail(rest, What::DecimalComma);
    }
    let mut exponent = 0;
    let mut rest = rest;
    if matches!(rest.first(), Some(b'e' | b'E')) {
        let signed = usize::from(matches!(rest.get(1), Some(b'+' | b'-')));
        let digits = run_of(&rest[1 + signed..], DIGIT);
        if digits > 0 {
            let text = std::str::from_utf8(&rest[1..=signed + digits]).unwrap_or_default();
            exponent = text.trim_start_matches('+').parse::<i32>().unwrap_or(9_999);
            rest = &rest[1 + signed + digits..];
        }
    }
    Ok((rest, Decimal { text, exponent }))
}

/// A number as written: digits with an optional point and sign, and a power of ten.
#[derive(Clone, Copy)]
struct Decimal<'a> {
    text: &'a [u8],
    exponent: i32,
}

impl Decimal<'_> {
    /// The nearest double to the number times ten to the given power.
    fn times_ten_to(self, power: i32) -> f64 {
        let (negative, digits) = match self.text.first() {
            Some(b'-') => (true, &self.text[1..]),
            Some(b'+') => (false, &self.text[1..]),
            _ => (false, self.text),
        };
        let mut mantissa: u64 = 0;
        let mut places = 0;
        let mut seen_point = false;
        if digits.len() <= 16 {
            for b in digits {
                if *b == b'.' {
                    seen_point = true;
                } else {
                    mantissa = mantissa * 10 + u64::from(b - b'0');
                    places += i32::from(seen_point);
                }
            }
            // Exact: both the digits (below 2^53) and the power of ten (up to 10^22) are whole doubles, so that one
            // multiplication or division rounds once (W. D. Clinger, "How to read floating point numbers
            // accurately", 1990).
            let ten = self.exponent.saturating_add(power).saturating_sub(places);
            if let Some(size) = exact(mantissa, ten) {
                return if negative { -size } else { size };
            }
        }
        let text = std::str::from_utf8(self.text).unwrap_or_default();
        format!("{text}e{}", self.exponent.saturating_add(power)).parse().unwrap_or(f64::INFINITY)
    }
}

/// Digits times a power of ten, where both are whole doubles.
#[inline]
fn exact(digits: u64, ten: i32) -> Option<f64> {
    if digits >= (1 << 53) {
        return None;
    }
    #[allow(clippy::cast_precision_loss)]
    let whole = digits as f64;
    let scale = POWERS_OF_TEN.get(ten.unsigned_abs() as usize)?;
    Some(if ten < 0 { whole / scale } else { whole * scale })
}

/// A number without sign and power of ten, and what follows it: the number times ten to the given power, and how many
/// bytes it takes. None where it has more digits than are read exactly at once.
#[inline]
pub(super) fn plain_number(input: &[u8], power: i32) -> Option<(f64, usize)> {
    let (mut digits, mut point, mut len) = (0_u64, None, 0);
    for b in input {
        if is(*b, DIGIT) {
            digits = digits.wrapping_mul(10).wrapping_add(u64::from(*b - b'0'));
        } else if *b == b'.' && point.is_none() {
            point = Some(len);
        } else {
            break;
        }
        len += 1;
    }
    let places = point.map_or(0, |at| len - at - 1);
    if len > 16 || len == usize::from(point.is_some()) {
        return None;
    }
    exact(digits, power - i32::try_from(places).ok()?).map(|value| (value, len))
}

/// The power of ten of the unit of a figure that begins with a plain number.
pub(super) fn plain_power(figure: &[u8]) -> Option<i32> {
    let (rest, decimal) = number(figure).ok()?;
    if figure[0] == b'-' || figure[0] == b'+' || decimal.text.len() + rest.len() != figure.len() {
        return None;
    }
    let (unit, _) = blanks(rest).ok()?;
    let len = unit.iter().position(|b| !is_word_byte(*b) || *b == b'+').unwrap_or(unit.len());
    match std::str::from_utf8(&unit[..len]).ok().and_then(Unit::parse)? {
        (_, Scale::Ten(power)) => Some(power),
        (_, Scale::Factor(_)) => None,
    }
}

const POWERS_OF_TEN: [f64; 23] = [
    1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18, 1e19, 1e20, 1e21,
    1e22,
];

/// A number with its unit: `number blank* unit`; where `bare` gives one, the unit may be left out.
fn measure(input: &[u8], bare: Option<(Unit, Scale)>) -> Parsed<'_, (f64, Unit)> {
    let (rest, decimal) = number(input)?;
    let (unit_at, _) = blanks(rest)?;
    // `+` ends a unit, so that a tolerance may follow it without a blank
    let len = unit_at.iter().position(|b| !is_word_byte(*b) || *b == b'+').unwrap_or(unit_at.len());
    let (unit_text, rest) = unit_at.split_at(len);
    let unit = match unit_text {
        b"ohm" => Some((Unit::Ohm, Scale::Ten(0))),
        b"" => bare,
        _ => std::str::from_utf8(unit_text).ok().and_then(Unit::parse),
    };
    let Some((unit, scale)) = unit else {
        return fail(unit_at, What::Unit);
    };
    let value = match scale {
        Scale::Ten(power) => decimal.times_ten_to(power),
        Scale::Factor(factor) => decimal.times_ten_to(0) * factor,
    };
    if !value.is_finite() {
        return fail(input, What::TooLarge);
    }
    Ok((rest, (value, unit)))
}

/// `quantity = [ "<" | ">" ] number unit [ "+/-" ( number "%" | number unit ) ]`
pub(super) fn quantity(input: &[u8]) -> Parsed<'_, Quantity> {
    quantity_in(input, None)
}

/// The same, where the unit of the value may be left out: `bare` is what it is then.
pub(super) fn quantity_in(input: &[u8], bare: Option<(Unit, Scale)>) -> Parsed<'_, Quantity> {
    let (bound, rest) = match input.first() {
        Some(b'<') => (Bound::Below, &input[1..]),
        Some(b'>') => (Bound::Above, &input[1..]),
        Some(b) if b.is_ascii_digit() || matches!(b, b'.' | b'+' | b'-') => (Bound::Exact, input),
        _ => return fail(input, What::Quantity),
    };
    let (rest, _) = blanks(rest)?;
    let (rest, (value, unit)) = measure(rest, bare)?;
    let mut quantity = Quantity { value, unit, bound, tolerance: None };
    let (after, _) = blanks(rest)?;
    let Some(spread) = after.strip_prefix(b"+/-").or_else(|| after.strip_prefix("±".as_bytes())) else {
        let (rest, ()) = gap(rest)?;
        return Ok((rest, quantity));
    };
    let (spread, _) = blanks(spread)?;
    let (rest, (value, of)) = measure(spread, None)?;
    quantity.tolerance = match of {
        Unit::Percent if value >= 0.0 => Some(Tolerance::Percent(value)),
        of if of == unit && value >= 0.0 => Some(Tolerance::Absolute(value)),
        _ => return fail(spread, What::Tolerance),
    };
    let (rest, ()) = gap(rest)?;
    Ok((rest, quantity))
}

/// `amount = number blank+ currency` ; the currency is three capital letters
pub(super) fn amount(input: &[u8]) -> Parsed<'_, (f64, &[u8])> {
    let (rest, decimal) = number(input)?;
    let value = decimal.times_ten_to(0);
    if !value.is_finite() || value < 0.0 {
        return fail(input, What::TooLarge);
    }
    let (rest, _) = blanks(rest)?;
    let (rest, currency) = terminated(word, gap).parse(rest)?;
    Ok((rest, (value, currency)))
}
