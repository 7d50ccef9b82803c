//! From the board's pin to the host's read: time on the wire, batching, cuts and pulls.
//!
//! Bytes reach the host in the order of the wire, later than their own time on it by a seeded
//! delay, and never earlier. A line may arrive cut in two.

use std::collections::VecDeque;

use arrayvec::ArrayVec;
use rand::{RngExt, SeedableRng};
use rand_pcg::Pcg64;

use super::config::LinkSpec;
use crate::wire::MAX_CHANNELS;

/// Start bit, eight data bits, stop bit.
const BITS_PER_BYTE: f64 = 10.0;

/// What a host sees of a board.
#[derive(Debug, Clone, PartialEq)]
pub enum Happening {
    /// A read returned bytes.
    Bytes(Burst),
    /// The port vanished.
    Unplugged {
        /// True time in seconds.
        at_s: f64,
    },
    /// The port came back.
    Replugged {
        /// True time in seconds.
        at_s: f64,
    },
}

impl Happening {
    /// When the host sees it, in seconds of true time.
    #[must_use]
    pub fn at_s(&self) -> f64 {
        match self {
            Self::Bytes(burst) => burst.arrival_s,
            Self::Unplugged { at_s } | Self::Replugged { at_s } => *at_s,
        }
    }
}

/// The bytes of one read, with the truth about the sample line that they complete.
#[derive(Debug, Clone, PartialEq)]
pub struct Burst {
    /// When the host has the bytes, in seconds of true time.
    pub arrival_s: f64,
    /// The bytes.
    pub bytes: Vec<u8>,
    /// The true instant of sampling in seconds, if these bytes complete a sample line; then
    /// `arrival_s` is later by at least the line's time on the wire.
    pub sampled_s: Option<f64>,
    /// True temperature of each probe's tip at that instant, in degrees Celsius, before the
    /// probe's own offset and noise; empty if there is no `sampled_s`.
    pub tip_degc: ArrayVec<f64, MAX_CHANNELS>,
    /// True temperature of each sample's surface at that instant, in degrees Celsius.
    pub surface_degc: ArrayVec<f64, MAX_CHANNELS>,
}

/// The truth that travels with a sample line.
#[derive(Debug, Clone, Default)]
pub(super) struct Truth {
    pub(super) sampled_s: Option<f64>,
    pub(super) tip_degc: ArrayVec<f64, MAX_CHANNELS>,
    pub(super) surface_degc: ArrayVec<f64, MAX_CHANNELS>,
}

/// The cable and what is under way on it.
#[derive(Debug, Clone)]
pub(super) struct Cable {
    spec: LinkSpec,
    rng: Pcg64,
    /// Under way, in order of arrival, each with the time at which it was handed to the wire.
    under_way: VecDeque<(f64, Happening)>,
    /// When the wire is free again.
    free_s: f64,
    /// Nothing arrives before this: what came before, or the end of a hold.
    not_before_s: f64,
    /// When the host saw what it took last.
    taken_s: f64,
    /// Until when the host's side holds bytes back.
    held_until_s: f64,
    /// Until when the cable is out.
    out_until_s: f64,
}

impl Cable {
    pub(super) fn new(spec: LinkSpec, seed: u64) -> Self {
        Self {
            spec,
            rng: Pcg64::seed_from_u64(seed ^ 0xCAB1_E000),
            under_way: VecDeque::new(),
            free_s: 0.0,
            not_before_s: 0.0,
            taken_s: 0.0,
            held_until_s: 0.0,
            out_until_s: 0.0,
        }
    }

    /// Seconds that so many bytes take on the wire.
    pub(super) fn wire_s(&self, bytes: usize) -> f64 {
        self.spec
            .baud
            .map_or(0.0, |baud| BITS_PER_BYTE * bytes as f64 / f64::from(baud))
    }

