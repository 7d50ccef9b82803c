//! `analyse`: edges, marks, fits and comparison of runs and of any CSV with a time column.

use std::num::NonZero;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicUsize, Ordering};

use super::args::AnalyseArgs;
use super::exit::{Code, Failure};
use super::rebuild::{check_lags, declared};
use super::text::printable;
use super::{advice, out, results};
use crate::analysis::{self, Request, Series, Summary, Table};
use crate::journal;
use crate::run::{Derived, Lags, Plan, RunSetup, name, request};

/// No table of a lesson is larger; a larger file was named by mistake.
const LARGEST_BYTES: u64 = 4 << 30;

/// Inputs that one thread takes before what they gave is shown: few enough that summaries never
/// fill the memory, enough that threads seldom wait for the slowest of them.
const SHARE: usize = 16;

pub(super) fn run(args: &AnalyseArgs, quiet: bool) -> Result<(), Failure> {
    let threads = std::thread::available_parallelism().map_or(1, NonZero::get);
    let mut worst = None;
    for inputs in args.inputs.chunks(threads * SHARE) {
        for (input, outcome) in inputs.iter().zip(analyse_all(inputs, args, threads)) {
            match outcome {
                Ok(summary) if args.json => results::show_json(&summary),
                Ok(summary) => {
                    if !quiet {
                        if args.inputs.len() > 1 {
                            out(&format!("== {}\n", printable(&input.display().to_string())));
                        }
                        out(&results::summary_text(&summary));
                    }
                }
                // Told in its place; the others still come out.
                Err(failure) => {
                    super::print_failure(&failure);
                    worst = Some(failure.code);
                }
            }
        }
    }
    worst.map_or(Ok(()), |code| Err(Failure::told(code)))
}

/// What each input gives, in the order of the inputs; each thread takes the next one that is left.
fn analyse_all(
    inputs: &[PathBuf],
    args: &AnalyseArgs,
    threads: usize,
) -> Vec<Result<Summary, Failure>> {
    let next = AtomicUsize::new(0);
    let work = || {
        let mut done = Vec::new();
        loop {
            let place = next.fetch_add(1, Ordering::Relaxed);
            let Some(input) = inputs.get(place) else {
                return done;
            };
            done.push((place, analyse(input, args)));
        }
    };
    let mut all = std::thread::scope(|scope| {
        let helpers = 1..threads.min(inputs.len());
        let helpers: Vec<_> = helpers.map(|_| scope.spawn(work)).collect();
        let mut all = work();
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

fn analyse(input: &Path, args: &AnalyseArgs) -> Result<Summary, Failure> {
    let asked = Asked {
        marks_s: args.marks,
        prediction: args.prediction.as_deref(),
        lags: declared(&args.lags),
    };
    read(input, &asked).map(|read| read.summary)
}

/// What is asked for now, over what the run was asked.
#[derive(Debug, Clone)]
pub(super) struct Asked<'a> {
    pub(super) marks_s: Option<f64>,
    pub(super) prediction: Option<&'a str>,
    pub(super) lags: Lags,
}

/// A run or table as it was read and analysed.
#[derive(Debug)]
pub(super) struct Read {
    pub(super) summary: Summary,
    pub(super) series: Series,
    /// What the run was asked to do, lags over which nothing was declared now.
    pub(super) setup: RunSetup,
    /// All that its journal says, but for summary and series; none of a table.
    pub(super) derived: Option<Derived>,
}

/// Reads and analyses a run's folder or a table.
pub(super) fn read(input: &Path, asked: &Asked<'_>) -> Result<Read, Failure> {
    // A run's folder without its journal still has its readings.
    let readings = input.join(name::READINGS);
    if input.is_dir() && !input.join(journal::FILE_NAME).exists() && readings.exists() {
        return read(&readings, asked);
    }
    if input.is_dir() {
        return read_run(input, asked);
    }
    let failed =
        |message: String| Failure::new(Code::Failed, format!("{}: {message}", input.display()));
    let size = std::fs::metadata(input)
        .map_err(|e| failed(e.to_string()))?
        .len();
    if size > LARGEST_BYTES {
        return Err(failed(format!("{size} bytes are too many for a table")));
    }
    let file = std::fs::File::open(input).map_err(|e| failed(e.to_string()))?;
    let table = analysis::read_table(file).map_err(|error| {
        failed(printable(&error.to_string()))
            .advise("A table has one time column and one column of temperatures per sample.")
    })?;
    for column in &table.columns {
        let (file, heading, read) = (input.display(), &column.heading, &column.read);
        tracing::info!("{file}: column {heading:?} read as {read}");
    }
    let Table {
        series, warnings, ..
    } = table;
    check_lags(&asked.lags, series.channels.len())?;
    let setup = settings_beside(input);
    let lags = asked.lags.over(&setup.lags);
    let setup = RunSetup { lags, ..setup };
    let mut wanted = asked.over(request(&setup));
    wanted.source = input.display().to_string();
    let mut summary = analysis::analyse(&series, &wanted);
    summary.warnings.splice(0..0, warnings);
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
        let wanted = asked.over(request(&derived.setup));
        analysis::analyse(&derived.series, &wanted)
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
    fn over(&self, wanted: Request) -> Request {
        Request {
            marks_s: self.marks_s.or(wanted.marks_s),
            prediction: self.prediction.map(str::to_owned).or(wanted.prediction),
            ..wanted
        }
    }
}

/// A run's `readings.csv` is analysed as the run was: its plan and declared lags are beside it.
fn settings_beside(input: &Path) -> RunSetup {
    #[derive(serde::Deserialize)]
    struct Settings {
        #[serde(default)]
        plan: Plan,
        #[serde(default)]
        lags: Lags,
    }
    let own = input.file_name().is_some_and(|file| file == name::READINGS);
    let settings = own
        .then(|| std::fs::read_to_string(input.with_file_name(name::SETTINGS)).ok())
        .flatten()
        .and_then(|text| toml::from_str::<Settings>(&text).ok());
    match settings {
        Some(settings) => RunSetup {
            plan: settings.plan,
            lags: settings.lags,
            ..RunSetup::default()
        },
        // Of any other table nobody knows whether there was a lamp: it may have one.
        None => RunSetup {
            plan: Plan {
                heat_s: Some(0.0),
                ..Plan::default()
            },
            ..RunSetup::default()
        },
    }
}
