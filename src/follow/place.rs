//! What was heard of a run, and how far.

use std::collections::HashSet;

use super::id::EventId;
use super::row::{EventSeen, RowSeen};

/// Events that are known by their fingerprints at most. Of more, those of the growing file may come
/// again from the final one.
const MOST_EVENTS: usize = 1 << 16;

/// Whether rows are still coming.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum State {
    /// They are.
    Running,
    /// There are no results, nothing has come for a while, and nobody logs it.
    CutOff,
    /// The results are there.
    Finished,
}

/// What was heard of a run.
#[derive(Debug, Clone, PartialEq)]
pub enum Heard {
    /// What is logged: always first.
    Begin,
    /// A row, with its run time in ms.
    Row(i64, RowSeen),
    /// An event.
    Event(EventId, EventSeen),
    /// The run's end: its state, and its results as one line of JSON where there are any.
    End(State, Option<String>),
}

/// How far a run was heard: enough to go on later, from whichever of its files is there then.
#[derive(Debug, Clone, PartialEq, Eq, Default, serde::Serialize, serde::Deserialize)]
#[serde(default)]
pub struct Place {
    /// Run time of the last row in ms.
    pub row_ms: Option<i64>,
    /// Rows so far.
    pub rows: u64,
    /// Events so far.
    pub events: HashSet<EventId>,
    /// What was logged has been told.
    pub begun: bool,
    /// The end that was told: a fingerprint of the results.
    pub end: Option<EventId>,
}

/// What was heard, as far as a [`Place`] has to know it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Step {
    /// What is logged.
    Begin,
    /// A row, by its run time in ms.
    Row(i64),
    /// An event.
    Event(EventId),
    /// The end: a fingerprint of the results.
    End(EventId),
}

impl Heard {
    /// What a [`Place`] has to know of it.
    #[must_use]
    pub fn step(&self) -> Step {
        match self {
            Self::Begin => Step::Begin,
            Self::Row(ms, _) => Step::Row(*ms),
            Self::Event(id, _) => Step::Event(*id),
            Self::End(_, Some(results)) => Step::End(EventId::of(results)),
            Self::End(state, None) => Step::End(EventId::of(&format!("{state:?}"))),
        }
    }
}

impl Place {
    /// Takes up what was heard.
    pub fn pass(&mut self, step: Step) {
        match step {
            Step::Begin => self.begun = true,
            Step::Row(ms) => {
                // Where rows are heard once more, they are counted once more.
                let again = self.row_ms.is_some_and(|last| ms <= last);
                self.rows = if again { 1 } else { self.rows + 1 };
                self.row_ms = Some(ms);
                self.end = None;
            }
            Step::Event(id) => {
                if self.events.len() < MOST_EVENTS {
                    self.events.insert(id);
                }
            }
            Step::End(results) => self.end = Some(results),
        }
    }
}
