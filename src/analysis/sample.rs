//! One sample's numbers: start, peak, end, and what follows from them; rates are in `pace.rs`.

use super::ahead::{Ahead, moved_on};
use super::line::{Local, local};
use super::pace::NoRate;
use super::span::fill;
use super::{Channel, Sample, SampleValues, Warning};
use crate::lamp::Curve;

/// Longest stretch of a local fit for start, peak and end, in seconds.
const STRETCH_S: f64 = 120.0;

/// The instants that a sample's numbers hang on.
#[derive(Debug, Clone, Copy)]
pub(super) struct Instants {
    /// Lamp on, and its standard uncertainty, in seconds.
    pub(super) on: Option<(f64, f64)>,
    /// Lamp off, and its standard uncertainty, in seconds.
    pub(super) off: Option<(f64, f64)>,
    /// End of what follows the off-edge: the next on-edge or the last row.
    pub(super) end_s: f64,
    /// The sample was taken from under the lamp then, and what it reads afterwards is not looked at.
    pub(super) moved: bool,
    /// Lag of probe and lamp together, in seconds.
    pub(super) lag_s: f64,
    /// By how much the sample is ahead of its reading.
    pub(super) ahead: Ahead,
}

/// A value with its standard uncertainty.
pub(super) type Uncertain = (f64, f64);

/// Everything needed to judge one channel.
pub(super) struct Judge<'a> {
    channel: &'a Channel,
    pub(super) curve: &'a Curve,
    pub(super) sd_degc: f64,
    pub(super) at: Instants,
}

impl<'a> Judge<'a> {
    pub(super) fn new(channel: &'a Channel, curve: &'a Curve, sd_degc: f64, at: Instants) -> Self {
        Self {
            channel,
            curve,
            sd_degc,
            at,
        }
    }

    /// The sample's values and uncertainties; what cannot be had is left out with a warning.
    pub(super) fn sample(&self, warnings: &mut Vec<Warning>) -> Sample {
        let mut v = SampleValues::default();
        let mut u = SampleValues::default();
        let set = |value: &mut Option<f64>, spread: &mut Option<f64>, x: Option<Uncertain>| {
            if let Some((x, dx)) = x {
                (*value, *spread) = (Some(tidy(x)), Some(tidy(dx)));
            }
        };
        let start = self.start();
        let peak = self.peak();
        let end = self.end().filter(|_| !self.at.moved);
        set(
            &mut v.start_degc,
            &mut u.start_degc,
            start.map(|x| self.level(x)),
        );
        set(
            &mut v.peak_degc,
            &mut u.peak_degc,
            peak.map(|x| self.level(x)),
        );
        set(&mut v.end_degc, &mut u.end_degc, end.map(|x| self.level(x)));
        let minus = |a: Option<Uncertain>, b: Option<Uncertain>| {
            let ((a, ua), (b, ub)) = (a?, b?);
            // What is common to all readings cancels; the steps of two readings do not.
            Some((a - b, ua.hypot(ub).hypot(self.step() * 2.0_f64.sqrt())))
        };
        set(&mut v.rise_degc, &mut u.rise_degc, minus(peak, start));
        set(
            &mut v.fall_degc,
            &mut u.fall_degc,
            peak.and(minus(peak, end)),
        );
        let heating = self.heating_rate(start);
        set(
            &mut v.heating_rate_degc_per_min,
            &mut u.heating_rate_degc_per_min,
            heating.ok(),
        );
        let cooling = self.cooling(peak);
        set(
            &mut v.cooling_rate_degc_per_min,
            &mut u.cooling_rate_degc_per_min,
            cooling.rate.ok(),
        );
        set(&mut v.time_constant_s, &mut u.time_constant_s, cooling.tau);
        set(
            &mut v.air_degc,
            &mut u.air_degc,
            cooling.air.map(|x| self.level(x)),
        );
        fill(self.curve, self.sd_degc, |x| self.level(x), &mut v, &mut u);
        self.doubts(&v, (heating.err(), cooling.rate.err()), warnings);
        Sample {
            name: self.channel.name.clone(),
            values: v,
            u,
        }
    }

