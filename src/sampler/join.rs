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

/// Puts the rows of several boards on one grid. Memory is bounded by [`MOST_ROWS`] for each board.
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
    rows: VecDeque<Row>,
    /// The last row's doubts that no joined row has told yet.
    untold: VecDeque<bool>,
}

impl Joiner {
    /// For boards with so many channels each; instants are counted from `origin_ns`.
    #[must_use]
    pub fn new(origin_ns: i64, channels: &[usize]) -> Self {
        let stream = |&channels| Stream {
            channels,
            usual_ns: None,
            rows: VecDeque::new(),
            untold: VecDeque::new(),
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
            stream.untold.pop_front();
        }
        stream.rows.push_back(row);
        stream.untold.push_back(true);
        if self.set_step() {
            self.turn(false, out);
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
                stream.rows.back().is_some_and(|row| row.t_ns >= t_ns)
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
        while self.rows.get(1).is_some_and(|row| row.t_ns <= t_ns) {
            // A row that no instant needed may still have something to say.
            self.tell(0, doubts);
            self.rows.pop_front();
            self.untold.pop_front();
        }
        let longest_ns = self.longest_ns(step_ns);
        let pair = match (self.rows.front(), self.rows.get(1)) {
            (Some(a), _) if (a.t_ns - t_ns).abs() <= SAME_NS => Some((a, a)),
            (_, Some(b)) if (b.t_ns - t_ns).abs() <= SAME_NS => Some((b, b)),
            (Some(a), Some(b)) if a.t_ns < t_ns && b.t_ns - a.t_ns <= longest_ns => Some((a, b)),
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
        let Some(row) = self.rows.get(place) else {
            return;
        };
        if self.untold.get_mut(place).is_some_and(std::mem::take) {
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
mod tests {
    use super::*;

    const MS: i64 = 1_000_000;

    fn row(t_ms: i64, value: f64) -> Row {
        Row {
            t_ns: t_ms * MS,
            readings: [Reading::Degc { value, decimals: 3 }].into_iter().collect(),
            doubts: Doubts::default(),
        }
    }

    fn join(rows: &[(usize, i64, f64)]) -> Vec<Row> {
        let mut joiner = Joiner::new(0, &[1, 1]);
        let mut out = Vec::new();
        for &(board, t_ms, value) in rows {
            joiner.push(board, row(t_ms, value), Some(1000 * MS), &mut out);
        }
        joiner.finish(&mut out);
        out
    }

    /// Two boards a second, out of step, over two samples that warm alike.
    fn both(seconds: std::ops::Range<i64>, silent: std::ops::Range<i64>) -> Vec<(usize, i64, f64)> {
        let degc = |t_ms: i64| 20.0 + t_ms as f64 * 1e-4;
        seconds
            .flat_map(|k| [(0, k * 1000 + 140), (1, k * 1000 + 610)])
            .filter(|(board, t_ms)| *board == 0 || !silent.contains(&(t_ms / 1000)))
            .map(|(board, t_ms)| (board, t_ms, degc(t_ms)))
            .collect()
    }

    #[test]
    fn equal_samples_on_two_boards_are_equal_at_every_instant() {
        let rows = join(&both(0..60, 0..0));
        assert!(rows.len() > 55, "{} rows", rows.len());
        for row in rows.iter().skip(1) {
            assert_eq!(row.t_ns % (1000 * MS), 0);
            let truth = 20.0 + (row.t_ns / MS) as f64 * 1e-4;
            for channel in 0..2 {
                assert!((row.degc(channel) - truth).abs() < 1e-9, "{row:?}");
            }
            assert!(row.doubts.joined);
        }
    }

    #[test]
    fn nothing_is_made_across_a_pause_and_the_other_board_goes_on() {
        let rows = join(&both(0..60, 20..40));
        let at = |s: i64| rows.iter().find(|row| row.t_ns == s * 1000 * MS).unwrap();
        assert!(at(19).degc(1).is_finite());
        for s in 21..40 {
            assert!(at(s).degc(0).is_finite(), "{s} s");
            assert_eq!(at(s).readings[1], Reading::Fault(ProbeFault::Absent));
        }
        assert!(at(42).degc(1).is_finite());
    }

    #[test]
    fn two_lost_rows_are_bridged_and_three_are_not() {
        let rows = join(&both(0..30, 10..11));
        assert!(rows.iter().skip(1).all(|row| row.degc(1).is_finite()));
        let rows = join(&both(0..30, 10..13));
        assert!(rows.iter().skip(1).any(|row| row.degc(1).is_nan()));
    }

    #[test]
    fn the_order_in_which_boards_are_heard_does_not_matter() {
        let mut mixed = both(0..40, 0..0);
        mixed.chunks_mut(2).for_each(|pair| pair.swap(0, 1));
        assert_eq!(join(&mixed), join(&both(0..40, 0..0)));
    }

    #[test]
    fn what_is_said_of_a_row_is_said_once() {
        let mut joiner = Joiner::new(0, &[1, 1]);
        let mut out = Vec::new();
        for (board, t_ms, value) in both(0..20, 0..0) {
            let mut row = row(t_ms, value);
            row.doubts.lost = if t_ms == 7610 { 3 } else { 0 };
            joiner.push(board, row, Some(1000 * MS), &mut out);
        }
        joiner.finish(&mut out);
        let told: u32 = out.iter().map(|row| row.doubts.lost).sum();
        assert_eq!(told, 3);
    }
}
