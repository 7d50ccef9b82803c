//! Three questions, and on the key their answers, from the table as pupils would have them.

use super::super::page::Markup;
use super::super::words::{Scale, Value, Words};
use super::{Row, Written};
use crate::analysis::Warning;
use crate::lamp::Kind;

/// A row so little before the lamp went off, as a part of the interval between rows, is one at that instant.
const MOMENT: f64 = 0.05;

impl Written<'_> {
    pub(super) fn questions(&self, page: &mut Markup) {
        let words = &self.words;
        let one = self.is_alone();
        let step = words.duration(self.sheet.marks_s);
        let step = [("step", Value::Text(&step))];
        let keys = if one {
            [
                "sheet-question-most-one",
                "sheet-question-cooling-one",
                "sheet-question-why-one",
            ]
        } else {
            [
                "sheet-question-most",
                "sheet-question-cooling",
                "sheet-question-why",
            ]
        };
        let questions = keys.map(|key| match key {
            "sheet-question-cooling" | "sheet-question-cooling-one" => words.tell(key, &step),
            _ => words.say(key),
        });
        let answers = [self.rises(), self.falls(), vec![self.why()]];
        page.section("keep", &words.say("sheet-questions"), |part| {
            for (number, (question, answers)) in questions.iter().zip(answers).enumerate() {
                part.block("keep", |block| {
                    block.paragraph(&format!("{}. {question}", number + 1));
                    if self.sheet.key.is_some() {
                        block.paragraph_as("note", &answers.join(" · "));
                    } else {
                        block.lines(2);
                    }
                });
            }
        });
    }

    /// Each sample's rise up to its warmest row, and which rose most.
    fn rises(&self) -> Vec<String> {
        let words = &self.words;
        // Where the table has a dash, the run's own rise.
        let of_table = |sample| self.difference(self.warmest(sample)?, self.row_at(0.0)?, sample);
        let of_run = |sample: usize| {
            let sample = self.sheet.key?.summary.samples.get(sample)?;
            let rise = words.scaled(Scale::Difference, sample.values.rise_degc?);
            Some(Words::rough(rise, 0.0))
        };
        let rise = |sample| of_table(sample).or_else(|| of_run(sample));
        let mut all = self.of_each("sheet-answer-rise", "rise", rise);
        self.told_by_table(&mut all, of_table);
        let Some(summary) = self.sheet.key.map(|key| key.summary) else {
            return all;
        };
        if self.is_alone() || summary.comparison.is_none() {
            return all;
        }
        let order = summary.comparison.iter().filter_map(|c| c.order.first());
        // Where nothing warmed, nothing warmed most.
        let rises = summary.samples.iter().filter_map(|s| s.values.rise_degc);
        let warmed = rises.fold(0.0, f64::max) > 0.0;
        all.extend(order.filter(|_| warmed).map(|most| {
            if summary.warnings.contains(&Warning::OrderOpen) {
                self.words.say("sheet-answer-open")
            } else {
                self.words
                    .tell("sheet-answer-most", &[("sample", Value::Name(most))])
            }
        }));
        all
    }

    /// Says before answers that they are differences of the table's tenths, where they are: the
    /// report's, from all readings, may differ from them in the last digit.
    fn told_by_table(&self, answers: &mut [String], of: impl Fn(usize) -> Option<String>) {
        let all = (0..self.labels.len()).all(|sample| of(sample).is_some());
        if let (Some(first), true) = (answers.first_mut(), all) {
            *first = format!("{} {first}", self.words.say("sheet-answer-by-table"));
        }
    }

    /// What each sample lost in the first interval after the lamp went off, and which was faster.
    fn falls(&self) -> Vec<String> {
        let off = self.first_after_off();
        let next = off.map(|row| row + 1);
        let fall = |sample| self.difference(off?, next?, sample);
        let mut all = self.of_each("sheet-answer-fell", "fall", fall);
        self.told_by_table(&mut all, fall);
        all.extend(self.other_rows(off));
        if self.is_alone() {
            let last = self.rows.len().checked_sub(1);
            let before = last.and_then(|last| last.checked_sub(1));
            let late = |sample| self.difference(before?, last?, sample);
            all.extend(self.of_each("sheet-answer-fell", "fall", late));
            return all;
        }
        let samples =
            (0..self.labels.len()).map(|s| fall(s).and_then(|text| text.parse::<f64>().ok()));
        let falls: Option<Vec<f64>> = samples.collect();
        let mut ranked: Vec<(usize, f64)> =
            falls.unwrap_or_default().into_iter().enumerate().collect();
        ranked.sort_by(|a, b| b.1.total_cmp(&a.1));
        // What differs by less than a tenth of a degree looks the same on the sheet.
        if let [(most, a), (_, b), ..] = ranked.as_slice()
            && a - b > 0.05
        {
            let label = self.labels.get(*most).map_or("", String::as_str);
            all.push(
                self.words
                    .tell("sheet-answer-faster", &[("sample", Value::Name(label))]),
            );
        }
        all
    }

    /// The first row after the lamp went off, as the temperatures tell; without them as planned. One a
    /// moment before shows what one at that instant would.
    fn first_after_off(&self) -> Option<usize> {
        let planned = self.row_at(self.sheet.heat_s);
        let Some(summary) = self.sheet.key.map(|key| key.summary) else {
            return planned;
        };
        let Some(off) = summary.lamp.iter().find(|edge| edge.edge == Kind::Off) else {
            return planned;
        };
        let [low_s, off_s, high_s] = [off.low_s, off.at_s, off.high_s].map(|s| s - summary.zero_s);
        let by_hand = summary.has_sparse_rows();
        if let Some(row) = by_hand
            .then(|| self.warmest_within(low_s, high_s))
            .flatten()
        {
            return Some(row);
        }
        let earliest_s = off_s - MOMENT * self.sheet.marks_s;
        self.rows.iter().position(|row| row.at_s() >= earliest_s)
    }

    /// The warmest row, over all samples, within these times: in a table by hand whoever read it may have
    /// switched the lamp off with it, some seconds from where its curves bend.
    fn warmest_within(&self, low_s: f64, high_s: f64) -> Option<usize> {
        let samples = 0..self.labels.len();
        let warmth = |row: usize| -> Option<f64> {
            samples.clone().map(|sample| self.shown(row, sample)).sum()
        };
        let near = self.rows.iter().enumerate();
        let near = near.filter(|(_, row)| (low_s..=high_s).contains(&row.at_s()));
        let known = near.filter_map(|(row, _)| Some((row, warmth(row)?)));
        known
            .reduce(|best, one| if one.1 > best.1 { one } else { best })
            .map(|(row, _)| row)
    }

    /// Which rows the falls are from, where these are not the planned ones.
    fn other_rows(&self, off: Option<usize>) -> Option<String> {
        let (from, to) = (self.rows.get(off?)?, self.rows.get(off? + 1)?);
        if off == self.row_at(self.sheet.heat_s) {
            return None;
        }
        let minute = |row: &Row| self.words.minute(&row.minute);
        let (from, to) = (minute(from), minute(to));
        let values = [("from", Value::Text(&from)), ("to", Value::Text(&to))];
        Some(self.words.tell("sheet-answer-rows", &values))
    }

    fn of_each(
        &self,
        key: &str,
        value: &str,
        digits: impl Fn(usize) -> Option<String>,
    ) -> Vec<String> {
        let one = |(sample, label): (usize, &String)| match digits(sample) {
            Some(digits) => {
                let values = [
                    ("sample", Value::Name(label)),
                    (value, Value::Number(&digits)),
                ];
                self.words.tell(key, &values)
            }
            None => self
                .words
                .tell("sheet-answer-none", &[("sample", Value::Name(label))]),
        };
        self.labels.iter().enumerate().map(one).collect()
    }

    fn why(&self) -> String {
        let key = if self.is_alone() {
            "sheet-answer-why-one"
        } else {
            "sheet-answer-why"
        };
        self.words.say(key)
    }
}
