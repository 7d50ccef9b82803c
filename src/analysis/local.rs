//! Times of day as the clock in the room showed them; files have UTC.

use jiff::Timestamp;
use jiff::tz::Offset;

/// An instant, RFC 3339 in UTC, to the minute as people read it: by the clock of the place where its offset
/// from UTC is known, `2026-03-14 11:32 (UTC+01:00)`, else `2026-03-14 10:32 UTC`.
#[must_use]
pub fn local_minute(utc: &str, offset_s: Option<i32>) -> String {
    let at: Option<Timestamp> = utc.parse().ok();
    let offset = offset_s.filter(|s| *s != 0);
    let offset = offset.and_then(|s| Offset::from_seconds(s).ok());
    match at.zip(offset) {
        Some((at, offset)) => {
            let minutes = offset.seconds().abs() / 60;
            let sign = if offset.is_negative() {
                '\u{2212}'
            } else {
                '+'
            };
            let shown = offset.to_datetime(at).strftime("%Y-%m-%d %H:%M");
            format!("{shown} (UTC{sign}{:02}:{:02})", minutes / 60, minutes % 60)
        }
        None => match utc.get(..16) {
            Some(minute) => format!("{} UTC", minute.replace('T', " ")),
            None => utc.to_owned(),
        },
    }
}

#[cfg(test)]
mod tests {
    use super::local_minute;

    #[test]
    fn the_rooms_clock_is_told_where_it_is_known() {
        let utc = "2026-03-14T23:32:05.000Z";
        for (offset_s, told) in [
            (Some(3600), "2026-03-15 00:32 (UTC+01:00)"),
            (Some(-12_600), "2026-03-14 20:02 (UTC\u{2212}03:30)"),
            (Some(0), "2026-03-14 23:32 UTC"),
            (None, "2026-03-14 23:32 UTC"),
        ] {
            assert_eq!(local_minute(utc, offset_s), told);
        }
        assert_eq!(local_minute("", Some(3600)), "");
    }
}
