//! Results that need not be derived again: whether a run's `summary.json` still is what its journal
//! and settings would give.
//!
//! To find the lamp's edges takes most of a second a run, and a class has thirty. So the last section
//! of `run.toml` holds a fingerprint of all that the results followed from and came out as: the
//! program's version, `readings.csv`, `summary.json`, `run.toml` itself without what decides nothing, and
//! the sizes of the journal's pieces. Whoever changes any of them, by the page or by hand, or goes on
//! with the run, gets results that are derived anew; a fingerprint never has to be taken away.

use std::fs::File;
use std::io::{self, Read as _};
use std::path::Path;

use sha2::{Digest as _, Sha256};

use super::asked::request;
use super::begun::setup_in;
use super::files::name;
use super::set_up;
use super::setup::{Lags, RunSetup};
use crate::analysis::{self, Channel, Comparison, Mark, PlannedEdge, Sample, Series, Summary};
use crate::journal::piece_number;
use crate::lamp::Edge;

/// The section's name in `run.toml`.
const SECTION: &str = "kept";

/// Results and rows as they stand in a run's folder.
#[derive(Debug, Clone, PartialEq)]
pub struct Kept {
    /// What the run was asked to do, with the lags that its results were made with.
    pub setup: RunSetup,
    /// The results, but for the warnings: their text is in the file, what they are made of is not.
    pub summary: Summary,
    /// Times and temperatures; what is uncertain in all readings alike is left open.
    pub series: Series,
}

/// What a finished run's files keep, if a derivation with these lags declared could give nothing else.
/// None of a run that was changed, goes on, was derived by another version, or cannot be read.
#[must_use]
pub fn kept(folder: &Path, lags: &Lags) -> Option<Kept> {
    let text = std::fs::read_to_string(folder.join(name::SETTINGS)).ok()?;
    let settings: Settings = toml::from_str(&text).ok()?;
    let mut setup = setup_in(folder).ok()?;
    setup.lags = lags.over(&setup.lags);
    let as_asked = settings.lags == setup.lags && settings.kept.program == VERSION;
    if !as_asked || settings.kept.sha256 != fingerprint(folder, &text).ok()? {
        return None;
    }
    let summary = std::fs::read(folder.join(name::SUMMARY)).ok()?;
    let results: Results = serde_json::from_slice(&summary).ok()?;
    let series = rows(folder, &results.samples)?;
    let first_s = series.t_s.first().copied().unwrap_or(0.0);
    let zero_s = analysis::zero_s(request(&setup).zero_s, &results.lamp, first_s);
    let same = results.format == analysis::FORMAT && results.rows == series.t_s.len();
    same.then(|| Kept {
        setup,
        summary: results.summary(zero_s, first_s),
        series,
    })
}

/// The section for the `run.toml` that is to stand in a folder whose other files are final already; empty
/// where they cannot be read.
pub(super) fn kept_section(folder: &Path, settings: &str) -> String {
    let sha256 = fingerprint(folder, settings);
    sha256.map_or(String::new(), |sha256| {
        format!("\n[{SECTION}]\nprogram = \"{VERSION}\"\nsha256 = \"{sha256}\"\n")
    })
}

/// Version of the program: another one might find other edges in the same rows.
const VERSION: &str = env!("CARGO_PKG_VERSION");

/// A `run.toml`, as far as it decides whether results are still good.
#[derive(serde::Deserialize)]
struct Settings {
    lags: Lags,
    kept: Print,
}

#[derive(serde::Deserialize)]
struct Print {
    program: String,
    sha256: String,
}

/// A `summary.json` as it was written.
#[derive(serde::Deserialize)]
struct Results {
    format: String,
    source: String,
    rows: usize,
    interval_s: Option<f64>,
    lamp: Vec<Edge>,
    #[serde(default)]
    planned: Vec<PlannedEdge>,
    samples: Vec<Sample>,
    marks: Vec<Mark>,
    comparison: Option<Comparison>,
}

impl Results {
    fn summary(self, zero_s: f64, first_s: f64) -> Summary {
        Summary {
            format: analysis::FORMAT,
            source: self.source,
            rows: self.rows,
            interval_s: self.interval_s,
            lamp: self.lamp,
            planned: self.planned,
            samples: self.samples,
            marks: self.marks,
            comparison: self.comparison,
            warnings: Vec::new(),
            zero_s,
            first_s,
        }
    }
}

/// SHA-256, in hexadecimal digits, of what results follow from and are.
fn fingerprint(folder: &Path, settings: &str) -> io::Result<String> {
    let mut hash = Sha256::new();
    let mut part = |text: &str| {
        // With its length before it no part can be taken for the end of another.
        hash.update((text.len() as u64).to_le_bytes());
        hash.update(text.as_bytes());
    };
    part(VERSION);
    part(&deciding(settings)?);
    for (piece, bytes) in pieces(folder)? {
        part(&format!("{piece} {bytes}"));
    }
    for file in [name::SUMMARY, name::READINGS] {
        let mut file = File::open(folder.join(file))?;
        hash.update(file.metadata()?.len().to_le_bytes());
        let mut buffer = vec![0; 1 << 16];
        loop {
            let count = file.read(&mut buffer)?;
            if count == 0 {
                break;
            }
            hash.update(buffer.get(..count).unwrap_or_default());
        }
    }
    Ok(format!("{:x}", hash.finalize()))
}

/// The settings without the fingerprint, and without the masses and distances that people add: these
/// decide nothing.
fn deciding(settings: &str) -> io::Result<String> {
    let mut table: toml::Table = settings.parse().map_err(io::Error::other)?;
    table.remove(SECTION);
    table.remove(set_up::SECTION);
    toml::to_string(&table).map_err(io::Error::other)
}

/// The journal's pieces, by number and length.
fn pieces(folder: &Path) -> io::Result<Vec<(u32, u64)>> {
    let mut found = Vec::new();
    for entry in std::fs::read_dir(folder)? {
        let entry = entry?;
        if let Some(piece) = entry.file_name().to_str().and_then(piece_number) {
            found.push((piece, entry.metadata()?.len()));
        }
    }
    found.sort_unstable();
    Ok(found)
}

/// `readings.csv` in columns. None if anything in it is not as we write it.
fn rows(folder: &Path, samples: &[Sample]) -> Option<Series> {
    /// Elapsed time and wall-clock time before the samples, phase and flags behind them.
    const BESIDE: usize = 4;
    let mut reader = csv::Reader::from_path(folder.join(name::READINGS)).ok()?;
    if reader.headers().ok()?.len() != samples.len() + BESIDE {
        return None;
    }
    let mut t_s = Vec::new();
    let mut degc = vec![Vec::new(); samples.len()];
    let mut unsure = Vec::new();
    let mut record = csv::StringRecord::new();
    while reader.read_record(&mut record).ok()? {
        if analysis::is_late(record.get(record.len() - 1)?) {
            unsure.push(t_s.len());
        }
        t_s.push(record.get(0)?.parse().ok()?);
        for (place, column) in degc.iter_mut().enumerate() {
            let cell = record.get(2 + place)?;
            column.push(if cell.is_empty() {
                f64::NAN
            } else {
                cell.parse().ok()?
            });
        }
    }
    let channel = |(sample, degc): (&Sample, Vec<f64>)| Channel {
        name: sample.name.clone(),
        degc,
        resolution_degc: None,
        u_common_degc: None,
    };
    let channels = samples.iter().zip(degc).map(channel).collect();
    Some(Series {
        t_s,
        channels,
        unsure,
    })
}
