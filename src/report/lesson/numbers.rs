//! The numbers with their uncertainties, for the teacher.

use super::super::page::{Cell, Markup, Table};
use super::super::words::{Scale, Value};
use super::Told;
use super::dashes::Dashes;
use super::happened::percent;
use crate::analysis::{SampleValues, Warning, instant, reach_s};
use crate::lamp::Kind;

/// One of a sample's values.
type Pick = fn(&SampleValues) -> Option<f64>;

/// A line of the table: its heading, what the doubts call the value (empty: nothing of its own),
/// the value, and what it measures.
type Line = (&'static str, &'static str, Pick, Scale);

/// The values that speak of a lamp.
const OF_LAMP: [Line; 9] = [
    (
        "report-value-start",
        "start temperature",
        |v| v.start_degc,
        Scale::Temperature,
    ),
    (
        "report-value-peak",
        "peak temperature",
        |v| v.peak_degc,
        Scale::Temperature,
    ),
    ("report-value-end", "", |v| v.end_degc, Scale::Temperature),
    ("report-value-rise", "", |v| v.rise_degc, Scale::Difference),
    ("report-value-fall", "", |v| v.fall_degc, Scale::Difference),
    (
        "report-value-heating",
        "heating rate",
        |v| v.heating_rate_degc_per_min,
        Scale::Difference,
    ),
    (
        "report-value-cooling",
        "cooling rate",
        |v| v.cooling_rate_degc_per_min,
        Scale::Difference,
    ),
    (
        "report-value-constant",
        "time constant",
        |v| v.time_constant_s,
        Scale::Other,
    ),
    (
        "report-value-air",
        "time constant",
        |v| v.air_degc,
        Scale::Temperature,
    ),
];

/// The values of any record.
const OF_ALL: [Line; 3] = [
    (
        "report-value-lowest",
        "",
        |v| v.lowest_degc,
        Scale::Temperature,
    ),
    (
        "report-value-highest",
        "",
        |v| v.highest_degc,
        Scale::Temperature,
    ),
    ("report-value-mean", "", |v| v.mean_degc, Scale::Temperature),
];

/// So many samples have room on paper in letters of the usual size.
const ROOMY: usize = 4;

