//! What the newest blocks themselves say of a ramp.

use super::super::project::dot;
use super::Trace;

/// A step must describe the newest readings so many times better than the ramp.
const CLEARER: f64 = 1.12;

/// Steps of the readings that are no jump.
const COARSE: f64 = 2.5;

/// Blocks within which a jump dies away.
const FADES: [f64; 3] = [1e9, 40.0, 15.0];

impl Trace {
    /// Slope of the newest so many blocks by least squares, in degrees a block.
    pub(in crate::lamp) fn slope(&self, blocks: usize) -> f64 {
        let from = self.blocks.len().saturating_sub(blocks);
        let newest = self.blocks.get(from..).unwrap_or_default();
        let middle = 0.5 * (newest.len() as f64 - 1.0);
        let (mut xy, mut xx) = (0.0, 0.0);
        for (i, y) in newest.iter().enumerate() {
            let x = i as f64 - middle;
            xy += x * y;
            xx += x * x;
        }
        if xx > 0.0 { xy / xx } else { 0.0 }
    }

    /// Whether something jumped in the last `age` blocks (a touched probe) rather than that a ramp set in:
    /// one step, for good or dying away, describes what is above the foretold better.
    pub(in crate::lamp) fn jumped(&self, age: usize, shape: &[f64]) -> bool {
        let from = self.blocks.len().saturating_sub(age);
        let newest = self.blocks.get(from..).unwrap_or_default();
        let Some(foretold) = self.track.foretold(newest.len()) else {
            return false;
        };
        let above: Vec<f64> = newest.iter().zip(foretold).map(|(y, f)| y - f).collect();
        let explained = |h: &[f64]| {
            let size = dot(h, &above) / dot(h, h).max(1e-12);
            (size, size * dot(h, &above))
        };
        let (_, ramp) = explained(shape.get(1..=above.len()).unwrap_or_default());
        let step = |at: usize, fade: f64, first: f64| {
            let since = |i: usize| match i.checked_sub(at) {
                None => 0.0,
                Some(0) => first,
                Some(u) => (-(u as f64) / fade).exp(),
            };
            let step: Vec<f64> = (0..above.len()).map(since).collect();
            let (size, step) = explained(&step);
            // Coarse readings climb in steps of their own.
            step > CLEARER * ramp && size.abs() > COARSE * self.step_degc
        };
        (0..above.len().saturating_sub(1)).any(|at| {
            // What falls between the rows of a block shows in it by half.
            let within = || self.is_averaged() && FADES.iter().any(|fade| step(at, *fade, 0.5));
            FADES.iter().any(|fade| step(at, *fade, 1.0)) || within()
        })
    }

    /// Whether readings that stand still have gone no further in the last `age` blocks than they were before.
    pub(in crate::lamp) fn stands(&self, age: usize, sign: f64) -> bool {
        let (before, since) = self.blocks.split_at(self.blocks.len().saturating_sub(age));
        let most = |blocks: &[f64]| blocks.iter().map(|y| sign * y).fold(f64::MIN, f64::max);
        self.scatter() <= self.floor() && most(since) < most(before) + 0.4 * self.step_degc
    }
}
