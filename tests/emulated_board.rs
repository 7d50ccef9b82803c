//! The whole way from a real board's bytes: the reference firmware, on an emulated ATmega328P, read
//! by the built program through a pseudo-terminal.
//!
//! `tests/emulated-board` holds the harness: it runs the very image that is flashed to a board,
//! drives its two analogue inputs from a thermal model, and writes down the truth.
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    reason = "a test's helpers may panic as its tests may"
)]

mod support;

use std::io::{BufRead as _, BufReader};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::sync::OnceLock;

use support::csv::{Table, assert_times_rise};
use support::program::{Running, Said, duskmark, only_run, run};

/// Firmware and harness, built once for all tests of this file.
struct Built {
    firmware: PathBuf,
    harness: PathBuf,
}

fn built() -> &'static Built {
    static BUILT: OnceLock<Built> = OnceLock::new();
    BUILT.get_or_init(|| {
        let root = Path::new(env!("CARGO_MANIFEST_DIR"));
        let out = Path::new(env!("CARGO_TARGET_TMPDIR"));
        let make = |folder: &str, build: &str| {
            let build = out.join(build);
            let made = Command::new("make")
                .arg("-C")
                .arg(root.join(folder))
                .arg(format!("BUILD={}", build.display()))
                .output()
                .unwrap();
            assert!(
                made.status.success(),
                "{}",
                String::from_utf8_lossy(&made.stderr)
            );
            build
        };
        Built {
            firmware: make("firmware-notes/firmware", "firmware").join("firmware.hex"),
            harness: make("tests/emulated-board", "emulated-board").join("emulated-board"),
        }
    })
}

/// An emulated board that runs beside the test.
struct Board {
    child: Child,
    truth: PathBuf,
}

impl Board {
    /// Starts a board at life's speed; simulated time begins when the program opens the port.
    fn start(folder: &Path, words: &[&str]) -> Self {
        let built = built();
        let truth = folder.join("truth.csv");
        let mut child = Command::new(&built.harness)
            .args(["--link", "board", "--speed", "1", "--wait", "--seed", "7"])
            .arg("--hex")
            .arg(&built.firmware)
            .arg("--truth")
            .arg(&truth)
            .args(words)
            .current_dir(folder)
            .stdout(Stdio::piped())
            .spawn()
            .unwrap();
        let mut first = String::new();
        BufReader::new(child.stdout.take().unwrap())
            .read_line(&mut first)
            .unwrap();
        assert!(first.starts_with("ready "), "{first}");
        Self { child, truth }
    }

    /// What the probes' tips were at, each 100 ms of the board's time from its own zero.
    fn truth(&self) -> (i64, Vec<(f64, f64, f64)>) {
        let text = std::fs::read_to_string(&self.truth).unwrap();
        let zero = text.lines().next().unwrap();
        let zero = zero
            .trim_start_matches("# host_boottime_ns_at_zero=")
            .parse()
            .unwrap();
        let rows = text
            .lines()
            .skip(2)
            .map(|line| {
                let mut cells = line.split(',').map(|cell| cell.parse::<f64>().unwrap());
                let mut next = || cells.next().unwrap();
                (next() / 1000.0, next(), next())
            })
            .collect();
        (zero, rows)
    }
}

