//! Any CSV with a time column as a [`Series`].
//!
//! Separators `,` `;` or tab; decimal point or, where the separator leaves room for it, decimal
//! comma; UTF-8 with or without a mark, UTF-16, else Windows-1252; any line ends; title lines above the
//! headings and `#` lines skipped; units in a line of their own below the names. Times in s, min, h or
//! ms by the heading (if it states none, minutes where few whole numbers would otherwise be seconds
//! apart, else seconds), in two columns as min and s, as `m:ss`, `h:mm:ss`, `5 min` or `5'30"`, times of
//! day (`8.05 Uhr` too) or dates with a time of day; dates count from the first row. A watch that was
//! started anew goes on, and so do clocks that were changed by an hour. Temperatures in °C, °F or K by the heading or their cells, °C if neither states
//! one. Tables beside each other keep each its own times, and so do tables below one another; one that lies on its side, its times in a line,
//! is turned, and a line for each reading is put side by side. Columns that were worked out from others
//! are left out. Nothing is guessed where two readings are possible: then the file is refused with its
//! place, or what was assumed is said.

mod absent;
mod anew;
mod below;
mod bends;
mod book;
mod cell;
mod clocks;
mod column;
mod curve;
mod difference;
mod error;
mod finish;
mod groups;
mod head;
mod lines;
mod long;
mod number;
mod read;
mod repeats;
mod side;
mod slips;
mod spoken;
mod stamp;
mod start;
mod steps;
#[cfg(test)]
mod testing;
mod time;
mod title;
mod together;
mod turned;
mod units;
mod work;
mod worked_out;

use std::io::Read;

use csv::ByteRecord;
use encoding_rs::{Encoding, UTF_16BE, UTF_16LE};
use encoding_rs_io::DecodeReaderBytesBuilder;

use self::below::Stack;
use self::lines::Rows;
use self::long::wide as side_by_side;
use self::start::{LOOKED_AT, start};
use self::title::titles;
use self::together::together;
use self::turned::turned;
use super::{Series, Warning};

pub use book::{is_workbook, read_workbook};
pub use column::ColumnRead;
pub use error::TableError;

/// Most columns: far more than any bench, far less than would exhaust memory.
pub(super) const MOST_COLUMNS: usize = 256;

/// A table as it was read.
#[derive(Debug, Clone, PartialEq)]
pub struct Table {
    /// The rows.
    pub series: Series,
    /// What was mended, left out or assumed.
    pub warnings: Vec<Warning>,
    /// How each column that is used was read.
    pub columns: Vec<ColumnRead>,
    /// The sheet that was read, in a workbook.
    pub sheet: Option<String>,
    /// Whether its times are a logger's: a person writes no fractions of a second.
    pub logged: bool,
    /// How many values of each channel are missing for a reason that the warnings give.
    pub told_missing: Vec<usize>,
}

/// Reads a table that is in memory; see [`read_table`].
///
/// # Errors
/// As [`read_table`].
pub fn table(bytes: &[u8]) -> Result<(Series, Vec<Warning>), TableError> {
    read_table(bytes).map(|table| (table.series, table.warnings))
}

/// Reads a table as it comes. Only its numbers are held.
///
/// # Errors
/// [`TableError`] with line and column where the text cannot be read in exactly one way, or where
/// there is no time column, no temperature column or no row.
pub fn read_table(mut input: impl Read) -> Result<Table, TableError> {
    let first = beginning(&mut input)?;
    let Some(wide) = wide(&first) else {
        return read_text(&first, &mut input);
    };
    let mut decoded = DecodeReaderBytesBuilder::new()
        .encoding(Some(wide))
        .bom_override(true)
        .build(first.as_slice().chain(input));
    let first = beginning(&mut decoded)?;
    read_text(&first, &mut decoded)
}

/// As much of a file as is looked at for its headings.
fn beginning(input: &mut impl Read) -> Result<Vec<u8>, TableError> {
    let mut first = Vec::new();
    let mut beginning = input.take(LOOKED_AT as u64);
    match beginning.read_to_end(&mut first) {
        Ok(_) => Ok(first),
        Err(e) => Err(TableError::Unreadable {
            reason: e.to_string(),
        }),
    }
}

/// UTF-16, by its mark or, as "Unicode text" is at times saved without one, by the zero beside an
/// ASCII letter or digit.
fn wide(first: &[u8]) -> Option<&'static Encoding> {
    match first {
        [0xff, 0xfe, ..] | [1..=0x7f, 0, 1..=0x7f, 0, ..] => Some(UTF_16LE),
        [0xfe, 0xff, ..] | [0, 1..=0x7f, 0, 1..=0x7f, ..] => Some(UTF_16BE),
        _ => None,
    }
}

/// Reads a table of which the beginning is known, turned on its feet if need be.
fn read_text(first: &[u8], rest: &mut dyn Read) -> Result<Table, TableError> {
    let first = first.strip_prefix(&[0xef, 0xbb, 0xbf]).unwrap_or(first);
    if first.len() < LOOKED_AT
        && let Some(wide) = side_by_side(first)
        && let Ok(mut table) = read_upright(&wide.text, &mut std::io::empty())
    {
        let column = wide.column;
        table.warnings.insert(0, Warning::LineForEach { column });
        return Ok(table);
    }
    let error = match read_upright(first, rest) {
        Err(error) if first.len() < LOOKED_AT => error,
        read => return read,
    };
    let upright = turned(first).and_then(|text| read_upright(&text, &mut std::io::empty()).ok());
    let mut table = upright.ok_or(error)?;
    table.warnings.insert(0, Warning::Turned);
    Ok(table)
}

fn read_upright(text: &[u8], input: &mut dyn Read) -> Result<Table, TableError> {
    let start = start(text);
    let table = text.get(start.skip..).unwrap_or_default().chain(input);
    let mut lines = Rows::new(table, &start);
    let mut record = ByteRecord::new();
    if !lines.read(&mut record)? {
        return Err(TableError::Empty);
    }
    let line = lines.line(&record);
    let (columns, limit) = (record.len(), MOST_COLUMNS);
    if columns > limit {
        return Err(TableError::TooManyColumns {
            line,
            columns,
            limit,
        });
    }
    let mut warnings = Vec::new();
    if start.titles > 0 {
        let count = start.titles;
        warnings.push(Warning::Titles { count, line });
    }
    let (texts, foreign) = titles(text, &start, &record);
    if foreign {
        warnings.push(Warning::OtherEncoding {
            encoding: encoding_rs::WINDOWS_1252.name(),
        });
    }
    let mut tables = Stack::new(text, &start, texts, line)?;
    while lines.read(&mut record)? {
        tables.row(&record, lines.line(&record))?;
    }
    together(tables.tables(&mut warnings)?, warnings)
}
