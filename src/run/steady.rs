//! Are the samples steady, and if not, how long will it take? Rows in, verdict and wait out.
//!
//! Each channel's slope is taken with its interval over windows of several lengths, from a minute on:
//! a coarse or noisy channel needs a longer one. Noise that lasts from row to row widens the interval
//! (`steady/slope.rs`), and so does rounding that no noise blurs. Since looks go on until one says
//! "steady", each must be surer than a single one need be (`steady/looks.rs`): a sample that drifts by
//! the limit or more is called steady in 5 of 100 watches at most, however long they last. The wait
//! follows from the exponential
//! by which a sample approaches the room (`steady/wait.rs`).
//!
//! ```
//! use duskmark::run::{Steadiness, Verdict};
//!
//! let mut steadiness = Steadiness::new(0.1);
//! for s in 0..600 {
//!     let t_s = f64::from(s);
//!     let wobble = 0.01 * (t_s * 7.7).sin();
//!     steadiness.push(t_s, &[23.0 - 3.0 * (-t_s / 200.0).exp() + wobble]);
//!     if s == 200 {
//!         let settling = steadiness.settling();
//!         assert_eq!(settling.verdict, Verdict::Drifting);
//!         // The slope falls below the limit after 440 s; to be sure of it takes a little longer.
//!         assert!(settling.wait_s.is_some_and(|s| (150.0..400.0).contains(&s)));
//!     }
//! }
//! assert!(steadiness.is_steady());
//! ```

mod looks;
mod slope;
mod wait;

use std::collections::VecDeque;

use looks::Watch;
use slope::{Drift, Grain, drift};

/// The shortest window, in seconds and in bins.
const WINDOW_S: f64 = 60.0;
const WINDOW_BINS: usize = 10;

/// Windows that are tried, in shortest ones.
const LENGTHS: [f64; 6] = [1.0, 1.5, 2.0, 3.0, 5.0, 8.0];

/// Rows are averaged over so long, in seconds: bounds memory and cost at any rate.
const BIN_S: f64 = 1.0;

/// Bins that are kept: half an hour at a row a second or more.
const MOST_BINS: usize = 1800;

/// A channel that gave no reading for so many bins and so many seconds is dead, and not waited for.
const DEAD_BINS: usize = 3;
const DEAD_S: f64 = 30.0;

/// Samples that have not settled after so long may never do so: in seconds, and in bins.
const PATIENCE_S: f64 = 1200.0;
const PATIENCE_BINS: u64 = 40;

/// Without a reading of any channel for so long somebody should look, in seconds.
const SILENCE_S: f64 = 60.0;

/// A wait that is known and no longer than this is worth it, in seconds.
const WORTH_S: f64 = 900.0;

/// A wait is looked for anew after so long, in seconds.
const WAIT_EVERY_S: f64 = 5.0;

/// Where the samples stand.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Verdict {
    /// Too few rows, or no channel that reads.
    #[default]
    TooEarly,
    /// Not steady yet.
    Drifting,
    /// All channels that read drift by less than the limit, their interval counted.
    Steady,
    /// Not steady after twenty minutes, and no end to be seen.
    Unsettled,
    /// Rows come, and for a minute no channel of them has had a reading.
    Unread,
}

/// A verdict and its numbers.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Settling {
    /// Where the samples stand.
    pub verdict: Verdict,
    /// The channel that drifts most, counted from 0; its drift in °C/min; and the half width of the
    /// drift's interval in °C/min, at a level of some 95 %.
    pub worst: Option<(usize, f64, f64)>,
    /// Seconds until the samples are found steady, where the approach supports it.
    pub wait_s: Option<f64>,
}

/// Where one channel stands.
#[derive(Debug, Clone, Copy)]
struct Stand {
    drift: Drift,
    /// The largest drift in °C/s that the looks so far leave possible.
    bound: f64,
    is_steady: bool,
}

/// Watches the drift of samples. Constant memory; a pure function of the rows.
#[derive(Debug, Clone)]
pub struct Steadiness {
    limit_degc_per_min: f64,
    bins: VecDeque<Bin>,
    open: Option<Bin>,
    /// The smallest step between two readings of each channel, in °C.
    steps: Vec<f64>,
    last: Vec<f64>,
    begun_s: Option<f64>,
    binned: u64,
    settling: Settling,
    /// When a wait was looked for last, and what it was, in seconds.
    wait: Option<(f64, Option<f64>)>,
}

/// Rows of a second, or one row.
#[derive(Debug, Clone)]
struct Bin {
    from_s: f64,
    /// Sum of times in seconds, and number of rows.
    time: (f64, f64),
    /// Sum of values in °C, of their squares, and their number, for each channel.
    sums: Vec<(f64, f64, f64)>,
}

impl Bin {
    fn t_s(&self) -> f64 {
        self.time.0 / self.time.1
    }

    fn degc(&self, channel: usize) -> Option<f64> {
        let (sum, _, count) = self.sums.get(channel)?;
        (*count > 0.0).then(|| sum / count)
    }

