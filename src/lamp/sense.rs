//! What no lamp does: light that cools all samples, and a going off that cools none.
//!
//! A model of the whole record takes what it can get: where a lamp is dimmed, an edge in the quiet before it
//! tilts the curves, and samples that come to the room's temperature look lit for a while. What the
//! readings themselves do about the edges says whether that can be.

use super::clean::Curve;
use super::search::{limits, spacing};
use super::{Edge, Kind};

/// A level is the mean of the rows of so many seconds, or of those of this many intervals.
const LEVEL_S: f64 = 10.0;
const LEVEL_ROWS: f64 = 1.2;

/// The warmest reading after a lamp that goes off comes within so many seconds: lags of probe and lamp.
const LAGS_S: f64 = 60.0;

/// Standard uncertainties of a difference between two levels that make it one.
const CLEAR: f64 = 4.0;

/// Going off makes a sample cool by at least so many times the pace that it cooled with while it was lit.
const FASTER: f64 = 2.0;

/// A lamp that was lit before the first row is told by what it lets cool: by so many degrees Celsius at least.
const LEAST_FALL_DEGC: f64 = 0.5;

/// Whether the curves do about their edges what samples under a lamp do.
pub(super) fn makes_sense(edges: &[Edge], curves: &[Curve]) -> bool {
    let row_s = spacing(curves);
    let width_s = LEVEL_S.max(LEVEL_ROWS * row_s);
    let cools = |(off, next): (&Edge, Option<&Edge>)| {
        let until_s = next.map_or(f64::INFINITY, |next| next.at_s);
        curves.iter().any(|c| cools(c, off.at_s, until_s, width_s))
    };
    let (_, last_s) = limits(curves);
    let warms = |on: &Edge, off: Option<&Edge>| {
        let off_s = off.map_or(last_s, |off| off.at_s);
        // Where the record ends soon after, the probes' lags hide what it did.
        let is_open = off.is_none() && off_s - on.at_s < LAGS_S;
        is_open
            || !curves
                .iter()
                .all(|c| is_cooler(c, (on.at_s, off_s), width_s))
    };
    let lit_from_start = edges.first().filter(|first| first.edge == Kind::Off);
    let after = edges.iter().skip(1).map(Some).chain([None]);
    let mut heatings = edges
        .iter()
        .zip(after)
        .filter(|(on, _)| on.edge == Kind::On);
    lit_from_start.is_none_or(|off| cools((off, edges.get(1))))
        && heatings.all(|(on, off)| warms(on, off))
}

/// Whether a curve falls after the first going off, faster than it fell before.
fn cools(curve: &Curve, off_s: f64, until_s: f64, width_s: f64) -> bool {
    let (Some(&from_s), Some(&last_s)) = (curve.t_s.first(), curve.t_s.last()) else {
        return false;
    };
    let end_s = until_s.min(last_s);
    let first = level(curve, from_s, from_s + width_s);
    let end = level(curve, end_s - width_s, end_s);
    let (Some(first), Some(top), Some(end)) = (first, top(curve, off_s, end_s, width_s), end)
    else {
        return false;
    };
    let fall = top.0 - end.0;
    let before = first.0 - top.0;
    let is_faster = fall * (off_s - from_s).max(width_s) > FASTER * before * (end_s - off_s);
    fall > LEAST_FALL_DEGC.max(CLEAR * top.1.hypot(end.1)) && is_faster
}

/// Whether a curve is plainly cooler as the lamp goes off than as it went on.
fn is_cooler(curve: &Curve, (on_s, off_s): (f64, f64), width_s: f64) -> bool {
    let begin = level(curve, on_s - width_s, on_s);
    let (Some(begin), Some(top)) = (begin, top(curve, off_s, f64::INFINITY, width_s)) else {
        return false;
    };
    begin.0 - top.0 > CLEAR * begin.1.hypot(top.1)
}

/// The warmest level about a going off: just before it, or as late after it as lags make it.
fn top(curve: &Curve, off_s: f64, end_s: f64, width_s: f64) -> Option<(f64, f64)> {
    let latest_s = (off_s + LAGS_S.max(width_s)).min(end_s);
    let starts = [off_s - width_s, off_s, latest_s - width_s];
    let levels = starts.into_iter().filter(|from| *from <= latest_s);
    let levels = levels.filter_map(|from| level(curve, from, from + width_s));
    levels.max_by(|a, b| a.0.total_cmp(&b.0))
}

/// Mean of the rows in an interval of time, with its standard uncertainty; none without rows.
fn level(curve: &Curve, from_s: f64, to_s: f64) -> Option<(f64, f64)> {
    let a = curve.t_s.partition_point(|t| *t < from_s);
    let b = curve.t_s.partition_point(|t| *t <= to_s).max(a);
    let rows = curve.degc.get(a..b)?;
    let n = rows.len() as f64;
    let u = curve.sd_degc * (curve.inflation / n).sqrt().min(1.0);
    (n > 0.0).then(|| (rows.iter().sum::<f64>() / n, u.hypot(curve.floor_degc)))
}
