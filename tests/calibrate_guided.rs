//! Calibrations as people go through them: a terminal, one sentence at a time.
#![cfg(unix)]
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    reason = "a test's helpers may panic as its tests may"
)]

mod support;

use support::program::duskmark;
use support::terminal::Terminal;

#[test]
fn a_match_is_gone_through_at_a_terminal() {
    let folder = tempfile::tempdir().unwrap();
    let board = "virtual:speed=200,id=K7F2,bath=22,offsets=0.2/-0.1";
    let match_in_bath = |keep: &[&str]| {
        let words = [
            "calibrate",
            "match",
            "--board",
            board,
            "--samples",
            "slate,moss",
        ];
        let words = [&words[..], keep].concat();
        let mut terminal = Terminal::start(&duskmark(folder.path(), &words), (80, 40));
        terminal.wait_for("Press Enter when they are");
        assert!(!folder.path().join("own").exists());
        terminal.press("\n");
        terminal.wait_for("Waiting until it is steady");
        terminal.wait_for("Steady. Taking readings for 1:00");
        terminal
    };
    // What a virtual board shows is invented: it is kept only where somebody says so.
    let mut terminal = match_in_bath(&[]);
    terminal.wait_for("Nothing was kept");
    assert!(terminal.end().success());
    let kept = folder.path().join("own/duskmark/calibrations.toml");
    let mut terminal = match_in_bath(&["--store", kept.to_str().unwrap()]);
    terminal.wait_for("Kept in");
    assert!(
        terminal.text().contains("slate (probe 1)"),
        "{}",
        terminal.text()
    );
    // The user's own folder for settings: named or not, it is what counts.
    assert!(terminal.text().contains("now on") || cfg!(target_os = "macos"));
    assert!(terminal.end().success());
    assert!(kept.exists());
}

#[test]
fn a_fit_asks_for_the_reference_bath_by_bath() {
    let folder = tempfile::tempdir().unwrap();
    let board = "virtual:speed=200,id=K7F2,bath=22,offsets=0.2/-0.1";
    let words = [
        "calibrate",
        "fit",
        "--law",
        "line",
        "--time",
        "20s",
        "--board",
        board,
    ];
    let mut terminal = Terminal::start(&duskmark(folder.path(), &words), (80, 60));
    terminal.wait_for("Bath 1.");
    terminal.press("\n");
    terminal.wait_for("type its temperature");
    terminal.press("warm\n");
    terminal.wait_for("'warm' is no temperature");
    terminal.press("22,1\n");
    terminal.wait_for("Bath 2.");
    terminal.press("end\n");
    terminal.wait_for("2 constants need at least 2 points");
    assert_eq!(terminal.end().code(), Some(1));
    assert!(!folder.path().join("own").exists());
    // A board that sends temperatures has no resistances to fit constants to.
    let board = "virtual:speed=200,id=K7F2,bath=22,unit=degc";
    let words = ["calibrate", "fit", "--law", "beta", "--board", board];
    let mut terminal = Terminal::start(&duskmark(folder.path(), &words), (80, 40));
    terminal.wait_for("--law line");
    assert_eq!(terminal.end().code(), Some(2));
}
