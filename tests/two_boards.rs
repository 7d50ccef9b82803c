//! Two boards in one session: as one bench on one grid, and swapped between their ports.
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    reason = "a test's helpers may panic as its tests may"
)]
#![cfg(unix)]

mod support;

use std::path::Path;
use std::time::{Duration, Instant};

use support::bench::{Port, native};
use support::csv::{Table, assert_times_rise};
use support::program::{Running, duskmark, run};

fn single(id: &str) -> String {
    native(&format!(
        "!duskmark 1 id={id} channels=1 unit=degc period_ms=100"
    ))
}

fn line(seq: u32, degc: f64) -> String {
    native(&format!(">{seq},{},{degc:.3}", 500 + seq * 100))
}

fn log(folder: &Path, ports: &[&Path], more: &[&str]) -> Running {
    let mut words = vec!["log", "--view", "plain"];
    for port in ports {
        words.extend(["--board", port.to_str().unwrap()]);
    }
    words.extend(more);
    Running::start(duskmark(folder, &words))
}

const DERIVED: [&str; 5] = [
    "readings.csv",
    "events.csv",
    "marks.csv",
    "summary.json",
    "run.toml",
];

#[test]
fn two_boards_of_one_channel_make_one_table() {
    let folder = tempfile::tempdir().unwrap();
    let (mut a, mut b) = (Port::open(), Port::open());
    let words = ["--together", "--samples", "slate,moss"];
    let mut log = log(folder.path(), &[&a.path, &b.path], &words);
    a.say(&single("north"));
    b.say(&single("south"));
    let run_folder = log.wait_for_run(folder.path());
    // Both samples warm alike, by 0.5 °C/s; the boards sample 40 ms apart. From row 40 to 60 the
    // second board is silent.
    let begun = Instant::now();
    for k in 0..80_u32 {
        let at = |ms: u32| begun + Duration::from_millis((k * 100 + ms).into());
        std::thread::sleep(at(0).saturating_duration_since(Instant::now()));
        a.say(&line(k, 20.0 + 0.05 * f64::from(k)));
        std::thread::sleep(at(40).saturating_duration_since(Instant::now()));
        if !(40..60).contains(&k) {
            b.say(&line(k, 20.0 + 0.05 * (f64::from(k) + 0.4)));
        }
    }
    let live = run_folder.join("readings.csv");
    support::program::wait_until("the last rows", || {
        std::fs::read_to_string(&live).is_ok_and(|t| t.lines().count() > 75)
    });
    log.signal("INT");
    let said = log.end();
    assert_eq!(said.code, 4, "the silent board is a gap: {said:#?}");
    let rows = Table::read(&run_folder.join("readings.csv"));
    assert_times_rise(&rows);
    let (slate, moss) = (rows.numbers("slate_degc"), rows.numbers("moss_degc"));
    let both: Vec<f64> = slate
        .iter()
        .zip(&moss)
        .map(|(s, m)| (s - m).abs())
        .filter(|d| d.is_finite())
        .collect();
    assert!(both.len() > 45, "{} rows with both", both.len());
    // A scheduler that sleeps 20 ms too long is 0.01 °C; without the grid it would be 0.02 °C always.
    let mean = both.iter().sum::<f64>() / both.len() as f64;
    assert!(mean < 0.015, "mean difference {mean} °C");
    let alone = rows
        .column("flags")
        .iter()
        .filter(|f| f.contains("moss:absent"))
        .count();
    assert!(
        (15..=25).contains(&alone),
        "{alone} rows without the second board"
    );
    assert!(
        rows.column("flags")
            .iter()
            .all(|f| f.contains("interpolated"))
    );
    let settings = std::fs::read_to_string(run_folder.join("run.toml")).unwrap();
    for part in [
        "[found.together]",
        "boards = 2",
        "step_s = 0.1",
        "north, south",
    ] {
        assert!(settings.contains(part), "{part} is missing in:\n{settings}");
    }
    let before = DERIVED.map(|name| std::fs::read(run_folder.join(name)).unwrap());
    let rebuilt = run(folder.path(), &["rebuild", run_folder.to_str().unwrap()]);
    assert_eq!(rebuilt.code, 4);
    let after = DERIVED.map(|name| std::fs::read(run_folder.join(name)).unwrap());
    assert!(before == after, "rebuild gives other bytes");
}

#[test]
fn together_is_checked_before_anything_is_logged() {
    let folder = tempfile::tempdir().unwrap();
    let words = ["log", "--together", "--board", "virtual", "--for", "5s"];
    run(folder.path(), &words).failed_with(2, &["--together needs two boards"]);
    let (mut a, mut b) = (Port::open(), Port::open());
    let words = ["--together", "--samples", "slate,moss,air"];
    let log = log(folder.path(), &[&a.path, &b.path], &words);
    a.say(&single("north"));
    b.say(&single("south"));
    log.end()
        .failed_with(2, &["boards together: 2; samples named: 3", "Name 2"]);
    assert!(!folder.path().join("runs").exists());
}

/// Says hello and `count` lines of a temperature that only this board has.
fn speak(port: &mut Port, id: &str, degc: f64, count: u32) {
    port.say(&single(id));
    for k in 0..count {
        port.say(&line(k, degc));
        std::thread::sleep(Duration::from_millis(20));
    }
}

