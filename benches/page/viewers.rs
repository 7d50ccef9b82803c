//! A run that is logged while others look at it.

use std::io::{BufRead as _, BufReader, Read as _};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

use super::support::bench::Port;
use super::support::csv::Table;
use super::support::http::{get, send};
use super::{Board, now_ms, spread};

/// A viewer: takes every message, and fetches the picture when there is a new one, as the page does.
fn viewer(
    address: String,
    run: String,
    stop: Arc<AtomicBool>,
    bytes: Arc<AtomicU64>,
) -> JoinHandle<()> {
    std::thread::spawn(move || {
        let stream = send(&address, "GET", &format!("/run/{run}/live"), &[], "");
        let mut lines = BufReader::new(stream).lines();
        let mut picture = String::new();
        while let Some(Ok(line)) = lines.next() {
            if stop.load(Ordering::Relaxed) {
                return;
            }
            bytes.fetch_add(line.len() as u64, Ordering::Relaxed);
            let new = line
                .split("\"picture\":")
                .nth(1)
                .and_then(|rest| rest.split(',').next());
            if let Some(new) = new.filter(|new| *new != picture) {
                new.clone_into(&mut picture);
                let answer = get(
                    &address,
                    &format!("/run/{run}/picture.svg?w=960&h=500"),
                    &[],
                );
                assert_eq!(answer.code, 200);
                bytes.fetch_add(answer.body.len() as u64, Ordering::Relaxed);
            }
        }
    })
}

/// CPU time of a process in seconds (proc(5): fields 14 and 15, in hundredths).
fn cpu_s(pid: u32) -> f64 {
    let stat = std::fs::read_to_string(format!("/proc/{pid}/stat")).unwrap();
    let after = stat.rsplit(')').next().unwrap();
    let fields: Vec<&str> = after.split_whitespace().collect();
    (fields[11].parse::<f64>().unwrap() + fields[12].parse::<f64>().unwrap()) / 100.0
}

/// Its resident memory in MB.
pub(crate) fn resident_mb(pid: u32) -> f64 {
    let status = std::fs::read_to_string(format!("/proc/{pid}/status")).unwrap();
    let line = status
        .lines()
        .find_map(|line| line.strip_prefix("VmRSS:"))
        .unwrap();
    line.trim().trim_end_matches(" kB").parse::<f64>().unwrap() / 1000.0
}

/// When each line stood in the journal, by looking every millisecond.
fn follow(journal: PathBuf, stop: Arc<AtomicBool>) -> JoinHandle<Vec<(u32, f64)>> {
    std::thread::spawn(move || {
        let mut file = std::fs::File::open(journal).unwrap();
        let (mut text, mut seen) = (String::new(), Vec::new());
        while !stop.load(Ordering::Relaxed) {
            std::thread::sleep(Duration::from_millis(1));
            if file.read_to_string(&mut text).unwrap() == 0 {
                continue;
            }
            let at_ms = now_ms();
            let end = text.rfind('\n').map_or(0, |end| end + 1);
            let rest = text.split_off(end);
            // A record may hold more than one line of the board.
            for part in text.split('>').skip(1) {
                let seq = part.split(',').next().and_then(|seq| seq.parse().ok());
                seen.extend(seq.map(|seq| (seq, at_ms)));
            }
            text = rest;
        }
        seen
    })
}

/// Watches the program's syncs, where `strace` is there.
fn trace(pid: u32, to: &Path) -> Option<Child> {
    let mut strace = Command::new("strace");
    strace.args([
        "-f",
        "-qq",
        "-T",
        "-ttt",
        "-e",
        "trace=fsync,fdatasync",
        "-p",
        &pid.to_string(),
        "-o",
    ]);
    strace
        .arg(to)
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()
        .ok()
}

/// Times between the ends of syncs, and how long each took, in ms.
fn syncs(text: &str) -> (Vec<f64>, Vec<f64>) {
    let one = |line: &str| {
        let begun_s: f64 = line.split_whitespace().nth(1)?.parse().ok()?;
        let took_s: f64 = line
            .rsplit('<')
            .next()?
            .trim_end_matches('>')
            .parse()
            .ok()?;
        Some((1000.0 * (begun_s + took_s), 1000.0 * took_s))
    };
    let (ends, took): (Vec<f64>, Vec<f64>) = text.lines().filter_map(one).unzip();
    (
        ends.windows(2).map(|pair| pair[1] - pair[0]).collect(),
        took,
    )
}

