//! Logging with nobody there: going on after a crash or restart, one process at a time, and the word to
//! systemd.
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    reason = "a test's helpers may panic as its tests may"
)]
#![cfg(unix)]

mod support;

use std::os::unix::net::UnixDatagram;
use std::path::{Path, PathBuf};
use std::process::Stdio;
use std::time::Duration;

use support::bench::{Port, hello, sample};
use support::csv::{Table, assert_times_rise};
use support::program::{Running, Said, duskmark, only_run, run, wait_until};

const DERIVED: [&str; 4] = ["readings.csv", "events.csv", "marks.csv", "summary.json"];

fn files(folder: &Path) -> Vec<Vec<u8>> {
    let read = |name| std::fs::read(folder.join(name)).unwrap();
    DERIVED.into_iter().map(read).collect()
}

/// Logs `lines` on a board of the test's own until the last of them is in the live file.
fn said(folder: &Path, words: &[&str], lines: &[String], last: &str) -> (Running, PathBuf, Port) {
    let mut port = Port::open();
    let words = [&["log", "--board", port.name(), "--view", "plain"], words].concat();
    let mut log = Running::start(duskmark(folder, &words));
    port.say(&hello());
    let run = log.wait_for_run(folder);
    port.play(lines);
    let live = run.join("readings.csv");
    wait_until(last, || {
        std::fs::read_to_string(&live).is_ok_and(|text| text.contains(last))
    });
    (log, run, port)
}

/// Goes on with a run (a folder's name, or `last`) on a new board of the test's own.
fn gone_on_with(folder: &Path, run: &str, words: &[&str]) -> (Running, Port) {
    let mut port = Port::open();
    let begin = ["log", "--board", port.name(), "--view", "plain"];
    let words = [&begin[..], &["--resume", run], words].concat();
    let mut log = Running::start(duskmark(folder, &words));
    port.say(&hello());
    log.wait_for("it has 2 rows and goes on");
    (log, port)
}

#[test]
fn a_killed_run_goes_on_in_its_folder_and_the_gap_is_marked() {
    let folder = tempfile::tempdir().unwrap();
    let named = ["--samples", "slate,moss", "--for", "1h"];
    let (log, run_folder, port) = said(
        folder.path(),
        &named,
        &[
            sample(0, "23.0,24.0"),
            sample(1, "23.1,24.1"),
            ">2,1200,93.".into(),
        ],
        "23.1",
    );
    log.signal("KILL");
    log.end();
    drop(port);
    let name = run_folder.to_str().unwrap();
    let (log, mut port) = gone_on_with(folder.path(), name, &[]);
    port.play(&[sample(0, "25.0,26.0"), sample(1, "25.1,26.1")]);
    let live = run_folder.join("readings.csv");
    wait_until("the row after the gap", || {
        std::fs::read_to_string(&live).is_ok_and(|text| text.contains("25.1"))
    });
    log.signal("INT");
    log.end().failed_with(4, &["data are missing"]);
    assert_eq!(only_run(folder.path()), run_folder, "no second folder");
    let rows = Table::read(&live);
    assert_times_rise(&rows);
    assert_eq!(rows.head[2..4], ["slate_degc", "moss_degc"]);
    assert_eq!(rows.column("slate_degc"), ["23.0", "23.1", "25.0", "25.1"]);
    let events = Table::read(&run_folder.join("events.csv"));
    let resumed = events.of_kind("resume");
    assert_eq!(resumed.len(), 1, "{events:?}");
    assert!(
        resumed[0][4].contains("after its last record"),
        "{resumed:?}"
    );
    // Same boot: the boot clock went on, and is right to the millisecond.
    assert!(!resumed[0][4].contains("restarted"), "{resumed:?}");
    let before = files(&run_folder);
    run(folder.path(), &["rebuild", name]);
    assert!(files(&run_folder) == before, "a rebuild gives other files");
}

