//! The virtual board: a clock, a front end and a bench behind a cable, as a stream of happenings.

use std::collections::VecDeque;

use arrayvec::ArrayVec;
use rand::{RngExt, SeedableRng};
use rand_pcg::Pcg64;

use super::ailment::Ailment;
use super::cable::{Cable, Happening, Truth};
use super::clock::BoardClock;
use super::config::{BoardConfig, ConfigFault, PERIODS_MS, Speech};
use super::fault::{Fault, FaultKind};
use super::measure::FrontEnd;
use super::speech::{self, Heading, Values};
use super::thermal::ThermalBench;

/// Half the sampling window and the time to make the line: a line is ready this long after the
/// instant that its board clock states, in seconds.
const MAKING_S: f64 = 0.001;
/// How long before it lost power the board began the line that it never finished, in seconds:
/// long enough that some such halves still reach the host.
const HALF_LINE_S: f64 = 0.010;
/// Longest request that the board keeps; more without a line end is thrown away.
const LONGEST_REQUEST: usize = 64;

/// A board that measures a virtual bench and speaks.
///
/// It is an iterator over [`Happening`]s in order of time. A live user takes what is due with
/// [`VirtualBoard::next_before`], and may ask the board with [`VirtualBoard::receive`].
#[derive(Debug, Clone)]
pub struct VirtualBoard {
    config: BoardConfig,
    bench: ThermalBench,
    clock: BoardClock,
    front_end: FrontEnd,
    cable: Cable,
    rng: Pcg64,
    faults: VecDeque<Fault>,
    period_ms: u32,
    seq: u32,
    /// Clock time of the next sample in milliseconds; hello if the board is booting.
    next_ms: f64,
    doing: Doing,
    silent_until_s: f64,
    next_line: NextLine,
    request: Vec<u8>,
}

/// What the board is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Doing {
    Booting,
    Sampling,
    /// The stream has ended; what is under way still arrives.
    Over,
}

/// What becomes of the next sample line.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum NextLine {
    Sound,
    Flipped,
    Lost,
}

impl VirtualBoard {
    /// A board powered up at time 0.
    ///
    /// # Errors
    /// [`ConfigFault`] if a number is out of the range that its field states.
    pub fn new(config: BoardConfig) -> Result<Self, ConfigFault> {
        config.check()?;
        let seed = config.seed;
        let bench = ThermalBench::new(
            config.air.clone(),
            config.lamp.clone(),
            &config.samples,
            seed,
        )
        .with_probes_in(config.bath);
        let mut faults = config.faults.clone();
        faults.sort_by(|a, b| a.at_s.total_cmp(&b.at_s));
        Ok(Self {
            bench,
            clock: BoardClock::new(config.clock.clone()),
            front_end: FrontEnd::new(seed),
            cable: Cable::new(config.link.clone(), seed),
            rng: Pcg64::seed_from_u64(seed ^ 0xB0A2_D000),
            faults: faults.into(),
            period_ms: config.period_ms,
            seq: config.clock.start_seq,
            next_ms: f64::from(config.clock.start_ms) + 1e3 * config.boot_s,
            doing: Doing::Booting,
            silent_until_s: 0.0,
            next_line: NextLine::Sound,
            request: Vec::new(),
            config,
        })
    }

    /// What the board was built from.
    #[must_use]
    pub fn config(&self) -> &BoardConfig {
        &self.config
    }

    /// The next happening if the host sees it at or before a time in seconds.
    pub fn next_before(&mut self, t_s: f64) -> Option<Happening> {
        loop {
            let horizon_s = self.horizon_s();
            if let Some(next_s) = self.cable.next_s()
                && (next_s <= horizon_s || self.doing == Doing::Over)
            {
                return if next_s <= t_s {
                    self.cable.take()
                } else {
                    None
                };
            }
            if self.doing == Doing::Over || horizon_s > t_s {
                return None;
            }
            self.produce(horizon_s);
        }
    }

    /// When to ask [`VirtualBoard::next_before`] again, in seconds, unless a request is sent
    /// meanwhile; `None` at the end of the stream.
    ///
    /// There may be nothing for the host at that time: the board may only have begun to sample, or
    /// be silent. It does not look ahead, so that a request meets the board as it is.
    ///
    /// ```
    /// use duskmark::sim::{VirtualBoard, lesson};
    ///
    /// let mut board = VirtualBoard::new(lesson(42))?;
    /// let mut happenings = 0;
    /// while let Some(wake_s) = board.wake_s() {
    ///     // Wait until then; hand requests to `receive` and ask for `wake_s` anew; then:
    ///     while let Some(happening) = board.next_before(wake_s) {
    ///         assert!(happening.at_s() <= wake_s);
    ///         happenings += 1;
    ///     }
    /// }
    /// assert!(happenings > 5000);
    /// # Ok::<(), duskmark::sim::ConfigFault>(())
    /// ```
    #[must_use]
    pub fn wake_s(&self) -> Option<f64> {
        let horizon_s = self.horizon_s();
        let ends = self.config.end_s.is_some_and(|end_s| horizon_s > end_s);
        let inside_s = if self.doing == Doing::Over || ends {
            None
        } else {
            Some(horizon_s)
        };
        match (self.cable.next_s(), inside_s) {
            (Some(next_s), Some(horizon_s)) => Some(next_s.min(horizon_s)),
            (next_s, horizon_s) => next_s.or(horizon_s),
        }
    }

