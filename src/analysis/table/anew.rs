//! Times that begin again in the middle of a table, and slips of the pen among evenly spaced times.
//!
//! Who stops the time with a watch starts it anew when the lamp goes off. The second part then goes on
//! after the first: its zero is the instant of the last row before it, or one step later. Which of the two
//! the temperatures say: at the same instant they are the same, one step later they have gone on.

use super::column::Column;
use super::steps::middle_step;
use super::work::Work;
use crate::analysis::{TableError, Warning};

/// Least rows of each part.
const ROWS: usize = 3;

/// A second part whose first values are further than this from both, in degrees Celsius and in parts of
/// what the column changes, does not go on after the first.
const JUMP: (f64, f64) = (2.0, 0.3);

/// Most times that a watch is started anew in one table.
const MOST_PARTS: usize = 8;

/// Values of the same instant are so much nearer to the last ones than to where those were going.
const SAME: f64 = 0.3;

/// Times like those of their neighbours are within this part of a step.
const EVEN: f64 = 0.1;

/// Most slips that are told; more are no slips.
const MOST: usize = 3;

impl Work {
    /// Lets times that begin again at zero go on after those before them.
    pub(super) fn go_on(&mut self, warnings: &mut Vec<Warning>) -> Result<(), TableError> {
        if self.times.are_of_day() {
            return Ok(());
        }
        let Some(starts) = parts(&self.t_s) else {
            return Ok(());
        };
        let (Some(row), next) = (starts.first().copied(), starts.get(1).copied()) else {
            return Ok(());
        };
        let line = self.line(row);
        let end = next.unwrap_or(self.t_s.len());
        let part = self.t_s.get(row..end).unwrap_or_default();
        let step_s = middle_step(part).unwrap_or(f64::NAN);
        let at = |row: usize| self.t_s.get(row).copied().unwrap_or(f64::NAN);
        let (last_s, first_s) = (at(row - 1), at(row));
        let from_zero = first_s.abs() < 0.5 * step_s;
        let (same, later) = fits(&self.columns, row);
        if same.min(later) > 1.0 {
            return Err(TableError::TimesAnew { line });
        }
        // Who goes on at the same instant copies the readings or takes almost the same.
        let at_once = !from_zero || same <= SAME * later + 1e-9;
        let shift_s = last_s + if at_once { 0.0 } else { step_s };
        for t in self.t_s.iter_mut().take(end).skip(row) {
            *t += shift_s;
        }
        warnings.push(Warning::WatchAnew { line, at_once });
        if at_once && from_zero {
            // The row of the same instant says nothing new.
            self.forget(row);
        }
        self.go_on(warnings)
    }

    /// Leaves out rows whose time is a slip of the pen: the times around them leave room for just one
    /// other.
    pub(super) fn slips_of_time(&mut self, warnings: &mut Vec<Warning>) {
        let rows = slips(&self.t_s);
        let unit_s = self.times.unit_s();
        let plain = self.times.are_numbers();
        let written = |t_s: f64| {
            if plain {
                format!("{}", (t_s / unit_s * 1e3).round() / 1e3)
            } else {
                clock(t_s)
            }
        };
        let mut told = Vec::new();
        for row in &rows {
            let at = |row: usize| self.t_s.get(row).copied().unwrap_or(f64::NAN);
            told.push(Warning::TimeSlip {
                line: self.line(*row),
                written: written(at(*row)),
                room: written(0.5 * (at(row - 1) + at(row + 1))),
            });
        }
        warnings.extend(told);
        for row in rows.iter().rev() {
            self.forget(*row);
        }
    }

    /// Takes a row out of the table.
    fn forget(&mut self, row: usize) {
        let kept: Vec<u64> = (0..self.t_s.len())
            .filter(|i| *i != row)
            .map(|i| self.line(i))
            .collect();
        if row < self.t_s.len() {
            self.t_s.remove(row);
        }
        for column in &mut self.columns {
            if row < column.degc.len() {
                column.degc.remove(row);
            }
        }
        self.set_lines(&kept);
    }
}

/// `m:ss`, or `h:mm:ss` from an hour on.
fn clock(t_s: f64) -> String {
    let whole = t_s.round().max(0.0) as u64;
    let (hours, minutes, seconds) = (whole / 3600, whole / 60 % 60, whole % 60);
    if hours > 0 {
        format!("{hours}:{minutes:02}:{seconds:02}")
    } else {
        format!("{minutes}:{seconds:02}")
    }
}

/// The rows at which times begin again, where each part is in order and begins as the first does.
fn parts(t_s: &[f64]) -> Option<Vec<usize>> {
    let back = t_s.iter().zip(t_s.iter().skip(1));
    let starts: Vec<usize> = back
        .enumerate()
        .filter_map(|(row, (a, b))| (b <= a).then_some(row + 1))
        .collect();
    let begins = || [0].into_iter().chain(starts.iter().copied());
    let ends = starts.iter().copied().chain([t_s.len()]);
    let anew = begins().zip(ends).all(|(begin, end)| {
        let part = t_s.get(begin..end).unwrap_or_default();
        let first = part.first().copied().unwrap_or(f64::NAN);
        let step = middle_step(part).unwrap_or(f64::NAN);
        part.len() >= ROWS && (0.0..1.5 * step).contains(&first)
    });
    ((1..=MOST_PARTS).contains(&starts.len()) && anew).then_some(starts)
}

