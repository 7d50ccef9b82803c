//! A program that was stopped, and what it makes of the lines that waited meanwhile.

mod model;

use proptest::prelude::*;
use rand::SeedableRng as _;

use super::tests::plain;
use super::*;
use model::{Form, LONG, MS, Stall, number};

impl Stall {
    /// The greatest error of rows that bear no mark of it, and of those that do, in ns.
    fn worst(&self, rows: &[Row]) -> (i64, i64) {
        let of = |late: bool| {
            let rows = rows.iter().filter(|row| row.doubts.late == late);
            rows.map(|row| (row.t_ns - self.true_ns(number(row))).abs())
                .max()
                .unwrap_or(0)
        };
        (of(false), of(true))
    }
}

/// The numbers of the rows that are marked late.
fn late(rows: &[Row]) -> Vec<i64> {
    let late = rows.iter().filter(|row| row.doubts.late);
    late.map(number).collect()
}

#[test]
fn a_burst_is_spread_over_the_silence_before_it() {
    for form in [Form::Plain, Form::Labelled, Form::Apart] {
        // In one read, in many, and a line at a time.
        for read_bytes in [4096, 62, 16] {
            let stall = Stall {
                form,
                read_bytes,
                ..LONG
            };
            let rows = stall.rows();
            let (sound_ns, late_ns) = stall.worst(&rows);
            let case = format!("{form:?} {read_bytes}: {:?}", late(&rows));
            assert!(sound_ns < 30 * MS, "{case}: {} ms", sound_ns / MS);
            assert!(late_ns < 100 * MS, "{case}: {} ms", late_ns / MS);
            assert!(rows.iter().all(|row| !row.doubts.gap), "{case}");
            // Counted out, they are as sure as any, but where a row takes two lines.
            let sure = form == Form::Apart || late(&rows).is_empty();
            assert!(sure, "{case}");
            assert_eq!(i64::try_from(rows.len()), Ok(stall.lines()), "{case}");
        }
    }
}

#[test]
fn where_lines_of_a_burst_are_missing_all_of_it_is_late() {
    for oldest_lost in [false, true] {
        let stall = Stall {
            room: 120,
            oldest_lost,
            ..LONG
        };
        let rows = stall.rows();
        let (sound_ns, late_ns) = stall.worst(&rows);
        let late = late(&rows);
        assert!(late.len() >= 10, "{late:?}");
        assert!(sound_ns < 30 * MS, "{} ms", sound_ns / MS);
        // Counted back from the end: right if the oldest are lost, and nobody knows it.
        assert_eq!(late_ns < 100 * MS, oldest_lost, "{} ms", late_ns / MS);
        let gaps: Vec<i64> = rows.iter().filter(|r| r.doubts.gap).map(number).collect();
        assert_eq!(gaps, late[..1]);
    }
}

#[test]
fn a_row_behind_a_pause_is_held_no_longer_than_to_the_next() {
    let mut sampler = Sampler::new(SamplerSetup::default());
    let mut made = Vec::new();
    sampler.opened(0, "p", &mut Vec::new());
    for ms in (500..10_500).step_by(500).chain([20_000, 20_500, 21_000]) {
        let mut out = Vec::new();
        sampler.bytes(ms * MS, b"20.5,21.5\n", &mut out);
        let rows = out.iter().filter_map(|product| match product {
            Product::Row(row) => Some((row.t_ns / MS, row.doubts.gap, row.doubts.late)),
            Product::Event(_) => None,
        });
        made.push(rows.collect::<Vec<_>>());
    }
    let last = &made[made.len() - 3..];
    let behind = (20_000, true, false);
    assert_eq!(last[0], []);
    assert_eq!(last[1], [behind, (20_500, false, false)]);
    assert_eq!(last[2], [(21_000, false, false)]);
}

#[test]
fn a_board_that_is_told_to_send_faster_is_no_burst() {
    let mut sampler = Sampler::new(SamplerSetup::default());
    let mut out = Vec::new();
    sampler.opened(0, "p", &mut out);
    // From a row a second to fifty, behind a boot of three seconds.
    let times = (1..=30).map(|k| k * 1000);
    let faster = (0..200).map(|k| 33_000 + k * 20);
    for ms in times.chain(faster) {
        sampler.bytes(ms * MS, b"20.5,21.5\n", &mut out);
    }
    sampler.finish(40_000 * MS, &mut out);
    let rows: Vec<(i64, bool)> = out
        .iter()
        .filter_map(|product| match product {
            Product::Row(row) => Some((row.t_ns / MS, row.doubts.late)),
            Product::Event(_) => None,
        })
        .collect();
    let last = &rows[rows.len() - 200..];
    // In their time, though the first of them were none that the board's rhythm foretold.
    for (k, row) in (0..).zip(last) {
        assert_eq!(row.0, 33_000 + k * 20, "{k}");
        assert!(k < 10 || !row.1, "{k}");
    }
}

