//! Timed bytes to rows: all channels of a bench at one timestamp.
//!
//! A [`Sampler`] holds the whole path of one bench (`wire`, `probe`, `timebase`) and is fed with
//! what a journal holds: ports opened and lost, and bytes with their arrival. Same feed, same
//! products, so that a run and its rebuild cannot differ.

mod assemble;
mod burst;
mod health;
mod join;
mod ledger;
mod maker;
mod power_on;
mod row;
mod skew;
mod talk;

use crate::probe::{Converter, Correction, ProbeSetup, SetupFault};
use crate::wire::{Dialect, Finder, Framer, Hello, LinePattern};

pub use health::{Finding, Health, Sign, Signs, Tally};
pub use join::{Joiner, LONGEST_PAUSE};
pub use row::{Doubts, Event, EventKind, Product, Row};
use talk::Talk;
pub use talk::describe;

/// What the sampler must be told beside the bytes.
#[derive(Debug, Clone, PartialEq, Default, serde::Serialize, serde::Deserialize)]
pub struct SamplerSetup {
    /// Names of the samples, in the order of the channels; empty: as the board labels them.
    pub samples: Vec<String>,
    /// What the user says of board and probes.
    pub probes: ProbeSetup,
    /// Speed of the line in baud, for the time that bytes spend on the wire; `None` where there
    /// is no wire.
    pub baud: Option<u32>,
    /// How the board's lines are written, where people said so.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lines: Option<LinePattern>,
    /// What calibrations add to the readings of each channel; empty where there are none.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub corrections: Vec<Correction>,
}

/// One bench's way from timed bytes to rows. Constant memory.
#[derive(Debug)]
pub struct Sampler {
    framer: Framer,
    talk: Talk,
}

impl Sampler {
    /// A sampler that has seen nothing.
    #[must_use]
    pub fn new(setup: SamplerSetup) -> Self {
        Self {
            framer: Framer::new(),
            talk: Talk::new(setup),
        }
    }

    /// The port was opened: what comes first may be half a line, and the board may have restarted.
    pub fn opened(&mut self, t_ns: i64, port: &str, out: &mut Vec<Product>) {
        self.framer.after_open();
        self.talk.opened(t_ns, out);
        out.push(event(t_ns, EventKind::PortOpen, port));
    }

    /// The port was lost; a half line and a half row go with it.
    pub fn lost(&mut self, t_ns: i64, reason: &str, out: &mut Vec<Product>) {
        let half = self.framer.pending();
        // What was cut off is no line: the bytes are in the journal, and their number is told.
        self.framer.cut(|_| {});
        let detail = match half {
            0 => reason.to_owned(),
            n => format!("{reason}; {n} bytes of a line were cut off"),
        };
        self.talk.lost(out);
        out.push(event(t_ns, EventKind::PortLost, &detail));
    }

    /// Bytes came.
    pub fn bytes(&mut self, arrival_ns: i64, bytes: &[u8], out: &mut Vec<Product>) {
        let talk = &mut self.talk;
        self.framer
            .push(bytes, |raw| talk.line(arrival_ns, &raw, out));
    }

    /// The run ends: tells what was counted and not told yet.
    pub fn finish(&mut self, t_ns: i64, out: &mut Vec<Product>) {
        self.talk.finish(t_ns, out);
    }

    /// Number of channels, once the board has stated it or the first row was made.
    #[must_use]
    pub fn channels(&self) -> Option<usize> {
        self.talk.maker.channels()
    }

    /// Names of the samples in the order of the channels: as people gave them, else the board's
    /// labels, else `probe 1`, `probe 2` …
    #[must_use]
    pub fn names(&self) -> Vec<String> {
        self.talk.maker.names(&self.talk.setup.samples)
    }

    /// The usual time between two rows in ns, once it is known.
    #[must_use]
    pub fn usual_interval_ns(&self) -> Option<i64> {
        self.talk.maker.usual_ns()
    }

    /// The board's labels in the order of the channels, where it has labels and they are known.
    #[must_use]
    pub fn labels(&self) -> Option<&[Box<str>]> {
        self.talk.maker.labels()
    }

    /// What the board said of itself last.
    #[must_use]
    pub fn hello(&self) -> Option<&Hello> {
        self.talk.hello.as_ref()
    }

    /// How the board speaks, once it is known.
    #[must_use]
    pub fn dialect(&self) -> Option<&dyn Dialect> {
        self.talk.speaks()
    }

    /// Whether a checksum vouches for each line, once it is known how the board speaks.
    #[must_use]
    pub fn has_checksums(&self) -> bool {
        self.talk.is_native()
    }

    /// Why no temperatures can be made of the board's numbers, where that is so.
    #[must_use]
    pub fn fault(&self) -> Option<&SetupFault> {
        self.talk.fault.as_ref()
    }

    /// How fields become temperatures, once it is known.
    #[must_use]
    pub fn converter(&self) -> Option<&Converter> {
        self.talk.converter.as_ref()
    }

    /// Whether sample lines wait for the board to say what its numbers are.
    #[must_use]
    pub fn wants_hello(&self) -> bool {
        self.talk.wants_hello()
    }

    /// How it is known in what way the board speaks, fit for saying aloud.
    #[must_use]
    pub fn reason(&self) -> String {
        self.talk.reason()
    }

    /// What its lines look like.
    #[must_use]
    pub fn finding(&self) -> &Finder {
        &self.talk.finder
    }
}

fn event(t_ns: i64, kind: EventKind, detail: &str) -> Product {
    Product::Event(Event {
        t_ns,
        kind,
        channel: None,
        detail: detail.to_owned(),
    })
}

#[cfg(test)]
mod burst_tests;
#[cfg(test)]
mod cut_tests;
#[cfg(test)]
mod fault_tests;
#[cfg(test)]
mod tests;
