//! Synthetic captures with known sampling instants.

mod restarts;

use super::*;
use rand::RngExt as _;
use rand::SeedableRng as _;

const MS: i64 = NS_PER_MS;

fn came(at_ns: i64) -> Arrival {
    Arrival {
        at_ns,
        ..Arrival::default()
    }
}

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
            let stamp = base.stamp(came(arrival), Some(ms), Some(seq as u32));
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
fn what_is_forgotten_is_no_restart() {
    let mut base = TimeBase::new();
    for k in 0..40_u32 {
        base.stamp(
            came(i64::from(k) * 250 * MS),
            Some(50_000 + k * 250),
            Some(k),
        );
    }
    base.forget();
    let stamp = base.stamp(came(13_000 * MS), Some(0), Some(0));
    assert_eq!((stamp.restarted, stamp.sampled_ns), (false, 13_000 * MS));
    // Nor is the regularity of another board's lines held against this one.
    let mut base = TimeBase::new();
    for (_, arrival) in regular(1000.0, 100, |_| false) {
        base.stamp(came(arrival), None, None);
    }
    base.forget();
    let at_ns = 105_500 * MS;
    assert_eq!(base.stamp(came(at_ns), None, None).sampled_ns, at_ns);
}

#[test]
fn a_board_without_a_clock_is_stamped_by_arrival_less_wire_time() {
    let stamp = TimeBase::new().stamp(
        Arrival {
            at_ns: 1_000 * MS,
            wire_ns: 21 * MS,
            ..Arrival::default()
        },
        None,
        None,
    );
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
        let stamp = base.stamp(came(arrival), Some(k * 100), Some(k));
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

#[test]
fn a_board_that_a_lamp_warms_is_followed() {
    // 30 °C at 10 ppm/°C with a time constant of five minutes, either way.
    for ppm in [300.0, -300.0] {
        let mut random = rand_pcg::Pcg64::seed_from_u64(5);
        let mut base = TimeBase::new();
        let (mut truth_s, mut sum, mut raw, mut n) = (0.0_f64, 0.0, 0.0, 0.0);
        for k in 0..6000_u32 {
            let warm = 1.0 - (-(truth_s - 200.0).max(0.0) / 300.0).exp();
            truth_s += 0.25 * (1.0 + 1e-6 * ppm * warm);
            let late_s = random.random_range(0.0..0.016);
            let arrival = came(((truth_s + late_s) * 1e9) as i64);
            let stamp = base.stamp(arrival, Some(k * 250), Some(k));
            if k > 240 {
                sum += ((stamp.sampled_ns as f64 / 1e9 - truth_s) * 1000.0).powi(2);
                raw += (late_s * 1000.0).powi(2);
                n += 1.0;
            }
        }
        let (rms_ms, raw_ms) = ((sum / n).sqrt(), (raw / n).sqrt());
        assert!(rms_ms < 0.6 && raw_ms > 9.0, "{rms_ms} of {raw_ms} ms");
    }
}

#[test]
fn the_hosts_sleep_is_a_pause_like_any_other() {
    let mut base = TimeBase::new();
    let skew = 1.0 + 500e-6;
    let mut error_ms = |ms: u32, seq: u32, late_ms: i64| {
        let truth_ns = (f64::from(ms) * 1e6 * skew) as i64;
        let stamp = base.stamp(came(truth_ns + late_ms * MS), Some(ms), Some(seq));
        assert!(!stamp.restarted, "at {ms} ms");
        (stamp.sampled_ns - truth_ns) as f64 / 1e6
    };
    for k in 0..1200 {
        error_ms(k * 250, k, i64::from(k * 7 % 16));
    }
    // Two hours of the boot clock pass; the board has counted on, and so have its lines.
    let after_ms = 300_000 + 7_200_000;
    for k in 0..400 {
        let error = error_ms(after_ms + k * 250, 30_000 + k, i64::from((k * 7 + 5) % 16));
        assert!(error.abs() < 16.0, "{error} ms");
        assert!(k < 40 || error.abs() < 1.0, "line {k}: {error} ms");
    }
}

/// Sampling instants, arrivals and lines after, of a board without a clock.
fn regular(period_ms: f64, lines: u32, lost: impl Fn(u32) -> bool) -> Vec<(i64, i64)> {
    let mut random = rand_pcg::Pcg64::seed_from_u64(9);
    (0..lines)
        .map(|k| (k, random.random_range(0..16 * MS)))
        .filter(|&(k, _)| !lost(k))
        .map(|(k, late)| {
            let truth = (f64::from(k) * period_ms * 1e6) as i64;
            (truth, truth + late)
        })
        .collect()
}

fn plain_rms_ms(lines: &[(i64, i64)], skip: usize) -> f64 {
    let mut base = TimeBase::new();
    let squares: Vec<f64> = lines
        .iter()
        .map(|&(truth, arrival)| {
            let stamp = base.stamp(came(arrival), None, None);
            ((stamp.sampled_ns - truth) as f64 / 1e6).powi(2)
        })
        .skip(skip)
        .collect();
    (squares.iter().sum::<f64>() / squares.len() as f64).sqrt()
}

#[test]
fn regular_lines_without_a_clock_are_their_own_clock() {
    for period_ms in [1003.7, 250.0, 100.0] {
        let whole = plain_rms_ms(&regular(period_ms, 1500, |_| false), 100);
        assert!(whole < 1.0, "{period_ms} ms: {whole} ms");
        let holes = plain_rms_ms(&regular(period_ms, 1500, |k| k % 7 == 3 || k == 700), 100);
        assert!(holes < 1.0, "{period_ms} ms with lines lost: {holes} ms");
    }
}

#[test]
fn lines_that_come_when_they_like_are_stamped_by_arrival() {
    let mut random = rand_pcg::Pcg64::seed_from_u64(2);
    let mut base = TimeBase::new();
    let mut arrival = 0;
    for k in 0..2000 {
        arrival += random.random_range(500..1500) * MS;
        let stamp = base.stamp(came(arrival), None, None);
        assert_eq!(stamp.sampled_ns, arrival, "line {k}");
    }
}

#[test]
fn a_regular_board_that_stops_being_regular_is_given_up() {
    let mut random = rand_pcg::Pcg64::seed_from_u64(4);
    let mut base = TimeBase::new();
    let mut arrival = 0;
    let mut shifted = 0;
    for k in 0..1000 {
        arrival += match k {
            ..200 => 1000 * MS,
            _ => random.random_range(300..1700) * MS,
        };
        let stamp = base.stamp(came(arrival), None, None);
        assert!(stamp.sampled_ns <= arrival && stamp.sampled_ns > arrival - 1700 * MS);
        shifted += u32::from(k >= 200 && stamp.sampled_ns != arrival);
    }
    assert!(shifted < 10, "{shifted} lines after it went wrong");
}

#[test]
fn a_burst_in_one_read_is_sorted_out_by_its_length() {
    let mut base = TimeBase::new();
    for (truth, arrival) in regular(1000.0, 100, |_| false) {
        let _ = (truth, base.stamp(came(arrival), None, None));
    }
    // Five seconds of lines come out of the kernel's buffer in one read.
    let at_ns = 104_010 * MS;
    for k in 100..105_u32 {
        let arrival = Arrival {
            at_ns,
            lines_after: 104 - k,
            ..Arrival::default()
        };
        let stamp = base.stamp(arrival, None, None);
        let error = stamp.sampled_ns - i64::from(k) * 1000 * MS;
        assert!(error.abs() < 5 * MS, "line {k}: {error} ns");
    }
}
