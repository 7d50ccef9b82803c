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

use arrayvec::ArrayVec;

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
        if let Some(b'>') = line.first() {
            return sample(line);
        }
        if let Some(fault) = unusable(line) {
            return Err(fault);
        }
        match line.first() {
            Some(b'!') => checked(line).and_then(hello::parse).map(Frame::Hello),
            Some(b'#') => remark(line).map(Frame::Remark),
            _ => Err(LineFault::Kind),
        }
    }
}

/// The faults that come before any look at the line's kind.
fn unusable(line: &[u8]) -> Option<LineFault> {
    if line.len() > MAX_NATIVE_LINE {
        return Some(LineFault::Length {
            length: line.len(),
            limit: MAX_NATIVE_LINE,
        });
    }
    let printable = line.iter().all(|byte| (0x20..=0x7E).contains(byte));
    (!printable).then_some(LineFault::Raw(RawFault::NotText))
}

/// The line before its `*`, if the checksum after it is right.
#[inline]
fn checked(line: &[u8]) -> Result<&[u8], LineFault> {
    let Some((body, [b'*', digits @ ..])) = line.split_last_chunk::<5>() else {
        return Err(LineFault::NoChecksum);
    };
    let found = digits
        .iter()
        .fold(0, |crc, &byte| crc << 4 | hex_digit(byte));
    let Ok(found) = u16::try_from(found) else {
        return Err(LineFault::NoChecksum);
    };
    let expected = crc16(body);
    if expected == found {
        Ok(body)
    } else {
        Err(LineFault::Checksum { expected, found })
    }
}

/// The value of a hexadecimal digit; 2^16 for anything else. Both ways are worked out and one is
/// taken, without a jump: the digits of a checksum are random and would be mispredicted.
#[inline]
fn hex_digit(byte: u8) -> u32 {
    let digit = byte.wrapping_sub(b'0');
    let letter = (byte | 0x20).wrapping_sub(b'a');
    let letter = if letter < 6 {
        u32::from(letter) + 10
    } else {
        1 << 16
    };
    if digit < 10 { u32::from(digit) } else { letter }
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

/// Reads `>SEQ,MS,V1[,V2...]*CRC`.
///
/// A line that is understood is known to be printable, so that is looked at only in a bad one.
fn sample(line: &[u8]) -> Result<Frame, LineFault> {
    if line.len() <= MAX_NATIVE_LINE
        && checked(line).is_ok()
        && let Some((seq, rest)) = line.get(1..).and_then(counter)
        && let Some((board_ms, rest)) = rest.strip_prefix(b",").and_then(counter)
        && let Some(rest) = rest.strip_prefix(b",")
        && let Some(fields) = readings(rest)
    {
        let (seq, board_ms) = (Some(seq), Some(board_ms));
        return Ok(Frame::Sample(Sample {
            seq,
            board_ms,
            fields,
            labels: Vec::new(),
            unit: None,
        }));
    }
    Err(diagnose(line))
}

/// The readings up to the checksum; `None` as soon as one is not good.
///
/// The checksum stays in sight: behind it eight bytes can be looked at at once, see
/// [`number::digits`].
#[inline]
fn readings(mut rest: &[u8]) -> Option<ArrayVec<Field, MAX_CHANNELS>> {
    let mut fields = ArrayVec::new();
    loop {
        let (value, count) = number::digits(rest);
        let mut after = rest.get(count..)?;
        let field = if matches!(after, [b',' | b'*', ..]) && (1..=10).contains(&count) {
            // Plain digits, the usual case, stay in registers.
            Field::Number {
                value: value.cast_signed() as f64,
                decimals: 0,
            }
        } else {
            let field;
            (field, after) = reading(rest)?;
            field
        };
        fields.try_push(field).ok()?;
        match after {
            [b',', next @ ..] => rest = next,
            // `reading` stops at the first `*`; only the one of the checksum may be there.
            [b'*', _, _, _, _] => return Some(fields),
            _ => return None,
        }
    }
}

/// One to ten digits, at most 2^32 - 1, and what follows them.
#[inline]
fn counter(bytes: &[u8]) -> Option<(u32, &[u8])> {
    let (value, count) = number::digits(bytes);
    if !(1..=10).contains(&count) {
        return None;
    }
    Some((u32::try_from(value).ok()?, bytes.get(count..)?))
}

/// One reading and what follows it: empty, or `[sign] 1*10DIGIT ["." 1*9DIGIT]`, or a word for
/// "no number".
fn reading(bytes: &[u8]) -> Option<(Field, &[u8])> {
    match number::prefix(bytes) {
        Some(printed) if printed.whole <= 10 && printed.decimals <= 9 => {
            Some((printed.field(), bytes.get(printed.length..)?))
        }
        Some(_) => None,
        None => empty_or_word(bytes),
    }
}

fn empty_or_word(bytes: &[u8]) -> Option<(Field, &[u8])> {
    let end = memchr::memchr2(b',', b'*', bytes).unwrap_or(bytes.len());
    let (word, rest) = bytes.split_at(end);
    if word.is_empty() {
        return Some((Field::Empty, rest));
    }
    number::is_no_number(word).then_some((Field::NotANumber, rest))
}

/// Says what is wrong with a sample line that was refused.
#[cold]
fn diagnose(line: &[u8]) -> LineFault {
    if let Some(fault) = unusable(line) {
        return fault;
    }
    let body = match checked(line) {
        Ok(body) => body,
        Err(fault) => return fault,
    };
    let commas = memchr::memchr_iter(b',', body).count();
    if !(2..=MAX_CHANNELS + 1).contains(&commas) {
        let found = commas.saturating_sub(1);
        return LineFault::FieldCount {
            found,
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
