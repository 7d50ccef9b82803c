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

/// So close to the first row, in rows, there is nothing to begin from.
const EARLY_ROWS: f64 = 3.0;

/// The edge that is most in doubt, if any is: known so poorly, its lags apart, that a season explains it
/// as well as a lamp, or at an end of a record of many rows.
pub(super) fn doubted(edges: &[Edge], lag_share: &[f64], curves: &[Curve]) -> Option<usize> {
    let (from_s, to_s) = limits(curves);
    let row_s = spacing(curves);
    let rows = (to_s - from_s) / row_s;
    if rows > 40.0 {
        let late = |e: &Edge| e.at_s > to_s - LATE_S.max(LATE_ROWS * row_s);
        let early = |e: &Edge| e.at_s < from_s + EARLY_ROWS * row_s;
        let place = edges.iter().rposition(late);
        if let Some(place) = place.or(edges.iter().position(early)) {
            return Some(place);
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
    halves
        .get(worst)
        .filter(|half| **half > most_s)
        .map(|_| worst)
}
