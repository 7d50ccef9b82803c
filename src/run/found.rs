//! Settings as found, and `run.toml`, which shows them to people.

use super::setup::{Lags, RunSetup};
use crate::analysis::Cued;
use crate::sampler::Sampler;

/// Settings as found.
#[derive(Debug, Clone, PartialEq, Default, serde::Serialize)]
pub struct Found {
    /// The port's name when it was first opened.
    /// With several boards, all of them.
    pub port: String,
    /// The board's id, where it states one.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub board_id: Option<String>,
    /// How the board speaks.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub dialect: Option<String>,
    /// Wall-clock time of the run's start.
    pub began_utc: String,
    /// How far the clocks of the place were ahead of it, in seconds.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub utc_offset_s: Option<i32>,
    /// Rows made.
    pub rows: usize,
    /// Whether the run was ended in order.
    pub ended: bool,
    /// Where several boards make one bench: how.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub together: Option<Together>,
    /// When people were told to switch the lamp.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub cues: Vec<Cued>,
    /// Moments that people marked, in seconds of the run.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub moments_s: Vec<f64>,
}

/// How several boards' rows were joined (`--together`).
#[derive(Debug, Clone, PartialEq, serde::Serialize)]
pub struct Together {
    /// Boards.
    pub boards: usize,
    /// Step of the common grid in seconds.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub step_s: Option<f64>,
    /// Rows of a board further apart than so many of its usual intervals have nothing between them.
    pub longest_pause_intervals: f64,
}

/// What each board says, behind each other; none if none says anything.
pub(super) fn in_words<'a>(
    boards: impl Iterator<Item = &'a Sampler>,
    say: impl Fn(&Sampler) -> Option<String>,
) -> Option<String> {
    let words: Vec<String> = boards.filter_map(say).collect();
    (!words.is_empty()).then(|| words.join(", "))
}

/// `run.toml`.
pub(super) fn settings_toml(setup: &RunSetup, found: &Found, names: &[String]) -> String {
    #[derive(serde::Serialize)]
    struct Settings<'a> {
        program: &'a str,
        name: &'a str,
        samples: &'a [String],
        found: &'a Found,
        plan: &'a super::plan::Plan,
        lags: &'a Lags,
        probes: &'a crate::probe::ProbeSetup,
        #[serde(skip_serializing_if = "<[_]>::is_empty")]
        calibrated: &'a [crate::calibrate::Applied],
    }
    let settings = Settings {
        program: &setup.program,
        name: &setup.name,
        samples: names,
        found,
        plan: &setup.plan,
        lags: &setup.lags,
        probes: &setup.sampler.probes,
        calibrated: &setup.calibrations,
    };
    let head = "# Settings of this run, as asked and as found. The journal is the record; this file is\n\
                # for people, and `duskmark rebuild` writes it anew.\n";
    format!("{head}{}", toml::to_string(&settings).unwrap_or_default())
}

/// Whether a run's port is none: a virtual bench, whose readings are invented.
#[must_use]
pub fn is_virtual_port(port: &str) -> bool {
    port == "virtual" || port.starts_with("virtual:") || port.starts_with("virtual-")
}
