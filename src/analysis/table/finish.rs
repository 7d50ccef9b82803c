//! A table once its last row is read: times in order, doubts, columns.

use super::Table;
use super::absent::leave_absent_out;
use super::column::{Column, ColumnRead};
use super::difference::differences;
use super::groups::groups;
use super::read::Doubt;
use super::slips::slips;
use super::work::Work;
use super::worked_out::worked_out;
use crate::analysis::{Series, TableError, Warning};

impl Work {
    /// Brings the times to seconds in order, and says what was mended or assumed for that.
    pub(super) fn settle(&mut self, warnings: &mut Vec<Warning>) -> Result<ColumnRead, TableError> {
        let (count, line) = self.timeless;
        if count > 0 {
            warnings.push(Warning::NoTime { count, line });
        }
        let read = self.times.settle(&mut self.t_s);
        let column = self.time_heading.clone();
        if read.assumed {
            let (column, unit) = (column.clone(), read.words);
            warnings.push(Warning::TimeUnitAssumed { column, unit });
        }
        match read.doubt {
            Some(Doubt::Point { taken }) => {
                let column = column.clone();
                warnings.push(Warning::PointInTimes { column, taken });
            }
            Some(Doubt::Hours) => {
                let hours = self.t_s.iter().fold(0.0, |a: f64, b| a.max(*b)) / 3600.0;
                let column = column.clone();
                warnings.push(Warning::HoursLong { column, hours });
            }
            None => {}
        }
        self.take_part(warnings);
        self.clock_changes(warnings);
        self.go_on(warnings)?;
        self.slips_of_time(warnings);
        self.in_order(warnings);
        Ok(ColumnRead {
            heading: column,
            read: format!("times in {}", read.words),
        })
    }

    /// Why there is no row.
    pub(super) fn no_rows(&self) -> TableError {
        let (line, column) = (self.timeless.1, self.time_heading.clone());
        match &self.no_time {
            Some(text) => TableError::NoTimes {
                line,
                column,
                text: text.clone(),
            },
            None => TableError::NoRows,
        }
    }

    /// Looks for what is odd in the columns, and gives the table.
    pub(super) fn finish(
        mut self,
        times: Vec<ColumnRead>,
        mut warnings: Vec<Warning>,
    ) -> Result<Table, TableError> {
        let mut columns = times;
        let logged = self.times.logged();
        self.leave_empty_out(&mut warnings);
        differences(&mut self.columns, &mut warnings);
        worked_out(&mut self.columns, &mut warnings);
        if !logged {
            let told = slips(&self.t_s, &self.columns, |row| self.line(row));
            for (places, doubt) in told {
                for (column, row) in places {
                    if let Some(column) = self.columns.get_mut(column) {
                        column.leave_out(row);
                    }
                }
                warnings.push(doubt);
            }
        }
        let mut columns_read = std::mem::take(&mut self.columns);
        leave_absent_out(&mut columns_read, &mut warnings, |row| self.line(row));
        self.columns = columns_read;
        self.keep_temperatures(&mut warnings)?;
        let names = self.columns.iter().map(|column| column.name.as_str());
        warnings.extend(groups(names).map(Warning::from));
        let rows = self.t_s.len();
        if rows < 3 {
            warnings.push(Warning::FewRows { rows });
        }
        columns.extend(self.columns.iter().map(Column::read));
        let unsure = self.unsure();
        let told_missing = self.columns.iter().map(Column::told_missing).collect();
        let channels = self.columns.into_iter().map(Column::channel).collect();
        Ok(Table {
            series: Series {
                t_s: self.t_s,
                channels,
                unsure,
            },
            warnings,
            columns,
            sheet: None,
            logged,
            told_missing,
        })
    }

    /// Leaves out columns without any value: those without a heading, and in a table by hand those that
    /// were made ready for what was never written, beside one that has values. A logger's is a dead probe.
    fn leave_empty_out(&mut self, warnings: &mut Vec<Warning>) {
        let is_empty = |c: &Column| c.numbers + c.texts == 0;
        let prepared =
            self.by_hand && !self.times.logged() && self.columns.iter().any(|c| c.numbers > 0);
        self.columns.retain(|c| {
            if is_empty(c) && c.is_named() && prepared {
                let column = c.heading.clone();
                warnings.push(Warning::ColumnLeftOut { column });
            }
            !is_empty(c) || (c.is_named() && !prepared)
        });
    }

    /// Adds the seconds of a second column of times to the minutes of the first, where that is what
    /// they are.
    fn take_part(&mut self, warnings: &mut Vec<Warning>) {
        let Some(part) = self.part.take() else {
            return;
        };
        let as_sample = self.columns.iter().position(|c| c.place == part.place);
        let unit_s = self.times.unit_s();
        let is_whole = |v: f64| (v - v.round()).abs() < 1e-9;
        let of_first = self.t_s.iter().all(|t| is_whole(t / unit_s));
        let known = || part.values.iter().copied().filter(|v| v.is_finite());
        let most = unit_s / part.unit_s;
        let parts = known().all(|v| is_whole(v) && (0.0..most).contains(&v));
        let pairs = self.t_s.iter().zip(self.t_s.iter().skip(1));
        let repeat = pairs.clone().any(|(a, b)| b <= a) || known().all(|v| v.abs() < 1e-9);
        let numbers = self.times.are_numbers();
        // A letter that may be a unit or begin a sample's name is a unit where the first column
        // alone does not tell the rows apart.
        if numbers && of_first && parts && (repeat || as_sample.is_none()) {
            for (t, v) in self.t_s.iter_mut().zip(&part.values) {
                *t += if v.is_finite() { v * part.unit_s } else { 0.0 };
            }
            self.columns.retain(|c| c.place != part.place);
            self.time_heading = format!("{}, {}", self.time_heading, part.heading);
            return;
        }
        // The same times once more, in another unit, need no word.
        let mut both = self.t_s.iter().zip(&part.values);
        let same = both.all(|(t, v)| v.is_nan() || (t - v * part.unit_s).abs() <= 1.0);
        if as_sample.is_none() && !same {
            let column = part.heading;
            warnings.push(Warning::ColumnLeftOut { column });
        }
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

    /// Sorts by time and keeps the first row of each time, saying so.
    fn in_order(&mut self, warnings: &mut Vec<Warning>) {
        let pairs = self.t_s.iter().zip(self.t_s.iter().skip(1));
        if pairs.clone().all(|(a, b)| a < b) {
            return;
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
        self.set_lines(&order.iter().map(|i| self.line(*i)).collect::<Vec<u64>>());
    }

    /// Says which line of the file each row is from.
    pub(super) fn set_lines(&mut self, of_rows: &[u64]) {
        self.lines.clear();
        let mut next = None;
        for (row, line) in of_rows.iter().enumerate() {
            if next != Some(*line) {
                self.lines.push((row, *line));
            }
            next = Some(line + 1);
        }
    }
}
