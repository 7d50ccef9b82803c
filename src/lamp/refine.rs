//! The joint fit: edges, time constants and lags over all channels, linear terms inside.

mod lags;

use rmpfit::{MPConfig, MPError, MPFitter, MPMaxFev, MPPar, MPResult, MPSide};

use lags::Lag;

use super::clean::Curve;
use super::fitted::Fitted;
use super::modes::Modes;
use super::priors::{SURFACE_MEDIAN_S, SURFACE_SIGMA, stages};
use super::project::{add_scaled, fit};
use super::response::Chain;
use super::search::{Start, limits, spacing};
use super::{Kind, LampOptions};

/// Fewest rows of a curve for a start-up term of the surface node.
const STARTS: usize = 40;

/// Which terms a channel's model has besides constant, start-up exponential and edges.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Terms {
    /// A straight drift of the surroundings.
    pub(super) drift: bool,
    /// A second, faster node (the surface on the bulk).
    pub(super) surface: bool,
    /// Any number of nodes: a sum of modes instead of one or two (see [`super::modes`]).
    pub(super) modes: bool,
}

/// Parameters of one channel.
#[derive(Debug, Clone, Copy)]
struct Place {
    tau: usize,
    fast: Option<usize>,
    lag: Lag,
}

/// The problem handed to the least-squares routine.
///
/// Parameters: the edges in seconds; per channel the logarithms of the time constants and of its
/// probe's own departure from the common lag; the departures of the common probe lag and of the
/// lamp's lag from their priors' medians, in logarithms.
pub(super) struct Problem<'a> {
    curves: &'a [Curve],
    first: Kind,
    edges: usize,
    terms: Terms,
    places: Vec<Place>,
    common: Option<usize>,
    /// How the probes' lag is split in two stages; see [`stages`].
    split: Option<usize>,
    lamp: Option<usize>,
    declared_lamp_s: f64,
    /// Parameter index, prior mean and prior standard deviation.
    priors: Vec<(usize, f64, f64)>,
    bounds: Vec<MPPar>,
    fixed_edge: Option<usize>,
    steps: Vec<f64>,
    config: MPConfig,
    /// Each curve's root weights.
    weights: Vec<Vec<f64>>,
    /// Each curve's modes, where they are asked for.
    modes: Vec<Modes>,
}

impl<'a> Problem<'a> {
    pub(super) fn new(
        curves: &'a [Curve],
        start: &Start,
        terms: Terms,
        options: &LampOptions,
        channels: usize,
    ) -> (Self, Vec<f64>) {
        let (from, to) = limits(curves);
        let span = to - from;
        let spacing = spacing(curves);
        let weights: Vec<Vec<f64>> = curves.iter().map(|c| c.root_weights().collect()).collect();
        let with_modes = curves.iter().zip(&weights).filter(|_| terms.modes);
        let mut problem = Self {
            curves,
            first: start.first,
            edges: start.at_s.len(),
            terms,
            places: Vec::new(),
            common: None,
            split: None,
            lamp: None,
            declared_lamp_s: options.declared_lamp_lag_s().unwrap_or(0.0),
            priors: Vec::new(),
            bounds: Vec::new(),
            fixed_edge: None,
            steps: Vec::new(),
            config: MPConfig {
                ftol: 1e-9,
                xtol: 1e-9,
                max_iter: 40,
                max_fev: MPMaxFev::Limited(300),
                ..MPConfig::new()
            },
            modes: with_modes
                .map(|(c, weights)| Modes::new(c, weights))
                .collect(),
            weights,
        };
        let mut values = Vec::new();
        let half = 0.5 * spacing;
        for &at in &start.at_s {
            problem.add(&mut values, at, (from - half, to + half), 0.3 * spacing);
        }
        let shortest = (0.5 * spacing).max(1.0).min(0.1 * span);
        let range = (shortest.ln(), (30.0 * span).ln());
        for (curve, &tau) in curves.iter().zip(&start.tau_s) {
            let lag = Lag::of(options, curve.channel, channels);
            problem.add_channel(&mut values, tau.ln(), range, lag);
        }
        if start.at_s.is_empty() {
            // Without an edge no lag shows: keep none free.
            problem.places.iter_mut().for_each(|p| p.lag.hold());
        } else {
            problem.add_lags(&mut values, options);
        }
        (problem, values)
    }

    /// Adds one channel's time constants, as logarithms.
    fn add_channel(&mut self, values: &mut Vec<f64>, ln_tau: f64, range: (f64, f64), lag: Lag) {
        if self.terms.modes {
            self.places.push(Place {
                tau: usize::MAX,
                fast: None,
                lag,
            });
            return;
        }
        let tau = self.add(values, ln_tau, range, 1e-4);
        let fast = self.terms.surface.then(|| {
            let mean = SURFACE_MEDIAN_S.ln();
            // Also one far shorter than the rows' spacing shows: by what it adds at each edge.
            let index = self.add(values, mean, (1.0, range.1), 1e-4);
            self.priors.push((index, mean, SURFACE_SIGMA));
            index
        });
        self.places.push(Place { tau, fast, lag });
    }

