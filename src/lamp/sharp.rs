//! Is an edge sharper than a smooth curve would be?
//!
//! In windows of several widths about the edge, two descriptions with equally many parameters
//! compete: a polynomial of fourth degree, and one of second degree plus a ramp that starts at
//! the edge behind the prior's lags. Day-and-night curves and drifts go with the polynomial.

use super::Kind;
use super::clean::Curve;
use super::project::{dot, fit};
use super::response::Chain;

/// The ramp must beat the polynomial by this much in twice the log-likelihood.
const CLEAR: f64 = 12.0;

/// Fewest values of a curve on either side of the edge.
const SIDE: usize = 3;

/// Whether the edge at `at_s` is sharp. `reach` limits the window: the neighbouring edges.
/// `lags_s` holds each curve's lags.
pub(super) fn is_sharp(
    curves: &[Curve],
    at_s: f64,
    kind: Kind,
    reach: (f64, f64),
    lags_s: &[(f64, f64)],
) -> bool {
    let widest = (at_s - reach.0).max(reach.1 - at_s);
    let mut half = widest;
    for _ in 0..7 {
        let window = (reach.0.max(at_s - half), reach.1.min(at_s + half));
        let gains = curves
            .iter()
            .zip(lags_s)
            .filter_map(|(curve, &lags)| gain(curve, at_s, kind, window, lags));
        if gains.sum::<f64>() > CLEAR {
            return true;
        }
        half *= 0.6;
    }
    false
}

/// How much better the ramp is in one curve; none if too few values.
fn gain(
    curve: &Curve,
    at_s: f64,
    kind: Kind,
    window: (f64, f64),
    lags_s: (f64, f64),
) -> Option<f64> {
    let half = 0.5 * (window.1 - window.0);
    let middle = 0.5 * (window.1 + window.0);
    let rows: Vec<(f64, f64, f64)> = curve
        .t_s
        .iter()
        .zip(&curve.degc)
        .zip(curve.root_weights())
        .filter(|((t, _), _)| **t >= window.0 && **t <= window.1)
        .map(|((t, y), w)| (*t, *y, w))
        .collect();
    let before = rows.iter().filter(|row| row.0 < at_s).count();
    if before < SIDE || rows.len() - before < SIDE || rows.len() < 2 * SIDE + 1 {
        return None;
    }
    let chain = Chain::new(&[lags_s.0, lags_s.1]);
    let powers = |degree: i32| -> Vec<Vec<f64>> {
        (0..=degree)
            .map(|k| {
                rows.iter()
                    .map(|(t, _, w)| w * ((t - middle) / half).powi(k))
                    .collect()
            })
            .collect()
    };
    let data: Vec<f64> = rows.iter().map(|(_, y, w)| w * y).collect();
    let mut smooth = data.clone();
    fit(&mut powers(4), &mut [], &mut smooth);
    let mut broken = data;
    let ramp = rows
        .iter()
        .map(|(t, _, w)| w * kind.sign() * chain.ramp(t - at_s))
        .collect();
    fit(&mut powers(2), &mut [ramp], &mut broken);
    Some(dot(&smooth, &smooth) - dot(&broken, &broken))
}
