//! What the program says and keeps when a board does not speak as it should.
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    reason = "a test's helpers may panic as its tests may"
)]
#![cfg(unix)]

mod support;

use support::bench::{Port, hello, native, sample};
use support::csv::{Table, assert_times_rise};
use support::program::{Running, duskmark, log_on, only_run};

/// Logs what `lines` hold, checks the exit code, and gives the run's folder, rows and events.
fn logged(code: i32, lines: &[String]) -> (tempfile::TempDir, Table, Table) {
    let folder = tempfile::tempdir().unwrap();
    let mut port = Port::open();
    let mut words = vec!["log", "--board", port.name(), "--view", "plain"];
    words.extend(["--samples", "slate,moss"]);
    let mut log = Running::start(duskmark(folder.path(), &words));
    // The first line is the hello: the samples come once the run is begun.
    port.say(&lines[0]);
    let run = log.wait_for_run(folder.path());
    port.play(&lines[1..]);
    // A remark is an event that ends up in the live file: all before it was taken in.
    port.say(&native("#that is all"));
    support::program::wait_until("the remark", || {
        std::fs::read_to_string(run.join("events.csv")).is_ok_and(|t| t.contains("that is all"))
    });
    log.signal("INT");
    let said = log.end();
    assert_eq!(said.code, code, "{said:#?}");
    let rows = Table::read(&run.join("readings.csv"));
    assert_times_rise(&rows);
    let events = Table::read(&run.join("events.csv"));
    (folder, rows, events)
}

#[test]
fn garbage_of_another_baud_rate() {
    let folder = tempfile::tempdir().unwrap();
    let mut port = Port::open();
    let log = Running::start(duskmark(
        folder.path(),
        &["log", "--board", port.name(), "--wait", "2s"],
    ));
    // Framing errors of a mismatched speed: mostly high bytes, now and then a line end.
    let noise: Vec<u8> = (0..600_u32)
        .map(|k| match k % 37 {
            0 => b'\n',
            _ => 0x80 | (k.wrapping_mul(197) as u8),
        })
        .collect();
    port.say_bytes(&noise);
    log.end()
        .failed_with(3, &["another baud rate", "--baud", "it said: "]);
}

#[test]
fn text_that_is_no_reading() {
    let folder = tempfile::tempdir().unwrap();
    let mut port = Port::open();
    let log = Running::start(duskmark(
        folder.path(),
        &["log", "--board", port.name(), "--wait", "2s"],
    ));
    for _ in 0..5 {
        port.say("starting up \x1b[31m...\n");
    }
    let said = log.end();
    said.failed_with(3, &["no line of readings"]);
    assert!(
        !said.err.contains('\x1b'),
        "a board reached the terminal: {}",
        said.err
    );
}

#[test]
fn one_channel_where_two_samples_were_named() {
    let folder = tempfile::tempdir().unwrap();
    let mut port = Port::open();
    let log = Running::start(duskmark(
        folder.path(),
        &["log", "--board", port.name(), "--samples", "slate,moss"],
    ));
    port.say(&native("!duskmark 1 id=one channels=1 unit=degc"));
    log.end().failed_with(
        2,
        &[
            "probes of the board: 1; samples named: 2",
            "Name 1 with --samples",
        ],
    );
    assert!(!folder.path().join("runs").exists());
}

#[test]
fn a_unit_of_ones_own_stands_over_the_boards_and_is_said() {
    let folder = tempfile::tempdir().unwrap();
    let mut port = Port::open();
    let words = ["log", "--board", port.name(), "--unit", "degf"];
    let mut log = Running::start(duskmark(folder.path(), &words));
    port.say(&hello());
    let run = log.wait_for_run(folder.path());
    // The board says that it sends °C.
    let lines: Vec<String> = (0..20).map(|k| sample(k, "68.0,212.0")).collect();
    port.play(&lines);
    support::program::wait_until("the rows", || {
        std::fs::read_to_string(run.join("readings.csv")).is_ok_and(|t| t.lines().count() > 10)
    });
    log.signal("INT");
    let said = log.end();
    let all = format!("{}{}", said.out, said.err);
    assert!(
        all.contains("The board says that it sends °C; --unit stands over that."),
        "{all}"
    );
    let rows = std::fs::read_to_string(run.join("readings.csv")).unwrap();
    assert!(rows.contains(",20.0") && rows.contains(",100.0"), "{rows}");
}

