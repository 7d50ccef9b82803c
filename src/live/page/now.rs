//! What viewers are told: small texts, ready to be shown.

use std::borrow::Cow;

use super::hall::{Run, State};
use super::marks::MarkSeen;
use super::poll::PollNow;
use super::seen::Seen;
use crate::analysis::Sample;
use crate::follow::EventSeen;
use crate::graph::within;
use crate::live::quiet::{no_reading, to_do};
use crate::live::words::{self, STILL_DEGC_PER_MIN, Stand, clock, still};

/// Everything of a run that changes, but its curves.
#[derive(Debug, Clone, PartialEq, serde::Serialize)]
pub(super) struct Now {
    pub(super) id: String,
    pub(super) name: String,
    pub(super) state: State,
    /// What people are to do or to wait for.
    pub(super) cue: String,
    /// Time since the run's start, or since the lamp went on: `12:34`.
    pub(super) clock: String,
    /// Time to the next mark.
    pub(super) next: String,
    pub(super) rows: u64,
    pub(super) samples: Vec<SampleNow>,
    pub(super) strip: Strip,
    /// Grows when there is a new picture to fetch.
    pub(super) picture: u64,
    /// Rows of the table so far.
    pub(super) table: usize,
    /// Time of the latest event in seconds, and how many are shown.
    pub(super) log: (f64, usize),
    /// The run is logged by this program: the teacher can act.
    pub(super) here: bool,
    /// Which way the lamp is switched next, or empty.
    pub(super) lamp: &'static str,
    /// What comes without waiting any longer, or empty.
    pub(super) next_step: &'static str,
    /// What groups predict.
    pub(super) poll: PollNow,
}

/// One sample's card.
#[derive(Debug, Clone, PartialEq, serde::Serialize)]
pub(super) struct SampleNow {
    pub(super) name: String,
    /// As in the file of rows; empty where there is no reading.
    pub(super) degc: String,
    /// `+0.52 °C/min`, or empty.
    pub(super) trend: String,
    /// What is in doubt, or empty.
    pub(super) flag: String,
}

/// The plan strip: how long each part is, and where now is, from 0 to 1.
#[derive(Debug, Clone, PartialEq, Default, serde::Serialize)]
pub(super) struct Strip {
    /// Word and share of the width of each part; none in a run without a planned end.
    pub(super) parts: Vec<(&'static str, f64)>,
    /// Where the marks are.
    pub(super) marks: Vec<f64>,
    pub(super) now: Option<f64>,
}

/// Marks on a strip at most: closer together they are a grey bar.
const MOST_NOTCHES: f64 = 120.0;

/// Share of the strip for the settling, whose length nobody knows.
const SETTLING: f64 = 0.12;

/// What is said of a board that says nothing, and may be there.
const SILENT: &str = "Nothing comes from the board: look at its cable.";

/// Pictures change at most so often, in seconds of the run.
const PICTURE_S: f64 = 1.0;

impl Now {
    /// What is known of a run.
    pub(super) fn of(run: &Run) -> Self {
        let state = run.state();
        run.ask(|seen| Self::tell(run, state, seen))
    }

    /// The same for the wall, without reading all rows of a finished run: what it came to.
    pub(super) fn brief(run: &Run) -> Self {
        let state = run.state();
        if state != State::Finished {
            return run.ask(|seen| Self::tell(run, state, seen));
        }
        let results = run.results();
        let sample = |s: &Sample| SampleNow {
            name: s.name.clone(),
            degc: String::new(),
            trend: s
                .values
                .rise_degc
                .map_or(String::new(), |r| format!("rose by {r:.1} °C")),
            flag: String::new(),
        };
        Self {
            id: run.id.clone(),
            name: run.name.clone(),
            state,
            cue: "Finished.".to_owned(),
            clock: String::new(),
            next: String::new(),
            rows: 0,
            samples: results
                .iter()
                .flat_map(|r| &r.samples)
                .map(sample)
                .collect(),
            strip: Strip::default(),
            picture: 0,
            table: 0,
            log: (0.0, 0),
            here: false,
            lamp: "",
            next_step: "",
            poll: PollNow::of_results(results.as_ref()),
        }
    }

