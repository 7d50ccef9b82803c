//! Edges while rows arrive, on lessons of some minutes.

#![allow(clippy::float_cmp, reason = "numbers that are handed on as they are")]

use super::super::asked::Onset;
use super::super::watch::{EdgeSeen, Watcher};
use super::super::{Kind, LampOptions};
use super::{near, newton, normal, rng};

/// How a board reads two samples under a lamp.
#[derive(Clone, Copy)]
struct Board {
    every_s: f64,
    noise_degc: f64,
    rises_degc: [f64; 2],
}

const BOARD: Board = Board {
    every_s: 1.0,
    noise_degc: 0.03,
    rises_degc: [12.0, 8.0],
};

/// Rows of a record in which the lamp burns from 240 s to 700 s, handed to a watcher; all that it tells.
fn told(mut watcher: Watcher, board: Board, seed: u64, to_s: f64) -> Vec<EdgeSeen> {
    let mut draw = rng(seed);
    let rows = (to_s / board.every_s) as usize;
    (0..rows)
        .filter_map(|i| {
            let t_s = board.every_s * i as f64;
            let lamp = |tau_s| newton(t_s - 246.0, tau_s) - newton(t_s - 706.0, tau_s);
            let degc = [(0, 400.0), (1, 300.0)].map(|(k, tau_s)| {
                21.0 + board.rises_degc[k] * lamp(tau_s) + board.noise_degc * normal(&mut draw)
            });
            watcher.push(t_s, &degc)
        })
        .collect()
}

fn two() -> Watcher {
    Watcher::new(2, &LampOptions::default())
}

fn kinds(seen: &[EdgeSeen]) -> Vec<Kind> {
    seen.iter().map(|e| e.edge).collect()
}

#[test]
fn both_edges_are_told_soon_with_intervals_that_hold_them() {
    let mut covered = 0;
    for (seed, every_s) in [(1, 0.25), (2, 1.0), (3, 1.0), (4, 2.0), (5, 4.0)] {
        let board = Board { every_s, ..BOARD };
        let seen = told(two(), board, seed, 1000.0);
        assert_eq!(kinds(&seen), [Kind::On, Kind::Off], "{seed}: {seen:?}");
        for (edge, truth_s) in seen.iter().zip([240.0, 700.0]) {
            let delay_s = edge.noticed_s - truth_s;
            let most_s = 12.0 + 6.0 * every_s;
            assert!(delay_s > 0.0 && delay_s < most_s, "{seed}: {delay_s}");
            assert!(edge.low_s <= edge.at_s && edge.at_s <= edge.high_s);
            assert!(edge.high_s <= edge.noticed_s && edge.noticed_s - edge.low_s < 60.0);
            near(edge.at_s, truth_s, 6.0 + 3.0 * every_s);
            covered += u32::from(edge.low_s <= truth_s && truth_s <= edge.high_s);
        }
    }
    assert!(covered >= 8, "{covered} of 10");
}

#[test]
fn weaker_lamps_take_longer() {
    let delay = |rises_degc| -> f64 {
        let board = Board {
            rises_degc,
            ..BOARD
        };
        let each = (10..14).map(|seed| {
            let seen = told(two(), board, seed, 700.0);
            assert_eq!(kinds(&seen), [Kind::On], "{seed}: {seen:?}");
            seen[0].noticed_s - 240.0
        });
        each.sum::<f64>() / 4.0
    };
    let (strong, weak) = (delay([20.0, 14.0]), delay([4.0, 3.0]));
    assert!(
        strong > 5.0 && weak > strong + 3.0 && weak < 45.0,
        "{strong} {weak}"
    );
}

#[test]
fn nothing_is_told_without_a_lamp_or_of_one_sample_that_is_touched_or_moved() {
    for seed in 20..24 {
        let still = Board {
            rises_degc: [0.0; 2],
            ..BOARD
        };
        assert_eq!(told(two(), still, seed, 3000.0), []);
        let mut draw = rng(seed);
        let mut watcher = two();
        for i in 0..1200 {
            let t_s = f64::from(i);
            let touch = if t_s >= 400.0 {
                2.0 * (-(t_s - 400.0) / 25.0).exp()
            } else {
                0.0
            };
            let moved = if t_s >= 800.0 { -3.0 } else { 0.0 };
            let mut degc = [21.0 + touch + moved, 22.0];
            for y in &mut degc {
                *y += 0.03 * normal(&mut draw);
            }
            let seen = watcher.push(t_s, &degc);
            assert_eq!(seen, None, "{seed}");
        }
    }
}

