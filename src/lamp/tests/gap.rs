//! Edges about a gap in the rows, and on curves that flatten fast (all data invented).

use super::super::watch::{EdgeSeen, Watcher};
use super::super::{Kind, LampOptions};
use super::{near, newton, normal, rng};

const ON_S: f64 = 200.0;
const OFF_S: f64 = 700.0;

/// How the samples are read: time from row to row, their time constants, how far the lamp brings them, and the noise.
#[derive(Clone, Copy)]
struct Board {
    every_s: f64,
    taus_s: [f64; 2],
    rise_degc: f64,
    noise_degc: f64,
    is_planned: bool,
}

const BOARD: Board = Board {
    every_s: 1.0,
    taus_s: [350.0, 500.0],
    rise_degc: 14.0,
    noise_degc: 0.03,
    is_planned: true,
};

/// All that is told of a lesson's rows to 950 s, less those within `gap_s`, of which one channel or both have none.
fn told(board: Board, seed: u64, gap_s: (f64, f64), is_read: bool) -> Vec<EdgeSeen> {
    told_of(board, seed, gap_s, is_read, 0.0)
}

/// The same where the probes were moved within the gap, to where it is warmer by so much.
fn told_of(
    board: Board,
    seed: u64,
    gap_s: (f64, f64),
    is_read: bool,
    moved_degc: f64,
) -> Vec<EdgeSeen> {
    let mut draw = rng(seed);
    let mut watcher = Watcher::new(2, &LampOptions::default());
    if !board.is_planned {
        watcher = watcher.unplanned();
    }
    let mut seen = Vec::new();
    for i in 0..(950.0 / board.every_s) as usize {
        let t_s = board.every_s * i as f64;
        let degc = board.taus_s.map(|tau_s| {
            let lamp = newton(t_s - ON_S - 5.0, tau_s) - newton(t_s - OFF_S - 5.0, tau_s);
            let moved = if t_s >= gap_s.1 { moved_degc } else { 0.0 };
            21.0 + moved + board.rise_degc * lamp + board.noise_degc * normal(&mut draw)
        });
        if (gap_s.0..gap_s.1).contains(&t_s) {
            if is_read {
                seen.extend(watcher.push(t_s, &[f64::NAN; 2]));
            }
        } else {
            seen.extend(watcher.push(t_s, &degc));
        }
    }
    seen
}

/// Both edges and no other, each told within so many seconds of the first row that could.
fn are_told(seen: &[EdgeSeen], gap_s: (f64, f64), within_s: f64) {
    let kinds: Vec<Kind> = seen.iter().map(|e| e.edge).collect();
    assert_eq!(kinds, [Kind::On, Kind::Off], "{seen:?}");
    for (edge, truth_s) in seen.iter().zip([ON_S, OFF_S]) {
        let in_gap = (gap_s.0..gap_s.1).contains(&truth_s);
        let from_s = if in_gap { gap_s.1 } else { truth_s };
        assert!(
            (from_s..from_s + within_s).contains(&edge.noticed_s),
            "{seen:?}"
        );
        let held = edge.low_s - 2.0 <= truth_s && truth_s <= edge.high_s + 2.0;
        assert!(
            held && edge.low_s <= edge.at_s && edge.at_s <= edge.high_s,
            "{seen:?}"
        );
    }
}

#[test]
fn an_edge_in_a_gap_or_soon_after_it_is_told() {
    for (seed, gap_s) in (71_000..).zip([
        (680.0, 725.0),
        (640.0, 690.0),
        (600.0, 692.0),
        (675.0, 765.0),
        (180.0, 230.0),
        (100.0, 185.0),
        (690.0, 706.0),
    ]) {
        for is_read in [false, true] {
            are_told(&told(BOARD, seed, gap_s, is_read), gap_s, 30.0);
        }
    }
}

#[test]
fn a_gap_alone_is_no_edge() {
    for (seed, from_s) in (71_100..).zip([90.0, 270.0, 340.0, 450.0, 800.0]) {
        for long_s in [8.0, 25.0, 60.0, 150.0] {
            let to_s = if from_s < ON_S {
                from_s + f64::min(long_s, 70.0)
            } else {
                from_s + long_s
            };
            are_told(
                &told(BOARD, seed, (from_s, to_s), false),
                (from_s, to_s),
                30.0,
            );
        }
    }
}

