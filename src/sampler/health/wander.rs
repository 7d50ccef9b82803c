//! Up and down over minutes, in one channel alone: water in a joint leaks current.
//!
//! Medians of half a minute are followed by a zigzag: a turn is told when the way back is longer
//! than a threshold. Samples turn where the lamp or the air does, and then all of them do, a slow one
//! less. A channel that in an hour turns four times more often than any other one turns by so much as
//! two fifths of that, and still turns four times once all is taken out of it that another one explains
//! (`shared.rs`), wanders. Neither alone is enough: a slow sample shows a twentieth of what a fast one
//! in the sun does, and what explains nothing may be a channel that stands still by rounding.

use arrayvec::ArrayVec;

use super::noise::median;
use super::shared::{Path, left};

/// Length of a block in seconds, and in rows where that is longer.
pub(super) const BLOCK_S: f64 = 30.0;
pub(super) const BLOCK_ROWS: f64 = 2.0;

/// Values of a block that its median is taken of; more are thinned.
const MOST_VALUES: usize = 64;

/// A large turn in °C, and in small ones.
const LARGE_DEGC: f64 = 0.4;
const LARGE: f64 = 3.0;

/// Another channel sees a turn of which it shows so much as one part in this.
const SEEN: f64 = 2.5;

/// A small turn in °C, in smallest steps, and in the medians' own scatter.
const SMALL_DEGC: f64 = 0.08;
const SMALL_STEPS: f64 = 1.5;
const SMALL_SD: f64 = 5.0;

/// A turn of what an explanation leaves, in the scatter that it takes over from the other channel.
const SHOWN_SD: f64 = 8.0;

/// Turns more than others that make a wandering, and those that are remembered.
const TURNS: usize = 4;

/// One that wanders goes on with it until it turns less often than this.
const STILL_TURNS: usize = 2;
const MOST_TURNS: usize = 12;

/// Points of a path that are all alike after it went so far, in °C: it stands still.
const STILL_POINTS: usize = 8;
const FAR_DEGC: f64 = 1.0;

/// They fall within so long, in ns, and within so many blocks where that is longer.
const WINDOW_NS: i64 = 3_600_000_000_000;
const WINDOW_BLOCKS: f64 = 40.0;

/// Fourth differences of medians whose median magnitude is the medians' scatter: they cancel what is
/// slow, a wandering of minutes too, and white noise comes through them √70 times as large; the
/// median magnitude of a normal variate is 0.6745 of its standard deviation.
const REMEMBERED: usize = 32;
const TO_SD: f64 = 0.1772;

/// One channel's way over minutes.
#[derive(Debug, Clone, Default)]
pub(super) struct Wander {
    values: ArrayVec<f64, MOST_VALUES>,
    seen: u32,
    before: ArrayVec<f64, 4>,
    fourth: ArrayVec<f64, REMEMBERED>,
    oldest: usize,
    large: Zigzag,
    small: Zigzag,
    path: Path,
    /// What noise and rounding of the medians do to a turn at most, in °C.
    noise_degc: f64,
    /// What both ask for at the last block, in °C.
    large_degc: f64,
    small_degc: f64,
    /// When the first of the blocks without a cut between them ended, and the last one.
    begun_ns: Option<i64>,
    last_ns: Option<i64>,
}

impl Wander {
    pub(super) fn take(&mut self, degc: f64) {
        if self.values.is_full() {
            // Every other one is enough from here on.
            self.seen += 1;
            if self.seen.is_multiple_of(2)
                && let Some(place) = self.values.get_mut(self.seen as usize / 2 % MOST_VALUES)
            {
                *place = degc;
            }
        } else {
            self.values.push(degc);
        }
    }

    /// Ends the block at a time; gives its median in °C.
    pub(super) fn close(&mut self, t_ns: i64, step_degc: f64) -> Option<f64> {
        self.seen = 0;
        let mut values = std::mem::take(&mut self.values);
        if values.is_empty() {
            return None;
        }
        let middle = median(&mut values);
        self.begun_ns.get_or_insert(t_ns);
        self.last_ns = Some(t_ns);
        if let [a, b, c, d] = self.before.as_slice() {
            let fourth = (a - 4.0 * b + 6.0 * c - 4.0 * d + middle).abs();
            if let Some(place) = self.fourth.get_mut(self.oldest) {
                *place = fourth;
            } else {
                self.fourth.push(fourth);
            }
            self.oldest = (self.oldest + 1) % REMEMBERED;
            self.before.remove(0);
        }
        self.before.push(middle);
        if self.path.is_full() {
            self.path.remove(0);
        }
        self.path.push((t_ns, middle));
        let sd = TO_SD * median(&mut self.fourth.clone());
        self.noise_degc = (SMALL_STEPS * step_degc).max(SMALL_SD * sd);
        let small = SMALL_DEGC.max(self.noise_degc);
        self.small_degc = small;
        self.large_degc = LARGE_DEGC.max(LARGE * small);
        self.small.take(t_ns, middle, small);
        self.large.take(t_ns, middle, self.large_degc);
        Some(middle)
    }

