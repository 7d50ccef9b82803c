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
//! The rows and the grid stay as they are while edges and lags are fitted: how a mode falls off from row
//! to row, and what goes on without the lamp, is worked out once.
//!
//! Where rows abound on- and off-edges have amounts of their own: exchange grows a little faster
//! than the temperature difference, so cooling is no exact mirror image of heating.

use super::Kind;
use super::clean::Curve;
use super::project::{add_scaled, fit_forced, orthonormalise, remove};
use super::response::{Chain, GONE};

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

/// The grid of time constants for one curve, and what does not change while edges and lags are fitted.
#[derive(Debug)]
pub(super) struct Modes {
    tau_s: Vec<f64>,
    /// What each mode of the grid falls to from one row to the next.
    fall: Vec<Vec<f64>>,
    /// What goes on without the lamp, weighted and orthonormal.
    ground: Vec<Vec<f64>>,
    /// The weighted temperatures without it.
    data: Vec<f64>,
    /// Inverse standard deviations of the amounts' priors.
    held: Vec<f64>,
    few: bool,
}

/// How a mode answers behind the lags: `1 - own·exp(-u/τ) - Σ behind·exp(-u/lag)`.
struct Answer {
    own: f64,
    behind: [f64; 3],
    /// Where its time constant is so near to a lag that the two were set apart.
    apart: Option<Chain>,
}

impl Answer {
    fn new(tau_s: f64, lags_s: [f64; 3], lags: &Chain) -> Self {
        let chain = Chain::new(&[tau_s, lags_s[0], lags_s[1], lags_s[2]]);
        let same = |a: f64, b: f64| (a - b).abs() <= 1e-12 * b;
        let (mut own, mut behind, mut apart) = (0.0, [0.0; 3], false);
        for &(stage_s, weight) in chain.parts() {
            let mut both = behind.iter_mut().zip(lags.parts());
            if let Some((slot, _)) = both.find(|(_, (lag_s, _))| same(stage_s, *lag_s)) {
                *slot = weight;
            } else if same(stage_s, tau_s) {
                own = weight;
            } else {
                apart = true;
            }
        }
        Self {
            own,
            behind,
            apart: apart.then_some(chain),
        }
    }
}

impl Modes {
    /// The grid that suits a curve's length, over rows of these root weights.
    pub(super) fn new(curve: &Curve, weights: &[f64]) -> Self {
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
        let range_degc = (top - bottom).max(curve.floor_degc);
        let prior = |tau: &f64| range_degc * (PRIOR_LIGHT + PRIOR_PER_S * tau).min(1.0);
        let falls = |&tau: &f64| {
            let steps = curve.t_s.iter().zip(curve.t_s.iter().skip(1));
            steps.map(|(a, b)| ((a - b) / tau).exp()).collect()
        };
        let mut ground = before(curve, weights, &tau_s, span_s);
        orthonormalise(&mut ground);
        let weighted = curve.degc.iter().zip(weights);
        let mut data: Vec<f64> = weighted.map(|(y, w)| y * w).collect();
        remove(&ground, &mut data);
        Self {
            fall: tau_s.iter().map(falls).collect(),
            held: tau_s.iter().map(|tau| 1.0 / prior(tau)).collect(),
            few: curve.t_s.len() < SEPARATE,
            tau_s,
            ground,
            data,
        }
    }

    /// How many amounts there are for so many edges: as many priors follow a curve's residuals.
    pub(super) fn amounts(&self, edges: usize) -> usize {
        let kinds = if self.few { edges.min(1) } else { edges.min(2) };
        kinds * self.tau_s.len()
    }

    /// Leaves the weighted residual of the best amounts in `out`, followed by those amounts in units
    /// of their priors; returns how many linear terms the fit took.
    pub(super) fn residual(
        &self,
        curve: &Curve,
        weights: &[f64],
        lit: (Kind, &[f64]),
        lags_s: [f64; 3],
        out: &mut Vec<f64>,
    ) -> usize {
        let mut forced = self.columns(curve, lit, lags_s);
        for column in &mut forced {
            for (value, w) in column.iter_mut().zip(weights) {
                *value *= w;
            }
            remove(&self.ground, column);
        }
        let held: Vec<f64> = (self.held.iter().copied().cycle())
            .take(forced.len())
            .collect();
        out.clear();
        out.extend(&self.data);
        let amounts = fit_forced(&forced, &held, out);
        out.extend(amounts.iter().zip(&held).map(|(a, h)| -a * h));
        self.ground.len() + amounts.iter().filter(|a| **a > 0.0).count()
    }

