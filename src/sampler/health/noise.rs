//! How much a channel scatters from row to row, block by block, against its own past.
//!
//! The scatter of a block is the median of the second differences' magnitude, made a standard
//! deviation of white noise (a second difference has √6 of it, and the median magnitude of a normal
//! variate is 0.6745 of its standard deviation): a slope cancels, and neither a few spikes nor the
//! edge of a lamp move a median.

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

/// Far below: the least by so much.
const QUIETER_THAN_LEAST: f64 = 6.0;

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
    /// Share of second differences that turn sign.
    turns: f64,
    /// Neighbours that are equal, that are two steps apart or more, and all.
    pub(super) equal: u32,
    pub(super) apart: u32,
    pub(super) pairs: u32,
    /// Mean in °C.
    pub(super) mean_degc: f64,
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
    least: f64,
    usual: f64,
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
        } else if self.least > 0.0
            && block.equal < block.pairs
            && sd.max(0.25 * self.step_degc()) * QUIETER_THAN_LEAST <= self.least
        {
            Level::Quiet
        } else {
            Level::Usual
        }
    }

    /// How many times its usual scatter a block has.
    pub(super) fn ratio(&self, block: &Block) -> f64 {
        block.sd_degc.max(self.floor()) / self.usual_degc().max(1e-9)
    }

    /// Settles what the block is taken for, and gives the level that has lasted long enough.
    pub(super) fn settle(&mut self, block: &Block, level: Level) -> Level {
        self.same = if level == self.level {
            self.same.saturating_add(1)
        } else {
            1
        };
        self.level = level;
        match level {
            Level::Usual => {
                self.learn(block.sd_degc);
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

    fn learn(&mut self, sd: f64) {
        if self.blocks == 0 {
            self.least = sd;
        }
        self.most = self.most.max(sd);
        self.least = self.least.min(sd);
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
    Some(Block {
        sd_degc: TO_SD * median(&mut sizes),
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
