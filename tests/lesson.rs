//! The main job through the built program: the demo, the files it leaves, and what follows from
//! them again.
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    reason = "a test's helpers may panic as its tests may"
)]

mod support;

use std::path::Path;

use support::csv::{Table, assert_times_rise};
use support::program::{only_run, run};

/// Files that a rebuild must give byte for byte.
const DERIVED: [&str; 4] = ["readings.csv", "events.csv", "marks.csv", "summary.json"];

fn summary(text: &str) -> serde_json::Value {
    serde_json::from_str(text).unwrap()
}

fn files(folder: &Path) -> Vec<String> {
    let mut names: Vec<String> = std::fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .collect();
    names.sort();
    names
}

#[test]
fn the_demo_finds_the_lamp_and_lists_what_it_wrote() {
    let folder = tempfile::tempdir().unwrap();
    let said = run(folder.path(), &["demo", "--run-only"]);
    said.done();
    let (on_s, off_s) = duskmark::sim::lesson(1).lamp.on_off_s[0];
    let run = only_run(folder.path());
    let found = summary(&std::fs::read_to_string(run.join("summary.json")).unwrap());
    let lamp = found["lamp"].as_array().unwrap();
    assert_eq!(lamp.len(), 2, "{lamp:?}");
    for (edge, truth) in lamp.iter().zip([on_s, off_s]) {
        let at = |key: &str| edge[key].as_f64().unwrap();
        assert!((at("at_s") - truth).abs() < 2.5, "{edge} is not {truth}");
        assert!(
            at("low_s") <= truth && truth <= at("high_s"),
            "{edge} does not cover {truth}"
        );
    }
    let off = &lamp[1];
    for number in [&off["at_s"], &off["low_s"], &off["high_s"]] {
        // To whole seconds, as the interval of some seconds allows.
        let shown = format!("{:.0} s", number.as_f64().unwrap());
        assert!(
            said.out.contains(&shown),
            "{shown} is missing in:\n{}",
            said.out
        );
    }
    assert_eq!(
        files(&run),
        [
            "events.csv",
            "graph.svg",
            "journal.dmj",
            "marks.csv",
            "readings.csv",
            "readings.csv-metadata.json",
            "run.toml",
            "summary.json"
        ]
    );
    for name in files(&run) {
        assert!(
            said.out.contains(&name),
            "{name} is missing in:\n{}",
            said.out
        );
    }
}

#[test]
fn readings_are_as_the_contract_says() {
    let folder = tempfile::tempdir().unwrap();
    run(
        folder.path(),
        &["demo", "--run-only", "--began", "2026-03-14T10:32:05Z"],
    )
    .done();
    let run = only_run(folder.path());
    assert!(run.ends_with("2026-03-14T103205-demo"), "{}", run.display());
    let text = std::fs::read_to_string(run.join("readings.csv")).unwrap();
    assert!(!text.contains('\r') && text.ends_with('\n'));
    let rows = Table::read(&run.join("readings.csv"));
    assert_eq!(
        rows.head,
        [
            "elapsed_s",
            "time_utc",
            "slate_degc",
            "moss_degc",
            "phase",
            "flags"
        ]
    );
    assert_times_rise(&rows);
    let first = &rows.rows[0];
    // RFC 3339 in UTC with milliseconds; elapsed time with three decimals.
    assert!(
        first[1].starts_with("2026-03-14T10:32:0") && first[1].ends_with('Z'),
        "{first:?}"
    );
    assert_eq!(first[1].len(), "2026-03-14T10:32:05.123Z".len());
    assert!(
        rows.column("elapsed_s")
            .iter()
            .all(|t| t.split_once('.').unwrap().1.len() == 3)
    );
    let mut phases = rows.column("phase");
    phases.dedup();
    assert_eq!(phases, ["settling", "heating", "cooling"]);
    // A quarter of a second between rows, to the clock's 200 ppm and the file's millisecond.
    let times = rows.numbers("elapsed_s");
    let span = times.last().unwrap() - times[0];
    let interval = span / (times.len() - 1) as f64;
    assert!((interval / 0.25 - 1.0).abs() < 3e-4, "{interval}");
    assert_eq!(
        summary(&std::fs::read_to_string(run.join("summary.json")).unwrap())["rows"],
        times.len()
    );
}

