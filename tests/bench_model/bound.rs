//! The Bayesian Cramér–Rao bound of a simulated lesson's edges: how near an efficient estimator would come
//! (Van Trees, Detection, Estimation, and Modulation Theory, 1968, section 2.4.3; from memory).
//!
//! From the Fisher information of the true model at the true values, by central differences of the curve
//! without noise, plus what the priors hold. All other parameters are unknown. Rounding is counted exactly
//! and the noise's correlation as if rounded readings had it too; spikes, gaps and touches are not counted.

use std::ops::Range;

use nalgebra::{DMatrix, DVector};

use super::{
    AHEAD_DEGC, AIR_DEGC, BULK_TAU_S, Made, RISE_DEGC, Record, SURFACE_TAU_S, Sample, curve,
};

/// What is held of the parameters before the data are seen.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Known {
    /// The estimator's priors on the lags, and nothing of the rest.
    Lags,
    /// What this simulator draws everything but the edges from, as normal distributions of the same spread.
    Everything,
}

/// Standard deviations of the logarithms of the lags, as in `src/lamp/priors.rs`.
const COMMON_SIGMA: f64 = 0.42;
const OWN_SIGMA: f64 = 0.21;
const LAMP_SIGMA: f64 = 0.668;

/// Parameters besides the edges: warm-up, common lag and drift; and each channel's.
const COMMON: usize = 3;
const OWN: usize = 7;

/// Steps of the central differences: of an edge in seconds, of the others as they are counted.
const EDGE_STEP_S: f64 = 0.2;
const STEP: f64 = 1e-3;

/// A record's parameters, moved from the truth: the edges in seconds, lags and time constants as logarithms,
/// the rest in degrees or shares.
#[derive(Clone)]
struct Moved {
    edges_s: Vec<f64>,
    made: Made,
}

impl Moved {
    fn new(record: &Record, made: &Made) -> Self {
        Self {
            edges_s: record.edges_s.clone(),
            made: made.clone(),
        }
    }

    fn count(&self) -> usize {
        self.edges_s.len() + COMMON + OWN * self.made.samples.len()
    }

    fn step(&self, index: usize) -> f64 {
        if index < self.edges_s.len() {
            EDGE_STEP_S
        } else {
            STEP
        }
    }

    /// The channel that a parameter is of; none for what all share.
    fn owner(&self, index: usize) -> Option<usize> {
        let first = self.edges_s.len() + COMMON;
        index.checked_sub(first).map(|own| own / OWN)
    }

    fn by(&self, index: usize, step: f64) -> Self {
        let mut moved = self.clone();
        let edges = self.edges_s.len();
        let first = edges + COMMON;
        if index < edges {
            moved.edges_s[index] += step;
        } else if index < first {
            match index - edges {
                0 => moved.made.warm_up_s *= step.exp(),
                1 => (moved.made.samples.iter_mut()).for_each(|s| s.lag_s *= step.exp()),
                _ => moved.made.bench.air_drift_degc += step,
            }
        } else {
            let sample = &mut moved.made.samples[(index - first) / OWN];
            match (index - first) % OWN {
                0 => sample.lag_s *= step.exp(),
                1 => sample.share += step,
                2 => sample.surface_tau_s *= step.exp(),
                3 => sample.bulk.tau_s *= step.exp(),
                4 => sample.bulk.rise_degc += step,
                5 => sample.bulk.air_degc += step,
                _ => sample.bulk.ahead_degc += step,
            }
        }
        moved
    }

    fn curve(&self, t_s: &[f64], channel: usize) -> DVector<f64> {
        let lit = (self.made.warm_up_s, self.made.bench.air_drift_degc);
        let sample = &self.made.samples[channel];
        DVector::from_vec(curve(sample, t_s, &self.edges_s, lit))
    }

    /// What is held of each parameter beforehand, as information.
    fn prior(&self, known: Known) -> Vec<f64> {
        let mut held = vec![0.0; self.edges_s.len()];
        let bench = &self.made.bench;
        let share = |range: (f64, f64), at: f64| uniform(range.0 / at..range.1 / at);
        held.extend(match known {
            Known::Lags => [LAMP_SIGMA.powi(-2), COMMON_SIGMA.powi(-2), 0.0],
            Known::Everything => {
                let warm_up = share(bench.warm_up_s, self.made.warm_up_s);
                // The common lag is left to the channels' own.
                [warm_up, 1e9, uniform(-0.5..0.5)]
            }
        });
        for sample in &self.made.samples {
            held.extend(match known {
                Known::Lags => [OWN_SIGMA.powi(-2), 0.0, 0.0, 0.0, 0.0, 0.0, 0.0],
                Known::Everything => drawn(sample, bench.lag_s, bench.surface),
            });
        }
        held
    }
}

