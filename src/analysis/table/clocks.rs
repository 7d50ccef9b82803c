//! Clocks that are changed by an hour while a table is written: times of day, or dates without an offset,
//! that jump by just that between two rows.

use super::anew::fits;
use super::steps::middle_step;
use super::work::Work;
use crate::analysis::{RowsWarning, Warning};

/// By how much clocks are put on and back, in seconds.
const HOUR_S: f64 = 3600.0;

/// Rows may be so far apart for times that go back, and for those that jump ahead, in seconds: a pause of
/// an hour is as likely as the other where rows are many minutes apart.
const BACK_S: f64 = 900.0;
const AHEAD_S: f64 = 300.0;

/// What is left of the jump without the hour is a step: at most so many usual ones where times go back, and
/// within this part of one where they jump ahead, which a pause may do too.
const STEPS: f64 = 1.5;
const EVEN: f64 = 0.25;

/// Least rows before and behind a change, and between two of them.
const ROWS: usize = 3;

impl Work {
    /// Takes out the hours by which clocks were changed, saying so.
    pub(super) fn clock_changes(&mut self, warnings: &mut Vec<Warning>) {
        let from_s = self.t_s.first().copied().unwrap_or(f64::NAN);
        let utc = self.time_heading.to_lowercase().contains("utc");
        if utc || !self.times.are_local(from_s) {
            return;
        }
        let columns = &self.columns;
        let goes_on = |row: usize| {
            let (same, later) = fits(columns, row);
            same.min(later) <= 1.0
        };
        let mut found = changes(&self.t_s);
        found.retain(|(row, _)| goes_on(*row));
        for (row, back) in found {
            let shift_s = if back { HOUR_S } else { -HOUR_S };
            for t in self.t_s.iter_mut().skip(row) {
                *t += shift_s;
            }
            let line = self.line(row);
            warnings.push(RowsWarning::ClockChanged { line, back }.into());
        }
    }
}

/// The rows before which clocks were changed, and whether they were put back; none if there are two of them
/// close together, which is rather a slip.
fn changes(t_s: &[f64]) -> Vec<(usize, bool)> {
    let Some(usual_s) = middle_step(t_s).filter(|s| *s > 0.0 && *s <= BACK_S) else {
        return Vec::new();
    };
    let change = |step_s: f64| {
        let (put_back, put_on) = (step_s + HOUR_S, step_s - HOUR_S);
        if step_s <= 0.0 && put_back > 0.0 && put_back <= STEPS * usual_s {
            return Some(true);
        }
        let even = (put_on - usual_s).abs() <= EVEN * usual_s;
        (usual_s <= AHEAD_S && even).then_some(false)
    };
    let steps = t_s.iter().zip(t_s.iter().skip(1)).enumerate();
    let found: Vec<(usize, bool)> = steps
        .filter_map(|(row, (a, b))| Some((row + 1, change(b - a)?)))
        .collect();
    let ends = [0].into_iter().chain(found.iter().map(|(row, _)| *row));
    let next = found.iter().map(|(row, _)| *row).chain([t_s.len()]);
    let apart = ends.zip(next).all(|(a, b)| b - a >= ROWS);
    if apart { found } else { Vec::new() }
}

#[cfg(test)]
mod tests {
    use super::super::Table;

    fn read(heading: &str, times: &[&str]) -> (Table, String) {
        let mut text = format!("{heading};slate\n");
        for (row, time) in times.iter().enumerate() {
            text.push_str(&format!("{time};{}\n", 20.0 + 0.5 * row as f64));
        }
        super::super::testing::read(&text)
    }

    fn minutes(table: &Table) -> Vec<f64> {
        let first_s = table.series.t_s[0];
        let rows = table.series.t_s.iter();
        rows.map(|t| (t - first_s) / 60.0).collect()
    }

    #[test]
    fn an_hour_of_summer_time_is_taken_out() {
        let back = ["2:57", "2:58", "2:59", "2:00", "2:01", "2:02"];
        let ahead = ["1:57", "1:58", "1:59", "3:00", "3:01", "3:02"];
        for (times, word) in [(back, "behind"), (ahead, "ahead of")] {
            for (heading, day) in [("Uhrzeit", ""), ("heure", ""), ("Datum", "25.10.2026 ")] {
                let times: Vec<String> = times.iter().map(|t| format!("{day}{t}:00")).collect();
                let times: Vec<&str> = times.iter().map(String::as_str).collect();
                let (table, said) = read(heading, &times);
                assert_eq!(minutes(&table), [0.0, 1.0, 2.0, 3.0, 4.0, 5.0], "{said}");
                assert!(said.contains("line 5") && said.contains(word), "{said}");
                assert!(!said.contains("sorted"), "{said}");
            }
        }
        // Without anything in the heading that says so.
        let (table, said) = read(
            "time",
            &[
                "2:58:00", "2:58:30", "2:59:00", "2:59:30", "2:00:00", "2:00:30", "2:01:00",
            ],
        );
        assert!((minutes(&table)[6] - 3.0).abs() < 1e-9, "{said}");
    }

    #[test]
    fn an_offset_a_pause_and_a_slip_are_no_change_of_clocks() {
        let zulu: Vec<String> = ["01:58", "01:59", "02:00", "03:01", "03:02", "03:03"]
            .map(|t| format!("2026-03-29T{t}:00Z"))
            .into();
        let zulu: Vec<&str> = zulu.iter().map(String::as_str).collect();
        for (heading, times) in [
            ("time", &zulu[..]),
            (
                "Uhrzeit",
                &["9:00", "9:01", "9:02", "10:04", "10:05", "10:06"][..],
            ),
            (
                "Uhrzeit",
                &["9:00", "9:01", "9:02", "10:03", "9:04", "9:05", "9:06"][..],
            ),
            // A watch.
            (
                "time",
                &[
                    "0:00:00", "0:01:00", "0:02:00", "1:03:00", "1:04:00", "1:05:00",
                ][..],
            ),
        ] {
            let (_, said) = read(heading, times);
            assert!(!said.contains("hour"), "{times:?}: {said}");
        }
    }
}
