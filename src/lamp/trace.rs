//! One channel's newest readings in blocks: spikes left out, the rest handed to its filters.

mod judged;

use arrayvec::ArrayVec;

use super::noise::{median, robust_sd};
use super::placed::profile;
use super::track::{Gap, OLDEST, Ramp, Track};

/// Blocks kept: what spikes and jumps are told by.
const KEPT: usize = OLDEST + 1;

/// Fewest blocks to tell one by.
const FEWEST: usize = 8;

/// Missing blocks that are bridged; after more the channel goes on from what was foretold, and after so many seconds
/// it starts again.
pub(super) const BRIDGE: usize = 10;
const LONGEST_S: f64 = 1800.0;

/// Blocks behind a gap that are judged together, since a spike may be among them.
const TOGETHER: usize = 3;

/// A block that differs from the usual of late by more than this many standard deviations of
/// differences is a spike; the newest one is not believed until the next has come.
const SPIKE: f64 = 4.0;

/// Where several rows fall into a block, one that differs by more than this many standard deviations of what
/// the last rows changed waits until the next has come; so many changes tell.
const LONE: f64 = 6.0;
const CHANGES: usize = 16;

/// A touch: half a change over two blocks differs from the changes before and behind it by this many standard
/// deviations of differences, and neither goes against it as by a spike; and the blocks (or seconds, if longer)
/// that a touch needs to die away, since its fading looks like a ramp. A lamp warms nothing so suddenly: however strong
/// it is beside the noise, the changes grow at first, as the lags let them, and go on.
const SUDDEN: f64 = 4.5;
const BACK: f64 = 0.5;
const UNQUIET: f64 = 75.0;

/// One channel's recent past.
#[derive(Debug, Clone, Default)]
pub(super) struct Trace {
    sum: f64,
    count: f64,
    /// Block values, oldest first, at most [`KEPT`].
    blocks: Vec<f64>,
    missing: usize,
    /// Those of them that the filters were handed.
    bridged: usize,
    /// Blocks since the beginning or the last that was missing, while the filters wait for more.
    unbroken: usize,
    /// Blocks of a gap, until the filters go on, and those that they were not handed.
    gap: Option<(usize, usize)>,
    /// Scatter before the last gap.
    calm: Option<f64>,
    /// Rows in a block, of late.
    rows: f64,
    /// The last row that was taken, what the last ones changed, and one that waits to be believed.
    row: Option<f64>,
    changes: ArrayVec<f64, CHANGES>,
    held: Option<f64>,
    /// How far the last block was from the usual, where that was strange.
    off: f64,
    /// The newest blocks as they came, newest first.
    newest: ArrayVec<f64, 5>,
    /// Blocks until the channel counts again after a jump.
    unquiet: usize,
    /// Smallest change between readings seen, in degrees Celsius.
    pub(super) step_degc: f64,
    last: Option<f64>,
    track: Track,
}

impl Trace {
    pub(super) fn take(&mut self, value: f64) {
        if !value.is_finite() || value.abs() > 1e5 {
            return;
        }
        let change = self.last.map_or(0.0, |last| (value - last).abs());
        if change > 1e-7 && (self.step_degc <= 0.0 || change < self.step_degc) {
            self.step_degc = change;
        }
        self.last = Some(value);
        let held = self.held.take();
        if self.is_lone(value, held) {
            self.held = Some(value);
            return;
        }
        // What goes on where the one before was is no spike.
        let goes_on = |held: &f64| {
            self.row
                .is_some_and(|row| (value - held).abs() < (value - row).abs())
        };
        if let Some(held) = held.filter(goes_on) {
            self.add(held);
        }
        self.add(value);
    }

    fn add(&mut self, value: f64) {
        if let Some(row) = self.row {
            if self.changes.is_full() {
                self.changes.remove(0);
            }
            self.changes.push(value - row);
        }
        self.row = Some(value);
        self.sum += value;
        self.count += 1.0;
    }

    /// Whether a row is far from the last that was taken and from one that waits. Where a block is a single row
    /// its neighbours judge it.
    fn is_lone(&self, value: f64, held: Option<f64>) -> bool {
        let (Some(row), true) = (self.row, self.is_averaged() && self.changes.is_full()) else {
            return false;
        };
        let limit = LONE * robust_sd(&self.changes).max(self.step_degc);
        let far = |from: f64| (value - from).abs() > limit;
        far(row) && held.is_none_or(|held| far(held) || (value - held).abs() > (value - row).abs())
    }

