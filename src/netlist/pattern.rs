//! A unit as a pattern for others: the same lines, but for the name and the figures of the joins.
//!
//! Most units of a reel are written like the one before. Whoever knows what came of that one can read the next with a
//! comparison of bytes, if only the figures are looked at anew.

use crate::text::Span;

use super::by_unit::{begins_unit, line_after, unit_after};
use super::grammar::{is_blank, plain_number, plain_power, word_len};
use super::model::{FactKind, Netlist, Unit};

/// The longest unit that is kept as a pattern, in bytes.
const LONGEST: usize = 64 * 1024;

/// The lines of a unit, with places left open for its name and for the figure of each join.
#[derive(Clone, Debug)]
pub struct Pattern {
    /// From the start of the `unit` line to the end of the last fact's line.
    text: Box<[u8]>,
    /// What is left open in it, in order; the first is the name.
    open: Vec<Open>,
    /// For each open place, the power of ten of its unit; that of the name means nothing.
    powers: Vec<i32>,
}

/// A stretch of the pattern that is left open.
#[derive(Clone, Copy, Debug)]
struct Open {
    start: u32,
    end: u32,
}

/// How a text fits a pattern.
#[derive(Clone, Debug, Default)]
pub struct Likeness {
    /// The name of the unit.
    pub name: Span,
    /// The value of each open figure, in the base unit, in the order of the lines.
    pub values: Vec<f64>,
    /// Where the next unit starts, or the text ends.
    pub end: usize,
    start: usize,
    /// By how much places behind each number of open stretches are shifted.
    shifts: Vec<i64>,
}

/// A place in a pattern, which lies elsewhere in each text that fits it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Place {
    start: Edge,
    end: Edge,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Edge {
    at: u32,
    /// How many open stretches end at or before it.
    behind: u32,
}

impl Pattern {
    /// The pattern of a unit that was read from the line at `start`; none where it has no plain name, a line that couldn't be
    /// read, or a join whose figure isn't a plain number with a unit.
    #[must_use]
    pub fn of(netlist: &Netlist, unit: &Unit, start: usize) -> Option<Self> {
        let text = netlist.source.text().as_bytes();
        let facts = netlist.facts_of(unit);
        let last = facts.last()?.span.range().end;
        let end = memchr::memchr(b'\n', &text[last..]).map(|at| last + at + 1)?;
        let name = unit.name?;
        if unit.broken || end - start > LONGEST || unit_after(text, end).is_none() {
            return None;
        }
        let from = |at: usize| u32::try_from(at - start).ok();
        let mut open = vec![Open { start: from(name.range().start)?, end: from(name.range().end)? }];
        let mut powers = vec![0];
        for fact in facts {
            let FactKind::Join { figure: Some(figure), .. } = fact.kind else { continue };
            let figure = netlist.figure(figure)?;
            let written = text.get(figure.span.range())?;
            let power = plain_power(written)?;
            let (value, len) = plain_number(written, power)?;
            if value.to_bits() != figure.quantity.value.to_bits() {
                return None;
            }
            let at = figure.span.range().start;
            open.push(Open { start: from(at)?, end: from(at + len)? });
            powers.push(power);
        }
        let pattern = Pattern { text: text[start..end].into(), open, powers };
        // what was made of the unit itself must be found again in it
        let mut same = Likeness::default();
        pattern.fits(text, start, &mut same).then_some(pattern).filter(|_| same.name == name)
    }

    /// Whether the unit whose line starts at `start` is written like this one; says so in `to`.
    pub fn fits(&self, text: &[u8], start: usize, to: &mut Likeness) -> bool {
        to.values.clear();
        to.shifts.clear();
        to.shifts.push(0);
        to.start = start;
        let (mut at, mut from) = (start, 0);
        for (nth, open) in self.open.iter().enumerate() {
            let literal = &self.text[from..open.start as usize];
            let Some(rest) = text.get(at..).and_then(|rest| rest.strip_prefix(literal)) else { return false };
            at += literal.len();
            let len = if nth == 0 {
                let len = word_len(rest);
                to.name = Span::new(at, at + len);
                if len == 0 {
                    return false;
                }
                len
            } else {
                let Some((value, len)) = plain_number(rest, self.powers[nth]) else { return false };
                to.values.push(value);
                len
            };
            at += len;
            from = open.end as usize;
            to.shifts.push(at as i64 - start as i64 - from as i64);
        }
        let literal = &self.text[from..];
        if text.get(at..).is_none_or(|rest| !rest.starts_with(literal)) {
            return false;
        }
        let Some(end) = unit_after(text, at + literal.len()) else { return false };
        to.end = end;
        true
    }

    /// A place of the text that the pattern was made of; none where it lies in what is left open.
    #[must_use]
    pub fn place(&self, start: usize, span: Span) -> Option<Place> {
        let edge = |at: usize| {
            let at = u32::try_from(at.checked_sub(start)?).ok().filter(|at| *at as usize <= self.text.len())?;
            let inside = self.open.iter().any(|open| open.start < at && at < open.end);
            let behind = self.open.iter().filter(|open| open.end <= at).count();
            (!inside).then_some(Edge { at, behind: u32::try_from(behind).ok()? })
        };
        let range = span.range();
        Some(Place { start: edge(range.start)?, end: edge(range.end)? })
    }
}

impl Likeness {
    /// Where a place of the pattern lies in the text that fits it.
    #[must_use]
    pub fn span(&self, place: Place) -> Span {
        let at = |edge: Edge| {
            let shift = self.shifts.get(edge.behind as usize).copied().unwrap_or(0);
            usize::try_from(self.start as i64 + i64::from(edge.at) + shift).unwrap_or(0)
        };
        Span::new(at(place.start), at(place.end))
    }
}

/// A number that units have in common which fit one pattern, made of their lines but for the first, without the numbers in them;
/// and where the unit ends whose line starts at `start`. Others may have that number too. None for a unit that is too long for a
/// pattern.
pub(super) fn outline(text: &[u8], start: usize) -> Option<(u64, usize)> {
    let lines = line_after(text, start);
    if begins_unit(&text[lines..]) {
        return Some((0, lines));
    }
    let (mut hash, mut line, mut blank, mut number) = (0_u64, 0_u64, false, false);
    for (b, next) in text[lines..].iter().zip(lines + 1..) {
        let digit = b.is_ascii_digit() | (*b == b'.');
        number = digit & (number | blank);
        blank = *b == b' ' || *b == b'\t';
        line = if number { line } else { line.rotate_left(7) ^ u64::from(*b) };
        if *b == b'\n' {
            hash = (hash.rotate_left(5) ^ line).wrapping_mul(0x9e37_79b9_7f4a_7c15);
            line = 0;
            let may_begin = text.get(next).is_some_and(|b| *b == b'u' || is_blank(*b));
            if may_begin && begins_unit(&text[next..]) {
                return Some((hash, next));
            }
            if next - start > LONGEST {
                return None;
            }
        }
    }
    Some((hash, text.len()))
}
