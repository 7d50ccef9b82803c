//! How soon the lamp's edges are noticed while rows arrive: `cargo bench --bench on_line [-- RUNS]`.
//!
//! Beside the watcher runs the best there can be: a CUSUM test that is told everything but the
//! instant (every sample's curve as it would go on without the edge, the exact shape and size of
//! what the edge adds, the noise and its correlation). Page (1954) and Lorden (1971): no test with
//! the same rate of false alarms has a smaller worst-case delay. All data are invented.

#![expect(
    clippy::print_stdout,
    clippy::indexing_slicing,
    clippy::unwrap_used,
    reason = "a study prints its table, and stops where its own data are wrong"
)]

#[path = "../tests/bench_model/mod.rs"]
mod bench_model;

use std::time::Instant;

use bench_model::sun::sunlit;
use bench_model::{Bench, Record, normal, rng, run};
use duskmark::lamp::{Kind, LampOptions, Watcher};

/// Longest delay after which an edge still counts as noticed, in seconds.
const PATIENCE_S: f64 = 120.0;

fn main() {
    let runs = std::env::args()
        .skip(1)
        .find_map(|a| a.parse().ok())
        .unwrap_or(200);
    if std::env::args().any(|a| a == "false") {
        return nothing_happens(runs);
    }
    if std::env::args().any(|a| a == "days") {
        return days(runs);
    }
    let threshold = threshold();
    println!("CUSUM threshold for one false alarm in 1000 h: {threshold:.1} nats");
    println!(
        "family                on: ours  CUSUM    off: ours  CUSUM   ratio of means  missed  false"
    );
    for (name, messy) in [("lesson, tidy", false), ("lesson, messy", true)] {
        compare(name, runs, messy, threshold);
    }
    if std::env::args().any(|a| a == "lessons") {
        return;
    }
    nothing_happens(runs);
    days(runs);
}

/// First seed, from an argument `from=N`: for runs on seeds that nothing was tuned on.
fn base() -> u64 {
    std::env::args()
        .find_map(|a| a.strip_prefix("from=")?.parse().ok())
        .unwrap_or(0)
}

fn verbose() -> bool {
    std::env::var("EACH").is_ok()
}

/// A lesson with a row a second; a messy one has spikes and touches.
fn lesson(seed: u64, messy: bool) -> (Bench, rand_pcg::Pcg64) {
    let mut draw = rng(base() + seed);
    let bench = Bench {
        every_s: 1.0,
        gap: false,
        ..Bench::lesson(&mut draw)
    };
    let tidy = Bench {
        spikes: 0.0,
        touch: false,
        ..bench.clone()
    };
    (if messy { bench } else { tidy }, draw)
}

/// Edges that the watcher reports in a record.
fn watched(record: &Record) -> Vec<duskmark::lamp::EdgeSeen> {
    let mut watcher = Watcher::new(record.channels.len(), &LampOptions::default());
    let rows = record.t_s.iter().enumerate();
    rows.filter_map(|(i, &t)| {
        let row: Vec<f64> = record.channels.iter().map(|c| c[i]).collect();
        watcher.push(t, &row)
    })
    .collect()
}

#[derive(Default)]
struct Tally {
    ours: Vec<f64>,
    best: Vec<f64>,
    missed: usize,
}

