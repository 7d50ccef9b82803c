//! Days of logging in accelerated time: does anything grow?
//!
//! `cargo bench --bench soak` logs 14 simulated days at 1 Hz on eight virtual boards, as fast as
//! they go, and prints the program's resident memory, open files and CPU time, from /proc, at the
//! start, the middle and the end of the days, and what deriving the runs takes after that.
//! `-- DAYS BENCHES HZ TIMES` sets other numbers, TIMES how many times faster than life: `10 1 10 2000` is
//! what must be reached, at a speed at which no queue fills that is empty in life.
#![allow(clippy::print_stdout, reason = "a benchmark prints its table")]
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    reason = "a benchmark may panic"
)]

#[path = "reach/mod.rs"]
mod reach;
#[path = "../tests/support/mod.rs"]
mod support;

use std::path::Path;
use std::time::{Duration, Instant};

use support::program::{Running, duskmark};

/// More than any machine reaches: the boards go as fast as the run takes them.
const SPEED: f64 = 1e7;

fn main() {
    let words: Vec<String> = std::env::args().skip(1).collect();
    // `cargo test` runs benchmarks too, to see that they build.
    if words.iter().any(|word| word == "--test") {
        return;
    }
    let mut numbers = words.iter().filter_map(|word| word.parse::<u64>().ok());
    let days = numbers.next().unwrap_or(14);
    let benches = numbers.next().unwrap_or(8);
    let hz = numbers.next().unwrap_or(1);
    let folder = tempfile::tempdir().unwrap();
    let begun = Instant::now();
    let times = numbers.next().map_or(SPEED, |times| times as f64);
    let log = start(folder.path(), days, benches, hz, times);
    println!("{days} simulated days, {benches} bench(es), {hz} Hz\n");
    println!(
        "| rows so far | simulated days | resident | open files | CPU time | wall time |\n|---|---|---|---|---|---|"
    );
    let rows_in_all = days * 86_400 * hz * benches;
    let marks = [0.01, 0.25, 0.5, 0.75, 0.98];
    let mut next = 0;
    let (mut most_mb, mut first_mb, mut last_mb) = (0.0_f64, None, 0.0);
    while let Some(state) = State::of(log.id()) {
        most_mb = most_mb.max(state.resident_mb);
        let rows = journal_rows(folder.path());
        if marks
            .get(next)
            .is_some_and(|mark| rows >= mark * rows_in_all as f64)
        {
            next += 1;
            first_mb.get_or_insert(state.resident_mb);
            last_mb = state.resident_mb;
            println!(
                "| {rows:.0} | {:.1} | {:.1} MB | {} | {:.1} s | {:.0} s |",
                rows / 86_400.0 / (hz * benches) as f64,
                state.resident_mb,
                state.files,
                state.cpu_s,
                begun.elapsed().as_secs_f64()
            );
        }
        std::thread::sleep(Duration::from_millis(100));
    }
    if let Some(first_mb) = first_mb {
        reach::told(
            &format!(
                "memory of logging {benches} bench(es) at {hz} Hz, at the beginning and after {days} days"
            ),
            format!("{first_mb:.1} and {last_mb:.1} MB"),
            "20 MB, the same within a fifth",
            last_mb < 20.0 && last_mb < 1.2 * first_mb,
        );
    }
    let said = log.end();
    println!(
        "\nending and deriving included: at most {most_mb:.1} MB resident; exit code {}",
        said.code
    );
    let rows: usize = runs(folder.path())
        .iter()
        .map(|run| {
            std::fs::read_to_string(run.join("readings.csv"))
                .unwrap()
                .lines()
                .count()
                - 1
        })
        .sum();
    println!(
        "rows in the files: {rows}, of {rows_in_all}; wall time {:.0} s",
        begun.elapsed().as_secs_f64()
    );
}

fn start(folder: &Path, days: u64, benches: u64, hz: u64, times: f64) -> Running {
    let period = 1.0 / hz as f64;
    let length = format!("{days}d");
    let boards: Vec<String> = (1..=benches)
        .map(|seed| format!("virtual:seed={seed},speed={times},period={period}s"))
        .collect();
    let mut words = vec!["log", "--view", "off", "--wait", "60s", "--for", &length];
    for board in &boards {
        words.extend(["--board", board]);
    }
    Running::start(duskmark(folder, &words))
}

fn runs(folder: &Path) -> Vec<std::path::PathBuf> {
    std::fs::read_dir(folder.join("runs"))
        .map(|runs| runs.map(|entry| entry.unwrap().path()).collect())
        .unwrap_or_default()
}

/// Rows by the size of the growing tables: their first lines tell how long one is.
fn journal_rows(folder: &Path) -> f64 {
    runs(folder)
        .iter()
        .map(|run| {
            let size = std::fs::metadata(run.join("readings.csv")).map_or(0, |m| m.len());
            // `123456.000,2026-03-14T10:32:05.123Z,23.456,23.456,,` and its line end.
            size as f64 / 51.0
        })
        .sum()
}

/// What /proc tells of a process.
struct State {
    resident_mb: f64,
    files: usize,
    cpu_s: f64,
}

impl State {
    /// `None` once the process has ended.
    fn of(pid: u32) -> Option<Self> {
        let status = std::fs::read_to_string(format!("/proc/{pid}/status")).ok()?;
        let resident = status.lines().find(|line| line.starts_with("VmRSS:"))?;
        let kb: f64 = resident.split_whitespace().nth(1)?.parse().ok()?;
        let stat = std::fs::read_to_string(format!("/proc/{pid}/stat")).ok()?;
        // Fields 14 and 15, in ticks of which Linux has 100 a second (proc(5)).
        let fields: Vec<&str> = stat.rsplit_once(") ")?.1.split(' ').collect();
        let ticks: f64 =
            fields.get(11)?.parse::<f64>().ok()? + fields.get(12)?.parse::<f64>().ok()?;
        Some(Self {
            resident_mb: kb / 1024.0,
            files: std::fs::read_dir(format!("/proc/{pid}/fd")).ok()?.count(),
            cpu_s: ticks / 100.0,
        })
    }
}
