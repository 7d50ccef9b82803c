//! What follows from a run or a table, for people and as JSON.

use std::path::Path;

use super::duration::clock;
use super::exit::{Code, Failure};
use super::text::{aligned, as_word, folded, printable, shortened, wrapped};
use super::{out, say};
use crate::analysis::{self, Phase, Sample, Series, Summary};
use crate::calibrate::Applied;
use crate::graph;
use crate::lamp::{Edge, Kind};
use crate::run::{Derived, is_virtual_port};

/// Marks shown on a terminal at most; the file has them all.
const MOST_MARKS_SHOWN: usize = 40;

/// Shows a finished run: its results on standard output, its folder.
pub(super) fn show_run(folder: &Path, derived: &Derived, json: bool, quiet: bool) {
    if let Err(failure) = write_graph(folder, derived) {
        super::print_failure(&failure);
    }
    if json {
        // In its folder the summary speaks of its readings; among others, of its folder.
        show_json(&Summary {
            source: folder.display().to_string(),
            ..derived.summary.clone()
        });
        return;
    }
    if quiet {
        return;
    }
    out(&format!("== {}\n", printable(&derived.title())));
    let known = Probes::of(&derived.series, &derived.setup.calibrations);
    let text = summary_text(&derived.summary, known);
    out(&text);
    if !text.ends_with("\n\n") {
        out("\n");
    }
    out(&format!("{}\n", printable(&folder.display().to_string())));
    out(&contents(folder));
    if !derived.damage.is_empty() {
        let n = derived.damage.len();
        say(&format!(
            "The journal is damaged in {n} place(s); all that could be read is used."
        ));
    }
}

/// One JSON object on a line of its own.
pub(super) fn show_json(summary: &Summary) {
    out(&format!(
        "{}\n",
        serde_json::to_string(summary).unwrap_or_default()
    ));
}

/// Exit 4: finished, but data are missing.
pub(super) fn incomplete() -> Failure {
    Failure::new(
        Code::Incomplete,
        "the run is finished, but data are missing in it",
    )
    .advise("events.csv tells when and why; the rows that are there are sound.")
}

/// Draws the run's graph into its folder.
fn write_graph(folder: &Path, derived: &Derived) -> Result<(), Failure> {
    let (series, summary) = (&derived.series, &derived.summary);
    let title = derived.title();
    let path = folder.join("graph.svg");
    let picture = graph::Picture {
        is_invented: is_virtual_port(&derived.found.port),
        ..graph::of_series(title, series, summary)
    };
    let svg = graph::svg(&picture, &graph::Style::default());
    std::fs::write(&path, svg).map_err(|error| {
        let message = format!("{} cannot be written: {error}", path.display());
        Failure::new(Code::Failed, message)
    })
}

/// All that a summary says, in words and tables.
///
/// `known`: what the uncertainties hold of the probes themselves.
pub(super) fn summary_text(summary: &Summary, known: Probes) -> String {
    let mut text = match summary.rows {
        1 => "1 row".to_owned(),
        n => format!("{n} rows"),
    };
    if let Some(interval_s) = summary.interval_s {
        text.push_str(&format!(", one every {}", seconds(interval_s)));
    }
    text.push_str(".\n\n");
    text.push_str(&lamp_text(summary));
    text.push_str(&samples_text(summary, known));
    text.push_str(&marks_text(summary));
    text.push_str(&comparison_text(summary));
    for warning in &summary.warnings {
        text.push_str(&wrapped(&format!(
            "Note: {}",
            printable(&warning.to_string())
        )));
    }
    text
}

fn seconds(s: f64) -> String {
    if s < 1.0 {
        format!("{:.0} ms", s * 1000.0)
    } else if s < 60.0 {
        format!("{} s", analysis::rounded(s, s / 100.0).0)
    } else {
        clock(s)
    }
}

/// A time as on a stop watch, which may be before its zero: `-0:13`.
fn signed(s: f64) -> String {
    let sign = if s <= -0.5 { "-" } else { "" };
    format!("{sign}{}", clock(s.abs()))
}

fn lamp_text(summary: &Summary) -> String {
    let edges = &summary.lamp;
    if edges.is_empty() {
        return "Lamp: no switching seen.\n\n".into();
    }
    let mut rows = Vec::new();
    for edge in edges {
        let word = match edge.edge {
            Kind::On => "Lamp on",
            Kind::Off => "Lamp off",
        };
        let told = |s: f64| analysis::instant(s, analysis::reach_s(edge));
        rows.push(vec![
            word.to_owned(),
            format!("{} s", told(edge.at_s)),
            format!("({})", signed(edge.at_s)),
            format!("{} s to {} s", told(edge.low_s), told(edge.high_s)),
            format!("at {:.0} %", edge.level * 100.0),
            beside_plan(summary, edge),
        ]);
    }
    format!("{}\n", aligned(&rows))
}

