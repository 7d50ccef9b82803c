//! The middle of many courses at each instant, and how far they are spread.

use super::picture::Curve;
use super::wording::Spread;

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
    /// What lies between `low` and `high`.
    pub(super) spread: Spread,
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
    if low > high {
        return Vec::new();
    }
    if low >= high {
        return vec![low];
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
    // One rule for the whole course: a band that changes its meaning on the way cannot be read.
    let ((low, high), spread) = if curves.len() < 4 {
        ((0.0, 1.0), Spread::Whole)
    } else {
        ((0.25, 0.75), Spread::MiddleHalf)
    };
    let mut course = Course {
        spread,
        ..Course::default()
    };
    let mut here = Vec::with_capacity(curves.len());
    for place in 0..grid.len() {
        here.clear();
        let values = columns.iter().filter_map(|column| column.get(place));
        here.extend(values.copied().filter(|v| v.is_finite()));
        here.sort_by(f64::total_cmp);
        let enough = !here.is_empty() && 2 * here.len() >= curves.len();
        let at = |p: f64| if enough { quantile(&here, p) } else { f64::NAN };
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

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn curve(points: &[(f64, f64)]) -> Curve<'static> {
        let (t_s, degc): (Vec<f64>, Vec<f64>) = points.iter().copied().unzip();
        Curve {
            t_s: t_s.into(),
            degc: degc.into(),
            ..Curve::default()
        }
    }

    #[test]
    fn quantiles_are_those_of_definition_seven() {
        // Python 3.11, statistics.quantiles([1, 2, 4, 8, 16], n=4, method="inclusive"): 2, 4, 8;
        // of [1, 2, 4, 8]: 1.75, 3, 5.
        let quartiles = |sorted: &[f64]| -> Vec<f64> {
            let parts = [0.25, 0.5, 0.75];
            parts.iter().map(|p| quantile(sorted, *p)).collect()
        };
        let five = [1.0, 2.0, 4.0, 8.0, 16.0];
        assert_eq!(quartiles(&five), [2.0, 4.0, 8.0]);
        assert_eq!(quartiles(&five[..4]), [1.75, 3.0, 5.0]);
        assert!(quantile(&[], 0.5).is_nan());
    }

    #[test]
    fn the_middle_of_three_benches_ignores_one_that_went_astray() {
        let curves = [
            curve(&[(0.0, 20.0), (10.0, 30.0)]),
            curve(&[(0.0, 21.0), (5.0, 26.0), (10.0, 31.0)]),
            curve(&[(0.0, 90.0), (10.0, 90.0)]),
        ];
        let course = course(&curves, &[0.0, 5.0, 10.0], f64::INFINITY);
        assert_eq!(course.median, [21.0, 26.0, 31.0]);
        assert_eq!((course.low[1], course.high[1]), (25.0, 90.0));
        assert_eq!(course.spread, Spread::Whole);
    }

    #[test]
    fn where_fewer_than_half_have_a_value_there_is_none() {
        let nan = f64::NAN;
        let curves = [
            curve(&[(0.0, 20.0), (10.0, 20.0), (40.0, 20.0)]),
            curve(&[(0.0, 22.0), (10.0, nan), (20.0, 22.0)]),
            curve(&[(0.0, 24.0), (20.0, 24.0)]),
        ];
        let course = course(&curves, &[0.0, 5.0, 20.0, 30.0, 50.0], 20.0);
        assert_eq!(course.median[..3], [22.0, 22.0, 23.0]);
        assert!(course.median[3].is_nan() && course.median[4].is_nan());
    }

    #[test]
    fn the_grid_is_as_fine_as_the_finest_and_no_finer_than_a_picture() {
        let fine = curve(&(0..11).map(|k| (f64::from(k), 20.0)).collect::<Vec<_>>());
        let coarse = curve(&[(-5.0, 20.0), (5.0, 20.0)]);
        let ours = grid([&fine, &coarse].into_iter());
        assert_eq!((ours.len(), ours[0], ours[10]), (11, -5.0, 10.0));
        assert_eq!(grid([&curve(&[(3.0, 20.0)])].into_iter()), [3.0]);
        assert!(grid(core::iter::empty()).is_empty());
        let long = curve(&(0..9000).map(|k| (f64::from(k), 20.0)).collect::<Vec<_>>());
        assert_eq!(grid([&long].into_iter()).len(), MOST_INSTANTS);
    }

    proptest! {
        #[test]
        fn a_curve_read_at_its_own_instants_is_itself(
            v in proptest::collection::vec(prop_oneof![6 => -50.0_f64..50.0, 1 => Just(f64::NAN)], 1..60),
        ) {
            let points: Vec<(f64, f64)> = v.iter().enumerate().map(|(k, v)| (k as f64, *v)).collect();
            let grid: Vec<f64> = points.iter().map(|p| p.0).collect();
            let again = resampled(&curve(&points), &grid, f64::INFINITY);
            for (a, b) in again.iter().zip(&v) {
                prop_assert!(a.to_bits() == b.to_bits() || (a.is_nan() && b.is_nan()));
            }
        }
    }
}
