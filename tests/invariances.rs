//! What does not matter to the lamp's edges and to the summary: when a record began, in which units
//! it is written, in which order its samples stand, and how far they warm. All data invented.
//!
//! Tolerances are shares of an edge's own interval (from its low to its high end), or of a value's
//! own standard uncertainty: what is far below either does not matter to anybody.

#![expect(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    reason = "helpers of these tests may stop a test as its own lines may"
)]

#[path = "bench_model/mod.rs"]
mod bench_model;

use std::fmt::Write;

use bench_model::{Bench, Record, rng, run};
use duskmark::analysis::{Request, Sample, SampleValues, Series, Summary, analyse, read_table};
use duskmark::lamp::{LampFit, LampOptions, find_edges};
use proptest::prelude::*;

/// How far edges may lie apart, in shares of their intervals: in another order, in another degree, and begun at
/// another time. Mostly it is less than a millionth; but a fit ends where it has come near enough, and its steps hang
/// on where in its first second a record begins: 1.4 % in the worst of some hundred.
const ORDER: f64 = 1e-3;
const SCALE: f64 = 1e-3;
const BEGINNING: f64 = 5e-2;
/// How far values may lie apart, in shares of their standard uncertainties: digits were written.
const VALUES: f64 = 1e-2;

/// Three samples with all the usual troubles, a row each five seconds.
fn record(seed: u64) -> Record {
    let mut draw = rng(seed);
    let bench = Bench {
        every_s: 5.0,
        channels: 3,
        ..Bench::lesson(&mut draw)
    };
    run(&bench, &mut draw)
}

fn fit(t_s: &[f64], channels: &[Vec<f64>], options: &LampOptions) -> LampFit {
    let columns: Vec<&[f64]> = channels.iter().map(Vec::as_slice).collect();
    find_edges(t_s, &columns, options)
}

/// The farthest that an end or middle of an edge lies from where it should, in shares of its
/// interval; infinite where the edges are not the same.
fn apart(one: &LampFit, other: &LampFit, later_s: f64) -> f64 {
    let kinds = |fit: &LampFit| fit.edges.iter().map(|e| e.edge).collect::<Vec<_>>();
    if kinds(one) != kinds(other) {
        return f64::INFINITY;
    }
    let shares = one.edges.iter().zip(&other.edges).flat_map(|(a, b)| {
        let whole_s = a.high_s - a.low_s;
        [(a.at_s, b.at_s), (a.low_s, b.low_s), (a.high_s, b.high_s)]
            .map(|(a_s, b_s)| (b_s - later_s - a_s).abs() / whole_s)
    });
    shares.fold(0.0, f64::max)
}

fn map(channels: &[Vec<f64>], each: impl Fn(f64) -> f64) -> Vec<Vec<f64>> {
    let column = |column: &Vec<f64>| column.iter().map(|y| each(*y)).collect();
    channels.iter().map(column).collect()
}

fn permuted<T: Clone>(list: &[T], order: &[usize]) -> Vec<T> {
    order.iter().map(|&from| list[from].clone()).collect()
}

fn any_order() -> impl Strategy<Value = Vec<usize>> {
    Just(vec![0, 1, 2]).prop_shuffle()
}

/// Lags declared, each channel's its own, or nothing declared.
fn options(record: &Record, declared: bool) -> LampOptions {
    LampOptions {
        probe_lag_s: declared.then(|| record.lags_s.clone()),
        lamp_lag_s: declared.then_some(2.0),
        ..LampOptions::default()
    }
}

/// The farthest that a sample's values lie apart, in shares of their standard uncertainties;
/// infinite where one has what the other lacks.
fn values_apart(one: &Sample, other: &Sample) -> f64 {
    let map = |values: &SampleValues| match serde_json::to_value(values).unwrap() {
        serde_json::Value::Object(map) => map,
        other => panic!("{other}"),
    };
    let (a, b, u) = (map(&one.values), map(&other.values), map(&one.u));
    let share = |key: &String| match (a[key].as_f64(), b[key].as_f64()) {
        (None, None) => 0.0,
        (Some(a), Some(b)) => (a - b).abs() / u[key].as_f64().unwrap_or(1e-3).max(1e-3),
        _ => f64::INFINITY,
    };
    a.keys().map(share).fold(0.0, f64::max)
}

fn summarised(text: &str, record: &Record) -> (Series, Summary) {
    let table = read_table(text.as_bytes()).unwrap();
    let request = Request {
        lamp: options(record, true),
        marks_s: Some(60.0),
        ..Request::default()
    };
    let summary = analyse(&table.series, &request);
    (table.series, summary)
}

