//! The last mark of the lesson, which stands at the very end of the record. Data invented.

#![expect(
    clippy::unwrap_used,
    reason = "helpers of these tests may stop a test as its own lines may"
)]

mod support;

use duskmark::analysis::{Channel, Request, Series, Summary, Warning, analyse};
use duskmark::lamp::LampOptions;
use support::csv::Table;
use support::program::{only_run, run};

/// Lamp on, in seconds of the record.
const ON_S: f64 = 120.0;

/// Twelve minutes on and twelve off, read every three: nine rows with that of minute zero (common
/// practice, no source).
const PLAN_S: (f64, f64, f64) = (720.0, 720.0, 180.0);

fn exact(t: f64, off_s: f64, rise: f64, tau: f64) -> f64 {
    let step = |u: f64| if u > 0.0 { 1.0 - (-u / tau).exp() } else { 0.0 };
    21.0 + rise * (step(t - ON_S) - step(t - off_s))
}

/// A lesson whose lamp goes off so late (or early, negative) and whose rows end so long before the
/// plan does.
fn lesson(every_s: f64, late_s: f64, short_s: f64) -> Summary {
    marked(every_s, late_s, short_s, &[])
}

/// The same with moments that people marked.
fn marked(every_s: f64, late_s: f64, short_s: f64, moments_s: &[f64]) -> Summary {
    let (heat_s, cool_s, marks_s) = PLAN_S;
    let end_s = ON_S + heat_s + cool_s - short_s;
    let off_s = ON_S + heat_s + late_s;
    let count = (end_s / every_s + 1e-9).floor() as u32;
    // The last row is the one that matters here: rows are counted from it.
    let t_s: Vec<f64> = (0..=count)
        .rev()
        .map(|k| end_s - f64::from(k) * every_s)
        .collect();
    let channel = |name: &str, rise, tau| Channel {
        name: name.to_owned(),
        degc: t_s
            .iter()
            .enumerate()
            .map(|(i, t)| {
                let wobble = 0.01 * (12.9898 * i as f64).sin() + 0.01 * (78.233 * i as f64).cos();
                exact(*t, off_s, rise, tau) + wobble
            })
            .collect(),
        resolution_degc: Some(0.001),
        u_common_degc: None,
    };
    let channels = vec![channel("slate", 18.0, 400.0), channel("moss", 9.0, 650.0)];
    let request = Request {
        marks_s: Some(marks_s),
        zero_s: Some(ON_S),
        planned_s: Some(heat_s + cool_s),
        moments_s: moments_s.to_vec(),
        lamp: LampOptions::no_lags(),
        ..Request::default()
    };
    let series = Series {
        t_s,
        channels,
        ..Series::default()
    };
    analyse(&series, &request)
}

/// The nine marks of a lesson, minute zero first; each of the first `whole` is near the truth.
#[track_caller]
fn nine(summary: &Summary, late_s: f64, whole: usize) {
    let from_zero = summary.marks.iter().filter(|m| m.at_s >= ON_S - 0.5);
    let marks: Vec<_> = from_zero.collect();
    let minutes: Vec<f64> = marks.iter().map(|m| (m.at_s - ON_S) / 60.0).collect();
    assert_eq!(minutes, [0.0, 3.0, 6.0, 9.0, 12.0, 15.0, 18.0, 21.0, 24.0]);
    let off_s = ON_S + PLAN_S.0 + late_s;
    for mark in marks.iter().take(whole) {
        for (place, (rise, tau)) in [(18.0, 400.0), (9.0, 650.0)].into_iter().enumerate() {
            let (degc, u) = (
                mark.degc.get(place).unwrap(),
                mark.u_degc.get(place).unwrap(),
            );
            let truth = exact(mark.at_s, off_s, rise, tau);
            let degc = degc.unwrap_or_else(|| panic!("{mark:?}: {:?}", summary.warnings));
            let u = u.unwrap();
            assert!((degc - truth).abs() < 0.05, "{mark:?}: not {truth}");
            assert!(u > 0.0 && u < 0.1, "{mark:?}");
        }
    }
    for mark in marks.iter().skip(whole) {
        assert!(mark.degc.iter().all(Option::is_none), "{mark:?}");
    }
}

#[test]
fn nine_rows_come_out_whenever_the_lamp_went_off() {
    for every_s in [0.25, 1.0, 5.0] {
        for late_s in [-4.0, 0.0, 4.0] {
            for short_s in [0.0, 0.5 * every_s, every_s] {
                let summary = lesson(every_s, late_s, short_s);
                nine(&summary, late_s, 9);
                assert_eq!(summary.warnings, [], "{every_s} {late_s} {short_s}");
            }
        }
    }
}

#[test]
fn a_moment_that_was_marked_is_a_row_between_those_of_the_plan() {
    // One between two marks, one at a mark, one beyond the record.
    let summary = marked(1.0, 0.0, 0.0, &[ON_S + 400.0, ON_S + 540.0, 1e4]);
    assert_eq!(summary.marks.len(), lesson(1.0, 0.0, 0.0).marks.len() + 1);
    let own = summary
        .marks
        .iter()
        .find(|m| m.at_s == ON_S + 400.0)
        .unwrap();
    let truth = exact(own.at_s, ON_S + PLAN_S.0, 18.0, 400.0);
    assert!((own.degc[0].unwrap() - truth).abs() < 0.05, "{own:?}");
    assert!(summary.marks.is_sorted_by(|a, b| a.at_s < b.at_s));
}

#[test]
fn a_record_that_ends_seconds_too_early_has_an_empty_last_row_that_says_so() {
    let summary = lesson(1.0, -4.0, 4.0);
    nine(&summary, -4.0, 8);
    let ends = Warning::EndsBeforeMark {
        at_s: 1560.0,
        last_s: 1556.0,
    };
    assert_eq!(summary.warnings, [ends]);
}

#[test]
fn a_run_that_was_ended_early_has_no_empty_rows_for_what_was_left_out() {
    let summary = lesson(1.0, 0.0, 170.0);
    let last = summary.marks.last().unwrap();
    assert!((last.at_s - ON_S - 1260.0).abs() < 0.5, "{last:?}");
}

#[test]
fn a_run_of_the_lesson_leaves_every_mark_of_its_plan() {
    for seed in ["1", "2", "3", "4"] {
        let folder = tempfile::tempdir().unwrap();
        run(folder.path(), &["demo", "--run-only", "--seed", seed]).done();
        let table = Table::read(&only_run(folder.path()).join("marks.csv"));
        let minutes = table.numbers("mark_min");
        let from_zero = minutes.iter().position(|minute| *minute >= 0.0).unwrap();
        // Ten minutes on and ten off, read every minute.
        let rows: Vec<_> = table.rows.iter().skip(from_zero).collect();
        assert_eq!(rows.len(), 21, "seed {seed}: {minutes:?}");
        let whole = |row: &&Vec<String>| row.iter().all(|cell| !cell.is_empty());
        assert!(rows.iter().all(whole), "seed {seed}: {rows:?}");
    }
}
