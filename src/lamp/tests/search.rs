//! The coarse search beside a search by hand: every set of instants fitted by itself.

#![allow(clippy::float_cmp, reason = "numbers that are handed on as they are")]

use super::super::Kind;
use super::super::clean::Curve;
use super::super::project::{dot, fit};
use super::super::response::Chain;
use super::super::search::{Search, Start, limits, spacing, span};
use super::{curve, every, near, newton, normal, rng};

/// Least misfit of one curve with alternating edges at some instants, over some time constants.
fn misfit(curve: &Curve, first: Kind, at_s: &[f64], taus_s: &[f64], drift: bool) -> f64 {
    let weights: Vec<f64> = curve.root_weights().collect();
    let start = curve.t_s[0];
    let column = |value: &dyn Fn(f64) -> f64| -> Vec<f64> {
        let rows = curve.t_s.iter().zip(&weights);
        rows.map(|(t, w)| w * value(*t)).collect()
    };
    let of = |tau_s: &f64| {
        let mut free = vec![column(&|_| 1.0), column(&|t| (-(t - start) / tau_s).exp())];
        if drift {
            free.push(column(&|t| t - start));
        }
        let chain = Chain::new(&[*tau_s, 5.0, 1.6]);
        let lamp = |t: f64| -> f64 {
            let signs = [first.sign(), -first.sign()].into_iter().cycle();
            at_s.iter()
                .zip(signs)
                .map(|(e, s)| s * chain.step(t - e))
                .sum()
        };
        let mut r: Vec<f64> = curve
            .degc
            .iter()
            .zip(&weights)
            .map(|(y, w)| y * w)
            .collect();
        let mut forced = if at_s.is_empty() {
            vec![]
        } else {
            vec![column(&lamp)]
        };
        fit(&mut free, &mut forced, &mut r);
        dot(&r, &r)
    };
    taus_s.iter().map(of).fold(f64::INFINITY, f64::min)
}

/// Two samples with weights that differ from row to row, and edges at some instants.
fn bench(rows: usize, step_s: f64, edges_s: &[f64], first: Kind) -> Vec<Curve> {
    let mut draw = rng(31);
    let t_s = every(step_s, rows);
    let lamp = |t: f64, tau_s: f64| -> f64 {
        let signs = [first.sign(), -first.sign()].into_iter().cycle();
        edges_s
            .iter()
            .zip(signs)
            .map(|(e, s)| s * newton(t - e - 6.0, tau_s))
            .sum()
    };
    let mut all = vec![
        curve(0, &t_s, 0.05, |t| 21.0 + 9.0 * lamp(t, 400.0) + 0.0002 * t),
        curve(1, &t_s, 0.08, |t| {
            20.0 + 6.0 * lamp(t, 250.0) + (-t / 300.0).exp()
        }),
    ];
    for c in &mut all {
        for y in &mut c.degc {
            *y += 0.03 * normal(&mut draw);
        }
        c.trust = (0..rows)
            .map(|i| if i % 5 == 2 { 0.4 } else { 1.0 })
            .collect::<Vec<f64>>()
            .into();
        c.inflation = 1.5;
    }
    all
}

/// The instants that are tried, as the room's documentation has them: even, none at the very ends.
fn grid(curves: &[Curve], count: usize) -> Vec<f64> {
    let (from, to) = limits(curves);
    (1..=count)
        .map(|i| from + (to - from) * i as f64 / (count + 1) as f64)
        .collect()
}

fn best(curves: &[Curve], drift: bool, most: usize) -> Vec<Vec<Start>> {
    Search::new(curves, &[(5.0, 1.6); 2], drift)
        .best(most)
        .collect()
}

#[test]
fn one_edge_and_two_are_the_best_of_all_on_the_grid() {
    // Twelve rows: 48 instants, so that every pair can be fitted by hand.
    let curves = bench(12, 60.0, &[150.0, 430.0], Kind::On);
    let instants = grid(&curves, 48);
    let share = |i: i32| 0.04 * 75.0_f64.powf(f64::from(i) / 5.0) * 660.0;
    let taus: Vec<f64> = (0..6).map(share).collect();
    let by_hand = |first: Kind, at: &[f64]| -> f64 {
        curves
            .iter()
            .map(|c| misfit(c, first, at, &taus, false))
            .sum()
    };
    let found = best(&curves, false, 2);
    assert_eq!(found.len(), 3);
    near(
        found[0][0].cost,
        by_hand(Kind::On, &[]),
        1e-6 * found[0][0].cost,
    );
    let mut lowest = [f64::INFINITY; 2];
    for (i, a) in instants.iter().enumerate() {
        for first in [Kind::On, Kind::Off] {
            lowest[0] = lowest[0].min(by_hand(first, &[*a]));
            for b in &instants[i + 1..] {
                lowest[1] = lowest[1].min(by_hand(first, &[*a, *b]));
            }
        }
    }
    for (starts, lowest) in found[1..].iter().zip(lowest) {
        near(starts[0].cost, lowest, 1e-6 * (1.0 + lowest));
        for start in starts {
            near(
                start.cost,
                by_hand(start.first, &start.at_s),
                1e-6 * (1.0 + start.cost),
            );
        }
    }
}

#[test]
fn two_lessons_are_found_and_each_cost_is_what_its_edges_leave() {
    let truth = [200.0, 600.0, 1100.0, 1500.0];
    for first in [Kind::On, Kind::Off] {
        let curves = bench(190, 10.0, &truth, first);
        let found = best(&curves, true, 5);
        assert_eq!(found.len(), 6);
        for (count, starts) in found.iter().enumerate() {
            for start in starts {
                assert_eq!(start.at_s.len(), count);
                assert!(start.at_s.windows(2).all(|w| w[0] < w[1]), "{start:?}");
                let taus = start.tau_s.iter().zip(&curves);
                let left: f64 = taus
                    .map(|(tau, c)| misfit(c, start.first, &start.at_s, &[*tau], true))
                    .sum();
                near(start.cost, left, 1e-5 * (1.0 + left));
            }
            let sorted = starts.windows(2).all(|w| w[0].cost <= w[1].cost);
            assert!(sorted, "the best first");
        }
        let four = &found[4][0];
        assert_eq!(four.first, first);
        for (at, truth) in four.at_s.iter().zip(truth) {
            near(*at, truth, 40.0);
        }
        // Edge for edge the misfit falls, and four are as many as there are.
        let costs: Vec<f64> = found.iter().map(|starts| starts[0].cost).collect();
        assert!(costs.windows(2).all(|w| w[1] <= w[0] * 1.1), "{costs:?}");
        assert!(
            costs[4] < 0.3 * costs[3] && costs[5] > 0.5 * costs[4],
            "{costs:?}"
        );
    }
}

#[test]
fn a_record_of_hardly_any_rows_has_few_instants() {
    let curves = bench(4, 60.0, &[70.0], Kind::On);
    let instants = grid(&curves, 16);
    let found = best(&curves, false, 1);
    let at = found[1][0].at_s[0];
    assert!(instants.iter().any(|t| (t - at).abs() < 1e-9), "{at}");
}

#[test]
fn limits_and_spacing_are_those_of_all_curves() {
    let early = curve(0, &[10.0, 20.0, 30.0, 40.0], 0.1, |_| 20.0);
    let late = curve(1, &[15.0, 45.0], 0.1, |_| 20.0);
    let both = [early, late];
    assert_eq!(limits(&both), (10.0, 45.0));
    near(span(&both), 35.0, 1e-12);
    near(spacing(&both), 10.0, 1e-12);
}
