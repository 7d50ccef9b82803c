//! The native dialect: the line protocol of our own boards, version 1.
//!
//! The protocol is specified in `firmware-notes/line-protocol.md`; the order of the checks and so
//! the fault that a bad line is given is that of its section 7. One thing is taken more leniently:
//! a word such as `nan` in place of a reading is [`Field::NotANumber`](super::Field) instead of a
//! fault of the whole line, so that the other channels stand.
//!
//! Reading lines is here, the hello line in [`hello`], writing lines in [`encode`].

mod encode;
mod hello;

pub use encode::{encode_hello, encode_remark, encode_sample, request_hello, request_period};

use super::crc::crc16;
use super::dialect::{Dialect, LineFault};
use super::frame::{Field, Frame, MAX_CHANNELS, Sample};
use super::framing::RawFault;
use super::number;
use super::text;

/// The version of the line protocol that is spoken here.
pub const PROTOCOL_VERSION: u32 = 1;

/// The longest line of the protocol in bytes, without its line end.
pub const MAX_NATIVE_LINE: usize = 120;

/// The line protocol of our own boards.
///
/// ```
/// use duskmark::wire::{Dialect, Field, Frame, Native};
/// let Ok(Frame::Sample(sample)) = Native.parse(b">17,4250,33120,30011*1ECC") else { panic!() };
/// assert_eq!(sample.seq, Some(17));
/// assert_eq!(sample.fields[1], Field::Number { value: 30011.0, decimals: 0 });
/// ```
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Native;

impl Dialect for Native {
    fn name(&self) -> &'static str {
        "native"
    }

    fn parse(&self, line: &[u8]) -> Result<Frame, LineFault> {
        if line.len() > MAX_NATIVE_LINE {
            return Err(LineFault::Length {
                length: line.len(),
                limit: MAX_NATIVE_LINE,
            });
        }
        // Samples come first and look at their bytes once: one that is understood is ASCII.
        let parsed = match line.first() {
            Some(b'>') => checked(line).and_then(sample).map(Frame::Sample),
            _ if !is_printable(line) => Err(RawFault::NotText.into()),
            Some(b'!') => checked(line).and_then(hello::parse).map(Frame::Hello),
            Some(b'#') => remark(line).map(Frame::Remark),
            _ => Err(LineFault::Kind),
        };
        match parsed {
            Err(_) if !is_printable(line) => Err(RawFault::NotText.into()),
            parsed => parsed,
        }
    }
}

fn is_printable(line: &[u8]) -> bool {
    line.iter().all(|byte| (0x20..=0x7E).contains(byte))
}

/// The line before its `*`, if the checksum after it is right.
#[inline]
fn checked(line: &[u8]) -> Result<&[u8], LineFault> {
    let Some((body, [b'*', digits @ ..])) = line.split_last_chunk::<5>() else {
        return Err(LineFault::NoChecksum);
    };
    let found = digits
        .iter()
        .try_fold(0_u16, |crc, &byte| Some(crc << 4 | hex_digit(byte)?));
    let found = found.ok_or(LineFault::NoChecksum)?;
    let expected = crc16(body);
    if expected == found {
        Ok(body)
    } else {
        Err(LineFault::Checksum { expected, found })
    }
}

#[inline]
fn hex_digit(byte: u8) -> Option<u16> {
    match byte {
        b'0'..=b'9' => Some(u16::from(byte - b'0')),
        b'A'..=b'F' => Some(u16::from(byte - b'A' + 10)),
        b'a'..=b'f' => Some(u16::from(byte - b'a' + 10)),
        _ => None,
    }
}

/// A remark needs no checksum, but one that ends like a checksum must be right: a hello line whose
/// first byte was damaged would pass for a remark otherwise.
fn remark(line: &[u8]) -> Result<String, LineFault> {
    let body = match checked(line) {
        Ok(body) => body,
        Err(LineFault::NoChecksum) => line,
        Err(fault) => return Err(fault),
    };
    Ok(text::to_text(body.get(1..).unwrap_or_default()))
}

/// Reads `>SEQ,MS,V1[,V2...]` whose checksum is right.
#[inline]
fn sample(body: &[u8]) -> Result<Sample, LineFault> {
    let mut sample = Sample::default();
    match read_sample(body, &mut sample) {
        Some(()) => Ok(sample),
        None => Err(diagnose(body)),
    }
}

