//! Templates of a bend on an even grid: a lagged ramp made orthogonal to a parabola.
//!
//! Their dot product with evenly spaced values is the best estimate of the bend, free of any
//! straight line or parabola, in units in which white noise of standard deviation σ gives σ.

use super::project::orthonormalise;
use super::response::Chain;

/// A unit template over `len` places with the bend at place `at`; `lags` in places.
pub(super) fn template(len: usize, at: f64, lags: (f64, f64)) -> Vec<f64> {
    let chain = Chain::new(&[lags.0, lags.1]);
    let ramp = (0..len).map(|i| chain.ramp(i as f64 - at)).collect();
    let mut columns = parabola(len);
    columns.push(ramp);
    orthonormalise(&mut columns);
    columns.pop().unwrap_or_default()
}

/// Constant, straight line and parabola over `len` places, not yet orthogonal.
fn parabola(len: usize) -> Vec<Vec<f64>> {
    let half = 0.5 * len as f64;
    (0..3)
        .map(|k| {
            (0..len)
                .map(|i| ((i as f64 - half) / half).powi(k))
                .collect()
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::template;
    use crate::lamp::project::{dot, fit};
    use crate::lamp::response::Chain;

    /// Height of a stagnant band over the rate of flow, both as logarithms: R. A. Cook's data, as printed by
    /// Bacon and Watts (1971), Biometrika 58, 525-534; values as in R's package segmented 1.6-2.
    const STAGNANT_BAND: [(f64, f64); 28] = [
        (-1.39, 1.12),
        (-1.39, 1.12),
        (-1.08, 0.99),
        (-1.08, 1.03),
        (-0.94, 0.92),
        (-0.8, 0.9),
        (-0.63, 0.81),
        (-0.63, 0.83),
        (-0.25, 0.65),
        (-0.25, 0.67),
        (-0.12, 0.59),
        (-0.12, 0.6),
        (0.01, 0.51),
        (0.11, 0.43),
        (0.11, 0.43),
        (0.25, 0.3),
        (0.25, 0.33),
        (0.34, 0.24),
        (0.34, 0.25),
        (0.44, 0.13),
        (0.59, -0.01),
        (0.7, -0.14),
        (0.7, -0.13),
        (0.85, -0.33),
        (0.85, -0.3),
        (0.99, -0.46),
        (0.99, -0.43),
        (1.19, -0.65),
    ];

    /// Sum of squares about two straight lines that meet at `at`.
    fn misfit(at: f64) -> f64 {
        let chain = Chain::new(&[]);
        let column =
            |value: &dyn Fn(f64) -> f64| STAGNANT_BAND.iter().map(|r| value(r.0)).collect();
        let mut line = vec![column(&|_| 1.0), column(&|x| x)];
        let mut falls = vec![column(&|x| -chain.ramp(x - at))];
        let mut r: Vec<f64> = STAGNANT_BAND.iter().map(|row| row.1).collect();
        fit(&mut line, &mut falls, &mut r);
        dot(&r, &r)
    }

    #[test]
    fn the_break_of_the_stagnant_band_is_where_it_is_published_to_be() {
        // R 4.2.2, segmented 1.6-2: break at 0.0411058, sum of squares 0.00914020.
        let at = |i: i32| 1e-4 * f64::from(i);
        let best = (-13_000..11_000)
            .map(at)
            .min_by(|a, b| misfit(*a).total_cmp(&misfit(*b)));
        assert!((best.unwrap() - 0.041_105_8).abs() < 1e-4, "{best:?}");
        assert!((misfit(0.041_105_8) - 0.009_140_20).abs() < 1e-7);
        // A bend the other way gains nothing over one straight line.
        assert!(misfit(1.2) > 0.1);
    }

    #[test]
    fn a_parabola_shows_no_bend_and_a_bend_does() {
        let h = template(60, 45.0, (5.0, 2.0));
        let parabola: Vec<f64> = (0..60)
            .map(|i| 3.0 + 0.2 * f64::from(i) - 0.01 * f64::from(i * i))
            .collect();
        assert!(dot(&h, &parabola).abs() < 1e-9);
        let bend: Vec<f64> = (0..60).map(|i| (f64::from(i) - 45.0).max(0.0)).collect();
        assert!(dot(&h, &bend) > 1.0);
    }
}
