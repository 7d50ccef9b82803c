//! Whole records through the one way in.

#![allow(clippy::float_cmp, reason = "numbers that are handed on as they are")]

use super::super::{Kind, LampFit, LampOptions, Method, find_edges};
use super::{every, near, newton, normal, rng};

const EDGES_S: [f64; 2] = [150.0, 700.0];

/// Two samples behind a lag of 6 s, a row each five seconds.
fn lesson(seed: u64, t_s: &[f64]) -> [Vec<f64>; 2] {
    let mut draw = rng(seed);
    [(11.0, 380.0), (7.0, 280.0)].map(|(rise, tau_s)| {
        let lamp =
            |t: f64| newton(t - EDGES_S[0] - 6.0, tau_s) - newton(t - EDGES_S[1] - 6.0, tau_s);
        let one = |t: &f64| 21.0 + rise * lamp(*t) + 0.04 * normal(&mut draw);
        t_s.iter().map(one).collect()
    })
}

fn found(t_s: &[f64], channels: &[Vec<f64>], options: &LampOptions) -> LampFit {
    let columns: Vec<&[f64]> = channels.iter().map(Vec::as_slice).collect();
    find_edges(t_s, &columns, options)
}

#[test]
fn a_lesson_has_its_two_edges_and_each_channel_its_noise() {
    let t_s = every(5.0, 260);
    let fit = found(&t_s, &lesson(1, &t_s), &LampOptions::default());
    assert_eq!(fit.method, Method::Whole);
    let kinds: Vec<Kind> = fit.edges.iter().map(|e| e.edge).collect();
    assert_eq!(kinds, [Kind::On, Kind::Off], "{:?}", fit.edges);
    for (edge, truth_s) in fit.edges.iter().zip(EDGES_S) {
        near(edge.at_s, truth_s, 5.0);
        assert!(edge.low_s < truth_s && truth_s < edge.high_s, "{edge:?}");
        assert!(edge.high_s - edge.low_s < 40.0, "{edge:?}");
    }
    assert!(
        fit.lag_share.iter().all(|s| (0.0..=1.0).contains(s)),
        "{:?}",
        fit.lag_share
    );
    for noise in &fit.noise_degc {
        near(noise.unwrap(), 0.04, 0.01);
    }
}

#[test]
fn times_of_day_other_units_and_the_order_of_channels_change_nothing_but_themselves() {
    let t_s = every(5.0, 260);
    let [a, b] = lesson(2, &t_s);
    let options = LampOptions::no_lags();
    let plain = found(&t_s, &[a.clone(), b.clone()], &options);
    assert_eq!(plain.edges.len(), 2);
    // Nothing was lost on the way: seconds since 1970 and back.
    let later: Vec<f64> = t_s.iter().map(|t| t + 1_773_484_325.0).collect();
    let moved = found(&later, &[a.clone(), b.clone()], &options);
    let swapped = found(&t_s, &[b.clone(), a.clone()], &options);
    let warmer = [a, b].map(|c| c.iter().map(|y| 1.8 * y + 32.0).collect());
    let warmer = found(&t_s, &warmer, &options);
    for (k, edge) in plain.edges.iter().enumerate() {
        near(moved.edges[k].at_s - 1_773_484_325.0, edge.at_s, 1e-5);
        near(moved.edges[k].low_s - 1_773_484_325.0, edge.low_s, 1e-5);
        near(moved.edges[k].high_s - 1_773_484_325.0, edge.high_s, 1e-5);
        near(swapped.edges[k].at_s, edge.at_s, 0.02);
        near(warmer.edges[k].at_s, edge.at_s, 0.02);
    }
    near(
        swapped.noise_degc[0].unwrap(),
        plain.noise_degc[1].unwrap(),
        1e-3,
    );
    near(
        warmer.noise_degc[0].unwrap(),
        1.8 * plain.noise_degc[0].unwrap(),
        2e-3,
    );
}

#[test]
fn a_record_that_begins_or_ends_with_the_lamp_on_has_one_edge() {
    let t_s = every(5.0, 260);
    let [a, _] = lesson(3, &t_s);
    let options = LampOptions::default();
    let off = found(&t_s[60..], &[a[60..].to_vec()], &options);
    assert_eq!(off.edges.len(), 1, "{:?}", off.edges);
    assert_eq!(off.edges[0].edge, Kind::Off);
    near(off.edges[0].at_s, EDGES_S[1], 6.0);
    let on = found(&t_s[..120], &[a[..120].to_vec()], &options);
    assert_eq!(on.edges.len(), 1, "{:?}", on.edges);
    assert_eq!(on.edges[0].edge, Kind::On);
    near(on.edges[0].at_s, EDGES_S[0], 6.0);
}

#[test]
fn no_lamp_no_rows_and_dead_channels_have_no_edge() {
    let t_s = every(5.0, 200);
    let mut draw = rng(4);
    let quiet: Vec<f64> = t_s
        .iter()
        .map(|t| 21.0 + 1e-4 * t + 0.04 * normal(&mut draw))
        .collect();
    for channels in [
        vec![quiet.clone()],
        vec![vec![85.0; 200]],
        vec![vec![f64::NAN; 200]],
        vec![],
    ] {
        let fit = found(&t_s, &channels, &LampOptions::default());
        assert_eq!((fit.edges.len(), fit.method), (0, Method::NoEdge));
        assert_eq!(fit.noise_degc, vec![None; channels.len()]);
    }
    for rows in 0..4 {
        let fit = found(
            &t_s[..rows],
            &[quiet[..rows].to_vec()],
            &LampOptions::default(),
        );
        assert!(fit.edges.is_empty());
    }
}

#[test]
fn two_lessons_in_one_record_are_four_edges_and_a_dead_channel_beside_them_is_none() {
    let truth = [150.0, 500.0, 1000.0, 1350.0];
    let t_s = every(5.0, 340);
    let mut draw = rng(5);
    let one = |t: &f64| {
        let signs = [1.0, -1.0].into_iter().cycle();
        let lamp = truth
            .iter()
            .zip(signs)
            .map(|(e, s)| s * newton(t - e, 300.0));
        21.0 + 10.0 * lamp.sum::<f64>() + 0.04 * normal(&mut draw)
    };
    let lit: Vec<f64> = t_s.iter().map(one).collect();
    let fit = found(&t_s, &[vec![20.0; 340], lit], &LampOptions::no_lags());
    assert_eq!(fit.edges.len(), 4, "{:?}", fit.edges);
    for (edge, truth) in fit.edges.iter().zip(truth) {
        near(edge.at_s, truth, 2.0);
    }
    assert_eq!(fit.noise_degc[0], None);
    near(fit.noise_degc[1].unwrap(), 0.04, 0.01);
}
