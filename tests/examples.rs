//! The examples that `--help` shows, each run as it would be pasted into a shell.
#![cfg(unix)]
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    reason = "a test's helpers may panic as its tests may"
)]

mod support;

use std::path::Path;
use std::process::{Command, Stdio};

use support::program::{PROGRAM, Running, run};

/// Examples that this test cannot answer for, and what does.
const ELSEWHERE: [(&str, &str); 2] = [
    ("--mqtt", "needs a broker: tests/mqtt.rs"),
    (
        "fit --law steinhart-hart --plot",
        "asks at a terminal: tests/calibrate_guided.rs",
    ),
];

/// The board on which an example runs, in the place of one that is plugged in.
fn board(example: &str) -> &'static str {
    if example.contains("calibrate match") {
        "virtual:bath=22,held=1@180s,speed=inf"
    } else if example.contains("calibrate ice") {
        "virtual:bath=0,speed=inf"
    } else if example.contains("calibrate boil") {
        "virtual:bath=99,speed=inf"
    } else if example.contains("calibrate lag") {
        "virtual:bath=46,dip=31s,lags=6s/4s,speed=inf"
    } else {
        "virtual:seed=1,speed=2000"
    }
}

/// Whether an example goes on until it is stopped.
fn stays(example: &str) -> bool {
    ["duskmark page", "--share", "--for 14d", "--resume last"]
        .iter()
        .any(|words| example.contains(words))
}

/// The commands of a help text.
fn commands(help: &str) -> Vec<String> {
    let list = help.lines().skip_while(|line| *line != "Commands:").skip(1);
    list.take_while(|line| !line.is_empty())
        .filter(|line| line.starts_with("  ") && !line.starts_with("    "))
        .filter_map(|line| line.split_whitespace().next())
        .filter(|name| *name != "help")
        .map(str::to_owned)
        .collect()
}

/// The examples of a help text, without what is said beside them.
fn examples(help: &str) -> Vec<String> {
    let list = help
        .lines()
        .skip_while(|line| !line.starts_with("Example"))
        .skip(1);
    list.take_while(|line| !line.is_empty())
        .map(|line| {
            line.trim()
                .split("   ")
                .next()
                .unwrap_or_default()
                .to_owned()
        })
        .collect()
}

/// Each command, those of `calibrate` among them, with its help.
fn helps(folder: &Path) -> Vec<(String, String)> {
    let help = |words: &[&str]| run(folder, words).done().out.clone();
    let mut all = Vec::new();
    for name in commands(&help(&["--help"])) {
        let text = help(&[&name, "--help"]);
        for inner in commands(&text) {
            all.push((format!("{name} {inner}"), help(&[&name, &inner, "--help"])));
        }
        all.push((name, text));
    }
    all
}

/// What the examples speak of: a run, tables that people wrote, a plan, points.
fn prepare(folder: &Path) {
    run(folder, &["-q", "demo", "--run-only"]).done();
    let demo = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo-data");
    std::fs::copy(demo.join("hand-timed.csv"), folder.join("hand-timed.csv")).unwrap();
    let plan = "[plan.lesson]\nheat = \"10m\"\nmarks = \"1m\"\nsamples = [\"slate\", \"moss\"]\n";
    std::fs::write(folder.join("duskmark.toml"), plan).unwrap();
    // Invented points of a correction line and of a thermistor.
    std::fs::write(
        folder.join("points.csv"),
        "reference_degc,ohm\n0,32650\n25,10010\n50,3600\n",
    )
    .unwrap();
    let mut book = rust_xlsxwriter::Workbook::new();
    let sheet = book.add_worksheet();
    sheet.set_name("Bench 3").unwrap();
    let text = std::fs::read_to_string(folder.join("hand-timed.csv")).unwrap();
    for (row, line) in (0..).zip(text.lines()) {
        for (column, cell) in (0..).zip(line.split(',')) {
            match cell.parse::<f64>() {
                Ok(number) => sheet.write_number(row, column, number).unwrap(),
                Err(_) => sheet.write_string(row, column, cell).unwrap(),
            };
        }
    }
    book.save(folder.join("class.xlsx")).unwrap();
}

/// The shell that a line is pasted into.
fn shell(folder: &Path, example: &str) -> Command {
    let programs = Path::new(PROGRAM).parent().unwrap().display().to_string();
    let path = std::env::var("PATH").unwrap();
    // What stays is to get the signal itself, not a shell around it.
    let line = if stays(example) {
        format!("exec {example}")
    } else {
        example.to_owned()
    };
    let mut shell = Command::new("bash");
    shell
        .args(["-o", "pipefail", "-c", &line])
        .current_dir(folder)
        .env("PATH", format!("{programs}:{path}"))
        .env("HOME", folder.join("own"))
        .env("XDG_CONFIG_HOME", folder.join("own"))
        .env("DUSKMARK_BOARD", board(example))
        .env("DUSKMARK_READY", "true")
        .env("DUSKMARK_PAGE_PORT", "0")
        .env_remove("DUSKMARK_OUT")
        .stdin(Stdio::null());
    shell
}

#[test]
fn every_example_works_as_pasted() {
    let folder = tempfile::tempdir().unwrap();
    prepare(folder.path());
    let mut tried = 0;
    for (command, help) in helps(folder.path()) {
        let examples = examples(&help);
        assert!(!examples.is_empty(), "{command} has no example:\n{help}");
        let mut works = false;
        for example in examples {
            if ELSEWHERE.iter().any(|(part, _)| example.contains(part)) {
                continue;
            }
            assert!(
                example.starts_with("duskmark ") || example.starts_with("eval "),
                "{command}: an example is folded at 80 columns: {example}"
            );
            // Each in a folder as the first was, whatever the others leave behind.
            let place = tempfile::tempdir().unwrap();
            let copied = Command::new("cp")
                .arg("-R")
                .arg(folder.path().join("."))
                .arg(place.path())
                .status();
            assert!(copied.unwrap().success());
            if stays(&example) {
                let mut running = Running::start(shell(place.path(), &example));
                // A log with a page says where that is before it has a board.
                let serves = example.starts_with("duskmark page");
                running.wait_for(if serves { "http://" } else { "Logging into" });
                running.signal("INT");
                let said = running.end();
                assert!([0, 4].contains(&said.code), "{example}\n{said:#?}");
            } else {
                let output = shell(place.path(), &example).output().unwrap();
                let said = String::from_utf8_lossy(&output.stderr);
                assert!(output.status.success(), "{example}\n{said}\n{output:?}");
            }
            works = true;
            tried += 1;
        }
        assert!(
            works || command == "stream",
            "none of the examples of {command} was tried"
        );
    }
    assert!(tried > 25, "{tried} examples");
}
