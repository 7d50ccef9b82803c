//! The page: from a board's bytes to a number on a screen, thirty viewers, a fortnight of data.
//!
//! `cargo bench --bench page -- paint`, `-- viewers [MINUTES]`, `-- fortnight`. The first and the last
//! need Node and Chromium, as `tests/run` installs them. The board is a pseudo-terminal that this
//! process feeds; CPU time and memory are the program's own, from /proc.
#![allow(clippy::print_stdout, reason = "a benchmark prints its table")]
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    reason = "a benchmark may panic"
)]

#[path = "../reach/mod.rs"]
mod reach;
#[path = "../../tests/support/mod.rs"]
mod support;
mod viewers;

use std::io::Write as _;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread::JoinHandle;
use std::time::{Duration, Instant, SystemTime};

use serde_json::Value;
use support::bench::{Port, sample};
use support::program::Running;
use support::watched::{here, log_two, page};

/// Ten lines a second.
const PERIOD: Duration = Duration::from_millis(100);

/// How long numbers are watched.
const WATCH_S: u64 = 120;

fn main() {
    let words: Vec<String> = std::env::args().skip(1).collect();
    // `cargo test` runs benchmarks too, to see that they build.
    if words.iter().any(|word| word == "--test") {
        return;
    }
    let has = |name: &str| words.iter().any(|word| word == name);
    if has("paint") {
        paint();
    }
    if has("viewers") {
        let minutes = words.iter().find_map(|word| word.parse().ok());
        let watch = Duration::from_secs_f64(60.0 * minutes.unwrap_or(10.0));
        println!("| | no viewer | 30 viewers |\n|---|---|---|");
        let alone = viewers::log(0, watch);
        let watched = viewers::log(30, watch);
        for ((what, alone), (_, watched)) in alone.iter().zip(&watched) {
            println!("| {what} | {alone} | {watched} |");
        }
        // Ten times a second a row: what viewers cost must leave the readings' times alone.
        let rms_ms = |told: &[(&str, String)]| {
            let (_, times) = told.iter().find(|(what, _)| what.starts_with("rows"))?;
            times.split(' ').next()?.parse::<f64>().ok()
        };
        if let (Some(alone), Some(watched)) = (rms_ms(&alone), rms_ms(&watched)) {
            reach::told(
                "30 viewers of the page: rms of rows' times without and with them",
                format!("{alone:.2} and {watched:.2} ms"),
                "no later than 1 ms more",
                watched < alone + 1.0,
            );
        }
    }
    if has("fortnight") {
        fortnight();
    }
}

/// Now in ms since 1970, the browser's clock.
fn now_ms() -> f64 {
    let since = SystemTime::now().duration_since(SystemTime::UNIX_EPOCH);
    since.unwrap().as_secs_f64() * 1000.0
}

/// The temperature of a line: each has its own, so that a number tells which line it is.
fn degc(seq: u32) -> String {
    format!("{:.2}", 20.0 + f64::from(seq) / 100.0)
}

/// A board that speaks in a thread of its own; in the end it tells when it said each line.
struct Board {
    stop: Arc<AtomicBool>,
    thread: JoinHandle<Vec<f64>>,
}

impl Board {
    fn start(port: &Port) -> Self {
        let (mut near, stop) = (port.twin(), Arc::new(AtomicBool::new(false)));
        let own = Arc::clone(&stop);
        let thread = std::thread::spawn(move || {
            let (begun, mut said) = (Instant::now(), Vec::new());
            for seq in 0.. {
                if own.load(Ordering::Relaxed) {
                    break;
                }
                let line = sample(seq, &format!("{},21.10", degc(seq)));
                said.push(now_ms());
                near.write_all(line.as_bytes()).unwrap();
                std::thread::sleep((PERIOD * (seq + 1)).saturating_sub(begun.elapsed()));
            }
            said
        });
        Self { stop, thread }
    }

    fn end(self) -> Vec<f64> {
        self.stop.store(true, Ordering::Relaxed);
        self.thread.join().unwrap()
    }
}

/// A run that is logged with its page: the program, the page's address, the run's folder.
fn log(folder: &Path, port: &mut Port) -> (Running, String, PathBuf) {
    let words = ["--for", "1d", "--page", "--page-port", "0"];
    let (mut log, run) = log_two(folder, port, &words);
    let address = here(&mut log);
    (log, address, run)
}

