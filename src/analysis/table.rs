//! Any CSV with a time column as a [`Series`].
//!
//! Separators `,` `;` or tab; decimal point or, where the separator leaves room for it, decimal
//! comma; UTF-8 with or without a mark, else Windows-1252; any line ends; title lines above the
//! headings and `#` lines skipped. Times in s, min, h or ms by the heading (seconds if it states
//! none), as `m:ss`, `h:mm:ss`, times of day or dates with a time of day; dates count from the
//! first row. Temperatures in °C, °F or K by the heading, °C if it states none. Nothing is guessed
//! where two readings are possible: then the file is refused with its place, or what was assumed
//! is said.

use std::io::Read;

use csv::ByteRecord;

use super::TableError;
use super::number::{Cell, Sign, cell};
use super::stamp::TimeForm;
use super::table_column::{Column, ColumnRead};
use super::table_head::{Head, best_time, head};
use super::table_lines::Rows;
use super::table_slips::slips;
use super::table_start::{LOOKED_AT, Start, decoded, start};
use super::table_time::Times;
use super::{Series, Warning};

/// Most columns: far more than any bench, far less than would exhaust memory.
pub(super) const MOST_COLUMNS: usize = 256;

/// Most numbers kept, times included: half a gigabyte of memory.
const MOST_NUMBERS: usize = 1 << 26;

/// Longest cell, in bytes: an unclosed quotation mark would otherwise swallow the file.
const LONGEST_CELL: usize = 4096;

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
    let mut begin = input.by_ref().take(LOOKED_AT as u64);
    begin.read_to_end(&mut first).map_err(unreadable)?;
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
    let mut warnings = Vec::new();
    let mut work = Work::new(&record, &start, lines.line(&record), &mut warnings)?;
    while lines.read(&mut record)? {
        work.row(&record, lines.line(&record))?;
    }
    work.finish(warnings)
}

/// The table while it is read.
struct Work {
    headings: usize,
    time_place: usize,
    time_heading: String,
    times: Times,
    t_s: Vec<f64>,
    /// Lines of the rows: (row, line) wherever a row does not follow the line before it.
    lines: Vec<(usize, u64)>,
    columns: Vec<Column>,
    decimals: Sign,
    timeless: (usize, u64),
}

/// The columns of temperatures; those of other things are told.
fn temperature_columns(
    heads: &[Head],
    texts: &[String],
    warnings: &mut Vec<Warning>,
) -> Vec<Column> {
    let mut columns = Vec::new();
    for (place, (head, text)) in heads.iter().zip(texts).enumerate() {
        match head {
            Head::Degrees { name, scale } => {
                columns.push(Column::new(place, text, name, *scale));
            }
            Head::Other => warnings.push(Warning::ColumnLeftOut {
                column: text.clone(),
            }),
            Head::Time { .. } | Head::Known => {}
        }
    }
    columns
}

impl Work {
    fn new(
        record: &ByteRecord,
        start: &Start,
        line: u64,
        warnings: &mut Vec<Warning>,
    ) -> Result<Self, TableError> {
        let (found, limit) = (record.len(), MOST_COLUMNS);
        if found > limit {
            return Err(TableError::TooManyColumns {
                line,
                columns: found,
                limit,
            });
        }
        let mut foreign = false;
        let read = |h: &[u8]| {
            let (text, other) = decoded(h.get(..200.min(h.len())).unwrap_or_default());
            // A character of two bytes that is cut at the limit makes no other encoding.
            foreign |= other && h.len() <= 200;
            text.trim().to_owned()
        };
        let texts: Vec<String> = record.iter().map(read).collect();
        let heads: Vec<Head> = texts.iter().map(|t| head(t)).collect();
        let Some((time_place, Head::Time { unit_s, hours, .. })) = best_time(&heads) else {
            return Err(TableError::NoTimeColumn {
                line,
                columns: texts,
            });
        };
        if start.titles > 0 {
            let count = start.titles;
            warnings.push(Warning::Titles { count, line });
        }
        if foreign {
            warnings.push(Warning::OtherEncoding {
                encoding: encoding_rs::WINDOWS_1252.name(),
            });
        }
        let columns = temperature_columns(&heads, &texts, warnings);
        if columns.is_empty() {
            return Err(TableError::NoTemperatures {
                line,
                columns: texts,
            });
        }
        Ok(Self {
            headings: found,
            time_place,
            time_heading: texts.get(time_place).cloned().unwrap_or_default(),
            times: Times::new(*unit_s, *hours),
            t_s: Vec::new(),
            lines: Vec::new(),
            columns,
            decimals: Sign::Whole,
            timeless: (0, 0),
        })
    }

