//! `--readings`: a recorded run or table in place of a board.

use std::path::Path;

use super::guide::{Guide, Stretch};
use crate::cli::duration::clock;
use crate::cli::exit::{Code, Failure};
use crate::cli::input::{Asked, read as read_input};
use crate::run::{Derived, Lags, Steadiness};

/// A recorded table.
pub(super) struct Recorded {
    /// The board that it was recorded from, where that is known.
    pub(super) board: Option<String>,
    pub(super) probes: Vec<Option<String>>,
    pub(super) names: Vec<String>,
    pub(super) stretch: Stretch,
}

/// Reads a run's folder or any table with a time column.
///
/// # Errors
/// [`Failure`] if it cannot be read, is of several boards, or holds readings that were corrected.
pub(super) fn read(file: &Path) -> Result<Recorded, Failure> {
    let asked = Asked {
        marks_s: None,
        prediction: None,
        worksheet: None,
        lags: Lags::default(),
    };
    let read = read_input(file, &asked)?;
    let shown = file.display();
    let corrected = !read.setup.calibrations.is_empty() || is_corrected(file);
    if corrected {
        let message = format!("{shown}: its readings are corrected by calibrations already");
        return Err(Failure::new(Code::Usage, message)
            .advise("Log a run with --calibration off, and give that."));
    }
    if !read.setup.together.is_empty() {
        let message = format!("{shown} is of several boards");
        return Err(Failure::new(Code::Usage, message).advise("Calibrate one board at a time."));
    }
    let names: Vec<String> = read
        .series
        .channels
        .iter()
        .map(|c| c.name.clone())
        .collect();
    let words = read
        .derived
        .as_ref()
        .map_or_else(Vec::new, Derived::probe_words);
    let series = read.series.sure().into_owned();
    Ok(Recorded {
        board: read
            .derived
            .as_ref()
            .and_then(|derived| derived.found.board_id.clone()),
        probes: (0..names.len()).map(|c| words.get(c).cloned()).collect(),
        names,
        stretch: Stretch {
            t_s: series.t_s,
            degc: series.channels.into_iter().map(|c| c.degc).collect(),
        },
    })
}

/// Whether the settings beside a run's rows say that they are corrected.
fn is_corrected(file: &Path) -> bool {
    let beside = file.with_file_name(crate::run::name::SETTINGS);
    let own = file
        .file_name()
        .is_some_and(|name| name == crate::run::name::READINGS);
    let text = own.then(|| std::fs::read_to_string(beside).ok()).flatten();
    let settings = text.and_then(|text| toml::from_str::<toml::Table>(&text).ok());
    settings.is_some_and(|settings| settings.contains_key("calibrated"))
}

/// The last rows of a table, if the channels are steady there.
///
/// # Errors
/// [`Failure`] if they are not.
pub(super) fn end_of(
    all: &Stretch,
    guide: &Guide,
    (channels, names): (&[usize], &[String]),
) -> Result<Stretch, Failure> {
    let mut steadiness = Steadiness::new(guide.settle_degc_per_min);
    let end_s = all.t_s.last().copied().unwrap_or(0.0);
    let mut stretch = Stretch::default();
    for (row, t_s) in all.t_s.iter().enumerate() {
        let at = |channel: usize| all.channel(channel).get(row).copied().unwrap_or(f64::NAN);
        let watched: Vec<f64> = channels.iter().map(|c| at(*c)).collect();
        steadiness.push(*t_s, &watched);
        if *t_s >= end_s - guide.time_s {
            stretch.push(&(*t_s, (0..all.degc.len()).map(at).collect()));
        }
    }
    if steadiness.is_steady() {
        return Ok(stretch);
    }
    let why = match steadiness.settling().worst {
        Some((place, drift, expanded)) => {
            let name = channels.get(place).and_then(|c| names.get(*c));
            let name = crate::cli::text::printable(name.map_or("", String::as_str));
            format!("{name} drifts by {drift:+.2} °C/min (± {expanded:.2}) at its end")
        }
        None => "it is too short to tell".into(),
    };
    let message = format!("the table does not settle: {why}");
    let least = clock(guide.time_s + 60.0);
    Err(Failure::new(Code::Failed, message).advise(format!(
        "It must end with {least} or more of a steady bath; or allow more drift with --settle. \
         Nothing was kept."
    )))
}