fn compare(name: &str, runs: u64, messy: bool, threshold: f64) {
    let mut tallies = [Tally::default(), Tally::default()];
    let mut false_edges = 0;
    for seed in 0..runs {
        let (bench, draw) = lesson(seed, messy);
        let record = run(&bench, &mut draw.clone());
        let seen = watched(&record);
        let mut hits = [None, None];
        for edge in &seen {
            let (slot, truth) = match edge.edge {
                Kind::On => (0, record.on_s),
                Kind::Off => (1, record.off_s),
            };
            let delay = edge.noticed_s - truth;
            if (0.0..PATIENCE_S).contains(&delay) && hits[slot].is_none() {
                hits[slot] = Some(delay);
            } else {
                false_edges += 1;
                if verbose() {
                    println!("{seed} false {edge:?}");
                }
            }
        }
        // The best there can be runs on tidy data: it knows nothing of spikes.
        let (tidy, draw) = lesson(seed, false);
        for (slot, tally) in tallies.iter_mut().enumerate() {
            let best = cusum(&tidy, &draw, slot, threshold);
            if let Some(delay) = hits[slot] {
                tally.ours.push(delay);
                tally.best.push(best);
            } else {
                tally.missed += 1;
            }
            if verbose() {
                println!("{seed} {slot} ours {:?} best {best:.1}", hits[slot]);
            }
        }
    }
    let [on, off] = &mut tallies;
    let mean = |v: &[f64]| v.iter().sum::<f64>() / v.len().max(1) as f64;
    let ratio = (mean(&on.ours) + mean(&off.ours)) / (mean(&on.best) + mean(&off.best));
    println!(
        "{name:20} {:6.1} ({:5.1}) {:5.1}  {:6.1} ({:5.1}) {:5.1}   {ratio:6.2}   {} + {} of {runs}   {false_edges}",
        part(&mut on.ours, 0.5),
        part(&mut on.ours, 0.95),
        part(&mut on.best, 0.5),
        part(&mut off.ours, 0.5),
        part(&mut off.ours, 0.95),
        part(&mut off.best, 0.5),
        on.missed,
        off.missed
    );
}

fn part(v: &mut [f64], share: f64) -> f64 {
    v.sort_by(f64::total_cmp);
    v.get((v.len() as f64 * share) as usize)
        .copied()
        .unwrap_or(f64::NAN)
}

/// Innovations of first-order noise, and their variance.
fn innovations(r: &[f64], phi: f64) -> Vec<f64> {
    let first = r.first().copied().unwrap_or(0.0);
    let rest = r.iter().zip(r.iter().skip(1)).map(|(a, b)| b - phi * a);
    std::iter::once(first).chain(rest).collect()
}

/// Delay of the test that knows all but the instant, for edge `slot` (0 on, 1 off).
fn cusum(bench: &Bench, draw: &rand_pcg::Pcg64, slot: usize, threshold: f64) -> f64 {
    let quiet = Bench {
        noise_degc: 0.0,
        step_degc: 0.0,
        ..bench.clone()
    };
    let without = Bench {
        happen: slot,
        ..quiet.clone()
    };
    let with = Bench {
        happen: slot + 1,
        ..quiet
    };
    let (noisy, with, without) = (
        run(bench, &mut draw.clone()),
        run(&with, &mut draw.clone()),
        run(&without, &mut draw.clone()),
    );
    let edge_s = if slot == 0 { noisy.on_s } else { noisy.off_s };
    let edge = noisy.t_s.partition_point(|t| *t < edge_s);
    let last = (edge + PATIENCE_S as usize).min(noisy.t_s.len());
    let phi = bench.correlation.powf(bench.every_s);
    let variance = bench.noise_degc.powi(2) * (1.0 - phi * phi) + bench.step_degc.powi(2) / 12.0;
    let mut shapes = Vec::new();
    let mut residuals = Vec::new();
    for c in 0..noisy.channels.len() {
        let minus =
            |a: &[f64], b: &[f64]| -> Vec<f64> { a.iter().zip(b).map(|(a, b)| a - b).collect() };
        let shape = minus(
            &with.channels[c][edge..last],
            &without.channels[c][edge..last],
        );
        let residual = minus(&noisy.channels[c][..last], &without.channels[c][..last]);
        shapes.push(innovations(&shape, phi));
        residuals.push(innovations(&residual, phi));
    }
    let mut test = Cusum::new(shapes, variance);
    for i in edge.saturating_sub(60)..last {
        let row: Vec<f64> = residuals.iter().map(|r| r[i]).collect();
        if test.push(&row) > threshold {
            return (noisy.t_s[i] - edge_s).max(0.0);
        }
    }
    PATIENCE_S
}

/// Page's test for a known shape that begins at an unknown instant: the largest log-likelihood
/// ratio over the instants of the last two minutes.
struct Cusum {
    shapes: Vec<Vec<f64>>,
    variance: f64,
    /// Log-likelihood ratio for each begun instant, youngest first.
    sums: std::collections::VecDeque<f64>,
}

