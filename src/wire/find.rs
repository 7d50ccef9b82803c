//! Which dialect does the board speak? Told from the first lines, with a reason to say aloud.
//!
//! One native line with a right checksum settles it: chance gives one wrong line in 65536 a right
//! one. The other dialects have no checksum, so [`AGREEING`] of the last [`WINDOW`] lines must
//! agree. They can't be mistaken for each other: plain lines hold no labels, labelled lines begin
//! with a letter, JSON lines with a brace.

use std::collections::VecDeque;

use super::dialect::{DialectKind, LineFault};
use super::frame::{Field, Frame};
use super::framing::{RawFault, RawLine};
use super::native::{Native, PROTOCOL_VERSION};
use super::text;

/// Lines that must agree on a dialect without checksum.
const AGREEING: usize = 3;

/// Among how many lines they must be found: room for a header or a remark between readings.
const WINDOW: usize = 8;

/// After so many lines without a decision the dialect is called unknown. Boot text of a usual
/// board is shorter (common practice, no source); looking goes on all the same.
const UNKNOWN_AFTER: u32 = 16;

/// Share of strange bytes above which the baud rate is doubted. Text in a wrong dialect has none;
/// noise has half of its bytes above 0x7F. Chosen between the two, no source.
const STRANGE_SHARE: f64 = 0.2;

/// So many bytes are needed before that doubt is voiced.
const STRANGE_BYTES: u32 = 64;

/// What has been found out so far.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Verdict {
    /// Too few lines yet.
    Undecided,
    /// The board speaks this dialect.
    Decided(DialectKind),
    /// The lines fit no dialect; the statistics tell what they look like.
    Unknown(Statistics),
}

/// What the lines looked like.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Statistics {
    /// Lines looked at.
    pub lines: u32,
    /// Bytes in these lines (of over-long ones the part that was kept).
    pub bytes: u32,
    /// Bytes among them that are no text.
    pub strange_bytes: u32,
    /// Lines longer than a line may be.
    pub too_long: u32,
    /// Native lines with a wrong checksum.
    pub wrong_checksums: u32,
    /// Version of the protocol in a native hello that is not understood here.
    pub other_version: Option<u32>,
}

impl Statistics {
    /// Share of bytes that are no text, 0 to 1; 0 if there are no bytes.
    #[must_use]
    pub fn strange_share(&self) -> f64 {
        if self.bytes == 0 {
            0.0
        } else {
            f64::from(self.strange_bytes) / f64::from(self.bytes)
        }
    }

    /// Do the bytes look like text that was sent at another baud rate?
    #[must_use]
    pub fn looks_like_another_baud_rate(&self) -> bool {
        self.bytes >= STRANGE_BYTES && self.strange_share() > STRANGE_SHARE
    }

    /// One sentence for people.
    fn sentence(&self) -> String {
        if let Some(version) = self.other_version {
            return format!(
                "the board speaks version {version} of the line protocol; version \
                 {PROTOCOL_VERSION} is known here"
            );
        }
        let lines = self.lines;
        if lines == 0 {
            "no line has come".to_owned()
        } else if self.looks_like_another_baud_rate() {
            let percent = 100.0 * self.strange_share();
            format!("{percent:.0} % of the bytes are no text: this looks like another baud rate")
        } else if self.wrong_checksums > 0 {
            let wrong = self.wrong_checksums;
            format!(
                "native lines, but {wrong} of {lines} have a wrong checksum and none a right one"
            )
        } else if self.too_long > 0 {
            format!(
                "{} of {lines} lines are too long to be readings",
                self.too_long
            )
        } else {
            format!("{lines} lines of text, but no readings in a form that is understood")
        }
    }
}

/// What one line speaks for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Vote {
    /// A dialect without checksum, and the number of fields.
    For(DialectKind, usize),
    Nothing,
}

/// Finds the dialect from the first lines.
#[derive(Debug, Clone, Default)]
pub struct Finder {
    statistics: Statistics,
    /// The votes of the last lines, at most [`WINDOW`].
    votes: VecDeque<Vote>,
    decided: Option<(DialectKind, String)>,
    /// The caller waits no longer.
    concluded: bool,
}

impl Finder {
    /// A finder that has seen nothing.
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    /// Looks at one more line. Once a dialect is decided it stays; only a valid native hello, from
    /// a board that was loaded with other firmware, still changes it.
    pub fn look(&mut self, line: &RawLine<'_>) {
        match &self.decided {
            Some((DialectKind::Native, _)) => {}
            Some(_) => {
                if line.bytes.starts_with(b"!")
                    && matches!(line.parse(&Native), Ok(Frame::Hello(_)))
                {
                    let reason = "duskmark's own lines: the board has introduced itself".to_owned();
                    self.decided = Some((DialectKind::Native, reason));
                }
            }
            None => self.weigh(line),
        }
    }