fn stall() -> impl Strategy<Value = Stall> {
    let form = prop_oneof![Just(Form::Plain), Just(Form::Labelled), Just(Form::Apart)];
    let baud = prop_oneof![Just(None), Just(Some(9600)), Just(Some(115_200))];
    let room = prop_oneof![3 => Just(usize::MAX), 1 => 100..4000_usize];
    let link = (0..16_i64, 16..4097_usize, 0..6_i64, room, any::<bool>());
    // Behind the first line; one that comes before it was seen on its way.
    let when = (200..3000_i64, 30..90_000_i64, 0..90_000_i64);
    (form, baud, link, when, any::<u64>()).prop_map(|(form, baud, link, when, seed)| {
        let (delay_ms, read_bytes, read_ms, room, oldest_lost) = link;
        let (period_ms, from_ms, for_ms) = when;
        Stall {
            form,
            period_ms,
            from_ms,
            for_ms,
            delay_ms,
            read_bytes,
            read_ms,
            room,
            oldest_lost,
            baud,
            seed,
        }
    })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(256))]

    /// A stall of any length at any place behind the first row makes no row that is wrong by more than the usual interval
    /// and does not say so; it costs no row, and what comes behind it bears no gap.
    #[test]
    fn no_stall_makes_a_wrong_time_that_is_not_marked(stall in stall()) {
        let rows = stall.rows();
        let slack_ns = (stall.delay_ms + 30) * MS;
        for row in &rows {
            let k = number(row);
            let error_ns = row.t_ns - stall.true_ns(k);
            prop_assert!(
                row.doubts.late || error_ns.abs() <= stall.period_ms * MS + slack_ns,
                "sample {}: {} ms", k, error_ns / MS
            );
        }
        prop_assert!(rows.windows(2).all(|pair| pair[0].t_ns < pair[1].t_ns));
        let (_, came) = stall.reads();
        let made: Vec<i64> = rows.iter().map(number).collect();
        prop_assert_eq!(made, came);
        // A line has 24 bytes at most, and what comes while the burst trickles in belongs to it.
        let reads = stall.for_ms / stall.period_ms * 24 / i64::try_from(stall.read_bytes).unwrap() + 1;
        let end_ms = stall.from_ms + stall.for_ms + reads * stall.read_ms;
        let behind = end_ms / stall.period_ms + 2;
        let sound = rows.iter().filter(|row| number(row) > behind);
        for row in sound {
            prop_assert!(!row.doubts.gap && !row.doubts.late, "sample {}", number(row));
        }
    }
}

/// Rows of a board that sends a line at each of these times: when in ms, and whether it is late.
fn seen(at_ms: impl IntoIterator<Item = i64>) -> Vec<(i64, bool)> {
    let rows = plain(at_ms).into_iter();
    rows.map(|row| (row.t_ns / MS, row.doubts.late)).collect()
}

#[test]
fn lines_that_come_when_they_like_stay_when_they_came() {
    let mut random = rand_pcg::Pcg64::seed_from_u64(11);
    for most_ms in [1900, 3000] {
        let mut at_ms = 0;
        let times: Vec<i64> = (0..5000)
            .map(|_| {
                at_ms += random.random_range(100..most_ms);
                at_ms
            })
            .collect();
        let as_sent: Vec<(i64, bool)> = times.iter().map(|ms| (*ms, false)).collect();
        assert!(seen(times) == as_sent, "{most_ms}");
    }
}

#[test]
fn a_burst_of_a_board_without_a_rhythm_is_late() {
    let mut random = rand_pcg::Pcg64::seed_from_u64(12);
    let mut at_ms = 0;
    let times: Vec<i64> = (0..40)
        .map(|_| {
            at_ms += random.random_range(100..3000);
            at_ms
        })
        .collect();
    let end_ms = at_ms + 30_000;
    let burst = (0..15).map(|k| end_ms + k);
    let rows = seen(times.into_iter().chain(burst).chain([end_ms + 1000]));
    let late: Vec<&(i64, bool)> = rows.iter().filter(|row| row.1).collect();
    assert_eq!(late.len(), 15);
    assert!(late.iter().all(|row| row.0 > at_ms && row.0 <= end_ms + 20));
    assert_eq!(rows.last(), Some(&(end_ms + 1000, false)));
}

#[test]
fn boards_that_always_send_two_rows_at_once_have_that_habit() {
    let mut sampler = Sampler::new(SamplerSetup {
        baud: Some(9600),
        ..SamplerSetup::default()
    });
    let mut out = Vec::new();
    sampler.opened(0, "p", &mut out);
    sampler.bytes(0, b"half of a line\n", &mut out);
    // In one read; for a while nothing comes.
    for k in (1..40).chain(60..80) {
        sampler.bytes(k * 1000 * MS, b"20.5,21.5\n20.6,21.6\n", &mut out);
    }
    sampler.finish(80_000 * MS, &mut out);
    let late: Vec<bool> = out
        .iter()
        .filter_map(|product| match product {
            Product::Row(row) => Some(row.doubts.late),
            Product::Event(_) => None,
        })
        .collect();
    assert_eq!(late.len(), 59 * 2);
    assert!(late[6..].iter().all(|late| !late), "{late:?}");
}

