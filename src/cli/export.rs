//! `export`: runs as tables for query engines.

use std::path::{Path, PathBuf};

use super::exit::{Code, Failure, chain};
use super::newest::of_runs;
use super::stream_beside::SITE;
use super::text::{aligned, printable};
use super::{out, print_failure, say};
use crate::follow::State;
use crate::outlet::export::{ExportError, ExportSetup, Exported, export};

#[derive(Debug, clap::Args)]
pub(super) struct ExportArgs {
    /// Folders of runs
    #[arg(required = true, value_name = "RUN")]
    pub(super) runs: Vec<PathBuf>,
    /// Folder for the tables
    #[arg(long, value_name = "DIR", default_value = "tables")]
    pub(super) out: PathBuf,
    /// Where the benches stand
    #[arg(long, value_name = "NAME", default_value = SITE, env = "DUSKMARK_SITE")]
    pub(super) site: String,
    /// CSV in long form instead, one file per run
    #[arg(long)]
    pub(super) csv: bool,
    /// Print one JSON object per run
    #[arg(long)]
    pub(super) json: bool,
}

pub(super) fn run(args: &ExportArgs, quiet: bool) -> Result<(), Failure> {
    let setup = ExportSetup {
        out: args.out.clone(),
        site: args.site.clone(),
        csv: args.csv,
    };
    let (mut done, mut failed) = (0, None);
    for folder in &args.runs {
        match export(folder, &setup) {
            Ok(exported) => {
                done += 1;
                tell(folder, &exported, args.json, quiet);
            }
            Err(error) => {
                let full = error.is_full();
                print_failure(&advised(folder, &error));
                failed = Some(full);
                // The next one would find no room either.
                if full {
                    break;
                }
            }
        }
    }
    match failed {
        None => Ok(()),
        Some(false) if done > 0 => Err(Failure::told(Code::Incomplete)),
        Some(_) => Err(Failure::told(Code::Failed)),
    }
}

fn tell(folder: &Path, exported: &Exported, json: bool, quiet: bool) {
    let source = folder.display().to_string();
    if json {
        let files = exported.files.iter().map(
            |(path, bytes)| serde_json::json!({"file": path.display().to_string(), "bytes": bytes}),
        );
        let line = serde_json::json!({
            "source": source, "rows": exported.rows, "state": exported.state,
            "files": files.collect::<Vec<_>>(),
        });
        out(&format!("{line}\n"));
        return;
    }
    if exported.state == State::Running {
        say(&format!(
            "{source} is still going on: export it again when it is over."
        ));
    } else if exported.state == State::CutOff {
        say(&format!(
            "{source} was cut off: 'duskmark rebuild' it, then export it again."
        ));
    }
    if !quiet {
        let files = exported.files.iter().map(|(path, bytes)| {
            let path = printable(&path.display().to_string());
            vec![path, format!("{bytes} bytes")]
        });
        out(&format!("{}  {} rows\n", printable(&source), exported.rows));
        out(&aligned(&files.collect::<Vec<_>>()));
    }
}

fn advised(folder: &Path, error: &ExportError) -> Failure {
    if let (ExportError::NoRows { .. }, Some(failure)) = (error, of_runs(folder)) {
        return failure;
    }
    let failure = Failure::new(Code::Failed, chain(error));
    match error {
        _ if error.is_full() => failure.advise(
            "Make room, or choose another disk with --out. There is no half file, \
             and older ones are as they were.",
        ),
        ExportError::NoRows { .. } => failure.advise(
            "Is it the folder of a run? 'duskmark rebuild' makes its files from its journal.",
        ),
        ExportError::Read { .. } => failure.advise("Check that it is there and may be read."),
        ExportError::Folder { .. } | ExportError::Write(_) => {
            failure.advise("Choose a folder that you may write to with --out.")
        }
    }
}
