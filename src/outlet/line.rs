//! What was heard of a run as one line of JSON.
//!
//! `stream.schema.json` beside this file describes the lines (JSON Schema, draft 2020-12); a test
//! holds them to it.

use std::collections::BTreeMap;

use serde::Serialize;
use serde_json::value::RawValue;

use super::word::word;
use crate::follow::{EventId, Follow, Heard, State};
use crate::run::Plan;

/// The first line's `format`.
pub const FORMAT: &str = "duskmark-stream-1";

/// The schema of the lines.
pub const SCHEMA: &str = include_str!("stream.schema.json");

/// Where a line comes from: on each, so that a line says all that is needed to keep it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub(super) struct From {
    pub(super) site: String,
    pub(super) bench: String,
    pub(super) run: String,
}

impl From {
    pub(super) fn of(site: &str, follow: &Follow) -> Self {
        let run = follow.id();
        let name = &follow.setup.name;
        Self {
            site: word(site),
            bench: word(if name.is_empty() { &run } else { name }),
            run,
        }
    }
}

#[derive(Serialize)]
struct Line<'a> {
    #[serde(rename = "type")]
    kind: &'static str,
    #[serde(flatten)]
    from: &'a From,
    #[serde(flatten)]
    body: Body<'a>,
}

#[derive(Serialize)]
#[serde(untagged)]
enum Body<'a> {
    Begin {
        format: &'static str,
        name: &'a str,
        samples: Vec<SampleOf<'a>>,
        plan: &'a Plan,
    },
    Row {
        seq: i64,
        elapsed_s: Box<RawValue>,
        time_utc: Option<&'a str>,
        degc: BTreeMap<&'a str, Option<Box<RawValue>>>,
        phase: Option<&'a str>,
        flags: Vec<&'a str>,
    },
    Event {
        id: EventId,
        elapsed_s: f64,
        time_utc: Option<&'a str>,
        kind: &'a str,
        sample: Option<&'a str>,
        detail: &'a str,
    },
    End {
        state: State,
        rows: u64,
        events: usize,
        summary: Option<Box<RawValue>>,
    },
}

#[derive(Serialize)]
struct SampleOf<'a> {
    key: &'a str,
    name: &'a str,
    unit: &'static str,
}

/// Nothing where there is nothing.
fn some(text: &str) -> Option<&str> {
    (!text.is_empty()).then_some(text)
}

/// A cell's digits as they stand in the file, if they are a number of JSON.
fn digits(cell: &str) -> Option<Box<RawValue>> {
    cell.parse::<f64>().ok().filter(|v| v.is_finite())?;
    RawValue::from_string(cell.to_owned()).ok()
}

/// The line's kind, which is also the last level of its topic.
pub(super) fn kind(heard: &Heard) -> &'static str {
    match heard {
        Heard::Begin => "run",
        Heard::Row(..) => "row",
        Heard::Event(..) => "event",
        Heard::End(..) => "end",
    }
}

/// The line, without a line end.
pub(super) fn line(from: &From, follow: &Follow, heard: &Heard) -> String {
    let body = match heard {
        Heard::Begin => begin(follow),
        Heard::Row(ms, row) => Body::Row {
            seq: *ms,
            elapsed_s: digits(&format!("{}.{:03}", ms / 1000, ms % 1000)).unwrap_or_default(),
            time_utc: some(&row.utc),
            degc: follow
                .columns
                .iter()
                .map(String::as_str)
                .zip(row.cells.iter().map(|cell| digits(cell)))
                .collect(),
            phase: some(&row.phase),
            flags: row.flags.split(' ').filter(|f| !f.is_empty()).collect(),
        },
        Heard::Event(id, event) => Body::Event {
            id: *id,
            elapsed_s: event.t_s,
            time_utc: some(&event.utc),
            kind: &event.kind,
            sample: some(&event.channel),
            detail: &event.detail,
        },
        Heard::End(state, summary) => Body::End {
            state: *state,
            rows: follow.place().rows,
            events: follow.place().events.len(),
            summary: summary
                .clone()
                .and_then(|text| RawValue::from_string(text).ok()),
        },
    };
    let line = Line {
        kind: kind(heard),
        from,
        body,
    };
    serde_json::to_string(&line).unwrap_or_default()
}

fn begin(follow: &Follow) -> Body<'_> {
    let given = &follow.setup.sampler.samples;
    let columns = &follow.columns;
    let names = if given.len() == columns.len() {
        given
    } else {
        columns
    };
    let sample = |(key, name)| SampleOf {
        key,
        name,
        unit: "Cel",
    };
    let keys = columns.iter().map(String::as_str);
    Body::Begin {
        format: FORMAT,
        name: &follow.setup.name,
        samples: keys
            .zip(names.iter().map(String::as_str))
            .map(sample)
            .collect(),
        plan: &follow.setup.plan,
    }
}
