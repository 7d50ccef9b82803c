//! One cell of a table as a number, without ever guessing what a comma means.

use std::borrow::Cow;

use super::head::Scale;
use super::start::decoded;

/// What a cell holds.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Cell {
    /// A finite number, and the decimal sign that it used.
    Number(f64, Sign),
    /// Nothing, or a word for nothing.
    Missing,
    /// Text that is no number.
    Text,
    /// Digits with separators that could mean thousands as well as decimals.
    Ambiguous,
}

/// Decimal sign of a number.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Sign {
    /// No fraction.
    Whole,
    /// A point.
    Point,
    /// A comma.
    Comma,
}

/// Longest number read, in bytes.
const LONGEST: usize = 40;

/// The minus signs, dashes and hyphens that programs write before a number: hyphens, figure and en
/// dash, the minus sign, and the small and the wide hyphen.
const MINUS: [char; 7] = [
    '\u{2010}', '\u{2011}', '\u{2012}', '\u{2013}', '\u{2212}', '\u{fe63}', '\u{ff0d}',
];

/// A cell without blanks around it, also those that keep a line together, and with a plain minus sign
/// before its number.
pub(super) fn tidy(bytes: &[u8]) -> Cow<'_, [u8]> {
    if bytes.is_ascii() || bytes.len() > 4 * LONGEST {
        return Cow::Borrowed(bytes.trim_ascii());
    }
    let (text, foreign) = decoded(bytes);
    let trimmed = text.trim();
    let number = trimmed
        .strip_prefix(MINUS)
        .filter(|rest| rest.starts_with(|c: char| c.is_ascii_digit() || c == '.' || c == ','));
    match number {
        Some(number) => Cow::Owned(format!("-{number}").into_bytes()),
        None if foreign || trimmed.len() < text.len() => Cow::Owned(trimmed.as_bytes().to_vec()),
        None => Cow::Borrowed(bytes),
    }
}

/// Reads one cell. White space around it is ignored.
pub(super) fn cell(bytes: &[u8]) -> Cell {
    let bytes = &*tidy(bytes);
    if bytes.is_empty() {
        return Cell::Missing;
    }
    if bytes.len() > LONGEST {
        return Cell::Text;
    }
    let count = |sign: u8| bytes.iter().map(|b| usize::from(*b == sign)).sum::<usize>();
    let commas = count(b',');
    let points = count(b'.');
    if commas == 0 && points <= 1 {
        let sign = if points == 1 {
            Sign::Point
        } else {
            Sign::Whole
        };
        return plain(bytes, sign);
    }
    if commas == 1 && points == 0 {
        let mut text = [0_u8; LONGEST];
        for (slot, b) in text.iter_mut().zip(bytes) {
            *slot = if *b == b',' { b'.' } else { *b };
        }
        return plain(text.get(..bytes.len()).unwrap_or_default(), Sign::Comma);
    }
    if looks_numeric(bytes) {
        Cell::Ambiguous
    } else {
        Cell::Text
    }
}

/// A number with its unit of temperature behind it, as `21,5 °C` or `70 F`: the number, and which unit
/// it is; none where the unit is a bare degree.
pub(super) fn with_unit(bytes: &[u8]) -> Option<(Cell, Option<Scale>)> {
    if bytes.len() > LONGEST {
        return None;
    }
    let text = decoded(bytes).0;
    let text = text.trim();
    let end = text.rfind(|c: char| c.is_ascii_digit())? + 1;
    let (number, unit) = text.split_at_checked(end)?;
    let unit = unit.trim().trim_end_matches('.').to_lowercase();
    let scale = match unit
        .replace([' ', '\u{a0}', '\u{202f}', '\u{2009}'], "")
        .as_str()
    {
        "°c" | "ºc" | "\u{fffd}c" | "℃" | "c" | "gradc" | "gradcelsius" | "degc" | "celsius"
        | "degreesc" | "degreescelsius" | "degrésc" | "degréscelsius" => Some(Scale::Celsius),
        "°f" | "ºf" | "\u{fffd}f" | "℉" | "f" | "gradf" | "gradfahrenheit" | "degf"
        | "fahrenheit" | "degreesf" | "degreesfahrenheit" => Some(Scale::Fahrenheit),
        "k" | "°k" | "kelvin" => Some(Scale::Kelvin),
        "°" | "º" | "\u{fffd}" | "grad" | "deg" | "degrees" | "degrés" => None,
        _ => return None,
    };
    match cell(number.as_bytes()) {
        number @ (Cell::Number(..) | Cell::Ambiguous) => Some((number, scale)),
        _ => None,
    }
}

