//! How fast a sample warms and cools: first rates, time constant, the level that it goes to.

use super::decay::{Decay, fit_decay};
use super::line::local;
use super::sample::{Judge, Uncertain};
use super::two_decays::{Begin, fit_two_decays};
use super::{WHY_LAGGING, WHY_OPEN};
use crate::lamp::inflation;

/// A time constant or rate counts when its relative standard uncertainty is below this.
const DETERMINED: f64 = 0.5;

/// A time constant and the level that is gone to are told to these shares of themselves and of what is cooled.
const KNOWN: f64 = 0.3;

/// In fewer time constants than the first one exponential passes for what are two (it told 0.94 of the rate at
/// which moss on a tray begins, to within a two-hundredth), in more than the second it does not. Between
/// them the doubt fades, or the unit of the column would decide between two answers.
const WATCHED_WHOLE: (f64, f64) = (3.0, 4.0);

/// Where the late part of a phase begins, and where its early part ends, as shares of it.
const LATE_PART: f64 = 0.35;
const EARLY_PART: f64 = 0.35;

/// Most points of an exponential fit: more change nothing but the time it takes.
const POINTS: usize = 1500;

/// Rows of a phase from which two exponentials might be told.
const FEW: usize = 30;

/// What is approached faster than this share of the lag shows the lag, not the sample.
const FASTEST: f64 = 1.0;

/// Rows that say how a phase of few rows begins, and how many lags after its begin the first may lie.
const EARLY_ROWS: usize = 3;
const LEAST_AFTER: f64 = 1.0;

/// Rows of a phase from which a straight line without a bend is believed.
const BENDING: usize = 15;

/// What is over sooner than this share of the time between two rows cannot be told from them.
const SEEN_BETWEEN: f64 = 2.0 / 3.0;

/// A phase of fewer lags than this shows the probe's lag rather than how its sample begins.
const LEAST_LAGS: f64 = 6.0;

/// One exponential does for a phase where it is at the phase's start, to so many standard uncertainties,
/// between the edge and so many usual lags after it.
const MEETS: f64 = 3.0;
const MOST_LAG: f64 = 2.5;

