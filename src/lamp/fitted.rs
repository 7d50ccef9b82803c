//! What a joint fit came to.

use super::Kind;
use super::clean::Curve;
use super::project::dot;
use super::refine::Terms;

/// What a fit came to.
#[derive(Debug, Clone)]
pub(super) struct Fitted {
    pub(super) first: Kind,
    pub(super) terms: Terms,
    pub(super) values: Vec<f64>,
    pub(super) edges: usize,
    /// Misfit including the priors, in units of the noise.
    pub(super) cost: f64,
    /// Parameters of the model, linear ones included, priors' parameters not counted.
    pub(super) parameters: usize,
    /// Covariance of all nonlinear parameters, row by row.
    pub(super) covariance: Vec<f64>,
    /// Index of the first lag parameter: all from here on are lags.
    pub(super) first_lag: usize,
    /// Each curve's lags as fitted or declared: of its probe and of the lamp.
    pub(super) lags_s: Vec<(f64, f64)>,
}

impl Fitted {
    /// The edges, in seconds.
    pub(super) fn at_s(&self) -> &[f64] {
        self.values.get(..self.edges).unwrap_or_default()
    }

    /// The slow time constant of each of so many channels, in seconds.
    pub(super) fn tau_s(&self, channels: usize) -> Vec<f64> {
        let per_channel = 1 + usize::from(self.terms.surface);
        let taus = self.values.iter().skip(self.edges).step_by(per_channel);
        taus.take(channels).map(|tau| tau.exp()).collect()
    }

    /// Standard uncertainty of edge `j` in seconds; NaN if the fit left it undetermined.
    pub(super) fn u_s(&self, j: usize) -> f64 {
        let n = self.values.len();
        let variance = self.covariance.get(j * n + j).copied().unwrap_or(f64::NAN);
        if variance > 0.0 {
            variance.sqrt()
        } else {
            f64::NAN
        }
    }
}

/// Sum of squares of all residuals, each in units of its noise.
pub(super) fn cost(residuals_degc: &[Vec<f64>], curves: &[Curve]) -> f64 {
    let one = |(r, c): (&Vec<f64>, &Curve)| {
        let scaled: Vec<f64> = r.iter().zip(c.root_weights()).map(|(r, w)| r * w).collect();
        dot(&scaled, &scaled)
    };
    residuals_degc.iter().zip(curves).map(one).sum()
}
