//! How much evidence is asked for before an edge is told while rows arrive.
//!
//! A test at some 27 (twice the logarithm of the likelihood ratio), as a CUSUM test has for one false alarm
//! in 1000 h; more while noise and slope are hardly known, and more as hours without a lamp speak for the
//! sun. The sun sets in over a minute, so a ramp must be young too, above all then. Where hours have shown
//! much evidence without a lamp, more is asked for. Where nobody plans to switch one still more is, and from
//! the first row on: a record by a window may begin under clouds. A lamp that burns is expected to go off,
//! and the ramp may be older.
//! A ramp that would have been told but for its age may have been a lamp: for half an hour it may go off, and that is
//! taken for little rarer than where it is known to burn.
//!
//! # When people are told to switch the lamp
//!
//! With a hazard `h(s)` that the lamp is switched at `s` the odds that it was, after the rows so far, are the
//! sum of `h(s)·Λ(s)` over all `s`, where `Λ` is the likelihood ratio of a ramp that set in at `s`; Shiryaev's
//! test for a Bayesian's quickest detection tells an edge when they go beyond a constant (Theory of
//! Probability and its Applications 8, 1963; from memory). The largest term stands for the sum, as in a CUSUM
//! test, so
//!
//! ```text
//! 2 ln Λ(s)  >  alarm - 2 ln(h(s)/h₀)
//! ```
//!
//! with `h₀` the hazard that `alarm` was set for: once in ten minutes, and nobody knows when. It is the ramp's
//! onset that counts, not the present. After a cue at `c` people take some ten seconds, some a minute, some
//! for ever: `h = 1/(a + s - c)` with `a` the median, whose logarithm decays slowly and comes down to `h₀` after ten
//! minutes. That is 8 less at the cue, 6 after twenty seconds and 4 after a minute. Before a cue a lamp is
//! rare: once in twenty lessons in five minutes would ask for 5 more. But what passes for one by a window is not
//! distributed as the likelihood ratio has it, so what is added is set by simulation, half of what it is where
//! no lamp is planned; and a ramp may be older there.

use super::Kind;

/// Evidence that is asked for, set by simulation: `cargo bench --bench on_line`.
/// One channel is all there is; two channels agree, and the addition for each further one; one
/// channel among several is alone with it, which is more often something that touched it.
const ALARM_ONE: f64 = 36.0;
const ALARM_JOINT: f64 = 27.0;
const ALARM_MORE: f64 = 3.0;
const ALARM_ALONE: f64 = 60.0;

/// A channel agrees with another from this evidence on, and from this share of the other's.
pub(super) const AGREES: f64 = 5.0;
const AGREES_SHARE: f64 = 0.15;

/// Additions soon after the beginning, where slope and noise are hardly known, soon after an edge, where the
/// curve flattens, and after hours without one; with the blocks until the first two are gone (seconds, if blocks are
/// shorter, for the second: a curve takes its time) and the last is whole.
const ALARM_EARLY: (f64, f64) = (26.0, 140.0);
const ALARM_SINCE: (f64, f64) = (50.0, 240.0);
const ALARM_LONG: f64 = 30.0;
const LONG_BLOCKS: f64 = 7200.0;

/// Addition for a lamp that goes on anew, since a sample that cools bends by itself.
const ALARM_ANEW: f64 = 6.0;

/// Seconds (or blocks, if longer) in which a sample's surface comes to its own balance after an edge.
const FLATTENS: f64 = 120.0;

/// How many times what is added after hours is added from the beginning where no lamp is planned.
const UNPLANNED: f64 = 2.0;

/// The same for a lamp before people are told to switch it: some do so all the same, and people are often
/// ahead of a clock that they see when one that burns is to go off.
const AHEAD_ON: f64 = 1.0;
const AHEAD_OFF: f64 = 0.4;

/// Addition for a lamp that goes off without having been seen to go on; and how long one burns that may have
/// gone on unnoticed, in seconds.
const ALARM_UNSEEN: f64 = 12.0;
const BURNS_S: f64 = 1800.0;

/// What is asked for more for each block (or second, if longer) that the likeliest ramp is older than so many:
/// sun and draughts set in over a minute, and what a lamp does shows sooner. The second is added after hours, as above. A lamp
/// that burns goes off some time, and a weak one's evidence gathers more slowly than that: then less.
const ALARM_OLD: (f64, f64) = (6.0, 6.0);
const ALARM_OLD_LIT: f64 = 2.0;
const YOUNG: f64 = 20.0;

/// Evidence that is usual without a lamp, hours over which it is averaged (in blocks), and by how much of
/// the excess the alarm is raised.
const USUAL: f64 = 8.0;
const HOURS: f64 = 2700.0;
const RAISED: f64 = 12.0;

