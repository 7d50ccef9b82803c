//! Tables by hand: the posterior's parts, and what tables with known instants give.

#![allow(clippy::float_cmp, reason = "numbers that are handed on as they are")]

use nalgebra::DMatrix;

use super::table::quantile;
use super::*;
use crate::lamp::clean::curve as cleaned;
use crate::lamp::evidence::Evidence;
use crate::lamp::find_edges;
use crate::lamp::tests::{every, near, newton};

/// A row each so many seconds, in tenths, of samples under a lamp that burns for a while.
fn table(step_s: f64, rows: usize, on_s: f64, off_s: f64, options: &LampOptions) -> Vec<Curve> {
    let t_s = every(step_s, rows);
    let one = |(channel, rise): (usize, f64)| {
        let lamp = |t: f64| newton(t - on_s - 7.0, 420.0) - newton(t - off_s - 7.0, 420.0);
        let read = |t: &f64| (10.0 * (21.0 + rise * lamp(*t))).round() / 10.0;
        let degc: Vec<f64> = t_s.iter().map(read).collect();
        cleaned(channel, &t_s, &degc, options.logged)
    };
    [12.0, 8.0].into_iter().enumerate().map(one).collect()
}

#[test]
fn instants_between_rows_are_within_the_interval() {
    let options = LampOptions::default();
    for (step_s, rows) in [(120.0, 14), (180.0, 9)] {
        for shift in [0.0, 40.0, 80.0] {
            let (on_s, off_s) = (240.0 + shift, 900.0 + shift);
            let curves = table(step_s, rows, on_s, off_s, &options);
            assert!(are_few(&curves));
            let fit = find(&curves, &options, 2).unwrap();
            let kinds: Vec<Kind> = fit.edges.iter().map(|e| e.edge).collect();
            assert_eq!(kinds, [Kind::On, Kind::Off], "{step_s} {shift}");
            for (edge, truth_s) in fit.edges.iter().zip([on_s, off_s]) {
                assert!(
                    edge.low_s <= truth_s && truth_s <= edge.high_s,
                    "{edge:?} {truth_s}"
                );
                let width_s = edge.high_s - edge.low_s;
                assert!(width_s > 15.0 && width_s < 2.0 * step_s, "{edge:?}");
            }
            assert_eq!(fit.method, Method::Whole);
            assert!(
                fit.noise_degc
                    .iter()
                    .all(|n| n.is_some_and(|n| (0.02..0.4).contains(&n)))
            );
            assert!(fit.lag_share.iter().all(|s| (0.0..=1.0).contains(s)));
        }
    }
}

#[test]
fn a_plan_s_rows_are_likelier_than_what_lies_between() {
    let curves = table(180.0, 9, 180.0, 900.0, &LampOptions::default());
    let table = Table::new(&curves, true);
    let at = |t: f64| {
        table
            .grid
            .at_s
            .iter()
            .position(|at| (at - t).abs() < 1e-6)
            .unwrap()
    };
    // Twelve to a row at most; a row's own instant gets its share of three tenths beside.
    near(table.grid.at_s[at(180.0) + 1] - 180.0, 15.0, 1e-9);
    assert!(table.on[at(180.0)] > 1.5 * table.on[at(180.0) + 6]);
    near(table.on[at(180.0)], table.on[at(180.0) + 1], 1e-12);
    near(table.on[at(180.0) + 6], table.on[at(180.0) + 2], 1e-12);
    let logged = Table::new(&curves, false);
    near(logged.on[at(180.0)], logged.on[at(180.0) + 6], 1e-12);
    for all in [&table.on, &table.off] {
        near(all.iter().sum(), 1.0, 1e-9);
    }
    // Before the first row a fifth; beyond the last one a tenth, and nothing the other way round.
    let before: f64 = table.on.iter().take(7).sum();
    near(before, 0.2, 1e-9);
    near(*table.off.last().unwrap(), 0.1, 1e-12);
    assert!(table.off.iter().take(7).sum::<f64>() == 0.0 && *table.on.last().unwrap() == 0.0);
    near(table.grid.at_s[0], -1800.0, 1e-9);
    near(table.row_s, 180.0, 1e-9);
    // As the first row is written a person switches the lamp on, in three tenths of all cases; a logger does not.
    let by_hand = table.by_hand.as_ref().unwrap();
    near(by_hand.iter().sum(), 1.0, 1e-9);
    for ((at_s, all), share) in table.grid.at_s.iter().zip(by_hand).zip(&table.on) {
        let more = if at_s.abs() <= 15.0 { 0.3 / 3.0 } else { 0.0 };
        near(*all, 0.7 * share + more, 1e-12);
    }
    assert!(logged.by_hand.is_none());
    // Many rows: six instants to each, and never more than some 480.
    let long = Table::new(
        &super::tests::table(120.0, 40, 600.0, 1800.0, &LampOptions::default()),
        false,
    );
    near(long.grid.at_s[8] - long.grid.at_s[7], 20.0, 1e-9);
    // One long pause: no more instants for it.
    let t_s: Vec<f64> = every(60.0, 6)
        .into_iter()
        .chain([1e6, 1e6 + 60.0])
        .collect();
    let paused = [crate::lamp::tests::curve(0, &t_s, 0.1, |t| 20.0 + 1e-6 * t)];
    assert!(Table::new(&paused, false).grid.at_s.len() < 500);
}