/// Whether a point or a comma in a number may part thousands: three digits are behind it.
pub(super) fn is_in_thousands(bytes: &[u8]) -> bool {
    let mut parts = bytes
        .trim_ascii()
        .split(|b| matches!(b, b'.' | b','))
        .map(|part| part.strip_prefix(b"-").unwrap_or(part));
    let (whole, part) = (parts.next(), parts.next());
    let digits = |part: &[u8], lengths: std::ops::RangeInclusive<usize>| {
        lengths.contains(&part.len()) && part.iter().all(u8::is_ascii_digit)
    };
    whole.is_some_and(|w| digits(w, 1..=3)) && part.is_some_and(|p| digits(p, 3..=3))
}

fn looks_numeric(bytes: &[u8]) -> bool {
    bytes
        .iter()
        .all(|b| b.is_ascii_digit() || matches!(b, b',' | b'.' | b'-' | b'+' | b' ' | b'\''))
}

fn plain(bytes: &[u8], sign: Sign) -> Cell {
    let Ok(text) = std::str::from_utf8(bytes) else {
        return Cell::Text;
    };
    match text.parse::<f64>() {
        Ok(value) if value.is_finite() => Cell::Number(value, sign),
        // Rust reads "nan" and "inf", and numbers too large for it become infinite.
        Ok(value) if value.is_nan() => Cell::Missing,
        Ok(_) => Cell::Text,
        Err(_) => word(text),
    }
}

fn word(text: &str) -> Cell {
    let nothing = ["-", "--", "na", "n/a", "null", "none", "nil", "?"];
    if nothing.iter().any(|n| text.eq_ignore_ascii_case(n)) {
        return Cell::Missing;
    }
    // "1 234" or "1'234": thousands, or two numbers in one cell.
    let digits = text.bytes().filter(u8::is_ascii_digit).count();
    let split = text.bytes().any(|b| b == b' ' || b == b'\'');
    if digits > 3 && split && looks_numeric(text.as_bytes()) {
        return Cell::Ambiguous;
    }
    Cell::Text
}

#[cfg(test)]
mod tests {
    use super::super::head::Scale;
    use super::{Cell, Sign, cell, with_unit};

    #[test]
    fn a_number_may_carry_its_unit() {
        let comma = |v| Cell::Number(v, Sign::Comma);
        for (text, number, scale) in [
            ("21,5 °C", comma(21.5), Some(Scale::Celsius)),
            ("−4,5\u{a0}°C", comma(-4.5), Some(Scale::Celsius)),
            ("21,5°", comma(21.5), None),
            ("21,5 Grad", comma(21.5), None),
            ("70,5 ° F", comma(70.5), Some(Scale::Fahrenheit)),
            ("294,6 K", comma(294.6), Some(Scale::Kelvin)),
        ] {
            assert_eq!(with_unit(text.as_bytes()), Some((number, scale)), "{text}");
        }
        for other in ["21,5", "21,5 %", "°C", "about 21 C", "21,5 cm", "3 min"] {
            assert_eq!(with_unit(other.as_bytes()), None, "{other}");
        }
    }

    #[test]
    fn cells_are_read_or_refused() {
        for (text, expected) in [
            ("23.5", Cell::Number(23.5, Sign::Point)),
            (" 23,5 ", Cell::Number(23.5, Sign::Comma)),
            ("-4", Cell::Number(-4.0, Sign::Whole)),
            ("\u{2212}4,5", Cell::Number(-4.5, Sign::Comma)),
            ("\u{2013}4.5", Cell::Number(-4.5, Sign::Point)),
            ("\u{2011}4", Cell::Number(-4.0, Sign::Whole)),
            ("21,5\u{a0}", Cell::Number(21.5, Sign::Comma)),
            ("\u{202f}21.5\u{2009}", Cell::Number(21.5, Sign::Point)),
            ("\u{2013}", Cell::Text),
            ("20\u{2013}21", Cell::Text),
            ("1e3", Cell::Number(1000.0, Sign::Whole)),
            ("", Cell::Missing),
            ("NaN", Cell::Missing),
            ("n/a", Cell::Missing),
            ("inf", Cell::Text),
            ("1e999", Cell::Text),
            ("warm", Cell::Text),
            ("1,234.5", Cell::Ambiguous),
            ("1.234,5", Cell::Ambiguous),
            ("1 234", Cell::Ambiguous),
            ("1,234,567", Cell::Ambiguous),
            ("1.2.3", Cell::Ambiguous),
        ] {
            assert_eq!(cell(text.as_bytes()), expected, "{text:?}");
        }
        assert_eq!(cell(&[b'9'; 400]), Cell::Text);
        assert_eq!(cell(&[0xff, 0xfe]), Cell::Text);
        // Windows-1252: an en dash, and a blank that keeps a line together.
        assert_eq!(cell(b"\x964,5\xa0"), Cell::Number(-4.5, Sign::Comma));
    }
}
