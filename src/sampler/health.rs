//! Is a probe that gives numbers a sound one? Watched row by row, in constant memory.
//!
//! A pure function of the rows, so that a run and its rebuild say the same. No value is altered:
//! rows get [`Signs`], people get an event when a trouble begins and one when it is over. What needs
//! another channel to be compared with (wandering, drift, noise of a board that reads seldom) is not
//! judged where there is none. Thresholds were set by simulation (`cargo bench --bench health`).

mod channel;
mod drift;
mod episode;
mod loose;
mod noise;
mod repeat;
mod shared;
mod sign;
mod spike;
mod wander;

use super::row::{Event, Row};
use crate::probe::{ProbeFault, Reading};
use crate::wire::MAX_CHANNELS;
use channel::Channel;
use noise::Level;
use repeat::Shown;

pub use episode::Tally;
pub use sign::{Sign, Signs};

/// Where rows are further apart, thermal change looks like noise: then another channel must be
/// there that does not show it, in seconds.
const SLOW_S: f64 = 5.0;

/// Far less scatter is the room's doing where another channel has less than this share of its least.
const QUIETER_TOO: f64 = 0.6;

/// Weight of a new row in the usual interval.
const WEIGHT: f64 = 0.05;

/// What comes out beside the signs in the rows.
#[derive(Debug, Clone, PartialEq)]
pub enum Finding {
    /// A trouble began, or is over.
    Event(Event),
    /// Rows that were passed on before show the sign as well.
    Earlier {
        /// The channel, counted from 0.
        channel: usize,
        /// What they show.
        sign: Sign,
        /// Sampling instant of the first of them, in ns on the host's boot clock.
        from_ns: i64,
        /// Of the last of them.
        to_ns: i64,
    },
}

/// Watches the probes of a bench.
#[derive(Debug, Clone, Default)]
pub struct Health {
    channels: Vec<Channel>,
    last_ns: Option<i64>,
    interval_s: Option<f64>,
    rows: usize,
    block_ns: Option<i64>,
    settling: bool,
}

impl Health {
    /// Of a bench whose samples are settling or are not; the signs of drift are looked for while
    /// they are.
    #[must_use]
    pub fn new(settling: bool) -> Self {
        Self {
            settling,
            ..Self::default()
        }
    }

    /// The samples are no longer waited for.
    pub fn settled(&mut self) {
        self.settling = false;
        for channel in &mut self.channels {
            channel.drift.forget();
            channel.drifts = None;
        }
    }

    /// Rows are missing here: what follows is not joined with what was before.
    pub fn cut(&mut self) {
        self.last_ns = None;
        self.rows = 0;
        self.block_ns = None;
        for channel in &mut self.channels {
            channel.cut();
        }
    }

    /// Takes the next row and marks the signs in it.
    pub fn push(&mut self, row: &mut Row, out: &mut Vec<Finding>) {
        if row.doubts.gap || row.doubts.reset {
            self.cut();
        }
        self.channels
            .resize_with(row.readings.len(), Channel::default);
        self.pace(row.t_ns);
        let interval_s = self.interval_s.unwrap_or(0.0);
        self.read(row, interval_s);
        self.rows += 1;
        if self.rows >= noise::BLOCK_ROWS {
            self.rows = 0;
            self.close_rows(interval_s);
        }
        let block_s = wander::BLOCK_S.max(wander::BLOCK_ROWS * interval_s);
        let due_ns = *self
            .block_ns
            .get_or_insert(row.t_ns + (block_s * 1e9) as i64);
        if row.t_ns >= due_ns {
            self.block_ns = Some(row.t_ns + (block_s * 1e9) as i64);
            self.close_minutes(row.t_ns, block_s);
        }
        self.tell(row, interval_s, out);
    }

    /// The run ends: what still lasts is told.
    pub fn finish(&mut self, t_ns: i64, out: &mut Vec<Finding>) {
        for (place, channel) in self.channels.iter_mut().enumerate() {
            for (sign, episode) in sign::ALL.into_iter().zip(&mut channel.episodes) {
                let told = episode.close((place, sign), t_ns, "was not over at the end: so far");
                out.extend(told.map(Finding::Event));
            }
        }
    }

    /// All troubles so far, by channel (counted from 0) and sign.
    pub fn tallies(&self) -> impl Iterator<Item = (usize, Sign, &Tally)> {
        self.channels
            .iter()
            .enumerate()
            .flat_map(|(place, channel)| {
                let all = sign::ALL.into_iter().zip(&channel.episodes);
                all.filter_map(move |(sign, episode)| Some((place, sign, episode.tally()?)))
            })
    }

    fn pace(&mut self, t_ns: i64) {
        if let Some(last_ns) = self.last_ns {
            let step_s = (t_ns - last_ns) as f64 / 1e9;
            let usual = self.interval_s.get_or_insert(step_s);
            *usual += WEIGHT * (step_s.min(4.0 * *usual) - *usual);
        }
        self.last_ns = Some(t_ns);
    }

