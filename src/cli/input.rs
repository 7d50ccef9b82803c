//! Runs and tables as inputs: read, analysed, and several of them at once.

use std::fs::File;
use std::io::Read as _;
use std::num::NonZero;
use std::path::Path;
use std::sync::atomic::{AtomicUsize, Ordering};

use super::advice;
use super::exit::{Code, Failure};
use super::rebuild::check_lags;
use super::text::printable;
use crate::analysis::{self, Cued, Request, Series, Summary, Table, TableError};
use crate::calibrate::Applied;
use crate::journal;
use crate::run::{Derived, Lags, Plan, RunSetup, calibrated, name, request};

/// No table of a lesson is larger; a larger file was named by mistake.
const LARGEST_BYTES: u64 = 4 << 30;

/// Workbooks are in memory while they are read.
const LARGEST_WORKBOOK_BYTES: u64 = 256 << 20;

/// What is asked of every input.
#[derive(Debug, Clone)]
pub(super) struct Asked<'a> {
    /// Interval of the marks in seconds.
    pub(super) marks_s: Option<f64>,
    /// Sample that is predicted to warm more.
    pub(super) prediction: Option<&'a str>,
    /// The sheet of a workbook.
    pub(super) worksheet: Option<&'a str>,
    /// Lags that are declared now.
    pub(super) lags: Lags,
}

/// A run or table as it was read and analysed.
#[derive(Debug)]
pub(super) struct Read {
    pub(super) summary: Summary,
    pub(super) series: Series,
    /// What the run was asked to do, with the lags that are declared now over its own.
    pub(super) setup: RunSetup,
    /// All that its journal says, but for the series; none of a table.
    pub(super) derived: Option<Derived>,
}

impl Read {
    /// What a person calls it: the run's name, or that of the file or folder.
    pub(super) fn name(&self, input: &Path) -> String {
        match &self.derived {
            Some(derived) => derived.setup.name.clone(),
            None => stem(input),
        }
    }
}

/// Reads and analyses a run's folder, a table or a workbook.
pub(super) fn read(input: &Path, asked: &Asked<'_>) -> Result<Read, Failure> {
    // A run's folder without its journal still has its readings.
    let readings = input.join(name::READINGS);
    if input.is_dir() && !input.join(journal::FILE_NAME).exists() && readings.exists() {
        return read(&readings, asked);
    }
    if input.is_dir() {
        let journal = input.join(journal::FILE_NAME).exists();
        let runs = (!journal).then(|| super::newest::of_runs(input)).flatten();
        return runs.map_or_else(|| read_run(input, asked), Err);
    }
    let Table {
        mut series,
        warnings,
        logged,
        told_missing,
        ..
    } = read_table(input, asked.worksheet)?;
    check_lags(&asked.lags, series.channels.len())?;
    let (setup, cues, moments_s) = settings_beside(input);
    calibrated(&mut series, &setup.calibrations);
    let lags = asked.lags.over(&setup.lags);
    let setup = RunSetup { lags, ..setup };
    let mut wanted = asked.over(request(&setup));
    (wanted.cues, wanted.moments_s) = (cues, moments_s);
    wanted.lamp.logged = logged;
    wanted.source = input.display().to_string();
    let mut summary = analysis::analyse(&series, &wanted);
    summary.tell_first(&series, warnings, &told_missing);
    Ok(Read {
        summary,
        series,
        setup,
        derived: None,
    })
}

fn read_run(folder: &Path, asked: &Asked<'_>) -> Result<Read, Failure> {
    let mut derived =
        Derived::from_folder(folder, &asked.lags).map_err(|error| advice::of_run(&error))?;
    check_lags(&asked.lags, derived.names.len())?;
    let mut summary = if asked.marks_s.is_none() && asked.prediction.is_none() {
        derived.summary.clone()
    } else {
        analysis::analyse(&derived.series, &asked.over(derived.request()))
    };
    summary.source = folder.display().to_string();
    Ok(Read {
        summary,
        series: std::mem::take(&mut derived.series),
        setup: derived.setup.clone(),
        derived: Some(derived),
    })
}

impl Asked<'_> {
    /// What is asked for now stands over what the run was asked.
    fn over(&self, wanted: Request) -> Request {
        Request {
            marks_s: self.marks_s.or(wanted.marks_s),
            prediction: self.prediction.map(str::to_owned).or(wanted.prediction),
            ..wanted
        }
    }
}

/// What a file or folder is called, without what says its kind.
fn stem(path: &Path) -> String {
    let stem = if path.is_dir() {
        path.file_name()
    } else {
        path.file_stem()
    };
    stem.map_or_else(
        || path.display().to_string(),
        |s| s.to_string_lossy().into_owned(),
    )
}

