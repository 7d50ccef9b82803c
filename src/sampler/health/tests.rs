//! Each sign from its first row to its last, on rows made here (all data invented).

#![allow(clippy::float_cmp, reason = "numbers that are handed on as they are")]

use arrayvec::ArrayVec;
use rand::SeedableRng;
use rand_distr::{Distribution, StandardNormal};
use rand_pcg::Pcg64;

use super::*;
use crate::sampler::row::Doubts;

/// One channel's value at some seconds; none where the contact is open.
type Way<'a> = &'a dyn Fn(f64) -> Option<f64>;

/// What came out: rows with signs, as place, sign and seconds; events in words; rows marked later.
#[derive(Debug, Default)]
struct Told {
    rows: Vec<(usize, Sign, f64)>,
    events: Vec<(f64, String)>,
    earlier: Vec<(usize, Sign, f64, f64)>,
    tallies: Vec<(usize, Sign, u32)>,
}

impl Told {
    /// First and last second of the rows with a sign, and how many there are.
    fn span(&self, place: usize, sign: Sign) -> (f64, f64, usize) {
        let own: Vec<f64> = (self.rows.iter())
            .filter(|(p, s, _)| (*p, *s) == (place, sign))
            .map(|(_, _, t_s)| *t_s)
            .collect();
        let ends = own.first().zip(own.last());
        ends.map_or((f64::NAN, f64::NAN, 0), |(a, b)| (*a, *b, own.len()))
    }

    fn words(&self) -> Vec<&str> {
        self.events
            .iter()
            .map(|(_, words)| words.as_str())
            .collect()
    }
}

fn row(t_s: f64, readings: ArrayVec<Reading, MAX_CHANNELS>) -> Row {
    Row {
        t_ns: (t_s * 1e9) as i64,
        readings,
        doubts: Doubts::default(),
    }
}

/// Rows at even steps through a watch, with white noise of so many degrees, rounded to hundredths.
fn watch(settling: bool, every_s: f64, to_s: f64, noise_degc: f64, ways: &[Way]) -> Told {
    let mut draw = Pcg64::seed_from_u64(71);
    let (mut health, mut told) = (Health::new(settling), Told::default());
    let mut out = Vec::new();
    let count = (to_s / every_s) as usize;
    for i in 0..count {
        let t_s = every_s * i as f64;
        let readings = ways.iter().map(|way| {
            let noise: f64 = StandardNormal.sample(&mut draw);
            way(t_s).map_or(Reading::Fault(ProbeFault::Open), |degc| Reading::Degc {
                value: ((degc + noise_degc * noise) * 100.0).round() / 100.0,
                decimals: 2,
            })
        });
        let mut row = row(t_s, readings.collect());
        health.push(&mut row, &mut out);
        for (place, signs) in row.doubts.signs.iter().enumerate() {
            told.rows
                .extend(signs.iter().map(|sign| (place, sign, t_s)));
        }
    }
    health.finish((to_s * 1e9) as i64, &mut out);
    for finding in out {
        match finding {
            Finding::Event(event) => told.events.push((event.t_ns as f64 / 1e9, event.detail)),
            Finding::Earlier {
                channel,
                sign,
                from_ns,
                to_ns,
            } => {
                let span = (from_ns as f64 / 1e9, to_ns as f64 / 1e9);
                told.earlier.push((channel, sign, span.0, span.1));
            }
        }
    }
    let all = health
        .tallies()
        .map(|(place, sign, tally)| (place, sign, tally.episodes));
    told.tallies = all.collect();
    told
}

fn near(got: f64, want: f64, tolerance: f64) {
    assert!((got - want).abs() <= tolerance, "{got} is not {want}");
}

/// A sample under a lamp that burns from 300 s to 900 s.
fn lit(rise_degc: f64, tau_s: f64) -> impl Fn(f64) -> Option<f64> {
    let newton = move |u: f64| 1.0 - (-u.max(0.0) / tau_s).exp();
    move |t| Some(21.0 + rise_degc * (newton(t - 300.0) - newton(t - 900.0)))
}

