//! The middle of many courses at each instant, and how far they are spread.

use super::picture::Curve;

/// Instants of the middle's course at most: more than any picture has columns for, and few enough
/// to sort a class at each.
const MOST_INSTANTS: usize = 2000;

/// Middle and spread of many courses on a grid, in degrees Celsius; NaN where fewer than half of
/// them have a value.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) struct Course {
    pub(super) median: Vec<f64>,
    /// Lower quartile, or the least below four courses.
    pub(super) low: Vec<f64>,
    /// Upper quartile, or the greatest below four courses.
    pub(super) high: Vec<f64>,
}

/// An even grid of instants in seconds over all curves, as fine as the finest of them if that
/// makes no more than [`MOST_INSTANTS`].
pub(super) fn grid<'a>(curves: impl Iterator<Item = &'a Curve<'a>>) -> Vec<f64> {
    let (mut low, mut high, mut most) = (f64::INFINITY, f64::NEG_INFINITY, 0);
    for curve in curves {
        for (t_s, _) in curve.points() {
            (low, high) = (low.min(t_s), high.max(t_s));
        }
        most = most.max(curve.t_s.len());
    }
    if low >= high {
        return Vec::from_iter((low == high).then_some(low));
    }
    let count = most.clamp(2, MOST_INSTANTS);
    let step = (high - low) / (count - 1) as f64;
    (0..count).map(|k| low + k as f64 * step).collect()
}

/// The middle of the curves at the grid's instants, each read by linear interpolation between its
/// own points, never across a gap and never beyond its ends.
pub(super) fn course(curves: &[Curve<'_>], grid: &[f64], gap_s: f64) -> Course {
    let columns: Vec<Vec<f64>> = curves
        .iter()
        .map(|curve| resampled(curve, grid, gap_s))
        .collect();
    let mut course = Course::default();
    let mut here = Vec::with_capacity(curves.len());
    for place in 0..grid.len() {
        here.clear();
        let values = columns.iter().filter_map(|column| column.get(place));
        here.extend(values.copied().filter(|v| v.is_finite()));
        here.sort_by(f64::total_cmp);
        let enough = !here.is_empty() && 2 * here.len() >= curves.len();
        let at = |p: f64| if enough { quantile(&here, p) } else { f64::NAN };
        let (low, high) = if here.len() < 4 {
            (0.0, 1.0)
        } else {
            (0.25, 0.75)
        };
        course.median.push(at(0.5));
        course.low.push(at(low));
        course.high.push(at(high));
    }
    course
}

/// A quantile of sorted values by linear interpolation between them (definition 7 of Hyndman and
/// Fan, The American Statistician 50 (1996) 361); NaN without values.
fn quantile(sorted: &[f64], p: f64) -> f64 {
    let place = p * sorted.len().saturating_sub(1) as f64;
    let below = libm::floor(place) as usize;
    let at = |k: usize| sorted.get(k).copied().unwrap_or(f64::NAN);
    let low = at(below);
    if place > below as f64 {
        low + (place - below as f64) * (at(below + 1) - low)
    } else {
        low
    }
}

/// A curve's values at the grid's instants, NaN where it has none.
fn resampled(curve: &Curve<'_>, grid: &[f64], gap_s: f64) -> Vec<f64> {
    let mut points = curve.t_s.iter().copied().zip(curve.degc.iter().copied());
    let mut before: Option<(f64, f64)> = None;
    let mut after = points.next();
    let mut out = Vec::with_capacity(grid.len());
    for &t_s in grid {
        while let Some((next_s, degc)) = after
            && (next_s <= t_s || next_s.is_nan())
        {
            if !next_s.is_nan() {
                before = Some((next_s, degc));
            }
            after = points.next();
        }
        out.push(match (before, after) {
            (Some((t0, v0)), _) if t_s - t0 <= 0.0 => v0,
            (Some((t0, v0)), Some((t1, v1))) if t1 - t0 <= gap_s => {
                v0 + (v1 - v0) * (t_s - t0) / (t1 - t0)
            }
            _ => f64::NAN,
        });
    }
    out
}
