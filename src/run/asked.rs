//! What the analysis gets: a run's rows, and what is asked of them.

use super::files::name;
use super::setup::RunSetup;
use super::table::{Column, Table};
use crate::analysis::{self, Channel, Request, Series};
use crate::calibrate::Applied;

/// The rows as the analysis takes them: what the file prints, no more. Moved out of the table, so
/// that a fortnight of them is in memory once.
pub(super) fn series(table: &mut Table, names: &[String], calibrations: &[Applied]) -> Series {
    let channel = |(name, column): (&String, &mut Column)| {
        let mut degc = std::mem::take(&mut column.degc);
        degc.shrink_to_fit();
        Channel {
            name: name.clone(),
            resolution_degc: analysis::printed_step_degc(&degc),
            degc,
            u_common_degc: None,
        }
    };
    let channels = names.iter().zip(&mut table.columns).map(channel).collect();
    let flags = table.flags.iter();
    let late = flags.filter(|(_, flags)| analysis::is_late(flags));
    let unsure = late.map(|(row, _)| *row).collect();
    let elapsed_ms = std::mem::take(&mut table.elapsed_ms).into_iter();
    let mut series = Series {
        t_s: elapsed_ms.map(|ms| ms as f64 / 1000.0).collect(),
        channels,
        unsure,
    };
    calibrated(&mut series, calibrations);
    series
}

/// Puts into a run's rows what its calibrations say: the uncertainty that all readings of a channel have
/// in common, the largest over its own temperatures; and the step of the bare readings, which corrected
/// ones are written a decimal finer than.
pub fn calibrated(series: &mut Series, calibrations: &[Applied]) {
    for (channel, applied) in series.channels.iter_mut().zip(calibrations) {
        channel.u_common_degc = u_over(applied, &channel.degc);
        if let Some(step) = &mut channel.resolution_degc
            && applied.correction.is_some()
            && *step > 0.005
        {
            *step *= 10.0;
        }
    }
}

/// The largest standard uncertainty of a calibration over temperatures in °C: at one end of them.
fn u_over(applied: &Applied, degc: &[f64]) -> Option<f64> {
    let finite = || degc.iter().copied().filter(|v| v.is_finite());
    let ends = [finite().reduce(f64::min)?, finite().reduce(f64::max)?];
    ends.into_iter()
        .filter_map(|t| applied.u_at(t))
        .reduce(f64::max)
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
        lamp: setup.lamp_options(),
        ..Request::default()
    }
}
