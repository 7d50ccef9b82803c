//! Runs as lines of JSON: of finished runs, of runs that are logged by another process or by the
//! same, and to readers that are slow, stopped or gone.
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    reason = "a test's helpers may panic as its tests may"
)]
#![cfg(unix)]

mod support;

use std::io::{BufRead as _, BufReader, Read as _};
use std::path::{Path, PathBuf};
use std::process::Stdio;

use serde_json::Value;
use support::csv::Table;
use support::program::{Running, duskmark, log_on, only_run, run};

const BOARD: &str = "virtual:seed=7,speed=60";
const PLAN: [&str; 8] = [
    "--heat", "2m", "--cool", "2m", "--settle", "off", "--view", "plain",
];

fn lines(text: &str) -> Vec<Value> {
    text.lines()
        .map(|line| serde_json::from_str(line).unwrap())
        .collect()
}

fn of_kind<'a>(lines: &'a [Value], kind: &str) -> Vec<&'a Value> {
    lines.iter().filter(|line| line["type"] == kind).collect()
}

/// Every row and event of a run's files is in the stream, once, with the same values.
#[track_caller]
fn assert_whole(lines: &[Value], run: &Path) {
    let rows = of_kind(lines, "row");
    let table = Table::read(&run.join("readings.csv"));
    assert_eq!(rows.len(), table.rows.len());
    for (row, expected) in rows.iter().zip(&table.rows) {
        let elapsed = format!("{:.3}", row["elapsed_s"].as_f64().unwrap());
        assert_eq!(
            (&elapsed, row["time_utc"].as_str().unwrap()),
            (&expected[0], &*expected[1])
        );
        let ms = expected[0]
            .replace('.', "")
            .trim_start_matches('0')
            .to_owned();
        assert_eq!(row["seq"].to_string(), ms);
        for (sample, cell) in ["slate", "moss"].iter().zip(&expected[2..]) {
            let value = row["degc"][sample].as_f64();
            assert_eq!(value, cell.parse().ok(), "{row}");
        }
    }
    let events = Table::read(&run.join("events.csv"));
    let told = of_kind(lines, "event");
    for event in &events.rows {
        let same = |line: &&&Value| {
            line["kind"] == event[2].as_str() && line["detail"] == event[4].as_str()
        };
        assert!(told.iter().any(|line| same(&line)), "{event:?} is missing");
    }
    let mut ids: Vec<&str> = told.iter().map(|e| e["id"].as_str().unwrap()).collect();
    ids.sort_unstable();
    ids.dedup();
    assert_eq!(ids.len(), told.len(), "an event came twice");
    assert_eq!(lines[0]["type"], "run");
    let end = lines.last().unwrap();
    assert_eq!(
        (end["type"].as_str(), end["state"].as_str()),
        (Some("end"), Some("finished"))
    );
    assert_eq!(end["summary"]["rows"].as_u64(), Some(rows.len() as u64));
}

fn demo(folder: &Path) -> PathBuf {
    run(folder, &["-q", "demo", "--run-only"]).done();
    only_run(folder)
}

#[test]
fn a_finished_run_comes_whole() {
    let folder = tempfile::tempdir().unwrap();
    let run_folder = demo(folder.path());
    for words in [
        &["stream", "last", "--site", "Hill school"][..],
        &["stream", run_folder.to_str().unwrap()],
        // A folder of runs would be followed for ever.
        &["stream", "runs", "--once"],
    ] {
        let said = run(folder.path(), words);
        let lines = lines(&said.done().out);
        assert_whole(&lines, &run_folder);
        let begin = &lines[0];
        assert_eq!(begin["format"], "duskmark-stream-1");
        assert_eq!(begin["samples"][1]["key"], "moss");
        assert_eq!(begin["bench"], "demo");
        assert_eq!(
            begin["run"].as_str(),
            run_folder.file_name().unwrap().to_str()
        );
        let site = if words.len() == 4 {
            "Hill-school"
        } else {
            "site"
        };
        assert!(lines.iter().all(|line| line["site"] == site));
    }
}

