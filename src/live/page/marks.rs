//! The table at the marks while it fills: values between the two rows around each mark.
//!
//! What is final is in `marks.csv`, by local fits that know where the lamp's edges are.

use std::collections::VecDeque;

use arrayvec::ArrayVec;

use crate::follow::RowLine;
use crate::wire::MAX_CHANNELS;

/// Rows that are kept to look back to marks that lie before the lamp was noticed.
const KEPT: usize = 2048;

/// Marks that are shown at most.
const MOST: usize = 240;

/// A row of the table.
#[derive(Debug, Clone, PartialEq, serde::Serialize)]
pub(super) struct MarkSeen {
    /// Minutes from the first mark, as text.
    pub(super) minute: String,
    pub(super) phase: String,
    /// A cell for each sample, empty where there is no value.
    pub(super) cells: Vec<String>,
}

/// Rows of the last minutes.
#[derive(Debug, Default)]
pub(super) struct Recent {
    rows: VecDeque<(
        f64,
        ArrayVec<f64, MAX_CHANNELS>,
        ArrayVec<usize, MAX_CHANNELS>,
    )>,
}

impl Recent {
    pub(super) fn push(&mut self, row: &RowLine<'_>, degc: &ArrayVec<f64, MAX_CHANNELS>) {
        if self.rows.len() == KEPT {
            self.rows.pop_front();
        }
        let decimals = row.cells.iter();
        let decimals = decimals.map(|c| c.split_once('.').map_or(0, |(_, d)| d.len()));
        self.rows
            .push_back((row.t_s, degc.clone(), decimals.collect()));
    }

    /// Cells at an instant, if rows stand on both sides of it.
    pub(super) fn at(&self, at_s: f64) -> Option<Vec<String>> {
        let after = self.rows.partition_point(|(t_s, ..)| *t_s < at_s);
        let (t1, high, decimals) = self.rows.get(after)?;
        let (t0, low, _) = self
            .rows
            .get(after.checked_sub(1)?)
            .unwrap_or(self.rows.get(after)?);
        let share = if t1 > t0 {
            (at_s - t0) / (t1 - t0)
        } else {
            1.0
        };
        let cell = |((low, high), decimals): ((&f64, &f64), &usize)| {
            let value = low + share * (high - low);
            if value.is_finite() {
                format!("{value:.*}", *decimals)
            } else {
                String::new()
            }
        };
        Some(low.iter().zip(high).zip(decimals).map(cell).collect())
    }

    /// Slope of each channel over the last `span_s`, in °C per minute, by least squares; none
    /// where too few rows say so.
    pub(super) fn slope_degc_per_min(&self, channel: usize, span_s: f64) -> Option<f64> {
        let last_s = self.rows.back()?.0;
        let points: Vec<(f64, f64)> = self
            .rows
            .iter()
            .rev()
            .take_while(|(t_s, ..)| *t_s >= last_s - span_s)
            .filter_map(|(t_s, degc, _)| degc.get(channel).map(|d| (*t_s, *d)))
            .filter(|(_, degc)| degc.is_finite())
            .collect();
        let (first, last) = (points.last()?.0, points.first()?.0);
        if points.len() < 5 || last - first < 0.5 * span_s {
            return None;
        }
        let (t_s, degc): (Vec<f64>, Vec<f64>) = points.into_iter().unzip();
        crate::analysis::fit_line(&t_s, &degc).map(|line| 60.0 * line.slope)
    }
}

/// Fills the table.
#[derive(Debug, Default)]
pub(super) struct Marks {
    zero_s: Option<f64>,
    next: u32,
    pub(super) rows: VecDeque<MarkSeen>,
}

impl Marks {
    /// The first mark is at `zero_s`. Asked for again, it keeps the first answer.
    pub(super) fn begin(&mut self, zero_s: f64) {
        if self.zero_s.is_none() {
            self.zero_s = Some(zero_s);
        }
    }

    /// The first mark is at `zero_s`, whatever was said before.
    pub(super) fn begin_anew(&mut self, zero_s: f64) {
        *self = Self {
            zero_s: Some(zero_s),
            ..Self::default()
        };
    }

    /// Where the first mark is, in seconds.
    pub(super) fn zero_s(&self) -> Option<f64> {
        self.zero_s
    }

