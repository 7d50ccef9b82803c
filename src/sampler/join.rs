//! One bench made of several boards: their rows on one grid of instants.
//!
//! Boards sample each at their own instants. The grid's step is the longest of the boards' usual
//! intervals; at each of its instants a channel's value lies on the straight line between its
//! board's rows before and after, in true time. No value is made across a pause longer than
//! [`LONGEST_PAUSE`] usual intervals, nor beside a fault, nor beyond the last row: such a cell
//! stays empty. Every joined row says so (`interpolated`).
//!
//! What it does to a value: with `s` the place between the rows, readings of standard uncertainty u
//! give one of `u · √((1 − s)² + s²)`, between 0.71 u and u, so counting u is on the safe side. A
//! temperature that curves by c °C/s² adds at most `c · h² / 8` in an interval of h seconds: a sample
//! that warms by 3 °C/min with a time constant of 5 min has c = 1.7e-4, which is 0.02 mK at a row a
//! second and 0.5 mK at a row in five.

use std::collections::VecDeque;

use arrayvec::ArrayVec;

use super::row::{Doubts, Row};
use crate::probe::{ProbeFault, Reading};
use crate::wire::MAX_CHANNELS;

/// Rows of a board further apart than so many usual intervals have nothing between them.
pub const LONGEST_PAUSE: f64 = 2.5;

/// So long a board is waited for, beyond the longest pause, before the others go on without it:
/// what a busy host may hold back.
const PATIENCE_NS: i64 = 2_000_000_000;

/// The grid begins when all boards' intervals are known, or after so long with those that are.
const LEARN_NS: i64 = 10_000_000_000;

/// The finest grid.
const LEAST_STEP_NS: i64 = 20_000_000;

/// The step where no board's interval is known.
const USUAL_STEP_NS: i64 = 1_000_000_000;

/// A row so close to an instant is taken as it is: the file shows milliseconds.
const SAME_NS: i64 = 500_000;

/// Rows of one board that wait at most: with every bound above, only a broken clock needs more.
const MOST_ROWS: usize = 4096;

/// Puts the rows of several boards on one grid. Memory is bounded by 4096 rows for each board.
#[derive(Debug)]
pub struct Joiner {
    origin_ns: i64,
    streams: Vec<Stream>,
    step_ns: Option<i64>,
    /// Number of the next instant of the grid.
    next: i64,
    first_ns: Option<i64>,
    newest_ns: i64,
    last_ns: Option<i64>,
}

/// One board's rows around the next instant.
#[derive(Debug)]
struct Stream {
    channels: usize,
    usual_ns: Option<i64>,
    rows: VecDeque<Waiting>,
    /// What comes next has nothing to do with what came before.
    cut: bool,
}

/// A row that waits for the instants around it.
#[derive(Debug)]
struct Waiting {
    row: Row,
    /// No joined row has told its doubts yet.
    untold: bool,
    /// Nothing is joined with the row before.
    first: bool,
}

impl Joiner {
    /// For boards with so many channels each; instants are counted from `origin_ns`.
    #[must_use]
    pub fn new(origin_ns: i64, channels: &[usize]) -> Self {
        let stream = |&channels| Stream {
            channels,
            usual_ns: None,
            rows: VecDeque::new(),
            cut: false,
        };
        Self {
            origin_ns,
            streams: channels.iter().map(stream).collect(),
            step_ns: None,
            next: 0,
            first_ns: None,
            newest_ns: i64::MIN,
            last_ns: None,
        }
    }

    /// The grid's step in ns, once it is set.
    #[must_use]
    pub fn step_ns(&self) -> Option<i64> {
        self.step_ns
    }

    /// Takes in a row of a board, with that board's usual interval, and gives what it completes.
    pub fn push(&mut self, board: usize, row: Row, usual_ns: Option<i64>, out: &mut Vec<Row>) {
        let Some(stream) = self.streams.get_mut(board) else {
            return;
        };
        self.first_ns.get_or_insert(row.t_ns);
        self.newest_ns = self.newest_ns.max(row.t_ns);
        stream.usual_ns = usual_ns.or(stream.usual_ns);
        if stream.rows.len() == MOST_ROWS {
            stream.rows.pop_front();
        }
        stream.rows.push_back(Waiting {
            row,
            untold: true,
            first: std::mem::take(&mut stream.cut),
        });
        if self.set_step() {
            self.turn(false, out);
        }
    }

    /// Records are missing here, or the clock may have been another: no value is made between the
    /// rows before and those after.
    pub fn cut(&mut self) {
        for stream in &mut self.streams {
            stream.cut = true;
        }
    }

    /// Nothing more comes.
    pub fn finish(&mut self, out: &mut Vec<Row>) {
        self.newest_ns = self.newest_ns.max(self.first_ns.unwrap_or(i64::MIN));
        if self.first_ns.is_some() {
            let longest = self.longest_usual_ns();
            self.fix_step(longest.unwrap_or(USUAL_STEP_NS));
            self.turn(true, out);
        }
    }

    fn longest_usual_ns(&self) -> Option<i64> {
        self.streams.iter().filter_map(|s| s.usual_ns).max()
    }

    /// Sets the step once enough is known; true when it is set.
    fn set_step(&mut self) -> bool {
        if self.step_ns.is_some() {
            return true;
        }
        let known = self.streams.iter().all(|s| s.usual_ns.is_some());
        let waited_ns = self.newest_ns - self.first_ns.unwrap_or(self.newest_ns);
        if known || waited_ns > LEARN_NS {
            self.fix_step(self.longest_usual_ns().unwrap_or(USUAL_STEP_NS));
        }
        self.step_ns.is_some()
    }

