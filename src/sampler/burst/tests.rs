//! When lines are held, how many make too many, and which instants they are given.

use super::*;

const MS: i64 = 1_000_000;

/// A line that is there at so many ms, and took so many on the wire.
fn at(ms: i64, line_ms: i64) -> Arrival {
    Arrival {
        at_ns: (ms + line_ms) * MS,
        wire_ns: line_ms * MS,
        line_ns: line_ms * MS,
        lines_after: 0,
    }
}

fn pace(intervals_ms: &[i64]) -> Pace {
    let intervals: Vec<i64> = intervals_ms.iter().map(|ms| ms * MS).collect();
    Pace::of(&intervals).unwrap()
}

/// A row a second.
fn steady() -> Pace {
    pace(&[1000; 9])
}

#[test]
fn three_intervals_make_a_usual_one_and_it_is_their_median() {
    assert_eq!(Pace::of(&[]), None);
    assert!(!pace(&[1000]).is_usual && !pace(&[1000, 1000]).is_usual);
    let usual = pace(&[3000, 900, 1100]);
    assert!(usual.is_usual);
    assert_eq!(usual.usual_ns, 1100 * MS);
    // The shorter ones: a quarter of all at most is shorter still.
    assert_eq!(
        pace(&[1, 2, 300, 400, 500, 600, 700, 800]).short_ns,
        300 * MS
    );
}

#[test]
fn regular_is_whose_intervals_are_about_the_median_for_the_most_part() {
    // Within a half of it, in two of three.
    assert!(pace(&[500, 1000, 1500]).regular);
    assert!(pace(&[499, 1000, 1000]).regular);
    assert!(!pace(&[499, 1000, 1501]).regular);
    assert!(pace(&[1000, 1000, 1000, 1000, 3000, 3000]).regular);
    assert!(!pace(&[100, 1000, 1000, 1000, 3000, 3000]).regular);
    assert!(!pace(&[1000, 1000]).regular, "two show no rule");
}

#[test]
fn one_interval_is_from_half_of_the_usual_one_to_half_as_much_again() {
    for (ms, is_one) in [(499, false), (500, true), (1499, true), (1500, false)] {
        assert_eq!(steady().is_one(ms * MS), is_one, "{ms} ms");
    }
}

#[test]
fn a_line_behind_a_silence_is_held_and_what_follows_it_too() {
    let looked = |second_ms: i64, pace: Option<Pace>| {
        let mut hold = Hold::default();
        assert_eq!(hold.look(&at(0, 0), pace), Next::Pass, "nothing before it");
        hold.look(&at(second_ms, 0), pace)
    };
    assert_eq!(looked(1499, Some(steady())), Next::Pass);
    assert_eq!(looked(1500, Some(steady())), Next::Hold);
    // Where nothing is usual yet, two tenths of a second are one, and so is an hour.
    assert_eq!(looked(199, None), Next::Pass);
    assert_eq!(looked(200, None), Next::Hold);
    assert_eq!(looked(3_600_000, None), Next::Hold);

    let mut hold = held(&[0, 2000], 0);
    assert_eq!(hold.look(&at(2001, 0), Some(steady())), Next::Hold);
    assert_eq!(hold.take().len(), 1);
    assert_eq!(hold.look(&at(2002, 0), Some(steady())), Next::Pass);
}

#[test]
fn a_board_whose_first_rows_come_in_two_bursts_has_that_habit() {
    let third = |pace: Option<Pace>, bursts: u32| {
        let mut hold = Hold::default();
        hold.look(&at(0, 0), None);
        (0..bursts).for_each(|_| hold.was_burst(pace));
        hold.look(&at(1000, 0), None)
    };
    assert_eq!(third(None, 1), Next::Hold);
    assert_eq!(third(None, 2), Next::Pass);
    assert_eq!(third(None, 3), Next::Pass);
    // What comes later is no habit.
    assert_eq!(third(Some(steady()), 3), Next::Hold);
}

