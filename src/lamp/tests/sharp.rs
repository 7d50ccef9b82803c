//! Ramps that set in beside curves that bend.

#![allow(clippy::float_cmp, reason = "numbers that are handed on as they are")]

use super::super::Kind;
use super::super::sharp::{beats_polynomials, is_sharp};
use super::{curve, every, newton, normal, rng};
use crate::lamp::clean::Curve;

const LAGS_S: (f64, f64) = (5.0, 1.6);

/// Rows with noise of 0.02 °C.
fn noisy(seed: u64, step_s: f64, rows: usize, way: impl Fn(f64) -> f64) -> Curve {
    let mut draw = rng(seed);
    let mut curve = curve(0, &every(step_s, rows), 0.02, way);
    for y in &mut curve.degc {
        *y += 0.02 * normal(&mut draw);
    }
    curve
}

fn sharp(curves: &[Curve], at_s: f64, kind: Kind) -> bool {
    let to_s = curves[0].t_s.last().copied().unwrap();
    is_sharp(curves, at_s, kind, (0.0, to_s), &vec![LAGS_S; curves.len()])
}

#[test]
fn a_ramp_that_sets_in_is_sharp_where_it_does_and_as_its_kind() {
    for seed in 0..4 {
        let on = [noisy(seed, 1.0, 401, |t| {
            20.0 + 6.0 * newton(t - 205.0, 300.0)
        })];
        let off = [noisy(seed, 1.0, 401, |t| {
            26.0 - 6.0 * newton(t - 205.0, 300.0)
        })];
        assert!(sharp(&on, 200.0, Kind::On) && !sharp(&on, 200.0, Kind::Off));
        assert!(sharp(&off, 200.0, Kind::Off) && !sharp(&off, 200.0, Kind::On));
        assert!(!sharp(&on, 90.0, Kind::On), "seed {seed}");
    }
}

#[test]
fn what_bends_slowly_is_not_sharp_anywhere() {
    for seed in 0..4 {
        let sun = noisy(seed, 1.0, 401, |t| 20.0 + 3.0 * (t / 130.0).sin());
        let settles = noisy(seed, 1.0, 401, |t| 25.0 - 5.0 * newton(t, 200.0));
        for at_s in [60.0, 130.0, 200.0, 270.0, 340.0] {
            for kind in [Kind::On, Kind::Off] {
                assert!(
                    !sharp(std::slice::from_ref(&sun), at_s, kind),
                    "{seed}: {at_s} {kind:?}"
                );
                assert!(
                    !sharp(std::slice::from_ref(&settles), at_s, kind),
                    "{seed}: {at_s} {kind:?}"
                );
            }
        }
    }
}

#[test]
fn weak_ramps_of_several_samples_together_are_sharp() {
    let weak = |seed| noisy(seed, 1.0, 401, |t| 20.0 + 0.000_55 * (t - 203.0).max(0.0));
    let (mut alone, mut together) = (0, 0);
    for seed in 0..8 {
        alone += usize::from(sharp(&[weak(seed)], 200.0, Kind::On));
        let eight: Vec<Curve> = (0..8).map(|k| weak(10 + 8 * seed + k)).collect();
        together += usize::from(sharp(&eight, 200.0, Kind::On));
    }
    assert!(alone <= 2 && together >= 6, "{alone} and {together} of 8");
}

#[test]
fn an_edge_without_rows_on_both_sides_is_not_judged_sharp() {
    let on = [noisy(1, 1.0, 401, |t| {
        20.0 + 6.0 * newton(t - 205.0, 300.0)
    })];
    let at = |reach| is_sharp(&on, 200.0, Kind::On, reach, &[LAGS_S]);
    assert!(at((150.0, 300.0)));
    assert!(!at((200.0, 300.0)), "nothing before");
    assert!(!at((150.0, 201.0)), "one row behind");
    // Five rows in all are too few.
    assert!(!at((198.0, 202.0)));
    // A bench that lags otherwise than is thought is no less sharp where the noise is this large.
    assert!(is_sharp(
        &on,
        200.0,
        Kind::On,
        (100.0, 300.0),
        &[(3.0, 1.0)]
    ));
}

#[test]
fn a_few_rows_with_a_bend_beat_polynomials_and_without_one_they_do_not() {
    let t_s = every(60.0, 14);
    let bent = |t: f64| 20.0 + 8.0 * (newton(t - 130.0, 300.0) - newton(t - 430.0, 300.0));
    let lamp = [curve(0, &t_s, 0.05, bent)];
    let smooth = [curve(0, &t_s, 0.05, |t| 20.0 + 0.004 * t - 4e-6 * t * t)];
    // A model of seven parameters that leaves the noise alone.
    assert!(beats_polynomials(&lamp, 7.0, 7));
    assert!(!beats_polynomials(&lamp, 7.0, 90), "parameters cost");
    assert!(
        !beats_polynomials(&lamp, 1e6, 7),
        "it does not describe the rows"
    );
    assert!(!beats_polynomials(&smooth, 0.0, 7));
    // Noise believed a hundred times as large: nothing can be told.
    let vague = [curve(0, &t_s, 5.0, bent)];
    assert!(!beats_polynomials(&vague, 0.0, 7));
}
