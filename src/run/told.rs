//! What happened to a run, in the words of `events.csv`.

use super::feed::{EventLine, Output};
use crate::journal::{Head, Missing, piece_name};
use crate::sampler::{Event, Finding};

/// An event of the sampler as a line.
pub(super) fn of_event(event: Event) -> Output {
    Output::Event(EventLine {
        t_ns: event.t_ns,
        kind: event.kind.code().to_owned(),
        channel: event.channel,
        detail: event.detail,
    })
}

/// What the watch over the probes found.
pub(super) fn found(finding: Finding) -> Output {
    match finding {
        Finding::Event(event) => of_event(event),
        Finding::Earlier {
            channel,
            sign,
            from_ns,
            to_ns,
        } => Output::Earlier {
            channel,
            sign,
            from_to_ns: (from_ns, to_ns),
        },
    }
}

/// An event of the run as a whole.
pub(super) fn told(t_ns: i64, kind: &str, detail: String) -> Output {
    Output::Event(EventLine {
        t_ns,
        kind: kind.to_owned(),
        channel: None,
        detail,
    })
}

/// The time in a clock record, and for how many seconds the computer slept before it, if it did.
pub(super) fn of_clock(text: &str) -> (&str, Option<&str>) {
    match text.split_once(" slept ") {
        Some((time, slept_s)) => (time, Some(slept_s)),
        None => (text, None),
    }
}

/// Why a new piece was begun after a failed sync.
pub(super) fn of_head(head: &Head) -> String {
    format!(
        "the disk could not confirm what was written; {} records are written again in {}",
        head.again,
        piece_name(head.piece)
    )
}

/// What was lost in a journal.
pub(super) fn of_missing(missing: &Missing) -> String {
    let (records, are) = match missing.records {
        1 => ("record", "is"),
        _ => ("records", "are"),
    };
    format!(
        "{} {records} ({} bytes) of {:.1} s {are} lost: neither disk nor memory had room",
        missing.records,
        missing.bytes,
        (missing.to_ns - missing.from_ns) as f64 / 1e9
    )
}
