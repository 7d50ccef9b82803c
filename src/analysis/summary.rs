//! The summary of a run, as it is written.

use serde::{Deserialize, Serialize};

use super::{PlannedEdge, Warning};
use crate::lamp::{Edge, Kind};

/// Name and version of the summary format.
pub const FORMAT: &str = "duskmark-summary-1";

/// Where in the lesson an instant lies.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Phase {
    /// Before the lamp first goes on.
    Settling,
    /// While the lamp is on.
    Heating,
    /// After the lamp went off.
    Cooling,
}

impl Phase {
    /// The word used in files.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Settling => "settling",
            Self::Heating => "heating",
            Self::Cooling => "cooling",
        }
    }
}

/// The phase at `t_s`, given edges in order of time; an edge's own instant belongs to the phase
/// that ends there, as a mark read at lamp-off is the last of the heating.
///
/// A record whose first edge is an off-edge started with the lamp on; one without edges has no
/// lamp to be before or after of, and so no phase.
#[must_use]
pub fn phase_at(t_s: f64, edges: &[Edge]) -> Option<Phase> {
    let first = edges.first()?;
    let passed = edges.iter().take_while(|e| e.at_s < t_s).last();
    Some(match passed.map(|e| e.edge) {
        Some(Kind::On) => Phase::Heating,
        Some(Kind::Off) => Phase::Cooling,
        None if first.edge == Kind::Off => Phase::Heating,
        None => Phase::Settling,
    })
}

/// One sample's numbers; a value that the data cannot support is none.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
pub struct SampleValues {
    /// Temperature before the lamp went on, in °C.
    pub start_degc: Option<f64>,
    /// Highest temperature of the sample in the heating and just after, in °C: ahead of what its lagging
    /// probe shows, by as much as is known of the lag.
    pub peak_degc: Option<f64>,
    /// Temperature of the sample at the end of the record (or of the first cooling), in °C, likewise.
    pub end_degc: Option<f64>,
    /// Peak minus start, in °C.
    pub rise_degc: Option<f64>,
    /// Peak minus end, in °C.
    pub fall_degc: Option<f64>,
    /// Initial rate of heating, in °C per minute.
    pub heating_rate_degc_per_min: Option<f64>,
    /// Initial rate of cooling, in °C per minute, positive while the sample cools.
    pub cooling_rate_degc_per_min: Option<f64>,
    /// Time constant of the cooling, in seconds.
    pub time_constant_s: Option<f64>,
    /// Temperature that the cooling tends to, in °C.
    pub air_degc: Option<f64>,
    /// Lowest reading of the whole record, spikes left out, in °C.
    pub lowest_degc: Option<f64>,
    /// Highest reading of the whole record, spikes left out, in °C.
    pub highest_degc: Option<f64>,
    /// Mean over the time of the whole record, gaps left out, in °C.
    pub mean_degc: Option<f64>,
}

/// One sample of the summary: values, and their standard uncertainties under the same keys.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Sample {
    /// The sample's name as people gave it.
    pub name: String,
    /// The values.
    #[serde(flatten)]
    pub values: SampleValues,
    /// Standard uncertainty of each value, in its unit.
    pub u: SampleValues,
}

/// The samples' temperatures at one mark.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Mark {
    /// Instant in seconds of the input's time base.
    pub at_s: f64,
    /// Phase at the mark; none in a record without any edge.
    pub phase: Option<Phase>,
    /// Temperatures in °C, in the order of the samples.
    pub degc: Vec<Option<f64>>,
    /// Their standard uncertainties in °C.
    pub u_degc: Vec<Option<f64>>,
}

/// What was predicted, and how it came out.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Prediction {
    /// Name of the sample that was predicted to warm more.
    pub sample: String,
    /// Whether it did; none if the rises differ by less than their uncertainty.
    pub right: Option<bool>,
}

/// What one group of the class predicted.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Guess {
    /// The group's number or word; never a person's name.
    pub group: String,
    /// Name of the sample that the group thinks will warm most.
    pub sample: String,
}

