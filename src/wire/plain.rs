//! The plain dialect: numbers and separators, nothing else.
//!
//! `;` or a tab separates if the line has one; then a comma is a decimal comma. With commas and
//! spaces, commas that stand next to a space separate (`23.4, 25.1`), and commas between digits
//! are decimal commas (`23,4 25,1`). Without spaces, commas separate (`23.4,25.1`).
//!
//! A comma alone can't always be told: `23,4` is read as two whole numbers; four or more whole
//! numbers in pairs like `23,4,25,1` (second of each pair of one or two digits) and a whole number
//! with leading zero like `1,023` are refused, because they may as well be decimal commas or
//! grouped thousands, and a guess would alter values. A board that prints decimal commas should
//! separate with `;` or tab.
//!
//! Nothing between two separators, or before the first, or after the last, is an empty field.
//! `nan`, `inf`, `---` and the like are "not a number"; any other word makes it no line of this
//! dialect. `#` begins a remark.

use super::dialect::{Dialect, LineFault};
use super::frame::{Field, Frame, MAX_CHANNELS, Sample};
use super::number;
use super::text;

/// Numbers and separators only.
///
/// ```
/// use duskmark::wire::{Dialect, Field, Frame, Plain};
/// let Ok(Frame::Sample(sample)) = Plain.parse(b"23,4;25,1") else { panic!() };
/// assert_eq!(sample.fields[0], Field::Number { value: 23.4, decimals: 1 });
/// ```
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Plain;

impl Dialect for Plain {
    fn name(&self) -> &'static str {
        "plain"
    }

    fn parse(&self, line: &[u8]) -> Result<Frame, LineFault> {
        if let Some(remark) = line.strip_prefix(b"#") {
            return Ok(Frame::Remark(text::to_text(remark)));
        }
        let style = style(line)?;
        let mut sample = Sample::default();
        let mut at = 0;
        for piece in line.split(|&byte| style.separates(byte)) {
            let field = piece.trim_ascii();
            let begin = at + piece.len() - piece.trim_ascii_start().len();
            at += piece.len() + 1;
            if style == Style::Spaces && field.is_empty() {
                continue;
            }
            let number = sample.fields.len() + 1;
            let value = read(field, style, number, begin)?;
            sample
                .fields
                .try_push(value)
                .map_err(|_| LineFault::too_many(MAX_CHANNELS + 1))?;
        }
        if sample.fields.is_empty() || line.trim_ascii().is_empty() {
            return Err(LineFault::NoReading);
        }
        Ok(Frame::Sample(sample))
    }
}

/// What separates fields.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Style {
    Semicolon,
    Tab,
    Comma,
    Spaces,
}

impl Style {
    fn separates(self, byte: u8) -> bool {
        match self {
            Self::Semicolon => byte == b';',
            Self::Tab => byte == b'\t',
            Self::Comma => byte == b',',
            Self::Spaces => byte == b' ',
        }
    }
}

fn style(line: &[u8]) -> Result<Style, LineFault> {
    if line.contains(&b';') {
        return Ok(Style::Semicolon);
    }
    if line.contains(&b'\t') {
        return Ok(Style::Tab);
    }
    let line = line.trim_ascii();
    let commas = memchr::memchr_iter(b',', line).count();
    if commas == 0 {
        return Ok(Style::Spaces);
    }
    if line.contains(&b' ') {
        return comma_and_space(line, commas);
    }
    if line.contains(&b'.') {
        Ok(Style::Comma)
    } else {
        whole_numbers(line, commas)
    }
}

/// Commas and spaces in one line: which of the two separates?
fn comma_and_space(line: &[u8], commas: usize) -> Result<Style, LineFault> {
    let beside_space = line
        .iter()
        .enumerate()
        .filter(|&(at, &byte)| {
            let before = at.checked_sub(1).and_then(|at| line.get(at));
            byte == b',' && (before == Some(&b' ') || line.get(at + 1) == Some(&b' '))
        })
        .count();
    if beside_space == commas {
        Ok(Style::Comma)
    } else if beside_space == 0 && !line.contains(&b'.') {
        Ok(Style::Spaces)
    } else {
        Err(LineFault::AmbiguousComma { commas })
    }
}

/// Only whole numbers and commas: refuse what may be decimal commas or grouped thousands.
fn whole_numbers(line: &[u8], commas: usize) -> Result<Style, LineFault> {
    let fields = || line.split(|&byte| byte == b',');
    let leading_zero = |field: &[u8]| matches!(field, [b'0', b'0'..=b'9', ..]);
    let decimals =
        |field: &[u8]| matches!(field.len(), 1 | 2) && field.iter().all(u8::is_ascii_digit);
    let in_pairs = commas >= 3 && commas % 2 == 1 && fields().skip(1).step_by(2).all(decimals);
    if in_pairs || fields().any(leading_zero) {
        return Err(LineFault::AmbiguousComma { commas });
    }
    Ok(Style::Comma)
}

fn read(field: &[u8], style: Style, number: usize, at: usize) -> Result<Field, LineFault> {
    let not_a_number = LineFault::Number { field: number, at };
    let commas = memchr::memchr_iter(b',', field).count();
    if style == Style::Comma || commas == 0 {
        return number::loose(field).ok_or(not_a_number);
    }
    number::with_comma(field).ok_or(LineFault::Grouping { field: number, at })
}

#[cfg(test)]
mod tests;
