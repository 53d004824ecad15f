//! The heading row of a from-to table: which column holds what.

use std::sync::Arc;

use crate::finding::Problem;
use crate::text::{Source, Span, visible};

use super::cells::{Cell, Rows};
use super::grammar::point;

/// What a column can hold.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[non_exhaustive]
pub enum Field {
    /// One point of the conductor, or its pin.
    From,
    /// The other point, or its pin, or `open`.
    To,
    /// The end of `from`, where that holds only the pin.
    FromEnd,
    /// The end of `to`, where that holds only the pin.
    ToEnd,
    /// The unit.
    Unit,
    /// The resistance; a bare number is in ohm.
    Ohm,
    /// The resistance; a bare number is in thousandths of an ohm.
    Milliohm,
    /// The colour or number of the wire.
    Wire,
    /// The size of the wire, with its unit: `24 AWG` or `0.5 mm2`.
    Gauge,
    /// The pair: the two rows of one unit that say the same are twisted together.
    Pair,
    /// Where the drain of the pair's screen lands.
    Screen,
    /// A part inside a plug, between the two points: `resistor 56 kohm`, `capacitor 10 nF` or `diode`, anode in `from`.
    Part,
    /// Words for people, which state no fact.
    Note,
}

impl Field {
    /// Every field.
    pub const ALL: [Field; 13] = [
        Field::From,
        Field::To,
        Field::FromEnd,
        Field::ToEnd,
        Field::Unit,
        Field::Ohm,
        Field::Milliohm,
        Field::Wire,
        Field::Gauge,
        Field::Pair,
        Field::Screen,
        Field::Part,
        Field::Note,
    ];

    /// The heading that means this field.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Field::From => "from",
            Field::To => "to",
            Field::FromEnd => "from-end",
            Field::ToEnd => "to-end",
            Field::Unit => "unit",
            Field::Ohm => "ohm",
            Field::Milliohm => "mohm",
            Field::Wire => "wire",
            Field::Gauge => "gauge",
            Field::Pair => "pair",
            Field::Screen => "screen",
            Field::Part => "part",
            Field::Note => "note",
        }
    }

    /// The field that a name means.
    #[must_use]
    pub fn parse(name: &str) -> Option<Self> {
        let plain = plain(name);
        Field::ALL.into_iter().find(|field| field.name() == plain)
    }
}

/// The widest table; a line of a thousand words is no heading.
const MOST_COLUMNS: usize = 1000;

/// A heading without what doesn't matter: case, and which of blank, `_` and `-` stands between its words.
fn plain(heading: &str) -> String {
    let words: Vec<&str> = heading.split([' ', '_', '-', '\t', '\n', '\r']).filter(|word| !word.is_empty()).collect();
    words.join("-").to_lowercase()
}

/// Which column holds what.
#[derive(Debug, Default)]
pub(super) struct Layout {
    /// For each field but `note`, its column.
    columns: [Option<usize>; Field::ALL.len()],
    /// How many columns have a heading.
    pub width: usize,
    /// The columns whose heading is empty: nothing may stand there.
    pub unnamed: Vec<usize>,
    /// The byte between two cells.
    pub delimiter: u8,
}

impl Layout {
    /// The column of a field.
    pub fn column(&self, field: Field) -> Option<usize> {
        self.columns[field as usize]
    }
}

/// The heading row as one delimiter parts it, and how many of its headings are known.
struct Attempt {
    delimiter: u8,
    cells: Vec<Cell>,
    known: usize,
}

