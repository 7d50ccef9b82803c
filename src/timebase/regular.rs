//! Boards that send no clock: their own regularity is the clock.
//!
//! A loop that prints every second is a clock of a period that nobody states. Where the arrivals
//! are regular, each line is given a number by when it came, `number · period` takes the place of
//! the board's clock, and the same [`Envelope`] finds phase and true period under the delays. Lines
//! that were lost leave out numbers. Where the intervals are not regular it is given up: then the
//! arrival is the best that is known.

use arrayvec::ArrayVec;

use super::envelope::Envelope;
use super::{Arrival, Stamp, seconds};

/// Greatest delay of an ordinary line, in ns: a USB adapter's timer is 16 ms at most (FTDI's
/// AN232B-04), and the host's scheduling comes on top.
const USUAL_DELAY_NS: f64 = 25e6;

/// Shorter periods cannot be told from the bursts in which a USB adapter hands lines over.
const SHORTEST_PERIOD_NS: f64 = 80e6;

/// Intervals of which the first guess of the period is made; they must agree.
const FIRST_INTERVALS: usize = 5;

/// Before it is used, the period is measured for so long (16 ms in 10 s leave 0.16 %, which the
/// envelope's bound on skew covers), and over so many lines.
const LEARN_NS: f64 = 10e9;
const LEARN_LINES: i64 = 10;

/// Each time that it has to be given up, the next measurement takes twice as long, so often.
const MOST_DOUBLINGS: u32 = 5;

/// Share of lines that are missing or late while the period is measured at most.
const MOST_ODD: f64 = 0.25;

/// Weight of one line in the share of odd lines, and the share at which it is given up.
const ONE_LINE: f64 = 0.05;
const TOO_MANY_ODD: f64 = 0.3;

/// A regular board's line never comes much before the curve under all the others: by so much is
/// odd, by more than the usual delay is none of its instants.
const ODD_LEAD_NS: f64 = 3e6;

/// After a pause so long the number of lines in it is no longer certain.
const LONGEST_PAUSE_NS: f64 = 100e9;

/// Finds out whether lines come regularly, and then when they were sent.
#[derive(Debug, Clone, Default)]
pub(super) struct Regular {
    state: State,
    /// How often it was given up.
    given_up: u32,
}

#[derive(Debug, Clone)]
enum State {
    /// The first intervals.
    Listening {
        last_ns: Option<i64>,
        intervals: ArrayVec<i64, FIRST_INTERVALS>,
    },
    /// They agreed: the period is measured.
    Measuring(Count),
    /// The period is known.
    Counting { count: Count, envelope: Envelope },
}

impl Default for State {
    fn default() -> Self {
        Self::Listening {
            last_ns: None,
            intervals: ArrayVec::new(),
        }
    }
}

/// Numbers given to lines.
#[derive(Debug, Clone)]
struct Count {
    /// When the line with the number 0 was sent, by its arrival.
    first_ns: i64,
    period_ns: f64,
    number: i64,
    /// Lines that did not come when they should have, of all so far or lately.
    odd: f64,
}

impl Count {
    /// How many numbers further this line is, given the delay of the curve at the last one; `None`
    /// if it came at no instant of this board.
    ///
    /// The delay only adds, so a line belongs to the last instant that is not after it, less the
    /// lines that came behind it in the same read. 0: the line before it was later than it seemed.
    fn steps(&self, sent_ns: i64, delay_ns: f64, lines_after: u32) -> Option<i64> {
        let curve_ns = self.number as f64 * self.period_ns + delay_ns;
        let since_ns = (sent_ns - self.first_ns) as f64 - curve_ns;
        let tolerance_ns = USUAL_DELAY_NS.min(0.25 * self.period_ns);
        let newest = |slack_ns: f64| ((since_ns + slack_ns) / self.period_ns).floor() as i64;
        let newest_due = newest(tolerance_ns);
        if lines_after > 0 && newest_due > 0 {
            // The newest that is due may still be on its way.
            let after = i64::from(lines_after);
            let (few, many) = (newest(-tolerance_ns) - after, newest_due - after);
            return Some(if few <= 1 { 1 } else { many });
        }
        let prompt = since_ns.abs() < tolerance_ns;
        (newest_due > 0 || prompt).then_some(newest_due)
    }
}

impl Regular {
    /// Forgets everything: the port was opened anew.
    pub(super) fn forget(&mut self) {
        *self = Self::default();
    }

    /// The sampling instant of a line without a clock.
    pub(super) fn stamp(&mut self, arrival: Arrival) -> Stamp {
        let sent_ns = arrival.sent_ns();
        let next = match &mut self.state {
            State::Listening { last_ns, intervals } => {
                listen(last_ns.replace(sent_ns), intervals, sent_ns)
            }
            State::Measuring(count) => measure(count, arrival, self.given_up),
            State::Counting { count, envelope } => {
                if let Ok(stamp) = follow(count, envelope, arrival) {
                    return stamp;
                }
                self.given_up = (self.given_up + 1).min(MOST_DOUBLINGS);
                Some(State::default())
            }
        };
        if let Some(next) = next {
            self.state = next;
        }
        Stamp::by_arrival(sent_ns)
    }
}

