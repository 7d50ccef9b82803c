//! How well the lamp's edges are found: `cargo bench --bench lamp_study -- [RUNS] [WORDS]`.
//!
//! Prints one row per family of simulated benches: median and 95th percentile of the error of the
//! off-edges, gross errors (no such edge, or more than 60 s off), wrong numbers of edges, root mean
//! square of the error over its Cramér–Rao bound where one is defined, coverage and half-width of
//! the stated 95 % interval, CPU time per run. All data are invented. Words:
//!
//! - `from=N` first seed, for runs on seeds that nothing was tuned on
//! - `only=TEXT` families whose name holds the text
//! - `records=DIR` also writes data, truth and answers into a folder, for other tools
//! - `bare` data and truth only, no answers
//! - `part=K/N` of the seeds only every Nth, from the Kth (0 is the first): for N processes at once
//! - `table=DIR` prints the table of such a folder, with every tool's answers, and draws nothing
//! - `bound` instead: what an efficient estimator would have on the same records, beside ours (spikes, gaps
//!   and touches not counted)
//! - `large` only time and memory of `duskmark analyse` on large tables
//!
//! How soon edges are noticed while rows arrive: `cargo bench --bench on_line`.
//! `benches/lamp_table` sets our answers beside those of general-purpose libraries.

#![expect(
    clippy::print_stdout,
    clippy::indexing_slicing,
    clippy::unwrap_used,
    reason = "a study prints its table, and stops where its own data are wrong"
)]

#[path = "../../tests/bench_model/mod.rs"]
mod bench_model;
mod efficient;
mod families;
mod folder;
mod large;
#[path = "../reach/mod.rs"]
mod reach;
mod score;

use std::path::Path;

use bench_model::{Record, rng};
use duskmark::lamp::{Kind, find_edges};
use families::{ALL, Family};
use folder::{Answer, Off, Truth, Writer};
use large::large;

fn main() {
    let runs = std::env::args()
        .skip(1)
        .find_map(|a| a.parse().ok())
        .unwrap_or(200);
    let is_there = |word: &str| std::env::args().any(|a| a == word);
    if is_there("large") {
        large();
    } else if is_there("bound") {
        efficient::table(chosen(), base()..base() + runs);
    } else if let Some(folder) = argument("table=") {
        let (truths, answers) = folder::read(Path::new(&folder));
        print(&truths, &answers);
    } else {
        let (truths, answers) = off_line(runs);
        print(&truths, &answers);
    }
}

/// What follows a word among the arguments.
fn argument(word: &str) -> Option<String> {
    std::env::args().find_map(|a| a.strip_prefix(word).map(ToOwned::to_owned))
}

/// First seed, from an argument `from=N`.
fn base() -> u64 {
    argument("from=").map_or(0, |from| from.parse().unwrap())
}

/// The families whose name holds the text of an argument `only=TEXT`.
fn chosen() -> impl Iterator<Item = &'static Family> {
    let only = argument("only=").unwrap_or_default();
    ALL.iter().filter(move |family| family.name.contains(&only))
}

/// Which part of how many, from an argument `part=K/N`; else all.
fn part() -> (usize, usize) {
    argument("part=").map_or((0, 1), |text| {
        let (part, parts) = text.split_once('/').unwrap();
        (part.parse().unwrap(), parts.parse().unwrap())
    })
}

fn print(truths: &[Truth], answers: &[Answer]) {
    println!("{}", score::HEAD);
    for family in &ALL {
        for row in score::rows(family.name, truths, answers) {
            println!("{row}");
        }
        score::judge(family.name, truths, answers);
    }
}

/// Draws every family's records and finds their edges.
fn off_line(runs: u64) -> (Vec<Truth>, Vec<Answer>) {
    let bare = std::env::args().any(|a| a == "bare");
    let (part, parts) = part();
    let mut writer = argument("records=").map(|folder| Writer::new(Path::new(&folder), part));
    let (mut truths, mut answers) = (Vec::new(), Vec::new());
    for family in chosen() {
        for seed in (base()..base() + runs).skip(part).step_by(parts) {
            let record = (family.make)(&mut rng(seed));
            let truth = truth(family, &record, seed);
            let answer = (!bare).then(|| ours(family, &record, &truth, seed));
            if let Some(writer) = &mut writer {
                writer.write(&record, &truth, answer.as_ref());
            }
            truths.push(truth);
            answers.extend(answer);
        }
    }
    (truths, answers)
}

fn truth(family: &Family, record: &Record, seed: u64) -> Truth {
    let name = family.name.replace(", ", "-").replace(' ', "-");
    Truth {
        file: format!("{name}-{seed}.csv"),
        family: family.name.to_owned(),
        edges_s: record.edges_s.clone(),
        bound_s: family.bounds_s(record),
        no_lags: family.no_lags(),
    }
}

/// Our own answer. With `EACH` set in the environment it is printed beside the truth.
fn ours(family: &Family, record: &Record, truth: &Truth, seed: u64) -> Answer {
    let options = family.options(record, seed);
    let begin_s = used_s();
    let fit = find_edges(&record.t_s, &record.columns(), &options);
    let spent_s = used_s() - begin_s;
    if std::env::var("EACH").is_ok() {
        let edges: Vec<_> = fit
            .edges
            .iter()
            .map(|e| (e.at_s.round(), e.low_s.round(), e.high_s.round()))
            .collect();
        println!("{} {edges:?} true {:.1?}", truth.file, truth.edges_s);
    }
    let off = fit.edges.iter().filter(|e| e.edge == Kind::Off);
    Answer {
        tool: score::OURS.to_owned(),
        file: truth.file.clone(),
        edges: fit.edges.len(),
        off: off
            .map(|e| Off {
                at_s: e.at_s,
                low_s: Some(e.low_s),
                high_s: Some(e.high_s),
            })
            .collect(),
        spent_s,
    }
}

/// CPU time of this thread so far in seconds: other work on the machine does not count.
#[cfg(unix)]
fn used_s() -> f64 {
    let time = rustix::time::clock_gettime(rustix::time::ClockId::ThreadCPUTime);
    time.tv_sec as f64 + 1e-9 * time.tv_nsec as f64
}

/// Wall time in seconds, where CPU time is not to be had.
#[cfg(not(unix))]
fn used_s() -> f64 {
    let since = std::time::SystemTime::now().duration_since(std::time::UNIX_EPOCH);
    since.unwrap().as_secs_f64()
}
