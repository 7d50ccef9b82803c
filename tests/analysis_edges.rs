//! The lamp's edges on simulated benches (all data invented), from the outside of the library.
//!
//! The limits are wide, so that few runs suffice; `cargo bench --bench lamp_study` prints the
//! numbers themselves.

#[path = "bench_model/mod.rs"]
mod bench_model;

use bench_model::bound::{Known, bounds_s};
use bench_model::{Bench, Record, newton, rng, run};
use duskmark::lamp::{Edge, Kind, LampOptions, Method, Watcher, find_edges};
use proptest::prelude::*;

/// Fewer runs where the compiler did not optimise.
fn runs(optimised: u64, plain: u64) -> u64 {
    if cfg!(debug_assertions) {
        plain
    } else {
        optimised
    }
}

fn off(edges: &[Edge]) -> Option<Edge> {
    edges.iter().copied().find(|e| e.edge == Kind::Off)
}

#[test]
fn on_clean_data_the_error_is_close_to_the_bound_and_the_interval_covers() {
    let count = runs(60, 4);
    let (mut square, mut covered) = (0.0, 0);
    for seed in 0..count {
        let record = newton::record(&mut rng(seed));
        let fit = find_edges(&record.t_s, &record.columns(), &LampOptions::no_lags());
        assert_eq!(fit.edges.len(), 2, "seed {seed}: {:?}", fit.edges);
        let edge = off(&fit.edges).unwrap();
        square += (edge.at_s - newton::OFF_S).powi(2);
        covered += u64::from(edge.low_s <= newton::OFF_S && newton::OFF_S <= edge.high_s);
    }
    let ratio = (square / count as f64).sqrt() / newton::bound_s();
    let (ratio_limit, covered_limit) = if count > 50 { (1.3, 0.85) } else { (2.0, 0.5) };
    assert!(ratio < ratio_limit, "rms over bound {ratio:.3}");
    assert!(
        covered as f64 >= covered_limit * count as f64,
        "covered {covered} of {count}"
    );
}

#[test]
fn on_bench_data_errors_are_seconds_and_the_interval_covers() {
    let count = runs(40, 4);
    let mut errors = Vec::new();
    let mut covered = 0;
    for seed in 0..count {
        let mut draw = rng(seed);
        let record = run(&Bench::lesson(&mut draw), &mut draw);
        let fit = find_edges(&record.t_s, &record.columns(), &LampOptions::default());
        let edge = off(&fit.edges);
        errors.push(edge.map_or(1e9, |e| (e.at_s - record.off_s).abs()));
        covered +=
            u64::from(edge.is_some_and(|e| e.low_s <= record.off_s && record.off_s <= e.high_s));
    }
    errors.sort_by(f64::total_cmp);
    assert!(errors[errors.len() / 2] < 2.5, "{errors:?}");
    assert!(errors[errors.len() * 9 / 10] < 20.0, "{errors:?}");
    assert!(
        covered as f64 > 0.8 * count as f64,
        "covered {covered} of {count}"
    );
}

#[test]
fn hand_timed_rows_get_an_interval_of_many_seconds_that_covers() {
    let count = runs(60, 10);
    let mut covered = 0;
    for seed in 0..count {
        let mut draw = rng(seed);
        let bench = Bench {
            every_s: 180.0,
            step_degc: 0.1,
            settle_s: 400.0,
            heat_s: 1100.0,
            cool_s: 1100.0,
            spikes: 0.0,
            touch: false,
            gap: false,
            ..Bench::lesson(&mut draw)
        };
        let record = run(&bench, &mut draw);
        let fit = find_edges(&record.t_s, &record.columns(), &LampOptions::default());
        let Some(edge) = off(&fit.edges) else {
            continue;
        };
        assert!(edge.high_s - edge.low_s > 4.0, "seed {seed}: {edge:?}");
        covered += u64::from(edge.low_s <= record.off_s && record.off_s <= edge.high_s);
    }
    assert!(
        covered as f64 >= 0.85 * count as f64,
        "covered {covered} of {count}"
    );
}

#[test]
fn steady_and_drifting_records_have_no_edge() {
    for seed in 0..runs(30, 2) {
        let mut draw = rng(seed);
        let bench = Bench {
            power: 0.0,
            ..Bench::lesson(&mut draw)
        };
        let record = run(&bench, &mut draw);
        let fit = find_edges(&record.t_s, &record.columns(), &LampOptions::default());
        assert_eq!(fit.edges, [], "seed {seed}");
    }
}

