//! The evidence beside the same worked out pair by pair, with the full matrix of variances.

#![allow(clippy::float_cmp, reason = "numbers that are handed on as they are")]

use super::*;
use crate::lamp::tests::{curve, near, newton};

/// A table in tenths under a lamp that burns from 200 s to 800 s.
fn table_by_hand() -> Curve {
    let t_s: Vec<f64> = (0..9).map(|i| 150.0 * f64::from(i)).collect();
    curve(0, &t_s, 0.1, |t| {
        let y = 21.0 + 9.0 * (newton(t - 210.0, 400.0) - newton(t - 810.0, 400.0));
        (10.0 * y).round() / 10.0
    })
}

const LATE: Late = Late {
    lags_s: [5.4, 1.6],
    reader_s: 4.0,
};

fn grid() -> Grid {
    let mut at_s: Vec<f64> = (-1..13).map(|i| 100.0 * f64::from(i)).collect();
    at_s.push(f64::INFINITY);
    Grid { at_s }
}

/// Covariance of two rows with a lamp, by the kernel's parts (a Gaussian process; Rasmussen and
/// Williams, Gaussian Processes for Machine Learning, 2006, section 4.2).
fn covariance(curve: &Curve, range_degc: f64, tau_s: f64, reader_s: f64) -> DMatrix<f64> {
    let slopes = slopes(&curve.t_s, &curve.degc);
    let span_s = curve.t_s[8];
    DMatrix::from_fn(9, 9, |i, j| {
        let (a, b) = (curve.t_s[i], curve.t_s[j]);
        let drift = (1.5 / 3600.0_f64).powi(2) * a * b;
        let wander = 0.01 * (-(a - b).abs() / 1800.0).exp();
        let before = (-(a + b) / tau_s).exp();
        let share = if reader_s > 0.0 { 0.03 } else { 0.05 };
        let unlike = (share * range_degc).powi(2) * (-(a - b).abs() / (0.2 * span_s)).exp();
        // Tenths, as a person reads them: half a step, and three seconds of the slope.
        let own = 0.03_f64.powi(2) + 0.05_f64.powi(2) + (reader_s * slopes[i]).powi(2);
        1e4 + drift + wander + before + unlike + if i == j { own } else { 0.0 }
    })
}

/// Likelihood of data with variances known but for their common scale, which has an inverse gamma
/// prior: Student's distribution of many variates (as for a Bayesian linear model).
fn student(variances: &DMatrix<f64>, data: &DVector<f64>) -> f64 {
    let lu = variances.clone().lu();
    let misfit = data.dot(&lu.solve(data).unwrap());
    -0.5 * lu.determinant().ln() - (3.0 + 4.5) * (1.0 + misfit / 6.0).ln()
}

