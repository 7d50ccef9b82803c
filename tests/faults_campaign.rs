//! A campaign of faults: boards on pseudo-terminals are pulled in mid-line, reset, drowned in
//! garbage and silenced, hundreds of times, while the computer's clock is set to and fro.
//!
//! Every value that a board says names the line it stands in, so each row of the result can be
//! held against what was said. A row may be missing, and it may be flagged; a row that is wrong is
//! never allowed. The tally is printed (`cargo test --test faults_campaign -- --nocapture`).
//!
//! Accelerated: boards say a line every five milliseconds and stay away for some milliseconds, where in
//! life it would be seconds; silences are 6 s at most and not hours, for the program's clock is the
//! real one. So the first wait before a port is opened again (250 ms) sets the pace.
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    reason = "a test's helpers may panic as its tests may"
)]
#![cfg(unix)]

mod support;

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::Duration;

use rand::{RngExt as _, SeedableRng as _};
use rand_pcg::Pcg64;
use support::bench::{Port, native};
use support::csv::{Table, assert_times_rise};
use support::program::{Running, duskmark, run, wait_until};

/// Benches that are tormented side by side: what takes time is waiting for the port.
const BENCHES: usize = 16;

/// Pulls of each bench.
const PULLS: usize = 35;

/// A board whose every line can be told from every other one.
struct Board {
    link: PathBuf,
    port: Option<Port>,
    random: Pcg64,
    /// Number of the last line said, over all resets; what it says is made from it.
    said: u32,
    seq: u32,
    ms: u32,
    id: usize,
    /// Lines that went out whole.
    whole: BTreeSet<u32>,
    pulls: usize,
}

impl Board {
    fn new(folder: &Path, id: usize) -> Self {
        let link = folder.join(format!("board-{id}"));
        Self {
            port: Some(Port::open_as(&link)),
            link,
            random: Pcg64::seed_from_u64(7 + id as u64),
            said: 0,
            seq: 0,
            ms: 40,
            id,
            whole: BTreeSet::new(),
            pulls: 0,
        }
    }

    fn hello(&self) -> String {
        native(&format!(
            "!duskmark 1 id=c{} channels=2 unit=ohm period_ms=5",
            self.id
        ))
    }

    /// Both channels say the number of the line: the second one upside down.
    fn line(&mut self) -> String {
        self.said += 1;
        let line = native(&format!(
            ">{},{},{},{}",
            self.seq,
            self.ms,
            5_000 + self.said,
            25_000 - self.said
        ));
        self.seq += 1;
        self.ms += 5;
        line
    }

    fn say(&mut self, bytes: &[u8]) {
        if let Some(port) = &mut self.port {
            port.say_bytes(bytes);
        }
    }

    fn lines(&mut self, count: usize) {
        for _ in 0..count {
            let line = self.line();
            self.say(line.as_bytes());
            self.whole.insert(self.said);
            std::thread::sleep(Duration::from_millis(5));
        }
    }

    /// A board that starts again counts from zero.
    fn reset(&mut self) {
        self.seq = 0;
        self.ms = 40;
        let hello = self.hello();
        self.say(hello.as_bytes());
    }

    /// The cable is pulled after some bytes of a line, and comes back.
    fn pull(&mut self) {
        let line = self.line();
        let cut = self.random.random_range(0..line.len());
        self.say(&line.as_bytes()[..cut]);
        // Dropping the near side hangs the port up; unread bytes are lost with it.
        self.port = None;
        std::thread::sleep(Duration::from_millis(self.random.random_range(0..30)));
        let mut port = Port::open_as(&self.link);
        // The board hears the host's question: the port was opened again.
        port.hear();
        self.port = Some(port);
        self.reset();
        self.pulls += 1;
    }

    /// One of the things that go wrong, between sound lines.
    fn torment(&mut self) {
        let before = self.random.random_range(0..12);
        self.lines(before);
        match self.random.random_range(0..6) {
            0 => {
                let noise: Vec<u8> = (0..self.random.random_range(1..300))
                    .map(|_| self.random.random_range(0..=255))
                    .collect();
                self.say(&noise);
                // Noise may end in half a line, which takes the next one with it.
                self.say(b"\n");
            }
            1 => {
                // A reset in mid-line splices the half line and the hello.
                let line = self.line();
                self.say(&line.as_bytes()[..line.len() / 2]);
                self.reset();
            }
            2 => {
                // One byte of a line is another one.
                let mut line = self.line().into_bytes();
                let at = self.random.random_range(0..line.len() - 1);
                line[at] ^= 1 << self.random.random_range(0..5);
                self.say(&line);
            }
            3 => {
                let _ = self.line();
            }
            _ => {}
        }
        let after = self.random.random_range(0..12);
        self.lines(after);
        self.pull();
    }
}

