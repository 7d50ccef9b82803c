//! Durations as people type them: `90s`, `10m`, `2h`, `14d`, `1m30s`.

/// Shortest duration taken where one is needed: nothing here is faster.
const LEAST_S: f64 = 0.01;

/// Longest duration taken, ten years: beyond it a number was mistyped.
const LONGEST_S: f64 = 10.0 * 365.25 * 86_400.0;

/// Seconds of a duration; a bare number is refused, because its unit would be a guess.
///
/// # Errors
/// A sentence that says what was expected.
pub(super) fn parse_duration_s(text: &str) -> Result<f64, String> {
    let refuse = || format!("'{text}' is no duration; write it like 90s, 10m, 2h, 14d or 1m30s");
    let no_unit = || format!("'{text}' is no duration: {text}m is minutes, {text}s seconds");
    let mut rest = text.trim();
    let mut total_s = 0.0;
    if rest.is_empty() {
        return Err(refuse());
    }
    while !rest.is_empty() {
        let end = rest
            .find(|c: char| !c.is_ascii_digit() && c != '.')
            .ok_or_else(no_unit)?;
        let (number, tail) = rest.split_at(end);
        let number: f64 = number.parse().map_err(|_| refuse())?;
        let unit_end = tail
            .find(|c: char| c.is_ascii_digit())
            .unwrap_or(tail.len());
        let (unit, tail) = tail.split_at(unit_end);
        total_s += number
            * match unit.trim() {
                "ms" => 1e-3,
                "s" | "sec" | "second" | "seconds" => 1.0,
                "m" | "min" | "minute" | "minutes" => 60.0,
                "h" | "hour" | "hours" => 3600.0,
                "d" | "day" | "days" => 86_400.0,
                _ => return Err(refuse()),
            };
        rest = tail;
    }
    if total_s <= LONGEST_S {
        Ok(total_s)
    } else {
        Err(format!("'{text}' is longer than ten years"))
    }
}

/// A duration that must be longer than nothing.
///
/// # Errors
/// A sentence that says what was expected.
pub(super) fn parse_positive_s(text: &str) -> Result<f64, String> {
    match parse_duration_s(text)? {
        least if least < LEAST_S => Err(format!("'{text}' is too short; the least is 10ms")),
        s => Ok(s),
    }
}

/// Minutes and seconds for people: `4:05`, `1:02:03`, `3 d 04:10`.
#[must_use]
pub(super) fn clock(seconds: f64) -> String {
    crate::live::words::clock(seconds.max(0.0).round())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn durations_as_people_type_them() {
        for (text, seconds) in [
            ("90s", 90.0),
            ("10m", 600.0),
            ("2h", 7200.0),
            ("14d", 1_209_600.0),
            ("1m30s", 90.0),
            ("0.5h", 1800.0),
            ("250ms", 0.25),
            ("0s", 0.0),
        ] {
            assert_eq!(parse_duration_s(text), Ok(seconds), "{text}");
        }
        for text in [
            "",
            "10",
            "m",
            "10 parsecs",
            "-5m",
            "1e9d",
            "999999d",
            "NaNs",
            "1..2s",
        ] {
            assert!(parse_duration_s(text).is_err(), "{text}");
        }
        assert!(parse_positive_s("0s").is_err());
    }

    #[test]
    fn clocks_for_people() {
        for (seconds, text) in [
            (5.0, "0:05"),
            (245.4, "4:05"),
            (3723.0, "1:02:03"),
            (-3.0, "0:00"),
        ] {
            assert_eq!(clock(seconds), text);
        }
        assert_eq!(clock(273_600.0), "3 d 04:00");
    }
}
