//! Edges within a gap in the rows, told from the rows behind it.
//!
//! Behind a gap the filters go on with the slope that was foretold for it and a level that nobody knows. If the lamp
//! was switched within the gap the slope is another one from the first row on: a ramp whose lags are over. How far the
//! level is from the foretold must go with that: no further than such a slope could have brought it, and not the other
//! way, as where somebody has moved the probe.

use super::Kind;
use super::asked::{AGREES, Onset, beyond};
use super::trace::Trace;
use super::track::{Gap, OLDEST, Ramp};
use super::watch::{EdgeSeen, LEAST_PER_S, STEPS, TURN, Watcher, worth};

/// What is asked for more, since nobody saw how suddenly it came.
const ALARM_GAP: f64 = 10.0;

/// The level may be beside the foretold by this share of how far it was to go, and by so many degrees for each second of
/// the gap; what it is further counts as evidence, up to this. And the slope may have been so many times larger at first.
const BESIDE: f64 = 0.3;
const DRIFTS_PER_S: f64 = 3e-3;
const LEVEL: f64 = 30.0;
const COOLED: f64 = 9.0;
const STEEPER: f64 = 2.5;

/// Evidence by which one of two explanations is clear.
const CLEAR: f64 = 10.0;

/// An edge so soon behind the gap, in blocks, cannot be told from one within it.
const SOON: f64 = 5.0;

impl Watcher {
    /// An edge within the last gap, where the rows behind it show one.
    pub(super) fn within_gap(&self, newest_s: f64, t_s: f64) -> Option<EdgeSeen> {
        let ramps = self.gap_ramps();
        let gap = ramps.iter().flatten().map(|(gap, _)| *gap).next()?;
        let end_s = newest_s - gap.since as f64 * self.width_s;
        let kinds = [Kind::On, Kind::Off].into_iter();
        let kind = kinds
            .filter(|kind| self.asked.lamp() != Some(*kind))
            .find(|&kind| {
                let onset = Onset {
                    kind,
                    at_s: end_s,
                    blocks: self.places() as f64,
                    likeliest: 0,
                    width_s: self.width_s,
                };
                self.beyond_gap(&ramps, kind) > self.asked.raised(&onset) + ALARM_GAP
            })?;
        Some(self.spot(kind, &ramps, (gap, end_s), t_s))
    }

    /// Widens an edge that the rows behind a gap show no better than one within it.
    pub(super) fn or_within_gap(&self, seen: EdgeSeen, top: f64, newest_s: f64) -> EdgeSeen {
        let ramps = self.gap_ramps();
        let Some(gap) = ramps.iter().flatten().map(|(gap, _)| *gap).next() else {
            return seen;
        };
        let worth = |r: &Ramp| (seen.edge.sign() * r.evidence).max(0.0);
        let within: f64 = ramps.iter().flatten().map(|(_, ramp)| worth(ramp)).sum();
        let end_s = newest_s - gap.since as f64 * self.width_s;
        let spot = self.spot(seen.edge, &ramps, (gap, end_s), seen.noticed_s);
        // Where neither is much more likely than the other it may be either.
        if within > top + CLEAR {
            return spot;
        }
        if within < top - CLEAR {
            return seen;
        }
        EdgeSeen {
            at_s: if within > top { spot.at_s } else { seen.at_s },
            low_s: spot.low_s.min(seen.low_s),
            high_s: spot.high_s.max(seen.high_s),
            ..seen
        }
    }

    fn gap_ramps(&self) -> Vec<Option<(Gap, Ramp)>> {
        let line: Vec<f64> = (0..=OLDEST + 1).map(|u| u as f64 + 1.0).collect();
        let one = |trace: &Trace| {
            let (gap, ramp) = trace.in_gap(&line)?;
            let evidence = worth(trace, ramp.evidence);
            Some((gap, Ramp { evidence, ..ramp }))
        };
        self.traces.iter().map(one).collect()
    }

    /// Where within a gap that ends at `end_s` an edge lies.
    fn spot(
        &self,
        kind: Kind,
        ramps: &[Option<(Gap, Ramp)>],
        (gap, end_s): (Gap, f64),
        t_s: f64,
    ) -> EdgeSeen {
        let lag_s = self.lags_s.0 + self.lags_s.1;
        let gap_s = gap.places as f64 * self.width_s;
        let ago_s = (began_ago(ramps, kind) * self.width_s + lag_s).min(gap_s + lag_s);
        EdgeSeen {
            edge: kind,
            at_s: end_s - ago_s,
            low_s: end_s - gap_s - lag_s - 2.0 * self.lag_spread_s,
            high_s: (end_s + SOON * self.width_s).min(t_s),
            noticed_s: t_s,
        }
    }

    /// How far what counts of the channels' evidence for an edge within the gap goes beyond what is asked for.
    fn beyond_gap(&self, ramps: &[Option<(Gap, Ramp)>], kind: Kind) -> f64 {
        let lit = self.asked.lamp() == Some(Kind::On);
        let each = self.traces.iter().zip(ramps).filter_map(|(trace, found)| {
            let (gap, ramp) = found.as_ref()?;
            let slope = kind.sign() * ramp.evidence;
            let change = kind.sign() * ramp.slope;
            let shown = kind.sign() * trace.slope(gap.since) > 0.0;
            let went = kind.sign() * gap.above;
            let gap_s = gap.places as f64 * self.width_s;
            let beside =
                BESIDE * gap.goes.abs() + DRIFTS_PER_S * gap_s + 2.0 * trace.usual_change();
            let most = STEEPER * change * gap.places as f64 + beside;
            let level = (went.max(0.0) / beside).powi(2).min(LEVEL);
            // A lamp that burnt has let the sample cool: then its slope may be back to what was foretold.
            let is_gone = kind == Kind::Off && lit && slope > 0.0 && level > COOLED;
            let counts = (slope > AGREES || is_gone)
                && change > LEAST_PER_S * self.width_s
                && kind.sign() * ramp.after > -TURN * change
                && shown
                && !trace.is_unquiet()
                && (-beside..most).contains(&went)
                && went + change * gap.since as f64 > STEPS * trace.step_degc;
            Some(if counts { slope + level } else { 0.0 })
        });
        beyond(each).0
    }
}

/// How many blocks before its end within the gap the edge seems to have come.
fn began_ago(ramps: &[Option<(Gap, Ramp)>], kind: Kind) -> f64 {
    let (mut sum, mut weight) = (0.0, 0.0);
    for (gap, ramp) in ramps.iter().flatten() {
        let worth = (kind.sign() * ramp.evidence).max(0.0);
        sum += worth * (gap.above / ramp.slope).max(0.0);
        weight += worth;
    }
    sum / f64::max(weight, 1e-12)
}
