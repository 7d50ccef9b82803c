//! Modes worked out from row to row beside the same worked out at each row by itself.

#![allow(clippy::float_cmp, reason = "numbers that are handed on as they are")]

use super::super::Kind;
use super::super::clean::Curve;
use super::super::modes::Modes;
use super::super::project::{fit_forced, orthonormalise, remove};
use super::super::response::Chain;
use super::{curve, every, near, newton, normal, rng};

/// Time constants for a record of so many seconds: none, then from 10 s on, each 1.7 times the one before,
/// up to three records.
fn grid(span_s: f64) -> Vec<f64> {
    let mut all = vec![0.0];
    let mut tau = 10.0_f64.min(0.1 * span_s);
    while tau < 3.0 * span_s {
        all.push(tau);
        tau *= 1.7;
    }
    all
}

/// A column of values at the rows, each times its weight.
fn weighted(c: &Curve, weights: &[f64], value: &dyn Fn(f64) -> f64) -> Vec<f64> {
    let both = c.t_s.iter().zip(weights);
    both.map(|(t, w)| w * value(*t)).collect()
}

/// What a record without a lamp is made of, orthonormal.
fn ground(c: &Curve, weights: &[f64], taus: &[f64]) -> Vec<Vec<f64>> {
    let (from, rows) = (c.t_s[0], c.t_s.len());
    let span_s = c.t_s[rows - 1] - from;
    let column = |value: &dyn Fn(f64) -> f64| weighted(c, weights, value);
    let mut ground = vec![column(&|_| 1.0)];
    if rows >= 40 {
        ground.push(column(&|t| t - from));
        for tau in taus.iter().skip(2).step_by(3).filter(|tau| **tau < span_s) {
            ground.push(column(&|t| (-(t - from) / tau).exp()));
        }
    } else if rows >= 7 {
        ground.push(column(&|t| (-(t - from) / (0.4 * span_s)).exp()));
    }
    orthonormalise(&mut ground);
    ground
}

/// The residual by plain means, and how many linear terms it took.
fn by_hand(
    c: &Curve,
    weights: &[f64],
    first: Kind,
    edges_s: &[f64],
    lags: [f64; 3],
) -> (Vec<f64>, usize) {
    let (from, rows) = (c.t_s[0], c.t_s.len());
    let span_s = c.t_s[rows - 1] - from;
    let taus = grid(span_s);
    let column = |value: &dyn Fn(f64) -> f64| weighted(c, weights, value);
    let ground = ground(c, weights, &taus);
    let apart = rows >= 150;
    let kinds = if apart && edges_s.len() > 1 {
        vec![0, 1]
    } else {
        vec![0]
    };
    let mut forced = Vec::new();
    for kind in kinds {
        for tau in &taus {
            let chain = Chain::new(&[*tau, lags[0], lags[1], lags[2]]);
            let lamp = |t: f64| -> f64 {
                let all = edges_s.iter().enumerate();
                let own = all.filter(|(i, _)| !apart || i % 2 == kind);
                let sign = |i: usize| {
                    if i.is_multiple_of(2) {
                        first.sign()
                    } else {
                        -first.sign()
                    }
                };
                own.map(|(i, e)| sign(i) * chain.step(t - e)).sum()
            };
            let mut one = column(&lamp);
            remove(&ground, &mut one);
            forced.push(one);
        }
    }
    let top = c.degc.iter().copied().fold(f64::MIN, f64::max);
    let bottom = c.degc.iter().copied().fold(f64::MAX, f64::min);
    let held = |tau: &f64| 1.0 / ((top - bottom) * (0.04 + 0.01 * tau).min(1.0));
    let held: Vec<f64> = taus.iter().map(held).cycle().take(forced.len()).collect();
    let mut r = column(&|_| 0.0);
    for ((r, y), w) in r.iter_mut().zip(&c.degc).zip(weights) {
        *r = y * w;
    }
    remove(&ground, &mut r);
    let amounts = fit_forced(&forced, &held, &mut r);
    let used = amounts.iter().filter(|a| **a > 0.0).count();
    r.extend(amounts.iter().zip(&held).map(|(a, h)| -a * h));
    (r, ground.len() + used)
}

fn sample(rows: usize, step_s: f64, edges_s: &[f64]) -> Curve {
    let mut draw = rng(rows as u64);
    let lamp = |t: f64| -> f64 {
        let signs = [1.0, -1.0].into_iter().cycle();
        let both = |u: f64| 0.3 * newton(u, 25.0) + 0.7 * newton(u, 320.0);
        edges_s
            .iter()
            .zip(signs)
            .map(|(e, s)| s * both(t - e - 7.0))
            .sum()
    };
    let mut c = curve(0, &every(step_s, rows), 0.03, |t| {
        21.0 + 9.0 * lamp(t) - (-t / 200.0).exp()
    });
    for y in &mut c.degc {
        *y += 0.03 * normal(&mut draw);
    }
    c
}

#[test]
fn the_residual_is_the_same_as_row_by_row() {
    // Few and many rows, at even steps of which some are missing; lags beside and upon modes.
    for (rows, step_s) in [(5, 120.0), (9, 120.0), (30, 40.0), (60, 20.0), (240, 5.0)] {
        let span_s = step_s * rows as f64;
        let edges = [0.2 * span_s + 1.3, 0.6 * span_s];
        let mut c = sample(rows, step_s, &edges);
        if rows > 20 {
            c.t_s.remove(rows / 2);
            c.degc.remove(rows / 2);
        }
        let weights: Vec<f64> = c.root_weights().collect();
        let modes = Modes::new(&c, &weights);
        for lags in [
            [5.0, 0.0, 1.6],
            [3.0, 4.1, 0.0],
            [10.1, 0.0, 28.9],
            [0.0; 3],
        ] {
            for (first, edges) in [
                (Kind::On, &edges[..]),
                (Kind::Off, &edges[..1]),
                (Kind::On, &[]),
            ] {
                let mut out = vec![7.0];
                let terms = modes.residual(&c, &weights, (first, edges), lags, &mut out);
                let (want, want_terms) = if edges.is_empty() {
                    let (mut want, _) = by_hand(&c, &weights, first, &[-1e9], [0.0; 3]);
                    want.truncate(c.t_s.len());
                    (want, terms)
                } else {
                    by_hand(&c, &weights, first, edges, lags)
                };
                assert_eq!(out.len(), want.len(), "{rows} {lags:?}");
                assert_eq!(terms, want_terms, "{rows} {lags:?} {edges:?}");
                assert_eq!(out.len(), c.t_s.len() + modes.amounts(edges.len()));
                for (got, want) in out.iter().zip(&want) {
                    near(*got, *want, 2e-4);
                }
            }
        }
    }
}

#[test]
fn on_and_off_edges_have_amounts_of_their_own_where_rows_abound() {
    let many = sample(150, 8.0, &[200.0, 700.0]);
    let few = sample(149, 8.0, &[200.0, 700.0]);
    let amounts = |c: &Curve, edges| {
        let weights: Vec<f64> = c.root_weights().collect();
        Modes::new(c, &weights).amounts(edges)
    };
    let modes = grid(many.t_s[149]).len();
    assert_eq!(
        [0, 1, 2, 3].map(|n| amounts(&many, n)),
        [0, modes, 2 * modes, 2 * modes]
    );
    let modes = grid(few.t_s[148]).len();
    assert_eq!(
        [0, 1, 2, 3].map(|n| amounts(&few, n)),
        [0, modes, modes, modes]
    );
}
