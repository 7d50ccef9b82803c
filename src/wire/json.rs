//! The JSON dialect: one object per line.
//!
//! Numbers at the top level become channels in the order of the line, named after their key.
//! One level deeper, a number in an object is named `outer.inner`, and numbers in an array are
//! named after the array's key and their place, counted from 1: `temps1`, `temps2`. `null` is an
//! empty field; the strings `"nan"`, `"inf"` and the like, and the bare words `nan`, `NaN`,
//! `Infinity` that hand-made JSON contains, are "not a number". Other strings, booleans, and what
//! lies deeper are ignored, except that `"unit":"C"` states the unit. What keys mean is the business
//! of [`label`](super::label); inside a nested object `t` is taken for a temperature.
//! Decimals are counted as printed. `#` begins a remark.

use std::borrow::Cow;
use std::fmt;

use serde::de::{Deserialize, Deserializer, MapAccess, Visitor};
use serde_json::value::RawValue;

use super::dialect::{Dialect, LineFault};
use super::frame::{Field, Frame, Sample};
use super::label::{self, Role, Suffix};
use super::{number, text};

/// One JSON object per line.
///
/// ```
/// use duskmark::wire::{Dialect, Field, Frame, Json};
/// let line = br#"{"ms":4250,"slate":24.90,"moss":null}"#;
/// let Ok(Frame::Sample(sample)) = Json.parse(line) else { panic!() };
/// assert_eq!(sample.board_ms, Some(4250));
/// assert_eq!(sample.fields[0], Field::Number { value: 24.9, decimals: 2 });
/// assert_eq!(sample.fields[1], Field::Empty);
/// ```
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Json;

impl Dialect for Json {
    fn name(&self) -> &'static str {
        "json"
    }

    fn parse(&self, line: &[u8]) -> Result<Frame, LineFault> {
        let line = text::to_text(line);
        if let Some(remark) = line.strip_prefix('#') {
            return Ok(Frame::Remark(remark.to_owned()));
        }
        let line = quote_bare_words(&line);
        let object: Entries<'_> =
            serde_json::from_str(&line).map_err(|fault| LineFault::NotJson {
                at: fault.column().saturating_sub(1),
            })?;
        let mut sample = Sample::default();
        for (key, value) in &object.0 {
            top_level(&mut sample, key, value.get())?;
        }
        if sample.fields.is_empty() {
            return Err(LineFault::NoReading);
        }
        Ok(Frame::Sample(sample))
    }
}

/// An object's entries in the order of the line; values stay text, so that the digits are seen as
/// printed.
struct Entries<'a>(Vec<(Cow<'a, str>, &'a RawValue)>);

impl<'de: 'a, 'a> Deserialize<'de> for Entries<'a> {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct InOrder;
        impl<'de> Visitor<'de> for InOrder {
            type Value = Entries<'de>;

            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("an object")
            }

            fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<Self::Value, A::Error> {
                let mut entries = Vec::new();
                while let Some(entry) = map.next_entry::<Cow<'de, str>, &'de RawValue>()? {
                    entries.push(entry);
                }
                Ok(Entries(entries))
            }
        }
        deserializer.deserialize_map(InOrder)
    }
}

fn top_level(sample: &mut Sample, key: &str, value: &str) -> Result<(), LineFault> {
    match value.as_bytes().first() {
        Some(b'{') => {
            // The whole line is valid JSON, so its parts are.
            let inner = serde_json::from_str::<Entries<'_>>(value).map_or(vec![], |inner| inner.0);
            for (inner_key, value) in &inner {
                let role = match label::role(inner_key) {
                    Role::Other if inner_key.eq_ignore_ascii_case("t") => Role::Channel,
                    role => role,
                };
                scalar(sample, &format!("{key}.{inner_key}"), role, value.get())?;
            }
        }
        Some(b'[') => {
            let inner = serde_json::from_str::<Vec<&RawValue>>(value).unwrap_or_default();
            let role = match label::role(key) {
                Role::Channel => Role::Channel,
                _ => Role::Other,
            };
            for (index, value) in inner.iter().enumerate() {
                scalar(sample, &format!("{key}{}", index + 1), role, value.get())?;
            }
        }
        Some(b'"')
            if ["unit", "units"]
                .iter()
                .any(|name| key.eq_ignore_ascii_case(name)) =>
        {
            let unit = serde_json::from_str::<String>(value).unwrap_or_default();
            if let Some(Suffix::Unit(unit)) = label::suffix(&unit) {
                label::agree(sample, unit)?;
            }
        }
        _ => scalar(sample, key, label::role(key), value)?,
    }
    Ok(())
}

/// A number, or what stands for one; anything else is ignored.
fn scalar(sample: &mut Sample, label: &str, role: Role, value: &str) -> Result<(), LineFault> {
    let field = match value.as_bytes() {
        b"null" => Field::Empty,
        [b'"', word @ .., b'"'] if number::is_no_number(word) => Field::NotANumber,
        [b'-' | b'0'..=b'9', ..] => number::loose(value.as_bytes()).unwrap_or(Field::NotANumber),
        _ => return Ok(()),
    };
    label::add(sample, label, role, field)
}

/// Puts quotes around bare words for "not a number" outside strings.
fn quote_bare_words(line: &str) -> Cow<'_, str> {
    let bare = |c: char| c.is_ascii_alphabetic() || c == '-' || c == '+';
    let mut quoted = String::new();
    let mut done = 0;
    let (mut in_string, mut escaped) = (false, false);
    let mut word = 0;
    for (at, c) in line.char_indices() {
        if !in_string && !bare(c) {
            let candidate = line.get(word..at).unwrap_or_default();
            if number::is_no_number(candidate.as_bytes()) && candidate != "null" {
                quoted += line.get(done..word).unwrap_or_default();
                quoted += "\"nan\"";
                done = at;
            }
        }
        if in_string || !bare(c) {
            word = at + c.len_utf8();
        }
        in_string ^= c == '"' && !escaped;
        escaped = in_string && c == '\\' && !escaped;
    }
    if done == 0 {
        return line.into();
    }
    quoted += line.get(done..).unwrap_or_default();
    quoted.into()
}

#[cfg(test)]
mod tests;
