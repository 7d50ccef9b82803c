//! Times that are written with colons or as calendar stamps, in seconds.

use jiff::civil::Date;

/// How a column writes its times.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum TimeForm {
    /// Plain numbers in a unit.
    Number,
    /// `h:mm:ss`, seconds since midnight or since a start.
    HourMinuteSecond,
    /// `a:bb` as minutes and seconds.
    MinuteSecond,
    /// `a:bb` as hours and minutes.
    HourMinute,
    /// `a:bb`, and only the whole column can say which of the two; read as minutes and seconds.
    TwoParts,
    /// Numbers with their units, `5 min` or `5'30"`.
    Spoken,
    /// Calendar date and time of day (RFC 3339, or as people write it).
    Calendar,
}

/// How the first time of a column is written; `unit_s` is the unit that its heading states, and
/// `hours` whether the heading is that of a time of day.
pub(super) fn form_of(bytes: &[u8], unit_s: Option<f64>, hours: bool) -> TimeForm {
    let text = bytes.trim_ascii();
    let (clock, half) = split_half(text);
    let colons = clock.split(|b| *b == b':').count() - 1;
    // A point is a colon on a clock that says before or after noon.
    let colons = colons.max(usize::from(half.is_some() && clock.contains(&b'.')));
    // An hour is the unit of the first of two parts, whoever writes it.
    let of_hours = hours || half.is_some() || unit_s.is_some_and(|s| s >= 3600.0);
    let of_clock = text.len() > 3 && text.to_ascii_lowercase().ends_with(b"uhr");
    if dated(text).is_some() {
        TimeForm::Calendar
    } else if of_clock && super::spoken::spoken(text).is_some() {
        TimeForm::Spoken
    } else if colons == 2 {
        TimeForm::HourMinuteSecond
    } else if colons == 1 && of_hours {
        TimeForm::HourMinute
    } else if colons == 1 && unit_s.is_some() {
        TimeForm::MinuteSecond
    } else if colons == 1 {
        TimeForm::TwoParts
    } else if super::spoken::spoken(text).is_some() {
        TimeForm::Spoken
    } else {
        TimeForm::Number
    }
}

/// Seconds of a time written with colons; none if it is not of that form.
pub(super) fn seconds(bytes: &[u8], form: TimeForm) -> Option<f64> {
    let (first_s, count) = match form {
        TimeForm::Number | TimeForm::Spoken | TimeForm::Calendar => return None,
        TimeForm::HourMinuteSecond => (3600.0, 3),
        TimeForm::MinuteSecond | TimeForm::TwoParts => (60.0, 2),
        TimeForm::HourMinute => (3600.0, 2),
    };
    match split_half(bytes.trim_ascii()) {
        (clock, None) => parts(clock, first_s, count),
        (clock, half) if count == 2 && clock.contains(&b'.') => {
            of_half(of_clock(std::str::from_utf8(clock).ok()?)?, half)
        }
        (clock, half) if first_s > 60.0 => of_half(parts(clock, first_s, count)?, half),
        _ => None,
    }
}

/// Seconds of a time of day, its hours, minutes and perhaps seconds parted by points or colons, or the
/// hours alone.
pub(super) fn of_clock(text: &str) -> Option<f64> {
    let text = text.replace('.', ":");
    let colons = text.matches(':').count();
    let mut parts_of = text.split(':').skip(1);
    let two_digits = parts_of.all(|part| part.len() == 2);
    let time_s = parts(text.as_bytes(), 3600.0, colons + 1)?;
    (two_digits && colons <= 2 && (0.0..=86_400.0).contains(&time_s)).then_some(time_s)
}

/// Splits `AM` or `PM` off, in any case, with or without points: true for the afternoon.
pub(super) fn split_half(text: &[u8]) -> (&[u8], Option<bool>) {
    let words: [(&[u8], bool); 4] = [
        (b"am", false),
        (b"pm", true),
        (b"a.m.", false),
        (b"p.m.", true),
    ];
    for (word, afternoon) in words {
        let Some(at) = text.len().checked_sub(word.len()) else {
            continue;
        };
        let (clock, tail) = text.split_at(at);
        if tail.eq_ignore_ascii_case(word) {
            return (clock.trim_ascii_end(), Some(afternoon));
        }
    }
    (text, None)
}

/// Seconds since midnight of a time on a clock of twelve hours.
fn of_half(time_s: f64, afternoon: Option<bool>) -> Option<f64> {
    let Some(afternoon) = afternoon else {
        return Some(time_s);
    };
    let on_dial = (3600.0..46_800.0).contains(&time_s);
    let past = if afternoon { 43_200.0 } else { 0.0 };
    on_dial.then(|| time_s % 43_200.0 + past)
}

