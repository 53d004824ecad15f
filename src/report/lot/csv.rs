//! The units of a lot as CSV (RFC 4180): a row for each test.

use std::io::{self, Write};

use crate::lot::TestedUnit;

use super::super::cells::row;

/// The columns.
const COLUMNS: &str = "file,unit,attempt,action,verdict,dangerous,cable,type,supplier,lot,rated,length_m,price,currency,highest_ohm,\
                       codes,points,not_shown";

/// Writes tests as they come.
pub struct UnitsCsv<W: Write> {
    out: W,
}

impl<W: Write> UnitsCsv<W> {
    /// A table that goes to `out`, with its first row.
    ///
    /// # Errors
    /// Where the output can't be written.
    pub fn new(mut out: W) -> io::Result<Self> {
        write!(out, "{COLUMNS}\r\n")?;
        Ok(UnitsCsv { out })
    }

    /// A row.
    ///
    /// # Errors
    /// Where the output can't be written.
    pub fn unit(&mut self, file: &str, unit: &TestedUnit) -> io::Result<()> {
        let facts = &unit.facts;
        let number = |value: Option<f64>| value.map(|value| value.to_string()).unwrap_or_default();
        let attempt = unit.attempt.to_string();
        let (length, ohm) = (number(facts.length), number(unit.highest_ohm()));
        let price = number(facts.price.as_ref().map(|price| price.amount));
        let (codes, points, not_shown) = (unit.codes(), unit.points(), unit.not_shown.join("; "));
        let text = |text: &'_ Option<String>| text.clone().unwrap_or_default();
        let [kind, supplier, lot, rated] = [&facts.kind, &facts.supplier, &facts.lot, &facts.rated].map(text);
        let cells = [
            file,
            &unit.name,
            &attempt,
            facts.action.map_or("", |action| action.word()),
            unit.verdict.word(),
            if unit.hazard { "yes" } else { "no" },
            &unit.cable,
            &kind,
            &supplier,
            &lot,
            &rated,
            &length,
            &price,
            facts.price.as_ref().map_or("", |price| price.currency.as_str()),
            &ohm,
            &codes,
            &points,
            &not_shown,
        ];
        row(&mut self.out, cells)
    }
}