/// Inverse variance of a uniform distribution.
fn uniform(range: Range<f64>) -> f64 {
    12.0 / (range.end - range.start).powi(2)
}

/// What is known of a channel by who knows what it is drawn from.
fn drawn(sample: &Sample, lag_s: (f64, f64), surface: (f64, f64)) -> [f64; OWN] {
    let ln = |range: Range<f64>, at: f64| uniform(range.start / at..range.end / at);
    [
        ln(lag_s.0..lag_s.1, sample.lag_s),
        uniform(surface.0..surface.1),
        ln(SURFACE_TAU_S, sample.surface_tau_s),
        ln(BULK_TAU_S, sample.bulk.tau_s),
        uniform(RISE_DEGC),
        uniform(AIR_DEGC),
        uniform(AHEAD_DEGC),
    ]
}

/// Bound for the standard deviation of each edge in seconds; none where another simulator made the record,
/// or where there are no lags (see [`super::newton`]).
pub fn bounds_s(record: &Record, known: Known) -> Option<Vec<f64>> {
    let made = record.made.as_ref().filter(|made| made.warm_up_s > 0.0)?;
    let bench = &made.bench;
    let truth = Moved::new(record, made);
    let all = truth.count();
    let mut fisher = DMatrix::from_diagonal(&DVector::from_vec(truth.prior(known)));
    let per_reading = information(bench.step_degc, bench.noise_degc);
    let phi = bench.correlation.powf(bench.every_s);
    for channel in 0..made.samples.len() {
        let mut slopes = DMatrix::zeros(record.t_s.len(), all);
        for index in 0..all {
            if truth.owner(index).is_some_and(|owner| owner != channel) {
                continue;
            }
            let step = truth.step(index);
            let ahead = truth.by(index, step).curve(&record.t_s, channel);
            let behind = truth.by(index, -step).curve(&record.t_s, channel);
            let slope = white(&((ahead - behind) / (2.0 * step)), phi);
            slopes.set_column(index, &slope);
        }
        fisher += slopes.tr_mul(&slopes) * per_reading;
    }
    let covariance = inverse(&fisher);
    let edges = 0..record.edges_s.len();
    Some(edges.map(|j| covariance[(j, j)].sqrt()).collect())
}

/// Takes the correlation out of a first-order autoregressive sequence.
fn white(values: &DVector<f64>, phi: f64) -> DVector<f64> {
    let own = (1.0 - phi * phi).sqrt();
    DVector::from_fn(values.len(), |i, _| match i {
        0 => values[0],
        _ => (values[i] - phi * values[i - 1]) / own,
    })
}

/// The inverse, with parameters in units in which each alone has information 1.
fn inverse(fisher: &DMatrix<f64>) -> DMatrix<f64> {
    let unit = fisher.diagonal().map(|d| 1.0 / d.sqrt());
    let scaled = DMatrix::from_fn(unit.len(), unit.len(), |i, j| {
        fisher[(i, j)] * unit[i] * unit[j]
    });
    let inverse = scaled.try_inverse().unwrap();
    DMatrix::from_fn(unit.len(), unit.len(), |i, j| {
        inverse[(i, j)] * unit[i] * unit[j]
    })
}

/// Points of a sum.
const PLACES: usize = 200;

/// Fisher information of one reading about its mean: normal noise, then rounded to steps. Averaged over
/// where the mean lies between two steps.
fn information(step_degc: f64, noise_degc: f64) -> f64 {
    if step_degc <= 0.0 {
        return noise_degc.powi(-2);
    }
    let ratio = step_degc / noise_degc;
    let reach = (8.0 / ratio).ceil() as i32 + 1;
    let mut sum = 0.0;
    for place in 0..PLACES {
        let at = (place as f64 + 0.5) / PLACES as f64 - 0.5;
        for bin in -reach..=reach {
            let low = (f64::from(bin) - 0.5 - at) * ratio;
            let high = low + ratio;
            let share = below(high) - below(low);
            if share > 1e-12 {
                sum += (density(high) - density(low)).powi(2) / share;
            }
        }
    }
    sum / PLACES as f64 / noise_degc.powi(2)
}

fn density(x: f64) -> f64 {
    (-0.5 * x * x).exp() / std::f64::consts::TAU.sqrt()
}

/// Share of the standard normal distribution below `x`, to 8e-8 (Abramowitz and Stegun 26.2.17).
pub fn below(x: f64) -> f64 {
    let t = 1.0 / (1.0 + 0.231_641_9 * x.abs());
    let terms = [
        0.319_381_530,
        -0.356_563_782,
        1.781_477_937,
        -1.821_255_978,
        1.330_274_429,
    ];
    let tail = density(x) * terms.iter().rev().fold(0.0, |sum, term| (sum + term) * t);
    if x > 0.0 { 1.0 - tail } else { tail }
}