/// Finds the delimiter and the heading row; gives the rows below it and the layout.
///
/// A first line `sep=;`, as some spreadsheets write it, names the delimiter.
pub(super) fn headings<'t>(
    source: &'t Arc<Source>,
    start: usize,
    mapped: &[(Field, String)],
) -> Result<(Rows<'t>, Layout, Span), Vec<Problem>> {
    let text = source.text();
    let (start, named) = match text.as_bytes()[start..].strip_prefix(b"sep=") {
        Some([delimiter @ (b',' | b';' | b'\t'), b'\n' | b'\r', ..]) => (start + 5, Some(*delimiter)),
        _ => (start, None),
    };
    let mut best: Option<(Attempt, Rows<'t>)> = None;
    for delimiter in [b',', b';', b'\t'].into_iter().filter(|one| named.is_none_or(|named| named == *one)) {
        let mut rows = Rows::new(text, start, delimiter);
        let mut cells = Vec::new();
        while rows.next(&mut cells, MOST_COLUMNS) && cells.iter().all(|cell| cell.place.len == 0) {}
        let known = cells.iter().filter(|cell| field_of(source.written(cell.place), mapped).is_some()).count();
        let attempt = Attempt { delimiter, cells, known };
        let better = best.as_ref().is_none_or(|(best, _)| (attempt.known, attempt.cells.len()) > (best.known, best.cells.len()));
        if better {
            best = Some((attempt, rows));
        }
    }
    let Some((attempt, rows)) = best.filter(|(attempt, _)| attempt.cells.iter().any(|cell| cell.place.len > 0)) else {
        return Err(vec![Problem::new(format!("{}: no heading and no row in this table", visible(source.name())))]);
    };
    let row = attempt.cells.iter().map(|cell| cell.place).reduce(Span::to).unwrap_or_default();
    if attempt.cells.len() > MOST_COLUMNS {
        let problem = Problem::new(format!("a table of more than {MOST_COLUMNS} columns"));
        return Err(vec![problem.at(source, row, "the first row should name the columns")]);
    }
    let layout = layout(source, &attempt, row, mapped)?;
    Ok((rows, layout, row))
}

/// The field that a heading means: as it was mapped, or else as it is called.
fn field_of(heading: &str, mapped: &[(Field, String)]) -> Option<Field> {
    let wanted = plain(heading);
    if let Some((field, _)) = mapped.iter().find(|(_, name)| plain(name) == wanted) {
        return Some(*field);
    }
    // a field that was mapped is that column and no other
    Field::parse(heading).filter(|field| *field == Field::Note || mapped.iter().all(|(other, _)| other != field))
}

fn layout(source: &Arc<Source>, attempt: &Attempt, row: Span, mapped: &[(Field, String)]) -> Result<Layout, Vec<Problem>> {
    let mut layout = Layout { width: attempt.cells.len(), delimiter: attempt.delimiter, ..Layout::default() };
    let mut places: [Option<Span>; Field::ALL.len()] = [None; Field::ALL.len()];
    let mut problems = Vec::new();
    let looks_like_facts = |cell: &Cell| point(source.written(cell.place).as_bytes()).is_ok();
    if attempt.known == 0 && attempt.cells.iter().any(looks_like_facts) {
        let problem = Problem::new("a from-to table without its heading row")
            .at(source, row, "the first row should name the columns")
            .help("write a first row such as `unit,from,to,ohm`");
        return Err(vec![problem]);
    }
    for (column, cell) in attempt.cells.iter().enumerate() {
        let heading = source.written(cell.place);
        if let Some(flaw) = cell.flaw {
            problems.push(super::table::flawed(source, cell.place, flaw));
        } else if heading.is_empty() {
            layout.unnamed.push(column);
        } else if let Some(field) = field_of(heading, mapped) {
            if field == Field::Note {
                continue;
            }
            if let Some(first) = places[field as usize] {
                let problem = Problem::new(format!("two columns for `{}`", field.name()));
                problems.push(problem.at(source, cell.place, "again here").at(source, first, "first here").help(format!(
                    "`--column {}=HEADING` says which one holds, `--column note=HEADING` that the other states no fact",
                    field.name()
                )));
            } else if let Some(problem) = other_unit(source, cell.place, field) {
                problems.push(problem);
            } else {
                (places[field as usize], layout.columns[field as usize]) = (Some(cell.place), Some(column));
            }
        } else {
            let shown = visible(heading).chars().take(40).collect::<String>();
            problems.push(Problem::new("a column that isn't known").at(source, cell.place, "what does it hold?").help(format!(
                "`--column note=\"{shown}\"` says that it states no fact; in place of `note` stands {}",
                Field::ALL.map(|field| format!("`{}`", field.name())).join(", ")
            )));
        }
    }
    for (field, heading) in mapped {
        if !attempt.cells.iter().any(|cell| plain(source.written(cell.place)) == plain(heading)) {
            problems.push(
                Problem::new(format!("no column `{}` in this table", visible(heading)))
                    .at(source, row, "the heading row")
                    .help(format!("`--column {}=HEADING` needs a heading as it stands here", field.name())),
            );
        }
    }
    for field in [Field::From, Field::To] {
        if layout.column(field).is_none() && problems.is_empty() {
            problems.push(
                Problem::new(format!("no column `{}` in this table", field.name())).at(source, row, "the heading row").help(
                    format!(
                        "the first row must name the columns, `from` and `to` among them, with comma, semicolon or tab between; \
                         `--column {}=HEADING` names the one that is called otherwise",
                        field.name()
                    ),
                ),
            );
        }
    }
    if problems.is_empty() { Ok(layout) } else { Err(problems) }
}

/// A heading with a unit that isn't the one that bare numbers would be read in.
fn other_unit(source: &Arc<Source>, heading: Span, field: Field) -> Option<Problem> {
    let words = source.written(heading);
    let lower = words.to_lowercase();
    let before = ["ohm", "ω"].iter().find_map(|unit| lower.split_once(unit)).and_then(|(before, _)| {
        // the case of the prefix counts
        words.chars().nth(before.chars().count().checked_sub(1)?).filter(|c| c.is_alphabetic())
    });
    let wrong = match field {
        Field::Ohm => before.is_some() || lower.contains("milli") || lower.contains("kilo"),
        Field::Milliohm => before.is_some_and(|prefix| prefix != 'm'),
        _ => false,
    };
    wrong.then(|| {
        Problem::new(format!("a column of another unit, read as `{}`", field.name()))
            .at(source, heading, "this names another unit")
            .help("`ohm` is for bare numbers in ohm, `mohm` for those in thousandths of an ohm; elsewhere write the unit in each cell")
    })
}