/// Logs for so long with so many viewers; what was measured, in words.
pub(crate) fn log(count: usize, watch: Duration) -> Vec<(&'static str, String)> {
    let folder = tempfile::tempdir().unwrap();
    let mut port = Port::open();
    let (mut log, address, run) = super::log(folder.path(), &mut port);
    let board = Board::start(&port);
    let id = run.file_name().unwrap().to_str().unwrap().to_owned();
    let (stop, bytes) = (
        Arc::new(AtomicBool::new(false)),
        Arc::new(AtomicU64::new(0)),
    );
    std::thread::sleep(Duration::from_secs(5));
    let viewers: Vec<JoinHandle<()>> = (0..count)
        .map(|_| {
            viewer(
                address.clone(),
                id.clone(),
                Arc::clone(&stop),
                Arc::clone(&bytes),
            )
        })
        .collect();
    let followed = follow(run.join("journal.dmj"), Arc::clone(&stop));
    let traced = folder.path().join("syncs");
    let strace = trace(log.id(), &traced);
    let (cpu_before, begun, first_mb) = (cpu_s(log.id()), Instant::now(), resident_mb(log.id()));
    std::thread::sleep(watch);
    let percent = 100.0 * (cpu_s(log.id()) - cpu_before) / begun.elapsed().as_secs_f64();
    let (last_mb, sent) = (resident_mb(log.id()), bytes.load(Ordering::Relaxed));
    if let Some(mut strace) = strace {
        let _ = Command::new("kill")
            .args(["-INT", &strace.id().to_string()])
            .status();
        let _ = strace.wait();
    }
    stop.store(true, Ordering::Relaxed);
    for viewer in viewers {
        viewer.join().unwrap();
    }
    let (seen, said) = (followed.join().unwrap(), board.end());
    log.signal("INT");
    log.wait_for_end();
    let (apart, took) = syncs(&std::fs::read_to_string(&traced).unwrap_or_default());
    let told = |ms: Vec<f64>| {
        if ms.is_empty() {
            "not seen (no strace)".into()
        } else {
            spread(ms)
        }
    };
    // What was there before is read at once: that is no delay.
    let waited = seen.iter().map(|(seq, at_ms)| at_ms - said[*seq as usize]);
    vec![
        ("processor", format!("{percent:.2} % of a core")),
        (
            "memory, first and last",
            format!("{first_mb:.1} and {last_mb:.1} MB"),
        ),
        (
            "sent to viewers",
            format!("{:.2} MB/s", sent as f64 / 1e6 / watch.as_secs_f64()),
        ),
        (
            "rows' times about the board's, rms and largest",
            row_times(&run, &said),
        ),
        (
            "byte to journal, median / 95 % / largest",
            spread(waited.skip(100).collect()),
        ),
        ("from sync to sync, likewise", told(apart)),
        ("a sync takes, likewise", told(took)),
    ]
}

/// How far rows' times are from when their lines were said, their mean distance taken out: in this
/// board they are said when they are sampled. The first half minute, in which the board's clock is
/// learnt, is left out.
fn row_times(run: &Path, said: &[f64]) -> String {
    let table = Table::read(&run.join("readings.csv"));
    let off: Vec<f64> = table
        .rows
        .iter()
        .filter_map(|row| {
            let seq = ((row[2].parse::<f64>().ok()? - 20.0) * 100.0).round() as usize;
            Some(row[0].parse::<f64>().ok()? * 1000.0 - (said.get(seq)? - said[0]))
        })
        .skip(300)
        .collect();
    let mean = off.iter().sum::<f64>() / off.len() as f64;
    let square = off.iter().map(|ms| (ms - mean).powi(2)).sum::<f64>() / off.len() as f64;
    let largest = off.iter().map(|ms| (ms - mean).abs()).fold(0.0, f64::max);
    format!("{:.2} and {largest:.2} ms", square.sqrt())
}
