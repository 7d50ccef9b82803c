//! The joint fit: it finds what made the data, its standard uncertainties are those of the Fisher
//! information, and intervals follow them.

#![allow(clippy::float_cmp, reason = "numbers that are handed on as they are")]

use nalgebra::{DMatrix, DVector};

use super::super::choose::fitted;
use super::super::clean::Curve;
use super::super::finish::{MODES, PLAIN, finish};
use super::super::fitted::{Fitted, cost};
use super::super::interval::{edges, freedom};
use super::super::noise::student_975;
use super::super::refine::{Problem, Terms};
use super::super::search::Start;
use super::super::{Kind, LampOptions};
use super::{curve, every, near, newton, normal, rng};

const EDGES_S: [f64; 2] = [120.3, 640.8];
const TAUS_S: [f64; 2] = [400.0, 260.0];
const SD_DEGC: f64 = 0.05;

/// Two samples behind no lag; noise where a seed is given.
fn bench(rows: usize, step_s: f64, seed: Option<u64>) -> Vec<Curve> {
    let t_s = every(step_s, rows);
    let one = |(channel, tau_s): (usize, f64)| {
        let lamp = |t: f64| newton(t - EDGES_S[0], tau_s) - newton(t - EDGES_S[1], tau_s);
        let way = |t: f64| 21.0 + 9.0 * lamp(t) + 0.8 * (-t / tau_s).exp();
        let mut c = curve(channel, &t_s, SD_DEGC, way);
        if let Some(seed) = seed {
            let mut draw = rng(seed + channel as u64);
            c.degc
                .iter_mut()
                .for_each(|y| *y += SD_DEGC * normal(&mut draw));
        }
        c
    };
    TAUS_S.into_iter().enumerate().map(one).collect()
}

fn start(off_by_s: f64) -> Start {
    Start {
        first: Kind::On,
        at_s: EDGES_S.map(|e| e + off_by_s).to_vec(),
        cost: 0.0,
        tau_s: vec![300.0; 2],
    }
}

fn solved(curves: &[Curve], terms: Terms, options: &LampOptions) -> Fitted {
    let (mut problem, values) = Problem::new(curves, &start(6.0), terms, options, 2);
    problem.solve(values).unwrap()
}

#[test]
fn data_without_noise_are_fitted_exactly_behind_any_declared_lag() {
    for (terms, lags) in [(PLAIN, (0.0, 0.0)), (PLAIN, (6.0, 2.0))] {
        let mut curves = bench(450, 2.0, None);
        let options = LampOptions {
            probe_lag_s: Some(vec![lags.0]),
            lamp_lag_s: Some(lags.1),
            ..LampOptions::default()
        };
        let chain = |tau| super::super::response::Chain::new(&[tau, lags.0, lags.1]);
        for (c, tau_s) in curves.iter_mut().zip(TAUS_S) {
            let chain = chain(tau_s);
            let lamp = |t: &f64| chain.step(t - EDGES_S[0]) - chain.step(t - EDGES_S[1]);
            c.degc = c
                .t_s
                .iter()
                .map(|t| 21.0 + 9.0 * lamp(t) + (-t / tau_s).exp())
                .collect();
        }
        let fit = solved(&curves, terms, &options);
        for (at, truth) in fit.at_s().iter().zip(EDGES_S) {
            near(*at, truth, 1e-3);
        }
        for (tau, truth) in fit.tau_s(2).iter().zip(TAUS_S) {
            near(*tau, truth, 0.1);
        }
        assert!(fit.cost < 1e-3, "{}", fit.cost);
        assert_eq!(fit.lags_s, [lags; 2]);
        let (problem, _) = Problem::new(&curves, &start(0.0), terms, &options, 2);
        let left = problem.residuals_degc(&fit.values);
        assert!(left.iter().flatten().all(|r| r.abs() < 1e-3));
    }
}

/// Values and their derivatives by the plain formula: of one sample, by edges, time constant and its
/// three amounts.
fn jacobian(curves: &[Curve]) -> DMatrix<f64> {
    let value = |t: f64, p: &[f64]| {
        let lamp = newton(t - p[0], p[2]) - newton(t - p[1], p[2]);
        p[3] + p[4] * lamp + p[5] * (-t / p[2]).exp()
    };
    let rows: usize = curves.iter().map(|c| c.t_s.len()).sum();
    let mut all = DMatrix::zeros(rows, 10);
    let mut row = 0;
    for (k, (c, tau_s)) in curves.iter().zip(TAUS_S).enumerate() {
        let p = [EDGES_S[0], EDGES_S[1], tau_s, 21.0, 9.0, 0.8];
        for t in &c.t_s {
            for i in 0..6 {
                let (mut up, mut down) = (p, p);
                up[i] += 1e-5;
                down[i] -= 1e-5;
                let place = if i < 2 { i } else { i + 4 * k };
                all[(row, place)] = (value(*t, &up) - value(*t, &down)) / 2e-5 / SD_DEGC;
            }
            row += 1;
        }
    }
    all
}

