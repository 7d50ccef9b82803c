//! When lines are of another clock, and when they are only late.

use super::*;

#[test]
fn a_restarted_clock_is_noticed_and_stamped_by_arrival() {
    let mut base = TimeBase::new();
    for k in 0..400_u32 {
        base.stamp(
            came(i64::from(k) * 250 * MS),
            Some(5_000 + k * 250),
            Some(k),
        );
    }
    let restart = base.stamp(came(101_500 * MS), Some(0), Some(0));
    assert!(restart.restarted);
    assert_eq!(restart.sampled_ns, 101_500 * MS);
    let next = base.stamp(came(101_750 * MS), Some(250), Some(1));
    assert!(!next.restarted);
}

#[test]
fn a_restart_after_a_month_is_not_taken_for_a_leap_forward() {
    let mut base = TimeBase::new();
    // Up for 30 days: the step to zero is 2^32 − 2.6e9 ms forward, or 2.6e9 back.
    base.stamp(came(0), Some(2_592_000_000), Some(9_000_000));
    base.stamp(came(250 * MS), Some(2_592_000_250), Some(9_000_001));
    assert!(base.stamp(came(3_000 * MS), Some(40), None).restarted);
}

#[test]
fn a_stalled_host_does_not_look_like_a_restart() {
    let mut base = TimeBase::new();
    let mut at = |k: u32, late_ms: i64| {
        let sampled = i64::from(k) * 250 * MS;
        (
            base.stamp(came(sampled + late_ms * MS), Some(k * 250), Some(k)),
            sampled,
        )
    };
    for k in 0..200 {
        at(k, 3);
    }
    // Thirty seconds of lines come out of the kernel's buffer at once.
    for k in 200..320 {
        let (stamp, sampled) = at(k, i64::from(320 - k) * 250);
        assert!(!stamp.restarted);
        assert!((stamp.sampled_ns - sampled).abs() < 5 * MS);
    }
    let (stamp, sampled) = at(321, 3);
    assert!(!stamp.restarted);
    assert!((stamp.sampled_ns - sampled).abs() < 5 * MS);
}

#[test]
fn a_stall_with_a_line_a_second_is_no_restart_either() {
    let mut base = TimeBase::new();
    for k in 0..200_u32 {
        // Lines 100 to 109 come together, when the last of them does.
        let came_k = if (100..110).contains(&k) { 109 } else { k };
        let stamp = base.stamp(
            came((i64::from(came_k) * 1000 + 3) * MS),
            Some(k * 1000),
            Some(k),
        );
        assert!(!stamp.restarted, "line {k}");
        let error = stamp.sampled_ns - i64::from(k) * 1000 * MS;
        assert!(error.abs() < 5 * MS, "line {k}: {error} ns");
    }
}

#[test]
fn lines_that_are_late_for_a_while_are_of_the_same_clock() {
    let half_a_second = |k: i64| -> i64 { if k < 100 { 3 } else { 500 } };
    // Two seconds late for three, and then all at once until it is made up for.
    let two_seconds = |k: i64| match k {
        100..112 => 2000,
        112.. => (2000 - (k - 111) * 250).max(3),
        _ => 3,
    };
    for late_ms in [&half_a_second as &dyn Fn(i64) -> i64, &two_seconds] {
        let mut base = TimeBase::new();
        for k in 0..200_u32 {
            let arrival = came((i64::from(k) * 250 + late_ms(i64::from(k))) * MS);
            let stamp = base.stamp(arrival, Some(k * 250), Some(k));
            assert!(!stamp.restarted, "line {k}");
        }
    }
}

#[test]
fn a_clock_first_heard_in_a_stall_has_not_leapt_when_lines_of_it_are_missing() {
    let mut base = TimeBase::new();
    // Lines 0 to 12 come when 12 does, without three seconds of them.
    for k in [0, 1, 2, 9, 10, 11, 12, 13, 14_u32] {
        let came_k = k.max(12);
        let arrival = came((i64::from(came_k) * 500 + 3) * MS);
        let stamp = base.stamp(arrival, Some(k * 500), Some(k));
        assert!(!stamp.restarted, "line {k}");
        let error = stamp.sampled_ns - i64::from(k) * 500 * MS;
        assert!(k < 12 || error == 3 * MS, "line {k}: {error} ns");
    }
    // Lines came in their time since: a leap is one.
    let leapt = base.stamp(came(7_503 * MS), Some(10_500), Some(21));
    assert!(leapt.restarted);
}

#[test]
fn stalls_one_behind_the_other_are_no_clock_that_stood_still() {
    let mut base = TimeBase::new();
    // Lines 100 to 107 come when 107 was sent, the next ten with their last, and so on: each burst
    // is late when the one before it is not made up for.
    for k in 0..200_u32 {
        let late_ms = match k {
            100..108 => i64::from(113 - k) * 250,
            108..124 => i64::from(130 - k) * 250,
            124..144 => i64::from(150 - k) * 250,
            _ => 3,
        };
        let arrival = came((i64::from(k) * 250 + late_ms) * MS);
        let stamp = base.stamp(arrival, Some(k * 250), Some(k));
        assert!(!stamp.restarted, "line {k}");
        let error = stamp.sampled_ns - i64::from(k) * 250 * MS;
        assert!(error.abs() < 5 * MS, "line {k}: {error} ns");
    }
}

#[test]
fn a_clock_that_stood_still_for_once_began_anew() {
    let mut base = TimeBase::new();
    let mut restarted = Vec::new();
    for k in 0..100_u32 {
        // The board slept for two seconds before line 50.
        let slept_ms = if k < 50 { 0 } else { 2000 };
        let arrival = came((i64::from(k) * 250 + slept_ms) * MS);
        if base.stamp(arrival, Some(k * 250), Some(k)).restarted {
            restarted.push(k);
        }
    }
    // Known when lines have been late for more than five seconds.
    assert_eq!(restarted, [71]);
}

#[test]
fn a_clock_half_a_second_ahead_is_a_clock_and_more_is_another_one() {
    for (lead_ms, restarted) in [(400, false), (600, true)] {
        let mut base = TimeBase::new();
        for k in 0..100_u32 {
            base.stamp(came(i64::from(k) * 250 * MS), Some(k * 250), Some(k));
        }
        let stamp = base.stamp(came(25_000 * MS), Some(25_000 + lead_ms), Some(100));
        assert_eq!(stamp.restarted, restarted, "{lead_ms} ms ahead");
    }
}

#[test]
fn a_clock_that_falls_back_is_another_one_and_one_that_stays_is_not() {
    let after = |step_ms: i32, seq: Option<u32>| {
        let mut base = TimeBase::new();
        for k in 0..40_u32 {
            let seq = seq.and(Some(k));
            base.stamp(came(i64::from(k) * 250 * MS), Some(90_000 + k * 250), seq);
        }
        let ms = (90_000 + 39 * 250_u32).wrapping_add_signed(step_ms);
        base.stamp(came(10_000 * MS), Some(ms), seq).restarted
    };
    assert!(after(-1, None) && after(-5000, None));
    assert!(!after(0, None) && !after(250, None));
    // The sequence number alone tells it too; the same one again does not.
    assert!(after(250, Some(38)));
    assert!(!after(250, Some(39)) && !after(250, Some(40)));
}