/// The straight way through a good line; `None` as soon as it is not one.
#[inline]
fn read_sample(body: &[u8], sample: &mut Sample) -> Option<()> {
    let (seq, rest) = counter(body.get(1..)?)?;
    let (board_ms, rest) = counter(rest.strip_prefix(b",")?)?;
    let mut rest = rest.strip_prefix(b",")?;
    loop {
        let (field, after) = reading(rest)?;
        sample.fields.try_push(field).ok()?;
        match after {
            [] => break,
            [b',', next @ ..] => rest = next,
            _ => return None,
        }
    }
    sample.seq = Some(seq);
    sample.board_ms = Some(board_ms);
    Some(())
}

/// One to ten digits, at most 2^32 - 1, and what follows them.
#[inline]
fn counter(bytes: &[u8]) -> Option<(u32, &[u8])> {
    let (value, rest) = digits(bytes, 0);
    let length = bytes.len() - rest.len();
    if !(1..=10).contains(&length) {
        return None;
    }
    Some((u32::try_from(value).ok()?, rest))
}

/// Appends the decimal digits at the front of `bytes` to `value` (modulo 2^64).
#[inline]
fn digits(mut bytes: &[u8], mut value: u64) -> (u64, &[u8]) {
    while let [byte, rest @ ..] = bytes {
        let digit = byte.wrapping_sub(b'0');
        if digit > 9 {
            break;
        }
        value = value.wrapping_mul(10).wrapping_add(u64::from(digit));
        bytes = rest;
    }
    (value, bytes)
}

/// One reading and what follows it: empty, or `[sign] 1*10DIGIT ["." 1*9DIGIT]`, or a word for
/// "no number".
#[inline]
fn reading(bytes: &[u8]) -> Option<(Field, &[u8])> {
    let (mantissa, rest) = digits(bytes, 0);
    let whole = bytes.len() - rest.len();
    match rest {
        // The usual case: plain digits.
        [] | [b',', ..] if (1..=10).contains(&whole) => Some((
            Field::Number {
                value: mantissa as f64,
                decimals: 0,
            },
            rest,
        )),
        [] | [b',', ..] if whole == 0 => Some((Field::Empty, rest)),
        _ => signed_or_fraction(bytes),
    }
}

/// The unusual readings.
fn signed_or_fraction(bytes: &[u8]) -> Option<(Field, &[u8])> {
    let end = memchr::memchr(b',', bytes).unwrap_or(bytes.len());
    let (field, rest) = bytes.split_at(end);
    let unsigned = field
        .strip_prefix(b"-")
        .or(field.strip_prefix(b"+"))
        .unwrap_or(field);
    let whole = unsigned
        .iter()
        .position(|&byte| byte == b'.')
        .unwrap_or(unsigned.len());
    let decimals = unsigned.len().saturating_sub(whole + 1);
    if whole <= 10
        && decimals <= 9
        && let Some(number) = number::decimal(field)
    {
        return Some((number, rest));
    }
    number::is_no_number(field).then_some((Field::NotANumber, rest))
}

/// Says what is wrong with a sample line that `read_sample` refused.
#[cold]
fn diagnose(body: &[u8]) -> LineFault {
    let commas = memchr::memchr_iter(b',', body).count();
    if !(2..=MAX_CHANNELS + 1).contains(&commas) {
        return LineFault::FieldCount {
            found: commas.saturating_sub(1),
            limit: MAX_CHANNELS,
        };
    }
    let mut at = 1;
    for (index, field) in body
        .get(1..)
        .unwrap_or_default()
        .split(|&b| b == b',')
        .enumerate()
    {
        let counter = matches!(counter(field), Some((_, [])));
        let reading = matches!(reading(field), Some((_, [])));
        match index {
            0 if !counter => {
                return LineFault::Counter {
                    what: "sequence number",
                    at,
                };
            }
            1 if !counter => {
                return LineFault::Counter {
                    what: "board clock",
                    at,
                };
            }
            2.. if !reading => {
                return LineFault::Number {
                    field: index - 1,
                    at,
                };
            }
            _ => at += field.len() + 1,
        }
    }
    LineFault::Syntax {
        at: body.len(),
        expected: "the end of the line",
    }
}

#[cfg(test)]
mod tests;