    /// Whether blocks are means of several rows.
    fn is_averaged(&self) -> bool {
        self.rows > 1.5
    }

    /// Ends a block of `width_s` seconds.
    pub(super) fn close_block(&mut self, width_s: f64) {
        if self.count > 0.0 {
            self.come_back(width_s);
            self.rows += (self.count - self.rows) / 8.0;
            let value = self.sum / self.count;
            (self.sum, self.count) = (0.0, 0.0);
            let usual = self.usual_change();
            let believed = self.append(value, usual, width_s);
            let (usual, least) = (self.scatter(), self.floor());
            if self.track.has_begun() && self.gap.is_none() {
                self.track.take(believed, usual, least, width_s);
            } else {
                self.begin(usual, least, width_s);
            }
        } else {
            self.skip(1);
            if self.missing <= BRIDGE && self.gap.is_none() {
                self.bridged += 1;
                self.track.take(None, f64::INFINITY, self.floor(), width_s);
            }
        }
    }

    /// Ends a block that was to have so many rows with those that have come, for as much as they are worth.
    pub(super) fn close_open_block(&mut self, rows: f64, width_s: f64) {
        if self.count > 0.0 {
            let lacks = (rows - self.count).max(0.0) / rows;
            self.sum += self.count * 0.5 * lacks * self.track.slope();
            self.track.weigh(1.0 / (1.0 - lacks));
        }
        self.close_block(width_s);
        self.track.weigh(1.0);
    }

    /// So many blocks have no reading.
    pub(super) fn skip(&mut self, blocks: usize) {
        let was_near = self.missing <= BRIDGE;
        self.missing += blocks;
        self.unbroken = 0;
        if was_near && self.missing > BRIDGE {
            self.track.lose();
        }
    }

    /// The first reading after missing blocks.
    fn come_back(&mut self, width_s: f64) {
        let missing = std::mem::take(&mut self.missing);
        let bridged = std::mem::take(&mut self.bridged);
        if missing > 1 {
            self.newest.clear();
        }
        if missing == 0 || (missing <= BRIDGE && self.gap.is_none()) {
            return;
        }
        let (places, ahead) = self.gap.unwrap_or((0, 0));
        let places = places + missing;
        if places as f64 * width_s > LONGEST_S || !self.track.has_begun() {
            let (sum, count) = (self.sum, self.count);
            self.restart();
            (self.sum, self.count) = (sum, count);
            return;
        }
        let scatter = self.scatter();
        self.calm = Some(scatter).filter(|s| s.is_finite()).or(self.calm);
        self.gap = Some((places, ahead + missing - bridged));
        self.unquiet = self.unquiet.saturating_sub(missing);
        self.blocks.clear();
        self.row = None;
        self.off = 0.0;
    }

    /// Hands the first blocks to the filters, once their scatter is known.
    fn begin(&mut self, usual: f64, least: f64, width_s: f64) {
        self.unbroken += 1;
        if usual.is_finite() && (self.gap.is_none() || self.unbroken >= TOGETHER) {
            self.smooth_out_spikes();
            let from = self.blocks.len().saturating_sub(self.unbroken);
            if let (Some(gap), Some(level)) = (self.gap.take(), self.blocks.get(from)) {
                self.track.resume(*level, gap, width_s);
            }
            for value in self.blocks.iter().skip(from) {
                self.track.take(Some(*value), usual, least, width_s);
            }
        }
    }

    /// Takes spikes out of the first blocks, which came before there was a scatter to tell them by. To the filters
    /// one of them would be the noise's correlation for minutes.
    fn smooth_out_spikes(&mut self) {
        let limit = SPIKE * self.usual_change();
        let raw = self.blocks.clone();
        let last = raw.len().saturating_sub(3);
        for (i, block) in self.blocks.iter_mut().enumerate() {
            let from = i.saturating_sub(1).min(last);
            let middle = median(&mut raw.get(from..from + 3).unwrap_or_default().to_vec());
            if (*block - middle).abs() > limit {
                *block = middle;
            }
        }
    }

