//! What of a picture its axes span: all of it, but for lone readings far away from the rest.

use super::behind::Behind;
use super::frame::sane_zero;
use super::picture::{Curve, Picture, is_drawable_degc, is_drawable_s};

/// The time axis of a picture without points, or with one only, in seconds.
const LONE_SPAN_S: f64 = 60.0;
/// The temperature axis of a picture without points, in degrees Celsius: a room.
const ROOM_DEGC: (f64, f64) = (15.0, 25.0);
/// A steady temperature is drawn steady: the axis spans at least this much, in degrees Celsius.
const NARROWEST_DEGC: f64 = 1.0;
/// Fewer points are a table that somebody reads point by point: all of it is shown.
const FEWEST: usize = 8;
/// From so many points on up to three neighbours that leave their curve together are lone too.
const MANY: usize = 60;
/// Largest share of a picture's points that may be left out.
const LARGEST_SHARE: f64 = 0.02;

/// What the axes span, and so many readings that are beyond them.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Extent {
    pub(super) span_s: (f64, f64),
    pub(super) span_degc: (f64, f64),
    pub(super) beyond: usize,
}

/// Over everything that will be drawn.
pub(super) fn extent(picture: &Picture<'_>, behind: &[Behind<'_>]) -> Extent {
    let curves: Vec<&Curve<'_>> = picture.curves.iter().collect();
    let curves: Vec<&Curve<'_>> = curves
        .into_iter()
        .chain(behind.iter().map(|b| b.curve))
        .collect();
    let times = curves.iter().flat_map(|c| c.points().map(|(t_s, _)| t_s));
    let edges = picture.edges.iter().map(|edge| edge.at_s);
    let others = picture.marks_s.iter().copied().chain(edges);
    let time = ends(times.chain(others.filter(|t_s| is_drawable_s(*t_s))));
    let (core, beyond) = core(&curves);
    let bands = picture.curves.iter().filter_map(|c| c.band.as_ref());
    let band_ends = bands.flat_map(|b| b.low_degc.iter().chain(b.high_degc.iter()));
    let reach = if beyond > 0 { far(core) } else { f64::INFINITY };
    let near = |v: &f64| is_drawable_degc(*v) && (core.0 - v).max(v - core.1) <= reach;
    let degc = band_ends.copied().filter(near).fold(core, grown);
    Extent {
        span_s: time_axis(time, sane_zero(picture)),
        span_degc: temperature_axis(degc),
        beyond,
    }
}

/// The range of the readings, and how many lone ones are left out of it: with them the rest would
/// have less than half of the picture.
fn core(curves: &[&Curve<'_>]) -> ((f64, f64), usize) {
    let mut all = Vec::new();
    let mut lone = Vec::new();
    for curve in curves {
        let values: Vec<f64> = curve.points().map(|(_, degc)| degc).collect();
        lone.extend(tips(&values));
        all.extend(values);
    }
    let rest = ends(all.iter().zip(&lone).filter(|(_, l)| !**l).map(|(v, _)| *v));
    let reach = far(rest);
    let is_beyond = |v: f64| (rest.0 - v).max(v - rest.1) > reach;
    let beyond = all.iter().filter(|v| is_beyond(**v)).count();
    let most = (LARGEST_SHARE * all.len() as f64).max(1.0);
    if beyond as f64 > most {
        return (ends(all.into_iter()), 0);
    }
    (ends(all.into_iter().filter(|v| !is_beyond(*v))), beyond)
}

/// So far from the rest, in degrees Celsius, a lone reading would squeeze it.
fn far((low, high): (f64, f64)) -> f64 {
    (high - low).max(NARROWEST_DEGC)
}

/// Which values stand out from both their neighbours, alone or, where there are many, up to three
/// together.
fn tips(values: &[f64]) -> Vec<bool> {
    let mut is_tip = vec![false; values.len()];
    let longest = match values.len() {
        0..FEWEST => 0,
        FEWEST..MANY => 1,
        _ => 3,
    };
    for length in 1..=longest {
        for (place, window) in values.windows(length + 2).enumerate() {
            let [before, inner @ .., after] = window else {
                continue;
            };
            let (low, high) = (before.min(*after), before.max(*after));
            if inner.iter().all(|v| *v > high) || inner.iter().all(|v| *v < low) {
                let own = is_tip.iter_mut().skip(place + 1).take(length);
                own.for_each(|tip| *tip = true);
            }
        }
    }
    is_tip
}

fn grown((low, high): (f64, f64), v: f64) -> (f64, f64) {
    (low.min(v), high.max(v))
}

fn ends(values: impl Iterator<Item = f64>) -> (f64, f64) {
    values.fold((f64::INFINITY, f64::NEG_INFINITY), grown)
}

fn time_axis((low, high): (f64, f64), zero_s: f64) -> (f64, f64) {
    if low > high {
        (zero_s, zero_s + LONE_SPAN_S)
    } else if low < high {
        (low, high)
    } else {
        (low - 0.5 * LONE_SPAN_S, high + 0.5 * LONE_SPAN_S)
    }
}

fn temperature_axis((low, high): (f64, f64)) -> (f64, f64) {
    if low > high {
        ROOM_DEGC
    } else {
        let missing = (NARROWEST_DEGC - (high - low)).max(0.0);
        (low - 0.5 * missing, high + 0.5 * missing)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Range of the temperature axis before rounding, and readings beyond it.
    fn spans(degc: &[f64]) -> ((f64, f64), usize) {
        let curve = Curve {
            t_s: (0..degc.len()).map(|i| i as f64).collect::<Vec<_>>().into(),
            degc: degc.to_vec().into(),
            ..Curve::default()
        };
        let picture = Picture {
            curves: vec![curve],
            ..Picture::default()
        };
        let extent = extent(&picture, &[]);
        assert!(extent.span_s.0.abs() < 1e-9);
        (extent.span_degc, extent.beyond)
    }

    fn lesson(points: usize) -> Vec<f64> {
        let share = |i: usize| i as f64 / (points - 1) as f64;
        (0..points)
            .map(|i| 22.0 + 12.0 * (1.0 - (2.0 * share(i) - 1.0).abs()))
            .collect()
    }

    #[test]
    fn a_lone_reading_far_away_does_not_squeeze_the_rest() {
        for (points, length) in [(9, 1), (59, 1), (61, 3), (600, 3)] {
            let mut degc = lesson(points);
            let (whole, none) = spans(&degc);
            assert_eq!(none, 0);
            for v in degc
                .iter_mut()
                .skip(2)
                .take(if points < MANY * 4 { 1 } else { length })
            {
                *v = 85.0;
            }
            let (found, beyond) = spans(&degc);
            assert_eq!(found, whole, "{points}");
            assert_eq!(beyond, if points < MANY * 4 { 1 } else { length });
        }
    }

    #[test]
    fn what_may_be_real_is_shown() {
        // A slip of ten degrees, hot water that cools, many that jump, a step that stays.
        let mut slip = lesson(9);
        slip[3] += 10.0;
        let hot = [90.0, 45.0, 30.0, 25.0, 23.0, 22.0, 21.5, 21.0, 20.8];
        let noisy: Vec<f64> = (0..100)
            .map(|i| if i % 2 == 0 { 20.0 } else { 85.0 })
            .collect();
        let mut step = lesson(100);
        step.iter_mut().skip(50).for_each(|v| *v += 60.0);
        for degc in [&slip[..], &hot, &noisy, &step, &[20.0, 85.0, 20.0]] {
            let all = ends(degc.iter().copied());
            assert_eq!(spans(degc), (all, 0), "{degc:?}");
        }
    }
}
