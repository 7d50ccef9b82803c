//! What happened, in words that pupils read.

use super::super::page::Markup;
use super::super::words::{Scale, Value, Words};
use super::Told;
use crate::analysis::{SampleValues, instant, reach_s};
use crate::lamp::{Edge, Kind};

/// Switchings told in sentences; the teacher's table has them all.
const MOST_EDGES: usize = 4;

impl Told<'_> {
    /// When the lamp was switched, how fast each sample warmed and cooled.
    pub(super) fn happened(&self, page: &mut Markup) {
        let words = &self.words;
        let edges = self.summary().lamp.iter().take(MOST_EDGES);
        let mut points: Vec<String> = edges.map(|edge| self.switched(edge)).collect();
        if points.is_empty() {
            points.push(words.say("note-no-edge"));
        }
        let courses = points.len();
        for sample in 0..self.labels.len() {
            points.extend(self.course(sample));
        }
        if points.len() > courses {
            points.push(words.say("report-slowing"));
        }
        page.section("", &words.say("report-happened"), |part| part.list(&points));
    }

    fn switched(&self, edge: &Edge) -> String {
        let words = &self.words;
        let by_clock = self.is_by_clock();
        let shown = |s: f64| {
            if by_clock {
                words.time_of_day(s)
            } else {
                words.clock(s)
            }
        };
        let before = words.duration(libm::round(-edge.at_s));
        let is_before = edge.edge == Kind::On && edge.at_s <= -0.5 && !self.has_own_clock();
        let at = shown(edge.at_s);
        let (low, high) = (shown(edge.low_s), shown(edge.high_s));
        let level = percent(edge.level);
        let mut values = vec![
            ("low", Value::Text(&low)),
            ("high", Value::Text(&high)),
            ("level", Value::Number(&level)),
        ];
        values.push(if is_before {
            ("before", Value::Text(&before))
        } else {
            ("at", Value::Text(&at))
        });
        let key = match edge.edge {
            Kind::On if is_before => "report-lamp-on-before",
            Kind::On if by_clock => "report-lamp-on-at-by-clock",
            Kind::On if self.has_own_clock() => "report-lamp-on-at-by-table",
            Kind::On => "report-lamp-on-at",
            Kind::Off if by_clock => "report-lamp-off-at-by-clock",
            Kind::Off => "report-lamp-off-at",
        };
        let mut said = words.tell(key, &values);
        if let Some(late_s) = self.summary().planned_of(edge).and_then(|p| p.late_s) {
            said = said + " " + &self.beside_plan(&instant(late_s, reach_s(edge)));
        }
        said
    }

    /// How far a switching was from its plan.
    fn beside_plan(&self, by: &str) -> String {
        let (by, key) = match by.strip_prefix('-').unwrap_or(by) {
            "0" | "0.0" => return self.words.say("report-was-on-time"),
            early if early != by => (early, "report-was-early"),
            late => (late, "report-was-late"),
        };
        self.words.tell(key, &[("by", Value::Number(by))])
    }

    /// A sample's rates and time constant, as far as there are any.
    fn course(&self, sample: usize) -> Vec<String> {
        type Pick = fn(&SampleValues) -> Option<f64>;
        let Some(values) = self.summary().samples.get(sample) else {
            return Vec::new();
        };
        let known = |pick: Pick| Some((pick(&values.values)?, pick(&values.u).unwrap_or(0.0)));
        let name = ("sample", Value::Name(self.label(sample)));
        let rate = |key, pick: Pick| {
            let (rate, u) = known(pick)?;
            let [rate, u] = [rate, u].map(|k| self.words.scaled(Scale::Difference, k));
            let rate = Words::rough(rate, u);
            Some(
                self.words
                    .tell(key, &[name, ("rate", Value::Number(&rate))]),
            )
        };
        let warmed = rate("report-first-warming", |v| v.heating_rate_degc_per_min);
        let cooled = rate("report-first-cooling", |v| v.cooling_rate_degc_per_min);
        let heading = known(|v| v.air_degc);
        let constant = known(|v| v.time_constant_s)
            .zip(heading)
            .map(|(time, level)| {
                let time = self.about(time.0, time.1);
                let u = self.words.scaled(Scale::Difference, level.1);
                let level = Words::rough(self.words.scaled(Scale::Temperature, level.0), u);
                self.words.tell(
                    "report-time-constant",
                    &[
                        name,
                        ("time", Value::Text(&time)),
                        ("level", Value::Number(&level)),
                    ],
                )
            });
        [warmed, cooled, constant].into_iter().flatten().collect()
    }

    /// A length of time in words: whole minutes, with a half where the data know it; seconds below
    /// two minutes.
    fn about(&self, s: f64, u: f64) -> String {
        if s < 120.0 {
            return self
                .words
                .duration((libm::round(s / 10.0) * 10.0).max(10.0));
        }
        let halves = libm::round(s / 30.0) / 2.0;
        let minutes = if u < 30.0 {
            halves
        } else {
            libm::round(s / 60.0)
        };
        format!("{}\u{A0}min", self.words.number(&minutes.to_string()))
    }
}

/// A share as whole per cent.
pub(super) fn percent(share: f64) -> String {
    format!("{:.0}", share * 100.0)
}