#[test]
fn smooth_days_and_nights_have_no_sharp_edge() {
    let t: Vec<f64> = (0..4320).map(|i| 60.0 * f64::from(i)).collect();
    let mut draw = rng(5);
    let y: Vec<f64> = t
        .iter()
        .map(|t| {
            18.0 + 6.0 * (t / 86_400.0 * std::f64::consts::TAU).sin()
                + 0.05 * bench_model::normal(&mut draw)
        })
        .collect();
    let fit = find_edges(&t, &[&y], &LampOptions::default());
    assert_eq!(fit.edges, []);
    assert_eq!(fit.method, Method::NoEdge);
}

#[test]
fn a_fortnight_under_a_timer_gives_every_edge() {
    let t: Vec<f64> = (0..20_160).map(|i| 60.0 * f64::from(i)).collect();
    let mut draw = rng(6);
    let mut degc = 18.0_f64;
    let y: Vec<f64> = t
        .iter()
        .map(|t| {
            let hour = (t / 3600.0).rem_euclid(24.0);
            let lit = f64::from((7.5..19.25).contains(&hour));
            degc += ((18.0 + 12.0 * lit) - degc) * (1.0 - (-60.0_f64 / 2400.0).exp());
            degc + 0.05 * bench_model::normal(&mut draw)
        })
        .collect();
    let fit = find_edges(&t, &[&y], &LampOptions::no_lags());
    assert_eq!(fit.edges.len(), 28, "{:?}", fit.edges);
    assert_eq!(fit.method, Method::Pieces);
    for (i, edge) in fit.edges.iter().enumerate() {
        let hour = if i % 2 == 0 { 7.5 } else { 19.25 };
        let truth = ((i / 2) as f64 * 24.0 + hour) * 3600.0;
        // The simulated lamp switches between two rows of a minute.
        assert!((edge.at_s - truth).abs() < 90.0, "{i}: {edge:?} {truth}");
    }
}

/// What is known, how fine the readings are and how many there are tells.
#[test]
fn the_bound_of_a_lesson_grows_with_what_is_unknown() {
    for seed in 0..4 {
        let of = |every_s: f64, step_degc: f64, known: Known| {
            let mut draw = rng(seed);
            let bench = Bench {
                every_s,
                step_degc,
                ..Bench::lesson(&mut draw)
            };
            bounds_s(&run(&bench, &mut draw), known).unwrap()[1]
        };
        let least = of(5.0, 0.0, Known::Everything);
        assert!((0.2..6.0).contains(&least), "seed {seed}: {least}");
        assert!(least < of(5.0, 0.0, Known::Lags), "seed {seed}");
        assert!(least < of(5.0, 0.2, Known::Everything), "seed {seed}");
        assert!(least < of(60.0, 0.0, Known::Everything), "seed {seed}");
    }
}

fn short_lesson(seed: u64) -> Record {
    let mut draw = rng(seed);
    let bench = Bench {
        every_s: 5.0,
        ..Bench::lesson(&mut draw)
    };
    run(&bench, &mut draw)
}

#[test]
fn a_dead_channel_changes_nothing() {
    let record = short_lesson(7);
    let dead = vec![f64::NAN; record.t_s.len()];
    let constant = vec![85.0; record.t_s.len()];
    let mut columns = record.columns();
    let fit = find_edges(&record.t_s, &columns, &LampOptions::default());
    columns.push(&dead);
    columns.push(&constant);
    let more = find_edges(&record.t_s, &columns, &LampOptions::default());
    assert_eq!(fit.edges, more.edges);
    assert_eq!(more.noise_degc[2..], [None, None]);
}

#[test]
fn a_record_that_begins_with_the_lamp_on_has_one_edge() {
    let record = newton::record(&mut rng(1));
    let from = 200;
    let columns: Vec<&[f64]> = record.channels.iter().map(|c| &c[from..]).collect();
    let fit = find_edges(&record.t_s[from..], &columns, &LampOptions::no_lags());
    assert_eq!(fit.edges.len(), 1);
    assert_eq!(fit.edges[0].edge, Kind::Off);
    assert!((fit.edges[0].at_s - newton::OFF_S).abs() < 2.0);
}

#[test]
fn two_lessons_in_one_record_have_four_edges() {
    let mut draw = rng(8);
    let truth = [200.0, 700.0, 1500.0, 1900.0];
    let t: Vec<f64> = (0..2600).map(f64::from).collect();
    let step = |u: f64| {
        if u > 0.0 {
            1.0 - (-u / 350.0).exp()
        } else {
            0.0
        }
    };
    let y: Vec<f64> = t
        .iter()
        .map(|t| {
            let mut sign = 1.0;
            let mut sum = 21.0 + 0.05 * bench_model::normal(&mut draw);
            for e in truth {
                sum += sign * 15.0 * step(t - e);
                sign = -sign;
            }
            sum
        })
        .collect();
    let fit = find_edges(&t, &[&y], &LampOptions::no_lags());
    assert_eq!(fit.edges.len(), 4, "{:?}", fit.edges);
    for (edge, truth) in fit.edges.iter().zip(truth) {
        assert!((edge.at_s - truth).abs() < 2.0, "{edge:?} {truth}");
    }
}

