//! Two exponential approaches at once, from a start that is known.
//!
//! `T(t) = start + Σ cᵢ·(1 − exp(−kᵢ·(t − t₀)))`, i = 1, 2: a body whose surface follows the lamp
//! faster than its inside (two lumped nodes; Incropera and DeWitt, Fundamentals of Heat and Mass
//! Transfer, chapter 5). Both cᵢ have the sign of the change. The initial rate is `Σ cᵢkᵢ`. Levenberg
//! and Marquardt's method with exact derivatives, begun at the best pair of a grid of rate constants
//! with the linear terms solved.

use rmpfit::{MPFitter as _, MPPar, MPSide, MPStatus};

use super::fit::{Points, until};

/// Rate constants of the grid that the fit begins from, and how far apart a pair is at least.
const GRID: usize = 24;
const APART: f64 = 1.5;

/// Points that the grid looks at.
const GRID_POINTS: usize = 200;

/// Parameters: two changes and two rate constants.
const FREE: usize = 4;

/// The initial rate of such an approach, noise taken as white.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct TwoDecays {
    /// In °C/s.
    pub(super) rate_per_s: f64,
    /// Its standard uncertainty.
    pub(super) u_rate_per_s: f64,
    /// Standard deviation of the residuals.
    pub(super) residual_sd: f64,
    /// Residuals in the order of the points.
    pub(super) residuals: Vec<f64>,
}

/// Where the approach begins, and the fastest that can be told, in 1/s.
#[derive(Debug, Clone, Copy)]
pub(super) struct Begin {
    pub(super) t0_s: f64,
    pub(super) degc: f64,
    pub(super) fastest_per_s: f64,
}

/// Fits the approach to points after its begin. None for too few points, or where no two
/// exponentials of one sign within what the points can tell describe them.
pub(super) fn fit_two_decays(t_s: &[f64], y: &[f64], begin: Begin) -> Option<TwoDecays> {
    let n = t_s.len();
    if n != y.len() || n < 3 * FREE || !y.iter().all(|y| y.is_finite()) {
        return None;
    }
    let u_s: Vec<f64> = t_s.iter().map(|t| t - begin.t0_s).collect();
    let change: Vec<f64> = y.iter().map(|y| y - begin.degc).collect();
    let reach = *u_s.last()?;
    let slowest = 0.02 / reach;
    if !(slowest > 0.0 && begin.fastest_per_s > 2.0 * slowest) {
        return None;
    }
    let sign = change.last()?.signum();
    let mut p = first_guess(&u_s, &change, (slowest, begin.fastest_per_s), sign)?;
    let bound = |low: f64, high: f64| MPPar {
        limited_low: low.is_finite(),
        limit_low: low,
        limited_up: high.is_finite(),
        limit_up: high,
        side: MPSide::User,
        ..MPPar::new()
    };
    let of_change = || {
        if sign > 0.0 {
            bound(0.0, f64::INFINITY)
        } else {
            bound(f64::NEG_INFINITY, 0.0)
        }
    };
    let of_rate = || bound(0.5 * slowest, begin.fastest_per_s);
    let mut problem = Points {
        x: &u_s,
        y: &change,
        bounds: [of_change(), of_rate(), of_change(), of_rate()],
        config: until(1e-13),
        residual: |&[c1, k1, c2, k2]: &[f64; FREE], u: f64, y: f64| {
            y + c1 * (-k1 * u).exp_m1() + c2 * (-k2 * u).exp_m1()
        },
        slope: |&[c1, k1, c2, k2]: &[f64; FREE], u: f64, index| match index {
            0 => (-k1 * u).exp_m1(),
            1 => -c1 * u * (-k1 * u).exp(),
            2 => (-k2 * u).exp_m1(),
            _ => -c2 * u * (-k2 * u).exp(),
        },
    };
    let status = problem.mpfit(&mut p).ok()?;
    outcome(p, begin.fastest_per_s, n, &status)
}

fn outcome(p: [f64; FREE], fastest: f64, n: usize, status: &MPStatus) -> Option<TwoDecays> {
    let [c1, k1, c2, k2] = p;
    let variance = status.best_norm / (n - FREE) as f64;
    // At the end of what can be told the initial rate is anything above what is found.
    let told = [(c1, k1), (c2, k2)]
        .iter()
        .all(|(c, k)| c.abs() < 1e-9 || *k < 0.98 * fastest);
    let slopes = [k1, c1, k2, c2];
    let mut square = 0.0;
    for (i, a) in slopes.iter().enumerate() {
        for (j, b) in slopes.iter().enumerate() {
            square += a * b * variance * status.covar.get(FREE * i + j)?;
        }
    }
    let u = square.max(0.0).sqrt();
    (told && variance.is_finite() && u.is_finite()).then(|| TwoDecays {
        rate_per_s: c1 * k1 + c2 * k2,
        u_rate_per_s: u,
        residual_sd: variance.sqrt(),
        residuals: status.resid.clone(),
    })
}

