//! Edges while rows arrive: a bend against a parabola in the last minutes, jointly over channels.
//!
//! Readings are averaged in blocks of a second (or of the sampling interval, if longer); the last
//! 120 blocks of each channel are kept, nothing else, so memory and cost do not grow.
//! After each block the newest stretch is compared with templates of a bend some blocks ago (a
//! matched filter, free of any parabola); the squared strengths of all channels are added, in
//! units of the noise and its correlation in the same window.

use super::hinge::{residual, template};
use super::noise::median;
use super::project::dot;
use super::trace::{BRIDGE, Trace, correlated, jumps, turns};
use super::{Kind, LampOptions};

/// Window lengths in blocks; the longest that is filled is used.
const LENGTHS: [usize; 3] = [40, 70, 120];

/// Ages of a bend that are tried after every block, in blocks.
const AGES: [usize; 8] = [5, 7, 9, 12, 15, 19, 24, 30];

/// Strength that one channel alone must show, in squared standard deviations; and the addition
/// for each further channel. Set by simulation: see the tests of this room.
const ALARM: f64 = 60.0;
const ALARM_MORE: f64 = 5.0;

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

/// Templates for one window length.
#[derive(Debug, Clone)]
struct Bank {
    len: usize,
    templates: Vec<(usize, Vec<f64>)>,
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
    above: usize,
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
            lag_spread_s: spread(probe, 3.0).hypot(spread(lamp, 1.5)),
            traces: vec![Trace::default(); channels],
            banks: Vec::new(),
            spacings: Vec::new(),
            last_s: None,
            width_s: 0.0,
            block_end_s: 0.0,
            lamp: None,
            above: 0,
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
        self.banks = LENGTHS
            .iter()
            .map(|&len| Bank {
                len,
                templates: AGES
                    .iter()
                    .filter(|&&age| 2 * age <= len)
                    .map(|&age| (age, template(len, (len - age) as f64, lags)))
                    .collect(),
            })
            .collect();
    }

    fn close_blocks(&mut self, t_s: f64) -> Option<EdgeSeen> {
        let passed = ((t_s - self.block_end_s) / self.width_s).floor() + 1.0;
        if passed > (BRIDGE + 1) as f64 {
            self.traces.iter_mut().for_each(Trace::restart);
            self.block_end_s += passed * self.width_s;
            self.above = 0;
            return None;
        }
        let mut seen = None;
        for _ in 0..passed as usize {
            self.traces.iter_mut().for_each(Trace::close_block);
            // The running median is one block behind.
            let newest_s = self.block_end_s - 1.5 * self.width_s;
            self.block_end_s += self.width_s;
            seen = seen.or_else(|| self.judge(newest_s, t_s));
        }
        seen
    }

    fn judge(&mut self, newest_s: f64, t_s: f64) -> Option<EdgeSeen> {
        let filled = self.traces.iter().map(|t| t.blocks.len()).max()?;
        let bank = self.banks.iter().rev().find(|b| b.len <= filled)?;
        let kinds: &[Kind] = match self.lamp {
            Some(Kind::On) => &[Kind::Off],
            Some(Kind::Off) => &[Kind::On],
            None => &[Kind::On, Kind::Off],
        };
        let mut best: Option<(f64, usize, Kind)> = None;
        for (age, h) in &bank.templates {
            for &kind in kinds {
                let strength = self.strength(bank.len, *age, h, kind);
                if best.is_none_or(|b| strength > b.0) {
                    best = Some((strength, *age, kind));
                }
            }
        }
        let (strength, age, kind) = best?;
        let alive = self
            .traces
            .iter()
            .filter(|t| t.blocks.len() >= bank.len)
            .count();
        let alarm = ALARM + ALARM_MORE * (alive.max(1) - 1) as f64;
        if strength < alarm {
            self.above = 0;
            return None;
        }
        self.above += 1;
        // Two blocks in a row: one alone is more often a disturbance.
        if self.above < 2 {
            return None;
        }
        let seen = self.locate(bank.len, age, kind, newest_s, t_s);
        self.lamp = Some(kind);
        self.above = 0;
        let keep = ((newest_s - seen.high_s) / self.width_s).max(0.0) as usize;
        for trace in &mut self.traces {
            let from = trace.blocks.len().saturating_sub(keep);
            trace.blocks.drain(..from);
        }
        Some(seen)
    }

    /// Added strength of a bend over all channels, in squared standard deviations.
    fn strength(&self, len: usize, age: usize, h: &[f64], kind: Kind) -> f64 {
        let lags = self.lags_s.0 + self.lags_s.1;
        let windows = self.traces.iter().filter_map(|t| Some((t, t.newest(len)?)));
        windows
            .map(|(trace, window)| {
                let along = kind.sign() * dot(window, h);
                if along <= 0.0 {
                    return 0.0;
                }
                let r = residual(window, Some(h));
                let floor = (trace.step_degc / 12.0_f64.sqrt()).max(1e-6);
                let noise = (dot(&r, &r) / (len - 4) as f64).sqrt().max(floor);
                let raw = (along / noise).powi(2);
                // The correlation is worth measuring only where it decides.
                if raw < ALARM / 4.0
                    || jumps(&r, age, floor)
                    || !turns(window, age, lags / self.width_s, kind, trace)
                {
                    return 0.0;
                }
                raw / correlated(&r)
            })
            .sum()
    }

    /// Estimate and interval from the strength along the age of the bend.
    fn locate(&self, len: usize, age: usize, kind: Kind, newest_s: f64, t_s: f64) -> EdgeSeen {
        let lags = (self.lags_s.0 / self.width_s, self.lags_s.1 / self.width_s);
        let profile: Vec<(f64, f64)> = (2..=2 * age.max(8))
            .map(|tenth| tenth as f64)
            .map(|age| {
                let h = template(len, len as f64 - age, lags);
                let all = self.traces.iter().filter_map(|t| t.newest(len));
                let strength = all.map(|window| {
                    let r = residual(window, Some(&h));
                    let noise2 = dot(&r, &r) / (len - 4) as f64;
                    let along = (kind.sign() * dot(window, &h)).max(0.0);
                    along * along / (noise2 * correlated(&r)).max(1e-12)
                });
                (age, strength.sum())
            })
            .collect();
        let top = profile
            .iter()
            .copied()
            .fold((age as f64, 0.0), |a, b| if b.1 > a.1 { b } else { a });
        let near = |p: &&(f64, f64)| p.1 > top.1 - 4.0;
        let oldest = profile.iter().rev().find(near).map_or(top.0, |p| p.0);
        let youngest = profile.iter().find(near).map_or(top.0, |p| p.0);
        let lag = 2.0 * self.lag_spread_s;
        let at_s = newest_s - top.0 * self.width_s;
        let low = (oldest + 1.0 - top.0) * self.width_s;
        let high = (top.0 - youngest + 1.0) * self.width_s;
        EdgeSeen {
            edge: kind,
            at_s,
            low_s: at_s - low.hypot(lag),
            high_s: (at_s + high.hypot(lag)).min(t_s),
            noticed_s: t_s,
        }
    }
}
