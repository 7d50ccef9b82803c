//! A simulated bench, richer than the estimator: a surface node on a bulk node, a probe that sees
//! a mixture of both behind a lag, a lamp that warms up, drifting air, and readings with
//! correlated noise, coarse steps, spikes, touches and gaps. All data from here are invented.

#![allow(
    dead_code,
    unreachable_pub,
    missing_docs,
    reason = "each test and study uses its own part"
)]
#![expect(
    clippy::indexing_slicing,
    clippy::unwrap_used,
    reason = "the simulator's own tables are never empty"
)]

pub mod bound;
pub mod newton;
pub mod sun;
pub mod virtual_bench;

use std::ops::Range;

use rand::{RngExt, SeedableRng};
use rand_distr::{Distribution, StandardNormal};
use rand_pcg::Pcg64;

/// How the bench is used and how bad its readings are.
#[derive(Debug, Clone)]
pub struct Bench {
    pub channels: usize,
    pub every_s: f64,
    pub settle_s: f64,
    pub heat_s: f64,
    pub cool_s: f64,
    pub noise_degc: f64,
    /// Correlation of the noise between readings one second apart.
    pub correlation: f64,
    pub step_degc: f64,
    pub spikes: f64,
    pub touch: bool,
    pub gap: bool,
    pub air_drift_degc: f64,
    pub lag_s: (f64, f64),
    pub warm_up_s: (f64, f64),
    /// Share of the surface in what a probe sees.
    pub surface: (f64, f64),
    /// Lamp power scale; zero for a lamp that never shines.
    pub power: f64,
    /// How often the lamp goes on and off, each time for the same heating and cooling.
    pub cycles: usize,
    /// Only so many of the edges really happen: for "as if" records.
    pub happen: usize,
}

impl Bench {
    /// A lesson with all the usual troubles, drawn anew for each seed.
    pub fn lesson(rng: &mut Pcg64) -> Self {
        Self {
            channels: 2,
            every_s: *pick(rng, &[0.25, 1.0, 1.0, 2.0, 5.0]),
            settle_s: rng.random_range(60.0..240.0),
            heat_s: rng.random_range(480.0..900.0),
            cool_s: rng.random_range(480.0..900.0),
            noise_degc: rng.random_range(0.01..0.08),
            correlation: rng.random_range(0.2..0.9),
            step_degc: *pick(rng, &[0.0, 0.0625, 0.1]),
            spikes: 0.002,
            touch: rng.random_range(0.0..1.0) < 0.3,
            gap: rng.random_range(0.0..1.0) < 0.3,
            air_drift_degc: rng.random_range(-0.5..0.5),
            lag_s: (3.0, 8.0),
            warm_up_s: (1.0, 3.0),
            surface: (0.1, 0.6),
            power: 1.0,
            cycles: 1,
            happen: usize::MAX,
        }
    }

    /// One node, no lags, white noise: what the estimator assumes.
    pub fn clean() -> Self {
        Self {
            channels: 2,
            every_s: 1.0,
            settle_s: 120.0,
            heat_s: 600.0,
            cool_s: 600.0,
            noise_degc: 0.05,
            correlation: 0.0,
            step_degc: 0.0,
            spikes: 0.0,
            touch: false,
            gap: false,
            air_drift_degc: 0.0,
            lag_s: (0.0, 0.0),
            warm_up_s: (0.0, 0.0),
            surface: (0.0, 0.0),
            power: 1.0,
            cycles: 1,
            happen: usize::MAX,
        }
    }
}

/// What every channel is drawn from.
pub const BULK_TAU_S: Range<f64> = 250.0..900.0;
pub const SURFACE_TAU_S: Range<f64> = 20.0..70.0;
pub const RISE_DEGC: Range<f64> = 5.0..25.0;
pub const AIR_DEGC: Range<f64> = 18.0..24.0;
pub const AHEAD_DEGC: Range<f64> = -0.5..1.5;