impl Judge<'_> {
    /// An exponential over one phase, with t₀ at its edge as the lagging reading shows it, and
    /// uncertainties that carry correlation and resolution.
    fn phase(&self, edge: f64, to: f64) -> Option<Decay> {
        let (t, y) = self.rows(edge + self.guard(edge, to), to);
        let thin = self.curve.part(t, y).thinned(POINTS);
        let t0 = edge + self.at.lag_s;
        let mut fit = fit_decay(&thin.t_s, &thin.degc, t0, None)?;
        if fit.tau_s() < SEEN_BETWEEN * spacing(&thin.t_s)? {
            return None;
        }
        let per_point = self.sd_degc / thin.rows.iter().next().unwrap_or(1.0).sqrt();
        let factor = if fit.residual_sd > 0.0 {
            (per_point / fit.residual_sd).max(1.0)
        } else {
            1.0
        };
        fit.widen(factor * inflation(&fit.residuals).sqrt());
        self.parts_disagree(&mut fit, t0, edge, to);
        (fit.u_k_per_s < DETERMINED * fit.k_per_s).then_some(fit)
    }

    /// A body whose surface and inside warm at different paces follows no single exponential: what
    /// is fitted then depends on the part of the phase that is looked at. That dependence, beyond
    /// what noise explains, goes into the uncertainties as the half-width of a rectangular
    /// distribution (JCGM 100:2008, 4.3.7): of the late part for time constant and level, of the
    /// early part for the initial rate.
    fn parts_disagree(&self, fit: &mut Decay, t0: f64, edge: f64, to: f64) {
        let begin = edge + self.guard(edge, to);
        let part = |from: f64, until: f64| {
            let (t, y) = self.rows(from, until);
            let thin = self.curve.part(t, y).thinned(POINTS);
            let mut part = fit_decay(&thin.t_s, &thin.degc, t0, None)?;
            part.widen(inflation(&part.residuals).sqrt());
            Some(part)
        };
        if let Some(late) = part(begin + LATE_PART * (to - begin), to) {
            let alone = fit.u_k_per_s;
            let apart = fit.k_per_s - late.k_per_s;
            widen_by(&mut fit.u_k_per_s, apart, late.u_k_per_s);
            fit.u_k_by_parts_per_s = (fit.u_k_per_s.powi(2) - alone.powi(2)).sqrt();
            let apart = fit.level() - late.level();
            widen_by(&mut fit.u_level, apart, late.u_level);
        }
        if let Some(early) = part(begin, begin + EARLY_PART * (to - begin)) {
            let apart = fit.rate_per_s() - early.rate_per_s();
            widen_by(&mut fit.u_rate_per_s, apart, early.u_rate_per_s);
        }
    }

    /// Slope at the begin of a phase, per minute, by a straight line over its first part, or where that
    /// is plainly bent by a parabola, and whether it is. What one says otherwise than the other is the
    /// half-width of a rectangular distribution (JCGM 100:2008, 4.3.7).
    fn straight(&self, edge: f64, to: f64) -> Option<(Uncertain, bool)> {
        let (t, y) = self.rows(edge + self.guard(edge, to), to);
        let part = (t.len() / 2).max(3).min(t.len());
        let (t, y) = (t.get(..part)?, y.get(..part)?);
        let fit = |degree| {
            let fit = local(t, y, edge + self.at.lag_s, degree)?;
            let spread = fit.residual_sd.max(self.sd_degc);
            let u = fit.slope_share * spread * self.curve.inflation.sqrt().min(3.0);
            Some((fit.slope, u))
        };
        let (line, bent) = (fit(1)?, fit(2)?);
        let half = (bent.0 - line.0).abs();
        let is_bent = half > 2.0 * bent.1;
        let (slope, u) = if is_bent { bent } else { line };
        // What bend noise may hide the parabola's own uncertainty says.
        let hidden = if is_bent { 0.0 } else { bent.1 };
        let u = u.hypot((half + hidden) / 3.0_f64.sqrt());
        (u < DETERMINED * slope.abs()).then_some(((60.0 * slope, 60.0 * u), is_bent))
    }

    /// The rate at which a phase begins, in °C/min, warming counted up: what is seen from `start` on,
    /// where the curve stood at the edge.
    ///
    /// One exponential tells it where it also meets that start. A sample whose surface is faster than its
    /// inside needs two, from the start on; of both that hold the one that is surer is told. A straight line
    /// does where its rows show no bend. Where they would and none of these holds, nothing is told.
    fn first_rate(
        &self,
        (edge, u_edge): Uncertain,
        to: f64,
        start: Option<Uncertain>,
        one: Option<&Decay>,
    ) -> Option<Uncertain> {
        if self.is_lagging(edge, to) {
            return None;
        }
        let by_one = one.and_then(|fit| self.by_one(u_edge, start, fit));
        let Some(start) = start else {
            return by_one.or_else(|| Some(self.straight(edge, to)?.0));
        };
        let rows = self.rows(edge, to).0.len();
        let by_one = by_one.and_then(|one| {
            // Few rows after it say less of how it begins than where it began does.
            let from_start = || self.by_one_from((edge, u_edge), to, start, one);
            if rows < FEW { from_start() } else { Some(one) }
        });
        let by_two = self.by_two((edge, u_edge), to, start);
        let by_one = by_one.map(|told| {
            let watched = one.map_or(0.0, |fit| fit.k_per_s * (to - edge));
            let other = || by_two.or_else(|| Some(self.straight(edge, to)?.0));
            let (doubted, whole) = WATCHED_WHOLE;
            let doubt = ((whole - watched) / (whole - doubted)).clamp(0.0, 1.0);
            if doubt > 0.0 && rows >= FEW {
                beside(told, other(), doubt)
            } else {
                told
            }
        });
        // A phase too short to bend shows no exponential, and needs none; so few rows do not show a bend.
        let line = || {
            self.straight(edge, to)
                .filter(|(_, is_bent)| rows >= BENDING && !is_bent)
        };
        let simple = by_one.or_else(|| Some(line()?.0));
        let both = [simple, by_two].into_iter().flatten();
        let found = both.min_by(|a, b| a.1.total_cmp(&b.1));
        let by_few = || {
            let by_few = self.by_few((edge, u_edge), to, start);
            by_few.or_else(|| Some(self.straight(edge, to)?.0))
        };
        found.or_else(|| (rows < FEW).then(by_few).flatten())
    }

    /// The rate of one exponential: where the curve starts from is known, as it leaves that start; none if it
    /// is there at an instant that neither the edge's uncertainty nor the probe's lag explains. How far
    /// that instant is from the usual lag is the half-width of a rectangular distribution.
    fn by_one(&self, u_edge: f64, start: Option<Uncertain>, fit: &Decay) -> Option<Uncertain> {
        let told =
            |rate: f64, u: f64| (u < DETERMINED * rate.abs()).then_some((60.0 * rate, 60.0 * u));
        let (rate, k) = (fit.rate_per_s(), fit.k_per_s);
        let Some(start) = start else {
            return told(rate, fit.u_rate_per_s.hypot(rate * k * u_edge));
        };
        let later_s = -(-(start.0 - fit.start) / fit.change).ln_1p() / k;
        let u_s = u_edge.hypot(fit.u_start.hypot(start.1) / rate);
        let (soonest, latest) = (-self.at.lag_s, (MOST_LAG - 1.0) * self.at.lag_s);
        if !(soonest - MEETS * u_s..=latest + MEETS * u_s).contains(&later_s) {
            return None;
        }
        let leaving = k * (fit.level() - start.0);
        let noise = (fit.u_rate_per_s * leaving / rate).hypot(k * start.1);
        told(leaving, noise.hypot(leaving * k * later_s / 3.0_f64.sqrt()))
    }

    /// The rate of one exponential that also goes through the known start: what its begin is uncertain by
    /// is carried over by fitting with it moved (JCGM 100:2008, 5.1.3, note 2), and what `free`, the
    /// rate without that start, says otherwise beyond its own uncertainty is counted too.
    fn by_one_from(
        &self,
        (edge, u_edge): Uncertain,
        to: f64,
        start: Uncertain,
        free: Uncertain,
    ) -> Option<Uncertain> {
        let (t, y) = self.rows(edge + self.guard(edge, to), to);
        let t0 = edge + self.at.lag_s;
        let fit = |later_s: f64, warmer: f64| fit_decay(t, y, t0 + later_s, Some(start.0 + warmer));
        let held = fit(0.0, 0.0)?;
        let factor = (self.sd_degc / held.residual_sd.max(f64::MIN_POSITIVE)).max(1.0);
        let rate = held.rate_per_s();
        let moved = |other: Option<Decay>| Some((other?.rate_per_s() - rate).abs());
        let instants = [moved(fit(u_edge, 0.0)), moved(fit(-u_edge, 0.0))];
        let by_instant = instants.into_iter().flatten().reduce(f64::max)?;
        let by_start = moved(fit(0.0, start.1))?;
        let mut u = 60.0
            * (held.u_rate_per_s * factor)
                .hypot(by_instant)
                .hypot(by_start);
        let rate = 60.0 * rate;
        widen_by(&mut u, rate - free.0, free.1);
        (u < DETERMINED * rate.abs()).then_some((rate, u))
    }

    /// Whether a phase is too short beside the lags to show how its sample begins.
    fn is_lagging(&self, edge: f64, to: f64) -> bool {
        to - edge < LEAST_LAGS * self.at.lag_s
    }

    /// Why a phase has no first rate.
    fn why_none(&self, edge: f64, to: f64) -> NoRate {
        if self.is_lagging(edge, to) {
            NoRate::Lagging
        } else if self.rows(edge + self.guard(edge, to), to).0.len() < EARLY_ROWS {
            NoRate::Few
        } else {
            NoRate::Open
        }
    }

    /// The same by few rows, which miss how a fast surface begins: one exponential from the known start
    /// through the first of them. How far that goes beyond the straight line to the first row nobody has
    /// seen, and another part of the phase may say otherwise: both are half-widths of rectangular
    /// distributions (JCGM 100:2008, 4.3.7).
    fn by_few(&self, (edge, u_edge): Uncertain, to: f64, start: Uncertain) -> Option<Uncertain> {
        let t0 = edge + self.at.lag_s;
        let (t, y) = self.rows(t0 + LEAST_AFTER * self.at.lag_s, to);
        let fit = |rows: usize| fit_decay(t.get(..rows)?, y.get(..rows)?, t0, Some(start.0));
        let (early, whole) = (fit(EARLY_ROWS)?, fit(t.len())?);
        let rate = early.rate_per_s();
        let after_s = t.first()? - t0;
        let chord = (y.first()? - start.0) / after_s;
        let noise = start.1.hypot(self.sd_degc) / after_s;
        let half = (rate - chord).abs().max((rate - whole.rate_per_s()).abs());
        let by_edge = rate * early.k_per_s * u_edge;
        let u = noise.hypot(half / 3.0_f64.sqrt()).hypot(by_edge);
        let is_onward = rate * chord > 0.0 && u < DETERMINED * rate.abs();
        is_onward.then_some((60.0 * rate, 60.0 * u))
    }

    /// The same by two exponentials. What its begin is uncertain by, in time and temperature, is
    /// carried over by fitting with each moved (JCGM 100:2008, 5.1.3, note 2).
    fn by_two(&self, (edge, u_edge): Uncertain, to: f64, start: Uncertain) -> Option<Uncertain> {
        let (t, y) = self.rows(edge + self.guard(edge, to), to);
        let thin = self.curve.part(t, y).thinned(POINTS);
        let spacing = (to - edge) / thin.t_s.len().max(1) as f64;
        let begin = Begin {
            t0_s: edge + self.at.lag_s,
            degc: start.0,
            fastest_per_s: FASTEST / self.at.lag_s.max(2.0 * spacing).max(1e-3),
        };
        let rate = |begin: Begin| fit_two_decays(&thin.t_s, &thin.degc, begin);
        let fit = rate(begin)?;
        let per_point = self.sd_degc / thin.rows.iter().next().unwrap_or(1.0).sqrt();
        let factor = (per_point / fit.residual_sd.max(f64::MIN_POSITIVE)).max(1.0);
        let noise = fit.u_rate_per_s * factor * inflation(&fit.residuals).sqrt();
        let moved = |begin: Begin| rate(begin).map(|m| m.rate_per_s - fit.rate_per_s);
        let later = moved(Begin {
            t0_s: begin.t0_s + u_edge,
            ..begin
        });
        let earlier = moved(Begin {
            t0_s: begin.t0_s - u_edge,
            ..begin
        });
        let warmer = moved(Begin {
            degc: begin.degc + start.1,
            ..begin
        })?;
        // A begin that is later makes it steeper, up to what cannot be told any more.
        let by_instant = match (later, earlier) {
            (Some(a), Some(b)) => a.abs().max(b.abs()),
            (a, b) => 1.5 * a.or(b)?.abs(),
        };
        let u = noise.hypot(by_instant).hypot(warmer);
        (u < DETERMINED * fit.rate_per_s.abs()).then_some((60.0 * fit.rate_per_s, 60.0 * u))
    }

    /// The first heating rate in °C/min, or why there is none; `start` is the temperature before the lamp.
    pub(super) fn heating_rate(&self, start: Option<Uncertain>) -> Result<Uncertain, NoRate> {
        // Lit before the first row, or with it: of how the heating began nothing is seen, and what is
        // seen is slower, by half after some minutes.
        let on = self.at.on.ok_or(NoRate::Few)?;
        let to = self.at.off.map_or(self.at.end_s, |off| off.0);
        let one = self.phase(on.0, to).filter(|fit| fit.change > 0.0);
        let rate = self.first_rate(on, to, start, one.as_ref());
        rate.ok_or_else(|| self.why_none(on.0, to))
    }

    /// What the cooling shows; `peak` is the temperature from which it goes down.
    pub(super) fn cooling(&self, peak: Option<Uncertain>) -> Cooling {
        let Some(off) = self.at.off else {
            return Cooling {
                rate: Err(NoRate::Few),
                tau: None,
                air: None,
            };
        };
        let one = self
            .phase(off.0, self.at.end_s)
            .filter(|fit| fit.change < 0.0);
        let rate = self.first_rate(off, self.at.end_s, peak, one.as_ref());
        let goes_to = one.as_ref().and_then(|one| self.goes_to(peak, one));
        let cooled = one.as_ref().map_or(0.0, |one| one.change.abs());
        Cooling {
            rate: rate
                .map(|(rate, u)| (-rate, u))
                .ok_or_else(|| self.why_none(off.0, self.at.end_s)),
            tau: goes_to
                .map(|to| to.tau_s)
                .filter(|(tau, u)| *u < KNOWN * tau),
            air: goes_to
                .map(|to| to.level)
                .filter(|(_, u)| *u < KNOWN * cooled),
        }
    }
}

