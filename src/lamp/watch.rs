//! Edges while rows arrive: a bend against a parabola in the last minutes, jointly over channels.
//!
//! Readings are averaged in blocks of a second (or of the sampling interval, if longer); the last
//! few hundred blocks of each channel are kept, nothing else, so memory and cost do not grow.
//! After each block the evidence for a bend of every age is added over all channels (a generalised
//! likelihood ratio, see [`super::bend`]), in windows of several lengths: a long one judges best,
//! a short one is there soon after the start or after the last edge. The noise's correlation is
//! learnt as the rows go by.

use super::bend::{Bank, YOUNGEST};
use super::noise::{inflation, median};
use super::trace::{BRIDGE, Trace, jumps, turns};
use super::{Kind, LampOptions};

/// Window lengths in blocks; all that are filled are tried.
const LENGTHS: [usize; 5] = [40, 60, 90, 140, 240];

/// Evidence that is asked for, set by simulation: `cargo bench --bench on_line`.
/// One channel is all there is; two channels agree, and the addition for each further one; one
/// channel among several is alone with it, which is more often something that touched it.
const ALARM_ONE: f64 = 40.0;
const ALARM_JOINT: f64 = 36.0;
const ALARM_MORE: f64 = 3.0;
const ALARM_ALONE: f64 = 60.0;

/// A channel agrees with another from this evidence on, and from this share of the other's.
const AGREES: f64 = 5.0;
const AGREES_SHARE: f64 = 0.15;

/// Addition for windows of each length: a short one has little to judge the noise by.
const ALARM_LENGTH: [f64; 5] = [8.0, 5.0, 3.0, 1.5, 0.0];

/// Addition for a window that is not the longest to be had: it sees less of the slow noise.
const ALARM_SHORT: f64 = 14.0;

/// Shortest block, in seconds.
const BLOCK_S: f64 = 1.0;

/// An edge noticed while rows arrive.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct EdgeSeen {
    /// On or off.
    pub edge: Kind,
    /// Estimate of the instant in seconds; [`super::find_edges`] gives the better one afterwards.
    pub at_s: f64,
    /// Lower end of the interval in seconds.
    pub low_s: f64,
    /// Upper end of the interval in seconds.
    pub high_s: f64,
    /// Time of the row that gave it away, in seconds.
    pub noticed_s: f64,
}

/// Watches rows as they arrive and tells when the lamp went on or off.
///
/// ```
/// use duskmark::lamp::{Kind, LampOptions, Watcher};
///
/// let mut watcher = Watcher::new(1, &LampOptions::default());
/// let mut seen = None;
/// for i in 0..300 {
///     let t_s = f64::from(i);
///     let wobble = 0.01 * (t_s * 11.3).sin();
///     let degc = 20.0 + 0.02 * (t_s - 200.0).max(0.0) + wobble;
///     seen = seen.or(watcher.push(t_s, &[degc]));
/// }
/// assert_eq!(seen.map(|s| s.edge), Some(Kind::On));
/// ```
#[derive(Debug, Clone)]
pub struct Watcher {
    lags_s: (f64, f64),
    lag_spread_s: f64,
    traces: Vec<Trace>,
    banks: Vec<Bank>,
    /// Arrival spacing of the first rows, until the block width is settled.
    spacings: Vec<f64>,
    last_s: Option<f64>,
    width_s: f64,
    block_end_s: f64,
    lamp: Option<Kind>,
}

impl Watcher {
    /// A watcher for rows of `channels` temperatures.
    #[must_use]
    pub fn new(channels: usize, options: &LampOptions) -> Self {
        let probe = options.declared_probe_lag_s(0, channels.max(1));
        let lamp = options.declared_lamp_lag_s();
        let spread = |known: Option<f64>, sd: f64| if known.is_some() { 0.0 } else { sd };
        Self {
            lags_s: (probe.unwrap_or(5.0), lamp.unwrap_or(1.6)),
            lag_spread_s: spread(probe, 3.0)
                .hypot(options.probe_lag_u_s(0).unwrap_or(0.0))
                .hypot(spread(lamp, 1.5)),
            traces: vec![Trace::default(); channels],
            banks: Vec::new(),
            spacings: Vec::new(),
            last_s: None,
            width_s: 0.0,
            block_end_s: 0.0,
            lamp: None,
        }
    }

