//! The lamp's edges as events, beside what was planned.

use super::feed::EventLine;
use crate::analysis::{PlannedEdge, Summary};
use crate::lamp::Kind;

/// One event for each edge of a run that began at `start_ns`.
pub(super) fn edge_events(summary: &Summary, start_ns: i64) -> Vec<EventLine> {
    let event = |edge: &crate::lamp::Edge| {
        let (low_s, high_s, level) = (edge.low_s, edge.high_s, edge.level);
        let mut detail = format!("{low_s:.1} s to {high_s:.1} s at level {level}");
        let answers = |p: &&PlannedEdge| p.edge == edge.edge && p.seen_s == Some(edge.at_s);
        if let Some(planned) = summary.planned.iter().find(answers) {
            detail.push_str(&beside(planned));
        }
        EventLine {
            t_ns: start_ns + (edge.at_s * 1e9) as i64,
            kind: match edge.edge {
                Kind::On => "lamp-on".into(),
                Kind::Off => "lamp-off".into(),
            },
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
