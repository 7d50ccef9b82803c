//! A plan followed along made-up times.

use super::*;

fn seen(edge: Kind, at_s: f64) -> EdgeSeen {
    EdgeSeen {
        edge,
        at_s,
        low_s: at_s - 2.0,
        high_s: at_s + 2.0,
        noticed_s: at_s + 15.0,
    }
}

fn lesson() -> Conductor {
    Conductor::new(Plan {
        settle_degc_per_min: Some(0.1),
        heat_s: Some(600.0),
        cool_s: Some(600.0),
        marks_s: Some(60.0),
        ..Plan::default()
    })
}

#[test]
fn a_lesson_runs_from_edge_to_edge() {
    let mut run = lesson();
    assert_eq!(run.tick(10.0, false), None);
    assert_eq!(run.tick(80.0, true), Some(Cue::LampOn));
    assert_eq!(run.phase(), "settling");
    run.seen(&seen(Kind::On, 92.0));
    assert_eq!(run.phase(), "heating");
    assert_eq!(run.next_mark_in_s(120.0), Some(32.0));
    assert_eq!(run.tick(691.9, true), None);
    assert_eq!(run.tick(692.0, true), Some(Cue::LampOff));
    run.seen(&seen(Kind::Off, 697.0));
    assert_eq!(run.remaining_s(700.0), Some(597.0));
    assert_eq!(run.tick(1297.0, true), Some(Cue::Done));
    assert_eq!(run.tick(1298.0, true), None);
    assert_eq!(run.phase(), "cooling");
}

#[test]
fn a_lamp_that_goes_off_early_does_not_cost_the_last_mark() {
    let mut run = lesson();
    run.seen(&seen(Kind::On, 20.0));
    run.seen(&seen(Kind::Off, 616.0));
    assert_eq!(run.remaining_s(1000.0), Some(225.0));
    assert_eq!(run.tick(1224.9, true), None);
    assert_eq!(run.tick(1225.0, true), Some(Cue::Done));
}

#[test]
fn a_lamp_that_is_never_seen_does_not_keep_the_run_from_ending() {
    let mut run = lesson();
    run.tick(60.0, true);
    let cues: Vec<(f64, Cue)> = (61..4000)
        .filter_map(|s| run.tick(f64::from(s), true).map(|cue| (f64::from(s), cue)))
        .collect();
    assert_eq!(cues, [(660.0, Cue::LampOff), (1265.0, Cue::Done)]);
}

#[test]
fn a_lamp_that_is_seen_late_corrects_what_was_presumed() {
    let mut run = lesson();
    run.tick(60.0, true);
    run.tick(190.0, true);
    assert_eq!(
        run.step(),
        Step::Heating {
            since_s: 60.0,
            presumed: true
        }
    );
    run.seen(&seen(Kind::On, 240.0));
    assert_eq!(run.tick(700.0, true), None);
    assert_eq!(run.tick(840.0, true), Some(Cue::LampOff));
}

#[test]
fn a_lamp_that_went_on_too_early_counts() {
    let mut run = lesson();
    run.seen(&seen(Kind::On, 20.0));
    assert_eq!(run.tick(620.0, false), Some(Cue::LampOff));
}

#[test]
fn an_unattended_run_ends_on_time() {
    let mut run = Conductor::new(Plan {
        for_s: Some(100.0),
        ..Plan::default()
    });
    assert_eq!(run.tick(99.9, false), None);
    assert_eq!(run.phase(), "");
    assert_eq!(run.tick(100.0, false), Some(Cue::Done));
}

fn cycles() -> Conductor {
    Conductor::new(Plan {
        heat_s: Some(300.0),
        cool_s: Some(200.0),
        marks_s: Some(100.0),
        cycles: Some(2),
        ..Plan::default()
    })
}

#[test]
fn a_lamp_never_seen_to_go_off_does_not_cost_the_last_mark_and_none_is_told_beyond() {
    let mut run = lesson();
    run.seen(&seen(Kind::On, 20.0));
    assert_eq!(run.tick(620.0, true), Some(Cue::LampOff));
    assert_eq!(run.tick(750.0, true), None);
    assert_eq!(run.next_mark_in_s(1200.0), Some(20.0));
    // The end comes after the last mark, and no other mark is waited for.
    assert!(run.remaining_s(1200.0).is_some_and(|s| s >= 25.0));
    assert_eq!(run.next_mark_in_s(1222.0), None);
}

#[test]
fn the_second_lamp_on_is_asked_for_at_its_mark() {
    let mut run = cycles();
    assert_eq!(run.tick(1.0, false), Some(Cue::LampOn));
    run.seen(&seen(Kind::On, 10.0));
    assert_eq!(run.tick(310.0, true), Some(Cue::LampOff));
    run.seen(&seen(Kind::Off, 317.0));
    assert_eq!(run.cycle(), 1);
    assert_eq!(run.tick(509.9, true), None);
    assert_eq!(run.tick(510.0, true), Some(Cue::LampOn));
    assert_eq!((run.cycle(), run.phase()), (2, "cooling"));
    run.seen(&seen(Kind::On, 514.0));
    assert_eq!(run.phase(), "heating");
    // Marks go on from the first lamp-on.
    assert_eq!(run.next_mark_in_s(560.0), Some(50.0));
    assert_eq!(run.tick(814.0, true), Some(Cue::LampOff));
    run.seen(&seen(Kind::Off, 816.0));
    assert_eq!(run.tick(1018.9, true), None);
    assert_eq!(run.tick(1019.0, true), Some(Cue::Done));
}