/// A hold that has looked at lines sent at these times, and holds all but the first.
fn held(sent_ms: &[i64], line_ms: i64) -> Hold {
    let mut hold = Hold::default();
    for (k, &ms) in sent_ms.iter().enumerate() {
        let arrival = at(ms, line_ms);
        hold.look(&arrival, Some(steady()));
        if k > 0 {
            hold.push(Line {
                sample: Sample::default(),
                arrival,
            });
        }
    }
    hold
}

#[test]
fn a_line_ends_what_is_held_when_it_took_its_time() {
    // Time on the wire in ms, the usual intervals, and how soon a line is in time.
    for (line_ms, intervals_ms, in_time_ms) in [
        // A twentieth of a second, beside the wire's own time.
        (0, &[1000; 9], 50),
        (20, &[1000; 9], 70),
        // Rows so fast: half of their shorter intervals,
        (0, &[60; 9], 30),
        (10, &[60; 9], 30),
        (0, &[40, 40, 40, 60, 60, 60, 60, 60, 60], 20),
        // or what the wire needs and a fifth, as far as that leaves a difference.
        (30, &[60; 9], 36),
        (50, &[60; 9], 45),
    ] {
        let pace = Some(pace(intervals_ms));
        for (since_ms, ends) in [(in_time_ms - 1, false), (in_time_ms, true)] {
            let hold = held(&[0, 5000], line_ms);
            let next = at(5000 + since_ms, line_ms);
            let case = format!("{line_ms} ms on the wire, {intervals_ms:?}, {since_ms} ms");
            assert_eq!(hold.is_ended_by(&next, pace), ends, "{case}");
        }
    }
    let hold = held(&[0, 5000], 20);
    assert!(!hold.is_ended_by(&at(5069, 20), None) && hold.is_ended_by(&at(5070, 20), None));
    // Nothing is held, so nothing ends.
    assert!(!held(&[0], 0).is_ended_by(&at(9000, 0), Some(steady())));
}

#[test]
fn half_as_many_again_as_were_due_and_two_more_are_too_many() {
    // Ten rows were due in the silence, and two while they came.
    for (sent_ms, most) in [(&[0, 10_000, 10_001][..], 17), (&[0, 10_000, 12_000], 20)] {
        let hold = held(sent_ms, 0);
        assert!(!hold.is_too_much(most, Some(steady())), "{most}");
        assert!(hold.is_too_much(most + 1, Some(steady())), "{most} and one");
    }
    // Where nothing is usual, rows as fast as a burst's would be due.
    for (line_ms, most) in [(0, 32), (50, 17)] {
        let hold = held(&[0, 1000, 1001], line_ms);
        let mut hold = hold;
        hold.silence_ns = 1000 * MS;
        assert!(!hold.is_too_much(most, None), "{line_ms} ms");
        assert!(hold.is_too_much(most + 1, None), "{line_ms} ms");
    }
    assert!(!Hold::default().is_too_much(1000, Some(steady())));
}

#[test]
fn no_more_is_held_than_a_ports_buffers_hold() {
    let sent_ms: Vec<i64> = (0..=4096).collect();
    assert!(!held(&sent_ms[..4096], 0).is_full());
    assert!(held(&sent_ms, 0).is_full());
}

/// Around a burst of a board with a row a second, whose last row before it was at 10 s.
fn around(end_ms: i64, next_ms: Option<i64>) -> Around {
    Around {
        before_ns: 10_000 * MS,
        end_ns: end_ms * MS,
        next_ns: next_ms.map(|ms| ms * MS),
        goes_on: false,
        pace: steady(),
    }
}

fn instants_ms(around: &Around, rows: usize) -> Vec<i64> {
    let instants = around.instants(rows).unwrap();
    instants
        .map(|ns| (ns as f64 / MS as f64).round() as i64)
        .collect()
}

