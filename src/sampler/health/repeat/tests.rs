//! What tells a run of equal values from rounding, each part from both sides.
#![allow(clippy::float_cmp, reason = "numbers that are handed on as they are")]

use super::*;

fn run(degc: f64, rows: u32) -> Run {
    Run {
        degc,
        since_ns: 0,
        rows,
    }
}

#[test]
fn of_several_the_second_largest_is_believed() {
    let of = |all: &[f64]| agreed(all.iter().copied());
    assert_eq!(of(&[]), 0.0);
    assert_eq!(of(&[3.0]), 3.0);
    assert_eq!(of(&[3.0, 5.0]), 3.0);
    assert_eq!(of(&[5.0, 3.0, 4.0]), 4.0);
}

#[test]
fn a_range_is_from_the_lowest_to_the_highest() {
    let mut range = Range::default();
    assert_eq!(range.width(), 0.0);
    for degc in [21.0, 19.5, 20.0, 22.5] {
        range.take(degc);
    }
    assert_eq!(range.width(), 3.0);
}

/// What another channel did in so many rows.
fn other(rows: u32, way: impl Fn(f64) -> f64) -> Other {
    let mut other = Other::default();
    (1..=rows).for_each(|row| other.take(row, way(f64::from(row))));
    other
}

#[test]
fn one_that_begins_to_move_or_turns_has_stirred_and_one_that_goes_on_has_not() {
    let stirred = |way: &dyn Fn(f64) -> f64| other(400, way).stirred(400, 4.0);
    assert!(
        stirred(&|row| 21.0 + 0.05 * (row - 250.0).max(0.0)),
        "begins"
    );
    assert!(
        stirred(&|row| 21.0 + 4.0 - 0.02 * (row - 200.0).abs()),
        "up and down"
    );
    assert!(
        stirred(&|row| 21.0 + 0.02 * (row - 200.0).abs()),
        "down and up"
    );
    assert!(
        !stirred(&|row| 21.0 + 8.0 * (1.0 - (-row / 150.0).exp())),
        "ever more slowly"
    );
    assert!(!stirred(&|row| 21.0 - 0.02 * row), "evenly");
    assert!(!Other::default().stirred(400, 4.0));
}

#[test]
fn the_end_of_what_was_shown_is_reached_on_the_way_there() {
    let watched = |low: f64, high: f64| Repeat {
        before: Range(Some((low, high))),
        ..Repeat::default()
    };
    let wide = watched(20.0, 30.0);
    assert!(wide.at_its_end(run(30.0, 50), 28.0, 1.0));
    assert!(wide.at_its_end(run(20.0, 50), 22.0, 1.0));
    assert!(!wide.at_its_end(run(29.9, 50), 28.0, 1.0), "not at the end");
    assert!(!wide.at_its_end(run(20.1, 50), 22.0, 1.0), "not at the end");
    assert!(
        !wide.at_its_end(run(30.0, 50), 29.5, 1.0),
        "it was there before"
    );
    assert!(
        !wide.at_its_end(run(20.0, 50), 20.5, 1.0),
        "it was there before"
    );
    assert!(
        !watched(29.5, 30.0).at_its_end(run(30.0, 50), 28.0, 1.0),
        "it has shown little"
    );
    assert!(!Repeat::default().at_its_end(run(30.0, 50), 28.0, 1.0));
}

#[test]
fn equal_neighbours_are_as_likely_as_the_past_had_them_and_a_margin() {
    let block = |equal, apart| {
        let mut noise = super::super::noise::Noise::default();
        (0..32).for_each(|i| noise.take(f64::from(i % 5)));
        let mut block = noise.close().unwrap();
        (block.equal, block.apart, block.pairs) = (equal, apart, 32);
        block
    };
    let past = |blocks: usize, equal, apart| {
        let mut repeat = Repeat::default();
        (0..blocks).for_each(|_| repeat.learn(&block(equal, apart)));
        repeat
    };
    assert_eq!(past(3, 2, 28).most_equal(), None, "too short a past");
    assert_eq!(past(4, 2, 28).most_equal(), Some(FLOOR));
    assert_eq!(past(4, 2, 19).most_equal(), None, "hardly over two steps");
    // 24 of 32: 0.75 + 0.05 + 3·√(0.75·0.25/128).
    let bound = past(4, 24, 28).most_equal().unwrap();
    assert!((bound - 0.914_82).abs() < 1e-4, "{bound}");
    assert_eq!(past(4, 29, 28).most_equal(), None, "too near to one");
    // The worst of the past counts.
    let mut mixed = past(4, 24, 28);
    (0..4).for_each(|_| mixed.learn(&block(2, 28)));
    assert_eq!(mixed.most_equal(), Some(bound));
    (0..4).for_each(|_| mixed.learn(&block(2, 10)));
    assert_eq!(mixed.most_equal(), None);
    // A run of 200 that ended by itself: exp(-30/400).
    let mut longer = past(4, 2, 28);
    longer.longest = 200;
    let bound = longer.most_equal().unwrap();
    assert!((bound - (-30.0_f64 / 400.0).exp()).abs() < 1e-12, "{bound}");
    // By the floor 85 rows are past chance, 84 are not.
    let plain = past(4, 2, 28);
    assert!(plain.by_its_past(run(21.0, 85)) && !plain.by_its_past(run(21.0, 84)));
}