    /// What the lamp did, in degrees Celsius, of amounts as [`Self::residual`] leaves them.
    pub(super) fn lamp(
        &self,
        curve: &Curve,
        lit: (Kind, &[f64]),
        lags_s: [f64; 3],
        amounts: &[f64],
    ) -> Vec<f64> {
        let mut sum = vec![0.0; curve.t_s.len()];
        let columns = self.columns(curve, lit, lags_s);
        let units = amounts.iter().zip(self.held.iter().cycle());
        for (column, (amount, held)) in columns.iter().zip(units) {
            add_scaled(&mut sum, -amount / held, column);
        }
        sum
    }

    /// What a unit of each amount gives behind the lags: each mode of all edges, or of either kind.
    fn columns(
        &self,
        curve: &Curve,
        (first, edges): (Kind, &[f64]),
        lags_s: [f64; 3],
    ) -> Vec<Vec<f64>> {
        let lags = Chain::new(&lags_s);
        let answers: Vec<Answer> = (self.tau_s.iter())
            .map(|tau| Answer::new(*tau, lags_s, &lags))
            .collect();
        let signs = [first.sign(), first.other().sign()];
        let signed = || edges.iter().zip(signs.iter().cycle());
        let mut columns = Vec::new();
        for kind in signs.iter().take(if self.few { 1 } else { 2 }) {
            let own = signed().filter(|(_, sign)| self.few || kind * **sign > 0.0);
            let own: Vec<(f64, f64)> = own.map(|(e, sign)| (*e, *sign)).collect();
            if !own.is_empty() {
                columns.extend(self.responses(curve, &own, &answers, &lags));
            }
        }
        columns
    }

    /// What a unit of each mode gives behind the lags for some edges and their signs.
    fn responses(
        &self,
        curve: &Curve,
        edges: &[(f64, f64)],
        answers: &[Answer],
        lags: &Chain,
    ) -> Vec<Vec<f64>> {
        let mut columns = vec![vec![0.0; curve.t_s.len()]; answers.len()];
        for &(edge_s, sign) in edges {
            let from = curve.t_s.partition_point(|t| *t <= edge_s);
            let since = curve.t_s.get(from..).unwrap_or_default();
            let Some(first) = since.first() else { continue };
            let slowest_s = lags.parts().last().map_or(0.0, |(tau, _)| *tau);
            let lagging = since.partition_point(|t| t - edge_s <= 40.0 * slowest_s);
            let behind: Vec<[f64; 3]> = (since.iter().take(lagging))
                .map(|t| {
                    let mut left = [0.0; 3];
                    for (slot, (lag_s, _)) in left.iter_mut().zip(lags.parts()) {
                        *slot = (-(t - edge_s) / lag_s).exp();
                    }
                    left
                })
                .collect();
            let modes = self.tau_s.iter().zip(&self.fall).zip(answers);
            for (column, ((tau_s, fall), answer)) in columns.iter_mut().zip(modes) {
                let column = column.get_mut(from..).unwrap_or_default();
                if let Some(chain) = &answer.apart {
                    for (value, t) in column.iter_mut().zip(since) {
                        *value += sign * chain.step(t - edge_s);
                    }
                    continue;
                }
                for (value, left) in column.iter_mut().zip(&behind) {
                    let both = left.iter().zip(&answer.behind);
                    *value -= sign * both.map(|(l, b)| l * b).sum::<f64>();
                }
                let mut own = answer.own * (-(first - edge_s) / tau_s).exp();
                let falls = fall.get(from..).unwrap_or_default();
                for (value, fall) in column.iter_mut().zip(falls.iter().chain([&0.0])) {
                    *value += sign * (1.0 - own);
                    own *= fall;
                    if own.abs() < GONE {
                        own = 0.0;
                    }
                }
            }
        }
        columns
    }
}

/// What goes on without the lamp: a constant, a drift, and what had begun before.
fn before(curve: &Curve, weights: &[f64], tau_s: &[f64], span_s: f64) -> Vec<Vec<f64>> {
    let start = curve.t_s.first().copied().unwrap_or(0.0);
    let column = |value: &dyn Fn(f64) -> f64| -> Vec<f64> {
        let rows = curve.t_s.iter().zip(weights);
        rows.map(|(t, w)| w * value(t - start)).collect()
    };
    let mut free = vec![column(&|_| 1.0)];
    if curve.t_s.len() >= RICH {
        free.push(column(&|u| u));
        let slow = tau_s.iter().skip(2).step_by(EVERY);
        for &tau in slow.filter(|tau| **tau < span_s) {
            free.push(column(&|u| (-u / tau).exp()));
        }
    } else if curve.t_s.len() >= SOME {
        free.push(column(&|u| (-u / (0.4 * span_s)).exp()));
    }
    free
}