#[test]
fn one_sample_that_bends_alone_needs_more_than_two_that_agree() {
    let delay = |rises_degc| {
        let board = Board {
            rises_degc,
            ..BOARD
        };
        let seen = told(two(), board, 30, 700.0);
        seen.first().map(|e| e.noticed_s - 240.0)
    };
    let (both, alone) = (delay([6.0, 6.0]).unwrap(), delay([6.0, 0.0]));
    assert!(
        alone.is_none_or(|alone| alone > both + 2.0),
        "{both} {alone:?}"
    );
}

#[test]
fn where_no_lamp_is_planned_more_is_asked_for() {
    let mut later = 0;
    for seed in 40..44 {
        let planned = told(two(), BOARD, seed, 1000.0);
        let unplanned = told(two().unplanned(), BOARD, seed, 1000.0);
        assert_eq!(kinds(&planned), kinds(&unplanned), "{seed}");
        assert!(unplanned[0].noticed_s >= planned[0].noticed_s);
        later += u32::from(unplanned[0].noticed_s > planned[0].noticed_s);
    }
    assert!(later >= 3, "{later} of 4");
}

/// What is asked for after an hour in a room that is warmed for four minutes and cooled for four, by so much a second,
/// and so slowly that it is no lamp.
fn raised_after_an_hour(degc_per_s: f64) -> f64 {
    let mut draw = rng(45);
    let mut watcher = two().unplanned();
    let mut air = 21.0;
    for i in 0..3600 {
        let t_s = f64::from(i);
        air += degc_per_s * (4.0 * (t_s * std::f64::consts::TAU / 480.0).sin()).tanh();
        let degc = [0; 2].map(|_| air + 0.03 * normal(&mut draw));
        assert_eq!(watcher.push(t_s, &degc), None);
    }
    watcher.asked.raised(&Onset {
        kind: Kind::On,
        at_s: 3600.0,
        blocks: 3600.0,
        likeliest: 5,
        width_s: 1.0,
    })
}

#[test]
fn where_the_room_has_come_and_gone_for_an_hour_more_is_asked_for() {
    let (still, unsteady) = (raised_after_an_hour(0.0), raised_after_an_hour(0.02));
    assert!(unsteady > still + 5.0, "{still} {unsteady}");
}

#[test]
fn declared_lags_narrow_the_interval() {
    let width = |options: &LampOptions| {
        let seen = told(Watcher::new(2, options), BOARD, 50, 700.0);
        seen[0].at_s - seen[0].low_s
    };
    let open = width(&LampOptions::default());
    let known = LampOptions {
        probe_lag_s: Some(vec![5.0]),
        lamp_lag_s: Some(1.6),
        ..LampOptions::default()
    };
    let measured = LampOptions {
        probe_lag_u_s: Some(vec![2.5]),
        ..known.clone()
    };
    // Twice the priors' standard deviations of 3 s and 1.5 s, at right angles.
    assert!(open > 2.0 * 3.0_f64.hypot(1.5), "{open}");
    assert!(width(&known) < width(&measured) && width(&measured) < open);
    assert!(width(&measured) > 5.0);
    // Known lags leave the blocks that tell as well upwards, too, and not all the time since.
    let seen = told(Watcher::new(2, &known), BOARD, 50, 700.0);
    let above_s = seen[0].high_s - seen[0].at_s;
    assert!(
        above_s > 0.5 && seen[0].high_s < seen[0].noticed_s - 1.0,
        "{seen:?}"
    );
}

#[test]
fn rows_out_of_order_and_dead_channels_change_nothing() {
    let mut plain = two();
    let mut other = Watcher::new(3, &LampOptions::default());
    let mut draw = rng(60);
    let mut count = 0;
    for i in 0..900 {
        let t_s = f64::from(i);
        let lamp = newton(t_s - 246.0, 400.0) - newton(t_s - 706.0, 400.0);
        let degc = [12.0, 8.0].map(|rise| 21.0 + rise * lamp + 0.03 * normal(&mut draw));
        let (a, b) = (
            plain.push(t_s, &degc),
            other.push(t_s, &[degc[0], f64::NAN, degc[1]]),
        );
        assert_eq!(a, b);
        count += u32::from(a.is_some());
        assert_eq!(other.push(t_s, &[99.0; 3]), None);
        assert_eq!(other.push(t_s - 3.0, &[99.0; 3]), None);
        assert_eq!(other.push(f64::NAN, &[99.0; 3]), None);
    }
    assert_eq!(count, 2);
}

