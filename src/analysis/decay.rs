//! One exponential approach to a level, by nonlinear least squares.
//!
//! `T(t) = start + change·(1 - exp(-k·(t - t₀)))`: the level is `start + change`, the time
//! constant `1/k`, the initial rate `change·k` (Newton's law of cooling). Levenberg and
//! Marquardt's method with exact derivatives, begun at the best of a grid of `k` with the linear
//! terms solved.

use rmpfit::{MPFitter as _, MPPar, MPSide};

use super::fit::{Points, until};

/// An exponential approach with its standard uncertainties, noise taken as white.
#[derive(Debug, Clone, PartialEq)]
pub struct Decay {
    /// Value at t₀.
    pub start: f64,
    /// Level minus start.
    pub change: f64,
    /// Rate constant in 1/s.
    pub k_per_s: f64,
    /// Standard uncertainty of the start (zero if it was given).
    pub u_start: f64,
    /// Standard uncertainty of the change.
    pub u_change: f64,
    /// Standard uncertainty of the rate constant, in 1/s.
    pub u_k_per_s: f64,
    /// What of that comes from parts of the phase that disagree.
    pub(super) u_k_by_parts_per_s: f64,
    /// Standard uncertainty of the level.
    pub u_level: f64,
    /// Standard uncertainty of the initial rate.
    pub u_rate_per_s: f64,
    /// Standard deviation of the residuals, `√(RSS/(n - parameters))`.
    pub residual_sd: f64,
    /// Residuals in the order of the points.
    pub residuals: Vec<f64>,
}

impl Decay {
    /// Multiplies all uncertainties: for what the fit took for white noise and is not.
    pub(super) fn widen(&mut self, factor: f64) {
        for u in [
            &mut self.u_start,
            &mut self.u_change,
            &mut self.u_k_per_s,
            &mut self.u_level,
            &mut self.u_rate_per_s,
        ] {
            *u *= factor;
        }
    }

    /// The level that is approached.
    #[must_use]
    pub fn level(&self) -> f64 {
        self.start + self.change
    }

    /// Time constant in seconds.
    #[must_use]
    pub fn tau_s(&self) -> f64 {
        1.0 / self.k_per_s
    }

    /// Standard uncertainty of the time constant in seconds.
    #[must_use]
    pub fn u_tau_s(&self) -> f64 {
        self.u_k_per_s / (self.k_per_s * self.k_per_s)
    }

    /// Rate of change at t₀, per second.
    #[must_use]
    pub fn rate_per_s(&self) -> f64 {
        self.change * self.k_per_s
    }
}

/// Fits an exponential approach; `start` holds the value at `origin_s` (t₀) if it is known beforehand.
///
/// None for too few points (one more than parameters is needed), values that are not finite, or
/// when no exponential that decays within the record's reach (a time constant of up to 50 times
/// its length) describes the points.
#[must_use]
pub fn fit_decay(t_s: &[f64], y: &[f64], origin_s: f64, start: Option<f64>) -> Option<Decay> {
    let free = if start.is_some() { 2 } else { 3 };
    if t_s.len() != y.len() || t_s.len() <= free || !y.iter().all(|y| y.is_finite()) {
        return None;
    }
    let u_s: Vec<f64> = t_s.iter().map(|t| t - origin_s).collect();
    let span = u_s.last()? - u_s.first()?;
    let reach = u_s.iter().map(|u| u.abs()).fold(span, f64::max);
    if !(span > 0.0 && reach.is_finite()) {
        return None;
    }
    let limits = (0.02 / reach, 100.0 / reach * t_s.len() as f64);
    let (begin, _) = (0..60)
        .map(|i| limits.0 * (limits.1 / limits.0).powf(f64::from(i) / 59.0))
        .filter_map(|k| linear(&u_s, y, k, start).map(|(a, b, rss)| ([a, b, k], rss)))
        .min_by(|a, b| a.1.total_cmp(&b.1))?;
    let bound = |fixed: bool| MPPar {
        fixed,
        side: MPSide::User,
        ..MPPar::new()
    };
    let mut problem = Points {
        x: &u_s,
        y,
        bounds: [
            bound(start.is_some()),
            bound(false),
            MPPar {
                limited_low: true,
                limit_low: limits.0 * 0.5,
                limited_up: true,
                limit_up: limits.1 * 2.0,
                ..bound(false)
            },
        ],
        config: until(1e-15),
        residual: |&[start, change, k]: &[f64; 3], u: f64, y: f64| {
            y - start + change * (-k * u).exp_m1()
        },
        slope: |&[_, change, k]: &[f64; 3], u: f64, index| match index {
            0 => -1.0,
            1 => (-k * u).exp_m1(),
            _ => -change * u * (-k * u).exp(),
        },
    };
    let mut p = begin;
    let status = problem.mpfit(&mut p).ok()?;
    let [first, change, k] = p;
    // Where points and exponential hang together too loosely, the fitter gives no covariance but noughts.
    let told = (3 - free..3).all(|i| status.covar.get(4 * i).is_some_and(|c| *c > 0.0));
    let inside = told && k > limits.0 && k < limits.1 && status.best_norm.is_finite();
    inside.then(|| {
        let variance = status.best_norm / (t_s.len() - free) as f64;
        outcome(first, change, k, variance, &status)
    })
}

