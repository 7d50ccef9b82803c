//! A slope and its interval, where noise lasts from one reading to the next.
//!
//! Ordinary least squares, its white-noise uncertainty widened by `√((1 + ρ)/(1 − ρ))`, the factor by
//! which first-order autoregressive noise of lag-one correlation ρ widens a mean's or a slow trend's
//! (Bartlett 1946; von Storch and Zwiers, Statistical Analysis in Climate Research, 1999, 6.6). ρ is
//! that of the residuals, corrected for its bias (Kendall 1954). The coverage factor is Student's t for
//! the readings that the noise leaves independent (JCGM 100:2008, annex G).

use std::f64::consts::PI;

use crate::analysis::fit_line;

/// Largest lag-one correlation that is believed.
const MOST_CORRELATED: f64 = 0.97;

/// A correlation is plainly there when it is so many of its standard deviations from nought.
const PLAIN: f64 = 2.0;

/// Parameters of a straight line that bends.
const BENT: f64 = 3.0;

/// Fewer independent readings than this give no interval.
const FEWEST: f64 = 5.0;

/// A normal variate is below this with a probability of 0.975.
const Z: f64 = 1.96;

/// Errors that stay within ±e move the slope over a span by so many e a span at most: its weights are
/// `12 u/w³` for u within ±w/2.
const LEVERAGE: f64 = 3.0;

/// A slope and what is known of its uncertainty.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Drift {
    /// In °C/s.
    pub(super) slope: f64,
    /// Its standard uncertainty in °C/s, and the readings beyond three that it rests on.
    u: f64,
    freedom: f64,
    /// What rounding does to it at most, in °C/s.
    rounding: f64,
}

impl Drift {
    /// Half width of the interval, in °C/s, whose ends are so many standard deviations away where
    /// infinitely many readings are independent.
    pub(super) fn half(&self, deviations: f64) -> f64 {
        student(deviations, self.freedom) * self.u + self.rounding
    }

    /// Half width of the interval at a level of 95 %, in °C/s.
    pub(super) fn expanded(&self) -> f64 {
        self.half(Z)
    }
}

/// How coarse the readings are of which points are means.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Grain {
    /// Their smallest step in °C.
    pub(super) step_degc: f64,
    /// The mean variance of the readings of one point, in °C²: 0 where each is one reading.
    pub(super) hidden: f64,
}

/// The drift of (s, °C) points.
pub(super) fn drift(points: &[(f64, f64)], grain: Grain) -> Option<Drift> {
    let first_s = points.first()?.0;
    let (t_s, degc): (Vec<f64>, Vec<f64>) = points.iter().map(|(t, y)| (t - first_s, *y)).unzip();
    let line = fit_line(&t_s, &degc)?;
    let mut residuals: Vec<f64> = t_s
        .iter()
        .zip(&degc)
        .map(|(t, y)| y - line.intercept - line.slope * t)
        .collect();
    let n = residuals.len() as f64;
    let before: f64 = residuals.iter().map(|r| r * r).sum();
    straighten(&t_s, &mut residuals);
    let noise: f64 = residuals.iter().map(|r| r * r).sum();
    let inflation = inflation(&residuals);
    let independent = n / inflation;
    if independent < FEWEST {
        return None;
    }
    // The scatter around the curve is less than the noise's, the more so the fewer are independent.
    let scatter = (n - 2.0) / n * independent / (independent - BENT);
    let straight = if before > 0.0 { noise / before } else { 1.0 };
    let u = line.u_slope * (straight * inflation * scatter).sqrt();
    let span_s = t_s.last()?;
    let of_readings = noise / (n - BENT) + grain.hidden;
    let rounding = LEVERAGE * unblurred(of_readings, grain.step_degc) / span_s;
    (line.slope.is_finite() && (u + rounding).is_finite()).then_some(Drift {
        slope: line.slope,
        u,
        freedom: independent - BENT,
        rounding,
    })
}

