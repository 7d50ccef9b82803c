//! The labelled dialect: `slate=24.9 moss=23.3`, `T1: 23.4 C`, `slate: 24.9 °C, moss: 23.3 °C`.
//!
//! A line is a row of items, with spaces, tabs, commas or semicolons between them. An item is a
//! label that begins with a letter, `=` or `:`, and a value, perhaps with a unit. A word after a
//! value is its unit if it is a known one, else the beginning of the next label; so
//! `C: 23.4 F: 25.1` has two channels named C and F. A comma is a decimal comma only between
//! two digits of a number without a point. A label that stands in a line twice is told apart by a
//! number: `Temp`, `Temp 2`. What labels and units mean is the
//! business of [`label`](super::label). `#` begins a remark.

use super::dialect::{Dialect, LineFault};
use super::frame::{Field, Frame, Sample};
use super::label::{self, Role, Suffix};
use super::{number, text};

/// Labels and numbers.
///
/// ```
/// use duskmark::wire::{Dialect, Frame, Labelled, Unit};
/// let line = "slate: 24.9 °C, moss: 23.3 °C".as_bytes();
/// let Ok(Frame::Sample(sample)) = Labelled.parse(line) else { panic!() };
/// assert_eq!(sample.labels, ["slate".into(), "moss".into()]);
/// assert_eq!(sample.unit, Some(Unit::Degc));
/// ```
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Labelled;

impl Dialect for Labelled {
    fn name(&self) -> &'static str {
        "labelled"
    }

    fn parse(&self, line: &[u8]) -> Result<Frame, LineFault> {
        let line = text::to_text(line);
        if let Some(remark) = line.strip_prefix('#') {
            return Ok(Frame::Remark(remark.to_owned()));
        }
        let mut sample = Sample::default();
        let mut scan = Scan { line: &line, at: 0 };
        loop {
            scan.skip(|c| " \t,;".contains(c));
            if scan.rest().is_empty() {
                break;
            }
            item(&mut scan, &mut sample)?;
        }
        label::leave_out_humidity(&mut sample);
        if sample.fields.is_empty() {
            return Err(LineFault::NoReading);
        }
        Ok(Frame::Sample(sample))
    }
}

/// A place in the line.
struct Scan<'a> {
    line: &'a str,
    at: usize,
}

impl<'a> Scan<'a> {
    fn rest(&self) -> &'a str {
        self.line.get(self.at..).unwrap_or_default()
    }

    /// Passes over characters and returns them.
    fn skip(&mut self, wanted: impl Fn(char) -> bool) -> &'a str {
        let rest = self.rest();
        let end = rest.find(|c| !wanted(c)).unwrap_or(rest.len());
        self.at += end;
        rest.get(..end).unwrap_or_default()
    }

    /// The next word without passing over it, and whether it is (the end of) a label.
    fn peek_word(&self) -> (&'a str, bool) {
        let rest = self.rest();
        let end = rest.find(|c| " \t,;=:".contains(c)).unwrap_or(rest.len());
        let (word, after) = rest.split_at(end);
        (
            word,
            after
                .trim_start_matches([' ', '\t'])
                .starts_with(['=', ':']),
        )
    }

    fn fault<T>(&self, expected: &'static str) -> Result<T, LineFault> {
        Err(LineFault::Syntax {
            at: self.at,
            expected,
        })
    }
}

