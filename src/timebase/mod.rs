//! When was it sampled? Board clock and arrival time to run time.
//!
//! A line arrives late, by an unknown delay that is never negative, and the board's clock runs
//! fast or slow by an amount that changes slowly with its temperature. With `x` the board's time
//! and `y` the arrival (less the time its bytes took on the wire), `y − x` therefore lies on or
//! above a smooth curve, offset + skew · x + bend · x². `envelope` finds that curve. Its distance
//! from the truth is the smallest delay of the window, which one-way data cannot show.
//!
//! A board without a clock is stamped with the arrival, and where its lines come regularly, by
//! counting them (`regular`). The host's sleep needs nothing here: its boot clock goes on, and a
//! pause is a pause, whoever slept.

mod envelope;
mod regular;

use envelope::Envelope;
use regular::Regular;

/// The board's time is modulo 2^32 ms, 49.7 days.
const NS_PER_MS: i64 = 1_000_000;

/// A line that would have arrived this long before it was sampled belongs to a restarted clock, where
/// lines of that clock have come in their time before.
/// Wide enough for a skew of 2000 ppm over a four-minute silence.
const IMPOSSIBLE_LEAD_NS: i64 = 500 * NS_PER_MS;

/// Skew that no board has, as a share of the board time since the last line: adds to the lead
/// above so that a clock that merely runs fast is not taken for a restarted one after a silence.
const IMPOSSIBLE_SKEW: f64 = 0.01;

/// Lines that keep arriving so much later than the clock says, for so long, come from a clock that
/// stood still (a board that sleeps). A host that was stalled gets its lines all at once instead, and
/// the first line of one more stall is no sign yet.
const LATE_NS: i64 = 1000 * NS_PER_MS;
const LATE_FOR_NS: i64 = 5000 * NS_PER_MS;
const LATE_LINES: u32 = 2;

/// A clock that stood still so often is not believed any more: arrival times are better.
const BELIEVED: u32 = 2;

/// The sampling instant of one line.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Stamp {
    /// Best estimate of the sampling instant, in ns on the host's boot clock.
    pub sampled_ns: i64,
    /// The board's clock started anew with this line (reset, other board).
    pub restarted: bool,
    /// It came in a burst, and nothing tells which instant it belongs to.
    pub uncertain: bool,
}

impl Stamp {
    fn by_arrival(sent_ns: i64) -> Self {
        Self {
            sampled_ns: sent_ns,
            restarted: false,
            uncertain: false,
        }
    }
}

/// How a line came.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Arrival {
    /// The host's boot clock when the line's bytes were there, in ns.
    pub at_ns: i64,
    /// How long its bytes took on the wire, and those that came behind them in the same read.
    pub wire_ns: i64,
    /// How long its own bytes took.
    pub line_ns: i64,
    /// Lines that came behind it in the same read.
    pub lines_after: u32,
}

impl Arrival {
    /// When it was sent at the latest, in ns on the host's boot clock.
    #[must_use]
    pub fn sent_ns(&self) -> i64 {
        self.at_ns - self.wire_ns
    }
}

/// Estimates sampling instants for one board. Constant memory.
#[derive(Debug, Clone, Default)]
pub struct TimeBase {
    segment: Option<Segment>,
    stood_still: u32,
    regular: Regular,
}

/// How a line continues a clock.
enum Step {
    /// It was sampled then, in ns on the host's boot clock.
    On(i64),
    /// It cannot come from this clock.
    Restarted,
    /// The clock did not run while lines came.
    StoodStill,
}

/// Lines that arrive later than the clock can explain, each in its time.
#[derive(Debug, Clone, Copy)]
struct Late {
    since_ns: i64,
    lines: u32,
}

/// One unbroken stretch of the board's clock.
#[derive(Debug, Clone)]
struct Segment {
    last_ms: u32,
    last_seq: Option<u32>,
    /// Board time unwrapped, in ns since the first line of this segment.
    elapsed_ns: i64,
    last_arrival_ns: i64,
    /// Some line took its time since the one before it. Until then all that was heard may have
    /// waited in one stall, and the first of it the longest.
    kept_up: bool,
    /// Lines arrive later than the clock can explain.
    late: Option<Late>,
    /// Arrival of the segment's first line: `y` counts from here, so that f64 holds it exactly.
    origin_ns: i64,
    envelope: Envelope,
}

