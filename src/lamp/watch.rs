//! Edges while rows arrive: a ramp that sets in, jointly over channels.
//!
//! Readings are averaged in blocks of some half a second (or of the sampling interval, if longer; see `blocks`); each
//! channel's filters (see [`super::track`]) hold the newest some forty blocks, nothing else, so memory and cost
//! do not grow. After each block, and after each row where something is afoot, the evidence for a ramp of every age, twice the logarithm of its
//! likelihood ratio, is added over all channels. An edge is told when the evidence outweighs the odds
//! against one ([`super::asked`]): fewer where people have just been told to switch the lamp
//! ([`Watcher::expect`]), more where nobody plans to ([`Watcher::unplanned`]). What set in too long ago to be
//! told may have been a lamp all the same: all begins anew from there, so that its going off is no less a surprise.
//!
//! What the result hangs on stands in `benches/README.md`.

mod blocks;

use super::asked::{AGREES, Asked, Onset, beyond};
use super::trace::Trace;
use super::track::{AGES, OLDEST, Ramp};
use super::{Kind, LampOptions};

/// Fewest blocks since the last edge (a curve that has begun flattens), and how many an alarm can rest on
/// at most.
const FEWEST_SINCE: usize = 60;
const MOST: f64 = 240.0;

/// Blocks that must lie before an onset, and once a cue was given.
const BEFORE: usize = 25;
const BEFORE_CUED: usize = 15;

/// Least change of slope that counts, in degrees Celsius a second: a strong sun behind clouds changes by a
/// hundredth at most. And the least that it must have moved the temperature, in steps of the readings.
pub(super) const LEAST_PER_S: f64 = 4e-3;
pub(super) const STEPS: f64 = 1.0;

/// The slope has turned when it goes on the old way by no more than this share of its change; from so many
/// blocks on the readings themselves must say so, but for the first of them, which lag. Where a curve still flattens
/// after an edge nothing younger counts.
pub(super) const TURN: f64 = 0.2;
const SHOWN: usize = 17;
const LAGGING: usize = 9;

/// Evidence of the newest blocks from which on something may be afoot, and rows are looked at as they come.
const AFOOT: f64 = 12.0;

