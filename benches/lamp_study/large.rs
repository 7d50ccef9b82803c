//! Large tables: time and peak memory of `duskmark analyse` on them, as a user runs it.

use std::fs::File;
use std::io::{BufWriter, Write};
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use crate::bench_model::{self, rng};
use crate::reach;

/// How often memory is looked at. The kernel keeps the peak, so only what grows in the last such
/// stretch before the end is not seen.
const LOOK: Duration = Duration::from_millis(2);

/// Prints time and peak memory for a month of rows and for ten hours at 10 Hz.
pub(crate) fn large() {
    println!("| table | size | time, best of 3 | peak memory | edges |\n|---|---|---|---|---|");
    let folder = tempfile::tempdir().unwrap();
    for (name, every_s, rows) in [
        ("30 days at 1 Hz", 1.0, 2_592_000),
        ("10 h at 10 Hz", 0.1, 360_000),
    ] {
        let path = folder.path().join("readings.csv");
        write(&path, every_s, rows);
        let size_mb = std::fs::metadata(&path).unwrap().len() as f64 / 1e6;
        let runs: Vec<Run> = (0..3).map(|_| analyse(&path)).collect();
        let time_s = runs.iter().map(|run| run.time_s).fold(f64::MAX, f64::min);
        let peak_mb = runs.iter().map(|run| run.peak_mb).fold(0.0, f64::max);
        println!(
            "| {name} | {size_mb:.0} MB | {time_s:.2} s | {peak_mb:.0} MB | {} |",
            runs[0].edges
        );
        if rows > 1_000_000 {
            reach::told(
                &format!("analyse {name}"),
                format!("{time_s:.2} s, {peak_mb:.0} MB"),
                "3 s, 200 MB",
                time_s < 3.0 && peak_mb < 200.0,
            );
        }
    }
}

/// Writes a table of two samples that follow day and night.
fn write(path: &Path, every_s: f64, rows: u32) {
    let mut draw = rng(1);
    let mut file = BufWriter::new(File::create(path).unwrap());
    let head = "elapsed_s,time_utc,slate_degc,moss_degc,phase,flags";
    writeln!(file, "{head}").unwrap();
    let day = 86_400.0 / std::f64::consts::TAU;
    for i in 0..rows {
        let t = f64::from(i) * every_s;
        let wave = (t / day).sin();
        let a = 18.0 + 6.0 * wave + 0.05 * bench_model::normal(&mut draw);
        let b = 17.0 + 4.0 * wave + 0.05 * bench_model::normal(&mut draw);
        let row = format!("{t:.3},2026-03-14T10:32:05.000Z,{a:.3},{b:.3},settling,");
        writeln!(file, "{row}").unwrap();
    }
    file.flush().unwrap();
}

struct Run {
    time_s: f64,
    peak_mb: f64,
    edges: usize,
}

/// Runs `duskmark analyse --json` on a table.
fn analyse(path: &Path) -> Run {
    let begin = Instant::now();
    let mut child = Command::new(env!("CARGO_BIN_EXE_duskmark"))
        .args(["analyse", "--json"])
        .arg(path)
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    let mut peak_mb = 0.0_f64;
    // The summary of such a table is smaller than a pipe, so the program does not wait for us.
    while child.try_wait().unwrap().is_none() {
        peak_mb = peak_mb.max(peak_so_far_mb(child.id()).unwrap_or(0.0));
        std::thread::sleep(LOOK);
    }
    let time_s = begin.elapsed().as_secs_f64();
    let said = child.wait_with_output().unwrap();
    let summary: serde_json::Value = serde_json::from_slice(&said.stdout).unwrap();
    Run {
        time_s,
        peak_mb,
        edges: summary["lamp"].as_array().unwrap().len(),
    }
}

/// Peak resident memory of a process so far in MB: `VmHWM` of /proc/PID/status, proc(5). None
/// where there is no such file, or where the process is ending.
fn peak_so_far_mb(pid: u32) -> Option<f64> {
    let status = std::fs::read_to_string(format!("/proc/{pid}/status")).ok()?;
    let line = status.lines().find(|line| line.starts_with("VmHWM:"))?;
    let kib: f64 = line.split_whitespace().nth(1)?.parse().ok()?;
    Some(kib * 1024.0 / 1e6)
}