/// How far the mean of readings that are rounded to a step can be from that of what is rounded, in °C,
/// where the readings' variance around their curve is `variance`.
///
/// Half a step where they do not scatter. Normal noise of standard deviation σ blurs the steps: of the
/// saw-tooth that rounding is, the mean keeps the harmonics `step/(πk) · exp(−2π²k²σ²/step²)`
/// (Widrow and Kollár, Quantization Noise, Cambridge 2008, chapter 5). The readings' variance has that
/// of rounding in it, a twelfth of the step squared.
fn unblurred(variance: f64, step_degc: f64) -> f64 {
    if step_degc <= 0.0 {
        return 0.0;
    }
    let steps = (variance / (step_degc * step_degc) - 1.0 / 12.0).max(0.0);
    let harmonic = |k: f64| (-2.0 * (PI * k).powi(2) * steps).exp() / (PI * k);
    step_degc * (1..=4).map(f64::from).map(harmonic).sum::<f64>().min(0.5)
}

/// Takes the bend out of the residuals around a straight line: a sample that slows down as it comes to
/// rest is no noise, and the mean slope of a window is what it is with and without the bend.
fn straighten(t_s: &[f64], residuals: &mut [f64]) {
    let square: Vec<f64> = t_s.iter().map(|t| t * t).collect();
    let Some(line) = fit_line(t_s, &square) else {
        return;
    };
    let bend: Vec<f64> = t_s
        .iter()
        .zip(&square)
        .map(|(t, square)| square - line.intercept - line.slope * t)
        .collect();
    let size: f64 = bend.iter().map(|b| b * b).sum();
    let share: f64 = bend
        .iter()
        .zip(&*residuals)
        .map(|(b, r)| b * r)
        .sum::<f64>()
        / size;
    if share.is_finite() {
        for (residual, b) in residuals.iter_mut().zip(&bend) {
            *residual -= share * b;
        }
    }
}

/// How many times the variance of a slow trend is that of white noise, at least 1.
///
/// First-order autoregressive noise that is observed with white error, as rounding is, has correlations
/// `r·φ^(lag − 1)` (Box, Jenkins and Reinsel, Time Series Analysis, 1994, A4.3), whose sum makes
/// `1 + 2r/(1 − φ)`; without the error `φ = r`. The white error hides how long the noise lasts: where r is
/// plainly there, the second correlation tells φ.
pub(super) fn inflation(residuals: &[f64]) -> f64 {
    let n = residuals.len() as f64;
    let square: f64 = residuals.iter().map(|r| r * r).sum();
    // Values that are exactly on the line: all there is to them is rounding.
    if square <= 1e-18 * n {
        return 1.0;
    }
    let correlation = |lag: usize| {
        let later = residuals.iter().skip(lag);
        let product: f64 = residuals.iter().zip(later).map(|(a, b)| a * b).sum();
        let raw = product / square;
        raw + (1.0 + 4.0 * raw) / n
    };
    let r = correlation(1).clamp(0.0, MOST_CORRELATED);
    let keeps = if r * n.sqrt() > PLAIN {
        (correlation(2) / r).clamp(r, MOST_CORRELATED)
    } else {
        r
    };
    1.0 + 2.0 * r / (1.0 - keeps)
}

