//! What was measured survives: the end of the process, a full disk, a folder that cannot be written.
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    reason = "a test's helpers may panic as its tests may"
)]
#![cfg(unix)]

mod support;

use std::io::Read as _;
use std::path::Path;
use std::process::{Command, Stdio};

use support::csv::{Table, assert_times_rise};
use support::program::{PROGRAM, Running, Said, duskmark, run, wait_until};

fn lines_of(path: &Path) -> usize {
    std::fs::read_to_string(path).map_or(0, |text| text.lines().count())
}

#[test]
fn a_killed_run_is_rebuilt_with_every_row_older_than_a_second() {
    let folder = tempfile::tempdir().unwrap();
    let words = [
        "log",
        "--board",
        "virtual:seed=4,period=10ms",
        "--for",
        "1h",
        "--view",
        "plain",
    ];
    let mut log = Running::start(duskmark(folder.path(), &words));
    let run_folder = log.wait_for_run(folder.path());
    let live = run_folder.join("readings.csv");
    wait_until("three seconds of rows", || lines_of(&live) > 300);
    let before = std::fs::read_to_string(&live).unwrap();
    let killed_ns = duskmark::port::clock::boot_ns();
    log.signal("KILL");
    let said = log.end();
    assert_eq!(said.code, -1, "killed, not ended: {said:#?}");

    let rebuilt = run(folder.path(), &["rebuild", run_folder.to_str().unwrap()]);
    assert!(rebuilt.err.contains("was cut off"), "{rebuilt:#?}");
    let rows = Table::read(&live);
    assert_times_rise(&rows);
    // Every whole row that stood in the live file (all of them younger than the kill by less than
    // a sync period would already do) is there again, its time and values unchanged.
    let whole = before.rsplit_once('\n').unwrap().0;
    let mut n = 0;
    for (line, row) in whole.lines().skip(1).zip(&rows.rows) {
        let cells: Vec<&str> = line.split(',').collect();
        assert_eq!(cells[..4], row[..4], "row {n}");
        n += 1;
    }
    assert_eq!(n, whole.lines().count() - 1, "rows are missing");
    assert!(n >= 300);
    // And the last row is younger than a second at the kill: nothing was held back.
    let journal = std::fs::read_to_string(run_folder.join("journal.dmj")).unwrap();
    let first = journal.lines().nth(1).unwrap();
    let start_ns: i64 = first.split(' ').nth(1).unwrap().parse().unwrap();
    let last_s = rows.numbers("elapsed_s").last().copied().unwrap();
    let age_s = (killed_ns - start_ns) as f64 / 1e9 - last_s;
    assert!(age_s < 1.0, "the last row was {age_s} s old at the kill");
    println!(
        "{n} rows stood in the live file; {} were rebuilt",
        rows.rows.len()
    );
}

#[test]
fn a_torn_and_a_damaged_journal_give_what_can_be_read() {
    let folder = tempfile::tempdir().unwrap();
    run(folder.path(), &["demo", "--run-only"]).done();
    let run_folder = support::program::only_run(folder.path());
    let all = Table::read(&run_folder.join("readings.csv")).rows.len();
    let journal = run_folder.join("journal.dmj");
    let mut bytes = std::fs::read(&journal).unwrap();
    let middle = bytes.len() / 2;
    bytes[middle] ^= 0x10;
    bytes.truncate(bytes.len() - 40);
    std::fs::write(&journal, &bytes).unwrap();
    let said = run(folder.path(), &["rebuild", run_folder.to_str().unwrap()]);
    said.failed_with(4, &["damaged in 2 place(s)"]);
    let rows = Table::read(&run_folder.join("readings.csv"));
    assert!(
        all - rows.rows.len() <= 3,
        "{} of {all} rows",
        rows.rows.len()
    );
    assert_times_rise(&rows);
}

#[test]
fn a_full_disk_is_said_at_once_and_what_came_before_is_kept() {
    let folder = tempfile::tempdir().unwrap();
    // A limit on the size of files stands for a disk without room (both refuse the write).
    let script = format!(
        "trap '' XFSZ; ulimit -f 12; exec {PROGRAM} log --board virtual:seed=4,speed=20 \
         --for 10m --view plain"
    );
    let mut command = Command::new("bash");
    command
        .args(["-c", &script])
        .env("TMPDIR", folder.path())
        .current_dir(folder.path());
    let mut log = Running::start(command);
    let run_folder = log.wait_for_run(folder.path());
    log.wait_for("DISK: the disk takes nothing");
    log.signal("INT");
    let said = log.end();
    said.failed_with(1, &["journal.dmj takes no more", "duskmark rebuild"]);
    // What found no room was put aside, as a piece to be put beside the journal when there is room.
    let rest = folder.path().join(format!(
        "{}-rest.dmj",
        run_folder.file_name().unwrap().to_str().unwrap()
    ));
    assert!(said.err.contains("-rest.dmj"), "{}", said.err);
    std::fs::rename(&rest, run_folder.join("journal-0002.dmj")).unwrap();
    let rebuilt = run(folder.path(), &["rebuild", run_folder.to_str().unwrap()]);
    rebuilt.done();
    let rows = Table::read(&run_folder.join("readings.csv"));
    assert!(rows.rows.len() > 150, "{} rows", rows.rows.len());
    assert_times_rise(&rows);
    assert!(
        rows.column("flags").iter().all(|flag| flag.is_empty()),
        "rows are missing"
    );
    let events = Table::read(&run_folder.join("events.csv"));
    assert_eq!(events.of_kind("end").len(), 1);
}