/// Colon-separated parts, the first worth `first_s` seconds and each further one a sixtieth.
fn parts(bytes: &[u8], first_s: f64, count: usize) -> Option<f64> {
    let text = std::str::from_utf8(bytes).ok()?;
    let (negative, text) = match text.strip_prefix('-') {
        Some(rest) => (true, rest),
        None => (false, text),
    };
    let mut worth = first_s;
    let mut sum = 0.0;
    let mut seen = 0;
    for part in text.split(':') {
        let fraction = seen + 1 == count;
        let digits = part
            .bytes()
            .all(|b| b.is_ascii_digit() || (fraction && matches!(b, b'.' | b',')));
        if part.is_empty() || part.len() > 12 || !digits {
            return None;
        }
        let value: f64 = part.replace(',', ".").parse().ok()?;
        if seen > 0 && value >= 60.0 {
            return None;
        }
        sum += worth * value;
        worth /= 60.0;
        seen += 1;
    }
    (seen == count).then_some(if negative { -sum } else { sum })
}

/// A calendar stamp, as far as it can be read without knowing which field is the month.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Dated {
    /// The year.
    pub(super) year: i64,
    /// The other two fields in the order in which they are written.
    pub(super) fields: (i64, i64),
    /// Which of the two is the day, where the writing says it.
    pub(super) order: Option<Order>,
    /// Whether an offset from UTC is written, so that no clock can be changed.
    pub(super) fixed: bool,
    /// Seconds since midnight in UTC, or in local time where no offset is written.
    pub(super) time_s: f64,
}

/// Order of day and month.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Order {
    /// Day, then month.
    DayMonth,
    /// Month, then day.
    MonthDay,
}

impl Dated {
    /// Seconds since 1970, with the fields in this order; none if there is no such day.
    pub(super) fn seconds(&self, order: Order) -> Option<f64> {
        let (a, b) = self.fields;
        let (day, month) = match order {
            Order::DayMonth => (a, b),
            Order::MonthDay => (b, a),
        };
        let year = i16::try_from(self.year).ok()?;
        let (month, day) = (i8::try_from(month).ok()?, i8::try_from(day).ok()?);
        let date = Date::new(year, month, day).ok()?;
        let since = date.duration_since(Date::constant(1970, 1, 1));
        Some(since.as_secs() as f64 + self.time_s)
    }
}

/// Reads `YYYY-MM-DD` (or with `/` or `.`), `D.M.YYYY`, `D/M/YYYY` or `M/D/YYYY`, then `T`, a
/// space or a comma, then `hh:mm[:ss[.fff]]`, and `AM`, `PM`, `Z`, `UTC`, `±hh:mm` or `±hhmm` behind
/// it.
pub(super) fn dated(bytes: &[u8]) -> Option<Dated> {
    let text = std::str::from_utf8(bytes.trim_ascii()).ok()?;
    // The shortest is like 1/2/26 3:04; anything else with a colon is cheap to refuse here.
    let end = text.find(['T', 't', ' ', ','])?;
    let (date, clock) = text.split_at_checked(end)?;
    let clock = clock.get(1..)?.trim_start();
    let sign = date
        .find(['-', '.', '/'])
        .and_then(|at| date.get(at..=at))?;
    let mut fields = date.split(sign);
    let mut next = || -> Option<(i64, usize)> {
        let part = fields.next()?;
        let digits = (1..=4).contains(&part.len()) && part.bytes().all(|b| b.is_ascii_digit());
        digits.then(|| Some((part.parse().ok()?, part.len())))?
    };
    let (a, b, c) = (next()?, next()?, next()?);
    if fields.next().is_some() {
        return None;
    }
    let day_first = (sign == ".").then_some(Order::DayMonth);
    let (year, fields, order) = match (a.1, c.1) {
        (4, 1..=2) => (a.0, (b.0, c.0), Some(Order::MonthDay)),
        (1..=2, 4) => (c.0, (a.0, b.0), day_first),
        (1..=2, 2) => (2000 + c.0, (a.0, b.0), day_first),
        _ => return None,
    };
    let (clock, offset_s) = split_offset(clock)?;
    let (clock, half) = split_half(clock.as_bytes());
    let colons = clock.split(|b| *b == b':').count() - 1;
    let time_s = of_half(parts(clock, 3600.0, colons + 1)?, half)?;
    let found = Dated {
        year,
        fields,
        order,
        fixed: offset_s.is_some(),
        time_s: time_s - offset_s.unwrap_or(0.0),
    };
    let real = [Order::DayMonth, Order::MonthDay]
        .into_iter()
        .any(|o| order.is_none_or(|known| known == o) && found.seconds(o).is_some());
    let of_day = (0.0..=86_400.0).contains(&time_s) && (1..=2).contains(&colons);
    (real && of_day).then_some(found)
}