#[test]
fn a_flat_posterior_follows_the_prior_over_pairs_a_row_apart() {
    let table = Table::new(
        &table(180.0, 9, 180.0, 900.0, &LampOptions::default()),
        false,
    );
    let n = table.grid.at_s.len();
    let flat = Evidence {
        pairs: DMatrix::zeros(n, n),
        misfit: DMatrix::zeros(n, n),
        without: 0.0,
        misfit_without: 0.0,
        noise_degc: 0.1,
    };
    let posterior = table.posterior(&[flat], &table.on).unwrap();
    near(posterior.ln_evidence, 0.0, 1e-9);
    near(posterior.on.iter().sum(), 1.0, 1e-9);
    near(posterior.off.iter().sum(), 1.0, 1e-9);
    let (mut on, mut all) = (vec![0.0; n], 0.0);
    for (i, on) in on.iter_mut().enumerate() {
        for j in 0..n {
            if table.grid.at_s[j] - table.grid.at_s[i] >= 0.9 * 180.0 {
                *on += table.on[i] * table.off[j];
                all += table.on[i] * table.off[j];
            }
        }
    }
    for (got, want) in posterior.on.iter().zip(on) {
        near(*got, want / all, 1e-9);
    }
    let best = table.on[posterior.top.0] * table.off[posterior.top.1];
    assert!(
        table
            .on
            .iter()
            .zip(&table.off)
            .all(|(a, b)| a * b <= best + 1e-12)
    );
    // Where nothing is possible, nothing is said.
    let none = Evidence {
        pairs: DMatrix::from_element(n, n, f64::NEG_INFINITY),
        misfit: DMatrix::zeros(n, n),
        without: 0.0,
        misfit_without: 0.0,
        noise_degc: 0.1,
    };
    assert!(table.posterior(&[none], &table.on).is_none());
}

#[test]
fn an_edge_is_told_where_more_than_half_of_it_lies_within_the_table() {
    let table = Table::new(
        &table(180.0, 9, 180.0, 900.0, &LampOptions::default()),
        false,
    );
    let n = table.grid.at_s.len();
    // All of it in three cells of 15 s about 600 s.
    let middle = table
        .grid
        .at_s
        .iter()
        .position(|t| (t - 600.0).abs() < 1e-6)
        .unwrap();
    let mut share = vec![0.0; n];
    (share[middle - 1], share[middle], share[middle + 1]) = (0.2, 0.4, 0.2);
    share[n - 1] = 0.2;
    let (edge, u_s) = table.edge(Kind::Off, &share, 0.0).unwrap();
    near(edge.at_s, 600.0, 1e-9);
    // 2.5 % of 0.8: a fifth of the way to the middle of the first cell, and the same from the last.
    near(edge.low_s, 573.0, 1e-9);
    near(edge.high_s, 627.0, 1e-9);
    near(u_s, (edge.high_s - edge.low_s) / 3.92, 1e-9);
    assert_eq!((edge.edge, edge.level), (Kind::Off, 0.95));
    let (wide, same_s) = table.edge(Kind::Off, &share, 10.0).unwrap();
    near(wide.high_s - wide.at_s, 27.0_f64.hypot(19.6), 1e-9);
    near(wide.at_s - wide.low_s, 27.0_f64.hypot(19.6), 1e-9);
    near(same_s, u_s, 1e-12);
    share[middle] = 0.0;
    share[n - 1] = 0.6;
    assert!(table.edge(Kind::Off, &share, 0.0).is_none());
}

