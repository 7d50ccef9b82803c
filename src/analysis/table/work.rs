//! A table while it is read, row by row.

use csv::ByteRecord;

use super::column::Column;
use super::number::{Cell, Sign, cell, is_in_thousands, tidy, with_unit};
use super::side::Plan;
use super::spoken::spoken;
use super::stamp::TimeForm;
use super::start::decoded;
use super::time::Times;
use crate::analysis::{TableError, is_late};

/// Most numbers kept, times included: half a gigabyte of memory.
const MOST_NUMBERS: usize = 1 << 26;

/// Longest cell, in bytes: an unclosed quotation mark would otherwise swallow the file.
const LONGEST_CELL: usize = 4096;

/// The table while it is read.
pub(super) struct Work {
    /// Line of its headings, where they stand below another table.
    pub(super) below: Option<u64>,
    /// Whether people write such a table; not a program that says more of its times.
    pub(super) by_hand: bool,
    /// The columns of the file that are its own.
    places: std::ops::Range<usize>,
    /// How many columns the whole file has.
    headings: usize,
    most_numbers: usize,
    pub(super) time_place: usize,
    pub(super) time_heading: String,
    pub(super) times: Times,
    pub(super) t_s: Vec<f64>,
    /// A second column that may hold the seconds of the minutes in the first.
    pub(super) part: Option<Part>,
    /// Lines of the rows: (row, line) wherever a row does not follow the line before it.
    pub(super) lines: Vec<(usize, u64)>,
    pub(super) columns: Vec<Column>,
    flags_place: Option<usize>,
    /// Lines of the rows whose times are not sure, by their flags.
    late: Vec<u64>,
    decimals: Sign,
    pub(super) timeless: (usize, u64),
    /// The first cell that should hold a time and holds none.
    pub(super) no_time: Option<String>,
}

/// A second column of times while it is read.
pub(super) struct Part {
    pub(super) place: usize,
    pub(super) heading: String,
    /// Seconds in one unit.
    pub(super) unit_s: f64,
    /// Its numbers, row by row; none is NaN.
    pub(super) values: Vec<f64>,
}

impl Work {
    /// For a table of its own, or one of so many beside each other.
    pub(super) fn new(plan: Plan, beside: usize) -> Self {
        Self {
            below: None,
            by_hand: plan.by_hand,
            places: plan.places,
            headings: plan.headings,
            most_numbers: MOST_NUMBERS / beside.max(1),
            time_place: plan.time_place,
            time_heading: plan.time_heading,
            times: plan.times,
            t_s: Vec::new(),
            part: plan.part,
            lines: Vec::new(),
            columns: plan.columns,
            flags_place: plan.flags_place,
            late: Vec::new(),
            decimals: Sign::Whole,
            timeless: (0, 0),
            no_time: None,
        }
    }