/// Cramér (1946) and Rao (1945): no unbiased estimate has a smaller variance than the inverse of the Fisher
/// information, which a fit by least squares states as its covariance.
#[test]
fn standard_uncertainties_are_those_of_the_fisher_information() {
    let curves = bench(900, 1.0, None);
    let fit = solved(&curves, PLAIN, &LampOptions::no_lags());
    let j = jacobian(&curves);
    let bound = j.tr_mul(&j).try_inverse().unwrap();
    for (k, _) in EDGES_S.iter().enumerate() {
        let want = bound[(k, k)].sqrt();
        near(fit.u_s(k), want, 0.05 * want);
    }
    assert!(fit.u_s(50).is_nan());
    // And the interval is the quantile's multiple of it.
    let quantile = student_975(freedom(&fit, &curves));
    near(quantile, 1.96, 0.01);
    let (list, shares) = edges(&fit, &curves, &LampOptions::no_lags(), 2);
    assert_eq!(
        list.iter().map(|e| e.edge).collect::<Vec<_>>(),
        [Kind::On, Kind::Off]
    );
    for (k, edge) in list.iter().enumerate() {
        near(edge.at_s, EDGES_S[k], 1e-3);
        for arm in [edge.high_s - edge.at_s, edge.at_s - edge.low_s] {
            near(arm, quantile * fit.u_s(k), 0.12 * quantile * fit.u_s(k));
        }
    }
    assert!(shares.iter().all(|s| *s < 0.25), "{shares:?}");
}

#[test]
fn an_edge_that_the_fit_leaves_open_may_be_anywhere_between_its_neighbours() {
    let curves = bench(450, 2.0, None);
    let options = LampOptions::no_lags();
    let mut fit = solved(&curves, PLAIN, &options);
    let count = fit.values.len();
    fit.covariance[count + 1] = 0.0;
    let (list, shares) = edges(&fit, &curves, &options, 2);
    near(list[1].low_s, list[0].at_s, 1e-6);
    near(list[1].high_s, 898.0, 1e-9);
    assert_eq!(shares[1], 0.0);
    assert!(list[0].high_s - list[0].low_s < 5.0, "{list:?}");
}

#[test]
fn of_few_values_the_profile_is_walked_along_to_the_same_width() {
    let mut curves = bench(60, 15.0, Some(5));
    for c in &mut curves {
        c.inflation = 1.0;
    }
    let fit = solved(&curves, PLAIN, &LampOptions::no_lags());
    let quantile = student_975(freedom(&fit, &curves));
    near(freedom(&fit, &curves), 120.0 - 10.0, 1e-9);
    let (list, _) = edges(&fit, &curves, &LampOptions::no_lags(), 2);
    for (k, edge) in list.iter().enumerate() {
        let both = edge.high_s - edge.low_s;
        near(both, 2.0 * quantile * fit.u_s(k), 0.35 * both);
        assert!(edge.low_s < edge.at_s && edge.at_s < edge.high_s);
    }
}

#[test]
fn an_edge_known_to_a_tenth_of_a_second_is_walked_along_in_steps_as_small() {
    let mut curves = bench(60, 15.0, None);
    for c in &mut curves {
        c.sd_degc = 0.002;
    }
    let fit = solved(&curves, PLAIN, &LampOptions::no_lags());
    let quantile = student_975(freedom(&fit, &curves));
    let (list, _) = edges(&fit, &curves, &LampOptions::no_lags(), 2);
    for (k, edge) in list.iter().enumerate() {
        let want = quantile * fit.u_s(k);
        assert!(want < 0.5, "{want}");
        near(edge.high_s - edge.at_s, want, 0.15 * want);
        near(edge.at_s - edge.low_s, want, 0.15 * want);
    }
}

#[test]
fn all_modes_are_let_in_where_lags_are_open_and_rows_can_bear_them() {
    let terms = |rows, step_s, options: &LampOptions| {
        let curves = bench(rows, step_s, Some(9));
        let choice = fitted(&curves, &start(4.0), PLAIN, options, 2, 2).unwrap();
        finish(&curves, &choice, options, 2).unwrap().fit.terms
    };
    let open = LampOptions::default();
    assert!(terms(100, 9.0, &open).modes && terms(17, 53.0, &open).modes);
    let few = terms(15, 60.0, &open);
    assert!(!few.modes && few.surface && few.drift, "{few:?}");
    let known = LampOptions::no_lags();
    assert!(!terms(100, 9.0, &known).modes);
    let measured = LampOptions {
        probe_lag_s: Some(vec![1.0]),
        probe_lag_u_s: Some(vec![0.5, 0.5]),
        ..known
    };
    assert!(terms(100, 9.0, &measured).modes);
}

