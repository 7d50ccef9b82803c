//! Runs that use calibrations: said aloud, kept with the run, pointed out where they do not fit.
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    reason = "a test's helpers may panic as its tests may"
)]

mod support;

use std::path::{Path, PathBuf};

use serde_json::Value;
use support::bath::calibrated;
use support::csv::Table;
use support::program::{Said, run};

const BOARD: &str = "virtual:speed=inf,seed=3,id=K7F2,offsets=0.2/-0.1";

fn calibrate(folder: &Path, what: &str, bath: &str, words: &[&str]) {
    calibrated(folder, what, &format!("{BOARD},{bath}"), words).done();
}

/// Logs the same seconds of the same board each time.
fn log(folder: &Path, out: &str, words: &[&str]) -> (Said, PathBuf) {
    let all = [
        "log", "--board", BOARD, "--for", "30s", "--view", "plain", "--out", out,
    ];
    let said = run(folder, &[&all[..], words].concat());
    let runs = std::fs::read_dir(folder.join(out));
    let path = runs
        .ok()
        .and_then(|mut runs| Some(runs.next()?.unwrap().path()));
    (said, path.unwrap_or_default())
}

/// What was said, without the line breaks of a terminal.
fn flat(said: &Said) -> String {
    said.done().err.replace("\n  ", " ")
}

fn mean(run: &Path, column: &str) -> f64 {
    let table = Table::read(&run.join("readings.csv"));
    let values = table.numbers(column);
    values.iter().sum::<f64>() / values.len() as f64
}

fn settings(run: &Path) -> toml::Table {
    let text = std::fs::read_to_string(run.join("run.toml")).unwrap();
    text.parse().unwrap()
}

#[test]
fn a_match_corrects_later_runs_and_a_rebuild_needs_nothing_else() {
    let folder = tempfile::tempdir().unwrap();
    calibrate(folder.path(), "match", "bath=22", &[]);
    let (_, bare) = log(folder.path(), "bare", &["--calibration", "off"]);
    let (said, own) = log(folder.path(), "own", &["--calibration", "c.toml"]);
    let said = said.done();
    assert!(
        said.err.contains("Calibrated: slate by match of"),
        "{}",
        said.err
    );
    assert!(
        said.err.lines().all(|line| line.chars().count() <= 80),
        "{}",
        said.err
    );
    for (column, added) in [("slate_degc", -0.15), ("moss_degc", 0.15)] {
        let moved = mean(&own, column) - mean(&bare, column);
        assert!((moved - added).abs() < 0.01, "{column} {moved}");
    }
    assert!(!settings(&bare).contains_key("calibrated"));
    let kept = &settings(&own)["calibrated"];
    assert_eq!(kept[1]["from"][0]["found"]["kind"].as_str(), Some("match"));
    assert_eq!(kept[1]["from"][0]["board"].as_str(), Some("K7F2"));
    assert_eq!(kept[0]["is_absolute"].as_bool(), Some(false));
    // Everything that it takes is in the journal.
    let files = [
        "readings.csv",
        "events.csv",
        "marks.csv",
        "summary.json",
        "run.toml",
    ];
    let read = |name: &str| std::fs::read(own.join(name)).unwrap();
    let before = files.map(read);
    std::fs::remove_file(folder.path().join("c.toml")).unwrap();
    run(folder.path(), &["rebuild", own.to_str().unwrap()]).done();
    for (name, before) in files.iter().zip(before) {
        assert!(read(name) == before, "{name} changed");
    }
    // Readings that were corrected once are not calibrated again.
    let again = [
        "calibrate",
        "match",
        "--readings",
        own.to_str().unwrap(),
        "--no-store",
    ];
    run(folder.path(), &again).failed_with(2, &["corrected by calibrations already"]);
}

#[test]
fn the_uncertainty_of_a_calibration_is_in_marks_and_report() {
    let folder = tempfile::tempdir().unwrap();
    calibrate(folder.path(), "ice", "bath=0", &[]);
    let words = ["--marks", "10s", "--json"];
    let (bare, _) = log(
        folder.path(),
        "bare",
        &[&words[..], &["--calibration", "off"]].concat(),
    );
    let (own, path) = log(
        folder.path(),
        "own",
        &[&words[..], &["--calibration", "c.toml"]].concat(),
    );
    let u = |said: &Said| {
        let summary: Value = serde_json::from_str(said.done().out.trim()).unwrap();
        summary["marks"][1]["u_degc"][0].as_f64().unwrap()
    };
    assert!(
        u(&bare) < 0.05 && u(&own) > 0.1 && u(&own) < 0.12,
        "{} {}",
        u(&bare),
        u(&own)
    );
    for input in [path.clone(), path.join("readings.csv")] {
        let out = folder.path().join("pages");
        let words = [
            "report",
            input.to_str().unwrap(),
            "--lang",
            "en",
            "--out",
            out.to_str().unwrap(),
        ];
        run(folder.path(), &words).done();
        let pages = std::fs::read_dir(&out)
            .unwrap()
            .map(|entry| entry.unwrap().path());
        let page = pages
            .filter(|path| path.extension().is_some_and(|e| e == "html"))
            .last()
            .unwrap();
        let page = std::fs::read_to_string(page).unwrap();
        assert!(
            page.contains("calibration known to ±\u{a0}0.20\u{a0}°C"),
            "{}",
            input.display()
        );
        assert!(page.contains("ice point of") && page.contains("less than a day before"));
        std::fs::remove_dir_all(out).unwrap();
    }
}