    /// Keeps so many numbers less, as others hold them.
    pub(super) fn less<'a>(&mut self, others: impl Iterator<Item = &'a Self>) {
        let held: usize = others.map(|w| w.t_s.len() * (w.columns.len() + 1)).sum();
        self.most_numbers = self.most_numbers.saturating_sub(held);
    }

    /// Takes the rows of another with the same headings behind its own.
    pub(super) fn append(&mut self, other: Self) {
        let rows = self.t_s.len();
        let lines = other.lines.iter();
        self.lines
            .extend(lines.map(|(row, line)| (rows + row, *line)));
        self.t_s.extend(&other.t_s);
        self.late.extend(&other.late);
        self.times = other.times;
        if let (Some(part), Some(more)) = (&mut self.part, other.part) {
            part.values.extend(more.values);
        }
        for (column, more) in self.columns.iter_mut().zip(&other.columns) {
            column.degc.extend(&more.degc);
            column.count_also(more);
        }
        if self.timeless.0 == 0 {
            self.timeless.1 = other.timeless.1;
        }
        self.timeless.0 += other.timeless.0;
        self.no_time = self.no_time.take().or(other.no_time);
    }

    /// Refuses a row with more cells than headings, and cells of no table.
    fn check(&self, record: &ByteRecord, line: u64) -> Result<(), TableError> {
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
        Ok(())
    }

    /// Takes one row of the file.
    pub(super) fn row(&mut self, record: &ByteRecord, line: u64) -> Result<(), TableError> {
        if record.iter().all(|c| c.trim_ascii().is_empty()) {
            return Ok(());
        }
        self.check(record, line)?;
        if (self.t_s.len() + 1) * (self.columns.len() + 1) > self.most_numbers {
            return Err(TableError::TooManyNumbers {
                line,
                limit: self.most_numbers,
            });
        }
        let mut own = self.places.clone().filter_map(|place| record.get(place));
        if own.all(|c| c.trim_ascii().is_empty()) {
            // A table beside another may be the shorter one.
            return Ok(());
        }
        let written = record.get(self.time_place).unwrap_or_default();
        let Some(t_s) = self.time(written, line)? else {
            if self.no_time.is_none() && !written.trim_ascii().is_empty() {
                self.no_time = Some(decoded(written).0.chars().take(40).collect());
            }
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
        let flags = self.flags_place.and_then(|place| record.get(place));
        if flags.is_some_and(|flags| std::str::from_utf8(flags).is_ok_and(is_late)) {
            self.late.push(line);
        }
        if let Some(mut part) = self.part.take() {
            let bytes = record.get(part.place).unwrap_or_default();
            part.values.push(match cell(bytes) {
                Cell::Number(value, _) => value,
                _ => f64::NAN,
            });
            self.part = Some(part);
        }
        let mut columns = std::mem::take(&mut self.columns);
        for column in &mut columns {
            let bytes = record.get(column.place).unwrap_or_default();
            let value = self.number(bytes, line, column.place)?;
            let value = match value {
                Cell::Text => self.with_unit(bytes, line, column)?,
                value => value,
            };
            column.take(value, line);
        }
        self.columns = columns;
        Ok(())
    }

    /// A temperature that carries its unit.
    fn with_unit(
        &mut self,
        bytes: &[u8],
        line: u64,
        column: &mut Column,
    ) -> Result<Cell, TableError> {
        let Some((value, scale)) = with_unit(bytes) else {
            return Ok(Cell::Text);
        };
        if scale.is_some_and(|scale| !column.takes_unit(scale)) {
            return Err(TableError::OtherUnit {
                line,
                column: column.place + 1,
                text: decoded(bytes).0,
                unit: column.scale.sign(),
            });
        }
        self.held(value, bytes, line, column.place)
    }

    /// One cell, with the decimal sign held to that of the whole file.
    fn number(&mut self, bytes: &[u8], line: u64, place: usize) -> Result<Cell, TableError> {
        self.held(cell(bytes), bytes, line, place)
    }

    /// A value, its decimal sign held to that of the whole file.
    fn held(
        &mut self,
        value: Cell,
        bytes: &[u8],
        line: u64,
        place: usize,
    ) -> Result<Cell, TableError> {
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
                if is_in_thousands(bytes) {
                    return Err(TableError::AmbiguousNumber { line, column, text });
                }
                Err(TableError::MixedDecimals { line, column, text })
            }
            _ => Ok(value),
        }
    }

    /// The row's time in seconds; none if the cell holds none.
    fn time(&mut self, bytes: &[u8], line: u64) -> Result<Option<f64>, TableError> {
        let bytes = &*tidy(bytes);
        let form = self.times.form(bytes);
        self.times.look(bytes);
        if form == TimeForm::Number || form == TimeForm::Spoken {
            if let Some(t_s) = spoken(bytes) {
                return Ok(Some(t_s));
            }
        } else {
            return Ok(self.times.written(bytes, form));
        }
        Ok(match self.number(bytes, line, self.time_place)? {
            Cell::Number(value, _) => self.times.of_number(value),
            _ => None,
        })
    }

    /// The rows whose times are not sure.
    pub(super) fn unsure(&self) -> Vec<usize> {
        let is_late = |row: &usize| self.late.binary_search(&self.line(*row)).is_ok();
        let rows = if self.late.is_empty() {
            0
        } else {
            self.t_s.len()
        };
        (0..rows).filter(is_late).collect()
    }

    /// Line of a row.
    pub(super) fn line(&self, row: usize) -> u64 {
        let after = self.lines.partition_point(|(first, _)| *first <= row);
        let place = after.checked_sub(1).and_then(|i| self.lines.get(i));
        place.map_or(0, |(first, line)| line + (row - first) as u64)
    }
}
