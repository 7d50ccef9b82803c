//! Lines in a form of a board's own, which people describe by a pattern: no Rust is needed.
//!
//! The pattern is a regular expression with named groups; it must fit the whole line. The groups
//! `seq` and `ms` are the sequence number and the board's clock in milliseconds; every other group
//! is a channel of that name. A number becomes `value · scale + offset`, in the unit that is
//! stated. The engine of the `regex` package takes time in proportion to the line, whatever the
//! pattern; its size is bounded too.

use std::collections::BTreeMap;

use regex::Regex;
use regex_syntax::ast::{Ast, parse::Parser};

use super::dialect::{Dialect, LineFault};
use super::frame::{Field, Frame, MAX_CHANNELS, Sample, Unit};
use super::label::{self, Role};
use super::{number, text};

/// Bytes that a pattern may take when it is made ready: thousands of times a usual one.
const LARGEST_PROGRAM: usize = 1 << 20;

/// Characters of a pattern at most: four of the longest lines.
const LONGEST_PATTERN: usize = 1024;

/// What people say of the lines of a board.
#[derive(Debug, Clone, PartialEq, Default, serde::Serialize, serde::Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LinePattern {
    /// What it is called; stands in for the name of the dialect.
    #[serde(default)]
    pub name: String,
    /// A regular expression with a named group for each channel.
    pub pattern: String,
    /// What the numbers are, after scaling; degrees Celsius unless it is said.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub unit: Option<Unit>,
    /// By what numbers are multiplied.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub scale: Option<PerChannel>,
    /// What is added to them then.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub offset: Option<PerChannel>,
}

/// One number for all channels, or one each by their names.
#[derive(Debug, Clone, PartialEq, serde::Serialize, serde::Deserialize)]
#[serde(untagged)]
pub enum PerChannel {
    /// For all.
    All(f64),
    /// For those that are named.
    Each(BTreeMap<String, f64>),
}

impl PerChannel {
    fn of(&self, channel: &str) -> Option<f64> {
        match self {
            Self::All(value) => Some(*value),
            Self::Each(values) => values.get(channel).copied(),
        }
    }

    fn named(&self) -> impl Iterator<Item = (&str, f64)> {
        let (all, each) = match self {
            Self::All(value) => (Some(("", *value)), None),
            Self::Each(values) => (None, Some(values)),
        };
        let each = each.into_iter().flatten();
        all.into_iter()
            .chain(each.map(|(name, value)| (name.as_str(), *value)))
    }
}

/// Why a pattern cannot be used.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum PatternFault {
    /// Longer than any line asks for.
    #[error("the pattern has {length} characters; {LONGEST_PATTERN} are possible")]
    Long {
        /// Characters in the pattern.
        length: usize,
    },
    /// No regular expression.
    #[error("{what} (character {at} of the pattern)")]
    Syntax {
        /// What is wrong with it.
        what: String,
        /// Where, in characters from 1.
        at: usize,
    },
    /// A pattern that stands for too much: repetitions of repetitions.
    #[error("the pattern is too large: it repeats what is repeated already")]
    Large,
    /// Nothing in it says where a channel stands.
    #[error("the pattern names no channel: write (?<slate>…) around its number")]
    NoChannel,
    /// More groups than a board may have channels.
    #[error("the pattern names {found} channels; {MAX_CHANNELS} are possible")]
    Channels {
        /// Channels that it names.
        found: usize,
    },
    /// A scale or offset for a channel that the pattern does not name.
    #[error("there is no group '{0}' in the pattern")]
    NoGroup(String),
    /// A number that can scale nothing.
    #[error("the {what} {value} cannot be used")]
    Number {
        /// `scale` or `offset`.
        what: &'static str,
        /// The number.
        value: f64,
    },
}

/// A pattern made ready.
#[derive(Debug, Clone)]
pub struct Own {
    lines: LinePattern,
    regex: Regex,
    groups: Vec<Group>,
}

#[derive(Debug, Clone)]
struct Group {
    name: String,
    role: Role,
    scale: f64,
    offset: f64,
}

impl Own {
    /// Makes a pattern ready.
    ///
    /// # Errors
    /// [`PatternFault`] says what is wrong with it.
    pub fn new(lines: LinePattern) -> Result<Self, PatternFault> {
        let length = lines.pattern.chars().count();
        if length > LONGEST_PATTERN {
            return Err(PatternFault::Long { length });
        }
        parsed(&lines.pattern)?;
        let regex = compiled(&format!("^(?:{})$", lines.pattern))?;
        let groups: Vec<Group> = regex
            .capture_names()
            .flatten()
            .map(|name| Group {
                name: name.to_owned(),
                role: role(name),
                scale: lines.scale.as_ref().and_then(|s| s.of(name)).unwrap_or(1.0),
                offset: lines
                    .offset
                    .as_ref()
                    .and_then(|s| s.of(name))
                    .unwrap_or(0.0),
            })
            .collect();
        let found = groups.iter().filter(|g| g.role == Role::Channel).count();
        if found == 0 {
            return Err(PatternFault::NoChannel);
        }
        if found > MAX_CHANNELS {
            return Err(PatternFault::Channels { found });
        }
        for (what, numbers) in [("scale", &lines.scale), ("offset", &lines.offset)] {
            for (name, value) in numbers.iter().flat_map(PerChannel::named) {
                let known = groups
                    .iter()
                    .any(|g| g.name == name && g.role == Role::Channel);
                if !name.is_empty() && !known {
                    return Err(PatternFault::NoGroup(name.to_owned()));
                }
                if !value.is_finite() || what == "scale" && value == 0.0 {
                    return Err(PatternFault::Number { what, value });
                }
            }
        }
        Ok(Self {
            lines,
            regex,
            groups,
        })
    }