#[test]
fn stale_and_foreign_calibrations_are_pointed_out_and_not_used() {
    let folder = tempfile::tempdir().unwrap();
    calibrate(folder.path(), "ice", "bath=0", &[]);
    let store = folder.path().join("c.toml");
    let text = std::fs::read_to_string(&store).unwrap();
    let year = text.split("date = \"").nth(1).unwrap()[..4].to_owned();
    let old = text.replace(&format!("date = \"{year}"), "date = \"2021");
    std::fs::write(&store, &old).unwrap();
    let (said, run_of) = log(folder.path(), "old", &["--calibration", "c.toml"]);
    let said = said.done();
    assert!(
        said.err
            .contains("Not used: the ice point of probe 1 from 2021"),
        "{}",
        said.err
    );
    assert!(!settings(&run_of).contains_key("calibrated"));
    let (said, run_of) = log(
        folder.path(),
        "allowed",
        &["--calibration", "c.toml", "--calibration-age", "3650d"],
    );
    said.done();
    assert!(settings(&run_of).contains_key("calibrated"));
    // Another divider: what was found of readings by the old one is no longer true.
    std::fs::write(&store, &text).unwrap();
    let (said, run_of) = log(
        folder.path(),
        "other",
        &["--calibration", "c.toml", "--fixed", "4k7"],
    );
    let said = flat(&said);
    assert!(said.contains("another law or divider"), "{said}");
    assert!(!settings(&run_of).contains_key("calibrated"));
    // Another board.
    std::fs::write(&store, text.replace("\"K7F2\"", "\"B2\"")).unwrap();
    let (said, _) = log(folder.path(), "board", &["--calibration", "c.toml"]);
    assert!(flat(&said).contains("of other boards, none of K7F2"));
}

#[test]
fn a_broken_file_stops_a_run_before_it_begins_and_is_left_as_it_is() {
    let folder = tempfile::tempdir().unwrap();
    calibrate(folder.path(), "ice", "bath=0", &[]);
    let store = folder.path().join("c.toml");
    let text = std::fs::read_to_string(&store).unwrap();
    let broken = text.replacen("channel = 1", "channel = one", 1);
    std::fs::write(&store, &broken).unwrap();
    let line = broken
        .lines()
        .position(|line| line == "channel = one")
        .unwrap()
        + 1;
    let place = format!("c.toml:{line}:");
    let (said, _) = log(folder.path(), "runs", &["--calibration", "c.toml"]);
    said.failed_with(1, &[&place, "--calibration off"]);
    assert!(!folder.path().join("runs").exists());
    let board = format!("{BOARD},bath=0");
    let words = [
        "calibrate",
        "ice",
        "--ready",
        "--store",
        "c.toml",
        "--board",
        &board,
    ];
    run(folder.path(), &words).failed_with(1, &[&place, "left as it is"]);
    run(folder.path(), &["calibrate", "show", "--store", "c.toml"]).failed_with(1, &[&place]);
    assert_eq!(std::fs::read_to_string(&store).unwrap(), broken);
    log(folder.path(), "runs", &["--calibration", "off"])
        .0
        .done();
    let missing = log(folder.path(), "runs2", &["--calibration", "none.toml"]).0;
    missing.failed_with(2, &["no file of calibrations none.toml"]);
}

#[test]
fn a_board_without_an_id_is_asked_for_a_name_and_never_guessed() {
    let folder = tempfile::tempdir().unwrap();
    let board = "virtual:speed=inf,speech=plain,bath=22,offsets=0.2/-0.1";
    let matched = [
        "calibrate",
        "match",
        "--ready",
        "--store",
        "c.toml",
        "--board",
        board,
    ];
    run(folder.path(), &matched).failed_with(2, &["states no id", "--as NAME", "--no-store"]);
    assert!(!folder.path().join("c.toml").exists());
    run(folder.path(), &[&matched[..], &["--as", "tray a"]].concat()).done();
    let log = |out: &str, words: &[&str]| {
        let all = [
            "log", "--board", board, "--for", "20s", "--view", "plain", "--out", out,
        ];
        let all = [&all[..], &["--calibration", "c.toml"], words].concat();
        flat(&run(folder.path(), &all))
    };
    assert!(log("a", &[]).contains("the board states no id"));
    assert!(log("b", &["--as", "tray a"]).contains("Calibrated: slate by match"));
    assert!(log("c", &["--as", "tray b"]).contains("none of tray b"));
}