#[test]
fn boards_that_were_swapped_stay_with_their_samples() {
    let folder = tempfile::tempdir().unwrap();
    let links = [folder.path().join("one"), folder.path().join("two")];
    let mut a = Port::open_as(&links[0]);
    let mut b = Port::open_as(&links[1]);
    let mut log = log(folder.path(), &[&links[0], &links[1]], &[]);
    speak(&mut a, "north", 21.0, 10);
    speak(&mut b, "south", 31.0, 10);
    log.wait_for("bench-1");
    log.wait_for("bench-2");
    drop((a, b));
    // They come back the other way round.
    let mut a = Port::open_as(&links[0]);
    let mut b = Port::open_as(&links[1]);
    a.hear();
    b.hear();
    speak(&mut a, "south", 31.0, 10);
    speak(&mut b, "north", 21.0, 10);
    log.wait_for("moved to another port");
    let full = |bench: &str| {
        let run = std::fs::read_dir(folder.path().join("runs")).unwrap();
        let run = run
            .map(|e| e.unwrap().path())
            .find(|p| p.to_str().unwrap().ends_with(bench));
        run.unwrap()
    };
    for bench in ["bench-1", "bench-2"] {
        let readings = full(bench).join("readings.csv");
        support::program::wait_until("the rows after the swap", || {
            std::fs::read_to_string(&readings).is_ok_and(|text| text.lines().count() > 18)
        });
    }
    log.signal("INT");
    assert_eq!(log.end().code, 4);
    for (bench, degc) in [("bench-1", "21.000"), ("bench-2", "31.000")] {
        let rows = Table::read(&full(bench).join("readings.csv"));
        assert!(rows.rows.len() >= 18, "{} rows", rows.rows.len());
        let values = rows.column(&rows.head[2].clone());
        assert!(
            values.iter().all(|value| *value == degc),
            "{bench}: {values:?}"
        );
        let events = Table::read(&full(bench).join("events.csv"));
        assert!(events.of_kind("other-board").is_empty());
    }
}

#[test]
fn a_killed_run_of_two_boards_goes_on_in_its_folder() {
    let folder = tempfile::tempdir().unwrap();
    let (mut a, mut b) = (Port::open(), Port::open());
    let words = ["--together", "--samples", "slate,moss"];
    let mut first = log(folder.path(), &[&a.path, &b.path], &words);
    a.say(&single("north"));
    b.say(&single("south"));
    let run_folder = first.wait_for_run(folder.path());
    let live = run_folder.join("readings.csv");
    let alternate = |a: &mut Port, b: &mut Port, from: u32| {
        for k in from..from + 20 {
            a.say(&line(k, 20.0 + f64::from(k)));
            b.say(&line(k, 30.0 + f64::from(k)));
            std::thread::sleep(Duration::from_millis(100));
        }
    };
    alternate(&mut a, &mut b, 0);
    support::program::wait_until("the first rows", || {
        std::fs::read_to_string(&live).is_ok_and(|text| text.lines().count() > 15)
    });
    first.signal("KILL");
    first.end();
    drop((a, b));

    let (mut a, mut b) = (Port::open(), Port::open());
    let name = run_folder.to_str().unwrap();
    let again = ["--resume", name, "--together", "--samples", "slate,moss"];
    // One board cannot go on for two, nor two runs become one.
    run(
        folder.path(),
        &["log", "--board", a.name(), "--resume", name],
    )
    .failed_with(
        2,
        &[
            "begun with 2 boards together, not with 1",
            "Give --together",
        ],
    );
    let twice = [&again[..], &["--resume", name]].concat();
    log(folder.path(), &[&a.path, &b.path], &twice)
        .end()
        .failed_with(2, &["2 runs for one bench"]);
    let mut second = log(folder.path(), &[&a.path, &b.path], &again);
    a.say(&single("north"));
    b.say(&single("south"));
    second.wait_for("rows and goes on");
    alternate(&mut a, &mut b, 30);
    support::program::wait_until("the rows after the gap", || {
        std::fs::read_to_string(&live).is_ok_and(|text| text.lines().count() > 30)
    });
    assert_times_rise(&Table::read(&live));
    second.signal("INT");
    assert_eq!(second.end().code, 4, "the gap is told");
    let rows = Table::read(&live);
    assert_times_rise(&rows);
    let (slate, moss) = (rows.numbers("slate_degc"), rows.numbers("moss_degc"));
    for (slate, moss) in slate.iter().zip(&moss) {
        // A degree a row: nothing stands between the two lives, and neither board is the other.
        assert!(slate.is_nan() || !(41.0..50.0).contains(slate), "{slate}");
        assert!(moss.is_nan() || !(51.0..60.0).contains(moss), "{moss}");
        let apart = moss - slate;
        assert!(apart.is_nan() || (9.0..11.0).contains(&apart), "{apart}");
    }
    assert!(slate.iter().any(|&degc| degc > 50.0) && slate.iter().any(|&degc| degc < 30.0));
    let events = Table::read(&run_folder.join("events.csv"));
    assert_eq!(events.of_kind("resume").len(), 1);
    assert!(events.of_kind("other-board").is_empty());
    let before = DERIVED.map(|name| std::fs::read(run_folder.join(name)).unwrap());
    run(folder.path(), &["rebuild", name]);
    let after = DERIVED.map(|name| std::fs::read(run_folder.join(name)).unwrap());
    assert!(before == after, "rebuild gives other bytes");
}