    /// What the pattern says and the line does not: how far it fits, and what it wants there.
    /// Of a line that fits, nothing.
    #[must_use]
    pub fn misfit(&self, line: &[u8]) -> Option<Misfit> {
        let line = text::to_text(line);
        if self.regex.is_match(&line) {
            return None;
        }
        let parts = parts(&self.lines.pattern);
        let fits = |count: usize| {
            let end = parts.get(count.checked_sub(1)?)?.1;
            let head = compiled(&format!("^(?:{})", self.lines.pattern.get(..end)?)).ok()?;
            head.find(&line).map(|found| found.end())
        };
        // A longer part of the pattern fits only where each shorter one does.
        let (count, at) = (1..=parts.len())
            .map_while(|count| fits(count).map(|at| (count, at)))
            .last()
            .unwrap_or((0, 0));
        let wanted = parts.get(count).map_or("", |&(begin, end)| {
            self.lines.pattern.get(begin..end).unwrap_or_default()
        });
        Some(Misfit {
            at,
            wanted: wanted.to_owned(),
            rest: line.get(at..).unwrap_or_default().to_owned(),
        })
    }
}

/// Where a line leaves a pattern.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Misfit {
    /// So many bytes of the line fit.
    pub at: usize,
    /// The part of the pattern that does not; empty at its end.
    pub wanted: String,
    /// The rest of the line.
    pub rest: String,
}

impl Dialect for Own {
    fn name(&self) -> &str {
        &self.lines.name
    }

    fn parse(&self, line: &[u8]) -> Result<Frame, LineFault> {
        let line = text::to_text(line);
        if let Some(remark) = line.strip_prefix('#') {
            return Ok(Frame::Remark(remark.to_owned()));
        }
        let found = self.regex.captures(&line).ok_or(LineFault::Pattern)?;
        let mut sample = Sample {
            unit: Some(self.lines.unit.unwrap_or(Unit::Degc)),
            ..Sample::default()
        };
        for (index, group) in self.groups.iter().enumerate() {
            let value = match found.name(&group.name) {
                Some(digits) => read(digits.as_str()).ok_or(LineFault::Number {
                    field: index + 1,
                    at: digits.start(),
                })?,
                // An alternative without this channel: the board has no reading of it.
                None => Field::Empty,
            };
            label::add(&mut sample, &group.name, group.role, group.scaled(value))?;
        }
        Ok(Frame::Sample(sample))
    }
}

impl Group {
    fn scaled(&self, field: Field) -> Field {
        let Field::Number { value, decimals } = field else {
            return field;
        };
        if self.role != Role::Channel {
            return field;
        }
        // The last digit's step after scaling: 0.0625 needs two decimals to be told from 0.
        let step = 10f64.powi(-i32::from(decimals)) * self.scale.abs();
        let decimals = (-step.log10() - 1e-9).ceil().clamp(0.0, f64::from(u8::MAX));
        let value = value * self.scale + self.offset;
        if value.is_finite() {
            Field::Number {
                value,
                decimals: decimals as u8,
            }
        } else {
            Field::NotANumber
        }
    }
}

/// The names of the clock and of the counter are the trade's; all else is a channel.
fn role(name: &str) -> Role {
    match label::role(name) {
        role @ (Role::BoardMs | Role::Seq) => role,
        _ => Role::Channel,
    }
}

/// A number with a point or one decimal comma.
fn read(digits: &str) -> Option<Field> {
    let digits = digits.trim();
    if digits.contains(',') {
        number::with_comma(digits.as_bytes())
    } else {
        number::loose(digits.as_bytes())
    }
}

fn parsed(pattern: &str) -> Result<Ast, PatternFault> {
    Parser::new()
        .parse(pattern)
        .map_err(|error| PatternFault::Syntax {
            what: error.kind().to_string(),
            at: 1 + pattern
                .get(..error.span().start.offset)
                .map_or(0, |before| before.chars().count()),
        })
}

fn compiled(pattern: &str) -> Result<Regex, PatternFault> {
    let built = regex::RegexBuilder::new(pattern)
        .size_limit(LARGEST_PROGRAM)
        .dfa_size_limit(LARGEST_PROGRAM)
        .build();
    built.map_err(|error| match error {
        regex::Error::CompiledTooBig(_) => PatternFault::Large,
        other => PatternFault::Syntax {
            // The last line says what; those before draw the pattern.
            what: other
                .to_string()
                .lines()
                .last()
                .unwrap_or_default()
                .to_owned(),
            at: 1,
        },
    })
}

/// Where the parts begin and end that follow each other in a pattern, in bytes.
fn parts(pattern: &str) -> Vec<(usize, usize)> {
    let span = |ast: &Ast| (ast.span().start.offset, ast.span().end.offset);
    match &parsed(pattern) {
        Ok(Ast::Concat(row)) => row.asts.iter().map(span).collect(),
        Ok(one) => vec![span(one)],
        Err(_) => Vec::new(),
    }
}

#[cfg(test)]
mod tests;