/// One group's prediction, and how it came out.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct GroupPrediction {
    /// The group's number or word.
    pub group: String,
    /// What it said.
    #[serde(flatten)]
    pub prediction: Prediction,
}

/// Standard uncertainties of the ratios of a [`Comparison`], by first-order propagation.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
pub struct RatioUncertainty {
    /// Of the ratio of the rises, above 0, without unit; none where there is no ratio.
    pub rise_ratio: Option<f64>,
    /// Of the ratio of the initial rates, likewise.
    pub initial_rate_ratio: Option<f64>,
}

/// The samples side by side.
///
/// In the first moments of the heating a sample has lost nothing yet, and warms at
///
/// ```text
/// initial rate = absorbed power per area / heat capacity per area
/// ```
///
/// (energy balance of a lumped body, any heat-transfer textbook; heat capacity per area is
/// volumetric heat capacity × depth that warms). Two samples that absorb alike and warm to the
/// same depth have initial rates in the inverse ratio of their volumetric heat capacities. Real ones
/// differ in colour (absorbed share), wetness (evaporation takes heat away from the first moment),
/// thickness and conductivity (how deep a layer warms). One ratio cannot tell these apart, so no
/// heat capacity is derived from it.
///
/// Handbook values show how far apart heat capacities are by themselves, in 10⁶ J/(m³·K): water
/// 4.18; peat soil of pore fraction 0.9, the nearest to moss in that table, saturated 4.01 and dry
/// 0.25; the minerals quartz 2.13 and clay 2.39, which slate is made of by and large (that last is
/// common knowledge, no source). A. F. Moene and J. C. van Dam, Transport in the
/// Atmosphere-Vegetation-Soil Continuum (Cambridge University Press, 2014), table 2.2.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Comparison {
    /// Names in order of falling rise.
    pub order: Vec<String>,
    /// Largest rise over smallest.
    pub rise_ratio: Option<f64>,
    /// Initial heating rate of the sample with the largest rise over that of the one with the
    /// smallest.
    pub initial_rate_ratio: Option<f64>,
    /// Standard uncertainties of the ratios.
    pub u: RatioUncertainty,
    /// The prediction and its outcome, where one was made.
    pub prediction: Option<Prediction>,
    /// The groups' predictions and their outcomes, in the order in which they were made.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub predictions: Vec<GroupPrediction>,
}

/// Everything that a run's temperatures say.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Summary {
    /// Always [`FORMAT`].
    pub format: &'static str,
    /// Where the data came from, in the caller's words.
    pub source: String,
    /// Rows of the series.
    pub rows: usize,
    /// Typical time between rows, in seconds; none for fewer than two rows.
    pub interval_s: Option<f64>,
    /// Edges of the lamp in order of time.
    pub lamp: Vec<Edge>,
    /// Each switching that was planned, beside what was seen; none unless people were told when.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub planned: Vec<PlannedEdge>,
    /// The samples in the order of the columns.
    pub samples: Vec<Sample>,
    /// The table at the marks.
    pub marks: Vec<Mark>,
    /// The samples compared; none unless at least two have a rise.
    pub comparison: Option<Comparison>,
    /// What the reader should know.
    pub warnings: Vec<Warning>,
    /// Instant in seconds that marks are counted from.
    #[serde(skip)]
    pub zero_s: f64,
    /// Time of the first row in seconds; that of a table may be a time of day.
    #[serde(skip)]
    pub first_s: f64,
}

/// Rows this far apart, in seconds, are read and written down by people, or as seldom as those.
const SPARSE_S: f64 = 30.0;

impl Summary {
    /// Whether its rows are as far apart as those of a table by hand.
    #[must_use]
    pub fn has_sparse_rows(&self) -> bool {
        self.interval_s.is_some_and(|s| s >= SPARSE_S)
    }

    /// The planned switching that an edge of [`lamp`](Self::lamp) answers, if people were told.
    #[must_use]
    pub fn planned_of(&self, edge: &Edge) -> Option<&PlannedEdge> {
        let answers = |p: &&PlannedEdge| p.edge == edge.edge && p.seen_s == Some(edge.at_s);
        self.planned.iter().find(answers)
    }
}
