//! Decimal numbers as boards print them.

use super::frame::Field;

/// Powers of ten that `f64` holds exactly and that the fast path needs.
const POWERS: [f64; 20] = [
    1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15, 1e16,
    1e17, 1e18, 1e19,
];

/// The same as integers.
const INTEGER_POWERS: [u64; 20] = [
    1,
    10,
    100,
    1_000,
    10_000,
    100_000,
    1_000_000,
    10_000_000,
    100_000_000,
    1_000_000_000,
    10_000_000_000,
    100_000_000_000,
    1_000_000_000_000,
    10_000_000_000_000,
    100_000_000_000_000,
    1_000_000_000_000_000,
    10_000_000_000_000_000,
    100_000_000_000_000_000,
    1_000_000_000_000_000_000,
    10_000_000_000_000_000_000,
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

/// A number at the front of some bytes.
#[derive(Debug, Clone, Copy)]
pub(super) struct Printed {
    /// Its value; finite, correctly rounded.
    pub(super) value: f64,
    /// Digits before the point.
    pub(super) whole: usize,
    /// Digits after the point.
    pub(super) decimals: usize,
    /// Bytes that it takes.
    pub(super) length: usize,
}

impl Printed {
    pub(super) fn field(&self) -> Field {
        Field::Number {
            value: self.value,
            decimals: u8::try_from(self.decimals).unwrap_or(u8::MAX),
        }
    }
}

/// Reads `[sign] 1*DIGIT ["." 1*DIGIT]` at the front of `bytes`; `None` if none stands there.
#[inline]
pub(super) fn prefix(bytes: &[u8]) -> Option<Printed> {
    let (negative, unsigned) = match bytes {
        [b'-', rest @ ..] => (true, rest),
        [b'+', rest @ ..] => (false, rest),
        _ => (false, bytes),
    };
    let (mut mantissa, whole) = digits(unsigned);
    if whole == 0 {
        return None;
    }
    let mut length = bytes.len() - unsigned.len() + whole;
    let mut decimals = 0;
    if let Some([b'.', after @ ..]) = unsigned.get(whole..) {
        let fraction;
        (fraction, decimals) = digits(after);
        if decimals == 0 {
            return None;
        }
        length += 1 + decimals;
        let power = INTEGER_POWERS.get(decimals).copied().unwrap_or(0);
        // 19 digits can't overflow; longer numbers take the slow way and ignore this.
        mantissa = mantissa.wrapping_mul(power).wrapping_add(fraction);
    }
    let value = match POWERS.get(decimals) {
        Some(power) if whole + decimals <= 19 && mantissa <= EXACT => {
            let size = if decimals == 0 {
                mantissa as f64
            } else {
                mantissa as f64 / power
            };
            if negative { -size } else { size }
        }
        _ => exact(bytes.get(..length)?)?,
    };
    Some(Printed {
        value,
        whole,
        decimals,
        length,
    })
}

/// Reads `[sign] 1*DIGIT ["." 1*DIGIT]` and nothing else.
pub(super) fn decimal(bytes: &[u8]) -> Option<Field> {
    prefix(bytes)
        .filter(|printed| printed.length == bytes.len())
        .map(|printed| printed.field())
}

/// The decimal digits at the front of `bytes`: their value modulo 2^64, and how many they are.
///
/// Eight bytes are looked at at once. Whoever changes this: the addition may carry out of a byte,
/// but only out of one that is no digit, and only bytes before the first such byte count.
#[inline]
pub(super) fn digits(bytes: &[u8]) -> (u64, usize) {
    let Some(chunk) = bytes.first_chunk::<8>() else {
        return more_digits(bytes, 0, 0);
    };
    // A digit becomes its value, 0..=9, and adding 0x76 leaves its high bit clear.
    let values = u64::from_le_bytes(*chunk) ^ 0x3030_3030_3030_3030;
    let strange = (values | values.wrapping_add(0x7676_7676_7676_7676)) & 0x8080_8080_8080_8080;
    let count = strange.trailing_zeros() / 8;
    if count == 0 {
        return (0, 0);
    }
    // The digits move to the high bytes, zeros before them: pairs, then fours, then eight.
    let value = values << (64 - 8 * count);
    let value = (value.wrapping_mul(10 * 0x100 + 1) >> 8) & 0x00FF_00FF_00FF_00FF;
    let value = (value.wrapping_mul(100 * 0x1_0000 + 1) >> 16) & 0x0000_FFFF_0000_FFFF;
    let value = value.wrapping_mul(10_000 * 0x1_0000_0000 + 1) >> 32;
    if count == 8 {
        more_digits(bytes, value, 8)
    } else {
        (value, count as usize)
    }
}

/// Goes on one by one after `count` digits.
fn more_digits(bytes: &[u8], mut value: u64, mut count: usize) -> (u64, usize) {
    for &byte in bytes.get(count..).unwrap_or_default() {
        let digit = byte.wrapping_sub(b'0');
        if digit > 9 {
            break;
        }
        value = value.wrapping_mul(10).wrapping_add(u64::from(digit));
        count += 1;
    }
    (value, count)
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

#[cfg(test)]
mod tests;
