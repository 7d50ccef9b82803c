//! What was done, and what came of it in short.

use super::super::page::Markup;
use super::super::words::{Scale, Value, Words, plain};
use super::Told;
use crate::analysis::{local_minute, rounded};
use crate::lamp::Kind;

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
        let mut all: Vec<String> = ranked.iter().map(|own| self.rose(own)).collect();
        let compared = self.compared();
        if let [most, .., least] = compared.as_slice() {
            all.extend(self.warmed_most(most, least.0, compared.len()));
        }
        all
    }

    /// By how much a sample warmed, or cooled.
    fn rose(&self, &(sample, rise, u): &(usize, f64, f64)) -> String {
        let words = &self.words;
        let [rise, u] = [rise, u].map(|k| words.scaled(Scale::Difference, k));
        let rise = Words::rough(rise, u);
        let name = ("sample", Value::Name(self.label(sample)));
        if rise.bytes().all(|b| matches!(b, b'0' | b'.')) {
            return words.tell("report-rose-not", &[name]);
        }
        match rise.strip_prefix('-') {
            Some(fall) => words.tell("report-fell", &[name, ("fall", Value::Number(fall))]),
            None => words.tell("report-rose", &[name, ("rise", Value::Number(&rise))]),
        }
    }

    /// Which sample warmed most; nothing where none warmed.
    fn warmed_most(
        &self,
        &(most, rise, _): &(usize, f64, f64),
        least: usize,
        samples: usize,
    ) -> Option<String> {
        let words = &self.words;
        if rise <= 0.0 {
            return None;
        }
        if self.order_is_open() {
            return Some(words.say("report-order-open"));
        }
        let comparison = self.summary().comparison.as_ref();
        let ratio = comparison.and_then(|c| c.rise_ratio.zip(c.u.rise_ratio));
        Some(match ratio {
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
        })
    }

    fn ranged(&self, sample: usize) -> Option<String> {
        let values = self.summary().samples.get(sample)?.values;
        let shown = |degc| self.words.scaled(Scale::Temperature, degc);
        let digits = |value: Option<f64>| value.map(|v| Words::rough(shown(v), 0.0));
        let (low, high) = (digits(values.lowest_degc)?, digits(values.highest_degc)?);
        let mean = digits(values.mean_degc)?;
        if low == high {
            let said = [
                ("sample", Value::Name(self.label(sample))),
                ("mean", Value::Number(&mean)),
            ];
            return Some(self.words.tell("report-steady", &said));
        }
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
        let said = self.what_was_done();
        page.section("", &words.say("report-done"), |part| {
            part.paragraph(&said);
            part.facts(&self.facts());
        });
    }

    /// What stood where, what the lamp did as far as the data show, what was written down.
    fn what_was_done(&self) -> String {
        let words = &self.words;
        let n = [("n", Value::Count(self.labels.len()))];
        let is_table = self.lesson.record.is_table();
        if !self.has_lamp() {
            return words.tell(
                if is_table {
                    "report-done-table"
                } else {
                    "report-done-open"
                },
                &n,
            );
        }
        let seen = |kind| self.summary().lamp.iter().any(|edge| edge.edge == kind);
        // That the lamp was planned does not say that somebody switched it.
        let lamp = match (seen(Kind::On), seen(Kind::Off)) {
            (true, true) => "report-done-switched",
            (true, false) => "report-done-switched-on",
            (false, true) => "report-done-switched-off",
            (false, false) => "report-done-to-switch",
        };
        if is_table {
            let table = words.tell("report-done-table", &n);
            return format!("{table} {}", words.say(lamp));
        }
        let stood = words.tell("report-done-stood", &n);
        let written = words.tell("report-done-written", &n);
        format!("{stood} {} {written}", words.say(lamp))
    }

    fn facts(&self) -> Vec<(String, String)> {
        let words = &self.words;
        let record = &self.lesson.record;
        let distance = self.lesson.set_up.lamp_distance.as_ref();
        let began = record.began_utc.as_ref();
        let rows = words.rows(self.summary().rows);
        let readings = match self.summary().interval_s {
            None => rows,
            Some(interval_s) => {
                let every = words.every(to_a_hundredth(interval_s));
                let values = [("rows", Value::Text(&rows)), ("every", Value::Text(&every))];
                words.tell("report-every", &values)
            }
        };
        let all = [
            ("report-fact-samples", Some(self.samples())),
            ("report-fact-distance", distance.map(|d| d.text(words))),
            ("report-fact-plan", self.plan()),
            (
                "report-fact-began",
                began.map(|utc| local_minute(utc, record.utc_offset_s)),
            ),
            ("report-fact-readings", Some(readings)),
            ("report-fact-board", self.board()),
            ("report-fact-source", Some(plain(&self.summary().source))),
        ];
        let all = all
            .into_iter()
            .filter_map(|(key, said)| Some((words.say(key), said?)));
        all.filter(|(_, said)| !said.is_empty()).collect()
    }

    /// What the board calls itself, and how it speaks, which is a name as well.
    fn board(&self) -> Option<String> {
        let record = &self.lesson.record;
        match (&record.board, &record.dialect) {
            (Some(board), Some(dialect)) => {
                let own = self.words.say("report-board-own");
                let dialect = match dialect.as_str() {
                    "native" => Value::Text(&own),
                    other => Value::Name(other),
                };
                let values = [("board", Value::Name(board)), ("dialect", dialect)];
                Some(self.words.tell("report-board-speaks", &values))
            }
            (board, dialect) => board.as_ref().or(dialect.as_ref()).map(|name| plain(name)),
        }
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
        let marks = steps.marks_s.map(|s| {
            let every = words.every(s);
            words.tell("report-plan-marks", &[("every", Value::Text(&every))])
        });
        let all: Vec<String> = [settle, lamp, open, marks].into_iter().flatten().collect();
        // Of a table only the interval that is asked for now would be there, which nobody planned.
        let planned = !all.is_empty() && !self.lesson.record.is_table();
        planned.then(|| words.parts(&all))
    }
}

/// A time to a hundredth of itself, as an uncertainty of that size rounds it.
fn to_a_hundredth(s: f64) -> f64 {
    rounded(s, s / 100.0).0.parse().unwrap_or(s)
}
