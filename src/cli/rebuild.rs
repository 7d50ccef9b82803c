//! `rebuild`: derives everything again from the journal.

use super::args::{LagArgs, RebuildArgs};
use super::exit::Failure;
use super::{advice, results};
use crate::run::{Derived, Lags};

pub(super) fn run(args: &RebuildArgs, quiet: bool) -> Result<(), Failure> {
    let mut worst = None;
    for folder in &args.runs {
        let rebuilt = Derived::from_folder(folder, declared(&args.lags))
            .and_then(|derived| derived.write(folder).map(|_| derived));
        match rebuilt {
            Ok(derived) => {
                if !derived.ended && !args.json && !quiet {
                    super::say(&format!(
                        "{}: the run was cut off; {} rows are restored.",
                        folder.display(),
                        derived.summary.rows
                    ));
                }
                results::show_run(folder, &derived, args.json, quiet);
                if derived.incomplete() {
                    worst.get_or_insert_with(results::incomplete);
                }
            }
            Err(error) => {
                if let Some(before) = worst.replace(advice::of_run(&error)) {
                    super::print_failure(&before);
                }
            }
        }
    }
    worst.map_or(Ok(()), Err)
}

/// Lags that are declared now stand over those that were declared when the run was logged.
pub(super) fn declared(lags: &LagArgs) -> Option<Lags> {
    (lags.probe_lag.is_some() || lags.lamp_lag.is_some()).then(|| Lags {
        probe_s: lags.probe_lag.clone(),
        lamp_s: lags.lamp_lag,
    })
}