#[test]
fn a_run_is_followed_from_another_process_to_its_end() {
    let folder = tempfile::tempdir().unwrap();
    let mut log = log_on(folder.path(), BOARD, &PLAN);
    let run_folder = log.wait_for_run(folder.path());
    let mut stream = duskmark(folder.path(), &["stream", "last"])
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    let mut out = BufReader::new(stream.stdout.take().unwrap());
    let mut text = String::new();
    // While it is logged: rows come before its end.
    while !text.contains("\"type\":\"row\"") {
        assert!(out.read_line(&mut text).unwrap() > 0, "{text}");
    }
    assert!(!run_folder.join("summary.json").exists());
    assert_eq!(log.end().code, 0);
    out.read_to_string(&mut text).unwrap();
    assert!(stream.wait().unwrap().success());
    assert_whole(&lines(&text), &run_folder);
}

#[test]
fn log_streams_beside_itself_and_prints_nothing_else() {
    let folder = tempfile::tempdir().unwrap();
    let words = [&PLAN[..], &["--stream", "-"]].concat();
    let said = log_on(folder.path(), BOARD, &words).end();
    assert_whole(&lines(&said.done().out), &only_run(folder.path()));
}

#[test]
fn a_reader_that_goes_away_costs_only_the_stream() {
    let folder = tempfile::tempdir().unwrap();
    let words = [&["log", "--board", BOARD, "--stream", "-"], &PLAN[..]].concat();
    let mut log = duskmark(folder.path(), &words)
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    let mut first = String::new();
    let mut out = BufReader::new(log.stdout.take().unwrap());
    out.read_line(&mut first).unwrap();
    assert!(first.contains("\"type\":\"run\""), "{first}");
    drop(out);
    assert!(log.wait().unwrap().success());
    let run_folder = only_run(folder.path());
    // What the reader has missed is in the files.
    let said = run(folder.path(), &["stream", "last"]);
    assert_whole(&lines(&said.done().out), &run_folder);
    let rows = Table::read(&run_folder.join("readings.csv"));
    assert!(rows.rows.len() > 900, "{}", rows.rows.len());
}

#[test]
fn a_reader_that_takes_nothing_stalls_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let words = [&["log", "--board", BOARD, "--stream", "-"], &PLAN[..]].concat();
    // Its pipe is open and never read: 64 KiB, and the stream stands still.
    let mut log = Running::start(duskmark(folder.path(), &words));
    log.wait_for("The stream was not read to its end");
    let run_folder = only_run(folder.path());
    let rows = Table::read(&run_folder.join("readings.csv"));
    assert!(rows.rows.len() > 900, "{}", rows.rows.len());
    assert!(run_folder.join("summary.json").exists());
    assert_eq!(log.end().code, 0);
}

#[test]
fn what_cannot_be_streamed_is_told() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    run(at, &["stream", "nowhere"]).failed_with(1, &["nowhere is no folder", "holds the runs"]);
    run(at, &["stream"]).failed_with(1, &["there is no run in runs", "--out"]);
    run(at, &["log", "--stream", "file"]).failed_with(2, &["--stream"]);
    run(at, &["stream", "--user", "a"]).failed_with(2, &["--mqtt"]);
    for topic in ["a/#", "", "$SYS"] {
        run(at, &["stream", "--topic", topic]).failed_with(2, &["--topic", "school/duskmark"]);
    }
}

#[test]
fn a_run_whose_logging_died_ends_with_word_of_it() {
    let folder = tempfile::tempdir().unwrap();
    let run_folder = demo(folder.path());
    std::fs::remove_file(run_folder.join("summary.json")).unwrap();
    let an_hour_ago = std::time::SystemTime::now() - std::time::Duration::from_secs(3600);
    for file in ["readings.csv", "journal.dmj"] {
        let file = std::fs::File::options()
            .append(true)
            .open(run_folder.join(file))
            .unwrap();
        file.set_modified(an_hour_ago).unwrap();
    }
    let said = run(folder.path(), &["stream", "last"]);
    said.failed_with(4, &["had died", "duskmark rebuild"]);
    let lines = lines(&said.out);
    let end = lines.last().unwrap();
    assert_eq!(
        (end["state"].as_str(), &end["summary"]),
        (Some("cut-off"), &Value::Null)
    );
    // Rows are counted by rows, not by what the end says.
    assert_eq!(
        of_kind(&lines, "row").len() as u64,
        end["rows"].as_u64().unwrap()
    );
}
