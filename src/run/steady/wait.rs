//! How long until a sample is steady, from the exponential by which it approaches the room.
//!
//! For each time constant of a grid the best curve `A + B·exp(−t/τ)` is a straight line in the
//! exponential. All constants whose misfit is not significantly worse than the best one's are held
//! possible (likelihood ratio), and each gives a wait. Only where these waits agree is one told.

use super::slope::inflation;
use crate::analysis::fit_line;

/// Time constants that are tried, in seconds.
const SHORTEST_S: f64 = 20.0;
const LONGEST_S: f64 = 7200.0;
const TRIED: u32 = 48;

/// Points that the readings are averaged to.
const POINTS: usize = 60;

/// Fewer points, or a shorter time in seconds, tell nothing.
const FEWEST: usize = 10;
const LEAST_S: f64 = 60.0;

/// χ² of one degree of freedom at 95 %.
const WORSE: f64 = 3.84;

/// A slope this much below the limit is found to be below it: its interval needs room.
const BELOW: f64 = 0.9;

/// The window over which it is found lags behind: by this share of the shortest one, and where
/// rounding asks for a longer one, by so many times what one step takes at the limit.
const LAG: f64 = 0.8;
const LAG_STEPS: f64 = 2.5;

/// Waits agree when the longest is at most so many times the shortest and so much more, in seconds.
const AGREE: f64 = 1.6;
const AGREE_S: f64 = 60.0;

/// Longer waits are not told, in seconds.
const LONGEST_WAIT_S: f64 = 3600.0;

/// A time constant that is possible.
#[derive(Debug, Clone, Copy)]
struct Tried {
    misfit: f64,
    wait_s: f64,
}

/// The wait in seconds from now (t = 0) until the slope of (s, °C) points is found below `limit` °C/s
/// in windows of `window_s` or more.
pub(super) fn wait_s(
    points: &[(f64, f64)],
    (limit, step_degc, window_s): (f64, f64, f64),
) -> Option<f64> {
    let lag_s = (LAG * window_s).max(LAG_STEPS * step_degc / limit);
    let points = thinned(points);
    let span_s = -points.first()?.0;
    if points.len() < FEWEST || span_s < LEAST_S {
        return None;
    }
    let n = points.len() as f64;
    let mut all: Vec<Tried> = Vec::new();
    let mut best: Option<(f64, Vec<f64>)> = None;
    for k in 0..=TRIED {
        let share = f64::from(k) / f64::from(TRIED);
        let tau_s = SHORTEST_S * (LONGEST_S / SHORTEST_S).powf(share);
        // Relative to the first point, so that short constants do not overflow.
        let shape: Vec<f64> = points
            .iter()
            .map(|(t, _)| (-(t + span_s) / tau_s).exp())
            .collect();
        let degc: Vec<f64> = points.iter().map(|(_, y)| *y).collect();
        let Some(line) = fit_line(&shape, &degc) else {
            continue;
        };
        let residuals: Vec<f64> = shape
            .iter()
            .zip(&degc)
            .map(|(x, y)| y - line.intercept - line.slope * x)
            .collect();
        let misfit: f64 = residuals.iter().map(|r| r * r).sum();
        let now = (line.slope / tau_s * (-span_s / tau_s).exp()).abs();
        let wait_s = (tau_s * (now / (BELOW * limit)).ln()).max(0.0) + lag_s;
        all.push(Tried { misfit, wait_s });
        if best.as_ref().is_none_or(|(least, _)| misfit < *least) {
            best = Some((misfit, residuals));
        }
    }
    let (least, residuals) = best?;
    // Rounding leaves so much at least, and no fit may be held better than it.
    let rounding = step_degc * step_degc / 12.0 / n.max(1.0) * 4.0;
    let variance = (least / (n - 3.0)).max(rounding) * inflation(&residuals);
    let possible = |tried: &&Tried| tried.misfit - least <= WORSE * variance;
    // At the end of the grid it is as good as a straight line: nothing says that it slows down.
    if all.last().is_some_and(|last| possible(&last)) {
        return None;
    }
    let (mut low, mut high) = (f64::INFINITY, 0.0_f64);
    for tried in all.iter().filter(possible) {
        low = low.min(tried.wait_s);
        high = high.max(tried.wait_s);
    }
    let told = all.iter().min_by(|a, b| a.misfit.total_cmp(&b.misfit))?;
    (high <= AGREE * low + AGREE_S && high <= LONGEST_WAIT_S).then_some(told.wait_s)
}

/// Means of as many points each as leave [`POINTS`] at most.
fn thinned(points: &[(f64, f64)]) -> Vec<(f64, f64)> {
    let each = points.len().div_ceil(POINTS).max(1);
    let mean = |part: &[(f64, f64)]| {
        let n = part.len() as f64;
        let sum = part.iter().fold((0.0, 0.0), |a, p| (a.0 + p.0, a.1 + p.1));
        (sum.0 / n, sum.1 / n)
    };
    points.chunks(each).map(mean).collect()
}
