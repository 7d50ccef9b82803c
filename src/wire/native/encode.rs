//! Writing native lines: what a board sends (for virtual boards), and what the host asks.

use std::fmt::{self, Write};

use crate::wire::crc::crc16;
use crate::wire::frame::{Field, Hello, NtcSide, Unit};

/// Writes text into bytes; it can't fail.
struct Ascii<'a>(&'a mut Vec<u8>);

impl Write for Ascii<'_> {
    fn write_str(&mut self, s: &str) -> fmt::Result {
        self.0.extend_from_slice(s.as_bytes());
        Ok(())
    }
}

/// Writes one line with checksum and LF.
fn line(out: &mut Vec<u8>, write: impl FnOnce(&mut Ascii<'_>) -> fmt::Result) {
    let start = out.len();
    // Writing into a Vec<u8> has no failure to report.
    let _: fmt::Result = write(&mut Ascii(out));
    let crc = crc16(out.get(start..).unwrap_or_default());
    let _: fmt::Result = writeln!(Ascii(out), "*{crc:04X}");
}

/// Appends a sample line with checksum and LF.
///
/// `board_ms` is the board's clock in milliseconds at the middle of the first channel's sampling
/// window. Numbers are printed with their own `decimals`. A number that is not finite is written
/// as an empty field, and so is [`Field::Empty`]; [`Field::NotANumber`] is written as `nan`, as a
/// faulty board would. Keeping the line within the protocol's limits is the caller's part.
pub fn encode_sample(out: &mut Vec<u8>, seq: u32, board_ms: u32, fields: &[Field]) {
    line(out, |out| {
        write!(out, ">{seq},{board_ms}")?;
        for field in fields {
            match *field {
                Field::Number { value, decimals } if value.is_finite() => {
                    write!(out, ",{value:.*}", usize::from(decimals))?;
                }
                Field::Number { .. } | Field::Empty => out.write_str(",")?,
                Field::NotANumber => out.write_str(",nan")?,
            }
        }
        Ok(())
    });
}

/// Appends a hello line with checksum and LF.
///
/// Units that the protocol doesn't have (`Degf`, `Kelvin`, `Volt`) are written by their names, which a
/// host refuses. `fixed_ohm` is rounded to whole ohms, as the protocol has them.
pub fn encode_hello(out: &mut Vec<u8>, hello: &Hello) {
    line(out, |out| {
        let unit = match hello.unit {
            Unit::Degc => "degc",
            Unit::Degf => "degf",
            Unit::Kelvin => "kelvin",
            Unit::Ohm => "ohm",
            Unit::Volt => "volt",
            Unit::Adc => "adc",
        };
        write!(out, "!duskmark {} id={}", hello.version, hello.board_id)?;
        write!(out, " channels={} unit={unit}", hello.channels)?;
        if let Some(full) = hello.full_scale {
            write!(out, " full={full}")?;
        }
        if let Some(ohm) = hello.fixed_ohm {
            write!(out, " fixed_ohm={ohm:.0}")?;
        }
        match hello.ntc_side {
            Some(NtcSide::Low) => out.write_str(" ntc=low")?,
            Some(NtcSide::High) => out.write_str(" ntc=high")?,
            None => {}
        }
        if let Some(ms) = hello.period_ms {
            write!(out, " period_ms={ms}")?;
        }
        if let Some(us) = hello.skew_us {
            write!(out, " skew_us={us}")?;
        }
        Ok(())
    });
}

/// Appends a remark with checksum and LF; characters outside printable ASCII become `?`.
pub fn encode_remark(out: &mut Vec<u8>, text: &str) {
    line(out, |out| {
        out.write_str("#")?;
        text.chars()
            .try_for_each(|c| out.write_char(if matches!(c, ' '..='~') { c } else { '?' }))
    });
}

/// The request for a hello line.
#[must_use]
pub fn request_hello() -> &'static [u8] {
    b"?\n"
}

/// The request for another sampling period, in milliseconds. The board answers with a hello that
/// states the period in force.
#[must_use]
pub fn request_period(period_ms: u32) -> Vec<u8> {
    format!("?period_ms={period_ms}\n").into_bytes()
}
