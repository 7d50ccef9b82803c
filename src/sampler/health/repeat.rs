//! The same number again and again: rounding, or a channel that is stuck?
//!
//! A steady value that is printed to 0.1 °C repeats for minutes and is sound. Three things tell a
//! stuck channel, each against what the data themselves have shown:
//!
//! 1. *Its own past.* The scatter reached over several steps all the time, and the share of equal
//!    neighbours was never above p; then n equal ones have a probability below pⁿ. Where the scatter
//!    does not reach over two steps, p says nothing: at the border between two steps a value flickers,
//!    and in the middle of one it stands still.
//! 2. *Its share in what the others do.* It used to move with them, they have moved, it has not.
//! 3. *The others' past,* for a channel that never moved at all.

use arrayvec::ArrayVec;

use super::noise::{Block, median};
use crate::wire::MAX_CHANNELS;

/// Probability below which chance is no explanation, as a natural logarithm: 1e-13, so that ten
/// million rows an hour for a thousand hours stay quiet.
const CHANCE: f64 = 30.0;

/// Blocks of scatter that one estimate of p is made from.
const BLOCKS: u32 = 4;

/// The share that reaches over two steps must be at least this, and p at most that. Air that is no
/// longer stirred scatters less, by four times at most in what was simulated: from here on, p stays
/// below the floor all the same.
const LEAST_APART: f64 = 0.6;
const MOST_EQUAL: f64 = 0.975;
const FLOOR: f64 = 0.7;

/// A run of equal values counts from this length on, in seconds.
const LEAST_S: f64 = 5.0;

/// By its share in what the others did it should have moved so far: in °C and in steps.
const SHARE_DEGC: f64 = 3.0;
const SHARE_STEPS: f64 = 40.0;

/// So many times longer than any run before, and the stop was abrupt.
const ABRUPT: u32 = 20;

/// Ranges from which a share is taken, in °C.
const LEAST_RANGE_DEGC: f64 = 1.0;

/// What a channel that never moved is told by: the others' move, the time, the rows.
const NEVER_DEGC: f64 = 8.0;
const NEVER_S: f64 = 600.0;
const NEVER_ROWS: u32 = 300;

/// Others with so fine a step never stand still for ten minutes by rounding alone, in °C.
const FINE_DEGC: f64 = 0.02;

/// Lowest and highest of what was seen, in °C.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(super) struct Range(Option<(f64, f64)>);

impl Range {
    fn take(&mut self, degc: f64) {
        let (low, high) = self.0.unwrap_or((degc, degc));
        self.0 = Some((low.min(degc), high.max(degc)));
    }

    fn width(self) -> f64 {
        self.0.map_or(0.0, |(low, high)| high - low)
    }
}

/// What the others did since a run of equal values began, beside what they did before.
#[derive(Debug, Clone, Copy, Default)]
struct Other {
    before: f64,
    since: Range,
    first: Option<f64>,
    last: f64,
    /// Rows of the run and width at two earlier times, each half as far back as the next.
    older: (u32, f64),
    newer: (u32, f64),
}

impl Other {
    fn take(&mut self, rows: u32, degc: f64) {
        self.first.get_or_insert(degc);
        self.last = degc;
        self.since.take(degc);
        if rows >= 2 * self.newer.0.max(1) {
            self.older = self.newer;
            self.newer = (rows, self.since.width());
        }
    }

    /// Whether it began to move, or turned, after the run began. One that only goes on with what it
    /// did, ever more slowly, may be a slow sample beside one that has come to rest.
    fn stirred(&self, rows: u32, by_degc: f64) -> bool {
        let width = self.since.width();
        let early = f64::from(self.older.0) / f64::from(rows.max(1));
        let Some(((low, high), first)) = self.since.0.zip(self.first) else {
            return false;
        };
        let turned = |there: f64, back: f64| there.min(back) >= 0.5 * by_degc;
        (self.older.0 > 0 && self.older.1 <= 0.5 * early * width)
            || turned(high - first, high - self.last)
            || turned(first - low, self.last - low)
    }
}

