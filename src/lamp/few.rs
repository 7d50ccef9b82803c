//! Tables of few rows, as a person with a watch writes them down: one heating, and what may be said.
//!
//! A handful of rows minutes apart cannot tell the shape of the curve, and any one shape that is
//! fitted to them gives a false precision or no edge at all. Here nothing is fitted: every pair of
//! instants on a grid gets the likelihood that many shapes give it together (see [`super::evidence`]),
//! and the answer is where most of the posterior lies. A lamp that was on before the first row, or
//! stays on beyond the last, is among the pairs.

use nalgebra::DMatrix;

use super::clean::{Curve, few_rows};
use super::evidence::{Evidence, Grid, Late};
use super::interval::{UNSEEN_ROWS, UNSEEN_S};
use super::noise::median;
use super::search::{limits, spacing};
use super::{Edge, Kind, LEVEL, LampFit, LampOptions, Method};

/// Fewest rows that say anything.
const FEWEST: usize = 5;

/// The lamp must be more likely than its absence by this much, as a natural logarithm.
const CLEAR: f64 = 4.0;

/// Misfit a row, in units of the noise, from which on one heating is not what the table shows.
const STRANGE: f64 = 9.0;

/// Instants that are tried at most: as many as the longest table without a pause has.
const MOST_INSTANTS: f64 = 480.0;

/// Instants before the first row at which the lamp may have gone on, in seconds, and their shares of
/// the prior; together they have [`BEFORE`] of it.
const EARLIER: [(f64, f64); 7] = [
    (1800.0, 0.07),
    (600.0, 0.07),
    (300.0, 0.07),
    (120.0, 0.11),
    (60.0, 0.22),
    (30.0, 0.23),
    (15.0, 0.23),
];
const BEFORE: f64 = 0.2;

/// Share of the prior for a lamp that a person switched on as the first row was written, give or take
/// [`NEAR_ROW_S`] (common practice, no source).
const AT_FIRST: f64 = 0.3;

/// Share of the prior for a lamp that stays on beyond the last row.
const BEYOND: f64 = 0.1;

/// About this share of the prior lies within so many seconds of a row that a person took: a plan's edges fall on
/// its rows (common practice, no source).
const AT_ROWS: f64 = 0.3;
const NEAR_ROW_S: f64 = 15.0;

/// Seconds by which a person reads late, the more of them for each sample read before, and their
/// standard deviation (common practice, no source).
const LATE_S: f64 = 4.0;
const LATER_S: f64 = 3.0;
const LATE_SD_S: f64 = 4.0;

/// Medians of the lags' priors and their standard deviations, in seconds; see [`LampOptions`].
const PROBE_S: (f64, f64) = (5.4, 3.0);
const LAMP_S: (f64, f64) = (1.6, 1.5);

/// Whether the curves are such a table.
pub(super) fn are_few(curves: &[Curve]) -> bool {
    curves
        .iter()
        .all(|c| c.t_s.len() >= FEWEST && few_rows(&c.t_s, c.by_eye))
}

/// The edges of a table of few rows; none where it shows more than one heating.
pub(super) fn find(curves: &[Curve], options: &LampOptions, channels: usize) -> Option<LampFit> {
    let hand = curves.iter().all(|c| c.by_eye);
    let table = Table::new(curves, hand);
    let late = |c: &Curve| late(c, options, channels, hand);
    let each: Vec<Evidence> = curves
        .iter()
        .map(|c| Evidence::new(c, &table.grid, late(c)))
        .collect();
    let anywhere = table.posterior(&each, &table.on)?;
    let without: f64 = each.iter().map(|e| e.without).sum();
    let mut fit = LampFit {
        edges: Vec::new(),
        lag_share: Vec::new(),
        noise_degc: vec![None; channels],
        method: Method::NoEdge,
    };
    // Whether there was a lamp is not to hang on when a person would have switched it on.
    if anywhere.ln_evidence - without < CLEAR {
        let explained = each.iter().all(|e| e.misfit_without < STRANGE);
        return explained.then_some(fit);
    }
    let posterior = match &table.by_hand {
        Some(on) => table.posterior(&each, on)?,
        None => anywhere,
    };
    let misfit = |e: &Evidence| e.misfit.get(posterior.top).copied();
    let misfits: Vec<f64> = each.iter().filter_map(misfit).collect();
    if misfits.iter().any(|m| *m > STRANGE) {
        return None;
    }
    let beside_s = beside_s(options, hand);
    let rows_s = UNSEEN_ROWS * table.row_s;
    for (kind, share) in [(Kind::On, &posterior.on), (Kind::Off, &posterior.off)] {
        if let Some((edge, fitted_s)) = table.edge(kind, share, beside_s.hypot(rows_s)) {
            fit.edges.push(edge);
            let all = fitted_s.powi(2) + beside_s.powi(2) + rows_s.powi(2);
            fit.lag_share.push(beside_s.powi(2) / all.max(1e-9));
        }
    }
    if !fit.edges.is_empty() {
        fit.method = Method::Whole;
        for ((curve, e), misfit) in curves.iter().zip(&each).zip(misfits) {
            if let Some(slot) = fit.noise_degc.get_mut(curve.channel) {
                let scatter = e.noise_degc * misfit.max(0.3).sqrt();
                *slot = Some(scatter.hypot(curve.floor_degc));
            }
        }
    }
    Some(fit)
}

