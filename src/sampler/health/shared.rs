//! How much of one channel's way over minutes another channel's way explains.
//!
//! Samples of a bench feel the same air and the same light, each through a heat store of its own:
//! `τᵢ·dTᵢ/dt + Tᵢ = gᵢ·u + cᵢ` (lumped capacity; Incropera and DeWitt, Fundamentals of Heat and Mass
//! Transfer, chapter 5). Without the unknown u,
//!
//! `Tᵢ = a·Tⱼ + b·L[Tⱼ] + c + d·exp(−t/τᵢ)`, with `a = g·τⱼ/τᵢ`, `b = g·(1 − τⱼ/τᵢ)`,
//!
//! where L is the first-order lag of τᵢ that begins at the first point, and d what this beginning
//! leaves over. It holds in both directions, for a fast sample beside a slow one (a > g) as for a slow
//! one beside a fast one, and is linear but for τᵢ, which is tried. What is left of a channel after
//! the best such explanation is its own.

use arrayvec::ArrayVec;

/// Points of a path: an hour of blocks of half a minute, and some.
pub(super) const MOST_POINTS: usize = 128;

/// Points without which nothing is explained.
const FEWEST_POINTS: usize = 12;

/// Time constants that are tried, in seconds, each so many times the one before.
const SHORTEST_S: f64 = 60.0;
const RATIO: f64 = 1.5;
const TRIED: i32 = 12;

/// A column of which no more than this is left beside the others says nothing new.
const NEW: f64 = 1e-6;

/// Times in ns and values in °C, oldest first.
pub(super) type Path = ArrayVec<(i64, f64), MOST_POINTS>;

type Column = ArrayVec<f64, MOST_POINTS>;

/// What is left of `own` where both have points from `from_ns` on, at their times; `None` where these
/// are too few.
pub(super) fn left(own: &Path, other: &Path, from_ns: i64) -> Option<Path> {
    let mut t_s = Column::new();
    let (mut y, mut x, mut times) = (Column::new(), Column::new(), ArrayVec::<i64, MOST_POINTS>::new());
    let mut others = other.iter().peekable();
    for &(t_ns, degc) in own.iter().filter(|(t_ns, _)| *t_ns >= from_ns) {
        while others.next_if(|(other_ns, _)| *other_ns < t_ns).is_some() {}
        if let Some((_, seen)) = others.next_if(|(other_ns, _)| *other_ns == t_ns) {
            t_s.push((t_ns - times.first().copied().unwrap_or(t_ns)) as f64 / 1e9);
            times.push(t_ns);
            y.push(degc);
            x.push(*seen);
        }
    }
    if y.len() < FEWEST_POINTS {
        return None;
    }
    let tried = (0..TRIED).map(|k| residuals(&t_s, &y, &x, SHORTEST_S * RATIO.powi(k)));
    let best = tried.min_by(|a, b| square(a).total_cmp(&square(b)))?;
    Some(times.into_iter().zip(best).collect())
}

/// Of y, beside x and its lag.
fn residuals(t_s: &[f64], y: &Column, x: &Column, tau_s: f64) -> Column {
    let ones: Column = t_s.iter().map(|_| 1.0).collect();
    let begun: Column = t_s.iter().map(|t| (-t / tau_s).exp()).collect();
    let mut columns = [ones, begun, lagged(t_s, x, tau_s), x.clone()];
    let mut left = y.clone();
    for place in 0..columns.len() {
        let (done, rest) = columns.split_at_mut(place);
        let Some(column) = rest.first_mut() else {
            continue;
        };
        let before = square(column);
        for earlier in done.iter() {
            take_out(earlier, column);
        }
        if square(column) <= NEW * NEW * before {
            column.iter_mut().for_each(|value| *value = 0.0);
        }
        take_out(column, &mut left);
    }
    left
}

/// The first-order lag of values that run straight from point to point, exact.
fn lagged(t_s: &[f64], x: &[f64], tau_s: f64) -> Column {
    let mut lagged = Column::new();
    let mut last: Option<(f64, f64, f64)> = None;
    for (&t, &now) in t_s.iter().zip(x) {
        let value = last.map_or(now, |(t_before, before, value)| {
            let span = (t - t_before) / tau_s;
            let keep = (-span).exp();
            let mean = (1.0 - keep) / span;
            keep * value + (mean - keep) * before + (1.0 - mean) * now
        });
        lagged.push(value);
        last = Some((t, now, value));
    }
    lagged
}

/// Takes out of a column what is along another.
fn take_out(along: &[f64], column: &mut [f64]) {
    let size = square(along);
    if size > 0.0 {
        let share = along.iter().zip(&*column).map(|(a, b)| a * b).sum::<f64>() / size;
        for (value, a) in column.iter_mut().zip(along) {
            *value -= share * a;
        }
    }
}

fn square(column: &[f64]) -> f64 {
    column.iter().map(|v| v * v).sum()
}