impl Told<'_> {
    /// Values of each sample, ratios, and the lamp's instants.
    pub(super) fn numbers(&self, page: &mut Markup) {
        let words = &self.words;
        page.section("", &words.say("report-numbers"), |part| {
            let mut dashes = Dashes::default();
            self.wide(part, &self.values_table(&mut dashes));
            dashes.explain(words, part);
            part.list(&self.ratios());
            if !self.summary().lamp.is_empty() {
                part.block("keep", |kept| kept.table(&self.lamp_table()));
            }
        });
    }

    /// A table with a column for each sample; many of them are printed smaller.
    pub(super) fn wide(&self, page: &mut Markup, table: &Table) {
        if self.labels.len() > ROOMY {
            page.block("many", |block| block.table(table));
        } else {
            page.table(table);
        }
    }

    fn values_table(&self, dashes: &mut Dashes) -> Table {
        let words = &self.words;
        let lamp = !self.summary().lamp.is_empty();
        let lines: &[Line] = if lamp { &OF_LAMP } else { &[] };
        // With a lamp the others say nothing that start, peak and end do not say better.
        let others: &[Line] = if lamp { &[] } else { &OF_ALL };
        let lines = lines.iter().chain(others);
        let rows = lines.map(|(key, what, pick, scale)| {
            let cells = self.summary().samples.iter().map(|sample| {
                Cell::number(match pick(&sample.values) {
                    Some(value) => {
                        let u = pick(&sample.u).unwrap_or(f64::NAN);
                        let u = words.scaled(scale.of_uncertainty(), u);
                        words.measured(words.scaled(*scale, value), u)
                    }
                    None => dashes.dash(self.why_none(&sample.name, what)),
                })
            });
            std::iter::once(Cell::heading(words.say(key)))
                .chain(cells)
                .collect()
        });
        let rows = rows.collect();
        let calibrated = &self.lesson.record.calibration_u_degc;
        let calibrated = !calibrated.is_empty() && calibrated.iter().all(Option::is_some);
        let heads = self
            .labels
            .iter()
            .map(|label| Cell::heading(label.as_str()));
        // Said where it stands first: at the table of marks, if there is one.
        let plus_minus = if self.summary().marks.is_empty() {
            words.say("report-plus-minus") + " "
        } else {
            String::new()
        };
        Table {
            name: String::new(),
            caption: plus_minus
                + &words.say(match calibrated {
                    true if self.lesson.record.is_matched_only.contains(&true) => {
                        "report-numbers-caption-matched"
                    }
                    true => "report-numbers-caption-calibrated",
                    false => "report-numbers-caption",
                }),
            head: vec![std::iter::once(Cell::heading("")).chain(heads).collect()],
            rows,
        }
    }

    /// Why a sample's value is not there: the doubt that names it, else the one that empties it.
    fn why_none(&self, name: &str, what: &str) -> String {
        let own = |w: &&Warning| match w {
            Warning::NoValues { sample } => sample == name,
            Warning::NoValue {
                sample, what: of, ..
            } => sample == name && *of == what,
            _ => false,
        };
        let all = |w: &&Warning| {
            matches!(
                w,
                Warning::NoEdge | Warning::NeverOff | Warning::OnFromStart
            )
        };
        let part = |w: &&Warning| matches!(w, Warning::NoValue { sample, .. } if sample == name);
        let warnings = &self.summary().warnings;
        let known = warnings.iter().find(own);
        let known = known.or_else(|| warnings.iter().find(all));
        match known.or_else(|| warnings.iter().find(part)) {
            Some(doubt) => self.words.doubt(doubt),
            None => self.named("note-no-value", name),
        }
    }

    fn ratios(&self) -> Vec<String> {
        let words = &self.words;
        let ranked = self.compared();
        let (Some(comparison), [most, .., least]) = (&self.summary().comparison, ranked.as_slice())
        else {
            return Vec::new();
        };
        let measured = |ratio: Option<f64>, u: Option<f64>| {
            ratio.map(|ratio| words.measured(ratio, u.unwrap_or(f64::NAN)))
        };
        let rise = measured(comparison.rise_ratio, comparison.u.rise_ratio).map(|ratio| {
            let values = [
                ("most", Value::Name(self.label(most.0))),
                ("least", Value::Name(self.label(least.0))),
                ("ratio", Value::Text(&ratio)),
            ];
            words.tell("report-ratio-rise", &values)
        });
        let rate = measured(
            comparison.initial_rate_ratio,
            comparison.u.initial_rate_ratio,
        );
        let rate =
            rate.map(|ratio| words.tell("report-ratio-rate", &[("ratio", Value::Text(&ratio))]));
        let open = self.summary().warnings.iter();
        let open = open.filter(|w| matches!(w, Warning::RatioOpen { .. }));
        let open = open.map(|doubt| words.doubt(doubt));
        rise.into_iter().chain(rate).chain(open).collect()
    }

    /// Keys of what the instants are called: two headings and the caption.
    fn lamp_keys(&self) -> [&'static str; 3] {
        if self.is_by_clock() {
            [
                "report-lamp-at-clock",
                "report-lamp-between-clock",
                "report-lamp-table-by-clock",
            ]
        } else if self.has_own_clock() {
            [
                "report-lamp-at",
                "report-lamp-between",
                "report-lamp-table-by-table",
            ]
        } else {
            ["report-lamp-at", "report-lamp-between", "report-lamp-table"]
        }
    }

    fn lamp_table(&self) -> Table {
        let words = &self.words;
        let edges = &self.summary().lamp;
        let is_planned = !self.summary().planned.is_empty();
        let level = percent(edges.first().map_or(0.95, |edge| edge.level));
        let level = [("level", Value::Number(&level))];
        let by_clock = self.is_by_clock();
        let row = |edge: &crate::lamp::Edge| {
            let seconds = |s: f64| words.number(&instant(s, reach_s(edge)));
            let shown = |s: f64| {
                if by_clock {
                    words.time_of_day(s)
                } else {
                    seconds(s)
                }
            };
            let (low, high) = (shown(edge.low_s), shown(edge.high_s));
            let range = [("low", Value::Text(&low)), ("high", Value::Text(&high))];
            let word = words.say(match edge.edge {
                Kind::On => "report-lamp-on",
                Kind::Off => "report-lamp-off",
            });
            let mut row = vec![
                Cell::heading(word),
                Cell::number(shown(edge.at_s)),
                Cell::number(words.tell("report-lamp-range", &range)),
            ];
            if is_planned {
                let planned = self.summary().planned_of(edge);
                let of_plan = [planned.map(|p| p.planned_s), planned.and_then(|p| p.late_s)];
                row.extend(of_plan.map(|s| Cell::number(s.map_or("–".into(), seconds))));
            }
            row
        };
        let [at, between, caption] = self.lamp_keys();
        let mut head = vec![
            Cell::heading(words.say("report-lamp-edge")),
            Cell::heading(words.say(at)),
            Cell::heading(words.tell(between, &level)),
        ];
        if is_planned {
            let keys = ["report-lamp-planned", "report-lamp-late"];
            head.extend(keys.map(|key| Cell::heading(words.say(key))));
        }
        Table {
            name: String::new(),
            caption: words.say(caption),
            head: vec![head],
            rows: edges.iter().map(row).collect(),
        }
    }
}