/// A simulated record and what is true of it.
#[derive(Debug, Clone, Default)]
pub struct Record {
    pub t_s: Vec<f64>,
    pub channels: Vec<Vec<f64>>,
    /// The first edges.
    pub on_s: f64,
    pub off_s: f64,
    /// All edges: on, off, on, off and so forth.
    pub edges_s: Vec<f64>,
    /// What each channel's bulk node was drawn as.
    pub nodes: Vec<Node>,
    /// Each channel's probe lag in seconds.
    pub lags_s: Vec<f64>,
    /// What the readings were made from; none where another simulator made them.
    pub made: Option<Made>,
}

/// What a record without its noise is made from.
#[derive(Debug, Clone)]
pub struct Made {
    pub bench: Bench,
    pub warm_up_s: f64,
    pub samples: Vec<Sample>,
}

/// A surface on a bulk, and the probe that sees both.
#[derive(Debug, Clone, Copy)]
pub struct Sample {
    pub lag_s: f64,
    /// Share of the surface in what the probe sees.
    pub share: f64,
    pub bulk: Node,
    pub surface_tau_s: f64,
}

/// One node under the lamp: what it exchanges heat with, and how.
#[derive(Debug, Clone, Copy)]
pub struct Node {
    pub air_degc: f64,
    /// How far above air it begins.
    pub ahead_degc: f64,
    /// How far above air the lamp would bring it.
    pub rise_degc: f64,
    pub tau_s: f64,
}

impl Record {
    pub fn columns(&self) -> Vec<&[f64]> {
        self.channels.iter().map(Vec::as_slice).collect()
    }
}

pub fn rng(seed: u64) -> Pcg64 {
    Pcg64::seed_from_u64(seed)
}

fn pick<'a, T>(rng: &mut Pcg64, list: &'a [T]) -> &'a T {
    &list[rng.random_range(0..list.len())]
}

fn within(rng: &mut Pcg64, (low, high): (f64, f64)) -> f64 {
    if high > low {
        rng.random_range(low..high)
    } else {
        low
    }
}

pub fn normal(rng: &mut Pcg64) -> f64 {
    StandardNormal.sample(rng)
}

/// Runs a bench.
pub fn run(bench: &Bench, rng: &mut Pcg64) -> Record {
    let jitter = rng.random_range(0.0..bench.every_s);
    let edges_s: Vec<f64> = (0..bench.cycles)
        .flat_map(|cycle| {
            let before_s = cycle as f64 * (bench.heat_s + bench.cool_s);
            let on_s = bench.settle_s + jitter + before_s;
            [on_s, on_s + bench.heat_s]
        })
        .collect();
    let end_s = edges_s.last().unwrap() + bench.cool_s;
    let rows = (end_s / bench.every_s) as usize + 1;
    let t_s: Vec<f64> = (0..rows).map(|i| i as f64 * bench.every_s).collect();
    let warm_up_s = within(rng, bench.warm_up_s);
    let gap_s = rng.random_range(0.0..end_s);
    let drawn: Vec<_> = (0..bench.channels)
        .map(|_| {
            let happen = edges_s.get(..bench.happen).unwrap_or(&edges_s);
            let sample = sample(bench, rng);
            let truth = curve(&sample, &t_s, happen, (warm_up_s, bench.air_drift_degc));
            let mut y = read(bench, &t_s, &truth, rng);
            if bench.gap {
                for (t, y) in t_s.iter().zip(&mut y) {
                    if (gap_s..gap_s + 60.0).contains(t) {
                        *y = f64::NAN;
                    }
                }
            }
            (y, sample)
        })
        .collect();
    let samples: Vec<Sample> = drawn.iter().map(|d| d.1).collect();
    Record {
        t_s,
        nodes: samples.iter().map(|sample| sample.bulk).collect(),
        lags_s: samples.iter().map(|sample| sample.lag_s).collect(),
        channels: drawn.into_iter().map(|d| d.0).collect(),
        on_s: edges_s[0],
        off_s: edges_s[1],
        edges_s,
        made: Some(Made {
            bench: bench.clone(),
            warm_up_s,
            samples,
        }),
    }
}