    fn add(&mut self, values: &mut Vec<f64>, start: f64, range: (f64, f64), step: f64) -> usize {
        // Of a record shorter than the least time constant the range is empty: the fit then says
        // so, where `clamp` would panic.
        values.push(start.max(range.0).min(range.1));
        self.steps.push(step);
        self.bounds.push(MPPar {
            limited_low: true,
            limited_up: true,
            limit_low: range.0,
            limit_up: range.1,
            step,
            side: MPSide::User,
            ..MPPar::new()
        });
        values.len() - 1
    }

    /// Stops at three digits of the misfit: enough to measure noise and to compare models.
    pub(super) fn loosely(mut self) -> Self {
        self.config.ftol = 1e-4;
        self.config.xtol = 1e-4;
        self.config.max_iter = 15;
        self
    }

    /// Holds edge `j` where it starts: for the profile of the misfit along it.
    pub(super) fn hold_edge(&mut self, j: usize) {
        if let Some(bound) = self.bounds.get_mut(j) {
            bound.fixed = true;
        }
        self.fixed_edge = Some(j);
    }

    /// How many residuals a curve has: one a row, and one for each amount that has a prior.
    fn length(&self, index: usize) -> usize {
        let amounts = self.modes.get(index).map_or(0, |m| m.amounts(self.edges));
        self.curves.get(index).map_or(0, |c| c.t_s.len()) + amounts
    }

    /// Weighted residuals of one curve, and how many linear terms it took.
    fn residual(&self, index: usize, p: &[f64], out: &mut Vec<f64>) -> Option<usize> {
        let (curve, place) = (self.curves.get(index)?, self.places.get(index)?);
        let weights = self.weights.get(index)?;
        if let Some(modes) = self.modes.get(index) {
            let edges = p.get(..self.edges).unwrap_or_default();
            let lags_s = self.stages_s(place, p);
            return Some(modes.residual(curve, weights, (self.first, edges), lags_s, out));
        }
        let [mut free, mut forced] = self.columns(index, p)?;
        out.clear();
        out.extend(self.weighted(index)?);
        fit(&mut free, &mut forced, out);
        Some(free.len() + forced.len())
    }

    /// A curve's weighted temperatures.
    fn weighted(&self, index: usize) -> Option<Vec<f64>> {
        let both = self.curves.get(index)?.degc.iter();
        Some(
            both.zip(self.weights.get(index)?)
                .map(|(y, w)| y * w)
                .collect(),
        )
    }

    /// Weighted columns of one curve with one or two nodes: those of any sign, and the lamp's.
    fn columns(&self, index: usize, p: &[f64]) -> Option<[Vec<Vec<f64>>; 2]> {
        let (curve, place) = (self.curves.get(index)?, self.places.get(index)?);
        let weights = self.weights.get(index)?;
        let start = curve.t_s.first().copied().unwrap_or(0.0);
        let tau = |i: usize| p.get(i).copied().unwrap_or(0.0).exp();
        let (probe, lamp) = self.channel_lags(place, p);
        let edges = p.get(..self.edges).unwrap_or_default();
        let mut free = vec![weights.clone()];
        let mut forced = Vec::new();
        if self.terms.drift {
            let times = curve.t_s.iter().zip(weights);
            free.push(times.map(|(t, w)| w * (t - start)).collect());
        }
        for index in std::iter::once(place.tau).chain(place.fast) {
            let tau_s = tau(index);
            // Rows minutes apart do not show how a fast node begins.
            if index == place.tau || curve.t_s.len() >= STARTS {
                let times = curve.t_s.iter().zip(weights);
                let decay = |(t, w): (&f64, &f64)| w * (-(t - start) / tau_s).exp();
                free.push(times.map(decay).collect());
            }
            if !edges.is_empty() {
                let rows = Chain::new(&[tau_s, probe, lamp]).on(&curve.t_s);
                let mut column = vec![0.0; curve.t_s.len()];
                let mut sign = self.first.sign();
                for &e in edges {
                    rows.add(e, sign, &mut column);
                    sign = -sign;
                }
                column.iter_mut().zip(weights).for_each(|(x, w)| *x *= w);
                forced.push(column);
            }
        }
        Some([free, forced])
    }

    /// Residuals of every curve in degrees Celsius, for measuring the noise.
    pub(super) fn residuals_degc(&self, p: &[f64]) -> Vec<Vec<f64>> {
        let mut out = Vec::new();
        self.weights
            .iter()
            .enumerate()
            .map(|(index, weights)| {
                self.residual(index, p, &mut out);
                out.iter().zip(weights).map(|(r, w)| r / w).collect()
            })
            .collect()
    }

    /// What the lamp did to each curve, in degrees Celsius.
    pub(super) fn lamp_degc(&self, p: &[f64]) -> Vec<Vec<f64>> {
        let one = |index| self.lamp_on(index, p).unwrap_or_default();
        (0..self.curves.len()).map(one).collect()
    }

