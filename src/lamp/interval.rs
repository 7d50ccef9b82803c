//! From a fit to edges with intervals.

use nalgebra::DMatrix;

use super::clean::Curve;
use super::fitted::Fitted;
use super::noise::student_975;
use super::refine::Problem;
use super::search::spacing;
use super::search::{Start, limits};
use super::{Edge, LEVEL, LampOptions};

/// Fits of fewer values than this get their interval from the profile of the misfit.
const FEW: usize = 150;

/// What no fit sees where the lags are not declared, as a standard deviation in seconds: a lamp warms
/// up and glows on in other ways than a first-order lag, and between two rows only the model
/// knows the curve. Set so that intervals cover benches of another make, heat conduction and all
/// (`benches/unseen`); see [`LampOptions`].
pub(super) const UNSEEN_S: f64 = 1.5;
pub(super) const UNSEEN_ROWS: f64 = 0.06;

/// Degrees of freedom that the record leaves, correlation counted.
pub(super) fn freedom(fit: &Fitted, curves: &[Curve]) -> f64 {
    let effective: f64 = curves
        .iter()
        .map(|c| c.t_s.len() as f64 / c.inflation)
        .sum();
    (effective - fit.parameters as f64).max(1.0)
}

/// Edges with their intervals, and the share of each interval's variance that is lag.
pub(super) fn edges(
    fit: &Fitted,
    curves: &[Curve],
    options: &LampOptions,
    channels: usize,
) -> (Vec<Edge>, Vec<f64>) {
    let quantile = student_975(freedom(fit, curves));
    let (from, to) = limits(curves);
    let values: usize = curves.iter().map(|c| c.t_s.len()).sum();
    let mut kind = fit.first;
    let mut out = Vec::new();
    let mut shares = Vec::new();
    for (j, &at_s) in fit.at_s().iter().enumerate() {
        let before = j.checked_sub(1).and_then(|i| fit.at_s().get(i));
        let after = fit.at_s().get(j + 1);
        let reach = (
            before.map_or(from, |b| b.min(at_s)),
            after.map_or(to, |a| a.max(at_s)),
        );
        let u_s = fit.u_s(j);
        let (low_s, high_s) = if !u_s.is_finite() {
            reach
        } else if values < FEW {
            let profile = Profile {
                fit,
                curves,
                options,
                channels,
                j,
            };
            (
                profile.end(-u_s, quantile, reach.0),
                profile.end(u_s, quantile, reach.1),
            )
        } else {
            (at_s - quantile * u_s, at_s + quantile * u_s)
        };
        let unlike_s = match options.declared_lamp_lag_s() {
            Some(_) => 0.0,
            None => quantile * UNSEEN_S.hypot(UNSEEN_ROWS * spacing(curves)),
        };
        let wider = |arm_s: f64| arm_s.max(0.0).hypot(unlike_s);
        out.push(Edge {
            edge: kind,
            at_s,
            low_s: at_s - wider(at_s - low_s),
            high_s: at_s + wider(high_s - at_s),
            level: LEVEL,
        });
        shares.push(lag_share(fit, j, unlike_s / quantile));
        kind = kind.other();
    }
    (out, shares)
}

/// One minus the variance with all lags known over the variance as it is; `unlike_s` is the
/// standard uncertainty that the lamp's two lags add.
fn lag_share(fit: &Fitted, j: usize, unlike_s: f64) -> f64 {
    let own = fit.u_s(j).powi(2);
    let unlike = unlike_s.powi(2);
    if own > 0.0 {
        (fitted_share(fit, j) * own + unlike) / (own + unlike)
    } else {
        0.0
    }
}

/// The share of the fit's own variance that its lag parameters cause.
fn fitted_share(fit: &Fitted, j: usize) -> f64 {
    let n = fit.values.len();
    let at =
        |row: usize, column: usize| fit.covariance.get(row * n + column).copied().unwrap_or(0.0);
    // A lag at its bound has no variance; leave it out.
    let lags: Vec<usize> = (fit.first_lag..n).filter(|&i| at(i, i) > 0.0).collect();
    let whole = at(j, j);
    if lags.is_empty() || whole <= 0.0 {
        return 0.0;
    }
    let own = DMatrix::from_fn(lags.len(), lags.len(), |a, b| {
        let (row, column) = (lags.get(a), lags.get(b));
        row.zip(column).map_or(0.0, |(&r, &c)| at(r, c))
    });
    let along = DMatrix::from_fn(lags.len(), 1, |a, _| lags.get(a).map_or(0.0, |&r| at(r, j)));
    let Some(factor) = own.cholesky() else {
        return 0.0;
    };
    let explained = along.dot(&factor.solve(&along));
    (explained / whole).clamp(0.0, 1.0)
}

/// The misfit along one edge, all other parameters fitted again.
struct Profile<'a> {
    fit: &'a Fitted,
    curves: &'a [Curve],
    options: &'a LampOptions,
    channels: usize,
    j: usize,
}

impl Profile<'_> {
    fn rise(&self, at_s: f64) -> Option<f64> {
        let mut values = self.fit.values.clone();
        *values.get_mut(self.j)? = at_s;
        let tau_s = vec![1.0; self.curves.len()];
        let start = Start {
            first: self.fit.first,
            at_s: values.get(..self.fit.edges)?.to_vec(),
            cost: 0.0,
            tau_s,
        };
        let (mut problem, _) = Problem::new(
            self.curves,
            &start,
            self.fit.terms,
            self.options,
            self.channels,
        );
        problem.hold_edge(self.j);
        Some(problem.solve(values)?.cost - self.fit.cost)
    }

    /// Walks from the estimate in steps of `step_s` until the misfit has risen by `quantile²`,
    /// then halves the last step; stops at `limit_s`.
    fn end(&self, step_s: f64, quantile: f64, limit_s: f64) -> f64 {
        let at = self.fit.at_s().get(self.j).copied().unwrap_or(limit_s);
        let enough = quantile * quantile;
        let beyond = |x: f64| (x - limit_s) * step_s.signum() >= 0.0;
        let mut inside = at;
        let mut step = 0.5 * step_s;
        for _ in 0..24 {
            let x = inside + step;
            if beyond(x) {
                return limit_s;
            }
            // A place where no fit is to be had does not belong to the interval.
            if self.rise(x).is_none_or(|rise| rise > enough) {
                let mut outside = x;
                for _ in 0..5 {
                    let middle = 0.5 * (inside + outside);
                    if self.rise(middle).is_some_and(|rise| rise <= enough) {
                        inside = middle;
                    } else {
                        outside = middle;
                    }
                }
                return outside;
            }
            inside = x;
            step *= 1.3;
        }
        inside
    }
}
