//! What the analysis gets: a run's rows, and what is asked of them.

use super::files::name;
use super::setup::RunSetup;
use super::table::Table;
use crate::analysis::{self, Channel, Request, Series};
use crate::lamp::LampOptions;

/// The rows as the analysis takes them: what the file prints, no more. Moved out of the table, so
/// that a fortnight of them is in memory once.
pub(super) fn series(table: &mut Table, names: &[String]) -> Series {
    Series {
        t_s: std::mem::take(&mut table.elapsed_ms)
            .into_iter()
            .map(|ms| ms as f64 / 1000.0)
            .collect(),
        channels: names
            .iter()
            .zip(&mut table.columns)
            .map(|(name, column)| {
                let mut degc = std::mem::take(&mut column.degc);
                degc.shrink_to_fit();
                Channel {
                    name: name.clone(),
                    resolution_degc: analysis::printed_step_degc(&degc),
                    degc,
                    u_common_degc: None,
                }
            })
            .collect(),
    }
}

/// What is asked of the analysis for a run.
#[must_use]
pub fn request(setup: &RunSetup) -> Request {
    Request {
        source: name::READINGS.into(),
        marks_s: setup.plan.marks_s,
        // Without a lamp to wait for, marks count from the run's start.
        zero_s: (!setup.plan.has_lamp()).then_some(0.0),
        planned_s: setup.plan.length_s(),
        prediction: setup.plan.prediction.clone(),
        predictions: setup.plan.predictions.clone(),
        lamp: LampOptions {
            probe_lag_s: setup.lags.probe_s.clone(),
            lamp_lag_s: setup.lags.lamp_s,
        },
        ..Request::default()
    }
}
