//! Runs as tables for query engines: Parquet, partitioned, in long form.
//!
//! ```text
//! OUT/readings/site=SITE/date=DATE/bench=BENCH/RUN.parquet   a line for each row and sample
//! OUT/marks/…                                                a line for each mark and sample
//! OUT/samples/…                                              a line for each sample: its results
//! ```
//!
//! One file per run and table, so that a run that is exported again replaces itself; names of
//! samples are values and not columns, so that thousands of runs with differing samples are one
//! table. `date` is the UTC date on which the run began. Each file is written aside, synced and
//! renamed; what is in memory of a run is one row group at most, however long the run.
//!
//! Units stand in each column's metadata (key `unit`, UCUM codes), as Arrow keeps it in the file.

mod columns;
mod readings;
mod results;
mod table;

use std::io::{self, Write as _};
use std::path::{Path, PathBuf};

use super::word;
use crate::analysis::slugs;
use crate::follow::{Follow, Heard, Place, RowSeen, State};
use crate::run::{RunError, replace_with};

use results::Results;
use table::{Layout, Table};

/// The folder of a run whose date nobody knows, as query engines call a value that is missing.
const NO_DATE: &str = "__HIVE_DEFAULT_PARTITION__";

/// Where tables go, and as what.
#[derive(Debug, Clone)]
pub struct ExportSetup {
    /// The folder of all tables.
    pub out: PathBuf,
    /// Where the benches stand.
    pub site: String,
    /// The long form as CSV instead, one flat file per run.
    pub csv: bool,
}

/// What was written of a run.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Exported {
    /// Rows of the run.
    pub rows: u64,
    /// Whether the run is over; else more rows may come.
    pub state: State,
    /// Files with their sizes in bytes.
    pub files: Vec<(PathBuf, u64)>,
}

/// Why a run was not exported. Files of it that were there before are there still.
#[derive(Debug, thiserror::Error)]
pub enum ExportError {
    /// There are no rows.
    #[error("{folder} has no rows to export", folder = folder.display())]
    NoRows {
        /// The run's folder.
        folder: PathBuf,
    },
    /// The run's files cannot be read.
    #[error("{folder} cannot be read", folder = folder.display())]
    Read {
        /// The run's folder.
        folder: PathBuf,
        /// The system's answer.
        source: io::Error,
    },
    /// A folder cannot be made.
    #[error("the folder {folder} cannot be made", folder = folder.display())]
    Folder {
        /// Which.
        folder: PathBuf,
        /// The system's answer.
        source: io::Error,
    },
    /// A file cannot be written.
    #[error(transparent)]
    Write(#[from] RunError),
}

impl ExportError {
    /// Whether there is no room for what was to be written.
    #[must_use]
    pub fn is_full(&self) -> bool {
        let mut cause: Option<&dyn std::error::Error> = Some(self);
        while let Some(error) = cause {
            if let Some(io) = error.downcast_ref::<io::Error>()
                && matches!(
                    io.kind(),
                    io::ErrorKind::StorageFull | io::ErrorKind::QuotaExceeded
                )
            {
                return true;
            }
            cause = error.source();
        }
        false
    }
}

/// A run that is exported.
struct Run {
    follow: Follow,
    id: String,
    bench: String,
    /// Slugs of the samples.
    samples: Vec<String>,
    results: Option<Results>,
    /// The first row, which tells the date.
    first: (i64, RowSeen),
}

impl Run {
    fn open(folder: &Path) -> Result<Self, ExportError> {
        let mut follow = Follow::new(folder, Place::default());
        let first = next_row(&mut follow)?.ok_or_else(|| ExportError::NoRows {
            folder: folder.to_owned(),
        })?;
        let id = follow.id();
        let name = follow.setup.name.clone();
        Ok(Self {
            bench: word(if name.is_empty() { &id } else { &name }),
            id,
            samples: follow.columns.clone(),
            results: Results::in_folder(folder),
            follow,
            first,
        })
    }