    /// Sends bytes that the board has ready at a time; they go nowhere while the cable is out.
    pub(super) fn send(&mut self, ready_s: f64, bytes: Vec<u8>, truth: Truth) {
        if bytes.is_empty() || ready_s < self.out_until_s {
            return;
        }
        let is_cut = bytes.len() > 1 && self.rng.random_bool(self.spec.cut_share);
        let at = if is_cut {
            self.rng.random_range(1..bytes.len())
        } else {
            bytes.len()
        };
        let (mut head, mut tail) = (bytes, Vec::new());
        tail.extend_from_slice(head.get(at..).unwrap_or_default());
        head.truncate(at);
        if tail.is_empty() {
            self.send_piece(ready_s, head, truth);
        } else {
            self.send_piece(ready_s, head, Truth::default());
            self.send_piece(ready_s, tail, truth);
        }
    }

    fn send_piece(&mut self, ready_s: f64, bytes: Vec<u8>, truth: Truth) {
        self.free_s = self.free_s.max(ready_s) + self.wire_s(bytes.len());
        let (least_ms, most_ms) = self.spec.batch_ms;
        let delay_s = 1e-3 * (least_ms + (most_ms - least_ms) * self.rng.random::<f64>());
        let arrival_s = (self.free_s + delay_s).max(self.not_before_s);
        self.not_before_s = arrival_s;
        let Truth {
            sampled_s,
            tip_degc,
            surface_degc,
        } = truth;
        let burst = Burst {
            arrival_s,
            bytes,
            sampled_s,
            tip_degc,
            surface_degc,
        };
        self.under_way.push_back((ready_s, Happening::Bytes(burst)));
    }

    /// Sends an answer, ahead of what the board will only have ready later.
    ///
    /// It draws no random number: an answer leaves all other bytes as they are.
    pub(super) fn answer(&mut self, now_s: f64, bytes: Vec<u8>) {
        let index = self
            .under_way
            .partition_point(|(ready_s, _)| *ready_s <= now_s);
        let before = index.checked_sub(1).and_then(|k| self.under_way.get(k));
        let before_s = before.map_or(self.taken_s, |(_, happening)| happening.at_s());
        let due_s = now_s + self.wire_s(bytes.len()) + 1e-3 * self.spec.batch_ms.0;
        let mut arrival_s = due_s.max(before_s).max(self.held_until_s);
        let burst = Burst {
            arrival_s,
            bytes,
            sampled_s: None,
            tip_degc: ArrayVec::new(),
            surface_degc: ArrayVec::new(),
        };
        self.under_way
            .insert(index, (now_s, Happening::Bytes(burst)));
        for (_, later) in self.under_way.iter_mut().skip(index + 1) {
            if let Happening::Bytes(burst) = later {
                arrival_s = arrival_s.max(burst.arrival_s);
                burst.arrival_s = arrival_s;
            }
        }
        self.not_before_s = self.not_before_s.max(arrival_s);
    }

    /// Holds everything back until a time, also what is under way already.
    pub(super) fn hold(&mut self, now_s: f64, until_s: f64) {
        self.not_before_s = self.not_before_s.max(until_s);
        self.held_until_s = self.held_until_s.max(until_s);
        for (_, happening) in &mut self.under_way {
            if let Happening::Bytes(burst) = happening
                && burst.arrival_s > now_s
            {
                burst.arrival_s = burst.arrival_s.max(until_s);
            }
        }
    }

    /// The cable is out from one time to another: what had not arrived is lost.
    ///
    /// Pulling a cable that is out already only makes it stay out longer. Returns when it is back.
    pub(super) fn pull(&mut self, at_s: f64, back_s: f64) -> f64 {
        let is_out = at_s < self.out_until_s;
        let back_s = back_s.max(self.out_until_s);
        self.under_way
            .retain(|(_, happening)| happening.at_s() <= at_s);
        if !is_out {
            self.under_way
                .push_back((at_s, Happening::Unplugged { at_s }));
        }
        self.under_way
            .push_back((back_s, Happening::Replugged { at_s: back_s }));
        self.free_s = back_s;
        self.not_before_s = back_s;
        self.out_until_s = back_s;
        back_s
    }

    /// When the host sees the next thing that is under way.
    pub(super) fn next_s(&self) -> Option<f64> {
        self.under_way
            .front()
            .map(|(_, happening)| happening.at_s())
    }

    /// Takes the next thing.
    pub(super) fn take(&mut self) -> Option<Happening> {
        let (_, happening) = self.under_way.pop_front()?;
        self.taken_s = happening.at_s();
        Some(happening)
    }
}
