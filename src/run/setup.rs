//! What a run must know to be derived again from its journal.

use super::plan::Plan;
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
    /// Where several boards make one bench: each of them, in the order of the ports. `sampler` then
    /// holds the names of all samples.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub together: Vec<Part>,
}

/// One of several boards that make one bench.
#[derive(Debug, Clone, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct Part {
    /// Its number of channels.
    pub channels: usize,
    /// Its samples, probes and line speed.
    pub sampler: SamplerSetup,
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
