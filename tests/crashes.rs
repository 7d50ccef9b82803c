//! The program killed at random instants while it logs, then rebuilt: no row that stood in a file
//! is lost, and none is wrong.
//!
//! The board is a virtual one, so that every row it would ever send is known: a run of the same
//! seed that nobody kills gives them. `DUSKMARK_KILLS=2000` makes the campaign longer.
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    reason = "a test's helpers may panic as its tests may"
)]
#![cfg(unix)]

mod support;

use std::path::Path;
use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::{Duration, Instant};

use support::csv::{Table, assert_times_rise};
use support::program::{Running, duskmark, run, wait_until};

/// Boards, by their seeds.
const SEEDS: u64 = 4;

#[derive(Debug, Default)]
struct Tally {
    kills: usize,
    resumed: usize,
    /// Rows that stood in the live file at a kill, and rows that were rebuilt.
    stood: usize,
    rebuilt: usize,
    lost: usize,
    wrong: usize,
    torn: usize,
    /// Kills before the first row.
    early: usize,
}

/// What a row says, but for its phase and flags, which the whole run decides.
fn said(row: &[String]) -> Vec<String> {
    row[2..4].to_vec()
}

fn reference(folder: &Path, seed: u64) -> Vec<Vec<String>> {
    let board = format!("virtual:seed={seed},period=10ms,speed=40");
    let words = ["log", "--board", &board, "--for", "20s", "--view", "off"];
    run(folder, &words).done();
    let table = Table::read(&support::program::only_run(folder).join("readings.csv"));
    table.rows.iter().map(|row| said(row)).collect()
}

fn rows_in(path: &Path) -> Vec<Vec<String>> {
    let text = std::fs::read_to_string(path).unwrap_or_default();
    let whole = text.rfind('\n').map_or("", |end| &text[..=end]);
    let mut reader = csv::Reader::from_reader(whole.as_bytes());
    reader
        .records()
        .map(|row| row.unwrap().iter().map(Into::into).collect())
        .collect()
}

/// One life of the program: logs until it is killed `after` its first row.
fn life(folder: &Path, words: &[&str], after: Duration) -> Running {
    let mut log = Running::start(duskmark(folder, words));
    log.wait_for_run(folder);
    let start = Instant::now();
    wait_until("the instant", || start.elapsed() >= after);
    log.signal("KILL");
    log
}

fn trial(n: u64, reference: &[Vec<Vec<String>>], tally: &Mutex<Tally>) {
    let folder = tempfile::tempdir().unwrap();
    let seed = n % SEEDS;
    // Halton's sequence in base 3 spreads the instants; no two trials share one.
    let (mut left, mut place, mut at) = (n + 1, 1.0 / 3.0, 0.0);
    while left > 0 {
        at += place * (left % 3) as f64;
        left /= 3;
        place /= 3.0;
    }
    let after = Duration::from_secs_f64(0.02 + 0.28 * at);
    let board = format!("virtual:seed={seed},period=10ms");
    let sync = if n.is_multiple_of(2) { "50ms" } else { "row" };
    let mut words = vec!["log", "--board", &board, "--for", "1h", "--view", "plain"];
    words.extend(["--sync", sync]);
    if n % 3 == 1 {
        // Several pieces within a life.
        words.extend(["--piece-bytes", "900"]);
    }
    drop(life(folder.path(), &words, after));
    let run_folder = support::program::only_run(folder.path());
    let name = run_folder.to_str().unwrap().to_owned();
    let live = run_folder.join("readings.csv");
    let mut before = rows_in(&live);
    let resumes = n % 6 == 5 && !before.is_empty();
    if resumes {
        let mut onward = words.clone();
        onward.extend(["--resume", &name]);
        drop(life(folder.path(), &onward, after));
        let now = rows_in(&live);
        assert!(now.len() >= before.len(), "trial {n}: rows are gone");
        assert!(
            run_folder.join("journal-0002.dmj").exists(),
            "trial {n} went on in the old piece"
        );
        before = now;
    }
    let rebuilt = run(folder.path(), &["rebuild", &name]);
    assert!(
        rebuilt.code == 0 || rebuilt.code == 4,
        "trial {n}: {rebuilt:#?}"
    );
    let table = Table::read(&live);
    assert_times_rise(&table);
    let rows = &table.rows;
    let mut tally = tally.lock().unwrap();
    tally.kills += 1 + usize::from(resumes);
    tally.resumed += usize::from(resumes);
    tally.early += usize::from(before.is_empty());
    tally.stood += before.len();
    tally.rebuilt += rows.len();
    tally.torn += usize::from(rebuilt.err.contains("damaged"));
    for (k, row) in before.iter().enumerate() {
        // Time and values; what the live file could not know yet is its phase.
        tally.lost += usize::from(rows.get(k).is_none_or(|r| r[..4] != row[..4]));
    }
    // A board that was started again begins anew: one stretch of its rows after the other.
    let known = &reference[seed as usize];
    let mut next = 0;
    for row in rows {
        if next < known.len() && said(row) == known[next] {
            next += 1;
        } else if resumes && said(row) == known[0] {
            next = 1;
        } else {
            tally.wrong += 1;
        }
    }
}

#[test]
fn no_kill_costs_a_row_that_stood_in_a_file_or_makes_a_wrong_one() {
    let kills: u64 = std::env::var("DUSKMARK_KILLS").map_or(200, |n| n.parse().unwrap());
    let folders: Vec<_> = (0..SEEDS).map(|_| tempfile::tempdir().unwrap()).collect();
    let reference: Vec<_> = (0..SEEDS)
        .zip(&folders)
        .map(|(seed, folder)| reference(folder.path(), seed))
        .collect();
    assert!(reference.iter().all(|rows| rows.len() > 500));
    let tally = Mutex::new(Tally::default());
    let next = AtomicUsize::new(0);
    std::thread::scope(|scope| {
        for _ in 0..4 {
            scope.spawn(|| {
                loop {
                    let n = next.fetch_add(1, Ordering::Relaxed) as u64;
                    if n >= kills {
                        return;
                    }
                    trial(n, &reference, &tally);
                }
            });
        }
    });
    let tally = tally.into_inner().unwrap();
    println!("{tally:?}");
    assert!(tally.kills as u64 >= kills, "{tally:?}");
    assert_eq!((tally.lost, tally.wrong), (0, 0), "{tally:?}");
    // It would prove little if most were killed before they had logged anything.
    assert!(tally.early < tally.kills / 4, "{tally:?}");
    assert!(tally.stood > 5 * tally.kills, "{tally:?}");
    assert!(tally.rebuilt >= tally.stood, "{tally:?}");
    assert!(tally.resumed > 0, "{tally:?}");
}
