//! `analyse`: edges, marks, fits and comparison of runs and of any CSV with a time column.

use std::path::Path;

use super::args::AnalyseArgs;
use super::exit::{Code, Failure};
use super::rebuild::{check_lags, declared};
use super::{advice, out, results};
use crate::analysis::{self, Summary, Table};
use crate::journal;
use crate::run::{Derived, Plan, RunSetup, name, request};

/// No table of a lesson is larger; a larger file was named by mistake.
const LARGEST_BYTES: u64 = 4 << 30;

pub(super) fn run(args: &AnalyseArgs, quiet: bool) -> Result<(), Failure> {
    let mut failures = Vec::new();
    for input in &args.inputs {
        match analyse(input, args) {
            Ok(summary) if args.json => results::show_json(&summary),
            Ok(summary) => {
                if !quiet {
                    if args.inputs.len() > 1 {
                        out(&format!("== {}\n", input.display()));
                    }
                    out(&results::summary_text(&summary));
                }
            }
            Err(failure) => failures.push(failure),
        }
    }
    let last = failures.pop();
    for failure in &failures {
        super::print_failure(failure);
    }
    last.map_or(Ok(()), Err)
}

fn analyse(input: &Path, args: &AnalyseArgs) -> Result<Summary, Failure> {
    // A run's folder without its journal still has its readings.
    let readings = input.join(name::READINGS);
    if input.is_dir() && !input.join(journal::FILE_NAME).exists() && readings.exists() {
        return analyse(&readings, args);
    }
    if input.is_dir() {
        let derived = Derived::from_folder(input, &declared(&args.lags))
            .map_err(|error| advice::of_run(&error))?;
        check_lags(&declared(&args.lags), derived.names.len())?;
        let mut summary = match args.marks {
            None => derived.summary,
            Some(marks_s) => {
                let mut wanted = request(&derived.setup);
                wanted.marks_s = Some(marks_s);
                analysis::analyse(&derived.series, &wanted)
            }
        };
        summary.source = input.display().to_string();
        return Ok(summary);
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
        failed(super::text::printable(&error.to_string()))
            .advise("A table has one time column and one column of temperatures per sample.")
    })?;
    for column in &table.columns {
        let (file, heading, read) = (input.display(), &column.heading, &column.read);
        tracing::info!("{file}: column {heading:?} read as {read}");
    }
    let Table {
        series, warnings, ..
    } = table;
    check_lags(&declared(&args.lags), series.channels.len())?;
    let setup = settings_beside(input);
    let lags = declared(&args.lags).over(&setup.lags);
    let mut wanted = request(&RunSetup { lags, ..setup });
    wanted.source = input.display().to_string();
    wanted.marks_s = args.marks.or(wanted.marks_s);
    let mut summary = analysis::analyse(&series, &wanted);
    summary.warnings.splice(0..0, warnings);
    Ok(summary)
}

/// A run's `readings.csv` is analysed as the run was: its plan and declared lags are beside it.
fn settings_beside(input: &Path) -> RunSetup {
    #[derive(serde::Deserialize)]
    struct Settings {
        #[serde(default)]
        plan: Plan,
        #[serde(default)]
        lags: crate::run::Lags,
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