/// What delays a curve's readings.
fn late(curve: &Curve, options: &LampOptions, channels: usize, hand: bool) -> Late {
    let probe = options.declared_probe_lag_s(curve.channel, channels);
    let lamp = options.declared_lamp_lag_s();
    let reader_s = LATE_S + LATER_S * curve.channel as f64;
    Late {
        lags_s: [probe.unwrap_or(PROBE_S.0), lamp.unwrap_or(LAMP_S.0)],
        reader_s: if hand { reader_s } else { 0.0 },
    }
}

/// Standard uncertainty in seconds of what shifts both edges alike: lags and the reader's delay.
fn beside_s(options: &LampOptions, hand: bool) -> f64 {
    let lamp = options.declared_lamp_lag_s().is_some();
    let measured_s = options.probe_lag_u_s.iter().flatten();
    let measured_s = measured_s.copied().fold(0.0, f64::max);
    let of = |known: bool, sd: f64| if known { 0.0 } else { sd };
    of(options.probe_lag_s.is_some(), PROBE_S.1)
        .hypot(measured_s)
        .hypot(of(lamp, LAMP_S.1))
        .hypot(of(lamp, UNSEEN_S))
        .hypot(of(!hand, LATE_SD_S))
}

/// The grid of a table, with its prior.
struct Table {
    grid: Grid,
    /// Prior weights of the on- and the off-edge at each instant.
    on: Vec<f64>,
    off: Vec<f64>,
    /// Those of the on-edge where a person wrote the table.
    by_hand: Option<Vec<f64>>,
    /// First and last instant at which an edge is told.
    first_s: f64,
    last_s: f64,
    row_s: f64,
}

/// What the table says about a pair of edges.
struct Posterior {
    /// Logarithm of the likelihood of one heating, averaged over the prior.
    ln_evidence: f64,
    /// The most likely pair.
    top: (usize, usize),
    on: Vec<f64>,
    off: Vec<f64>,
}

impl Table {
    fn new(curves: &[Curve], hand: bool) -> Self {
        let (first_s, last_s) = limits(curves);
        let row_s = spacing(curves);
        // About ten seconds apart, but at least four and at most twelve to a row; fewer where there
        // are many rows, for cost grows with the square.
        let most = if last_s - first_s > 24.0 * row_s {
            6.0
        } else {
            12.0
        };
        let step_s = row_s / (row_s / 10.0).round().clamp(4.0, most);
        let step_s = step_s.max((last_s - first_s) / MOST_INSTANTS);
        let inside = ((last_s - first_s) / step_s).floor() as usize + 1;
        let mut at_s: Vec<f64> = EARLIER.iter().map(|(by, _)| first_s - by).collect();
        let (mut on, mut off) = (
            EARLIER.map(|(_, share)| BEFORE * share).to_vec(),
            vec![0.0; EARLIER.len()],
        );
        let rows_s: Vec<f64> = curves.first().map_or_else(Vec::new, |c| c.t_s.clone());
        let even: Vec<f64> = (0..inside).map(|i| first_s + step_s * i as f64).collect();
        let near = |t: &f64| rows_s.iter().any(|row| (row - t).abs() <= NEAR_ROW_S);
        let near_count = even.iter().filter(|t| near(t)).count().max(1);
        // Nobody switches a lamp by a logger's rows.
        let at_rows = if hand { AT_ROWS } else { 0.0 };
        for t in &even {
            let at_row = if near(t) { at_rows } else { 0.0 } / near_count as f64;
            let share = (1.0 - at_rows) / inside as f64 + at_row;
            on.push((1.0 - BEFORE) * share);
            off.push((1.0 - BEYOND) * share);
        }
        at_s.extend(even);
        at_s.push(f64::INFINITY);
        on.push(0.0);
        off.push(BEYOND);
        let by_hand = hand.then(|| at_the_first(&at_s, first_s, &on));
        Self {
            grid: Grid { at_s },
            on,
            off,
            by_hand,
            first_s: first_s - if hand { NEAR_ROW_S } else { 0.0 },
            last_s,
            row_s,
        }
    }

