//! The grid that bends are looked for on, and the bends of records whose edges are known.

#![allow(clippy::float_cmp, reason = "numbers that are handed on as they are")]

use super::*;
use crate::lamp::tests::{curve, every, near, newton, normal, rng};

#[test]
fn few_rows_are_the_grid_as_they_are() {
    let t_s: Vec<f64> = every(2.0, 50).iter().map(|t| 10.0 + t).collect();
    let grids = on_grid(&[curve(0, &t_s, 0.1, |t| t * t)], 50);
    assert_eq!((grids.from, grids.step), (10.0, 2.0));
    let squares: Vec<f64> = t_s.iter().map(|t| t * t).collect();
    assert_eq!(grids.along, [squares]);
}

#[test]
fn many_rows_become_means_of_as_many_blocks_as_places() {
    let grids = on_grid(&[curve(0, &every(0.5, 20_001), 0.1, |t| 3.0 - t)], 100);
    assert_eq!((grids.from, grids.step), (0.0, 100.0));
    assert_eq!(grids.along[0].len(), 101);
    for (place, y) in grids.along[0].iter().enumerate().skip(1).take(98) {
        near(*y, 3.0 - 100.0 * place as f64, 0.3);
    }
}

#[test]
fn noise_of_rows_is_averaged_in_their_blocks() {
    let swings = |t: f64| {
        if (t as u32).is_multiple_of(2) {
            1.0
        } else {
            -1.0
        }
    };
    let grids = on_grid(&[curve(0, &every(1.0, 10_001), 0.1, swings)], 100);
    assert!(grids.along[0].iter().all(|y| y.abs() < 0.05 || *y == 1.0));
    let single = grids.along[0].iter().filter(|y| y.abs() >= 0.05);
    assert!(single.count() <= 1, "the last block may be of one row");
}

#[test]
fn one_grid_holds_the_first_and_the_last_row_of_all() {
    // One starts later and ends later than the other.
    let late: Vec<f64> = every(1.0, 60).iter().map(|t| t + 30.0).collect();
    let curves = [
        curve(0, &every(1.0, 60), 0.1, |t| t),
        curve(1, &late, 0.1, |t| -t),
    ];
    let grids = on_grid(&curves, 200);
    assert_eq!((grids.from, grids.step), (0.0, 1.0));
    assert_eq!(
        grids.along.iter().map(Vec::len).collect::<Vec<_>>(),
        [90, 90]
    );
    assert_eq!((grids.along[0][59], grids.along[0][89]), (59.0, 59.0));
    assert_eq!((grids.along[1][0], grids.along[1][89]), (-30.0, -89.0));
    // Rows twice as many as places are thinned in the one that has them, and the step fits both.
    let dense = curve(0, &every(0.25, 400), 0.1, |t| t);
    let grids = on_grid(&[dense, curve(1, &every(10.0, 10), 0.1, |t| -t)], 200);
    assert_eq!(grids.step, 99.75 / 200.0);
    assert_eq!(
        grids.along.iter().map(Vec::len).collect::<Vec<_>>(),
        [201, 201]
    );
    // Rows seldom in most of a record: their own step, for between them nothing is known.
    let seldom: Vec<f64> = (0..80).map(|k| f64::from(k) * 10.0).collect();
    let burst: Vec<f64> = (1..40).map(|k| 790.0 + f64::from(k) * 0.1).collect();
    let grids = on_grid(&[curve(0, &[seldom, burst].concat(), 0.1, |t| t)], 110);
    assert_eq!(grids.step, 10.0);
    assert_eq!(grids.along[0].len(), 80);
}

