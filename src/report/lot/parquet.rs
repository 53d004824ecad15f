//! The tests of a lot as Parquet: the columns of the CSV, with their types. Only with the cargo feature `parquet`.

use std::fs::File;
use std::io;
use std::path::Path;
use std::sync::Arc;

use parquet::data_type::{BoolType, ByteArray, ByteArrayType, DataType, DoubleType, Int32Type};
use parquet::errors::ParquetError;
use parquet::file::properties::WriterProperties;
use parquet::file::writer::{SerializedFileWriter, SerializedRowGroupWriter};
use parquet::schema::parser::parse_message_type;

use crate::lot::TestedUnit;

/// The rows of one group: so many are kept in memory.
const ROWS: usize = 20_000;

const SCHEMA: &str = "message units {
    required binary file (UTF8);
    required binary unit (UTF8);
    required int32 attempt;
    optional binary action (UTF8);
    required binary verdict (UTF8);
    required boolean dangerous;
    required binary cable (UTF8);
    optional binary type (UTF8);
    optional binary supplier (UTF8);
    optional binary lot (UTF8);
    optional binary rated (UTF8);
    optional double length_m;
    optional double price;
    optional binary currency (UTF8);
    optional double highest_ohm;
    required binary codes (UTF8);
    required binary points (UTF8);
    required binary not_shown (UTF8);
}";

/// A row, with what is written of it.
struct Row {
    file: String,
    unit: TestedUnit,
}

/// Writes tests as they come.
pub struct UnitsParquet {
    writer: SerializedFileWriter<File>,
    rows: Vec<Row>,
}

fn failed(error: ParquetError) -> io::Error {
    io::Error::other(error)
}

impl UnitsParquet {
    /// A file for them; one that is there is written over.
    ///
    /// # Errors
    /// Where it can't be written.
    pub fn new(path: &Path) -> io::Result<Self> {
        let schema = Arc::new(parse_message_type(SCHEMA).map_err(failed)?);
        let properties = Arc::new(WriterProperties::builder().build());
        let writer = SerializedFileWriter::new(File::create(path)?, schema, properties).map_err(failed)?;
        Ok(UnitsParquet { writer, rows: Vec::new() })
    }

    /// A row.
    ///
    /// # Errors
    /// Where the file can't be written.
    pub fn unit(&mut self, file: &str, unit: &TestedUnit) -> io::Result<()> {
        self.rows.push(Row { file: file.to_owned(), unit: unit.clone() });
        if self.rows.len() >= ROWS { self.group().map_err(failed) } else { Ok(()) }
    }

    /// Closes the file.
    ///
    /// # Errors
    /// Where it can't be written.
    pub fn finish(mut self) -> io::Result<()> {
        if !self.rows.is_empty() {
            self.group().map_err(failed)?;
        }
        self.writer.close().map(|_| ()).map_err(failed)
    }

    fn group(&mut self) -> Result<(), ParquetError> {
        let rows = std::mem::take(&mut self.rows);
        let mut group = self.writer.next_row_group()?;
        text(&mut group, &rows, |row| Some(row.file.clone()), false)?;
        text(&mut group, &rows, |row| Some(row.unit.name.clone()), false)?;
        column::<Int32Type, _>(&mut group, &rows, |row| Some(i32::from(row.unit.attempt)), false)?;
        text(&mut group, &rows, |row| row.unit.facts.action.map(|action| action.word().to_owned()), true)?;
        text(&mut group, &rows, |row| Some(row.unit.verdict.word().to_owned()), false)?;
        column::<BoolType, _>(&mut group, &rows, |row| Some(row.unit.hazard), false)?;
        text(&mut group, &rows, |row| Some(row.unit.cable.clone()), false)?;
        text(&mut group, &rows, |row| row.unit.facts.kind.clone(), true)?;
        text(&mut group, &rows, |row| row.unit.facts.supplier.clone(), true)?;
        text(&mut group, &rows, |row| row.unit.facts.lot.clone(), true)?;
        text(&mut group, &rows, |row| row.unit.facts.rated.clone(), true)?;
        column::<DoubleType, _>(&mut group, &rows, |row| row.unit.facts.length, true)?;
        column::<DoubleType, _>(&mut group, &rows, |row| row.unit.facts.price.as_ref().map(|price| price.amount), true)?;
        text(&mut group, &rows, |row| row.unit.facts.price.as_ref().map(|price| price.currency.clone()), true)?;
        column::<DoubleType, _>(&mut group, &rows, |row| row.unit.highest_ohm(), true)?;
        text(&mut group, &rows, |row| Some(row.unit.codes()), false)?;
        text(&mut group, &rows, |row| Some(row.unit.points()), false)?;
        text(&mut group, &rows, |row| Some(row.unit.not_shown.join("; ")), false)?;
        group.close().map(|_| ())
    }
}

fn text(
    group: &mut SerializedRowGroupWriter<'_, File>,
    rows: &[Row],
    of: impl Fn(&Row) -> Option<String>,
    optional: bool,
) -> Result<(), ParquetError> {
    column::<ByteArrayType, _>(group, rows, |row| of(row).map(|text| ByteArray::from(text.into_bytes())), optional)
}

/// The next column: the values that there are, and for an optional one which rows have them.
fn column<T: DataType, F: Fn(&Row) -> Option<T::T>>(
    group: &mut SerializedRowGroupWriter<'_, File>,
    rows: &[Row],
    of: F,
    optional: bool,
) -> Result<(), ParquetError> {
    let Some(mut column) = group.next_column()? else { return Ok(()) };
    let cells: Vec<Option<T::T>> = rows.iter().map(of).collect();
    let levels: Vec<i16> = cells.iter().map(|cell| i16::from(cell.is_some())).collect();
    let values: Vec<T::T> = cells.into_iter().flatten().collect();
    column.typed::<T>().write_batch(&values, optional.then_some(&levels[..]), None)?;
    column.close()
}
