//! The table at the marks.

use std::fmt::Write;

use super::line::local;
use super::rounding::trimmed;
use super::sample::tidy;
use super::{Channel, Mark, Phase, Summary, Warning, phase_at, rounded, slugs};
use crate::lamp::{Curve, Edge};

/// Most marks: a fortnight at one a minute fits.
const MOST: usize = 25_000;

/// Widest half-window of a mark's local fit, in seconds.
const HALF_S: f64 = 15.0;

/// How far beyond the record's last row a mark is fitted: in rows' spacings and in seconds, by which the
/// lamp's instant moves once the whole record is known.
const REACH: f64 = 1.01;
const REACH_S: f64 = 2.0;

/// Marks without a value that are named for each sample.
const MOST_TOLD: usize = 5;

/// Rows in the half-window from which on a parabola is fitted.
const CURVED: usize = 7;

/// One channel as the marks need it.
pub(super) struct Source<'a> {
    pub(super) channel: &'a Channel,
    pub(super) curve: Option<&'a Curve>,
    pub(super) sd_degc: f64,
}

/// Values at every mark from the first row to the last.
///
/// At each mark a straight line (from seven rows a parabola) is fitted to the rows within at most
/// 15 s and a third of the interval that lie in the same stretch between edges; where rows are
/// sparser, the two rows around the mark are joined by a straight line. A fit may reach one row's
/// spacing or some seconds beyond the record, which its uncertainty carries. The plan's last mark is listed also
/// where the record ends up to half an interval before it; then it may have no value.
pub(super) fn marks(
    sources: &[Source],
    edges: &[Edge],
    (first_s, last_s): (f64, f64),
    (zero_s, planned_s): (f64, Option<f64>),
    interval_s: f64,
    spacing_s: f64,
    warnings: &mut Vec<Warning>,
) -> Vec<Mark> {
    if !(interval_s.is_finite() && interval_s > 0.0) {
        warnings.push(Warning::BadMarks { interval_s });
        return Vec::new();
    }
    let near = Near::new(interval_s, spacing_s);
    let begin = ((first_s - 0.5 * spacing_s - zero_s) / interval_s).ceil();
    let end = ((last_s + near.reach_s - zero_s) / interval_s).floor();
    let planned = planned_s.map(|s| (s / interval_s + 1e-6).floor());
    let short = |k: &f64| (zero_s + k * interval_s) - last_s <= 0.5 * interval_s;
    let end = planned.filter(short).map_or(end, |k| end.max(k));
    if end - begin >= MOST as f64 || !(end - begin).is_finite() {
        warnings.push(Warning::TooManyMarks {
            interval_s,
            limit: MOST,
        });
        return Vec::new();
    }
    let mut out = Vec::new();
    let mut lost = vec![Vec::new(); sources.len()];
    for k in begin as i64..=end as i64 {
        let at_s = zero_s + k as f64 * interval_s;
        let stretch = stretch(at_s, edges, spacing_s);
        let one = |s: &Source| s.curve.and_then(|c| value(s, c, at_s, near, stretch));
        let values: Vec<Option<(f64, f64)>> = sources.iter().map(one).collect();
        let mark = Mark {
            at_s: tidy(at_s),
            phase: phase_at(at_s, edges),
            degc: values.iter().map(|v| v.map(|v| tidy(v.0))).collect(),
            u_degc: values.iter().map(|v| v.map(|v| tidy(v.1))).collect(),
        };
        if at_s > last_s + near.reach_s {
            let (at_s, last_s) = (mark.at_s, tidy(last_s));
            warnings.push(Warning::EndsBeforeMark { at_s, last_s });
        } else {
            note_lost(&mark, k as f64 * interval_s, &mut lost);
        }
        out.push(mark);
    }
    warn_of_lost(sources, &lost, warnings);
    out
}

/// Moments that are told at most: more presses are a key that stuck.
const MOST_MOMENTS: usize = 200;