#[test]
fn a_curve_that_flattens_fast_is_no_edge() {
    for (seed, taus_s) in (71_200..).zip([[60.0, 80.0], [45.0, 120.0], [100.0, 64.0], [55.0, 55.0]])
    {
        for every_s in [0.5, 1.0, 2.0, 3.0] {
            let board = Board {
                every_s,
                taus_s,
                rise_degc: 25.0,
                noise_degc: 0.006,
                ..BOARD
            };
            let seen = told(board, seed, (0.0, 0.0), false);
            are_told(&seen, (0.0, 0.0), 10.0 + 6.0 * every_s);
            for (edge, truth_s) in seen.iter().zip([ON_S, OFF_S]) {
                assert!(
                    (edge.at_s - truth_s).abs() < 5.0 + 2.0 * every_s,
                    "{seen:?}"
                );
            }
        }
    }
}

/// Rows many time constants apart leave nothing of a slope, by which its filters divide.
#[test]
fn rows_hours_apart_do_no_harm() {
    for step_s in [1e3, 1e4, 3e4, 1e6] {
        let mut watcher = Watcher::new(2, &LampOptions::default());
        for k in 0..60 {
            let degc = 20.0 + f64::from(k * k % 7);
            let seen = watcher.push(f64::from(k) * step_s, &[degc, 0.5 * degc]);
            assert!(seen.is_none_or(|edge| edge.at_s.is_finite()), "{step_s}");
        }
    }
}

/// How long after the gap the edge in it is told, in seconds, and the edge.
fn behind_gap(
    board: Board,
    seed: u64,
    kind: Kind,
    gap_s: (f64, f64),
    moved_degc: f64,
) -> (f64, EdgeSeen) {
    let seen = told_of(board, seed, gap_s, false, moved_degc);
    let edge = seen.iter().find(|e| e.edge == kind).expect("an edge");
    (edge.noticed_s - gap_s.1, *edge)
}

#[test]
fn eight_rows_behind_a_gap_tell_of_an_edge_in_it_wherever_it_was() {
    for (seed, (kind, gap_s)) in (71_300..).zip([
        (Kind::Off, (680.0, 725.0)),
        (Kind::Off, (640.0, 720.0)),
        (Kind::Off, (675.0, 765.0)),
        (Kind::On, (180.0, 230.0)),
        (Kind::On, (170.0, 245.0)),
    ]) {
        let (after_s, edge) = behind_gap(BOARD, seed, kind, gap_s, 0.0);
        assert!((7.0..8.5).contains(&after_s), "{gap_s:?}: {edge:?}");
        let truth_s = if kind == Kind::On { ON_S } else { OFF_S };
        near(edge.at_s, truth_s, 25.0);
        // Where nobody plans to switch one, a few more rows do.
        let unplanned = Board {
            is_planned: false,
            ..BOARD
        };
        let (later_s, _) = behind_gap(unplanned, seed, kind, gap_s, 0.0);
        assert!(later_s >= after_s && later_s < 12.0, "{gap_s:?}: {later_s}");
        // Nobody saw when.
        assert!(edge.low_s < gap_s.0 && edge.high_s >= gap_s.1, "{edge:?}");
    }
}

#[test]
fn what_no_lamp_can_have_brought_about_within_a_gap_was_moved() {
    for (seed, (kind, gap_s, moved_degc)) in (71_400..).zip([
        (Kind::Off, (680.0, 725.0), 4.0),
        (Kind::Off, (680.0, 725.0), -6.0),
        (Kind::Off, (690.0, 706.0), -3.0),
        (Kind::On, (180.0, 230.0), -4.0),
        (Kind::On, (180.0, 230.0), 6.0),
    ]) {
        // The rows behind it must tell by themselves.
        let (after_s, edge) = behind_gap(BOARD, seed, kind, gap_s, moved_degc);
        assert!(after_s >= 14.0, "{moved_degc}: {edge:?}");
    }
}
