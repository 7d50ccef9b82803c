//! The page in a real browser: a run watched from its start to its end, by keyboard, and with the
//! server gone for a while. `tests/browser` holds what the browser is told to do.
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    reason = "a test's helpers may panic as its tests may"
)]

mod support;

use std::io::{BufRead as _, BufReader, Write as _};
use std::net::TcpListener;
use std::path::{Path, PathBuf};
use std::process::{Child, Stdio};
use std::time::Duration;

use serde_json::Value;
use support::bench::{Port, sample};
use support::browser::{invalid, node};
use support::csv::Table;
use support::http::get;
use support::pages::demo_run;
use support::program::{Running, duskmark, wait_until};
use support::watched::{here, id, log_two};

fn texts(value: &Value) -> Vec<String> {
    let list = value.as_array().unwrap();
    list.iter()
        .map(|text| text.as_str().unwrap().to_owned())
        .collect()
}

#[test]
fn a_run_is_watched_from_its_start_to_its_end() {
    let folder = tempfile::tempdir().unwrap();
    let words = [
        "log",
        "--board",
        "virtual:speed=3",
        "--heat",
        "90s",
        "--cool",
        "90s",
        "--marks",
        "30s",
        "--view",
        "plain",
        "--page",
        "--page-port",
        "0",
    ];
    let mut log = Running::start(duskmark(folder.path(), &words));
    let here = here(&mut log);
    let kept = log.wait_for_run(folder.path());
    // PAGE_PICTURES names a folder for pictures to look at.
    let pictures = std::env::var("PAGE_PICTURES").unwrap_or_default();
    let output = node("watch.cjs", &[&here, &pictures])
        .stderr(Stdio::inherit())
        .output()
        .unwrap();
    assert!(
        output.status.success(),
        "the browser's part failed, see above"
    );
    log.signal("INT");
    log.wait_for_end();
    let told: Value = serde_json::from_slice(&output.stdout).unwrap();

    assert_eq!(told["complaints"], Value::Array(Vec::new()));
    for (what, done) in told["keyboard"].as_object().unwrap() {
        assert_eq!(done, true, "{what} cannot be reached by keyboard");
    }
    // Axe-core's rules (WCAG 2.0 to 2.2, A and AA, and best practices).
    let looks = told["axe"].as_array().unwrap();
    assert_eq!(looks.len(), 7, "{looks:?}");
    for look in looks {
        assert!(look["passes"].as_u64() > Some(10), "{look}");
        assert_eq!(
            look["violations"],
            Value::Array(Vec::new()),
            "{}",
            look["where"]
        );
    }
    for look in told["sideways"].as_array().unwrap() {
        assert!(
            look[1].as_i64() <= Some(0),
            "{} goes sideways by {} px",
            look[0],
            look[1]
        );
    }

    // Every number that was shown stands in the file, in the same order and digit for digit.
    let table = Table::read(&kept.join("readings.csv"));
    let mut rows = table.rows.iter();
    let shown = told["seen"]["numbers"].as_array().unwrap();
    assert!(shown.len() > 100, "{}", shown.len());
    let mut before = &Value::Null;
    for pair in shown {
        let cells = texts(pair);
        // The last one may be shown once more when the run is over.
        assert!(
            pair == before || rows.any(|row| row[2] == cells[0] && row[3] == cells[1]),
            "{pair} is no row of the file after {before}"
        );
        before = pair;
    }

    // Who cannot see it hears of cues and marks, not of every number.
    let heard = texts(&told["seen"]["heard"]);
    for part in [
        "The lamp is on.",
        "Switch the lamp OFF now.",
        "Mark 1 minutes: slate ",
    ] {
        assert!(
            heard.iter().any(|text| text.starts_with(part)),
            "{part} in {heard:?}"
        );
    }
    assert!(
        heard.len() < 25,
        "{} for {} numbers: {heard:?}",
        heard.len(),
        shown.len()
    );
    let journal = std::fs::read_to_string(kept.join("journal.dmj")).unwrap();
    assert!(journal.contains(" note typed on the page\n") && journal.contains(" predict 1="));
}

