//! A run or table as report and sheet tell of it, and files that are whole or not there.

use std::collections::BTreeMap;
use std::io::Write as _;
use std::path::{Path, PathBuf};

use super::exit::{Code, Failure};
use super::input::{Asked, Read, read};
use super::out;
use super::text::printable;
use crate::analysis::{Series, Summary};
use crate::calibrate::{Applied, age_s};
use crate::report::{Calibrated, End, MOST_ROWS, Record, Steps};
use crate::run::{Derived, Lags, RunError, RunSetup, is_virtual_port, lock_run, name};

/// A run or table, read and analysed.
#[derive(Debug)]
pub(super) struct Source {
    /// What people call it.
    pub(super) title: String,
    pub(super) summary: Summary,
    pub(super) series: Series,
    pub(super) steps: Steps,
    pub(super) record: Record,
    /// The run's folder; none of a table.
    pub(super) folder: Option<PathBuf>,
}

impl Source {
    /// The samples' names, as people gave them.
    pub(super) fn names(&self) -> Vec<String> {
        let samples = self.summary.samples.iter();
        samples.map(|sample| sample.name.clone()).collect()
    }

    /// Reads a run's folder, or any table.
    pub(super) fn load(input: &Path, asked: &Asked<'_>) -> Result<Self, Failure> {
        let mut found = read(input, asked)?;
        let mut marks_s = asked.marks_s;
        if let Some(own_s) = own_marks_s(&found).filter(|_| marks_s.is_none()) {
            // A table of even rows is the lesson's table already.
            marks_s = Some(own_s);
            let asked = Asked {
                marks_s,
                ..asked.clone()
            };
            found = read(input, &asked)?;
        }
        let Read {
            summary,
            series,
            setup,
            derived,
        } = found;
        // What is asked now is not what a run's files answer.
        let as_kept = asked.marks_s.is_none() && asked.lags == Lags::default();
        if let Some(derived) = &derived {
            let mut run = Self::of_run(input, derived, (summary, series), asked.marks_s);
            run.record.has_files &= as_kept;
            return Ok(run);
        }
        let beside = input.is_file() && input.ends_with(name::READINGS);
        let folder = if beside { input.parent() } else { Some(input) };
        let folder = folder.filter(|f| f.join(name::SETTINGS).is_file() || f.is_dir() && !beside);
        let mut record = folder.map(record_in).unwrap_or_default();
        settings(&mut record, &setup);
        record.calibration_u_degc = calibration(&series, &setup);
        record.has_files = as_kept && folder.is_some_and(has_files);
        Ok(Self {
            title: stem(folder.unwrap_or(input)),
            steps: steps(&setup, marks_s),
            summary,
            series,
            record,
            folder: folder.map(Path::to_owned),
        })
    }

    /// A run as its journal tells it, with its rows and what follows from them.
    pub(super) fn of_run(
        folder: &Path,
        derived: &Derived,
        (summary, series): (Summary, Series),
        marks_s: Option<f64>,
    ) -> Self {
        let mut record = record_of(derived);
        settings(&mut record, &derived.setup);
        record.calibration_u_degc = calibration(&series, &derived.setup);
        if !derived.ended && is_logged(folder) {
            record.end = End::ToCome;
        }
        record.has_files = record.end != End::ToCome && has_files(folder);
        Self {
            title: derived.title(),
            steps: steps(&derived.setup, marks_s),
            summary,
            series,
            record,
            folder: Some(folder.to_owned()),
        }
    }
}

/// How far a row may be from an even grid of them, in parts of their distance.
const EVEN: f64 = 0.05;

/// The distance of a table's rows, where nobody planned it another: they are even and half a minute or more
/// apart, and not more than a page has room for.
fn own_marks_s(found: &Read) -> Option<f64> {
    let planned = found.derived.is_some() || found.setup.plan.marks_s.is_some();
    let times = &found.series.t_s;
    let few = (2..=MOST_ROWS).contains(&times.len());
    let interval_s = found.summary.interval_s?;
    let first_s = *times.first()?;
    let is_even = times.iter().all(|t| {
        let rows = (t - first_s) / interval_s;
        (rows - rows.round()).abs() <= EVEN
    });
    (!planned && few && found.summary.has_sparse_rows() && is_even).then_some(interval_s)
}

/// Whether table and summary of a run stand in its folder.
fn has_files(folder: &Path) -> bool {
    let all = [name::MARKS, name::SUMMARY];
    all.iter().all(|name| folder.join(name).is_file())
}

