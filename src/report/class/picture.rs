//! The picture of a class, each bench counted from its own mark 0.

use super::ClassReport;
use crate::analysis::class::Bench;
use crate::graph::{ClassPicture, Curve, EdgeKind, LampEdge, Material, Style, class_svg_in};
use crate::report::Words;

/// Points of all curves together: enough for a smooth line each, few enough for a page.
const POINTS: usize = 120_000;

/// Fewest points of a curve, and most.
const OF_CURVE: (usize, usize) = (150, 2000);

/// A pause of this many usual intervals is drawn as a gap.
const PAUSE: f64 = 4.0;

pub(super) fn svg(report: &ClassReport<'_>, style: &Style) -> String {
    let (class, benches) = (report.class, report.benches);
    let window = window(benches);
    let curves: usize = class.benches.iter().map(|row| row.samples.len()).sum();
    let points = (POINTS / curves.max(1)).clamp(OF_CURVE.0, OF_CURVE.1);
    // Where nobody saw a lamp, nobody's was on longer than another's.
    let has_lamp = class.benches.iter().any(|row| row.heated_alike);
    let of_sample = |place: usize, alike: bool| -> Vec<Curve<'static>> {
        let rows = benches.iter().zip(&class.benches);
        let rows = rows.filter(|(_, row)| (row.heated_alike || !has_lamp) == alike);
        rows.filter_map(|(bench, row)| {
            let channel = row.samples.iter().position(|s| s.sample == place)?;
            let degc = &bench.series.channels.get(channel)?.degc;
            Some(curve(bench, degc, window, points))
        })
        .collect()
    };
    let materials = class
        .samples
        .iter()
        .enumerate()
        .map(|(place, sample)| Material {
            name: sample.name.as_str().into(),
            curves: of_sample(place, true),
            others: of_sample(place, false),
        });
    let picture = ClassPicture {
        title: report.title.into(),
        materials: materials.collect(),
        edges: edges(report),
        has_spread: true,
        is_invented: report.has_invented(),
        ..ClassPicture::default()
    };
    class_svg_in(&picture, style, &Words::of(report.language))
}

/// From the earliest bench's begin to the latest one's end, in seconds since mark 0. One bench that
/// went on for a week must not squeeze a lesson into a corner: what is more than twice as long as
/// the middle one is cut off there.
fn window(benches: &[Bench<'_>]) -> (f64, f64) {
    let ends = |pick: fn(&[f64]) -> Option<&f64>| {
        let since = |b: &Bench<'_>| Some(pick(&b.series.t_s)? - b.summary.zero_s);
        let mut all: Vec<f64> = benches.iter().filter_map(since).collect();
        all.sort_by(f64::total_cmp);
        all
    };
    let (firsts, lasts) = (ends(<[f64]>::first), ends(<[f64]>::last));
    let middle = |all: &[f64]| all.get(all.len() / 2).copied().unwrap_or(0.0);
    let last_s = 2.0 * middle(&lasts).max(0.0);
    (2.0 * middle(&firsts).min(0.0) - 60.0, last_s)
}

/// A bench's readings within the window, as means of equal stretches where there are too many.
fn curve(
    bench: &Bench<'_>,
    degc: &[f64],
    (from_s, to_s): (f64, f64),
    points: usize,
) -> Curve<'static> {
    let times = &bench.series.t_s;
    let zero_s = bench.summary.zero_s;
    let first = times.partition_point(|t| t - zero_s < from_s);
    let end = times.partition_point(|t| t - zero_s <= to_s).max(first);
    let each = (end - first).div_ceil(points).max(1);
    let pause_s = PAUSE * bench.summary.interval_s.unwrap_or(f64::INFINITY);
    let (mut t_s, mut kept) = (Vec::new(), Vec::new());
    let mut last_s = f64::NAN;
    let times = times.get(first..end).unwrap_or_default().chunks(each);
    let values = degc.get(first..end).unwrap_or_default().chunks(each);
    for (times, values) in times.zip(values) {
        let known = || times.iter().zip(values).filter(|(_, y)| y.is_finite());
        let n = known().count() as f64;
        let begins_s = times.first().copied().unwrap_or(f64::NAN) - zero_s;
        if begins_s - last_s > pause_s {
            t_s.push(0.5 * (last_s + begins_s));
            kept.push(f64::NAN);
        }
        last_s = times.last().copied().unwrap_or(f64::NAN) - zero_s;
        t_s.push(known().map(|(t, _)| t - zero_s).sum::<f64>() / n);
        kept.push(known().map(|(_, y)| y).sum::<f64>() / n);
        // A stretch without any value is a gap at its own place.
        if let (Some(time), true) = (t_s.last_mut(), n < 1.0) {
            *time = begins_s;
        }
    }
    Curve {
        t_s: t_s.into(),
        degc: kept.into(),
        ..Curve::default()
    }
}

/// The class's lamp: on at 0, off after the median of the heatings.
fn edges(report: &ClassReport<'_>) -> Vec<LampEdge> {
    let alike = report.class.benches.iter().filter(|row| row.heated_alike);
    let mut lengths: Vec<f64> = alike.filter_map(|row| row.heated_s).collect();
    lengths.sort_by(f64::total_cmp);
    let Some(&middle_s) = lengths.get(lengths.len() / 2) else {
        return Vec::new();
    };
    let edge = |kind, at_s| LampEdge {
        kind,
        at_s,
        low_s: f64::NAN,
        high_s: f64::NAN,
    };
    vec![edge(EdgeKind::On, 0.0), edge(EdgeKind::Off, middle_s)]
}