    /// Takes one row: time in seconds and one temperature per channel, NaN where there is none.
    ///
    /// Rows whose time does not grow are left out. Returns an edge in the moment it is noticed.
    pub fn push(&mut self, t_s: f64, degc: &[f64]) -> Option<EdgeSeen> {
        if !t_s.is_finite() || self.last_s.is_some_and(|last| t_s <= last) {
            return None;
        }
        if self.width_s <= 0.0 {
            self.settle_width(t_s);
        }
        let mut seen = None;
        if self.width_s > 0.0 && t_s >= self.block_end_s {
            seen = self.close_blocks(t_s);
        }
        for (trace, &value) in self.traces.iter_mut().zip(degc) {
            trace.take(value);
        }
        self.last_s = Some(t_s);
        seen
    }

    /// After five intervals the block width is a second, or the median interval if longer.
    fn settle_width(&mut self, t_s: f64) {
        if let Some(last) = self.last_s {
            self.spacings.push(t_s - last);
        }
        if self.spacings.len() < 5 {
            // The first rows fall into one block that is thrown away.
            return;
        }
        self.width_s = median(&mut self.spacings).max(BLOCK_S);
        self.block_end_s = t_s + self.width_s * 0.5;
        self.traces.iter_mut().for_each(Trace::restart);
        let lags = (self.lags_s.0 / self.width_s, self.lags_s.1 / self.width_s);
        self.banks = LENGTHS.iter().map(|&len| Bank::new(len, lags)).collect();
    }

    fn close_blocks(&mut self, t_s: f64) -> Option<EdgeSeen> {
        let passed = ((t_s - self.block_end_s) / self.width_s).floor() + 1.0;
        if passed > (BRIDGE + 1) as f64 {
            self.traces.iter_mut().for_each(Trace::restart);
            self.block_end_s += passed * self.width_s;
            return None;
        }
        let mut seen = None;
        for _ in 0..passed as usize {
            self.traces.iter_mut().for_each(Trace::close_block);
            let newest_s = self.block_end_s - 0.5 * self.width_s;
            self.block_end_s += self.width_s;
            seen = seen.or_else(|| self.judge(newest_s, t_s));
        }
        seen
    }

    fn judge(&mut self, newest_s: f64, t_s: f64) -> Option<EdgeSeen> {
        let filled = self.traces.iter().map(|t| t.blocks.len()).max()?;
        let longest = self.banks.iter().rposition(|b| b.len < filled)?;
        let bank = self.banks.get(longest)?;
        self.traces.iter_mut().for_each(|t| t.learn(bank));
        let best = self
            .banks
            .iter()
            .take(longest + 1)
            .enumerate()
            .zip(ALARM_LENGTH)
            .filter_map(|((i, bank), length)| {
                let more = if i < longest { ALARM_SHORT } else { length };
                self.strongest(bank, more)
            })
            .max_by(|a, b| a.over.total_cmp(&b.over))?;
        if best.over < 0.0 {
            return None;
        }
        let seen = self.locate(&best, newest_s, t_s);
        self.lamp = Some(best.kind);
        let keep = ((newest_s - seen.high_s) / self.width_s).max(0.0) as usize;
        for trace in &mut self.traces {
            let from = trace.blocks.len().saturating_sub(keep);
            trace.blocks.drain(..from);
        }
        Some(seen)
    }

