//! A run's results as tables: a line for each sample, and for each mark and sample.

use std::io;
use std::path::Path;

use serde::Deserialize;

use super::columns::Value;
use super::table::{About, CHANNEL, Layout, PHASE, RUN, SAMPLE, Table};
use crate::analysis::{Sample, SampleValues};
use crate::run::name;

/// A line for each sample of a run.
pub(super) const SAMPLES: Layout = Layout {
    format: "duskmark-samples-1",
    columns: &[
        RUN,
        SAMPLE,
        About::text("name", "Name of the sample as given"),
        CHANNEL,
        About::count("rows", "Rows of the run"),
        About::number(
            "lamp_on_s",
            "s",
            "When the lamp went on, since the run's start",
        ),
        About::number(
            "lamp_off_s",
            "s",
            "When the lamp went off, since the run's start",
        ),
        About::number("start_degc", "Cel", "Before the lamp"),
        About::number("peak_degc", "Cel", "Highest under the lamp"),
        About::number("end_degc", "Cel", "At the end"),
        About::number("rise_degc", "K", "From start to peak"),
        About::number("fall_degc", "K", "From peak to end"),
        About::number("heating_rate_degc_per_min", "K/min", "Initial heating rate"),
        About::number("cooling_rate_degc_per_min", "K/min", "Initial cooling rate"),
        About::number("time_constant_s", "s", "Of the cooling"),
        About::number("air_degc", "Cel", "What it cools towards"),
        About::number("lowest_degc", "Cel", "Lowest of the run"),
        About::number("highest_degc", "Cel", "Highest of the run"),
        About::number("mean_degc", "Cel", "Mean over time"),
        About::number("u_start_degc", "K", "Standard uncertainty"),
        About::number("u_peak_degc", "K", "Standard uncertainty"),
        About::number("u_end_degc", "K", "Standard uncertainty"),
        About::number("u_rise_degc", "K", "Standard uncertainty"),
        About::number("u_fall_degc", "K", "Standard uncertainty"),
        About::number(
            "u_heating_rate_degc_per_min",
            "K/min",
            "Standard uncertainty",
        ),
        About::number(
            "u_cooling_rate_degc_per_min",
            "K/min",
            "Standard uncertainty",
        ),
        About::number("u_time_constant_s", "s", "Standard uncertainty"),
        About::number("u_air_degc", "K", "Standard uncertainty"),
        About::number("u_lowest_degc", "K", "Standard uncertainty"),
        About::number("u_highest_degc", "K", "Standard uncertainty"),
        About::number("u_mean_degc", "K", "Standard uncertainty"),
    ],
};

/// A line for each mark and sample of a run.
pub(super) const MARKS: Layout = Layout {
    format: "duskmark-marks-1",
    columns: &[
        RUN,
        SAMPLE,
        CHANNEL,
        About::number(
            "mark_s",
            "s",
            "Since the lamp went on; without a lamp, since the run's start",
        ),
        About::number("at_s", "s", "Since the run's start"),
        PHASE,
        About::number("degc", "Cel", "Temperature"),
        About::number("u_degc", "K", "Its standard uncertainty"),
    ],
};

/// What `summary.json` says.
#[derive(Debug, Deserialize)]
pub(super) struct Results {
    rows: usize,
    #[serde(default)]
    lamp: Vec<Edge>,
    #[serde(default)]
    samples: Vec<Sample>,
    #[serde(default)]
    marks: Vec<Mark>,
}

#[derive(Debug, Deserialize)]
struct Edge {
    #[serde(rename = "edge")]
    kind: String,
    at_s: f64,
}

#[derive(Debug, Deserialize)]
struct Mark {
    at_s: f64,
    phase: Option<String>,
    degc: Vec<Option<f64>>,
    u_degc: Vec<Option<f64>>,
}

/// Values in the order of their columns.
fn in_order(values: &SampleValues) -> [Option<f64>; 12] {
    [
        values.start_degc,
        values.peak_degc,
        values.end_degc,
        values.rise_degc,
        values.fall_degc,
        values.heating_rate_degc_per_min,
        values.cooling_rate_degc_per_min,
        values.time_constant_s,
        values.air_degc,
        values.lowest_degc,
        values.highest_degc,
        values.mean_degc,
    ]
}

impl Results {
    pub(super) fn in_folder(folder: &Path) -> Option<Self> {
        let text = std::fs::read_to_string(folder.join(name::SUMMARY)).ok()?;
        serde_json::from_str(&text).ok()
    }

    pub(super) fn names(&self) -> Vec<&str> {
        self.samples.iter().map(|s| s.name.as_str()).collect()
    }

    fn edge(&self, kind: &str) -> Option<f64> {
        let edge = self.lamp.iter().find(|edge| edge.kind == kind)?;
        Some(edge.at_s)
    }

    pub(super) fn samples(
        &self,
        table: &mut Table<'_>,
        run: &str,
        slugs: &[String],
    ) -> io::Result<()> {
        let rows = self.rows;
        for (channel, (sample, slug)) in self.samples.iter().zip(slugs).enumerate() {
            let whose = [
                Value::Text(run),
                Value::Text(slug),
                Value::Text(&sample.name),
                Value::Count(channel + 1),
                Value::Count(rows),
            ];
            let numbers = [self.edge("on"), self.edge("off")]
                .into_iter()
                .chain(in_order(&sample.values))
                .chain(in_order(&sample.u))
                .map(Value::Number);
            table.line(whose.into_iter().chain(numbers))?;
        }
        Ok(())
    }

    pub(super) fn marks(
        &self,
        table: &mut Table<'_>,
        run: &str,
        slugs: &[String],
    ) -> io::Result<()> {
        let zero_s = self.edge("on").unwrap_or(0.0);
        for mark in &self.marks {
            for (channel, slug) in slugs.iter().enumerate() {
                let of_channel = |values: &[Option<f64>]| values.get(channel).copied().flatten();
                table.line([
                    Value::Text(run),
                    Value::Text(slug),
                    Value::Count(channel + 1),
                    Value::Number(Some(mark.at_s - zero_s)),
                    Value::Number(Some(mark.at_s)),
                    Value::Text(mark.phase.as_deref().unwrap_or_default()),
                    Value::Number(of_channel(&mark.degc)),
                    Value::Number(of_channel(&mark.u_degc)),
                ])?;
            }
        }
        Ok(())
    }
}
