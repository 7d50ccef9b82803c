//! Times that are written with colons or as calendar stamps, in seconds.

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
    /// Calendar date and time of day (RFC 3339, or with a space for the `T`).
    Calendar,
}

/// How the first time of a column is written; `hours` if two parts are hours and minutes.
pub(super) fn form_of(bytes: &[u8], hours: bool) -> TimeForm {
    let text = bytes.trim_ascii();
    let colons = text.split(|b| *b == b':').count() - 1;
    if calendar(text).is_some() {
        TimeForm::Calendar
    } else if colons == 2 {
        TimeForm::HourMinuteSecond
    } else if colons == 1 && hours {
        TimeForm::HourMinute
    } else if colons == 1 {
        TimeForm::MinuteSecond
    } else {
        TimeForm::Number
    }
}

/// Seconds of a time written with colons or as a stamp; none if it is not of that form.
pub(super) fn seconds(bytes: &[u8], form: TimeForm) -> Option<f64> {
    let bytes = bytes.trim_ascii();
    match form {
        TimeForm::Number => None,
        TimeForm::Calendar => calendar(bytes),
        TimeForm::HourMinuteSecond => parts(bytes, 3600.0, 3),
        TimeForm::MinuteSecond => parts(bytes, 60.0, 2),
        TimeForm::HourMinute => parts(bytes, 3600.0, 2),
    }
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

/// Seconds since 1970 of `YYYY-MM-DD[T ]hh:mm[:ss[.fff]][Z|±hh:mm]`; without an offset as if UTC.
fn calendar(bytes: &[u8]) -> Option<f64> {
    let text = std::str::from_utf8(bytes).ok()?;
    let (date, rest) = text.split_at_checked(10)?;
    let mut fields = date.splitn(3, '-');
    let mut next = |len: usize| -> Option<i64> {
        let part = fields.next()?;
        let digits = part.len() == len && part.bytes().all(|b| b.is_ascii_digit());
        digits.then(|| part.parse().ok())?
    };
    let (year, month, day) = (next(4)?, next(2)?, next(2)?);
    if !(1..=12).contains(&month) || !(1..=31).contains(&day) {
        return None;
    }
    let clock = rest.strip_prefix(['T', 't', ' '])?;
    let (clock, offset_s) = split_offset(clock)?;
    let colons = clock.split(':').count() - 1;
    let time_s = parts(clock.as_bytes(), 3600.0, colons + 1)?;
    if !(0.0..=86_400.0).contains(&time_s) || !(1..=2).contains(&colons) {
        return None;
    }
    Some(days_since_1970(year, month, day) as f64 * 86_400.0 + time_s - offset_s)
}

/// Splits a trailing `Z` or `±hh:mm` off.
fn split_offset(clock: &str) -> Option<(&str, f64)> {
    if let Some(rest) = clock.strip_suffix(['Z', 'z']) {
        return Some((rest, 0.0));
    }
    match clock.rfind(['+', '-']) {
        None => Some((clock, 0.0)),
        Some(at) => {
            let (rest, offset) = clock.split_at_checked(at)?;
            let (sign, size) = offset.split_at_checked(1)?;
            let size_s = parts(size.as_bytes(), 3600.0, 2)?;
            Some((rest, if sign == "-" { -size_s } else { size_s }))
        }
    }
}

/// Days from 1970-01-01 in the proleptic Gregorian calendar (years counted from March, in eras of
/// 400 years).
fn days_since_1970(year: i64, month: i64, day: i64) -> i64 {
    let year = if month <= 2 { year - 1 } else { year };
    let era = year.div_euclid(400);
    let of_era = year.rem_euclid(400);
    let month = (month + 9) % 12;
    let of_year = (153 * month + 2) / 5 + day - 1;
    era * 146_097 + of_era * 365 + of_era / 4 - of_era / 100 + of_year - 719_468
}

#[cfg(test)]
mod tests {
    use super::{TimeForm, calendar, form_of, seconds};

    fn close(a: Option<f64>, b: f64) -> bool {
        a.is_some_and(|a| (a - b).abs() < 1e-6)
    }

    #[test]
    fn stamps_become_seconds() {
        // RFC 3339 section 5.8 gives these as examples of one instant in two offsets.
        let zulu = calendar(b"1996-12-20T00:39:57Z");
        assert!(close(zulu, 851_042_397.0));
        assert_eq!(zulu, calendar(b"1996-12-19T16:39:57-08:00"));
        assert!(close(calendar(b"1970-01-01 00:00"), 0.0));
        assert!(close(calendar(b"2000-02-29T12:00:00.250Z"), 951_825_600.25));
        for bad in [
            "2026-13-01T00:00:00Z",
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
        assert_eq!(form_of(b"0:00", false), TimeForm::MinuteSecond);
        assert_eq!(form_of(b"12.5", false), TimeForm::Number);
        assert_eq!(form_of(b"2026-03-14T10:32:05Z", false), TimeForm::Calendar);
    }
}
