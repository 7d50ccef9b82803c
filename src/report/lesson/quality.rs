//! How good the data are: what is missing, what was noted, what is in doubt.

use super::super::page::Markup;
use super::super::setting::{Calibrated, End};
use super::super::words::{Scale, Value};
use super::Told;
use crate::analysis::{Warning, local_minute};

/// Kinds of events that tell of trouble, or of what people did; others tell of the run's ordinary
/// course.
const TROUBLE: [(&str, &str); 17] = [
    ("gap", "event-gap"),
    ("port-lost", "event-port-lost"),
    ("reset", "event-reset"),
    ("bad-line", "event-bad-line"),
    ("wrong-channels", "event-wrong-channels"),
    ("other-board", "event-other-board"),
    ("probe", "event-probe"),
    ("missing", "event-missing"),
    ("resume", "event-resume"),
    ("suspend", "event-suspend"),
    ("clock-step", "event-clock-step"),
    ("journal-damage", "event-journal-damage"),
    ("early-lines", "event-early-lines"),
    ("hand-lamp-on", "event-hand-lamp-on"),
    ("hand-lamp-off", "event-hand-lamp-off"),
    ("hand-go-on", "event-hand-go-on"),
    ("renamed", "event-renamed"),
];

/// Events of a run that goes well.
const ORDINARY: [&str; 13] = [
    "port-open",
    "dialect",
    "hello",
    "remark",
    "cue-lamp-on",
    "cue-lamp-off",
    "cue-done",
    "lamp-on",
    "lamp-off",
    // Told in full.
    "note",
    "hand-mark",
    "prediction",
    "end",
];

/// Kinds of calibrations.
const CALIBRATIONS: [(&str, &str); 6] = [
    ("match", "calibration-match"),
    ("ice", "calibration-ice"),
    ("boil", "calibration-boil"),
    ("constants", "calibration-constants"),
    ("line", "calibration-line"),
    ("lag", "calibration-lag"),
];

/// Codes of flags on a whole row.
const FLAGS: [(&str, &str); 7] = [
    ("lost", "flag-lost"),
    ("gap", "flag-gap"),
    ("reset", "flag-reset"),
    ("merged", "flag-merged"),
    ("late", "flag-late"),
    ("skewed", "flag-skewed"),
    ("interpolated", "flag-interpolated"),
];

/// Codes of what is wrong with one probe.
const FAULTS: [(&str, &str); 8] = [
    ("no-reading", "fault-no-reading"),
    ("power-on", "fault-power-on"),
    ("not-a-number", "fault-not-a-number"),
    ("open", "fault-open"),
    ("short", "fault-short"),
    ("out-of-range", "fault-out-of-range"),
    ("other-board", "fault-other-board"),
    ("absent", "fault-absent"),
];

/// A note that was made after the run (`run/afterwards.rs` writes it), and when: to the minute, as
/// people want it.
fn made_afterwards(note: &str, utc_offset_s: Option<i32>) -> Option<(&str, String)> {
    let (text, made) = note
        .strip_suffix(')')?
        .rsplit_once(" (noted afterwards, ")?;
    Some((text, local_minute(made, utc_offset_s)))
}