    /// Takes bytes that the host sent and that reach the board at a time in seconds.
    ///
    /// Understood are the lines `?` (say hello) and `?period_ms=N` (sample every N ms, or as near
    /// as the board can, then say hello); any other line gets a remark. A board that boots, is
    /// unplugged or hangs hears nothing, and one that does not speak the native protocol answers
    /// nothing.
    pub fn receive(&mut self, bytes: &[u8], now_s: f64) {
        self.catch_up(now_s);
        for &byte in bytes {
            if byte == b'\n' || byte == b'\r' {
                let request = core::mem::take(&mut self.request);
                self.obey(&request, now_s);
            } else if self.request.len() < LONGEST_REQUEST {
                self.request.push(byte);
            }
        }
    }

    /// Brings the board to a time at which it is spoken to.
    fn catch_up(&mut self, now_s: f64) {
        if !now_s.is_finite() {
            return;
        }
        while self.doing != Doing::Over && self.horizon_s() <= now_s {
            self.produce(self.horizon_s());
        }
        self.clock.run_to(now_s, &self.bench);
        self.bench.advance_to(now_s);
    }

    fn obey(&mut self, request: &[u8], now_s: f64) {
        let is_deaf = self.doing == Doing::Booting || now_s < self.silent_until_s;
        if request.is_empty() || is_deaf || self.config.speech != Speech::Native {
            return;
        }
        let answer = match request.strip_prefix(b"?period_ms=").map(whole_number) {
            Some(Some(period_ms)) => {
                self.set_period(period_ms.clamp(PERIODS_MS.0, PERIODS_MS.1));
                speech::hello(&self.config, self.period_ms)
            }
            None if request == b"?" => speech::hello(&self.config, self.period_ms),
            _ => speech::unknown_request(&self.config),
        };
        self.cable.answer(now_s, answer);
    }

    fn set_period(&mut self, period_ms: u32) {
        let last_ms = self.next_ms - f64::from(self.period_ms);
        self.period_ms = period_ms;
        self.next_ms = (last_ms + f64::from(period_ms)).max(self.clock.shown_ms());
    }

    /// The next time at which something happens inside the board; what is under way and arrives
    /// by then is settled.
    fn horizon_s(&self) -> f64 {
        let next_s = self.clock.when_s(self.next_ms, &self.bench);
        let fault_s = self
            .faults
            .front()
            .map_or(f64::INFINITY, |fault| fault.at_s);
        next_s.min(fault_s.max(self.bench.now_s()))
    }

    /// Lets what is due at the horizon happen.
    fn produce(&mut self, horizon_s: f64) {
        if self.config.end_s.is_some_and(|end_s| horizon_s > end_s) {
            self.doing = Doing::Over;
            return;
        }
        // The clock first: at the rate by which the horizon was reckoned.
        self.clock.run_to(horizon_s, &self.bench);
        self.bench.advance_to(horizon_s);
        if self
            .faults
            .front()
            .is_some_and(|fault| fault.at_s <= horizon_s)
        {
            if let Some(fault) = self.faults.pop_front() {
                self.suffer(&fault.kind, horizon_s);
            }
        } else if self.doing == Doing::Booting {
            self.doing = Doing::Sampling;
            self.boot(horizon_s);
            self.next_ms += f64::from(self.period_ms);
        } else {
            self.sample(horizon_s);
            self.next_ms += f64::from(self.period_ms);
        }
    }

    fn boot(&mut self, now_s: f64) {
        let mut bytes = Vec::new();
        if self.config.ends_line_at_boot {
            bytes.push(b'\n');
        }
        bytes.extend(speech::hello(&self.config, self.period_ms));
        self.cable.send(now_s, bytes, Truth::default());
    }

