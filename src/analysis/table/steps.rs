//! What the steps of a time column say of its unit.

/// Rows of a hand-timed table are further apart than this; `10:32`, `10:35` read as minutes and
/// seconds are not, and so are a time of day.
const HAND_S: f64 = 15.0;

/// A table by hand that states no unit has at least and at most so many rows, its rows are at most
/// so far apart in its own numbers, and it takes at most so many of them: nobody writes down three
/// hours, and what logs every second has more rows.
const LEAST_ROWS: usize = 5;
const MOST_ROWS: usize = 100;
const CLOSEST_S: f64 = 5.0;
const LONGEST_MIN: f64 = 180.0;

/// Rows so far apart, in seconds, may be minutes that were typed as hours.
const HOURLY_S: f64 = 900.0;

/// Whether plain numbers count from 1970, as computers do, and in what.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Epoch {
    /// They do not.
    None,
    /// In seconds.
    Seconds,
    /// In milliseconds.
    Milliseconds,
}

impl Epoch {
    /// By the size of a number, if its heading allows: the years 2001 to 2033. No lesson takes thirty years.
    pub(super) fn of(value: f64, unit_s: Option<f64>) -> Self {
        let of_size = |size: f64| (size..2.0 * size).contains(&value);
        let stated = |s: f64| unit_s.is_none_or(|unit_s| (unit_s / s - 1.0).abs() < 1e-9);
        if of_size(1e12) && stated(1e-3) {
            Self::Milliseconds
        } else if of_size(1e9) && stated(1.0) {
            Self::Seconds
        } else {
            Self::None
        }
    }

    /// In words that follow "in".
    pub(super) fn words(self) -> Option<&'static str> {
        match self {
            Self::None => None,
            Self::Seconds => Some("seconds since 1970, counted from the first row"),
            Self::Milliseconds => Some("milliseconds since 1970, counted from the first row"),
        }
    }
}

/// Numbers with the seconds behind the point, in seconds; none if that cannot be.
pub(super) fn parted(numbers: &[f64]) -> Option<Vec<f64>> {
    let mut any = false;
    let seconds = numbers.iter().map(|v| {
        let part = ((v - v.floor()) * 100.0).round();
        any |= part > 0.0;
        (*v >= 0.0 && part < 60.0).then_some(60.0 * v.floor() + part)
    });
    let seconds: Option<Vec<f64>> = seconds.collect();
    seconds.filter(|s| any && s.len() >= LEAST_ROWS)
}

/// Numbers that are days as a spreadsheet stores dates and times of day, in seconds: parts of a day, or
/// days of this century (36526 is 2000-01-01; ISO/IEC 29500-1, 18.17.4), an hour apart at most and with
/// more than thousandths. As seconds the whole table would be over in one.
pub(super) fn of_days(numbers: &[f64]) -> Option<Vec<f64>> {
    let within = |low: f64, high: f64| numbers.iter().all(|v| (low..high).contains(v));
    let fine = numbers
        .iter()
        .filter(|v| (*v * 1e3 - (*v * 1e3).round()).abs() > 1e-3)
        .count();
    let step_s = middle_step(numbers)? * 86_400.0;
    let spans = numbers.first().zip(numbers.last()).map(|(a, b)| b - a)?;
    let is = numbers.len() >= LEAST_ROWS
        && (within(0.0, 1.0) || within(36_526.0, 73_051.0))
        && 2 * fine > numbers.len()
        && (0.5..=3600.0).contains(&step_s)
        && (0.0..1.0).contains(&spans);
    // Dates count from the first row, a time of day from midnight. Six digits of a day are a tenth of a second.
    let zero = numbers.first().filter(|v| **v >= 1.0).map_or(0.0, |v| *v);
    let seconds = numbers.iter().map(|v| {
        let s = (v - zero) * 86_400.0;
        if (s - s.round()).abs() < 0.1 {
            s.round()
        } else {
            s
        }
    });
    is.then(|| seconds.collect())
}

/// Whether times are as people take them: whole five seconds, ten minutes apart at most.
pub(super) fn is_by_hand(t_s: &[f64]) -> bool {
    let fives = t_s.iter().map(|t| t / 5.0);
    let whole = fives.into_iter().all(|v| (v - v.round()).abs() < 0.02);
    whole && middle_step(t_s).is_some_and(|step_s| step_s <= 600.0)
}

/// Whether all steps are alike, to within this.
pub(super) fn is_even(times: &[f64], within: f64) -> bool {
    let mut steps = times.iter().zip(times.iter().skip(1)).map(|(a, b)| b - a);
    let Some(first) = steps.next() else {
        return true;
    };
    steps.all(|step| (step - first).abs() < within)
}

/// The lower of the two middle steps.
pub(super) fn middle_step(t_s: &[f64]) -> Option<f64> {
    let pairs = t_s.iter().zip(t_s.iter().skip(1));
    let mut steps: Vec<f64> = pairs.map(|(a, b)| (b - a).abs()).collect();
    let middle = steps.len().checked_sub(1)? / 2;
    Some(*steps.select_nth_unstable_by(middle, f64::total_cmp).1)
}

/// Whether few whole numbers, read as seconds, are rather a lesson's minutes: nobody reads two
/// thermometers every few seconds by hand, and no lesson is over in a minute.
pub(super) fn is_lesson_in_minutes(t_s: &[f64]) -> bool {
    let few = (LEAST_ROWS..=MOST_ROWS).contains(&t_s.len());
    let close = middle_step(t_s).is_some_and(|step| (0.5..=CLOSEST_S).contains(&step));
    let (first, last) = (t_s.first(), t_s.last());
    let spans = first.zip(last).map(|(a, b)| b - a);
    few && close && spans.is_some_and(|span| (0.0..=LONGEST_MIN).contains(&span))
}

/// Whether rows are so far apart, from zero on, that whole hours may be meant as minutes.
pub(super) fn is_hourly(t_s: &[f64]) -> bool {
    let from_zero = t_s.first().is_some_and(|t| t.abs() < 0.5);
    let whole = t_s
        .iter()
        .all(|t| (t / 60.0 - (t / 60.0).round()).abs() < 1e-6);
    from_zero && whole && t_s.len() > 2 && middle_step(t_s).is_some_and(|step| step >= HOURLY_S)
}

/// Whether two parts, read as minutes and seconds, are rather hours and minutes of a day: they
/// begin at one o'clock or later, no hour is beyond 23, and rows would be too close for a hand.
pub(super) fn is_clock(t_s: &[f64]) -> bool {
    let begins = t_s.first().is_some_and(|t| *t >= 60.0);
    let on_dial = t_s.iter().all(|t| (0.0..1440.0).contains(t));
    // The lower of two middle ones: a step past midnight is the largest.
    let close = middle_step(t_s).is_some_and(|step| step < HAND_S);
    begins && on_dial && close
}
