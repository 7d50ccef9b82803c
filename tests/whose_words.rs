//! What a board says after its port came back and before it said its name, in a session of several
//! boards: it is on the disk at once, makes the rows of the board that said it, and no others.
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    reason = "a test's helpers may panic as its tests may"
)]
#![cfg(unix)]

mod support;

use std::path::{Path, PathBuf};

use support::bench::{Port, native};
use support::csv::{Table, assert_times_rise};
use support::program::{Running, duskmark, run, wait_until};

const DERIVED: [&str; 4] = ["readings.csv", "events.csv", "marks.csv", "summary.json"];

fn hello(id: &str) -> String {
    native(&format!(
        "!duskmark 1 id={id} channels=1 unit=degc period_ms=100"
    ))
}

fn line(seq: u32, degc: f64) -> String {
    native(&format!(">{seq},{},{degc:.3}", 500 + seq * 100))
}

/// Two benches, `north` at the first port and `south` at the second, with three rows each.
struct Session {
    folder: tempfile::TempDir,
    links: [PathBuf; 2],
    ports: [Option<Port>; 2],
    log: Running,
}

impl Session {
    fn begin(ids: [&str; 2]) -> Self {
        let folder = tempfile::tempdir().unwrap();
        let links = ["one", "two"].map(|name| folder.path().join(name));
        let mut ports = [Port::open_as(&links[0]), Port::open_as(&links[1])];
        let words = ["log", "--view", "plain", "--sync", "200ms"];
        let mut command = duskmark(folder.path(), &words);
        for link in &links {
            command.arg("--board").arg(link);
        }
        let mut log = Running::start(command);
        for (port, (id, degc)) in ports.iter_mut().zip(ids.into_iter().zip([21.0, 31.0])) {
            port.say(&hello(id));
            port.say(&(0..3).map(|seq| line(seq, degc)).collect::<String>());
        }
        log.wait_for("bench-1");
        log.wait_for("bench-2");
        let session = Self {
            folder,
            links,
            ports: ports.map(Some),
            log,
        };
        for bench in 1..=2 {
            session.wait_for_rows(bench, 3);
        }
        session
    }

    /// Pulls a port and puts it back; returns when the program has opened it again.
    fn replug(&mut self, port: usize) -> &mut Port {
        self.ports[port] = None;
        let mut again = Port::open_as(&self.links[port]);
        again.hear();
        self.ports[port].insert(again)
    }

    fn run_of(&self, bench: usize) -> PathBuf {
        let end = format!("bench-{bench}");
        let runs = std::fs::read_dir(self.folder.path().join("runs")).unwrap();
        let mut runs = runs.map(|entry| entry.unwrap().path());
        runs.find(|run| run.to_str().unwrap().ends_with(&end))
            .unwrap()
    }

    #[track_caller]
    fn wait_for_rows(&self, bench: usize, rows: usize) {
        let live = self.run_of(bench).join("readings.csv");
        wait_until("the rows", || {
            std::fs::read_to_string(&live).is_ok_and(|text| text.lines().count() > rows)
        });
    }

    #[track_caller]
    fn wait_for_journal(&self, bench: usize, part: &str) {
        let journal = self.run_of(bench).join("journal.dmj");
        wait_until(part, || {
            std::fs::read_to_string(&journal).is_ok_and(|text| text.contains(part))
        });
    }

    fn rebuild(&self, bench: usize) -> (PathBuf, Vec<String>) {
        let run_folder = self.run_of(bench);
        run(
            self.folder.path(),
            &["rebuild", run_folder.to_str().unwrap()],
        );
        let rows = Table::read(&run_folder.join("readings.csv"));
        assert_times_rise(&rows);
        let degc = rows.column(&rows.head[2].clone());
        (
            run_folder,
            degc.iter().map(|&value| value.to_owned()).collect(),
        )
    }
}

fn files(folder: &Path) -> Vec<Vec<u8>> {
    let read = |name| std::fs::read(folder.join(name)).unwrap();
    DERIVED.into_iter().map(read).collect()
}

fn unescaped_lf(text: &str) -> String {
    text.replace('\n', "\\n")
}

#[test]
fn a_kill_before_the_board_said_its_name_costs_no_byte() {
    let mut session = Session::begin(["north", "south"]);
    let words: Vec<String> = (7..12).map(|seq| line(seq, 22.0)).collect();
    let port = session.replug(0);
    for word in &words {
        port.say(word);
    }
    // The board says its lines but not its name: the program waits for that, and is killed.
    session.wait_for_journal(1, &unescaped_lf(&words[4]));
    session.log.signal("KILL");
    session.log.wait_for_end();
    let journal = std::fs::read_to_string(session.run_of(1).join("journal.dmj")).unwrap();
    assert!(journal.contains(" held open ") && !journal.contains(" claim "));
    for word in &words {
        let word = unescaped_lf(word);
        assert!(journal.contains(&word), "{word} is missing in {journal}");
    }
    let (run_folder, degc) = session.rebuild(1);
    assert_eq!(degc, ["21.000"; 3], "nobody knows whose the rest is");
    let events = Table::read(&run_folder.join("events.csv"));
    let unclaimed = events.of_kind("unclaimed");
    assert_eq!(unclaimed.len(), 1, "{events:?}");
    let bytes: usize = words.iter().map(String::len).sum();
    assert!(
        unclaimed[0][4].starts_with(&format!("{bytes} bytes")),
        "{unclaimed:?}"
    );
}