#[test]
fn the_metadata_describe_every_column() {
    // W3C Recommendation "Metadata Vocabulary for Tabular Data" (2015): the table's `url`, and
    // `name`, `titles` and `datatype` of each column in order. Units: UCUM `Cel` and `s`.
    let folder = tempfile::tempdir().unwrap();
    run(folder.path(), &["demo", "--run-only"]).done();
    let run = only_run(folder.path());
    let metadata =
        summary(&std::fs::read_to_string(run.join("readings.csv-metadata.json")).unwrap());
    assert_eq!(metadata["@context"][0], "http://www.w3.org/ns/csvw");
    assert_eq!(metadata["url"], "readings.csv");
    let columns = metadata["tableSchema"]["columns"].as_array().unwrap();
    let titles: Vec<&str> = columns
        .iter()
        .map(|c| c["titles"].as_str().unwrap())
        .collect();
    assert_eq!(titles, Table::read(&run.join("readings.csv")).head);
    assert_eq!(columns[0]["schema:unitCode"], "s");
    assert_eq!(columns[2]["schema:unitCode"], "Cel");
    assert_eq!(columns[2]["schema:name"], "slate");
}

#[test]
fn analysing_the_demos_readings_gives_the_same_again() {
    let folder = tempfile::tempdir().unwrap();
    run(folder.path(), &["demo", "--run-only"]).done();
    let run_folder = only_run(folder.path());
    let readings = run_folder.join("readings.csv");
    let again = run(
        folder.path(),
        &["analyse", "--json", readings.to_str().unwrap()],
    );
    let mut again = summary(&again.done().out);
    let mut found = summary(&std::fs::read_to_string(run_folder.join("summary.json")).unwrap());
    for text in [&mut again, &mut found] {
        text["source"].take();
    }
    assert_eq!(again, found);
    // And so does a copy that has left its folder, but for the plan's marks.
    let copy = folder.path().join("copy.csv");
    std::fs::copy(&readings, &copy).unwrap();
    let copied = run(
        folder.path(),
        &["analyse", "--json", "--marks", "1m", "copy.csv"],
    );
    let copied = summary(&copied.done().out);
    assert_eq!(copied["lamp"], found["lamp"]);
    assert_eq!(copied["marks"], found["marks"]);
}

#[test]
fn a_rebuild_gives_every_derived_file_byte_for_byte() {
    let folder = tempfile::tempdir().unwrap();
    run(folder.path(), &["demo", "--run-only", "--seed", "5"]).done();
    let run_folder = only_run(folder.path());
    let before: Vec<Vec<u8>> = DERIVED
        .iter()
        .map(|f| std::fs::read(run_folder.join(f)).unwrap())
        .collect();
    for name in DERIVED {
        std::fs::remove_file(run_folder.join(name)).unwrap();
    }
    run(folder.path(), &["rebuild", run_folder.to_str().unwrap()]).done();
    for (name, before) in DERIVED.iter().zip(before) {
        let after = std::fs::read(run_folder.join(name)).unwrap();
        assert!(after == before, "{name} differs");
    }
}

#[test]
fn the_demo_data_are_what_the_program_makes_of_their_journal() {
    let kept = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo-data/lesson");
    let folder = tempfile::tempdir().unwrap();
    std::fs::copy(kept.join("journal.dmj"), folder.path().join("journal.dmj")).unwrap();
    run(folder.path(), &["rebuild", "."]).done();
    for name in DERIVED.iter().chain(&["graph.svg", "run.toml"]) {
        let (made, kept) = (folder.path().join(name), kept.join(name));
        assert!(
            std::fs::read(made).unwrap() == std::fs::read(kept).unwrap(),
            "{name} differs: run demo-data/make and look at the difference"
        );
    }
}

#[test]
fn the_same_seed_gives_the_same_lesson() {
    let folder = tempfile::tempdir().unwrap();
    let words = |out| {
        [
            "demo",
            "--run-only",
            "--seed",
            "9",
            "--began",
            "2026-03-14T10:32:05Z",
            "--out",
            out,
        ]
    };
    run(folder.path(), &words("a")).done();
    run(folder.path(), &words("b")).done();
    run(
        folder.path(),
        &[
            "demo",
            "--run-only",
            "--seed",
            "8",
            "--began",
            "2026-03-14T10:32:05Z",
            "--out",
            "c",
        ],
    )
    .done();
    let read = |out: &str, file: &str| {
        std::fs::read(
            folder
                .path()
                .join(out)
                .join("2026-03-14T103205-demo")
                .join(file),
        )
        .unwrap()
    };
    for name in DERIVED {
        assert!(read("a", name) == read("b", name), "{name} differs");
    }
    assert!(read("a", "readings.csv") != read("c", "readings.csv"));
}

