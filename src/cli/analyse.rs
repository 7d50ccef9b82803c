//! `analyse`: edges, marks, fits and comparison of runs and of any CSV with a time column.

use std::path::Path;

use super::args::AnalyseArgs;
use super::exit::{Code, Failure};
use super::rebuild::declared;
use super::{advice, out, results};
use crate::analysis::{self, Request, Summary};
use crate::lamp::LampOptions;
use crate::run::{Derived, RunSetup, name, request};

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
    if input.is_dir() {
        let derived = Derived::from_folder(input, declared(&args.lags))
            .map_err(|error| advice::of_run(&error))?;
        return Ok(match args.marks {
            None => derived.summary,
            Some(marks_s) => {
                let mut wanted = request(&derived.setup);
                wanted.marks_s = Some(marks_s);
                analysis::analyse(&derived.series, &wanted)
            }
        });
    }
    let failed =
        |message: String| Failure::new(Code::Failed, format!("{}: {message}", input.display()));
    let size = std::fs::metadata(input)
        .map_err(|e| failed(e.to_string()))?
        .len();
    if size > LARGEST_BYTES {
        return Err(failed(format!("{size} bytes are too many for a table")));
    }
    let bytes = std::fs::read(input).map_err(|e| failed(e.to_string()))?;
    let (series, warnings) = analysis::table(&bytes).map_err(|error| {
        failed(super::text::printable(&error.to_string()))
            .advise("A table has one time column and one column of temperatures per sample.")
    })?;
    let mut wanted = settings_beside(input);
    wanted.source = input.display().to_string();
    wanted.marks_s = args.marks.or(wanted.marks_s);
    if let Some(lags) = declared(&args.lags) {
        wanted.lamp = LampOptions {
            probe_lag_s: lags.probe_s,
            lamp_lag_s: lags.lamp_s,
        };
    }
    let mut summary = analysis::analyse(&series, &wanted);
    summary.warnings.splice(0..0, warnings);
    Ok(summary)
}

/// A run's `readings.csv` is analysed as the run was: its plan and declared lags are beside it.
fn settings_beside(input: &Path) -> Request {
    #[derive(serde::Deserialize)]
    struct Settings {
        #[serde(default)]
        plan: crate::run::Plan,
        #[serde(default)]
        lags: crate::run::Lags,
    }
    let own = input.file_name().is_some_and(|file| file == name::READINGS);
    let settings = own
        .then(|| std::fs::read_to_string(input.with_file_name(name::SETTINGS)).ok())
        .flatten()
        .and_then(|text| toml::from_str::<Settings>(&text).ok());
    settings.map_or_else(Request::default, |settings| {
        request(&RunSetup {
            plan: settings.plan,
            lags: settings.lags,
            ..RunSetup::default()
        })
    })
}