#[test]
fn a_sound_lesson_and_a_sound_pair_of_spiked_rows_have_nothing_to_tell() {
    let (slate, moss) = (lit(12.0, 400.0), lit(7.0, 300.0));
    for every_s in [0.25, 1.0, 5.0] {
        let told = watch(false, every_s, 1500.0, 0.03, &[&slate, &moss]);
        assert!(told.rows.is_empty() && told.events.is_empty(), "{told:?}");
    }
}

#[test]
fn a_stuck_channel_is_marked_from_its_first_row_on_and_told_twice() {
    let moss = lit(7.0, 300.0);
    let slate = lit(12.0, 400.0);
    for at_s in [200.0, 1000.0] {
        let held = |t: f64| {
            slate(if (at_s..at_s + 200.0).contains(&t) {
                at_s
            } else {
                t
            })
        };
        let noisy = |t: f64| {
            let wobble = if (at_s..at_s + 200.0).contains(&t) {
                0.0
            } else {
                0.05 * (t * 7.3).sin()
            };
            held(t).map(|y| y + wobble)
        };
        let told = watch(false, 1.0, 1500.0, 0.0, &[&noisy, &moss]);
        let (first_s, last_s, count) = told.span(0, Sign::Stuck);
        assert!(first_s > at_s + 9.0 && first_s < at_s + 150.0, "{first_s}");
        near(last_s, at_s + 199.0, 1.5);
        assert_eq!(count as f64, last_s - first_s + 1.0);
        let earlier = told.earlier[0];
        assert_eq!((earlier.0, earlier.1), (0, Sign::Stuck));
        near(earlier.2, at_s, 1.5);
        near(earlier.3, first_s, 0.1);
        let words = told.words();
        assert_eq!(words.len(), 2, "{words:?}");
        assert!(
            words[0].starts_with("stuck: has read exactly "),
            "{words:?}"
        );
        assert!(
            words[1].starts_with("stuck is over: it lasted "),
            "{words:?}"
        );
        near(told.events[1].0, last_s + 64.0, 1.1);
        assert_eq!(told.tallies, [(0, Sign::Stuck, 1)]);
    }
}

#[test]
fn the_end_of_the_scale_is_told_from_a_stop_on_the_way() {
    let slate = lit(14.0, 400.0);
    let topped = |t: f64| slate(t).map(|y| (y + 0.05 * (t * 7.3).sin()).min(27.5));
    let moss = lit(7.0, 300.0);
    let told = watch(false, 1.0, 1500.0, 0.0, &[&topped, &moss]);
    assert!(told.span(0, Sign::Saturated).2 > 200, "{told:?}");
    assert_eq!(told.span(0, Sign::Stuck).2, 0);
    assert!(told.words()[0].starts_with("saturated: stays at exactly 27.50 °C for "));
}

