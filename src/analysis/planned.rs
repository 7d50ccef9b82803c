//! When the lamp was to be switched, beside when it was.

use serde::{Deserialize, Serialize};

use super::sample::tidy;
use crate::lamp::{Edge, Kind};

/// When people were told to switch the lamp, and by which rule.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Cued {
    /// On or off.
    pub edge: Kind,
    /// When they were told, in seconds.
    pub cued_s: f64,
    /// The plan's time from the lamp-on before it, in seconds; none where nothing but the cue says
    /// when.
    pub after_on_s: Option<f64>,
}

/// A switching of the lamp that was planned, and what became of it.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct PlannedEdge {
    /// On or off.
    pub edge: Kind,
    /// When it was due by the plan, counted from the lamp-on before it as the whole record tells it,
    /// in seconds; where the plan gives no time, when people were told.
    pub planned_s: f64,
    /// When people were told, in seconds.
    pub cued_s: f64,
    /// When the lamp was switched, in seconds; none if it was not seen.
    pub seen_s: Option<f64>,
    /// How long after the plan that was, in seconds; negative before it.
    pub late_s: Option<f64>,
}

/// Each cue beside the edge that answers it: the one of its kind between the cues around it that
/// lies nearest to what was planned.
pub(super) fn planned(cues: &[Cued], edges: &[Edge]) -> Vec<PlannedEdge> {
    let other = |cue: &Cued| cue.edge.other();
    cues.iter()
        .enumerate()
        .map(|(place, cue)| {
            // The lamp-on that the cue was counted from: what is due by it lies nearest to the cue.
            let due_s = cue.after_on_s.and_then(|after_s| {
                let ons = edges.iter().filter(|e| e.edge == Kind::On);
                let due = ons.map(|e| e.at_s + after_s);
                due.min_by(|a, b| (a - cue.cued_s).abs().total_cmp(&(b - cue.cued_s).abs()))
            });
            let planned_s = due_s.unwrap_or(cue.cued_s);
            let (before, after) = cues.split_at(place);
            let from_s = before.iter().rfind(|c| c.edge == other(cue));
            let to_s = after.iter().find(|c| c.edge == other(cue));
            let from_s = from_s.map_or(f64::NEG_INFINITY, |c| c.cued_s);
            let to_s = to_s.map_or(f64::INFINITY, |c| c.cued_s);
            let away_s = |e: &&Edge| (e.at_s - planned_s).abs();
            let seen_s = edges
                .iter()
                .filter(|e| e.edge == cue.edge && from_s < e.at_s && e.at_s < to_s)
                .min_by(|a, b| away_s(a).total_cmp(&away_s(b)))
                .map(|e| e.at_s);
            PlannedEdge {
                edge: cue.edge,
                planned_s: tidy(planned_s),
                cued_s: tidy(cue.cued_s),
                seen_s,
                late_s: seen_s.map(|s| tidy(s - planned_s)),
            }
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn edge(edge: Kind, at_s: f64) -> Edge {
        Edge {
            edge,
            at_s,
            low_s: at_s - 1.0,
            high_s: at_s + 1.0,
            level: 0.95,
        }
    }

    fn cue(edge: Kind, cued_s: f64, after_on_s: Option<f64>) -> Cued {
        Cued {
            edge,
            cued_s,
            after_on_s,
        }
    }

    #[test]
    fn each_switching_is_beside_what_was_planned() {
        let edges = [
            edge(Kind::On, 70.0),
            edge(Kind::Off, 674.2),
            edge(Kind::On, 1268.0),
            edge(Kind::Off, 1868.0),
        ];
        let cues = [
            cue(Kind::On, 65.0, None),
            cue(Kind::Off, 671.0, Some(600.0)),
            cue(Kind::On, 1271.0, Some(1200.0)),
            cue(Kind::Off, 1869.0, Some(600.0)),
        ];
        let late: Vec<_> = planned(&cues, &edges).iter().map(|p| p.late_s).collect();
        // On 5 s after it was asked for; off 4.2 s after its minute; on again 2 s too soon.
        assert_eq!(late, [Some(5.0), Some(4.2), Some(-2.0), Some(0.0)]);
    }

    #[test]
    fn a_lamp_that_was_not_seen_is_not_late() {
        let found = planned(
            &[
                cue(Kind::On, 65.0, None),
                cue(Kind::Off, 665.0, Some(600.0)),
            ],
            &[],
        );
        assert!(
            found
                .iter()
                .all(|p| p.seen_s.is_none() && p.late_s.is_none())
        );
        assert!((found[1].planned_s - 665.0).abs() < 1e-9);
        assert_eq!(planned(&[], &[edge(Kind::On, 1.0)]), []);
    }
}
