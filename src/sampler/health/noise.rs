//! How much a channel scatters from row to row, block by block, against its own past.
//!
//! The scatter of a block is the median of the second differences' magnitude, made a standard
//! deviation of white noise (a second difference has √6 of it, and the median magnitude of a normal
//! variate is 0.6745 of its standard deviation): a slope cancels, and neither a few spikes nor the
//! edge of a lamp move a median.
//!
//! A median is 0 where most second differences are, which is so of a coarse step long before all
//! scatter is gone. Whether a channel is far quieter is therefore asked of their mean square without
//! the largest, and only where the past never scattered by less than a step's share: a value that
//! flickers between two steps scatters by half a step at most, and may stop by right.

use arrayvec::ArrayVec;

/// Rows of a block.
pub(super) const BLOCK_ROWS: usize = 32;

/// Blocks that the usual scatter is the median of.
const REMEMBERED: usize = 64;

/// Blocks after which there is a past to compare with.
const FEWEST_BLOCKS: u32 = 8;

/// Second differences that a block must have to be judged.
const FEWEST_DIFFERENCES: usize = 16;

/// From the median magnitude of second differences to a standard deviation: `1/(0.6745·√6)`.
const TO_SD: f64 = 0.605;

/// Far above: so many times the most, and so many times the usual.
const LOUDER_THAN_MOST: f64 = 2.5;
const LOUDER_THAN_USUAL: f64 = 10.0;

/// Less than this is no trouble to a lesson, in °C.
const LEAST_LOUD_DEGC: f64 = 0.05;

/// Far below: the least by so much, where the least was so many steps.
const QUIETER_THAN_LEAST: f64 = 4.0;
const LEAST_STEPS: f64 = 0.6;

/// Blocks that the least is the scatter of together: of one alone it is least by chance.
const TOGETHER: usize = 4;

/// Second differences of a block that are left out of its mean square: the largest, as those of a
/// spike and of a lamp's edge are.
const LEFT_OUT: usize = 6;

/// Second differences of noise turn sign from one to the next in 73 of 100 cases (their correlation
/// is −2/3; Sheppard's formula), those of a curve do not.
const LEAST_TURNS: f64 = 0.55;

/// Blocks in a row that must be far above or far below.
const LOUD_BLOCKS: u32 = 2;
const QUIET_BLOCKS: u32 = 4;

/// What a block of rows shows.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Block {
    /// Standard deviation of the scatter in °C.
    pub(super) sd_degc: f64,
    /// Its square as the mean of second differences has it, in °C².
    square: f64,
    /// Share of second differences that turn sign.
    turns: f64,
    /// Neighbours that are equal, that are two steps apart or more, and all.
    pub(super) equal: u32,
    pub(super) apart: u32,
    pub(super) pairs: u32,
    /// Mean in °C.
    pub(super) mean_degc: f64,
}

impl Block {
    /// Whether all its values are equal.
    fn is_flat(&self) -> bool {
        self.equal == self.pairs
    }
}

/// How a block compares with the past.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(super) enum Level {
    #[default]
    Usual,
    Loud,
    Quiet,
}

/// The scatter of one channel.
#[derive(Debug, Clone, Default)]
pub(super) struct Noise {
    values: ArrayVec<f64, BLOCK_ROWS>,
    /// Smallest step between neighbours that was seen, in °C; infinite at first.
    step_degc: Option<f64>,
    recent: ArrayVec<f64, REMEMBERED>,
    oldest: usize,
    blocks: u32,
    most: f64,
    usual: f64,
    /// Squares of the last blocks, and the least mean of as many, in °C².
    squares: ArrayVec<f64, TOGETHER>,
    least_square: Option<f64>,
    /// Blocks in a row of the level that the last one had.
    level: Level,
    same: u32,
    pub(super) last: Option<Block>,
}

impl Noise {
    pub(super) fn take(&mut self, degc: f64) {
        if let Some(before) = self.values.last() {
            let step = (degc - before).abs();
            // Conversions from counts and Fahrenheit leave a rounding error.
            if step > 1e-6 && self.step_degc.is_none_or(|least| step < least) {
                self.step_degc = Some(step);
            }
        }
        let _ = self.values.try_push(degc);
    }