    fn tell(run: &Run, state: State, seen: &Seen) -> Self {
        let last = seen.last.as_ref();
        let silent_s = silent_s(run, state, seen);
        let row_s = last.map_or(0.0, |row| row.t_s);
        // Time goes on where no rows come.
        let last_s = match silent_s {
            Some(silent_s) if state == State::Running => row_s + silent_s,
            _ => row_s,
        };
        let from_s = seen.lamp_on_s().unwrap_or(0.0);
        Self {
            id: run.id.clone(),
            name: run.name.clone(),
            state,
            cue: cue(state, silent_s.is_some(), seen),
            clock: match seen.lamp_on_s() {
                Some(_) => format!("{} since the lamp went on", clock(last_s - from_s)),
                None => clock(last_s),
            },
            next: match seen.next_mark_in_s() {
                Some(s) if state == State::Running && silent_s.is_none() => {
                    format!("· next mark in {}", clock(s))
                }
                _ => String::new(),
            },
            rows: seen.rows,
            samples: samples(seen, state != State::Finished, silent_s),
            strip: strip(seen, last_s),
            picture: if state == State::Finished {
                seen.version
            } else {
                (row_s / PICTURE_S) as u64
            },
            table: seen.table().len(),
            log: (seen.events.back().map_or(0.0, |e| e.t_s), seen.events.len()),
            here: run.is_here(),
            lamp: seen.next_switch().unwrap_or_default(),
            next_step: seen.next_step().unwrap_or_default(),
            poll: PollNow::of(seen, run.is_here()),
        }
    }
}

/// For how long nothing has come, where the latest row's numbers are no longer the samples' own.
fn silent_s(run: &Run, state: State, seen: &Seen) -> Option<f64> {
    if state == State::Finished || seen.rows == 0 {
        return None;
    }
    let silent_s = run.silent_s();
    seen.quiet.is_old(silent_s).then_some(silent_s)
}

fn cue(state: State, silent: bool, seen: &Seen) -> String {
    let unplugged = seen.quiet.unplugged();
    match state {
        State::Finished => "The run is finished.".into(),
        State::CutOff => match unplugged {
            Some(words) => format!("{words} Or was it cut off? Nothing has come for a while."),
            None => "Nothing has come for a while. Was the run cut off?".into(),
        },
        State::Running if seen.rows == 0 => "Waiting for the first reading.".into(),
        State::Running => match (unplugged, silent) {
            (Some(words), _) => to_do(&words, seen.stage()),
            (None, true) => to_do(SILENT, seen.stage()),
            (None, false) => seen.stage().sentence(),
        },
    }
}

/// `+0.52 °C/min`; what rounds to nothing is steady, as on the terminal.
fn trend_words(degc_per_min: f64, settles: bool) -> String {
    if degc_per_min.abs() < STILL_DEGC_PER_MIN {
        return still(settles).into();
    }
    format!("{degc_per_min:+.2} °C/min").replace('-', "−")
}

fn samples(seen: &Seen, goes_on: bool, silent_s: Option<f64>) -> Vec<SampleNow> {
    let row = seen.last.as_ref();
    let settles = seen.stage() == Stand::Settling;
    let of = |(channel, name): (usize, &String)| {
        if let Some(silent_s) = silent_s {
            return SampleNow {
                name: name.clone(),
                degc: String::new(),
                trend: String::new(),
                flag: no_reading(silent_s),
            };
        }
        let flag = row.and_then(|row| {
            let own = seen.slugs.get(channel).map(|slug| format!("{slug}:"))?;
            let mut flags = row.flags.split(' ');
            flags.find_map(|f| f.strip_prefix(own.as_str()).map(str::to_owned))
        });
        let degc = row.and_then(|row| row.cells.get(channel));
        let trend = seen
            .trend(channel)
            .filter(|_| goes_on)
            .map(|rate| trend_words(rate, settles));
        SampleNow {
            name: name.clone(),
            degc: degc.cloned().unwrap_or_default(),
            trend: trend.unwrap_or_default(),
            flag: flag.unwrap_or_default(),
        }
    };
    seen.names.iter().enumerate().map(of).collect()
}

fn strip(seen: &Seen, last_s: f64) -> Strip {
    let plan = &seen.setup.plan;
    let Some(length_s) = plan.length_s().filter(|s| *s > 0.0) else {
        return Strip::default();
    };
    let settling = if plan.has_lamp() { SETTLING } else { 0.0 };
    let place = |after_s: f64| settling + (1.0 - settling) * after_s / length_s;
    let parts = match plan.heat_s {
        Some(heat_s) => vec![
            ("settling", settling),
            ("heating", place(heat_s) - settling),
            ("cooling", 1.0 - place(heat_s)),
        ],
        None => vec![("", 1.0)],
    };
    let marks = match plan.marks_s {
        Some(marks_s) if length_s / marks_s <= MOST_NOTCHES => {
            let n = (length_s / marks_s + 1e-6) as u32;
            (0..=n).map(|k| place(f64::from(k) * marks_s)).collect()
        }
        _ => Vec::new(),
    };
    let now = match seen.lamp_on_s() {
        Some(on_s) => place(last_s - on_s),
        // Towards the lamp, which it never reaches by itself.
        None if plan.has_lamp() => settling * last_s / (last_s + 120.0),
        None => place(last_s),
    };
    Strip {
        parts,
        marks,
        now: Some(now.clamp(0.0, 1.0)),
    }
}

/// The table and its head.
#[derive(Debug, Clone, PartialEq, serde::Serialize)]
pub(super) struct TableNow {
    pub(super) rows: Vec<MarkSeen>,
}

/// The latest events, in words.
#[derive(Debug, Clone, PartialEq, serde::Serialize)]
pub(super) struct LogNow {
    pub(super) events: Vec<(String, String)>,
}

impl LogNow {
    /// Times by the run's clock, the newest first.
    pub(super) fn of(seen: &Seen) -> Self {
        let from_s = seen.lamp_on_s().unwrap_or(0.0);
        let line = |e: &EventSeen| {
            let detail = detail(e);
            let parts = [words::event(&e.kind), e.channel.as_str(), &detail];
            let said: Vec<&str> = parts.into_iter().filter(|p| !p.is_empty()).collect();
            // To the nearest second, as the graph tells the lamp's instants.
            (clock((e.t_s - from_s).round()), said.join(": "))
        };
        // Who has not predicted yet is not to copy.
        let open = seen.takes_predictions();
        // The end says why it came.
        let done = words::event("cue-done");
        let told = seen
            .events
            .iter()
            .any(|e| e.kind == "end" && e.detail == done);
        let shown = seen.events.iter().filter(|e| match e.kind.as_str() {
            "prediction" => !open,
            "cue-done" => !told,
            _ => true,
        });
        Self {
            events: shown.rev().map(line).collect(),
        }
    }
}

/// What an event says of itself. The lamp's instants are counted from the run's begin in `events.csv`, and
/// on the page from the lamp: there it says how well they are known.
fn detail(event: &EventSeen) -> Cow<'_, str> {
    if !matches!(event.kind.as_str(), "lamp-on" | "lamp-off") {
        return event.detail.as_str().into();
    }
    let mut numbers = event
        .detail
        .split(' ')
        // Text that begins with a minus sign bears an apostrophe, lest a spreadsheet reckon with it.
        .filter_map(|word| word.trim_start_matches('\'').parse::<f64>().ok());
    let ends = (numbers.next(), numbers.next());
    let told = match ends {
        (Some(low_s), Some(high_s)) => within(event.t_s, low_s, high_s),
        _ => None,
    };
    match told {
        Some(sign) => format!("{sign} (95 %)").into(),
        None => event.detail.as_str().into(),
    }
}

#[cfg(test)]
mod tests {
    use super::{EventSeen, detail, trend_words};

    #[test]
    fn no_pace_is_told_as_less_than_nothing() {
        let told = [-0.004, 0.03, 0.524, -1.3].map(|rate| trend_words(rate, false));
        assert_eq!(told, ["steady", "steady", "+0.52 °C/min", "−1.30 °C/min"]);
        assert_eq!(trend_words(0.01, true), "hardly drifts");
    }

    #[test]
    fn a_lamp_that_may_have_gone_on_before_the_first_row_is_known_as_well_as_it_is() {
        let said = |at_s: f64, text: &str| {
            let line = format!("{at_s},2026-03-14T10:32:05.000Z,lamp-on,,{text}");
            let event = EventSeen::of(&line).unwrap();
            detail(&event).into_owned()
        };
        let noticed = "at 95 %; noticed at 11.7 s";
        assert_eq!(
            said(56.8, &format!("52.3 s to 60.7 s {noticed}")),
            "± 5 s (95 %)"
        );
        assert_eq!(
            said(4.7, &format!("'-2.6 s to 11.7 s {noticed}")),
            "± 8 s (95 %)"
        );
    }
}
