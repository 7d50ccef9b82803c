//! Boards on one grid: what is made between rows, and what is not.

use super::*;

const MS: i64 = 1_000_000;

fn row(t_ms: i64, value: f64) -> Row {
    Row {
        t_ns: t_ms * MS,
        readings: [Reading::Degc { value, decimals: 3 }].into_iter().collect(),
        doubts: Doubts::default(),
    }
}

fn join(rows: &[(usize, i64, f64)]) -> Vec<Row> {
    let mut joiner = Joiner::new(0, &[1, 1]);
    let mut out = Vec::new();
    for &(board, t_ms, value) in rows {
        joiner.push(board, row(t_ms, value), Some(1000 * MS), &mut out);
    }
    joiner.finish(&mut out);
    out
}

/// Two boards a second, out of step, over two samples that warm alike.
fn both(seconds: std::ops::Range<i64>, silent: std::ops::Range<i64>) -> Vec<(usize, i64, f64)> {
    let degc = |t_ms: i64| 20.0 + t_ms as f64 * 1e-4;
    seconds
        .flat_map(|k| [(0, k * 1000 + 140), (1, k * 1000 + 610)])
        .filter(|(board, t_ms)| *board == 0 || !silent.contains(&(t_ms / 1000)))
        .map(|(board, t_ms)| (board, t_ms, degc(t_ms)))
        .collect()
}

#[test]
fn equal_samples_on_two_boards_are_equal_at_every_instant() {
    let rows = join(&both(0..60, 0..0));
    assert!(rows.len() > 55, "{} rows", rows.len());
    for row in rows.iter().skip(1) {
        assert_eq!(row.t_ns % (1000 * MS), 0);
        let truth = 20.0 + (row.t_ns / MS) as f64 * 1e-4;
        for channel in 0..2 {
            assert!((row.degc(channel) - truth).abs() < 1e-9, "{row:?}");
        }
        assert!(row.doubts.joined);
    }
}

#[test]
fn nothing_is_made_across_a_pause_and_the_other_board_goes_on() {
    let rows = join(&both(0..60, 20..40));
    let at = |s: i64| rows.iter().find(|row| row.t_ns == s * 1000 * MS).unwrap();
    assert!(at(19).degc(1).is_finite());
    for s in 21..40 {
        assert!(at(s).degc(0).is_finite(), "{s} s");
        assert_eq!(at(s).readings[1], Reading::Fault(ProbeFault::Absent));
    }
    assert!(at(42).degc(1).is_finite());
}

#[test]
fn two_lost_rows_are_bridged_and_three_are_not() {
    let rows = join(&both(0..30, 10..11));
    assert!(rows.iter().skip(1).all(|row| row.degc(1).is_finite()));
    let rows = join(&both(0..30, 10..13));
    assert!(rows.iter().skip(1).any(|row| row.degc(1).is_nan()));
}

#[test]
fn the_order_in_which_boards_are_heard_does_not_matter() {
    let mut mixed = both(0..40, 0..0);
    mixed.chunks_mut(2).for_each(|pair| pair.swap(0, 1));
    assert_eq!(join(&mixed), join(&both(0..40, 0..0)));
}

#[test]
fn what_is_said_of_a_row_is_said_once() {
    let mut joiner = Joiner::new(0, &[1, 1]);
    let mut out = Vec::new();
    for (board, t_ms, value) in both(0..20, 0..0) {
        let mut row = row(t_ms, value);
        row.doubts.lost = if t_ms == 7610 { 3 } else { 0 };
        joiner.push(board, row, Some(1000 * MS), &mut out);
    }
    joiner.finish(&mut out);
    let told: u32 = out.iter().map(|row| row.doubts.lost).sum();
    assert_eq!(told, 3);
}

#[test]
fn nothing_is_made_across_a_cut_however_short() {
    let mut joiner = Joiner::new(0, &[1, 1]);
    let mut out = Vec::new();
    for (board, t_ms, value) in both(0..20, 0..0) {
        if t_ms == 10_140 {
            joiner.cut();
        }
        joiner.push(board, row(t_ms, value), Some(1000 * MS), &mut out);
    }
    joiner.finish(&mut out);
    let at = |s: i64| out.iter().find(|row| row.t_ns == s * 1000 * MS);
    assert!(at(9).is_some() && at(10).is_none());
    assert!(at(11).is_some_and(|row| row.degc(0).is_finite() && row.degc(1).is_finite()));
}

/// Instants in ms of what a joiner gave.
fn instants(rows: &[Row]) -> Vec<i64> {
    rows.iter().map(|row| row.t_ns / MS).collect()
}

#[test]
fn an_instant_is_given_as_soon_as_both_boards_have_passed_it() {
    // Instants are counted from the origin, wherever the clock stands.
    let origin = 77_000;
    let mut joiner = Joiner::new(origin * MS, &[1, 1]);
    let mut out = Vec::new();
    let mut given = Vec::new();
    for (board, t_ms, _) in both(0..4, 0..0) {
        let row = row(origin + t_ms, 20.0);
        joiner.push(board, row, Some(1_000_400_000), &mut out);
        given.push(out.len());
    }
    assert_eq!(joiner.step_ns(), Some(1000 * MS));
    // 1.14 s is behind 1 s for one board, 1.61 s for the other, and so on.
    assert_eq!(given, [0, 0, 0, 1, 1, 2, 2, 3]);
    assert_eq!(instants(&out), [78_000, 79_000, 80_000]);
    joiner.finish(&mut out);
    assert_eq!(out.len(), 3);
}

