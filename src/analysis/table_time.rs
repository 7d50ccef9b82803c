//! The time column while its table is read: what form its cells have, and what only the whole
//! column can tell.

use super::stamp::{Order, TimeForm, dated, form_of, seconds};

/// Seconds of a day.
const DAY_S: f64 = 86_400.0;

/// Rows of a hand-timed table are further apart than this; `10:32`, `10:35` read as minutes and
/// seconds are not, and so are a time of day.
const HAND_S: f64 = 15.0;

/// The times of a table, row by row and then as a whole.
pub(super) struct Times {
    unit_s: Option<f64>,
    hours: bool,
    form: Option<TimeForm>,
    /// Whether a cell said before or after noon.
    halves: bool,
    order: Option<Order>,
    /// First date, as written, and its seconds at midnight once the order of its fields is known.
    first_day: Option<(i64, (i64, i64))>,
    base_s: Option<f64>,
    /// Whether a cell had a fraction of a second.
    fractions: bool,
}

/// How the times were read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct TimesRead {
    /// In words that follow "as" or "in".
    pub(super) words: &'static str,
    /// Whether that is more than heading and cells say.
    pub(super) assumed: bool,
}

impl Times {
    /// For a column whose heading states this unit, or that it holds times of day.
    pub(super) fn new(unit_s: Option<f64>, hours: bool) -> Self {
        Self {
            unit_s,
            hours,
            form: None,
            halves: false,
            order: None,
            first_day: None,
            base_s: None,
            fractions: false,
        }
    }

    /// The form of the column, which its first cell that holds a time decides.
    pub(super) fn form(&mut self, cell: &[u8]) -> TimeForm {
        *self
            .form
            .get_or_insert_with(|| form_of(cell, self.unit_s, self.hours))
    }

    /// Sees whether a cell has a fraction of a second.
    pub(super) fn look(&mut self, cell: &[u8]) {
        let mut parts = cell.rsplit(|b| *b == b':');
        let (last, clock) = (parts.next().unwrap_or_default(), parts.next().is_some());
        let digits = last.iter().skip_while(|b| !b".,".contains(b)).skip(1);
        let digits = digits.take_while(|b| b.is_ascii_digit());
        // Dates with a time of day come from spreadsheets too, with zeros behind whole seconds.
        let calendar = self.form == Some(TimeForm::Calendar);
        let fraction = digits.filter(|b| !calendar || **b != b'0').count() > 0;
        let seconds = clock || self.form == Some(TimeForm::Number) && self.unit_s() < 2.0;
        self.fractions |= seconds && fraction;
    }

    /// Whether these are a logger's times: a person writes no fractions of a second.
    pub(super) fn logged(&self) -> bool {
        self.fractions
    }

    /// Seconds in one unit of a column of plain numbers.
    pub(super) fn unit_s(&self) -> f64 {
        self.unit_s.unwrap_or(1.0)
    }

    /// Seconds of a cell that is no plain number; none if it holds no time.
    pub(super) fn written(&mut self, cell: &[u8], form: TimeForm) -> Option<f64> {
        if form == TimeForm::Calendar {
            return self.stamp(cell);
        }
        self.halves |= super::stamp::split_half(cell.trim_ascii()).1.is_some();
        seconds(cell, form)
    }