/// Values at the moments that people marked, as those at a mark a minute.
pub(super) fn at_moments(
    sources: &[Source],
    edges: &[Edge],
    (first_s, last_s): (f64, f64),
    moments_s: &[f64],
    spacing_s: f64,
) -> Vec<Mark> {
    let near = Near::new(60.0, spacing_s);
    let there = |at_s: &&f64| (first_s - 0.5 * spacing_s..=last_s + near.reach_s).contains(*at_s);
    let mark = |&at_s: &f64| {
        let stretch = stretch(at_s, edges, spacing_s);
        let one = |s: &Source| s.curve.and_then(|c| value(s, c, at_s, near, stretch));
        let values: Vec<Option<(f64, f64)>> = sources.iter().map(one).collect();
        Mark {
            at_s: tidy(at_s),
            phase: phase_at(at_s, edges),
            degc: values.iter().map(|v| v.map(|v| tidy(v.0))).collect(),
            u_degc: values.iter().map(|v| v.map(|v| tidy(v.1))).collect(),
        }
    };
    let told = moments_s.iter().filter(there).take(MOST_MOMENTS);
    told.map(mark).collect()
}

/// All marks in order of time; a moment at a mark is that mark.
pub(super) fn in_order(planned: Vec<Mark>, by_hand: Vec<Mark>) -> Vec<Mark> {
    let mut all = planned;
    all.extend(by_hand);
    all.sort_by(|a, b| a.at_s.total_cmp(&b.at_s));
    all.dedup_by(|b, a| b.at_s - a.at_s < 5e-4);
    all
}

/// How near to a mark its rows must be.
#[derive(Debug, Clone, Copy)]
#[expect(
    clippy::struct_field_names,
    reason = "all are times: the unit is in the name"
)]
struct Near {
    /// Usual distance of rows.
    spacing_s: f64,
    /// Half the window of a local fit.
    half_s: f64,
    /// How far beyond the last row a mark may be.
    reach_s: f64,
}

impl Near {
    fn new(interval_s: f64, spacing_s: f64) -> Self {
        let half_s = HALF_S.min(interval_s / 3.0);
        // Beyond the end a fit of dense rows still stands for a reading, else half a row's spacing.
        let dense = REACH * spacing_s <= half_s;
        Self {
            spacing_s,
            half_s: half_s.max(1.5 * spacing_s.min(HALF_S)),
            reach_s: if dense {
                (REACH * spacing_s).max(REACH_S.min(0.25 * half_s))
            } else {
                0.5 * spacing_s
            },
        }
    }
}

/// Keeps which samples have no value at a mark.
fn note_lost(mark: &Mark, mark_s: f64, lost: &mut [Vec<f64>]) {
    for (value, lost) in mark.degc.iter().zip(lost) {
        if value.is_none() {
            lost.push(tidy(mark_s));
        }
    }
}

/// Says of each sample at which marks it has no value.
fn warn_of_lost(sources: &[Source], lost: &[Vec<f64>], warnings: &mut Vec<Warning>) {
    for (source, lost) in sources.iter().zip(lost) {
        if !lost.is_empty() && source.curve.is_some() {
            let told = lost.len().min(MOST_TOLD);
            warnings.push(Warning::NoMark {
                sample: source.channel.name.clone(),
                marks_s: lost.iter().copied().take(told).collect(),
                more: lost.len() - told,
            });
        }
    }
}

/// The stretch between edges that a mark belongs to; a mark at an edge belongs to what ends there.
fn stretch(at_s: f64, edges: &[Edge], spacing_s: f64) -> (f64, f64) {
    let at_edge = |e: &&Edge| e.at_s < at_s - 0.01 * spacing_s;
    let before = edges.iter().filter(at_edge).map(|e| e.at_s).next_back();
    let after = edges.iter().find(|e| !at_edge(e)).map(|e| e.at_s);
    (
        before.unwrap_or(f64::NEG_INFINITY),
        after.unwrap_or(f64::INFINITY),
    )
}