#[test]
fn numbers_that_no_classroom_has_are_asked_about_and_odd_lines_are_not_the_speeds_fault() {
    let folder = tempfile::tempdir().unwrap();
    for (line, part) in [
        ("A0=540 A1=553\n", "raw converter counts? say --unit adc"),
        ("72.5,70.5\n", "If the board sends °F, say --unit degf."),
    ] {
        let mut port = Port::open();
        let words = ["log", "--board", port.name(), "--out", "odd"];
        let mut log = Running::start(duskmark(folder.path(), &words));
        for _ in 0..6 {
            port.say(line);
        }
        log.wait_for(part);
        log.signal("INT");
        log.end();
    }
    let mut port = Port::open();
    let words = ["log", "--board", port.name(), "--wait", "2s"];
    let log = Running::start(duskmark(folder.path(), &words));
    for _ in 0..5 {
        port.say_bytes(b"slate is at 22.5 \xB0C, it says\n");
    }
    let said = log.end();
    said.failed_with(3, &["boards --try LINE", "[dialect.NAME]"]);
    assert!(!said.err.contains("--baud"), "{}", said.err);
}

#[test]
fn counts_without_a_full_scale() {
    let folder = tempfile::tempdir().unwrap();
    let mut port = Port::open();
    let log = Running::start(duskmark(
        folder.path(),
        &["log", "--board", port.name(), "--unit", "adc"],
    ));
    for _ in 0..4 {
        port.say("512,498\n");
    }
    log.end()
        .failed_with(2, &["which count is full scale", "--full-scale"]);
}

#[test]
fn a_newer_protocol_is_not_guessed_at() {
    let folder = tempfile::tempdir().unwrap();
    let mut port = Port::open();
    let log = Running::start(duskmark(
        folder.path(),
        &["log", "--board", port.name(), "--wait", "2s"],
    ));
    port.say(&native("!duskmark 2 id=next channels=2 unit=degc"));
    log.end().failed_with(
        3,
        &["version 2 of the line protocol", "version 1 is known here"],
    );
}

#[test]
fn fields_that_are_no_numbers_leave_their_cells_empty() {
    let mut lines = vec![hello()];
    let odd = ["nan", "inf", "-inf", "1e999", "", "-300.0", "abc"];
    for (seq, field) in odd.iter().enumerate() {
        lines.push(sample(seq as u32, &format!("23.{seq},{field}")));
    }
    let (_folder, rows, events) = logged(4, &lines);
    let slate = rows.column("slate_degc");
    assert_eq!(slate.first(), Some(&"23.0"));
    assert!(rows.column("moss_degc").iter().all(|cell| cell.is_empty()));
    // Every line is either a row with a flag, or a line that was refused and told.
    let flags = rows.column("flags");
    assert!(
        flags.iter().any(|f| f.contains("moss:not-a-number")),
        "{flags:?}"
    );
    assert!(
        flags.iter().any(|f| f.contains("moss:no-reading")),
        "{flags:?}"
    );
    assert!(
        flags.iter().any(|f| f.contains("moss:out-of-range")),
        "{flags:?}"
    );
    assert!(!events.of_kind("probe").is_empty());
}

