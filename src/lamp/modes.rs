//! A body with any number of nodes: its response as a sum of modes, none of them negative.
//!
//! Heat conduction in a slab, a surface on its bulk, light that falls on the probe itself: seen
//! from one place, the response of such a linear body to a lamp that begins to shine upon it is
//! `Σ Q·(1 - exp(-u/τ))` with `Q ≥ 0` over many time constants. Here they lie on a fixed grid, so
//! that only edges and lags remain nonlinear. A mode of `τ = 0` is light on the probe itself.
//!
//! An edge that comes a little later and a small immediate response look alike, and so it goes on
//! with the faster modes: each amount has a prior, normal about nought, narrow where the mode is
//! fast. A probe sees little of the lamp's own light, and no sample warms in ten seconds.
//!
//! Where rows abound on- and off-edges have amounts of their own: exchange grows a little faster
//! than the temperature difference, so cooling is no exact mirror image of heating.

use super::Kind;
use super::clean::Curve;
use super::project::fit;
use super::response::Chain;

/// Fastest mode besides the one on the probe itself, and the ratio of neighbours.
const FASTEST_S: f64 = 10.0;
const RATIO: f64 = 1.7;

/// Standard deviation of an amount's prior, in ranges of the curve: for light on the probe, and what
/// each second of a mode's time constant adds; at most one (common practice, no source).
const PRIOR_LIGHT: f64 = 0.04;
const PRIOR_PER_S: f64 = 0.01;

/// Slowest mode, in lengths of the record.
const SLOWEST: f64 = 3.0;

/// Modes of what was under way before the record began: every so manieth of the grid.
const EVERY: usize = 3;

/// Fewest rows for a drift and for beginnings in several modes.
const RICH: usize = 40;

/// Fewest rows for amounts that differ between on- and off-edges.
const SEPARATE: usize = 150;

/// Fewest rows for one beginning.
const SOME: usize = 7;

/// The grid of time constants for one curve.
#[derive(Debug)]
pub(super) struct Modes {
    tau_s: Vec<f64>,
    span_s: f64,
    range_degc: f64,
}

impl Modes {
    /// The grid that suits a curve's length.
    pub(super) fn of(curve: &Curve) -> Self {
        let ends = curve.t_s.first().zip(curve.t_s.last());
        let span_s = ends.map_or(1.0, |(first, last)| last - first).max(1.0);
        let mut tau_s = vec![0.0];
        let mut tau = FASTEST_S.min(0.1 * span_s);
        while tau < SLOWEST * span_s {
            tau_s.push(tau);
            tau *= RATIO;
        }
        let top = curve.degc.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let bottom = curve.degc.iter().copied().fold(f64::INFINITY, f64::min);
        Self {
            tau_s,
            span_s,
            range_degc: (top - bottom).max(curve.floor_degc),
        }
    }

    /// How many amounts there are for so many edges: as many priors follow a curve's residuals.
    pub(super) fn amounts(&self, curve: &Curve, edges: usize) -> usize {
        let kinds = if few(curve) {
            edges.min(1)
        } else {
            edges.min(2)
        };
        kinds * self.tau_s.len()
    }

    /// Leaves the weighted residual of the best amounts in `out`, followed by those amounts in units
    /// of their priors; returns how many linear terms the fit took.
    pub(super) fn residual(
        &self,
        curve: &Curve,
        weights: &[f64],
        (first, edges): (Kind, &[f64]),
        lags_s: [f64; 3],
        out: &mut Vec<f64>,
    ) -> usize {
        let mut free = self.before(curve, weights);
        let mut forced = Vec::new();
        let mut sign = first.sign();
        let signed: Vec<(f64, f64)> = edges
            .iter()
            .map(|e| {
                let one = (*e, sign);
                sign = -sign;
                one
            })
            .collect();
        let few = few(curve);
        for kind in [first, first.other()] {
            let own = |(_, sign): &&(f64, f64)| few || kind.sign() * sign > 0.0;
            let own: Vec<(f64, f64)> = signed.iter().filter(own).copied().collect();
            if own.is_empty() || (few && kind != first) {
                continue;
            }
            forced.extend(self.tau_s.iter().map(|&tau| {
                let chain = Chain::new(&[tau, lags_s[0], lags_s[1], lags_s[2]]);
                let column = |(&t, w): (&f64, &f64)| {
                    w * own.iter().map(|(e, s)| s * chain.step(t - e)).sum::<f64>()
                };
                curve.t_s.iter().zip(weights).map(column).collect()
            }));
        }
        out.clear();
        out.extend(curve.degc.iter().zip(weights).map(|(y, w)| y * w));
        let rows = out.len();
        let all = rows + forced.len();
        for column in free.iter_mut().chain(forced.iter_mut()) {
            column.resize(all, 0.0);
        }
        out.resize(all, 0.0);
        for (i, column) in forced.iter_mut().enumerate() {
            let tau_s = self.tau_s.get(i % self.tau_s.len()).copied().unwrap_or(0.0);
            let prior = self.range_degc * (PRIOR_LIGHT + PRIOR_PER_S * tau_s).min(1.0);
            if let Some(slot) = column.get_mut(rows + i) {
                *slot = 1.0 / prior;
            }
        }
        let amounts = fit(&mut free, &mut forced, out);
        free.len() + amounts.iter().filter(|a| **a > 0.0).count()
    }

    /// What goes on without the lamp: a constant, a drift, and what had begun before.
    fn before(&self, curve: &Curve, weights: &[f64]) -> Vec<Vec<f64>> {
        let start = curve.t_s.first().copied().unwrap_or(0.0);
        let column = |value: &dyn Fn(f64) -> f64| -> Vec<f64> {
            let rows = curve.t_s.iter().zip(weights);
            rows.map(|(t, w)| w * value(t - start)).collect()
        };
        let mut free = vec![column(&|_| 1.0)];
        if curve.t_s.len() >= RICH {
            free.push(column(&|u| u));
            let slow = self.tau_s.iter().skip(2).step_by(EVERY);
            for &tau in slow.filter(|tau| **tau < self.span_s) {
                free.push(column(&|u| (-u / tau).exp()));
            }
        } else if curve.t_s.len() >= SOME {
            free.push(column(&|u| (-u / (0.4 * self.span_s)).exp()));
        }
        free
    }
}

/// Whether a curve's rows are too few for amounts of their own for each kind of edge.
fn few(curve: &Curve) -> bool {
    curve.t_s.len() < SEPARATE
}
