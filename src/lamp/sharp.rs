//! Is an edge sharper than a smooth curve would be?
//!
//! In windows of several widths about the edge, two descriptions with equally many parameters
//! compete: a polynomial, and one of two degrees less plus a ramp that starts at the edge behind
//! about the lags expected. Day-and-night curves and drifts go with the polynomial. Records of a
//! few rows are judged as a whole, against polynomials of any degree they can bear.

use super::Kind;
use super::clean::Curve;
use super::noise::inflation;
use super::project::{dot, fit};
use super::response::Chain;

/// The edge must win by this much in twice the log-likelihood, over all curves.
const CLEAR: f64 = 12.0;

/// The same for a record of few rows as a whole.
const CLEAR_FEW: f64 = 5.0;

/// Fewest values in a window, and from which on the polynomial is of fourth degree.
const FEWEST: usize = 6;
const MANY: usize = 14;

/// Highest degree of a polynomial for a whole record of few rows.
const HIGHEST: i32 = 8;

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
    for _ in 0..8 {
        let window = (reach.0.max(at_s - half), reach.1.min(at_s + half));
        for shape in [Shape::Ramp, Shape::CurvedRamp] {
            let gains = curves
                .iter()
                .zip(lags_s)
                .filter_map(|(curve, &lags)| gain(curve, at_s, kind, window, lags, shape));
            if gains.sum::<f64>() > CLEAR {
                return true;
            }
        }
        half *= 0.65;
    }
    false
}

/// What begins at the edge: a straight ramp, or one that may bend as a fast node settles.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Shape {
    Ramp,
    CurvedRamp,
}

/// Rows of one curve in a window, times scaled to ±1.
struct Window {
    x: Vec<f64>,
    t_s: Vec<f64>,
    root: Vec<f64>,
    data: Vec<f64>,
}

impl Window {
    fn new(curve: &Curve, (from, to): (f64, f64)) -> Self {
        let half = (0.5 * (to - from)).max(1e-9);
        let middle = 0.5 * (to + from);
        let a = curve.t_s.partition_point(|t| *t < from);
        let b = curve.t_s.partition_point(|t| *t <= to).max(a);
        let part = |v: &[f64]| v.get(a..b).unwrap_or_default().to_vec();
        let t_s = part(&curve.t_s);
        let (rows, trust) = (curve.rows.part(a, b), curve.trust.part(a, b));
        let trusted = t_s.iter().zip(rows.iter().zip(trust.iter()));
        let root: Vec<f64> = trusted.map(|(_, (n, trust))| (n * trust).sqrt()).collect();
        let degc = part(&curve.degc);
        Self {
            x: t_s.iter().map(|t| (t - middle) / half).collect(),
            data: degc.iter().zip(&root).map(|(y, w)| y * w).collect(),
            t_s,
            root,
        }
    }

    fn powers(&self, degree: i32) -> Vec<Vec<f64>> {
        let column = |k| {
            self.x
                .iter()
                .zip(&self.root)
                .map(|(x, w)| w * x.powi(k))
                .collect()
        };
        (0..=degree).map(column).collect()
    }

    /// Residual of a polynomial.
    fn smooth(&self, degree: i32) -> Vec<f64> {
        let mut r = self.data.clone();
        fit(&mut self.powers(degree), &mut [], &mut r);
        r
    }
}

/// How much better the ramp is in one curve; none if too few values.
fn gain(
    curve: &Curve,
    at_s: f64,
    kind: Kind,
    window: (f64, f64),
    lags_s: (f64, f64),
    shape: Shape,
) -> Option<f64> {
    let rows = Window::new(curve, window);
    let before = rows.t_s.iter().filter(|t| **t < at_s).count();
    let count = rows.t_s.len();
    if before < 1 || count - before < 2 || count < FEWEST {
        return None;
    }
    // The edge costs two parameters (its size and its place), the bend of a ramp a third.
    let (degree, less) = match shape {
        Shape::Ramp if count < MANY => (3, 2),
        Shape::Ramp => (4, 2),
        Shape::CurvedRamp if count < MANY => return None,
        Shape::CurvedRamp => (5, 3),
    };
    let smooth = rows.smooth(degree);
    let chain = Chain::new(&[lags_s.0, lags_s.1]);
    let ramp: Vec<f64> = rows.t_s.iter().map(|t| chain.ramp(t - at_s)).collect();
    let weighted = |power: i32| -> Vec<f64> {
        let both = ramp.iter().zip(&rows.root);
        both.map(|(r, w)| w * kind.sign() * r.powi(power)).collect()
    };
    let mut free = rows.powers(degree - less);
    if shape == Shape::CurvedRamp {
        free.push(weighted(2));
    }
    let mut broken = rows.data.clone();
    fit(&mut free, &mut [weighted(1)], &mut broken);
    // Below the resolution all fits are equally good.
    let floor = count as f64 * curve.floor_degc.powi(2);
    let ratio = (dot(&smooth, &smooth) + floor) / (dot(&broken, &broken) + floor);
    Some(count as f64 / inflation(&broken) * ratio.ln())
}

/// Whether a fit with edges, of the given misfit and number of parameters, describes a record of
/// few rows better than every polynomial (by Schwarz's criterion).
pub(super) fn beats_polynomials(curves: &[Curve], misfit: f64, parameters: usize) -> bool {
    let count: usize = curves.iter().map(|c| c.t_s.len()).sum();
    let log = (count.max(2) as f64).ln();
    let own = misfit + parameters as f64 * log;
    (2..=HIGHEST).all(|degree| {
        let costs = curves.iter().map(|c| {
            let (from, to) = super::search::limits(std::slice::from_ref(c));
            // A polynomial with a term for every other row follows anything.
            let rows = i32::try_from(c.t_s.len()).unwrap_or(i32::MAX);
            let highest = degree.min((rows / 2).max(3)).min(rows - 2).max(0);
            let r = Window::new(c, (from, to)).smooth(highest);
            let scale = c.sd_degc.powi(2) * c.inflation;
            dot(&r, &r) / scale + f64::from(highest + 1) * log
        });
        costs.sum::<f64>() > own + CLEAR_FEW
    })
}