impl Drop for Board {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// Start of a run on the boot clock: the time of its journal's first record.
fn start_ns(run: &Path) -> i64 {
    let journal = std::fs::read_to_string(run.join("journal.dmj")).unwrap();
    let first = journal.lines().nth(1).unwrap();
    first.split(' ').nth(1).unwrap().parse().unwrap()
}

fn log(folder: &Path, extra: &[&str]) -> Said {
    let mut words = vec![
        "log",
        "--board",
        "board",
        "--samples",
        "slate,moss",
        "--settle",
        "off",
        "--view",
        "plain",
        "--json",
    ];
    words.extend(extra);
    Running::start(duskmark(folder, &words)).end()
}

/// Compares each row with the truth at its time; gives the worst and the rms error in °C of both
/// channels, over rows before `until_s` of board time.
fn compare(run: &Path, board: &Board) -> (f64, f64, usize) {
    let rows = Table::read(&run.join("readings.csv"));
    assert_times_rise(&rows);
    let (zero_ns, truth) = board.truth();
    let offset_s = (start_ns(run) - zero_ns) as f64 / 1e9;
    let (mut worst, mut square, mut n) = (0.0_f64, 0.0, 0);
    let times = rows.numbers("elapsed_s");
    let columns = [rows.numbers("slate_degc"), rows.numbers("moss_degc")];
    for (row, elapsed_s) in times.iter().enumerate() {
        let t_s = elapsed_s + offset_s;
        let after = truth.partition_point(|point| point.0 < t_s);
        let (Some(a), Some(b)) = (truth.get(after.wrapping_sub(1)), truth.get(after)) else {
            continue;
        };
        let share = (t_s - a.0) / (b.0 - a.0);
        let at = |pick: fn(&(f64, f64, f64)) -> f64| pick(a) + share * (pick(b) - pick(a));
        for (column, true_degc) in columns.iter().zip([at(|p| p.1), at(|p| p.2)]) {
            if column[row].is_finite() {
                let error = column[row] - true_degc;
                worst = worst.max(error.abs());
                square += error * error;
                n += 1;
            }
        }
    }
    (worst, (square / n as f64).sqrt(), n)
}

#[test]
fn a_lesson_on_the_real_firmware_is_read_and_its_lamp_found() {
    let folder = tempfile::tempdir().unwrap();
    let board = Board::start(folder.path(), &["--lamp-on", "20", "--lamp-off", "80"]);
    let said = log(
        folder.path(),
        &["--heat", "60s", "--cool", "58s", "--marks", "20s"],
    );
    said.done();
    let run = only_run(folder.path());
    // The firmware's own noise and steps are some 6 mK; 0.05 °C is what a lesson can see.
    let (worst, rms, n) = compare(&run, &board);
    println!("{n} readings against the truth: rms {rms:.4} °C, worst {worst:.4} °C");
    assert!(n > 2 * 4 * 110, "{n} readings");
    assert!(
        worst < 0.05 && rms < 0.012,
        "worst {worst} °C, rms {rms} °C"
    );

    let summary: serde_json::Value =
        serde_json::from_str(said.out.lines().next().unwrap()).unwrap();
    let (zero_ns, _) = board.truth();
    let offset_s = (start_ns(&run) - zero_ns) as f64 / 1e9;
    let lamp = summary["lamp"].as_array().unwrap();
    let kinds: Vec<&str> = lamp.iter().map(|e| e["edge"].as_str().unwrap()).collect();
    assert_eq!(kinds, ["on", "off"], "{summary:#}");
    for (edge, true_s) in lamp.iter().zip([20.0, 80.0]) {
        let at = |key: &str| edge[key].as_f64().unwrap() + offset_s;
        println!(
            "lamp {}: {:.2} s ({:.2} to {:.2}), truly {true_s}",
            edge["edge"],
            at("at_s"),
            at("low_s"),
            at("high_s")
        );
        // The lags are not declared: the interval carries them, and must cover the truth.
        assert!((at("at_s") - true_s).abs() < 1.5, "{edge}");
        assert!(at("low_s") <= true_s && true_s <= at("high_s"), "{edge}");
    }
    let events = Table::read(&run.join("events.csv"));
    assert!(events.of_kind("bad-line").is_empty(), "{events:?}");
    assert!(events.of_kind("gap").is_empty(), "{events:?}");
    assert_eq!(events.of_kind("lamp-off").len(), 1);
}

#[test]
fn faults_of_a_real_board_are_flagged_and_nothing_wrong_is_written() {
    let folder = tempfile::tempdir().unwrap();
    let faults = "garbage@6+64,open1@9+4,short2@15+4,reset@21,unplug@27+3,silence@34+4";
    let board = Board::start(
        folder.path(),
        &["--lamp-on", "10", "--lamp-off", "30", "--fault", faults],
    );
    let said = log(folder.path(), &["--for", "42s"]);
    said.failed_with(4, &["data are missing"]);
    let run = only_run(folder.path());
    let (worst, rms, n) = compare(&run, &board);
    println!("{n} readings among faults: rms {rms:.4} °C, worst {worst:.4} °C");
    let rows = Table::read(&run.join("readings.csv"));
    let flags = rows.column("flags");
    let flagged = |code: &str| flags.iter().filter(|f| f.contains(code)).count();
    assert!(flagged("slate:open") >= 14, "{flags:?}");
    assert!(flagged("moss:short") >= 14, "{flags:?}");
    assert!(flagged("reset") == 1, "{flags:?}");
    assert!(flagged("gap") >= 2, "{flags:?}");
    let events = Table::read(&run.join("events.csv"));
    assert_eq!(events.of_kind("port-lost").len(), 1, "{events:?}");
    assert_eq!(events.of_kind("port-open").len(), 2, "{events:?}");
    assert!(!events.of_kind("bad-line").is_empty(), "{events:?}");
    assert!(
        worst < 0.05 && rms < 0.012,
        "worst {worst} °C, rms {rms} °C"
    );
    assert!(n > 200, "{n} readings");
}

#[test]
fn boards_shows_the_real_firmware() {
    let folder = tempfile::tempdir().unwrap();
    let _board = Board::start(folder.path(), &[]);
    let said = run(folder.path(), &["boards", "--board", "board"]);
    said.done();
    for part in [
        "duskmark's own",
        "2 probes, converter counts of 65536, every 250 ms",
        "°C",
    ] {
        assert!(
            said.out.contains(part),
            "{part:?} is missing in:\n{}",
            said.out
        );
    }
}