impl Cusum {
    fn new(shapes: Vec<Vec<f64>>, variance: f64) -> Self {
        Self {
            shapes,
            variance,
            sums: std::collections::VecDeque::new(),
        }
    }

    fn push(&mut self, row: &[f64]) -> f64 {
        let longest = self.shapes[0].len();
        self.sums.push_front(0.0);
        self.sums.truncate(longest);
        let mut best = 0.0_f64;
        for (age, sum) in self.sums.iter_mut().enumerate() {
            for (shape, e) in self.shapes.iter().zip(row) {
                let s = shape[age];
                *sum += s * (e - 0.5 * s) / self.variance;
            }
            best = best.max(*sum);
        }
        best
    }
}

/// Threshold with one false alarm in 1000 h, found on white noise with a common shape.
fn threshold() -> f64 {
    let hours = 2000;
    let shape: Vec<f64> = (0..40)
        .map(|u| 0.02 * (f64::from(u) - 6.0).max(0.0))
        .collect();
    let mut test = Cusum::new(vec![shape.clone(), shape], 0.05 * 0.05);
    let mut draw = rng(7);
    let mut tops = Vec::new();
    let mut top = 0.0_f64;
    for i in 0..hours * 3600 {
        let row = [0.05 * normal(&mut draw), 0.05 * normal(&mut draw)];
        top = top.max(test.push(&row));
        if i % 360 == 359 {
            tops.push(top);
            top = 0.0;
        }
    }
    // Two alarms in the 2000 h: the threshold lies between the second and the third of the tops.
    tops.sort_by(|a, b| b.total_cmp(a));
    0.5 * (tops[1] + tops[2])
}

/// False edges where the lamp stays as it is.
fn nothing_happens(runs: u64) {
    for (name, touch) in [("steady or drifting", false), ("the same, touched", true)] {
        let (mut hours, mut alarms, mut spent) = (0.0, 0, 0.0);
        for seed in 0..runs {
            let mut draw = rng(base() + 1000 + seed);
            let bench = Bench {
                every_s: 1.0,
                power: 0.0,
                settle_s: 18_000.0,
                heat_s: 100.0,
                cool_s: 100.0,
                air_drift_degc: 3.0,
                touch,
                ..Bench::lesson(&mut draw)
            };
            let record = run(&bench, &mut draw);
            hours += record.t_s.last().unwrap() / 3600.0;
            let begin = Instant::now();
            let seen = watched(&record);
            spent += begin.elapsed().as_secs_f64();
            alarms += seen.len();
            if verbose() {
                for edge in seen {
                    println!(
                        "{seed} {edge:?} noise {:.3} corr {:.2} step {}",
                        bench.noise_degc, bench.correlation, bench.step_degc
                    );
                }
            }
        }
        println!(
            "on-line, {name}: {alarms} false edges in {hours:.0} h; {:.1} µs a row",
            1e6 * spent / (hours * 3600.0)
        );
    }
}

/// False edges by a window: days without a lamp, clear or with clouds that come and go.
fn days(runs: u64) {
    for (name, cloudy) in [("clear days", 0.0), ("days with clouds", 1.0)] {
        let (mut hours, mut alarms) = (0.0, 0);
        for seed in 0..runs.div_ceil(4) {
            let mut draw = rng(base() + 5000 + seed);
            let bench = Bench {
                every_s: 1.0,
                power: 0.0,
                settle_s: 86_200.0,
                heat_s: 100.0,
                cool_s: 100.0,
                touch: false,
                ..Bench::lesson(&mut draw)
            };
            let record = sunlit(&bench, cloudy, &mut draw);
            hours += record.t_s.last().unwrap() / 3600.0;
            let seen = watched(&record);
            alarms += seen.len();
            if verbose() {
                for edge in seen {
                    println!("{seed} {edge:?} {}", bench.noise_degc);
                }
            }
        }
        println!("on-line, {name}: {alarms} false edges in {hours:.0} h");
    }
}