/// A run of equal values.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Run {
    pub(super) degc: f64,
    pub(super) since_ns: i64,
    pub(super) rows: u32,
}

/// What one channel shows to the others.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Shown {
    /// Median of the last three values in °C, where there are three and it is in no doubt.
    pub(super) level: Option<f64>,
    /// All that it has shown.
    range: Range,
    step_degc: f64,
    /// Rows of its run of equal values.
    rows: u32,
    /// p as this channel knows it, where it does.
    equal: Option<f64>,
}

/// Watches one channel for repeats.
#[derive(Debug, Clone, Default)]
pub(super) struct Repeat {
    run: Option<Run>,
    /// The longest run that ended by itself.
    longest: u32,
    others: [Other; MAX_CHANNELS],
    /// Its range when the run began.
    before: Range,
    range: Range,
    last: ArrayVec<f64, 3>,
    // One estimate in the making, and what all of them have shown.
    equal: u32,
    apart: u32,
    pairs: u32,
    blocks: u32,
    most_equal: Option<f64>,
    least_apart: f64,
    told: bool,
}

impl Repeat {
    /// Takes a value.
    pub(super) fn take(&mut self, t_ns: i64, degc: f64, shown: &[Shown]) {
        if self.last.is_full() {
            self.last.remove(0);
        }
        self.last.push(degc);
        if self.last.is_full() {
            let level = median(&mut self.last.clone());
            self.range.take(level);
        }
        match &mut self.run {
            Some(run) if (run.degc - degc).abs() <= 1e-9 => run.rows = run.rows.saturating_add(1),
            run => {
                if !self.told {
                    self.longest = self.longest.max(run.map_or(0, |run| run.rows));
                }
                self.told = false;
                *run = Some(Run {
                    degc,
                    since_ns: t_ns,
                    rows: 1,
                });
                self.before = self.range;
                for (other, shown) in self.others.iter_mut().zip(shown) {
                    *other = Other {
                        before: shown.range.width(),
                        ..Other::default()
                    };
                }
            }
        }
        let rows = self.run.map_or(0, |run| run.rows);
        for (other, shown) in self.others.iter_mut().zip(shown) {
            if let Some(level) = shown.level {
                other.take(rows, level);
            }
        }
    }

    /// Whether a run of equal values fills half of a block or more.
    pub(super) fn fills(&self, block: &Block) -> bool {
        self.run.is_some_and(|run| run.rows >= block.pairs / 2)
    }

    /// Learns from a block of rows. A run that may yet prove to be a fault is no past.
    pub(super) fn learn(&mut self, block: &Block) {
        if self.fills(block) {
            return;
        }
        self.equal += block.equal;
        self.apart += block.apart;
        self.pairs += block.pairs;
        self.blocks += 1;
        if self.blocks >= BLOCKS {
            let share = |count: u32| f64::from(count) / f64::from(self.pairs.max(1));
            let (equal, apart) = (share(self.equal), share(self.apart));
            self.least_apart = match self.most_equal {
                None => apart,
                Some(_) => self.least_apart.min(apart),
            };
            self.most_equal = Some(self.most_equal.unwrap_or(0.0).max(equal));
            (self.equal, self.apart, self.pairs, self.blocks) = (0, 0, 0, 0);
        }
    }

    /// An upper bound of the share of equal neighbours in sound data, where the past gives one.
    fn most_equal(&self) -> Option<f64> {
        let p = self.most_equal?;
        if self.least_apart < LEAST_APART {
            return None;
        }
        let rows = 128.0;
        let upper = p + 0.05 + 3.0 * (p * (1.0 - p) / rows).sqrt();
        // A run of equal values that ended by itself is a bound as well.
        let seen = (-CHANCE / (2.0 * f64::from(self.longest.max(1)))).exp();
        let bound = upper.max(seen).max(FLOOR);
        (bound <= MOST_EQUAL).then_some(bound)
    }