#[test]
fn a_virtual_board_can_be_logged_and_looked_at() {
    let folder = tempfile::tempdir().unwrap();
    let said = run(
        folder.path(),
        &[
            "log",
            "--board",
            "virtual:seed=3,speed=100",
            "--heat",
            "4m",
            "--cool",
            "4m",
            "--marks",
            "1m",
            "--view",
            "plain",
        ],
    );
    said.done();
    let cues: Vec<usize> = [
        "Switch the lamp ON now",
        "Switch the lamp OFF now",
        "The plan is through",
    ]
    .iter()
    .map(|cue| {
        said.err
            .find(cue)
            .unwrap_or_else(|| panic!("{cue} is missing in:\n{}", said.err))
    })
    .collect();
    assert!(cues.is_sorted());
    assert!(
        said.err.contains("lamp is hot"),
        "the caution is missing:\n{}",
        said.err
    );
    let marks = Table::read(&only_run(folder.path()).join("marks.csv"));
    assert_eq!(
        marks.head,
        [
            "mark_min",
            "phase",
            "slate_degc",
            "u_slate_degc",
            "moss_degc",
            "u_moss_degc"
        ]
    );
    assert!(marks.rows.len() >= 9, "{marks:?}");
    let looked = run(folder.path(), &["boards", "--board", "virtual"]);
    assert!(
        looked.done().out.contains("duskmark's own"),
        "{}",
        looked.out
    );
    let json = run(folder.path(), &["boards", "--board", "virtual", "--json"]);
    let board = summary(json.done().out.lines().next().unwrap());
    assert_eq!(board["channels"], 2);
    assert!(
        board["readings"][0]["degc"].as_f64().unwrap() > 15.0,
        "{board:#}"
    );
}

#[test]
fn every_command_has_help_with_an_example() {
    let folder = tempfile::tempdir().unwrap();
    for command in ["demo", "boards", "log", "rebuild", "analyse"] {
        let said = run(folder.path(), &[command, "--help"]);
        let help = &said.done().out;
        assert!(help.contains(&format!("duskmark {command}")), "{help}");
        assert!(help.contains("Example"), "{help}");
        let longest = help.lines().map(|l| l.chars().count()).max().unwrap();
        assert!(longest <= 80, "{longest} columns in:\n{help}");
    }
}

#[test]
fn words_that_make_no_sense_are_refused_with_code_2() {
    let folder = tempfile::tempdir().unwrap();
    for (words, part) in [
        (&["log", "--heat", "10"][..], "10m is minutes"),
        (&["log", "--heat", "0s"], "the least is 10ms"),
        (&["log", "--samples", "slate,slate"], "stands there twice"),
        (&["log", "--settle", "0.1"], "0.1/min"),
        (&["log", "--board", "virtual:colour=red"], "colour=red"),
        (
            &["log", "--board", "virtual", "--heat", "1m", "--marks", "1h"],
            "longer than the plan",
        ),
        (
            &["log", "--heat", "1m", "--for", "1h"],
            "cannot be used with",
        ),
        (&["log", "--probe", "10k"], "B is mostly 3380, 3435"),
        (
            &["log", "--board", "virtual", "--probe-lag", "6s,4s,5s"],
            "3 probe lags for 2 probes",
        ),
        (&["anaylse", "x.csv"], "analyse"),
        (&["demo", "--began", "yesterday"], "is no time"),
    ] {
        run(folder.path(), words).failed_with(2, &[part]);
    }
}

#[test]
fn a_closed_pipe_is_no_error() {
    let folder = tempfile::tempdir().unwrap();
    let script = format!(
        "{} demo --run-only | head -n 1; exit ${{PIPESTATUS[0]}}",
        support::program::PROGRAM
    );
    let said: support::program::Said = std::process::Command::new("bash")
        .args(["-c", &script])
        .current_dir(folder.path())
        .output()
        .unwrap()
        .into();
    said.done();
    assert!(!said.err.contains("panicked"), "{}", said.err);
}
