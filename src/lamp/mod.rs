//! When the lamp went on and off, from the temperatures alone.
//!
//! All channels share one lamp, so their forcing `dT/dt + (T - air)/τ` steps at the same instants.
//! Each channel is modelled as
//!
//! ```text
//! T(t) = c + d·(t - t₀) + D·exp(-(t - t₀)/τ) + Q·Σₑ ±S(t - e),   Q ≥ 0
//! ```
//!
//! with edges `e` that alternate between on and off, and `S` the unit step response of a chain of
//! first-order stages: the sample (τ), the probe's lag and the lamp's own warm-up. The linear
//! terms are projected out (variable projection, Golub and Pereyra 1973); edges, time constants
//! and lags are fitted jointly over all channels by Levenberg and Marquardt's method.
//!
//! Real bodies have more than one node: heat goes into a slab as into a chain of them, and light
//! falls on the probe itself. Where lags are not declared the response is therefore a sum of many
//! modes, none of them negative; where they are, a second node, a drift and the modes must earn
//! their place by Schwarz's criterion. Few rows minutes apart are not fitted: every pair of instants is
//! weighed over many shapes. Records of days are cut in windows, one for each edge.
//!
//! What changed all samples by less than a degree and a half, as a door does, passes for a lamp only where it came
//! on, stood out of all that the record does besides, and warmed some sample by three tenths of a degree.
//!
//! A lag delays both edges alike, so the data say little about it: undeclared lags get a stated
//! prior (see [`LampOptions`]) and the interval carries what the prior leaves open.
//!
//! [`find_edges`] is the best answer after the fact, [`Watcher`] the quick one while rows arrive.

mod asked;
mod choose;
mod clean;
mod days;
mod doubt;
mod evidence;
mod few;
mod finish;
mod fitted;
mod gap;
mod hinge;
mod interval;
mod long;
mod modes;
mod noise;
mod placed;
mod priors;
mod project;
mod refine;
mod response;
mod search;
mod season;
mod sense;
mod sharp;
mod touch;
mod trace;
mod track;
mod watch;

use serde::{Deserialize, Serialize};

pub(crate) use clean::{Curve, curve};
pub(crate) use noise::inflation;
pub use noise::student_975;
pub use watch::{EdgeSeen, Watcher};

/// Level at which every interval of this room is stated.
pub const LEVEL: f64 = 0.95;

/// Whether the lamp went on or off.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Kind {
    /// The lamp went on: every sample's forcing steps up.
    On,
    /// The lamp went off: every sample's forcing steps down.
    Off,
}

impl Kind {
    /// The other kind: edges alternate.
    #[must_use]
    pub fn other(self) -> Self {
        match self {
            Self::On => Self::Off,
            Self::Off => Self::On,
        }
    }

    /// Sign of the step in the forcing: +1 for on, -1 for off.
    #[must_use]
    pub fn sign(self) -> f64 {
        match self {
            Self::On => 1.0,
            Self::Off => -1.0,
        }
    }
}

/// One instant at which the lamp went on or off, with its interval.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Edge {
    /// On or off.
    pub edge: Kind,
    /// Best estimate of the instant, in seconds of the input's time base.
    pub at_s: f64,
    /// Lower end of the interval, in seconds.
    pub low_s: f64,
    /// Upper end of the interval, in seconds.
    pub high_s: f64,
    /// Level of the interval: the share of such intervals that cover the truth.
    pub level: f64,
}