#[test]
fn far_more_and_far_less_scatter_are_told_where_the_others_do_not_show_it() {
    let still = |_: f64| Some(21.0);
    let draw = std::cell::RefCell::new(Pcg64::seed_from_u64(5));
    let noise = |sd: f64| -> f64 {
        let one: f64 = StandardNormal.sample(&mut *draw.borrow_mut());
        sd * one
    };
    let loud = |t: f64| {
        Some(
            21.0 + noise(if (600.0..900.0).contains(&t) {
                2.0
            } else {
                0.05
            }),
        )
    };
    let told = watch(false, 1.0, 1200.0, 0.05, &[&loud, &still]);
    let (first_s, last_s, _) = told.span(0, Sign::Noisy);
    assert!(first_s > 650.0 && first_s < 750.0, "{first_s}");
    assert!(last_s > 870.0 && last_s < 935.0, "{last_s}");
    near(told.earlier[0].2, first_s - 64.0, 1.5);
    assert!(
        told.words()[0].starts_with("noisy: scatters by "),
        "{:?}",
        told.words()
    );
    assert_eq!(told.tallies, [(0, Sign::Noisy, 1)]);
    // All of them louder at once: air that is stirred.
    let told = watch(false, 1.0, 1200.0, 0.05, &[&loud, &loud]);
    assert_eq!(told.tallies, []);
    // Quiet: a hundredth of it left; and alone nobody can tell.
    let quiet = |t: f64| Some(21.0 + 0.0007 * t + noise(if t > 900.0 { 0.001 } else { 0.06 }));
    let told = watch(
        false,
        1.0,
        1500.0,
        0.0,
        &[&quiet, &|_| Some(21.0 + noise(0.05))],
    );
    let (first_s, last_s, _) = told.span(0, Sign::Quiet);
    assert!(
        first_s > 1000.0 && first_s < 1080.0 && last_s > 1450.0,
        "{first_s} {last_s}"
    );
    assert!(told.words()[0].starts_with("quiet: scatters by "));
    assert!(
        told.words()[1].contains("quiet was not over at the end: so far"),
        "{:?}",
        told.words()
    );
    let told = watch(false, 1.0, 1500.0, 0.0, &[&quiet]);
    assert_eq!(told.tallies, []);
}

#[test]
fn spikes_of_one_row_and_of_two_are_told_and_what_stays_is_none() {
    let spiked = |at: &'static [f64], by: f64| {
        move |t: f64| {
            Some(
                21.0 + if at.iter().any(|s| (t - s).abs() < 0.5) {
                    by
                } else {
                    0.0
                },
            )
        }
    };
    let still = |_: f64| Some(22.0);
    let one = watch(false, 1.0, 900.0, 0.02, &[&spiked(&[200.0], 6.0), &still]);
    assert_eq!(one.earlier, [(0, Sign::Spike, 200.0, 200.0)]);
    assert!(one.rows.is_empty(), "the row that shows it is past");
    assert!(one.words()[0].starts_with("spike: one reading or two that are off by +6.0 °C"));
    let two = watch(
        false,
        1.0,
        900.0,
        0.02,
        &[&spiked(&[200.0, 201.0, 400.0], -3.0), &still],
    );
    assert_eq!(
        two.earlier,
        [
            (0, Sign::Spike, 200.0, 201.0),
            (0, Sign::Spike, 400.0, 400.0)
        ]
    );
    assert!(
        two.words()[1].starts_with("spike: 2 of them within "),
        "{:?}",
        two.words()
    );
    for none in [
        &spiked(&[200.0, 201.0, 202.0], 6.0) as Way,
        &spiked(&[200.0], 0.4),
        &spiked(&[5.0], 6.0),
    ] {
        assert!(
            watch(false, 1.0, 900.0, 0.02, &[none, &still])
                .earlier
                .is_empty()
        );
    }
    // Rows far apart, and all show it: a lamp that was on for a moment.
    let both = spiked(&[1200.0], 6.0);
    assert!(
        watch(false, 6.0, 3000.0, 0.02, &[&both, &both])
            .earlier
            .is_empty()
    );
    assert_eq!(
        watch(false, 1.0, 1800.0, 0.02, &[&both, &both])
            .earlier
            .len(),
        2
    );
}

#[test]
fn a_contact_that_opens_three_times_is_loose() {
    let open_at = |at: &'static [f64]| {
        move |t: f64| (!at.iter().any(|s| (*s..s + 3.0).contains(&t))).then_some(21.0)
    };
    let still = |_: f64| Some(22.0);
    let told = watch(
        false,
        1.0,
        1500.0,
        0.02,
        &[&open_at(&[300.0, 500.0, 700.0]), &still],
    );
    let (first_s, last_s, _) = told.span(0, Sign::Loose);
    near(first_s, 703.0, 0.1);
    near(last_s, 1300.0, 1.1);
    assert_eq!(told.earlier[0], (0, Sign::Loose, 300.0, 702.999_999_999));
    let words = told.words();
    assert!(
        words[0].starts_with("loose: the contact opened and closed three times or more; press")
    );
    for none in [&[300.0, 500.0][..], &[300.0, 500.0, 920.0]] {
        let told = watch(false, 1.0, 1500.0, 0.02, &[&open_at(none), &still]);
        assert_eq!(told.tallies, [], "{none:?}");
    }
}

