//! What the sampler makes: rows, and events beside them.

use arrayvec::ArrayVec;

use super::health::Signs;
use crate::probe::Reading;
use crate::wire::MAX_CHANNELS;

/// All channels of a bench at one instant.
#[derive(Debug, Clone, PartialEq)]
pub struct Row {
    /// Sampling instant in ns on the host's boot clock; strictly increasing from row to row.
    pub t_ns: i64,
    /// One reading per channel.
    pub readings: ArrayVec<Reading, MAX_CHANNELS>,
    /// What is to be said of the whole row.
    pub doubts: Doubts,
}

/// What is to be said of a row as a whole.
#[expect(
    clippy::struct_excessive_bools,
    reason = "independent remarks, each of which may stand beside the others"
)]
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Doubts {
    /// Lines that are missing before this row, by their sequence numbers.
    pub lost: u32,
    /// More time than usual has passed since the row before.
    pub gap: bool,
    /// The board's clock and sequence started anew.
    pub reset: bool,
    /// The channels came on lines of their own, some of them from a moment earlier.
    pub merged: bool,
    /// It came in one burst with the row before, and nothing tells when it was sampled.
    pub late: bool,
    /// The board reads its channels one after the other, and there is no row close before this one
    /// from which to take that out.
    pub skewed: bool,
    /// Boards that sample at instants of their own were brought to this one.
    pub joined: bool,
    /// What each channel shows that a sound probe does not.
    pub signs: [Signs; MAX_CHANNELS],
}

impl Row {
    /// The channel's temperature in °C, NaN where there is none.
    #[must_use]
    pub fn degc(&self, channel: usize) -> f64 {
        match self.readings.get(channel) {
            Some(Reading::Degc { value, .. }) => *value,
            _ => f64::NAN,
        }
    }

    /// The row's `flags` cell: codes with a space between them, those of a channel behind its
    /// column's slug.
    #[must_use]
    pub fn flags(&self, slugs: &[String]) -> String {
        let mut flags: Vec<String> = Vec::new();
        let Doubts {
            lost,
            gap,
            reset,
            merged,
            late,
            skewed,
            joined,
            signs,
        } = self.doubts;
        if lost > 0 {
            flags.push(format!("lost:{lost}"));
        }
        let codes = [
            (gap, "gap"),
            (reset, "reset"),
            (merged, "merged"),
            (late, "late"),
            (skewed, "skewed"),
            (joined, "interpolated"),
        ];
        for (said, code) in codes {
            if said {
                flags.push(code.into());
            }
        }
        for ((slug, reading), signs) in slugs.iter().zip(&self.readings).zip(signs) {
            if let Reading::Fault(fault) = reading {
                flags.push(format!("{slug}:{}", fault.code()));
            }
            flags.extend(signs.iter().map(|sign| format!("{slug}:{}", sign.code())));
        }
        flags.join(" ")
    }
}

/// What an event is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum EventKind {
    /// The board introduced itself.
    Hello,
    /// The way the board speaks was recognised.
    Dialect,
    /// The port was opened.
    PortOpen,
    /// The port was lost.
    PortLost,
    /// Rows are missing for longer than usual.
    Gap,
    /// The board's clock and sequence started anew.
    Reset,
    /// A line could not be understood, or its checksum was wrong.
    BadLine,
    /// A line's fields are not those of this bench.
    WrongChannels,
    /// Another board answers than the one that the run began with.
    OtherBoard,
    /// A probe has no reading, or has one again.
    Probe,
    /// A probe gives numbers that a sound one would not, or no longer does.
    Health,
    /// The board says something to people.
    Remark,
}

impl EventKind {
    /// The word in the `kind` column.
    #[must_use]
    pub fn code(self) -> &'static str {
        match self {
            Self::Hello => "hello",
            Self::Dialect => "dialect",
            Self::PortOpen => "port-open",
            Self::PortLost => "port-lost",
            Self::Gap => "gap",
            Self::Reset => "reset",
            Self::BadLine => "bad-line",
            Self::WrongChannels => "wrong-channels",
            Self::OtherBoard => "other-board",
            Self::Probe => "probe",
            Self::Health => "health",
            Self::Remark => "remark",
        }
    }
}

/// Something that people should be able to find later.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Event {
    /// When, in ns on the host's boot clock.
    pub t_ns: i64,
    /// About what.
    pub kind: EventKind,
    /// The channel, counted from 0, where it is about one.
    pub channel: Option<usize>,
    /// In words.
    pub detail: String,
}

/// What comes out of the sampler, in order.
#[derive(Debug, Clone, PartialEq)]
pub enum Product {
    /// A row.
    Row(Row),
    /// An event.
    Event(Event),
}
