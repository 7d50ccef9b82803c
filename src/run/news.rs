//! What a live run tells the people who watch it.

use super::step::Cue;
use crate::lamp::EdgeSeen;
use crate::sampler::Row;

/// What a run tells the people who watch it.
#[derive(Debug)]
pub enum News {
    /// A row, and its run time in seconds.
    Row {
        /// Run time in seconds.
        t_s: f64,
        /// The row.
        row: Row,
    },
    /// Something happened.
    Event {
        /// Run time in seconds.
        t_s: f64,
        /// The event's kind.
        kind: String,
        /// The sample, where it is about one.
        sample: Option<String>,
        /// In words.
        detail: String,
    },
    /// Something is to be done.
    Cue(Cue),
    /// The lamp was seen to change.
    Lamp(EdgeSeen),
    /// The disk is in trouble, or out of it; nothing is lost unless it says so.
    Disk(String),
}