    /// Samples at a clock tick, or a little after it, and sends the line.
    fn sample(&mut self, tick_s: f64) {
        if tick_s < self.silent_until_s {
            return;
        }
        let sampled_s = tick_s + self.clock.jitter_s(self.rng.random::<f64>());
        let board_ms = self.clock.shown_ms();
        self.bench.advance_to(sampled_s);
        let truth = Truth {
            sampled_s: Some(sampled_s),
            tip_degc: self.bench.tip_degc().collect(),
            surface_degc: self.bench.surface_degc().collect(),
        };
        let values = self
            .front_end
            .values(&self.config, sampled_s, &truth.tip_degc);
        let mut line = self.line(board_ms, &values);
        self.seq = self.seq.wrapping_add(1);
        match core::mem::replace(&mut self.next_line, NextLine::Sound) {
            NextLine::Sound => {}
            NextLine::Flipped => self.flip_a_bit(&mut line),
            NextLine::Lost => return,
        }
        self.cable.send(sampled_s + MAKING_S, line, truth);
    }

    fn line(&self, board_ms: f64, values: &Values) -> Vec<u8> {
        // The clock stands within a rounding error of a whole number here.
        let ticks = libm::floor(board_ms + 1e-3) as u64;
        let heading = Heading {
            seq: self.seq,
            board_ms: ticks as u32,
        };
        speech::sample(&self.config, heading, values)
    }

    fn flip_a_bit(&mut self, line: &mut [u8]) {
        let within = line.len().saturating_sub(1).max(1);
        let index = self.rng.random_range(0..within);
        let first_bit = self.rng.random_range(0..8_u32);
        if let Some(byte) = line.get_mut(index) {
            let turned = (0..8).map(|k| *byte ^ (1 << ((first_bit + k) % 8)));
            if let Some(other) = turned.into_iter().find(|b| !matches!(b, b'\n' | b'\r')) {
                *byte = other;
            }
        }
    }

    fn suffer(&mut self, kind: &FaultKind, at_s: f64) {
        match *kind {
            FaultKind::Garbage { bytes } => {
                let noise = (0..bytes).map(|_| self.rng.random::<u8>()).collect();
                self.cable.send(at_s, noise, Truth::default());
            }
            FaultKind::FlippedBit => self.next_line = NextLine::Flipped,
            FaultKind::LostLine => self.next_line = NextLine::Lost,
            FaultKind::OpenThermistor { channel, for_s } => {
                self.front_end.break_circuit(channel, at_s + for_s);
            }
            FaultKind::ShortedThermistor { channel, for_s } => {
                self.front_end.short_circuit(channel, at_s + for_s);
            }
            FaultKind::StuckReading { .. }
            | FaultKind::Saturated { .. }
            | FaultKind::Noisy { .. }
            | FaultKind::Spike { .. }
            | FaultKind::LooseWire { .. }
            | FaultKind::Drift { .. }
            | FaultKind::Wander { .. } => self.front_end.ail(Ailment::of(kind, at_s)),
            FaultKind::Silence { for_s } => self.silent_until_s = at_s + for_s,
            FaultKind::Hold { for_s } => self.cable.hold(at_s, at_s + for_s),
            FaultKind::Reset => {
                self.send_half_a_line(at_s);
                self.restart(at_s);
            }
            FaultKind::Unplug { for_s } => {
                self.send_half_a_line(at_s);
                let back_s = self.cable.pull(at_s, at_s + for_s);
                self.restart(back_s);
            }
        }
    }

    /// The line that the board was sending when it lost power.
    fn send_half_a_line(&mut self, at_s: f64) {
        let tips: ArrayVec<f64, 8> = self.bench.tip_degc().collect();
        let values = self.front_end.values(&self.config, at_s, &tips);
        let mut line = self.line(self.clock.shown_ms(), &values);
        line.truncate(line.len() / 2);
        self.cable.send(at_s - HALF_LINE_S, line, Truth::default());
    }

    fn restart(&mut self, power_s: f64) {
        self.clock.restart(power_s);
        self.seq = 0;
        self.period_ms = self.config.period_ms;
        self.next_ms = 1e3 * self.config.boot_s;
        self.doing = Doing::Booting;
        self.silent_until_s = 0.0;
        self.request.clear();
    }
}

/// A number of 1 to 10 digits that 32 bits can hold.
fn whole_number(digits: &[u8]) -> Option<u32> {
    let is_plain = (1..=10).contains(&digits.len()) && digits.iter().all(u8::is_ascii_digit);
    let text = core::str::from_utf8(digits).ok().filter(|_| is_plain)?;
    text.parse().ok()
}

impl Iterator for VirtualBoard {
    type Item = Happening;

    fn next(&mut self) -> Option<Happening> {
        self.next_before(f64::INFINITY)
    }
}

#[cfg(test)]
#[path = "board_tests.rs"]
mod tests;

#[cfg(test)]
#[path = "fault_tests.rs"]
mod fault_tests;