/// Reads a table or workbook; `-v` says how each column was read.
fn read_table(input: &Path, worksheet: Option<&str>) -> Result<Table, Failure> {
    let failed =
        |message: String| Failure::new(Code::Failed, format!("{}: {message}", input.display()));
    let system = |e: std::io::Error| failed(e.to_string());
    let size = std::fs::metadata(input).map_err(system)?.len();
    let mut file = File::open(input).map_err(system)?;
    let mut first = [0; 8];
    let count = begins(&mut file, &mut first).map_err(system)?;
    let first = first.get(..count).unwrap_or_default();
    let workbook = analysis::is_workbook(first);
    let limit = if workbook {
        LARGEST_WORKBOOK_BYTES
    } else {
        LARGEST_BYTES
    };
    if size > limit {
        let what = if workbook { "workbook" } else { "table" };
        return Err(failed(format!("{size} bytes are too many for a {what}")));
    }
    let table = if workbook {
        let mut bytes = first.to_vec();
        file.read_to_end(&mut bytes).map_err(system)?;
        analysis::read_workbook(&bytes, worksheet)
    } else {
        analysis::read_table(first.chain(file))
    };
    let table = table.map_err(|error| refused(failed(printable(&error.to_string())), &error))?;
    for column in &table.columns {
        let (file, heading, read) = (input.display(), &column.heading, &column.read);
        tracing::info!("{file}: column {heading:?} read as {read}");
    }
    Ok(table)
}

/// A failure with what to do next.
fn refused(failure: Failure, error: &TableError) -> Failure {
    failure.advise(match error {
        TableError::NoSuchSheet { .. } => "Give --worksheet one of these names.",
        TableError::Workbook { .. } => {
            "If it opens in a spreadsheet program, save it from there as CSV (UTF-8) and give that."
        }
        _ => "A table has one time column and one column of temperatures per sample.",
    })
}

/// Fills the buffer as far as the file goes.
fn begins(file: &mut File, buffer: &mut [u8]) -> std::io::Result<usize> {
    let mut count = 0;
    while let Some(rest) = buffer.get_mut(count..).filter(|rest| !rest.is_empty()) {
        match file.read(rest)? {
            0 => break,
            more => count += more,
        }
    }
    Ok(count)
}

/// A run's `readings.csv` is analysed as the run was: its plan and declared lags are beside it.
fn settings_beside(input: &Path) -> (RunSetup, Vec<Cued>, Vec<f64>) {
    #[derive(serde::Deserialize, Default)]
    #[serde(default)]
    struct Found {
        cues: Vec<Cued>,
        moments_s: Vec<f64>,
    }
    #[derive(serde::Deserialize)]
    struct Settings {
        #[serde(default)]
        found: Found,
        #[serde(default)]
        plan: Plan,
        #[serde(default)]
        lags: Lags,
        #[serde(default)]
        calibrated: Vec<Applied>,
    }
    let own = input.file_name().is_some_and(|file| file == name::READINGS);
    let settings = own
        .then(|| std::fs::read_to_string(input.with_file_name(name::SETTINGS)).ok())
        .flatten()
        .and_then(|text| toml::from_str::<Settings>(&text).ok());
    let Some(settings) = settings else {
        // Of any other table nobody knows whether there was a lamp: it may have one.
        let plan = Plan {
            heat_s: Some(0.0),
            ..Plan::default()
        };
        let setup = RunSetup {
            plan,
            ..RunSetup::default()
        };
        return (setup, Vec::new(), Vec::new());
    };
    let setup = RunSetup {
        plan: settings.plan,
        lags: settings.lags,
        calibrations: settings.calibrated,
        ..RunSetup::default()
    };
    (setup, settings.found.cues, settings.found.moments_s)
}

/// How many inputs are worked on at once.
pub(super) fn threads() -> usize {
    std::thread::available_parallelism().map_or(1, NonZero::get)
}

/// What each input gives, in the order of the inputs; each thread takes the next one that is left.
pub(super) fn each<I: Sync, T: Send>(inputs: &[I], work: impl Fn(&I) -> T + Sync) -> Vec<T> {
    let next = AtomicUsize::new(0);
    let share = || {
        let mut done = Vec::new();
        loop {
            let place = next.fetch_add(1, Ordering::Relaxed);
            let Some(input) = inputs.get(place) else {
                return done;
            };
            done.push((place, work(input)));
        }
    };
    let mut all = std::thread::scope(|scope| {
        let helpers = 1..threads().min(inputs.len());
        let helpers: Vec<_> = helpers.map(|_| scope.spawn(share)).collect();
        let mut all = share();
        for helper in helpers {
            match helper.join() {
                Ok(done) => all.extend(done),
                Err(panic) => std::panic::resume_unwind(panic),
            }
        }
        all
    });
    all.sort_by_key(|(place, _)| *place);
    all.into_iter().map(|(_, outcome)| outcome).collect()
}