#[test]
fn what_was_said_before_the_name_makes_the_rows_of_the_board_that_said_it() {
    let mut session = Session::begin(["north", "south"]);
    let port = session.replug(0);
    port.say(&(7..10).map(|seq| line(seq, 22.0)).collect::<String>());
    session.wait_for_journal(1, &unescaped_lf(&line(9, 22.0)));
    session.ports[0].as_mut().unwrap().say(&hello("north"));
    session.wait_for_rows(1, 6);
    let port = session.ports[0].as_mut().unwrap();
    port.say(&line(10, 23.0));
    session.wait_for_rows(1, 7);
    session.log.signal("INT");
    session.log.wait_for_end();
    let run_folder = session.run_of(1);
    let before = files(&run_folder);
    let (_, degc) = session.rebuild(1);
    let all = [["21.000"; 3], ["22.000"; 3]].concat();
    assert_eq!(degc, [&all[..], &["23.000"]].concat());
    assert!(files(&run_folder) == before, "a rebuild gives other files");

    // The same without the record that claims it: the board's own word in it is enough.
    let journal = run_folder.join("journal.dmj");
    let text = std::fs::read_to_string(&journal).unwrap();
    let (with, without): (Vec<&str>, Vec<&str>) =
        text.lines().partition(|line| line.contains(" claim "));
    assert_eq!(with.len(), 1, "{with:?}");
    std::fs::write(&journal, without.join("\n") + "\n").unwrap();
    let (_, again) = session.rebuild(1);
    assert_eq!(again, degc);
}

#[test]
fn what_a_board_said_at_anothers_port_makes_rows_with_its_own_samples() {
    let mut session = Session::begin(["north", "south"]);
    session.ports = [None, None];
    session.log.wait_for("port-lost");
    let [mut one, mut two] = session.links.clone().map(|link| Port::open_as(&link));
    one.hear();
    two.hear();
    // Each says lines first; the names come later, and the boards have changed places.
    one.say(&(7..10).map(|seq| line(seq, 32.0)).collect::<String>());
    two.say(&(7..10).map(|seq| line(seq, 22.0)).collect::<String>());
    session.wait_for_journal(1, &unescaped_lf(&line(9, 32.0)));
    session.wait_for_journal(2, &unescaped_lf(&line(9, 22.0)));
    one.say(&hello("south"));
    session.wait_for_rows(2, 6);
    two.say(&hello("north"));
    session.wait_for_rows(1, 6);
    session.log.signal("INT");
    session.log.wait_for_end();
    for (bench, degc) in [(1, ["21.000", "22.000"]), (2, ["31.000", "32.000"])] {
        let before = files(&session.run_of(bench));
        let (run_folder, rows) = session.rebuild(bench);
        assert_eq!(rows, [[degc[0]; 3], [degc[1]; 3]].concat(), "bench {bench}");
        assert!(files(&run_folder) == before, "a rebuild gives other files");
        let events = Table::read(&run_folder.join("events.csv"));
        assert_eq!(events.of_kind("moved").len(), 1, "{events:?}");
        assert!(events.of_kind("unclaimed").is_empty(), "{events:?}");
        assert!(events.of_kind("other-board").is_empty(), "{events:?}");
    }
}

#[test]
fn two_boards_of_one_id_are_told_of_and_stay_where_they_were() {
    let mut session = Session::begin(["north", "north"]);
    session
        .log
        .wait_for("Two boards say that they are north: nothing is moved");
    for (port, degc) in [(1, 32.0), (0, 22.0)] {
        let port = session.replug(port);
        port.say(&hello("north"));
        port.say(&(7..10).map(|seq| line(seq, degc)).collect::<String>());
    }
    session.wait_for_rows(1, 6);
    session.wait_for_rows(2, 6);
    session.log.signal("INT");
    session.log.wait_for_end();
    for (bench, degc) in [(1, ["21.000", "22.000"]), (2, ["31.000", "32.000"])] {
        let (_, rows) = session.rebuild(bench);
        assert_eq!(rows, [[degc[0]; 3], [degc[1]; 3]].concat(), "bench {bench}");
    }
}

#[test]
fn a_third_board_of_a_known_id_takes_nobodys_place() {
    let mut session = Session::begin(["north", "south"]);
    // `south` is still at its port when another one that says `south` comes to the first.
    let port = session.replug(0);
    port.say(&hello("south"));
    port.say(&(7..10).map(|seq| line(seq, 99.0)).collect::<String>());
    session
        .log
        .wait_for("Two boards say that they are south: nothing is moved");
    let port = session.ports[1].as_mut().unwrap();
    port.say(&(3..6).map(|seq| line(seq, 31.0)).collect::<String>());
    session.wait_for_rows(2, 6);
    session.log.signal("INT");
    session.log.wait_for_end();
    let (run_folder, rows) = session.rebuild(1);
    assert_eq!(rows[..3], ["21.000"; 3]);
    assert!(rows[3..].iter().all(String::is_empty), "{rows:?}");
    let events = Table::read(&run_folder.join("events.csv"));
    assert_eq!(events.of_kind("other-board").len(), 1, "{events:?}");
    assert_eq!(session.rebuild(2).1, ["31.000"; 6]);
}
