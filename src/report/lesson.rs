//! The report of one lesson: what was done, what happened, what it says and what it does not.

mod dashes;
mod done;
mod happened;
mod marks;
mod meaning;
mod numbers;
mod quality;
#[cfg(test)]
mod tests;

use super::cautions::cautions;
use super::labels::labels;
use super::page::{Markup, Page};
use super::setting::{Record, SetUp, Steps};
use super::words::{Language, Value, Words, plain};
use crate::analysis::{GroupPrediction, Prediction, Summary, Warning};
use crate::graph::Degrees;

/// All that a report tells of.
#[derive(Debug, Clone, PartialEq)]
pub struct Lesson<'a> {
    /// What people call this run or table.
    pub title: &'a str,
    /// What its temperatures say.
    pub summary: &'a Summary,
    /// The double line graph in the page's language, as [`svg_in`](crate::graph::svg_in) draws it.
    pub graph_svg: &'a str,
    /// The same for the screen of a phone.
    pub narrow_svg: &'a str,
    /// What temperatures are shown in.
    pub degrees: Degrees,
    /// What was planned.
    pub steps: Steps,
    /// What stood where.
    pub set_up: SetUp,
    /// How the data came about.
    pub record: Record,
    /// Version of the program.
    pub version: &'a str,
}

/// A lesson and the words to tell it in.
struct Told<'a> {
    lesson: &'a Lesson<'a>,
    words: Words,
    /// What the samples are called on the page.
    labels: Vec<String>,
}

impl Lesson<'_> {
    /// The report as one self-contained HTML page in a language; the same lesson gives the same
    /// bytes.
    #[must_use]
    pub fn html(&self, language: Language) -> String {
        let names = self.summary.samples.iter().map(|s| s.name.as_str());
        let told = Told {
            lesson: self,
            words: Words::showing(language, self.degrees),
            labels: labels(names),
        };
        Page {
            language,
            title: plain(self.title),
            body: told.body(),
        }
        .html()
    }
}

