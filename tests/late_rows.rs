//! Rows of which nobody knows when they were measured: they are kept, and nothing follows from them.
//! Invented data: roof slate and wet moss by Newton's law of cooling.
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    reason = "a test's helpers may panic as its tests may"
)]

mod support;

use std::path::{Path, PathBuf};
use std::time::Duration;

use duskmark::analysis::Sample;
use duskmark::journal::Limits;
use duskmark::lamp::Kind;
use duskmark::port::What;
use duskmark::run::{Derived, Keep, Lags, News, Plan, Recorder, RunSetup, SyncEvery};
use duskmark::sampler::SamplerSetup;
use support::csv::Table;
use support::program::run;

/// Seconds from row to row, and when the lamp was lit, put out, and the record ended.
const EVERY_S: f64 = 2.0;
const ON_S: f64 = 180.0;
const OFF_S: f64 = 780.0;
const END_S: f64 = 1380.0;

/// What a sample shows: heads for so much above 22 °C while the lamp is lit, and back.
fn degc(t_s: f64, rise_degc: f64, constant_s: f64) -> f64 {
    let heads = |from: f64, to: f64, s: f64| to + (from - to) * (-s / constant_s).exp();
    let lit_s = (t_s.min(OFF_S) - ON_S).max(0.0);
    let warm = heads(22.0, 22.0 + rise_degc, lit_s);
    heads(warm, 22.0, (t_s - OFF_S).max(0.0))
}

/// A line of a board that states no clock, with some scatter.
fn line(row: u32) -> String {
    let t_s = f64::from(row) * EVERY_S;
    let scatter = |k: u32| f64::from((row * k) % 7) * 0.01 - 0.03;
    let (slate, moss) = (degc(t_s, 30.0, 500.0), degc(t_s, 14.0, 700.0));
    format!("{:.2},{:.2}\n", slate + scatter(3), moss + scatter(5))
}

/// Logs the lesson; the computer stands still from one time to another, and only the first lines of
/// that time fit into what keeps them until it goes on.
fn logged(out: &Path, (stops_s, goes_on_s): (f64, f64), kept: usize) -> (PathBuf, Vec<News>) {
    let setup = RunSetup {
        name: "bench 1".into(),
        sampler: SamplerSetup {
            samples: vec!["slate".into(), "moss".into()],
            baud: Some(9600),
            lines: None,
            ..SamplerSetup::default()
        },
        plan: Plan {
            heat_s: Some(OFF_S - ON_S),
            ..Plan::default()
        },
        ..RunSetup::default()
    };
    let keep = Keep {
        sync: SyncEvery::Time(Duration::from_secs(1)),
        limits: Limits::default(),
        patient: true,
        boot: None,
    };
    let mut recorder = Recorder::begin(out, &setup, 0, 1_773_484_325_000_000_000, &keep).unwrap();
    let mut news = Vec::new();
    recorder.port(0, 0, &What::Opened("invented".into()), &mut news);
    let mut waiting: Vec<String> = Vec::new();
    let ns = |t_s: f64| (t_s * 1e9) as i64;
    for row in 0..=(END_S / EVERY_S) as u32 {
        let t_s = f64::from(row) * EVERY_S;
        if t_s > stops_s && t_s < goes_on_s {
            waiting.push(line(row));
            continue;
        }
        if t_s >= goes_on_s && !waiting.is_empty() {
            let burst: String = waiting.drain(..).take(kept).collect();
            let bytes = What::Bytes(burst.into_bytes());
            recorder.port(ns(goes_on_s - 0.3), 0, &bytes, &mut news);
        }
        let bytes = What::Bytes(line(row).into_bytes());
        recorder.port(ns(t_s) + 20_000_000, 0, &bytes, &mut news);
    }
    let (folder, _, result) = recorder
        .end(ns(END_S + 1.0), "over")
        .wait(Duration::from_secs(60));
    result.unwrap();
    (folder, news)
}

/// The program's own words on a folder or file, as JSON.
fn analysed(input: &Path) -> serde_json::Value {
    let output = run(
        input.parent().unwrap(),
        &["analyse", "--json", input.to_str().unwrap()],
    );
    serde_json::from_str(&output.out).unwrap()
}

#[test]
fn rows_that_waited_while_others_were_lost_are_kept_and_bend_nothing() {
    // In the heating 16 lines of a minute and a half are kept, which could be from any time of it.
    let out = tempfile::tempdir().unwrap();
    let (folder, news) = logged(out.path(), (400.0, 490.0), 16);
    let derived = Derived::from_folder(&folder, &Lags::default()).unwrap();
    derived.write(&folder).unwrap();
    let rows = Table::read(&folder.join("readings.csv"));
    let late: Vec<&str> = rows
        .column("flags")
        .into_iter()
        .filter(|flags| flags.split(' ').any(|flag| flag == "late"))
        .collect();
    assert_eq!(late.len(), 16, "{late:?}");
    assert_eq!(derived.summary.rows, rows.column("flags").len());
    // What a clean record says, with which nothing of this one may be at odds.
    let clean = tempfile::tempdir().unwrap();
    let (whole, _) = logged(clean.path(), (END_S, END_S), 0);
    let whole = Derived::from_folder(&whole, &Lags::default()).unwrap();
    let (found, true_one) = (&derived.summary, &whole.summary);
    assert_eq!(found.lamp.len(), 2, "{:?}", found.lamp);
    for (edge, by_whole) in found.lamp.iter().zip(&true_one.lamp) {
        assert!(
            (edge.at_s - by_whole.at_s).abs() < 1.0,
            "{edge:?} {by_whole:?}"
        );
    }
    for (sample, by_whole) in found.samples.iter().zip(&true_one.samples) {
        let rate = |s: &Sample| s.values.heating_rate_degc_per_min.unwrap();
        let (rate, by_whole) = (rate(sample), rate(by_whole));
        assert!((rate / by_whole - 1.0).abs() < 0.02, "{rate} {by_whole}");
    }
    let said: Vec<String> = found.warnings.iter().map(ToString::to_string).collect();
    assert!(
        said.iter().any(|s| s.starts_with("16 rows came late")),
        "{said:#?}"
    );
    // While it was logged, too, the lamp went on once and off once.
    let seen: Vec<Kind> = news
        .iter()
        .filter_map(|one| match one {
            News::Lamp(seen) => Some(seen.edge),
            _ => None,
        })
        .collect();
    assert_eq!(seen, [Kind::On, Kind::Off]);
    // And the file alone tells the same as the journal.
    let (by_run, by_file) = (analysed(&folder), analysed(&folder.join("readings.csv")));
    for part in ["lamp", "samples", "rows"] {
        assert_eq!(by_run[part], by_file[part], "{part}");
    }
}
