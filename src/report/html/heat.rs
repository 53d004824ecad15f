//! The map of contacts by units: where along a lot, and at which contacts, faults are.
//!
//! Units come in the order of the input. There are at most [`COLUMNS`] columns: where there are more units, a column is as many
//! units as it takes, and a field is the darker the larger the share of them that has a fault there.

use std::collections::BTreeMap;
use std::fmt::Write as _;

use maud::{Markup, PreEscaped, html};

use super::{count, name};

/// So many columns at most.
const COLUMNS: usize = 128;

/// So many contacts are counted; of a lot with more contacts at fault, those met first.
const COUNTED: usize = 2_000;

/// So many contacts are drawn, those with the most faults.
const DRAWN: usize = 48;

/// A contact's name, in columns of the picture.
const LABEL: usize = 14;

/// Height of a row, and width of a column where there are few.
const CELL: usize = 14;
/// Width of a column where there are many.
const NARROW: usize = 8;
/// So many columns are many.
const MANY: usize = 70;
const LEFT: usize = 120;
const TOP: usize = 26;

/// Counts of units with a fault, by contact and column.
#[derive(Clone, Debug)]
pub(super) struct Heat {
    /// Units a column.
    width: u64,
    units: u64,
    pins: BTreeMap<String, Vec<u32>>,
    /// Whether some contacts weren't counted.
    full: bool,
}

impl Default for Heat {
    fn default() -> Self {
        Heat { width: 1, units: 0, pins: BTreeMap::new(), full: false }
    }
}

impl Heat {
    /// Takes a unit with the contacts that its faults touch.
    pub(super) fn add<'p>(&mut self, points: impl Iterator<Item = &'p str>) {
        if self.units == self.width * COLUMNS as u64 {
            self.width *= 2;
            for row in self.pins.values_mut() {
                *row = row.chunks(2).map(|pair| pair.iter().sum()).collect();
            }
        }
        let column = usize::try_from(self.units / self.width).unwrap_or(COLUMNS - 1);
        self.units += 1;
        let mut points: Vec<&str> = points.collect();
        points.sort_unstable();
        points.dedup();
        for point in points {
            if !self.pins.contains_key(point) {
                if self.pins.len() >= COUNTED {
                    self.full = true;
                    continue;
                }
                self.pins.insert(point.to_owned(), Vec::new());
            }
            if let Some(row) = self.pins.get_mut(point) {
                if row.len() <= column {
                    row.resize(column + 1, 0);
                }
                row[column] += 1;
            }
        }
    }

    /// The map; nothing where no contact has a fault.
    pub(super) fn draw(&self) -> Markup {
        if self.pins.is_empty() || self.units < 2 {
            return html! {};
        }
        let mut rows: Vec<(&String, &Vec<u32>, u64)> =
            self.pins.iter().map(|(pin, row)| (pin, row, row.iter().map(|n| u64::from(*n)).sum())).collect();
        rows.sort_by_key(|(_, _, sum)| std::cmp::Reverse(*sum));
        let left_out = rows.len().saturating_sub(DRAWN);
        rows.truncate(DRAWN);
        rows.sort_by_key(|(pin, ..)| natural(pin));
        let columns = usize::try_from(self.units.div_ceil(self.width)).unwrap_or(COLUMNS);
        let (levels, darkest) = shapes(self, &rows, columns);
        let (width, height) = (LEFT + columns * cell_width(columns) + 8, TOP + rows.len() * CELL + 8);
        let each = if self.width == 1 { "one unit".to_owned() } else { format!("{} units", self.width) };
        let summary = format!(
            "{} by {}: a column is {each}, in the order of the input, the first on the left.",
            count(rows.len() as u64, "contact", "contacts"),
            count(self.units, "tested unit", "tested units"),
        );
        html! {
            figure class="heat" {
                div class="scroll" tabindex="0" role="group" aria-label="Map of contacts by units" {
                    svg xmlns="http://www.w3.org/2000/svg" width=(width) height=(height) viewBox={ "0 0 " (width) " " (height) }
                        role="img" direction="ltr" {
                        title { "Contacts by units" }
                        desc { (summary) " The tables of contacts and units say the same in words." }
                        (PreEscaped(levels))
                        @for (at, (pin, _, sum)) in rows.iter().enumerate() {
                            text class="pin" x=(LEFT - 34) y=(TOP + at * CELL + 11) text-anchor="end" {
                                (super::super::picture::fit(pin, LABEL))
                            }
                            text class="sum" x=(LEFT - 6) y=(TOP + at * CELL + 11) text-anchor="end" { (sum) }
                        }
                    }
                }
                figcaption {
                    (summary) " The darker a field, the more of its units have a fault at that contact"
                    @if self.width > 1 { " (" (darkest) " of " (self.width) " where it is darkest)" }
                    "; the figure beside a contact counts them all."
                    @if left_out > 0 { " " (left_out) " more contacts with fewer faults aren't drawn." }
                    @if self.full { " Contacts beyond the first " (COUNTED) " with a fault weren't counted." }
                }
            }
        }
    }

    /// The contacts with the most units, for a title.
    pub(super) fn worst(&self) -> Option<String> {
        let sum = |row: &Vec<u32>| row.iter().map(|n| u64::from(*n)).sum::<u64>();
        self.pins
            .iter()
            .max_by_key(|(_, row)| sum(row))
            .map(|(pin, row)| format!("{}, in {} of {}", name(pin), sum(row), count(self.units, "test", "tests")))
    }
}

