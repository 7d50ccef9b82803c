//! A run's results as tables: a line for each sample, and for each mark and sample.

use std::io;
use std::path::Path;

use arrow_array::ArrayRef;
use serde::Deserialize;

use super::columns::{Counts, Kind, Numbers, Texts};
use super::table::{Layout, Table};
use crate::analysis::{Sample, SampleValues};
use crate::run::name;

/// A line for each sample of a run.
pub(super) const SAMPLES: Layout = Layout {
    format: "duskmark-samples-1",
    columns: &[
        ("run", Kind::Text, None, "Name of the run's folder"),
        (
            "sample",
            Kind::Text,
            None,
            "Name of the sample as a column is named: lower case, ASCII",
        ),
        ("name", Kind::Text, None, "Name of the sample as given"),
        (
            "channel",
            Kind::Count,
            None,
            "Place of the sample on its bench, from 1",
        ),
        ("rows", Kind::Count, None, "Rows of the run"),
        (
            "lamp_on_s",
            Kind::Number,
            Some("s"),
            "When the lamp went on, since the run's start",
        ),
        (
            "lamp_off_s",
            Kind::Number,
            Some("s"),
            "When the lamp went off, since the run's start",
        ),
        ("start_degc", Kind::Number, Some("Cel"), "Before the lamp"),
        (
            "peak_degc",
            Kind::Number,
            Some("Cel"),
            "Highest under the lamp",
        ),
        ("end_degc", Kind::Number, Some("Cel"), "At the end"),
        ("rise_degc", Kind::Number, Some("K"), "From start to peak"),
        ("fall_degc", Kind::Number, Some("K"), "From peak to end"),
        (
            "heating_rate_degc_per_min",
            Kind::Number,
            Some("K/min"),
            "First heating rate",
        ),
        (
            "cooling_rate_degc_per_min",
            Kind::Number,
            Some("K/min"),
            "First cooling rate",
        ),
        ("time_constant_s", Kind::Number, Some("s"), "Of the cooling"),
        (
            "air_degc",
            Kind::Number,
            Some("Cel"),
            "What it cools towards",
        ),
        (
            "lowest_degc",
            Kind::Number,
            Some("Cel"),
            "Lowest of the run",
        ),
        (
            "highest_degc",
            Kind::Number,
            Some("Cel"),
            "Highest of the run",
        ),
        ("mean_degc", Kind::Number, Some("Cel"), "Mean over time"),
        (
            "u_start_degc",
            Kind::Number,
            Some("K"),
            "Standard uncertainty",
        ),
        (
            "u_peak_degc",
            Kind::Number,
            Some("K"),
            "Standard uncertainty",
        ),
        (
            "u_end_degc",
            Kind::Number,
            Some("K"),
            "Standard uncertainty",
        ),
        (
            "u_rise_degc",
            Kind::Number,
            Some("K"),
            "Standard uncertainty",
        ),
        (
            "u_fall_degc",
            Kind::Number,
            Some("K"),
            "Standard uncertainty",
        ),
        (
            "u_heating_rate_degc_per_min",
            Kind::Number,
            Some("K/min"),
            "Standard uncertainty",
        ),
        (
            "u_cooling_rate_degc_per_min",
            Kind::Number,
            Some("K/min"),
            "Standard uncertainty",
        ),
        (
            "u_time_constant_s",
            Kind::Number,
            Some("s"),
            "Standard uncertainty",
        ),
        (
            "u_air_degc",
            Kind::Number,
            Some("K"),
            "Standard uncertainty",
        ),
        (
            "u_lowest_degc",
            Kind::Number,
            Some("K"),
            "Standard uncertainty",
        ),
        (
            "u_highest_degc",
            Kind::Number,
            Some("K"),
            "Standard uncertainty",
        ),
        (
            "u_mean_degc",
            Kind::Number,
            Some("K"),
            "Standard uncertainty",
        ),
    ],
};

/// A line for each mark and sample of a run.
pub(super) const MARKS: Layout = Layout {
    format: "duskmark-marks-1",
    columns: &[
        ("run", Kind::Text, None, "Name of the run's folder"),
        (
            "sample",
            Kind::Text,
            None,
            "Name of the sample as a column is named: lower case, ASCII",
        ),
        (
            "channel",
            Kind::Count,
            None,
            "Place of the sample on its bench, from 1",
        ),
        (
            "mark_s",
            Kind::Number,
            Some("s"),
            "Since the lamp went on; without a lamp, since the run's start",
        ),
        ("at_s", Kind::Number, Some("s"), "Since the run's start"),
        (
            "phase",
            Kind::Text,
            None,
            "What the lamp did: settling, heating or cooling",
        ),
        ("degc", Kind::Number, Some("Cel"), "Temperature"),
        (
            "u_degc",
            Kind::Number,
            Some("K"),
            "Its standard uncertainty",
        ),
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
        let (mut runs, mut keys, mut names) =
            (Texts::default(), Texts::default(), Texts::default());
        let (mut channels, mut rows) = (Counts::default(), Counts::default());
        let mut numbers: Vec<Numbers> = std::iter::repeat_with(Numbers::default).take(26).collect();
        for (channel, (sample, slug)) in self.samples.iter().zip(slugs).enumerate() {
            runs.push(run);
            keys.push(slug);
            names.push(&sample.name);
            channels.push(channel + 1);
            rows.push(self.rows);
            let values = [self.edge("on"), self.edge("off")]
                .into_iter()
                .chain(in_order(&sample.values))
                .chain(in_order(&sample.u));
            for (column, value) in numbers.iter_mut().zip(values) {
                column.push(value);
            }
        }
        let before = [
            runs.take(),
            keys.take(),
            names.take(),
            channels.take(),
            rows.take(),
        ];
        let columns = before
            .into_iter()
            .chain(numbers.iter_mut().map(Numbers::take));
        table.add(columns.collect::<Vec<ArrayRef>>())
    }

    pub(super) fn marks(
        &self,
        table: &mut Table<'_>,
        run: &str,
        slugs: &[String],
    ) -> io::Result<()> {
        let (mut runs, mut keys, mut phases) =
            (Texts::default(), Texts::default(), Texts::default());
        let mut channels = Counts::default();
        let [mut mark_s, mut at_s, mut degc, mut u_degc] =
            std::array::from_fn(|_| Numbers::default());
        let zero_s = self.edge("on").unwrap_or(0.0);
        for mark in &self.marks {
            for (channel, slug) in slugs.iter().enumerate() {
                runs.push(run);
                keys.push(slug);
                channels.push(channel + 1);
                mark_s.push(Some(mark.at_s - zero_s));
                at_s.push(Some(mark.at_s));
                phases.push(mark.phase.as_deref().unwrap_or_default());
                degc.push(mark.degc.get(channel).copied().flatten());
                u_degc.push(mark.u_degc.get(channel).copied().flatten());
            }
        }
        table.add(vec![
            runs.take(),
            keys.take(),
            channels.take(),
            mark_s.take(),
            at_s.take(),
            phases.take(),
            degc.take(),
            u_degc.take(),
        ])
    }
}
