//! A finished run's `summary.json`, as far as the page shows it.

use serde::Deserialize;

use crate::analysis::{GroupPrediction, Sample};
use crate::graph::{EdgeKind, LampEdge};

/// What the page shows of a summary.
#[derive(Debug, Clone, Deserialize)]
pub(super) struct Results {
    #[serde(default)]
    lamp: Vec<Edge>,
    #[serde(default)]
    pub(super) samples: Vec<Sample>,
    #[serde(default)]
    marks: Vec<At>,
    #[serde(default)]
    comparison: Option<Comparison>,
    /// What the reader should know.
    #[serde(default)]
    pub(super) warnings: Vec<String>,
}

#[derive(Debug, Clone, Deserialize)]
struct Comparison {
    #[serde(default)]
    predictions: Vec<GroupPrediction>,
}

#[derive(Debug, Clone, Deserialize)]
struct Edge {
    #[serde(rename = "edge")]
    kind: String,
    at_s: f64,
    low_s: f64,
    high_s: f64,
}

#[derive(Debug, Clone, Deserialize)]
struct At {
    at_s: f64,
}

impl Results {
    /// The results in a text; none if it holds none.
    pub(super) fn of(text: &str) -> Option<Self> {
        serde_json::from_str(text).ok()
    }

    /// When the lamp was switched.
    pub(super) fn edges(&self) -> Vec<LampEdge> {
        let edge = |e: &Edge| LampEdge {
            kind: if e.kind == "on" {
                EdgeKind::On
            } else {
                EdgeKind::Off
            },
            at_s: e.at_s,
            low_s: e.low_s,
            high_s: e.high_s,
        };
        self.lamp.iter().map(edge).collect()
    }

    /// What groups predicted, and how it came out.
    pub(super) fn predictions(&self) -> &[GroupPrediction] {
        self.comparison.as_ref().map_or(&[], |c| &c.predictions)
    }

    /// Where marks are counted from, in seconds: the lamp's first on-edge.
    pub(super) fn zero_s(&self) -> f64 {
        self.lamp
            .iter()
            .find(|e| e.kind == "on")
            .map_or(0.0, |e| e.at_s)
    }

    /// Instants of the marks in seconds.
    pub(super) fn marks_s(&self) -> Vec<f64> {
        self.marks.iter().map(|m| m.at_s).collect()
    }
}
