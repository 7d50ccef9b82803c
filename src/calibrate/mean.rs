//! The mean of a steady stretch of readings, and how well it is known.

use crate::analysis::printed_step_degc;
use crate::lamp::inflation;

/// Noise from this share of a step on blurs its rounding, so that the mean resolves more than a step.
const BLURS: f64 = 0.5;

/// A mean with its standard uncertainty.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Mean {
    /// The mean in °C.
    pub degc: f64,
    /// Its standard uncertainty in °C: scatter of readings that are not independent, and rounding that
    /// no noise blurs.
    pub u_degc: f64,
    /// Standard deviation of one reading in °C.
    pub sd_degc: f64,
    /// Number of readings.
    pub readings: usize,
}

/// The mean of the finite values; none for fewer than two of them.
///
/// Type A by JCGM 100:2008, 4.2.3, with the number of readings divided by `1 + 2Σρₖ` for noise that
/// lasts from one to the next; rounding as in F.2.2.1.
#[must_use]
pub fn mean_of(degc: &[f64]) -> Option<Mean> {
    let step = printed_step_degc(degc).unwrap_or(0.0);
    mean_with_step(degc, step)
}

/// The same for values that are multiples of `step_degc`, or sums of such.
pub(super) fn mean_with_step(degc: &[f64], step_degc: f64) -> Option<Mean> {
    let values: Vec<f64> = degc.iter().copied().filter(|v| v.is_finite()).collect();
    let n = values.len() as f64;
    if values.len() < 2 {
        return None;
    }
    let mean = values.iter().sum::<f64>() / n;
    let residuals: Vec<f64> = values.iter().map(|v| v - mean).collect();
    let square: f64 = residuals.iter().map(|r| r * r).sum();
    let sd = (square / (n - 1.0)).sqrt();
    let scatter = sd * (inflation(&residuals) / n).sqrt();
    let rounding = if sd < BLURS * step_degc {
        step_degc / 12.0_f64.sqrt()
    } else {
        0.0
    };
    Some(Mean {
        degc: mean,
        u_degc: scatter.hypot(rounding),
        sd_degc: sd,
        readings: values.len(),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::{RngExt, SeedableRng};
    use rand_distr::StandardNormal;
    use rand_pcg::Pcg64;

    /// First-order autoregressive noise of unit standard deviation.
    fn noise(rho: f64, n: usize, seed: u64) -> Vec<f64> {
        let mut rng = Pcg64::seed_from_u64(seed);
        let mut last: f64 = rng.sample(StandardNormal);
        (0..n)
            .map(|_| {
                let fresh: f64 = rng.sample(StandardNormal);
                last = rho * last + (1.0 - rho * rho).sqrt() * fresh;
                last
            })
            .collect()
    }

    #[test]
    fn the_stated_uncertainty_is_the_means_own_scatter_for_white_and_for_lasting_noise() {
        for rho in [0.0, 0.6, 0.9] {
            let runs = 400;
            let means: Vec<Mean> = (0..runs)
                .map(|seed| mean_with_step(&noise(rho, 400, seed), 0.0).unwrap())
                .collect();
            let true_u = (means.iter().map(|m| m.degc.powi(2)).sum::<f64>() / runs as f64).sqrt();
            let told = (means.iter().map(|m| m.u_degc.powi(2)).sum::<f64>() / runs as f64).sqrt();
            let ratio = told / true_u;
            assert!((0.8..1.2).contains(&ratio), "rho {rho}: {ratio}");
        }
    }

    #[test]
    fn a_reading_that_never_moves_is_known_to_its_rounding_only() {
        // JCGM 100:2008, F.2.2.1: a step of 0.1 has u = 0.1/√12 = 0.0289.
        let mean = mean_of(&[21.3; 50]).unwrap();
        assert!((mean.u_degc - 0.028_867_5).abs() < 1e-6, "{mean:?}");
        assert!(mean_of(&[21.3]).is_none() && mean_of(&[f64::NAN; 9]).is_none());
    }
}