/// Rows that were right without a flag, right with one, without a value, and wrong.
#[derive(Debug, Default)]
struct Tally {
    right: usize,
    flagged: usize,
    empty: usize,
    wrong: Vec<String>,
    said: usize,
}

/// A thermistor of 10 kΩ at 25 °C and B = 3950 K: the B equation, as in `firmware-notes/probes.md`.
fn ohm_at(degc: f64) -> f64 {
    10_000.0 * (3950.0 * (1.0 / (degc + 273.15) - 1.0 / 298.15)).exp()
}

fn judge(run_folder: &Path, board: &Board, tally: &mut Tally) {
    let rows = Table::read(&run_folder.join("readings.csv"));
    assert_times_rise(&rows);
    let values = [2, 3].map(|column| rows.numbers(&rows.head[column].clone()));
    let flags = rows.column("flags");
    let mut last = 0;
    for (row, flags) in flags.iter().enumerate() {
        let (first, second) = (values[0][row], values[1][row]);
        if first.is_nan() && second.is_nan() {
            tally.empty += 1;
            continue;
        }
        // The printed thousandth of a degree is 0.2 ohm of the first probe and 1 ohm of the second.
        let number = ohm_at(first) - 5_000.0;
        let mirror = 25_000.0 - ohm_at(second);
        let nearest = number.round().max(0.0) as u32;
        let right = (number - f64::from(nearest)).abs() < 0.4
            && (number - mirror).abs() < 1.5
            && board.whole.contains(&nearest)
            && nearest > last;
        if !right {
            let row = rows.rows[row].join(",");
            tally
                .wrong
                .push(format!("{row} is {number:.1} and {mirror:.1}"));
        } else if flags.is_empty() {
            tally.right += 1;
        } else {
            tally.flagged += 1;
        }
        last = nearest;
    }
    tally.said += board.whole.len();
}

/// Where libfaketime's library is, if it is there.
fn faketime() -> Option<PathBuf> {
    let folders = [
        "/usr/lib/x86_64-linux-gnu",
        "/usr/lib/aarch64-linux-gnu",
        "/usr/lib",
    ];
    folders
        .iter()
        .map(|folder| Path::new(folder).join("faketime/libfaketimeMT.so.1"))
        .find(|path| path.exists())
}

/// The program, whose wall clock follows a file where libfaketime is there; its boot clock does not.
fn program(folder: &Path, words: &[&str], steps: &Path) -> Running {
    let mut command = duskmark(folder, words);
    if let Some(library) = faketime() {
        std::fs::write(steps, "+0").unwrap();
        command
            .env("LD_PRELOAD", library)
            .env("FAKETIME_TIMESTAMP_FILE", steps)
            .env("FAKETIME_NO_CACHE", "1")
            .env("FAKETIME_DONT_FAKE_MONOTONIC", "1");
    }
    Running::start(command)
}