/// Student's t for so many degrees of freedom at the probability at which a normal variate is z, far
/// out as well (Wallace 1959, Annals of Mathematical Statistics 30, 1124; turned round). Too large by
/// 2 % at five degrees and z = 3.3, by less from there on.
fn student(z: f64, freedom: f64) -> f64 {
    let shape = (8.0 * freedom + 3.0) / (8.0 * freedom + 1.0);
    (freedom * ((z * shape).powi(2) / freedom).exp_m1()).sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::SeedableRng;
    use rand_distr::{Distribution, StandardNormal};
    use rand_pcg::Pcg64;

    #[test]
    fn coverage_factors_are_those_of_the_table() {
        // JCGM 100:2008, table G.2, column p = 95 %.
        for (freedom, t) in [(3.0, 3.18), (5.0, 2.57), (10.0, 2.23), (30.0, 2.04)] {
            let ours = student(Z, freedom);
            assert!((ours - t).abs() < 0.015 * t, "{freedom}: {ours}");
        }
        // Two-sided 99.9 %, from the printed tables of Student's t; never smaller.
        for (freedom, t) in [(5.0, 6.869), (10.0, 4.587), (30.0, 3.646)] {
            let ours = student(3.2905, freedom);
            assert!((-0.005..0.15).contains(&(ours - t)), "{freedom}: {ours}");
        }
    }

    #[test]
    fn white_noise_on_certified_data_gives_the_certified_interval() {
        // NIST StRD linear regression, Norris (slope and its standard deviation), in order of x.
        let text = include_str!("../../../tests/data/nist-norris.csv");
        let mut points: Vec<(f64, f64)> = text
            .lines()
            .filter_map(|line| line.split_once(','))
            .filter_map(|(y, x)| Some((x.parse().ok()?, y.parse().ok()?)))
            .collect();
        points.sort_by(|a, b| a.0.total_cmp(&b.0));
        assert_eq!(points.len(), 36);
        let found = drift(&points, Grain::default()).unwrap();
        assert!((found.slope - 1.002_116_818_020_45).abs() < 1e-12);
        let certified = 4.297_968_481_999_37e-4;
        let (x, line): (Vec<f64>, Vec<f64>) = points
            .iter()
            .map(|(x, y)| (x, y + 0.262_323_073_774_029 - 1.002_116_818_020_45 * x))
            .unzip();
        let mut bent = line.clone();
        straighten(&x, &mut bent);
        let square = |r: &[f64]| r.iter().map(|r| r * r).sum::<f64>();
        let independent = 36.0 / inflation(&bent);
        let wider = 34.0 / 36.0 * independent / (independent - BENT);
        let u = found.expanded() / student(Z, independent - BENT);
        let white = u / (inflation(&bent) * wider * square(&bent) / square(&line)).sqrt();
        assert!((white / certified - 1.0).abs() < 1e-8, "{white}");
    }

    #[test]
    fn the_bend_of_an_approach_is_no_noise() {
        let wobble = |s: f64| 0.003 * (s * 9.1).sin();
        let straight: Vec<(f64, f64)> = (0..60)
            .map(f64::from)
            .map(|s| (s, 23.0 + wobble(s)))
            .collect();
        let bent: Vec<(f64, f64)> = straight
            .iter()
            .map(|(s, y)| (*s, y - 2.0 * (-s / 90.0).exp()))
            .collect();
        let half = |points: &[(f64, f64)]| drift(points, Grain::default()).unwrap().half(4.0);
        assert!(half(&bent) < 1.3 * half(&straight), "{}", half(&bent));
    }

    #[test]
    fn rounding_does_not_hide_how_long_noise_lasts() {
        // First-order autoregressive noise of 0.05 that lasts 8 points, rounded to 0.1: the variance
        // of a slow trend is (0.05² · 16.02 + 0.1²/12)/(0.05² + 0.1²/12) = 12.3 times the white one's.
        let (keep, mut noise) = ((-0.125_f64).exp(), 0.0);
        let mut random = Pcg64::seed_from_u64(3);
        let rounded: Vec<f64> = (0..20_000)
            .map(|_| {
                let fresh: f64 = StandardNormal.sample(&mut random);
                noise = keep * noise + 0.05 * (1.0 - keep * keep).sqrt() * fresh;
                (noise * 10.0).round() / 10.0
            })
            .collect();
        let found = inflation(&rounded);
        // Its error is not quite white: readings change by a quarter of a step from point to point.
        assert!((found / 12.3 - 1.0).abs() < 0.2, "{found}");
    }

    #[test]
    fn noise_blurs_the_steps_of_rounding() {
        assert!((unblurred(1.0 / 12.0, 1.0) - 0.5).abs() < 1e-12);
        for sigma in [0.1, 0.2, 0.3, 0.5] {
            // The mean of rounded normal variates about x, from the probability of each step.
            let below = |z: f64| 0.5 * (1.0 + libm::erf(z / std::f64::consts::SQRT_2));
            let off = |x: f64| {
                let step =
                    |n: f64| n * (below((n + 0.5 - x) / sigma) - below((n - 0.5 - x) / sigma));
                (-9..=9).map(f64::from).map(step).sum::<f64>() - x
            };
            let most = (0..=50).map(|i| off(f64::from(i) / 100.0).abs());
            let most = most.fold(0.0, f64::max);
            let found = unblurred(sigma * sigma + 1.0 / 12.0, 1.0);
            assert!(
                (most * 0.999..1.5 * most).contains(&found),
                "{sigma}: {found} {most}"
            );
        }
    }

    #[test]
    fn rounding_that_nothing_blurs_is_not_certainty() {
        let flat: Vec<(f64, f64)> = (0..120).map(|s| (f64::from(s), 23.1)).collect();
        let tenths = Grain {
            step_degc: 0.1,
            ..Grain::default()
        };
        let found = drift(&flat, tenths).unwrap();
        assert!((found.expanded() - 0.15 / 119.0).abs() < 1e-9);
    }
}
