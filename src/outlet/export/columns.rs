//! Values on their way into columns.

use std::mem;

use parquet::column::writer::ColumnWriter;
use parquet::data_type::ByteArray;
use parquet::errors::{ParquetError, Result};

/// What a column holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Kind {
    /// Words; an empty text is none.
    Text,
    /// A whole number.
    Count,
    /// A number; what is not finite is none.
    Number,
    /// A moment in UTC, to the millisecond.
    Instant,
}

/// One value of a line.
#[derive(Debug, Clone, Copy)]
pub(super) enum Value<'a> {
    Text(&'a str),
    Count(usize),
    Number(Option<f64>),
    /// As RFC 3339 writes it.
    Instant(&'a str),
}

/// Values of one column that wait to be written.
#[derive(Debug)]
pub(super) struct Column {
    values: Values,
    /// For each line 1 where it has a value and 0 where it has none.
    there: Vec<i16>,
}

#[derive(Debug)]
enum Values {
    Text(Vec<ByteArray>),
    Count(Vec<i32>),
    Number(Vec<f64>),
    Instant(Vec<i64>),
}

impl Column {
    pub(super) fn new(kind: Kind) -> Self {
        let values = match kind {
            Kind::Text => Values::Text(Vec::new()),
            Kind::Count => Values::Count(Vec::new()),
            Kind::Number => Values::Number(Vec::new()),
            Kind::Instant => Values::Instant(Vec::new()),
        };
        Self {
            values,
            there: Vec::new(),
        }
    }

    /// Adds the value of the next line.
    ///
    /// # Panics
    ///
    /// Panics if it is not of the column's kind: the layouts of this folder say which it is.
    pub(super) fn push(&mut self, value: Value<'_>) {
        let there = match (&mut self.values, value) {
            (Values::Text(held), Value::Text(text)) => {
                let text = Some(text).filter(|text| !text.is_empty());
                keep(held, text.map(|text| like_the_last(held, text)))
            }
            (Values::Count(held), Value::Count(count)) => keep(held, i32::try_from(count).ok()),
            (Values::Number(held), Value::Number(number)) => {
                keep(held, number.filter(|number| number.is_finite()))
            }
            (Values::Instant(held), Value::Instant(utc)) => {
                let at: Option<jiff::Timestamp> = utc.parse().ok();
                keep(held, at.map(jiff::Timestamp::as_millisecond))
            }
            (held, value) => panic!("{value:?} for a column of {held:?}"),
        };
        self.there.push(i16::from(there));
    }

    /// Lines that wait.
    pub(super) fn len(&self) -> usize {
        self.there.len()
    }

    /// Writes what waits, and is empty then.
    pub(super) fn write(&mut self, writer: &mut ColumnWriter<'_>) -> Result<()> {
        let there = mem::take(&mut self.there);
        let there = Some(there.as_slice());
        match (&mut self.values, writer) {
            (Values::Text(held), ColumnWriter::ByteArrayColumnWriter(writer)) => {
                writer.write_batch(&mem::take(held), there, None)
            }
            (Values::Count(held), ColumnWriter::Int32ColumnWriter(writer)) => {
                writer.write_batch(&mem::take(held), there, None)
            }
            (Values::Number(held), ColumnWriter::DoubleColumnWriter(writer)) => {
                writer.write_batch(&mem::take(held), there, None)
            }
            (Values::Instant(held), ColumnWriter::Int64ColumnWriter(writer)) => {
                writer.write_batch(&mem::take(held), there, None)
            }
            _ => return Err(ParquetError::General("a column of another kind".into())),
        }
        .map(|_| ())
    }
}

/// Adds a value if there is one; whether there is.
fn keep<T>(held: &mut Vec<T>, value: Option<T>) -> bool {
    let there = value.is_some();
    held.extend(value);
    there
}

/// Most texts are those of the line before: they share its bytes.
fn like_the_last(held: &[ByteArray], text: &str) -> ByteArray {
    match held.last() {
        Some(last) if last.data() == text.as_bytes() => last.clone(),
        _ => ByteArray::from(text),
    }
}
