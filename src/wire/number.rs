//! Decimal numbers as boards print them.

use super::frame::Field;

/// Powers of ten that `f64` holds exactly and that the fast path needs.
const POWERS: [f64; 20] = [
    1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15, 1e16,
    1e17, 1e18, 1e19,
];

/// Below this an integer is exact in `f64`, so one division by an exact power of ten is correctly
/// rounded (W. D. Clinger, How to read floating point numbers accurately, 1990).
const EXACT: u64 = 1 << 53;

/// Words that boards print when they have no number.
const NO_NUMBER: [&[u8]; 12] = [
    b"nan",
    b"inf",
    b"infinity",
    b"ovf",
    b"na",
    b"n/a",
    b"none",
    b"null",
    b"err",
    b"error",
    b"--",
    b"---",
];

/// Reads `[sign] digits ["." digits]`, nothing else: the native protocol's numbers.
///
/// `None` if the bytes are anything else. The value is correctly rounded, and finite because a
/// line is too short for a number that overflows without an exponent.
#[inline]
pub(super) fn decimal(bytes: &[u8]) -> Option<Field> {
    let (negative, digits) = match bytes {
        [b'-', rest @ ..] => (true, rest),
        [b'+', rest @ ..] => (false, rest),
        _ => (false, bytes),
    };
    let mut mantissa = 0_u64;
    let mut decimals = None;
    for (at, &byte) in digits.iter().enumerate() {
        let digit = byte.wrapping_sub(b'0');
        if digit < 10 {
            // 19 digits can't overflow; longer ones take the slow path and ignore this.
            mantissa = mantissa.wrapping_mul(10).wrapping_add(u64::from(digit));
        } else if byte == b'.' && decimals.is_none() && at > 0 {
            decimals = Some(digits.len() - at - 1);
        } else {
            return None;
        }
    }
    if digits.is_empty() || decimals == Some(0) {
        return None;
    }
    let decimals = decimals.unwrap_or(0);
    let value = match POWERS.get(decimals) {
        Some(power) if digits.len() <= 19 && mantissa <= EXACT => {
            let size = mantissa as f64 / power;
            if negative { -size } else { size }
        }
        _ => exact(bytes)?,
    };
    Some(Field::Number {
        value,
        decimals: u8::try_from(decimals).unwrap_or(u8::MAX),
    })
}

fn exact(bytes: &[u8]) -> Option<f64> {
    let value: f64 = std::str::from_utf8(bytes).ok()?.parse().ok()?;
    value.is_finite().then_some(value)
}

/// Reads what other programs may print: also `.5`, `5.`, an exponent, and the words for "no
/// number". A number too large for `f64` is [`Field::NotANumber`]. `None` if it is none of these.
pub(super) fn loose(bytes: &[u8]) -> Option<Field> {
    if let Some(field) = decimal(bytes) {
        return Some(field);
    }
    if bytes.is_empty() {
        return Some(Field::Empty);
    }
    if is_no_number(bytes) {
        return Some(Field::NotANumber);
    }
    if !bytes
        .iter()
        .all(|b| b.is_ascii_digit() || b"+-.eE".contains(b))
    {
        return None;
    }
    let value: f64 = std::str::from_utf8(bytes).ok()?.parse().ok()?;
    if !value.is_finite() {
        return Some(Field::NotANumber);
    }
    Some(Field::Number {
        value,
        decimals: printed_decimals(bytes),
    })
}

/// A word for "no number", in any case and with any sign?
pub(super) fn is_no_number(bytes: &[u8]) -> bool {
    let word = match bytes {
        [b'+' | b'-', rest @ ..] if rest.first().is_some_and(u8::is_ascii_alphabetic) => rest,
        _ => bytes,
    };
    NO_NUMBER
        .iter()
        .any(|known| known.eq_ignore_ascii_case(word))
}

/// The decimal places of the last printed digit: `2.50e-1` has three.
fn printed_decimals(bytes: &[u8]) -> u8 {
    let e = bytes.iter().position(|b| b.eq_ignore_ascii_case(&b'e'));
    let (mantissa, exponent) = match e {
        Some(e) => (bytes.get(..e), bytes.get(e + 1..)),
        None => (Some(bytes), None),
    };
    let mantissa = mantissa.unwrap_or_default();
    let point = mantissa.iter().position(|&b| b == b'.');
    let places = point.map_or(0, |point| mantissa.len() - point - 1);
    let exponent = exponent.and_then(|e| std::str::from_utf8(e).ok()?.parse::<i64>().ok());
    let decimals = i64::try_from(places)
        .unwrap_or(i64::MAX)
        .saturating_sub(exponent.unwrap_or(0));
    u8::try_from(decimals.max(0)).unwrap_or(u8::MAX)
}

/// Reads a number with one decimal comma. `None` if there is a point too, or a second comma, or
/// anything else.
pub(super) fn with_comma(bytes: &[u8]) -> Option<Field> {
    let mut pointed = arrayvec::ArrayVec::<u8, { super::framing::MAX_LINE }>::new();
    for &byte in bytes {
        if byte == b'.' {
            return None;
        }
        pointed
            .try_push(if byte == b',' { b'.' } else { byte })
            .ok()?;
    }
    loose(&pointed)
}