/// Whether a process is logging a run.
fn is_logged(folder: &Path) -> bool {
    matches!(lock_run(folder), Err(RunError::InUse { .. }))
}

/// The name of a file or folder without its ending.
pub(super) fn stem(path: &Path) -> String {
    let whole = std::path::absolute(path).unwrap_or_else(|_| path.to_owned());
    let name = if whole.is_dir() {
        whole.file_name()
    } else {
        whole.file_stem()
    };
    name.map_or_else(
        || "table".into(),
        |name| name.to_string_lossy().into_owned(),
    )
}

/// What readings have in common by a calibration; else it is by tolerances that were stated.
fn calibration(series: &Series, setup: &RunSetup) -> Vec<Option<f64>> {
    let has_calibration = |channel: usize| {
        let applied = setup.calibrations.get(channel);
        applied.is_some_and(|one| !one.from.is_empty())
    };
    let channels = series.channels.iter().enumerate();
    channels
        .map(|(channel, one)| one.u_common_degc.filter(|_| has_calibration(channel)))
        .collect()
}

/// What was declared or calibrated before the run began.
fn settings(record: &mut Record, setup: &RunSetup) {
    record.probe_lag_s = setup.probe_lags_s();
    record.is_lag_calibrated = setup.lags.probe_s.is_none() && record.probe_lag_s.is_some();
    record.lamp_lag_s = setup.lags.lamp_s;
    tell_calibrations(record, &setup.calibrations);
}

/// What the probes of a run were calibrated by.
fn tell_calibrations(record: &mut Record, applied: &[Applied]) {
    let days = |date: &str| {
        let age_s = age_s(date, record.began_utc.as_deref()?)?;
        Some((age_s.max(0.0) / 86_400.0) as usize)
    };
    let of = |one: &Applied| {
        let by = one.from.iter().map(|from| Calibrated {
            kind: from.found.code().into(),
            day: from.date.get(..10).unwrap_or_default().to_owned(),
            age_days: days(&from.date),
        });
        by.collect()
    };
    record.calibrated = applied.iter().map(of).collect();
    record.is_matched_only = applied.iter().map(|one| !one.is_absolute).collect();
}

fn steps(setup: &RunSetup, marks_s: Option<f64>) -> Steps {
    let plan = &setup.plan;
    // Of a table nobody knows whether there was a lamp, which a lamp-on time of nothing says.
    let heat_s = plan.heat_s.filter(|s| *s > 0.0);
    Steps {
        settle_degc_per_min: plan.settle_degc_per_min,
        heat_s,
        cool_s: plan.cool_s,
        for_s: plan.for_s,
        marks_s: marks_s.or(plan.marks_s),
    }
}

fn record_of(derived: &Derived) -> Record {
    let mut events = BTreeMap::new();
    for event in &derived.events {
        *events.entry(event.kind.clone()).or_default() += 1;
    }
    let found = &derived.found;
    // The first event is the port's opening, at the run's own zero.
    let begin_ns = derived.events.iter().map(|event| event.t_ns).min();
    let notes = derived.events.iter().filter(|event| is_note(&event.kind));
    let notes = notes.map(|event| {
        let since_ns = event.t_ns - begin_ns.unwrap_or(event.t_ns);
        (since_ns as f64 / 1e9, event.detail.clone())
    });
    Record {
        is_virtual: is_virtual_port(&found.port),
        notes: notes.collect(),
        began_utc: Some(found.began_utc.clone()),
        utc_offset_s: found.utc_offset_s,
        board: found.board_id.clone(),
        dialect: found.dialect.clone(),
        end: end(derived.ended),
        damaged_places: derived.damage.len(),
        events: events.into_iter().collect(),
        flags: derived.flags().into_iter().collect(),
        ..Record::default()
    }
}

fn end(in_order: bool) -> End {
    if in_order { End::InOrder } else { End::CutOff }
}

/// Whether an event is what people noted: words, or a moment without any.
fn is_note(kind: &str) -> bool {
    matches!(kind, "note" | "hand-mark")
}

/// Whether what is in a run's folder is invented, by its `run.toml`.
pub(super) fn is_invented(folder: &Path) -> bool {
    let found = found_in(folder);
    let port = found.get("port").and_then(toml::Value::as_str);
    port.is_some_and(is_virtual_port)
}

