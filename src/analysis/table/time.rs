//! The time column while its table is read: what form its cells have, and what only the whole
//! column can tell.

use super::number::Cell;
use super::read::{Doubt, TimesRead, Zone};
use super::stamp::{Order, TimeForm, dated, form_of, seconds};
use super::steps::{
    Epoch, is_by_hand, is_clock, is_even, is_hourly, is_lesson_in_minutes, of_days, parted,
};

/// Seconds of a day.
const DAY_S: f64 = 86_400.0;

/// The times of a table, row by row and then as a whole.
#[derive(Debug, Clone)]
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
    zone: Zone,
    /// What plain numbers that count from 1970 are in, once the first of them is seen.
    since_1970: Option<Epoch>,
    /// Whether a cell had a fraction of a second.
    fractions: bool,
    point: Point,
}

/// What the point in plain numbers is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Point {
    /// A decimal one: some number had not two decimals.
    Decimal,
    /// Each number so far had two decimals, as seconds behind minutes have.
    Open,
    /// The heading says that it stands between minutes and seconds.
    Parts,
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
            zone: Zone::Local,
            since_1970: None,
            fractions: false,
            point: Point::Open,
        }
    }

    /// For a column whose heading says that a point stands between minutes and seconds.
    pub(super) fn parted() -> Self {
        Self {
            point: Point::Parts,
            ..Self::new(Some(60.0), false)
        }
    }

    /// Takes times of another column as its own.
    pub(super) fn join(&mut self, other: &Self) {
        self.fractions |= other.fractions;
    }

    /// Whether these are times of day, which nobody starts anew.
    pub(super) fn are_of_day(&self) -> bool {
        self.hours || self.form == Some(TimeForm::Calendar)
    }

    /// Whether these are times of a clock on the wall, which may be changed; the first is at so many seconds.
    pub(super) fn are_local(&self, from_s: f64) -> bool {
        match self.form {
            Some(TimeForm::Calendar) => self.zone == Zone::Local,
            Some(TimeForm::HourMinuteSecond | TimeForm::HourMinute | TimeForm::TwoParts) => {
                self.hours || from_s >= 3600.0
            }
            _ => self.hours,
        }
    }

    /// Seconds of a plain number; since the first row where numbers count from 1970.
    pub(super) fn of_number(&mut self, value: f64) -> Option<f64> {
        let unit_s = self.unit_s;
        let epoch = *self
            .since_1970
            .get_or_insert_with(|| Epoch::of(value, unit_s));
        let time_s = match epoch {
            Epoch::None => value * self.unit_s(),
            Epoch::Seconds | Epoch::Milliseconds if Epoch::of(value, unit_s) != epoch => {
                return None;
            }
            Epoch::Seconds => value,
            Epoch::Milliseconds => value / 1e3,
        };
        if self.unit_s() < 0.5 || epoch == Epoch::Milliseconds {
            self.fractions |= value % 1e3 > 0.0;
        }
        let base_s = match epoch {
            Epoch::None => 0.0,
            _ => *self.base_s.get_or_insert(time_s),
        };
        // Beyond 1e12 s a double no longer holds milliseconds.
        (time_s.abs() < 1e12).then_some(time_s - base_s)
    }

    /// Whether its cells are plain numbers.
    pub(super) fn are_numbers(&self) -> bool {
        self.form == Some(TimeForm::Number)
    }

    /// The form of the column, which its first cell that holds a time decides.
    pub(super) fn form(&mut self, cell: &[u8]) -> TimeForm {
        if let Some(form) = self.form {
            return form;
        }
        let form = form_of(cell, self.unit_s, self.hours);
        // An empty cell or a word decides nothing.
        let number = || matches!(super::number::cell(cell), Cell::Number(..));
        if form != TimeForm::Number || number() {
            self.form = Some(form);
        }
        form
    }

    /// Sees whether a cell has a fraction of a second.
    pub(super) fn look(&mut self, cell: &[u8]) {
        let mut parts = cell.rsplit(|b| *b == b':');
        let (last, clock) = (parts.next().unwrap_or_default(), parts.next().is_some());
        let digits = last.iter().skip_while(|b| !b".,".contains(b)).skip(1);
        let digits = digits.take_while(|b| b.is_ascii_digit());
        if self.point == Point::Open && digits.clone().count() != 2 {
            self.point = Point::Decimal;
        }
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
        let found = seconds(cell, form);
        let two = matches!(form, TimeForm::TwoParts | TimeForm::MinuteSecond);
        if found.is_some() || !two {
            return found;
        }
        // From an hour on, minutes and seconds have hours before them.
        let hours = seconds(cell, TimeForm::HourMinuteSecond);
        let hours = hours.filter(|s| (3600.0..6.0 * 3600.0).contains(s))?;
        self.form = Some(TimeForm::MinuteSecond);
        Some(hours)
    }

    /// Seconds since the first row's stamp.
    ///
    /// Where a date does not say which field is the day, that does not matter before the first
    /// change of date; then the order in which the two days are closer together is taken.
    fn stamp(&mut self, cell: &[u8]) -> Option<f64> {
        let stamp = dated(cell)?;
        let day = (stamp.year, stamp.fields);
        let first = *self.first_day.get_or_insert(day);
        if stamp.fixed {
            self.zone = Zone::Fixed;
        }
        let at = |order: Order, day: (i64, (i64, i64)), time_s: f64| {
            let whole = super::stamp::Dated {
                year: day.0,
                fields: day.1,
                order: None,
                fixed: stamp.fixed,
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
    pub(super) fn settle(&mut self, t_s: &mut [f64]) -> TimesRead {
        let said = |words| TimesRead {
            words,
            assumed: false,
            doubt: None,
        };
        let unit = match self.unit_s {
            Some(s) if s < 0.5 => "milliseconds",
            Some(s) if s > 7200.0 => "days",
            Some(s) if s > 120.0 => "hours",
            Some(s) if s > 2.0 => "minutes",
            _ => "seconds",
        };
        match self.form {
            None | Some(TimeForm::Number) => match self.since_1970.and_then(Epoch::words) {
                Some(words) => said(words),
                None => self.settle_numbers(t_s, unit),
            },
            Some(TimeForm::Spoken) => {
                self.unwrap(t_s);
                said("numbers with their units")
            }
            Some(TimeForm::Calendar) => said("dates with a time of day"),
            Some(TimeForm::MinuteSecond) => said("minutes and seconds"),
            Some(TimeForm::HourMinuteSecond) => {
                self.unwrap(t_s);
                let doubt = (!self.hours && is_hourly(t_s)).then_some(Doubt::Hours);
                TimesRead {
                    doubt,
                    ..said("hours, minutes and seconds")
                }
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
                    doubt: None,
                }
            }
        }
    }

    /// Plain numbers: of a unit that is not stated, and with a point that is no decimal one.
    fn settle_numbers(&mut self, t_s: &mut [f64], unit: &'static str) -> TimesRead {
        let mut read = TimesRead {
            words: unit,
            assumed: self.unit_s.is_none(),
            doubt: None,
        };
        let of_minutes = self.unit_s.is_none_or(|s| (s - 60.0).abs() < 1.0);
        let stated = self.point == Point::Parts;
        if self.hours && self.clock_with_point(t_s) {
            read.words = "hours and minutes";
            read.assumed = false;
            self.fractions = false;
            return read;
        }
        if of_minutes && self.point != Point::Decimal {
            let numbers: Vec<f64> = t_s.iter().map(|t| t / self.unit_s()).collect();
            if let Some(parted_s) = parted(&numbers) {
                let even = is_even(&parted_s, 1.0) && !is_even(&numbers, 0.01);
                if even && self.unit_s.is_none() && is_clock(&parted_s) {
                    for (t, s) in t_s.iter_mut().zip(&parted_s) {
                        *t = 60.0 * s;
                    }
                    self.unwrap(t_s);
                    self.fractions = false;
                    read.words = "hours and minutes of a time of day";
                    return read;
                }
                if stated || even {
                    t_s.copy_from_slice(&parted_s);
                    self.fractions = false;
                    read.words = "minutes and seconds";
                    read.assumed = false;
                }
                let open = self.unit_s.is_some() && !is_even(&numbers, 0.01);
                if !stated && (even || open) {
                    read.doubt = Some(Doubt::Point { taken: even });
                }
                return read;
            }
            // A fraction of more than 59 hundredths is one of a minute, whatever the heading says.
            read.assumed |= stated;
        }
        // Cells of a workbook that show minutes and hold days: in minutes all would be over in one.
        let numbers: Vec<f64> = t_s.iter().map(|t| t / self.unit_s()).collect();
        let shown = |days_s: &Vec<f64>| self.unit_s.is_none() || of_minutes && is_by_hand(days_s);
        if let Some(days_s) = of_days(&numbers).filter(shown) {
            t_s.copy_from_slice(&days_s);
            self.fractions = false;
            read.words = "days";
            return read;
        }
        if self.unit_s.is_none() && !self.fractions && is_lesson_in_minutes(t_s) {
            for t in t_s.iter_mut() {
                *t *= 60.0;
            }
            read.words = "minutes";
        }
        read
    }

    /// Takes numbers below the heading of a time of day for hours and minutes with a point between, as
    /// 8.05 for five past eight: where they can be, and, where the heading states a unit, are so alone
    /// evenly spaced.
    fn clock_with_point(&self, t_s: &mut [f64]) -> bool {
        let unit_s = self.unit_s();
        if unit_s < 0.5 || (2.0..3000.0).contains(&unit_s) || unit_s > 4000.0 {
            return false;
        }
        let numbers: Vec<f64> = t_s.iter().map(|t| t / unit_s).collect();
        let mut any = false;
        let clock = numbers.iter().map(|v| {
            let hundredths = (v * 100.0).round();
            let (hours, minutes) = ((hundredths / 100.0).floor(), hundredths % 100.0);
            any |= minutes > 0.0;
            let is = (v * 100.0 - hundredths).abs() < 1e-6 && (0.0..=24.0).contains(&hours);
            (is && minutes < 60.0).then_some(3600.0 * hours + 60.0 * minutes)
        });
        let Some(mut clock) = clock.collect::<Option<Vec<f64>>>().filter(|_| any) else {
            return false;
        };
        self.unwrap(&mut clock);
        if self.unit_s.is_some() && (!is_even(&clock, 1.0) || is_even(&numbers, 1e-3)) {
            return false;
        }
        t_s.copy_from_slice(&clock);
        true
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