    fn doubts(
        &self,
        v: &SampleValues,
        (no_heating, no_cooling): (Option<NoRate>, Option<NoRate>),
        warnings: &mut Vec<Warning>,
    ) {
        let mut no = |what, why| {
            let sample = self.channel.name.clone();
            warnings.push(Warning::NoValue { sample, what, why });
        };
        if v.start_degc.is_none() {
            no("start temperature", "there is no reading to take it from");
        }
        if self.at.off.is_some() && v.peak_degc.is_none() {
            no(
                "peak temperature",
                "too few readings lie before the lamp went off",
            );
        }
        let few = "too few readings lie within the heating, or its beginning is not known";
        if let Some(none) = no_heating.filter(|_| self.at.on.is_some() || self.at.off.is_some()) {
            no("heating rate", none.why(few));
        }
        if self.at.off.is_some() && v.time_constant_s.is_none() {
            no(
                "time constant",
                "the cooling is too short or too straight to show one",
            );
        }
        if let Some(none) = no_cooling.filter(|_| self.at.off.is_some()) {
            let few = "too few readings lie within the cooling";
            no("cooling rate", none.why(few));
        }
    }

    /// Standard uncertainty of one reading's step.
    fn step(&self) -> f64 {
        self.channel.resolution_degc.unwrap_or(0.0) / 12.0_f64.sqrt()
    }

    /// Adds what is common to all readings, and the step, to a temperature's uncertainty.
    fn level(&self, (value, u): Uncertain) -> Uncertain {
        let common = self.channel.u_common_degc.unwrap_or(0.0);
        (value, u.hypot(common).hypot(self.step()))
    }

    /// The rows in a closed interval of time.
    pub(super) fn rows(&self, from: f64, to: f64) -> (&[f64], &[f64]) {
        let a = self.curve.t_s.partition_point(|t| *t < from);
        let b = self.curve.t_s.partition_point(|t| *t <= to).max(a);
        (
            self.curve.t_s.get(a..b).unwrap_or_default(),
            self.curve.degc.get(a..b).unwrap_or_default(),
        )
    }

    fn local_at(&self, from: f64, to: f64, at: f64) -> Option<(Local, f64)> {
        let (t, y) = self.rows(from, to);
        let degree = match t.len() {
            0 => return None,
            1 | 2 => 0,
            3..=7 => 1,
            _ => 2,
        };
        // Two rows or one: the last (or first) of them stands for itself.
        let near = |v: &[f64]| {
            if at >= to {
                v.last().copied()
            } else {
                v.first().copied()
            }
        };
        let fit = if degree == 0 {
            local(&[near(t)?], &[near(y)?], at, 0)?
        } else {
            local(t, y, at, degree)?
        };
        Some((
            fit,
            fit.residual_sd.max(self.sd_degc) * self.curve.inflation.sqrt().min(3.0),
        ))
    }

    pub(super) fn start(&self) -> Option<Uncertain> {
        let first = *self.curve.t_s.first()?;
        let Some((on, u_on)) = self.at.on else {
            // Lamp on from the first row, or no edge at all: the first reading.
            let value = *self.curve.degc.first()?;
            return Some((value, self.sd_degc));
        };
        let sure = (on - u_on).max(first);
        // Of rows minutes apart the last before the lamp, however long ago.
        let before = self.curve.t_s.partition_point(|t| *t <= sure);
        let last = *self.curve.t_s.get(before.checked_sub(1)?)?;
        let (t, y) = self.rows(last.min(sure - STRETCH_S), sure);
        let level = local(t, y, on, 0)?;
        let line = local(t, y, on, 1).filter(|_| t.len() >= 10);
        // A drift is followed only where it is plain; otherwise the mean is the steadier value.
        let fit = line
            .filter(|l| l.slope.abs() > 4.0 * l.slope_share * l.residual_sd.max(self.sd_degc))
            .unwrap_or(level);
        let spread = fit.residual_sd.max(self.sd_degc) * self.curve.inflation.sqrt().min(3.0);
        Some((fit.value, (fit.share * spread).hypot(fit.slope * u_on)))
    }