#[test]
fn after_a_restart_of_the_computer_time_goes_on_by_the_wall_clock() {
    let folder = tempfile::tempdir().unwrap();
    let named = ["--samples", "slate,moss"];
    let lines = [sample(0, "23.0,24.0"), sample(1, "23.1,24.1")];
    let (log, run_folder, port) = said(folder.path(), &named, &lines, "23.1");
    log.signal("KILL");
    log.end();
    drop(port);
    // The same journal as another start of the computer would have left it two hours ago: other
    // boot id, other boot clock.
    let journal = run_folder.join("journal.dmj");
    let text = std::fs::read_to_string(&journal).unwrap();
    let mut other = String::new();
    for line in text.lines() {
        let Some((_, body)) = line.split_once(' ').filter(|(sum, _)| sum.len() == 8) else {
            other.push_str(line);
            other.push('\n');
            continue;
        };
        let fields: Vec<&str> = body.splitn(4, ' ').collect();
        let t_ns = fields[0].parse::<i64>().unwrap() - 5_000_000_000_000;
        let payload = match fields[2] {
            "boot" => "00000000-0000-4000-8000-000000000000".to_owned(),
            "clock" => {
                let ns = duskmark::run::parse_rfc3339(fields[3]).unwrap();
                duskmark::run::rfc3339_ms(ns - 7_200_000_000_000)
            }
            _ => fields[3].to_owned(),
        };
        let body = format!("{t_ns} {} {} {payload}", fields[1], fields[2]);
        other.push_str(&format!(
            "{:08x} {body}\n",
            crc32fast::hash(body.as_bytes())
        ));
    }
    std::fs::write(&journal, other).unwrap();
    let (log, mut port) = gone_on_with(folder.path(), "last", &named);
    port.play(&[sample(0, "25.0,26.0")]);
    let live = run_folder.join("readings.csv");
    wait_until("the row after the gap", || {
        std::fs::read_to_string(&live).is_ok_and(|text| text.contains("25.0"))
    });
    log.signal("INT");
    log.end().failed_with(4, &["data are missing"]);
    let rows = Table::read(&live);
    assert_times_rise(&rows);
    let elapsed = rows.numbers("elapsed_s");
    let gap_s = elapsed[2] - elapsed[1];
    assert!((7200.0..7260.0).contains(&gap_s), "{gap_s}");
    let events = Table::read(&run_folder.join("events.csv"));
    let told = &events.of_kind("resume")[0][4];
    assert!(
        told.contains("restarted") && told.contains("wall clock") && told.contains("within 0.1 s"),
        "{told}"
    );
    assert!(events.of_kind("clock-step").is_empty(), "{events:?}");
}

#[test]
fn a_run_whose_plan_is_through_is_not_gone_on_with() {
    let folder = tempfile::tempdir().unwrap();
    let words = [
        "log",
        "--board",
        "virtual:speed=50",
        "--for",
        "10s",
        "--view",
        "off",
    ];
    run(folder.path(), &words).done();
    let first = only_run(folder.path());
    let words = [&words[..], &["--resume", first.to_str().unwrap()]].concat();
    run(folder.path(), &words).failed_with(1, &["is through", "without --resume"]);
    // `last` begins a new one instead.
    let words = [&words[..words.len() - 2], &["--resume", "last"]].concat();
    run(folder.path(), &words).done();
    let runs = std::fs::read_dir(folder.path().join("runs")).unwrap();
    assert_eq!(runs.count(), 2);
}

#[test]
fn one_process_at_a_time_has_a_run() {
    let folder = tempfile::tempdir().unwrap();
    let words = [
        "log", "--board", "virtual", "--for", "1h", "--view", "plain",
    ];
    let mut log = Running::start(duskmark(folder.path(), &words));
    let run_folder = log.wait_for_run(folder.path());
    let name = run_folder.to_str().unwrap();
    let holder = format!("in use by duskmark (process {})", log.id());
    run(folder.path(), &["rebuild", name]).failed_with(1, &[&holder]);
    let again = [&words[..], &["--resume", name]].concat();
    run(folder.path(), &again).failed_with(1, &[&holder, "End that process first"]);
    // Also where no board is to be found, since that process has it.
    let boardless = ["log", "--for", "1h", "--resume", name];
    run(folder.path(), &boardless).failed_with(1, &[&holder]);
    log.signal("KILL");
    log.end();
    // A kill lets go of it.
    run(folder.path(), &["rebuild", name]);
    assert!(run_folder.join("summary.json").exists());
}