#[test]
fn an_even_drift_is_told_while_samples_settle_only() {
    let drifts = |t: f64| Some(21.0 + 0.06 * t / 60.0);
    let still = |_: f64| Some(22.0);
    let told = watch(true, 1.0, 2400.0, 0.02, &[&drifts, &still]);
    let (first_s, _, _) = told.span(0, Sign::Drift);
    assert!(first_s > 1150.0 && first_s < 1300.0, "{first_s}");
    assert!(
        told.words()[0].starts_with("drift: +0.06"),
        "{:?}",
        told.words()
    );
    assert_eq!(
        watch(false, 1.0, 2400.0, 0.02, &[&drifts, &still]).tallies,
        []
    );
    assert_eq!(
        watch(true, 1.0, 2400.0, 0.02, &[&drifts, &drifts]).tallies,
        []
    );
    assert_eq!(watch(true, 1.0, 2400.0, 0.02, &[&drifts]).tallies, []);
    // No longer waited for: it is forgotten.
    let mut health = Health::new(true);
    let mut out = Vec::new();
    for i in 0..2400 {
        let t_s = f64::from(i);
        if i == 1000 {
            health.settled();
        }
        let values = [
            21.0 + 0.001 * t_s + 0.01 * (t_s * 7.3).sin(),
            22.0 + 0.01 * (t_s * 9.1).sin(),
        ];
        let readings = values.map(|value| Reading::Degc { value, decimals: 3 });
        health.push(&mut row(t_s, readings.into_iter().collect()), &mut out);
    }
    assert!(out.is_empty(), "{out:?}");
}

#[test]
fn a_channel_that_wanders_alone_is_told_and_one_that_follows_is_not() {
    let wanders = |t: f64| {
        Some(
            21.0 + if t > 600.0 {
                0.8 * ((t - 600.0) / 80.0).sin()
            } else {
                0.0
            },
        )
    };
    let still = |_: f64| Some(22.0);
    let told = watch(false, 1.0, 3600.0, 0.02, &[&still, &wanders]);
    let (first_s, last_s, _) = told.span(1, Sign::Wander);
    assert!(
        first_s > 1300.0 && first_s < 3300.0 && last_s > 3550.0,
        "{first_s} {last_s}"
    );
    assert!(told.words()[0].starts_with("wander: goes up and down over minutes"));
    assert_eq!(told.tallies, [(1, Sign::Wander, 1)]);
    let follows = |t: f64| wanders(t).map(|y| 0.5 * y + 11.0);
    assert_eq!(
        watch(false, 1.0, 3600.0, 0.02, &[&follows, &wanders]).tallies,
        []
    );
    assert_eq!(watch(false, 1.0, 3600.0, 0.02, &[&wanders]).tallies, []);
}

#[test]
fn what_is_cut_off_is_not_joined() {
    // Values that stand still before and after a gap are two short runs.
    let mut health = Health::new(false);
    let mut out = Vec::new();
    let mut draw = Pcg64::seed_from_u64(3);
    for i in 0..700 {
        let noise: f64 = StandardNormal.sample(&mut draw);
        let moves = if i < 600 { 0.1 * noise } else { 0.0 };
        let values = [21.0 + moves, 22.0 + 0.1 * noise];
        let readings = values.map(|value| Reading::Degc { value, decimals: 3 });
        let mut row = row(f64::from(i), readings.into_iter().collect());
        row.doubts.gap = i >= 600 && i % 20 == 0;
        health.push(&mut row, &mut out);
        assert!(row.doubts.signs.iter().all(|s| s.is_empty()), "{i}");
    }
    assert!(out.is_empty(), "{out:?}");
}
