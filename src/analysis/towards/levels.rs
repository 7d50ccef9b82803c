//! What rows of a cooling say of each level that it may go to.

use std::f64::consts::TAU as TWO_PI;

/// Rate constants of the grid, and how often the best of them is looked at more closely.
const RATES: usize = 120;
const NARROWER: usize = 3;

/// What a second rate constant costs, in squares of a standard deviation (chosen by simulation).
const SECOND: f64 = 5.0;

/// Rate constants from slow to fast, evenly in their logarithms.
pub(super) fn grid(slowest_s: f64, soonest_s: f64) -> Option<Vec<f64>> {
    let (low, high) = (1.0 / slowest_s, 1.0 / soonest_s);
    let each = |i| low * (high / low).powf(i as f64 / (RATES - 1) as f64);
    (low > 0.0 && high > low && high.is_finite()).then(|| (0..RATES).map(each).collect())
}

/// One exponential to a given level.
#[derive(Debug, Clone, Copy)]
pub(super) struct Single {
    pub(super) misfit: f64,
    pub(super) tau_s: f64,
    /// Variance of the time constant in s² for a noise of variance one.
    pub(super) tau_square_by_variance: f64,
}

/// Sums over the rows from which every pair of rate constants and every level is judged, temperatures
/// counted from `about`.
pub(super) struct Sums<'a> {
    after_s: &'a [f64],
    above_last: Vec<f64>,
    about: f64,
    rows: f64,
    y: f64,
    yy: f64,
    /// For each rate constant: sum of its shape, and of shape times temperature.
    e: Vec<f64>,
    ey: Vec<f64>,
    /// For each pair.
    ee: Vec<f64>,
}

impl<'a> Sums<'a> {
    pub(super) fn of(rates: &[f64], after_s: &'a [f64], degc: &[f64]) -> Option<Self> {
        let about = *degc.last()?;
        let y: Vec<f64> = degc.iter().map(|y| y - about).collect();
        let shape = |k: &f64| after_s.iter().map(|t| (-k * t).exp()).collect();
        let shapes: Vec<Vec<f64>> = rates.iter().map(shape).collect();
        let dot = |a: &[f64], b: &[f64]| a.iter().zip(b).map(|(a, b)| a * b).sum::<f64>();
        let pairs = shapes
            .iter()
            .flat_map(|a| shapes.iter().map(move |b| (a, b)));
        Some(Self {
            about,
            rows: y.len() as f64,
            y: y.iter().sum(),
            yy: dot(&y, &y),
            e: shapes.iter().map(|a| a.iter().sum()).collect(),
            ey: shapes.iter().map(|a| dot(a, &y)).collect(),
            ee: pairs.map(|(a, b)| dot(a, b)).collect(),
            after_s,
            above_last: y,
        })
    }

    /// Square of what is above a level, and for each rate constant its shape times that.
    fn above(&self, level: f64) -> (f64, Vec<f64>) {
        let level = level - self.about;
        let square = self.yy - 2.0 * level * self.y + self.rows * level * level;
        let along = self.ey.iter().zip(&self.e);
        (square, along.map(|(ey, e)| ey - level * e).collect())
    }

    fn size(&self, i: usize, j: usize) -> f64 {
        self.ee
            .get(i * self.e.len() + j)
            .copied()
            .unwrap_or(f64::NAN)
    }

    /// The two exponentials to a level that cost least, noise having this variance: misfit and cost. Of the
    /// second one's share, from none to all alike, noise leaves a part open; the less, the luckier it would be to
    /// have just that share (Occam's factor: D. Mackay, Information Theory, Inference, and Learning Algorithms,
    /// chapter 28), of which a half is counted: more made coolings of two nodes too sure (chosen by simulation).
    pub(super) fn pair(&self, level: f64, variance: f64) -> (f64, f64) {
        let (square, along) = self.above(level);
        let mut best = (f64::INFINITY, f64::INFINITY);
        for (i, a) in along.iter().enumerate() {
            let aa = self.size(i, i);
            for (j, b) in along.iter().enumerate().skip(i + 1) {
                let (bb, ab) = (self.size(j, j), self.size(i, j));
                let size = aa * bb - ab * ab;
                let (of_a, of_b) = ((a * bb - b * ab) / size, (b * aa - a * ab) / size);
                if !(of_a > 0.0 && of_b > 0.0) {
                    continue;
                }
                let misfit = square - of_a * a - of_b * b;
                if misfit < best.1 * variance {
                    let share = (variance * aa.max(bb) / size).sqrt() / (of_a + of_b);
                    let luck = -(TWO_PI.sqrt() * share).min(1.0).ln();
                    let cost = misfit / variance + luck + SECOND;
                    if cost < best.1 {
                        best = (misfit, cost);
                    }
                }
            }
        }
        best
    }

    /// The best single exponential to a level: from the best of the grid on, by parabolas ever narrower.
    pub(super) fn single(&self, rates: &[f64], level: f64) -> Option<Single> {
        let (square, along) = self.above(level);
        let misfit = |i: usize| {
            let a = along.get(i)?;
            Some(square - a.max(0.0).powi(2) / self.size(i, i))
        };
        let best = (1..rates.len() - 1).min_by(|a, b| {
            let of = |i: &usize| misfit(*i).unwrap_or(f64::INFINITY);
            of(a).total_cmp(&of(b))
        })?;
        let mut ln_k = rates.get(best)?.ln();
        let mut step = 0.5 * (rates.get(best + 1)? / rates.get(best)?).ln();
        let mut found = None;
        for _ in 0..NARROWER {
            let [before, here, after] = [-step, 0.0, step].map(|d| self.to_level(ln_k + d, level));
            let bend = before - 2.0 * here + after;
            if bend.is_nan() || bend <= 0.0 {
                break;
            }
            let moved = (0.5 * (before - after) / bend).clamp(-1.0, 1.0);
            ln_k += moved * step;
            let tau_s = (-ln_k).exp();
            found = Some(Single {
                misfit: self.to_level(ln_k, level),
                tau_s,
                tau_square_by_variance: 2.0 * (tau_s * step).powi(2) / bend,
            });
            step *= 0.3;
        }
        found
    }

    /// Misfit of one exponential to a level.
    fn to_level(&self, ln_k: f64, level: f64) -> f64 {
        let (k, level) = (ln_k.exp(), level - self.about);
        let shape = || self.after_s.iter().map(|t| (-k * t).exp());
        let (mut along, mut size) = (0.0, 0.0);
        for (shape, y) in shape().zip(&self.above_last) {
            along += shape * (y - level);
            size += shape * shape;
        }
        let amount = (along / size).max(0.0);
        let left = shape()
            .zip(&self.above_last)
            .map(|(shape, y)| y - level - amount * shape);
        left.map(|r| r * r).sum()
    }
}