    /// Hands each channel its reading.
    fn read(&mut self, row: &Row, interval_s: f64) {
        let shown = self.shown();
        for (channel, reading) in self.channels.iter_mut().zip(&row.readings) {
            channel.spiked = None;
            let open = match reading {
                Reading::Fault(ProbeFault::OtherBoard | ProbeFault::Absent) => {
                    channel.cut();
                    continue;
                }
                Reading::Fault(_) => true,
                Reading::Degc { .. } => false,
            };
            channel.loose_since = channel.loose.take(row.t_ns, open, interval_s);
            match *reading {
                Reading::Degc { value, .. } => channel.value(row.t_ns, value, &shown),
                Reading::Fault(_) => channel.cut_rows(),
            }
        }
        let spiked = self.channels.iter().filter(|c| c.spiked.is_some()).count();
        if spiked > 1 && interval_s > SLOW_S {
            // A lamp that was on for a moment, seen by all.
            self.channels.iter_mut().for_each(|c| c.spiked = None);
        }
    }

    fn shown(&self) -> [Shown; MAX_CHANNELS] {
        let mut all = [Shown::default(); MAX_CHANNELS];
        for (shown, channel) in all.iter_mut().zip(&self.channels) {
            let doubtful = channel.level == Level::Loud || channel.wanders_since.is_some();
            *shown = channel.repeat.shown(channel.noise.step_degc(), doubtful);
        }
        all
    }

    /// Ends a block of rows: scatter against the past, and against the other channels.
    fn close_rows(&mut self, interval_s: f64) {
        let blocks: Vec<_> = self.channels.iter_mut().map(|c| c.noise.close()).collect();
        let judged: Vec<(Level, f64, f64)> = self
            .channels
            .iter()
            .zip(&blocks)
            .map(|(c, block)| match block {
                Some(block) => {
                    let noise = &c.noise;
                    (
                        noise.level(block),
                        noise.ratio(block),
                        noise.of_least(block),
                    )
                }
                None => (Level::Usual, f64::NAN, f64::NAN),
            })
            .collect();
        for (place, channel) in self.channels.iter_mut().enumerate() {
            let (Some(Some(block)), Some(&(level, ratio, _))) =
                (blocks.get(place), judged.get(place))
            else {
                channel.level = Level::Usual;
                continue;
            };
            let all = judged.iter().enumerate();
            let others = all.filter(|(other, (_, ratio, _))| *other != place && !ratio.is_nan());
            // What another channel shows as well, in part, is in the room and not in the probe.
            let (mut alone, mut common) = (true, false);
            for (_, (_, other, of_least)) in others {
                alone = false;
                common |= match level {
                    Level::Loud => *other >= ratio.sqrt(),
                    Level::Quiet => *of_least <= QUIETER_TOO,
                    Level::Usual => false,
                };
            }
            let cannot_tell = match level {
                Level::Loud => alone && interval_s > SLOW_S,
                Level::Quiet => alone,
                Level::Usual => false,
            };
            let level = if common || cannot_tell {
                Level::Usual
            } else {
                level
            };
            channel.level = channel.noise.settle(block, level);
            channel.repeat.learn(block);
            // What a run of equal values is on the way from is what was before it.
            if !channel.repeat.fills(block) {
                channel.means = [channel.means[1], Some(block.mean_degc)];
            }
        }
    }

    /// Ends a block of half a minute or more.
    fn close_minutes(&mut self, t_ns: i64, block_s: f64) {
        for channel in &mut self.channels {
            let middle = channel.wander.close(t_ns, channel.noise.step_degc());
            match middle {
                Some(degc) if self.settling => channel.drift.take(t_ns, degc),
                _ => channel.drift.forget(),
            }
        }
        for place in 0..self.channels.len() {
            let others = || {
                let all = self.channels.iter().enumerate();
                all.filter(move |(other, _)| *other != place)
                    .map(|(_, c)| c)
            };
            let Some(channel) = self.channels.get(place) else {
                continue;
            };
            let before = (block_s, channel.wanders_since.is_some());
            let seen = others().map(|c| (&c.wander, c.sound_ns));
            let wanders = channel.wander.since(t_ns, before, seen);
            let step = channel.noise.step_degc();
            let drifts = channel.drift.since(step, others().map(|c| &c.drift));
            if let Some(channel) = self.channels.get_mut(place) {
                channel.wanders_since = wanders;
                channel.drifts = drifts;
            }
        }
    }

    /// Marks the row and tells what begins and what is over.
    fn tell(&mut self, row: &mut Row, interval_s: f64, out: &mut Vec<Finding>) {
        let shown = self.shown();
        for (place, channel) in self.channels.iter_mut().enumerate() {
            let found = channel.signs(place, row.t_ns, interval_s, &shown);
            for (sign, episode) in sign::ALL.into_iter().zip(&mut channel.episodes) {
                let here = found.iter().flatten().find(|found| found.sign == sign);
                if let Some(found) = here {
                    channel.sound_ns = row.t_ns;
                    let newly = !episode.is_open();
                    let span = (found.from_ns, row.t_ns);
                    let told = episode.show((place, sign), span, || found.words.clone());
                    out.extend(told.map(Finding::Event));
                    let earlier = match sign {
                        // The row that shows it is the one after.
                        Sign::Spike => channel.spiked.map(|s| (s.from_ns, s.to_ns)),
                        _ if newly => Some((found.from_ns, row.t_ns - 1)),
                        _ => None,
                    };
                    out.extend(earlier.map(|(from_ns, to_ns)| Finding::Earlier {
                        channel: place,
                        sign,
                        from_ns,
                        to_ns,
                    }));
                    if sign != Sign::Spike
                        && let Some(signs) = row.doubts.signs.get_mut(place)
                    {
                        signs.add(sign);
                    }
                }
                let over = episode.pass((place, sign), row.t_ns, interval_s);
                out.extend(over.map(Finding::Event));
            }
        }
    }
}

#[cfg(test)]
mod tests;