fn outcome(start: f64, change: f64, k: f64, variance: f64, status: &rmpfit::MPStatus) -> Decay {
    let c =
        |i: usize, j: usize| variance * status.covar.get(3 * i + j).copied().unwrap_or(f64::NAN);
    let root = |v: f64| v.max(0.0).sqrt();
    Decay {
        start,
        change,
        k_per_s: k,
        u_start: root(c(0, 0)),
        u_change: root(c(1, 1)),
        u_k_per_s: root(c(2, 2)),
        u_k_by_parts_per_s: 0.0,
        u_level: root(c(0, 0) + c(1, 1) + 2.0 * c(0, 1)),
        u_rate_per_s: root(
            k * k * c(1, 1) + change * change * c(2, 2) + 2.0 * k * change * c(1, 2),
        ),
        residual_sd: root(variance),
        residuals: status.resid.clone(),
    }
}

/// Start, change and misfit for a given rate constant.
fn linear(u_s: &[f64], y: &[f64], k: f64, start: Option<f64>) -> Option<(f64, f64, f64)> {
    let shape: Vec<f64> = u_s.iter().map(|u| -(-k * u).exp_m1()).collect();
    let (a, b) = match start {
        Some(a) => {
            let gg: f64 = shape.iter().map(|g| g * g).sum();
            let gy: f64 = shape.iter().zip(y).map(|(g, y)| g * (y - a)).sum();
            (a, gy / gg)
        }
        None => super::fit_line(&shape, y).map(|l| (l.intercept, l.slope))?,
    };
    let rss: f64 = shape
        .iter()
        .zip(y)
        .map(|(g, y)| (y - a - b * g).powi(2))
        .sum();
    rss.is_finite().then_some((a, b, rss))
}

#[cfg(test)]
mod tests {
    use super::fit_decay;

    #[test]
    fn a_straight_line_is_no_decay() {
        let t: Vec<f64> = (0..50).map(f64::from).collect();
        assert_eq!(fit_decay(&t, &t, 0.0, None), None);
        assert_eq!(fit_decay(&t, &vec![f64::NAN; 50], 0.0, None), None);
        assert_eq!(fit_decay(&[], &[], 0.0, None), None);
    }

    #[test]
    fn an_exact_decay_is_recovered() {
        let t: Vec<f64> = (0..50).map(|i| 10.0 * f64::from(i)).collect();
        let y: Vec<f64> = t.iter().map(|t| 20.0 + 15.0 * (-t / 300.0).exp()).collect();
        let fit = fit_decay(&t, &y, 0.0, None).unwrap();
        assert!((fit.tau_s() - 300.0).abs() < 1e-6 && (fit.level() - 20.0).abs() < 1e-8);
    }
}