    /// Fills the marks that have passed at `now_s`.
    pub(super) fn fill(
        &mut self,
        now_s: f64,
        interval_s: f64,
        end_s: Option<f64>,
        recent: &Recent,
        phase: &str,
    ) {
        let Some(zero_s) = self.zero_s else { return };
        loop {
            let after_s = f64::from(self.next) * interval_s;
            if zero_s + after_s > now_s || end_s.is_some_and(|end_s| after_s > end_s + 1e-6) {
                return;
            }
            self.next += 1;
            let Some(cells) = recent.at(zero_s + after_s) else {
                continue;
            };
            if self.rows.len() == MOST {
                self.rows.pop_front();
            }
            self.rows.push_back(MarkSeen {
                minute: minutes(after_s),
                phase: phase.to_owned(),
                cells,
            });
        }
    }

    /// Seconds to the next mark.
    pub(super) fn next_in_s(&self, now_s: f64, interval_s: f64, end_s: Option<f64>) -> Option<f64> {
        let after_s = f64::from(self.next) * interval_s;
        if end_s.is_some_and(|end_s| after_s > end_s + 1e-6) {
            return None;
        }
        Some((self.zero_s? + after_s - now_s).max(0.0))
    }
}

/// `1.5`, without noughts behind.
fn minutes(after_s: f64) -> String {
    let text = format!("{:.2}", after_s / 60.0);
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

/// A minute of the file in hundredths, where a moment that was marked has more.
fn tidy(minute: &str) -> String {
    let minute_s = minute.parse::<f64>().map(|m| 60.0 * m);
    minute_s.map_or_else(|_| minute.to_owned(), minutes)
}

/// The rows of a `marks.csv`.
pub(super) fn of_file(text: &str, channels: usize) -> Vec<MarkSeen> {
    let mut reader = csv::ReaderBuilder::new().from_reader(text.as_bytes());
    let records = reader.records().filter_map(Result::ok);
    let row = |record: csv::StringRecord| MarkSeen {
        minute: record.get(0).map(tidy).unwrap_or_default(),
        phase: record.get(1).unwrap_or_default().to_owned(),
        // A value and its uncertainty for each sample.
        cells: record
            .iter()
            .skip(2)
            .step_by(2)
            .take(channels)
            .map(str::to_owned)
            .collect(),
    };
    records.take(MOST).map(row).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rows(recent: &mut Recent, from: u32, to: u32) {
        for s in from..to {
            let line = format!(
                "{s}.000,utc,{:.2},{:.2},heating,",
                f64::from(s) / 10.0,
                20.0
            );
            let row = RowLine::of(&line).unwrap();
            recent.push(&row, &row.degc());
        }
    }

    #[test]
    fn marks_fill_as_they_pass_also_those_before_the_lamp_was_noticed() {
        let (mut recent, mut marks) = (Recent::default(), Marks::default());
        rows(&mut recent, 0, 75);
        marks.fill(74.0, 30.0, Some(90.0), &recent, "heating");
        assert!(marks.rows.is_empty());
        marks.begin(10.5);
        marks.fill(74.0, 30.0, Some(90.0), &recent, "heating");
        let cells: Vec<_> = marks
            .rows
            .iter()
            .map(|m| (m.minute.as_str(), m.cells[0].as_str()))
            .collect();
        assert_eq!(cells, [("0", "1.05"), ("0.5", "4.05"), ("1", "7.05")]);
        assert!((marks.next_in_s(74.0, 30.0, Some(90.0)).unwrap() - 26.5).abs() < 1e-9);
        rows(&mut recent, 75, 300);
        marks.fill(299.0, 30.0, Some(90.0), &recent, "cooling");
        assert_eq!(marks.rows.len(), 4);
        assert_eq!(marks.next_in_s(299.0, 30.0, Some(90.0)), None);
        assert!((recent.slope_degc_per_min(0, 60.0).unwrap() - 6.0).abs() < 1e-9);
        assert_eq!(recent.slope_degc_per_min(5, 60.0), None);
    }

    #[test]
    fn a_finished_table_is_shown_to_the_digit() {
        let text = "mark_min,phase,slate_degc,u_slate_degc,moss_degc,u_moss_degc\n0,settling,22.01,0.02,,\n";
        let rows = of_file(text, 2);
        assert_eq!(
            rows,
            [MarkSeen {
                minute: "0".into(),
                phase: "settling".into(),
                cells: vec!["22.01".into(), String::new()]
            }]
        );
    }
}
