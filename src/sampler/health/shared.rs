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
const RATIO: f64 = 1.25;
const TRIED: i32 = 22;

/// A column of which no more than this is left beside the others says nothing new.
const NEW: f64 = 1e-6;

/// Times in ns and values in °C, oldest first.
pub(super) type Path = ArrayVec<(i64, f64), MOST_POINTS>;

type Column = ArrayVec<f64, MOST_POINTS>;

/// What is left of a channel after an explanation.
#[derive(Debug, Clone)]
pub(super) struct Left {
    /// Its points.
    pub(super) path: Path,
    /// So many times larger does the explanation make what the other channel shows, at most: as large
    /// it makes the other's noise and rounding, which no explanation takes out.
    pub(super) gain: f64,
}

/// What is left of `own` where both have points from `from_ns` on, at their times; `None` where these
/// are too few.
pub(super) fn left(own: &Path, other: &Path, from_ns: i64) -> Option<Left> {
    let mut times = ArrayVec::<i64, MOST_POINTS>::new();
    let (mut t_s, mut y, mut x) = (Column::new(), Column::new(), Column::new());
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
    let tried = (0..TRIED).map(|k| explain(&t_s, &y, &x, SHORTEST_S * RATIO.powi(k)));
    let (best, gain) = tried.min_by(|a, b| square(&a.0).total_cmp(&square(&b.0)))?;
    Some(Left {
        path: times.into_iter().zip(best).collect(),
        gain,
    })
}

/// What is left of y beside x and its lag, and the larger of the gains at which fast and slow changes
/// of x come through, |a| and |a + b|. Least squares by Gram and Schmidt's columns.
fn explain(t_s: &[f64], y: &Column, x: &Column, tau_s: f64) -> (Column, f64) {
    let ones: Column = t_s.iter().map(|_| 1.0).collect();
    let begun: Column = t_s.iter().map(|t| (-t / tau_s).exp()).collect();
    let (mut begun, mut lag) = (begun, lagged(t_s, x, tau_s));
    let (mut now, mut left) = (x.clone(), y.clone());
    for column in [&mut begun, &mut lag, &mut now, &mut left] {
        take_out(&ones, column);
    }
    for column in [&mut lag, &mut now, &mut left] {
        take_out(&begun, column);
    }
    let of_now = take_out(&lag, &mut now);
    let of_left = take_out(&lag, &mut left);
    if square(&now) <= NEW * NEW * square(x) {
        now.iter_mut().for_each(|value| *value = 0.0);
    }
    let a = take_out(&now, &mut left);
    let b = of_left - a * of_now;
    (left, a.abs().max((a + b).abs()))
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

/// Takes out of a column what is along another, and says how many times it was in it.
fn take_out(along: &[f64], column: &mut [f64]) -> f64 {
    let size = square(along);
    if size <= 0.0 {
        return 0.0;
    }
    let times = along.iter().zip(&*column).map(|(a, b)| a * b).sum::<f64>() / size;
    for (value, a) in column.iter_mut().zip(along) {
        *value -= times * a;
    }
    times
}

fn square(column: &[f64]) -> f64 {
    column.iter().map(|v| v * v).sum()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A heat store that follows `driver`, °C at t seconds, from its value at 0 on; points every 30 s.
    fn store(tau_s: f64, gain: f64, driver: impl Fn(f64) -> f64) -> Path {
        let mut degc = 0.0;
        let mut path = Path::new();
        for second in 0..3600 {
            if second % 30 == 0 {
                path.push((second * 1_000_000_000, 20.0 + degc));
            }
            degc += (gain * driver(second as f64) - degc) / tau_s;
        }
        path
    }

    fn range(path: &Path) -> f64 {
        let values = || path.iter().map(|p| p.1);
        values().fold(f64::MIN, f64::max) - values().fold(f64::MAX, f64::min)
    }

    fn clouds(t_s: f64) -> f64 {
        if (t_s / 410.0).sin() + (t_s / 170.0).sin() > 0.0 {
            4.0
        } else {
            -4.0
        }
    }

    #[test]
    fn a_fast_and_a_slow_sample_explain_each_other() {
        let (fast, slow) = (store(250.0, 1.6, clouds), store(1500.0, 0.7, clouds));
        assert!(range(&fast) > 3.0 * range(&slow));
        for (own, other) in [(&fast, &slow), (&slow, &fast)] {
            let left = left(own, other, 0).unwrap();
            assert!(
                range(&left.path) < 0.12 * range(own),
                "{}",
                range(&left.path)
            );
        }
        // The slow one shows much less: what makes it the fast one makes its noise as much larger.
        assert!(left(&fast, &slow, 0).unwrap().gain > 5.0);
    }

    #[test]
    fn what_one_does_alone_is_left() {
        let wave = |t_s: f64| 0.8 * (t_s / 95.0).sin();
        let mut own = store(400.0, 1.0, clouds);
        for (t_ns, degc) in &mut own {
            *degc += wave(*t_ns as f64 / 1e9);
        }
        let left = left(&own, &store(900.0, 1.0, clouds), 0).unwrap();
        assert!(
            (1.2..2.2).contains(&range(&left.path)),
            "{}",
            range(&left.path)
        );
    }

    #[test]
    fn too_few_common_points_explain_nothing() {
        let (own, other) = (store(400.0, 1.0, clouds), store(900.0, 1.0, clouds));
        assert!(left(&own, &other, 3_400_000_000_000).is_none());
        let elsewhere: Path = other.iter().map(|(t_ns, degc)| (t_ns + 1, *degc)).collect();
        assert!(left(&own, &elsewhere, 0).is_none());
    }
}
