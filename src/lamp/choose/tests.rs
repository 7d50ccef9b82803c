//! The contest between numbers of edges: what a further one must gain, and models without what is in doubt.

#![allow(clippy::float_cmp, reason = "numbers that are handed on as they are")]

use super::*;
use crate::lamp::finish::PLAIN;
use crate::lamp::tests::{curve, every, near, newton, normal, rng};

/// A model of so many edges that leaves `left`, a sum of squares in units of the noise, in a hundred rows.
fn model(edges: usize, first: Kind, left: f64, inflation: f64) -> Candidate {
    let mut one = curve(0, &every(1.0, 100), 1.0, |_| 20.0);
    one.inflation = inflation;
    let values: Vec<f64> = every(20.0, edges);
    Candidate {
        fit: Fitted {
            first,
            terms: PLAIN,
            edges,
            cost: left,
            parameters: 3 + edges,
            covariance: vec![0.0; edges * edges],
            first_lag: edges,
            lags_s: vec![(5.0, 1.6)],
            values,
        },
        residuals_degc: vec![vec![(left * inflation / 100.0).sqrt(); 100]],
        curves: vec![one],
    }
}

#[test]
fn each_further_edge_gains_three_logarithms_of_the_rows_that_count() {
    use Kind::{Off, On};
    let curves = [curve(0, &every(1.0, 100), 1.0, |_| 20.0)];
    let options = LampOptions::default();
    let choice = Choice::new(&curves, &options, 1);
    // From so many edges to so many, and the price: the first of all costs the curve's step besides; to a lamp that
    // went off belongs one that went on.
    for (now, trial, price) in [
        ((0, On), (1, On), 4.0),
        ((0, On), (2, On), 7.0),
        ((1, On), (2, On), 3.0),
        ((1, Off), (2, On), 1.0),
        ((1, Off), (2, Off), 3.0),
        ((1, Off), (3, On), 6.0),
        ((2, On), (4, On), 6.0),
    ] {
        let more = trial.0 - now.0;
        for inflation in [1.0, 4.0] {
            let due = price * f64::ln(100.0 / inflation);
            for (gain, wins) in [(0.99 * due, false), (1.01 * due, true)] {
                let now = model(now.0, now.1, 90.0 + gain, inflation);
                let trial = model(trial.0, trial.1, 90.0, inflation);
                assert_eq!(choice.beats(&trial, &now, more), wins, "{more}: {price}");
            }
        }
    }
}

/// One sample under a lamp that goes on and off at some instants, a row each five seconds, and what is left of a model
/// that has others.
fn left(first: Kind, truth: &[f64], begin_s: &[f64], doubt: Doubt) -> Option<Candidate> {
    let mut draw = rng(41);
    let signs = || [first.sign(), -first.sign()].into_iter().cycle();
    let lit = if first == Kind::Off { 10.0 } else { 0.0 };
    let lamp = |t: f64| -> f64 {
        let edges = truth.iter().zip(signs());
        edges.map(|(e, sign)| sign * newton(t - e, 300.0)).sum()
    };
    let mut one = curve(0, &every(5.0, 290), 0.04, |t| 21.0 + lit + 10.0 * lamp(t));
    let rows = one.degc.iter_mut();
    rows.for_each(|y| *y += 0.04 * normal(&mut draw));
    let options = LampOptions::no_lags();
    let choice = Choice::new(&[one], &options, 1);
    let begins = if begin_s.first() < truth.first() {
        first.other()
    } else {
        first
    };
    let mut winner = model(begin_s.len(), begins, 290.0, 1.0);
    winner.fit.values = begin_s.iter().copied().chain([f64::ln(300.0)]).collect();
    choice.without(&winner, doubt)
}

#[test]
fn without_what_is_doubted_the_other_edges_stay_as_they_were() {
    use Kind::{Off, On};
    // One that comes before all others, one behind them, and two that lie between.
    for (first, truth, begin_s, doubt) in [
        (
            Off,
            &[400.0, 900.0][..],
            &[20.0, 400.0, 900.0][..],
            Doubt::One(0),
        ),
        (On, &[150.0, 500.0], &[150.0, 500.0, 1400.0], Doubt::One(2)),
        (
            On,
            &[150.0, 900.0],
            &[150.0, 500.0, 560.0, 900.0],
            Doubt::Pair(1),
        ),
    ] {
        let less = left(first, truth, begin_s, doubt).unwrap();
        assert_eq!((less.fit.first, less.fit.edges), (first, 2), "{doubt:?}");
        for (at_s, truth_s) in less.fit.at_s().iter().zip(truth) {
            near(*at_s, *truth_s, 3.0);
        }
    }
    // Edges alternate: one alone cannot be taken from amid others.
    let amid = left(On, &[150.0, 500.0], &[150.0, 500.0, 1400.0], Doubt::One(1));
    assert!(amid.is_none());
}
