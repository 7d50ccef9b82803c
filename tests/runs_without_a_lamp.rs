//! Runs in which no lamp is switched: what their files and their summary say.
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    reason = "a test's helpers may panic as its tests may"
)]

mod support;

use serde_json::Value;
use support::csv::Table;
use support::program::{only_run, run};

#[test]
fn they_have_no_phase_but_lowest_highest_and_mean() {
    let folder = tempfile::tempdir().unwrap();
    let board = ["--board", "virtual:seed=3,speed=100"];
    let words = [
        &["log"],
        &board[..],
        &["--for", "3m", "--marks", "1m", "--view", "off"],
    ]
    .concat();
    let said = run(folder.path(), &words);
    let shown = &said.done().out;
    let folder = only_run(folder.path());
    let readings = Table::read(&folder.join("readings.csv"));
    assert!(readings.rows.len() > 100);
    assert!(
        readings
            .column("phase")
            .iter()
            .all(|phase| phase.is_empty())
    );
    let marks = Table::read(&folder.join("marks.csv"));
    assert!(marks.rows.len() >= 3, "{marks:?}");
    assert!(marks.column("phase").iter().all(|phase| phase.is_empty()));
    let text = std::fs::read_to_string(folder.join("summary.json")).unwrap();
    let summary: Value = serde_json::from_str(&text).unwrap();
    assert_eq!(summary["lamp"], Value::Array(Vec::new()));
    assert!(
        summary["marks"]
            .as_array()
            .unwrap()
            .iter()
            .all(|mark| mark["phase"].is_null())
    );
    let times = readings.numbers("elapsed_s");
    for (place, name) in ["slate", "moss"].into_iter().enumerate() {
        let sample = &summary["samples"][place];
        let values = readings.numbers(&format!("{name}_degc"));
        let lowest = values.iter().copied().fold(f64::INFINITY, f64::min);
        let highest = values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        // The trapezoidal rule, over rows without a gap.
        let pairs = times.windows(2).zip(values.windows(2));
        let area: f64 = pairs
            .map(|(t, y)| 0.5 * (y[0] + y[1]) * (t[1] - t[0]))
            .sum();
        let mean = area / (times.last().unwrap() - times[0]);
        for (key, truth) in [
            ("lowest_degc", lowest),
            ("highest_degc", highest),
            ("mean_degc", mean),
        ] {
            let found = sample[key].as_f64().unwrap();
            assert!(
                (found - truth).abs() < 1e-4,
                "{name} {key}: {found} is not {truth}"
            );
            let u = sample["u"][key].as_f64().unwrap();
            assert!(u > 0.0 && u < 0.2, "{name} {key}: {u}");
        }
        for key in ["peak_degc", "rise_degc", "time_constant_s"] {
            assert!(sample[key].is_null(), "{key}");
        }
    }
    for row in ["lowest / °C", "highest / °C", "mean over time / °C"] {
        assert!(shown.contains(row), "{row} is missing in:\n{shown}");
    }
}
