//! `rebuild`: derives everything again from the journal.

use std::path::Path;

use super::args::{LagArgs, RebuildArgs};
use super::exit::{Code, Failure};
use super::newest::{meant, of_runs};
use super::{advice, results};
use crate::journal;
use crate::live::words::counted;
use crate::run::{Derived, Lags, lock_run};

pub(super) fn run(args: &RebuildArgs, quiet: bool) -> Result<(), Failure> {
    let mut worst = None;
    for folder in &args.runs {
        let folder = &match meant(folder) {
            Ok(folder) => folder,
            Err(failure) => {
                if let Some(before) = worst.replace(failure) {
                    super::print_failure(&before);
                }
                continue;
            }
        };
        if let Some(failure) = holds_runs(folder) {
            if let Some(before) = worst.replace(failure) {
                super::print_failure(&before);
            }
            continue;
        }
        // While it is logged its files are another process's.
        let lock = lock_run(folder);
        let rebuilt = lock.and_then(|lock| {
            let derived = Derived::from_folder(folder, &declared(&args.lags))?;
            Ok((derived, lock))
        });
        let rebuilt =
            rebuilt
                .map_err(|error| advice::of_run(&error))
                .and_then(|(derived, _lock)| {
                    check_lags(&declared(&args.lags), derived.names.len())?;
                    let written = derived.write(folder);
                    written.map_err(|error| advice::of_run(&error))?;
                    Ok(derived)
                });
        match rebuilt {
            Ok(derived) => {
                if !derived.ended && !args.json && !quiet {
                    super::say(&format!(
                        "{}: the run was cut off; {} restored.",
                        folder.display(),
                        counted(derived.summary.rows as u64, "row")
                    ));
                }
                results::show_run(folder, &derived, args.json, quiet);
                if derived.incomplete() {
                    worst.get_or_insert_with(results::incomplete);
                }
            }
            Err(failure) => {
                if let Some(before) = worst.replace(failure) {
                    super::print_failure(&before);
                }
            }
        }
    }
    worst.map_or(Ok(()), Err)
}

/// What to say of a folder without a journal that holds runs.
fn holds_runs(folder: &Path) -> Option<Failure> {
    let is_run = folder.join(journal::FILE_NAME).exists();
    (!is_run).then(|| of_runs(folder)).flatten()
}

/// Lags that are declared now stand over those that were declared when the run was logged.
pub(super) fn declared(lags: &LagArgs) -> Lags {
    Lags {
        probe_s: lags.probe_lag.clone(),
        lamp_s: lags.lamp_lag,
    }
}

/// Refuses lags for another number of probes than there are.
pub(super) fn check_lags(lags: &Lags, channels: usize) -> Result<(), Failure> {
    match lags.probe_s.as_deref() {
        Some(given) if given.len() > 1 && given.len() != channels => Err(Failure::new(
            Code::Usage,
            format!("{} probe lags for {channels} probes", given.len()),
        )
        .advise("Give --probe-lag one time for all, or one for each probe.")),
        _ => Ok(()),
    }
}
