//! What was done, and what came of it in short.

use super::super::page::Markup;
use super::super::words::{Scale, Value, Words, plain};
use super::Told;
use crate::analysis::rounded;

impl Told<'_> {
    /// What came of it, in a few sentences.
    pub(super) fn short(&self, page: &mut Markup) {
        let words = &self.words;
        page.section("", &words.say("report-short"), |part| {
            for sentence in self.in_short() {
                part.paragraph_as("lead", &sentence);
            }
        });
    }

    fn in_short(&self) -> Vec<String> {
        let words = &self.words;
        let ranked = self.ranked();
        if ranked.is_empty() {
            let mut all = Vec::new();
            if self.summary().lamp.is_empty() {
                all.push(words.say("report-no-lamp"));
            }
            all.extend((0..self.labels.len()).filter_map(|sample| self.ranged(sample)));
            return all;
        }
        let rose = |&(sample, rise, u): &(usize, f64, f64)| {
            let [rise, u] = [rise, u].map(|k| words.scaled(Scale::Difference, k));
            let rise = Words::rough(rise, u);
            let values = [
                ("sample", Value::Name(self.label(sample))),
                ("rise", Value::Number(&rise)),
            ];
            words.tell("report-rose", &values)
        };
        let mut all: Vec<String> = ranked.iter().map(rose).collect();
        // What hardly warmed, as a room does, is compared with nothing.
        let compared = self.summary().comparison.as_ref().map(|c| &c.order);
        let is_compared = |&&(sample, ..): &&(usize, f64, f64)| {
            let name = self.summary().samples.get(sample).map(|s| &s.name);
            compared.is_none_or(|order| order.iter().any(|own| Some(own) == name))
        };
        let ranked: Vec<&(usize, f64, f64)> = ranked.iter().filter(is_compared).collect();
        if let [most, .., least] = ranked.as_slice() {
            all.push(self.warmed_most(most.0, least.0, ranked.len()));
        }
        all
    }

    fn warmed_most(&self, most: usize, least: usize, samples: usize) -> String {
        let words = &self.words;
        if self.order_is_open() {
            return words.say("report-order-open");
        }
        let comparison = self.summary().comparison.as_ref();
        match comparison.and_then(|c| c.rise_ratio.zip(c.u.rise_ratio)) {
            // What rounds to 1.0 times as much says nothing.
            Some((ratio, u)) if samples == 2 && u < 0.5 && ratio >= 1.05 => {
                let ratio = Words::rough(ratio, u);
                let values = [
                    ("sample", Value::Name(self.label(most))),
                    ("other", Value::Name(self.label(least))),
                    ("ratio", Value::Number(&ratio)),
                ];
                words.tell("report-warmed-most", &values)
            }
            _ => self.named("report-warmed-most-plain", self.label(most)),
        }
    }

    fn ranged(&self, sample: usize) -> Option<String> {
        let values = self.summary().samples.get(sample)?.values;
        let shown = |degc| self.words.scaled(Scale::Temperature, degc);
        let digits = |value: Option<f64>| value.map(|v| Words::rough(shown(v), 0.0));
        let (low, high) = (digits(values.lowest_degc)?, digits(values.highest_degc)?);
        let mean = digits(values.mean_degc)?;
        let said = [
            ("sample", Value::Name(self.label(sample))),
            ("low", Value::Number(&low)),
            ("high", Value::Number(&high)),
            ("mean", Value::Number(&mean)),
        ];
        Some(self.words.tell("report-ranged", &said))
    }

    /// What was done: samples, distance, plan, record.
    pub(super) fn done(&self, page: &mut Markup) {
        let words = &self.words;
        let key = if self.has_lamp() {
            "report-done-many"
        } else {
            "report-done-open"
        };
        let said = words.tell(key, &[("n", Value::Count(self.labels.len()))]);
        page.section("", &words.say("report-done"), |part| {
            part.paragraph(&said);
            part.facts(&self.facts());
        });
    }

    fn facts(&self) -> Vec<(String, String)> {
        let words = &self.words;
        let record = &self.lesson.record;
        let distance = self.lesson.set_up.lamp_distance.as_ref();
        // `2026-03-14T10:32:05.000Z`, as far as people want it.
        let began = record.began_utc.as_ref().and_then(|utc| utc.get(..16));
        let rows = words.rows(self.summary().rows);
        let readings = match self.summary().interval_s {
            None => rows,
            Some(interval_s) => {
                let interval = words.duration(to_a_hundredth(interval_s));
                let values = [
                    ("rows", Value::Text(&rows)),
                    ("interval", Value::Text(&interval)),
                ];
                words.tell("report-every", &values)
            }
        };
        let all = [
            ("report-fact-samples", Some(self.samples())),
            ("report-fact-distance", distance.map(|d| d.text(words))),
            ("report-fact-plan", self.plan()),
            (
                "report-fact-began",
                began.map(|utc| format!("{} UTC", utc.replace('T', " "))),
            ),
            ("report-fact-readings", Some(readings)),
            ("report-fact-board", record.board.as_deref().map(plain)),
            ("report-fact-source", Some(plain(&self.summary().source))),
        ];
        let all = all
            .into_iter()
            .filter_map(|(key, said)| Some((words.say(key), said?)));
        all.filter(|(_, said)| !said.is_empty()).collect()
    }

    /// All samples, under their whole names, with what was measured of them.
    fn samples(&self) -> String {
        let samples = self.summary().samples.iter().enumerate();
        let all: Vec<String> = samples
            .map(|(place, sample)| {
                let whole = plain(&sample.name);
                let cut = self.label(place).ends_with('…');
                let name = if cut { &whole } else { self.label(place) };
                let quantities = self.lesson.set_up.samples.get(place);
                let quantities = quantities.into_iter().flatten();
                let list: Vec<String> = quantities.map(|q| q.text(&self.words)).collect();
                let list = list.join(", ");
                if list.is_empty() {
                    return name.to_owned();
                }
                let values = [("sample", Value::Name(name)), ("list", Value::Text(&list))];
                self.words.tell("report-quantities", &values)
            })
            .collect();
        all.join(" · ")
    }

    fn plan(&self) -> Option<String> {
        let words = &self.words;
        let steps = &self.lesson.steps;
        let time = |key, s: f64| {
            let time = words.duration(s);
            words.tell(key, &[("time", Value::Text(&time))])
        };
        let heat_s = steps.heat_s.filter(|s| *s > 0.0);
        let settle = steps.settle_degc_per_min.filter(|_| heat_s.is_some());
        let settle = settle.map(|drift| {
            // To a millionth: 1.8 times a decimal is none that prints as short as it is.
            let drift = (words.scaled(Scale::Difference, drift) * 1e6).round() / 1e6;
            let drift = drift.to_string();
            words.tell("report-plan-settle", &[("drift", Value::Number(&drift))])
        });
        let lamp = heat_s.map(|heat_s| {
            let cool = words.duration(steps.cool_s.unwrap_or(heat_s));
            let heat = words.duration(heat_s);
            let values = [("heat", Value::Text(&heat)), ("cool", Value::Text(&cool))];
            words.tell("report-plan-lamp", &values)
        });
        let open = steps.for_s.map(|s| time("report-plan-for", s));
        let marks = steps.marks_s.map(|s| time("report-plan-marks", s));
        let all: Vec<String> = [settle, lamp, open, marks].into_iter().flatten().collect();
        (!all.is_empty()).then(|| all.join("; "))
    }
}

/// A time to a hundredth of itself, as an uncertainty of that size rounds it.
fn to_a_hundredth(s: f64) -> f64 {
    rounded(s, s / 100.0).0.parse().unwrap_or(s)
}
