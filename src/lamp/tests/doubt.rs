//! Which edges are none of a lamp's: each bound from both sides.

#![allow(clippy::float_cmp, reason = "numbers that are handed on as they are")]

use super::super::doubt::{Doubt, close_pair, doubted};
use super::super::{Edge, Kind, LEVEL};
use super::{curve, every};
use crate::lamp::clean::Curve;

fn benches(channels: usize, step_s: f64, rows: usize) -> Vec<Curve> {
    let t_s = every(step_s, rows);
    let one = |channel| curve(channel, &t_s, 0.1, |t| 20.0 + 0.01 * t);
    (0..channels).map(one).collect()
}

/// Edges at some instants, each known to a half-width.
fn edges(at: &[(f64, f64)]) -> Vec<Edge> {
    let kinds = [Kind::On, Kind::Off].into_iter().cycle();
    let one = |(&(at_s, half_s), edge): (&(f64, f64), Kind)| Edge {
        edge,
        at_s,
        low_s: at_s - half_s,
        high_s: at_s + half_s,
        level: LEVEL,
    };
    at.iter().zip(kinds).map(one).collect()
}

#[test]
fn neighbours_are_apart_by_a_share_of_a_short_record_and_a_moment_of_a_long_one() {
    // A record of 1000 s: 40 s. One of an hour: 45 s. Rows a minute apart: two of them.
    for (step_s, rows, least_s) in [(1.0, 1001, 40.0), (1.0, 3601, 45.0), (60.0, 61, 120.0)] {
        let two = benches(2, step_s, rows);
        assert_eq!(close_pair(&[300.0, 299.5 + least_s], &two), Some(0));
        assert_eq!(close_pair(&[300.0, 300.5 + least_s], &two), None);
    }
    // One sample alone: more apart where there are other edges beside.
    let (one, two) = (benches(1, 1.0, 1001), benches(2, 1.0, 1001));
    assert_eq!(close_pair(&[100.0, 300.0, 379.0], &one), Some(1));
    assert_eq!(close_pair(&[100.0, 300.0, 381.0], &one), None);
    assert_eq!(close_pair(&[100.0, 300.0, 379.0], &two), None);
    assert_eq!(close_pair(&[300.0, 379.0], &one), None);
}

#[test]
fn edges_at_the_ends_of_many_rows_are_doubted_the_last_one_first() {
    let doubt = |at: &[f64], curves: &[Curve]| {
        let all: Vec<(f64, f64)> = at.iter().map(|at| (*at, 1.0)).collect();
        doubted(&edges(&all), &vec![0.0; at.len()], curves)
    };
    let second = benches(1, 1.0, 1001);
    assert_eq!(doubt(&[300.0, 990.5], &second), Some(Doubt::One(1)));
    assert_eq!(doubt(&[300.0, 989.5], &second), None);
    assert_eq!(doubt(&[2.5, 500.0], &second), Some(Doubt::One(0)));
    assert_eq!(doubt(&[3.5, 500.0], &second), None);
    assert_eq!(doubt(&[2.5, 995.0], &second), Some(Doubt::One(1)));
    assert_eq!(doubt(&[500.0, 510.0], &second), Some(Doubt::Pair(0)));
    // Rows a minute apart: three of them at the end, one at the beginning; half a minute apart: two.
    let minute = benches(2, 60.0, 61);
    assert_eq!(doubt(&[900.0, 3425.0], &minute), Some(Doubt::One(1)));
    assert_eq!(doubt(&[900.0, 3415.0], &minute), None);
    assert_eq!(doubt(&[3425.0, 3560.0], &minute), Some(Doubt::One(1)));
    assert_eq!(doubt(&[55.0, 900.0], &minute), Some(Doubt::One(0)));
    assert_eq!(doubt(&[65.0, 900.0], &minute), None);
    let half = benches(2, 30.0, 61);
    assert_eq!(doubt(&[55.0, 900.0], &half), Some(Doubt::One(0)));
    assert_eq!(doubt(&[65.0, 900.0], &half), None);
    // Forty intervals or fewer: a plan may begin and end with its rows.
    let few = benches(2, 60.0, 41);
    assert_eq!(doubt(&[100.0, 2390.0], &few), None);
    // But no third edge comes with the last of them.
    assert_eq!(doubt(&[50.0, 1000.0, 2230.0], &few), Some(Doubt::One(2)));
    assert_eq!(doubt(&[50.0, 1000.0, 2210.0], &few), None);
    assert_eq!(
        doubt(&[900.0, 2450.0], &benches(2, 60.0, 42)),
        Some(Doubt::One(1))
    );
    // Nor does it hang on the time of day at which they were taken.
    let mut later = few;
    let times = later.iter_mut().flat_map(|c| &mut c.t_s);
    times.for_each(|t_s| *t_s += 36_000.0);
    assert_eq!(doubt(&[36_100.0, 38_390.0], &later), None);
}

#[test]
fn an_edge_known_poorly_for_another_reason_than_its_lags_is_doubted() {
    let curves = benches(2, 1.0, 1001);
    let doubt = |all: &[(f64, f64)], shares: &[f64]| doubted(&edges(all), shares, &curves);
    // A lone one within 25 s and eight tenths of a row, several within 45 s.
    assert_eq!(doubt(&[(500.0, 26.0)], &[0.0]), Some(Doubt::One(0)));
    assert_eq!(doubt(&[(500.0, 25.6)], &[0.0]), None);
    assert_eq!(doubt(&[(300.0, 45.6), (700.0, 30.0)], &[0.0; 2]), None);
    let worst = doubt(&[(300.0, 46.0), (700.0, 47.0)], &[0.0; 2]);
    assert_eq!(worst, Some(Doubt::One(1)));
    let worst = doubt(&[(300.0, 48.0), (700.0, 47.0)], &[0.0; 2]);
    assert_eq!(worst, Some(Doubt::One(0)));
    // Three quarters of the variance are lag: half of the width is not.
    assert_eq!(doubt(&[(500.0, 51.0)], &[0.75]), None);
    assert_eq!(doubt(&[(500.0, 52.0)], &[0.75]), Some(Doubt::One(0)));
    assert_eq!(doubt(&[(500.0, 1e4)], &[1.5]), None);
    assert_eq!(doubt(&[], &[]), None);
}