#[test]
fn what_waited_while_the_program_was_away_is_late_to_its_end() {
    let mut sampler = Sampler::new(SamplerSetup {
        baud: Some(115_200),
        ..SamplerSetup::default()
    });
    let mut out = Vec::new();
    sampler.opened(0, "p", &mut out);
    sampler.bytes(0, b"half of a line\n", &mut out);
    for k in 1..100 {
        sampler.bytes(k * 500 * MS, b"slate=20.55 moss=21.55\n", &mut out);
    }
    // Killed, and gone on with: the port's buffer was never emptied.
    sampler.lost(50_100 * MS, "", &mut out);
    sampler.opened(80_100 * MS, "p", &mut out);
    let waited = b"slate=20.55 moss=21.55\n".repeat(60);
    sampler.bytes(80_130 * MS, &waited, &mut out);
    out.clear();
    for k in 161..181 {
        sampler.bytes(k * 500 * MS, b"slate=20.55 moss=21.55\n", &mut out);
    }
    let rows: Vec<(i64, bool, bool)> = out
        .iter()
        .filter_map(|product| match product {
            Product::Row(row) => Some((row.t_ns / MS, row.doubts.late, row.doubts.gap)),
            Product::Event(_) => None,
        })
        .collect();
    // The first of the read may be half a line.
    assert_eq!(rows.iter().filter(|row| row.1).count(), 59);
    assert!(rows[59..].iter().all(|row| !row.2), "{:?}", &rows[55..]);
}

#[test]
fn a_burst_behind_the_first_row_is_late_however_its_lines_come() {
    for (silence_ms, apart_ms) in [(4_500, 0), (4_500, 1), (60_000, 20), (3_600_000, 1)] {
        let burst = (0..9).map(|k| 1000 + silence_ms + k * apart_ms);
        let behind = (1..9).map(|k| 2000 + silence_ms + k * 500);
        let rows = seen([1000].into_iter().chain(burst).chain(behind));
        let late: Vec<bool> = rows.iter().map(|row| row.1).collect();
        let expected: Vec<bool> = (0..18).map(|k| (1..10).contains(&k)).collect();
        assert_eq!(late, expected, "{silence_ms} ms, {apart_ms} ms apart");
        // Nobody knows when they were sent: they stay where they came, as far as rows can.
        let last_ms = 1000 + silence_ms + 8 * apart_ms.max(1);
        assert_eq!((rows[1].0, rows[9].0), (1000 + silence_ms, last_ms));
    }
}

#[test]
fn rows_that_come_seldom_are_in_time_from_the_first_on() {
    let times: Vec<i64> = (1..9).map(|k| k * 600_000).collect();
    let as_sent: Vec<(i64, bool)> = times.iter().map(|ms| (*ms, false)).collect();
    assert_eq!(seen(times), as_sent);
}

#[test]
fn a_second_stall_soon_after_the_first_is_marked_as_well() {
    for (again_ms, form) in [
        (700, Form::Plain),
        (2600, Form::Labelled),
        (9000, Form::Apart),
    ] {
        let first = Stall { form, ..LONG };
        let (reads, _) = first.reads();
        let end_ns = (LONG.from_ms + LONG.for_ms) * MS;
        let (from_ns, to_ns) = (end_ns + again_ms * MS, end_ns + (again_ms + 8000) * MS);
        let mut sampler = Sampler::new(SamplerSetup {
            baud: first.baud,
            ..SamplerSetup::default()
        });
        let mut out = Vec::new();
        sampler.opened(-2 * MS, "p", &mut out);
        sampler.bytes(-MS, b"half of a line\n", &mut out);
        let mut waiting = Vec::new();
        for (at_ns, bytes) in reads {
            if (from_ns..to_ns).contains(&at_ns) {
                waiting.extend(bytes);
                continue;
            }
            if at_ns >= to_ns && !waiting.is_empty() {
                sampler.bytes(to_ns, &std::mem::take(&mut waiting), &mut out);
            }
            sampler.bytes(at_ns, &bytes, &mut out);
        }
        sampler.bytes(to_ns, &waiting, &mut out);
        sampler.finish(to_ns + 1000 * MS, &mut out);
        for product in out {
            let Product::Row(row) = product else { continue };
            let error_ms = (row.t_ns - first.true_ns(number(&row))) / MS;
            assert!(
                error_ms.abs() < 500,
                "{form:?} {}: {error_ms} ms",
                number(&row)
            );
            assert!(!row.doubts.gap, "{form:?} {}", number(&row));
        }
    }
}
