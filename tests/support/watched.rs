//! A run that is logged from a board of the test's own, and pages that show it.

use std::path::{Path, PathBuf};

use super::program::{Running, duskmark};

/// Logs two samples from a board that has said its hello; gives the program and the run's folder.
#[cfg(unix)]
#[track_caller]
pub fn log_two(folder: &Path, port: &mut super::bench::Port, words: &[&str]) -> (Running, PathBuf) {
    let usual = ["--samples", "slate,moss", "--view", "plain"];
    let mut log = super::program::log_on(folder, port.name(), &[&usual, words].concat());
    port.say(&super::bench::hello());
    let run = log.wait_for_run(folder);
    (log, run)
}

/// A page of the runs below `folder`, in a process of its own; gives its address.
#[track_caller]
pub fn page(folder: &Path, words: &[&str]) -> (Running, String) {
    let words = [&["page", "runs", "--port", "0"], words].concat();
    let mut page = Running::start(duskmark(folder, &words));
    let address = here(&mut page);
    (page, address)
}

/// The address for the computer itself.
#[track_caller]
pub fn here(program: &mut Running) -> String {
    address(program, "The page on this computer: ")
}

/// The address for the room.
#[track_caller]
pub fn there(program: &mut Running) -> String {
    address(program, "In this room:")
}

#[track_caller]
fn address(program: &mut Running, words: &str) -> String {
    let line = program.wait_for(words);
    let address = line.split("http://").nth(1).unwrap();
    address.trim_end_matches('/').to_owned()
}

/// The last part of a run's folder, which is its address.
#[track_caller]
pub fn id(run: &Path) -> String {
    run.file_name().unwrap().to_str().unwrap().to_owned()
}