#[test]
fn quantiles_go_straight_between_the_middles_of_cells() {
    let cells = [(0.0, 0.25), (10.0, 0.5), (20.0, 0.25)];
    near(quantile(&cells, 0.125), 0.0, 1e-12);
    near(quantile(&cells, 0.3125), 5.0, 1e-12);
    near(quantile(&cells, 0.5), 10.0, 1e-12);
    near(quantile(&cells, 0.6875), 15.0, 1e-12);
    near(quantile(&cells, 0.01), 0.0, 1e-12);
    near(quantile(&cells, 0.99), 20.0, 1e-12);
    assert!(quantile(&[], 0.5).is_nan());
}

#[test]
fn slopes_are_those_on_both_sides_of_a_row() {
    let slopes = slopes(&[0.0, 10.0, 20.0, 40.0], &[20.0, 21.0, 24.0, 24.0]);
    for (got, want) in slopes.iter().zip([0.1, 0.2, 0.15, 0.0]) {
        near(*got, want, 1e-12);
    }
    assert_eq!(super::slopes(&[0.0], &[20.0]), [0.0]);
}

#[test]
fn what_shifts_both_edges_is_known_or_open() {
    let open = LampOptions::default();
    let known = LampOptions {
        probe_lag_s: Some(vec![5.0]),
        lamp_lag_s: Some(1.0),
        ..open.clone()
    };
    let measured = LampOptions {
        probe_lag_u_s: Some(vec![2.0, 1.0]),
        ..known.clone()
    };
    near(beside_s(&known, false), 0.0, 1e-12);
    near(beside_s(&known, true), 4.0, 1e-12);
    near(beside_s(&measured, false), 2.0, 1e-12);
    near(
        beside_s(&open, false),
        (9.0_f64 + 1.5 * 1.5 + 1.5 * 1.5).sqrt(),
        1e-9,
    );
    let curves = table(180.0, 9, 180.0, 900.0, &open);
    for (c, reader_s) in curves.iter().zip([4.0, 7.0]) {
        let late = late(c, &open, 2, true);
        assert_eq!((late.lags_s, late.reader_s), ([5.4, 1.6], reader_s));
        assert_eq!(super::late(c, &known, 2, false).lags_s, [5.0, 1.0]);
        assert_eq!(super::late(c, &known, 2, false).reader_s, 0.0);
    }
}

#[test]
fn a_table_of_four_rows_is_not_for_here_and_a_step_of_the_room_is_no_lamp() {
    let options = LampOptions::default();
    let four = table(180.0, 4, 180.0, 400.0, &options);
    assert!(!are_few(&four));
    let t_s = every(120.0, 36);
    let step = |t: &f64| if *t > 2000.0 { 21.1 } else { 21.0 };
    let still: Vec<f64> = t_s.iter().map(step).collect();
    let fit = find(&[cleaned(0, &t_s, &still, false)], &options, 1).unwrap();
    assert_eq!((fit.edges.len(), fit.method), (0, Method::NoEdge));
}

/// A row a minute, in tenths, of two bodies of two nodes under a lamp that burns again and again.
fn lessons(on_s: &[f64], lit_s: f64, rows: usize) -> Vec<Curve> {
    let t_s = every(60.0, rows);
    let one = |(channel, rise): (usize, f64)| {
        let body = |t: f64| 0.7 * newton(t - 6.0, 500.0) + 0.3 * newton(t - 6.0, 60.0);
        let lit = |t: f64| {
            on_s.iter()
                .map(|on| body(t - on) - body(t - on - lit_s))
                .sum()
        };
        let read = |t: &f64| -> f64 {
            let lamp: f64 = lit(*t);
            (10.0 * (21.0 + rise * lamp)).round() / 10.0
        };
        let degc: Vec<f64> = t_s.iter().map(read).collect();
        cleaned(channel, &t_s, &degc, true)
    };
    [6.0, 4.0].into_iter().enumerate().map(one).collect()
}