#[test]
fn at_the_end_what_waits_for_a_silent_board_is_given_without_it() {
    let mut joiner = Joiner::new(0, &[1, 1]);
    let mut out = Vec::new();
    for (board, t_ms, value) in both(0..5, 2..5) {
        joiner.push(board, row(t_ms, value), Some(1000 * MS), &mut out);
    }
    assert_eq!(instants(&out), [1000]);
    joiner.finish(&mut out);
    assert_eq!(instants(&out), [1000, 2000, 3000, 4000]);
    assert!(out[3].degc(0).is_finite());
    assert_eq!(out[3].readings[1], Reading::Fault(ProbeFault::Absent));
    // Nothing at all comes of nothing.
    let mut none = Vec::new();
    Joiner::new(0, &[1, 1]).finish(&mut none);
    assert!(none.is_empty());
}

#[test]
fn a_silent_board_is_waited_for_as_long_as_a_busy_host_may_hold_it_back() {
    let mut joiner = Joiner::new(0, &[1, 1]);
    let mut out = Vec::new();
    for (board, t_ms, value) in both(0..3, 2..3) {
        joiner.push(board, row(t_ms, value), Some(1000 * MS), &mut out);
    }
    // The longest pause of 2.5 s and 2 s more.
    for (t_ms, given) in [(6500, 1), (6501, 2)] {
        joiner.push(0, row(t_ms, 20.0), Some(1000 * MS), &mut out);
        assert_eq!(out.len(), given, "at {t_ms} ms: {:?}", instants(&out));
    }
}

#[test]
fn where_no_interval_is_known_the_grid_begins_after_ten_seconds() {
    let mut joiner = Joiner::new(0, &[1, 1]);
    let mut out = Vec::new();
    for (board, t_ms, value) in both(60..90, 0..0) {
        joiner.push(board, row(t_ms, value), None, &mut out);
        let waited_ms = t_ms - 60_140;
        assert_eq!(joiner.step_ns().is_some(), waited_ms > 10_000, "{t_ms}");
    }
    assert_eq!(joiner.step_ns(), Some(1000 * MS));
    assert_eq!(
        instants(&out),
        (61..90).map(|s| s * 1000).collect::<Vec<_>>()
    );
    // A board that is faster than the file can show is joined on the finest grid.
    let mut joiner = Joiner::new(0, &[1]);
    joiner.push(0, row(0, 20.0), Some(5 * MS), &mut out);
    assert_eq!(joiner.step_ns(), Some(20 * MS));
}

#[test]
fn the_first_row_behind_a_hole_in_the_grid_says_so() {
    let mut joiner = Joiner::new(0, &[1]);
    let mut out = Vec::new();
    for t_ms in [60_140, 61_140, 62_140, 66_140, 67_140, 68_140] {
        joiner.push(0, row(t_ms, 20.0), Some(1000 * MS), &mut out);
    }
    joiner.finish(&mut out);
    assert_eq!(instants(&out), [61_000, 62_000, 67_000, 68_000]);
    let gaps: Vec<bool> = out.iter().map(|row| row.doubts.gap).collect();
    assert_eq!(gaps, [false, false, true, false]);
}

#[test]
fn a_row_on_an_instant_needs_no_other() {
    let mut joiner = Joiner::new(0, &[1]);
    let mut out = Vec::new();
    // The last one is 0.4 ms behind its instant.
    let times_us = [1_000_000, 2_000_000, 3_000_000, 10_000_400];
    for (value, t_us) in (20..).map(f64::from).zip(times_us) {
        let row = Row {
            t_ns: t_us * 1000,
            ..row(0, value)
        };
        joiner.push(0, row, Some(1000 * MS), &mut out);
    }
    joiner.finish(&mut out);
    assert_eq!(instants(&out), [1000, 2000, 3000, 10_000]);
    let values: Vec<f64> = out.iter().map(|row| row.degc(0)).collect();
    assert_eq!(values, [20.0, 21.0, 22.0, 23.0]);
}

#[test]
fn all_that_is_said_of_a_row_is_said_of_the_one_made_of_it() {
    let said = Doubts {
        lost: 2,
        gap: true,
        reset: true,
        merged: true,
        late: true,
        skewed: true,
        ..Doubts::default()
    };
    let mut joiner = Joiner::new(0, &[1, 1]);
    let mut out = Vec::new();
    for (board, t_ms, value) in both(0..4, 0..0) {
        let doubts = if (board, t_ms) == (1, 1610) {
            said
        } else {
            Doubts::default()
        };
        let row = Row {
            doubts,
            ..row(t_ms, value)
        };
        joiner.push(board, row, Some(1000 * MS), &mut out);
    }
    let joined = Doubts {
        joined: true,
        ..Doubts::default()
    };
    let doubts: Vec<Doubts> = out.iter().map(|row| row.doubts).collect();
    let first = Doubts {
        joined: true,
        ..said
    };
    assert_eq!(doubts, [first, joined, joined]);
}