    /// Variance of the readings about their mean, in °C².
    fn scatter(&self, channel: usize) -> Option<f64> {
        let (sum, squares, count) = self.sums.get(channel)?;
        (*count > 0.0).then(|| (squares / count - (sum / count).powi(2)).max(0.0))
    }
}

impl Steadiness {
    /// Steady means that every channel that has readings drifts by less than the limit, in °C/min,
    /// greater than 0.
    #[must_use]
    pub fn new(limit_degc_per_min: f64) -> Self {
        Self {
            limit_degc_per_min,
            bins: VecDeque::new(),
            open: None,
            steps: Vec::new(),
            last: Vec::new(),
            begun_s: None,
            binned: 0,
            settling: Settling::default(),
            wait: None,
        }
    }

    /// Takes in a row: time in seconds, later than the one before, and one temperature in °C for each
    /// channel, NaN where there is none.
    pub fn push(&mut self, t_s: f64, degc: &[f64]) {
        let last_s = self.open.as_ref().map(|bin| bin.from_s);
        if !t_s.is_finite() || last_s.is_some_and(|last| t_s < last) {
            return;
        }
        self.begun_s.get_or_insert(t_s);
        self.steps.resize(degc.len(), f64::INFINITY);
        self.last.resize(degc.len(), f64::NAN);
        for ((step, last), &degc) in self.steps.iter_mut().zip(&mut self.last).zip(degc) {
            let size = (degc - *last).abs();
            if size > 1e-6 {
                *step = step.min(size);
            }
            if degc.is_finite() {
                *last = degc;
            }
        }
        if let Some(done) = self.open.take_if(|bin| t_s - bin.from_s >= BIN_S - 1e-6) {
            self.bins.push_back(done);
            self.binned += 1;
            if self.bins.len() > MOST_BINS {
                self.bins.pop_front();
            }
        }
        let fresh = self.open.is_none();
        let open = self.open.get_or_insert_with(|| Bin {
            from_s: t_s,
            time: (0.0, 0.0),
            sums: vec![(0.0, 0.0, 0.0); degc.len()],
        });
        open.time = (open.time.0 + t_s, open.time.1 + 1.0);
        for (sum, &degc) in open.sums.iter_mut().zip(degc) {
            if degc.is_finite() {
                *sum = (sum.0 + degc, sum.1 + degc * degc, sum.2 + 1.0);
            }
        }
        if fresh {
            self.settling = self.judge(t_s);
        }
    }

    /// What was read before tells nothing about now: a port was lost, samples were changed.
    pub fn forget(&mut self) {
        *self = Self::new(self.limit_degc_per_min);
    }

    /// Where the samples stand as of the last row.
    #[must_use]
    pub fn settling(&self) -> Settling {
        self.settling
    }

    /// The drift limit in °C/min.
    #[must_use]
    pub fn limit_degc_per_min(&self) -> f64 {
        self.limit_degc_per_min
    }

    /// The largest drift of any channel in °C/min, with its sign, and its expanded uncertainty,
    /// once the window is full.
    #[must_use]
    pub fn drift_degc_per_min(&self) -> Option<(f64, f64)> {
        let (_, drift, expanded) = self.settling.worst?;
        Some((drift, expanded))
    }

    /// Whether all channels are steady, their slope's expanded uncertainty counted.
    #[must_use]
    pub fn is_steady(&self) -> bool {
        self.settling.verdict == Verdict::Steady
    }

    /// Closed bins and the one that is filling.
    fn all(&self) -> impl DoubleEndedIterator<Item = &Bin> {
        self.bins.iter().chain(&self.open)
    }

    fn judge(&mut self, now_s: f64) -> Settling {
        let reading: Vec<usize> = (0..self.steps.len())
            .filter(|&c| self.reads(c, now_s))
            .collect();
        let stands: Vec<Option<Stand>> = reading.iter().map(|&c| self.channel(c, now_s)).collect();
        let known = reading.iter().zip(&stands);
        let known = known.filter_map(|(channel, stand)| Some((*channel, (*stand)?)));
        let Some((channel, worst)) = known.max_by(|a, b| a.1.bound.total_cmp(&b.1.bound)) else {
            return self.unknown(reading.is_empty(), now_s);
        };
        let is_steady = |stand: &Option<Stand>| stand.is_some_and(|stand| stand.is_steady);
        let drifting: Vec<usize> = reading
            .iter()
            .zip(&stands)
            .filter(|(_, stand)| !is_steady(stand))
            .map(|(channel, _)| *channel)
            .collect();
        let wait_s = self.told_wait_s(&drifting, now_s);
        let waited_s = now_s - self.begun_s.unwrap_or(now_s);
        let long = waited_s >= PATIENCE_S && self.binned >= PATIENCE_BINS;
        let verdict = if drifting.is_empty() {
            Verdict::Steady
        } else if long && wait_s.is_none_or(|s| s > WORTH_S) {
            Verdict::Unsettled
        } else {
            Verdict::Drifting
        };
        let per_min = |per_s: f64| per_s * 60.0;
        Settling {
            verdict,
            worst: Some((
                channel,
                per_min(worst.drift.slope),
                per_min(worst.drift.expanded()),
            )),
            wait_s,
        }
    }