/// Hazard that the alarm was set for, once in so many seconds; median time that people take after a cue; and
/// how much earlier than at it a ramp may seem to set in, since lags are known that badly.
const UNKNOWN_S: f64 = 600.0;
const TAKES_S: f64 = 10.0;
const SEEMS_S: f64 = 5.0;

/// Share of what is added soon after the beginning that is asked for of what sets in after a cue.
const EARLY_CUED: f64 = 0.5;

/// When the lamp is to be switched, as far as it is known.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
enum Expected {
    /// Some time, and nobody tells when.
    #[default]
    SomeTime,
    /// People are told to at this time in seconds; infinite where that time is not known yet.
    Cued(f64),
    /// Not at all.
    Never,
}

impl Expected {
    /// How much less is asked for of a ramp that set in at `onset_s`; none where a lamp is rare.
    fn less(self, onset_s: f64) -> Option<f64> {
        match self {
            Self::SomeTime => Some(0.0),
            Self::Cued(cue_s) if onset_s >= cue_s - SEEMS_S => {
                let since_s = (onset_s - cue_s).max(0.0);
                Some((2.0 * (UNKNOWN_S / (TAKES_S + since_s)).ln()).max(0.0))
            }
            Self::Cued(_) | Self::Never => None,
        }
    }
}

/// A ramp whose evidence is weighed.
#[derive(Debug, Clone, Copy)]
pub(super) struct Onset {
    pub(super) kind: Kind,
    /// When it set in, in seconds.
    pub(super) at_s: f64,
    /// Blocks since the beginning or the last edge.
    pub(super) blocks: f64,
    /// Age in blocks of the ramp of its kind that the rows speak for most.
    pub(super) likeliest: usize,
    /// Width of a block in seconds.
    pub(super) width_s: f64,
}

/// What is known of the lamp and of how much evidence there is without one.
#[derive(Debug, Clone)]
pub(super) struct Asked {
    on: Expected,
    off: Expected,
    /// The last edge seen.
    lamp: Option<Kind>,
    unplanned: bool,
    /// Blocks until something set in that may have been a lamp, and was not told.
    passed: Option<f64>,
    /// Evidence of late.
    usual: f64,
}

impl Default for Asked {
    fn default() -> Self {
        Self {
            on: Expected::SomeTime,
            off: Expected::SomeTime,
            lamp: None,
            unplanned: false,
            passed: None,
            usual: USUAL,
        }
    }
}

impl Asked {
    /// Nobody plans to switch a lamp.
    pub(super) fn unplanned(&mut self) {
        self.unplanned = true;
    }

    /// People are told at `cue_s` to switch it; infinite where it is not known when.
    pub(super) fn cued(&mut self, kind: Kind, cue_s: f64) {
        *self.of(kind) = Expected::Cued(cue_s);
    }

    /// It is to be switched, and nobody knows when.
    pub(super) fn some_time(&mut self, kind: Kind) {
        *self.of(kind) = Expected::SomeTime;
    }

    /// Nobody is to switch it any more.
    pub(super) fn through(&mut self) {
        (self.on, self.off) = (Expected::Never, Expected::Never);
    }

    fn of(&mut self, kind: Kind) -> &mut Expected {
        match kind {
            Kind::On => &mut self.on,
            Kind::Off => &mut self.off,
        }
    }

    /// Whoever is told to switch it on is not to switch it off, and the other way round.
    fn expected(&self, kind: Kind) -> Expected {
        let (this, other) = match kind {
            Kind::On => (self.on, self.off),
            Kind::Off => (self.off, self.on),
        };
        if this == Expected::SomeTime && other != Expected::SomeTime {
            return Expected::Never;
        }
        this
    }

    /// Whether a cue was given before `now_s`.
    pub(super) fn is_cued(&self, now_s: f64) -> bool {
        [self.on, self.off]
            .into_iter()
            .any(|e| matches!(e, Expected::Cued(cue_s) if cue_s <= now_s))
    }

    /// The last edge seen.
    pub(super) fn lamp(&self) -> Option<Kind> {
        self.lamp
    }

    /// Whether a lamp may be switched on and not be told because its ramp is so many blocks of `width_s` seconds old.
    pub(super) fn may_miss(&self, age: usize, width_s: f64) -> bool {
        let too_old = ALARM_OLD.0 * older_s(age, width_s) > ALARM_ALONE;
        too_old
            && self.lamp.is_none()
            && !self.unplanned
            && self.expected(Kind::On) != Expected::Never
    }

    /// What set in may have been a lamp, and it is too late to tell; so many blocks are behind.
    pub(super) fn missed(&mut self, blocks: f64) {
        self.passed = Some(self.passed.unwrap_or_default() + blocks);
    }

