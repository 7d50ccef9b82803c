//! Rows gathered into blocks, and the look at a block that is still open.
//!
//! A block is as many whole intervals between rows as come nearest to half a second. It ends in the middle between
//! two rows, so that the last of them is known for its last when it comes. Were a row to fall on the end, the block would wait
//! for it, a whole interval; and the ends follow the rows, lest the board's clock bring it there.
//!
//! Where something is afoot an edge need not wait for the end of its block either. After each row the block is taken
//! as if it ended there, in a copy of the watcher: `n` of `N` rows have a mean whose variance is `N/n` of the whole
//! block's where noise is white, and less where it lasts, so that evidence is not overrated; and what came `(N - n)/2`
//! intervals before the middle of the block is brought there along the slope that is foretold, lest a steep curve seem to
//! bend. The copy counts if it tells an edge and is forgotten otherwise. It is 130 kB for two channels, which is
//! why nobody looks where nothing is afoot.

use super::super::noise::median;
use super::super::response::Chain;
use super::super::trace::BRIDGE;
use super::super::track::OLDEST;
use super::{EdgeSeen, Watcher};

/// Intervals that the width of a block is settled from, and the shortest that counts, in seconds.
pub(super) const SPACINGS: usize = 5;
const SHORTEST_S: f64 = 1e-6;

/// A row this share of an interval before the end of a block is its last; and by what share of how far it was from half
/// an interval before the end the next ends follow.
const EARLY: f64 = 0.75;
const FOLLOWS: f64 = 0.25;

/// Length of a block in seconds, where rows come more often. Half as long ones would be noticed sooner still, but the
/// filters would reach back too little for weak lamps.
const BLOCK_S: f64 = 0.5;

impl Watcher {
    /// Takes one row into the blocks.
    pub(super) fn take(&mut self, t_s: f64, degc: &[f64]) -> Option<EdgeSeen> {
        let mut seen = None;
        if t_s >= self.block_end_s {
            seen = self.close_blocks(t_s);
        }
        for (trace, &value) in self.traces.iter_mut().zip(degc) {
            trace.take(value);
        }
        // A block to which no further row is to come need not wait for the next one.
        if t_s + EARLY * self.spacing_s >= self.block_end_s {
            self.block_end_s += FOLLOWS * (t_s + 0.5 * self.spacing_s - self.block_end_s);
            return seen.or(self.close_block(t_s));
        }
        seen.or_else(|| self.look_ahead(t_s))
    }

    /// What would be told if the block ended with this row; if there is something, it does.
    ///
    /// With less evidence than is asked for by far nobody need look.
    fn look_ahead(&mut self, t_s: f64) -> Option<EdgeSeen> {
        if !self.is_afoot {
            return None;
        }
        let mut ahead = self.clone();
        let width_s = self.width_s;
        let rows = (width_s / self.spacing_s).round();
        let traces = ahead.traces.iter_mut();
        traces.for_each(|t| t.close_open_block(rows, width_s));
        let seen = ahead.judge(self.block_end_s - 0.5 * width_s, t_s)?;
        ahead.block_end_s = t_s + 0.5 * self.spacing_s + width_s;
        *self = ahead;
        Some(seen)
    }

    /// The block width from the first rows: some half a second in whole intervals, at least one. The first block is
    /// a whole one too, and ends in the middle between two rows.
    pub(super) fn settle_width(&mut self, first: &[(f64, Vec<f64>)]) {
        let times = || first.iter().map(|(t_s, _)| *t_s);
        let mut spacings: Vec<f64> = times().zip(times().skip(1)).map(|(a, b)| b - a).collect();
        self.spacing_s = median(&mut spacings).max(SHORTEST_S);
        self.width_s = self.spacing_s * (BLOCK_S / self.spacing_s).round().max(1.0);
        let first_s = times().next().unwrap_or_default();
        self.block_end_s = first_s + self.width_s - 0.5 * self.spacing_s;
        let lags = [self.lags_s.0 / self.width_s, self.lags_s.1 / self.width_s];
        let chain = Chain::new(&lags);
        self.shape = (0..=OLDEST).map(|u| chain.ramp(u as f64)).collect();
    }

    fn close_blocks(&mut self, t_s: f64) -> Option<EdgeSeen> {
        let passed = (((t_s - self.block_end_s) / self.width_s).floor() + 1.0) as usize;
        if passed > BRIDGE + 1 {
            let seen = self.close_block(t_s);
            self.traces.iter_mut().for_each(|t| t.skip(passed - 1));
            self.block_end_s += (passed - 1) as f64 * self.width_s;
            return seen;
        }
        let blocks = 0..passed;
        blocks.fold(None, |seen, _| seen.or(self.close_block(t_s)))
    }

    fn close_block(&mut self, t_s: f64) -> Option<EdgeSeen> {
        let width_s = self.width_s;
        self.traces.iter_mut().for_each(|t| t.close_block(width_s));
        let newest_s = self.block_end_s - 0.5 * width_s;
        self.block_end_s += width_s;
        self.judge(newest_s, t_s)
    }
}

#[cfg(test)]
mod tests;
