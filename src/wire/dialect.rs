//! What every dialect does, and what can be wrong with a line.

use super::frame::{Frame, MAX_CHANNELS};
use super::framing::{RawFault, RawLine};
use super::{Json, Labelled, Native, Plain};

/// A way of writing readings on a line.
pub trait Dialect {
    /// The dialect's name: one word in lower case, or what people called their own.
    fn name(&self) -> &str;

    /// Understands one line without its line end.
    ///
    /// # Errors
    /// A [`LineFault`] that says what is wrong with the line, and where.
    fn parse(&self, line: &[u8]) -> Result<Frame, LineFault>;

    /// Understands one line without its line end, in a frame that is used again and again.
    ///
    /// # Errors
    /// As [`Dialect::parse`]; then the frame holds nothing of use.
    fn parse_into(&self, line: &[u8], frame: &mut Frame) -> Result<(), LineFault> {
        *frame = self.parse(line)?;
        Ok(())
    }
}

/// The dialects that are understood.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum DialectKind {
    /// The line protocol of our own boards, with checksum.
    Native,
    /// Numbers and separators only.
    Plain,
    /// Labels and numbers.
    Labelled,
    /// One JSON object per line.
    Json,
}

impl DialectKind {
    /// The parser of this dialect.
    #[must_use]
    pub fn dialect(self) -> &'static dyn Dialect {
        match self {
            Self::Native => &Native,
            Self::Plain => &Plain,
            Self::Labelled => &Labelled,
            Self::Json => &Json,
        }
    }

    /// The dialect's name, lower case, one word.
    #[must_use]
    pub fn name(self) -> &'static str {
        self.dialect().name()
    }
}

impl RawLine<'_> {
    /// Understands the line in the given dialect.
    ///
    /// # Errors
    /// What was wrong with the raw line, or else what the dialect finds wrong with it.
    pub fn parse(&self, dialect: &(impl Dialect + ?Sized)) -> Result<Frame, LineFault> {
        match self.fault {
            None => dialect.parse(self.bytes),
            Some(fault) => Err(fault.into()),
        }
    }

    /// Understands the line in the given dialect, in a frame that is used again and again. With
    /// native lines this is faster than [`RawLine::parse`], because no sample is moved.
    ///
    /// # Errors
    /// As [`RawLine::parse`]; then the frame holds nothing of use.
    pub fn parse_into(
        &self,
        dialect: &(impl Dialect + ?Sized),
        frame: &mut Frame,
    ) -> Result<(), LineFault> {
        match self.fault {
            None => dialect.parse_into(self.bytes, frame),
            Some(fault) => Err(fault.into()),
        }
    }
}

/// Why a line could not be understood. Byte positions count from 0, field numbers from 1.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum LineFault {
    /// The line itself is broken.
    #[error(transparent)]
    Raw(#[from] RawFault),
    /// Longer than the native protocol allows.
    #[error("the line has {length} bytes, more than the {limit} that the protocol allows")]
    Length {
        /// Bytes in the line.
        length: usize,
        /// Bytes that the protocol allows.
        limit: usize,
    },
    /// The line does not begin like any line of this dialect.
    #[error("the line does not begin like one of this kind")]
    Kind,
    /// The checksum is missing or cut off.
    #[error("there is no checksum at the end of the line")]
    NoChecksum,
    /// The checksum does not fit: the line was damaged on its way.
    #[error("the checksum does not fit: the line says {found:04X}, its bytes give {expected:04X}")]
    Checksum {
        /// The CRC of the bytes that came.
        expected: u16,
        /// The CRC that the line states.
        found: u16,
    },
    /// The board speaks another version of the protocol: a newer one.
    #[error(
        "the board speaks version {version} of the line protocol; version {known} is known here"
    )]
    NewerVersion {
        /// The board's version.
        version: u32,
        /// The newest version that is understood.
        known: u32,
    },
    /// Something else was expected at this place.
    #[error("{expected} was expected at byte {at}")]
    Syntax {
        /// Byte position in the line.
        at: usize,
        /// What should have stood there.
        expected: &'static str,
    },
    /// A field is neither a number, nor empty, nor a word for "no number".
    #[error("field {field} is not a number (byte {at})")]
    Number {
        /// Number of the field.
        field: usize,
        /// Byte position of the field in the line.
        at: usize,
    },
    /// A counter is no whole number of 32 bits.
    #[error("the {what} is not a whole number below 2^32 (byte {at})")]
    Counter {
        /// The counter: `sequence number` or `board clock`.
        what: &'static str,
        /// Byte position of the number in the line.
        at: usize,
    },
    /// No field at all, or more fields than a board may have channels.
    #[error("the line has {found} fields; 1 to {limit} are possible")]
    FieldCount {
        /// Fields in the line, as far as counted.
        found: usize,
        /// Fields that are possible.
        limit: usize,
    },
    /// Commas could separate fields or decimals; guessing would alter values.
    #[error("{commas} commas can be read in two ways, as separators or as decimal commas")]
    AmbiguousComma {
        /// Commas in the line.
        commas: usize,
    },
    /// A number is grouped by thousands, which can't be told from a decimal mark.
    #[error("field {field} has more than one decimal mark or grouped digits (byte {at})")]
    Grouping {
        /// Number of the field.
        field: usize,
        /// Byte position of the field in the line.
        at: usize,
    },
    /// One line states two different units.
    #[error("field {field} has another unit than the fields before it")]
    UnitsDiffer {
        /// Number of the field.
        field: usize,
    },
    /// The line is well formed and holds no reading.
    #[error("the line holds no reading")]
    NoReading,
    /// The hello line lacks something.
    #[error("the board does not state its {key}")]
    MissingKey {
        /// The key that is missing.
        key: &'static str,
    },
    /// The hello line states something twice.
    #[error("the board states its {key} twice")]
    RepeatedKey {
        /// The key that is repeated.
        key: &'static str,
    },
    /// The hello line states something that can't be.
    #[error("what the board states as its {key} can't be (byte {at})")]
    BadValue {
        /// The key with the bad value.
        key: &'static str,
        /// Byte position of the value in the line.
        at: usize,
    },
    /// The pattern that people gave does not fit the line.
    #[error("the pattern does not fit the line")]
    Pattern,
    /// The line is not a JSON object.
    #[error("the line is not a JSON object (byte {at})")]
    NotJson {
        /// Byte position where it ceases to be one.
        at: usize,
    },
}

impl LineFault {
    /// The fault of having more fields than channels are possible.
    pub(super) fn too_many(found: usize) -> Self {
        Self::FieldCount {
            found,
            limit: MAX_CHANNELS,
        }
    }
}

#[cfg(test)]
mod tests;
