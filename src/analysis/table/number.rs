//! One cell of a table as a number, without ever guessing what a comma means.

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

/// Reads one cell. White space around it is ignored.
pub(super) fn cell(bytes: &[u8]) -> Cell {
    let bytes = bytes.trim_ascii();
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
    use super::{Cell, Sign, cell};

    #[test]
    fn cells_are_read_or_refused() {
        for (text, expected) in [
            ("23.5", Cell::Number(23.5, Sign::Point)),
            (" 23,5 ", Cell::Number(23.5, Sign::Comma)),
            ("-4", Cell::Number(-4.0, Sign::Whole)),
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
    }
}