/// What the browser tells.
fn browser(address: &str, run: &Path, seconds: u64) -> Value {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let id = run.file_name().unwrap().to_str().unwrap();
    let mut node = Command::new("node");
    node.arg(root.join("benches/page/paint.cjs"));
    node.args([address, id, &seconds.to_string()]);
    if std::env::var_os("NODE_PATH").is_none() {
        node.env("NODE_PATH", root.join("target/browser/node_modules"));
    }
    let output = node.stderr(Stdio::inherit()).output().unwrap();
    serde_json::from_slice(&output.stdout).unwrap()
}

/// Median, 95th percentile and largest.
fn shares(mut values: Vec<f64>) -> [f64; 3] {
    values.sort_by(f64::total_cmp);
    [0.5, 0.95, 1.0].map(|share| values[((values.len() - 1) as f64 * share) as usize])
}

/// The same as text, of times in ms.
fn spread(ms: Vec<f64>) -> String {
    let [median, most, largest] = shares(ms);
    format!("{median:.1} / {most:.1} / {largest:.1} ms")
}

fn paint() {
    let folder = tempfile::tempdir().unwrap();
    let mut port = Port::open();
    let (mut log, address, run) = log(folder.path(), &mut port);
    let board = Board::start(&port);
    let painted = browser(&address, &run, WATCH_S);
    let said = board.end();
    log.signal("INT");
    log.wait_for_end();
    let times: Vec<(String, f64)> = serde_json::from_value(painted).unwrap();
    let late: Vec<f64> = times
        .iter()
        .filter_map(|(text, at_ms)| {
            let seq = (text.parse::<f64>().ok()? - 20.0) * 100.0;
            Some(at_ms - said[seq.round() as usize])
        })
        .collect();
    let lines = WATCH_S * 10;
    let what = format!("bytes to screen, {} of {lines} lines painted", late.len());
    let [_, most_ms, _] = shares(late.clone());
    let measured = spread(late);
    println!("| | median / 95 % / largest |\n|---|---|");
    println!("| {what} | {measured} |");
    reach::told(&what, measured, "95 % in 150 ms", most_ms < 150.0);
}

fn fortnight() {
    let folder = tempfile::tempdir().unwrap();
    let run = folder.path().join("runs/2026-03-14T000000-sill");
    std::fs::create_dir_all(&run).unwrap();
    let mut out = std::io::BufWriter::new(std::fs::File::create(run.join("readings.csv")).unwrap());
    writeln!(out, "elapsed_s,time_utc,slate_degc,moss_degc,phase,flags").unwrap();
    let rows = 14 * 86_400;
    for s in 0..rows {
        let day = f64::from(s) / 86_400.0 * std::f64::consts::TAU;
        let (slate, moss) = (15.0 + 10.0 * day.sin(), 14.0 + 6.0 * day.sin());
        let (d, h, m) = (14 + s / 86_400, s / 3600 % 24, s / 60 % 60);
        writeln!(
            out,
            "{s}.000,2026-03-{d:02}T{h:02}:{m:02}:{:02}.000Z,{slate:.3},{moss:.3},,",
            s % 60
        )
        .unwrap();
    }
    out.into_inner().unwrap().sync_all().unwrap();
    let (page, address) = page(folder.path(), &[]);
    let pid = page.id();
    let before = viewers::resident_mb(pid);
    let begun = Instant::now();
    let path = format!("/run/{}", run.file_name().unwrap().to_str().unwrap());
    assert_eq!(support::http::get(&address, &path, &[]).code, 200);
    let first_s = begun.elapsed().as_secs_f64();
    let told = browser(&address, &run, 0);
    let mb = |bytes: &Value| bytes.as_f64().unwrap() / 1e6;
    println!("| {rows} rows | |\n|---|---|");
    println!("| server: first answer | {first_s:.2} s |");
    let after = viewers::resident_mb(pid);
    println!("| server: memory before and after | {before:.1} and {after:.1} MB |");
    println!(
        "| browser: opened, picture there | {} ms |",
        told["open_ms"]
    );
    println!(
        "| browser: six times closer, each | {} ms |",
        told["zoom_ms"]
    );
    println!(
        "| browser: the page's own memory, then | {:.1}, {:.1} MB |",
        mb(&told["heap"][0]),
        mb(&told["heap"][1])
    );
    reach::told(
        "a fortnight of rows on the page: server's memory before and after",
        format!("{before:.1} and {after:.1} MB"),
        "20 MB",
        after < 20.0,
    );
}
