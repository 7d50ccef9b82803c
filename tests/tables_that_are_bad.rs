//! Data that no lesson gives but somebody's file will: an answer or a reason, never a panic, and
//! in bounded time. All numbers are invented.
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    reason = "a test's helpers may panic as its tests may"
)]

mod support;

use std::io::Write as _;
use std::time::{Duration, Instant};

use serde_json::Value;
use support::program::{Said, run};

/// No table of a lesson may keep people waiting for so long, whatever is in it, debug build or not.
const LONGEST: Duration = Duration::from_secs(20);

#[track_caller]
fn analyse(text: &[u8]) -> Said {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("table.csv"), text).unwrap();
    let words = ["analyse", "--json", "--marks", "1m", "table.csv"];
    let begin = Instant::now();
    let said = run(folder.path(), &words);
    assert!(begin.elapsed() < LONGEST, "{:?}", begin.elapsed());
    assert!(!said.err.contains("panicked"), "{}", said.err);
    said
}

/// The summary and its warnings in one text.
#[track_caller]
fn answer(text: &str) -> (Value, String) {
    let said = analyse(text.as_bytes());
    let summary: Value = serde_json::from_str(&said.done().out).unwrap();
    let warnings = summary["warnings"].as_array().unwrap().iter();
    let warnings: Vec<&str> = warnings.map(|w| w.as_str().unwrap()).collect();
    let warnings = warnings.join("\n");
    (summary, warnings)
}

#[track_caller]
fn says(warnings: &str, parts: &[&str]) {
    for part in parts {
        assert!(
            warnings.contains(part),
            "{part:?} is missing in:\n{warnings}"
        );
    }
}

/// Newton's law of cooling: slate under a lamp that is on from `on_s` to `off_s`.
fn slate(t: f64, on_s: f64, off_s: f64) -> f64 {
    let step = |u: f64| {
        if u > 0.0 {
            1.0 - (-u / 250.0).exp()
        } else {
            0.0
        }
    };
    let wobble = 0.02 * (12.9898 * t).sin() + 0.02 * (78.233 * t).cos();
    22.0 + 12.0 * (step(t - on_s) - step(t - off_s)) + wobble
}

/// A row a second for 1320 s; `row` gives what follows the time.
fn table(head: &str, row: impl Fn(f64) -> String) -> String {
    let rows = (0..1320).map(|i| format!("{i},{}\n", row(f64::from(i))));
    format!("elapsed_s,{head}\n{}", rows.collect::<String>())
}

fn edges(summary: &Value) -> Vec<(String, f64)> {
    let edges = summary["lamp"].as_array().unwrap().iter();
    edges
        .map(|e| {
            (
                e["edge"].as_str().unwrap().to_owned(),
                e["at_s"].as_f64().unwrap(),
            )
        })
        .collect()
}

#[test]
fn constant_data_have_no_edge_and_no_scatter_that_is_not_there() {
    let (summary, warnings) = answer(&table("slate,moss", |_| "21.5,21".into()));
    assert_eq!(edges(&summary), []);
    says(&warnings, &["No instant"]);
    assert_eq!(summary["samples"][0]["mean_degc"], 21.5);
    assert!(summary["comparison"].is_null());
    assert!(
        summary["marks"]
            .as_array()
            .unwrap()
            .iter()
            .all(|m| m["degc"][0] == 21.5)
    );
}

#[test]
fn columns_without_a_number_are_named() {
    let (summary, warnings) = answer(&table("slate,moss", |_| ",".into()));
    assert_eq!(summary["rows"], 1320);
    says(
        &warnings,
        &[
            "slate: there is no value at all",
            "moss: there is no value at all",
        ],
    );
    let (summary, warnings) = answer(&table("slate,moss", |t| match t as u32 % 4 {
        0 => "NaN,inf".into(),
        1 => "-inf,nan".into(),
        _ => format!("{:.3},21", slate(t, 100.0, 700.0)),
    }));
    says(
        &warnings,
        &[
            "slate: 330 cells are not numbers",
            "moss: 330 of 1320 values are missing",
        ],
    );
    assert_eq!(edges(&summary).len(), 2, "{summary:#}");
}

