//! The lamp's edges as events, beside what was planned.

use super::feed::EventLine;
use super::files::{self, RunTime};
use crate::analysis::{PlannedEdge, Summary};
use crate::lamp::{EdgeSeen, Kind};

/// The word in `events.csv`.
fn word(edge: Kind) -> &'static str {
    match edge {
        Kind::On => "lamp-on",
        Kind::Off => "lamp-off",
    }
}

/// The line of an edge that was noticed while the run goes on, at its estimated instant: it stands
/// behind those that are older than the noticing. At the end the whole record's edges replace it.
pub(super) fn seen_line(out: &mut String, seen: &EdgeSeen, time: &RunTime) {
    let (low_s, high_s, noticed_s) = (seen.low_s, seen.high_s, seen.noticed_s);
    let detail = format!("{low_s:.1} s to {high_s:.1} s; noticed at {noticed_s:.1} s");
    let utc = time.utc((seen.at_s * 1000.0).round() as i64);
    files::events_line(out, seen.at_s, &utc, word(seen.edge), "", &detail);
}

/// One event for each edge of a run that began at `start_ns`.
pub(super) fn edge_events(summary: &Summary, start_ns: i64) -> Vec<EventLine> {
    let event = |edge: &crate::lamp::Edge| {
        let (low_s, high_s, level) = (edge.low_s, edge.high_s, edge.level);
        let mut detail = format!("{low_s:.1} s to {high_s:.1} s at level {level}");
        if let Some(planned) = summary.planned_of(edge) {
            detail.push_str(&beside(planned));
        }
        EventLine {
            t_ns: start_ns + (edge.at_s * 1e9) as i64,
            kind: word(edge.edge).into(),
            channel: None,
            detail,
        }
    };
    summary.lamp.iter().map(event).collect()
}

/// `; planned at 665.0 s: 4.2 s after it`.
fn beside(planned: &PlannedEdge) -> String {
    let late_s = planned.late_s.unwrap_or(0.0);
    let side = if late_s < 0.0 { "before" } else { "after" };
    let (planned_s, late_s) = (planned.planned_s, late_s.abs());
    format!("; planned at {planned_s:.1} s: {late_s:.1} s {side} it")
}
