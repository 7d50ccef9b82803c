//! Runs by their names as people type them: a folder, or `last` for the newest one.

use std::ffi::OsStr;
use std::path::{Path, PathBuf};

use super::exit::{Code, Failure};
use super::text::printable;
use crate::follow::Source;

/// The newest run of a folder: names begin with the time.
pub(super) fn newest(dir: &Path) -> Result<PathBuf, Failure> {
    newest_in(dir).ok_or_else(|| {
        let dir = dir.display().to_string();
        let message = format!("there is no run in {}", printable(&dir));
        Failure::new(Code::Failed, message)
            .advise("Name the run's folder, or where to look with --out.")
    })
}

fn newest_in(dir: &Path) -> Option<PathBuf> {
    let paths = std::fs::read_dir(dir).into_iter().flatten().flatten();
    paths
        .map(|entry| entry.path())
        .filter(|path| matches!(Source::of(path), Source::Run(_)))
        .max()
}

/// What to say of a folder that holds runs and is none; none where it holds none either.
pub(super) fn of_runs(dir: &Path) -> Option<Failure> {
    let run = newest_in(dir)?.display().to_string();
    let dir = dir.display().to_string();
    let message = format!("{} holds runs and is none itself", printable(&dir));
    let all = format!("{}/*", dir.trim_end_matches('/'));
    Some(Failure::new(Code::Failed, message).advise(format!(
        "Name one of them, like {}, or all: {}.",
        printable(&run),
        printable(&all)
    )))
}

/// The run or file that an input means: `last` is the newest run of the folder of runs.
///
/// # Errors
/// [`Failure`] where there is no such thing, with the newest run that is there.
pub(super) fn meant(input: &Path) -> Result<PathBuf, Failure> {
    if input.exists() {
        return Ok(input.to_owned());
    }
    let runs = std::env::var_os("DUSKMARK_OUT").unwrap_or_else(|| "runs".into());
    let runs = Path::new(&runs);
    if input.as_os_str() == OsStr::new("last") {
        return newest(runs);
    }
    let input = input.display().to_string();
    let message = format!("{}: there is no such file or folder", printable(&input));
    let failure = Failure::new(Code::Failed, message);
    Err(match newest_in(runs) {
        Some(run) => {
            let run = run.display().to_string();
            failure.advise(format!(
                "The newest run here is {}: 'last'.",
                printable(&run)
            ))
        }
        None => failure.advise("Name a run's folder, or a table with a time column."),
    })
}