    /// Whether the lamp may burn that was not seen to go on, if what set in did so before these blocks.
    fn perhaps_lit(&self, onset: &Onset) -> bool {
        self.passed.is_some() && onset.blocks * onset.width_s < BURNS_S
    }

    /// An edge was seen; what was expected is over.
    pub(super) fn seen(&mut self, kind: Kind) {
        self.passed = None;
        self.lamp = Some(kind);
        (self.on, self.off) = Default::default();
    }

    /// What is added soon after the beginning or the last edge, and the blocks of `width_s` seconds until that
    /// is gone: as many as it takes to know the noise, or for a curve to flatten.
    fn after(&self, width_s: f64) -> (f64, f64) {
        self.lamp.map_or(ALARM_EARLY, |_| {
            let (more, until) = ALARM_SINCE;
            (more, until / width_s.min(1.0))
        })
    }

    /// Whether so many blocks of `width_s` seconds after an edge the curve may still flatten by itself.
    pub(super) fn still_flattens(&self, blocks: usize, width_s: f64) -> bool {
        self.lamp.is_some() && blocks as f64 * width_s.min(1.0) < FLATTENS
    }

    /// Whether no lamp has burnt for so long, in so many blocks of `width_s` seconds, that what readings do by
    /// chance must be excluded.
    pub(super) fn is_waited_for(&self, blocks: usize, width_s: f64) -> bool {
        self.lamp != Some(Kind::On) && blocks as f64 * width_s > UNKNOWN_S
    }

    /// Takes in how much evidence there is so many blocks of `width_s` seconds after the beginning or the last edge.
    pub(super) fn usually(&mut self, evidence: f64, blocks: f64, width_s: f64) {
        let (_, until) = self.after(width_s);
        // What follows on an edge is the lamp's doing.
        if self.lamp.is_none() || blocks > until {
            self.usual += (evidence - self.usual) / HOURS;
        }
    }

    /// What is asked for beyond the usual alarm.
    pub(super) fn raised(&self, onset: &Onset) -> f64 {
        let less = self.expected(onset.kind).less(onset.at_s);
        let since = onset.blocks + self.passed.unwrap_or_default();
        let hours = (since / LONG_BLOCKS).min(1.0);
        let lit = self.lamp == Some(Kind::On);
        let long = match less {
            _ if self.unplanned => UNPLANNED,
            None if lit => AHEAD_OFF.max(hours),
            None if onset.kind == Kind::Off && self.perhaps_lit(onset) => AHEAD_OFF.max(hours),
            None if self.expected(onset.kind) == Expected::Never => UNPLANNED,
            None => AHEAD_ON,
            Some(_) => hours,
        };
        // A weak lamp's evidence gathers slowly, and where one is to come its ramp may be older.
        let aged = if self.unplanned { UNPLANNED } else { hours };
        let less = less.unwrap_or_default();
        let (early, until) = self.after(onset.width_s);
        let early = if less > 0.0 && self.lamp.is_none() {
            EARLY_CUED * early
        } else {
            early
        };
        let old = older_s(onset.likeliest, onset.width_s);
        let unseen = self.lamp.is_none() && onset.kind == Kind::Off;
        let anew = self.lamp == Some(Kind::Off);
        let by_age = if lit {
            ALARM_OLD_LIT
        } else {
            ALARM_OLD.0 + ALARM_OLD.1 * aged
        };
        RAISED * (self.usual - USUAL).max(0.0)
            + early * (1.0 - onset.blocks / until).max(0.0)
            + ALARM_LONG * long
            + by_age * old
            + if unseen { ALARM_UNSEEN } else { 0.0 }
            + if anew { ALARM_ANEW } else { 0.0 }
            - less
    }
}

/// How much older than a young one a ramp is, in seconds (or blocks, if longer).
fn older_s(age: usize, width_s: f64) -> f64 {
    (age as f64 * width_s.min(1.0) - YOUNG).max(0.0)
}

/// How far the channels' evidence together goes beyond the usual alarm, and whether one of several says it alone.
pub(super) fn beyond(channels: impl Iterator<Item = f64>) -> (f64, bool) {
    let (mut sum, mut first, mut second, mut count) = (0.0, 0.0_f64, 0.0_f64, 0_u8);
    for e in channels {
        sum += e.max(0.0);
        second = second.max(first.min(e));
        first = first.max(e);
        count += 1;
    }
    let is_alone = count > 1 && second < AGREES.max(AGREES_SHARE * first);
    let alarm = match (count, is_alone) {
        (1, _) => ALARM_ONE,
        (_, true) => ALARM_ALONE,
        (_, false) => ALARM_JOINT,
    };
    let more = ALARM_MORE * f64::from(count.saturating_sub(2));
    (sum - alarm - more, is_alone)
}