impl Told<'_> {
    fn body(&self) -> Markup {
        let mut page = Markup::default();
        page.paragraph_as("small", &self.words.say("report-made-by"));
        page.heading(1, &plain(self.lesson.title));
        if self.lesson.record.is_virtual {
            page.paragraph_as("small", &self.words.say("invented-readings"));
        }
        self.short(&mut page);
        self.done(&mut page);
        page.block("caution", |block| {
            block.heading(3, &self.words.say("caution-heading"));
            block.list(&cautions(&self.words));
        });
        self.prediction(&mut page);
        self.graph(&mut page);
        self.table(&mut page);
        self.happened(&mut page);
        self.numbers(&mut page);
        self.meaning(&mut page);
        self.quality(&mut page);
        self.method(&mut page);
        page
    }

    /// The summary of the lesson.
    fn summary(&self) -> &Summary {
        self.lesson.summary
    }

    /// Whether its times count from no beginning, as those of a table by the time of day.
    fn has_own_clock(&self) -> bool {
        self.lesson.record.began_utc.is_none() && self.summary().first_s > 0.0
    }

    /// Whether they are times of day, as far as numbers tell: no lesson begins before six, and no
    /// stop watch is six hours old when one does.
    fn is_by_clock(&self) -> bool {
        self.has_own_clock() && (21_600.0..86_400.0).contains(&self.summary().first_s)
    }

    /// What a sample is called on the page.
    fn label(&self, sample: usize) -> &str {
        self.labels.get(sample).map_or("", String::as_str)
    }

    /// A sentence with one name in it.
    fn named(&self, key: &str, sample: &str) -> String {
        self.words.tell(key, &[("sample", Value::Name(sample))])
    }

    /// Whether the data leave open which sample warmed most.
    fn order_is_open(&self) -> bool {
        self.summary().warnings.contains(&Warning::OrderOpen)
    }

    /// The samples that have a rise, by falling rise: place among the samples, rise, uncertainty.
    fn ranked(&self) -> Vec<(usize, f64, f64)> {
        let samples = self.summary().samples.iter().enumerate();
        let mut ranked: Vec<(usize, f64, f64)> = samples
            .filter_map(|(place, s)| {
                let rise = s.values.rise_degc?;
                Some((place, rise, s.u.rise_degc.unwrap_or(0.0)))
            })
            .collect();
        ranked.sort_by(|a, b| b.1.total_cmp(&a.1));
        ranked
    }

    /// Of these, the ones that are compared: what hardly warmed, as a room does, is compared with
    /// nothing.
    fn compared(&self) -> Vec<(usize, f64, f64)> {
        let order = self.summary().comparison.as_ref().map(|c| &c.order);
        let is_compared = |&(sample, ..): &(usize, f64, f64)| {
            let name = self.summary().samples.get(sample).map(|s| &s.name);
            order.is_none_or(|order| order.iter().any(|own| Some(own) == name))
        };
        self.ranked().into_iter().filter(is_compared).collect()
    }

    /// Whether there was a lamp, by the plan or by the data.
    fn has_lamp(&self) -> bool {
        self.lesson.steps.heat_s.is_some() || !self.summary().lamp.is_empty()
    }

    fn prediction(&self, page: &mut Markup) {
        let comparison = self.summary().comparison.as_ref();
        let prediction = comparison.and_then(|c| c.prediction.as_ref());
        let groups = comparison.map_or(&[][..], |c| c.predictions.as_slice());
        let none = prediction.is_none() && groups.is_empty();
        if none && !self.has_lamp() {
            return;
        }
        page.section("", &self.words.say("report-prediction"), |part| {
            if none {
                part.paragraph(&self.words.say("report-predicted-none"));
            }
            if let Some(Prediction { sample, right }) = prediction {
                let said = self.named("report-predicted", sample);
                part.paragraph(&format!("{said} {}", self.outcome(*right)));
            }
            let of_group = |made: &GroupPrediction| {
                let said = [
                    ("group", Value::Name(&made.group)),
                    ("sample", Value::Name(&made.prediction.sample)),
                ];
                let said = self.words.tell("report-predicted-group", &said);
                format!("{said} {}", self.outcome(made.prediction.right))
            };
            if !groups.is_empty() {
                part.list(&groups.iter().map(of_group).collect::<Vec<_>>());
            }
        });
    }

    fn outcome(&self, right: Option<bool>) -> String {
        // Where nothing warmed, nothing warmed most.
        let warmed = self.ranked().first().is_some_and(|most| most.1 > 0.0);
        self.words.say(match right.filter(|_| warmed) {
            Some(true) => "report-right",
            Some(false) => "report-wrong",
            None => "report-right-open",
        })
    }

    fn graph(&self, page: &mut Markup) {
        page.section("keep", &self.words.say("report-graph"), |part| {
            let caption = self.words.say(if self.summary().lamp.is_empty() {
                "report-graph-caption-open"
            } else {
                "report-graph-caption"
            });
            let sizes = [
                ("broad", self.lesson.graph_svg),
                ("narrow", self.lesson.narrow_svg),
            ];
            part.drawings(&sizes, &caption);
        });
    }

    fn method(&self, page: &mut Markup) {
        let words = &self.words;
        page.section("", &words.say("report-method"), |part| {
            let version = [("version", Value::Text(self.lesson.version))];
            let files = match words.degrees() {
                _ if !self.lesson.record.has_files => "report-method-no-files",
                Degrees::Celsius => "report-method-files",
                Degrees::Fahrenheit => "report-method-files-other",
            };
            part.list(&[
                words.say("report-method-edges"),
                self.lags(),
                words.say("report-method-marks"),
                words.say("report-method-rates"),
                words.say("report-method-uncertainty"),
                words.tell(files, &version),
            ]);
        });
    }

    /// Which lags were taken out, or what is assumed of them (`lamp::LampOptions` says it).
    fn lags(&self) -> String {
        let words = &self.words;
        let record = &self.lesson.record;
        if record.probe_lag_s.is_none() && record.lamp_lag_s.is_none() {
            let assumed = [
                ("probe", Value::Number("6")),
                ("probeu", Value::Number("3")),
                ("lamp", Value::Number("2")),
                ("lampu", Value::Number("1.5")),
            ];
            return words.tell("report-method-lags", &assumed);
        }
        let lag = |key, s: f64| words.tell(key, &[("lag", Value::Number(&s.to_string()))]);
        let probes = record.probe_lag_s.iter().flatten();
        let probes = probes.map(|s| lag("report-method-lag-probe", *s));
        let lamp = record.lamp_lag_s.map(|s| lag("report-method-lag-lamp", s));
        let all: Vec<String> = probes.chain(lamp).collect();
        let all = all.join(", ");
        let key = if record.is_lag_calibrated {
            "report-method-lags-calibrated"
        } else {
            "report-method-lags-declared"
        };
        words.tell(key, &[("lags", Value::Text(&all))])
    }
}
