//! Exported tables, asked by the query engines that districts have, and streams, held to the
//! published schema by the reference validator.
//!
//! `tests/query/ask.py` asks; `tests/run` makes its environment and names its interpreter in
//! `QUERY_PYTHON`. What the engines answer is held against what `class` says of the same runs.
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    reason = "a test's helpers may panic as its tests may"
)]

mod support;

use std::io::Write as _;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

use serde_json::Value;
use support::csv::Table;
use support::program::run;

fn ask(what: &str, place: &Path, input: &str) -> Value {
    let python = std::env::var_os("QUERY_PYTHON");
    let python = python.map_or_else(|| PathBuf::from("python3"), PathBuf::from);
    let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/query/ask.py");
    let mut child = Command::new(python)
        .arg(script)
        .arg(what)
        .arg(place)
        .env("PYTHONDONTWRITEBYTECODE", "1")
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let mut pipe = child.stdin.take().unwrap();
    let input = input.to_owned();
    let feed = std::thread::spawn(move || {
        let _ = pipe.write_all(input.as_bytes());
    });
    let output = child.wait_with_output().unwrap();
    feed.join().unwrap();
    let error = String::from_utf8_lossy(&output.stderr);
    assert!(output.status.success(), "{error}");
    serde_json::from_slice(&output.stdout).unwrap()
}

/// Runs of several benches, invented by the virtual one.
fn runs(folder: &Path) -> Vec<PathBuf> {
    let mut runs = Vec::new();
    for seed in 1..=5 {
        let out = format!("bench-{seed}");
        let seed = seed.to_string();
        run(
            folder,
            &["-q", "demo", "--run-only", "--seed", &seed, "--out", &out],
        )
        .done();
        let inside = std::fs::read_dir(folder.join(&out)).unwrap().next();
        let from = inside.unwrap().unwrap().path();
        let to = folder.join(format!("2026-03-14T10320{seed}-bench"));
        std::fs::rename(from, &to).unwrap();
        runs.push(to);
    }
    runs
}

#[track_caller]
fn near(stated: &Value, asked: &Value, what: &str) {
    let (stated, asked) = (stated.as_f64().unwrap(), asked.as_f64().unwrap());
    // Sums in another order.
    let tolerance = 1e-9 * stated.abs().max(1.0);
    assert!(
        (stated - asked).abs() <= tolerance,
        "{what}: {stated} and {asked}"
    );
}

#[test]
fn duckdb_and_spark_find_what_class_says() {
    let folder = tempfile::tempdir().unwrap();
    let runs = runs(folder.path());
    let paths: Vec<&str> = runs.iter().map(|run| run.to_str().unwrap()).collect();
    let words = [&["class", "--json", "--out", "class"], &paths[..]].concat();
    let class = run(folder.path(), &words);
    let class: Value = serde_json::from_str(&class.done().out).unwrap();
    let words = [&["-q", "export", "--site", "hill"], &paths[..]].concat();
    run(folder.path(), &words).done();
    let tables = folder.path().join("tables");
    let answers = ["duckdb", "spark"].map(|engine| ask(engine, &tables, ""));
    for answer in &answers {
        assert_eq!(answer["partitions"][0][0], "hill");
        for sample in class["samples"].as_array().unwrap() {
            let rise = |q: &&Value| q["quantity"] == "rise_degc";
            let spread = sample["quantities"].as_array().unwrap().iter().find(rise);
            let spread = spread.unwrap();
            let found = answer["rises"].as_array().unwrap().iter();
            let found = found.clone().find(|row| row[0] == sample["name"]).unwrap();
            assert_eq!(found[1], spread["n"]);
            near(&spread["median"], &found[2], "median of the rises");
            near(&spread["lowest"], &found[3], "lowest rise");
            near(&spread["highest"], &found[4], "highest rise");
        }
        let mut rows = 0;
        for run in &runs {
            let table = Table::read(&run.join("readings.csv"));
            rows += table.rows.len() as u64;
        }
        let counted = answer["readings"].as_array().unwrap().iter();
        let counted: u64 = counted.map(|row| row[2].as_u64().unwrap()).sum();
        assert_eq!(counted, 2 * rows);
    }
    let [duckdb, spark] = answers;
    assert_eq!(duckdb["partitions"], spark["partitions"]);
    assert_eq!(duckdb["readings"], spark["readings"]);
    assert_eq!(duckdb["marks"], spark["marks"]);
}

#[test]
fn every_line_of_a_stream_is_as_the_schema_says() {
    let folder = tempfile::tempdir().unwrap();
    run(folder.path(), &["-q", "demo", "--run-only"]).done();
    let schema = run(folder.path(), &["stream", "--schema"]);
    let path = folder.path().join("schema.json");
    std::fs::write(&path, &schema.done().out).unwrap();
    let lines = run(folder.path(), &["stream", "--once", "runs"]);
    let lines = &lines.done().out;
    let found = ask("schema", &path, lines);
    assert_eq!(found["wrong"], serde_json::json!([]));
    assert_eq!(found["lines"].as_u64(), Some(lines.lines().count() as u64));
    // The schema does refuse: a unit, a number as text, a key that is not in it.
    for (from, to) in [
        ("\"unit\":\"Cel\"", "\"unit\":\"F\""),
        ("\"seq\":", "\"seq\":\"1\",\"was\":"),
        ("\"type\":\"event\"", "\"type\":\"evnt\""),
        ("\"state\":\"finished\"", "\"state\":\"over\""),
    ] {
        let broken = lines.replacen(from, to, 1);
        assert_ne!(&broken, lines, "{from}");
        let found = ask("schema", &path, &broken);
        assert_eq!(found["wrong"].as_array().unwrap().len(), 1, "{from}");
    }
}