#[test]
fn time_that_runs_backwards_and_repeats_is_mended_aloud() {
    let forth = table("slate", |t| format!("{:.3}", slate(t, 100.0, 700.0)));
    let (truth, _) = answer(&forth);
    let mut lines: Vec<&str> = forth.lines().skip(1).collect();
    lines.reverse();
    let (summary, warnings) = answer(&format!("elapsed_s,slate\n{}\n", lines.join("\n")));
    says(&warnings, &["not in order of time"]);
    assert_eq!(summary["lamp"], truth["lamp"]);
    let twice: Vec<&str> = forth.lines().skip(1).flat_map(|l| [l, l]).collect();
    let twice = twice.join("\n");
    let (summary, warnings) = answer(&format!("elapsed_s,slate\n{twice}"));
    says(&warnings, &["1320 rows repeat the time"]);
    assert_eq!(summary["lamp"], truth["lamp"]);
    let (summary, warnings) = answer("elapsed_s,slate\n5,20\n5,21\n5,22\n");
    says(&warnings, &["2 rows repeat the time", "only 1 row:"]);
    assert_eq!(summary["rows"], 1);
}

#[test]
fn a_spike_of_a_million_degrees_changes_nothing() {
    let plain = |t: f64| format!("{:.3}", slate(t, 100.0, 700.0));
    let (truth, _) = answer(&table("slate", plain));
    let (summary, _) = answer(&table("slate", |t| match t as u32 {
        400 => "1000000".into(),
        900 => "-1e300".into(),
        _ => plain(t),
    }));
    for ((kind, at_s), (_, wanted_s)) in edges(&summary).iter().zip(edges(&truth)) {
        assert!(
            (at_s - wanted_s).abs() < 0.5,
            "{kind}: {at_s} is not {wanted_s}"
        );
    }
    assert_eq!(edges(&summary).len(), 2);
    for key in ["highest_degc", "lowest_degc", "peak_degc"] {
        let (found, truth) = (&summary["samples"][0][key], &truth["samples"][0][key]);
        let apart = found.as_f64().unwrap() - truth.as_f64().unwrap();
        assert!(apart.abs() < 0.05, "{key}: {found} is not {truth}");
    }
}

#[test]
fn seven_dead_channels_of_eight_leave_one_that_is_read() {
    let (summary, warnings) = answer(&table("a,b,c,slate,e,f,g,h", |t| {
        format!(",,85,{:.3},-127,,85,0", slate(t, 100.0, 700.0))
    }));
    let found = edges(&summary);
    assert_eq!(found.len(), 2, "{found:?}");
    assert!((found[1].1 - 700.0).abs() < 15.0, "{found:?}");
    let rise = summary["samples"][3]["rise_degc"].as_f64().unwrap();
    assert!(
        (rise - (slate(700.0, 100.0, 700.0) - 22.0)).abs() < 0.3,
        "{rise}"
    );
    says(
        &warnings,
        &["a: there is no value at all", "f: there is no value at all"],
    );
}

#[test]
fn a_hole_in_the_rows_and_exchanged_plugs_are_told() {
    let (two, _) = answer(&table("slate,moss", |t| {
        let one = slate(t, 100.0, 700.0);
        format!("{one:.3},{:.3}", 0.5 * one + 8.0)
    }));
    let whole = |t: f64| {
        let one = slate(t, 100.0, 700.0);
        (one, 0.5 * one + 8.0)
    };
    let swapped = table("slate,moss", |t| match whole(t) {
        (one, other) if t < 494.0 => format!("{one:.3},{other:.3}"),
        (one, other) => format!("{other:.3},{one:.3}"),
    });
    let (_, warnings) = answer(&swapped);
    says(
        &warnings,
        &["slate and moss seem to have changed places at 8:14"],
    );
    let holed = table("slate,moss", |t| {
        format!("{:.3},{:.3}", whole(t).0, whole(t).1)
    });
    let holed: Vec<&str> = holed
        .lines()
        .enumerate()
        .filter(|(line, _)| !(800..866).contains(line))
        .map(|(_, line)| line)
        .collect();
    let (found, warnings) = answer(&holed.join("\n"));
    says(&warnings, &["a pause of 1:07, from 13:18 on"]);
    assert_eq!(edges(&found).len(), edges(&two).len());
}