    fn date(&self) -> &str {
        self.first.1.utc.get(..10).unwrap_or(NO_DATE)
    }

    /// `site=…/date=…/bench=…`
    fn partition(&self, site: &str) -> PathBuf {
        [
            format!("site={}", word(site)),
            format!("date={}", self.date()),
            format!("bench={}", self.bench),
        ]
        .iter()
        .collect()
    }

    /// All rows from the first, without holding them.
    fn rows(&mut self) -> impl Iterator<Item = io::Result<(i64, RowSeen)>> + use<'_> {
        let first = Some(Ok(self.first.clone()));
        let follow = &mut self.follow;
        let rest = std::iter::from_fn(move || match next_row(follow) {
            Ok(row) => row.map(Ok),
            Err(ExportError::Read { source, .. }) => Some(Err(source)),
            Err(error) => Some(Err(io::Error::other(error))),
        });
        first.into_iter().chain(rest)
    }
}

/// The next row that is in the file now.
fn next_row(follow: &mut Follow) -> Result<Option<(i64, RowSeen)>, ExportError> {
    loop {
        while let Some(heard) = follow.take() {
            if let Heard::Row(ms, row) = heard {
                return Ok(Some((ms, row)));
            }
        }
        let more = follow.look().map_err(|source| ExportError::Read {
            folder: follow.folder().to_owned(),
            source,
        })?;
        if !more && follow.is_dry() {
            return Ok(None);
        }
    }
}

/// Writes a run's tables.
///
/// # Errors
/// [`ExportError`]; of the table that failed there is no half file.
pub fn export(folder: &Path, setup: &ExportSetup) -> Result<Exported, ExportError> {
    let mut run = Run::open(folder)?;
    let mut exported = Exported {
        rows: 0,
        state: State::Running,
        files: Vec::new(),
    };
    if setup.csv {
        let place = setup.out.join("csv");
        let name = format!("{}.csv", run.id);
        let rows = &mut exported.rows;
        let site = word(&setup.site);
        let path = place_file(&place, &name, |out| {
            *rows = readings::csv(&mut run, &site, out)?;
            Ok(())
        })?;
        exported.files.push(path);
        exported.state = run.follow.state();
        return Ok(exported);
    }
    let partition = run.partition(&setup.site);
    let name = format!("{}.parquet", run.id);
    let put =
        |table: &str, layout: Layout, fill: &mut dyn FnMut(&mut Table<'_>) -> io::Result<()>| {
            let place = setup.out.join(table).join(&partition);
            place_file(&place, &name, |out| {
                let mut table = Table::begin(out, layout)?;
                fill(&mut table)?;
                table.finish()
            })
        };
    // The results first: a run's rows may take a while.
    if let Some(results) = run.results.take() {
        let samples = slugs(&results.names());
        exported
            .files
            .push(put("samples", results::SAMPLES, &mut |table| {
                results.samples(table, &run.id, &samples)
            })?);
        exported
            .files
            .push(put("marks", results::MARKS, &mut |table| {
                results.marks(table, &run.id, &samples)
            })?);
    }
    let rows = &mut exported.rows;
    let written = put("readings", readings::READINGS, &mut |table| {
        *rows = readings::parquet(&mut run, table)?;
        Ok(())
    })?;
    exported.files.push(written);
    exported.state = run.follow.state();
    Ok(exported)
}

/// Makes a folder, and in it a file that is whole or not there; its path and size.
fn place_file(
    folder: &Path,
    name: &str,
    fill: impl FnOnce(&mut io::BufWriter<std::fs::File>) -> io::Result<()>,
) -> Result<(PathBuf, u64), ExportError> {
    std::fs::create_dir_all(folder).map_err(|source| ExportError::Folder {
        folder: folder.to_owned(),
        source,
    })?;
    let mut bytes = 0;
    replace_with(folder, name, |out| {
        fill(out)?;
        out.flush()?;
        bytes = out.get_ref().metadata()?.len();
        Ok(())
    })?;
    Ok((folder.join(name), bytes))
}