/// A table as some program writes it: the heading of its times and what a second is in it, and
/// what its samples' headings end in and how it writes °C.
fn written(
    record: &Record,
    order: &[usize],
    (time, of_second): (&str, f64),
    (unit, of_degc): (&str, fn(f64) -> f64),
) -> String {
    let names = ["slate", "moss", "air"];
    let mut text = time.to_owned();
    for &channel in order {
        write!(text, ",{}_{unit}", names[channel]).unwrap();
    }
    for (row, t_s) in record.t_s.iter().enumerate() {
        write!(text, "\n{:.9}", t_s * of_second).unwrap();
        for &channel in order {
            let degc = record.channels[channel][row];
            if degc.is_nan() {
                text.push(',');
            } else {
                write!(text, ",{:.6}", of_degc(degc)).unwrap();
            }
        }
    }
    text + "\n"
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(6))]

    /// Samples in another order, each with its own lag: the same edges to a thousandth of their
    /// intervals, and the same noise of each sample.
    #[test]
    fn the_order_of_samples_does_not_matter(seed in 0..1_000_000_u64, order in any_order()) {
        let record = record(seed);
        let options = options(&record, true);
        let one = fit(&record.t_s, &record.channels, &options);
        let other_options = LampOptions {
            probe_lag_s: options.probe_lag_s.as_ref().map(|lags| permuted(lags, &order)),
            ..options.clone()
        };
        let other = fit(&record.t_s, &permuted(&record.channels, &order), &other_options);
        prop_assert!(apart(&one, &other, 0.0) < ORDER, "{}", apart(&one, &other, 0.0));
        let noise = permuted(&one.noise_degc, &order);
        for (a, b) in noise.iter().zip(&other.noise_degc) {
            prop_assert_eq!(a.is_some(), b.is_some());
            let (a, b) = (a.unwrap_or(0.0), b.unwrap_or(0.0));
            prop_assert!((a - b).abs() <= 1e-6 * a, "{} {}", a, b);
        }
    }

    /// A record that begins later, up to seconds since 1970: the same edges, so much later.
    #[test]
    fn when_a_record_began_does_not_matter(
        seed in 0..1_000_000_u64,
        later_s in prop_oneof![
            (1..2_000_000_000_u32).prop_map(f64::from),
            1.0..86_400.0_f64,
        ],
        declared in any::<bool>(),
    ) {
        let record = record(seed);
        let options = options(&record, declared);
        let one = fit(&record.t_s, &record.channels, &options);
        let later: Vec<f64> = record.t_s.iter().map(|t| t + later_s).collect();
        let other = fit(&later, &record.channels, &options);
        let far = apart(&one, &other, later_s);
        prop_assert!(far < BEGINNING, "{} s later: {}", later_s, far);
    }

    /// Another zero of the scale (kelvin), another size of the degree (Fahrenheit), and all samples
    /// warming so much more or less, with their noise: the same edges.
    #[test]
    fn zero_and_size_of_the_degree_do_not_matter(
        seed in 0..1_000_000_u64,
        zero in prop_oneof![Just(273.15), Just(32.0), -100.0..100.0_f64],
        degree in prop_oneof![Just(1.0), Just(1.8), 0.5..4.0_f64],
        declared in any::<bool>(),
    ) {
        let record = record(seed);
        let options = options(&record, declared);
        let one = fit(&record.t_s, &record.channels, &options);
        let scaled = map(&record.channels, |y| zero + degree * y);
        let other = fit(&record.t_s, &scaled, &options);
        let far = apart(&one, &other, 0.0);
        prop_assert!(far < SCALE, "{} + {} T: {}", zero, degree, far);
    }
}

#[test]
fn a_table_means_the_same_in_every_unit_and_order() {
    let fahrenheit: (&str, fn(f64) -> f64) = ("degf", |degc| degc * 1.8 + 32.0);
    let kelvin: (&str, fn(f64) -> f64) = ("kelvin", |degc| degc + 273.15);
    let celsius: (&str, fn(f64) -> f64) = ("degc", |degc| degc);
    for seed in [71, 72] {
        let mut record = record(seed);
        record.lags_s = vec![5.0; 3];
        // Off the grid: a row on the very bound of a stretch that is averaged may fall on either
        // side of it by the last digit of its time.
        for (k, t_s) in (0_u32..).zip(&mut record.t_s) {
            *t_s += f64::from(k * 7 % 13) * 0.02 + 0.001;
        }
        let first = written(&record, &[0, 1, 2], ("elapsed_s", 1.0), celsius);
        let (series, summary) = summarised(&first, &record);
        assert_eq!(summary.lamp.len(), 2, "seed {seed}");
        for (order, time, unit) in [
            ([0, 1, 2], ("time_min", 1.0 / 60.0), celsius),
            ([0, 1, 2], ("time_h", 1.0 / 3600.0), fahrenheit),
            ([2, 0, 1], ("elapsed_s", 1.0), kelvin),
            ([1, 0, 2], ("time_min", 1.0 / 60.0), fahrenheit),
        ] {
            let text = written(&record, &order, time, unit);
            let (others, other) = summarised(&text, &record);
            for (a, b) in series.t_s.iter().zip(&others.t_s) {
                assert!((a - b).abs() < 1e-5, "{time:?}: {a} {b}");
            }
            for (to, &from) in order.iter().enumerate() {
                let (a, b) = (&series.channels[from], &others.channels[to]);
                assert_eq!(a.name, b.name);
                for (a, b) in a.degc.iter().zip(&b.degc) {
                    assert!((a - b).abs() < 2e-6 || a.is_nan() && b.is_nan(), "{a} {b}");
                }
                let far = values_apart(&summary.samples[from], &other.samples[to]);
                assert!(far < VALUES, "seed {seed}, {time:?} {unit:?}: {far}");
            }
            for (a, b) in summary.lamp.iter().zip(&other.lamp) {
                let far = (a.at_s - b.at_s).abs() / (a.high_s - a.low_s);
                assert!(far < VALUES, "seed {seed}, {time:?}: {a:?} {b:?}");
            }
            let names = |s: &Summary| s.comparison.as_ref().unwrap().order.clone();
            assert_eq!(names(&summary), names(&other));
            assert_eq!(summary.marks.len(), other.marks.len());
            for (a, b) in summary.marks.iter().zip(&other.marks) {
                assert_eq!(a.phase, b.phase);
                for (to, &from) in order.iter().enumerate() {
                    let both = a.degc[from].zip(b.degc[to]);
                    let u = a.u_degc[from].unwrap_or(1.0);
                    assert!(
                        both.is_some_and(|(a, b)| (a - b).abs() < VALUES * u.max(1e-2))
                            || a.degc[from] == b.degc[to]
                    );
                }
            }
        }
    }
}
