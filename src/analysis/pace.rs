//! How fast a sample warms and cools: first rates, time constant, the level that it goes to.

use super::decay::{Decay, fit_decay};
use super::line::fit_line;
use super::sample::{Judge, Uncertain};
use super::two_decays::{Begin, fit_two_decays};
use crate::lamp::inflation;

/// A time constant or rate counts when its relative standard uncertainty is below this.
const DETERMINED: f64 = 0.5;

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

/// One exponential does for a phase where it comes this near, in standard uncertainties, to where the
/// phase begins.
const MEETS: f64 = 3.0;

impl Judge<'_> {
    /// An exponential over one phase, with t₀ at its edge as the lagging reading shows it, and
    /// uncertainties that carry correlation and resolution.
    fn phase(&self, edge: f64, to: f64) -> Option<Decay> {
        let (t, y) = self.rows(edge + self.guard(edge, to), to);
        let thin = self.curve.part(t, y).thinned(POINTS);
        let t0 = edge + self.at.lag_s;
        let mut fit = fit_decay(&thin.t_s, &thin.degc, t0, None)?;
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
            widen_by(
                &mut fit.u_k_per_s,
                fit.k_per_s - late.k_per_s,
                late.u_k_per_s,
            );
            let apart = fit.level() - late.level();
            widen_by(&mut fit.u_level, apart, late.u_level);
        }
        if let Some(early) = part(begin, begin + EARLY_PART * (to - begin)) {
            let apart = fit.rate_per_s() - early.rate_per_s();
            widen_by(&mut fit.u_rate_per_s, apart, early.u_rate_per_s);
        }
    }

    /// Slope of a straight line over the first part of a phase, per minute.
    fn straight(&self, edge: f64, to: f64) -> Option<Uncertain> {
        let from = edge + self.guard(edge, to);
        let (t, y) = self.rows(from, to);
        let part = (t.len() / 2).max(3).min(t.len());
        let line = fit_line(t.get(..part)?, y.get(..part)?)?;
        let x = t.get(..part)?;
        let mean = x.iter().sum::<f64>() / part as f64;
        let xx: f64 = x.iter().map(|t| (t - mean).powi(2)).sum();
        let u = line.u_slope.max(self.sd_degc / xx.sqrt()) * self.curve.inflation.sqrt().min(3.0);
        Some((60.0 * line.slope, 60.0 * u))
    }

    /// The rate at which a phase begins, in °C/min, warming counted up: what is seen from `start` on,
    /// where the curve stood at the edge.
    ///
    /// One exponential tells it where it also meets that start. A sample whose surface is faster than its
    /// inside needs two, from the start on; of both that hold the one that is surer is told. Where the
    /// rows would show more than one exponential and two do not hold either, nothing is.
    fn first_rate(
        &self,
        (edge, u_edge): Uncertain,
        to: f64,
        start: Option<Uncertain>,
        one: Option<&Decay>,
    ) -> Option<Uncertain> {
        let by_one = one.map(|fit| {
            let rate = 60.0 * fit.rate_per_s();
            (
                rate,
                (60.0 * fit.u_rate_per_s).hypot(rate * fit.k_per_s * u_edge),
            )
        });
        let Some(start) = start else {
            return by_one.or_else(|| self.straight(edge, to));
        };
        let meets = one.is_some_and(|fit| {
            let u = fit.u_start.hypot(start.1).hypot(fit.rate_per_s() * u_edge);
            (fit.start - start.0).abs() <= MEETS * u
        });
        let by_one_that_meets = by_one.filter(|_| meets);
        let by_two = self.by_two((edge, u_edge), to, start);
        match (by_one_that_meets, by_two) {
            (Some(one), Some(two)) => Some(if two.1 < one.1 { two } else { one }),
            (None, None) if self.rows(edge, to).0.len() < FEW => self
                .by_few((edge, u_edge), to, start)
                .or_else(|| self.straight(edge, to)),
            (one, two) => two.or(one),
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

    /// The first heating rate in °C/min; `start` is the temperature before the lamp.
    pub(super) fn heating_rate(&self, start: Option<Uncertain>) -> Option<Uncertain> {
        // Lamp on from the start: the heating's begin, and with it the initial rate, is unknown
        // unless the first row is it; the rate at the first row is what can be said.
        let (on, start) = match (self.at.on, self.at.off) {
            (Some(on), _) => (on, start),
            (None, Some(_)) => ((*self.curve.t_s.first()? - self.at.lag_s, 0.0), None),
            (None, None) => return None,
        };
        let to = self.at.off.map_or(self.at.end_s, |off| off.0);
        let one = self.phase(on.0, to).filter(|fit| fit.change > 0.0);
        self.first_rate(on, to, start, one.as_ref())
    }

    /// What the cooling shows; `peak` is the temperature from which it goes down.
    pub(super) fn cooling(&self, peak: Option<Uncertain>) -> Cooling {
        let Some(off) = self.at.off else {
            return Cooling::default();
        };
        let one = self
            .phase(off.0, self.at.end_s)
            .filter(|fit| fit.change < 0.0);
        let rate = self.first_rate(off, self.at.end_s, peak, one.as_ref());
        Cooling {
            rate: rate.map(|(rate, u)| (-rate, u)),
            tau: one.as_ref().map(|fit| (fit.tau_s(), fit.u_tau_s())),
            air: one.as_ref().map(|fit| (fit.level(), fit.u_level)),
        }
    }
}

/// What a cooling shows: its first rate in °C/min, time constant in seconds, and level in °C.
#[derive(Debug, Default)]
pub(super) struct Cooling {
    pub(super) rate: Option<Uncertain>,
    pub(super) tau: Option<Uncertain>,
    pub(super) air: Option<Uncertain>,
}

/// Adds to a standard uncertainty what a difference says beyond twice its own uncertainty.
fn widen_by(u: &mut f64, apart: f64, u_other: f64) {
    let explained = 4.0 * (*u * *u + u_other * u_other);
    let beyond = (apart * apart - explained).max(0.0);
    *u = u.hypot((beyond / 3.0).sqrt());
}