    /// Adds a block, and gives it back if it is believed; the one before is judged again now that both
    /// its neighbours are known.
    fn append(&mut self, value: f64, usual_change: f64, width_s: f64) -> Option<f64> {
        let limit = SPIKE * usual_change;
        let before = self.blocks.len().checked_sub(2);
        let before = before.and_then(|i| self.blocks.get(i));
        if let (Some(&before), Some(&raw)) = (before, self.newest.first()) {
            let middle = median(&mut [before, raw, value]);
            let kept = if (raw - middle).abs() > limit {
                middle
            } else {
                raw
            };
            if let Some(slot) = self.blocks.last_mut() {
                *slot = kept;
            }
        }
        // One that is not believed yet stands in as the usual of late: the last block alone may be
        // half a spike itself.
        let from = self.blocks.len().saturating_sub(3);
        let mut late = self.blocks.get(from..).unwrap_or_default().to_vec();
        let usual = median(&mut late);
        let off = if (value - usual).abs() > limit {
            value - usual
        } else {
            0.0
        };
        // A spike is gone with the next block; what goes on the same way is none.
        let strange = off * off > 0.0 && self.off * off <= 0.0;
        let jumped = self.touched(value);
        self.unquiet = if jumped {
            (UNQUIET / width_s.min(1.0)) as usize
        } else {
            self.unquiet.saturating_sub(1)
        };
        self.off = off;
        self.blocks.push(if strange { usual } else { value });
        if self.blocks.len() > KEPT {
            self.blocks.remove(0);
        }
        (!strange).then_some(value)
    }

    /// Whether the blocks before this one hold the jump of a touch.
    ///
    /// Several rows in a block have finer steps than each of them, so it is the scatter alone that counts.
    fn touched(&mut self, value: f64) -> bool {
        let usual_change = self.scatter() * self.few();
        self.newest.truncate(4);
        self.newest.insert(0, value);
        let [after, up, _, down, before] = *self.newest.as_slice() else {
            return false;
        };
        let jump = up - down;
        let alone = |change: f64| {
            let along = change * jump.signum();
            0.5 * jump.abs() - along > SUDDEN * usual_change && along > -BACK * jump.abs()
        };
        alone(down - before) && alone(after - up)
    }

    /// Standard deviation of the change from block to block, at least one step of the readings; from
    /// few blocks it may come out far too small, so it is taken larger.
    pub(super) fn usual_change(&self) -> f64 {
        self.scatter().max(self.step_degc) * self.few()
    }

    /// How many times too small what is told from few blocks may come out.
    fn few(&self) -> f64 {
        let known = self.calm.map_or(1, |_| KEPT);
        1.0 + FEWEST as f64 / self.blocks.len().max(known) as f64
    }

    /// The same as it is, infinite for too few blocks; at least what rounding adds.
    fn scatter(&self) -> f64 {
        if self.blocks.len() < FEWEST {
            return self.calm.unwrap_or(f64::INFINITY);
        }
        let changes = self.blocks.iter().zip(self.blocks.iter().skip(1));
        let changes: Vec<f64> = changes.map(|(a, b)| b - a).collect();
        robust_sd(&changes).max(self.floor())
    }

    /// Forgets all but the step of the readings.
    pub(super) fn restart(&mut self) {
        *self = Self {
            step_degc: self.step_degc,
            ..Self::default()
        };
    }

    /// Begins anew after an edge.
    pub(super) fn moved(&mut self, width_s: f64, is_told: bool) {
        if let Some(level) = self.blocks.last() {
            self.track.moved(*level, width_s, is_told);
        }
    }

    /// Whether the channel has just been touched.
    pub(super) fn is_unquiet(&self) -> bool {
        self.unquiet > 0
    }

    /// Blocks since the beginning or the last edge.
    pub(super) fn places(&self) -> usize {
        self.track.places()
    }

    /// A ramp that set in `age` blocks ago, if there are so many; `shape` is one of unit slope.
    pub(super) fn ramp(&self, age: usize, shape: &[f64]) -> Option<Ramp> {
        self.track.ramp(age, shape)
    }

    /// What speaks for each age of a ramp that stands out, in the blocks since the last edge.
    pub(super) fn placed(&self, shape: &[f64], width_s: f64) -> Option<Vec<(usize, f64)>> {
        let from = self.blocks.len().saturating_sub(self.places());
        let (ages, left) = profile(self.blocks.get(from..)?, shape, width_s)?;
        let variance = left.max(self.floor().powi(2));
        Some(
            ages.into_iter()
                .map(|(age, e)| (age, e / variance))
                .collect(),
        )
    }

    /// The last gap, and the ramp for an edge within it; `line` is one of unit slope.
    pub(super) fn in_gap(&self, line: &[f64]) -> Option<(Gap, Ramp)> {
        self.track.in_gap(line)
    }

    /// Least standard deviation that rounded readings can have.
    fn floor(&self) -> f64 {
        (self.step_degc / 12.0_f64.sqrt()).max(1e-6)
    }
}
