//! Regular lines that are made up, where each rule shows alone.

use super::*;

const MS: i64 = 1_000_000;

fn came(at_ms: f64) -> Arrival {
    Arrival {
        at_ns: (at_ms * 1e6) as i64,
        ..Arrival::default()
    }
}

/// What becomes of lines that come at these times in ms: how much earlier each is stamped, in ms.
fn taken_off(at_ms: impl IntoIterator<Item = f64>) -> Vec<f64> {
    let mut regular = Regular::default();
    let stamp = |at_ms: f64| {
        let stamp = regular.stamp(came(at_ms));
        at_ms - stamp.sampled_ns as f64 / 1e6
    };
    at_ms.into_iter().map(stamp).collect()
}

/// The line with this number, a period of a second, and up to 12 ms late.
fn usual(k: u32) -> f64 {
    f64::from(k) * 1000.0 + f64::from(k * 5 % 13)
}

fn by_arrival(taken_off: &[f64]) -> bool {
    taken_off.iter().all(|ms| ms.abs() < 1e-6)
}

#[test]
fn a_line_gets_the_number_of_the_last_instant_before_it() {
    let count = |period_ns: f64| Count {
        first_ns: 0,
        period_ns,
        number: 0,
        odd: 0.0,
    };
    let second = count(1e9);
    let steps = |at_ms: i64, after: u32| second.steps(at_ms * MS, 0.0, after);
    assert_eq!(steps(1000, 0), Some(1));
    assert_eq!((steps(976, 0), steps(974, 0)), (Some(1), None));
    assert_eq!((steps(1900, 0), steps(2300, 0)), (Some(1), Some(2)));
    assert_eq!((steps(5, 0), steps(-24, 0)), (Some(0), Some(0)));
    assert_eq!((steps(-30, 0), steps(30, 0)), (None, None));
    // Lines that come behind it in the same read are those of the instants after it.
    assert_eq!((steps(5050, 2), steps(5050, 3)), (Some(3), Some(2)));
    // The newest may be under way: where that leaves none between, there is none.
    assert_eq!((steps(3005, 1), steps(3050, 1)), (Some(1), Some(2)));
    assert_eq!((steps(1005, 4), steps(5, 1)), (Some(1), Some(0)));
    // A tolerance is never more than a quarter of the period.
    assert_eq!(count(80e6).steps(-22 * MS, 0.0, 0), None);
    assert_eq!(count(80e6).steps(-18 * MS, 0.0, 0), Some(0));
}

#[test]
fn a_period_is_measured_for_ten_seconds_and_right_from_then_on() {
    for period_ms in [100.0, 1000.0, 2500.0] {
        let lines = (0..400_u32).map(|k| f64::from(k) * period_ms + f64::from(k * 5 % 13));
        let off = taken_off(lines);
        let learnt = (10_000.0 / period_ms).max(10.0) as usize;
        assert!(by_arrival(&off[..learnt]), "{period_ms} ms: {off:?}");
        let late = (learnt + 2..400).map(|k| (k * 5 % 13) as f64);
        for (k, (off, late)) in (learnt + 2..).zip(off[learnt + 2..].iter().zip(late)) {
            assert!((off - late).abs() < 13.0, "{period_ms} ms, line {k}: {off}");
        }
        let last = off[390..].iter().zip(390..);
        for (off, k) in last {
            assert!(
                (off - f64::from(k * 5 % 13)).abs() < 1.0,
                "{period_ms} ms: {off}"
            );
        }
    }
}

#[test]
fn where_too_many_lines_are_missing_or_late_nothing_is_counted() {
    // From the sixth on two lines come and two are lost.
    let holes = (0..120_u32).filter(|k| *k < 6 || k % 4 < 2).map(usual);
    assert!(by_arrival(&taken_off(holes)));
    let is_late = |k: u32| [6, 7, 9].contains(&k) || k > 14 && k % 5 < 2;
    let late = |k: u32| if is_late(k) { 60.0 } else { 0.0 };
    let off = taken_off((0..120_u32).map(|k| f64::from(k) * 1000.0 + late(k)));
    assert!(by_arrival(&off), "{off:?}");
    // One in eight is borne.
    let few = taken_off((0..120_u32).filter(|k| k % 8 != 7).map(usual));
    assert!(!by_arrival(&few[20..]));
}

#[test]
fn two_odd_lines_at_the_beginning_are_borne() {
    let late = |k: u32| if k == 6 || k == 7 { 60.0 } else { 0.0 };
    let off = taken_off((0..20_u32).map(|k| usual(k) + late(k)));
    assert!(!by_arrival(&off[12..16]), "{off:?}");
}

#[test]
fn after_it_was_given_up_it_is_measured_twice_as_long() {
    // Regular for 30 s, at odd instants for 6 s, and regular again.
    let mut at_ms: Vec<f64> = (0..30_u32).map(usual).collect();
    at_ms.extend((0..10_u32).map(|k| 30_300.0 + f64::from(k * 600 + k % 3 * 170)));
    let again = at_ms.len();
    at_ms.extend((0..60_u32).map(|k| 40_500.0 + usual(k)));
    let off = taken_off(at_ms);
    assert!(!by_arrival(&off[13..30]));
    assert!(by_arrival(&off[again..again + 20]), "{off:?}");
    assert!(!by_arrival(&off[again + 27..]), "{off:?}");
}

#[test]
fn a_long_pause_is_not_counted_and_a_short_one_is() {
    for (pause, counted) in [(90, true), (110, false)] {
        let mut at_ms: Vec<f64> = (0..100_u32).map(|k| f64::from(k) * 1000.0).collect();
        at_ms.push(f64::from(99 + pause) * 1000.0 + 12.0);
        let off = taken_off(at_ms);
        let expected = if counted { 12.0 } else { 0.0 };
        assert!(
            (off[100] - expected).abs() < 1e-3,
            "{pause} s: {}",
            off[100]
        );
    }
}

#[test]
fn what_nobody_can_number_is_said_to_be_uncertain() {
    let mut regular = Regular::default();
    for k in 0..30 {
        assert!(!regular.stamp(came(usual(k))).uncertain);
    }
    // A second line at once: one of the two is another instant's.
    let twice = regular.stamp(came(29_014.0));
    assert!(twice.uncertain);
    assert_eq!(twice.sampled_ns, 29_014 * MS);
    // Two in one read, as they should be, and two after lines that never came.
    let two = |at_ms: f64, lines_after: u32| Arrival {
        lines_after,
        ..came(at_ms)
    };
    assert!(!regular.stamp(two(31_100.0, 1)).uncertain);
    assert!(!regular.stamp(two(31_100.0, 0)).uncertain);
    assert!(regular.stamp(two(36_100.0, 1)).uncertain);
    assert!(!regular.stamp(two(36_100.0, 0)).uncertain);
}

#[test]
fn lines_that_are_late_too_often_are_given_up() {
    let late = |k: u32| {
        if k > 40 && k.is_multiple_of(2) {
            60.0
        } else {
            0.0
        }
    };
    let off = taken_off((0..90_u32).map(|k| f64::from(k) * 1000.0 + late(k)));
    assert!(off[42] > 50.0, "the first ones are put right: {}", off[42]);
    assert!(by_arrival(&off[60..]), "{off:?}");
}