    fn lamp_on(&self, index: usize, p: &[f64]) -> Option<Vec<f64>> {
        let (curve, place) = (self.curves.get(index)?, self.places.get(index)?);
        let weights = self.weights.get(index)?;
        if let Some(modes) = self.modes.get(index) {
            let mut out = Vec::new();
            self.residual(index, p, &mut out)?;
            let edges = p.get(..self.edges).unwrap_or_default();
            let amounts = out.get(curve.t_s.len()..).unwrap_or_default();
            let lags_s = self.stages_s(place, p);
            return Some(modes.lamp(curve, (self.first, edges), lags_s, amounts));
        }
        let [mut free, forced] = self.columns(index, p)?;
        let mut rest = self.weighted(index)?;
        let amounts = fit(&mut free, &mut forced.clone(), &mut rest);
        let mut sum = vec![0.0; weights.len()];
        for (column, amount) in forced.iter().zip(amounts) {
            add_scaled(&mut sum, amount, column);
        }
        Some(sum.iter().zip(weights).map(|(x, w)| x / w).collect())
    }

    /// The stages of a channel's probe and the lamp's lag, in seconds.
    fn stages_s(&self, place: &Place, p: &[f64]) -> [f64; 3] {
        let (probe_s, lamp_s) = self.channel_lags(place, p);
        let split = self.split.and_then(|i| p.get(i)).copied();
        let [one, two] = stages(probe_s, place.lag.place().and(split));
        [one, two, lamp_s]
    }

    /// Which curves a parameter touches: one, or all.
    fn owner(&self, index: usize) -> Option<usize> {
        let owns =
            |p: &Place| p.tau == index || p.fast == Some(index) || p.lag.place() == Some(index);
        self.places.iter().position(owns)
    }

    fn fill(&self, p: &[f64], only: Option<usize>, out: &mut [f64]) {
        let mut r = Vec::new();
        let mut rest = out;
        for i in 0..self.curves.len() {
            let (mine, others) = rest.split_at_mut(self.length(i).min(rest.len()));
            if only.is_none_or(|o| o == i) {
                self.residual(i, p, &mut r);
                mine.copy_from_slice(&r);
            }
            rest = others;
        }
        for (slot, &(index, mean, sigma)) in rest.iter_mut().zip(&self.priors) {
            *slot = (p.get(index).copied().unwrap_or(mean) - mean) / sigma;
        }
    }

    /// Runs the fit from `values`.
    pub(super) fn solve(&mut self, mut values: Vec<f64>) -> Option<Fitted> {
        let first_lag = self.first_lag(values.len());
        let status = self.mpfit(&mut values).ok()?;
        let mut scratch = Vec::new();
        let linear: usize = (0..self.curves.len())
            .filter_map(|i| self.residual(i, &values, &mut scratch))
            .sum();
        let parameters = first_lag + linear;
        let edges = values.get(..self.edges).unwrap_or_default();
        let ordered = edges.iter().zip(edges.iter().skip(1)).all(|(a, b)| a < b);
        let lags = |place| self.channel_lags(place, &values);
        let lags_s = self.places.iter().map(lags).collect();
        let finite = status.best_norm.is_finite() && values.iter().all(|v| v.is_finite());
        (finite && ordered).then_some(Fitted {
            first: self.first,
            terms: self.terms,
            edges: self.edges,
            cost: status.best_norm,
            parameters,
            covariance: status.covar,
            values,
            first_lag,
            lags_s,
        })
    }
}

impl MPFitter for Problem<'_> {
    fn eval(&mut self, params: &[f64], deviates: &mut [f64]) -> MPResult<()> {
        self.fill(params, None, deviates);
        Ok(())
    }

    fn number_of_points(&self) -> usize {
        (0..self.curves.len())
            .map(|i| self.length(i))
            .sum::<usize>()
            + self.priors.len()
    }

    fn config(&self) -> &MPConfig {
        &self.config
    }

    fn parameters(&self) -> &[MPPar] {
        &self.bounds
    }

    /// Forward differences, but only in the curves that a parameter touches.
    fn jacobian(
        &mut self,
        params: &[f64],
        deviates: &mut [f64],
        derivs: &mut [Option<Vec<f64>>],
    ) -> MPResult<()> {
        self.fill(params, None, deviates);
        let mut moved = params.to_vec();
        for (index, slot) in derivs.iter_mut().enumerate() {
            let Some(column) = slot else { continue };
            let step = self.steps.get(index).copied().ok_or(MPError::Eval)?;
            let upper = self.bounds.get(index).map_or(f64::INFINITY, |b| b.limit_up);
            let here = params.get(index).copied().ok_or(MPError::Eval)?;
            let step = if here + step > upper { -step } else { step };
            if let Some(value) = moved.get_mut(index) {
                *value = here + step;
            }
            column.copy_from_slice(deviates);
            self.fill(&moved, self.owner(index), column);
            for (slope, r) in column.iter_mut().zip(deviates.iter()) {
                *slope = (*slope - r) / step;
            }
            if let Some(value) = moved.get_mut(index) {
                *value = here;
            }
        }
        Ok(())
    }
}