/// What the files of a run's folder tell, where its journal is not there.
fn record_in(folder: &Path) -> Record {
    let found = found_in(folder);
    let word = |key| found.get(key).and_then(toml::Value::as_str);
    Record {
        is_virtual: word("port").is_some_and(is_virtual_port),
        began_utc: word("began_utc").map(str::to_owned),
        utc_offset_s: found
            .get("utc_offset_s")
            .and_then(toml::Value::as_integer)
            .and_then(|s| s.try_into().ok()),
        board: word("board_id").map(str::to_owned),
        dialect: word("dialect").map(str::to_owned),
        end: end(found.get("ended").and_then(toml::Value::as_bool) != Some(false)),
        events: counted(&folder.join(name::EVENTS), "kind"),
        flags: counted(&folder.join(name::READINGS), "flags"),
        notes: notes_in(folder),
        ..Record::default()
    }
}

/// The notes in a folder's `events.csv`: seconds of the run, and words; none where it cannot be read.
fn notes_in(folder: &Path) -> Vec<(f64, String)> {
    #[derive(serde::Deserialize)]
    struct Line {
        elapsed_s: f64,
        kind: String,
        detail: String,
    }
    let Ok(mut reader) = csv::Reader::from_path(folder.join(name::EVENTS)) else {
        return Vec::new();
    };
    let lines = reader.deserialize::<Line>().flatten();
    let notes = lines.filter(|line| is_note(&line.kind));
    notes.map(|line| (line.elapsed_s, line.detail)).collect()
}

/// What `run.toml` says that was found; nothing where it cannot be read.
fn found_in(folder: &Path) -> toml::Table {
    let text = std::fs::read_to_string(folder.join(name::SETTINGS)).unwrap_or_default();
    let mut settings: toml::Table = toml::from_str(&text).unwrap_or_default();
    match settings.remove("found") {
        Some(toml::Value::Table(found)) => found,
        _ => toml::Table::new(),
    }
}

/// How often each word stands in a column of a CSV file; nothing where it cannot be read.
fn counted(path: &Path, column: &str) -> Vec<(String, usize)> {
    let mut counts = BTreeMap::new();
    let Ok(mut reader) = csv::Reader::from_path(path) else {
        return Vec::new();
    };
    let place = reader
        .headers()
        .ok()
        .and_then(|h| h.iter().position(|name| name == column));
    for record in reader.records().flatten() {
        let cell = place
            .and_then(|place| record.get(place))
            .unwrap_or_default();
        for word in cell.split(' ').filter(|word| !word.is_empty()) {
            let word = if word.starts_with("lost:") {
                "lost"
            } else {
                word
            };
            *counts.entry(word.to_owned()).or_default() += 1;
        }
    }
    counts.into_iter().collect()
}

/// Files of one input, written and told one by one.
#[derive(Debug)]
pub(super) struct Written<'a> {
    pub(super) folder: PathBuf,
    /// Put before each name; empty for none.
    pub(super) prefix: String,
    pub(super) source: &'a str,
    pub(super) json: bool,
    pub(super) quiet: bool,
}

impl Written<'_> {
    /// Writes a file aside and renames it into place, so that the old one is there until the new
    /// one is whole; tells that it is there.
    pub(super) fn write(&self, name: &str, bytes: &[u8]) -> Result<(), Failure> {
        let name = format!("{}{name}", self.prefix);
        let (path, aside) = (
            self.folder.join(&name),
            self.folder.join(format!(".{name}.new")),
        );
        let replaced = std::fs::read(&path).is_ok_and(|before| before != bytes);
        let written = std::fs::create_dir_all(&self.folder).and_then(|()| {
            let mut file = std::fs::File::create(&aside)?;
            file.write_all(bytes)?;
            file.sync_all()?;
            std::fs::rename(&aside, &path)
        });
        written.map_err(|error| {
            let _ = std::fs::remove_file(&aside);
            let message = format!("{} cannot be written: {error}", path.display());
            Failure::new(Code::Failed, message)
                .advise("Choose a folder that you may write to with --out.")
        })?;
        let place = path.display().to_string();
        if self.json {
            let line = serde_json::json!({
                "source": self.source, "file": place, "bytes": bytes.len(),
            });
            out(&format!("{line}\n"));
        } else if !self.quiet {
            let word = if replaced { ", replaced" } else { "" };
            out(&format!(
                "{}  {} bytes{word}\n",
                printable(&place),
                bytes.len()
            ));
        }
        Ok(())
    }
}