    fn row(&mut self, record: &ByteRecord, line: u64) -> Result<(), TableError> {
        if record.iter().all(|c| c.trim_ascii().is_empty()) {
            return Ok(());
        }
        if record.len() > self.headings {
            let extra = record.iter().skip(self.headings);
            if extra.clone().any(|c| !c.trim_ascii().is_empty()) {
                let (found, expected) = (record.len(), self.headings);
                return Err(TableError::TooManyCells {
                    line,
                    found,
                    expected,
                });
            }
        }
        if let Some(column) = record.iter().position(|c| c.len() > LONGEST_CELL) {
            let (column, limit) = (column + 1, LONGEST_CELL);
            return Err(TableError::LongCell {
                line,
                column,
                limit,
            });
        }
        if (self.t_s.len() + 1) * (self.columns.len() + 1) > MOST_NUMBERS {
            return Err(TableError::TooManyNumbers {
                line,
                limit: MOST_NUMBERS,
            });
        }
        let Some(t_s) = self.time(record.get(self.time_place).unwrap_or_default(), line)? else {
            if self.timeless.0 == 0 {
                self.timeless.1 = line;
            }
            self.timeless.0 += 1;
            return Ok(());
        };
        if self.line(self.t_s.len()) != line {
            self.lines.push((self.t_s.len(), line));
        }
        self.t_s.push(t_s);
        let mut columns = std::mem::take(&mut self.columns);
        for column in &mut columns {
            let bytes = record.get(column.place).unwrap_or_default();
            let value = self.number(bytes, line, column.place)?;
            column.take(value, line);
        }
        self.columns = columns;
        Ok(())
    }

    /// One cell, with the decimal sign held to that of the whole file.
    fn number(&mut self, bytes: &[u8], line: u64, place: usize) -> Result<Cell, TableError> {
        let value = cell(bytes);
        let text = || String::from_utf8_lossy(bytes).into_owned();
        match value {
            Cell::Ambiguous => {
                let (column, text) = (place + 1, text());
                Err(TableError::AmbiguousNumber { line, column, text })
            }
            Cell::Number(_, sign) if sign != Sign::Whole => {
                if self.decimals == Sign::Whole {
                    self.decimals = sign;
                }
                if self.decimals == sign {
                    return Ok(value);
                }
                let (column, text) = (place + 1, text());
                Err(TableError::MixedDecimals { line, column, text })
            }
            _ => Ok(value),
        }
    }

    /// The row's time in seconds; none if the cell holds none.
    fn time(&mut self, bytes: &[u8], line: u64) -> Result<Option<f64>, TableError> {
        let form = self.times.form(bytes);
        self.times.look(bytes);
        if form != TimeForm::Number {
            return Ok(self.times.written(bytes, form));
        }
        let unit_s = self.times.unit_s();
        Ok(match self.number(bytes, line, self.time_place)? {
            // Beyond 1e12 s a double no longer holds milliseconds.
            Cell::Number(value, _) if (value * unit_s).abs() < 1e12 => Some(value * unit_s),
            _ => None,
        })
    }

    /// Line of a row.
    fn line(&self, row: usize) -> u64 {
        let after = self.lines.partition_point(|(first, _)| *first <= row);
        let place = after.checked_sub(1).and_then(|i| self.lines.get(i));
        place.map_or(0, |(first, line)| line + (row - first) as u64)
    }