/// Each page as the server sends it: of a run that waits for its lamp, as the teacher has it, and after
/// it; the wall with the code; and where a code is given.
#[test]
fn the_pages_are_valid_html() {
    let folder = tempfile::tempdir().unwrap();
    let finished = demo_run(folder.path());
    let mut port = Port::open();
    let words = [
        "--heat",
        "1h",
        "--settle",
        "off",
        "--marks",
        "1m",
        "--share",
        "--page-port",
        "0",
    ];
    let (mut log, run) = log_two(folder.path(), &mut port, &words);
    let here = here(&mut log);
    let lines: Vec<String> = (0..5).map(|seq| sample(seq, "23.40,21.10")).collect();
    port.play(&lines);
    wait_until("the run's page", || {
        let shown = get(&here, &format!("/run/{}", id(&run)), &[]).body;
        shown.contains("Switch the lamp ON now") && shown.contains("For the teacher")
    });
    let mut files = Vec::new();
    for (name, path) in [
        ("wall", "/".to_owned()),
        ("join", "/join".to_owned()),
        ("run", format!("/run/{}", id(&run))),
        ("finished", format!("/run/{}", id(&finished))),
    ] {
        let answer = get(&here, &path, &[]);
        assert_eq!(answer.code, 200, "{path}");
        let file = folder.path().join(format!("{name}.html"));
        std::fs::write(&file, answer.body).unwrap();
        files.push(file);
    }
    let pages: Vec<&Path> = files.iter().map(PathBuf::as_path).collect();
    assert_eq!(invalid(&pages), Vec::<String>::new());
    // The check can fail.
    let html = std::fs::read_to_string(&files[0]).unwrap();
    std::fs::write(&files[0], html.replace("<main", "<p><div></p><main")).unwrap();
    assert!(!invalid(&pages).is_empty());
}

/// The browser, and what it says next.
struct Viewer(Child, BufReader<std::process::ChildStdout>);

impl Viewer {
    fn next(&mut self) -> Value {
        let mut line = String::new();
        self.1.read_line(&mut line).unwrap();
        serde_json::from_str(&line).unwrap_or(Value::Null)
    }
}

impl Drop for Viewer {
    fn drop(&mut self) {
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}

#[test]
fn a_phone_joins_with_the_code_that_is_shown() {
    let folder = tempfile::tempdir().unwrap();
    demo_run(folder.path());
    let words = ["page", "--share", "--port", "0"];
    let mut page = Running::start(duskmark(folder.path(), &words));
    let word = |line: String| line.split_whitespace().last().unwrap().to_owned();
    let here = word(page.wait_for("The page on this computer: "));
    let here = here.trim_start_matches("http://").trim_end_matches('/');
    let code = word(page.wait_for("the code to look:"));
    let output = node("join.cjs", &[here, &code]).output().unwrap();
    let told = String::from_utf8_lossy(&output.stderr);
    assert!(output.status.success(), "{told}");
    let told: Value = serde_json::from_slice(&output.stdout).unwrap();
    assert!(told["wrong"].as_str().unwrap().contains("not the code"));
    assert_eq!(told["wall"], "/", "{told}");
    assert_eq!(told["nowhere"], "All benches", "{told}");
    assert_eq!(told["sideways"], serde_json::json!([0, 0, 0]), "{told}");
    let told = &told["axe"];
    for look in told.as_array().unwrap() {
        assert_eq!(look["violations"], serde_json::json!([]), "{look}");
    }
}

#[test]
fn a_server_that_comes_back_is_found_again_with_all_that_came_meanwhile() {
    let folder = tempfile::tempdir().unwrap();
    let mut port = Port::open();
    let (_log, kept) = log_two(folder.path(), &mut port, &["--marks", "1s"]);
    // A board that goes on whatever the page does, until the test is over.
    let mut board = port.twin();
    std::thread::spawn(move || {
        for seq in 0.. {
            let line = sample(seq, &format!("{:.2},21.10", 20.0 + f64::from(seq) / 100.0));
            if board.write_all(line.as_bytes()).is_err() {
                return;
            }
            std::thread::sleep(Duration::from_millis(100));
        }
    });
    let free = TcpListener::bind("127.0.0.1:0")
        .unwrap()
        .local_addr()
        .unwrap()
        .port()
        .to_string();
    let page = || {
        let mut page = Running::start(duskmark(folder.path(), &["page", "--port", &free]));
        page.wait_for("The page on this computer: ");
        page
    };
    let first = page();
    let mut child = node("return.cjs", &[&format!("127.0.0.1:{free}"), &id(&kept)])
        .spawn()
        .unwrap();
    let out = BufReader::new(child.stdout.take().unwrap());
    let mut viewer = Viewer(child, out);
    assert_eq!(viewer.next(), "shown");
    drop(first);
    assert_eq!(viewer.next(), "lost");
    let _second = page();
    let told = viewer.next();
    let degc = |key: &str| -> f64 { told[key].as_str().unwrap().parse().unwrap() };
    assert!(degc("after") > degc("before"), "{told}");
    // A mark each second, also for the seconds in which there was no server.
    let seconds = (degc("after") - degc("before")) * 10.0;
    assert!(told["marks"].as_f64().unwrap() >= seconds.floor(), "{told}");
}
