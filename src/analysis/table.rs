//! Any CSV with a time column as a [`Series`].
//!
//! Separators `,` `;` or tab; decimal point or, where the separator leaves room for it, decimal
//! comma; UTF-8 with or without a mark, any line ends, `#` lines skipped. Times in s, min, h or
//! ms by the heading (seconds if it states none), as `m:ss`, `h:mm:ss` or calendar stamps; stamps
//! count from the first row. Temperatures in °C, °F or K by the heading, °C if it states none.
//! Nothing is guessed where two readings are possible: then the file is refused with its place.

use csv::{ByteRecord, ReaderBuilder};

use super::TableError;
use super::number::{Cell, Sign, cell};
use super::stamp::{TimeForm, form_of, seconds};
use super::table_column::Column;
use super::table_head::{Head, head};
use super::{Series, Warning};

/// Largest file read, in bytes: 30 days of eight channels at 4 Hz fit.
const LARGEST: usize = 1 << 30;

/// Most columns: far more than any bench, far less than would exhaust memory.
const MOST_COLUMNS: usize = 256;

/// Most numbers kept, times included: half a gigabyte of memory.
const MOST_NUMBERS: usize = 1 << 26;

/// Longest cell, in bytes: an unclosed quotation mark would otherwise swallow the file.
const LONGEST_CELL: usize = 4096;

/// Reads a table.
///
/// # Errors
/// [`TableError`] with line and column where the text cannot be read in exactly one way, or where
/// there is no time column, no temperature column or no row.
pub fn table(bytes: &[u8]) -> Result<(Series, Vec<Warning>), TableError> {
    if bytes.len() > LARGEST {
        let (bytes, limit) = (bytes.len(), LARGEST);
        return Err(TableError::TooLarge { bytes, limit });
    }
    if bytes.starts_with(&[0xff, 0xfe]) || bytes.starts_with(&[0xfe, 0xff]) {
        return Err(TableError::NotUtf8);
    }
    let bytes = bytes.strip_prefix(&[0xef, 0xbb, 0xbf]).unwrap_or(bytes);
    let mut reader = ReaderBuilder::new()
        .delimiter(separator(bytes))
        .has_headers(false)
        .flexible(true)
        .comment(Some(b'#'))
        .from_reader(bytes);
    let mut record = ByteRecord::new();
    let mut warnings = Vec::new();
    if !read(&mut reader, &mut record)? {
        return Err(TableError::Empty);
    }
    let mut work = Work::new(&record, line_of(&record), &mut warnings)?;
    while read(&mut reader, &mut record)? {
        work.row(&record)?;
    }
    work.finish(warnings)
}

fn read(reader: &mut csv::Reader<&[u8]>, record: &mut ByteRecord) -> Result<bool, TableError> {
    reader
        .read_byte_record(record)
        .map_err(|e| TableError::Broken {
            line: e.position().map_or(0, csv::Position::line),
            reason: e.to_string(),
        })
}

fn line_of(record: &ByteRecord) -> u64 {
    record.position().map_or(0, csv::Position::line)
}

/// The separator of the first line with text: tab, else semicolon, else comma.
fn separator(bytes: &[u8]) -> u8 {
    let lines = bytes.split(|b| matches!(b, b'\n' | b'\r'));
    let first = lines
        .map(<[u8]>::trim_ascii_start)
        .find(|line| !line.is_empty() && !line.starts_with(b"#"))
        .unwrap_or_default();
    if first.contains(&b'\t') {
        b'\t'
    } else if first.contains(&b';') {
        b';'
    } else {
        b','
    }
}

/// The table while it is read.
struct Work {
    headings: usize,
    time_place: usize,
    time_heading: String,
    unit_s: Option<f64>,
    hours: bool,
    form: Option<TimeForm>,
    base_s: Option<f64>,
    days: f64,
    t_s: Vec<f64>,
    lines: Vec<u64>,
    columns: Vec<Column>,
    decimals: Sign,
    timeless: (usize, u64),
    disorder: Option<u64>,
}

