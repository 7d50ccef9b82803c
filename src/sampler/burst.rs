//! Lines that come faster than their board sends them, where the board states no clock.
//!
//! A program that is stopped, or a laptop that hangs, gets all at once what waited in the operating
//! system's buffer: in one read, or in several within moments. Their arrivals say nothing of when
//! they were sampled. Who looks at the first of them alone cannot know that more will follow. So a
//! line that comes after a silence is held until the next one: if that takes its time, the silence
//! was a pause of the board's; if not, a burst is under way, and what belongs to it is held until a
//! line takes its time again. Nothing else is held, and nothing longer than to the board's next line.
//!
//! The rows of a burst are given the instants at which the board must have sent them, by its usual
//! interval, and are marked late: spread over the silence where their number agrees with it, else
//! counted back from the burst's end, as if what is missing had been lost at its beginning (nobody
//! knows where it was).

use crate::timebase::Arrival;
use crate::wire::Sample;

/// A silence of so many usual intervals may end in a burst. A shorter one cannot make a row wrong
/// by as much as the usual interval.
const SILENCE: f64 = 1.5;

/// The same while there was no interval yet, in ns.
const UNKNOWN_SILENCE_NS: i64 = 200_000_000;

/// So many intervals make a usual one.
const ENOUGH: usize = 3;

/// A board whose first rows come in so many bursts has that habit.
const HABIT: u32 = 2;

/// Lines of a burst follow each other within so long, beside their time on the wire: a USB adapter
/// hands over what it has every 16 ms at least (FTDI's AN232B-04), and the host may be busy.
const BURST_NS: i64 = 50_000_000;

/// And within this share of the shorter ones of the usual intervals,
const FAST: f64 = 0.5;
/// or this share where the wire cannot carry the line in less.
const FAST_BY_WIRE: f64 = 0.75;
const WIRE_SLACK: f64 = 1.2;

/// The number of rows in a burst agrees with the silence within so many, and this share of them, for
/// the usual interval is the median of a few.
const AGREES: f64 = 2.0;
const AGREES_SHARE: f64 = 0.01;

/// So many times the rows that were due are too many for a burst: far more than a usual interval that
/// is taken from one or two may be wrong.
const TOO_MUCH: f64 = 1.5;

/// Lines that are held at most: more than a port's buffers in the operating system hold (64 KiB and
/// a little, from memory) of lines with 16 bytes.
const MOST_HELD: usize = 4096;

/// How a board paces its rows, by the last intervals.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Pace {
    /// The median.
    pub(super) usual_ns: i64,
    /// The shorter ones, but for one or two that chance made.
    short_ns: i64,
    /// Most are about as long as the median.
    regular: bool,
    /// It is of enough intervals to be called usual.
    pub(super) is_usual: bool,
}

impl Pace {
    /// Of so many intervals in any order; `None` if there is none.
    pub(super) fn of(intervals: &[i64]) -> Option<Self> {
        let mut sorted = intervals.to_vec();
        sorted.sort_unstable();
        let usual_ns = *sorted.get(sorted.len() / 2)?;
        let is_usual = sorted.len() >= ENOUGH;
        let near = |ns: &&i64| (**ns - usual_ns).abs() * 2 <= usual_ns;
        Some(Self {
            usual_ns,
            short_ns: *sorted.get(sorted.len() / 4)?,
            is_usual,
            regular: is_usual && sorted.iter().filter(near).count() * 3 >= sorted.len() * 2,
        })
    }

    /// How many usual intervals a time is.
    fn intervals(&self, ns: i64) -> f64 {
        ns as f64 / self.usual_ns.max(1) as f64
    }

    /// Whether a time is one usual interval, roughly.
    pub(super) fn is_one(&self, ns: i64) -> bool {
        (0.5..1.5).contains(&self.intervals(ns))
    }
}

/// A line that waits.
#[derive(Debug)]
pub(super) struct Line {
    pub(super) sample: Sample,
    pub(super) arrival: Arrival,
}

/// What is to become of the next line, after what is held was let go if it says so.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Next {
    /// It is held.
    Hold,
    /// It goes on at once.
    Pass,
}

/// The lines that are held.
#[derive(Debug, Default)]
pub(super) struct Hold {
    lines: Vec<Line>,
    /// When the last line was sent, by its arrival, held or not.
    last_ns: Option<i64>,
    /// The silence before what is held.
    silence_ns: i64,
    /// Bursts that came while no usual interval was known.
    early: u32,
}

impl Hold {
    /// What was held was a burst, as far as anybody knows.
    pub(super) fn was_burst(&mut self, pace: Option<Pace>) {
        self.early += u32::from(pace.is_none());
    }

    /// Whether a line sent then ends what is held: it took its time.
    pub(super) fn is_ended_by(&self, arrival: &Arrival, pace: Option<Pace>) -> bool {
        let since_ns = self.last_ns.map(|last| arrival.sent_ns() - last);
        !self.lines.is_empty() && since_ns.is_some_and(|ns| ns >= fastest_ns(arrival, pace))
    }