#[test]
fn rows_as_many_as_were_due_are_spread_over_the_silence() {
    // Five seconds to the interval before the next line.
    let burst = around(15_300, Some(16_000));
    assert_eq!(
        instants_ms(&burst, 5),
        [11_000, 12_000, 13_000, 14_000, 15_000]
    );
    // Two more or less are as many, for the usual interval is not known better.
    assert_eq!(instants_ms(&burst, 4), [11_250, 12_500, 13_750, 15_000]);
    assert_eq!(instants_ms(&burst, 3)[0], 11_667);
    assert_eq!(instants_ms(&burst, 7)[6], 15_000);
    assert_eq!(instants_ms(&burst, 7)[0], 10_714);
    // Of hundreds it may be a hundredth of them besides.
    let long = around(410_300, Some(411_000));
    let first = |rows: usize| instants_ms(&long, rows)[0];
    assert_eq!(first(395), 11_013);
    assert_eq!(first(394), 410_000 - 393_000);
}

#[test]
fn where_rows_are_missing_they_are_counted_back_from_the_end() {
    let burst = around(20_300, Some(21_000));
    assert_eq!(instants_ms(&burst, 3), [18_000, 19_000, 20_000]);
    // More than can have been: the last ones are as sure.
    assert_eq!(
        instants_ms(&around(12_300, Some(13_000)), 5),
        [8_000, 9_000, 10_000, 11_000, 12_000]
    );
}

#[test]
fn the_last_row_was_an_interval_before_the_next_line_but_not_after_it_was_there() {
    let last = |end_ms: i64, next_ms: Option<i64>| around(end_ms, next_ms).last_ns() / MS;
    assert_eq!(last(15_300, None), 15_300);
    assert_eq!(last(15_300, Some(16_000)), 15_000);
    assert_eq!(last(15_300, Some(16_799)), 15_300, "not after it was there");
    assert_eq!(last(15_300, Some(19_000)), 15_300, "behind a pause");
    assert_eq!(last(15_300, Some(15_400)), 14_400);
}

#[test]
fn what_goes_on_is_counted_on_from_the_row_before_it() {
    let mut burst = around(4_000_000, None);
    burst.goes_on = true;
    assert_eq!(instants_ms(&burst, 3), [11_000, 12_000, 13_000]);
}

#[test]
fn a_board_without_a_rhythm_gives_no_instants() {
    let mut burst = around(15_300, Some(16_000));
    burst.pace = pace(&[100, 1000, 3000]);
    assert!(burst.instants(5).is_none());
}

#[test]
fn instants_fit_when_none_is_missing_nor_too_many() {
    let fits = |around: &Around, ms: &[i64]| around.fits(ms.iter().map(|ms| ms * MS));
    let burst = around(13_200, Some(14_000));
    assert!(fits(&burst, &[11_000, 12_000, 13_000]));
    assert!(
        fits(&burst, &[11_400, 11_950, 13_400]),
        "within half an interval"
    );
    assert!(!fits(&burst, &[12_000, 13_000]), "one is missing");
    assert!(
        !fits(&burst, &[11_000, 12_000, 12_400, 13_000]),
        "one is too many"
    );
    assert!(!fits(&burst, &[11_000, 12_000]), "the last is missing");
    // The end: half an interval before the last row to one and a quarter behind it.
    for (end_ms, fit) in [
        (12_499, false),
        (12_500, true),
        (14_249, true),
        (14_250, false),
    ] {
        assert_eq!(
            fits(&around(end_ms, None), &[11_000, 12_000, 13_000]),
            fit,
            "{end_ms}"
        );
    }
    // The next line comes in its time, or so late that it was the board's pause.
    for (next_ms, fit) in [
        (13_499, false),
        (13_500, true),
        (14_499, true),
        (14_500, false),
        (15_499, false),
        (15_500, true),
    ] {
        let burst = around(13_200, Some(next_ms));
        assert_eq!(fits(&burst, &[11_000, 12_000, 13_000]), fit, "{next_ms}");
    }
    let mut burst = around(13_200, Some(14_000));
    burst.goes_on = true;
    assert!(!fits(&burst, &[11_000, 12_000, 13_000]), "more may follow");
}
