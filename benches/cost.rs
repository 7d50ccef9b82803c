//! What running costs: start, the demo, and logging at 10 Hz for one bench and for 64.
//!
//! `cargo bench --bench cost` prints a table. Boards are pseudo-terminals fed by this process, so
//! that their cost is not counted; CPU time and resident memory are the program's own, from /proc.
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

use std::io::Write as _;
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use support::bench::{Port, native};
use support::program::{PROGRAM, Running, duskmark};

/// How long logging is watched, after a start of five seconds.
const WATCH: Duration = Duration::from_secs(60);

/// Ten lines a second.
const PERIOD: Duration = Duration::from_millis(100);

fn main() {
    // `cargo test` runs benchmarks too, to see that they build.
    if std::env::args().any(|word| word == "--test") {
        return;
    }
    println!("| what | measured |\n|---|---|");
    start("`--help`", &["--help"], 20, 0.010);
    start("`demo`", &["demo"], 5, 5.0);
    for benches in [1, 64] {
        let folder = tempfile::tempdir().unwrap();
        let cost = log(folder.path(), benches);
        let what = format!("logging {benches} bench(es), 2 channels, 10 Hz");
        let measured = format!(
            "{:.2} % of a core, {:.1} MB resident",
            cost.core_percent, cost.resident_mb
        );
        println!("| {what} | {measured} |");
        if benches == 1 {
            let met = cost.core_percent < 0.5 && cost.resident_mb < 20.0;
            reach::told(&what, measured, "0.5 %, 20 MB", met);
        } else {
            reach::told(&what, measured, "10 %", cost.core_percent < 10.0);
        }
    }
}

/// The median wall time of a command, which must stay below a limit.
fn start(name: &str, words: &[&str], times: usize, limit_s: f64) {
    let folder = tempfile::tempdir().unwrap();
    let mut seconds: Vec<f64> = (0..times)
        .map(|_| {
            let begun = Instant::now();
            let mut command = Command::new(PROGRAM);
            command.args(words).current_dir(folder.path());
            let status = command.stdout(Stdio::null()).stderr(Stdio::null()).status();
            assert!(status.unwrap().success());
            begun.elapsed().as_secs_f64()
        })
        .collect();
    seconds.sort_by(f64::total_cmp);
    let what = format!("{name}, median of {times}");
    let median_s = seconds[times / 2];
    let measured = format!("{:.1} ms", median_s * 1000.0);
    println!("| {what} | {measured} |");
    let limit = format!("{:.0} ms", limit_s * 1000.0);
    reach::told(&what, measured, &limit, median_s < limit_s);
}

struct Cost {
    core_percent: f64,
    resident_mb: f64,
}

fn log(folder: &Path, benches: usize) -> Cost {
    let mut ports: Vec<Port> = (0..benches).map(|_| Port::open()).collect();
    let mut words = vec![
        "log".to_owned(),
        "--view".into(),
        "off".into(),
        "--wait".into(),
        "60s".into(),
    ];
    for port in &ports {
        words.push("--board".into());
        words.push(port.name().into());
    }
    let words: Vec<&str> = words.iter().map(String::as_str).collect();
    let log = Running::start(duskmark(folder, &words));
    for (index, port) in ports.iter_mut().enumerate() {
        port.say(&native(&format!(
            "!duskmark 1 id=b{index} channels=2 unit=adc full=65536 fixed_ohm=10000 ntc=low period_ms=100"
        )));
    }
    let mut near: Vec<std::fs::File> = ports.iter().map(Port::twin).collect();
    let mut seq = 0_u32;
    let begun = Instant::now();
    let mut first_cpu_s = None;
    let settle = Duration::from_secs(5);
    while begun.elapsed() < settle + WATCH {
        let due = begun + PERIOD * seq;
        std::thread::sleep(due.saturating_duration_since(Instant::now()));
        if begun.elapsed() >= settle {
            first_cpu_s.get_or_insert_with(|| cpu_s(log.id()));
        }
        for (index, port) in near.iter_mut().enumerate() {
            let wobble = (seq * 7 + index as u32) % 11;
            let line = native(&format!(
                ">{seq},{},{},{}",
                seq * 100,
                33_000 + wobble,
                34_000 - wobble
            ));
            port.write_all(line.as_bytes()).unwrap();
        }
        seq += 1;
    }
    let used_s = cpu_s(log.id()) - first_cpu_s.unwrap();
    let resident_mb = resident_mb(log.id());
    log.signal("INT");
    let said = log.end();
    assert!(said.code == 0 || said.code == 4, "{said:#?}");
    Cost {
        core_percent: used_s / WATCH.as_secs_f64() * 100.0,
        resident_mb,
    }
}

/// CPU time of a process in seconds: fields 14 and 15 of /proc/PID/stat, in clock ticks (100 a
/// second on Linux, proc(5)).
fn cpu_s(pid: u32) -> f64 {
    let stat = std::fs::read_to_string(format!("/proc/{pid}/stat")).unwrap();
    let after = stat.rsplit_once(") ").unwrap().1;
    let fields: Vec<&str> = after.split(' ').collect();
    let ticks: f64 = [11, 12]
        .iter()
        .map(|&i| fields[i].parse::<f64>().unwrap())
        .sum();
    ticks / 100.0
}

fn resident_mb(pid: u32) -> f64 {
    let status = std::fs::read_to_string(format!("/proc/{pid}/status")).unwrap();
    let line = status
        .lines()
        .find(|line| line.starts_with("VmRSS:"))
        .unwrap();
    let kb: f64 = line.split_whitespace().nth(1).unwrap().parse().unwrap();
    kb / 1024.0
}