/// Collects the first intervals, and goes on to measure if they agree.
fn listen(
    last_ns: Option<i64>,
    intervals: &mut ArrayVec<i64, FIRST_INTERVALS>,
    sent_ns: i64,
) -> Option<State> {
    let interval_ns = sent_ns - last_ns?;
    if intervals.is_full() {
        intervals.remove(0);
    }
    intervals.push(interval_ns);
    let mut sorted = intervals.clone();
    sorted.sort_unstable();
    let (&least, &most) = (sorted.first()?, sorted.last()?);
    let regular = intervals.is_full()
        && least as f64 >= SHORTEST_PERIOD_NS
        && ((most - least) as f64) < USUAL_DELAY_NS;
    regular.then(|| {
        let span_ns: i64 = intervals.iter().sum();
        State::Measuring(Count {
            first_ns: sent_ns - span_ns,
            period_ns: span_ns as f64 / FIRST_INTERVALS as f64,
            number: FIRST_INTERVALS.try_into().unwrap_or(i64::MAX),
            odd: 0.0,
        })
    })
}

/// Counts lines until the period is known well enough.
fn measure(count: &mut Count, arrival: Arrival, given_up: u32) -> Option<State> {
    let sent_ns = arrival.sent_ns();
    let steps = count.steps(sent_ns, 0.0, arrival.lines_after);
    let since_ns = (sent_ns - count.first_ns) as f64;
    let Some(steps @ 1..) = steps else {
        return Some(State::default());
    };
    count.number += steps;
    count.odd += (steps - 1) as f64;
    let late_ns = since_ns - count.number as f64 * count.period_ns;
    if late_ns.abs() < USUAL_DELAY_NS {
        count.period_ns = since_ns / count.number as f64;
    } else {
        count.odd += 1.0;
    }
    if count.odd > 2.0 && count.odd > MOST_ODD * count.number as f64 {
        return Some(State::default());
    }
    (since_ns > LEARN_NS * f64::from(1 << given_up) && count.number > LEARN_LINES).then(|| {
        let mut envelope = Envelope::default();
        let x = count.number as f64 * count.period_ns;
        envelope.add(x / 1e9, (since_ns - x) / 1e9);
        State::Counting {
            count: Count {
                odd: 0.0,
                ..count.clone()
            },
            envelope,
        }
    })
}

/// The next line's place; `Err` if the lines are not regular any more.
fn follow(count: &mut Count, envelope: &mut Envelope, arrival: Arrival) -> Result<Stamp, ()> {
    let sent_ns = arrival.sent_ns();
    let x_s = |number: i64| number as f64 * count.period_ns / 1e9;
    let delay_ns = envelope.at(x_s(count.number)) * 1e9;
    let steps = count.steps(sent_ns, delay_ns, arrival.lines_after);
    let steps = steps.ok_or(())?;
    if steps as f64 * count.period_ns > LONGEST_PAUSE_NS {
        return Err(());
    }
    if steps == 0 {
        // It came before its time, so one before it was later than it seemed.
        count.tell(true)?;
        return Ok(Stamp {
            uncertain: true,
            ..Stamp::by_arrival(sent_ns)
        });
    }
    let x = x_s(count.number + steps);
    let delay_s = seconds(sent_ns - count.first_ns) - x;
    // In a burst behind a pause in which lines were lost, nobody knows which ones.
    let uncertain = arrival.lines_after > 0 && steps > 1;
    count.number += steps;
    let late_ns = (delay_s - envelope.at(x)) * 1e9;
    // What had to wait for the end of a burst says nothing of the board, nor of the usual delays.
    if arrival.lines_after == 0 || late_ns < USUAL_DELAY_NS {
        count.tell(!(-ODD_LEAD_NS..USUAL_DELAY_NS).contains(&late_ns))?;
        envelope.add(x, delay_s);
    }
    let sampled_s = x + envelope.at(x).min(delay_s);
    Ok(Stamp {
        sampled_ns: count.first_ns + (sampled_s * 1e9).round() as i64,
        restarted: false,
        uncertain,
    })
}

impl Count {
    /// Keeps the share of odd lines; `Err` when there are too many of them.
    fn tell(&mut self, odd: bool) -> Result<(), ()> {
        self.odd += ONE_LINE * (f64::from(u8::from(odd)) - self.odd);
        if self.odd > TOO_MANY_ODD {
            Err(())
        } else {
            Ok(())
        }
    }
}

#[cfg(test)]
mod tests;