    /// What is known now.
    #[must_use]
    pub fn verdict(&self) -> Verdict {
        let statistics = self.statistics;
        match self.decided {
            Some((kind, _)) => Verdict::Decided(kind),
            None if self.concluded
                || statistics.lines >= UNKNOWN_AFTER
                || statistics.other_version.is_some()
                || statistics.looks_like_another_baud_rate() =>
            {
                Verdict::Unknown(statistics)
            }
            None => Verdict::Undecided,
        }
    }

    /// The reason of the verdict, fit for saying aloud.
    #[must_use]
    pub fn reason(&self) -> String {
        match (&self.decided, self.verdict()) {
            (Some((_, reason)), _) => reason.clone(),
            (None, Verdict::Undecided) => {
                format!("{} lines so far are too few to tell", self.statistics.lines)
            }
            (None, _) => self.statistics.sentence(),
        }
    }

    /// The caller waits no longer: what is undecided is unknown from now on. Further lines may
    /// still decide it.
    pub fn conclude(&mut self) -> Verdict {
        self.concluded = true;
        self.verdict()
    }

    fn weigh(&mut self, line: &RawLine<'_>) {
        let statistics = &mut self.statistics;
        statistics.lines = statistics.lines.saturating_add(1);
        let bytes = u32::try_from(line.bytes.len()).unwrap_or(u32::MAX);
        let strange = u32::try_from(text::strange_bytes(line.bytes)).unwrap_or(u32::MAX);
        statistics.bytes = statistics.bytes.saturating_add(bytes);
        statistics.strange_bytes = statistics.strange_bytes.saturating_add(strange);
        if matches!(line.fault, Some(RawFault::TooLong { .. })) {
            statistics.too_long = statistics.too_long.saturating_add(1);
        }
        match line.parse(&Native) {
            Ok(frame @ (Frame::Hello(_) | Frame::Sample(_))) => {
                let reason = if matches!(frame, Frame::Hello(_)) {
                    "duskmark's own lines: the board has introduced itself".to_owned()
                } else {
                    let lines = self.statistics.lines;
                    format!("native: 1 of {lines} lines has a right checksum")
                };
                self.decided = Some((DialectKind::Native, reason));
                return;
            }
            Err(LineFault::Checksum { .. }) => {
                statistics.wrong_checksums = statistics.wrong_checksums.saturating_add(1);
            }
            Err(LineFault::NewerVersion { version, .. }) => {
                statistics.other_version = Some(version);
            }
            _ => {}
        }
        if self.votes.len() == WINDOW {
            self.votes.pop_front();
        }
        self.votes.push_back(vote(line));
        self.count_votes();
    }

    /// Decides for a dialect without checksum if enough lines agree.
    fn count_votes(&mut self) {
        let Some(&latest @ Vote::For(kind, fields)) = self.votes.back() else {
            return;
        };
        // One label per line is a usual form; plain numbers must agree in their count.
        let agrees = |vote: &&Vote| match (kind, vote) {
            (DialectKind::Plain, vote) => **vote == latest,
            (kind, Vote::For(other, _)) => kind == *other,
            (_, Vote::Nothing) => false,
        };
        let agreeing = self.votes.iter().filter(agrees).count();
        if agreeing < AGREEING {
            return;
        }
        let (name, lines) = (kind.name(), self.votes.len());
        let what = match kind {
            DialectKind::Plain if fields == 1 => "are one number".to_owned(),
            DialectKind::Plain => format!("are {fields} numbers with separators"),
            DialectKind::Json => "are JSON objects with numbers".to_owned(),
            _ => "are labels with numbers".to_owned(),
        };
        let reason = format!("{name}: {agreeing} of {lines} lines {what}");
        self.decided = Some((kind, reason));
    }
}

/// The dialect without checksum that a line speaks for. The first half line after opening the
/// port speaks for none, and neither does a line without any number.
fn vote(line: &RawLine<'_>) -> Vote {
    if line.maybe_fragment {
        return Vote::Nothing;
    }
    for kind in [DialectKind::Plain, DialectKind::Labelled, DialectKind::Json] {
        if let Ok(Frame::Sample(sample)) = line.parse(kind.dialect())
            && sample
                .fields
                .iter()
                .any(|field| matches!(field, Field::Number { .. }))
        {
            return Vote::For(kind, sample.fields.len());
        }
    }
    Vote::Nothing
}

#[cfg(test)]
mod tests;
