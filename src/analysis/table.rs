//! Any CSV with a time column as a [`Series`].
//!
//! Separators `,` `;` or tab; decimal point or, where the separator leaves room for it, decimal
//! comma; UTF-8 with or without a mark, else Windows-1252; any line ends; title lines above the
//! headings and `#` lines skipped; units in a line of their own below the names. Times in s, min, h or
//! ms by the heading (if it states none, minutes where few whole numbers would otherwise be seconds
//! apart, else seconds), in two columns as min and s, as `m:ss`, `h:mm:ss`, `5 min` or `5'30"`, times of
//! day or dates with a time of day; dates count from the first row. Temperatures in °C, °F or K by the
//! heading, °C if it states none. Tables beside each other keep each its own times. Nothing is guessed
//! where two readings are possible: then the file is refused with its place, or what was assumed is
//! said.

mod bends;
mod book;
mod cell;
mod column;
mod curve;
mod difference;
mod error;
mod finish;
mod head;
mod lines;
mod number;
mod repeats;
mod side;
mod slips;
mod spoken;
mod stamp;
mod start;
mod time;
mod title;
mod units;
mod work;

use std::io::Read;

use csv::ByteRecord;

use self::lines::Rows;
use self::side::{begin, together};
use self::start::{LOOKED_AT, start};
use self::title::titles;
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
    let unreadable = |e: std::io::Error| TableError::Unreadable {
        reason: e.to_string(),
    };
    let mut first = Vec::new();
    let mut beginning = input.by_ref().take(LOOKED_AT as u64);
    beginning.read_to_end(&mut first).map_err(unreadable)?;
    if first.starts_with(&[0xff, 0xfe]) || first.starts_with(&[0xfe, 0xff]) {
        return Err(TableError::NotUtf8);
    }
    let text = first.strip_prefix(&[0xef, 0xbb, 0xbf]).unwrap_or(&first);
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
    let mut works = begin(texts, line, &mut warnings)?;
    while lines.read(&mut record)? {
        let line = lines.line(&record);
        for work in &mut works {
            work.row(&record, line)?;
        }
    }
    together(works, warnings)
}