    fn peak(&self) -> Option<Uncertain> {
        let (off, u_off) = self.at.off?;
        let begin = self
            .at
            .on
            .map_or(f64::NEG_INFINITY, |on| on.0 + self.guard(on.0, off));
        let from = begin.max(off - stretch(begin, off));
        let (fit, spread) = self.local_at(from, off, off)?;
        if self.rows(from, off).0.len() < 3
            && let Some(onward) = self.onward(begin, (off, u_off))
        {
            return Some(onward);
        }
        // While it warms the sample is ahead of its probe.
        let slope = if fit.slope > 0.0 {
            (fit.slope, fit.slope_share * spread)
        } else {
            (0.0, 0.0)
        };
        let (value, u) = moved_on(
            (fit.value, fit.share * spread),
            slope,
            self.at.ahead.at_off_s,
        );
        let at_off = (value, u.hypot(0.5 * fit.slope * u_off));
        // A lagging probe tops out a little later.
        let (t, y) = self.rows(off, (off + 8.0 * self.at.lag_s).min(self.at.end_s));
        let top = y
            .windows(5)
            .map(|w| w.iter().sum::<f64>() / 5.0)
            .chain(y.iter().copied().filter(|_| t.len() < 5))
            .fold(f64::NEG_INFINITY, f64::max);
        let mean_u = if t.len() < 5 {
            self.sd_degc
        } else {
            self.sd_degc / 5.0_f64.sqrt()
        };
        // A single reading of a sparse table is no luck of many: the hottest one stands.
        let luck = if t.len() < 5 { 0.0 } else { 2.0 };
        if top > at_off.0 + luck * at_off.1.hypot(mean_u) {
            Some((top, mean_u.hypot(at_off.1)))
        } else {
            Some(at_off)
        }
    }

    /// The temperature at the lamp-off of a table whose rows are far apart: the last row before it, and
    /// what the sample warmed from there on, at a rate that slackens as it did between the last three
    /// rows. How much that slackening makes of it is the half-width of a rectangular distribution
    /// (JCGM 100:2008, 4.3.7). A reading after it that is higher still stands over it.
    fn onward(&self, begin: f64, (off, u_off): Uncertain) -> Option<Uncertain> {
        let (t, y) = self.rows(begin, off);
        let (t, y) = (t.last_chunk::<3>()?, y.last_chunk::<3>()?);
        let (first, last) = ((y[1] - y[0]) / (t[1] - t[0]), (y[2] - y[1]) / (t[2] - t[1]));
        let slackening = if first > 0.0 { last / first } else { 1.0 }.clamp(0.0, 1.0);
        let ahead_s = off - t[2];
        let between_s = 0.5 * (t[2] - t[0]);
        let after_s = 0.5 * (t[2] - t[1] + ahead_s);
        let slope = last.max(0.0) * slackening.powf(after_s / between_s);
        let by_shape = (last.max(0.0) - slope) * ahead_s / 3.0_f64.sqrt();
        let noise = self.sd_degc * (1.0 + ahead_s / between_s);
        let at_off = (y[2] + slope * ahead_s, noise.hypot(by_shape));
        let at_off_slope = slope * slackening.powf(0.5 * ahead_s / between_s);
        let (at_off, u) = moved_on(at_off, (at_off_slope, 0.0), self.at.ahead.at_off_s);
        let u = u.hypot(slope * u_off);
        let after = self
            .rows(off, (off + 8.0 * self.at.lag_s).min(self.at.end_s))
            .1;
        let top = after.iter().copied().fold(at_off, f64::max);
        Some((top, u))
    }

    fn end(&self) -> Option<Uncertain> {
        let last = *self.rows(f64::NEG_INFINITY, self.at.end_s).0.last()?;
        let begin = self
            .at
            .off
            .map_or(f64::NEG_INFINITY, |off| off.0 + self.guard(off.0, last));
        let from = begin.max(last - stretch(begin, last));
        let (fit, spread) = self.local_at(from.min(last), last, last)?;
        Some(moved_on(
            (fit.value, fit.share * spread),
            (fit.slope, fit.slope_share * spread),
            self.at.ahead.reading_s,
        ))
    }

    /// Time after an edge that the lags still mark: three of them, but never a third of a phase.
    pub(super) fn guard(&self, from: f64, to: f64) -> f64 {
        (3.0 * self.at.lag_s).min((to - from) / 3.0).max(0.0)
    }
}

/// How far back a local fit reaches: part of the phase, at most two minutes, but at least
/// three rows where they are sparse.
fn stretch(begin: f64, end: f64) -> f64 {
    let share = if begin.is_finite() {
        0.3 * (end - begin)
    } else {
        STRETCH_S
    };
    share.min(STRETCH_S)
}

/// Five decimals are finer than any value here; more would only be noise in files.
pub(super) fn tidy(x: f64) -> f64 {
    (x * 1e5).round() / 1e5
}