/// `4.2 s after the plan`; empty where nobody was told when.
fn beside_plan(summary: &Summary, edge: &Edge) -> String {
    let late_s = summary.planned_of(edge).and_then(|p| p.late_s);
    late_s.map_or(String::new(), |late_s| {
        match analysis::instant(late_s, analysis::reach_s(edge)).as_str() {
            "0" | "0.0" => "on the plan".to_owned(),
            late => match late.strip_prefix('-') {
                Some(early) => format!("{early} s before the plan"),
                None => format!("{late} s after the plan"),
            },
        }
    })
}

/// What ± says, once in a printout.
pub(super) const PLUS_MINUS: &str = "±: the true value lies within this with some 95 % confidence \
(expanded uncertainty, k = 2)";

/// One value with what it is known within, rounded to two digits of that.
fn value(value: Option<f64>, u: Option<f64>) -> String {
    match (value, u) {
        (Some(value), Some(u)) if u > 0.0 => analysis::plus_minus(value, u),
        (Some(value), _) => format!("{value:.2}"),
        (None, _) => "-".into(),
    }
}

/// One of a sample's values.
type Pick = fn(&analysis::SampleValues) -> Option<f64>;

fn samples_text(summary: &Summary, known: Probes) -> String {
    if summary.samples.is_empty() {
        return String::new();
    }
    let lines: [(&str, Pick); 12] = [
        ("start / °C", |v| v.start_degc),
        ("peak / °C", |v| v.peak_degc),
        ("end / °C", |v| v.end_degc),
        ("rise / °C", |v| v.rise_degc),
        ("fall / °C", |v| v.fall_degc),
        ("initial heating rate / (°C/min)", |v| {
            v.heating_rate_degc_per_min
        }),
        ("initial cooling rate / (°C/min)", |v| {
            v.cooling_rate_degc_per_min
        }),
        ("time constant / s", |v| v.time_constant_s),
        ("cools towards / °C", |v| v.air_degc),
        ("lowest / °C", |v| v.lowest_degc),
        ("highest / °C", |v| v.highest_degc),
        ("mean over time / °C", |v| v.mean_degc),
    ];
    let names = summary.samples.iter().map(|s: &Sample| shortened(&s.name));
    let mut rows = vec![
        std::iter::once(String::new())
            .chain(names)
            .collect::<Vec<_>>(),
    ];
    // With a lamp the last three say nothing that start, peak and end do not say better.
    let count = if summary.lamp.is_empty() { 12 } else { 9 };
    for (title, pick) in lines.into_iter().take(count) {
        // Without a lamp most of these cannot be: rows of dashes would hide what is there.
        if summary.samples.iter().all(|s| pick(&s.values).is_none()) {
            continue;
        }
        let cells = summary
            .samples
            .iter()
            .map(|s| value(pick(&s.values), pick(&s.u)));
        rows.push(std::iter::once(title.to_owned()).chain(cells).collect());
    }
    let of = match known {
        Probes::Known => "It counts scatter, resolution and probe.",
        Probes::Matched => {
            "It counts scatter, resolution and how well the probes agree, not what all of them are \
             off by together."
        }
        Probes::Unknown => "It counts scatter and resolution, not what a probe is off by.",
    };
    let table = folded(&rows, 1);
    format!("{table}{}\n", wrapped(&format!("{PLUS_MINUS}. {of}")))
}

/// What is known of the probes themselves.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Probes {
    /// Nothing.
    Unknown,
    /// How well they agree with each other, by a match in one bath.
    Matched,
    /// What each reads off by, by a calibration or a stated tolerance.
    Known,
}

impl Probes {
    /// What uncertainties of a series hold, given what its readings were corrected by.
    pub(super) fn of(series: &Series, applied: &[Applied]) -> Self {
        let is_match = |one: &Applied| one.correction.is_some() && !one.is_absolute;
        match series.channels.iter().any(|c| c.u_common_degc.is_some()) {
            false => Self::Unknown,
            true if applied.iter().any(is_match) => Self::Matched,
            true => Self::Known,
        }
    }
}