/// Splits a trailing `Z`, `UTC`, `±hh:mm` or, as ISO 8601 writes it without colons, `±hhmm` off.
fn split_offset(clock: &str) -> Option<(&str, Option<f64>)> {
    let zulu = clock.strip_suffix(['Z', 'z']);
    if let Some(rest) = zulu.or_else(|| clock.strip_suffix("UTC")) {
        return Some((rest.trim_end(), Some(0.0)));
    }
    match clock.rfind(['+', '-']) {
        None => Some((clock, None)),
        Some(at) => {
            let (rest, offset) = clock.split_at_checked(at)?;
            let (sign, size) = offset.split_at_checked(1)?;
            let size = match size.split_at_checked(2).filter(|_| size.len() == 4) {
                Some((hours, minutes)) => format!("{hours}:{minutes}"),
                None => size.to_owned(),
            };
            let size_s = parts(size.as_bytes(), 3600.0, 2)?;
            let offset_s = if sign == "-" { -size_s } else { size_s };
            Some((rest.trim_end(), Some(offset_s)))
        }
    }
}

#[cfg(test)]
mod tests {
    use super::{Order, TimeForm, dated, form_of, seconds};

    fn calendar(text: &[u8]) -> Option<f64> {
        let stamp = dated(text)?;
        stamp.seconds(stamp.order.unwrap_or(Order::MonthDay))
    }

    fn close(a: Option<f64>, b: f64) -> bool {
        a.is_some_and(|a| (a - b).abs() < 1e-6)
    }

    #[test]
    fn stamps_become_seconds() {
        // RFC 3339 section 5.8 gives these as examples of one instant in two offsets.
        let zulu = calendar(b"1996-12-20T00:39:57Z");
        assert!(close(zulu, 851_042_397.0));
        assert_eq!(zulu, calendar(b"1996-12-19T16:39:57-08:00"));
        assert_eq!(zulu, calendar(b"1996-12-19T16:39:57-0800"));
        assert_eq!(zulu, calendar(b"1996-12-20 00:39:57 UTC"));
        assert_eq!(zulu, calendar(b"1996-12-20 01:39:57 +01:00"));
        assert!(close(calendar(b"1970-01-01 00:00"), 0.0));
        assert!(close(calendar(b"2000-02-29T12:00:00.250Z"), 951_825_600.25));
        for bad in [
            "2026-13-01T00:00:00Z",
            "2026-02-29T00:00:00Z",
            "2026-03-14T10:32:05+01000",
            "2026-01-01",
            "x",
            "2026-01-01T25:00:00Z",
            "2026-01-01Tx",
        ] {
            assert_eq!(calendar(bad.as_bytes()), None, "{bad}");
        }
    }

    #[test]
    fn colons_mean_what_the_form_says() {
        assert!(close(seconds(b"1:30", TimeForm::MinuteSecond), 90.0));
        assert!(close(seconds(b"1:30", TimeForm::HourMinute), 5400.0));
        assert!(close(
            seconds(b"10:32:05,5", TimeForm::HourMinuteSecond),
            37_925.5
        ));
        assert_eq!(seconds(b"1:75", TimeForm::MinuteSecond), None);
        assert_eq!(seconds(b":", TimeForm::MinuteSecond), None);
        let form = |text: &[u8]| form_of(text, None, false);
        assert_eq!(form(b"0:00"), TimeForm::TwoParts);
        assert_eq!(form_of(b"0:00", Some(60.0), false), TimeForm::MinuteSecond);
        assert_eq!(form_of(b"0:00", Some(3600.0), false), TimeForm::HourMinute);
        assert_eq!(form_of(b"10:32", None, true), TimeForm::HourMinute);
        assert_eq!(form(b"1:05 PM"), TimeForm::HourMinute);
        assert_eq!(form(b"12.5"), TimeForm::Number);
        assert_eq!(form(b"2026-03-14T10:32:05Z"), TimeForm::Calendar);
    }

    #[test]
    fn clocks_of_twelve_hours_know_noon_and_midnight() {
        for (text, hours) in [
            ("12:00 AM", 0.0),
            ("1:30 am", 1.5),
            ("12:00 p.m.", 12.0),
            ("1:30PM", 13.5),
        ] {
            let found = seconds(text.as_bytes(), TimeForm::HourMinute);
            assert!(close(found, hours * 3600.0), "{text}: {found:?}");
        }
        assert_eq!(seconds(b"13:30 PM", TimeForm::HourMinute), None);
        assert_eq!(seconds(b"0:30 PM", TimeForm::HourMinute), None);
    }

    #[test]
    fn dates_are_read_as_people_write_them() {
        let same = 1_773_484_325.0;
        for text in [
            "2026-03-14 10:32:05",
            "2026/03/14 10:32:05",
            "14.03.2026 10:32:05",
            "14.3.26, 10:32:05",
            "3/14/2026 10:32:05 AM",
        ] {
            assert!(close(calendar(text.as_bytes()), same), "{text}");
        }
        let open = dated(b"3/4/2026 10:32").unwrap();
        assert_eq!((open.order, open.fields), (None, (3, 4)));
        for bad in [
            "14/15/2026 10:32",
            "1.2.3.4 10:32",
            "32.1.2026 10:32",
            "3/4/2026",
        ] {
            assert_eq!(dated(bad.as_bytes()), None, "{bad}");
        }
    }
}