/// Why there is no first rate.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum NoRate {
    /// Too few rows, or nobody knows when the phase began.
    Few,
    /// The phase is too short beside the lags.
    Lagging,
    /// The rows leave it open.
    Open,
}

impl NoRate {
    /// In words.
    pub(super) fn why(self, few: &'static str) -> &'static str {
        match self {
            Self::Few => few,
            Self::Lagging => WHY_LAGGING,
            Self::Open => WHY_OPEN,
        }
    }
}

/// What a cooling shows: its first rate in °C/min, time constant in seconds, and level in °C.
#[derive(Debug)]
pub(super) struct Cooling {
    pub(super) rate: Result<Uncertain, NoRate>,
    pub(super) tau: Option<Uncertain>,
    pub(super) air: Option<Uncertain>,
}

/// A rate whose model another one might replace: what that says otherwise, and how little it knows, is the
/// half-width of a rectangular distribution (JCGM 100:2008, 4.3.7), as far as it is in `doubt`, of 1.
fn beside((rate, u): Uncertain, other: Option<Uncertain>, doubt: f64) -> Uncertain {
    let half = doubt * other.map_or(0.0, |other| (rate - other.0).hypot(other.1));
    (rate, u.hypot(half / 3.0_f64.sqrt()))
}

/// Mean time between rows in seconds; none for fewer than two.
fn spacing(t_s: &[f64]) -> Option<f64> {
    let gaps = t_s.len().checked_sub(1).filter(|gaps| *gaps > 0)?;
    Some((t_s.last()? - t_s.first()?) / gaps as f64)
}

/// Adds to a standard uncertainty what a difference says beyond twice its own uncertainty.
fn widen_by(u: &mut f64, apart: f64, u_other: f64) {
    let explained = 4.0 * (*u * *u + u_other * u_other);
    let beyond = (apart * apart - explained).max(0.0);
    *u = u.hypot((beyond / 3.0).sqrt());
}
