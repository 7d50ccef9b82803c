//! The terminal view as a person meets it: on a pseudo-terminal, with keys, against a board.
#![cfg(unix)]
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    reason = "a test's helpers may panic as its tests may"
)]

mod support;

use std::path::Path;
use std::process::Command;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

use support::bench::{Port, hello, sample};
use support::csv::Table;
use support::program::{assert_rebuilt_alike, duskmark, only_run, wait_until};
use support::terminal::Terminal;

/// Leaves the view's own screen.
const LEAVES: &[u8] = b"\x1b[?1049l";
const ENTERS: &[u8] = b"\x1b[?1049h";

/// A board of ten lines a second that speaks until it is dropped.
struct Board {
    name: String,
    stop: Arc<AtomicBool>,
}

impl Board {
    fn start() -> Self {
        let mut port = Port::open();
        let name = port.name().to_owned();
        let stop = Arc::new(AtomicBool::new(false));
        let own = Arc::clone(&stop);
        std::thread::spawn(move || {
            let start = Instant::now();
            port.say(&hello());
            for seq in 0.. {
                let due = start + Duration::from_millis(100) * seq;
                std::thread::sleep(due.saturating_duration_since(Instant::now()));
                if own.load(Ordering::Relaxed) {
                    return;
                }
                port.say(&sample(seq, "23.40,22.90"));
            }
        });
        Self { name, stop }
    }
}

impl Drop for Board {
    fn drop(&mut self) {
        self.stop.store(true, Ordering::Relaxed);
    }
}

fn log(folder: &Path, board: &Board, words: &[&str]) -> Command {
    let words = [
        &["log", "--board", &board.name, "--samples", "slate,moss"],
        words,
    ]
    .concat();
    duskmark(folder, &words)
}

fn holds(bytes: &[u8], part: &[u8]) -> bool {
    bytes.windows(part.len()).any(|window| window == part)
}

fn kinds(run: &Path) -> Vec<String> {
    let events = Table::read(&run.join("events.csv"));
    events
        .column("kind")
        .into_iter()
        .map(str::to_owned)
        .collect()
}

#[test]
fn a_plan_without_times_is_led_by_keys_and_rebuilt() {
    let folder = tempfile::tempdir().unwrap();
    let board = Board::start();
    let plan = [
        "--heat", "key", "--settle", "off", "--marks", "1m", "--bell",
    ];
    let mut terminal = Terminal::start(&log(folder.path(), &board, &plan), (80, 24));
    terminal.wait_for(">>> Switch the lamp ON now");
    terminal.wait_for("board ok");
    terminal.wait_for("n note  m mark now  l lamp switched now  Enter go on  e end the run");
    terminal.press("l");
    terminal.wait_for("heating");
    terminal.press("nbumped the tablf\x7fe");
    terminal.wait_for("note: bumped the table_");
    terminal.press("\r");
    terminal.press("m");
    terminal.wait_for("this moment is marked");
    terminal.press("\r");
    terminal.wait_for(">>> Switch the lamp OFF now");
    terminal.resize(100, 30);
    terminal.press("\r");
    // The phase above the plan, not the name of its part.
    terminal.wait_for("  cooling");
    terminal.press("\r");
    let status = terminal.end();
    assert_eq!(status.code(), Some(0), "{}", terminal.text());
    // The terminal is as it was, and what was said stands above the results.
    assert!(terminal.is_cooked());
    assert!(holds(&terminal.bytes, LEAVES) && holds(&terminal.bytes, b"\x07"));
    let after = terminal
        .bytes
        .windows(LEAVES.len())
        .rposition(|w| w == LEAVES)
        .unwrap();
    let after = String::from_utf8_lossy(&terminal.bytes[after..]).into_owned();
    assert!(
        after.contains("Switch the lamp OFF now") && after.contains(" rows, one every"),
        "{after}"
    );
    let kept = only_run(folder.path());
    let wanted = [
        "cue-lamp-on",
        "hand-lamp-on",
        "note",
        "hand-mark",
        "hand-go-on",
        "cue-lamp-off",
        "hand-go-on",
        "hand-go-on",
        "cue-done",
        "end",
    ];
    let told = kinds(&kept);
    let led: Vec<&str> = told
        .iter()
        .map(String::as_str)
        .filter(|kind| wanted.contains(kind))
        .collect();
    assert_eq!(led, wanted);
    assert_rebuilt_alike(folder.path(), &kept);
    let notes = Table::read(&kept.join("events.csv"));
    assert_eq!(notes.of_kind("note")[0][4], "bumped the table");
    // The moment that was marked is a row of the table.
    let marks = Table::read(&kept.join("marks.csv"));
    let own = |row: &&Vec<String>| row[0].parse::<f64>().unwrap().fract() != 0.0;
    let own: Vec<_> = marks.rows.iter().filter(own).collect();
    assert_eq!(own.len(), 1, "{marks:?}");
    assert!(own[0][2..].iter().all(|cell| !cell.is_empty()), "{marks:?}");
}