    /// No channel's drift is known: where `none` reads, that may be for long.
    fn unknown(&self, none: bool, now_s: f64) -> Settling {
        let long = now_s - self.begun_s.unwrap_or(now_s) >= SILENCE_S;
        let verdict = if none && long && self.binned >= DEAD_BINS as u64 {
            Verdict::Unread
        } else {
            Verdict::TooEarly
        };
        Settling {
            verdict,
            ..Settling::default()
        }
    }

    /// The wait, made anew every few seconds: it takes longer to find than all the rest.
    fn told_wait_s(&mut self, drifting: &[usize], now_s: f64) -> Option<f64> {
        if drifting.is_empty() {
            self.wait = None;
            return None;
        }
        let fresh = self.wait.filter(|(at_s, _)| now_s - at_s < WAIT_EVERY_S);
        let (at_s, wait_s) = fresh.unwrap_or_else(|| (now_s, self.wait_s(drifting, now_s)));
        self.wait = Some((at_s, wait_s));
        wait_s.map(|wait_s| (wait_s - (now_s - at_s)).max(0.0))
    }

    /// Whether a channel is one to wait for.
    fn reads(&self, channel: usize, now_s: f64) -> bool {
        let back = self.all().rev().enumerate();
        let mut recent = back
            .take_while(|(index, bin)| *index < DEAD_BINS || now_s - bin.from_s <= DEAD_S)
            .map(|(_, bin)| bin);
        recent.any(|bin| bin.degc(channel).is_some())
    }

    /// A channel's drift by the window that tells most, and whether it is steady.
    fn channel(&self, channel: usize, now_s: f64) -> Option<Stand> {
        let limit = self.limit_degc_per_min / 60.0;
        let step = self.steps.get(channel).copied().filter(|s| s.is_finite());
        let points: Vec<(f64, f64)> = self
            .all()
            .filter_map(|bin| Some((bin.t_s(), bin.degc(channel)?)))
            .collect();
        // What a second's mean hides of the readings' own scatter blurs their rounding all the same.
        let scatters = self.all().filter_map(|bin| bin.scatter(channel));
        let hidden = scatters.sum::<f64>() / points.len().max(1) as f64;
        let grain = Grain {
            step_degc: step.unwrap_or(0.0),
            hidden,
        };
        let tenth = points.len().checked_sub(WINDOW_BINS)?;
        let base_s = WINDOW_S.max(now_s - points.get(tenth)?.0);
        let elapsed_s = now_s - self.begun_s?;
        let first_s = points.first()?.0;
        let watch = Watch {
            lengths: LENGTHS.len(),
            shortest_s: base_s,
            look_s: base_s
                / (points.len() - points.partition_point(|(t_s, _)| now_s - t_s > base_s)) as f64,
        };
        let mut best: Option<(Drift, f64)> = None;
        let mut contradicted = false;
        for (index, length) in LENGTHS.into_iter().enumerate() {
            // A bin may be filling: the window is full from a twentieth less on.
            if now_s - first_s < 0.95 * length * base_s {
                break;
            }
            let begin = points.partition_point(|(t_s, _)| now_s - t_s > 1.02 * length * base_s);
            let Some(drift) = drift(points.get(begin..)?, grain) else {
                continue;
            };
            // What the last minute says for sure stands over longer windows.
            contradicted |= index == 0 && drift.slope.abs() - drift.expanded() > limit;
            let sure = looks::deviations(elapsed_s, length * base_s, watch);
            let bound = drift.slope.abs() + drift.half(sure);
            if best.is_none_or(|(_, least)| bound < least) {
                best = Some((drift, bound));
            }
        }
        let (drift, bound) = best?;
        Some(Stand {
            drift,
            bound,
            is_steady: bound < limit && !contradicted,
        })
    }

    /// The longest wait of any channel that drifts, if that of each is supported.
    fn wait_s(&self, drifting: &[usize], now_s: f64) -> Option<f64> {
        let limit = self.limit_degc_per_min / 60.0;
        let mut longest: Option<f64> = None;
        for &channel in drifting {
            let points: Vec<(f64, f64)> = self
                .all()
                .filter_map(|bin| Some((bin.t_s() - now_s, bin.degc(channel)?)))
                .collect();
            let step = self.steps.get(channel).copied().filter(|s| s.is_finite());
            let tenth = points.len().checked_sub(WINDOW_BINS)?;
            let window_s = WINDOW_S.max(-points.get(tenth)?.0);
            let wait_s = wait::wait_s(&points, (limit, step.unwrap_or(0.0), window_s))?;
            longest = Some(longest.map_or(wait_s, |other| other.max(wait_s)));
        }
        longest
    }
}

#[cfg(test)]
mod tests;
