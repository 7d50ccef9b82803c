//! Which edges the curves themselves contradict.

use super::super::sense::makes_sense;
use super::super::{Edge, Kind, LEVEL};
use super::{curve, every, newton};
use crate::lamp::clean::Curve;

fn edges(at: &[(Kind, f64)]) -> Vec<Edge> {
    let edge = |(edge, at_s): &(Kind, f64)| Edge {
        edge: *edge,
        at_s: *at_s,
        low_s: at_s - 5.0,
        high_s: at_s + 5.0,
        level: LEVEL,
    };
    at.iter().map(edge).collect()
}

/// Two samples, each going its way.
fn two(step_s: f64, ways: [&dyn Fn(f64) -> f64; 2]) -> Vec<Curve> {
    let t_s = every(step_s, (1800.0 / step_s) as usize + 1);
    let ways = ways.iter().enumerate();
    ways.map(|(i, way)| curve(i, &t_s, 0.05, way)).collect()
}

#[test]
fn nothing_goes_off_in_a_quiet_before_the_lamp() {
    let lit = |degc: f64| {
        move |t: f64| 22.0 + degc * (newton(t - 200.0, 300.0) - 0.4 * newton(t - 800.0, 300.0))
    };
    let curves = two(2.0, [&lit(12.0), &lit(6.0)]);
    let dimmed = [(Kind::On, 200.0), (Kind::Off, 800.0)];
    assert!(makes_sense(&edges(&dimmed), &curves));
    let before = [(Kind::Off, 20.0), dimmed[0], dimmed[1]];
    assert!(!makes_sense(&edges(&before), &curves));
}

#[test]
fn what_was_lit_from_the_start_cools_as_it_did_not_before() {
    // Warm through under the lamp: level until it goes off, and what it loses then decides.
    let off = |degc: f64| move |t: f64| 30.0 - degc * newton(t - 600.0, 300.0);
    let at = edges(&[(Kind::Off, 600.0)]);
    assert!(makes_sense(&at, &two(2.0, [&off(8.0), &off(0.0)])));
    assert!(makes_sense(&at, &two(60.0, [&off(8.0), &off(4.0)])));
    assert!(makes_sense(&at, &two(2.0, [&off(0.55), &off(0.0)])));
    assert!(!makes_sense(&at, &two(2.0, [&off(0.45), &off(0.0)])));
    // On its way to the room all along, one from above and one from below.
    let towards = |degc: f64| move |t: f64| 22.0 + degc * (-t / 1500.0).exp();
    for step_s in [2.0, 60.0] {
        let curves = two(step_s, [&towards(3.0), &towards(-7.0)]);
        assert!(!makes_sense(&at, &curves), "rows every {step_s} s");
    }
}

#[test]
fn light_that_cools_every_sample_is_none() {
    let towards = |degc: f64| move |t: f64| 22.0 + degc * (-t / 900.0).exp();
    let both = edges(&[(Kind::On, 70.0), (Kind::Off, 1700.0)]);
    let falling = two(60.0, [&towards(3.0), &towards(5.0)]);
    assert!(!makes_sense(&both, &falling));
    // Nor where it stays on to the end, unless it came on with the last rows, which lag.
    assert!(!makes_sense(&edges(&[(Kind::On, 70.0)]), &falling));
    assert!(makes_sense(&edges(&[(Kind::On, 1760.0)]), &falling));
    let steeply = two(2.0, [&towards(40.0), &towards(60.0)]);
    assert!(makes_sense(&edges(&[(Kind::On, 1745.0)]), &steeply));
    assert!(!makes_sense(&edges(&[(Kind::On, 1735.0)]), &steeply));
    // A tray that was warmer than the lamp makes it may cool while the other warms.
    assert!(makes_sense(
        &both,
        &two(60.0, [&towards(3.0), &towards(-5.0)])
    ));
}

#[test]
fn an_edge_that_nothing_contradicts_needs_no_rows_about_it() {
    let still = |_: f64| 22.0;
    let curves = two(2.0, [&still, &still]);
    assert!(makes_sense(&[], &curves));
    assert!(makes_sense(&edges(&[(Kind::On, 5000.0)]), &curves));
}
