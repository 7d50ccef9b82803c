//! Ten minutes without a word from a board: it is asked to wake, the gap is marked, the run goes on,
//! and no row is wrong.
//!
//! All clocks and waits of the program go thirty times faster (`shims/fast_clock.c`): the silence
//! lasts 600 s by its clocks and 20 s by the test's.
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    reason = "a test's helpers may panic as its tests may"
)]
#![cfg(target_os = "linux")]

mod support;

use std::io::Read as _;
use std::path::Path;
use std::time::{Duration, Instant};

use support::bench::{Port, native};
use support::csv::{Table, assert_times_rise};
use support::program::{Running, duskmark, run, wait_until};

const FASTER: u32 = 30;

/// By the program's clocks.
const SILENCE_S: u32 = 600;

fn hello(id: &str) -> String {
    native(&format!(
        "!duskmark 1 id={id} channels=2 unit=degc period_ms=1000"
    ))
}

/// Says lines `from` to `to`, a second apart by the board's clock, which shows `ms` at line 0; each
/// value names its line.
fn say(ports: &mut [(Port, [u32; 2])], from: u32, to: u32) {
    let begun = Instant::now();
    for k in from..to {
        let due = begun + Duration::from_secs((k - from).into()) / FASTER;
        std::thread::sleep(due.saturating_duration_since(Instant::now()));
        for (port, [seq, ms]) in ports.iter_mut() {
            let (degc, other) = (20.0 + f64::from(k) / 100.0, 40.0 - f64::from(k) / 100.0);
            let (seq, ms) = (k - *seq, (k * 1000).wrapping_sub(*ms));
            port.say(&native(&format!(">{seq},{ms},{degc:.2},{other:.2}")));
        }
    }
}

/// Reads what the program asks for, for so long; gives the lines.
fn asked(port: &Port, how_long: Duration) -> usize {
    let mut near = port.twin();
    let (sender, heard) = std::sync::mpsc::channel();
    std::thread::spawn(move || {
        let mut byte = [0];
        while near.read(&mut byte).is_ok_and(|n| n == 1) && sender.send(byte[0]).is_ok() {}
    });
    let until = Instant::now() + how_long;
    let mut lines = 0;
    while let Ok(byte) = heard.recv_timeout(until.saturating_duration_since(Instant::now())) {
        lines += usize::from(byte == b'\n');
    }
    lines
}

#[test]
fn ten_minutes_of_silence_are_a_gap_and_no_wrong_row() {
    let folder = tempfile::tempdir().unwrap();
    let Some(library) = support::shim::build(folder.path(), "fast_clock") else {
        return;
    };
    // One board goes on where it was; the other one starts again in the silence.
    let mut ports = [(Port::open(), [0, 0]), (Port::open(), [0, 0])];
    let mut command = duskmark(folder.path(), &["log", "--view", "plain"]);
    for (port, _) in &ports {
        command.arg("--board").arg(&port.path);
    }
    command
        .env("LD_PRELOAD", library)
        .env("FAST_CLOCK", FASTER.to_string());
    let mut log = Running::start(command);
    ports[0].0.say(&hello("north"));
    ports[1].0.say(&hello("south"));
    say(&mut ports, 0, 40);
    log.wait_for("bench-1");
    log.wait_for("bench-2");
    let runs: Vec<_> = std::fs::read_dir(folder.path().join("runs"))
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .collect();
    let rows = |least: usize| {
        wait_until("the rows", || {
            runs.iter().all(|run| {
                std::fs::read_to_string(run.join("readings.csv"))
                    .is_ok_and(|text| text.lines().count() > least)
            })
        });
    };
    rows(35);
    let silent = Duration::from_secs(SILENCE_S.into()) / FASTER;
    let begun = Instant::now();
    let words = asked(&ports[0].0, silent);
    std::thread::sleep(silent.saturating_sub(begun.elapsed()));
    // Every 1.5 s by its clock: 400 times, and a busy machine may take some of them.
    assert!(words >= 40, "asked {words} times to wake");
    log.wait_for("nothing from the board for");
    let on = 40 + SILENCE_S;
    ports[1].0.say(&hello("south"));
    ports[1].1 = [on, on * 1000 - 50];
    say(&mut ports, on, on + 40);
    rows(75);
    log.signal("INT");
    log.end().failed_with(4, &["data are missing"]);
    for run_folder in &runs {
        judge(run_folder);
        let before = std::fs::read(run_folder.join("readings.csv")).unwrap();
        run(folder.path(), &["rebuild", run_folder.to_str().unwrap()]);
        assert_eq!(
            before,
            std::fs::read(run_folder.join("readings.csv")).unwrap()
        );
    }
}

/// Every row is a line that was said, once and in order, and none stands in the silence.
fn judge(run_folder: &Path) {
    let rows = Table::read(&run_folder.join("readings.csv"));
    assert_times_rise(&rows);
    let [first, second] = [2, 3].map(|column| rows.numbers(&rows.head[column].clone()));
    let elapsed = rows.numbers("elapsed_s");
    let numbers: Vec<f64> = first.iter().map(|degc| (degc - 20.0) * 100.0).collect();
    let mirror = second.iter().map(|degc| (40.0 - degc) * 100.0);
    for (number, mirror) in numbers.iter().zip(mirror) {
        assert!((number - mirror).abs() < 0.01, "{number} and {mirror}");
        let round = number.round() as u32;
        assert!(
            round < 40 || (640..680).contains(&round),
            "{number} was never said"
        );
    }
    assert!(numbers.windows(2).all(|two| two[1] > two[0]), "{numbers:?}");
    assert!(numbers.len() >= 76, "{} rows", numbers.len());
    let gap = elapsed
        .windows(2)
        .map(|two| two[1] - two[0])
        .fold(0.0, f64::max);
    // A wake-up of the test that comes 0.3 s late is 9 s by the program's clock.
    assert!((590.0..640.0).contains(&gap), "a gap of {gap} s");
    let events = Table::read(&run_folder.join("events.csv"));
    let gaps = events.of_kind("gap");
    assert_eq!(gaps.len(), 1, "{events:?}");
}