#[test]
fn every_pair_has_the_mean_likelihood_over_all_shapes() {
    let (curve, grid) = (table_by_hand(), grid());
    let evidence = Shaped::new(&curve, &grid, LATE).alone();
    let mean = curve.degc.iter().sum::<f64>() / 9.0;
    let data = DVector::from_iterator(9, curve.degc.iter().map(|y| y - mean));
    let range = data.max() - data.min();
    let shapes = shapes(1200.0);
    assert_eq!(shapes.iter().filter(|s| s.len() == 1).count(), 12);
    assert!(
        shapes
            .iter()
            .all(|s| (s.iter().map(|p| p.0).sum::<f64>() - 1.0).abs() < 1e-12)
    );
    near(shapes[0][0].1, 60.0, 1e-9);
    near(shapes[shapes.len() - 1][0].1, 4800.0, 1e-6);
    // Each fast node is at most a third as slow as the slow one, with two shares.
    let with = |fast: f64| {
        shapes
            .iter()
            .filter(move |s| s.get(1).is_some_and(|p| (p.1 - fast).abs() < 1e-9))
    };
    assert!(with(180.0).all(|s| s[0].1 > 540.0) && with(12.0).count() == 24);
    let response = |shape: &Shape, at: f64| {
        let rows = curve.t_s.iter().map(|t| {
            let one = |(share, tau): &(f64, f64)| {
                share * Chain::new(&[*tau, 5.4, 1.6]).step(t - at + 4.0)
            };
            if at.is_finite() {
                shape.iter().map(one).sum()
            } else {
                0.0
            }
        });
        DVector::from_iterator(9, rows)
    };
    let mut seen = 0;
    for (i, j) in [(1, 5), (3, 9), (2, 14), (0, 9), (5, 11), (3, 4), (8, 12)] {
        let each = shapes.iter().filter_map(|shape| {
            let x = response(shape, grid.at_s[i]) - response(shape, grid.at_s[j]);
            let ground = covariance(&curve, range, shape[0].1, 3.0);
            // The lamp's effect has the sign of a lamp: half of the prior, twice as high.
            let along = x.dot(&ground.clone().lu().solve(&data).unwrap());
            let with = &ground + 400.0 * &x * x.transpose();
            (along > 0.0).then(|| std::f64::consts::LN_2 + student(&with, &data))
        });
        let each: Vec<f64> = each.collect();
        let top = each.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let sum: f64 = each.iter().map(|ln| (ln - top).exp()).sum();
        let want = top + (sum / shapes.len() as f64).ln();
        if want.is_finite() {
            near(evidence.pairs[(i, j)], want, 1e-3 * want.abs());
            seen += 1;
        } else {
            assert!(evidence.pairs[(i, j)].is_infinite());
        }
    }
    assert!(seen >= 5, "{seen}");
    // An edge cannot end before it begins.
    assert!(evidence.pairs[(5, 3)].is_infinite() && evidence.pairs[(5, 5)].is_infinite());
    let best = evidence
        .pairs
        .iter()
        .copied()
        .fold(f64::NEG_INFINITY, f64::max);
    assert!(evidence.pairs[(3, 9)] > best - 3.0);
    assert!(best > evidence.without + 8.0, "{best} {}", evidence.without);
    near(evidence.noise_degc, 0.03_f64.hypot(0.05), 1e-12);
    assert!(
        evidence.misfit[(3, 9)] < 1.5 && evidence.misfit[(9, 12)] > 2.0 * evidence.misfit[(3, 9)]
    );
}

#[test]
fn without_a_lamp_the_background_alone_is_judged() {
    let curve = table_by_hand();
    let ground = Ground::new(&curve, LATE);
    near(ground.span_s, 1200.0, 1e-9);
    let want = covariance(&curve, ground.range_degc, 400.0, 3.0);
    let root = ground.whitener(400.0, true).unwrap();
    for (got, want) in (&root * root.transpose()).iter().zip(want.iter()) {
        near(*got, *want, 1e-7);
    }
    // A logger is on time: no more than resolution and reading are its noise.
    let logged = Ground::new(
        &curve,
        Late {
            reader_s: 0.0,
            ..LATE
        },
    );
    let root = logged.whitener(400.0, true).unwrap();
    let want = covariance(&curve, ground.range_degc, 400.0, 0.0);
    near((&root * root.transpose())[(3, 3)], want[(3, 3)], 1e-7);
    // Brought in: six degrees off instead of one, and nothing unlike a lamp's shape.
    let root = ground.whitener(400.0, false).unwrap();
    let all = &root * root.transpose();
    let more = |i: usize, j: usize| {
        let (a, b) = (curve.t_s[i], curve.t_s[j]);
        let unlike = (0.03 * ground.range_degc).powi(2) * (-(a - b).abs() / 240.0).exp();
        35.0 * (-(a + b) / 400.0).exp() - unlike
    };
    let with = covariance(&curve, ground.range_degc, 400.0, 3.0);
    for (i, j) in [(0, 0), (0, 3), (2, 2), (4, 1)] {
        near(all[(i, j)], with[(i, j)] + more(i, j), 1e-6);
    }
    let (ln, misfit) = ground.bare(&root);
    near(ln, student(&all, &ground.data), 1e-3);
    let solved = all.lu().solve(&ground.data).unwrap();
    near(misfit, ground.data.dot(&solved) / 9.0, 1e-4 * misfit);
}