    /// Smallest step between two values that was seen, in °C; 0 while none was.
    pub(super) fn step_degc(&self) -> f64 {
        self.step_degc.unwrap_or(0.0)
    }

    /// The usual scatter in °C, not below what rounding does.
    pub(super) fn usual_degc(&self) -> f64 {
        self.usual.max(self.floor())
    }

    pub(super) fn has_past(&self) -> bool {
        self.blocks >= FEWEST_BLOCKS
    }

    /// A slow ramp that is rounded scatters by some six tenths of a step.
    fn floor(&self) -> f64 {
        0.6 * self.step_degc()
    }

    /// Ends the block; `None` where it has too few values.
    pub(super) fn close(&mut self) -> Option<Block> {
        let values = std::mem::take(&mut self.values);
        self.last = block(&values, self.step_degc());
        self.last
    }

    /// How the block compares with the past, by this channel alone.
    pub(super) fn level(&self, block: &Block) -> Level {
        let sd = block.sd_degc;
        let most = self.most.max(self.floor());
        if !self.has_past() {
            Level::Usual
        } else if sd >= LOUDER_THAN_MOST * most
            && sd >= LOUDER_THAN_USUAL * self.usual_degc()
            && sd >= LEAST_LOUD_DEGC
            && block.turns >= LEAST_TURNS
        {
            Level::Loud
        } else if self.is_quiet(block) && (!block.is_flat() || self.level == Level::Quiet) {
            Level::Quiet
        } else {
            Level::Usual
        }
    }

    /// Whether a block is far below the least. One whose values are all equal may be, but no more
    /// than go on with it: what stands still is `repeat`'s to judge.
    fn is_quiet(&self, block: &Block) -> bool {
        let least = self.least_square.filter(|least| {
            let floor = LEAST_STEPS * self.step_degc();
            *least > 0.0 && *least >= floor * floor
        });
        least.is_some_and(|_| self.of_least(block) * QUIETER_THAN_LEAST <= 1.0)
    }

    /// How many times its least scatter so far a block has; infinitely many while none is known.
    pub(super) fn of_least(&self, block: &Block) -> f64 {
        self.least_square
            .map_or(f64::INFINITY, |least| (block.square / least).sqrt())
    }

    /// How many times its usual scatter a block has.
    pub(super) fn ratio(&self, block: &Block) -> f64 {
        block.sd_degc.max(self.floor()) / self.usual_degc().max(1e-9)
    }

    /// Settles what the block is taken for, and gives the level that has lasted long enough.
    pub(super) fn settle(&mut self, block: &Block, level: Level) -> Level {
        self.same = match level {
            _ if level != self.level => 1,
            // It goes on with what was there, and proves nothing.
            Level::Quiet if block.is_flat() => self.same,
            _ => self.same.saturating_add(1),
        };
        self.level = level;
        match level {
            Level::Usual => {
                self.learn(block);
                Level::Usual
            }
            Level::Loud if self.same >= LOUD_BLOCKS => Level::Loud,
            Level::Quiet if self.same >= QUIET_BLOCKS => Level::Quiet,
            Level::Loud | Level::Quiet => Level::Usual,
        }
    }

    /// Rows for which the level has lasted.
    pub(super) fn rows_at_level(&self) -> u32 {
        self.same.saturating_mul(BLOCK_ROWS as u32)
    }

    fn learn(&mut self, block: &Block) {
        let sd = block.sd_degc;
        self.most = self.most.max(sd);
        if !block.is_flat() {
            if self.squares.is_full() {
                self.squares.remove(0);
            }
            self.squares.push(block.square);
        }
        if self.squares.is_full() {
            let mean = self.squares.iter().sum::<f64>() / TOGETHER as f64;
            self.least_square = Some(self.least_square.map_or(mean, |least| least.min(mean)));
        }
        self.blocks = self.blocks.saturating_add(1);
        if let Some(place) = self.recent.get_mut(self.oldest) {
            *place = sd;
        } else {
            self.recent.push(sd);
        }
        self.oldest = (self.oldest + 1) % REMEMBERED;
        self.usual = median(&mut self.recent.clone());
    }

