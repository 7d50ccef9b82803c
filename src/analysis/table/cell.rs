//! One cell of a workbook, and its text as a spreadsheet would save it.

use std::borrow::Cow;

use calamine::{Data, DataRef, ExcelDateTime};

/// Serial numbers of days below this are times; 1000 days after the epoch is the year 1902.
const FIRST_DATE: f64 = 1000.0;

/// What a cell holds, as far as a table needs it.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Content {
    Number(f64),
    Text(Box<str>),
    /// A time in seconds, of a day or of a watch.
    Time(f64),
    Stamp(ExcelDateTime),
}

/// A cell of a workbook that is read as it comes; none if it holds nothing.
pub(super) fn borrowed(value: &DataRef<'_>) -> Option<Content> {
    match value {
        DataRef::Int(number) => Some(Content::Number(*number as f64)),
        DataRef::Float(number) => Some(Content::Number(*number)),
        DataRef::String(text) => text_of(text),
        DataRef::DateTimeIso(text) => text_of(&with_clock(text)),
        DataRef::SharedString(text) => text_of(text),
        DataRef::Bool(value) => text_of(if *value { "true" } else { "false" }),
        DataRef::DateTime(stamp) => Some(of_serial(*stamp)),
        DataRef::DurationIso(text) => of_duration(text),
        // What could not be computed is no value.
        DataRef::Error(_) | DataRef::Empty => None,
    }
}

/// A cell of a workbook that is read whole; none if it holds nothing.
pub(super) fn owned(value: &Data) -> Option<Content> {
    match value {
        Data::Int(number) => Some(Content::Number(*number as f64)),
        Data::Float(number) => Some(Content::Number(*number)),
        Data::String(text) => text_of(text),
        Data::DateTimeIso(text) => text_of(&with_clock(text)),
        Data::Bool(value) => text_of(if *value { "true" } else { "false" }),
        Data::DateTime(stamp) => Some(of_serial(*stamp)),
        Data::DurationIso(text) => of_duration(text),
        Data::Error(_) | Data::Empty => None,
    }
}

fn text_of(text: &str) -> Option<Content> {
    (!text.trim().is_empty()).then(|| Content::Text(text.into()))
}

/// A date with its time of day, which a workbook leaves out at midnight (`OpenDocument` 1.3 part 3,
/// 19.368).
fn with_clock(text: &str) -> Cow<'_, str> {
    let date = text.len() == 10 && text.bytes().all(|b| b.is_ascii_digit() || b == b'-');
    if date {
        Cow::Owned(format!("{text}T00:00:00"))
    } else {
        Cow::Borrowed(text)
    }
}

/// A serial number of days (ISO/IEC 29500-1, 18.17.4): a date, or a time of day or of a watch.
fn of_serial(stamp: ExcelDateTime) -> Content {
    let days = stamp.as_f64();
    if stamp.is_datetime() && days >= FIRST_DATE {
        Content::Stamp(stamp)
    } else {
        Content::Time((days * 86_400.0 * 1e3).round() / 1e3)
    }
}

/// A duration like `PT10H32M05.5S` (ISO 8601; `OpenDocument` 1.3 part 3, 19.386) in seconds.
fn of_duration(text: &str) -> Option<Content> {
    let seconds = || {
        let (sign, rest) = match text.strip_prefix('-') {
            Some(rest) => (-1.0, rest),
            None => (1.0, text),
        };
        let (days, clock) = rest.strip_prefix('P')?.split_once('T')?;
        let mut sum_s = match days.strip_suffix('D') {
            Some(days) => days.parse::<f64>().ok()? * 86_400.0,
            None => 0.0,
        };
        let mut rest = clock;
        for (unit, worth_s) in [('H', 3600.0), ('M', 60.0), ('S', 1.0)] {
            if let Some((number, after)) = rest.split_once(unit) {
                sum_s += number.replace(',', ".").parse::<f64>().ok()? * worth_s;
                rest = after;
            }
        }
        (rest.is_empty() && sum_s.is_finite()).then_some(sign * sum_s)
    };
    seconds().map_or_else(|| text_of(text), |s| Some(Content::Time(s)))
}

/// A cell's text, as a spreadsheet would save it.
pub(super) fn written(content: &Content, comma: bool, typed: bool) -> String {
    match content {
        Content::Number(number) if comma => number.to_string().replace('.', ","),
        Content::Number(number) => number.to_string(),
        Content::Text(text) if text.contains(['"', '\t', '\n', '\r']) => {
            let line: String = text
                .chars()
                .map(|c| if c.is_control() { ' ' } else { c })
                .collect();
            format!("\"{}\"", line.replace('"', "\"\""))
        }
        Content::Text(text) => text.to_string(),
        Content::Time(s) => clock(*s, comma, typed),
        Content::Stamp(stamp) => {
            let (year, month, day, h, m, s, ms) = stamp.to_ymd_hms_milli();
            format!("{year:04}-{month:02}-{day:02}T{h:02}:{m:02}:{s:02}.{ms:03}")
        }
    }
}

/// `h:mm:ss`, with what is beyond whole seconds; `h:mm` where minutes and seconds were meant.
fn clock(time_s: f64, comma: bool, typed: bool) -> String {
    let sign = if time_s < 0.0 { "-" } else { "" };
    let ms = (time_s.abs() * 1e3).round() as u64;
    let (hours, minutes, ms) = (ms / 3_600_000, ms / 60_000 % 60, ms % 60_000);
    if typed {
        return format!("{sign}{hours}:{minutes:02}");
    }
    let (seconds, ms) = (ms / 1000, ms % 1000);
    let point = if comma { ',' } else { '.' };
    let part = if ms > 0 {
        format!("{point}{ms:03}")
    } else {
        String::new()
    };
    format!("{sign}{hours}:{minutes:02}:{seconds:02}{part}")
}

#[cfg(test)]
mod tests {
    use super::{Content, Data, clock, of_duration, owned};

    #[test]
    fn times_are_written_as_they_were_typed() {
        assert_eq!(clock(90_000.0, false, true), "25:00");
        assert_eq!(clock(90_000.0, false, false), "25:00:00");
        assert_eq!(clock(-1.25, true, false), "-0:00:01,250");
    }

    #[test]
    fn a_date_without_a_time_of_day_is_midnight() {
        let iso = |text: &str| owned(&Data::DateTimeIso(text.into()));
        let text = |text: &str| Some(Content::Text(text.into()));
        assert_eq!(iso("2026-03-15"), text("2026-03-15T00:00:00"));
        assert_eq!(iso("2026-03-15T00:01:00"), text("2026-03-15T00:01:00"));
    }

    #[test]
    fn durations_are_read_as_the_standard_writes_them() {
        for (text, s) in [
            ("PT10H32M05S", 37_925.0),
            ("PT00H00M01.500000000S", 1.5),
            ("P1DT1H", 90_000.0),
            ("-PT30S", -30.0),
            ("PT2M", 120.0),
        ] {
            assert_eq!(of_duration(text), Some(Content::Time(s)), "{text}");
        }
        for bad in ["PT1X", "P", "PT1HM", "10:32"] {
            assert_eq!(of_duration(bad), Some(Content::Text(bad.into())), "{bad}");
        }
    }
}