    fn fix_step(&mut self, usual_ns: i64) {
        if self.step_ns.is_some() {
            return;
        }
        // Whole milliseconds: the file shows no more.
        let step_ns = ((usual_ns + 500_000) / 1_000_000 * 1_000_000).max(LEAST_STEP_NS);
        self.step_ns = Some(step_ns);
        let since_ns = self.first_ns.unwrap_or(self.origin_ns) - self.origin_ns;
        self.next = since_ns.max(0).div_euclid(step_ns);
    }

    /// Gives all instants that are complete, or all that are left.
    fn turn(&mut self, all: bool, out: &mut Vec<Row>) {
        let Some(step_ns) = self.step_ns else { return };
        loop {
            let t_ns = self.origin_ns + self.next * step_ns;
            let is_past = |stream: &Stream| {
                stream.rows.back().is_some_and(|last| last.row.t_ns >= t_ns)
                    || self.newest_ns - t_ns > stream.longest_ns(step_ns) + PATIENCE_NS
            };
            let complete = self.streams.iter().all(is_past);
            if self.newest_ns < t_ns || !(complete || all) {
                return;
            }
            self.next += 1;
            self.instant(t_ns, step_ns, out);
        }
    }

    fn instant(&mut self, t_ns: i64, step_ns: i64, out: &mut Vec<Row>) {
        let mut readings = ArrayVec::new();
        let mut doubts = Doubts {
            joined: true,
            ..Doubts::default()
        };
        let mut any = false;
        for stream in &mut self.streams {
            any |= stream.at(t_ns, step_ns, &mut readings, &mut doubts);
        }
        // While no board has anything to say there is no row, as with a single board.
        if !any {
            return;
        }
        doubts.gap |= self.last_ns.is_some_and(|last| t_ns - last > 2 * step_ns);
        self.last_ns = Some(t_ns);
        out.push(Row {
            t_ns,
            readings,
            doubts,
        });
    }
}

impl Stream {
    fn longest_ns(&self, step_ns: i64) -> i64 {
        (self.usual_ns.unwrap_or(step_ns) as f64 * LONGEST_PAUSE) as i64
    }

    /// Adds this board's readings at an instant; false if no two rows stand around it.
    fn at(
        &mut self,
        t_ns: i64,
        step_ns: i64,
        readings: &mut ArrayVec<Reading, MAX_CHANNELS>,
        doubts: &mut Doubts,
    ) -> bool {
        while self.rows.get(1).is_some_and(|next| next.row.t_ns <= t_ns) {
            // A row that no instant needed may still have something to say.
            self.tell(0, doubts);
            self.rows.pop_front();
        }
        let longest_ns = self.longest_ns(step_ns);
        let joins = self.rows.get(1).is_some_and(|next| !next.first);
        let row = |place: usize| self.rows.get(place).map(|waiting| &waiting.row);
        let pair = match (row(0), row(1)) {
            (Some(a), _) if (a.t_ns - t_ns).abs() <= SAME_NS => Some((a, a)),
            (_, Some(b)) if (b.t_ns - t_ns).abs() <= SAME_NS => Some((b, b)),
            (Some(a), Some(b)) if joins && a.t_ns < t_ns && b.t_ns - a.t_ns <= longest_ns => {
                Some((a, b))
            }
            _ => None,
        };
        let absent = Reading::Fault(ProbeFault::Absent);
        let found: ArrayVec<Reading, MAX_CHANNELS> = (0..self.channels.min(MAX_CHANNELS))
            .map(|channel| {
                pair.and_then(|(a, b)| between(a, b, channel, t_ns))
                    .unwrap_or(absent)
            })
            .collect();
        let around = pair.is_some();
        readings.extend(found.into_iter().take(readings.remaining_capacity()));
        if around {
            self.tell(0, doubts);
            self.tell(1, doubts);
        }
        around
    }

    /// Adds what is to be said of a row, once.
    fn tell(&mut self, place: usize, doubts: &mut Doubts) {
        let Some(Waiting { row, untold, .. }) = self.rows.get_mut(place) else {
            return;
        };
        if std::mem::take(untold) {
            doubts.lost = doubts.lost.saturating_add(row.doubts.lost);
            doubts.gap |= row.doubts.gap;
            doubts.reset |= row.doubts.reset;
            doubts.merged |= row.doubts.merged;
            doubts.late |= row.doubts.late;
            doubts.skewed |= row.doubts.skewed;
        }
    }
}

/// A channel's value between two rows.
fn between(a: &Row, b: &Row, channel: usize, t_ns: i64) -> Option<Reading> {
    let (first, second) = (*a.readings.get(channel)?, *b.readings.get(channel)?);
    let span_ns = b.t_ns - a.t_ns;
    let share = if span_ns > 0 {
        (t_ns - a.t_ns) as f64 / span_ns as f64
    } else {
        0.0
    };
    Some(match (first, second) {
        (
            Reading::Degc { value, decimals },
            Reading::Degc {
                value: next,
                decimals: d,
            },
        ) => Reading::Degc {
            value: value + (next - value) * share,
            decimals: decimals.max(d),
        },
        (fault @ Reading::Fault(_), _) | (_, fault) => fault,
    })
}

#[cfg(test)]
mod tests;