#[test]
fn a_terminal_that_takes_nothing_does_not_stall_the_rows() {
    let folder = tempfile::tempdir().unwrap();
    for view in ["auto", "plain"] {
        let board = Board::start();
        let words = ["--marks", "10ms", "--view", view];
        let mut terminal = Terminal::start(&log(folder.path(), &board, &words), (80, 24));
        terminal.wait_for(if view == "auto" {
            "board ok"
        } else {
            "slate 23.40"
        });
        let kept = only_run(folder.path());
        let rows = || {
            std::fs::read_to_string(kept.join("readings.csv"))
                .unwrap_or_default()
                .lines()
                .count()
        };
        terminal.stop();
        let (before, since) = (rows(), Instant::now());
        wait_until("twelve seconds of rows", || rows() >= before + 120);
        let took = since.elapsed();
        assert!(took < Duration::from_secs(18), "{took:?}");
        assert!(
            !terminal.takes(Duration::from_millis(300)),
            "it was not stopped"
        );
        terminal.go_on();
        terminal.press(if view == "auto" { "ee" } else { "\x03" });
        assert_eq!(terminal.end().code(), Some(0));
        std::fs::remove_dir_all(folder.path().join("runs")).unwrap();
    }
}

#[test]
fn colour_and_unicode_are_left_out_where_they_are_not_wanted() {
    let folder = tempfile::tempdir().unwrap();
    let board = Board::start();
    let mut command = log(folder.path(), &board, &["--for", "1d"]);
    command.env("NO_COLOR", "1").env("LC_ALL", "C");
    let mut terminal = Terminal::start(&command, (80, 24));
    terminal.wait_for("23.40 degC");
    assert!(terminal.bytes.is_ascii());
    assert!(
        !holds(&terminal.bytes, b"\x1b[38;"),
        "{:?}",
        terminal.bytes.escape_ascii().to_string()
    );
    terminal.press("\x03");
    assert_eq!(terminal.end().code(), Some(0));
    assert!(terminal.is_cooked());
}

#[test]
fn a_terminal_without_abilities_takes_lines_and_notes() {
    let folder = tempfile::tempdir().unwrap();
    let board = Board::start();
    let mut command = log(
        folder.path(),
        &board,
        &["--heat", "key", "--settle", "off", "--view", "plain"],
    );
    command.env("TERM", "dumb");
    let mut terminal = Terminal::start(&command, (80, 24));
    terminal.wait_for(">>> Switch the lamp ON now.");
    terminal.press("the window is open\n");
    terminal.wait_for("note: the window is open");
    terminal.press("l\n");
    terminal.wait_for("noted: the lamp was switched on");
    terminal.press("\n");
    terminal.wait_for(">>> Switch the lamp OFF now.");
    terminal.press("\n");
    terminal.wait_for("on to the next step");
    terminal.press("\n");
    assert_eq!(terminal.end().code(), Some(0));
    assert!(!holds(&terminal.bytes, ENTERS));
    let told = kinds(&only_run(folder.path()));
    assert!(
        ["note", "hand-lamp-on", "cue-done"]
            .iter()
            .all(|kind| told.iter().any(|k| k == kind))
    );
}

#[test]
fn groups_are_asked_before_the_run_begins() {
    let folder = tempfile::tempdir().unwrap();
    let board = Board::start();
    let words = [
        "--heat", "key", "--settle", "off", "--groups", "2", "--view", "plain",
    ];
    let mut terminal = Terminal::start(&log(folder.path(), &board, &words), (80, 24));
    terminal.wait_for("Group 1:");
    assert!(!folder.path().join("runs").exists());
    terminal.press("moss\n");
    terminal.wait_for("Group 2:");
    terminal.press("1\n");
    terminal.wait_for(">>> Switch the lamp ON now.");
    terminal.press("\x03");
    terminal.end();
    let text = std::fs::read_to_string(only_run(folder.path()).join("run.toml")).unwrap();
    let kept: toml::Table = text.parse().unwrap();
    let said = kept["plan"]["predictions"].as_array().unwrap();
    let said: Vec<_> = said
        .iter()
        .map(|g| (g["group"].as_str(), g["sample"].as_str()))
        .collect();
    assert_eq!(
        said,
        [(Some("1"), Some("moss")), (Some("2"), Some("slate"))]
    );
}

/// Which test of this file is run by another one, on a terminal, to panic there.
const PANICS: &str = "DUSKMARK_TEST_PANICS";

#[test]
fn a_panic_gives_the_terminal_back() {
    if std::env::var_os(PANICS).is_some() {
        let mut stage = duskmark::live::terminal::Stage::open(std::io::stderr()).unwrap();
        stage
            .draw(&duskmark::live::terminal::State::default())
            .unwrap();
        panic!("on purpose");
    }
    let mut command = Command::new(std::env::current_exe().unwrap());
    command
        .args(["--exact", "a_panic_gives_the_terminal_back", "--nocapture"])
        .env(PANICS, "1");
    let mut terminal = Terminal::start(&command, (80, 24));
    assert_ne!(terminal.end().code(), Some(0));
    let said = &terminal.bytes;
    assert!(holds(said, b"on purpose") && holds(said, ENTERS) && holds(said, LEAVES));
    assert!(holds(said, b"\x1b[?25h"), "the cursor is hidden");
    assert!(terminal.is_cooked());
}
