//! The best there can be: Page's test, told everything but the instant, and one that must learn level, slope
//! and noise.

use std::collections::VecDeque;

use crate::PATIENCE_S;
use crate::bench_model::{Record, normal, rng};

/// Rows before the edge at which the test begins.
const BEFORE: usize = 60;

/// What the test is told.
pub(crate) struct Told {
    /// The readings as they come.
    pub(crate) noisy: Record,
    /// Curves without noise, with the edge and as they would go on without it.
    pub(crate) with: Record,
    pub(crate) without: Record,
    pub(crate) edge_s: f64,
    /// Correlation of the noise from row to row, and the variance of its innovations.
    pub(crate) phi: f64,
    pub(crate) variance: f64,
}

/// Innovations of first-order noise.
fn innovations(r: &[f64], phi: f64) -> Vec<f64> {
    let first = r.first().copied().unwrap_or(0.0);
    let rest = r.iter().zip(r.iter().skip(1)).map(|(a, b)| b - phi * a);
    std::iter::once(first).chain(rest).collect()
}

/// Seconds from the edge until the test gives an alarm.
pub(crate) fn delay_s(told: &Told, threshold: f64) -> f64 {
    let t_s = &told.noisy.t_s;
    let edge = t_s.partition_point(|t| *t < told.edge_s);
    let last = t_s.partition_point(|t| *t < told.edge_s + PATIENCE_S);
    let minus =
        |a: &[f64], b: &[f64]| -> Vec<f64> { a.iter().zip(b).map(|(a, b)| a - b).collect() };
    let mut shapes = Vec::new();
    let mut residuals = Vec::new();
    for c in 0..told.noisy.channels.len() {
        let without = &told.without.channels[c];
        let shape = minus(&told.with.channels[c][edge..last], &without[edge..last]);
        let residual = minus(&told.noisy.channels[c][..last], &without[..last]);
        shapes.push(innovations(&shape, told.phi));
        residuals.push(innovations(&residual, told.phi));
    }
    let mut test = Cusum::new(shapes, told.variance);
    for i in edge.saturating_sub(BEFORE)..last {
        let row: Vec<f64> = residuals.iter().map(|r| r[i]).collect();
        if test.push(&row) > threshold {
            return (t_s[i] - told.edge_s).max(0.0);
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
    sums: VecDeque<f64>,
}

impl Cusum {
    fn new(shapes: Vec<Vec<f64>>, variance: f64) -> Self {
        Self {
            shapes,
            variance,
            sums: VecDeque::new(),
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

/// Rows before the edge from which the learning test learns at most.
const LEARNS: usize = 300;

/// Rows of which the learning test must have more than it has to learn.
const FEWEST: usize = 5;

/// Seconds from the edge until a test gives an alarm that must learn each channel's level, slope and noise
/// from the rows it is given, and is told the rest: the best there can be for such rows.
///
/// What does not depend on level, slope and noise is distributed as if these had flat priors (and noise
/// one flat in its logarithm), so the likelihood ratio of the invariant is `(RSS₀/RSS₁)^((n-2)/2)` with the
/// residual sums of squares of a straight line without and with the edge (Hall, Wijsman and Ghosh, The
/// relationship between sufficiency and invariance, Annals of Mathematical Statistics 36, 1965). Its
/// mean without an edge is 1 as that of the known ratio is, so the same threshold serves.
pub(crate) fn learning_delay_s(told: &Told, threshold: f64) -> f64 {
    let t_s = &told.noisy.t_s;
    let edge = t_s.partition_point(|t| *t < told.edge_s);
    let last = t_s.partition_point(|t| *t < told.edge_s + PATIENCE_S);
    let from = edge.saturating_sub(LEARNS);
    let minus = |a: &[f64], b: &[f64]| -> Vec<f64> {
        let each = a.iter().zip(b).map(|(a, b)| a - b);
        innovations(&each.collect::<Vec<f64>>(), told.phi)
    };
    let channels: Vec<[Vec<f64>; 2]> = (0..told.noisy.channels.len())
        .map(|c| {
            let without = &told.without.channels[c];
            let shape = minus(&told.with.channels[c][edge..last], &without[edge..last]);
            // The first row has no innovation.
            let rows = minus(&told.noisy.channels[c][from..last], &without[from..last]);
            [shape, rows[1..].to_vec()]
        })
        .collect();
    for (i, &now_s) in t_s.iter().enumerate().take(last).skip(edge) {
        let rows = i - from;
        let begun = (0..rows).take(last - edge).any(|age| {
            let ratio = |[shape, rows_of]: &[Vec<f64>; 2]| invariant(&rows_of[..rows], shape, age);
            rows > FEWEST && channels.iter().map(ratio).sum::<f64>() > threshold
        });
        if begun {
            return (now_s - told.edge_s).max(0.0);
        }
    }
    PATIENCE_S
}

/// Logarithm of the invariant's likelihood ratio for a shape whose first row is `age` rows old.
///
/// Innovations of a straight line are a straight line.
fn invariant(rows: &[f64], shape: &[f64], age: usize) -> f64 {
    let begun = rows.len() - 1 - age;
    let less: Vec<f64> = rows
        .iter()
        .enumerate()
        .map(|(i, r)| {
            r - i
                .checked_sub(begun)
                .and_then(|u| shape.get(u))
                .copied()
                .unwrap_or(0.0)
        })
        .collect();
    0.5 * (rows.len() as f64 - 2.0) * (beside_line(rows) / beside_line(&less)).ln()
}

/// Residual sum of squares of a straight line.
fn beside_line(y: &[f64]) -> f64 {
    let n = y.len() as f64;
    let (middle, mean) = (0.5 * (n - 1.0), y.iter().sum::<f64>() / n);
    let (mut xy, mut yy) = (0.0, 0.0);
    for (i, y) in y.iter().enumerate() {
        xy += (i as f64 - middle) * (y - mean);
        yy += (y - mean).powi(2);
    }
    (yy - 12.0 * xy * xy / (n * (n * n - 1.0))).max(1e-12)
}

/// Threshold with one false alarm in 1000 h, found on white noise with a common shape.
pub(crate) fn threshold() -> f64 {
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
