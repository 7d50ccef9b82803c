//! Size and correlation of the noise, measured from differences and residuals.

/// Ratio of standard deviation to median absolute deviation for a normal distribution.
const MAD_TO_SD: f64 = 1.4826;

/// Median of the finite values; NaN if there are none. Reorders the slice.
pub(super) fn median(values: &mut [f64]) -> f64 {
    let n = values.len();
    if n == 0 {
        return f64::NAN;
    }
    let (below, mid, _) = values.select_nth_unstable_by(n / 2, f64::total_cmp);
    let mid = *mid;
    if n % 2 == 1 {
        return mid;
    }
    let lower = below.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    0.5 * (lower + mid)
}

/// Robust standard deviation about zero, from the median absolute value.
pub(super) fn robust_sd(values: &[f64]) -> f64 {
    let mut sizes: Vec<f64> = values.iter().map(|v| v.abs()).collect();
    MAD_TO_SD * median(&mut sizes)
}

/// Differences from which noise is measured at most: so many tell it to half a percent, and those of a
/// month of raw rows would take 20 MB.
const ENOUGH: usize = 100_000;

/// Noise from second differences, which a smooth curve hardly touches; evenly drawn from a long record.
///
/// Robust against spikes and edges; when more than half of the differences are zero (coarse
/// steps), falls back on their root mean square with the largest tenth left out.
pub(super) fn from_differences(y: &[f64]) -> f64 {
    let mut seconds: Vec<f64> = y
        .iter()
        .zip(y.iter().skip(1))
        .zip(y.iter().skip(2))
        .step_by(y.len() / ENOUGH + 1)
        .map(|((a, b), c)| (a - 2.0 * b + c).abs())
        .collect();
    // Var(a - 2b + c) = 6σ² for white noise.
    let sd = MAD_TO_SD * median(&mut seconds) / 6.0_f64.sqrt();
    if sd > 0.0 {
        return sd;
    }
    seconds.sort_by(f64::total_cmp);
    let kept = seconds.len() - seconds.len() / 10;
    let sum: f64 = seconds.iter().take(kept).map(|v| v * v).sum();
    (sum / (6.0 * kept.max(1) as f64)).sqrt()
}

/// The smallest step that readings show, if most of them sit on a grid of it.
pub(super) fn resolution(y: &[f64]) -> Option<f64> {
    let steps = y.iter().zip(y.iter().skip(1)).map(|(a, b)| (b - a).abs());
    let smallest = steps
        .clone()
        .filter(|&d| d > 1e-7)
        .fold(f64::INFINITY, f64::min);
    if !smallest.is_finite() {
        return None;
    }
    let on_grid = |d: f64| {
        let n = d / smallest;
        (n - n.round()).abs() < 0.02 * n.max(1.0)
    };
    let (all, fits) = steps.fold((0usize, 0usize), |(all, fits), d| {
        (all + 1, fits + usize::from(on_grid(d)))
    });
    (fits * 10 >= all * 9).then_some(smallest)
}

/// Factor by which correlation between neighbouring residuals inflates the variance of a slowly
/// varying estimate: `1 + 2Σρₖ`, summed while the correlations stay positive (initial positive
/// sequence, Geyer 1992), at least 1.
pub(crate) fn inflation(r: &[f64]) -> f64 {
    let n = r.len();
    let power: f64 = r.iter().map(|v| v * v).sum();
    if n < 8 || power <= 0.0 {
        return 1.0;
    }
    let mut factor = 1.0;
    // A fit of few parameters leaves no correlation longer than a fraction of the record.
    for lag in 1..=(n / 6).min(200) {
        let along: f64 = r.iter().zip(r.iter().skip(lag)).map(|(a, b)| a * b).sum();
        let rho = along / power;
        if rho < 2.0 / (n as f64).sqrt() {
            break;
        }
        factor += 2.0 * rho;
    }
    factor
}

/// Two-sided 95 % quantile of Student's distribution with `dof` degrees of freedom (at least 1).
///
/// Exact for 1 and 2; for more the expansion of Abramowitz and Stegun 26.7.5, good to 0.8 % for 3 and to 0.3 % beyond.
#[must_use]
pub fn student_975(dof: f64) -> f64 {
    if dof < 1.5 {
        return 12.706;
    }
    if dof < 2.5 {
        return 4.303;
    }
    let z: f64 = 1.959_964;
    let g1 = (z.powi(3) + z) / 4.0;
    let g2 = (5.0 * z.powi(5) + 16.0 * z.powi(3) + 3.0 * z) / 96.0;
    let g3 = (3.0 * z.powi(7) + 19.0 * z.powi(5) + 17.0 * z.powi(3) - 15.0 * z) / 384.0;
    z + g1 / dof + g2 / dof.powi(2) + g3 / dof.powi(3)
}

#[cfg(test)]
mod tests {
    use super::{from_differences, inflation, median, resolution, student_975};

    #[test]
    fn student_quantiles_match_the_printed_table() {
        // Student's t table, 97.5 %: GUM (JCGM 100:2008) table G.2, column 95 %, with another decimal.
        for (dof, t) in [
            (1.0, 12.706),
            (2.0, 4.303),
            (3.0, 3.182),
            (4.0, 2.776),
            (5.0, 2.571),
            (10.0, 2.228),
            (30.0, 2.042),
        ] {
            let share = if dof < 4.0 { 0.008 } else { 0.003 };
            assert!((student_975(dof) - t).abs() < share * t, "dof = {dof}");
        }
    }

    #[test]
    fn a_coarse_step_is_recognised() {
        let y: Vec<f64> = (0..200)
            .map(|i| (f64::from(i) * 0.037 / 0.0625).round() * 0.0625)
            .collect();
        assert!((resolution(&y).unwrap() - 0.0625).abs() < 1e-9);
        assert_eq!(resolution(&[1.0, 1.0, 1.0]), None);
    }

    #[test]
    fn white_residuals_inflate_nothing_and_slow_ones_do() {
        use rand::{RngExt, SeedableRng};
        let mut rng = rand_pcg::Pcg64::seed_from_u64(1);
        let white: Vec<f64> = (0..500).map(|_| rng.random_range(-1.0..1.0)).collect();
        assert!(inflation(&white) < 1.5);
        let slow: Vec<f64> = (0..500).map(|i| (f64::from(i) / 30.0).sin()).collect();
        assert!(inflation(&slow) > 10.0);
    }

    #[test]
    fn differences_ignore_the_slope() {
        let y: Vec<f64> = (0..100).map(|i| 0.5 * f64::from(i)).collect();
        assert!(from_differences(&y) < 1e-9);
        assert!(median(&mut []).is_nan());
    }
}