#[test]
fn after_a_long_pause_all_begins_anew() {
    let mut watcher = two();
    let mut draw = rng(70);
    let mut feed = |watcher: &mut Watcher, from: i32, to: i32, level: f64| -> usize {
        (from..to)
            .filter(|i| {
                let degc = [0; 2].map(|_| level + 0.03 * normal(&mut draw));
                watcher.push(f64::from(*i), &degc).is_some()
            })
            .count()
    };
    assert_eq!(feed(&mut watcher, 0, 300, 21.0), 0);
    // Ten degrees more after a pause are no lamp that was seen to go on, however long it was.
    assert_eq!(feed(&mut watcher, 400, 700, 31.0), 0);
    assert_eq!(feed(&mut watcher, 1_000_000, 1_000_300, 24.0), 0);
}

/// Two samples that warm from `on_s` on, gently, by so much a second in the end, and cool from 400 s on, as a lamp has it.
fn warmed(mut watcher: Watcher, seed: u64, [on_s, gently_s, steep]: [f64; 3]) -> Vec<EdgeSeen> {
    let mut draw = rng(seed);
    let mut seen = Vec::new();
    for i in 0..500 {
        let t_s = f64::from(i);
        let since_s = (t_s - on_s).max(0.0);
        // A ramp that sets in over some time, and one that ends it behind the usual lags.
        let up = since_s - gently_s * -(-since_s / gently_s).exp_m1();
        let down = (t_s - 406.0).max(0.0);
        let degc = [0.6 * steep, 0.5 * steep]
            .map(|slope| 21.0 + slope * (up - 1.6 * down) + 0.03 * normal(&mut draw));
        seen.extend(watcher.push(t_s, &degc));
    }
    seen
}

#[test]
fn a_lamp_that_went_on_unnoticed_is_seen_to_go_off() {
    for seed in 80..84 {
        let mut watcher = two();
        watcher.expect(Kind::On, f64::INFINITY);
        let seen = warmed(watcher, seed, [60.0, 120.0, 0.05]);
        assert_eq!(kinds(&seen), [Kind::Off], "{seed}: {seen:?}");
        let delay_s = seen[0].noticed_s - 400.0;
        assert!(delay_s > 0.0 && delay_s < 30.0, "{seed}: {delay_s}");
    }
}

#[test]
fn coarse_readings_tell_once_they_have_moved_by_more_than_a_step() {
    for step_degc in [0.1, 0.25, 0.5] {
        let mut draw = rng(95);
        let mut watcher = two();
        let mut seen = Vec::new();
        for i in 0..320 {
            let t_s = f64::from(i);
            let degc = BOARD.rises_degc.map(|rise| {
                let degc =
                    21.0 + rise * newton(t_s - 246.0, 400.0) + 0.3 * step_degc * normal(&mut draw);
                (degc / step_degc).round() * step_degc
            });
            seen.extend(watcher.push(t_s, &degc));
        }
        assert_eq!(kinds(&seen), [Kind::On], "{step_degc}: {seen:?}");
        // The slope is 0.03 °C a second at most, behind lags of some six seconds.
        let delay_s = seen[0].noticed_s - 240.0;
        assert!(
            delay_s > step_degc / 0.03 && delay_s < 70.0,
            "{step_degc}: {delay_s}"
        );
    }
}

#[test]
fn half_a_minute_of_rows_is_enough_to_notice_a_lamp() {
    for seed in 90..94 {
        let seen = warmed(two(), seed, [32.0, 5.0, 0.08]);
        assert_eq!(kinds(&seen), [Kind::On, Kind::Off], "{seed}: {seen:?}");
        let delay_s = seen[0].noticed_s - 32.0;
        assert!(delay_s > 0.0 && delay_s < 25.0, "{seed}: {delay_s}");
    }
}
