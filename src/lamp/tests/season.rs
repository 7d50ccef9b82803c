//! What passes for a lamp, and what for a room that changes: each bound from both sides, and whole records.

use super::super::season::{gain, is_lamp};
use super::super::{Kind, LampOptions, find_edges};
use super::{curve, every, near, newton, normal, rng};
use crate::lamp::clean::Curve;

/// Of the rows that are made, in degrees Celsius.
const NOISE_DEGC: f64 = 0.005;

/// Rows every five seconds of noise, and what else happens; and what of it is said to be a lamp's.
fn made(
    seed: u64,
    way: impl Fn(f64) -> f64,
    lamp: impl Fn(f64) -> f64,
) -> (Vec<Curve>, Vec<Vec<f64>>) {
    let mut draw = rng(seed);
    let t_s = every(5.0, 400);
    let lamp: Vec<f64> = t_s.iter().map(|t| lamp(*t)).collect();
    let mut c = curve(0, &t_s, NOISE_DEGC, way);
    c.degc
        .iter_mut()
        .for_each(|y| *y += NOISE_DEGC * normal(&mut draw));
    (vec![c], vec![lamp])
}

fn lit(t: f64) -> f64 {
    newton(t - 600.0, 400.0) - newton(t - 1300.0, 400.0)
}

#[test]
fn a_large_change_is_a_lamp_and_a_weak_one_that_comes_on_and_stands_out() {
    let sized = |degc: f64| made(1, |t| 20.0 + degc * lit(t), |t| degc * lit(t));
    // Of the whole rise, 83 % is there when it goes off.
    let whole = 1.0 - (-700.0_f64 / 400.0).exp();
    let told = |first, degc: f64| {
        let (curves, lamp) = sized(degc / whole);
        is_lamp(first, &curves, &lamp)
    };
    assert!(told(Kind::Off, 2.22) && !told(Kind::Off, 2.18));
    assert!(told(Kind::On, 0.32) && !told(Kind::On, 0.28));
    // In noise that hides it none is told.
    let (mut curves, lamp) = sized(0.4);
    let mut draw = rng(2);
    curves[0]
        .degc
        .iter_mut()
        .for_each(|y| *y += 0.5 * normal(&mut draw));
    assert!(!is_lamp(Kind::On, &curves, &lamp));
    // But one that is large enough.
    let hidden = |degc: f64| {
        let (mut curves, lamp) = sized(degc / whole);
        let rows = curves[0].degc.iter_mut();
        rows.for_each(|y| *y += 5.0 * normal(&mut draw));
        is_lamp(Kind::On, &curves, &lamp)
    };
    assert!([1.46, 1.52].map(hidden) == [false, true]);
    // Another sample may be the one that shows it.
    let (mut curves, mut lamp) = sized(0.1);
    let (more, large) = sized(3.0);
    curves.extend(more);
    lamp.extend(large);
    assert!(is_lamp(Kind::Off, &curves, &lamp));
    // Few rows are judged elsewhere.
    let (mut curves, mut lamp) = sized(0.1);
    curves[0].t_s.truncate(15);
    curves[0].degc.truncate(15);
    lamp[0].truncate(15);
    assert!(is_lamp(Kind::Off, &curves, &lamp));
}

#[test]
fn a_gain_is_the_likelihood_s_and_nothing_where_the_curve_wanders_anyway() {
    // Straight but for a lamp: what is left without it is judged against the noise.
    let (curves, lamp) = made(3, |t| 20.0 + lit(t), lit);
    assert!(gain(&curves[0], &lamp[0]) > 100.0);
    // The same lamp said of a curve that has none gains no more than one more term does.
    let (curves, lamp) = made(4, |_| 20.0, lit);
    assert!(gain(&curves[0], &lamp[0]) < 8.0);
    // A slope that walks: as large a change as the lamp's is nothing there.
    let mut draw = rng(5);
    let (mut curves, lamp) = made(6, |_| 20.0, lit);
    let (mut slope, mut level) = (0.0, 0.0);
    for y in &mut curves[0].degc {
        slope += 1e-3 * normal(&mut draw);
        level += 5.0 * slope;
        *y += level;
    }
    assert!(gain(&curves[0], &lamp[0]) < 8.0);
    // Nor does it hang on the units.
    let (mut curves, mut lamp) = made(7, |t| 20.0 + 0.2 * lit(t), lit);
    let one = gain(&curves[0], &lamp[0]);
    curves[0].degc.iter_mut().for_each(|y| *y *= 3.0);
    curves[0].floor_degc *= 3.0;
    lamp[0].iter_mut().for_each(|x| *x *= 3.0);
    near(gain(&curves[0], &lamp[0]), one, 1e-3 * one);
}

/// Two samples in a room: what the air does, and what the lamp brings it to.
fn found(seed: u64, air: impl Fn(f64) -> f64, lamp_degc: f64) -> Vec<(Kind, f64)> {
    let mut draw = rng(seed);
    let t_s = every(5.0, 500);
    let channels = [500.0, 350.0].map(|tau_s| {
        let mut y = air(0.0);
        let one = |t: &f64| {
            let on = if (600.0..1400.0).contains(t) {
                lamp_degc
            } else {
                0.0
            };
            y += (air(*t) + on - y) * newton(5.0, tau_s);
            y + 0.02 * normal(&mut draw)
        };
        t_s.iter().map(one).collect::<Vec<f64>>()
    });
    let columns: Vec<&[f64]> = channels.iter().map(Vec::as_slice).collect();
    let fit = find_edges(&t_s, &columns, &LampOptions::default());
    fit.edges.iter().map(|e| (e.edge, e.at_s)).collect()
}

#[test]
fn a_door_is_no_lamp_and_a_weak_lamp_is_one() {
    for seed in 0..4 {
        let door =
            |t: f64| 21.0 - 1.2 * newton(t - 900.0, 30.0) * (-(t - 900.0).max(0.0) / 900.0).exp();
        assert!(found(seed, door, 0.0).is_empty());
        // The air warms by two degrees in the hour: a drift.
        assert!(found(seed + 10, |t| 21.0 + 2.0 * t / 3600.0, 0.0).is_empty());
        let weak = found(seed + 20, |_| 21.0, 1.0);
        let kinds: Vec<Kind> = weak.iter().map(|e| e.0).collect();
        assert_eq!(kinds, [Kind::On, Kind::Off], "{weak:?}");
        near(weak[0].1, 600.0, 30.0);
        near(weak[1].1, 1400.0, 30.0);
    }
}