#[test]
fn without_a_lamp_samples_settle_or_the_room_goes_its_smooth_way() {
    let curve = table_by_hand();
    let ground = Ground::new(&curve, LATE);
    let shapes = shapes(ground.span_s);
    let of = |more: &dyn Fn(f64, f64) -> f64| {
        let rows = |i: usize, j: usize| {
            let (a, b) = (curve.t_s[i], curve.t_s[j]);
            ground.common[(i, j)] + more(a, b)
        };
        student(&DMatrix::from_fn(9, 9, rows), &ground.data)
    };
    let slow = shapes.iter().filter(|shape| shape.len() == 1);
    let mut all: Vec<f64> = slow
        .map(|shape| of(&|a, b| 36.0 * (-(a + b) / shape[0].1).exp()))
        .collect();
    for share in [0.15, 0.3, 0.6] {
        let wide_s = share * 1200.0;
        all.push(of(&|a, b| (-0.5 * ((a - b) / wide_s).powi(2)).exp()));
    }
    let top = all.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let sum: f64 = all.iter().map(|ln| (ln - top).exp()).sum();
    let want = top + (sum / all.len() as f64).ln();
    near(ground.without(&shapes).0, want, 1e-3 * want.abs());
}

#[test]
fn a_smooth_table_needs_no_lamp() {
    let t_s: Vec<f64> = (0..9).map(|i| 150.0 * f64::from(i)).collect();
    for (name, way) in [
        (
            "settles",
            Box::new(|t: f64| 15.0 + 6.0 * newton(t, 500.0)) as Box<dyn Fn(f64) -> f64>,
        ),
        ("afternoon", Box::new(|t: f64| 22.0 + (t / 500.0).sin())),
        ("still", Box::new(|_| 21.0)),
    ] {
        let smooth = curve(0, &t_s, 0.1, |t| (10.0 * way(t)).round() / 10.0);
        let evidence = Shaped::new(&smooth, &grid(), LATE).alone();
        let best = evidence
            .pairs
            .iter()
            .copied()
            .fold(f64::NEG_INFINITY, f64::max);
        assert!(
            best < evidence.without + 4.0,
            "{name}: {best} {}",
            evidence.without
        );
        assert!(
            evidence.misfit_without < 3.0,
            "{name}: {}",
            evidence.misfit_without
        );
    }
}

#[test]
fn four_edges_are_as_likely_from_whichever_two_they_are_asked() {
    let (curve, grid) = (table_by_hand(), grid());
    let shaped = Shaped::new(&curve, &grid, LATE);
    let alone = shaped.alone().pairs;
    let nothing = shaped.beside(0..grid.at_s.len(), &[]).pairs;
    assert!(alone.iter().zip(nothing.iter()).all(|(a, b)| a == b));
    // On at place 2, off at 5, on at 7, off at 11: the rows say the same about both heatings.
    let first = shaped.beside(0..6, &[(Kind::On, 7), (Kind::Off, 11)]);
    let second = shaped.beside(6..13, &[(Kind::On, 2), (Kind::Off, 5)]);
    near(first.pairs[(2, 5)], second.pairs[(1, 5)], 1e-9);
    near(first.misfit[(2, 5)], second.misfit[(1, 5)], 1e-9);
    // A lamp that is off at once and on again at once has not been off.
    let whole = shaped.beside(0..13, &[(Kind::Off, 6), (Kind::On, 6)]).pairs;
    near(whole[(3, 9)], alone[(3, 9)], 1e-9);
    assert_eq!(first.without, second.without);
}
