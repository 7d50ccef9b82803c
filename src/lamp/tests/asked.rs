//! How much evidence is asked for, and when less.

use super::super::Kind;
use super::super::asked::{Asked, Onset};
use super::near;

/// A young ramp of a lamp that goes off, so many blocks of `width_s` seconds after the last edge or the beginning.
fn off(blocks: f64, width_s: f64) -> Onset {
    Onset {
        kind: Kind::Off,
        at_s: blocks * width_s,
        blocks,
        likeliest: 5,
        width_s,
    }
}

#[test]
fn a_lamp_that_may_have_gone_on_unnoticed_is_expected_to_go_off_for_half_an_hour() {
    let mut asked = Asked::default();
    asked.cued(Kind::On, f64::INFINITY);
    let rare = asked.raised(&off(400.0, 1.0));
    assert!(asked.may_miss(42, 1.0));
    asked.missed(300.0);
    assert!(asked.raised(&off(400.0, 1.0)) < rare - 40.0);
    assert!(asked.raised(&off(1790.0, 1.0)) < rare - 40.0);
    near(asked.raised(&off(1810.0, 1.0)), rare, 1e-9);
    near(
        asked.raised(&off(3580.0, 0.5)),
        asked.raised(&off(1790.0, 1.0)),
        20.0,
    );
    asked.seen(Kind::On);
    asked.seen(Kind::Off);
    assert!(!asked.may_miss(42, 1.0));
}

#[test]
fn hours_count_on_when_all_begins_anew() {
    let asked = |passed: &[f64]| {
        let mut asked = Asked::default();
        for blocks in passed {
            asked.missed(*blocks);
        }
        asked.raised(&Onset {
            kind: Kind::On,
            ..off(1000.0, 1.0)
        })
    };
    near(asked(&[3000.0, 3200.0]), asked(&[6200.0]), 1e-9);
    assert!(asked(&[6200.0]) > asked(&[]) + 20.0);
}

#[test]
fn nobody_misses_a_lamp_that_is_not_planned() {
    let mut asked = Asked::default();
    asked.through();
    assert!(!asked.may_miss(42, 1.0));
    let mut asked = Asked::default();
    asked.unplanned();
    assert!(!asked.may_miss(42, 1.0));
    // And a ramp that is still young can still be told.
    assert!(Asked::default().may_miss(42, 1.0));
    assert!(!Asked::default().may_miss(22, 1.0) && !Asked::default().may_miss(42, 0.5));
}

#[test]
fn a_curve_takes_its_time_to_flatten_however_often_it_is_read() {
    let mut asked = Asked::default();
    asked.seen(Kind::On);
    let slow = asked.raised(&off(100.0, 1.0));
    near(asked.raised(&off(200.0, 0.5)), slow, 0.5);
    assert!(asked.raised(&off(480.0, 0.5)) < slow - 25.0);
    // Where blocks are longer the noise must be learnt in as many.
    near(asked.raised(&off(100.0, 4.0)), slow, 0.5);
}

#[test]
fn for_two_minutes_after_an_edge_a_bend_is_the_curves_own() {
    assert!(!Asked::default().still_flattens(10, 1.0));
    let mut asked = Asked::default();
    asked.seen(Kind::On);
    assert!(asked.still_flattens(119, 1.0) && !asked.still_flattens(120, 1.0));
    assert!(asked.still_flattens(239, 0.5) && !asked.still_flattens(240, 0.5));
    // Where blocks are longer it takes as many.
    assert!(asked.still_flattens(119, 4.0));
}

#[test]
fn after_ten_minutes_without_a_lamp_chance_must_be_excluded() {
    let mut asked = Asked::default();
    assert!(!asked.is_waited_for(600, 1.0) && asked.is_waited_for(601, 1.0));
    assert!(!asked.is_waited_for(1200, 0.5));
    asked.seen(Kind::On);
    assert!(!asked.is_waited_for(5000, 1.0));
    asked.seen(Kind::Off);
    assert!(asked.is_waited_for(5000, 1.0));
}

#[test]
fn after_a_cue_less_is_asked_for_and_ever_less_so_for_ten_minutes() {
    let mut cued = Asked::default();
    cued.cued(Kind::On, 1000.0);
    let onset = |at_s: f64| Onset {
        kind: Kind::On,
        at_s,
        ..off(5000.0, 1.0)
    };
    let less = |at_s: f64| Asked::default().raised(&onset(at_s)) - cued.raised(&onset(at_s));
    // Twice the logarithm of how many times rarer than after a cue a lamp is that nobody knows of.
    for (after_s, want) in [(0.0, 8.2), (20.0, 6.0), (60.0, 4.3), (590.0, 0.0)] {
        near(less(1000.0 + after_s), want, 0.05);
    }
    near(less(1800.0), 0.0, 1e-9);
    // Lags are not known to the second; but what sets in plainly before the cue is rarer than without one.
    near(less(996.0), less(1000.0), 1e-9);
    assert!(less(994.0) < -5.0, "{}", less(994.0));
}