#[test]
fn boards_shows_what_corrects_a_board() {
    let folder = tempfile::tempdir().unwrap();
    calibrate(folder.path(), "ice", "bath=0", &[]);
    let board = format!("{BOARD},bath=10");
    let words = ["boards", "--board", &board, "--calibration", "c.toml"];
    let shown = run(folder.path(), &words);
    assert!(
        shown
            .done()
            .out
            .contains("Calibrated: probe 1 by ice point"),
        "{}",
        shown.out
    );
    assert!(
        shown.out.lines().all(|line| line.chars().count() <= 80),
        "{}",
        shown.out
    );
    let said = run(folder.path(), &[&words[..], &["--json"]].concat());
    let found: Value = serde_json::from_str(&said.done().out).unwrap();
    let degc = found["readings"][0]["degc"].as_f64().unwrap();
    assert!((degc - 10.0).abs() < 0.1, "{degc}");
    assert_eq!(found["calibrated"][0]["from"][0]["found"]["kind"], "ice");
}

#[test]
fn a_recorded_run_serves_as_well_as_a_board() {
    let folder = tempfile::tempdir().unwrap();
    let board = format!("{BOARD},bath=22");
    let words = ["log", "--board", &board, "--for", "4m", "--view", "off"];
    run(folder.path(), &words).done();
    let runs = folder.path().join("runs");
    let path = std::fs::read_dir(runs)
        .unwrap()
        .next()
        .unwrap()
        .unwrap()
        .path();
    let matched = [
        "calibrate",
        "match",
        "--json",
        "--store",
        "c.toml",
        "--readings",
    ];
    let said = run(
        folder.path(),
        &[&matched[..], &[path.to_str().unwrap()]].concat(),
    );
    let found: Value = serde_json::from_str(&said.done().out).unwrap();
    assert!((found["difference_degc"].as_f64().unwrap() - 0.3).abs() < 0.01);
    assert_eq!(found["board"], "K7F2");
    assert!(
        found["calibrations"][0]["probe"]
            .as_str()
            .unwrap()
            .starts_with("adc of 65536")
    );
    // A bare table does not say whose it is.
    let csv = folder.path().join("bath.csv");
    std::fs::copy(path.join("readings.csv"), &csv).unwrap();
    let words = [&matched[..], &["bath.csv"]].concat();
    run(folder.path(), &words).failed_with(2, &["does not say which board", "--as NAME"]);
    run(folder.path(), &[&words[..], &["--as", "K7F2"]].concat()).done();
}

#[test]
fn a_calibrated_lag_is_used_for_the_lamps_edges_unless_one_is_declared() {
    let folder = tempfile::tempdir().unwrap();
    calibrate(folder.path(), "lag", "bath=46,dip=31s,lags=6s/6s", &[]);
    // The probes of the lessons do lag so. How wide a single interval is varies more than the lag tells.
    let lesson = |seed: u64, out: &str, words: &[&str]| {
        let lagging = BOARD.replace("seed=3", &format!("seed={seed},lags=6s/6s"));
        let all = [
            "log", "--board", &lagging, "--heat", "10m", "--cool", "10m", "--settle", "off",
        ];
        let all = [
            &all[..],
            &["--view", "plain", "--json", "--out", out],
            words,
        ]
        .concat();
        let said = run(folder.path(), &all);
        let summary: Value = serde_json::from_str(said.out.trim()).unwrap();
        let off = &summary["lamp"][1];
        let [low, high] = ["low_s", "high_s"].map(|end| off[end].as_f64().unwrap());
        (high - low, said.err)
    };
    let (mut prior_s, mut known_s, mut last_s) = (0.0, 0.0, 0.0);
    for seed in [3, 5, 9] {
        let (open_s, _) = lesson(seed, "prior", &["--calibration", "off"]);
        prior_s += open_s;
        let (width_s, said) = lesson(seed, "known", &["--calibration", "c.toml"]);
        assert!(
            said.contains("by lag of")
                && (said.contains("; lag (6.0") || said.contains("; lag (5.99")),
            "{said}"
        );
        assert!((width_s - open_s).abs() > 0.001, "the lag is not used");
        (known_s, last_s) = (known_s + width_s, width_s);
    }
    // What is left open is mostly the lamp's own lag and the shape of the response.
    assert!(
        known_s < 1.05 * prior_s,
        "a measured lag leaves much more open than none: {known_s}, {prior_s}"
    );
    let (declared_s, _) = lesson(
        9,
        "declared",
        &["--calibration", "c.toml", "--probe-lag", "6s"],
    );
    assert!(
        (declared_s - last_s).abs() > 1e-6,
        "the measured one is used all the same: {declared_s}"
    );
}