/// The pair of rate constants on a grid that fits best, with its changes.
fn first_guess(
    u_s: &[f64],
    change: &[f64],
    (slowest, fastest): (f64, f64),
    sign: f64,
) -> Option<[f64; FREE]> {
    let every = u_s.len().div_ceil(GRID_POINTS);
    let thin = |values: &[f64]| values.iter().step_by(every).copied().collect::<Vec<f64>>();
    let (u_s, change) = (thin(u_s), thin(change));
    let rates: Vec<f64> = (0..GRID)
        .map(|i| slowest * (0.9 * fastest / slowest).powf(i as f64 / (GRID - 1) as f64))
        .collect();
    let shapes: Vec<Vec<f64>> = rates
        .iter()
        .map(|k| u_s.iter().map(|u| -(-k * u).exp_m1()).collect())
        .collect();
    let dot = |a: &[f64], b: &[f64]| a.iter().zip(b).map(|(a, b)| a * b).sum::<f64>();
    let mut best: Option<(f64, [f64; FREE])> = None;
    for (i, (slow, a)) in rates.iter().zip(&shapes).enumerate() {
        for (fast, b) in rates.iter().zip(&shapes).skip(i + 1) {
            if *fast < APART * slow {
                continue;
            }
            let (aa, ab, bb) = (dot(a, a), dot(a, b), dot(b, b));
            let (ay, by) = (dot(a, &change), dot(b, &change));
            let size = aa * bb - ab * ab;
            let (ca, cb) = ((ay * bb - by * ab) / size, (by * aa - ay * ab) / size);
            if ca * sign <= 0.0 || cb * sign <= 0.0 || !size.is_normal() {
                continue;
            }
            let misfit = -(ca * ay + cb * by);
            if best.is_none_or(|(least, _)| misfit < least) {
                best = Some((misfit, [ca, *slow, cb, *fast]));
            }
        }
    }
    best.map(|(_, p)| p)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn course(terms: &[(f64, f64)], wobble: f64) -> (Vec<f64>, Vec<f64>) {
        let t_s: Vec<f64> = (10..300).map(|i| 2.0 * f64::from(i)).collect();
        let degc = t_s.iter().map(|t| {
            let sum: f64 = terms.iter().map(|(c, k)| -c * (-k * t).exp_m1()).sum();
            22.0 + sum + wobble * (t * 12.9898).sin()
        });
        let degc = degc.collect();
        (t_s, degc)
    }

    const BEGIN: Begin = Begin {
        t0_s: 0.0,
        degc: 22.0,
        fastest_per_s: 0.125,
    };

    #[test]
    fn two_exact_exponentials_are_recovered_whichever_way_they_go() {
        for sign in [1.0, -1.0] {
            let (t_s, degc) = course(&[(sign * 3.0, 1.0 / 30.0), (sign * 9.0, 1.0 / 320.0)], 0.0);
            let fit = fit_two_decays(&t_s, &degc, BEGIN).unwrap();
            let truth = sign * (3.0 / 30.0 + 9.0 / 320.0);
            assert!((fit.rate_per_s / truth - 1.0).abs() < 1e-6, "{fit:?}");
        }
    }

    #[test]
    fn noise_moves_the_rate_by_what_is_stated() {
        let (t_s, degc) = course(&[(3.0, 1.0 / 30.0), (9.0, 1.0 / 320.0)], 0.01);
        let fit = fit_two_decays(&t_s, &degc, BEGIN).unwrap();
        let truth = 3.0 / 30.0 + 9.0 / 320.0;
        assert!(
            (fit.rate_per_s - truth).abs() < 3.0 * fit.u_rate_per_s,
            "{fit:?}"
        );
        assert!(fit.u_rate_per_s < 0.05 * truth);
    }

    #[test]
    fn what_is_faster_than_can_be_told_gives_no_rate() {
        let (t_s, degc) = course(&[(3.0, 1.0), (9.0, 1.0 / 320.0)], 0.0);
        assert_eq!(fit_two_decays(&t_s, &degc, BEGIN), None);
        assert_eq!(fit_two_decays(&t_s[..5], &degc[..5], BEGIN), None);
    }
}
