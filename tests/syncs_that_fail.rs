//! Syncs that fail under the built program, on real files: nothing is lost, people are told, and the
//! file that failed is never asked again.
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    reason = "a test's helpers may panic as its tests may"
)]
#![cfg(target_os = "linux")]

mod support;

use std::path::{Path, PathBuf};

use support::csv::{Table, assert_times_rise};
use support::program::{Running, duskmark, run, wait_until};

/// A virtual board is logged while syncs of its journal fail.
struct Trial {
    folder: tempfile::TempDir,
    log: Running,
    run_folder: PathBuf,
}

impl Trial {
    /// None where the syncs cannot be made to fail.
    fn begin(fails: usize) -> Option<Self> {
        let folder = tempfile::tempdir().unwrap();
        let library = support::shim::build(folder.path(), "failing_syncs")?;
        let words = ["log", "--view", "plain", "--sync", "100ms", "--board"];
        let mut command = duskmark(folder.path(), &words);
        command
            .arg("virtual:seed=4,period=50ms")
            .env("LD_PRELOAD", library)
            .env("FAILING_SYNCS", fails.to_string())
            .env("FAILING_SYNCS_OF", "/journal")
            .env("FAILING_SYNCS_WHEN", folder.path().join("now"))
            .env("FAILING_SYNCS_LOG", folder.path().join("syncs"));
        let mut log = Running::start(command);
        let run_folder = log.wait_for_run(folder.path());
        let trial = Self {
            folder,
            log,
            run_folder,
        };
        trial.wait_for_rows(20);
        std::fs::write(trial.folder.path().join("now"), "").unwrap();
        Some(trial)
    }

    fn rows(&self) -> usize {
        let text = std::fs::read_to_string(self.run_folder.join("readings.csv"));
        text.map_or(0, |text| text.lines().count().saturating_sub(1))
    }

    fn wait_for_rows(&self, rows: usize) {
        wait_until("the rows", || self.rows() >= rows);
    }

    /// Each sync of a journal's piece: its answer, and the piece's name.
    fn syncs(&self) -> Vec<(String, String)> {
        let text = std::fs::read_to_string(self.folder.path().join("syncs")).unwrap();
        text.lines()
            .filter_map(|line| line.split_once(' '))
            .filter(|(_, path)| path.contains("/journal"))
            .map(|(answer, path)| {
                let name = Path::new(path).file_name().unwrap();
                (answer.to_owned(), name.to_str().unwrap().to_owned())
            })
            .collect()
    }
}

#[track_caller]
fn assert_no_row_is_missing(run_folder: &Path, least: usize) {
    let rows = Table::read(&run_folder.join("readings.csv"));
    assert_times_rise(&rows);
    assert!(rows.rows.len() >= least, "{} of {least}", rows.rows.len());
    for flags in rows.column("flags") {
        assert!(!flags.contains("lost") && !flags.contains("gap"), "{flags}");
    }
}

#[test]
fn a_sync_that_fails_moves_the_run_to_a_new_piece_and_costs_nothing() {
    let Some(mut trial) = Trial::begin(1) else {
        return;
    };
    let told = trial.log.wait_for("DISK: the disk could not confirm");
    assert!(told.contains("nothing is lost"), "{told}");
    assert!(told.contains("journal-0002.dmj"), "{told}");
    let rows = trial.rows();
    trial.wait_for_rows(rows + 40);
    let rows = trial.rows();
    // No end in order: what is on the disk alone must do.
    trial.log.signal("KILL");
    trial.log.wait_for_end();
    let syncs = trial.syncs();
    let failed = syncs.iter().position(|(answer, _)| answer == "EIO");
    let after = &syncs[failed.unwrap() + 1..];
    assert!(!after.is_empty());
    for (answer, name) in after {
        assert_eq!((answer.as_str(), name.as_str()), ("0", "journal-0002.dmj"));
    }
    let name = trial.run_folder.to_str().unwrap();
    run(trial.folder.path(), &["rebuild", name]);
    assert_no_row_is_missing(&trial.run_folder, rows);
    let events = Table::read(&trial.run_folder.join("events.csv"));
    assert_eq!(events.of_kind("disk").len(), 1, "{events:?}");

    // The first piece as a failed sync may leave it: what was in doubt is gone from it. All of it is
    // in the second, but for what was confirmed before.
    let copy = trial.folder.path().join("copy");
    std::fs::create_dir(&copy).unwrap();
    for piece in ["journal.dmj", "journal-0002.dmj"] {
        std::fs::copy(trial.run_folder.join(piece), copy.join(piece)).unwrap();
    }
    let second = std::fs::read_to_string(copy.join("journal-0002.dmj")).unwrap();
    let head = second.lines().nth(1).unwrap();
    let confirmed = head.split_once("\"byte\":").unwrap().1;
    let confirmed: u64 = confirmed
        .chars()
        .take_while(char::is_ascii_digit)
        .collect::<String>()
        .parse()
        .unwrap();
    let mut options = std::fs::File::options();
    let first = options.write(true).open(copy.join("journal.dmj")).unwrap();
    assert!(first.metadata().unwrap().len() > confirmed);
    first.set_len(confirmed).unwrap();
    run(trial.folder.path(), &["rebuild", "copy"]);
    assert_no_row_is_missing(&copy, rows);
}

#[test]
fn syncs_that_fail_again_and_again_are_tried_again_and_told_of() {
    let Some(mut trial) = Trial::begin(4) else {
        return;
    };
    trial
        .log
        .wait_for("DISK: the disk could not confirm what was written");
    trial.log.wait_for("nothing is lost");
    let rows = trial.rows();
    trial.wait_for_rows(rows + 20);
    trial.log.signal("INT");
    trial.log.wait_for_end();
    let syncs = trial.syncs();
    let mut failed: Vec<&str> = syncs
        .iter()
        .filter(|(answer, _)| answer == "EIO")
        .map(|(_, name)| name.as_str())
        .collect();
    assert_eq!(failed.len(), 4, "{syncs:?}");
    failed.dedup();
    // Each that failed was given up for another piece.
    let (answer, last) = syncs.last().unwrap();
    assert_eq!(answer, "0");
    assert!(!failed.contains(&last.as_str()), "{syncs:?}");
    assert_no_row_is_missing(&trial.run_folder, rows + 20);
    let before = std::fs::read(trial.run_folder.join("readings.csv")).unwrap();
    let name = trial.run_folder.to_str().unwrap();
    run(trial.folder.path(), &["rebuild", name]).done();
    let after = std::fs::read(trial.run_folder.join("readings.csv")).unwrap();
    assert!(before == after, "a rebuild gives other rows");
}