    #[expect(
        clippy::indexing_slicing,
        reason = "the tables are as wide and as high as the grid"
    )]
    /// Likelihoods of all channels times the prior, over pairs nearly a row apart.
    fn posterior(&self, each: &[Evidence], on: &[f64]) -> Option<Posterior> {
        let n = self.grid.at_s.len();
        let mut ln = DMatrix::from_element(n, n, f64::NEG_INFINITY);
        let (mut top, mut prior) = ((0, 0), 0.0);
        for (i, (a, on)) in self.grid.at_s.iter().zip(on).enumerate() {
            for (j, (b, off)) in self.grid.at_s.iter().zip(&self.off).enumerate() {
                if b - a < 0.9 * self.row_s || on * off <= 0.0 {
                    continue;
                }
                prior += on * off;
                let all: f64 = each.iter().map(|e| e.pairs[(i, j)]).sum();
                ln[(i, j)] = all + (on * off).ln();
                if ln[(i, j)] > ln[top] {
                    top = (i, j);
                }
            }
        }
        let highest = ln[top];
        let share = ln.map(|v| (v - highest).exp());
        let sum = share.sum();
        (highest.is_finite() && sum > 0.0).then(|| Posterior {
            ln_evidence: highest + sum.ln() - prior.ln(),
            top,
            on: share.row_iter().map(|row| row.sum() / sum).collect(),
            off: share
                .column_iter()
                .map(|column| column.sum() / sum)
                .collect(),
        })
    }

    /// An edge from its posterior, where it most likely lies within the table; `wider_s` is a standard
    /// uncertainty to add. Also the standard uncertainty without that.
    fn edge(&self, kind: Kind, share: &[f64], wider_s: f64) -> Option<(Edge, f64)> {
        let at_s = &self.grid.at_s;
        let within = |t: f64| t >= self.first_s && t <= self.last_s;
        let both = at_s.iter().zip(share);
        let own: Vec<(f64, f64)> = both
            .filter(|(t, _)| within(**t))
            .map(|(t, p)| (*t, *p))
            .collect();
        let sum: f64 = own.iter().map(|(_, p)| p).sum();
        if sum <= 0.5 {
            return None;
        }
        let quantile = |q: f64| quantile(&own, q * sum);
        let (low_s, at_s, high_s) = (quantile(0.025), quantile(0.5), quantile(0.975));
        let arm = |arm_s: f64| arm_s.max(0.0).hypot(1.96 * wider_s);
        let edge = Edge {
            edge: kind,
            at_s,
            low_s: at_s - arm(at_s - low_s),
            high_s: at_s + arm(high_s - at_s),
            level: LEVEL,
        };
        Some((edge, (high_s - low_s) / (2.0 * 1.96)))
    }
}

/// Gives the instants about the first row their share of the prior.
fn at_the_first(at_s: &[f64], first_s: f64, on: &[f64]) -> Vec<f64> {
    let near: Vec<bool> = at_s
        .iter()
        .map(|t| (t - first_s).abs() <= NEAR_ROW_S)
        .collect();
    let count = near.iter().filter(|near| **near).count().max(1) as f64;
    let more = |near| if near { AT_FIRST / count } else { 0.0 };
    let both = on.iter().zip(near);
    both.map(|(share, near)| (1.0 - AT_FIRST) * share + more(near))
        .collect()
}

/// Where so much of the mass lies before, along straight lines between the middles of the cells.
fn quantile(cells: &[(f64, f64)], mass: f64) -> f64 {
    let mut below = 0.0;
    let mut last: Option<(f64, f64)> = None;
    for (t, p) in cells {
        let middle = below + 0.5 * p;
        below += p;
        if middle >= mass {
            return match last {
                Some((t0, m0)) if middle > m0 => t0 + (t - t0) * (mass - m0) / (middle - m0),
                _ => *t,
            };
        }
        last = Some((*t, middle));
    }
    last.map_or(f64::NAN, |(t, _)| t)
}

/// Typical size of the slopes about each row, in degrees Celsius per second.
pub(super) fn slopes(t_s: &[f64], degc: &[f64]) -> Vec<f64> {
    let steps: Vec<f64> = (t_s.iter().zip(t_s.iter().skip(1)))
        .zip(degc.iter().zip(degc.iter().skip(1)))
        .map(|((t0, t1), (y0, y1))| ((y1 - y0) / (t1 - t0)).abs())
        .collect();
    (0..t_s.len())
        .map(|i| {
            let from = i.saturating_sub(1);
            let mut two = steps
                .get(from..(i + 1).min(steps.len()))
                .unwrap_or_default()
                .to_vec();
            let slope = median(&mut two);
            if slope.is_finite() { slope } else { 0.0 }
        })
        .collect()
}

#[cfg(test)]
mod tests;
