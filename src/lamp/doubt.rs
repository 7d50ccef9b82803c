//! Which edges of a finished fit are none of a lamp's.

use super::Edge;
use super::clean::Curve;
use super::search::limits;
use super::search::spacing;

/// An edge whose half-width, lags apart, is more than this plus so many rows is no lamp's: the
/// sharp onset that a lamp makes is known far better where it can be seen at all. A lone edge has no
/// mirror image to speak for it.
const VAGUE_S: f64 = 45.0;
const LONE_S: f64 = 25.0;
const VAGUE_ROWS: f64 = 0.8;

/// So close to the last row, in seconds and in rows, no answer to an edge can be seen.
const LATE_S: f64 = 10.0;
const LATE_ROWS: f64 = 3.0;

/// So close to the first row, in rows, there is nothing to begin from; where they are far apart one row before the
/// edge, and so many seconds, are enough.
const EARLY_ROWS: f64 = 3.0;
const EARLY_S: f64 = 60.0;

/// Neighbouring edges are at least so many rows apart, and so many seconds or that share of the
/// record, whichever is shorter: a touched probe looks like a lamp that was on for a moment. Where one
/// sample is alone and others do not say, two edges beside a lamp's own are twice as far apart.
const APART_ROWS: f64 = 2.0;
const APART_S: f64 = 45.0;
const APART_SHARE: f64 = 0.04;
const APART_ALONE: f64 = 2.0;

/// What of a fit is in doubt: one edge, or two neighbours from a place on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Doubt {
    One(usize),
    Pair(usize),
}

/// The place of the first edge whose next one is closer than a lamp's can be told to be.
pub(super) fn close_pair(at_s: &[f64], curves: &[Curve]) -> Option<usize> {
    let (from_s, to_s) = limits(curves);
    let alone = curves.len() == 1 && at_s.len() > 2;
    let times = if alone { APART_ALONE } else { 1.0 };
    let moment_s = times * APART_S.min(APART_SHARE * (to_s - from_s));
    let gap_s = moment_s.max(APART_ROWS * spacing(curves));
    let mut pairs = at_s.iter().zip(at_s.iter().skip(1));
    pairs.position(|(a, b)| b - a < gap_s)
}

/// What is most in doubt, if anything is: a pair too close; an edge at an end of a record of many
/// rows; one known so poorly, its lags apart, that a season explains it as well as a lamp.
pub(super) fn doubted(edges: &[Edge], lag_share: &[f64], curves: &[Curve]) -> Option<Doubt> {
    let at_s: Vec<f64> = edges.iter().map(|e| e.at_s).collect();
    if let Some(first) = close_pair(&at_s, curves) {
        return Some(Doubt::Pair(first));
    }
    let (from_s, to_s) = limits(curves);
    let row_s = spacing(curves);
    let rows = (to_s - from_s) / row_s;
    // A plan may begin and end with its few rows, but no third edge comes with the last of them.
    let is_long = rows > 40.0;
    if is_long || edges.len() > 2 {
        let late = |e: &Edge| e.at_s > to_s - LATE_S.max(LATE_ROWS * row_s);
        let begin_s = (EARLY_ROWS * row_s).min(EARLY_S.max(row_s));
        let early = |e: &Edge| e.at_s < from_s + begin_s;
        let place = edges.iter().rposition(late);
        let first = edges.iter().position(early).filter(|_| is_long);
        if let Some(place) = place.or(first) {
            return Some(Doubt::One(place));
        }
    }
    let most_s = if edges.len() == 1 { LONE_S } else { VAGUE_S } + VAGUE_ROWS * row_s;
    let half = |(edge, share): (&Edge, &f64)| {
        0.5 * (edge.high_s - edge.low_s) * (1.0 - share).max(0.0).sqrt()
    };
    let halves: Vec<f64> = edges.iter().zip(lag_share).map(half).collect();
    let worst = (0..halves.len()).max_by(|a, b| {
        let of = |i: &usize| halves.get(*i).copied().unwrap_or(0.0);
        of(a).total_cmp(&of(b))
    })?;
    let vague = halves.get(worst).is_some_and(|half| *half > most_s);
    vague.then_some(Doubt::One(worst))
}
