//! Synthetic captures with known sampling instants.

use super::*;
use rand::RngExt as _;
use rand::SeedableRng as _;

const MS: i64 = NS_PER_MS;

/// Lines of a board whose clock is `ppm` slow, arriving late as through a 16 ms USB timer, with a
/// stall of 200 ms for one line in a hundred. Returns (arrival, board ms, true instant), in ns.
fn capture(seed: u64, ppm: f64, rate_hz: f64, seconds: f64, first_ms: u32) -> Vec<(i64, u32, i64)> {
    let mut random = rand_pcg::Pcg64::seed_from_u64(seed);
    let start = 77_000_000_000_000_i64;
    (0..(rate_hz * seconds) as u32)
        .map(|k| {
            let board_ms = (f64::from(k) * 1000.0 / rate_hz).round();
            let truth = start + (board_ms * 1e6 * (1.0 + ppm * 1e-6)).round() as i64;
            let stall = if random.random_bool(0.01) {
                200 * MS
            } else {
                0
            };
            let late = random.random_range(0..16 * MS) + stall;
            (truth + late, first_ms.wrapping_add(board_ms as u32), truth)
        })
        .collect()
}

fn rms_ms(capture: &[(i64, u32, i64)], skip: usize) -> f64 {
    let mut base = TimeBase::new();
    let errors: Vec<f64> = capture
        .iter()
        .enumerate()
        .map(|(seq, &(arrival, ms, truth))| {
            let stamp = base.stamp(arrival, 0, Some(ms), Some(seq as u32));
            assert!(!stamp.restarted, "line {seq}");
            (stamp.sampled_ns - truth) as f64 / 1e6
        })
        .skip(skip)
        .collect();
    (errors.iter().map(|e| e * e).sum::<f64>() / errors.len() as f64).sqrt()
}

#[test]
fn batching_and_skew_are_taken_out() {
    for ppm in [-2000.0, -30.0, 0.0, 400.0, 2000.0] {
        let lines = capture(7, ppm, 4.0, 900.0, 0);
        let rms = rms_ms(&lines, 240);
        assert!(rms < 1.0, "{ppm} ppm: {rms} ms");
        let raw: f64 = lines
            .iter()
            .map(|l| ((l.0 - l.2) as f64 / 1e6).powi(2))
            .sum();
        let raw = (raw / lines.len() as f64).sqrt();
        assert!(
            raw > 9.0,
            "the capture is not late enough to show anything: {raw} ms"
        );
    }
}

#[test]
fn the_wrap_of_the_board_clock_is_seamless() {
    let wrapping = capture(3, 150.0, 4.0, 300.0, u32::MAX - 60_000);
    let plain = capture(3, 150.0, 4.0, 300.0, 0);
    let (a, b) = (rms_ms(&wrapping, 0), rms_ms(&plain, 0));
    assert!((a - b).abs() < 1e-6, "{a} {b}");
}

#[test]
fn a_restarted_clock_is_noticed_and_stamped_by_arrival() {
    let mut base = TimeBase::new();
    for k in 0..400_u32 {
        base.stamp(i64::from(k) * 250 * MS, 0, Some(5_000 + k * 250), Some(k));
    }
    let restart = base.stamp(101_500 * MS, 0, Some(0), Some(0));
    assert!(restart.restarted);
    assert_eq!(restart.sampled_ns, 101_500 * MS);
    let next = base.stamp(101_750 * MS, 0, Some(250), Some(1));
    assert!(!next.restarted);
}

#[test]
fn a_restart_after_a_month_is_not_taken_for_a_leap_forward() {
    let mut base = TimeBase::new();
    // Up for 30 days: the step to zero is 2^32 − 2.6e9 ms forward, or 2.6e9 back.
    base.stamp(0, 0, Some(2_592_000_000), Some(9_000_000));
    base.stamp(250 * MS, 0, Some(2_592_000_250), Some(9_000_001));
    assert!(base.stamp(3_000 * MS, 0, Some(40), None).restarted);
}

#[test]
fn a_stalled_host_does_not_look_like_a_restart() {
    let mut base = TimeBase::new();
    let mut at = |k: u32, late_ms: i64| {
        let sampled = i64::from(k) * 250 * MS;
        (
            base.stamp(sampled + late_ms * MS, 0, Some(k * 250), Some(k)),
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
fn a_board_without_a_clock_is_stamped_by_arrival_less_wire_time() {
    let stamp = TimeBase::new().stamp(1_000 * MS, 21 * MS, None, None);
    assert_eq!((stamp.sampled_ns, stamp.restarted), (979 * MS, false));
}

#[test]
fn a_clock_that_stands_still_is_given_up_for_the_arrival() {
    // A board that sleeps between its lines: its clock counts 100 ms for each second.
    let mut base = TimeBase::new();
    let mut errors = Vec::new();
    let mut restarts = 0;
    for k in 0..120_u32 {
        let arrival = i64::from(k) * 1000 * MS;
        let stamp = base.stamp(arrival, 0, Some(k * 100), Some(k));
        restarts += u32::from(stamp.restarted);
        errors.push((stamp.sampled_ns - arrival).abs());
    }
    assert!(restarts >= 1, "the rows around it must be marked");
    assert!(
        errors.iter().skip(20).all(|error| *error == 0),
        "{errors:?}"
    );
    assert!(errors.iter().all(|error| *error < 8000 * MS), "{errors:?}");
}