#[test]
fn a_closed_standard_output_costs_its_copy_and_no_row() {
    let folder = tempfile::tempdir().unwrap();
    let words = [
        "log",
        "--board",
        "virtual:speed=50",
        "--for",
        "20s",
        "--json",
    ];
    let mut command = duskmark(folder.path(), &words);
    let (reader, writer) = std::io::pipe().unwrap();
    drop(reader);
    let status = command
        .stdout(Stdio::from(writer))
        .stderr(Stdio::null())
        .status()
        .unwrap();
    assert_eq!(status.code(), Some(0));
    let full = std::fs::File::options()
        .write(true)
        .open("/dev/full")
        .unwrap();
    let mut command = duskmark(folder.path(), &words);
    let status = command.stdout(full).stderr(Stdio::null()).status().unwrap();
    assert_eq!(status.code(), Some(0));
    for entry in std::fs::read_dir(folder.path().join("runs")).unwrap() {
        let rows = Table::read(&entry.unwrap().path().join("readings.csv"));
        assert!(rows.rows.len() >= 70, "{} rows", rows.rows.len());
    }
}

#[test]
fn systemd_is_told_that_it_runs_and_goes_on() {
    let folder = tempfile::tempdir().unwrap();
    let socket = folder.path().join("notify");
    let heard = UnixDatagram::bind(&socket).unwrap();
    heard
        .set_read_timeout(Some(Duration::from_secs(60)))
        .unwrap();
    let mut command = duskmark(
        folder.path(),
        &["log", "--board", "virtual", "--view", "plain"],
    );
    command
        .env("NOTIFY_SOCKET", &socket)
        .env("WATCHDOG_USEC", "900000");
    let mut log = Running::start(command);
    log.wait_for_run(folder.path());
    let mut words = Vec::new();
    // Fed at least twice, ready and a status among it.
    while words.iter().filter(|w| *w == "WATCHDOG=1").count() < 3
        || !words
            .iter()
            .any(|w: &String| w.starts_with("STATUS=logging 1 bench"))
    {
        let mut buffer = [0; 400];
        let n = heard.recv(&mut buffer).expect("a word in time");
        let text = String::from_utf8_lossy(&buffer[..n]).trim().to_owned();
        words.push(text);
    }
    assert!(words.contains(&"READY=1".to_owned()), "{words:?}");
    log.signal("TERM");
    log.end();
}

/// The unit in `firmware-notes/unattended`, as systemd reads it, with this program in its place.
#[cfg(target_os = "linux")]
#[test]
fn the_unit_is_one_that_systemd_takes() {
    let folder = tempfile::tempdir().unwrap();
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let unit = root.join("firmware-notes/unattended/duskmark.service");
    let text = std::fs::read_to_string(unit).unwrap();
    let here = text.replace(
        "ExecStart=duskmark",
        &format!("ExecStart={}", support::program::PROGRAM),
    );
    assert_ne!(here, text, "ExecStart names another program");
    let copy = folder.path().join("duskmark.service");
    std::fs::write(&copy, &here).unwrap();
    let verify = |path: &Path| {
        let mut command = std::process::Command::new("systemd-analyze");
        command.args(["verify", "--man=no"]).arg(path).output()
    };
    let Ok(output) = verify(&copy) else {
        println!("not run: needs systemd-analyze");
        return;
    };
    let said = String::from_utf8_lossy(&output.stderr);
    let about_it: Vec<&str> = said.lines().filter(|l| l.contains("duskmark")).collect();
    assert!(output.status.success() && about_it.is_empty(), "{said}");
    // And it would have said so: a word that it does not know is told.
    std::fs::write(&copy, here.replace("WatchdogSec", "WatchdogSeconds")).unwrap();
    let output = verify(&copy).unwrap();
    let said = String::from_utf8_lossy(&output.stderr);
    assert!(said.contains("WatchdogSeconds"), "{said}");
    // The words in ExecStart are the program's own, and so are the variables beside it: it asks for
    // a board, which is not there.
    let start = here.lines().find_map(|l| l.strip_prefix("ExecStart="));
    let words: Vec<&str> = start.unwrap().split(' ').skip(1).collect();
    let variables = root.join("firmware-notes/unattended/duskmark.default");
    let variables = std::fs::read_to_string(variables).unwrap();
    let variables = variables.lines().filter_map(|line| line.split_once('='));
    let mut command = duskmark(folder.path(), &words);
    command.envs(variables.filter(|(name, _)| name.starts_with("DUSKMARK_")));
    command.env("DUSKMARK_BOARD", "/dev/nothing");
    let said: Said = command.output().unwrap().into();
    said.failed_with(3, &["/dev/nothing"]);
}