/// Draws one channel.
fn sample(bench: &Bench, rng: &mut Pcg64) -> Sample {
    let lag_s = within(rng, bench.lag_s);
    let share = within(rng, bench.surface);
    let tau_s = rng.random_range(BULK_TAU_S);
    let surface_tau_s = rng.random_range(SURFACE_TAU_S);
    let rise_degc = rng.random_range(RISE_DEGC) * bench.power;
    let air_degc = rng.random_range(AIR_DEGC);
    let ahead_degc = rng.random_range(AHEAD_DEGC);
    Sample {
        lag_s,
        share,
        bulk: Node {
            air_degc,
            ahead_degc,
            rise_degc,
            tau_s,
        },
        surface_tau_s,
    }
}

/// True readings of one channel, by small steps of explicit integration, as the lamp warms up and the
/// air drifts.
fn curve(
    sample: &Sample,
    t_s: &[f64],
    edges_s: &[f64],
    (warm_up_s, air_drift_degc): (f64, f64),
) -> Vec<f64> {
    let Sample {
        lag_s,
        share,
        bulk: node,
        surface_tau_s,
    } = *sample;
    let begin = node.air_degc + node.ahead_degc;
    let (mut bulk, mut surface, mut seen) = (begin, begin, begin);
    let mut lamp = 0.0_f64;
    let mut t = 0.0;
    let h: f64 = 0.05;
    let end = *t_s.last().unwrap();
    t_s.iter()
        .map(|&want| {
            while t < want {
                // The last step is cut so that edges fall exactly.
                let mut dt: f64 = h.min(want - t);
                for &edge in edges_s {
                    if t < edge && edge < t + dt {
                        dt = edge - t;
                    }
                }
                let gone = edges_s.iter().filter(|edge| t >= **edge).count();
                let lit = f64::from(u8::from(gone % 2 == 1));
                let follow = |now: f64, target: f64, tau: f64| {
                    if tau > 0.0 {
                        target + (now - target) * (-dt / tau).exp()
                    } else {
                        target
                    }
                };
                lamp = follow(lamp, lit, warm_up_s);
                let here = node.air_degc + air_drift_degc * t / end;
                let driven = here + node.rise_degc * lamp;
                // The bulk is driven by the exchange; the surface sits above it by the flux.
                bulk = follow(bulk, driven, node.tau_s);
                let above = bulk + 0.3 * (driven - bulk).clamp(-30.0, 30.0);
                surface = follow(surface, above, surface_tau_s);
                let mixed = share * surface + (1.0 - share) * bulk;
                seen = follow(seen, mixed, lag_s);
                t += dt;
                if dt <= 0.0 {
                    break;
                }
            }
            seen
        })
        .collect()
}

/// Readings: correlated noise, a touch, spikes, steps.
fn read(bench: &Bench, t_s: &[f64], truth: &[f64], rng: &mut Pcg64) -> Vec<f64> {
    let phi = bench.correlation.powf(bench.every_s);
    let mut wander = normal(rng);
    let touched_s = rng.random_range(0.1..0.9) * t_s.last().unwrap();
    let touch = if bench.touch {
        rng.random_range(-2.0..2.0)
    } else {
        0.0
    };
    t_s.iter()
        .zip(truth)
        .map(|(t, y)| {
            wander = phi * wander + (1.0 - phi * phi).sqrt() * normal(rng);
            let bump = if *t > touched_s {
                touch * (-(t - touched_s) / 20.0).exp()
            } else {
                0.0
            };
            let spike = if rng.random_range(0.0..1.0) < bench.spikes {
                rng.random_range(-40.0..40.0)
            } else {
                0.0
            };
            let value = y + bench.noise_degc * wander + bump + spike;
            if bench.step_degc > 0.0 {
                (value / bench.step_degc).round() * bench.step_degc
            } else {
                value
            }
        })
        .collect()
}
