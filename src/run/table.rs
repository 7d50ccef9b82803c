//! A run's rows in columns, as its file shows them.

use super::files::RunTime;
use crate::probe::Reading;
use crate::sampler::{Row, Sign};

/// The rows of a run, each value exactly as `readings.csv` prints it, so that whoever reads the
/// file computes with the same numbers as the run itself.
#[derive(Debug, Clone, Default)]
pub(super) struct Table {
    pub(super) elapsed_ms: Vec<i64>,
    pub(super) columns: Vec<Column>,
    /// Flags of the few rows that have any: (row, text).
    pub(super) flags: Vec<(usize, String)>,
}

/// One channel's cells.
#[derive(Debug, Clone, Default)]
pub(super) struct Column {
    /// Temperature in °C as printed; NaN for an empty cell.
    pub(super) degc: Vec<f64>,
    pub(super) decimals: Vec<u8>,
}

impl Table {
    pub(super) fn with_channels(channels: usize) -> Self {
        Self {
            columns: vec![Column::default(); channels],
            ..Self::default()
        }
    }

    /// Adds a row. False if the row is not later than the one before by a millisecond, or earlier
    /// than the run.
    pub(super) fn push(&mut self, row: &Row, time: &RunTime, slugs: &[String]) -> bool {
        let last_ms = self.elapsed_ms.last().copied();
        let Some(elapsed_ms) = elapsed_ms(row, time.start_ns, last_ms) else {
            return false;
        };
        let flags = row.flags(slugs);
        if !flags.is_empty() {
            self.flags.push((self.elapsed_ms.len(), flags));
        }
        self.elapsed_ms.push(elapsed_ms);
        for (channel, column) in self.columns.iter_mut().enumerate() {
            let (value, decimals) = match row.readings.get(channel) {
                Some(&Reading::Degc { value, decimals }) => (as_printed(value, decimals), decimals),
                _ => (f64::NAN, 0),
            };
            column.degc.push(value);
            column.decimals.push(decimals);
        }
        true
    }

    /// Adds a flag to rows that are there already, from one run time to another in ms.
    pub(super) fn flag_earlier(&mut self, (from_ms, to_ms): (i64, i64), slug: &str, sign: Sign) {
        let first = self.elapsed_ms.partition_point(|ms| *ms < from_ms);
        let last = self.elapsed_ms.partition_point(|ms| *ms <= to_ms);
        let flag = format!("{slug}:{}", sign.code());
        let begin = self.flags.partition_point(|(row, _)| *row < first);
        let mut old = self.flags.split_off(begin).into_iter().peekable();
        for row in first..last {
            match old.next_if(|(flagged, _)| *flagged == row) {
                None => self.flags.push((row, flag.clone())),
                Some((_, text)) if text.split(' ').any(|other| other == flag) => {
                    self.flags.push((row, text));
                }
                Some((_, text)) => self.flags.push((row, format!("{text} {flag}"))),
            }
        }
        self.flags.extend(old);
    }
}

/// A row's run time in ms, if it may follow a row at `last_ms`.
pub(super) fn elapsed_ms(row: &Row, start_ns: i64, last_ms: Option<i64>) -> Option<i64> {
    let ms = whole_ms(row.t_ns - start_ns);
    (ms >= 0 && last_ms.is_none_or(|last| ms > last)).then_some(ms)
}

/// The nearest millisecond.
pub(super) fn whole_ms(ns: i64) -> i64 {
    (ns + 500_000).div_euclid(1_000_000)
}

/// The number that the printed text of `value` stands for.
fn as_printed(value: f64, decimals: u8) -> f64 {
    let printed = format!("{value:.*}", usize::from(decimals)).parse::<f64>();
    // The file shows no sign at a zero.
    printed.unwrap_or(f64::NAN) + 0.0
}