    /// Rows are missing here: what follows is no neighbour of what was before.
    pub(super) fn cut(&mut self) {
        self.values.clear();
        self.same = 0;
        self.level = Level::Usual;
    }
}

fn block(values: &[f64], step: f64) -> Option<Block> {
    let second: ArrayVec<f64, BLOCK_ROWS> = values
        .windows(3)
        .filter_map(|w| match w {
            [a, b, c] => Some(a - 2.0 * b + c),
            _ => None,
        })
        .collect();
    if second.len() < FEWEST_DIFFERENCES {
        return None;
    }
    let mut sizes: ArrayVec<f64, BLOCK_ROWS> = second.iter().map(|d| d.abs()).collect();
    let turned = second.windows(2).filter(|w| match w {
        [a, b] => a * b < 0.0,
        _ => false,
    });
    let (mut equal, mut apart) = (0, 0);
    for w in values.windows(2) {
        if let [a, b] = w {
            let size = (b - a).abs();
            equal += u32::from(size <= 1e-9);
            apart += u32::from(size >= 1.5 * step && size > 1e-9);
        }
    }
    sizes.sort_unstable_by(f64::total_cmp);
    let kept = sizes.len() - LEFT_OUT;
    let square = sizes.iter().take(kept).map(|d| d * d).sum::<f64>() / (6.0 * kept as f64);
    Some(Block {
        sd_degc: TO_SD * median(&mut sizes),
        square,
        turns: turned.count() as f64 / (second.len() - 1) as f64,
        equal,
        apart,
        pairs: values.len() as u32 - 1,
        mean_degc: values.iter().sum::<f64>() / values.len() as f64,
    })
}

/// The median; 0 of nothing.
pub(super) fn median(values: &mut [f64]) -> f64 {
    let middle = values.len() / 2;
    if values.is_empty() {
        return 0.0;
    }
    let (_, median, _) = values.select_nth_unstable_by(middle, f64::total_cmp);
    *median
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::SeedableRng;
    use rand_distr::{Distribution, StandardNormal};
    use rand_pcg::Pcg64;

    /// Levels of blocks of rows with so much scatter on a slow ramp, rounded to 0.01 °C.
    fn levels(
        noise: &mut Noise,
        random: &mut Pcg64,
        blocks: usize,
        sd: f64,
        ramp: f64,
    ) -> Vec<Level> {
        let mut row = 0.0;
        let block = |_| {
            for _ in 0..BLOCK_ROWS {
                let normal: f64 = StandardNormal.sample(random);
                row += 1.0;
                noise.take(((21.0 + ramp * row + sd * normal) * 100.0).round() / 100.0);
            }
            let block = noise.close().unwrap();
            let level = noise.level(&block);
            noise.settle(&block, level)
        };
        (0..blocks).map(block).collect()
    }

    #[test]
    fn scatter_of_a_step_that_goes_is_seen_and_equal_values_prove_nothing() {
        let mut random = Pcg64::seed_from_u64(11);
        let mut noise = Noise::default();
        let before = levels(&mut noise, &mut random, 40, 0.01, 0.0);
        assert!(before.iter().all(|l| *l == Level::Usual), "{before:?}");
        // Blocks without any change at all, as of a channel that is stuck: not told as quiet, and no past.
        let still = levels(&mut noise, &mut random, 20, 0.0, 0.0);
        assert!(still.iter().all(|l| *l == Level::Usual), "{still:?}");
        let again = levels(&mut noise, &mut random, 8, 0.01, 0.0);
        assert!(again.iter().all(|l| *l == Level::Usual), "{again:?}");
        let quiet = levels(&mut noise, &mut random, 8, 0.0001, 0.0007);
        assert_eq!(
            quiet.iter().position(|l| *l == Level::Quiet),
            Some(3),
            "{quiet:?}"
        );
    }

    #[test]
    fn flicker_between_two_steps_may_stop() {
        let mut random = Pcg64::seed_from_u64(12);
        let mut noise = Noise::default();
        for ramp in [0.0003, 0.0] {
            let all = levels(&mut noise, &mut random, 60, 0.002, ramp);
            assert!(all.iter().all(|l| *l == Level::Usual), "{all:?}");
        }
    }
}