    /// Seconds since the first row's stamp.
    ///
    /// Where a date does not say which field is the day, that does not matter before the first
    /// change of date; then the order in which the two days are closer together is taken.
    fn stamp(&mut self, cell: &[u8]) -> Option<f64> {
        let stamp = dated(cell)?;
        let day = (stamp.year, stamp.fields);
        let first = *self.first_day.get_or_insert(day);
        let at = |order: Order, day: (i64, (i64, i64)), time_s: f64| {
            let whole = super::stamp::Dated {
                year: day.0,
                fields: day.1,
                order: None,
                time_s,
            };
            whole.seconds(order)
        };
        if self.order.is_none() {
            let apart = |order| {
                let days = at(order, day, 0.0)? - at(order, first, 0.0)?;
                Some(days.abs())
            };
            self.order = stamp.order.or_else(|| {
                let (dm, md) = (apart(Order::DayMonth), apart(Order::MonthDay));
                match (dm, md) {
                    (Some(_), None) => Some(Order::DayMonth),
                    (None, Some(_)) => Some(Order::MonthDay),
                    (Some(dm), Some(md)) if dm < md => Some(Order::DayMonth),
                    (Some(dm), Some(md)) if md < dm => Some(Order::MonthDay),
                    _ => None,
                }
            });
        }
        // Within the first day either order gives the same time since the first row.
        let order = self.order.unwrap_or(match at(Order::DayMonth, day, 0.0) {
            Some(_) => Order::DayMonth,
            None => Order::MonthDay,
        });
        let midnight_s = at(order, first, 0.0)?;
        let since_s = stamp.seconds(order)? - midnight_s;
        Some(since_s - *self.base_s.get_or_insert(since_s))
    }

    /// Brings the whole column to seconds of one time base, and says how it was read.
    pub(super) fn settle(&self, t_s: &mut [f64]) -> TimesRead {
        let said = |words| TimesRead {
            words,
            assumed: false,
        };
        let unit = match self.unit_s {
            Some(s) if s < 0.5 => "milliseconds",
            Some(s) if s > 7200.0 => "days",
            Some(s) if s > 120.0 => "hours",
            Some(s) if s > 2.0 => "minutes",
            _ => "seconds",
        };
        match self.form {
            None | Some(TimeForm::Number) => TimesRead {
                words: unit,
                assumed: self.unit_s.is_none(),
            },
            Some(TimeForm::Calendar) => said("dates with a time of day"),
            Some(TimeForm::MinuteSecond) => said("minutes and seconds"),
            Some(TimeForm::HourMinuteSecond) => {
                self.unwrap(t_s);
                said("hours, minutes and seconds")
            }
            Some(TimeForm::HourMinute) => {
                self.unwrap(t_s);
                said("hours and minutes")
            }
            Some(TimeForm::TwoParts) => {
                let clock = is_clock(t_s);
                if clock {
                    for t in t_s.iter_mut() {
                        *t *= 60.0;
                    }
                    self.unwrap(t_s);
                }
                TimesRead {
                    words: if clock {
                        "hours and minutes of a time of day"
                    } else {
                        "minutes and seconds"
                    },
                    assumed: true,
                }
            }
        }
    }

    /// A clock that falls back by more than half its round has passed midnight; one that shows
    /// only the hours 1 to 12 and does not say which half of the day it is, noon.
    fn unwrap(&self, t_s: &mut [f64]) {
        let dial = |t: &f64| (3600.0..46_800.0).contains(t);
        let round_s = if !self.halves && t_s.iter().all(dial) {
            0.5 * DAY_S
        } else {
            DAY_S
        };
        let mut rounds_s = 0.0;
        let mut last = f64::NEG_INFINITY;
        for t in t_s {
            *t += rounds_s;
            if last - *t > 0.5 * round_s {
                rounds_s += round_s;
                *t += round_s;
            }
            last = *t;
        }
    }
}

/// Whether two parts, read as minutes and seconds, are rather hours and minutes of a day: they
/// begin at one o'clock or later, no hour is beyond 23, and rows would be too close for a hand.
fn is_clock(t_s: &[f64]) -> bool {
    let begins = t_s.first().is_some_and(|t| *t >= 60.0);
    let on_dial = t_s.iter().all(|t| (0.0..1440.0).contains(t));
    let mut steps: Vec<f64> = t_s
        .iter()
        .zip(t_s.iter().skip(1))
        .map(|(a, b)| (b - a).abs())
        .collect();
    // The lower of two middle ones: a step past midnight is the largest.
    let middle = steps.len().saturating_sub(1) / 2;
    let close =
        !steps.is_empty() && *steps.select_nth_unstable_by(middle, f64::total_cmp).1 < HAND_S;
    begins && on_dial && close
}
