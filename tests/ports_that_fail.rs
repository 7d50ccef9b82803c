//! What the program says and does when a port is not there, not free, or goes away.
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    reason = "a test's helpers may panic as its tests may"
)]
#![cfg(unix)]

mod support;

use std::os::unix::process::CommandExt as _;
use std::time::Duration;

use support::bench::{Port, hello, native, sample};
use support::csv::Table;
use support::program::{duskmark, log_on, only_run, run};

#[test]
fn no_such_port() {
    let folder = tempfile::tempdir().unwrap();
    run(
        folder.path(),
        &["log", "--board", "/dev/ttyNONE7", "--for", "1s"],
    )
    .failed_with(3, &["there is no port /dev/ttyNONE7", "duskmark boards"]);
    assert!(
        !folder.path().join("runs").exists(),
        "no run may be left behind"
    );
}

#[test]
fn nothing_plugged_in() {
    let listed = duskmark::port::list().unwrap_or_default();
    if listed.iter().any(|port| port.usb.is_some()) {
        // Someone's own bench is plugged in; that case is theirs.
        return;
    }
    let folder = tempfile::tempdir().unwrap();
    for words in [&["boards"][..], &["log", "--for", "1s"]] {
        run(folder.path(), words).failed_with(3, &["no board found", "--board virtual"]);
    }
}

#[test]
fn a_port_in_use_names_who_holds_it() {
    let folder = tempfile::tempdir().unwrap();
    let mut port = Port::open();
    let mut first = log_on(
        folder.path(),
        port.name(),
        &["--out", "runs", "--view", "plain"],
    );
    port.say(&hello());
    first.wait_for("Logging into");
    let holder = format!("in use by duskmark (process {})", first.id());
    run(
        folder.path(),
        &["log", "--board", port.name(), "--out", "other"],
    )
    .failed_with(3, &[&holder, "Close the other program"]);
    first.signal("INT");
    first.end();
}

#[test]
fn a_port_without_permission_names_the_group_that_has_it() {
    let folder = tempfile::tempdir().unwrap();
    let port = Port::open();
    let root = rustix::process::geteuid().is_root();
    if root {
        // As a real port of a usual system: owned by the group dialout.
        std::os::unix::fs::chown(&port.path, None, Some(20)).unwrap();
    }
    let closed = std::os::unix::fs::PermissionsExt::from_mode(0o060);
    std::fs::set_permissions(&port.path, closed).unwrap();
    let mut command = duskmark(folder.path(), &["log", "--board", port.name()]);
    if root {
        // The root user may open anything: another user has to ask.
        let program = std::env::temp_dir().join(format!("duskmark-{}", std::process::id()));
        std::fs::copy(support::program::PROGRAM, &program).unwrap();
        command = std::process::Command::new(&program);
        command
            .args(["log", "--board", port.name()])
            .current_dir("/")
            .uid(65_534)
            .gid(65_534);
    }
    let said: support::program::Said = command.output().unwrap().into();
    said.failed_with(3, &["no permission to open", port.name()]);
    let groups = std::fs::read_to_string("/etc/group").unwrap_or_default();
    if root && groups.contains("dialout:x:20:") {
        said.failed_with(3, &["usermod -aG dialout", "log out and in again"]);
    }
}

#[test]
fn a_file_that_is_no_port() {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("notes.txt"), "x").unwrap();
    run(folder.path(), &["log", "--board", "notes.txt"])
        .failed_with(3, &["notes.txt cannot be opened as a serial port"]);
}

#[test]
fn a_board_that_says_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let port = Port::open();
    run(
        folder.path(),
        &["log", "--board", port.name(), "--wait", "2s"],
    )
    .failed_with(3, &["the board says nothing", "--wait 5m"]);
}

#[test]
fn a_silent_board_is_asked_for_its_hello() {
    let folder = tempfile::tempdir().unwrap();
    let mut port = Port::open();
    let mut log = log_on(
        folder.path(),
        port.name(),
        &["--view", "plain", "--wait", "30s"],
    );
    assert_eq!(port.hear(), "?");
    port.say(&hello());
    log.wait_for("Board test-1");
    port.say(&sample(0, "23.0,24.0"));
    log.wait_for("23.0 °C");
    log.signal("INT");
    log.end().done();
}

#[test]
fn an_unplugged_board_is_found_again_and_the_gap_is_marked() {
    let folder = tempfile::tempdir().unwrap();
    let link = folder.path().join("port");
    let mut port = Port::open_as(&link);
    let mut log = log_on(
        folder.path(),
        "port",
        &["--samples", "slate,moss", "--view", "plain"],
    );
    port.say(&hello());
    log.wait_for("Logging into");
    port.play(&[sample(0, "23.0,24.0"), ">1,1100,23.".into()]);
    log.wait_for("23.0 °C");
    let run = only_run(folder.path());
    // What the system still holds at the pull is lost with it: the half line must be in first.
    support::program::wait_until("the half line", || {
        let journal = std::fs::read_to_string(run.join("journal.dmj"));
        journal.is_ok_and(|text| text.contains(">1,1100,23."))
    });
    let pulled = std::time::Instant::now();
    drop(port);
    log.wait_for("port-lost");
    let noticed = pulled.elapsed();
    assert!(
        noticed < Duration::from_secs(2),
        "noticed after {noticed:?}"
    );
    let mut port = Port::open_as(&link);
    log.wait_for("port-open");
    port.say(&hello());
    port.say(&sample(40, "23.5,24.5"));
    support::program::wait_until("the row after the gap", || {
        std::fs::read_to_string(run.join("readings.csv")).is_ok_and(|t| t.contains("23.5"))
    });
    log.signal("TERM");
    let said = log.end();
    said.failed_with(4, &["data are missing"]);
    let rows = Table::read(&run.join("readings.csv"));
    assert_eq!(rows.column("slate_degc"), ["23.0", "23.5"]);
    assert!(rows.column("flags")[1].contains("gap"), "{rows:?}");
    let events = Table::read(&run.join("events.csv"));
    let lost = events.of_kind("port-lost");
    assert!(
        lost[0][4].contains("bytes of a line were cut off"),
        "{lost:?}"
    );
    assert_eq!(events.of_kind("port-open").len(), 2);
    assert_eq!(events.of_kind("end")[0][4], "ended by SIGTERM");
}

#[test]
fn two_boards_make_two_runs() {
    let folder = tempfile::tempdir().unwrap();
    let (mut a, mut b) = (Port::open(), Port::open());
    let mut log = log_on(
        folder.path(),
        a.name(),
        &["--board", b.name(), "--view", "plain"],
    );
    a.say(&hello());
    b.say(&native(
        "!duskmark 1 id=test-2 channels=1 unit=degc period_ms=100",
    ));
    a.say(&sample(0, "21.0,22.0"));
    b.say(&sample(0, "33.0"));
    log.wait_for("bench-1");
    log.wait_for("bench-2");
    log.wait_for("21.0 °C");
    log.wait_for("33.0 °C");
    log.signal("INT");
    log.end().done();
    let mut rows: Vec<usize> = std::fs::read_dir(folder.path().join("runs"))
        .unwrap()
        .map(|run| {
            Table::read(&run.unwrap().path().join("readings.csv"))
                .head
                .len()
        })
        .collect();
    rows.sort_unstable();
    assert_eq!(rows, [5, 6]);
}