fn value(
    source: &Source,
    curve: &Curve,
    at_s: f64,
    near: Near,
    (low_s, high_s): (f64, f64),
) -> Option<(f64, f64)> {
    let Near {
        spacing_s,
        half_s,
        reach_s,
    } = near;
    let rows = |half_s: f64| {
        let (from, to) = ((at_s - half_s).max(low_s), (at_s + half_s).min(high_s));
        let from = curve.t_s.partition_point(|t| *t < from);
        let to = curve.t_s.partition_point(|t| *t <= to).max(from);
        Some((curve.t_s.get(from..to)?, curve.degc.get(from..to)?))
    };
    // An edge or the end leaves one half of the window: there it may be as long as the whole.
    let (t, y) = match rows(half_s)? {
        (t, _) if t.len() < 4 && spacing_s < half_s => rows(2.0 * half_s)?,
        narrow => narrow,
    };
    let step = source.channel.resolution_degc.unwrap_or(0.0) / 12.0_f64.sqrt();
    let common = source.channel.u_common_degc.unwrap_or(0.0);
    let whole = |u: f64| u.hypot(step).hypot(common);
    // A fit that does not reach the mark from so few rows' spacings would be a guess.
    let beyond_s = curve.t_s.last().map_or(0.0, |last| at_s - last);
    let near_s = 2.0 * spacing_s;
    let near_s = if beyond_s > 0.0 {
        near_s.max(reach_s)
    } else {
        near_s
    };
    let reaches = beyond_s <= reach_s && t.iter().any(|t| (t - at_s).abs() <= near_s);
    if t.len() >= 4 && reaches {
        let degree = if t.len() >= CURVED { 2 } else { 1 };
        let fit = local(t, y, at_s, degree)?;
        let spread = fit.residual_sd.max(source.sd_degc) * curve.inflation.sqrt().min(3.0);
        return Some((fit.value, whole(fit.share * spread)));
    }
    let (degc, missed) = between(curve, at_s, spacing_s, (low_s, high_s))?;
    Some((degc, whole(source.sd_degc.hypot(missed))))
}

/// A value from sparse rows: the neighbours on both sides, or a row at the mark itself; and what the straight
/// line between them may miss of the curve.
fn between(
    curve: &Curve,
    at_s: f64,
    spacing_s: f64,
    (low_s, high_s): (f64, f64),
) -> Option<(f64, f64)> {
    let right = curve.t_s.partition_point(|t| *t < at_s);
    let row = |i: usize| Some((*curve.t_s.get(i)?, *curve.degc.get(i)?));
    let ahead = row(right);
    let behind = right.checked_sub(1).and_then(row);
    let at_mark = |r: &(f64, f64)| (r.0 - at_s).abs() <= 0.05 * spacing_s;
    if let Some(exact) = ahead.filter(at_mark).or(behind.filter(at_mark)) {
        return Some((exact.1, 0.0));
    }
    let ((t0, y0), (t1, y1)) = (behind?, ahead?);
    let same = t0 >= low_s && t1 <= high_s;
    if !same || t1 - t0 > 2.5 * spacing_s {
        return None;
    }
    let share = (at_s - t0) / (t1 - t0);
    // A chord misses a curve by at most an eighth of its second difference; take a tenth of the
    // step between the rows for it.
    let missed = 0.1 * (y1 - y0).abs() * 4.0 * share * (1.0 - share);
    Some((y0 + share * (y1 - y0), missed))
}

/// The table at the marks as CSV: `mark_min,phase`, then for each sample its temperature and its
/// standard uncertainty, rounded to two digits of the uncertainty. RFC 4180 with LF; an empty
/// cell is no value.
#[must_use]
pub fn marks_csv(summary: &Summary) -> String {
    let names: Vec<&str> = summary.samples.iter().map(|s| s.name.as_str()).collect();
    marks_csv_as(summary, &slugs(&names))
}

/// The same with columns of these names: those that a run's samples were logged with.
#[must_use]
pub fn marks_csv_as(summary: &Summary, columns: &[String]) -> String {
    let mut out = String::from("mark_min,phase");
    for slug in columns {
        let _ = write!(out, ",{slug}_degc,u_{slug}_degc");
    }
    out.push('\n');
    for mark in &summary.marks {
        out.push_str(&trimmed((mark.at_s - summary.zero_s) / 60.0, 4));
        out.push(',');
        out.push_str(mark.phase.map_or("", Phase::word));
        for (degc, u) in mark.degc.iter().zip(&mark.u_degc) {
            let (value, spread) = match degc {
                Some(degc) => rounded(*degc, u.unwrap_or(0.0)),
                None => (String::new(), String::new()),
            };
            let _ = write!(out, ",{value},{spread}");
        }
        out.push('\n');
    }
    out
}