    fn finish(mut self, mut warnings: Vec<Warning>) -> Result<Table, TableError> {
        if self.t_s.is_empty() {
            return Err(TableError::NoRows);
        }
        let (count, line) = self.timeless;
        if count > 0 {
            warnings.push(Warning::NoTime { count, line });
        }
        let read = self.times.settle(&mut self.t_s);
        let logged = self.times.logged();
        if read.assumed {
            warnings.push(Warning::TimeUnitAssumed {
                column: self.time_heading.clone(),
                unit: read.words,
            });
        }
        let mut columns = vec![ColumnRead {
            heading: self.time_heading.clone(),
            read: format!("times in {}", read.words),
        }];
        let order = self.in_order(&mut warnings);
        if !logged {
            let line = |row: usize| self.line(order.get(row).copied().unwrap_or(row));
            let odd = |c: &Column| slips(&c.heading, c.scale, &c.degc, line);
            let told: Vec<_> = self.columns.iter().map(odd).collect();
            for (column, told) in self.columns.iter_mut().zip(told) {
                for (row, doubt) in told {
                    column.leave_out(row);
                    warnings.push(doubt);
                }
            }
        }
        self.keep_temperatures(&mut warnings)?;
        let rows = self.t_s.len();
        if rows < 3 {
            warnings.push(Warning::FewRows { rows });
        }
        columns.extend(self.columns.iter().map(Column::read));
        let channels = self.columns.into_iter().map(Column::channel).collect();
        let t_s = self.t_s;
        Ok(Table {
            series: Series { t_s, channels },
            warnings,
            columns,
            sheet: None,
            logged,
        })
    }

    /// Leaves out columns of words, and tells of words among numbers.
    fn keep_temperatures(&mut self, warnings: &mut Vec<Warning>) -> Result<(), TableError> {
        let headings: Vec<String> = self.columns.iter().map(|c| c.heading.clone()).collect();
        self.columns.retain(|c| {
            let words = c.texts > c.numbers;
            if words {
                warnings.push(Warning::ColumnLeftOut {
                    column: c.heading.clone(),
                });
            } else if c.texts > 0 {
                let (column, count, line) = (c.heading.clone(), c.texts, c.first_text);
                warnings.push(Warning::NotNumbers {
                    column,
                    count,
                    line,
                });
            }
            !words
        });
        if self.columns.is_empty() {
            let line = self.line(0).saturating_sub(1).max(1);
            return Err(TableError::NoTemperatures {
                line,
                columns: headings,
            });
        }
        Ok(())
    }

    /// Sorts by time and keeps the first row of each time, saying so; gives which rows they were, or
    /// nothing where all are as they were.
    fn in_order(&mut self, warnings: &mut Vec<Warning>) -> Vec<usize> {
        let pairs = self.t_s.iter().zip(self.t_s.iter().skip(1));
        if pairs.clone().all(|(a, b)| a < b) {
            return Vec::new();
        }
        if let Some(row) = pairs.clone().position(|(a, b)| b < a) {
            let line = self.line(row + 1);
            warnings.push(Warning::Sorted { line });
        }
        let time = |i: &usize| self.t_s.get(*i).copied().unwrap_or(f64::NAN);
        let mut order: Vec<usize> = (0..self.t_s.len()).collect();
        order.sort_by(|a, b| time(a).total_cmp(&time(b)));
        let before = order.len();
        let mut dropped = u64::MAX;
        order.dedup_by(|later, first| {
            let same = time(later) <= time(first);
            if same {
                dropped = dropped.min(self.line(*later));
            }
            same
        });
        if order.len() < before {
            let count = before - order.len();
            warnings.push(Warning::SameTime {
                count,
                line: dropped,
            });
        }
        let pick = |v: &[f64]| {
            order
                .iter()
                .filter_map(|&i| v.get(i).copied())
                .collect::<Vec<f64>>()
        };
        for column in &mut self.columns {
            column.degc = pick(&column.degc);
        }
        self.t_s = pick(&self.t_s);
        order
    }
}
