//! Lines of a run's `readings.csv` and `events.csv`.

use arrayvec::ArrayVec;

use crate::wire::MAX_CHANNELS;

/// What stands before the samples' columns.
const BEFORE: usize = 2;
/// What stands behind them.
const BEHIND: usize = 2;

/// A line of rows, taken apart where it stands: whoever goes through a fortnight of them keeps none.
#[derive(Debug, Clone, PartialEq)]
pub struct RowLine<'a> {
    /// Time since the run's start in seconds.
    pub t_s: f64,
    /// Wall-clock time as written.
    pub utc: &'a str,
    /// A cell of each sample as written; empty where there is no reading.
    pub cells: ArrayVec<&'a str, MAX_CHANNELS>,
    /// What the lamp did, as far as was known; may be empty.
    pub phase: &'a str,
    /// What is in doubt, separated by spaces; may be empty.
    pub flags: &'a str,
}

impl<'a> RowLine<'a> {
    /// A row of the file; none for any other line. Its cells hold no quotes: they are numbers and words of our own.
    #[must_use]
    pub fn of(line: &'a str) -> Option<Self> {
        let mut fields = ArrayVec::<&str, { BEFORE + MAX_CHANNELS + BEHIND }>::new();
        for field in line.trim_end_matches('\r').split(',') {
            fields.try_push(field).ok()?;
        }
        let channels = fields.len().checked_sub(BEFORE + BEHIND)?;
        let t_s: f64 = fields.first()?.parse().ok()?;
        let cells = fields.get(BEFORE..BEFORE + channels)?;
        (channels > 0 && t_s.is_finite()).then_some(Self {
            t_s,
            utc: fields.get(1).copied()?,
            cells: cells.iter().copied().collect(),
            phase: fields.get(BEFORE + channels).copied()?,
            flags: fields.get(BEFORE + channels + 1).copied()?,
        })
    }

    /// Temperatures in °C, NaN where there is none.
    #[must_use]
    pub fn degc(&self) -> ArrayVec<f64, MAX_CHANNELS> {
        self.cells.iter().map(|cell| degc_of(cell)).collect()
    }
}

fn degc_of(cell: &str) -> f64 {
    let number = cell.parse().ok().filter(|v: &f64| v.is_finite());
    number.unwrap_or(f64::NAN)
}

/// One row, with the digits as they stand in the file.
#[derive(Debug, Clone, PartialEq)]
pub struct RowSeen {
    /// Time since the run's start in seconds.
    pub t_s: f64,
    /// Wall-clock time as written.
    pub utc: String,
    /// A cell of each sample as written; empty where there is no reading.
    pub cells: ArrayVec<String, MAX_CHANNELS>,
    /// What the lamp did, as far as was known; may be empty.
    pub phase: String,
    /// What is in doubt, separated by spaces; may be empty.
    pub flags: String,
}

impl RowSeen {
    /// A row of the file; none for any other line.
    #[must_use]
    pub fn of(line: &str) -> Option<Self> {
        let row = RowLine::of(line)?;
        Some(Self {
            t_s: row.t_s,
            utc: row.utc.to_owned(),
            cells: row.cells.iter().map(|cell| (*cell).to_owned()).collect(),
            phase: row.phase.to_owned(),
            flags: row.flags.to_owned(),
        })
    }

    /// Temperatures in °C, NaN where there is none.
    #[must_use]
    pub fn degc(&self) -> ArrayVec<f64, MAX_CHANNELS> {
        self.cells.iter().map(|cell| degc_of(cell)).collect()
    }
}

/// A time of the file, like `12.034`, in whole milliseconds.
#[must_use]
pub fn elapsed_ms(cell: &str) -> Option<i64> {
    let t_s: f64 = cell.parse().ok()?;
    // Beyond a thousand years nothing is logged.
    (t_s.abs() < 3e10).then(|| (t_s * 1000.0).round() as i64)
}

/// The samples' columns in the first line, without `_degc`.
#[must_use]
pub fn columns(head: &str) -> Vec<String> {
    let fields = head.trim_end_matches('\r').split(',');
    let columns = fields.filter_map(|f| f.strip_suffix("_degc"));
    columns.take(MAX_CHANNELS).map(str::to_owned).collect()
}

/// One event.
#[derive(Debug, Clone, PartialEq, serde::Serialize)]
pub struct EventSeen {
    /// Time since the run's start in seconds.
    pub t_s: f64,
    /// Wall-clock time as written.
    #[serde(skip)]
    pub utc: String,
    /// What happened, as a word.
    pub kind: String,
    /// The sample it is about, or empty.
    pub channel: String,
    /// In words.
    pub detail: String,
}

impl EventSeen {
    /// An event of the file; none for any other line.
    #[must_use]
    pub fn of(line: &str) -> Option<Self> {
        let mut reader = csv::ReaderBuilder::new()
            .has_headers(false)
            .from_reader(line.as_bytes());
        let record = reader.records().next()?.ok()?;
        let text = |index: usize| record.get(index).map(str::to_owned);
        Some(Self {
            t_s: record.get(0)?.parse().ok()?,
            utc: text(1)?,
            kind: text(2)?,
            channel: text(3)?,
            detail: text(4)?,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_row_keeps_its_digits() {
        let row = RowSeen::of("12.034,2026-03-14T10:32:05.123Z,23.450,,heating,moss:open").unwrap();
        assert_eq!(row.cells.as_slice(), ["23.450", ""]);
        assert_eq!(
            (row.phase.as_str(), row.flags.as_str()),
            ("heating", "moss:open")
        );
        let degc = row.degc();
        assert!((degc[0] - 23.45).abs() < 1e-12 && degc[1].is_nan());
        for bad in [
            "",
            "1,2",
            "x,utc,1,heating,",
            "inf,utc,1,heating,",
            "elapsed_s,time_utc,a_degc,phase,flags",
        ] {
            assert_eq!(RowSeen::of(bad), None, "{bad}");
        }
        assert_eq!(
            columns("elapsed_s,time_utc,slate_degc,moss_degc,phase,flags"),
            ["slate", "moss"]
        );
    }

    #[test]
    fn an_event_may_hold_commas_and_quotes() {
        let event = EventSeen::of("1.222,2026-03-14T10:32:06Z,hello,,\"a \"\"b\"\", c\"").unwrap();
        assert_eq!(
            (event.kind.as_str(), event.detail.as_str()),
            ("hello", "a \"b\", c")
        );
        assert_eq!(elapsed_ms("12.034"), Some(12_034));
        assert_eq!(elapsed_ms("elapsed_s"), None);
        assert_eq!(
            EventSeen::of("elapsed_s,time_utc,kind,channel,detail"),
            None
        );
    }
}