fn cell_width(columns: usize) -> usize {
    if columns > MANY { NARROW } else { CELL }
}

/// The fields as one path for each level, and the ruler above them, with the count of the darkest field. Numbers only: nothing
/// to escape.
fn shapes(heat: &Heat, rows: &[(&String, &Vec<u32>, u64)], columns: usize) -> (String, u32) {
    let cell = cell_width(columns);
    let darkest = rows.iter().flat_map(|(_, row, _)| row.iter().copied()).max().unwrap_or(1).max(1);
    let mut levels: [String; 5] = Default::default();
    for (at, (_, row, _)) in rows.iter().enumerate() {
        for (column, found) in row.iter().enumerate().filter(|(_, found)| **found > 0) {
            let level = usize::try_from((u64::from(*found) * 5).div_ceil(u64::from(darkest))).unwrap_or(5).clamp(1, 5) - 1;
            let (x, y, wide, high) = (LEFT + column * cell + 1, TOP + at * CELL + 1, cell - 2, CELL - 2);
            let _ = write!(levels[level], "M{x} {y}h{wide}v{high}h-{wide}z");
        }
    }
    let (wide, high) = (columns * cell, rows.len() * CELL);
    let mut out = format!("<rect class=\"ground\" x=\"{LEFT}\" y=\"{TOP}\" width=\"{wide}\" height=\"{high}\"/>");
    for (level, path) in levels.iter().enumerate().filter(|(_, path)| !path.is_empty()) {
        let _ = write!(out, "<path class=\"h{}\" d=\"{path}\"/>", level + 1);
    }
    for column in (0..columns).step_by(columns.div_ceil(8).max(5)) {
        let x = LEFT + column * cell;
        let unit = column as u64 * heat.width + 1;
        let _ = write!(out, "<text class=\"sum\" x=\"{x}\" y=\"{}\">{unit}</text>", TOP - 8);
        let _ = write!(out, "<path class=\"tick\" d=\"M{x} {}v4\"/>", TOP - 5);
    }
    (out, darkest)
}

/// A contact in natural order: its letters, then its number.
fn natural(point: &str) -> (String, u64, String) {
    let digits = point.bytes().rev().take_while(u8::is_ascii_digit).count();
    let (letters, number) = point.split_at(point.len() - digits);
    (letters.to_owned(), number.parse().unwrap_or(0), point.to_owned())
}