/// What is known about the lags before the data are seen.
///
/// Unset lags get a log-normal prior: a probe's lag has mean 6 s and standard deviation 3 s (most
/// of it common to all probes of the bench), the lamp's has mean 2 s and standard deviation 1.5 s.
/// How an undeclared probe lag is split in stages is open too (a bead in a sheath lags twice).
///
/// Tables of few rows at round times (half a minute apart or more) and in tenths of a degree are taken as read
/// by a person, unless a logger is known to have taken them: 4 s late, and 3 s more for each sample read
/// before, with standard deviation 4 s (common practice, no source).
///
/// A real lamp warms up and glows on in other ways than a first-order lag, and not alike: where the
/// lamp's lag is not declared, each edge's interval is 1.3 times as long as the fit's own and carries a
/// standard uncertainty of 1.5 s more, and six hundredths of the time between rows (chosen by simulation).
#[derive(Debug, Clone, PartialEq, Default)]
pub struct LampOptions {
    /// First-order lag of the probes in seconds, at least 0: one for all or one per channel.
    /// A list of any other length is treated as not declared.
    pub probe_lag_s: Option<Vec<f64>>,
    /// Standard uncertainty of each channel's lag in seconds, where it was measured rather than
    /// declared; none, 0 or no number: it is held.
    pub probe_lag_u_s: Option<Vec<f64>>,
    /// First-order lag of the lamp's own warm-up in seconds, at least 0.
    pub lamp_lag_s: Option<f64>,
    /// Whether the rows are known to be a logger's and not a person's.
    pub logged: bool,
}

impl LampOptions {
    /// All lags declared as none: for data where sample and reading follow the lamp at once.
    #[must_use]
    pub fn no_lags() -> Self {
        Self {
            probe_lag_s: Some(vec![0.0]),
            lamp_lag_s: Some(0.0),
            ..Self::default()
        }
    }

    /// The declared probe lag of channel `index` of `count`, where it is declared and usable.
    pub(crate) fn declared_probe_lag_s(&self, index: usize, count: usize) -> Option<f64> {
        let lags = self.probe_lag_s.as_deref()?;
        let lag = match lags {
            [one] => *one,
            many if many.len() == count => *many.get(index)?,
            _ => return None,
        };
        usable_lag(lag)
    }

    /// The standard uncertainty of a channel's measured lag in seconds.
    pub(crate) fn probe_lag_u_s(&self, channel: usize) -> Option<f64> {
        let u_s = self.probe_lag_u_s.as_ref()?.get(channel).copied();
        u_s.filter(|u_s| u_s.is_finite() && *u_s > 0.0)
    }

    /// The declared lamp lag, where it is usable.
    pub(crate) fn declared_lamp_lag_s(&self) -> Option<f64> {
        self.lamp_lag_s.and_then(usable_lag)
    }
}

/// A lag is usable when it is finite and not negative.
fn usable_lag(lag_s: f64) -> Option<f64> {
    (lag_s.is_finite() && lag_s >= 0.0).then_some(lag_s)
}

/// How the edges were found.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Method {
    /// No edge: the data hold none that is sharper than a smooth curve, or too few rows.
    NoEdge,
    /// One model of the whole record, all edges and channels together.
    Whole,
    /// Many edges: each fitted in its own window between its neighbours.
    Pieces,
}

/// The outcome of [`find_edges`].
#[derive(Debug, Clone, PartialEq)]
pub struct LampFit {
    /// Edges in order of time, alternating in kind.
    pub edges: Vec<Edge>,
    /// For each edge, the share (0 to 1) of the interval's variance that the lags' priors cause.
    pub lag_share: Vec<f64>,
    /// Standard deviation of each channel's readings about the model, in degrees Celsius;
    /// none for a channel without usable data or where no model was fitted.
    pub noise_degc: Vec<Option<f64>>,
    /// How the edges were found.
    pub method: Method,
}

/// Finds every edge of the lamp in a record, jointly over all channels.
///
/// `t_s` are times in seconds, finite and strictly increasing (rows that break this are left
/// out); each channel is as long as `t_s`, in degrees Celsius, NaN where there is no value.
/// Never fails: a record that supports no edge gives none. Cost is linear in rows plus a bounded
/// fit.
#[must_use]
pub fn find_edges(t_s: &[f64], channels: &[&[f64]], options: &LampOptions) -> LampFit {
    choose::find(t_s, channels, options)
}

/// [`find_edges`] for who holds the curves already: one for each channel in order. They are given
/// back as they were.
pub(crate) fn find_edges_in(curves: &mut Vec<Curve>, options: &LampOptions) -> LampFit {
    choose::find_in(curves, options)
}

#[cfg(test)]
mod tests;