/// The first of the time columns that say most of themselves, with its place.
fn best_time(heads: &[Head]) -> Option<(usize, &Head)> {
    let rank = |head: &Head| match head {
        Head::Time { rank, .. } => Some(*rank),
        _ => None,
    };
    let best = heads.iter().filter_map(rank).max()?;
    let mut placed = heads.iter().enumerate();
    placed.find(|(_, head)| rank(head) == Some(best))
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
        let texts: Vec<String> = record
            .iter()
            .map(|h| {
                String::from_utf8_lossy(h.get(..200.min(h.len())).unwrap_or_default())
                    .trim()
                    .to_owned()
            })
            .collect();
        let heads: Vec<Head> = texts.iter().map(|t| head(t)).collect();
        let Some((time_place, Head::Time { unit_s, hours, .. })) = best_time(&heads) else {
            return Err(TableError::NoTimeColumn {
                line,
                columns: texts,
            });
        };
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
            unit_s: *unit_s,
            hours: *hours,
            form: None,
            base_s: None,
            days: 0.0,
            t_s: Vec::new(),
            lines: Vec::new(),
            columns,
            decimals: Sign::Whole,
            timeless: (0, 0),
            disorder: None,
        })
    }

    fn row(&mut self, record: &ByteRecord) -> Result<(), TableError> {
        let line = line_of(record);
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
        if self.t_s.last().is_some_and(|last| t_s < *last) && self.disorder.is_none() {
            self.disorder = Some(line);
        }
        self.t_s.push(t_s);
        self.lines.push(line);
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
        let form = *self.form.get_or_insert_with(|| form_of(bytes, self.hours));
        if form == TimeForm::Number {
            let unit_s = self.unit_s.unwrap_or(1.0);
            return Ok(match self.number(bytes, line, self.time_place)? {
                // Beyond 1e12 s a double no longer holds milliseconds.
                Cell::Number(value, _) if (value * unit_s).abs() < 1e12 => Some(value * unit_s),
                _ => None,
            });
        }
        let Some(mut t_s) = seconds(bytes, form) else {
            return Ok(None);
        };
        if form == TimeForm::Calendar {
            t_s -= *self.base_s.get_or_insert(t_s);
        } else if matches!(form, TimeForm::HourMinuteSecond | TimeForm::HourMinute) {
            // A clock that falls back by more than half a day has passed midnight.
            t_s += self.days;
            if self.t_s.last().is_some_and(|last| last - t_s > 43_200.0) {
                self.days += 86_400.0;
                t_s += 86_400.0;
            }
        }
        Ok(Some(t_s))
    }

    fn finish(mut self, mut warnings: Vec<Warning>) -> Result<(Series, Vec<Warning>), TableError> {
        if self.t_s.is_empty() {
            return Err(TableError::NoRows);
        }
        let (count, line) = self.timeless;
        if count > 0 {
            warnings.push(Warning::NoTime { count, line });
        }
        self.warn_of_unit(&mut warnings);
        self.in_order(&mut warnings);
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
            let line = self.lines.first().map_or(1, |l| l.saturating_sub(1).max(1));
            return Err(TableError::NoTemperatures {
                line,
                columns: headings,
            });
        }
        let rows = self.t_s.len();
        if rows < 3 {
            warnings.push(Warning::FewRows { rows });
        }
        let channels = self.columns.into_iter().map(Column::channel).collect();
        let t_s = self.t_s;
        Ok((Series { t_s, channels }, warnings))
    }

    fn warn_of_unit(&self, warnings: &mut Vec<Warning>) {
        let unit = match self.form {
            Some(TimeForm::Number) if self.unit_s.is_none() => "seconds",
            Some(TimeForm::MinuteSecond) if self.unit_s.is_none() => "minutes and seconds",
            _ => return,
        };
        let column = self.time_heading.clone();
        warnings.push(Warning::TimeUnitAssumed { column, unit });
    }

    /// Sorts by time and keeps the first row of each time, saying so.
    fn in_order(&mut self, warnings: &mut Vec<Warning>) {
        let pairs = self.t_s.iter().zip(self.t_s.iter().skip(1));
        if pairs.clone().all(|(a, b)| a < b) {
            return;
        }
        if let Some(line) = self.disorder {
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
                let line = self.lines.get(*later).copied().unwrap_or(u64::MAX);
                dropped = dropped.min(line);
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
    }
}
