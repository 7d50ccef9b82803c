//! The row nearest to an instant, read from the file.

use std::fs::File;
use std::io::{self, BufRead as _, BufReader, Seek as _, SeekFrom};

use super::hall::Run;
use crate::follow::RowSeen;
use crate::live::words::clock;

/// A row as the page shows it.
#[derive(Debug, Clone, PartialEq, serde::Serialize)]
pub(super) struct RowNear {
    pub(super) t_s: f64,
    pub(super) clock: String,
    pub(super) utc: String,
    pub(super) cells: Vec<String>,
    pub(super) flags: String,
}

/// The row nearest to `at_s`, with the digits that stand in the file. Reads files.
///
/// # Errors
/// The system's.
pub(super) fn row(run: &Run, at_s: f64) -> io::Result<Option<RowNear>> {
    if !at_s.is_finite() {
        return Ok(None);
    }
    let (path, (from, _), zero_s) = run.ask(|seen| {
        (
            seen.readings_path(),
            seen.place_of(at_s, at_s),
            seen.zero_s(),
        )
    });
    let mut file = File::open(path)?;
    file.seek(SeekFrom::Start(from))?;
    let mut best: Option<RowSeen> = None;
    for line in BufReader::new(file).lines() {
        let Some(row) = RowSeen::of(&line?) else {
            continue;
        };
        let apart = |row: &RowSeen| (row.t_s - at_s).abs();
        let nearer = best.as_ref().is_none_or(|b| apart(&row) < apart(b));
        let past = row.t_s >= at_s;
        if nearer {
            best = Some(row);
        }
        if past {
            break;
        }
    }
    Ok(best.map(|row| RowNear {
        t_s: row.t_s,
        clock: clock(row.t_s - zero_s),
        utc: row.utc,
        cells: row.cells.into_iter().collect(),
        flags: row.flags,
    }))
}
