//! Probes in a bath.

use std::path::Path;

use super::program::{Said, run};

/// Calibrates on a board, all being in place; what comes out is kept in c.toml.
pub fn calibrated(folder: &Path, what: &str, board: &str, words: &[&str]) -> Said {
    let all = [
        "calibrate",
        what,
        "--ready",
        "--store",
        "c.toml",
        "--board",
        board,
    ];
    run(folder, &[&all[..], words].concat())
}