    /// Kinds of edge that can come next.
    fn expected(&self) -> &'static [Kind] {
        match self.lamp {
            Some(Kind::On) => &[Kind::Off],
            Some(Kind::Off) => &[Kind::On],
            None => &[Kind::On, Kind::Off],
        }
    }

    /// The most likely bend that windows of one length show, where it passes for an edge.
    fn strongest(&self, bank: &Bank, more: f64) -> Option<Bend> {
        let alive: Vec<(&Trace, &[f64])> = self
            .traces
            .iter()
            .filter_map(|t| Some((t, t.newest(bank.len + 1)?)))
            .collect();
        let all: Vec<Vec<f64>> = alive
            .iter()
            .map(|(trace, window)| bank.evidence(window, trace.phi(), trace.floor()))
            .collect();
        let mut best: Option<Bend> = None;
        for &kind in self.expected() {
            for i in 0..all.first()?.len() {
                let of = |e: &Vec<f64>| kind.sign() * e.get(i).copied().unwrap_or(0.0);
                let over = beyond(all.iter().map(of)) - more;
                if over > best.as_ref().map_or(0.0, |b| b.over) {
                    best = Some(Bend {
                        age: i + YOUNGEST,
                        kind,
                        over,
                        profile: Vec::new(),
                    });
                }
            }
        }
        // What passes is looked at more closely, channel by channel.
        let mut best = best?;
        let sound: Vec<f64> = alive
            .iter()
            .map(|(trace, window)| self.soundness(bank, trace, window, &best))
            .collect();
        let kind = best.kind;
        let of = |(e, share): (&Vec<f64>, &f64), i: usize| {
            share * kind.sign() * e.get(i).copied().unwrap_or(0.0)
        };
        let each = |i: usize| all.iter().zip(&sound).map(move |c| of(c, i));
        best.profile = (0..all.first()?.len())
            .map(|i| each(i).map(|e| e.max(0.0)).sum())
            .collect();
        best.over = beyond(each(best.age - YOUNGEST)) - more;
        (best.over >= 0.0).then_some(best)
    }

    /// How much of a channel's evidence counts: none where something jumped or the slope does not
    /// turn, less where the noise is more correlated than was allowed for.
    fn soundness(&self, bank: &Bank, trace: &Trace, window: &[f64], bend: &Bend) -> f64 {
        let lags = (self.lags_s.0 + self.lags_s.1) / self.width_s;
        let r = bank.remainder(window, trace.phi(), bend.age);
        if jumps(&r, bend.age, trace.floor()) || !turns(window, bend.age, lags, bend.kind, trace) {
            0.0
        } else {
            1.0 / inflation(&r)
        }
    }

    /// Estimate and interval from the evidence along the age of the bend.
    fn locate(&self, bend: &Bend, newest_s: f64, t_s: f64) -> EdgeSeen {
        let top = bend.profile.iter().copied().fold(0.0, f64::max);
        let near = |e: &f64| *e > top - 4.0;
        let place = |i: Option<usize>| i.map_or(bend.age, |i| i + YOUNGEST) as f64;
        let best = place(bend.profile.iter().position(|e| *e >= top));
        let youngest = place(bend.profile.iter().position(near));
        let oldest = place(bend.profile.iter().rposition(near));
        let lag = 2.0 * self.lag_spread_s;
        let at_s = newest_s - best * self.width_s;
        let low = (oldest + 1.0 - best) * self.width_s;
        let high = (best - youngest + 1.0) * self.width_s;
        EdgeSeen {
            edge: bend.kind,
            at_s,
            low_s: at_s - low.hypot(lag),
            high_s: (at_s + high.hypot(lag)).min(t_s),
            noticed_s: t_s,
        }
    }
}

/// How far the channels' evidence together goes beyond what is asked for.
fn beyond(channels: impl Iterator<Item = f64>) -> f64 {
    let (mut sum, mut first, mut second, mut count) = (0.0, 0.0_f64, 0.0_f64, 0_u8);
    for e in channels {
        sum += e.max(0.0);
        second = second.max(first.min(e));
        first = first.max(e);
        count += 1;
    }
    let alarm = if count == 1 {
        ALARM_ONE
    } else if second < AGREES.max(AGREES_SHARE * first) {
        ALARM_ALONE
    } else {
        ALARM_JOINT
    };
    sum - alarm - ALARM_MORE * f64::from(count.saturating_sub(2))
}

/// A bend that passes for an edge.
#[derive(Debug)]
struct Bend {
    age: usize,
    kind: Kind,
    /// Evidence beyond what is asked for.
    over: f64,
    /// Evidence by age, from the youngest on.
    profile: Vec<f64>,
}