#[test]
fn no_row_is_wrong_whatever_happens_to_board_and_cable() {
    let folder = tempfile::tempdir().unwrap();
    let mut boards: Vec<Board> = (0..BENCHES)
        .map(|id| Board::new(folder.path(), id))
        .collect();
    let links: Vec<String> = boards
        .iter()
        .map(|board| board.link.to_str().unwrap().to_owned())
        .collect();
    let mut words = vec!["log", "--view", "plain", "--wait", "60s", "--sync", "200ms"];
    for link in &links {
        words.extend(["--board", link]);
    }
    let steps = folder.path().join("clock");
    let mut log = program(folder.path(), &words, &steps);
    for board in &mut boards {
        board.reset();
        board.lines(3);
    }
    wait_until("all runs", || {
        std::fs::read_dir(folder.path().join("runs")).is_ok_and(|runs| runs.count() == BENCHES)
    });
    let set = std::thread::scope(|scope| {
        let threads: Vec<_> = boards
            .iter_mut()
            .map(|board| {
                scope.spawn(move || {
                    for _ in 0..PULLS {
                        board.torment();
                    }
                    board.lines(20);
                })
            })
            .collect();
        // Meanwhile people and time servers set the clock.
        let mut set = 0;
        while threads.iter().any(|thread| !thread.is_finished()) {
            std::thread::sleep(Duration::from_millis(700));
            if faketime().is_some() {
                let offset = ["+3600", "-3600", "+0", "+2", "-86400"][set % 5];
                let aside = steps.with_extension("new");
                std::fs::write(&aside, offset).unwrap();
                std::fs::rename(&aside, &steps).unwrap();
                set += 1;
            }
        }
        set
    });
    // A long silence at the end, so that it is told and the boards are asked for a word.
    log.wait_for("nothing from the board");
    for board in &mut boards {
        board.port.as_mut().unwrap().hear();
    }
    log.signal("INT");
    let said = log.end();
    assert_eq!(
        said.code,
        4,
        "{}",
        said.err.lines().last().unwrap_or_default()
    );

    let mut tally = Tally::default();
    let (mut lost, mut clock_steps) = (0, 0);
    for board in &boards {
        let run_folder = folder_of(folder.path(), board.id);
        judge(&run_folder, board, &mut tally);
        let events = Table::read(&run_folder.join("events.csv"));
        lost += events.of_kind("port-lost").len();
        clock_steps += events.of_kind("clock-step").len();
        let utc = events.column("time_utc");
        assert!(utc.iter().all(|time| time.ends_with('Z')), "{utc:?}");
    }
    let pulls: usize = boards.iter().map(|board| board.pulls).sum();
    println!("{pulls} pulls, {set} steps of the wall clock (told {clock_steps} times): {tally:?}");
    assert!(pulls >= 500 && lost >= pulls, "{pulls} pulls, {lost} told");
    assert!(tally.wrong.is_empty(), "{tally:#?}");
    // What is in the port's buffer at a pull is lost with it; nearly all else is there.
    let there = tally.right + tally.flagged;
    assert!(there * 10 > tally.said * 8, "{there} of {}", tally.said);
    assert!(
        set == 0 || clock_steps >= set,
        "{clock_steps} of {set} steps told"
    );

    // And all of it follows again from the journals.
    let one = folder_of(folder.path(), 0);
    let before = std::fs::read(one.join("readings.csv")).unwrap();
    run(folder.path(), &["rebuild", one.to_str().unwrap()]);
    assert_eq!(before, std::fs::read(one.join("readings.csv")).unwrap());
}

/// The run of a board: its journal names it.
fn folder_of(folder: &Path, id: usize) -> PathBuf {
    let name = format!("bench-{}", id + 1);
    let runs = std::fs::read_dir(folder.join("runs")).unwrap();
    let found = runs
        .map(|entry| entry.unwrap().path())
        .find(|path| path.to_str().unwrap().ends_with(&name));
    found.unwrap()
}

#[test]
fn a_run_goes_on_when_nobody_reads_what_it_prints() {
    let folder = tempfile::tempdir().unwrap();
    let mut board = Board::new(folder.path(), 0);
    let words = ["log", "--board", "board-0", "--json", "--view", "plain"];
    let mut command: Command = duskmark(folder.path(), &words);
    let mut child = command
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    // Both are closed at once: whoever looked on is gone.
    drop((child.stdout.take(), child.stderr.take()));
    board.reset();
    for _ in 0..40 {
        board.lines(5);
        std::thread::sleep(Duration::from_millis(20));
    }
    let run_folder = support::program::only_run(folder.path());
    wait_until("the rows", || {
        std::fs::read_to_string(run_folder.join("readings.csv"))
            .is_ok_and(|text| text.lines().count() > 190)
    });
    let pid = child.id().to_string();
    Command::new("kill")
        .args(["-s", "INT", &pid])
        .status()
        .unwrap();
    child.wait().unwrap();
    let mut tally = Tally::default();
    judge(&run_folder, &board, &mut tally);
    assert!(tally.wrong.is_empty(), "{tally:#?}");
    assert!(run_folder.join("summary.json").exists());
    assert!(tally.right > 150, "{tally:?}");
}