/// How far the first values of a second part are from the last ones before it, and from where those were
/// going, in parts of what may be.
pub(super) fn fits(columns: &[Column], row: usize) -> (f64, f64) {
    let (mut same, mut later) = (0.0_f64, 0.0_f64);
    for column in columns.iter().filter(|c| c.numbers > c.texts) {
        let at = |row: Option<usize>| row.and_then(|row| column.degc.get(row)).copied();
        let known = |v: Option<f64>| v.filter(|v| v.is_finite());
        let (Some(last), Some(first)) = (known(at(row.checked_sub(1))), known(at(Some(row))))
        else {
            continue;
        };
        let before = known(at(row.checked_sub(2))).unwrap_or(last);
        let all = || column.degc.iter().copied().filter(|v| v.is_finite());
        let range = all().fold(f64::NEG_INFINITY, f64::max) - all().fold(f64::INFINITY, f64::min);
        let may = (JUMP.1 * range).max(JUMP.0);
        same = same.max((first - last).abs() / may);
        later = later.max((first - (2.0 * last - before)).abs() / may);
    }
    (same, later)
}

/// Rows of evenly spaced times whose own time is not between those around it, which leave room for just
/// one more. Rows that sorting brings in order are no slips.
fn slips(t_s: &[f64]) -> Vec<usize> {
    let step = middle_step(t_s).unwrap_or(f64::NAN);
    let is_step = |gap: f64, steps: f64| (gap - steps * step).abs() <= EVEN * step;
    let rising = t_s.iter().zip(t_s.iter().skip(1)).all(|(a, b)| a < b);
    let mut sorted = t_s.to_vec();
    sorted.sort_by(f64::total_cmp);
    let even = sorted
        .iter()
        .zip(sorted.iter().skip(1))
        .all(|(a, b)| is_step(b - a, 1.0));
    if t_s.len() < 5 || step <= 0.0 || rising || even {
        return Vec::new();
    }
    let odd = t_s.windows(3).enumerate().filter_map(|(row, three)| {
        let [before, own, after] = three else {
            return None;
        };
        let room = is_step(after - before, 2.0);
        (room && !(before < own && own < after)).then_some(row + 1)
    });
    let odd: Vec<usize> = odd.take(MOST + 1).collect();
    let mut kept = t_s.iter().enumerate().filter(|(row, _)| !odd.contains(row));
    let mut last = f64::NEG_INFINITY;
    let rest_rises = kept.all(|(_, t)| {
        let rises = *t > last;
        last = *t;
        rises
    });
    if odd.len() <= MOST && rest_rises {
        odd
    } else {
        Vec::new()
    }
}

#[cfg(test)]
mod tests {
    use super::super::read_table;

    fn read(text: &str) -> (Vec<f64>, Vec<f64>, String) {
        let table = read_table(text.as_bytes()).unwrap_or_else(|e| panic!("{e}\n{text}"));
        let minutes = table.series.t_s.iter().map(|t| t / 60.0).collect();
        let said: Vec<String> = table.warnings.iter().map(ToString::to_string).collect();
        let degc = table.series.channels[0].degc.clone();
        (minutes, degc, said.join("\n"))
    }

    #[test]
    fn a_watch_that_was_started_anew_goes_on() {
        // One step later: slate has gone on as before.
        let (minutes, degc, said) =
            read("min,slate\n0,22\n1,25.0\n2,27.5\n3,29.5\n0,31.2\n1,29.0\n2,27.2\n3,25.7\n");
        assert_eq!(minutes, [0.0, 1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0]);
        assert!(
            said.contains("line 6") && said.contains("one step"),
            "{said}"
        );
        assert_eq!(degc.len(), 8);
        // The same instant, under a heading of its own.
        let (minutes, degc, said) = read(
            "min;slate\n0;22\n1;25,0\n2;27,5\n3;29,5\nAbkühlung;\nmin;slate\n0;29,5\n1;27,2\n2;25,3\n",
        );
        assert_eq!(minutes, [0.0, 1.0, 2.0, 3.0, 4.0, 5.0]);
        assert_eq!(degc, [22.0, 25.0, 27.5, 29.5, 27.2, 25.3]);
        assert!(
            said.contains("line 8") && said.contains("same instant"),
            "{said}"
        );
        // Without a row at zero there is nothing to decide.
        let (minutes, ..) =
            read("min,slate\n0,22\n1,25.0\n2,27.5\n3,29.5\n1,27.3\n2,25.4\n3,23.9\n");
        assert_eq!(minutes, [0.0, 1.0, 2.0, 3.0, 4.0, 5.0, 6.0]);
    }

    #[test]
    fn another_lesson_below_the_first_is_refused() {
        let text = "min,slate\n0,22\n1,25\n2,27.5\n3,29.5\n4,31\n0,22.1\n1,25.2\n2,27.4\n3,29\n";
        let error = read_table(text.as_bytes()).expect_err(text).to_string();
        assert!(
            error.contains("line 7") && error.contains("begin again"),
            "{error}"
        );
    }

    #[test]
    fn a_slip_in_the_times_is_told_where_it_stands() {
        for (slip, room) in [(61, 16), (12, 16), (17, 16)] {
            let mut text = String::from("min,slate\n");
            for minute in 0..24 {
                let time = if minute == 16 { slip } else { minute };
                text.push_str(&format!("{time},{}\n", 20 + minute));
            }
            let (minutes, _, said) = read(&text);
            assert_eq!(minutes.len(), 23, "{said}");
            assert!(minutes.windows(2).all(|w| w[0] < w[1]));
            let told = format!("Line 18: the time {slip}");
            assert!(
                said.contains(&told) && said.contains(&room.to_string()),
                "{said}"
            );
            assert!(!said.contains("sorted"), "{said}");
        }
        // Rows that only changed places are sorted.
        let (minutes, _, said) = read("min,slate\n0,20\n1,21\n3,23\n2,22\n4,24\n5,25\n");
        assert_eq!(minutes, [0.0, 1.0, 2.0, 3.0, 4.0, 5.0]);
        assert!(said.contains("sorted"), "{said}");
    }
}