/// A sample behind a probe of `lag_s`, `step_s` between rows: lit from 300 s to 900 s of 1500 s.
fn lit(channel: usize, step_s: f64, lag_s: f64, sign: f64, seed: u64) -> Curve {
    let t_s = every(step_s, (1500.0 / step_s) as usize);
    let mut draw = rng(seed);
    let mut sample = 0.0;
    let mut probe = 0.0;
    let degc: Vec<f64> = t_s
        .iter()
        .map(|t| {
            let lamp = if (300.0..900.0).contains(t) {
                14.0
            } else {
                0.0
            };
            sample += (lamp - sample) * newton(step_s, 420.0);
            probe += (sample - probe) * newton(step_s, lag_s);
            21.0 + sign * probe + 0.02 * normal(&mut draw)
        })
        .collect();
    let mut curve = curve(channel, &t_s, 0.02, |_| 0.0);
    (curve.degc, curve.floor_degc) = (degc, 1e-3);
    curve
}

#[test]
fn a_lamp_bends_a_record_upwards_and_then_downwards_where_it_was_switched() {
    for (step_s, lag_s) in [(1.0, 5.0), (2.0, 5.0), (1.0, 3.0), (1.0, 8.0)] {
        let curves = [lit(0, step_s, lag_s, 1.0, 1), lit(1, step_s, lag_s, 0.6, 2)];
        let mut all = bends(&curves);
        // Behind another lag than the one looked for, an edge may have a weak neighbour.
        let most = all
            .iter()
            .fold(0.0, |most: f64, bend| most.max(bend.strength));
        all.retain(|bend| bend.strength > most / 2.0);
        let case = format!("{step_s} s, lag {lag_s} s: {all:?}");
        let kinds: Vec<Kind> = all.iter().map(|bend| bend.kind).collect();
        assert_eq!(kinds, [Kind::On, Kind::Off], "{case}");
        // A candidate is no farther off than the lags of probe and lamp.
        for (bend, truth) in all.iter().zip([300.0, 900.0]) {
            let off_s = (bend.at_s - truth).abs();
            assert!(off_s < LAGS_S.0 + LAGS_S.1 + step_s, "{case}");
            assert!(bend.strength > GATE, "{case}");
        }
    }
}

#[test]
fn noise_alone_does_not_bend() {
    for seed in 0..10 {
        let t_s = every(1.0, 1500);
        let mut draw = rng(seed);
        let degc: Vec<f64> = t_s
            .iter()
            .map(|_| 21.0 + 0.05 * normal(&mut draw))
            .collect();
        let mut still = curve(0, &t_s, 0.05, |_| 0.0);
        still.degc = degc;
        let all = bends(&[still]);
        assert!(all.len() <= 1, "seed {seed}: {all:?}");
    }
}

#[test]
fn two_samples_that_bend_together_stand_out_by_the_root_of_two() {
    let one = bends(&[lit(0, 1.0, 5.0, 1.0, 3)]);
    let two = bends(&[lit(0, 1.0, 5.0, 1.0, 3), lit(1, 1.0, 5.0, 1.0, 3)]);
    assert_eq!((one.len(), two.len()), (2, 2));
    for (one, two) in one.iter().zip(&two) {
        near(two.strength / one.strength, 2.0_f64.sqrt(), 1e-9);
    }
}

#[test]
fn a_quarter_of_all_places_is_quiet() {
    // Normal deviates have a quarter below 0.3186 standard deviations (tables of the normal
    // distribution); what the others are does not matter.
    let mut along: Vec<f64> = (0..400).map(|k| f64::from(k) / 100.0).collect();
    near(quiet_sd(&along), 1.0 / 0.3186, 1e-9);
    along.iter_mut().skip(150).for_each(|a| *a *= -1e6);
    near(quiet_sd(&along), 1.0 / 0.3186, 1e-9);
    assert_eq!(quiet_sd(&[]), 0.0);
}

#[test]
fn four_of_five_bends_that_alternate_are_enough() {
    // Ten neighbours 50 places apart, so many of which are of one kind.
    let own = |alike: usize| -> Vec<(usize, f64)> {
        let mut sign = 9.0;
        (0..11)
            .map(|i| {
                if i > alike {
                    sign = -sign;
                }
                (50 * i, sign)
            })
            .collect()
    };
    assert_eq!(usually_apart(&own(2)), 50.0);
    assert_eq!(usually_apart(&own(3)), f64::INFINITY);
}