fn key_of(code: &str, all: &[(&str, &'static str)]) -> Option<&'static str> {
    all.iter().find(|(of, _)| *of == code).map(|(_, key)| *key)
}

impl Told<'_> {
    /// What is missing or in doubt, or that nothing is.
    pub(super) fn quality(&self, page: &mut Markup) {
        let words = &self.words;
        let (events, flags) = (self.events(), self.flags());
        page.section("", &words.say("report-quality"), |part| {
            part.list(&self.doubts(events.is_empty() && flags.is_empty()));
            part.list(&self.calibration());
            let parts = [
                ("report-notes", &self.notes()),
                ("report-events", &events),
                ("report-flags", &flags),
            ];
            for (title, points) in parts {
                if !points.is_empty() {
                    part.heading(3, &words.say(title));
                    part.list(points);
                }
            }
        });
    }

    fn doubts(&self, nothing_noted: bool) -> Vec<String> {
        let words = &self.words;
        let record = &self.lesson.record;
        let mut all: Vec<String> = Vec::new();
        match record.end {
            End::InOrder => {}
            End::CutOff => all.push(words.say("report-cut-off")),
            End::ToCome => all.push(words.say("report-going-on")),
        }
        if record.damaged_places > 0 {
            let n = [("n", Value::Count(record.damaged_places))];
            all.push(words.tell("report-damage", &n));
        }
        let warnings = self.summary().warnings.iter();
        let warnings: Vec<String> = warnings.map(|doubt| words.doubt(doubt)).collect();
        let is_whole = |s: &crate::analysis::Sample| s.values.mean_degc.is_some();
        let mut doubts = self.summary().warnings.iter();
        let missing = doubts.any(Warning::is_of_missing_readings);
        let whole = self.summary().samples.iter().all(is_whole) && !self.labels.is_empty();
        if all.is_empty() && nothing_noted && whole && !missing {
            all.push(words.say("report-complete"));
        }
        all.extend(warnings);
        all
    }

    fn calibration(&self) -> Vec<String> {
        let words = &self.words;
        let record = &self.lesson.record;
        let known = record.calibration_u_degc.iter().zip(&self.labels);
        let mut all: Vec<String> = known
            .enumerate()
            .filter_map(|(place, (u, label))| {
                let u = words.scaled(Scale::Difference, (*u)?);
                let u = crate::analysis::expanded(u, u).1;
                let values = [("sample", Value::Name(label)), ("u", Value::Number(&u))];
                let matched = record.is_matched_only.get(place).copied().unwrap_or(false);
                let key = if matched {
                    "report-matched"
                } else {
                    "report-calibrated"
                };
                Some(words.tell(key, &values))
            })
            .collect();
        for (by, label) in record.calibrated.iter().zip(&self.labels) {
            all.extend(by.iter().map(|one| self.calibrated_by(one, label)));
        }
        if all.is_empty() {
            all.push(words.say(if record.is_table() {
                "report-uncalibrated-table"
            } else {
                "report-uncalibrated"
            }));
        }
        all
    }

    /// One calibration of a probe: kind, day, age.
    fn calibrated_by(&self, one: &Calibrated, label: &str) -> String {
        let words = &self.words;
        let kind = match key_of(&one.kind, &CALIBRATIONS) {
            Some(key) => words.say(key),
            None => words.tell("event-other", &[("code", Value::Name(&one.kind))]),
        };
        let values = [
            ("sample", Value::Name(label)),
            ("kind", Value::Text(&kind)),
            ("day", Value::Name(&one.day)),
            ("days", Value::Count(one.age_days.unwrap_or(0))),
        ];
        words.tell("report-calibrated-by", &values)
    }

    /// What people noted, each with its time as the table counts it.
    fn notes(&self) -> Vec<String> {
        let zero_s = self.summary().zero_s;
        let notes = self.lesson.record.notes.iter();
        let utc_offset_s = self.lesson.record.utc_offset_s;
        notes
            .map(|(t_s, text)| {
                let at = self.words.clock(t_s - zero_s);
                let moment = self.words.say("event-hand-mark");
                if let Some((text, made)) = made_afterwards(text, utc_offset_s) {
                    let values = [
                        ("at", Value::Text(&at)),
                        ("text", Value::Name(text)),
                        ("when", Value::Name(&made)),
                    ];
                    return self.words.tell("report-note-late", &values);
                }
                let text = match text.as_str() {
                    "" => Value::Text(&moment),
                    text => Value::Name(text),
                };
                let values = [("at", Value::Text(&at)), ("text", text)];
                self.words.tell("report-note", &values)
            })
            .collect()
    }

    fn events(&self) -> Vec<String> {
        let words = &self.words;
        let noted = self.lesson.record.events.iter();
        let noted = noted.filter(|(kind, _)| !ORDINARY.contains(&kind.as_str()));
        noted
            .map(|(kind, n)| {
                let what = match key_of(kind, &TROUBLE) {
                    Some(key) => words.say(key),
                    None => words.tell("event-other", &[("code", Value::Name(kind))]),
                };
                let values = [("what", Value::Text(&what)), ("n", Value::Count(*n))];
                words.tell("report-event-of", &values)
            })
            .collect()
    }

    fn flags(&self) -> Vec<String> {
        let words = &self.words;
        let flags = self.lesson.record.flags.iter();
        flags
            .map(|(code, rows)| {
                let what = self.flag(code);
                let rows = words.rows(*rows);
                let values = [("what", Value::Text(&what)), ("rows", Value::Text(&rows))];
                words.tell("report-flag-of", &values)
            })
            .collect()
    }

    /// `lost:3`, `gap`, `moss:open` in words.
    fn flag(&self, code: &str) -> String {
        let words = &self.words;
        let (before, after) = code.split_once(':').unwrap_or((code, ""));
        if let Some(key) =
            key_of(before, &FLAGS).filter(|_| after.bytes().all(|b| b.is_ascii_digit()))
        {
            return words.say(key);
        }
        match key_of(after, &FAULTS) {
            Some(key) => {
                let fault = words.say(key);
                let values = [
                    ("column", Value::Name(before)),
                    ("fault", Value::Text(&fault)),
                ];
                words.tell("flag-probe", &values)
            }
            None => words.tell("flag-other", &[("code", Value::Name(code))]),
        }
    }
}