const KINDS: [Kind; 2] = [Kind::On, Kind::Off];

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
    pub(super) lags_s: (f64, f64),
    pub(super) lag_spread_s: f64,
    pub(super) traces: Vec<Trace>,
    /// The lagged ramp, by blocks since it began.
    pub(super) shape: Vec<f64>,
    /// The first rows, until the block width is settled.
    first: Vec<(f64, Vec<f64>)>,
    spacing_s: f64,
    last_s: Option<f64>,
    pub(super) width_s: f64,
    block_end_s: f64,
    /// The newest blocks hold some evidence.
    is_afoot: bool,
    pub(super) asked: Asked,
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
            shape: Vec::new(),
            first: Vec::new(),
            spacing_s: 0.0,
            last_s: None,
            width_s: 0.0,
            block_end_s: 0.0,
            is_afoot: false,
            asked: Asked::default(),
        }
    }

    /// The same for a record in which nobody plans to switch a lamp: rows of hours and days, by a window
    /// perhaps. More evidence is asked for from the first row on than otherwise after hours.
    #[must_use]
    pub fn unplanned(mut self) -> Self {
        self.asked.unplanned();
        self
    }

    /// People are told to switch the lamp at `cue_s` seconds (which may be still to come): less evidence is
    /// asked for of what sets in then, and more of what sets in before.
    /// Infinite where they will be told, but it is not known when. Holds until an edge is seen.
    pub fn expect(&mut self, kind: Kind, cue_s: f64) {
        self.asked.cued(kind, cue_s);
    }

    /// Somebody is to switch the lamp, and nobody knows when: what holds from the beginning.
    pub fn expect_some_time(&mut self, kind: Kind) {
        self.asked.some_time(kind);
    }

    /// Nobody is to switch the lamp any more: as much is asked for as where none is planned. Holds until an
    /// edge is seen.
    pub fn expect_none(&mut self) {
        self.asked.through();
    }

    /// Takes one row: time in seconds and one temperature per channel, NaN where there is none.
    ///
    /// Rows whose time does not grow are left out. Returns an edge in the moment it is noticed.
    pub fn push(&mut self, t_s: f64, degc: &[f64]) -> Option<EdgeSeen> {
        if !t_s.is_finite() || self.last_s.is_some_and(|last| t_s <= last) {
            return None;
        }
        self.last_s = Some(t_s);
        if self.width_s > 0.0 {
            return self.take(t_s, degc);
        }
        self.first.push((t_s, degc.to_vec()));
        if self.first.len() <= blocks::SPACINGS {
            return None;
        }
        let first = std::mem::take(&mut self.first);
        self.settle_width(&first);
        let taken = first.iter().map(|(t_s, degc)| self.take(*t_s, degc));
        taken.fold(None, Option::or)
    }

    fn judge(&mut self, newest_s: f64, t_s: f64) -> Option<EdgeSeen> {
        let places = self.places();
        let lamp = self.asked.lamp();
        self.is_afoot = false;
        if lamp.is_some() && places < FEWEST_SINCE {
            return None;
        }
        let blocks = places as f64;
        let before = if self.asked.is_cued(newest_s) {
            BEFORE_CUED
        } else {
            BEFORE
        };
        let ages = AGES.into_iter().take_while(|age| age + before <= places);
        let by_age: Vec<_> = ages.map(|age| (age, self.ramps(age))).collect();
        let (mut best, mut usual): (Option<Bend>, f64) = (None, 0.0);
        for kind in KINDS {
            let judged = by_age.iter().filter(|(age, _)| age + BEFORE <= places);
            let tops = judged.map(|(age, ramps)| (all(ramps, kind), *age));
            let (_, likeliest) = tops.max_by(|a, b| a.0.total_cmp(&b.0)).unwrap_or_default();
            let quiet = by_age.iter().map(|(_, ramps)| self.untouched(ramps, kind));
            usual = quiet.fold(usual, f64::max);
            if lamp == Some(kind) {
                continue;
            }
            for (age, ramps) in &by_age {
                let age = *age;
                let raised = self.asked.raised(&Onset {
                    kind,
                    at_s: newest_s - age as f64 * self.width_s,
                    blocks,
                    likeliest,
                    width_s: self.width_s,
                });
                let over = self.beyond(ramps, age, kind) - raised;
                if over > best.as_ref().map_or(0.0, |b| b.over) {
                    best = Some(Bend { age, kind, over });
                }
            }
        }
        let is_much = |ramps: &[Option<Ramp>]| KINDS.iter().any(|kind| all(ramps, *kind) > AFOOT);
        self.is_afoot = by_age.iter().any(|(_, ramps)| is_much(ramps));
        self.asked.usually(usual.min(MOST), blocks, self.width_s);
        let seen = best.map(|best| self.locate(&best, newest_s, t_s));
        let Some(seen) = seen.or_else(|| self.within_gap(newest_s, t_s)) else {
            self.pass_over(&by_age, blocks);
            return None;
        };
        self.asked.seen(seen.edge);
        let width_s = self.width_s;
        self.traces.iter_mut().for_each(|t| t.moved(width_s, true));
        Some(seen)
    }

    /// Takes a ramp for granted that is too old to be told: it may have been a lamp. What came of it would pass
    /// for the filters' wandering otherwise, to which the lamp's going off were nothing new.
    fn pass_over(&mut self, by_age: &[(usize, Vec<Option<Ramp>>)], blocks: f64) {
        let oldest = by_age.last().filter(|(age, _)| *age == OLDEST);
        let Some((age, ramps)) = oldest.filter(|_| self.asked.may_miss(OLDEST, self.width_s))
        else {
            return;
        };
        let top = all(ramps, Kind::On);
        let is_likeliest = by_age.iter().all(|(_, other)| all(other, Kind::On) <= top);
        if is_likeliest && self.beyond(ramps, *age, Kind::On) > 0.0 {
            self.asked.missed(blocks);
            let width_s = self.width_s;
            self.traces.iter_mut().for_each(|t| t.moved(width_s, false));
        }
    }

    /// What each channel says of a ramp that set in `age` blocks ago.
    pub(super) fn ramps(&self, age: usize) -> Vec<Option<Ramp>> {
        let one = |trace: &Trace| {
            let ramp = trace.ramp(age, &self.shape)?;
            let evidence = worth(trace, ramp.evidence);
            Some(Ramp { evidence, ..ramp })
        };
        self.traces.iter().map(one).collect()
    }

    /// Blocks since the beginning or the last edge, in the channel that has most.
    pub(super) fn places(&self) -> usize {
        self.traces.iter().map(Trace::places).max().unwrap_or(0)
    }

    /// The channels' evidence for a ramp, without what a touch has made.
    fn untouched(&self, ramps: &[Option<Ramp>], kind: Kind) -> f64 {
        let each = self.traces.iter().zip(ramps);
        let quiet = each.filter(|(trace, _)| !trace.is_unquiet());
        let ramps = quiet.filter_map(|(_, ramp)| ramp.as_ref());
        ramps.map(|r| (kind.sign() * r.evidence).max(0.0)).sum()
    }

    /// How far what counts of the channels' evidence goes beyond what is asked for.
    fn beyond(&self, ramps: &[Option<Ramp>], age: usize, kind: Kind) -> f64 {
        let mut channels: Vec<(&Trace, f64)> = Vec::with_capacity(ramps.len());
        for (trace, ramp) in self.traces.iter().zip(ramps) {
            let Some(r) = ramp else { continue };
            let evidence = kind.sign() * r.evidence;
            let counts = evidence > AGREES
                && kind.sign() * r.slope > LEAST_PER_S * self.width_s
                && self.sound(trace, r, age, kind);
            channels.push((trace, if counts { evidence } else { 0.0 }));
        }
        let (over, is_alone) = beyond(channels.iter().map(|(_, evidence)| *evidence));
        // What one channel has alone is a touch more often than a lamp: it must look like none a little later or
        // sooner either.
        let loudest = channels.iter().max_by(|a, b| a.1.total_cmp(&b.1));
        let touched = |(trace, evidence): &(&Trace, f64)| {
            let near = AGES.windows(3).find(|near| near.get(1) == Some(&age));
            let mut near = near.unwrap_or_default().iter();
            *evidence > 0.0 && near.any(|age| trace.jumped(*age, &self.shape))
        };
        if is_alone && loudest.is_some_and(touched) {
            return f64::NEG_INFINITY;
        }
        over
    }

    /// Whether a channel's evidence counts: not where it hardly moved, merely flattens or jumped.
    ///
    /// A lamp that goes off makes a warm sample cool; a heating curve that flattens goes on rising.
    /// And the other way round for a lamp that goes on.
    fn sound(&self, trace: &Trace, ramp: &Ramp, age: usize, kind: Kind) -> bool {
        let change = kind.sign() * ramp.slope;
        let after = kind.sign() * ramp.after;
        let turned = |after: f64| after > -TURN * change;
        let shown = || kind.sign() * trace.slope(age - LAGGING);
        let moved = change * self.shape.get(age).copied().unwrap_or_default();
        // What the change's share is taken of may be the filters' fancy while a curve still flattens.
        let shows = if self.asked.still_flattens(trace.places(), self.width_s) {
            age >= SHOWN && shown() > 0.0
        } else {
            age < SHOWN || turned(shown())
        };
        turned(after)
            && !trace.is_unquiet()
            && shows
            && moved > STEPS * trace.step_degc
            && !trace.jumped(age, &self.shape)
            && !(self.asked.is_waited_for(trace.places(), self.width_s)
                && trace.stands(age, kind.sign()))
    }
}

/// What evidence is worth: less with few places to judge the noise by.
pub(super) fn worth(trace: &Trace, evidence: f64) -> f64 {
    let n = (trace.places() as f64).min(MOST);
    evidence.signum() * n * (evidence.abs() / n).ln_1p()
}

/// The channels' evidence for a ramp, without those that speak against it.
pub(super) fn all(ramps: &[Option<Ramp>], kind: Kind) -> f64 {
    let each = ramps.iter().flatten();
    each.map(|r| (kind.sign() * r.evidence).max(0.0)).sum()
}

/// A ramp that passes for an edge.
#[derive(Debug)]
pub(super) struct Bend {
    pub(super) age: usize,
    pub(super) kind: Kind,
    /// Evidence beyond what is asked for.
    over: f64,
}