    /// What is to become of a line, when nothing is held that it ends.
    pub(super) fn look(&mut self, arrival: &Arrival, pace: Option<Pace>) -> Next {
        let sent_ns = arrival.sent_ns();
        let since_ns = self.last_ns.replace(sent_ns).map(|last| sent_ns - last);
        if !self.lines.is_empty() {
            return Next::Hold;
        }
        let silence_ns = since_ns.unwrap_or(0);
        let silent = match pace {
            Some(pace) => pace.intervals(silence_ns) >= SILENCE,
            None => silence_ns >= UNKNOWN_SILENCE_NS && self.early < HABIT,
        };
        self.silence_ns = silence_ns;
        if silent { Next::Hold } else { Next::Pass }
    }

    pub(super) fn push(&mut self, line: Line) {
        self.lines.push(line);
    }

    pub(super) fn is_full(&self) -> bool {
        self.lines.len() >= MOST_HELD
    }

    /// Whether there are more rows than the board can have sent since the silence began: then it
    /// sends faster than it did, and this is no burst.
    pub(super) fn is_too_much(&self, rows: usize, pace: Option<Pace>) -> bool {
        let Some((first, last)) = self.lines.first().zip(self.lines.last()) else {
            return false;
        };
        let since_ns = last.arrival.sent_ns() - first.arrival.sent_ns();
        let due = match pace {
            Some(pace) => pace.intervals(self.silence_ns + since_ns),
            None => self.silence_ns as f64 / fastest_ns(&last.arrival, None) as f64,
        };
        rows as f64 > due * TOO_MUCH + AGREES
    }

    pub(super) fn len(&self) -> usize {
        self.lines.len()
    }

    /// What is held, which is then held no more.
    pub(super) fn take(&mut self) -> Vec<Line> {
        std::mem::take(&mut self.lines)
    }
}

/// Lines of a burst follow each other faster than that.
fn fastest_ns(arrival: &Arrival, pace: Option<Pace>) -> i64 {
    let most_ns = BURST_NS + arrival.line_ns;
    pace.map_or(most_ns, |pace| {
        let short = pace.short_ns as f64;
        let by_wire = (arrival.line_ns as f64 * WIRE_SLACK).min(short * FAST_BY_WIRE);
        most_ns.min((short * FAST).max(by_wire) as i64)
    })
}

/// What is known around a burst.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Around {
    /// The row before it.
    pub(super) before_ns: i64,
    /// When its last line came.
    pub(super) end_ns: i64,
    /// When the line after it was sent, if there is one.
    pub(super) next_ns: Option<i64>,
    /// More of it may follow.
    pub(super) goes_on: bool,
    pub(super) pace: Pace,
}

impl Around {
    /// The instants of so many rows; `None` if the board is not regular enough to say.
    pub(super) fn instants(&self, rows: usize) -> Option<impl Iterator<Item = i64> + use<>> {
        let Self {
            before_ns, pace, ..
        } = *self;
        let n = i64::try_from(rows).ok().filter(|_| pace.regular)?;
        let last_ns = self.last_ns();
        let too_many = n as f64 - pace.intervals(last_ns - before_ns);
        let agrees = too_many.abs() <= AGREES + AGREES_SHARE * n as f64;
        let (first_ns, step_ns) = if self.goes_on {
            (before_ns + pace.usual_ns, pace.usual_ns as f64)
        } else if agrees && last_ns > before_ns {
            let step = (last_ns - before_ns) as f64 / n as f64;
            (before_ns + step as i64, step)
        } else {
            (last_ns - (n - 1) * pace.usual_ns, pace.usual_ns as f64)
        };
        Some((0..n).map(move |k| first_ns + (k as f64 * step_ns) as i64))
    }

    /// When the burst's last row was sent: an interval before the next line. Behind a pause that would be
    /// after it was there.
    fn last_ns(&self) -> i64 {
        let before = |next: i64| (next - self.pace.usual_ns).min(self.end_ns);
        self.next_ns.map_or(self.end_ns, before)
    }

    /// Whether instants that were counted out fit in between without one missing or too many.
    pub(super) fn fits(&self, instants: impl Iterator<Item = i64>) -> bool {
        let mut last_ns = self.before_ns;
        let regular = instants.fold(true, |regular, ns| {
            regular & self.pace.is_one(ns - std::mem::replace(&mut last_ns, ns))
        });
        let behind = self.pace.intervals(self.end_ns - last_ns);
        let next = self.next_ns.map(|next| next - last_ns);
        let paused = next.is_some_and(|ns| self.pace.intervals(ns) >= SILENCE + 1.0);
        regular
            && !self.goes_on
            && (-0.5..1.25).contains(&behind)
            && (paused || next.is_none_or(|ns| self.pace.is_one(ns)))
    }
}

#[cfg(test)]
mod tests;
