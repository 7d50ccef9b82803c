//! One channel's last minutes in blocks, and whether a bend in them is what it seems.

use super::Kind;
use super::noise::{inflation, median};
use super::project::dot;

/// Blocks kept per channel.
pub(super) const LONGEST: usize = 120;

/// Missing blocks that are bridged; after more the channel starts again.
pub(super) const BRIDGE: usize = 3;

/// A bend must have moved the temperature by this many resolution steps.
const STEPS: f64 = 2.5;

/// Residuals since the bend may be this many times larger than before it.
const JUMP: f64 = 2.0;

/// One channel's recent past.
#[derive(Debug, Clone, Default)]
pub(super) struct Trace {
    sum: f64,
    count: f64,
    /// The last two block means, for the running median of three.
    raw: Vec<f64>,
    /// Block values, oldest first, at most [`LONGEST`].
    pub(super) blocks: Vec<f64>,
    missing: usize,
    /// Smallest change between readings seen, in degrees Celsius.
    pub(super) step_degc: f64,
    last: f64,
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
            match self.raw.last() {
                Some(last) => *last,
                None => return,
            }
        };
        (self.sum, self.count) = (0.0, 0.0);
        self.raw.push(value);
        if self.raw.len() > 3 {
            self.raw.remove(0);
        }
        // A running median of three takes out a lone spike and costs one block of delay.
        if self.raw.len() == 3 {
            let mut three = self.raw.clone();
            self.blocks.push(median(&mut three));
        }
        if self.blocks.len() > LONGEST {
            self.blocks.remove(0);
        }
    }

    pub(super) fn restart(&mut self) {
        self.raw.clear();
        self.blocks.clear();
        (self.sum, self.count) = (0.0, 0.0);
    }

    pub(super) fn newest(&self, len: usize) -> Option<&[f64]> {
        let from = self.blocks.len().checked_sub(len)?;
        self.blocks.get(from..)
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

/// Inflation of a bend's variance by correlated noise, from the residuals of a short window.
///
/// A fit of four parameters hides part of the correlation: the first correlation coefficient is
/// corrected for that (after Marriott and Pope 1954) and taken as that of a first-order process.
pub(super) fn correlated(r: &[f64]) -> f64 {
    let power = dot(r, r);
    let along: f64 = r.iter().zip(r.iter().skip(1)).map(|(a, b)| a * b).sum();
    if power <= 0.0 {
        return 1.0;
    }
    let rho = along / power;
    let phi = (rho + (4.0 + 8.0 * rho.max(0.0)) / r.len() as f64).clamp(0.0, 0.97);
    inflation(r).max((1.0 + phi) / (1.0 - phi))
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