    /// Since when this channel wanders, if it does and others are there that do not, each of which
    /// comes with the time since which it is in no doubt; `wanders` says whether it did a block ago.
    pub(super) fn since<'a>(
        &self,
        t_ns: i64,
        (block_s, wanders): (f64, bool),
        others: impl Iterator<Item = (&'a Wander, i64)>,
    ) -> Option<i64> {
        let window_ns = WINDOW_NS.max((WINDOW_BLOCKS * block_s * 1e9) as i64);
        let from_ns = t_ns - window_ns;
        let least = if wanders { STILL_TURNS } else { TURNS };
        let mut turns = self.large.turns.iter().filter(|ns| **ns >= from_ns);
        let first_ns = *turns.next()?;
        let count = turns.count() + 1;
        if count < least {
            return None;
        }
        let mut most = None;
        for (other, sound_ns) in others {
            let own = self.own_turns(other, from_ns, wanders);
            if own.is_some_and(|turns| turns < least) {
                return None;
            }
            // One that is too noisy to show a small turn tells nothing.
            let sees = other.small_degc * SEEN <= self.large_degc
                && other.last_ns == Some(t_ns)
                && !other.stands_still();
            let begun_ns = other.begun_ns.filter(|_| sees);
            if begun_ns.is_some_and(|ns| ns.max(sound_ns) <= first_ns) {
                let turns = other.small.since(first_ns);
                most = most.max(Some(turns));
            }
        }
        (count >= least + most?).then_some(first_ns)
    }

    /// Whether it went far and now shows the same value to the last digit: a probe that is stuck, or at
    /// the end of its converter, tells nothing of the air.
    fn stands_still(&self) -> bool {
        let still = self.path.len().saturating_sub(STILL_POINTS);
        let range = |points: &[(i64, f64)]| {
            let values = points.iter().map(|(_, degc)| *degc);
            let (low, high) = values.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), v| {
                (low.min(v), high.max(v))
            });
            high - low
        };
        let last = self.path.get(still..).unwrap_or_default();
        range(last) <= 0.0 && range(&self.path) >= FAR_DEGC
    }

    /// Large turns that another channel's way does not explain, where both can be compared. At first
    /// none counts that the other's noise may have made; what wandered needs no such proof to go on.
    fn own_turns(&self, other: &Wander, from_ns: i64, wanders: bool) -> Option<usize> {
        let own = left(&self.path, &other.path, from_ns)?;
        let noise = other.noise_degc.max(SHOWN_SD * scatter(&other.path));
        let shown = if wanders { 0.0 } else { own.gain * noise };
        Some(turns_of(&own.path, self.large_degc.max(shown)))
    }

    /// Rows are missing here.
    pub(super) fn cut(&mut self) {
        *self = Self::default();
    }
}

/// Scatter of a path's points around what is slow in it, as the root of a mean: a quarter of an hour of
/// noise may turn as often as an hour of it.
fn scatter(path: &Path) -> f64 {
    let squares = path.windows(5).filter_map(|w| match w {
        [a, b, c, d, e] => Some((a.1 - 4.0 * b.1 + 6.0 * c.1 - 4.0 * d.1 + e.1).powi(2)),
        _ => None,
    });
    let count = path.len().saturating_sub(4).max(1);
    (squares.sum::<f64>() / (70.0 * count as f64)).sqrt()
}

/// How often a path turns.
fn turns_of(path: &Path, threshold: f64) -> usize {
    let mut zigzag = Zigzag::default();
    for &(t_ns, degc) in path {
        zigzag.take(t_ns, degc, threshold);
    }
    zigzag.turns.len()
}

/// Where a path turns.
#[derive(Debug, Clone, Default)]
struct Zigzag {
    /// Lowest and highest since the last turn, each with its time.
    low: Option<(i64, f64)>,
    high: Option<(i64, f64)>,
    /// Up or down since the last turn; neither at first.
    up: Option<bool>,
    turns: ArrayVec<i64, MOST_TURNS>,
}

impl Zigzag {
    fn take(&mut self, t_ns: i64, value: f64, threshold: f64) {
        let here = Some((t_ns, value));
        let (Some((low_ns, low)), Some((high_ns, high))) = (self.low, self.high) else {
            (self.low, self.high) = (here, here);
            return;
        };
        if value < low {
            self.low = here;
        }
        if value > high {
            self.high = here;
        }
        let rose = value - low >= threshold && self.up != Some(true);
        let fell = high - value >= threshold && self.up != Some(false);
        if rose || fell {
            if self.up.is_some() {
                if self.turns.is_full() {
                    self.turns.remove(0);
                }
                self.turns.push(if rose { low_ns } else { high_ns });
            }
            self.up = Some(rose);
            (self.low, self.high) = (here, here);
        }
    }

    fn since(&self, from_ns: i64) -> usize {
        self.turns.iter().filter(|ns| **ns >= from_ns).count()
    }
}