#[test]
fn an_open_and_a_shorted_thermistor_are_told_apart() {
    let hello = native(
        "!duskmark 1 id=adc channels=2 unit=adc full=65536 fixed_ohm=10000 ntc=low period_ms=100",
    );
    let lines = [
        hello,
        sample(0, "34000,35000"),
        sample(1, "65472,35000"),
        sample(2, "65472,12"),
        sample(3, "34000,35000"),
    ];
    let (_folder, rows, events) = logged(0, &lines);
    assert_eq!(
        rows.column("flags"),
        ["", "slate:open", "slate:open moss:short", ""]
    );
    assert_eq!(rows.column("slate_degc")[1], "");
    assert_eq!(rows.column("slate_degc")[3], rows.column("slate_degc")[0]);
    let told: Vec<&str> = events
        .of_kind("probe")
        .iter()
        .map(|e| e[4].as_str())
        .collect();
    assert!(told.iter().any(|t| t.contains("broken lead")), "{told:?}");
    assert!(told.iter().any(|t| t.contains("leads touch")), "{told:?}");
    assert_eq!(
        told.iter().filter(|t| t.contains("reads again")).count(),
        2,
        "{told:?}"
    );
}

#[test]
fn a_wrong_checksum_makes_no_row_and_is_told() {
    let good = sample(1, "23.1,23.2");
    let bad = good.replace("23.1", "93.1");
    let lines = [hello(), sample(0, "23.0,23.2"), bad, sample(2, "23.2,23.2")];
    let (folder, rows, events) = logged(4, &lines);
    assert_eq!(rows.column("slate_degc"), ["23.0", "23.2"]);
    assert_eq!(rows.column("flags"), ["", "lost:1"]);
    let told = events.of_kind("bad-line");
    assert!(told[0][4].contains("checksum"), "{told:?}");
    // The bytes themselves are kept.
    let journal = std::fs::read_to_string(only_run(folder.path()).join("journal.dmj")).unwrap();
    assert!(journal.contains(">1,1100,93.1,23.2"));
}

#[test]
fn a_sequence_jump_and_a_reset_are_told_and_flagged() {
    let mut lines = vec![hello()];
    lines.extend((0..3).map(|seq| sample(seq, "23.0,24.0")));
    lines.push(sample(13, "23.1,24.1"));
    // The board is reset in the middle of a line: half a line and the boot line run together.
    lines.push(format!(">14,2400,23.1{}", hello()));
    lines.extend((0..2).map(|seq| sample(seq, "23.2,24.2")));
    let (_folder, rows, events) = logged(4, &lines);
    let flags = rows.column("flags");
    assert_eq!(flags[3], "lost:10 gap");
    assert!(flags[4].contains("reset"), "{flags:?}");
    assert_eq!(rows.rows.len(), 6);
    assert_eq!(events.of_kind("reset").len(), 1);
    assert_eq!(events.of_kind("gap").len(), 1);
}

#[test]
fn another_board_on_the_same_port_does_not_pass_for_the_first() {
    let other = native("!duskmark 1 id=test-2 channels=2 unit=degc period_ms=100");
    let lines = [
        hello(),
        sample(0, "23.0,24.0"),
        other,
        sample(1, "99.0,99.0"),
    ];
    let (_folder, rows, events) = logged(4, &lines);
    assert_eq!(rows.column("slate_degc"), ["23.0", ""]);
    assert_eq!(
        events.of_kind("other-board")[0][4],
        "test-2 answers instead of test-1"
    );
}

#[test]
fn every_dialect_is_recognised_and_said() {
    for (line, dialect, first) in [
        ("23.4,25.1\n", "plain", "23.4"),
        ("23,4;25,1\r\n", "plain", "23.4"),
        ("slate=23.4 moss=25.1\n", "labelled", "23.4"),
        ("{\"slate\":23.4,\"moss\":25.1}\n", "json", "23.4"),
    ] {
        let lines = vec![line.to_owned(); 6];
        let folder = tempfile::tempdir().unwrap();
        let mut port = Port::open();
        let mut log = log_on(
            folder.path(),
            port.name(),
            &["--samples", "slate,moss", "--view", "plain"],
        );
        for line in lines {
            port.say(&line);
        }
        let said = log.wait_for("Board on");
        assert!(said.contains(dialect), "{said}");
        log.wait_for("23.4 °C");
        log.signal("INT");
        log.end().done();
        let rows = Table::read(&only_run(folder.path()).join("readings.csv"));
        assert_eq!(rows.column("slate_degc")[0], first, "{line:?}");
        assert_eq!(rows.column("moss_degc")[0], "25.1", "{line:?}");
    }
}