impl TimeBase {
    /// A time base that has seen nothing.
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    /// Forgets the board's clock: the port was opened anew.
    pub fn forget(&mut self) {
        self.segment = None;
        self.regular.forget();
    }

    /// The sampling instant of a line that says `board_ms` and `seq`, both modulo 2^32.
    pub fn stamp(&mut self, arrival: Arrival, board_ms: Option<u32>, seq: Option<u32>) -> Stamp {
        let Some(board_ms) = board_ms else {
            return self.regular.stamp(arrival);
        };
        let sent_ns = arrival.sent_ns();
        if self.stood_still >= BELIEVED {
            return Stamp::by_arrival(sent_ns);
        }
        let known = self.segment.is_some();
        match self
            .segment
            .as_mut()
            .map(|s| s.follow(sent_ns, board_ms, seq))
        {
            Some(Step::On(sampled_ns)) => {
                return Stamp {
                    sampled_ns,
                    ..Stamp::by_arrival(sent_ns)
                };
            }
            Some(Step::StoodStill) => self.stood_still += 1,
            Some(Step::Restarted) | None => {}
        }
        self.segment = Some(Segment::begin(sent_ns, board_ms, seq));
        Stamp {
            restarted: known,
            ..Stamp::by_arrival(sent_ns)
        }
    }
}

impl Segment {
    fn begin(sent_ns: i64, board_ms: u32, seq: Option<u32>) -> Self {
        let mut envelope = Envelope::default();
        envelope.add(0.0, 0.0);
        Self {
            last_ms: board_ms,
            last_seq: seq,
            elapsed_ns: 0,
            last_arrival_ns: sent_ns,
            kept_up: false,
            late: None,
            origin_ns: sent_ns,
            envelope,
        }
    }

    /// The next line's place on this clock.
    fn follow(&mut self, sent_ns: i64, board_ms: u32, seq: Option<u32>) -> Step {
        // As a signed step, so that a line of 2^32 ms later and one before are told apart.
        let step_ms = board_ms.wrapping_sub(self.last_ms).cast_signed();
        let seq_back = matches!((seq, self.last_seq), (Some(now), Some(last))
            if now.wrapping_sub(last).cast_signed() < 0);
        if step_ms < 0 || seq_back {
            return Step::Restarted;
        }
        let elapsed_ns = self.elapsed_ns + i64::from(step_ms) * NS_PER_MS;
        let at_s = seconds(elapsed_ns);
        let delay_s = seconds(sent_ns - self.origin_ns) - at_s;
        let step_ns = elapsed_ns - self.elapsed_ns;
        let since_ns = sent_ns - self.last_arrival_ns;
        let lead_ns = step_ns - since_ns;
        let bound_ns = IMPOSSIBLE_LEAD_NS + (step_ns as f64 * IMPOSSIBLE_SKEW) as i64;
        let line_s = self.envelope.at(at_s);
        if self.kept_up && lead_ns > bound_ns && delay_s < line_s - seconds(bound_ns) {
            return Step::Restarted;
        }
        let in_time = since_ns * 2 > step_ns;
        self.kept_up |= in_time && step_ns > 0;
        if delay_s > line_s + seconds(LATE_NS) {
            let fresh = Late {
                since_ns: sent_ns,
                lines: 0,
            };
            // A line behind another in a burst: the host was stalled until then.
            let late = self.late.filter(|_| in_time).unwrap_or(fresh);
            let lines = late.lines + u32::from(in_time);
            if lines >= LATE_LINES && sent_ns - late.since_ns > LATE_FOR_NS {
                return Step::StoodStill;
            }
            self.late = Some(Late { lines, ..late });
        } else {
            self.late = None;
        }
        self.last_ms = board_ms;
        self.last_seq = seq;
        self.elapsed_ns = elapsed_ns;
        self.last_arrival_ns = sent_ns;
        self.envelope.add(at_s, delay_s);
        let sampled_s = at_s + self.envelope.at(at_s).min(delay_s);
        Step::On(self.origin_ns + (sampled_s * 1e9).round() as i64)
    }
}

fn seconds(ns: i64) -> f64 {
    ns as f64 / 1e9
}

#[cfg(test)]
mod tests;
