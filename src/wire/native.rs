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
        let mut frame = Frame::default();
        self.parse_into(line, &mut frame)?;
        Ok(frame)
    }

    fn parse_into(&self, line: &[u8], frame: &mut Frame) -> Result<(), LineFault> {
        if let Some(b'>') = line.first() {
            return match fill(frame.fresh_sample(), line) {
                Some(()) => Ok(()),
                None => Err(diagnose(line)),
            };
        }
        if let Some(fault) = unusable(line) {
            return Err(fault);
        }
        *frame = match line.first() {
            Some(b'!') => Frame::Hello(checked(line).and_then(hello::parse)?),
            Some(b'#') => Frame::Remark(remark(line)?),
            _ => return Err(LineFault::Kind),
        };
        Ok(())
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
fn checked(line: &[u8]) -> Result<&[u8], LineFault> {
    let (body, found) = split_checksum(line).ok_or(LineFault::NoChecksum)?;
    let expected = crc16(body);
    if expected == found {
        Ok(body)
    } else {
        Err(LineFault::Checksum { expected, found })
    }
}

/// The line before its `*`, and the checksum that is stated after it.
#[inline]
fn split_checksum(line: &[u8]) -> Option<(&[u8], u16)> {
    let (body, [b'*', digits @ ..]) = line.split_last_chunk::<5>()? else {
        return None;
    };
    #[expect(clippy::indexing_slicing, reason = "a byte is below 256")]
    let digit = |byte: u8| i32::from(HEX_DIGITS[usize::from(byte)]);
    // A digit that is none makes the whole negative.
    let stated = digits.iter().fold(0, |crc, &byte| crc << 4 | digit(byte));
    Some((body, u16::try_from(stated).ok()?))
}

/// The value of every byte as a hexadecimal digit of either case; -1 for what is none.
///
/// A table, because the digits of a checksum are random: jumps would be mispredicted.
#[expect(clippy::indexing_slicing, reason = "checked when it is compiled")]
const HEX_DIGITS: [i8; 256] = {
    let mut values = [-1; 256];
    let mut value = 0;
    while value < 16 {
        let digit = b"0123456789ABCDEF"[value];
        values[digit as usize] = value as i8;
        values[digit.to_ascii_lowercase() as usize] = value as i8;
        value += 1;
    }
    values
};

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

/// Reads `>SEQ,MS,V1[,V2...]*CRC` into a sample; `None` if anything is wrong with the line.
///
/// A line that is understood is known to be printable, so that is looked at only in a bad one.
#[inline]
fn fill(sample: &mut Sample, line: &[u8]) -> Option<()> {
    let (body, stated) = split_checksum(line)?;
    if line.len() > MAX_NATIVE_LINE || crc16(body) != stated {
        return None;
    }
    let (seq, rest) = counter(line.get(1..)?)?;
    let (board_ms, rest) = counter(rest.strip_prefix(b",")?)?;
    sample.seq = Some(seq);
    sample.board_ms = Some(board_ms);
    readings(&mut sample.fields, rest.strip_prefix(b",")?)
}

/// The readings up to the checksum; `None` as soon as one is not good.
///
/// The checksum stays in sight: behind it eight bytes can be looked at at once, see
/// [`number::digits`].
#[inline]
fn readings(fields: &mut ArrayVec<Field, MAX_CHANNELS>, mut rest: &[u8]) -> Option<()> {
    loop {
        let (value, count) = number::digits(rest);
        let after = match rest.get(count..)? {
            after @ [b',' | b'*', ..] if (1..=10).contains(&count) => {
                // Plain digits, the usual case, stay in registers.
                let value = value.cast_signed() as f64;
                fields.try_push(Field::Number { value, decimals: 0 }).ok()?;
                after
            }
            _ => {
                let (field, after) = reading(rest)?;
                fields.try_push(field).ok()?;
                after
            }
        };
        match after {
            [b',', next @ ..] => rest = next,
            // `reading` stops at the first `*`; only the one of the checksum may be there.
            [b'*', _, _, _, _] => return Some(()),
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
