//! What the parts of the room promise each other, each held to what is computed here anew in another
//! way (all data invented).

#![allow(clippy::float_cmp, reason = "numbers that are handed on as they are")]

mod asked;
mod blocks;
mod doubt;
mod gap;
mod joint;
mod modes;
mod placed;
mod search;
mod season;
mod sense;
mod sharp;
mod trace;
mod track;
mod watch;
mod whole;

use rand::SeedableRng;
use rand_distr::{Distribution, StandardNormal};
use rand_pcg::Pcg64;

use super::clean::Curve;

pub(super) fn rng(seed: u64) -> Pcg64 {
    Pcg64::seed_from_u64(seed)
}

pub(super) fn normal(rng: &mut Pcg64) -> f64 {
    StandardNormal.sample(rng)
}

/// Instants at even steps from 0 on.
pub(super) fn every(step_s: f64, rows: usize) -> Vec<f64> {
    (0..rows).map(|i| step_s * i as f64).collect()
}

/// Newton's exchange: 0 before the step, then to 1 with a time constant.
pub(super) fn newton(u_s: f64, tau_s: f64) -> f64 {
    1.0 - (-u_s.max(0.0) / tau_s).exp()
}

/// A curve over rows as they are, with white noise of so many degrees believed.
pub(super) fn curve(channel: usize, t_s: &[f64], sd_degc: f64, way: impl Fn(f64) -> f64) -> Curve {
    Curve {
        channel,
        t_s: t_s.to_vec(),
        degc: t_s.iter().map(|t| way(*t)).collect(),
        sd_degc,
        floor_degc: 1e-6,
        inflation: 1.0,
        ..Curve::default()
    }
}

pub(super) fn near(got: f64, want: f64, tolerance: f64) {
    assert!((got - want).abs() <= tolerance, "{got} is not {want}");
}
