//! How far neighbouring readings share their errors.
//!
//! A mean of n readings with independent errors is known √n times better than one of them. Air that
//! stirs, and converters, give errors that last for seconds: then it is known less well, by the
//! factor √inflation. The local fits of start, peak, end and marks are too short to see that from
//! their own residuals, so it is measured once over the whole record.
//!
//! Method of moments: errors are taken for a first-order autoregression of variance σ², where each
//! keeps the share φ of the one before. Second differences of neighbouring rows, which keep a smooth
//! curve out, then have the variance `σ²·(6 - 8φ + 2φ²)`; with σ² from the residuals of the whole
//! record's model that gives φ, and `(1 + φ)/(1 - φ)`, by which the variance of a long mean is
//! inflated (any textbook of time series). Slow errors hidden under larger independent ones are not
//! seen.

use crate::lamp::Curve;

/// Rows without which nothing can be said.
const LEAST_ROWS: usize = 60;

/// Share of the second differences that counts: the largest are edges, touches and spikes.
const KEPT: f64 = 0.75;

/// Mean of the lower 75 % of the squares of standard normal numbers: with `z` = 1.1503,
/// `(0.75 - 2·z·f(z)) / 0.75` and f the normal density.
const KEPT_MEAN: f64 = 0.3684;

/// Largest share that an error is taken to keep.
const MOST: f64 = 0.98;

/// Factor, at least 1, by which correlated errors inflate the variance of a local fit to rows of
/// this curve, where the whole record's model leaves residuals of the standard deviation `sd_degc`.
///
/// Exactly 1 where white noise would explain what is seen, or where rows are too few.
pub(super) fn correlation(curve: &Curve, sd_degc: f64) -> f64 {
    let y = &curve.degc;
    if y.len() < LEAST_ROWS {
        return 1.0;
    }
    let neighbours = y.iter().zip(y.iter().skip(1)).zip(y.iter().skip(2));
    let mut squares: Vec<f64> = neighbours
        .map(|((a, b), c)| (a - 2.0 * b + c).powi(2))
        .collect();
    squares.sort_by(f64::total_cmp);
    squares.truncate((KEPT * squares.len() as f64).ceil() as usize);
    let seen = squares.iter().sum::<f64>() / squares.len() as f64 / KEPT_MEAN;
    let ratio = seen / (sd_degc * sd_degc);
    // What so many rows may show by chance: a square has twice the variance of what it estimates.
    let chance = 4.0 / (y.len() as f64).sqrt();
    let stands_out = ratio < 6.0 * (1.0 - chance);
    if !stands_out {
        return 1.0;
    }
    // The root of 2φ² - 8φ + 6 = ratio between 0 and 1.
    let kept = (2.0 - (1.0 + 0.5 * ratio).sqrt()).min(MOST);
    (1.0 + kept) / (1.0 - kept)
}

#[cfg(test)]
mod tests {
    use super::correlation;
    use crate::lamp::{Curve, curve};
    use rand::SeedableRng;
    use rand_distr::{Distribution, StandardNormal};

    /// A lesson's curve with errors that keep the share `kept` from row to row.
    fn lesson(every_s: f64, kept: f64, seed: u64) -> Curve {
        let mut rng = rand_pcg::Pcg64::seed_from_u64(seed);
        let mut error = 0.0;
        let t: Vec<f64> = (0..(1500.0 / every_s) as u32)
            .map(|i| f64::from(i) * every_s)
            .collect();
        let step = |u: f64, tau: f64| 1.0 - (-u.max(0.0) / tau).exp();
        let y: Vec<f64> = t
            .iter()
            .map(|t| {
                let new: f64 = StandardNormal.sample(&mut rng);
                error = kept * error + (1.0 - kept * kept).sqrt() * new;
                let both = |tau| step(t - 100.0, tau) - step(t - 800.0, tau);
                20.0 + 3.0 * both(20.0) + 9.0 * both(400.0) + 0.03 * error
            })
            .collect();
        curve(0, &t, &y, false)
    }

    #[test]
    fn independent_errors_inflate_nothing() {
        for (every_s, seed) in [(0.25, 1), (1.0, 2), (1.0, 3), (2.0, 4), (5.0, 5), (30.0, 6)] {
            let factor = correlation(&lesson(every_s, 0.0, seed), 0.03);
            assert!(factor < 1.3, "{every_s} s: {factor}");
        }
    }

    #[test]
    fn errors_that_last_inflate_as_theory_says() {
        // Of a first-order autoregression, (1 + φ) / (1 - φ) for long means (any textbook of time
        // series).
        for (every_s, kept) in [(1.0, 0.5), (1.0, 0.8), (0.25, 0.9), (5.0, 0.5)] {
            let theory = (1.0 + kept) / (1.0 - kept);
            let mean = (0..8)
                .map(|seed| correlation(&lesson(every_s, kept, seed), 0.03))
                .sum::<f64>()
                / 8.0;
            assert!(
                (0.8 * theory..1.2 * theory).contains(&mean),
                "{every_s} s, {kept}: {mean} for {theory}"
            );
        }
    }

    #[test]
    fn nothing_is_said_about_nothing() {
        assert!((correlation(&Curve::default(), 0.1) - 1.0).abs() < 1e-12);
        let few = curve(0, &[0.0, 1.0, 2.0], &[20.0, 20.1, 20.0], false);
        assert!((correlation(&few, 0.1) - 1.0).abs() < 1e-12);
        let t: Vec<f64> = (0..500).map(f64::from).collect();
        let flat = curve(0, &t, &[20.0; 500], false);
        for sd in [0.0, f64::NAN] {
            assert!((correlation(&flat, sd) - 1.0).abs() < 1e-12);
        }
    }
}