#[test]
fn what_the_lamp_was_not_seen_to_do_is_said() {
    let lit = |on_s: f64, off_s: f64| {
        answer(&table("slate", move |t| {
            format!("{:.3}", slate(t, on_s, off_s))
        }))
    };
    let (summary, warnings) = lit(1e9, 1e9);
    assert_eq!(edges(&summary), []);
    says(&warnings, &["No instant"]);
    let (summary, warnings) = lit(-60.0, 700.0);
    let found = edges(&summary);
    assert_eq!((found.len(), found[0].0.as_str()), (1, "off"));
    says(
        &warnings,
        &["on before the first row, or was not seen to go on"],
    );
    let (summary, warnings) = lit(300.0, 1e9);
    let found = edges(&summary);
    assert_eq!((found.len(), found[0].0.as_str()), (1, "on"));
    says(&warnings, &["not seen to go off"]);
    assert!(summary["samples"][0]["fall_degc"].is_null());
}

#[test]
fn what_holds_no_table_is_refused_with_a_reason() {
    for (text, part) in [
        (&b""[..], "the file is empty"),
        (b"\n\n\n", "the file is empty"),
        (b"elapsed_s,slate\n", "no rows"),
        (
            b"\x7fELF\x02\x01\x01\x00\x00\n\x00\xff\xfe",
            "no time column",
        ),
        (
            b"\xff\xfea\x00,\x00b\x00\n\x00",
            "no time column among: a, b",
        ),
    ] {
        let said = analyse(text);
        said.failed_with(1, &["table.csv", part]);
    }
    let folder = tempfile::tempdir().unwrap();
    std::fs::create_dir(folder.path().join("empty")).unwrap();
    run(folder.path(), &["analyse", "empty"]).failed_with(1, &["empty", "journal.dmj"]);
}

#[test]
fn a_line_of_a_hundred_megabytes_is_refused_early() {
    let folder = tempfile::tempdir().unwrap();
    for (name, head) in [("first.csv", ""), ("later.csv", "elapsed_s,slate\n0,21\n")] {
        let mut file = std::fs::File::create(folder.path().join(name)).unwrap();
        file.write_all(head.as_bytes()).unwrap();
        let part = b"1,".repeat(500_000);
        for _ in 0..100 {
            file.write_all(&part).unwrap();
        }
        let begin = Instant::now();
        run(folder.path(), &["analyse", name]).failed_with(1, &[name, "without a line end"]);
        assert!(begin.elapsed() < LONGEST);
    }
}

#[test]
fn a_long_pause_in_a_short_table_costs_neither_memory_nor_time() {
    // Found by a fuzzer: rows a quarter of a second apart and one of hours later took 80 GB.
    let quick = [
        1.458, 1.707, 4.702, 4.952, 6.952, 7.202, 7.455, 7.706, 7.956, 8.206, 8.451, 6270.0,
    ];
    let by_hand: Vec<f64> = (0..9).map(|k| 180.0 * f64::from(k)).collect();
    for times in [quick.to_vec(), [by_hand, vec![3.2e7]].concat()] {
        let rows = times.iter().map(|t| {
            let degc = slate(*t, 180.0, 900.0);
            format!("{t},{degc:.1}\n")
        });
        let rows: String = rows.collect();
        answer(&format!("elapsed_s,slate_degc\n{rows}"));
    }
}