#[test]
fn two_lessons_and_three_have_all_their_edges() {
    let options = LampOptions {
        logged: true,
        ..LampOptions::default()
    };
    let three = [120.0, 485.0, 845.0];
    for (on_s, rows) in [(&three[..2], 15), (&three[..], 22)] {
        let curves = lessons(on_s, 180.0, rows);
        let fit = find_several(&curves, &options, 2).unwrap();
        let truth = on_s.iter().flat_map(|on| [*on, on + 180.0]);
        assert_eq!(fit.edges.len(), 2 * on_s.len());
        for ((edge, truth_s), kind) in fit
            .edges
            .iter()
            .zip(truth)
            .zip([Kind::On, Kind::Off].iter().cycle())
        {
            assert_eq!(edge.edge, *kind);
            assert!(
                edge.low_s <= truth_s && truth_s <= edge.high_s,
                "{edge:?} {truth_s}"
            );
            assert!(edge.high_s - edge.low_s < 90.0, "{edge:?}");
        }
        let alone = find_one(&curves, &options, 2);
        assert!(alone.is_none_or(|fit| fit.edges.is_empty()));
    }
}

#[test]
fn one_lesson_is_not_cut_in_two_and_a_windy_room_has_none() {
    let options = LampOptions {
        logged: true,
        ..LampOptions::default()
    };
    let one = lessons(&[240.0], 600.0, 30);
    let several = find_several(&one, &options, 2);
    assert!(several.is_none(), "{several:?}");
    let t_s = every(60.0, 30);
    let windy = |channel: usize| {
        let way = |t: &f64| 21.0 + 0.6 * (t / 130.0).sin() + 0.4 * (t / 71.0).cos();
        let degc: Vec<f64> = t_s.iter().map(|t| (10.0 * way(t)).round() / 10.0).collect();
        cleaned(channel, &t_s, &degc, true)
    };
    let several = find_several(&[windy(0), windy(1)], &options, 2);
    assert!(several.is_none(), "{several:?}");
}

#[test]
fn a_table_whose_one_sample_goes_another_way_shows_no_one_heating() {
    let options = LampOptions::default();
    let t_s = every(120.0, 30);
    let lesson = |t: f64, on: f64| newton(t - on, 420.0) - newton(t - on - 600.0, 420.0);
    let found = |again: f64| {
        let one = |(channel, again): (usize, f64)| {
            let way = |t: &f64| 21.0 + 12.0 * (lesson(*t, 240.0) + again * lesson(*t, 2280.0));
            let degc: Vec<f64> = t_s.iter().map(|t| (10.0 * way(t)).round() / 10.0).collect();
            cleaned(channel, &t_s, &degc, false)
        };
        find(
            &[0.0, again]
                .into_iter()
                .enumerate()
                .map(one)
                .collect::<Vec<_>>(),
            &options,
            2,
        )
    };
    assert_eq!(found(0.0).map(|fit| fit.edges.len()), Some(2));
    // Warmed once more, as the other one was not.
    assert!(found(1.0).is_none());
}

/// Rows half a minute apart in steps of half a degree, of samples under a lamp lit as the first row is written.
fn half_minutes(rows: usize, off_s: f64) -> (Vec<f64>, [Vec<f64>; 2]) {
    let t_s = every(30.0, rows);
    let of = |rise: f64| -> Vec<f64> {
        let lamp = |t: f64| newton(t - 8.0, 400.0) - newton(t - off_s - 8.0, 400.0);
        let read = |t: &f64| (2.0 * (20.0 + rise * lamp(*t))).round() / 2.0;
        t_s.iter().map(read).collect()
    };
    let both = [of(16.0), of(10.0)];
    (t_s, both)
}

#[test]
fn a_lamp_lit_with_the_first_of_rows_half_a_minute_apart_is_told() {
    for (rows, off_s) in [(20, 302.0), (41, 601.0), (60, 901.0)] {
        let (t_s, [slate, moss]) = half_minutes(rows, off_s);
        let fit = find_edges(&t_s, &[&slate, &moss], &LampOptions::default());
        let kinds: Vec<Kind> = fit.edges.iter().map(|e| e.edge).collect();
        assert_eq!(kinds, [Kind::On, Kind::Off], "{rows}");
        for (edge, truth_s) in fit.edges.iter().zip([0.0, off_s]) {
            let holds = edge.low_s <= truth_s && truth_s <= edge.high_s;
            assert!(holds && (edge.at_s - truth_s).abs() < 15.0, "{edge:?}");
        }
    }
}

#[test]
fn a_slow_drift_in_many_rows_by_hand_is_no_lamp() {
    let t_s = every(30.0, 60);
    let read = |t: &f64| (2.0 * (20.0 + t / 900.0)).round() / 2.0;
    let degc: Vec<f64> = t_s.iter().map(read).collect();
    let fit = find_edges(&t_s, &[&degc, &degc], &LampOptions::default());
    assert!(fit.edges.is_empty(), "{:?}", fit.edges);
}
