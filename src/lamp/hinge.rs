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
    use crate::lamp::project::dot;

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
