//! From a fit to edges with intervals.

use nalgebra::DMatrix;

use super::clean::Curve;
use super::fitted::Fitted;
use super::noise::student_975;
use super::refine::Problem;
use super::search::spacing;
use super::search::{Start, limits};
use super::{Edge, LEVEL, LampOptions};

/// Fits of fewer values than this have the profile of the misfit walked along; of others it is looked at
/// where it should end.
const FEW: usize = 150;

/// So many looks at most, and no more once a step changes the arm by less than this share.
const LOOKS: usize = 2;
const NEAR: f64 = 0.1;

/// By how much a look may shorten or lengthen an arm.
const STRETCH: (f64, f64) = (0.4, 2.0);

/// What no fit sees where the lags are not declared, as a standard deviation in seconds: a lamp warms
/// up and glows on in other ways than a first-order lag, and between two rows only the model
/// knows the curve. Set so that intervals cover benches of another make, heat conduction and all
/// (`benches/unseen`); see [`LampOptions`].
pub(super) const UNSEEN_S: f64 = 1.5;
pub(super) const UNSEEN_ROWS: f64 = 0.06;

/// There the fit's own arms are so much longer too: no bench is quite what the model says.
const UNLIKE: f64 = 1.3;

/// How far the median of two half normal distributions with a common mode lies from that mode, in differences
/// of their standard deviations (0.63 to 0.65 where one is up to three times the other).
///
/// Rows far apart hardly show fast modes, of which there is none or some: the best fit has none, and the
/// edge could be far later but hardly earlier. Then the median is nearer to the truth than the mode.
const MEDIAN: f64 = 0.64;

/// No arm from looks at the profile is longer than so many of those from the covariance: where the fit
/// falls into another minimum on its way, the profile says nothing.
const LONGEST: f64 = 1.5;

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
        let profile = Profile {
            fit,
            curves,
            options,
            channels,
            j,
        };
        let (low_s, high_s) = profile.ends(quantile, reach);
        let unlike_s = match options.declared_lamp_lag_s() {
            Some(_) => 0.0,
            None => quantile * UNSEEN_S.hypot(UNSEEN_ROWS * spacing(curves)),
        };
        let longer = if unlike_s > 0.0 { UNLIKE } else { 1.0 };
        let wider = |arm_s: f64| (longer * arm_s.max(0.0)).hypot(unlike_s);
        let arms = (wider(at_s - low_s), wider(high_s - at_s));
        let by_s = if profile.is_walked() {
            MEDIAN * ((high_s - at_s) - (at_s - low_s)) / quantile
        } else {
            0.0
        };
        out.push(Edge {
            edge: kind,
            at_s: at_s + by_s,
            low_s: at_s - arms.0,
            high_s: at_s + arms.1,
            level: LEVEL,
        });
        shares.push(lag_share(fit, j, 0.5 * (arms.0 + arms.1) / quantile));
        kind = kind.other();
    }
    (out, shares)
}

/// One minus the variance with all lags known over that of the interval, `whole_u_s` squared: what no
/// fit sees counts as lag.
fn lag_share(fit: &Fitted, j: usize, whole_u_s: f64) -> f64 {
    let known = (1.0 - fitted_share(fit, j)) * fit.u_s(j).powi(2);
    if whole_u_s > 0.0 && known.is_finite() {
        (1.0 - known / whole_u_s.powi(2)).clamp(0.0, 1.0)
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
///
/// The covariance at the best fit holds only the modes that are in it there, and which ones are is
/// chance: widths taken from it vary by a third from record to record and do not tell a known lag from
/// an unknown one. Along the profile modes come and go (`benches/README.md`).
struct Profile<'a> {
    fit: &'a Fitted,
    curves: &'a [Curve],
    options: &'a LampOptions,
    channels: usize,
    j: usize,
}

impl Profile<'_> {
    /// Whether the profile is walked along, and its ends are known well enough to be compared.
    fn is_walked(&self) -> bool {
        let values: usize = self.curves.iter().map(|c| c.t_s.len()).sum();
        values < FEW
    }

    /// Both ends of the interval within `reach`; all of it where the fit left the edge undetermined.
    fn ends(&self, quantile: f64, reach: (f64, f64)) -> (f64, f64) {
        let u_s = self.fit.u_s(self.j);
        if !u_s.is_finite() {
            reach
        } else if self.is_walked() {
            (
                self.end(-u_s, quantile, reach.0),
                self.end(u_s, quantile, reach.1),
            )
        } else {
            (
                self.soon(-u_s, quantile, reach.0),
                self.soon(u_s, quantile, reach.1),
            )
        }
    }

    fn rise(&self, at_s: f64, loosely: bool) -> Option<f64> {
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
        if loosely {
            problem = problem.loosely();
        }
        problem.hold_edge(self.j);
        Some(problem.solve(values)?.cost - self.fit.cost)
    }

    /// Where the misfit has risen by `quantile²`, from a look or two at where it would have if it
    /// grew as the square of the distance; no farther than `limit_s`.
    fn soon(&self, step_s: f64, quantile: f64, limit_s: f64) -> f64 {
        let at = self.fit.at_s().get(self.j).copied().unwrap_or(limit_s);
        let most = (limit_s - at).abs();
        let longest = (LONGEST * quantile * step_s.abs()).min(most);
        let mut arm = (quantile * step_s.abs()).min(most);
        for _ in 0..LOOKS {
            let rise = self.rise(at + arm * step_s.signum(), true);
            // A place where no fit is to be had does not belong to the interval.
            let rise = rise.map_or(f64::INFINITY, |rise| rise.max(0.0));
            let factor = (quantile / rise.sqrt()).clamp(STRETCH.0, STRETCH.1);
            arm = (arm * factor).min(longest);
            if (factor - 1.0).abs() < NEAR || arm >= longest {
                break;
            }
        }
        at + arm * step_s.signum()
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
            if self.rise(x, false).is_none_or(|rise| rise > enough) {
                let mut outside = x;
                for _ in 0..5 {
                    let middle = 0.5 * (inside + outside);
                    if self.rise(middle, false).is_some_and(|rise| rise <= enough) {
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