#[test]
fn folders_that_cannot_be_made_are_refused_before_anything_is_logged() {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("taken"), "a file").unwrap();
    for out in ["taken", "/proc/runs"] {
        let words = ["log", "--board", "virtual", "--for", "5s", "--out", out];
        run(folder.path(), &words).failed_with(1, &["cannot be made", out, "--out"]);
    }
}

#[test]
fn a_read_only_folder_is_refused_with_its_name() {
    use std::os::unix::process::CommandExt as _;
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().join("locked");
    std::fs::create_dir(&out).unwrap();
    let locked = std::os::unix::fs::PermissionsExt::from_mode(0o555);
    std::fs::set_permissions(&out, locked).unwrap();
    let open = std::os::unix::fs::PermissionsExt::from_mode(0o755);
    std::fs::set_permissions(folder.path(), open).unwrap();
    let mut command = Command::new(PROGRAM);
    if rustix::process::geteuid().is_root() {
        // The root user may write anywhere: another user has to try.
        let copy = folder.path().join("program");
        std::fs::copy(PROGRAM, &copy).unwrap();
        command = Command::new(copy);
        command.uid(65_534).gid(65_534);
    }
    command.args(["demo", "--out"]).arg(&out).current_dir("/");
    let said: Said = command.output().unwrap().into();
    said.failed_with(1, &["locked", "cannot be made", "Permission denied"]);
}

#[test]
fn a_second_run_at_the_same_moment_gets_a_folder_of_its_own() {
    let folder = tempfile::tempdir().unwrap();
    for _ in 0..2 {
        run(
            folder.path(),
            &["demo", "--run-only", "--began", "2026-03-14T10:32:05Z"],
        )
        .done();
    }
    for name in ["2026-03-14T103205-demo", "2026-03-14T103205-demo-2"] {
        assert!(
            folder
                .path()
                .join("runs")
                .join(name)
                .join("summary.json")
                .exists(),
            "{name}"
        );
    }
}

#[test]
fn a_folder_that_is_no_run_is_refused_in_words() {
    let folder = tempfile::tempdir().unwrap();
    run(folder.path(), &["rebuild", "."]).failed_with(1, &["journal.dmj cannot be read"]);
    std::fs::write(folder.path().join("journal.dmj"), "elapsed_s,slate\n").unwrap();
    run(folder.path(), &["rebuild", "."]).failed_with(1, &["no duskmark journal"]);
    std::fs::write(folder.path().join("journal.dmj"), "duskmark-journal 9\n").unwrap();
    run(folder.path(), &["rebuild", "."]).failed_with(1, &["version 9", "reads version 1"]);
}

#[cfg(target_os = "linux")]
#[test]
fn results_that_cannot_be_written_are_a_failure() {
    let folder = tempfile::tempdir().unwrap();
    let table = "time (s),slate\n0,22.0\n60,22.0\n120,24.1\n180,25.8\n";
    std::fs::write(folder.path().join("t.csv"), table).unwrap();
    for words in [
        ["analyse", "--json", "t.csv"],
        ["completions", "bash", "-q"],
        ["boards", "--try", "23.4,25.1"],
    ] {
        let mut command = duskmark(folder.path(), &words);
        let full = std::fs::File::options().write(true).open("/dev/full");
        command.stdout(full.unwrap()).stderr(Stdio::piped());
        let said = Said::from(command.output().unwrap());
        said.failed_with(1, &["standard output cannot be written", "make room"]);
    }
}

/// Whoever has seen enough of it need not wait for its end.
#[test]
fn a_demo_ends_at_once_when_it_is_told_to() {
    use std::os::unix::process::ExitStatusExt as _;
    let folder = tempfile::tempdir().unwrap();
    // Tests that run in a shell's background inherit that Ctrl-C is nothing to them.
    let demo = duskmark(folder.path(), &["demo"]);
    let mut command = Command::new("env");
    command.arg("--default-signal=INT").arg(demo.get_program());
    command.args(demo.get_args()).current_dir(folder.path());
    for (key, value) in demo.get_envs() {
        match value {
            Some(value) => command.env(key, value),
            None => command.env_remove(key),
        };
    }
    command.stdout(Stdio::piped()).stderr(Stdio::null());
    let mut child = command.spawn().unwrap();
    let mut first = [0];
    child
        .stdout
        .as_mut()
        .unwrap()
        .read_exact(&mut first)
        .unwrap();
    let pid = child.id().to_string();
    assert!(
        Command::new("kill")
            .args(["-s", "INT", &pid])
            .status()
            .unwrap()
            .success()
    );
    assert_eq!(child.wait().unwrap().signal(), Some(2));
}
