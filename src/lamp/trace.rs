//! One channel's last minutes in blocks, and whether a bend in them is what it seems.

use super::Kind;
use super::bend::Bank;
use super::noise::{median, robust_sd};
use super::project::dot;

/// Blocks kept per channel.
pub(super) const LONGEST: usize = 241;

/// Missing blocks that are bridged; after more the channel starts again.
pub(super) const BRIDGE: usize = 3;

/// A bend must have moved the temperature by this many resolution steps.
const STEPS: f64 = 2.5;

/// Residuals since the bend may be this many times larger than before it.
const JUMP: f64 = 2.0;

/// A block that differs from both neighbours by more than this many standard deviations of
/// differences is a spike; the newest one is not believed until the next has come.
const SPIKE: f64 = 4.0;

/// Newest blocks that do not count for the noise: a bend may have begun in them.
const FRESH: usize = 20;

/// Residuals count for the noise up to this many robust standard deviations.
const CLIP: f64 = 3.0;

/// Blocks over which the noise's correlation is averaged.
const MEMORY: f64 = 200.0;

/// One channel's recent past.
#[derive(Debug, Clone, Default)]
pub(super) struct Trace {
    sum: f64,
    count: f64,
    /// The newest block as it came.
    raw: Option<f64>,
    /// Block values, oldest first, at most [`LONGEST`].
    pub(super) blocks: Vec<f64>,
    missing: usize,
    /// Smallest change between readings seen, in degrees Celsius.
    pub(super) step_degc: f64,
    last: f64,
    /// Averages of the residuals' power and of the product of neighbours.
    power: f64,
    along: f64,
}

impl Trace {
    pub(super) fn take(&mut self, value: f64) {
        if !value.is_finite() || value.abs() > 1e5 {
            return;
        }
        let change = (value - self.last).abs();
        if change > 1e-7 && (self.step_degc <= 0.0 || change < self.step_degc) {
            self.step_degc = change;
        }
        self.last = value;
        self.sum += value;
        self.count += 1.0;
    }

    pub(super) fn close_block(&mut self) {
        let value = if self.count > 0.0 {
            self.missing = 0;
            self.sum / self.count
        } else {
            self.missing += 1;
            if self.missing > BRIDGE {
                self.restart();
                return;
            }
            match self.raw {
                Some(last) => last,
                None => return,
            }
        };
        (self.sum, self.count) = (0.0, 0.0);
        self.append(value);
    }

    /// Adds a block; the one before is judged again now that both its neighbours are known.
    fn append(&mut self, value: f64) {
        let limit = SPIKE * self.usual_change();
        let before = self
            .blocks
            .len()
            .checked_sub(2)
            .and_then(|i| self.blocks.get(i));
        if let (Some(&before), Some(raw)) = (before, self.raw) {
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
        let believed = if (value - usual).abs() > limit {
            usual
        } else {
            value
        };
        self.raw = Some(value);
        self.blocks.push(believed);
        if self.blocks.len() > LONGEST {
            self.blocks.remove(0);
        }
    }

    /// Standard deviation of the change from block to block, at least one step of the readings.
    fn usual_change(&self) -> f64 {
        let from = self.blocks.len().saturating_sub(40);
        let newest = self.blocks.get(from..).unwrap_or_default();
        if newest.len() < 8 {
            return f64::INFINITY;
        }
        let changes: Vec<f64> = newest
            .iter()
            .zip(newest.iter().skip(1))
            .map(|(a, b)| b - a)
            .collect();
        robust_sd(&changes).max(self.step_degc).max(1e-6)
    }

    pub(super) fn restart(&mut self) {
        self.raw = None;
        self.blocks.clear();
        (self.sum, self.count) = (0.0, 0.0);
    }

    pub(super) fn newest(&self, len: usize) -> Option<&[f64]> {
        let from = self.blocks.len().checked_sub(len)?;
        self.blocks.get(from..)
    }

    /// Takes account of the noise in a window, but for its newest part.
    pub(super) fn learn(&mut self, bank: &Bank) {
        let Some(window) = self.newest(bank.len) else {
            return;
        };
        let mut r = bank.residual(window);
        r.truncate(bank.len - FRESH);
        let limit = CLIP * robust_sd(&r).max(self.floor());
        for x in &mut r {
            *x = x.clamp(-limit, limit);
        }
        let power = dot(&r, &r);
        let along: f64 = r.iter().zip(r.iter().skip(1)).map(|(a, b)| a * b).sum();
        // A parabola hides part of the correlation (Marriott and Pope 1954).
        let n = r.len() as f64;
        let hidden = power * (3.0 + 6.0 * (along / power.max(1e-18)).max(0.0)) / n;
        let keep = 1.0 - 1.0 / MEMORY;
        self.power = keep * self.power + power / n;
        self.along = keep * self.along + (along + hidden) / n;
    }

    /// Correlation between neighbouring blocks.
    pub(super) fn phi(&self) -> f64 {
        if self.power > 0.0 {
            (self.along / self.power).clamp(0.0, 0.95)
        } else {
            0.0
        }
    }

    /// Least standard deviation that rounded readings can have.
    pub(super) fn floor(&self) -> f64 {
        (self.step_degc / 12.0_f64.sqrt()).max(1e-6)
    }
}

/// Whether the slope really turns: by more than coarse steps could feign, and past level.
///
/// A lamp that goes off makes a warm sample cool; a heating curve that merely flattens goes on
/// rising. And the other way round for a lamp that goes on.
pub(super) fn turns(window: &[f64], age: usize, lags: f64, kind: Kind, trace: &Trace) -> bool {
    let bend = window.len() - age;
    let settled = (bend + lags.ceil() as usize).min(window.len().saturating_sub(3));
    let before = slope(
        window
            .get(bend.saturating_sub(25)..bend)
            .unwrap_or_default(),
    );
    let after = slope(window.get(settled..).unwrap_or_default());
    let change = kind.sign() * (after - before);
    let reach = age as f64 * change;
    kind.sign() * after > -0.2 * change && reach > STEPS * trace.step_degc
}

/// Whether what is left since the bend is far larger than before it: then something jumped (a
/// touched probe), and a bend is not what happened.
pub(super) fn jumps(r: &[f64], age: usize, floor: f64) -> bool {
    let bend = r.len().saturating_sub(age + 1);
    let (early, late) = r.split_at(bend.min(r.len()));
    let rms = |v: &[f64]| (dot(v, v) / v.len().max(1) as f64).sqrt();
    rms(late) > JUMP * rms(early).max(floor)
}

/// Slope per block by least squares.
fn slope(values: &[f64]) -> f64 {
    let n = values.len() as f64;
    let middle = 0.5 * (n - 1.0);
    let (mut xy, mut xx) = (0.0, 0.0);
    for (i, y) in values.iter().enumerate() {
        let x = i as f64 - middle;
        xy += x * y;
        xx += x * x;
    }
    if xx > 0.0 { xy / xx } else { 0.0 }
}