fn marks_text(summary: &Summary) -> String {
    if summary.marks.is_empty() {
        return String::new();
    }
    let names = summary
        .samples
        .iter()
        .map(|s| format!("{} / °C", shortened(&s.name)));
    let mut rows = vec![
        ["mark".to_owned(), "phase".to_owned()]
            .into_iter()
            .chain(names)
            .collect::<Vec<_>>(),
    ];
    for mark in summary.marks.iter().take(MOST_MARKS_SHOWN) {
        let time = signed(mark.at_s - summary.zero_s);
        let mut row = vec![time, mark.phase.map_or("-", Phase::word).to_owned()];
        row.extend(
            mark.degc
                .iter()
                .zip(&mark.u_degc)
                .map(|(&v, &u)| value(v, u)),
        );
        rows.push(row);
    }
    let left = summary.marks.len().saturating_sub(MOST_MARKS_SHOWN);
    let more = match left {
        0 => String::new(),
        n => format!("  … {n} more in marks.csv\n"),
    };
    format!("{}{more}\n", folded(&rows, 2))
}

/// What the ratio of the initial rates says, and what it does not: the reasons, and the source of
/// the handbook values, are in the docs of `analysis::Comparison`.
const NOT_HEAT_CAPACITY: &str = "What that says: initial rate = absorbed power per area / heat \
capacity per area. Samples that absorb alike and warm to one depth would have initial rates in the \
inverse ratio of their volumetric heat capacities. Colour, wetness (evaporation) and thickness \
break that, so this ratio alone cannot tell heat capacities apart. Handbook values in MJ/(m³·K): \
water 4.2, saturated peat 4.0, dry peat 0.25, quartz 2.1, clay mineral 2.4.";

fn comparison_text(summary: &Summary) -> String {
    let Some(comparison) = &summary.comparison else {
        return String::new();
    };
    let order: Vec<String> = comparison.order.iter().map(|n| printable(n)).collect();
    let rises = summary.samples.iter().filter_map(|s| s.values.rise_degc);
    let mut text = if rises.fold(0.0, f64::max) > 0.0 {
        format!("Warmed most to least: {}.\n", order.join(", "))
    } else {
        "No sample warmed.\n".to_owned()
    };
    let ratios = [
        (
            "largest rise over smallest",
            comparison.rise_ratio,
            comparison.u.rise_ratio,
        ),
        (
            "their initial heating rates",
            comparison.initial_rate_ratio,
            comparison.u.initial_rate_ratio,
        ),
    ];
    let rows: Vec<Vec<String>> = ratios
        .iter()
        .filter(|(_, ratio, _)| ratio.is_some())
        .map(|&(title, ratio, u)| vec![title.to_owned(), value(ratio, u)])
        .collect();
    text.push_str(&aligned(&rows));
    if comparison.initial_rate_ratio.is_some() {
        text.push_str(&wrapped(NOT_HEAT_CAPACITY));
    }
    if let Some(prediction) = &comparison.prediction {
        let outcome = match prediction.right {
            Some(true) => "It was right.",
            Some(false) => "It was not right.",
            None => "Whether it was right is open.",
        };
        let name = printable(&prediction.sample);
        text.push_str(&format!("\nPredicted to warm most: {name}. {outcome}"));
    }
    if !comparison.predictions.is_empty() {
        text.push_str("\nPredicted to warm most:\n");
        text.push_str(&groups_text(&comparison.predictions));
    }
    text.push('\n');
    text
}

/// What each group said, and whether that was right.
fn groups_text(predictions: &[analysis::GroupPrediction]) -> String {
    let row = |made: &analysis::GroupPrediction| {
        let outcome = match made.prediction.right {
            Some(true) => "right",
            Some(false) => "not right",
            None => "open",
        };
        let group = format!("group {}", printable(&made.group));
        vec![
            group,
            shortened(&made.prediction.sample),
            outcome.to_owned(),
        ]
    };
    aligned(&predictions.iter().map(row).collect::<Vec<_>>())
}

/// What to do with a run that was logged.
pub(super) fn next(folder: &Path) {
    let folder = as_word(folder);
    out(&format!(
        "\nA page, a picture and a workbook of it:\n  duskmark report {folder}\n"
    ));
}

/// The files of a folder with their sizes.
fn contents(folder: &Path) -> String {
    let mut names: Vec<(String, u64)> = std::fs::read_dir(folder)
        .into_iter()
        .flatten()
        .flatten()
        .filter_map(|entry| {
            let size = entry.metadata().ok()?.len();
            Some((entry.file_name().into_string().ok()?, size))
        })
        .collect();
    names.sort();
    let rows: Vec<Vec<String>> = names
        .into_iter()
        .map(|(name, bytes)| vec![printable(&name), format!("{bytes} bytes")])
        .collect();
    aligned(&rows)
}

#[cfg(test)]
mod tests {
    use super::signed;

    #[test]
    fn a_time_before_the_first_row_is_told_as_one() {
        for (s, text) in [(-12.7, "-0:13"), (-0.3, "0:00"), (75.2, "1:15")] {
            assert_eq!(signed(s), text);
        }
    }
}
