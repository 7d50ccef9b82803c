//! What is expected along a plan.

use super::super::plan::Plan;
use super::*;
use crate::lamp::EdgeSeen;

fn seen(edge: Kind, at_s: f64) -> EdgeSeen {
    EdgeSeen {
        edge,
        at_s,
        low_s: at_s - 2.0,
        high_s: at_s + 2.0,
        noticed_s: at_s + 10.0,
    }
}

fn lesson(cycles: u32) -> Conductor {
    Conductor::new(Plan {
        settle_degc_per_min: Some(0.1),
        heat_s: Some(600.0),
        cool_s: Some(300.0),
        cycles: Some(cycles),
        ..Plan::default()
    })
}

#[test]
fn each_switch_is_expected_at_its_cue() {
    let mut run = lesson(2);
    assert_eq!(next(&run), Next::Cued(Kind::On, f64::INFINITY));
    run.tick(80.0, true);
    assert_eq!(next(&run), Next::Cued(Kind::On, 80.0));
    run.seen(&seen(Kind::On, 92.0));
    assert_eq!(next(&run), Next::Cued(Kind::Off, 692.0));
    run.tick(692.5, true);
    assert_eq!(next(&run), Next::Cued(Kind::Off, 692.5));
    run.seen(&seen(Kind::Off, 700.0));
    assert_eq!(next(&run), Next::Cued(Kind::On, 1000.0));
    run.tick(1000.0, true);
    run.seen(&seen(Kind::On, 1004.0));
    run.seen(&seen(Kind::Off, 1600.0));
    assert_eq!(next(&run), Next::Nothing);
    run.tick(1900.0, true);
    assert_eq!(next(&run), Next::Nothing);
}

#[test]
fn a_key_that_ends_a_step_leaves_open_when() {
    let mut run = Conductor::new(Plan {
        heat_until_key: true,
        cool_s: Some(300.0),
        ..Plan::default()
    });
    run.tick(1.0, true);
    assert_eq!(next(&run), Next::Cued(Kind::On, 1.0));
    run.seen(&seen(Kind::On, 5.0));
    assert_eq!(next(&run), Next::SomeTime(Kind::Off));
}

#[test]
fn a_run_without_a_lamp_expects_nothing_of_it() {
    assert_eq!(next(&Conductor::new(Plan::default())), Next::NoLamp);
    let mut timed = Conductor::new(Plan {
        for_s: Some(60.0),
        ..Plan::default()
    });
    timed.tick(60.0, true);
    assert_eq!(next(&timed), Next::NoLamp);
}