/// One label with its value and unit.
fn item(scan: &mut Scan<'_>, sample: &mut Sample) -> Result<(), LineFault> {
    let number = sample.fields.len() + 1;
    let begin = scan.at;
    let label = scan.skip(|c| !"=:,;\t".contains(c)).trim_end();
    if !label.starts_with(|c: char| c.is_alphabetic() || c == '_') {
        scan.at = begin;
        return scan.fault("a label");
    }
    if !scan.rest().starts_with(['=', ':']) {
        return scan.fault("`=` or `:` after the label");
    }
    scan.at += 1;
    scan.skip(|c| c == ' ' || c == '\t');
    let at = scan.at;
    let value = value(scan, number)?;
    // An empty value ends where the next label begins; only a number has a unit.
    let suffix = if scan.at == at {
        None
    } else {
        unit(scan, LineFault::Number { field: number, at })?
    };
    let role = match suffix {
        Some(Suffix::Unit(unit)) => {
            label::agree(sample, unit)?;
            // With a unit of temperature even `t` is a channel.
            Role::Channel
        }
        Some(Suffix::Other) if label::role(label) == Role::Channel => Role::Other,
        _ => label::role(label),
    };
    label::add(sample, label, role, value)
}

/// The value, or [`Field::Empty`] if the next label or a separator stands in its place.
fn value(scan: &mut Scan<'_>, number: usize) -> Result<Field, LineFault> {
    let at = scan.at;
    let not_a_number = LineFault::Number { field: number, at };
    if !scan
        .rest()
        .starts_with(|c: char| c.is_ascii_digit() || "+-.".contains(c))
    {
        let (word, is_label) = scan.peek_word();
        if is_label || word.is_empty() {
            return Ok(Field::Empty);
        }
        scan.at += word.len();
        let known = number::is_no_number(word.as_bytes());
        return if known {
            Ok(Field::NotANumber)
        } else {
            Err(not_a_number)
        };
    }
    let length = number_length(scan.rest().as_bytes());
    let (digits, rest) = scan.rest().split_at(length);
    scan.at += length;
    let is_word = digits.is_empty() || digits.starts_with(['+', '-']) && digits.len() == 1;
    if is_word {
        // `-inf`, `---`
        let (word, _) = Scan { line: rest, at: 0 }.peek_word();
        scan.at += word.len();
        let known = number::is_no_number([digits, word].concat().as_bytes());
        return if known {
            Ok(Field::NotANumber)
        } else {
            Err(not_a_number)
        };
    }
    if digits.contains(',') {
        let value = number::with_comma(digits.as_bytes());
        return value.ok_or(LineFault::Grouping { field: number, at });
    }
    number::loose(digits.as_bytes()).ok_or(not_a_number)
}

/// How many bytes belong to the number: sign, digits, points, an exponent, and commas that stand
/// between two digits.
fn number_length(bytes: &[u8]) -> usize {
    let digit = |at: usize| bytes.get(at).is_some_and(u8::is_ascii_digit);
    let signed = |at: usize| matches!(bytes.get(at), Some(b'+' | b'-')) && digit(at + 1);
    let mut at = usize::from(matches!(bytes.first(), Some(b'+' | b'-')));
    let first = at;
    while let Some(&byte) = bytes.get(at) {
        let after_digit = at > first && digit(at - 1);
        let belongs = match byte {
            b'0'..=b'9' | b'.' => true,
            b',' => after_digit && digit(at + 1),
            b'e' | b'E' => after_digit && (digit(at + 1) || signed(at + 1)),
            b'+' | b'-' => at > first && matches!(bytes.get(at - 1), Some(b'e' | b'E')),
            _ => false,
        };
        if !belongs {
            break;
        }
        at += 1;
    }
    at
}

/// Passes over the unit after a value, if there is one; a further word is left to the next item,
/// unless it sticks to the number: `0x13` and `24.9abc` are no numbers.
fn unit(scan: &mut Scan<'_>, not_a_number: LineFault) -> Result<Option<Suffix>, LineFault> {
    let before = scan.at;
    scan.skip(|c| c == ' ' || c == '\t');
    let (word, is_label) = scan.peek_word();
    let glued = scan.at == before;
    match label::suffix(word) {
        Some(suffix) if !is_label || glued => {
            scan.at += word.len();
            Ok(Some(suffix))
        }
        _ if glued && !word.is_empty() => Err(not_a_number),
        _ => Ok(None),
    }
}

#[cfg(test)]
mod tests;