#[test]
fn lags_that_are_not_known_widen_the_interval_and_are_its_largest_share() {
    let curves = bench(450, 2.0, Some(3));
    let known = edges(
        &solved(&curves, PLAIN, &LampOptions::no_lags()),
        &curves,
        &LampOptions::no_lags(),
        2,
    );
    let open = LampOptions::default();
    let fit = solved(&curves, PLAIN, &open);
    let (list, shares) = edges(&fit, &curves, &open, 2);
    for (edge, narrow) in list.iter().zip(&known.0) {
        let (wide, narrow) = (edge.high_s - edge.low_s, narrow.high_s - narrow.low_s);
        assert!(wide > 2.0 * narrow && wide > 6.0, "{wide} {narrow}");
    }
    assert!(shares.iter().all(|s| (0.7..=1.0).contains(s)), "{shares:?}");
    // One of the lags measured: more is known, but not all.
    let measured = LampOptions {
        probe_lag_s: Some(vec![0.5, 0.5]),
        probe_lag_u_s: Some(vec![0.1, 0.1]),
        lamp_lag_s: Some(0.0),
        logged: true,
    };
    let fit = solved(&curves, PLAIN, &measured);
    assert!(
        fit.lags_s
            .iter()
            .all(|l| (0.05..1.5).contains(&l.0) && l.1.abs() < 1e-12)
    );
    let (some, _) = edges(&fit, &curves, &measured, 2);
    assert!(some[1].high_s - some[1].low_s < list[1].high_s - list[1].low_s);
}

#[test]
fn parameters_are_counted_as_the_model_has_them() {
    let curves = bench(100, 9.0, Some(7));
    let count = |drift, surface| {
        let terms = Terms {
            drift,
            surface,
            modes: false,
        };
        let fit = solved(&curves, terms, &LampOptions::no_lags());
        (fit.parameters, fit.values.len())
    };
    // Two edges; for each of two samples a time constant, a constant, a beginning and an amount; a
    // drift adds one, a second node a time constant, a beginning and an amount.
    assert_eq!(count(false, false), (2 + 2 * 4, 4));
    assert_eq!(count(true, false), (2 + 2 * 5, 4));
    assert_eq!(count(true, true), (2 + 2 * 8, 6));
    // The lags are no parameters of the count: common, own and the lamp's come behind the others.
    let fit = solved(&curves, PLAIN, &LampOptions::default());
    assert_eq!(
        (fit.parameters, fit.values.len(), fit.first_lag),
        (10, 8, 4)
    );
    let fit = solved(&curves, MODES, &LampOptions::default());
    assert_eq!((fit.values.len(), fit.first_lag), (2 + 5, 2));
}

#[test]
fn a_problem_without_edges_has_no_lags_and_leaves_what_a_line_would() {
    let t_s = every(5.0, 100);
    let curves = [curve(0, &t_s, 0.1, |t| 20.0 + 2.0 * (-t / 120.0).exp())];
    let none = Start {
        first: Kind::On,
        at_s: vec![],
        cost: 0.0,
        tau_s: vec![100.0],
    };
    let (mut problem, values) = Problem::new(&curves, &none, PLAIN, &LampOptions::default(), 1);
    assert_eq!(values.len(), 1);
    let fit = problem.solve(values).unwrap();
    near(fit.tau_s(1)[0], 120.0, 0.1);
    assert_eq!(fit.lags_s[0].0, 0.0);
}

#[test]
fn rounds_of_fitting_measure_the_noise_and_leave_strange_rows_aside() {
    let mut curves = bench(450, 2.0, Some(11));
    for c in &mut curves {
        c.sd_degc = 1.0;
        // A touch of a probe while the lamp burns.
        for (t, y) in c.t_s.iter().zip(&mut c.degc) {
            *y += if (300.0..330.0).contains(t) { 2.0 } else { 0.0 };
        }
    }
    let done = fitted(&curves, &start(4.0), PLAIN, &LampOptions::no_lags(), 2, 3).unwrap();
    for (c, r) in done.curves.iter().zip(&done.residuals_degc) {
        assert!(
            (0.8..1.45).contains(&(c.sd_degc / SD_DEGC)),
            "{}",
            c.sd_degc
        );
        let trust: Vec<f64> = c.trust.iter().take(r.len()).collect();
        assert!(
            c.t_s
                .iter()
                .zip(&trust)
                .all(|(t, w)| !(301.0..329.0).contains(t) || *w < 0.05)
        );
        assert!(trust.iter().filter(|w| **w >= 1.0).count() > 400);
    }
    for (at, truth) in done.fit.at_s().iter().zip(EDGES_S) {
        near(*at, truth, 2.0);
    }
    // Its cost is the residuals' in units of the noise; a tenth of it as rows are trusted less.
    let left = cost(&done.residuals_degc, &done.curves);
    near(done.fit.cost, left, 0.1 * left);
    let values: DVector<f64> = DVector::from_vec(done.residuals_degc[0].clone());
    assert!(
        values.len() == 450 && left > 500.0 && left < 1200.0,
        "{left}"
    );
}