#[test]
fn tables_of_three_to_eight_rows_get_an_answer() {
    for rows in 3..=8 {
        let t: Vec<f64> = (0..rows).map(|i| 180.0 * f64::from(i)).collect();
        let y: Vec<f64> = t
            .iter()
            .map(|t| {
                let up = 21.0 + 15.0 * (1.0 - (-t / 400.0).exp());
                let down = 15.0 * (1.0 - (-(t - 600.0).max(0.0) / 400.0).exp());
                ((up - down) * 10.0).round() / 10.0
            })
            .collect();
        let fit = find_edges(&t, &[&y], &LampOptions::default());
        assert!(fit.edges.len() <= 2, "{rows}: {:?}", fit.edges);
        for e in &fit.edges {
            assert!(
                e.low_s <= e.at_s && e.at_s <= e.high_s && e.high_s - e.low_s > 4.0,
                "{rows}: {e:?}"
            );
        }
    }
}

#[test]
fn the_watcher_notices_both_edges_of_most_lessons_in_time() {
    let (mut hits, mut wrong) = (0, 0);
    for seed in 0..20 {
        let mut draw = rng(seed);
        let bench = Bench {
            every_s: 1.0,
            touch: false,
            gap: false,
            settle_s: 120.0,
            ..Bench::lesson(&mut draw)
        };
        let record = run(&bench, &mut draw);
        let mut watcher = Watcher::new(3, &LampOptions::default());
        for (i, &t) in record.t_s.iter().enumerate() {
            let row = [record.channels[0][i], f64::NAN, record.channels[1][i]];
            if let Some(seen) = watcher.push(t, &row) {
                let truth = match seen.edge {
                    Kind::On => record.on_s,
                    Kind::Off => record.off_s,
                };
                assert!(seen.low_s <= seen.at_s && seen.at_s <= seen.high_s && seen.high_s <= t);
                if (0.0..60.0).contains(&(t - truth)) {
                    hits += 1;
                } else {
                    wrong += 1;
                }
            }
        }
    }
    assert!(hits >= 34, "{hits} of 40");
    assert!(wrong <= 1, "{wrong} wrong");
}

#[test]
fn the_watcher_stays_quiet_on_steady_and_drifting_data() {
    let mut alarms = 0;
    for seed in 0..runs(20, 2) {
        let mut draw = rng(900 + seed);
        let bench = Bench {
            every_s: 1.0,
            power: 0.0,
            settle_s: 7000.0,
            heat_s: 100.0,
            cool_s: 100.0,
            air_drift_degc: 2.0,
            touch: false,
            ..Bench::lesson(&mut draw)
        };
        let record = run(&bench, &mut draw);
        let mut watcher = Watcher::new(2, &LampOptions::default());
        for (i, &t) in record.t_s.iter().enumerate() {
            let row = [record.channels[0][i], record.channels[1][i]];
            alarms += usize::from(watcher.push(t, &row).is_some());
        }
    }
    assert!(alarms <= 1, "{alarms} false edges");
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(16))]

    /// Whatever comes in, there is an answer, its edges alternate and its intervals are ordered.
    #[test]
    fn any_numbers_get_an_answer(
        rows in prop::collection::vec(
            (prop_oneof![5 => -1e3..1e6_f64, 1 => Just(f64::NAN), 1 => Just(f64::INFINITY)],
             prop_oneof![6 => -50.0..150.0_f64, 1 => Just(f64::NAN), 1 => Just(1e300)]),
            0..60),
        sorted in any::<bool>(),
    ) {
        let mut rows = rows;
        if sorted {
            rows.sort_by(|a, b| a.0.total_cmp(&b.0));
        }
        let t: Vec<f64> = rows.iter().map(|r| r.0).collect();
        let y: Vec<f64> = rows.iter().map(|r| r.1).collect();
        let fit = find_edges(&t, &[&y, &y], &LampOptions::default());
        prop_assert!(fit.edges.windows(2).all(|w| w[0].at_s < w[1].at_s && w[0].edge != w[1].edge));
        for e in &fit.edges {
            prop_assert!(e.low_s <= e.at_s && e.at_s <= e.high_s && e.high_s.is_finite());
        }
        let mut watcher = Watcher::new(2, &LampOptions::default());
        for (t, y) in rows {
            watcher.push(t, &[y, f64::NAN]);
        }
    }
}