    /// What the others may know of this channel.
    pub(super) fn shown(&self, step_degc: f64, doubtful: bool) -> Shown {
        let level = (self.last.is_full() && !doubtful).then(|| median(&mut self.last.clone()));
        Shown {
            level,
            range: self.range,
            step_degc,
            rows: self.run.map_or(0, |run| run.rows),
            equal: self.most_equal(),
        }
    }

    /// The run of equal values, if sound data would not have it. `own` is this channel's place.
    pub(super) fn stuck(
        &mut self,
        own: usize,
        t_ns: i64,
        step_degc: f64,
        shown: &[Shown],
    ) -> Option<Run> {
        let run = self.run?;
        let lasts_s = (t_ns - run.since_ns) as f64 / 1e9;
        if run.rows < 10 || lasts_s < LEAST_S {
            return None;
        }
        let others = || {
            let all = shown.iter().zip(&self.others).enumerate();
            all.filter(move |(place, _)| *place != own)
                .map(|(_, other)| other)
        };
        let is = self.told
            || self.by_its_past(run)
            || self.by_its_share(run, step_degc, others())
            || self.never_moved(run, lasts_s, others());
        self.told = is;
        is.then_some(run)
    }

    fn by_its_past(&self, run: Run) -> bool {
        self.most_equal()
            .is_some_and(|p| f64::from(run.rows) * -p.ln() >= CHANCE)
    }

    fn by_its_share<'a>(
        &self,
        run: Run,
        step_degc: f64,
        others: impl Iterator<Item = (&'a Shown, &'a Other)>,
    ) -> bool {
        let own = self.before.width();
        if own < LEAST_RANGE_DEGC.max(10.0 * step_degc) || run.rows <= 2 * self.longest {
            return false;
        }
        let least = SHARE_DEGC.max(SHARE_STEPS * step_degc);
        let abrupt = run.rows >= ABRUPT * self.longest;
        let expected = others
            .filter(|(shown, other)| shown.level.is_some() && other.before >= LEAST_RANGE_DEGC)
            .map(|(_, other)| {
                let counts = abrupt || other.stirred(run.rows, least * other.before / own);
                let share = own / other.before * other.since.width();
                if counts { share } else { 0.0 }
            });
        agreed(expected) >= least
    }

    fn never_moved<'a>(
        &self,
        run: Run,
        lasts_s: f64,
        others: impl Iterator<Item = (&'a Shown, &'a Other)> + Clone,
    ) -> bool {
        if self.longest > 0 || lasts_s < NEVER_S {
            return false;
        }
        let alive = others.filter(|(shown, _)| shown.level.is_some());
        let moved = agreed(alive.clone().map(|(_, other)| other.since.width()));
        let lively = |shown: &Shown| {
            shown.equal.is_some_and(|p| p <= FLOOR)
                && (1e-9..=FINE_DEGC).contains(&shown.step_degc)
                && shown.rows < 10
        };
        moved >= NEVER_DEGC
            || (run.rows >= NEVER_ROWS && alive.clone().any(|(shown, _)| lively(shown)))
    }

    /// Whether the run stands at the end of what the channel has shown, and came there on the way:
    /// `usual_degc` is its mean some blocks before.
    pub(super) fn at_its_end(&self, run: Run, usual_degc: f64, far_degc: f64) -> bool {
        let Some((low, high)) = self.before.0 else {
            return false;
        };
        let way = run.degc - usual_degc;
        high - low >= LEAST_RANGE_DEGC
            && ((run.degc >= high && way >= far_degc) || (run.degc <= low && -way >= far_degc))
    }

    /// Rows are missing here.
    pub(super) fn cut(&mut self) {
        self.run = None;
        self.last.clear();
        self.told = false;
    }
}

/// What the others say together: of one its own, of several the second largest, for one of them may
/// be at fault itself.
fn agreed(values: impl Iterator<Item = f64>) -> f64 {
    let (mut first, mut second, mut count) = (0.0_f64, 0.0_f64, 0);
    for value in values {
        second = second.max(first.min(value));
        first = first.max(value);
        count += 1;
    }
    if count > 1 { second } else { first }
}

#[cfg(test)]
mod tests;
