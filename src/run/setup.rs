//! What a run must know to be derived again from its journal.

use super::plan::Plan;
use crate::calibrate::{Applied, Lag, TRANSFER};
use crate::lamp::LampOptions;
use crate::sampler::SamplerSetup;

/// Everything beside the bytes. The journal's first record holds it as JSON.
#[derive(Debug, Clone, PartialEq, Default, serde::Serialize, serde::Deserialize)]
pub struct RunSetup {
    /// Version of the program that made the run.
    pub program: String,
    /// The run's name, as people gave it.
    pub name: String,
    /// Samples, probes and line speed.
    pub sampler: SamplerSetup,
    /// What was planned.
    pub plan: Plan,
    /// Lags that were declared.
    pub lags: Lags,
    /// What calibrations say of each channel, in full: the readings are corrected by it, and nothing
    /// else is needed to do it again. Empty where there are none.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub calibrations: Vec<Applied>,
    /// Where several boards make one bench: each of them, in the order of the ports. `sampler` then
    /// holds the names of all samples.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub together: Vec<Part>,
    /// How far the clocks of the place are ahead of UTC, in seconds, where the computer knows: people are
    /// told times by them.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub utc_offset_s: Option<i32>,
}

/// One of several boards that make one bench.
#[derive(Debug, Clone, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct Part {
    /// Its number of channels.
    pub channels: usize,
    /// Its samples, probes and line speed.
    pub sampler: SamplerSetup,
}

impl RunSetup {
    /// The probes' lags by their calibrations; none unless every channel's is known.
    #[must_use]
    pub fn calibrated_lags(&self) -> Option<Vec<Lag>> {
        let lags: Option<Vec<Lag>> = self.calibrations.iter().map(|one| one.lag).collect();
        lags.filter(|lags| !lags.is_empty())
    }

    /// The probes' lags in seconds: as declared, else as calibrated.
    #[must_use]
    pub fn probe_lags_s(&self) -> Option<Vec<f64>> {
        let calibrated = || {
            Some(
                self.calibrated_lags()?
                    .iter()
                    .map(|lag| lag.tau_s)
                    .collect(),
            )
        };
        self.lags.probe_s.clone().or_else(calibrated)
    }
}

impl RunSetup {
    /// What is known of lags, for who looks for edges. A lag that was measured in water is less well
    /// known on a sample.
    #[must_use]
    pub fn lamp_options(&self) -> LampOptions {
        let measured = || {
            let lags = self.calibrated_lags()?.into_iter();
            Some(
                lags.map(|lag| lag.u_s.hypot(TRANSFER * lag.tau_s))
                    .collect(),
            )
        };
        LampOptions {
            probe_lag_s: self.probe_lags_s(),
            probe_lag_u_s: if self.lags.probe_s.is_some() {
                None
            } else {
                measured()
            },
            lamp_lag_s: self.lags.lamp_s,
            logged: true,
        }
    }
}

impl Lags {
    /// These, where they are declared, else those of `other`.
    #[must_use]
    pub fn over(&self, other: &Self) -> Self {
        Self {
            probe_s: self.probe_s.clone().or_else(|| other.probe_s.clone()),
            lamp_s: self.lamp_s.or(other.lamp_s),
        }
    }
}

/// First-order lags that people declared, in seconds.
#[derive(Debug, Clone, PartialEq, Default, serde::Serialize, serde::Deserialize)]
#[serde(default)]
pub struct Lags {
    /// Of the probes: one for all, or one for each channel.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub probe_s: Option<Vec<f64>>,
    /// Of the lamp.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub lamp_s: Option<f64>,
}