#[test]
fn a_lamp_that_comes_on_again_too_early_begins_the_next_cycle() {
    let mut run = cycles();
    run.seen(&seen(Kind::On, 10.0));
    run.seen(&seen(Kind::Off, 310.0));
    run.seen(&seen(Kind::On, 400.0));
    assert_eq!((run.cycle(), run.phase()), (2, "heating"));
    run.seen(&seen(Kind::Off, 700.0));
    // There is no third.
    run.seen(&seen(Kind::On, 720.0));
    assert_eq!((run.cycle(), run.phase()), (2, "cooling"));
}

#[test]
fn a_plan_without_times_goes_on_by_a_key() {
    let mut run = Conductor::new(Plan {
        settle_degc_per_min: Some(0.1),
        heat_until_key: true,
        cool_until_key: true,
        ..Plan::default()
    });
    assert_eq!(run.tick(5.0, false), None);
    run.hand(Hand::GoOn, 6.0);
    assert_eq!(run.tick(6.1, false), Some(Cue::LampOn));
    // "It is on": counted from the key until the lamp is seen.
    run.hand(Hand::GoOn, 9.0);
    assert_eq!(run.phase(), "heating");
    run.seen(&seen(Kind::On, 8.0));
    assert_eq!(run.tick(5000.0, true), None);
    assert_eq!(run.remaining_s(5000.0), None);
    run.hand(Hand::GoOn, 5001.0);
    assert_eq!(run.tick(5001.0, true), Some(Cue::LampOff));
    run.hand(Hand::LampOff, 5003.0);
    assert_eq!(run.phase(), "cooling");
    assert_eq!(run.tick(9000.0, true), None);
    run.hand(Hand::GoOn, 9001.0);
    assert_eq!(run.tick(9001.2, true), Some(Cue::Done));
}

#[test]
fn a_key_does_not_cut_short_what_has_a_time() {
    let mut run = lesson();
    run.seen(&seen(Kind::On, 20.0));
    assert!(!run.can_go_on());
    run.hand(Hand::GoOn, 100.0);
    assert_eq!(run.tick(101.0, true), None);
    assert_eq!(run.tick(620.0, true), Some(Cue::LampOff));
}

#[test]
fn what_is_seen_stands_over_what_somebody_says() {
    let mut run = lesson();
    run.tick(60.0, true);
    run.hand(Hand::LampOn, 70.0);
    run.seen(&seen(Kind::On, 66.0));
    assert_eq!(run.zero_s(), Some(66.0));
    // A key that comes late does not move what was seen.
    run.hand(Hand::LampOn, 90.0);
    assert_eq!(run.zero_s(), Some(66.0));
    assert_eq!(run.key_means(130.0), Kind::Off);
}

#[test]
fn the_lamps_key_means_what_was_switched_just_now() {
    let mut run = lesson();
    assert_eq!(run.key_means(10.0), Kind::On);
    run.tick(60.0, true);
    run.seen(&seen(Kind::On, 66.0));
    // Who presses it a little after the lamp was seen on does not say that it is off.
    assert_eq!(run.key_means(90.0), Kind::On);
    run.hand(Hand::LampOn, 90.0);
    assert_eq!((run.phase(), run.zero_s()), ("heating", Some(66.0)));
    assert_eq!(run.key_means(126.0), Kind::Off);
    run.tick(666.0, true);
    run.seen(&seen(Kind::Off, 669.0));
    assert_eq!(run.key_means(690.0), Kind::Off);
    assert_eq!(run.key_means(730.0), Kind::On);
    // Of a short phase only a third is meant, and without a time a quarter of a minute.
    assert!(is_just_switched(0.0, 29.9, Some(90.0)) && !is_just_switched(0.0, 30.0, Some(90.0)));
    assert!(is_just_switched(0.0, 14.9, None) && !is_just_switched(0.0, 15.0, None));
}

#[test]
fn an_off_said_by_mistake_is_taken_back_and_a_lamp_not_seen_off_is_told() {
    let mut run = lesson();
    run.seen(&seen(Kind::On, 20.0));
    run.hand(Hand::LampOff, 200.0);
    assert_eq!((run.phase(), run.key_means(210.0)), ("cooling", Kind::On));
    run.hand(Hand::LampOn, 210.0);
    assert_eq!(run.phase(), "heating");
    assert_eq!(run.tick(620.0, true), Some(Cue::LampOff));
    run.hand(Hand::LampOff, 623.0);
    assert_eq!(run.tick(1225.0, true), Some(Cue::Done));
    assert!(run.may_be_left_lit());
    // Seen off, if only long after the key, it is not.
    let mut run = lesson();
    run.seen(&seen(Kind::On, 20.0));
    run.hand(Hand::LampOff, 600.0);
    run.seen(&seen(Kind::Off, 601.0));
    while run.tick(1300.0, true) != Some(Cue::Done) {}
    assert!(!run.may_be_left_lit());
}
