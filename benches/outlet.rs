//! What the way out costs: Parquet and CSV of a long run, and its lines of JSON.
//!
//! `cargo bench --bench outlet` prints a table: a run of a day at 10 Hz (864 000 rows of two samples,
//! invented), exported and streamed by the built program; rows per second of wall time, bytes, and
//! the most memory that was resident.
#![allow(clippy::print_stdout, reason = "a benchmark prints its table")]
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    reason = "a benchmark may panic"
)]

#[path = "../tests/support/mod.rs"]
mod support;

use std::fmt::Write as _;
use std::io::Read as _;
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::Instant;

use rand::{RngExt as _, SeedableRng as _};
use support::program::duskmark;

const ROWS: u32 = 864_000;

fn main() {
    // `cargo test` runs benchmarks too, to see that they build.
    if std::env::args().any(|word| word == "--test") {
        return;
    }
    let folder = tempfile::tempdir().unwrap();
    let readings = a_day(folder.path());
    println!(
        "| what | rows/s | bytes | of the run's CSV | resident at most |\n|---|---|---|---|---|"
    );
    println!("| `readings.csv`, wide | | {readings} | 1 | |");
    for (name, words) in [
        (
            "`export`, Parquet with zstd, long",
            &["-q", "export", "day"][..],
        ),
        (
            "`export --csv`, long",
            &["-q", "export", "--csv", "--out", "csv", "day"],
        ),
        ("`stream --once`, lines of JSON", &["stream", "--once", "."]),
    ] {
        let begun = Instant::now();
        let (bytes, resident_kb) = run(folder.path(), words);
        let seconds = begun.elapsed().as_secs_f64();
        let bytes = match words[1] {
            "export" => size(&folder.path().join(if words.len() > 3 {
                "csv"
            } else {
                "tables/readings"
            })),
            _ => bytes,
        };
        println!(
            "| {name} | {:.0} thousand | {bytes} | {:.2} | {:.1} MB |",
            f64::from(ROWS) / seconds / 1000.0,
            bytes as f64 / readings as f64,
            resident_kb as f64 / 1024.0,
        );
    }
}

/// A run's folder with rows as logging writes them; the size of the file.
fn a_day(folder: &Path) -> u64 {
    let mut random = rand_pcg::Pcg64::seed_from_u64(1);
    let mut text = String::from("elapsed_s,time_utc,slate_degc,moss_degc,phase,flags\n");
    let start: jiff::Timestamp = "2026-03-14T00:00:00.004Z".parse().unwrap();
    for row in 1..=ROWS {
        // Boards' clocks are no exact ones: a millisecond more or less.
        let ms = i64::from(row) * 100 + random.random_range(-1..=1);
        let day = f64::from(row) / f64::from(ROWS) * std::f64::consts::TAU;
        let mut degc =
            |mean: f64, swing: f64| mean - swing * day.cos() + random.random_range(-0.02..0.02);
        let (slate, moss) = (degc(24.0, 9.0), degc(21.0, 5.0));
        let utc = start.as_millisecond() + ms;
        let utc = jiff::Timestamp::from_millisecond(utc).unwrap();
        writeln!(
            text,
            "{}.{:03},{utc:.3},{slate:.3},{moss:.3},,",
            ms / 1000,
            ms % 1000
        )
        .unwrap();
    }
    let run = folder.join("day");
    std::fs::create_dir(&run).unwrap();
    std::fs::write(run.join("readings.csv"), &text).unwrap();
    text.len() as u64
}

/// Runs the program; bytes on its standard output, and its largest resident memory in kB.
fn run(folder: &Path, words: &[&str]) -> (u64, u64) {
    let mut command: Command = duskmark(folder, words);
    let mut child = command
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    let status = format!("/proc/{}/status", child.id());
    let watch = std::thread::spawn(move || {
        let mut most = 0;
        // The system's own high-water mark, for as long as there is one.
        while let Ok(text) = std::fs::read_to_string(&status) {
            let Some(line) = text.lines().find(|line| line.starts_with("VmHWM:")) else {
                break;
            };
            most = line.split_whitespace().nth(1).unwrap().parse().unwrap();
            std::thread::sleep(std::time::Duration::from_millis(5));
        }
        most
    });
    let (mut bytes, mut chunk) = (0, vec![0; 1 << 16]);
    let mut out = child.stdout.take().unwrap();
    while let Ok(read @ 1..) = out.read(&mut chunk) {
        bytes += read as u64;
    }
    assert!(child.wait().unwrap().success());
    (bytes, watch.join().unwrap())
}

/// Bytes of all files below a folder.
fn size(folder: &Path) -> u64 {
    let entries = std::fs::read_dir(folder).unwrap();
    let paths = entries.map(|entry| entry.unwrap().path());
    paths
        .map(|path| {
            if path.is_dir() {
                size(&path)
            } else {
                path.metadata().unwrap().len()
            }
        })
        .sum()
}
